package pair

import (
	"context"
	"errors"
	"strings"
	"time"

	"github.com/nats-io/nats.go/jetstream"
	"golang.org/x/sys/unix"
)

// renewals is how often a lease is renewed in its time to live, and tries how
// often the other box asks for it. A holder trusts its lease for giveUp of its
// life after it asked for it.
const (
	renewals  = 4
	tries     = 12
	giveUpNum = 2
	giveUpDen = 3
)

// furnishTime is how long making what the server has lost may take.
const furnishTime = 5 * time.Second

// sinceBoot counts on while the process is stopped and while the machine
// sleeps, and nobody can set it.
func sinceBoot() time.Duration {
	var t unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_BOOTTIME, &t); err != nil {
		return 1 << 62 // no clock, no lease
	}
	return time.Duration(t.Nano())
}

// Holds reports whether the lease is surely ours at this moment. It is to be
// asked before anything that only one of the two may do.
func (p *Pair) Holds() bool { return int64(sinceBoot()) < p.until.Load() }

// trust counts the life of a lease from when it was asked for.
func (p *Pair) trust(asked time.Duration) {
	p.until.Store(int64(asked + p.o.TTL*giveUpNum/giveUpDen))
}

// Hold waits until this box has the lease. The context it returns ends with
// ctx and when the lease is lost. The lease is kept until release is called,
// which gives it back.
func (p *Pair) Hold(ctx context.Context) (held context.Context, release func(), err error) {
	revision, err := p.acquire(ctx)
	if err != nil {
		return nil, nil, err
	}
	held, lost := context.WithCancel(ctx)
	keep, stop := context.WithCancel(context.WithoutCancel(ctx))
	done := make(chan struct{})
	go func() {
		defer close(done)
		defer lost()
		p.renew(keep, revision)
	}()
	return held, func() {
		stop()
		<-done
	}, nil
}

// acquire tries until the key can be made: it cannot while another's lives.
func (p *Pair) acquire(ctx context.Context) (revision uint64, err error) {
	said := ""
	for {
		asked := sinceBoot()
		revision, err = p.ask(ctx)
		if err == nil {
			p.trust(asked)
			p.o.Log.Info("this box has the lease and polls", "holder", p.o.Holder)
			return revision, nil
		}
		if ctx.Err() != nil {
			return 0, ctx.Err()
		}
		if why := err.Error(); why != said {
			p.o.Log.Info("standing by", "why", why)
			said = why
		}
		select {
		case <-ctx.Done():
			return 0, ctx.Err()
		case <-time.After(p.o.TTL / tries):
		}
	}
}

// ask tries once to get the lease.
func (p *Pair) ask(parent context.Context) (revision uint64, err error) {
	ctx, cancel := context.WithTimeout(parent, p.o.TTL/renewals)
	defer cancel()
	revision, err = p.lease.Create(ctx, p.key, []byte(p.mark))
	switch {
	case err == nil:
		return revision, nil
	case errors.Is(err, jetstream.ErrKeyExists):
		return p.renewOwn(ctx)
	case !p.conn.IsConnected():
		return 0, err
	}
	again, cancel := context.WithTimeout(parent, furnishTime)
	defer cancel()
	return 0, errors.Join(err, p.furnish(again)) // the server may have lost the bucket
}

// renewOwn renews a lease that exists if it is of this process: the answer to
// an earlier request may have been lost.
func (p *Pair) renewOwn(ctx context.Context) (revision uint64, err error) {
	e, err := p.lease.Get(ctx, p.key)
	if err != nil {
		return 0, err
	}
	if string(e.Value()) != p.mark {
		holder, _, _ := strings.Cut(string(e.Value()), "\n")
		return 0, errors.New(holder + " has the lease")
	}
	return p.lease.Update(ctx, p.key, []byte(p.mark), e.Revision())
}

// renew keeps the lease until keep ends, then gives it back; it returns early
// when the lease could not be renewed in time.
func (p *Pair) renew(keep context.Context, revision uint64) {
	for {
		select {
		case <-keep.Done():
			p.giveBack(revision)
			return
		case <-time.After(p.o.TTL / renewals):
		}
		asked := sinceBoot()
		left := time.Duration(p.until.Load()) - asked
		if left <= 0 {
			p.o.Log.Warn("the lease has run out; this box stops polling")
			return
		}
		ctx, cancel := context.WithTimeout(keep, min(left, p.o.TTL/renewals))
		next, err := p.lease.Update(ctx, p.key, []byte(p.mark), revision)
		if err != nil {
			next, err = p.renewOwn(ctx)
		}
		cancel()
		switch {
		case err == nil:
			revision = next
			p.trust(asked)
		case !p.Holds():
			p.o.Log.Warn("the lease is lost; this box stops polling", "error", err)
			return
		}
	}
}

func (p *Pair) giveBack(revision uint64) {
	p.until.Store(0)
	ctx, cancel := context.WithTimeout(context.Background(), time.Second)
	defer cancel()
	if err := p.lease.Delete(ctx, p.key, jetstream.LastRevision(revision)); err != nil {
		p.o.Log.Info("the lease was not given back and runs out by itself", "error", err)
	}
}
