package notify

import (
	"context"
	"crypto/tls"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"net"
	"net/url"
	"strings"
	"sync"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// Bus publishes to an MQTT broker (OASIS MQTT 3.1.1) with quality of service
// 1. Below the topic of the route, site and box stand
//
//	status         "online", retained; the broker says "offline" when the box is gone
//	event          every message
//	alert/GAUGE/ID the newest message about an alert, retained while it is open
type Bus struct {
	name    string
	root    string
	options func() *paho.ClientOptions
	once    sync.Once
	end     context.CancelFunc
	done    chan struct{}

	mu     sync.Mutex
	client paho.Client // nil while there is no connection
}

const (
	atLeastOnce = 1
	busPatience = 10 * time.Second
	soonAgain   = 250 * time.Millisecond // pause before the second attempt
	lateAgain   = time.Minute            // the longest pause
)

func newBus(s Setting, u *url.URL, secure *tls.Config) *Bus {
	scheme, port := "tcp", "1883"
	if u.Scheme == "mqtts" {
		scheme, port = "ssl", "8883"
	}
	if u.Port() != "" {
		port = u.Port()
	}
	b := &Bus{name: s.Name, root: segment(s.Topic, true) + "/" + segment(s.Client, true), end: func() {}, done: make(chan struct{})}
	b.options = func() *paho.ClientOptions {
		return paho.NewClientOptions().AddBroker(scheme+"://"+net.JoinHostPort(u.Hostname(), port)).
			SetClientID("bridlewatch-"+Identify(Origin{}, s.Client, s.Name)[:11]). // at most 23 characters (3.1.3.1)
			SetProtocolVersion(4).SetUsername(s.User).SetPassword(s.Password).SetTLSConfig(secure).
			SetKeepAlive(30*time.Second).SetConnectTimeout(busPatience).SetWriteTimeout(busPatience).
			SetAutoReconnect(false).SetWill(b.root+"/status", "offline", atLeastOnce, true)
	}
	return b
}

// segment makes a text fit for a topic: no wildcards, no leading $, and no
// levels of its own unless they are wanted.
func segment(s string, levels bool) string {
	s = strings.NewReplacer("+", "_", "#", "_", "$", "_", "\x00", "").Replace(strings.Trim(s, "/"))
	if !levels {
		s = strings.ReplaceAll(s, "/", "_")
	}
	return s
}

// Name returns the name of the route.
func (b *Bus) Name() string { return b.name }

// Open begins to connect, and to connect again whenever it must, until Close.
func (b *Bus) Open(context.Context) {
	b.once.Do(func() {
		var ctx context.Context
		ctx, b.end = context.WithCancel(context.Background())
		go b.keepConnected(ctx)
	})
}

// Close says that the box is gone and disconnects.
func (b *Bus) Close() {
	b.once.Do(func() { close(b.done) }) // never opened, and never will be
	b.end()
	<-b.done
}

// keepConnected holds one connection after another. Each has a client of its
// own: the library's own reconnect sends again what is in flight while it is
// still being written. What was in flight is not lost, the outbox has it.
func (b *Bus) keepConnected(ctx context.Context) {
	defer close(b.done)
	for pause := soonAgain; ; pause = min(2*pause, lateAgain) {
		if b.hold(ctx) {
			pause = soonAgain
		}
		select {
		case <-ctx.Done():
			return
		case <-time.After(pause/2 + rand.N(pause/2)):
		}
	}
}

// hold connects, says so and stays until the connection is lost or not wanted
// any more. It reports whether there was a connection.
func (b *Bus) hold(ctx context.Context) bool {
	lost := make(chan struct{})
	client := paho.NewClient(b.options().SetConnectionLostHandler(func(paho.Client, error) { close(lost) }))
	defer client.Disconnect(250)
	t := client.Connect()
	select {
	case <-t.Done():
	case <-ctx.Done():
		return false
	}
	if t.Error() != nil {
		return false
	}
	client.Publish(b.root+"/status", atLeastOnce, true, "online")
	b.use(client)
	defer b.use(nil)
	select {
	case <-lost:
	case <-ctx.Done():
		client.Publish(b.root+"/status", atLeastOnce, true, "offline").WaitTimeout(time.Second)
	}
	return true
}

func (b *Bus) use(client paho.Client) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.client = client
}

// Send publishes one message and what is known of its alert.
func (b *Bus) Send(ctx context.Context, m Message) (again bool, err error) {
	body, err := json.Marshal(m)
	if err != nil {
		return false, fmt.Errorf("encode message %s: %w", m.ID, err)
	}
	b.Open(ctx)
	client := b.connected(ctx)
	if client == nil {
		return true, fmt.Errorf("mqtt %s: the broker cannot be reached", b.name)
	}
	if err := b.publish(ctx, client, b.root+"/event", false, body); err != nil {
		return true, err
	}
	if m.Event == Trial || m.Event == Watched {
		return false, nil
	}
	state := body
	if m.Event == Cleared {
		state = nil // an empty retained message erases (3.3.1.3)
	}
	topic := b.root + "/alert/" + segment(m.Gauge, false) + "/" + segment(m.Alert, false)
	err = b.publish(ctx, client, topic, true, state)
	return err != nil, err
}

// connected waits a little for the connection; nil means there is none.
func (b *Bus) connected(ctx context.Context) paho.Client {
	for range 30 {
		b.mu.Lock()
		client := b.client
		b.mu.Unlock()
		if client != nil {
			return client
		}
		select {
		case <-ctx.Done():
			return nil
		case <-b.done:
			return nil
		case <-time.After(100 * time.Millisecond):
		}
	}
	return nil
}

func (b *Bus) publish(ctx context.Context, client paho.Client, topic string, retained bool, body []byte) error {
	t := client.Publish(topic, atLeastOnce, retained, body)
	select {
	case <-t.Done():
	case <-ctx.Done():
		return fmt.Errorf("mqtt %s: %w", b.name, ctx.Err())
	case <-time.After(busPatience):
		return fmt.Errorf("mqtt %s: %w", b.name, errors.New("the broker does not confirm"))
	}
	if err := t.Error(); err != nil {
		return fmt.Errorf("mqtt %s: %w", b.name, err)
	}
	return nil
}
