package records

import (
	"context"
	"encoding/json"
	"errors"
	"sync"
	"testing"

	"bridlewatch/collector/store"
	"bridlewatch/compare/record"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/plant/planttest"
)

// underWay begins a test and takes one elevation.
func underWay(t *testing.T, b *Book) (plant.GaugeView, *Draft) {
	t.Helper()
	g, _ := b.Plant.Gauge("LG-101")
	d, err := b.Begin(t.Context(), g, start())
	if err != nil {
		t.Fatal(err)
	}
	next, _ := d.Next()
	if d, err = b.Take(t.Context(), g, d.Seq, Stop{Phase: record.AsFound, Asked: next.At, Reference: next.At}); err != nil {
		t.Fatal(err)
	}
	return g, d
}

func tests(t *testing.T, b *Book) (n int) {
	t.Helper()
	list, err := b.List(t.Context(), Filter{Gauge: "LG-101", Kind: record.DrainTest})
	if err != nil {
		t.Fatal(err)
	}
	return len(list)
}

// Two browsers finish one test at the same moment, at one service and at two
// programs on one history: there is one record.
func TestOneTestIsBookedOnce(t *testing.T) {
	for name, programs := range map[string]int{"one service": 1, "two programs": 2} {
		t.Run(name, func(t *testing.T) {
			m, p := planttest.NewMemory(), planttest.Varied()
			var books []*Book
			for range programs {
				books = append(books, NewBook(Options{Store: m, Plant: p, Location: zone, Software: "test"}))
			}
			g, d := underWay(t, books[0])
			var wait sync.WaitGroup
			results := make([]error, 8)
			for i := range results {
				wait.Add(1)
				go func() {
					defer wait.Done()
					_, results[i] = books[i%programs].Finish(context.Background(), g, d.Seq, End{Work: "Drained."})
				}()
			}
			wait.Wait()
			done := 0
			for _, err := range results {
				switch {
				case err == nil:
					done++
				case !errors.Is(err, ErrMoved) && !errors.Is(err, ErrNoDraft):
					t.Errorf("refused with %v", err)
				}
			}
			if n := tests(t, books[0]); n != 1 || done != 1 {
				t.Errorf("%d records, %d told that theirs was booked", n, done)
			}
		})
	}
}

// forgetful loses the note that a test has ended, once: the disk is full after
// the record was written.
type forgetful struct {
	*planttest.Memory
	lost bool
}

func (f *forgetful) Put(ctx context.Context, d store.Document) (int64, error) {
	var draft Draft
	if d.Kind == DraftKind && !f.lost && json.Unmarshal(d.Body, &draft) == nil && draft.Booked != 0 {
		f.lost = true
		return 0, errors.New("no space left on device")
	}
	return f.Memory.Put(ctx, d)
}

func TestARecordThatWasNotNotedIsNotBookedAgain(t *testing.T) {
	f := &forgetful{Memory: planttest.NewMemory()}
	b := NewBook(Options{Store: f, Plant: planttest.Varied(), Location: zone, Software: "test"})
	g, d := underWay(t, b)
	first, err := b.Finish(t.Context(), g, d.Seq, End{Work: "Drained."})
	if err == nil || first.Record == nil {
		t.Fatalf("the note was not lost: %+v, %v", first, err)
	}
	again, err := b.Finish(t.Context(), g, 0, End{Work: "Drained."})
	if err != nil || again.Number != first.Number || tests(t, b) != 1 {
		t.Errorf("record %d again as %d, %d in all, %v", first.Number, again.Number, tests(t, b), err)
	}
	if _, err := b.Draft(t.Context(), "LG-101"); !errors.Is(err, ErrNoDraft) {
		t.Errorf("still under way: %v", err)
	}
}

// What is refused leaves the test as it was, to be finished right away.
func TestARefusedEndCanBeRepeated(t *testing.T) {
	b, _, _ := book(t)
	g, d := underWay(t, b)
	var p record.Problems
	if _, err := b.Finish(t.Context(), g, d.Seq, End{}); !errors.As(err, &p) {
		t.Fatalf("a record without work: %v", err)
	}
	if _, err := b.Finish(t.Context(), g, 0, End{Work: "Drained."}); err != nil || tests(t, b) != 1 {
		t.Errorf("then: %v", err)
	}
}
