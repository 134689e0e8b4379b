// Package opcua reads signals from OPC UA servers.
//
// The library's own reconnection is switched off: it reports a failed service
// call as a lost channel and can come back connected with nothing subscribed.
// Here one Source owns at most one session; any doubt closes it, and the next
// Read begins with a fresh client, reads the namespace array again and resolves
// every node anew, because namespace indices change when a server restarts.
//
// Only services that read are used: Read, Browse, BrowseNext,
// TranslateBrowsePaths and, where a subscription is asked for, those that make
// one. A test reads this package's source and refuses any other call.
package opcua

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/gopcua/opcua/ua"

	"bridlewatch/collector"
)

// Options describe one server and what is read from it.
type Options struct {
	Name     string
	Endpoint string // opc.tcp://host:port/path
	Timeout  time.Duration

	Security Security

	MaxNodesPerRead int // 0: what the server states, at most 500

	// SubscribeEvery asks for a subscription published this often instead of
	// reading. Reading is the default: it gives all values of one instant.
	SubscribeEvery time.Duration
	SamplingEvery  time.Duration // of a subscription; 0: half of SubscribeEvery

	lifetime time.Duration // of a channel's keys, which are renewed before; 0: an hour
}

// Item is one signal.
type Item struct {
	Tag  collector.Tag
	Node string // "nsu=URI;s=id", "ns=2;s=id", or "path:/2:Objects/..." below the Objects folder
}

// Source reads its items with one session. It implements collector.Source.
type Source struct {
	opts    Options
	clock   collector.Clock
	items   []Item
	tags    []collector.Tag
	session *session // nil: not connected
	attempt *attempt // nil: none under way
	began   time.Time
	silent  int // reads in a row without an answer in time

	counters counters
	refusals refusals
}

var _ collector.Source = (*Source)(nil)

// New returns a source. Nothing is opened before the first Read. The clock
// gives the samples their time of receipt.
func New(opts Options, items []Item, clock collector.Clock) (*Source, error) {
	if opts.Endpoint == "" {
		return nil, fmt.Errorf("opc ua source %q: no endpoint given; write endpoint: opc.tcp://host:port", opts.Name)
	}
	if err := opts.Security.check(opts.Name); err != nil {
		return nil, err
	}
	if opts.Timeout <= 0 {
		opts.Timeout = 5 * time.Second
	}
	s := &Source{opts: opts, clock: clock, items: items}
	for _, it := range items {
		if _, err := parseNode(it.Node); err != nil {
			return nil, fmt.Errorf("opc ua source %q: signal %q: %w", opts.Name, it.Tag, err)
		}
		s.tags = append(s.tags, it.Tag)
	}
	return s, nil
}

// Name returns the configured name of the source.
func (s *Source) Name() string { return s.opts.Name }

// Tags returns the tags in the order Read gives their samples.
func (s *Source) Tags() []collector.Tag { return s.tags }

// Read reads every item once, with MaxAge 0 so that all values of a chamber
// are of one instant. While a connection is being made it returns with ctx and
// the next Read goes on waiting for it.
func (s *Source) Read(ctx context.Context) ([]collector.Sample, error) {
	if err := s.ready(ctx); err != nil {
		return s.allBad(err), fmt.Errorf("opc ua source %q: %w", s.opts.Name, err)
	}
	samples, err := s.session.read(ctx, s.items, &s.counters)
	if err != nil {
		if s.counters.failed(err); !s.patient(err) {
			s.drop()
		}
		return s.allBad(err), fmt.Errorf("opc ua source %q: read: %w", s.opts.Name, err)
	}
	s.silent = 0
	now := s.clock.Now()
	for i := range samples {
		samples[i].Time = now
	}
	return samples, nil
}

// silentLimit is how many reads in a row may stay without an answer before the
// connection itself is held to be dead.
const silentLimit = 3

// patient says that the session is kept after a failed read. An answer that
// comes too late is known by its request and thrown away, and a new session
// would only burden a server that is slow already.
func (s *Source) patient(err error) bool {
	if !late(err) || s.opts.SubscribeEvery > 0 {
		return false
	}
	s.silent++
	return s.silent < silentLimit
}

// drop gives the session up; the next Read opens a new one.
func (s *Source) drop() {
	if s.session == nil {
		return
	}
	sess := s.session
	s.session, s.silent = nil, 0
	sess.close()
}

// Close ends the session.
func (s *Source) Close() error {
	if s.attempt != nil {
		s.attempt.abandon()
		s.attempt = nil
	}
	s.drop()
	return nil
}

// allBad is what a read that brought nothing gives.
func (s *Source) allBad(why error) []collector.Sample {
	now := s.clock.Now()
	out := make([]collector.Sample, len(s.tags))
	for i, t := range s.tags {
		out[i] = collector.Sample{Tag: t, Time: now, Quality: bad, Reason: notConnected, Detail: why.Error()}
	}
	return out
}

// reader is what a session uses of the library's client.
type reader interface {
	Read(context.Context, *ua.ReadRequest) (*ua.ReadResponse, error)
	NamespaceArray(context.Context) ([]string, error)
}

// Revised returns what the server made of a subscription, item by item; nil
// when there is none.
func (s *Source) Revised() []Revised {
	if s.session == nil || s.session.sub == nil {
		return nil
	}
	k := s.session.sub
	k.mu.Lock()
	defer k.mu.Unlock()
	return slices.Clone(k.revised)
}
