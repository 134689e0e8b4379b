package watch

import (
	"context"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
)

// commits counts the durable steps a watch asks of its store.
type commits struct {
	store.Store
	scans []store.Scan
}

func (c *commits) Append(_ context.Context, s store.Scan) error {
	s.Values = append([]store.Value(nil), s.Values...)
	c.scans = append(c.scans, s)
	return nil
}

// emptyStore is a real store with nothing in it.
func emptyStore(t *testing.T) *embedded.DB {
	t.Helper()
	db, err := embedded.Open(t.Context(), embedded.Options{Dir: t.TempDir(), Upkeep: -1})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

func recorded(t *testing.T, f *film) (*Watch, *commits) {
	t.Helper()
	c := &commits{Store: emptyStore(t)}
	w, err := New(t.Context(), f.config, Options{Store: c})
	if err != nil {
		t.Fatal(err)
	}
	return w, c
}

func TestOneCommitForSamplesAndLevels(t *testing.T) {
	f := shoot(t, "LG-101", time.Minute)
	w, c := recorded(t, f)
	for _, shot := range f.shots {
		w.Cycle(t.Context(), shot)
	}
	if len(c.scans) != len(f.shots) {
		t.Fatalf("%d commits for %d snapshots, want one for each", len(c.scans), len(f.shots))
	}
	if track := w.recorder.tracks[0]; len(c.scans[0].Values) != len(track.raw)+len(track.levels)+len(track.points) {
		t.Errorf("a commit has %d values, want samples, levels and points: %d", len(c.scans[0].Values), len(track.raw)+len(track.levels)+len(track.points))
	}
}

// Samples that an evaluation cannot stand are what must not be lost.
func TestSamplesAreKeptWhenAnEvaluationFails(t *testing.T) {
	f := shoot(t, "LG-101", 20*time.Second)
	w, c := recorded(t, f)
	w.units[0].gauge = nil
	func() {
		defer func() {
			if recover() == nil {
				t.Fatal("the evaluation did not fail")
			}
		}()
		w.Cycle(t.Context(), f.shots[0])
	}()
	raw := w.recorder.tracks[0].raw
	if len(c.scans) != 1 || len(c.scans[0].Values) != len(raw) {
		t.Fatalf("recorded %d scans, want one with the %d samples", len(c.scans), len(raw))
	}
	for i, v := range c.scans[0].Values {
		if v.ID != raw[i] || v.Value != f.shots[0].Samples[i].Value {
			t.Errorf("value %d is %+v, want series %d and %v", i, v, raw[i], f.shots[0].Samples[i].Value)
		}
	}
}
