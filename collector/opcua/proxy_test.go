package opcua

import (
	"encoding/binary"
	"io"
	"net"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gopcua/opcua/id"
	"github.com/gopcua/opcua/ua"
)

// damage is what a proxy does to a connection.
type damage string

const (
	pass     damage = "pass"
	cut      damage = "cut"             // closes what is open, lets new ones through
	refuse   damage = "refuse"          // closes everything at once
	swallow  damage = "half open"       // takes bytes and gives none
	tardy    damage = "late"            // answers come after the client gave up
	lose     damage = "answer lost"     // every second answer
	twice    damage = "answer twice"    //
	swap     damage = "answers swapped" // each second one overtakes the one before
	truncate damage = "answer cut off"  // half an answer, then the end
	garbage  damage = "garbage"         // bytes all over each answer
	flip     damage = "bit flipped"     // one bit near the end of each answer
	trickle  damage = "byte by byte"
	expel    damage = "session closed" // the server knows the session no more
)

// proxy stands between client and server and damages the answers.
type proxy struct {
	listener net.Listener
	target   string
	lateness time.Duration

	mu    sync.Mutex
	now   damage
	conns []net.Conn
	count int // connections accepted
}

func startProxy(t testing.TB, endpoint string, lateness time.Duration) (*proxy, string) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p := &proxy{listener: l, target: target(endpoint), lateness: lateness, now: pass}
	t.Cleanup(func() {
		l.Close()
		p.set(cut)
	})
	go p.serve()
	return p, "opc.tcp://" + l.Addr().String()
}

// target is the host and port of an endpoint.
func target(endpoint string) string {
	host, _, _ := strings.Cut(strings.TrimPrefix(endpoint, "opc.tcp://"), "/")
	return host
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

// move sends new connections to another server.
func (p *proxy) move(endpoint string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.target = target(endpoint)
}

func (p *proxy) server() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.target
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
		s, err := net.Dial("tcp", p.server())
		if err != nil {
			c.Close()
			continue
		}
		p.mu.Lock()
		p.count++
		p.conns = append(slices.DeleteFunc(p.conns, closed), c, s)
		p.mu.Unlock()
		go p.requests(s, c)
		go p.answers(c, s)
	}
}

// closed says that a connection is not open any more.
func closed(c net.Conn) bool { return c.SetDeadline(time.Time{}) != nil }

// requests passes what the client sends.
func (p *proxy) requests(server, client net.Conn) {
	defer server.Close()
	defer client.Close()
	buf := make([]byte, 64<<10)
	for {
		n, err := client.Read(buf)
		if err != nil {
			return
		}
		if p.mode() == swallow {
			continue
		}
		if _, err := server.Write(buf[:n]); err != nil {
			return
		}
	}
}

// answers passes what the server sends, one chunk (OPC 10000-6, 6.7.2: type,
// kind, length) at a time.
func (p *proxy) answers(client, server net.Conn) {
	defer server.Close()
	defer client.Close()
	var held []byte
	for n := 0; ; n++ {
		chunk := make([]byte, 8)
		if _, err := io.ReadFull(server, chunk); err != nil {
			return
		}
		size := binary.LittleEndian.Uint32(chunk[4:])
		if size < 8 || size > 1<<20 {
			return
		}
		chunk = append(chunk, make([]byte, size-8)...)
		if _, err := io.ReadFull(server, chunk[8:]); err != nil {
			return
		}
		out := chunk
		switch p.mode() {
		case swallow:
			continue
		case tardy:
			time.Sleep(p.lateness)
		case lose:
			if n%2 == 0 {
				continue
			}
		case twice:
			out = append(slices.Clone(chunk), chunk...)
		case swap:
			if held == nil {
				held = chunk
				continue
			}
			out, held = append(chunk, held...), nil
		case truncate:
			client.Write(chunk[:size/2])
			return
		case garbage:
			for i := 0; i < len(out); i += 7 {
				out[i] ^= 0x55
			}
		case flip:
			out[len(out)-6] ^= 0x10
		case trickle:
			for i := range out[:len(out)-1] {
				if _, err := client.Write(out[i : i+1]); err != nil {
					return
				}
			}
			out = out[len(out)-1:]
		case expel:
			out = fault(chunk, ua.StatusBadSessionIDInvalid)
		}
		if _, err := client.Write(out); err != nil {
			return
		}
	}
}

// fault is a service fault instead of an answer without security (OPC 10000-6,
// 6.7.2: the message header has 24 bytes, the response header follows the type
// of the body). Other chunks pass.
func fault(chunk []byte, code ua.StatusCode) []byte {
	const header, typeID = 24, 4
	if string(chunk[:4]) != "MSGF" || len(chunk) < header+typeID+12 {
		return chunk
	}
	kind, err1 := ua.Encode(ua.NewFourByteNodeID(0, uint16(id.ServiceFault_Encoding_DefaultBinary)))
	body, err2 := ua.Encode(&ua.ServiceFault{ResponseHeader: &ua.ResponseHeader{
		Timestamp: time.Now(), RequestHandle: binary.LittleEndian.Uint32(chunk[header+typeID+8:]), ServiceResult: code,
		ServiceDiagnostics: &ua.DiagnosticInfo{}, StringTable: []string{}, AdditionalHeader: ua.NewExtensionObject(nil),
	}})
	if err1 != nil || err2 != nil {
		return chunk
	}
	out := slices.Concat(chunk[:header], kind, body)
	binary.LittleEndian.PutUint32(out[4:], uint32(len(out)))
	return out
}
