package influx

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"time"

	influxdb2 "github.com/influxdata/influxdb-client-go/v2"
	"github.com/influxdata/influxdb-client-go/v2/api/query"

	"bridlewatch/collector/store"
)

// Central is the central store of many boxes.
type Central struct {
	server Server
	client influxdb2.Client
}

// OpenCentral prepares to read and write the central store; it does not
// connect yet.
func OpenCentral(s Server) *Central {
	return &Central{s, newClient(s, time.Minute)}
}

// Close releases the connections.
func (c *Central) Close() { c.client.Close() }

// Store returns the trends of one box. It keeps no documents: those stay with
// the box. Series are those the central store has, and those registered.
func (c *Central) Store(ctx context.Context, o Origin) (*Store, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	s := &Store{central: c, origin: o, byID: map[store.ID]store.Series{}, byKey: map[store.Series]store.ID{}}
	return s, s.load(ctx)
}

// query runs a Flux query and hands over every record.
func (c *Central) query(ctx context.Context, flux string, each func(*query.FluxRecord)) error {
	result, err := c.client.QueryAPI(c.server.Org).Query(ctx, flux)
	if refusesToken(err) {
		return fmt.Errorf("central store: %w %q: %w", ErrMayNotRead, c.server.Bucket, err)
	}
	if err != nil {
		return fmt.Errorf("central store: %w", err)
	}
	defer result.Close()
	for result.Next() {
		each(result.Record())
	}
	if err := result.Err(); err != nil {
		return fmt.Errorf("central store: %w", err)
	}
	return nil
}

// quote makes a Flux string literal.
func quote(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`, "\r", `\r`, "\t", `\t`).Replace(s) + `"`
}

func text(r *query.FluxRecord, column string) string {
	s, _ := r.ValueByKey(column).(string)
	return s
}

func number(r *query.FluxRecord) float64 {
	switch v := r.Value().(type) {
	case float64:
		return v
	case int64:
		return float64(v)
	case uint64:
		return float64(v)
	default:
		return math.NaN()
	}
}

// Store is the history of one box in the central store, with the interface of
// the local one.
type Store struct {
	central *Central
	origin  Origin

	mu     sync.Mutex
	byID   map[store.ID]store.Series
	byKey  map[store.Series]store.ID
	closed bool
}

var _ store.Store = (*Store)(nil)

// load finds the series of the box.
func (s *Store) load(ctx context.Context) error {
	flux := s.from(time.Unix(0, 0), time.Unix(0, math.MaxInt64)) +
		` |> filter(fn: (r) => r._field == "quality") |> last()`
	var found []store.Series
	err := s.central.query(ctx, flux, func(r *query.FluxRecord) { found = append(found, seriesOf(r)) })
	slices.SortFunc(found, func(a, b store.Series) int {
		return cmp.Or(cmp.Compare(a.Gauge, b.Gauge), cmp.Compare(a.Name, b.Name), cmp.Compare(a.Unit, b.Unit), cmp.Compare(a.Class, b.Class))
	})
	for _, f := range found {
		s.add(f)
	}
	return err
}

func seriesOf(r *query.FluxRecord) store.Series {
	out := store.Series{Gauge: text(r, "gauge"), Name: text(r, "signal"), Unit: text(r, "unit"), Class: store.Derived}
	if r.Measurement() == MeasurementRaw {
		out.Class = store.Raw
	}
	return out
}

func (s *Store) add(series store.Series) store.ID {
	id, ok := s.byKey[series]
	if !ok {
		id = store.ID(len(s.byID) + 1)
		s.byID[id], s.byKey[series] = series, id
	}
	return id
}

// from begins a query over both measurements of the box in [from, to).
func (s *Store) from(from, to time.Time) string {
	return fmt.Sprintf(`from(bucket: %s) |> range(start: %s, stop: %s) |> filter(fn: (r) => (r._measurement == %s or r._measurement == %s) and r.site == %s and r.box == %s)`,
		quote(s.central.server.Bucket), instant(from), instant(to), quote(MeasurementRaw), quote(MeasurementDerived), quote(s.origin.Site), quote(s.origin.Box))
}

// of begins a query over one series.
func (s *Store) of(series store.Series, from, to time.Time) string {
	return fmt.Sprintf(`from(bucket: %s) |> range(start: %s, stop: %s) |> filter(fn: (r) => %s)`,
		quote(s.central.server.Bucket), instant(from), instant(to), s.predicate(series))
}

// predicate holds for the points of one series.
func (s *Store) predicate(series store.Series) string {
	f := fmt.Sprintf(`r._measurement == %s and r.site == %s and r.box == %s and r.signal == %s`,
		quote(measurement(series.Class)), quote(s.origin.Site), quote(s.origin.Box), quote(series.Name))
	for _, tag := range [][2]string{{"gauge", series.Gauge}, {"unit", series.Unit}} {
		if tag[1] == "" {
			f += fmt.Sprintf(` and not exists r.%s`, tag[0])
		} else {
			f += fmt.Sprintf(` and r.%s == %s`, tag[0], quote(tag[1]))
		}
	}
	return f
}

func instant(t time.Time) string { return t.UTC().Format(time.RFC3339Nano) }

func (s *Store) series(ids ...store.ID) ([]store.Series, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return nil, store.ErrClosed
	}
	out := make([]store.Series, len(ids))
	for i, id := range ids {
		series, ok := s.byID[id]
		if !ok {
			return nil, fmt.Errorf("%w: series %d is not registered", store.ErrNotFound, id)
		}
		out[i] = series
	}
	return out, nil
}
