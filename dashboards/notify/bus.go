package notify

import (
	"context"
	"crypto/tls"
	"encoding/json"
	"errors"
	"fmt"
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
	name   string
	root   string
	client paho.Client
	once   sync.Once
}

const (
	atLeastOnce = 1
	busPatience = 10 * time.Second
)

func newBus(s Setting, u *url.URL, secure *tls.Config) *Bus {
	scheme, port := "tcp", "1883"
	if u.Scheme == "mqtts" {
		scheme, port = "ssl", "8883"
	}
	if u.Port() != "" {
		port = u.Port()
	}
	b := &Bus{name: s.Name, root: segment(s.Topic, true) + "/" + segment(s.Client, true)}
	o := paho.NewClientOptions().AddBroker(scheme+"://"+net.JoinHostPort(u.Hostname(), port)).
		SetClientID("bridlewatch-"+Identify(Origin{}, s.Client, s.Name)[:11]). // at most 23 characters (3.1.3.1)
		SetProtocolVersion(4).SetUsername(s.User).SetPassword(s.Password).SetTLSConfig(secure).
		SetKeepAlive(30*time.Second).SetConnectTimeout(busPatience).SetWriteTimeout(busPatience).
		SetConnectRetry(true).SetConnectRetryInterval(5*time.Second).SetMaxReconnectInterval(time.Minute).
		SetWill(b.root+"/status", "offline", atLeastOnce, true).
		SetOnConnectHandler(func(c paho.Client) { c.Publish(b.root+"/status", atLeastOnce, true, "online") })
	b.client = paho.NewClient(o)
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

// Open begins to connect, and to connect again whenever it must.
func (b *Bus) Open(context.Context) { b.once.Do(func() { b.client.Connect() }) }

// Close says that the box is gone and disconnects.
func (b *Bus) Close() {
	if b.client.IsConnectionOpen() {
		b.client.Publish(b.root+"/status", atLeastOnce, true, "offline").WaitTimeout(time.Second)
	}
	b.client.Disconnect(250)
}

// Send publishes one message and what is known of its alert.
func (b *Bus) Send(ctx context.Context, m Message) (again bool, err error) {
	body, err := json.Marshal(m)
	if err != nil {
		return false, fmt.Errorf("encode message %s: %w", m.ID, err)
	}
	b.Open(ctx)
	if !b.connected(ctx) {
		return true, fmt.Errorf("mqtt %s: the broker cannot be reached", b.name)
	}
	if err := b.publish(ctx, b.root+"/event", false, body); err != nil {
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
	err = b.publish(ctx, topic, true, state)
	return err != nil, err
}

// connected waits a little for the connection.
func (b *Bus) connected(ctx context.Context) bool {
	for range 30 {
		if b.client.IsConnectionOpen() {
			return true
		}
		select {
		case <-ctx.Done():
			return false
		case <-time.After(100 * time.Millisecond):
		}
	}
	return false
}

func (b *Bus) publish(ctx context.Context, topic string, retained bool, body []byte) error {
	t := b.client.Publish(topic, atLeastOnce, retained, body)
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
