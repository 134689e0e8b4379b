package watch

import (
	"errors"
	"io"
	"reflect"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector"
	"bridlewatch/collector/signal"
	"bridlewatch/config"
)

// What a service kept is replayed to the same findings, to the digit, as the
// samples it saw.
func TestReplayOfWhatWasKept(t *testing.T) {
	f := shoot(t, "LG-104", 12*time.Hour, "LG-104:float-stuck@3h")
	db := emptyStore(t)
	live, err := New(t.Context(), f.config, Options{Store: db})
	if err != nil {
		t.Fatal(err)
	}
	for _, shot := range f.shots {
		live.Cycle(t.Context(), shot)
	}
	began, end, err := db.Extent(t.Context())
	if last := f.shots[len(f.shots)-1].Time; err != nil || !began.Equal(f.shots[0].Time) || !end.Equal(last.Add(time.Microsecond)) {
		t.Fatalf("history from %v to %v (%v), want %v to %v", began, end, err, f.shots[0].Time, last)
	}
	kept, err := OpenKept(t.Context(), db, f.config, began, end)
	if err != nil {
		t.Fatal(err)
	}
	replayed := func(h History) (list []Change, sum Summary) {
		sum, err := Replay(t.Context(), f.config, h, nil, func(c Change) { list = append(list, c) }, nil)
		if err != nil {
			t.Fatal(err)
		}
		return list, sum
	}
	want, wantSum := replayed(f)
	got, gotSum := replayed(kept)
	if len(want) == 0 || wantSum.Gauges[0].Alerts == 0 {
		t.Fatal("nothing was found in what was seen: the test shows nothing")
	}
	if !reflect.DeepEqual(got, want) || !reflect.DeepEqual(gotSum, wantSum) {
		t.Errorf("kept: %+v\nseen: %+v", gotSum, wantSum)
	}
	if done, total := kept.Progress(); done != total || len(kept.Missing) > 0 {
		t.Errorf("read %d of %d s, missing %q", done, total, kept.Missing)
	}
	if _, err := kept.Next(make([]collector.Sample, len(f.shots[0].Samples))); !errors.Is(err, io.EOF) {
		t.Errorf("behind the end: %v", err)
	}
}

// A signal that was kept in another unit is left out and said; a gauge of which
// nothing is kept is an error, as is an end before the begin.
func TestKeptOfAnotherConfiguration(t *testing.T) {
	f := shoot(t, "LG-104", 10*time.Minute)
	db := emptyStore(t)
	if begin, end, err := db.Extent(t.Context()); err != nil || !begin.IsZero() || !end.IsZero() {
		t.Errorf("extent of nothing: %v %v %v", begin, end, err)
	}
	live, err := New(t.Context(), f.config, Options{Store: db})
	if err != nil {
		t.Fatal(err)
	}
	for _, shot := range f.shots {
		live.Cycle(t.Context(), shot)
	}
	other := *f.config
	other.Gauges = []config.Gauge{f.config.Gauges[0]}
	g := &other.Gauges[0]
	g.Signals = append([]config.Signal{}, g.Signals...)
	g.Signals[0].Spec.Kind = signal.Pt100
	g.Signals[1].Tag = "LT-999"
	kept, err := OpenKept(t.Context(), db, &other, f.shots[0].Time, f.shots[len(f.shots)-1].Time)
	if err != nil {
		t.Fatal(err)
	}
	if text := strings.Join(kept.Missing, "\n"); len(kept.Missing) != 2 || !strings.Contains(text, "the configuration reads") || !strings.Contains(text, "LT-999 of LG-104: nothing is kept of it") {
		t.Errorf("missing: %q", kept.Missing)
	}
	samples := make([]collector.Sample, len(g.Signals))
	if at, err := kept.Next(samples); err != nil || !at.Equal(f.shots[0].Time) || samples[0].Quality.Usable() || !samples[2].Quality.Usable() {
		t.Errorf("at %v: %+v, %v", at, samples[:3], err)
	}
	if _, err := OpenKept(t.Context(), db, &other, f.shots[9].Time, f.shots[9].Time); err == nil {
		t.Error("an empty time was taken")
	}
	g.Sheet.Tag = "LG-999"
	if _, err := OpenKept(t.Context(), db, &other, f.shots[0].Time, f.shots[9].Time); err == nil || !strings.Contains(err.Error(), "nothing is kept of gauge LG-999") {
		t.Errorf("a gauge nobody watched: %v", err)
	}
}
