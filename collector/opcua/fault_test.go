package opcua

import (
	"net"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gopcua/opcua/ua"

	"bridlewatch/compare/quantity"
)

// damage is what a proxy does to a connection.
type damage string

// faultTimeout is what a client waits: long enough for a slow machine to
// connect in.
const faultTimeout = 2 * time.Second

const (
	pass    damage = "pass"
	cut     damage = "cut"     // closes what is open, lets new ones through
	refuse  damage = "refuse"  // closes everything at once
	swallow damage = "swallow" // half open: takes bytes and gives none
	garbage damage = "garbage" // flips bits in every answer
	delay   damage = "delay"   // answers come after the client gave up
)

// proxy stands between client and server and damages what passes.
type proxy struct {
	listener net.Listener
	target   string

	mu    sync.Mutex
	now   damage
	conns []net.Conn
	count int // connections accepted
}

func startProxy(t *testing.T, endpoint string) (*proxy, string) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p := &proxy{listener: l, target: strings.TrimPrefix(endpoint, "opc.tcp://"), now: pass}
	t.Cleanup(func() {
		l.Close()
		p.set(cut)
	})
	go p.serve()
	return p, "opc.tcp://" + l.Addr().String()
}

func (p *proxy) set(d damage) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.now = d
	if d == cut || d == refuse {
		for _, c := range p.conns {
			c.Close()
		}
		p.conns = nil
	}
}

func (p *proxy) accepted() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.count
}

func (p *proxy) mode() damage {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.now
}

func (p *proxy) serve() {
	for {
		c, err := p.listener.Accept()
		if err != nil {
			return
		}
		if p.mode() == refuse {
			c.Close()
			continue
		}
		s, err := net.Dial("tcp", p.target)
		if err != nil {
			c.Close()
			continue
		}
		p.mu.Lock()
		p.count++
		p.conns = append(p.conns, c, s)
		p.mu.Unlock()
		go p.copy(s, c, false)
		go p.copy(c, s, true)
	}
}

// copy passes bytes on; answers are damaged on their way back.
func (p *proxy) copy(dst, src net.Conn, back bool) {
	defer dst.Close()
	defer src.Close()
	buf := make([]byte, 64<<10)
	for {
		n, err := src.Read(buf)
		if err != nil {
			return
		}
		switch p.mode() {
		case swallow:
			continue
		case garbage:
			for i := 0; back && i < n; i += 7 {
				buf[i] ^= 0x55
			}
		case delay:
			if back {
				time.Sleep(faultTimeout * 3 / 2)
			}
		}
		if _, err := dst.Write(buf[:n]); err != nil {
			return
		}
	}
}

// TestFaultsDeliverNoWrongValue damages the connection in every way: what is
// delivered as good must be what the server has, and after the fault is over
// reading works again with a fresh session.
func TestFaultsDeliverNoWrongValue(t *testing.T) {
	want := map[string]float64{"level": 0.6125, "counts": 27648}
	for _, d := range []damage{cut, refuse, swallow, garbage, delay} {
		t.Run(string(d), func(t *testing.T) {
			t.Parallel()
			endpoint := startServer(t, map[string]func() *ua.DataValue{"level": fixed(0.6125), "counts": fixed(uint16(27648))})
			p, through := startProxy(t, endpoint)
			src, err := New(Options{Name: "test", Endpoint: through, Timeout: faultTimeout, Security: clear()},
				[]Item{{"level", "nsu=" + testSpace + ";s=level"}, {"counts", "nsu=" + testSpace + ";s=counts"}}, machine{})
			if err != nil {
				t.Fatal(err)
			}
			defer src.Close()
			right := func() (all bool) {
				got, err := src.Read(t.Context())
				all = err == nil
				for _, s := range got {
					if s.Quality == quantity.Good && s.Value != want[string(s.Tag)] {
						t.Errorf("%s delivered as good with value %v", s.Tag, s.Value)
					}
					all = all && s.Quality == quantity.Good
				}
				return all
			}
			if !right() {
				t.Fatal("not read before the fault")
			}
			p.set(d)
			damaged := false
			for range 3 {
				damaged = !right() || damaged
			}
			if !damaged {
				t.Error("the fault was not noticed")
			}
			p.set(pass)
			for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(100 * time.Millisecond) {
				if right() {
					return
				}
			}
			t.Error("not read again after the fault")
		})
	}
}
