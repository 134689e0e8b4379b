package watch

import (
	"encoding/json"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/compare"
)

// What people did counts at its time when levels are computed again: the
// detectors end up as those of the service that saw it happen.
func TestComputingAgainHonoursRecords(t *testing.T) {
	f := shoot(t, "LG-104", 40*time.Minute)
	db := emptyStore(t)
	works := []compare.Work{
		{Kind: compare.WorkIsolated, At: f.shots[60].Time.Add(-time.Second)},
		{Kind: compare.WorkRebaseline, At: f.shots[110].Time, Tag: "LT-104"},
		{Kind: compare.WorkReturned, At: f.shots[120].Time.Add(-time.Second)},
	}
	live, err := New(t.Context(), f.config, Options{Store: db})
	if err != nil {
		t.Fatal(err)
	}
	next := 0
	for _, shot := range f.shots {
		for ; next < len(works) && !works[next].At.After(shot.Time); next++ {
			if err := live.Post("LG-104", works[next]); err != nil {
				t.Fatal(err)
			}
		}
		live.Cycle(t.Context(), shot)
	}
	again, without := computed(t, f, db, works), computed(t, f, db, nil)
	if got, want := stateOf(t, again), stateOf(t, live); got != want {
		t.Errorf("detectors are\n%s\nthose of the service\n%s", got, want)
	}
	if stateOf(t, without) == stateOf(t, live) {
		t.Error("the records make no difference: the test shows nothing")
	}
}

func computed(t *testing.T, f *film, db *embedded.DB, works []compare.Work) *Watch {
	t.Helper()
	c, err := NewComputer(t.Context(), f.config, db)
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Remember("LG-104", works); err != nil {
		t.Fatal(err)
	}
	var raws []store.Scan
	for _, shot := range f.shots {
		raw := store.Scan{Time: shot.Time}
		for i, s := range shot.Samples {
			raw.Values = append(raw.Values, store.Value{ID: c.watch.recorder.tracks[0].raw[i], Value: s.Value, Quality: uint8(s.Quality), Reason: uint8(s.Reason), Source: s.SourceTime})
		}
		raws = append(raws, raw)
	}
	half := len(raws) / 2
	for _, part := range [][]store.Scan{raws[:half], raws[half:]} {
		if _, err := c.Compute(part); err != nil {
			t.Fatal(err)
		}
	}
	if err := c.Remember("LG-999", nil); err == nil {
		t.Error("a gauge that is not there was taken")
	}
	return c.watch
}

func stateOf(t *testing.T, w *Watch) string {
	t.Helper()
	text, err := json.Marshal(&w.units[0].state)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}
