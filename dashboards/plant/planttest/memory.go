package planttest

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"sort"
	"sync"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/symptom"
	"bridlewatch/dashboards/plant"
)

// Memory is a store that forgets everything at the end of a test.
type Memory struct {
	mu     sync.Mutex
	series map[store.ID]store.Series
	points map[store.ID][]store.Point
	docs   []store.Document
	Fail   error // every method answers with it when it is not nil
}

var _ store.Store = (*Memory)(nil)

// NewMemory returns an empty store.
func NewMemory() *Memory {
	return &Memory{series: map[store.ID]store.Series{}, points: map[store.ID][]store.Point{}}
}

// Register numbers series.
func (m *Memory) Register(_ context.Context, series []store.Series) ([]store.ID, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	ids := make([]store.ID, len(series))
next:
	for i, s := range series {
		for id, known := range m.series {
			if known.Gauge == s.Gauge && known.Name == s.Name && known.Class == s.Class {
				ids[i] = id
				continue next
			}
		}
		ids[i] = store.ID(len(m.series) + 1)
		m.series[ids[i]] = s
	}
	return ids, m.Fail
}

// Series lists the series.
func (m *Memory) Series(context.Context) (map[store.ID]store.Series, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	out := make(map[store.ID]store.Series, len(m.series))
	for id, s := range m.series {
		out[id] = s
	}
	return out, m.Fail
}

// Append keeps a scan.
func (m *Memory) Append(_ context.Context, scan store.Scan) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	for _, v := range scan.Values {
		m.points[v.ID] = append(m.points[v.ID], store.Point{Time: scan.Time, Value: v.Value, Quality: v.Quality, Reason: v.Reason})
	}
	return m.Fail
}

// Points returns values in time order.
func (m *Memory) Points(_ context.Context, id store.ID, from, to time.Time) ([]store.Point, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.Clone(within(m.points[id], from, to)), m.Fail
}

func within(all []store.Point, from, to time.Time) []store.Point {
	low := sort.Search(len(all), func(i int) bool { return !all[i].Time.Before(from) })
	high := sort.Search(len(all), func(i int) bool { return !all[i].Time.Before(to) })
	return all[low:high]
}

// Last returns the newest values.
func (m *Memory) Last(_ context.Context, ids []store.ID, t time.Time) ([]store.Point, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	out := make([]store.Point, len(ids))
	for i, id := range ids {
		if before := within(m.points[id], time.Time{}, t.Add(time.Nanosecond)); len(before) > 0 {
			out[i] = before[len(before)-1]
		}
	}
	return out, m.Fail
}

// Trend decimates into shared buckets.
func (m *Memory) Trend(_ context.Context, ids []store.ID, from, to time.Time, width int) (store.Trend, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.Fail != nil {
		return store.Trend{}, m.Fail
	}
	t := store.Trend{From: from, To: to, Step: max(1, to.Sub(from)/time.Duration(width)), Columns: make([][]store.Bucket, len(ids))}
	for i, id := range ids {
		column := make([]store.Bucket, width)
		for _, p := range within(m.points[id], from, to) {
			add(&column[min(width-1, int(p.Time.Sub(from)/t.Step))], p)
		}
		t.Columns[i] = column
	}
	return t, nil
}

func add(b *store.Bucket, p store.Point) {
	if p.Quality < 3 || math.IsNaN(p.Value) {
		b.Bad++
		return
	}
	if b.Count == 0 {
		b.Min, b.Max = p.Value, p.Value
	}
	b.Min, b.Max = min(b.Min, p.Value), max(b.Max, p.Value)
	b.Sum += p.Value
	b.Count++
}

// Put keeps a document.
func (m *Memory) Put(_ context.Context, d store.Document) (int64, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	d.Seq = int64(len(m.docs) + 1)
	newest := int64(0)
	for _, known := range m.docs {
		if known.Kind == d.Kind && known.ID == d.ID {
			newest = known.Seq
		}
	}
	if d.Replaces != 0 && d.Replaces != newest {
		return 0, fmt.Errorf("%w: %s %s is at version %d, not %d", store.ErrConflict, d.Kind, d.ID, newest, d.Replaces)
	}
	d.Replaces = newest
	m.docs = append(m.docs, d)
	return d.Seq, m.Fail
}

// Documents returns what matches.
func (m *Memory) Documents(_ context.Context, q store.Query) ([]store.Document, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	newest := map[string]int64{}
	for _, d := range m.docs {
		newest[d.Kind+"\n"+d.ID] = d.Seq
	}
	var out []store.Document
	for _, d := range m.docs {
		switch {
		case q.Kind != "" && d.Kind != q.Kind, q.ID != "" && d.ID != q.ID, q.Gauge != "" && d.Gauge != q.Gauge,
			!q.From.IsZero() && d.Time.Before(q.From), !q.To.IsZero() && !d.Time.Before(q.To), d.Seq <= q.After,
			q.Latest && newest[d.Kind+"\n"+d.ID] != d.Seq:
			continue
		}
		out = append(out, d)
	}
	if q.Newest {
		slices.Reverse(out)
	}
	if q.Limit > 0 && len(out) > q.Limit {
		out = out[:q.Limit]
	}
	return out, m.Fail
}

// Close does nothing.
func (m *Memory) Close() error { return nil }

// Fill records a period of a gauge: a level that wanders and a gap that grows
// in its last eighth, with one hole in it.
func (m *Memory) Fill(tag string, from, to time.Time, step time.Duration) error {
	names := []struct{ name, unit string }{
		{"level.float", "m"}, {"level.transmitter", "m"}, {"gap.float-transmitter", "m"}, {"budget.float-transmitter", "m"},
		{"point.LSL-" + tag[3:], ""}, {"point.LSH-" + tag[3:], ""}, {"density.liquid", "kg/m3"},
	}
	var series []store.Series
	for _, n := range names {
		series = append(series, store.Series{Gauge: tag, Name: n.name, Class: store.Derived, Unit: n.unit})
	}
	ctx := context.Background()
	ids, err := m.Register(ctx, series)
	if err != nil {
		return fmt.Errorf("fill %s: %w", tag, err)
	}
	span := to.Sub(from)
	stuckAt, stuck := 0.0, false
	for t := from; t.Before(to); t = t.Add(step) {
		part := float64(t.Sub(from)) / float64(span)
		if part > 0.40 && part < 0.45 {
			continue
		}
		truth := 0.55 + 0.2*math.Sin(part*40) + 0.05*math.Sin(part*211)
		float := truth + 0.002*math.Sin(part*900)
		if part > 0.875 {
			if !stuck {
				stuck, stuckAt = true, float
			}
			float = stuckAt
		}
		values := []float64{float, truth + 0.003*math.Cos(part*700), float - truth, 0.015, above(truth, 0.22), above(truth, 0.70), 902 + 4*math.Sin(part*9)}
		scan := store.Scan{Time: t}
		for i, v := range values {
			scan.Values = append(scan.Values, store.Value{ID: ids[i], Value: v, Quality: 4})
		}
		if err := m.Append(ctx, scan); err != nil {
			return err
		}
	}
	return nil
}

func above(level, trip float64) float64 {
	if level > trip {
		return 1
	}
	return 0
}

// Remember keeps a finding as the service does: one version for each change.
func (m *Memory) Remember(versions ...cause.Finding) error {
	for _, f := range versions {
		body, err := json.Marshal(f)
		if err != nil {
			return fmt.Errorf("finding %s: %w", f.ID, err)
		}
		if _, err := m.Put(context.Background(), store.Document{Kind: plant.FindingKind, ID: f.ID, Gauge: f.Gauge, Time: f.Changed, Body: body}); err != nil {
			return err
		}
	}
	return nil
}

// RememberYear keeps a year of invented episodes and the open finding of the
// gauge whose float is stuck.
func (m *Memory) RememberYear() error {
	if err := m.Remember(StuckFloat("LG-102").Result.Findings...); err != nil {
		return err
	}
	for i := range 40 {
		raised := Now.Add(-time.Duration(i*i) * 5 * time.Hour)
		f := cause.Finding{
			ID: fmt.Sprintf("LG-1%02d/year-%d", 1+i%7, i), Gauge: fmt.Sprintf("LG-1%02d", 1+i%7), Symptom: symptom.GapBeyondBudget, Cause: cause.FloatHeavier, Suspect: cause.Float,
			Tier: cause.Watch, Since: raised.Add(-time.Hour), Raised: raised, Changed: raised, Sentence: "Gap left its budget.",
		}
		worse := f
		worse.Tier, worse.Changed = cause.Alert, raised.Add(20*time.Minute)
		over := worse
		over.Cleared, over.Changed = raised.Add(3*time.Hour), raised.Add(3*time.Hour)
		if err := m.Remember(f, worse, over); err != nil {
			return err
		}
	}
	return nil
}
