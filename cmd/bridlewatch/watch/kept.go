package watch

import (
	"context"
	"fmt"
	"io"
	"time"

	"bridlewatch/collector"
	"bridlewatch/collector/store"
	"bridlewatch/compare/quantity"
	"bridlewatch/config"
)

// Scanner is a store that puts kept values back together by instant.
type Scanner interface {
	Series(ctx context.Context) (map[store.ID]store.Series, error)
	Scans(ctx context.Context, ids []store.ID, from, to time.Time) ([]store.Scan, error)
}

// Kept is the history a service kept: the samples of its store as they came, to
// be evaluated as if they came now. It is a History.
type Kept struct {
	Missing []string // signals of which nothing is kept, with the reason

	ctx    context.Context
	from   Scanner
	place  map[store.ID]int
	ids    []store.ID
	absent []collector.Sample // a snapshot without any
	begin  time.Time
	next   time.Time // from where on nothing was read yet
	end    time.Time
	scans  []store.Scan // read, and not given yet
}

// keptAtOnce is how much is read at once.
const keptAtOnce = 6 * time.Hour

// OpenKept prepares to read what a store kept of the gauges of a configuration
// in [begin, end). It is an error when a gauge has nothing kept.
func OpenKept(ctx context.Context, s Scanner, cfg *config.Config, begin, end time.Time) (*Kept, error) {
	if !begin.Before(end) {
		return nil, fmt.Errorf("history from %s to %s: want the end after the begin", begin.Format(time.RFC3339), end.Format(time.RFC3339))
	}
	known, err := s.Series(ctx)
	if err != nil {
		return nil, err
	}
	ids := make(map[store.Series]store.ID, len(known))
	for id, one := range known {
		ids[one] = id
	}
	k := &Kept{ctx: ctx, from: s, place: map[store.ID]int{}, begin: begin, next: begin, end: end}
	for i := range cfg.Gauges {
		g, found := &cfg.Gauges[i], 0
		for j := range g.Signals {
			sig := &g.Signals[j]
			want := rawSeries(g.Sheet.Tag, sig)
			if id, ok := ids[want]; ok {
				k.place[id] = len(k.absent)
				k.ids = append(k.ids, id)
				found++
			} else {
				k.Missing = append(k.Missing, missing(want, known))
			}
			k.absent = append(k.absent, absent(sig))
		}
		if found == 0 {
			return nil, fmt.Errorf("nothing is kept of gauge %s; name the data directory of the service that watched it", g.Sheet.Tag)
		}
	}
	return k, nil
}

// missing says that nothing is kept of a signal, and what is instead.
func missing(want store.Series, known map[store.ID]store.Series) string {
	for _, s := range known {
		if s.Gauge == want.Gauge && s.Name == want.Name && s.Class == want.Class {
			return fmt.Sprintf("%s of %s: kept in %q, the configuration reads %q; it is left out", want.Name, want.Gauge, s.Unit, want.Unit)
		}
	}
	return fmt.Sprintf("%s of %s: nothing is kept of it; it is left out", want.Name, want.Gauge)
}

// Next writes every sample of the next instant and returns its time, io.EOF at
// the end.
func (k *Kept) Next(samples []collector.Sample) (time.Time, error) {
	for len(k.scans) == 0 {
		if !k.next.Before(k.end) {
			return time.Time{}, io.EOF
		}
		to := k.next.Add(keptAtOnce)
		if to.After(k.end) {
			to = k.end
		}
		var err error
		if k.scans, err = k.from.Scans(k.ctx, k.ids, k.next, to); err != nil {
			return time.Time{}, err
		}
		k.next = to
	}
	at := k.scans[0].Time
	copy(samples, k.absent)
	for len(k.scans) > 0 && k.scans[0].Time.Equal(at) { // a new configuration may begin within an instant
		for _, v := range k.scans[0].Values {
			fromStore(&samples[k.place[v.ID]], at, v)
		}
		k.scans = k.scans[1:]
	}
	return at, nil
}

// absent is the sample of a signal that was not read.
func absent(sig *config.Signal) collector.Sample {
	return collector.Sample{Tag: collector.Tag(sig.Tag), Quality: quantity.Absent, Reason: quantity.NotRead}
}

// fromStore makes a sample again of a value that was kept at an instant.
func fromStore(s *collector.Sample, at time.Time, v store.Value) {
	s.Value, s.Time, s.SourceTime = v.Value, at, v.Source
	s.Quality, s.Reason = quantity.Quality(v.Quality), quantity.Reason(v.Reason)
}

// Progress returns how much of the time was read, in seconds.
func (k *Kept) Progress() (done, total int64) {
	return int64(k.next.Sub(k.begin).Seconds()), int64(k.end.Sub(k.begin).Seconds())
}
