package embedded

import (
	"context"
	"errors"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/storetest"
)

// levels makes a derived series of twice the first raw one.
func (p *plant) levels() store.ID {
	p.t.Helper()
	ids, err := p.Register(p.t.Context(), []store.Series{{Gauge: "LG-101", Name: "float.level", Class: store.Derived, Unit: "m"}})
	if err != nil {
		p.t.Fatal(err)
	}
	return ids[0]
}

func times(factor float64, from, to store.ID) func([]store.Scan) ([]store.Scan, error) {
	return func(raw []store.Scan) ([]store.Scan, error) {
		out := make([]store.Scan, len(raw))
		for i := range raw {
			out[i] = store.Scan{Time: raw[i].Time, ConfigVersion: 9}
			for _, v := range raw[i].Values {
				if v.ID == from {
					v.ID, v.Value = to, v.Value*factor
					out[i].Values = append(out[i].Values, v)
				}
			}
		}
		return out, nil
	}
}

func (p *plant) checkFactor(level store.ID, factor float64, from, to time.Time) {
	p.t.Helper()
	for _, raw := range p.all(p.ids[0]) {
		if raw.Time.Before(from) || !raw.Time.Before(to) {
			continue
		}
		got, err := p.Points(p.t.Context(), level, raw.Time, raw.Time.Add(time.Microsecond))
		if err != nil || len(got) != 1 || got[0].Value != raw.Value*factor || got[0].Quality != raw.Quality {
			p.t.Fatalf("level at %s is %v, error %v; want %v", raw.Time, got, err, raw.Value*factor)
		}
	}
}

func TestRecompute(t *testing.T) {
	p := newPlant(t, 2, Options{})
	start := p.now
	p.run(80*time.Hour, 20*time.Minute)
	p.upkeep()
	level := p.levels()
	job := Recomputation{Name: "first", Inputs: p.ids, From: start, To: p.now, Compute: times(2, p.ids[0], level)}
	if err := p.Recompute(t.Context(), job, nil); err != nil {
		t.Fatal(err)
	}
	p.checkFactor(level, 2, start, p.now)

	// A correction, interrupted after the second day and gone on with.
	job.Name, job.Compute, job.Warmup = "density", times(3, p.ids[0], level), 2*time.Hour
	ctx, cancel := context.WithCancel(t.Context())
	var seen []Progress
	err := p.Recompute(ctx, job, func(g Progress) {
		if seen = append(seen, g); len(seen) == 2 {
			cancel()
		}
	})
	if !errors.Is(err, context.Canceled) || len(seen) != 2 {
		t.Fatalf("interrupted run: %v after %d days, want cancelled after 2", err, len(seen))
	}
	p.reopen()
	if err := p.Recompute(t.Context(), job, func(g Progress) { seen = append(seen, g) }); err != nil {
		t.Fatal(err)
	}
	last := seen[len(seen)-1]
	if len(seen) != last.Total || last.Done != last.Total {
		t.Errorf("%d days reported, last %+v; want each of them once", len(seen), last)
	}
	p.checkFactor(level, 3, start, p.now)
	p.ids = append(p.ids, level)
	p.checkTrends(start, p.now)

	old, err := p.Earlier(t.Context(), level, start.Add(24*time.Hour), start.Add(48*time.Hour))
	if err != nil || len(old) == 0 {
		t.Fatalf("earlier generations %v, error %v; want one", old, err)
	}
	raw, err := p.Points(t.Context(), p.ids[0], start.Add(24*time.Hour), start.Add(48*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	for i, point := range old[len(old)-1].Points {
		if point.Value != 2*raw[i].Value {
			t.Fatalf("earlier level %d is %v, want twice %v", i, point.Value, raw[i].Value)
		}
	}
	if s, err := p.Stats(t.Context()); err != nil || s.DerivedBytes == 0 || s.RawBytes == 0 || s.SealedDays < 4 || s.Series != 3 {
		t.Errorf("statistics %+v, error %v", s, err)
	}
}

func TestRecomputeRefuses(t *testing.T) {
	p := newPlant(t, 1, Options{})
	err := p.Recompute(t.Context(), Recomputation{Name: "x", From: p.now, To: p.now.Add(1), Inputs: []store.ID{99}, Compute: times(1, 1, 1)}, nil)
	if !errors.Is(err, store.ErrNotFound) {
		t.Errorf("unknown input: %v, want ErrNotFound", err)
	}
	err = p.Recompute(t.Context(), Recomputation{Name: "x", From: storetest.Start, To: storetest.Start, Compute: times(1, 1, 1)}, nil)
	if !errors.Is(err, store.ErrInvalid) {
		t.Errorf("empty range: %v, want ErrInvalid", err)
	}
}

// The warm-up feeds the function what came before the range, all of it and in
// order, and stores nothing of what it returns; an interrupted run is warmed up
// again where it goes on.
func TestRecomputeWarmsUp(t *testing.T) {
	p := newPlant(t, 2, Options{})
	start := p.now
	p.run(72*time.Hour, 20*time.Minute)
	p.upkeep()
	level, from := p.levels(), start.Add(30*time.Hour)
	var fed []time.Time
	compute := func(raw []store.Scan) ([]store.Scan, error) {
		for _, s := range raw {
			fed = append(fed, s.Time)
		}
		return times(2, p.ids[0], level)(raw)
	}
	job := Recomputation{Name: "warm", Inputs: p.ids, From: from, To: p.now, Warmup: 2 * time.Hour, Compute: compute}
	ctx, stop := context.WithCancel(t.Context())
	err := p.Recompute(ctx, job, func(Progress) { stop() }) // after the first day
	if !errors.Is(err, context.Canceled) {
		t.Fatalf("interrupted: %v", err)
	}
	checkFed := func(first time.Time) {
		t.Helper()
		if len(fed) == 0 || fed[0].Before(first) || fed[0].After(first.Add(20*time.Minute)) {
			t.Fatalf("fed %d instants from %v, want from %v", len(fed), fed[:min(1, len(fed))], first)
		}
		for i := 1; i < len(fed); i++ {
			if fed[i].Sub(fed[i-1]) != 20*time.Minute {
				t.Fatalf("after %v came %v, want twenty minutes later", fed[i-1], fed[i])
			}
		}
	}
	checkFed(from.Add(-2 * time.Hour))
	fed = nil
	if err := p.Recompute(t.Context(), job, nil); err != nil {
		t.Fatal(err)
	}
	checkFed(from.Truncate(24 * time.Hour).Add(22 * time.Hour)) // two hours before the second day
	if before, err := p.Points(t.Context(), level, start, from); err != nil || len(before) != 0 {
		t.Errorf("%d levels before the range, %v; want none", len(before), err)
	}
	p.checkFactor(level, 2, from, p.now)
}
