package collectortest

import (
	"encoding/binary"
	"io"
	"math/rand/v2"
	"net"
	"sync"
	"time"
)

// Proxy stands between a reader and a device and damages the answers. It
// understands the frames it passes, TCP or RTU.
type Proxy struct {
	rtu     bool
	timeout time.Duration // of the reader

	mu      sync.Mutex
	rng     *rand.Rand
	fault   Fault
	share   float64 // of the answers that are damaged
	damaged int
	closers map[io.Closer]bool
	all     sync.WaitGroup
}

// NewProxy makes a proxy that passes everything. The time-out of the reader
// is the measure of what is late; the seed makes damage repeatable.
func NewProxy(rtu bool, timeout time.Duration, seed uint64) *Proxy {
	return &Proxy{rtu: rtu, timeout: timeout, rng: rand.New(rand.NewPCG(seed, seed)), fault: NoFault, closers: map[io.Closer]bool{}}
}

// Set makes the proxy damage a share (0 to 1) of the answers from now on.
func (p *Proxy) Set(f Fault, share float64) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.fault, p.share, p.damaged = f, share, 0
}

// Damaged is the number of answers damaged since Set.
func (p *Proxy) Damaged() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.damaged
}

// Serve accepts connections until the listener is closed and passes each to
// a connection of its own to the device.
func (p *Proxy) Serve(l net.Listener, device string) {
	for {
		client, err := l.Accept()
		if err != nil {
			return
		}
		upstream, err := net.Dial("tcp", device)
		if err != nil {
			client.Close()
			continue
		}
		p.all.Go(func() { p.Pass(client, upstream) })
	}
}

// Close ends every connection and waits for what serves them.
func (p *Proxy) Close() {
	p.mu.Lock()
	for c := range p.closers {
		c.Close()
	}
	p.mu.Unlock()
	p.all.Wait()
}

func (p *Proxy) hold(c io.Closer) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.closers[c] = true
}

func (p *Proxy) drop(c io.Closer) {
	c.Close()
	p.mu.Lock()
	defer p.mu.Unlock()
	delete(p.closers, c)
}

// Pass carries requests one way and answers the other until one side ends.
func (p *Proxy) Pass(client, upstream io.ReadWriteCloser) {
	p.hold(client)
	p.hold(upstream)
	defer p.drop(client)
	var dead sync.WaitGroup
	wire := &wire{Proxy: p, client: client}
	dead.Go(func() {
		defer upstream.Close()
		buffer := make([]byte, 512)
		for {
			n, err := client.Read(buffer)
			if n > 0 && !wire.isDead() {
				upstream.Write(buffer[:n])
			}
			if err != nil {
				return
			}
		}
	})
	for {
		frame, err := readFrame(upstream, p.rtu)
		if err != nil {
			break
		}
		wire.pass(frame)
	}
	if !wire.isDead() {
		client.Close()
	}
	wire.pending.Wait()
	dead.Wait()
	p.drop(upstream)
}

// wire is one connection to a reader.
type wire struct {
	*Proxy
	client  io.WriteCloser
	pending sync.WaitGroup // answers on their way
	writing sync.Mutex

	state sync.Mutex
	dead  bool // half open
}

// isDead says that nothing passes any more. A serial line, which cannot be
// connected anew, comes back with the end of the fault.
func (w *wire) isDead() bool {
	w.state.Lock()
	defer w.state.Unlock()
	if _, closes := w.client.(lingerer); w.dead && !closes {
		w.dead = w.current() == HalfOpen
	}
	return w.dead
}

// lingerer is a connection that can be closed or reset, as a serial line
// cannot.
type lingerer interface {
	io.Closer
	SetLinger(seconds int) error
}

func (p *Proxy) current() Fault {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.fault
}

// pass sends one answer, damaged when it is its turn.
func (w *wire) pass(frame []byte) {
	if w.isDead() {
		return
	}
	fault := w.draw()
	switch fault {
	case HalfOpen:
		w.state.Lock()
		w.dead = true
		w.state.Unlock()
	case Cut:
		w.send(frame[:len(frame)/2])
		w.end(false)
	case Reset:
		w.end(true)
	case Late:
		// Some answers are a little late and some very.
		w.later(w.timeout*time.Duration(5+w.dice(12))/4, frame)
	case Stall:
		time.Sleep(w.timeout * time.Duration(5+w.dice(12)) / 4)
		w.send(frame)
	case Chatter:
		w.send(frame)
		w.mu.Lock()
		noise := random(w.rng, 1+w.rng.IntN(12))
		w.mu.Unlock()
		w.later(w.timeout*time.Duration(w.dice(100))/40, noise)
	case DuplicateLater:
		w.send(frame)
		w.later(w.timeout/time.Duration(4+w.dice(36)), frame)
	default:
		w.mu.Lock()
		pieces := damage(fault, w.rtu, frame, w.timeout, w.rng)
		w.mu.Unlock()
		for _, piece := range pieces {
			time.Sleep(piece.after)
			w.send(piece.bytes)
		}
	}
}

// end closes a connection. A serial line has none; there the rest of the
// frame is lost and that is all.
func (w *wire) end(reset bool) {
	connection, ok := w.client.(lingerer)
	if !ok {
		return
	}
	if reset {
		connection.SetLinger(0)
	}
	connection.Close()
}

// later sends a frame after a while without holding up the others.
func (w *wire) later(after time.Duration, frame []byte) {
	w.pending.Go(func() {
		time.Sleep(after)
		w.send(frame)
	})
}

func (w *wire) send(b []byte) {
	w.writing.Lock()
	defer w.writing.Unlock()
	w.client.Write(b)
}

// draw decides the fate of an answer.
func (p *Proxy) draw() Fault {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.fault == NoFault || p.rng.Float64() >= p.share {
		return NoFault
	}
	p.damaged++
	return p.fault
}

func (p *Proxy) dice(n int) int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.rng.IntN(n)
}

// readFrame reads one whole answer.
func readFrame(r io.Reader, rtu bool) ([]byte, error) {
	if rtu {
		frame := make([]byte, 5, 260)
		if _, err := io.ReadFull(r, frame); err != nil {
			return nil, err
		}
		if frame[1]&0x80 != 0 {
			return frame, nil
		}
		rest := int(frame[2])
		frame = frame[:5+rest]
		_, err := io.ReadFull(r, frame[5:])
		return frame, err
	}
	frame := make([]byte, 6, 260)
	if _, err := io.ReadFull(r, frame); err != nil {
		return nil, err
	}
	length := min(int(binary.BigEndian.Uint16(frame[4:])), 254)
	frame = frame[:6+length]
	_, err := io.ReadFull(r, frame[6:])
	return frame, err
}
