package watch

import (
	"sync"
	"testing"
	"time"

	"bridlewatch/compare"
)

// A chamber valved off contradicts nobody: while a record says so nothing is
// compared, and afterwards everything begins anew.
func TestPostedIsolationHoldsUntilReturned(t *testing.T) {
	f := shoot(t, "LG-104", 3*time.Hour, "LG-104:float-stuck@0h")
	w, err := New(t.Context(), f.config, Options{Views: true})
	if err != nil {
		t.Fatal(err)
	}
	cycle := func(from, to int) {
		for _, s := range f.shots[from:to] {
			w.Cycle(t.Context(), s)
		}
	}
	third := len(f.shots) / 3
	if err := w.Post("LG-104", compare.Work{Kind: compare.WorkIsolated, At: begin}); err != nil {
		t.Fatal(err)
	}
	cycle(0, third)
	g, _ := w.Gauge("LG-104")
	if !g.Result.Measurement.Isolated || g.Result.Category != compare.FunctionCheck {
		t.Errorf("isolated by record: measurement %v, category %s", g.Result.Measurement.Isolated, g.Result.Category)
	}
	for _, v := range g.Result.Verdicts {
		if v.Outcome != compare.CannotTell {
			t.Errorf("pair %s, point %d: %s while isolated", v.Pair, v.Point, v.Outcome)
		}
	}
	if err := w.Post("LG-104", compare.Work{Kind: compare.WorkReturned, At: f.shots[third].Time}); err != nil {
		t.Fatal(err)
	}
	cycle(third, len(f.shots))
	g, _ = w.Gauge("LG-104")
	if g.Result.Measurement.Isolated || len(g.Result.Findings) == 0 {
		t.Errorf("back in service: isolated %v, findings %d; a stuck float must be found", g.Result.Measurement.Isolated, len(g.Result.Findings))
	}
}

// The queue must not wait for a cycle nor lose what is posted during one.
func TestPostDuringCycles(t *testing.T) {
	f := shoot(t, "LG-104", 10*time.Minute)
	w, err := New(t.Context(), f.config, Options{})
	if err != nil {
		t.Fatal(err)
	}
	var posting sync.WaitGroup
	for range 4 {
		posting.Go(func() {
			for range 50 {
				if err := w.Post("LG-104", compare.Work{Kind: compare.WorkRebaseline, At: begin}); err != nil {
					t.Error(err)
				}
			}
		})
	}
	for _, s := range f.shots {
		w.Cycle(t.Context(), s)
	}
	posting.Wait()
	w.Cycle(t.Context(), f.shots[len(f.shots)-1])
	if left := w.units[0].post.take(); len(left) != 0 {
		t.Errorf("%d records wait after a cycle", len(left))
	}
	if w.units[0].state.Rebased != begin.Unix() {
		t.Errorf("re-baselined at %d", w.units[0].state.Rebased)
	}
	if at := w.Remembers("LG-104"); !at.Equal(f.shots[len(f.shots)-1].Time) {
		t.Errorf("remembers until %s", at)
	}
}

func TestPostToNobody(t *testing.T) {
	w, err := New(t.Context(), shoot(t, "LG-104", time.Minute).config, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Post("LG-999", compare.Work{}); err == nil {
		t.Error("no error for a gauge that is not watched")
	}
}
