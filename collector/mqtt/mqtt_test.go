package mqtt

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"strings"
	"sync"
	"testing"
	"time"

	broker "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"
	"github.com/mochi-mqtt/server/v2/packets"

	"bridlewatch/collector"
	"bridlewatch/collector/stamp"
	"bridlewatch/compare/quantity"
)

// machine is the clock of the machine.
type machine struct{}

func (machine) Now() time.Time { return time.Now() }

func (machine) Sleep(ctx context.Context, d time.Duration) error {
	select {
	case <-time.After(d):
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// published notes what clients send beside subscriptions.
type published struct {
	broker.HookBase
	topics chan string
	close  func()
}

func (p *published) ID() string { return "published" }

func (p *published) Provides(b byte) bool {
	return b == broker.OnPublish || b == broker.OnConnectAuthenticate || b == broker.OnACLCheck
}

func (p *published) OnConnectAuthenticate(*broker.Client, packets.Packet) bool { return true }

func (p *published) OnACLCheck(*broker.Client, string, bool) bool { return true }

func (p *published) OnPublish(c *broker.Client, pk packets.Packet) (packets.Packet, error) {
	if !c.Net.Inline {
		p.topics <- pk.TopicName
	}
	return pk, nil
}

// startBroker starts a broker on an address; "" chooses one.
func startBroker(t *testing.T, address string) (*broker.Server, *published, string) {
	t.Helper()
	if address == "" {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		address = l.Addr().String()
		l.Close()
	}
	b := broker.New(&broker.Options{InlineClient: true, Logger: slog.New(slog.DiscardHandler)})
	p := &published{topics: make(chan string, 100)}
	for _, err := range []error{
		b.AddHook(p, nil),
		b.AddListener(listeners.NewTCP(listeners.Config{ID: "t", Address: address})), b.Serve(),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	p.close = sync.OnceFunc(func() { b.Close() })
	t.Cleanup(p.close)
	return b, p, address
}

func newSource(t *testing.T, o Options, items ...Item) *Source {
	t.Helper()
	o.Name, o.Broker = "test", "mqtt://"+o.Broker
	s, err := New(o, items, machine{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	s.Read(t.Context())
	until(t, s, "connected", func([]collector.Sample) bool { s.mu.Lock(); defer s.mu.Unlock(); return s.up })
	return s
}

// until reads until the samples are as wanted.
func until(t *testing.T, s *Source, what string, ok func([]collector.Sample) bool) []collector.Sample {
	t.Helper()
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if got, _ := s.Read(t.Context()); ok(got) {
			return got
		}
	}
	got, err := s.Read(t.Context())
	t.Fatalf("never %s: %+v, %v", what, got, err)
	return nil
}

func quality(q quantity.Quality) func([]collector.Sample) bool {
	return func(s []collector.Sample) bool { return s[0].Quality == q }
}

// TestPayloads reads payloads without a broker.
func TestPayloads(t *testing.T) {
	lisbon, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 5, 1, 11, 30, 0, 0, time.UTC)
	stamped := Options{TimePath: "t", QualityPath: "q"}
	local := Options{TimePath: "t", Times: stamp.Format{Layout: "02.01.2006 15:04:05", Zone: lisbon}}
	rows := []struct {
		name    string
		options Options
		path    string
		payload string
		value   float64
		quality quantity.Quality
		reason  quantity.Reason
		time    time.Time
	}{
		{"a number alone", Options{}, "", "12.5", 12.5, quantity.Good, 0, time.Time{}},
		{"a truth value alone", Options{}, "", "true", 1, quantity.Good, 0, time.Time{}},
		{"a number as text", Options{}, "v", `{"v":" 7.25 "}`, 7.25, quantity.Good, 0, time.Time{}},
		{"a member below", Options{}, "data.1.v", `{"data":[{"v":1},{"v":2}]}`, 2, quantity.Good, 0, time.Time{}},
		{"time and quality", stamped, "v", `{"v":3,"t":"2026-05-01T11:30:00Z","q":"GOOD"}`, 3, quantity.Good, 0, at},
		{"local time in summer", local, "v", `{"v":3,"t":"01.05.2026 12:30:00"}`, 3, quantity.Good, 0, at},
		{"bad by its quality", stamped, "v", `{"v":3,"t":"2026-05-01T11:30:00Z","q":"bad"}`, 0, quantity.Bad, quantity.Refused, at},
		{"quality missing", stamped, "v", `{"v":3,"t":"2026-05-01T11:30:00Z"}`, 0, quantity.Bad, quantity.Refused, at},
		{"time missing", stamped, "v", `{"v":3,"q":"good"}`, 0, quantity.Bad, quantity.ClockSuspect, time.Time{}},
		{"value missing", Options{}, "v", `{"w":3}`, 0, quantity.Bad, quantity.BadShape, time.Time{}},
		{"null", Options{}, "v", `{"v":null}`, 0, quantity.Bad, quantity.BadShape, time.Time{}},
		{"text", Options{}, "v", `{"v":"open"}`, 0, quantity.Bad, quantity.BadShape, time.Time{}},
		{"an object", Options{}, "v", `{"v":{"x":1}}`, 0, quantity.Bad, quantity.BadShape, time.Time{}},
		{"cut off", Options{}, "v", `{"v":3`, 0, quantity.Bad, quantity.BadShape, time.Time{}},
		{"empty", Options{}, "", ``, 0, quantity.Bad, quantity.BadShape, time.Time{}},
		{"not a number", Options{}, "v", `{"v":"NaN"}`, 0, quantity.Bad, quantity.NotANumber, time.Time{}},
		{"too large", Options{}, "v", `{"v":1e999}`, 0, quantity.Bad, quantity.BadShape, time.Time{}},
		{"decimal comma", Options{}, "v", `{"v":"3,5"}`, 0, quantity.Bad, quantity.BadShape, time.Time{}},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			o := r.options
			o.Good = []string{"good"}
			s, _ := o.sample(Item{Tag: "A", Topic: "a", Path: r.path}, []byte(r.payload))
			if s.Value != r.value || s.Quality != r.quality || s.Reason != r.reason || !s.SourceTime.Equal(r.time) {
				t.Errorf("got %+v", s)
			}
		})
	}
}

func TestJSONOverABroker(t *testing.T) {
	b, sent, address := startBroker(t, "")
	s := newSource(t, Options{Broker: address, TimePath: "t"}, Item{Tag: "A", Topic: "plant/a", Path: "v"}, Item{Tag: "B", Topic: "plant/b", Path: "v"})
	if got, err := s.Read(t.Context()); !errors.Is(err, collector.ErrNotYet) || got[0].Reason != quantity.NotRead {
		t.Errorf("got %+v, %v before the first message", got, err)
	}
	publish := func(topic, payload string) {
		if err := b.Publish(topic, []byte(payload), false, 1); err != nil {
			t.Fatal(err)
		}
	}
	publish("plant/a", `{"v":1,"t":"2026-05-01T11:30:00Z"}`)
	got := until(t, s, "good", quality(quantity.Good))
	if got[0].Value != 1 || got[1].Quality != quantity.Bad || time.Since(got[0].Time) > time.Minute {
		t.Errorf("got %+v", got)
	}
	first := got[0].Time
	publish("plant/a", `{"v":9,"t":"2026-05-01T11:29:00Z"}`) // late
	publish("plant/a", `{"v":9,"t":"2026-05-01T11:30:00Z"}`) // again
	publish("plant/b", `{"v":2,"t":"2026-05-01T11:30:00Z"}`) // comes after both
	got = until(t, s, "good", func(g []collector.Sample) bool { return g[1].Quality == quantity.Good })
	if got[0].Value != 1 || !got[0].Time.Equal(first) || s.Counters().StaleFrames != 2 {
		t.Errorf("got %+v, %+v", got[0], s.Counters())
	}
	publish("plant/a", `{"v":5,"t":"2036-05-01T11:30:00Z"}`)
	got = until(t, s, "uncertain", quality(quantity.Uncertain))
	if got[0].Reason != quantity.ClockSuspect {
		t.Errorf("a value from the future: %+v", got[0])
	}
	publish("plant/a", `{"v":6,"t":"`+time.Now().Add(time.Second).UTC().Format(time.RFC3339)+`"}`)
	if got = until(t, s, "good again", quality(quantity.Good)); got[0].Value != 6 {
		t.Errorf("after a value from the future: %+v", got[0])
	}
	select {
	case topic := <-sent.topics:
		t.Errorf("something was published on %s", topic)
	default:
	}
}

func TestRetainedMessagesAreMarked(t *testing.T) {
	b, _, address := startBroker(t, "")
	now := time.Now().UTC().Truncate(time.Second)
	for topic, payload := range map[string]string{
		"plain": `{"v":1}`, "fresh": `{"v":2,"t":"` + now.Format(time.RFC3339) + `"}`, "old": `{"v":3,"t":"2026-05-01T11:30:00Z"}`,
	} {
		if err := b.Publish(topic, []byte(payload), true, 1); err != nil {
			t.Fatal(err)
		}
	}
	s := newSource(t, Options{Broker: address}, Item{Tag: "plain", Topic: "plain", Path: "v"})
	if got := until(t, s, "uncertain", quality(quantity.Uncertain)); got[0].Value != 1 || !strings.Contains(got[0].Detail, "kept by the broker") {
		t.Errorf("got %+v", got[0])
	}
	b.Publish("plain", []byte(`{"v":4}`), true, 1) // to one that is subscribed it is live
	until(t, s, "good", quality(quantity.Good))
	timed := newSource(t, Options{Broker: address, TimePath: "t", MaxAge: time.Hour},
		Item{Tag: "fresh", Topic: "fresh", Path: "v"}, Item{Tag: "old", Topic: "old", Path: "v"})
	got := until(t, timed, "stale", func(g []collector.Sample) bool { return g[1].Quality == quantity.Stale })
	if got[0].Quality != quantity.Good || got[0].Value != 2 || got[1].Reason != quantity.TooOld {
		t.Errorf("got %+v", got)
	}
}

// TestBrokerComingAndGoing ends the broker and starts another at its address.
func TestBrokerComingAndGoing(t *testing.T) {
	b, p, address := startBroker(t, "")
	s := newSource(t, Options{Broker: address}, Item{Tag: "A", Topic: "a"})
	b.Publish("a", []byte("1"), false, 1)
	until(t, s, "good", quality(quantity.Good))
	p.close()
	until(t, s, "down", func([]collector.Sample) bool { s.mu.Lock(); defer s.mu.Unlock(); return !s.up && s.why != nil })
	b, _, _ = startBroker(t, address)
	until(t, s, "up", func([]collector.Sample) bool { s.mu.Lock(); defer s.mu.Unlock(); return s.up })
	b.Publish("a", []byte("2"), false, 1)
	until(t, s, "read again", func(g []collector.Sample) bool { return g[0].Value == 2 })
	if n := s.Counters().Reconnects; n != 1 {
		t.Errorf("%d reconnections, want 1", n)
	}
}

func TestWhatIsRefused(t *testing.T) {
	rows := []struct {
		name string
		o    Options
		it   Item
		want string
	}{
		{"no scheme", Options{Broker: "host:1883"}, Item{Topic: "a"}, "mqtt://host"},
		{"password in clear", Options{Broker: "mqtt://h", User: "u", Password: "p"}, Item{Topic: "a"}, "without encryption"},
		{"password in the address", Options{Broker: "mqtts://u:p@h"}, Item{Topic: "a"}, "beside the address"},
		{"wildcard", Options{Broker: "mqtt://h"}, Item{Topic: "a/#"}, "without wildcards"},
		{"no topic", Options{Broker: "mqtt://h"}, Item{}, "without wildcards"},
		{"no node", Options{Broker: "mqtt://h", Sparkplug: true}, Item{Topic: "G", Metric: "m"}, "GROUP/NODE"},
		{"no metric", Options{Broker: "mqtt://h", Sparkplug: true}, Item{Topic: "G/N"}, "metric"},
	}
	for _, r := range rows {
		if _, err := New(r.o, []Item{r.it}, machine{}); err == nil || !strings.Contains(err.Error(), r.want) || strings.Contains(err.Error(), "u:p") {
			t.Errorf("%s: %v", r.name, err)
		}
	}
}

func FuzzJSON(f *testing.F) {
	f.Add([]byte(`{"v":3,"t":"2026-05-01T11:30:00Z","q":"GOOD"}`))
	f.Add([]byte(`{"v":[1,2,{"x":"y"}]}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		s, err := Options{TimePath: "t", QualityPath: "q", Good: []string{"good"}}.sample(Item{Tag: "A", Path: "v"}, b)
		if s.Quality.Usable() && (err != nil || s.Value != s.Value || s.SourceTime.IsZero()) {
			t.Errorf("%q gives %+v, %v", b, s, err)
		}
	})
}
