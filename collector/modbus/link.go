package modbus

import (
	"context"
	"errors"
	"io"
	"net"
	"sync"
	"sync/atomic"
	"time"

	"bridlewatch/collector"
)

// port is what bytes go through: a TCP connection or a serial device.
type port interface {
	io.ReadWriteCloser
	SetDeadline(time.Time) error
}

// past is a deadline that ends a read or write at once.
var past = time.Unix(1, 0)

// silentLimit is how many requests in a row may stay without any answer
// before the connection itself is held to be half open and made anew.
const silentLimit = 3

// link is one connection and the transport of the library's client. All its
// methods but Close and interrupt are called by one goroutine.
type link struct {
	endpoint Endpoint
	clock    collector.Clock
	dial     func(context.Context) (port, error)
	counters *counters
	packager packager // of no unit in particular, to check frames with

	ids uint16 // last transaction identifier sent

	mu   sync.Mutex // guards port and ctx against Close and interrupt
	port port
	ctx  context.Context // of the scan

	watched context.Context // its end interrupts; nil for none
	unwatch func() bool

	dialled    bool          // there has been a connection before
	silence    int           // requests in a row without any byte
	lastByte   time.Time     // when the line was last busy
	started    time.Time     // when the last request was sent
	slowest    time.Duration // answer lately
	stale      uint64        // frames thrown away, when last told
	quiet      bool          // the line must be listened to before the next request
	last       []byte        // the last answer taken, to know a repetition by
	buffer     [maxADU]byte  // incoming bytes
	held, used int           // TCP: bytes in the buffer, and of the frame given last
	echoes     bool          // the line returns every request before the answer
	debts      debts         // answers that may still come
	odd        bool          // the request on its way may be refused
	doubts                   // of this scan
}

// maxADU is the longest frame of any framing: 260 bytes of Modbus TCP.
const maxADU = 260

// counters are read from any goroutine.
type counters struct {
	requests, timeouts, exceptions, badFrames, staleFrames, reconnects, sent, received atomic.Uint64
	breakersOpen                                                                       atomic.Int64
}

func newLink(e Endpoint, clock collector.Clock, counters *counters) *link {
	l := &link{endpoint: e, clock: clock, counters: counters, ctx: context.Background(), packager: newPackager(e.Framing, 0, nil)}
	l.dial = func(ctx context.Context) (port, error) {
		if e.Framing == RTU {
			return openSerial(e)
		}
		var dialer net.Dialer
		return dialer.DialContext(ctx, "tcp", e.Address)
	}
	return l
}

// begin binds the link to the context of a scan. The returned function ends
// the binding. The deadline is kept by arm, so that where many scans share a
// context which has none, the end of that is all there is to watch for.
func (l *link) begin(ctx context.Context) (end func()) {
	l.mu.Lock()
	l.ctx = ctx
	l.mu.Unlock()
	l.doubts = doubts{shapes: l.doubts.shapes[:0]}
	if scan, ok := ctx.(interface{ Whole() context.Context }); ok {
		l.watch(scan.Whole())
		return func() {}
	}
	stop := context.AfterFunc(ctx, l.interrupt)
	return func() { stop() }
}

// watch interrupts the scan that is running when ctx ends, and no longer when
// the one before does.
func (l *link) watch(ctx context.Context) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.watched == ctx {
		return
	}
	if l.unwatch != nil {
		l.unwatch()
	}
	l.watched, l.unwatch = ctx, context.AfterFunc(ctx, l.interrupt)
}

// interrupt ends a read or write that is under way.
func (l *link) interrupt() {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.port != nil && l.ctx.Err() != nil {
		l.port.SetDeadline(past)
	}
}

// arm sets the deadline of the next reads and writes, d from now and never
// after the scan.
func (l *link) arm(d time.Duration) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if err := l.ctx.Err(); err != nil {
		return err
	}
	if l.port == nil {
		return net.ErrClosed
	}
	deadline := l.clock.Now().Add(d)
	if end, ok := l.ctx.Deadline(); ok && end.Before(deadline) {
		deadline = end
	}
	return l.port.SetDeadline(deadline)
}

// connect makes the connection if there is none.
func (l *link) connect() error {
	if l.current() != nil {
		return nil
	}
	ctx, cancel := context.WithTimeout(l.ctx, l.endpoint.Timeout)
	defer cancel()
	p, err := l.dial(ctx)
	switch {
	case l.ctx.Err() != nil && err != nil:
		return errOutOfTime
	case err != nil:
		return &ConnectError{Address: l.endpoint.Address, Err: err}
	}
	l.mu.Lock()
	l.port = p
	l.mu.Unlock()
	if l.dialled {
		l.counters.reconnects.Add(1)
	}
	l.dialled, l.silence, l.held, l.used = true, 0, 0, 0
	return l.explain(l.clock.Sleep(l.ctx, l.endpoint.PauseAfterConnect))
}

// linger is how long the line must be quiet after the last answer of a scan:
// had a repetition been taken for that answer, the answer itself would come
// by the time answers take, counted from the request.
func (l *link) linger() time.Duration {
	due := l.started.Add(l.slowest + l.slowest/2).Sub(l.clock.Now())
	return min(max(due, 5*time.Millisecond, l.endpoint.silentInterval()), l.endpoint.Timeout)
}

// settleScan looks at the line once more after the last answer of a scan.
func (l *link) settleScan() {
	if l.current() != nil && l.clock.Sleep(l.ctx, l.linger()) == nil && l.drain() != nil {
		l.Close()
	}
}

func (l *link) current() port {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.port
}

// Close drops the connection; the next request makes a new one.
func (l *link) Close() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.port == nil {
		return nil
	}
	err := l.port.Close()
	l.port = nil
	return err
}

// Send is the transport of the library's client: it brings one request to
// the device and the answer back. A connection that turns out to be cut is
// made anew once, because a device may close an idle connection at any time.
func (l *link) Send(request []byte) ([]byte, error) {
	answer, err := l.exchange(request)
	if isCut(err) && l.ctx.Err() == nil {
		answer, err = l.exchange(request)
	}
	return answer, err
}

// exchange does one request on one connection.
func (l *link) exchange(request []byte) ([]byte, error) {
	if err := l.connect(); err != nil {
		return nil, err
	}
	if err := l.prepare(); err != nil {
		return nil, l.explain(err)
	}
	l.started = l.clock.Now()
	if err := l.arm(l.endpoint.Timeout + l.endpoint.lineTime(request)); err != nil {
		return nil, l.explain(err)
	}
	l.counters.requests.Add(1)
	l.answered = false
	if err := l.write(request); err != nil {
		l.Close()
		return nil, err
	}
	answer, err := l.receive(request)
	l.lastByte = l.clock.Now()
	if err == nil {
		l.silence, l.answered = 0, true
		l.slowest = max(l.lastByte.Sub(l.started), l.slowest*7/8)
		l.last = append(l.last[:0], answer...)
		return answer, nil
	}
	return nil, l.failed(request, err, l.lastByte.Sub(l.started))
}

func (l *link) write(request []byte) error {
	p := l.current()
	if p == nil {
		return net.ErrClosed
	}
	n, err := p.Write(request)
	l.counters.sent.Add(uint64(n))
	if isTimeout(err) {
		return &ConnectError{Address: l.endpoint.Address, Err: errors.New("the other end takes no bytes")}
	}
	return err
}

// receive reads the answer in the framing of the endpoint and checks that it
// answers the request.
func (l *link) receive(request []byte) (answer []byte, err error) {
	if l.endpoint.Framing == TCP {
		answer, err = l.receiveTCP(request)
	} else {
		answer, err = l.receiveRTU(request)
	}
	if err != nil {
		return nil, err
	}
	if err = l.packager.answers(request, answer); err != nil {
		if l.endpoint.stream() {
			l.doubt(l.unframed(answer))
		}
		return nil, &strangerError{err}
	}
	return answer, nil
}

// strangerError is a whole frame that answers something else, so that the
// answer itself may still come.
type strangerError struct{ error }

func (e *strangerError) Unwrap() error { return e.error }

// fill reads until the buffer holds n bytes, of which have are there, and no
// more than most.
func (l *link) fill(have, n, most int) (int, error) {
	p := l.current()
	if p == nil {
		return have, net.ErrClosed
	}
	for have < n {
		got, err := p.Read(l.buffer[have:most])
		have += got
		l.counters.received.Add(uint64(got))
		if err != nil {
			return have, err
		}
		if got == 0 {
			return have, io.EOF // a hung-up line reads nothing without an error
		}
	}
	return have, nil
}
