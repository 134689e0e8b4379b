package influx

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api/query"

	"bridlewatch/collector/store"
)

// Register returns the IDs of series. They hold for this Store only: the
// central store names series by their tags.
func (s *Store) Register(_ context.Context, series []store.Series) ([]store.ID, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return nil, store.ErrClosed
	}
	ids := make([]store.ID, len(series))
	for i, x := range series {
		if x.Name == "" || x.Class > store.Derived {
			return nil, fmt.Errorf("%w: series %d %+v needs a name and a known class", store.ErrInvalid, i, x)
		}
		ids[i] = s.add(x)
	}
	return ids, nil
}

// Series lists all known series by ID.
func (s *Store) Series(context.Context) (map[store.ID]store.Series, error) {
	if _, err := s.series(); err != nil {
		return nil, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	return maps.Clone(s.byID), nil
}

// Append writes one scan in one request. A box uses a Forwarder instead, which
// an outage cannot stop.
func (s *Store) Append(ctx context.Context, scan store.Scan) error {
	if y := scan.Time.UTC().Year(); y < 1970 || y > 2261 {
		return fmt.Errorf("%w: scan time %s is not between the years 1970 and 2261", store.ErrInvalid, scan.Time.Format(time.RFC3339))
	}
	lines := make([]string, len(scan.Values))
	for i, v := range scan.Values {
		series, err := s.series(v.ID)
		if err != nil {
			return invalid(err)
		}
		if v.Quality > good || v.Quality >= uncertain && (math.IsNaN(v.Value) || math.IsInf(v.Value, 0)) {
			return fmt.Errorf("%w: %s %s is %v with quality %d", store.ErrInvalid, series[0].Gauge, series[0].Name, v.Value, v.Quality)
		}
		lines[i] = line(s.origin.prefix(series[0]), scan.Time.Truncate(time.Microsecond), v)
	}
	if err := s.central.client.WriteAPIBlocking(s.central.server.Org, s.central.server.Bucket).WriteRecord(ctx, lines...); err != nil {
		return fmt.Errorf("central store: %w", err)
	}
	return nil
}

// invalid makes an unknown series of a scan an invalid scan.
func invalid(err error) error {
	if err == store.ErrClosed {
		return err
	}
	return fmt.Errorf("%w: %w", store.ErrInvalid, err)
}

// Points returns the stored values of one series in [from, to).
func (s *Store) Points(ctx context.Context, id store.ID, from, to time.Time) ([]store.Point, error) {
	series, err := s.series(id)
	if err != nil || !from.Before(to) {
		return nil, err
	}
	var times []time.Time
	at := map[time.Time]*store.Point{}
	flux := s.of(series[0], from, to) + ` |> filter(fn: (r) => r._field == "quality" or r._field == "reason" or r._field == "value")`
	err = s.central.query(ctx, flux, func(r *query.FluxRecord) {
		t := r.Time().UTC()
		if !t.Before(to) {
			return // version 1.8 includes the end of the range
		}
		p := at[t]
		if p == nil {
			p = &store.Point{Time: t}
			at[t] = p
			times = append(times, t)
		}
		take(p, r.Field(), number(r))
	})
	return inOrder(times, at), err
}

// take sets one field of a point.
func take(p *store.Point, field string, v float64) {
	switch field {
	case "quality":
		p.Quality = uint8(v)
	case "reason":
		p.Reason = uint8(v)
	case "value":
		p.Value = v
	}
}

// Last returns the newest value of each series at or before t.
func (s *Store) Last(ctx context.Context, ids []store.ID, t time.Time) ([]store.Point, error) {
	series, err := s.series(ids...)
	if err != nil {
		return nil, err
	}
	out := make([]store.Point, len(ids))
	for i := range ids {
		if out[i], err = s.last(ctx, series[i], t); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// last keeps the fields of the newest instant only: an older value must not
// stand beside a newer quality.
func (s *Store) last(ctx context.Context, series store.Series, t time.Time) (store.Point, error) {
	var p store.Point
	flux := s.of(series, time.Unix(0, 0), t.Add(time.Nanosecond)) + ` |> last()`
	fields := map[string]*query.FluxRecord{}
	err := s.central.query(ctx, flux, func(r *query.FluxRecord) { fields[r.Field()] = r })
	if newest := fields["quality"]; newest != nil {
		p.Time = newest.Time().UTC()
		for name, r := range fields {
			if r.Time().Equal(p.Time) {
				take(&p, name, number(r))
			}
		}
	}
	clean(&p)
	return p, err
}

// Trend returns at most width shared buckets, aggregated by the server.
func (s *Store) Trend(ctx context.Context, ids []store.ID, from, to time.Time, width int) (store.Trend, error) {
	if width < 2 || !from.Before(to) {
		return store.Trend{}, fmt.Errorf("%w: trend of %d buckets from %s to %s; want at least two buckets and from before to",
			store.ErrInvalid, width, from.Format(time.RFC3339), to.Format(time.RFC3339))
	}
	series, err := s.series(ids...)
	if err != nil {
		return store.Trend{}, err
	}
	g := store.NewGrid(from.UnixMicro(), to.UnixMicro(), width, 1)
	out := g.Trend(len(ids))
	return out, s.aggregate(ctx, series, g, out)
}

// figures are what a bucket consists of, each an aggregate of its own.
var figures = []struct {
	name, filter, function string
	set                    func(*store.Bucket, float64)
}{
	{"least", `r._field == "value"`, "min", func(b *store.Bucket, v float64) { b.Min = v }},
	{"greatest", `r._field == "value"`, "max", func(b *store.Bucket, v float64) { b.Max = v }},
	{"sum", `r._field == "value"`, "sum", func(b *store.Bucket, v float64) { b.Sum = v }},
	{"count", `r._field == "value"`, "count", func(b *store.Bucket, v float64) { b.Count = uint32(v) }},
	{"bad", `r._field == "quality" and r._value < 3`, "count", func(b *store.Bucket, v float64) { b.Bad = uint32(v) }},
}

// aggregate asks for all figures of all series in one request.
func (s *Store) aggregate(ctx context.Context, series []store.Series, g store.Grid, out store.Trend) error {
	columns := map[store.Series][]int{}
	var wanted []string
	for i, x := range series {
		if columns[x] == nil {
			wanted = append(wanted, "("+s.predicate(x)+")")
		}
		columns[x] = append(columns[x], i)
	}
	if len(wanted) == 0 {
		return nil
	}
	flux := fmt.Sprintf("wanted = () => from(bucket: %s) |> range(start: %s, stop: %s) |> filter(fn: (r) => %s)\n",
		quote(s.central.server.Bucket), instant(out.From), instant(out.To), strings.Join(wanted, " or "))
	set := map[string]func(*store.Bucket, float64){}
	for _, f := range figures {
		set[f.name] = f.set
		flux += fmt.Sprintf("wanted() |> filter(fn: (r) => %s) |> aggregateWindow(every: %dus, fn: %s, timeSrc: \"_start\", createEmpty: false) |> yield(name: %q)\n",
			f.filter, g.Step, f.function, f.name)
	}
	return s.central.query(ctx, flux, func(r *query.FluxRecord) {
		figure := set[r.Result()]
		for _, i := range columns[seriesOf(r)] {
			if at := g.Place(r.Time().UnixMicro()); figure != nil && at >= 0 && at < len(out.Columns[i]) {
				figure(&out.Columns[i][at], number(r))
			}
		}
	})
}

// Put is store.ErrInvalid: documents stay with their box.
func (s *Store) Put(context.Context, store.Document) (int64, error) {
	return 0, fmt.Errorf("%w: the central store keeps trends, not documents; put it on box %s of %s", store.ErrInvalid, s.origin.Box, s.origin.Site)
}

// Documents returns none: they stay with their box.
func (s *Store) Documents(context.Context, store.Query) ([]store.Document, error) { return nil, nil }

// Close ends the use of this Store; the Central stays open.
func (s *Store) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.closed = true
	return nil
}

// inOrder returns the points by time, cleaned.
func inOrder(times []time.Time, at map[time.Time]*store.Point) []store.Point {
	slices.SortFunc(times, time.Time.Compare)
	out := make([]store.Point, 0, len(times))
	for _, t := range times {
		if p := at[t]; p.Quality != 0 || p.Reason != store.Erased {
			clean(p)
			out = append(out, *p)
		}
	}
	return out
}

// clean takes away what stayed of an earlier, corrected value: the number of
// one that is not usable, the reason of one that is good.
func clean(p *store.Point) {
	if p.Quality < uncertain {
		p.Value = 0
	}
	if p.Quality == good {
		p.Reason = 0
	}
}
