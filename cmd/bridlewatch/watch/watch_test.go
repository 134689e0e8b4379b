package watch

import (
	"context"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/cmd/bridlewatch/rehearsal"
	"bridlewatch/collector"
	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/scenario"
	"bridlewatch/config"
	"bridlewatch/dashboards/plant"
)

var begin = time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)

// film is simulated history of one gauge of the rehearsal plant as raw
// snapshots.
type film struct {
	config *config.Config
	shots  []collector.Snapshot
	next   int
}

func (f *film) Next(samples []collector.Sample) (time.Time, error) {
	if f.next == len(f.shots) {
		return time.Time{}, io.EOF
	}
	f.next++
	copy(samples, f.shots[f.next-1].Samples)
	return f.shots[f.next-1].Time, nil
}

// shoot films a gauge every ten seconds.
func shoot(t testing.TB, tag string, span time.Duration, faults ...string) *film {
	t.Helper()
	return shootEvery(t, 10*time.Second, tag, span, faults...)
}

func shootEvery(t testing.TB, period time.Duration, tag string, span time.Duration, faults ...string) *film {
	t.Helper()
	cfg, err := rehearsal.Embedded()
	if err != nil {
		t.Fatal(err)
	}
	cfg.Gauges = slices.DeleteFunc(cfg.Gauges, func(g config.Gauge) bool { return g.Sheet.Tag != tag })
	o := scenario.Options{Seed: 7, Start: begin, Process: scenario.BatchProcess(), Service: scenario.Benign()}
	for _, text := range faults {
		f, err := scenario.ParseFault(text)
		if err != nil {
			t.Fatal(err)
		}
		o.Faults = append(o.Faults, f)
	}
	g := &cfg.Gauges[0]
	unit, err := scenario.New(&g.Sheet, o)
	if err != nil {
		t.Fatal(err)
	}
	f := &film{config: cfg}
	for at := begin.Add(period); !at.After(begin.Add(span)); at = at.Add(period) {
		shot, err := unit.Step(at)
		if err != nil {
			t.Fatal(err)
		}
		samples := make([]collector.Sample, len(g.Signals))
		for i := range g.Signals {
			samples[i] = rawSample(&g.Signals[i], *ReadingOf(&shot, &g.Signals[i]), at)
		}
		f.shots = append(f.shots, collector.Snapshot{Time: at, Samples: samples})
	}
	return f
}

func rawSample(sig *config.Signal, r quantity.Reading, at time.Time) collector.Sample {
	s := collector.Sample{Tag: collector.Tag(sig.Tag), Time: at, SourceTime: at, Quality: r.Quality, Reason: r.Reason}
	raw, err := sig.Spec.Inverse(r.Value)
	if err != nil {
		s.Quality, s.Reason = quantity.Bad, quantity.OutOfRange
	}
	s.Value = raw
	return s
}

// collect gathers what changed, without what a repetition may differ in.
func collect(into *[]string) func(Change) {
	return func(c Change) {
		*into = append(*into, strings.Join([]string{c.Time.Format(time.RFC3339), c.What, c.Finding.ID, string(c.Finding.Tier), string(c.Finding.Suspect), c.Finding.Sentence}, " "))
	}
}

func run(t *testing.T, f *film, o Options, from, to int) *Watch {
	t.Helper()
	w, err := New(t.Context(), f.config, o)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range f.shots[from:to] {
		w.Cycle(t.Context(), s)
	}
	if err := w.Close(t.Context()); err != nil {
		t.Fatal(err)
	}
	return w
}

func TestReplayFindsWhatALiveServiceFinds(t *testing.T) {
	f := shoot(t, "LG-104", 6*time.Hour, "LG-104:float-stuck@1h")
	var live, replayed []string
	run(t, f, Options{OnChange: collect(&live)}, 0, len(f.shots))
	sum, err := Replay(t.Context(), f.config, f, nil, collect(&replayed), nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(live) == 0 {
		t.Fatal("the stuck float was not found")
	}
	if d := cmp.Diff(live, replayed); d != "" {
		t.Errorf("live and replay differ:\n%s", d)
	}
	if sum.Snapshots != len(f.shots) || sum.Gauges[0].Alerts != 1 || sum.Gauges[0].Open != 1 {
		t.Errorf("summary %+v", sum)
	}
}

func TestARestartNeitherForgetsNorAnnouncesAgain(t *testing.T) {
	f := shoot(t, "LG-104", 6*time.Hour, "LG-104:float-stuck@1h")
	var whole, parts []string
	run(t, f, Options{OnChange: collect(&whole)}, 0, len(f.shots))
	dir := t.TempDir()
	half := len(f.shots) / 2
	run(t, f, Options{StateDir: dir, OnChange: collect(&parts)}, 0, half)
	if len(parts) == 0 {
		t.Fatal("nothing was found before the restart: the test shows nothing")
	}
	w := run(t, f, Options{StateDir: dir, OnChange: collect(&parts)}, half, len(f.shots))
	if d := cmp.Diff(whole, parts); d != "" {
		t.Errorf("with a restart it went otherwise:\n%s", d)
	}
	if open := w.units[0].result.Findings; len(open) != 1 || open[0].Suspect != cause.Float {
		t.Errorf("open after the restart: %+v", open)
	}
}

func TestDamagedStateIsSetAside(t *testing.T) {
	f := shoot(t, "LG-104", time.Hour)
	dir := t.TempDir()
	file := filepath.Join(dir, "detectors.json")
	if err := os.WriteFile(file, []byte(`{"saved":"2026`), 0o600); err != nil {
		t.Fatal(err)
	}
	run(t, f, Options{StateDir: dir, Log: slog.New(slog.DiscardHandler)}, 0, 10)
	if _, err := os.Stat(file + ".damaged"); err != nil {
		t.Errorf("the damaged file is gone: %v", err)
	}
	if w, err := Revive(t.Context(), f.config, filepath.Dir(dir)); err != nil || w == nil {
		t.Errorf("state cannot be read again: %v", err)
	}
}

// fullStore has no room until somebody makes some.
type fullStore struct {
	store.Store
	full bool
}

func (s *fullStore) Append(ctx context.Context, scan store.Scan) error {
	if s.full {
		return store.ErrFull
	}
	return s.Store.Append(ctx, scan)
}

func (s *fullStore) Put(ctx context.Context, d store.Document) (int64, error) {
	if s.full {
		return 0, store.ErrFull
	}
	return s.Store.Put(ctx, d)
}

func TestAFullDiskStopsHistoryAndNothingElse(t *testing.T) {
	f := shoot(t, "LG-104", 4*time.Hour, "LG-104:float-stuck@1h")
	db, err := embedded.Open(t.Context(), embedded.Options{Dir: t.TempDir(), Upkeep: -1})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	s := &fullStore{Store: db, full: true}
	var found []string
	w, err := New(t.Context(), f.config, Options{Store: s, Views: true, OnChange: collect(&found)})
	if err != nil {
		t.Fatal(err)
	}
	for _, shot := range f.shots {
		w.Cycle(t.Context(), shot)
	}
	if h := w.Health(); len(h.Notices) != 1 || !strings.Contains(h.Notices[0], "no space left") {
		t.Errorf("notices %q, want that history has stopped", h.Notices)
	}
	if len(found) == 0 {
		t.Error("the stuck float was not found while the disk was full")
	}
	s.full = false
	w.Cycle(t.Context(), f.shots[len(f.shots)-1])
	if h := w.Health(); len(h.Notices) != 0 {
		t.Errorf("notices after there was room again: %q", h.Notices)
	}
	w.Cycle(t.Context(), f.shots[len(f.shots)-1])
	if docs, err := db.Documents(t.Context(), store.Query{Kind: plant.FindingKind}); err != nil || len(docs) != len(found) {
		t.Errorf("%d findings in history, error %v; want the %d found while the disk was full", len(docs), err, len(found))
	}
}

func TestLevelsComputedAgainAreTheSame(t *testing.T) {
	f := shoot(t, "LG-104", 30*time.Minute)
	db, err := embedded.Open(t.Context(), embedded.Options{Dir: t.TempDir(), Upkeep: -1, Now: func() time.Time { return begin.Add(time.Hour) }})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	w := run(t, f, Options{Store: db}, 0, len(f.shots))
	c, err := NewComputer(t.Context(), f.config, db)
	if err != nil {
		t.Fatal(err)
	}
	id := w.recorder.tracks[0].levels[0]
	before, err := db.Points(t.Context(), id, begin, begin.Add(time.Hour))
	if err != nil || len(before) != len(f.shots) {
		t.Fatalf("%d levels, want %d: %v", len(before), len(f.shots), err)
	}
	var raws, singly []store.Scan
	for _, shot := range f.shots {
		raw := store.Scan{Time: shot.Time}
		for i, s := range shot.Samples {
			raw.Values = append(raw.Values, store.Value{ID: w.recorder.tracks[0].raw[i], Value: s.Value, Quality: uint8(s.Quality)})
		}
		scans, err := c.Compute([]store.Scan{raw})
		if err != nil {
			t.Fatal(err)
		}
		again := scans[0]
		raws, singly = append(raws, raw), append(singly, again)
		k := slices.IndexFunc(before, func(p store.Point) bool { return p.Time.Equal(shot.Time) })
		if k < 0 || again.Values[0].ID != id || again.Values[0].Value != before[k].Value {
			t.Fatalf("at %v computed again %v, before %v", shot.Time, again.Values[0], before[k])
		}
	}
	c, err = NewComputer(t.Context(), f.config, db)
	if err != nil {
		t.Fatal(err)
	}
	together, err := c.Compute(raws)
	if d := cmp.Diff(singly, together); err != nil || d != "" {
		t.Errorf("all instants in one call give something else (%v):\n%s", err, d)
	}
}
