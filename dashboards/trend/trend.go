// Package trend reads what a gauge did over a period, decimated so that a
// browser gets at most one bucket per pixel: the least and the greatest value
// of every series in the same buckets, so that a spike is never lost and two
// instruments are always compared at the same instant.
package trend

import (
	"context"
	"fmt"
	"math"
	"sync"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/compare/datasheet"
)

// Names of the derived series the service records for each gauge.
const (
	LevelFloat       = "level.float"
	LevelTransmitter = "level.transmitter"
	LevelSecond      = "level.second"
	LevelVessel      = "level.vessel"
	LevelInVessel    = "level.in-vessel"
	UFloat           = "u.float"
	UTransmitter     = "u.transmitter"
	Gap              = "gap.float-transmitter"
	Budget           = "budget.float-transmitter"
	GapVesselTrans   = "gap.vessel-transmitter"
	GapVesselFloat   = "gap.vessel-float"
	DensityLiquid    = "density.liquid"
	PointPrefix      = "point."
)

// Kind says which plot a line belongs to.
type Kind string

// Kinds.
const (
	Level   Kind = "level"
	GapKind Kind = "gap"
	Point   Kind = "point"
	Density Kind = "density"
)

// Line names one series of a chart.
type Line struct {
	Key   string // stable, for styles: "float", "transmitter", ...
	Label string
	Kind  Kind
	Name  string // of the stored series
}

// Lines lists the series worth plotting for a gauge.
func Lines(sheet *datasheet.Sheet) []Line {
	var lines []Line
	if sheet.Float.Follower != datasheet.NoFollower {
		lines = append(lines, Line{"float", label(sheet.Float.Tag, "float"), Level, LevelFloat})
	}
	if sheet.Transmitter != nil {
		lines = append(lines, Line{"transmitter", label(sheet.Transmitter.Tag, "transmitter"), Level, LevelTransmitter})
	}
	if sheet.Second != nil {
		lines = append(lines, Line{"second", label(sheet.Second.Tag, "second transmitter"), Level, LevelSecond})
	}
	if sheet.Vessel != nil {
		lines = append(lines, Line{"vessel", label(sheet.Vessel.Tag, "vessel, carried to the chamber"), Level, LevelVessel})
	}
	if sheet.Transmitter != nil && sheet.Float.Follower != datasheet.NoFollower {
		lines = append(lines, Line{"gap", "gap, float − transmitter", GapKind, Gap}, Line{"budget", "allowed", GapKind, Budget})
	}
	for _, p := range sheet.Points {
		lines = append(lines, Line{"point", p.Tag, Point, PointPrefix + p.Tag})
	}
	return append(lines, Line{"density", "liquid density", Density, DensityLiquid})
}

func label(tag, kind string) string {
	if tag == "" {
		return kind
	}
	return tag + " " + kind
}

// Column is one line of a chart. Min, Max and Mean have one entry per bucket;
// nil where nothing usable was recorded, so that a plot leaves a gap.
type Column struct {
	Line
	Min, Max, Mean []*float64
}

// Chart is a decimated period. Time holds the middle of each bucket.
type Chart struct {
	From, To time.Time
	Step     time.Duration
	Time     []time.Time
	Columns  []Column
	Most     uint32 // the greatest number of samples in one bucket
	Samples  uint64 // of all series
	Spans    []Span
}

// Span is something that lasted while the chart was recorded, such as a
// finding.
type Span struct {
	From, To time.Time // To zero: still there
	Kind     string    // "watch", "alert", "record", ...
	Label    string
}

// Empty reports whether nothing was recorded in the period.
func (c *Chart) Empty() bool { return c.Samples == 0 }

// Reader reads charts from a store. It may be used by several goroutines.
type Reader struct {
	store store.Store

	mu    sync.Mutex
	index map[[2]string]store.ID // by gauge and name
	asked time.Time
}

// NewReader makes a reader.
func NewReader(s store.Store) *Reader { return &Reader{store: s} }

// Width limits.
const (
	MinWidth = 2
	MaxWidth = 4000
)

// PeriodError says that a period cannot be shown.
type PeriodError struct{ From, To time.Time }

func (e *PeriodError) Error() string {
	return fmt.Sprintf("period from %s to %s is empty: the end must be after the start", e.From.Format(time.RFC3339), e.To.Format(time.RFC3339))
}

// Chart reads the lines of a gauge in [from, to) in at most width buckets.
// Lines nothing was ever recorded for are left out.
func (r *Reader) Chart(ctx context.Context, gauge string, lines []Line, from, to time.Time, width int) (*Chart, error) {
	if !to.After(from) {
		return nil, &PeriodError{from, to}
	}
	known, ids, err := r.find(ctx, gauge, lines)
	if err != nil || len(ids) == 0 {
		return &Chart{From: from, To: to}, err
	}
	t, err := r.store.Trend(ctx, ids, from, to, min(max(width, MinWidth), MaxWidth))
	if err != nil {
		return nil, fmt.Errorf("trend of %s: %w", gauge, err)
	}
	return newChart(known, t), nil
}

func newChart(lines []Line, t store.Trend) *Chart {
	c := &Chart{From: t.From, To: t.To, Step: t.Step}
	for i, buckets := range t.Columns {
		column := Column{Line: lines[i]}
		for _, b := range buckets {
			c.Samples += uint64(b.Count)
			c.Most = max(c.Most, b.Count)
			column.add(b)
		}
		c.Columns = append(c.Columns, column)
	}
	if len(t.Columns) > 0 {
		for j := range t.Columns[0] {
			c.Time = append(c.Time, t.From.Add(time.Duration(j)*t.Step+t.Step/2))
		}
	}
	return c
}

func (c *Column) add(b store.Bucket) {
	if b.Count == 0 {
		c.Min, c.Max, c.Mean = append(c.Min, nil), append(c.Max, nil), append(c.Mean, nil)
		return
	}
	mean := b.Sum / float64(b.Count)
	c.Min, c.Max, c.Mean = append(c.Min, &b.Min), append(c.Max, &b.Max), append(c.Mean, &mean)
}

// Ratios reads |gap| / budget of several gauges in the same buckets, the worst
// of each bucket, for the small plots of the list. NaN marks an empty bucket.
func (r *Reader) Ratios(ctx context.Context, gauges []string, from, to time.Time, width int) (map[string][]float64, error) {
	var ids []store.ID
	var owners []string
	for _, g := range gauges {
		_, pair, err := r.find(ctx, g, []Line{{Name: Gap}, {Name: Budget}})
		if err != nil {
			return nil, err
		}
		if len(pair) == 2 {
			ids, owners = append(ids, pair...), append(owners, g)
		}
	}
	if len(ids) == 0 {
		return nil, nil
	}
	t, err := r.store.Trend(ctx, ids, from, to, width)
	if err != nil {
		return nil, fmt.Errorf("gap of %d gauges: %w", len(owners), err)
	}
	ratios := make(map[string][]float64, len(owners))
	for i, g := range owners {
		ratios[g] = worst(t.Columns[2*i], t.Columns[2*i+1])
	}
	return ratios, nil
}

func worst(gap, budget []store.Bucket) []float64 {
	out := make([]float64, len(gap))
	for j, b := range gap {
		out[j] = math.NaN()
		if b.Count > 0 && budget[j].Count > 0 && budget[j].Sum > 0 {
			out[j] = max(math.Abs(b.Min), math.Abs(b.Max)) / (budget[j].Sum / float64(budget[j].Count))
		}
	}
	return out
}

// find looks up the IDs of the lines that were ever recorded.
func (r *Reader) find(ctx context.Context, gauge string, lines []Line) (known []Line, ids []store.ID, err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	missing := false
	for _, l := range lines {
		if _, ok := r.index[[2]string{gauge, l.Name}]; !ok {
			missing = true
		}
	}
	if missing && time.Since(r.asked) > time.Second {
		if err := r.refresh(ctx); err != nil {
			return nil, nil, err
		}
	}
	for _, l := range lines {
		if id, ok := r.index[[2]string{gauge, l.Name}]; ok {
			known, ids = append(known, l), append(ids, id)
		}
	}
	return known, ids, nil
}

func (r *Reader) refresh(ctx context.Context) error {
	series, err := r.store.Series(ctx)
	if err != nil {
		return fmt.Errorf("list of series: %w", err)
	}
	r.index = make(map[[2]string]store.ID, len(series))
	for id, s := range series {
		if s.Class == store.Derived {
			r.index[[2]string{s.Gauge, s.Name}] = id
		}
	}
	r.asked = time.Now()
	return nil
}
