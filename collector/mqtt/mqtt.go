// Package mqtt reads signals that are published to an MQTT broker (OASIS MQTT
// 3.1.1), as plain JSON or as Sparkplug B (Eclipse Sparkplug 3.0.0).
//
// It subscribes and never publishes: not a value, not a will, not a command. A
// Sparkplug host would ask a node for a new birth certificate by a command;
// here the source says what it waits for instead.
//
// Each connection has a client of its own with a clean session, because the
// library's own reconnection sends again what is in flight while it is still
// being written. What was published while there was no connection is gone for
// everybody, and the samples say so by their age.
package mqtt

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net/url"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"bridlewatch/collector"
	"bridlewatch/collector/stamp"
	"bridlewatch/compare/quantity"
)

// Options describe one broker and how the payloads on it are written.
type Options struct {
	Name      string
	Broker    string // "mqtt://host:1883" or "mqtts://host:8883"
	Client    string // client identifier; "": made from the name
	User      string
	Password  string
	TLS       *tls.Config // of mqtts
	CertFile  string      // client certificate (PEM) for mqtts; "": none
	KeyFile   string      // of it
	Timeout   time.Duration
	MaxAge    time.Duration // of a retained message, by its own time
	Sparkplug bool

	// JSON payloads. A path is that of a member, as in "data.level" or
	// "values.0.v"; an empty one says that there is none.
	TimePath    string
	Times       stamp.Format
	QualityPath string
	Good        []string // texts or numbers at QualityPath that mean good; empty: "good", "true", "192", "0"
}

// Item is one signal.
type Item struct {
	Tag    collector.Tag
	Topic  string // of JSON: the topic; of Sparkplug: GROUP/NODE or GROUP/NODE/DEVICE
	Path   string // of JSON: path of the value; "": the payload is the value
	Metric string // of Sparkplug: name of the metric
}

// Source keeps the newest value of each item. It implements collector.Source.
type Source struct {
	opts  Options
	clock collector.Clock
	items []Item
	tags  []collector.Tag

	stop func() // nil: there is no connection loop

	mu        sync.Mutex
	newest    []collector.Sample // by item
	seen      []time.Time        // by item: source time of the newest value
	up        bool               // connected and subscribed
	why       error              // there is no connection
	nodes     map[string]*node   // of Sparkplug
	addresses []address          // by item: where it is; of Sparkplug
	wanted    map[address][]int  // the items of an address
	out       []collector.Sample // of the last read
	counters  counters
}

type counters struct {
	connects, messages, late, bad, bytes, refused atomic.Uint64
}

var (
	_ collector.Source  = (*Source)(nil)
	_ collector.Counted = (*Source)(nil)
)

// New returns a source. Nothing is opened before the first Read.
func New(o Options, items []Item, clock collector.Clock) (*Source, error) {
	if err := o.check(); err != nil {
		return nil, fmt.Errorf("mqtt source %q: %w", o.Name, err)
	}
	if o.Timeout <= 0 {
		o.Timeout = 5 * time.Second
	}
	if len(o.Good) == 0 {
		o.Good = []string{"good", "true", "192", "0"}
	}
	o.TLS = o.withCertificate()
	s := &Source{opts: o, clock: clock, items: items, nodes: map[string]*node{}, wanted: map[address][]int{},
		newest: make([]collector.Sample, len(items)), seen: make([]time.Time, len(items)), out: make([]collector.Sample, len(items))}
	for i, it := range items {
		if err := o.checkItem(it); err != nil {
			return nil, fmt.Errorf("mqtt source %q: signal %q: %w", o.Name, it.Tag, err)
		}
		s.tags = append(s.tags, it.Tag)
		s.newest[i] = collector.Sample{Tag: it.Tag, Quality: quantity.Bad, Reason: quantity.NotRead}
		if o.Sparkplug {
			at := it.address()
			s.addresses = append(s.addresses, at)
			s.wanted[at] = append(s.wanted[at], i)
		}
	}
	return s, nil
}

func (o Options) check() error {
	u, err := url.Parse(o.Broker)
	switch {
	case err != nil || u.Hostname() == "" || u.Scheme != "mqtt" && u.Scheme != "mqtts":
		return errors.New("the broker is mqtt://host:1883 or mqtts://host:8883")
	case u.User != nil:
		return errors.New("user and password are given beside the address of the broker, not in it")
	case o.Password != "" && u.Scheme != "mqtts":
		return errors.New("a password is never sent without encryption: use mqtts")
	case o.CertFile == "":
		return nil
	case u.Scheme != "mqtts":
		return errors.New("a client certificate is shown on an encrypted connection only: use mqtts")
	}
	_, err = o.certificate()
	return err
}

func (o Options) checkItem(it Item) error {
	levels := strings.Split(it.Topic, "/")
	switch {
	case it.Topic == "" || strings.ContainsAny(it.Topic, "#+\x00"):
		return fmt.Errorf("topic %q: one topic without wildcards is needed", it.Topic)
	case !o.Sparkplug:
		return nil
	case len(levels) < 2 || len(levels) > 3 || slices.Contains(levels, ""):
		return fmt.Errorf("topic %q: want GROUP/NODE or GROUP/NODE/DEVICE", it.Topic)
	case it.Metric == "":
		return errors.New("the name of the metric is missing")
	}
	return nil
}

// Name returns the configured name of the source.
func (s *Source) Name() string { return s.opts.Name }

// Tags returns the tags in the order Read gives their samples.
func (s *Source) Tags() []collector.Tag { return s.tags }

// Counters may be called at any time from any goroutine.
func (s *Source) Counters() collector.Counters {
	c := &s.counters
	n := c.connects.Load()
	return collector.Counters{
		Requests: c.messages.Load(), BadFrames: c.bad.Load(), StaleFrames: c.late.Load(), Exceptions: c.refused.Load(),
		BytesReceived: c.bytes.Load(), Reconnects: n - min(n, 1),
	}
}

// Read returns the newest value of every item and does not wait for one. A
// value of plain JSON keeps the time at which it came; a Sparkplug node that
// is alive vouches for the values it did not send again.
func (s *Source) Read(context.Context) ([]collector.Sample, error) {
	if s.stop == nil {
		s.start()
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	now := s.clock.Now()
	usable := false
	for i := range s.items {
		s.out[i] = s.now(i, now)
		usable = usable || s.out[i].Quality.Usable()
	}
	switch {
	case usable:
		return s.out, nil
	case !s.up && s.why != nil:
		return s.out, fmt.Errorf("mqtt source %q: %w: %w", s.opts.Name, collector.ErrNotYet, s.why)
	}
	return s.out, fmt.Errorf("mqtt source %q: %w: nothing usable has been published", s.opts.Name, collector.ErrNotYet)
}

// now is the sample of an item as it counts at an instant.
func (s *Source) now(i int, now time.Time) collector.Sample {
	if s.opts.Sparkplug {
		return s.vouched(i, now)
	}
	sample := s.newest[i]
	if sample.Reason == quantity.NotRead {
		sample.Time, sample.Detail = now, "nothing has come on topic "+s.items[i].Topic
		if !s.up {
			sample.Reason, sample.Detail = quantity.NotConnected, said(s.why)
		}
	}
	return sample
}

func said(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

// Close ends the connection.
func (s *Source) Close() error {
	if s.stop != nil {
		s.stop()
		s.stop = nil
	}
	return nil
}
