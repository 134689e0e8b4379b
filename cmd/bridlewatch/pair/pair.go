// Package pair lets two boxes stand in for each other: one polls, the other
// waits. Which one is decided by a lease in a key-value bucket of a NATS
// JetStream server that runs elsewhere; two boxes alone cannot decide it.
//
// A box reaches out, to the plant and to anybody else, only while it holds the
// lease. It gives up by its own clock before the lease can pass to the other,
// and Holds says so also to a process that was paused and comes back. The state
// of the detectors and the documents of history are handed over through the
// same server: the box that takes over neither forgets an episode nor announces
// it again.
package pair

import (
	"context"
	"fmt"
	"log/slog"
	"strings"
	"sync/atomic"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"github.com/nats-io/nuid"
)

// Options say where the lease is and who asks for it.
type Options struct {
	URL         string // nats://host:4222 or tls://host:4222
	Credentials string // credentials file; "" for none
	Bucket      string // begins the names of what is made on the server
	Name        string // of what the two share: the box as the central store knows it
	Holder      string // of this machine, different from the other's
	TTL         time.Duration
	Log         *slog.Logger
}

// Pair is one of the two boxes.
type Pair struct {
	o       Options
	conn    *nats.Conn
	js      jetstream.JetStream
	key     string             // of this pair in both buckets
	mark    string             // of this process: what it wrote it knows again
	lease   jetstream.KeyValue // values live for TTL
	state   jetstream.KeyValue
	journal jetstream.Stream

	until    atomic.Int64 // sinceBoot up to which the lease is surely ours
	stateRev uint64       // of the state this box saw or left last
}

// Join connects to the server and finds or makes what the pair needs there.
func Join(ctx context.Context, o Options) (*Pair, error) {
	options := []nats.Option{nats.Name("bridlewatch " + o.Holder), nats.MaxReconnects(-1), nats.ReconnectWait(time.Second),
		nats.Timeout(5 * time.Second), nats.ReconnectBufSize(-1)} // what waited for a connection would come too late
	if o.Credentials != "" {
		options = append(options, nats.UserCredentials(o.Credentials))
	}
	conn, err := nats.Connect(o.URL, options...)
	if err != nil {
		return nil, fmt.Errorf("pair: connect to %s: %w", o.URL, err)
	}
	p := &Pair{o: o, conn: conn, key: token(o.Name), mark: o.Holder + "\n" + nuid.Next()}
	if p.js, err = jetstream.New(conn); err == nil {
		err = p.furnish(ctx)
	}
	if err != nil {
		conn.Close()
		return nil, fmt.Errorf("pair: %w", err)
	}
	return p, nil
}

// journalKept is how long a box may be away and still hear of every document.
const journalKept = 60 * 24 * time.Hour

// furnish finds or makes buckets and journal. It is repeated when the server
// has lost them.
func (p *Pair) furnish(ctx context.Context) (err error) {
	p.lease, err = p.js.CreateOrUpdateKeyValue(ctx, jetstream.KeyValueConfig{Bucket: p.o.Bucket + "-lease", TTL: p.o.TTL})
	if err != nil {
		return fmt.Errorf("bucket for the lease at %s: %w", p.o.URL, err)
	}
	p.state, err = p.js.CreateOrUpdateKeyValue(ctx, jetstream.KeyValueConfig{Bucket: p.o.Bucket + "-state", History: 1})
	if err != nil {
		return fmt.Errorf("bucket for the state at %s: %w", p.o.URL, err)
	}
	p.journal, err = p.js.CreateOrUpdateStream(ctx, jetstream.StreamConfig{
		Name: p.o.Bucket + "-journal", Subjects: []string{p.o.Bucket + "-journal.>"}, MaxAge: journalKept})
	if err != nil {
		return fmt.Errorf("journal at %s: %w", p.o.URL, err)
	}
	return nil
}

// Close gives the connection up; a lease that is held runs out by itself.
func (p *Pair) Close() { p.conn.Close() }

// token is a name as a key: what keys may not hold is written as its number.
func token(name string) string {
	var b strings.Builder
	for _, c := range []byte(name) {
		if c >= '0' && c <= '9' || c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' || c == '-' {
			b.WriteByte(c)
			continue
		}
		fmt.Fprintf(&b, "_%02x", c)
	}
	return b.String()
}
