package mqtt

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math/rand/v2"
	"net"
	"net/url"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// Pauses between two attempts.
const (
	firstPause = 250 * time.Millisecond
	lastPause  = time.Minute
)

// atLeastOnce is the quality of service asked for; a broker may give less.
const atLeastOnce = 1

// subscribeFailure is what a broker answers that refuses (MQTT 3.1.1, 3.9.3).
const subscribeFailure = 0x80

// start begins to connect, and to connect again, until stop.
func (s *Source) start() {
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		s.keepConnected(ctx)
	}()
	s.stop = func() { cancel(); <-done }
}

func (s *Source) keepConnected(ctx context.Context) {
	for pause := firstPause; ; pause = min(2*pause, lastPause) {
		began := time.Now()
		err := s.hold(ctx)
		s.down(err)
		if time.Since(began) > lastPause {
			pause = firstPause
		}
		if s.clock.Sleep(ctx, pause/2+rand.N(pause/2)) != nil {
			return
		}
	}
}

// hold connects, subscribes and stays until the connection is lost or not
// wanted any more.
func (s *Source) hold(ctx context.Context) error {
	lost := make(chan error, 1)
	client := paho.NewClient(s.clientOptions().
		SetConnectionLostHandler(func(_ paho.Client, err error) { lost <- err }).
		SetDefaultPublishHandler(func(_ paho.Client, m paho.Message) { s.take(m) }))
	defer client.Disconnect(0)
	if err := s.finished(ctx, client.Connect()); err != nil {
		return fmt.Errorf("connect to %s: %w", s.opts.Broker, err)
	}
	filters := map[string]byte{}
	for _, f := range s.filters() {
		filters[f] = atLeastOnce
	}
	t := client.SubscribeMultiple(filters, nil)
	if err := s.finished(ctx, t); err != nil {
		return fmt.Errorf("subscribe at %s: %w", s.opts.Broker, err)
	}
	for filter, code := range t.(*paho.SubscribeToken).Result() {
		if code == subscribeFailure {
			s.counters.refused.Add(1)
			return fmt.Errorf("%s refuses the subscription to %s; ask for the right to read it", s.opts.Broker, filter)
		}
	}
	s.counters.connects.Add(1)
	s.mu.Lock()
	s.up, s.why = true, nil
	s.mu.Unlock()
	select {
	case err := <-lost:
		return fmt.Errorf("the connection to %s was lost: %w", s.opts.Broker, err)
	case <-ctx.Done():
		return ctx.Err()
	}
}

// finished waits for a token.
func (s *Source) finished(ctx context.Context, t paho.Token) error {
	timeout := time.NewTimer(s.opts.Timeout)
	defer timeout.Stop()
	select {
	case <-t.Done():
		return t.Error()
	case <-ctx.Done():
		return ctx.Err()
	case <-timeout.C:
		return errors.New("no answer in time")
	}
}

func (s *Source) clientOptions() *paho.ClientOptions {
	u, _ := url.Parse(s.opts.Broker) // New has checked it
	scheme, port := "tcp", "1883"
	if u.Scheme == "mqtts" {
		scheme, port = "ssl", "8883"
	}
	if u.Port() != "" {
		port = u.Port()
	}
	id := s.opts.Client
	if id == "" {
		sum := sha256.Sum256([]byte(s.opts.Name))
		id = "bridlewatch" + hex.EncodeToString(sum[:6]) // at most 23 characters (MQTT 3.1.1, 3.1.3.1)
	}
	return paho.NewClientOptions().AddBroker(scheme + "://" + net.JoinHostPort(u.Hostname(), port)).
		SetClientID(id).SetProtocolVersion(4).SetCleanSession(true).SetAutoReconnect(false).
		SetUsername(s.opts.User).SetPassword(s.opts.Password).SetTLSConfig(s.opts.TLS).
		SetConnectTimeout(s.opts.Timeout).SetWriteTimeout(s.opts.Timeout).SetKeepAlive(20 * time.Second)
}

// filters are the topics to subscribe to.
func (s *Source) filters() []string {
	var all []string
	for _, it := range s.items {
		if s.opts.Sparkplug {
			all = append(all, sparkplugFilters(it.Topic)...)
		} else {
			all = append(all, it.Topic)
		}
	}
	return all
}

// down notes that there is no connection. What a Sparkplug node is called in
// its messages may change while nobody listens, so its aliases are forgotten.
func (s *Source) down(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.up, s.why = false, err
	clear(s.nodes)
}

// take takes one message.
func (s *Source) take(m paho.Message) {
	s.counters.messages.Add(1)
	s.counters.bytes.Add(uint64(len(m.Payload())))
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.opts.Sparkplug {
		s.takeSparkplug(m.Topic(), m.Payload())
		return
	}
	for i, it := range s.items {
		if it.Topic == m.Topic() {
			s.takeJSON(i, m.Payload(), m.Retained())
		}
	}
}
