// Package storetest is the contract of package store as tests: what every
// engine must do, stated once. An engine calls Run from its own tests.
package storetest

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/collector/store"
)

// Start is the scheduled instant of the first scan of the suite.
var Start = time.Date(2026, 3, 28, 22, 59, 58, 250_000_000, time.UTC)

// Good and Bad are the numbers of quantity.Quality used here.
const (
	Bad       = 1
	Uncertain = 3
	Good      = 4
)

// Option leaves out what an engine does not promise.
type Option func(*suite)

// WithoutDocuments is for an engine that keeps only trends.
func WithoutDocuments(s *suite) { s.documents = false }

type suite struct {
	open      func(*testing.T) store.Store
	documents bool
}

// Run checks the store that open returns. Every test opens a fresh one; open
// arranges for it to be closed and removed.
func Run(t *testing.T, open func(*testing.T) store.Store, options ...Option) {
	s := suite{open: open, documents: true}
	for _, o := range options {
		o(&s)
	}
	for _, c := range []struct {
		name string
		run  func(*testing.T, store.Store)
	}{
		{"register gives one ID per series", registerOnce},
		{"register refuses a series without a name", registerRefuses},
		{"append then read", appendRead},
		{"late scans are put in order", lateScan},
		{"a repeated time replaces the value", repeatedTime},
		{"scans of other series at one time do not disturb", partialScans},
		{"an erased value is gone", erasedValue},
		{"a bad value keeps its quality and no number", badQuality},
		{"not-a-number is refused", refuseNaN},
		{"an unknown series is refused", refuseUnknown},
		{"a refused scan leaves nothing", refusedWhole},
		{"times keep microseconds", microseconds},
		{"the range is half open", halfOpen},
		{"a clock a year ahead blocks nothing", clockStep},
		{"wide scans", wideScan},
		{"last value", lastValue},
		{"trend agrees with points", trendAgrees},
		{"trend leaves gaps and counts bad values", trendGap},
		{"trend refuses an empty range", trendRefuses},
		{"a cancelled context stores nothing", cancelled},
		{"several writers and readers", concurrent},
		{"close twice", closeTwice},
	} {
		t.Run(c.name, func(t *testing.T) { c.run(t, s.open(t)) })
	}
	if s.documents {
		t.Run("documents", func(t *testing.T) { runDocuments(t, s.open) })
	}
}

// Names returns n raw series of one gauge.
func Names(n int) []store.Series {
	out := make([]store.Series, n)
	for i := range out {
		out[i] = store.Series{Gauge: "LG-101", Name: "LT-" + string(rune('A'+i/26)) + string(rune('A'+i%26)), Unit: "mA"}
	}
	return out
}

// Register registers n series and fails the test on error.
func Register(t testing.TB, s store.Store, n int) []store.ID {
	t.Helper()
	ids, err := s.Register(t.Context(), Names(n))
	if err != nil {
		t.Fatalf("register: %v", err)
	}
	return ids
}

// ScanAt is a scan of good values for ids.
func ScanAt(at time.Time, ids []store.ID, values ...float64) store.Scan {
	scan := store.Scan{Time: at, ConfigVersion: 1}
	for i, v := range values {
		scan.Values = append(scan.Values, store.Value{ID: ids[i], Value: v, Quality: Good})
	}
	return scan
}

func mustAppend(t *testing.T, s store.Store, scans ...store.Scan) {
	t.Helper()
	for _, scan := range scans {
		if err := s.Append(t.Context(), scan); err != nil {
			t.Fatalf("append %s: %v", scan.Time, err)
		}
	}
}

func wantPoints(t *testing.T, s store.Store, id store.ID, from, to time.Time, want ...store.Point) {
	t.Helper()
	got, err := s.Points(t.Context(), id, from, to)
	if err != nil {
		t.Fatalf("points: %v", err)
	}
	if diff := cmp.Diff(want, got); diff != "" && len(want)+len(got) > 0 {
		t.Errorf("points of %d (-want +got):\n%s", id, diff)
	}
}

func wantError(t *testing.T, err, kind error) {
	t.Helper()
	if !errors.Is(err, kind) {
		t.Errorf("got error %v, want one that is %q", err, kind)
	}
}

func point(at time.Time, v float64) store.Point {
	return store.Point{Time: at, Value: v, Quality: Good}
}

func second(n int) time.Time { return Start.Add(time.Duration(n) * time.Second) }

func registerOnce(t *testing.T, s store.Store) {
	series := append(Names(2), store.Series{Gauge: "LG-101", Name: "float.level", Class: store.Derived, Unit: "m"},
		store.Series{Gauge: "LG-102", Name: "LT-AA", Unit: "mA"}, store.Series{Gauge: "LG-101", Name: "LT-AA", Unit: "V"})
	first, err := s.Register(t.Context(), series)
	if err != nil {
		t.Fatal(err)
	}
	again, err := s.Register(t.Context(), append(series[2:], series[:2]...))
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(append(first[2:len(first):len(first)], first[:2]...), again); diff != "" {
		t.Errorf("IDs changed (-first +again):\n%s", diff)
	}
	known, err := s.Series(t.Context())
	if err != nil || len(known) != len(series) {
		t.Fatalf("got %d series and error %v, want %d", len(known), err, len(series))
	}
	for i, id := range again {
		if want := append(series[2:len(series):len(series)], series[:2]...)[i]; known[id] != want {
			t.Errorf("series %d is %+v, want %+v", id, known[id], want)
		}
	}
}

func registerRefuses(t *testing.T, s store.Store) {
	_, err := s.Register(t.Context(), []store.Series{{Gauge: "LG-101"}})
	wantError(t, err, store.ErrInvalid)
}

func appendRead(t *testing.T, s store.Store) {
	ids := Register(t, s, 2)
	mustAppend(t, s, ScanAt(second(0), ids, 4.25, -0.5), ScanAt(second(1), ids, 20, 1e-300))
	wantPoints(t, s, ids[0], second(0), second(2), point(second(0), 4.25), point(second(1), 20))
	wantPoints(t, s, ids[1], second(0), second(2), point(second(0), -0.5), point(second(1), 1e-300))
}

func lateScan(t *testing.T, s store.Store) {
	ids := Register(t, s, 1)
	for _, n := range []int{3, 1, 4, 0, 2, -86400} {
		mustAppend(t, s, ScanAt(second(n), ids, float64(n)))
	}
	wantPoints(t, s, ids[0], second(-100_000), second(10), point(second(-86400), -86400), point(second(0), 0),
		point(second(1), 1), point(second(2), 2), point(second(3), 3), point(second(4), 4))
}

func repeatedTime(t *testing.T, s store.Store) {
	ids := Register(t, s, 2)
	mustAppend(t, s, ScanAt(second(0), ids, 1, 2), ScanAt(second(1), ids, 3, 4), ScanAt(second(0), ids, 5))
	wantPoints(t, s, ids[0], second(0), second(2), point(second(0), 5), point(second(1), 3))
	wantPoints(t, s, ids[1], second(0), second(2), point(second(0), 2), point(second(1), 4))
}

func partialScans(t *testing.T, s store.Store) {
	ids := Register(t, s, 3)
	mustAppend(t, s, ScanAt(second(0), ids[:1], 1), ScanAt(second(0), ids[1:], 2, 3), ScanAt(second(1), []store.ID{ids[2], ids[0]}, 6, 4))
	wantPoints(t, s, ids[0], second(0), second(2), point(second(0), 1), point(second(1), 4))
	wantPoints(t, s, ids[1], second(0), second(2), point(second(0), 2))
	wantPoints(t, s, ids[2], second(0), second(2), point(second(0), 3), point(second(1), 6))
}

func badQuality(t *testing.T, s store.Store) {
	ids := Register(t, s, 2)
	mustAppend(t, s, store.Scan{Time: second(0), Values: []store.Value{
		{ID: ids[0], Value: math.NaN(), Quality: Bad, Reason: 3},
		{ID: ids[1], Value: 7, Quality: Uncertain, Reason: 11, Source: second(-1)},
	}})
	wantPoints(t, s, ids[0], second(0), second(1), store.Point{Time: second(0), Quality: Bad, Reason: 3})
	wantPoints(t, s, ids[1], second(0), second(1), store.Point{Time: second(0), Value: 7, Quality: Uncertain, Reason: 11})
}

func erasedValue(t *testing.T, s store.Store) {
	ids := Register(t, s, 1)
	erase := store.Scan{Time: second(1), Values: []store.Value{{ID: ids[0], Reason: store.Erased}}}
	mustAppend(t, s, ScanAt(second(0), ids, 1), ScanAt(second(1), ids, 2), ScanAt(second(2), ids, 3), erase)
	wantPoints(t, s, ids[0], second(0), second(9), point(second(0), 1), point(second(2), 3))
	mustAppend(t, s, ScanAt(second(1), ids, 4))
	wantPoints(t, s, ids[0], second(0), second(9), point(second(0), 1), point(second(1), 4), point(second(2), 3))
}

func refuseNaN(t *testing.T, s store.Store) {
	ids := Register(t, s, 1)
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		wantError(t, s.Append(t.Context(), ScanAt(second(0), ids, v)), store.ErrInvalid)
	}
	wantError(t, s.Append(t.Context(), ScanAt(time.Time{}, ids, 1)), store.ErrInvalid)
	wantPoints(t, s, ids[0], second(-10), second(10))
}

func refuseUnknown(t *testing.T, s store.Store) {
	ids := Register(t, s, 1)
	unknown := []store.ID{ids[0] + 1}
	wantError(t, s.Append(t.Context(), ScanAt(second(0), unknown, 1)), store.ErrInvalid)
	_, err := s.Points(t.Context(), unknown[0], second(0), second(1))
	wantError(t, err, store.ErrNotFound)
}

func refusedWhole(t *testing.T, s store.Store) {
	ids := Register(t, s, 2)
	wantError(t, s.Append(t.Context(), ScanAt(second(0), ids, 1, math.NaN())), store.ErrInvalid)
	wantPoints(t, s, ids[0], second(0), second(1))
}

func microseconds(t *testing.T, s store.Store) {
	ids := Register(t, s, 1)
	at := Start.Add(123_456 * time.Microsecond)
	mustAppend(t, s, ScanAt(at.In(time.FixedZone("", 5*3600)), ids, 1), ScanAt(at.Add(time.Microsecond), ids, 2))
	wantPoints(t, s, ids[0], at, at.Add(time.Second), point(at, 1), point(at.Add(time.Microsecond), 2))
}

func halfOpen(t *testing.T, s store.Store) {
	ids := Register(t, s, 1)
	mustAppend(t, s, ScanAt(second(0), ids, 0), ScanAt(second(1), ids, 1), ScanAt(second(2), ids, 2))
	wantPoints(t, s, ids[0], second(0), second(2), point(second(0), 0), point(second(1), 1))
	wantPoints(t, s, ids[0], second(2), second(2))
}

func clockStep(t *testing.T, s store.Store) {
	ids := Register(t, s, 1)
	ahead := Start.AddDate(1, 0, 0)
	mustAppend(t, s, ScanAt(second(0), ids, 0), ScanAt(ahead, ids, 99), ScanAt(second(1), ids, 1))
	wantPoints(t, s, ids[0], second(0), second(9), point(second(0), 0), point(second(1), 1))
	wantPoints(t, s, ids[0], ahead, ahead.Add(time.Second), point(ahead, 99))
}

func wideScan(t *testing.T, s store.Store) {
	ids := Register(t, s, 600)
	values := make([]float64, len(ids))
	for n := range 3 {
		for i := range values {
			values[i] = float64(1000*n + i)
		}
		mustAppend(t, s, ScanAt(second(n), ids, values...))
	}
	for _, i := range []int{0, 255, 256, 599} {
		v := float64(i)
		wantPoints(t, s, ids[i], second(0), second(3), point(second(0), v), point(second(1), 1000+v), point(second(2), 2000+v))
	}
}

func lastValue(t *testing.T, s store.Store) {
	ids := Register(t, s, 3)
	mustAppend(t, s, ScanAt(second(0), ids, 1, 2), ScanAt(second(5), ids, 3), ScanAt(second(5), ids, 4), ScanAt(second(9), ids, 5, 6))
	for _, c := range []struct {
		name string
		at   time.Time
		want []store.Point
	}{
		{"before the first", second(-1), make([]store.Point, 3)},
		{"at the first", second(0), []store.Point{point(second(0), 1), point(second(0), 2), {}}},
		{"corrected", second(5), []store.Point{point(second(5), 4), point(second(0), 2), {}}},
		{"long after", second(86400 * 3), []store.Point{point(second(9), 5), point(second(9), 6), {}}},
	} {
		got, err := s.Last(t.Context(), ids, c.at)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
}

func trendAgrees(t *testing.T, s store.Store) {
	ids := Register(t, s, 3)
	for n := range 120 {
		mustAppend(t, s, ScanAt(second(7*n), ids, math.Sin(float64(n)), float64(n%13), float64(n)))
	}
	for _, width := range []int{2, 3, 10, 97, 1000} {
		from, to := second(5), second(7*115)
		tr, err := s.Trend(t.Context(), ids, from, to, width)
		if err != nil {
			t.Fatal(err)
		}
		CheckTrend(t, s, ids, tr, from, to, width)
	}
}

// CheckTrend fails the test unless tr is what Points says of the same range.
func CheckTrend(t *testing.T, s store.Store, ids []store.ID, tr store.Trend, from, to time.Time, width int) {
	t.Helper()
	n := int(tr.To.Sub(tr.From) / tr.Step)
	if n > width || tr.From.After(from) || tr.To.Before(to) || tr.To.Sub(tr.From) != time.Duration(n)*tr.Step {
		t.Fatalf("%d buckets of %s from %s to %s; asked for %d from %s to %s", n, tr.Step, tr.From, tr.To, width, from, to)
	}
	for i, id := range ids {
		points, err := s.Points(t.Context(), id, tr.From, tr.To)
		if err != nil {
			t.Fatal(err)
		}
		want := make([]store.Bucket, n)
		for _, p := range points {
			count(&want[p.Time.Sub(tr.From)/tr.Step], p)
		}
		if diff := cmp.Diff(want, tr.Columns[i], cmp.Comparer(same)); diff != "" {
			t.Errorf("series %d at width %d (-points +trend):\n%s", id, width, diff)
		}
	}
}

// same holds for buckets that agree but for the sum, which may be off as far
// as store.Bucket allows.
func same(a, b store.Bucket) bool {
	off := float64(a.Count)*(a.Max-a.Min)*store.MeanWithin + 1e-9*(1+math.Abs(a.Sum))
	return a.Min == b.Min && a.Max == b.Max && a.Count == b.Count && a.Bad == b.Bad && math.Abs(a.Sum-b.Sum) <= off
}

func count(b *store.Bucket, p store.Point) {
	if p.Quality < Uncertain {
		b.Bad++
		return
	}
	if b.Count == 0 || p.Value < b.Min {
		b.Min = p.Value
	}
	if b.Count == 0 || p.Value > b.Max {
		b.Max = p.Value
	}
	b.Sum += p.Value
	b.Count++
}

func trendGap(t *testing.T, s store.Store) {
	ids := Register(t, s, 1)
	mustAppend(t, s, ScanAt(second(0), ids, 1), ScanAt(second(60), ids, 3),
		store.Scan{Time: second(30), Values: []store.Value{{ID: ids[0], Quality: Bad}}})
	tr, err := s.Trend(t.Context(), ids, second(0), second(61), 100)
	if err != nil {
		t.Fatal(err)
	}
	var used, bad, empty int
	for _, b := range tr.Columns[0] {
		used, bad = used+int(b.Count), bad+int(b.Bad)
		if b.Count == 0 {
			empty++
		}
	}
	if used != 2 || bad != 1 || empty != len(tr.Columns[0])-2 {
		t.Errorf("%d used, %d bad, %d of %d empty; want 2, 1 and all but 2", used, bad, empty, len(tr.Columns[0]))
	}
}

func trendRefuses(t *testing.T, s store.Store) {
	ids := Register(t, s, 1)
	_, err := s.Trend(t.Context(), ids, second(1), second(1), 100)
	wantError(t, err, store.ErrInvalid)
	_, err = s.Trend(t.Context(), ids, second(0), second(1), 0)
	wantError(t, err, store.ErrInvalid)
}

func cancelled(t *testing.T, s store.Store) {
	ids := Register(t, s, 1)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := s.Append(ctx, ScanAt(second(0), ids, 1)); !errors.Is(err, context.Canceled) {
		t.Errorf("got error %v, want context.Canceled", err)
	}
	wantPoints(t, s, ids[0], second(0), second(1))
}

func concurrent(t *testing.T, s store.Store) {
	const writers, scans = 4, 12
	ids := Register(t, s, writers)
	errs := make(chan error, 2*writers)
	for w := range writers {
		go func() {
			var err error
			for n := 0; n < scans && err == nil; n++ {
				err = s.Append(t.Context(), ScanAt(second(n), ids[w:], float64(n)))
			}
			errs <- err
		}()
		go func() {
			var err error
			for n := 0; n < scans && err == nil; n++ {
				_, err = s.Trend(t.Context(), ids, second(0), second(scans), 10)
			}
			errs <- err
		}()
	}
	for range 2 * writers {
		if err := <-errs; err != nil {
			t.Error(err)
		}
	}
	for _, id := range ids {
		if got, err := s.Points(t.Context(), id, second(0), second(scans)); err != nil || len(got) != scans {
			t.Errorf("series %d has %d points, error %v; want %d", id, len(got), err, scans)
		}
	}
}

func closeTwice(t *testing.T, s store.Store) {
	ids := Register(t, s, 1)
	if err := errors.Join(s.Close(), s.Close()); err != nil {
		t.Errorf("close: %v", err)
	}
	wantError(t, s.Append(t.Context(), ScanAt(second(0), ids, 1)), store.ErrClosed)
}

func body(t *testing.T, v any) []byte {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return b
}
