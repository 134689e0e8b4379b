package influx

import (
	"cmp"
	"context"
	"crypto/tls"
	"errors"
	"log/slog"
	"net/http"
	"sync"
	"time"

	influxdb2 "github.com/influxdata/influxdb-client-go/v2"
	"github.com/influxdata/influxdb-client-go/v2/api"

	"bridlewatch/collector/store"
)

// DefaultFollower is the name of a forwarder's durable cursor. While it exists
// the local store holds what was not sent: remove it when nothing is forwarded
// any more.
const DefaultFollower = "influx"

// ForwardOptions of NewForwarder. Zero values take the defaults named.
type ForwardOptions struct {
	Server
	Origin
	Follower string // name of the durable cursor; DefaultFollower
	Batch    int    // lines in one request; 5000
	Rate     int    // lines a second at most, so that catching up leaves room for others; 20000
	Idle     time.Duration
	MinWait  time.Duration // first wait after an error; 1 s
	MaxWait  time.Duration // longest; 60 s
	Timeout  time.Duration // of one request; 20 s
	Now      func() time.Time
	Logger   *slog.Logger
	// May is asked before every request; while it says no nothing is sent. Nil:
	// always.
	May func() bool
	// Silent leaves out the report once a minute: what is sent is old history
	// of a box that does not serve now.
	Silent bool
	// State tells once a minute how the gauges are. Nil: the box says only that
	// it is alive.
	State func() State
	// Reject is told of values that the server will never take. They are left
	// out once it has returned nil. Logged when nil.
	Reject func(context.Context, Rejected) error
}

// Rejected is a value that the server refuses for good.
type Rejected struct {
	Series store.Series
	Time   time.Time
	Line   string
	Reason string
}

// Forwarder sends a feed to the central store: in order, each value at least
// once, from a durable cursor. An outage costs delay and nothing else.
type Forwarder struct {
	feed   store.Feed
	o      ForwardOptions
	client influxdb2.Client
	write  api.WriteAPIBlocking

	begin map[store.ID]beginning
	beat  time.Time // of the last heartbeat

	mu     sync.Mutex
	status Status
	oldest time.Time // value not sent; zero when all are
}

// NewForwarder prepares to send feed; Run does it.
func NewForwarder(feed store.Feed, o ForwardOptions) (*Forwarder, error) {
	if err := o.Origin.check(); err != nil {
		return nil, err
	}
	if o.URL == "" || o.Bucket == "" {
		return nil, errors.New("influx: address and bucket must be given")
	}
	o.Follower, o.Batch, o.Rate = cmp.Or(o.Follower, DefaultFollower), cmp.Or(o.Batch, 5000), cmp.Or(o.Rate, 20_000)
	o.Idle, o.Timeout = cmp.Or(o.Idle, time.Second), cmp.Or(o.Timeout, 20*time.Second)
	o.MinWait, o.MaxWait = cmp.Or(o.MinWait, time.Second), cmp.Or(o.MaxWait, time.Minute)
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	client := newClient(o.Server, o.Timeout)
	return &Forwarder{feed: feed, o: o, client: client, begin: map[store.ID]beginning{}, write: client.WriteAPIBlocking(o.Org, o.Bucket)}, nil
}

func newClient(s Server, timeout time.Duration) influxdb2.Client {
	over := http.DefaultTransport.(*http.Transport).Clone()
	over.TLSClientConfig = &tls.Config{MinVersion: tls.VersionTLS12, RootCAs: s.Roots}
	return influxdb2.NewClientWithOptions(s.URL, s.Token, influxdb2.DefaultOptions().
		SetHTTPClient(&http.Client{Timeout: timeout, Transport: over}).SetUseGZip(true).SetPrecision(time.Nanosecond).SetLogLevel(0))
}

// Run sends until ctx is done, and returns its error. Whatever the server or
// the local store answers, it waits and tries again.
func (f *Forwarder) Run(ctx context.Context) error {
	defer f.client.Close()
	wait := f.o.MinWait
	for {
		err := f.catchUp(ctx)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		next := f.o.Idle
		if err == nil {
			wait = f.o.MinWait
		} else {
			next = f.backOff(err, wait)
			wait = min(2*wait, f.o.MaxWait)
		}
		if err := sleep(ctx, next); err != nil {
			return err
		}
	}
}

// catchUp sends everything there is.
func (f *Forwarder) catchUp(ctx context.Context) error {
	cursor, err := f.feed.Cursor(ctx, f.o.Follower)
	if err != nil {
		return err
	}
	for {
		began := time.Now()
		if err := f.findOldest(ctx, cursor); err != nil {
			return err
		}
		scans, next, err := f.feed.Changes(ctx, cursor, f.o.Batch)
		if err != nil {
			return err
		}
		batch, err := f.encode(ctx, scans)
		if err != nil {
			return err
		}
		if err := f.send(ctx, batch); err != nil {
			return err
		}
		if next != cursor {
			if err := f.feed.SetCursor(ctx, f.o.Follower, next); err != nil {
				return err
			}
			cursor = next
		}
		f.settled()
		if err := f.heartbeat(ctx); err != nil || len(scans) == 0 {
			return err
		}
		pace := time.Duration(len(batch)) * time.Second / time.Duration(f.o.Rate)
		if err := sleep(ctx, pace-time.Since(began)); err != nil {
			return err
		}
	}
}

// beginning is what the lines of a series have in common.
type beginning struct {
	series store.Series
	prefix string
}

// entry is one line and what it tells.
type entry struct {
	series store.Series
	at     time.Time
	line   string
}

func (f *Forwarder) encode(ctx context.Context, scans []store.Scan) ([]entry, error) {
	out := make([]entry, 0, f.o.Batch)
	for _, scan := range scans {
		for _, v := range scan.Values {
			b, ok := f.begin[v.ID]
			if !ok {
				known, err := f.feed.Series(ctx)
				if err != nil {
					return nil, err
				}
				b = beginning{known[v.ID], f.o.prefix(known[v.ID])}
				f.begin[v.ID] = b
			}
			out = append(out, entry{b.series, scan.Time, line(b.prefix, scan.Time, v)})
		}
	}
	return out, nil
}

// send writes a batch in requests of the allowed size. A refused request is
// halved until the lines to blame stand alone; those are rejected, the others
// are kept.
func (f *Forwarder) send(ctx context.Context, batch []entry) error {
	for len(batch) > f.o.Batch {
		if err := f.send(ctx, batch[:f.o.Batch]); err != nil {
			return err
		}
		batch = batch[f.o.Batch:]
	}
	if len(batch) == 0 {
		return nil
	}
	err := f.request(ctx, batch)
	if err == nil {
		return nil
	}
	switch kind, _ := classify(err); {
	case kind != refused && kind != oversized:
		return err
	case len(batch) == 1:
		return f.reject(ctx, batch[0], err)
	}
	half := len(batch) / 2
	if err := f.send(ctx, batch[:half]); err != nil {
		return err
	}
	return f.send(ctx, batch[half:])
}

func (f *Forwarder) request(ctx context.Context, batch []entry) error {
	lines := make([]string, len(batch))
	for i, e := range batch {
		lines[i] = e.line
	}
	if err := f.ask(); err != nil {
		return err
	}
	if err := f.write.WriteRecord(ctx, lines...); err != nil {
		return err
	}
	f.note(func(s *Status) { s.Sent, s.Success = s.Sent+uint64(len(lines)), f.o.Now() })
	return nil
}

// errMayNot waits for the right to send.
var errMayNot = errors.New("influx: this box may not send now")

func (f *Forwarder) ask() error {
	if f.o.May != nil && !f.o.May() {
		return errMayNot
	}
	return nil
}

func (f *Forwarder) reject(ctx context.Context, e entry, reason error) error {
	r := Rejected{Series: e.series, Time: e.at, Line: e.line, Reason: reason.Error()}
	if f.o.Reject != nil {
		if err := f.o.Reject(ctx, r); err != nil {
			return err
		}
	}
	f.o.Logger.Error("value refused by the central store and left out", "gauge", r.Series.Gauge, "signal", r.Series.Name, "time", r.Time, "reason", r.Reason)
	f.note(func(s *Status) { s.Rejected++ })
	return nil
}

// heartbeat tells the central store once a minute that this box is alive, how
// far behind it is, and how its gauges are.
func (f *Forwarder) heartbeat(ctx context.Context) error {
	now := f.o.Now()
	if f.o.Silent || now.Sub(f.beat) < time.Minute {
		return nil
	}
	if err := f.ask(); err != nil {
		return err
	}
	var state *State
	if f.o.State != nil {
		s := f.o.State()
		state = &s
	}
	err := f.write.WriteRecord(ctx, f.o.lines(now, f.Status(), state)...)
	if kind, _ := classify(err); err != nil && kind != refused {
		return err
	}
	if err != nil { // it must not hold up history
		f.o.Logger.Error("the report of this box was refused by the central store", "reason", err)
	}
	f.beat = now
	return nil
}
