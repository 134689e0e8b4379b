package notify

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"sync"
	"time"
)

// Run opens the routes that hold connections and sends until ctx ends.
func (o *Outbox) Run(ctx context.Context) {
	for _, l := range o.lanes {
		if c, ok := l.Route.(Connected); ok {
			c.Open(ctx)
			defer c.Close()
		}
	}
	for {
		wait := o.round(ctx)
		select {
		case <-ctx.Done():
			return
		case <-o.wake:
		case <-time.After(wait):
		}
	}
}

// round tries what is due, all routes at once and each in order, and returns
// the time until the next is.
func (o *Outbox) round(ctx context.Context) time.Duration {
	_ = o.keepLate(ctx) // said when it began
	due := o.due()
	if len(due) > 0 || o.keepsUp() {
		if err := o.mayLeave(ctx); err != nil {
			o.log.Warn("messages wait", "error", err)
			return heldBack
		}
	}
	var all sync.WaitGroup
	for _, due := range due {
		all.Go(func() {
			for _, d := range due {
				if ctx.Err() != nil {
					return
				}
				o.try(ctx, d)
			}
		})
	}
	for _, l := range o.lanes {
		all.Go(func() { o.keepUp(ctx, l) })
	}
	all.Wait()
	return o.untilNext()
}

// heldBack is how long messages wait until it is asked again whether they may
// leave.
const heldBack = time.Second

func (o *Outbox) mayLeave(ctx context.Context) error {
	if o.ready == nil {
		return nil
	}
	return o.ready(ctx)
}

// keepsUp reports whether something stands that a receiver may have to be
// given again.
func (o *Outbox) keepsUp() bool {
	o.mu.Lock()
	defer o.mu.Unlock()
	return len(o.standing) > 0 && slices.ContainsFunc(o.lanes, func(l *lane) bool { _, ok := l.Route.(Keeper); return ok })
}

func (o *Outbox) untilNext() time.Duration {
	wait := 20 * time.Second
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, d := range o.pending {
		if !o.blocked(&d) {
			wait = min(wait, max(d.Next.Sub(o.now()), 10*time.Millisecond)) // a clock set back is met at the next look
		}
	}
	return wait
}

// due lists by route what is to be tried now.
func (o *Outbox) due() map[string][]Delivery {
	o.mu.Lock()
	defer o.mu.Unlock()
	due := map[string][]Delivery{}
	for _, d := range o.pending {
		if !o.waits(&d) && !o.blocked(&d) {
			due[d.Route] = append(due[d.Route], d)
		}
	}
	return due
}

// waits reports whether the next try of a delivery is to come. None is farther
// off than the longest pause, unless the clock was ahead when it was set.
func (o *Outbox) waits(d *Delivery) bool {
	until := d.Next.Sub(o.now())
	return until > 0 && until <= longestPause
}

// blocked reports whether an earlier message about the same alert still waits
// for its next try: the end of an alert must not overtake its beginning.
func (o *Outbox) blocked(d *Delivery) bool {
	for i := range o.pending {
		p := &o.pending[i]
		if p.Route == d.Route && p.Message.ID == d.Message.ID {
			return false
		}
		if p.Route == d.Route && d.Message.Alert != "" && p.Message.Alert == d.Message.Alert && o.waits(p) {
			return true
		}
	}
	return false
}

// keepUp gives a receiver that forgets everything that stands.
func (o *Outbox) keepUp(ctx context.Context, l *lane) {
	k, ok := l.Route.(Keeper)
	if !ok {
		return
	}
	o.mu.Lock()
	late := o.now().Sub(l.kept) >= k.KeepEvery()
	var standing []Message
	for _, m := range o.standing {
		if l.setting.wants(&m) {
			standing = append(standing, m)
		}
	}
	if late {
		l.kept = o.now()
	}
	o.mu.Unlock()
	if !late || len(standing) == 0 {
		return
	}
	o.note(l, k.Keep(ctx, standing))
}

func (o *Outbox) try(ctx context.Context, d Delivery) {
	l := o.lane(d.Route)
	again, err := false, fmt.Errorf("route %q is no longer configured", d.Route)
	if l != nil {
		again, err = l.Send(ctx, d.Message)
		if ctx.Err() != nil && err != nil {
			return // the service stops: the next one tries
		}
		o.note(l, err)
	}
	d.Attempts++
	switch {
	case err == nil:
		d.Done, d.Error = o.now(), ""
	case again && (o.now().Sub(d.Queued) < giveUp || d.Attempts < leastTries):
		d.Error, d.Next = err.Error(), o.now().Add(pause(d.Attempts))
		o.log.Warn("alert was not delivered, will try again", "route", d.Route, "gauge", d.Message.Gauge, "attempt", d.Attempts, "error", err)
	default:
		d.Error, d.Done = err.Error(), o.now()
		o.log.Error("alert was refused and is given up", "route", d.Route, "gauge", d.Message.Gauge, "error", err)
	}
	o.settle(ctx, d)
}

// note books how a route did.
func (o *Outbox) note(l *lane, err error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if err == nil {
		l.health.Sent++
		l.health.Delivered, l.health.Error = o.now(), ""
		return
	}
	l.health.Failures++
	l.health.Failed, l.health.Error = o.now(), err.Error()
}

// longestPause is between two tries of a route that is dead for long.
const longestPause = 10 * time.Minute

// pause grows from a second to longestPause, with a spread of a quarter so that
// boxes do not come all at once.
func pause(attempts int) time.Duration {
	p := min(time.Second<<min(attempts-1, 20), longestPause)
	return p - rand.N(p/4)
}

func (o *Outbox) settle(ctx context.Context, d Delivery) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if seldom := d.Attempts&(d.Attempts-1) == 0; seldom || !d.Done.IsZero() { // a route that is dead for days must not fill the store
		if err := o.keep(ctx, d); err != nil {
			o.log.Error("outbox", "error", err)
		}
	}
	i := slices.IndexFunc(o.pending, func(p Delivery) bool { return p.id() == d.id() })
	switch {
	case i < 0:
	case d.Done.IsZero():
		o.pending[i] = d
	default:
		o.pending = slices.Delete(o.pending, i, i+1)
	}
}
