// Package pair lets two boxes stand in for each other: one polls, the other
// waits. Which one is decided by a lease in a key-value bucket of a NATS
// JetStream server that runs elsewhere; two boxes alone cannot decide it.
//
// A box polls only while it holds the lease. It gives up by its own clock
// before the lease can pass to the other, so the two never poll at once. The
// state of the detectors is handed over in the same bucket: the box that takes
// over neither forgets an episode nor announces it again.
package pair

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
)

// Options say where the lease is and who asks for it.
type Options struct {
	URL         string // nats://host:4222 or tls://host:4222
	Credentials string // credentials file; "" for none
	Bucket      string // key-value bucket; made when missing
	Name        string // of what the two share: the box as the central store knows it
	Holder      string // of this machine, different from the other's
	TTL         time.Duration
	Log         *slog.Logger
}

// renewals is how often a lease is renewed in its time to live; a holder that
// could not renew gives up after giveUp of it.
const (
	renewals  = 4
	giveUpNum = 2
	giveUpDen = 3
)

// Pair is one of the two boxes.
type Pair struct {
	o     Options
	conn  *nats.Conn
	lease jetstream.KeyValue // values live for TTL
	state jetstream.KeyValue
}

// Join connects to the server and finds or makes the two buckets.
func Join(ctx context.Context, o Options) (*Pair, error) {
	options := []nats.Option{nats.Name("bridlewatch " + o.Holder), nats.MaxReconnects(-1), nats.ReconnectWait(time.Second), nats.Timeout(5 * time.Second)}
	if o.Credentials != "" {
		options = append(options, nats.UserCredentials(o.Credentials))
	}
	conn, err := nats.Connect(o.URL, options...)
	if err != nil {
		return nil, fmt.Errorf("pair: connect to %s: %w", o.URL, err)
	}
	p := &Pair{o: o, conn: conn}
	if err := p.buckets(ctx); err != nil {
		conn.Close()
		return nil, err
	}
	return p, nil
}

func (p *Pair) buckets(ctx context.Context) error {
	js, err := jetstream.New(p.conn)
	if err != nil {
		return fmt.Errorf("pair: %w", err)
	}
	p.lease, err = js.CreateOrUpdateKeyValue(ctx, jetstream.KeyValueConfig{Bucket: p.o.Bucket + "-lease", TTL: p.o.TTL, Storage: jetstream.MemoryStorage})
	if err != nil {
		return fmt.Errorf("pair: bucket for the lease at %s: %w", p.o.URL, err)
	}
	p.state, err = js.CreateOrUpdateKeyValue(ctx, jetstream.KeyValueConfig{Bucket: p.o.Bucket + "-state", History: 1})
	if err != nil {
		return fmt.Errorf("pair: bucket for the state at %s: %w", p.o.URL, err)
	}
	return nil
}

// Close gives the connection up; a lease that is held runs out by itself.
func (p *Pair) Close() { p.conn.Close() }

// Hold waits until this box has the lease. The context it returns ends when
// the lease is lost or release is called, which gives the lease back.
func (p *Pair) Hold(ctx context.Context) (held context.Context, release func(), err error) {
	revision, err := p.acquire(ctx)
	if err != nil {
		return nil, nil, err
	}
	held, cancel := context.WithCancel(ctx)
	done := make(chan struct{})
	go func() {
		defer close(done)
		defer cancel()
		p.renew(held, revision)
	}()
	return held, func() {
		cancel()
		<-done
	}, nil
}

// acquire tries until the key can be made: it cannot while another's lives.
func (p *Pair) acquire(ctx context.Context) (revision uint64, err error) {
	said := ""
	for {
		revision, err = p.lease.Create(ctx, p.o.Name, []byte(p.o.Holder))
		if err == nil {
			p.o.Log.Info("this box has the lease and polls", "holder", p.o.Holder)
			return revision, nil
		}
		if ctx.Err() != nil {
			return 0, ctx.Err()
		}
		if why := p.whyNot(ctx, err); why != said {
			p.o.Log.Info("standing by", "why", why)
			said = why
		}
		select {
		case <-ctx.Done():
			return 0, ctx.Err()
		case <-time.After(p.o.TTL / renewals):
		}
	}
}

func (p *Pair) whyNot(ctx context.Context, err error) string {
	if !errors.Is(err, jetstream.ErrKeyExists) {
		return err.Error()
	}
	if e, err := p.lease.Get(ctx, p.o.Name); err == nil {
		return string(e.Value()) + " has the lease"
	}
	return "the other box has the lease"
}

// renew keeps the lease until held ends, then gives it back; it returns early
// when the lease is lost or could not be renewed in time.
func (p *Pair) renew(held context.Context, revision uint64) {
	last := time.Now()
	for {
		select {
		case <-held.Done():
			ctx, cancel := context.WithTimeout(context.Background(), time.Second)
			defer cancel()
			if err := p.lease.Delete(ctx, p.o.Name, jetstream.LastRevision(revision)); err != nil {
				p.o.Log.Info("the lease was not given back and runs out by itself", "error", err)
			}
			return
		case <-time.After(p.o.TTL / renewals):
		}
		asked := time.Now()
		ctx, cancel := context.WithTimeout(held, p.o.TTL/renewals)
		next, err := p.lease.Update(ctx, p.o.Name, []byte(p.o.Holder), revision)
		cancel()
		switch {
		case err == nil:
			revision, last = next, asked
		case time.Since(last) > p.o.TTL*giveUpNum/giveUpDen:
			p.o.Log.Warn("the lease is lost; this box stops polling", "error", err)
			return
		}
	}
}

// HandOver leaves the state of the detectors for the other box.
func (p *Pair) HandOver(ctx context.Context, state []byte) error {
	packed, err := pack(state)
	if err != nil {
		return err
	}
	if _, err := p.state.Put(ctx, p.o.Name, packed); err != nil {
		return fmt.Errorf("pair: hand over detector state: %w", err)
	}
	return nil
}

// TakeOver returns the newest state either box has left; nil when there is
// none.
func (p *Pair) TakeOver(ctx context.Context) ([]byte, error) {
	e, err := p.state.Get(ctx, p.o.Name)
	if errors.Is(err, jetstream.ErrKeyNotFound) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("pair: take over detector state: %w", err)
	}
	return unpack(e.Value())
}
