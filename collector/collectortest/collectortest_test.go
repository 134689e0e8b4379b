package collectortest

import (
	"bytes"
	"encoding/hex"
	"errors"
	"io"
	"math/rand/v2"
	"net"
	"os"
	"syscall"
	"testing"
	"testing/synctest"
	"time"
)

// TestDeviceAnswers checks the device, which was written from the
// specification, against the examples of the Modbus Application Protocol
// Specification V1.1b3 (from memory).
func TestDeviceAnswers(t *testing.T) {
	d := NewDevice()
	u := &Unit{Holding: map[int]uint16{107: 0x022B, 108: 0, 109: 100}, Input: map[int]uint16{8: 10}, Coils: map[int]bool{}, Discrete: map[int]bool{}}
	for i, set := range []byte{0xCD, 0x6B, 0x05} {
		for bit := range 8 {
			u.Coils[19+8*i+bit] = set>>bit&1 == 1
		}
	}
	d.Add(1, u)
	rows := []struct{ name, request, want string }{
		{"clause 6.1, coils 20 to 38", "010100130013", "010103CD6B05"},
		{"clause 6.3, registers 108 to 110", "0103006B0003", "010306022B00000064"},
		{"clause 6.4, input register 9", "010400080001", "010402000A"},
		{"clause 7, no such address", "010104A10001", "018102"},
		{"clause 7, no such function", "010600010003", "018601"},
		{"clause 6.3, more than 125 registers", "01030000007E", "018303"},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			request, _ := hex.DecodeString(r.request)
			want, _ := hex.DecodeString(r.want)
			if got := d.Answer(request); !bytes.Equal(got, want) {
				t.Errorf("got % X, want % X", got, want)
			}
		})
	}
	if got := d.Answer([]byte{9, 3, 0, 0, 0, 1}); got != nil {
		t.Errorf("an absent unit answered % X", got)
	}
	if n := len(d.Requests()); n != len(rows)+1 {
		t.Errorf("%d requests remembered", n)
	}
}

// TestCRC: a worked example many introductions print (from memory).
func TestCRC(t *testing.T) {
	if got := CRC([]byte{0x11, 0x03, 0x00, 0x6B, 0x00, 0x03}); got != 0x8776 {
		t.Errorf("%04X, want 8776", got)
	}
}

func TestPipe(t *testing.T) {
	rows := []struct {
		name string
		act  func(near, far *End)
		want string
		err  error
	}{
		{"bytes wait to be read", func(_, far *End) { far.Write([]byte("abc")) }, "abc", nil},
		{"what was sent before a close arrives", func(_, far *End) { far.Write([]byte("abc")); far.Close() }, "abc", io.EOF},
		{"a reset loses it", func(_, far *End) { far.Write([]byte("abc")); far.SetLinger(0); far.Close() }, "", syscall.ECONNRESET},
		{"a deadline ends a read", func(near, _ *End) { near.SetDeadline(time.Now().Add(time.Second)) }, "", os.ErrDeadlineExceeded},
		{"a deadline that has passed does so at once", func(near, _ *End) { near.SetDeadline(time.Unix(1, 0)) }, "", os.ErrDeadlineExceeded},
		{"a later deadline counts", func(near, far *End) {
			near.SetDeadline(time.Unix(1, 0))
			near.SetDeadline(time.Now().Add(time.Hour))
			far.Write([]byte("abc"))
		}, "abc", nil},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				near, far := NewPipe()
				defer near.Close()
				defer far.Close()
				r.act(near, far)
				buffer := make([]byte, 8)
				got := ""
				var err error
				for err == nil && (got == "" || r.err != nil) {
					var n int
					n, err = near.Read(buffer)
					got += string(buffer[:n])
				}
				if got != r.want || !errors.Is(err, r.err) {
					t.Errorf("read %q, %v; want %q, %v", got, err, r.want, r.err)
				}
				time.Sleep(2 * time.Hour) // timers end
			})
		})
	}
}

// TestDamage looks at what each fault does to one frame.
func TestDamage(t *testing.T) {
	tcp := []byte{0, 9, 0, 0, 0, 5, 1, 3, 2, 0xAA, 0xBB}
	rtu := append([]byte{1, 3, 2, 0xAA, 0xBB}, 0, 0)
	(&pdu{frame: rtu, rtu: true}).seal()
	rng := rand.New(rand.NewPCG(1, 1))
	whole := func(pieces []piece) []byte {
		var all []byte
		for _, p := range pieces {
			all = append(all, p.bytes...)
		}
		return all
	}
	for _, f := range Faults() {
		for name, frame := range map[string][]byte{"tcp": tcp, "rtu": rtu} {
			t.Run(name+"/"+string(f), func(t *testing.T) {
				before := append([]byte(nil), frame...)
				got := whole(damage(f, name == "rtu", frame, time.Second, rng))
				if !bytes.Equal(frame, before) {
					t.Error("the frame itself was changed")
				}
				switch same := bytes.Equal(got, frame); f {
				case Delay, Split, Drip, Late, Stall, Chatter, Cut, Reset, HalfOpen, DuplicateLater: // only the time, or done by the proxy
					if !same && f != DuplicateLater {
						t.Errorf("% X", got)
					}
				case WrongTransaction, OldTransaction:
					if same != (name == "rtu") {
						t.Errorf("% X", got)
					}
				default:
					if same {
						t.Error("nothing was damaged")
					}
				}
				if sealed := f == WrongUnit || f == WrongFunction || f == LongCount || f == ShortCount || f == Exception; sealed && name == "rtu" {
					n := len(got) - 2
					if CRC(got[:n]) != uint16(got[n])|uint16(got[n+1])<<8 {
						t.Errorf("the checksum of % X does not fit", got)
					}
				}
			})
		}
	}
}

// TestProxyOnSockets passes frames on and counts what it damages.
func TestProxyOnSockets(t *testing.T) {
	device := listen(t)
	d := NewDevice()
	d.Add(1, &Unit{Holding: map[int]uint16{0: 7}})
	go d.ServeTCP(device)
	front := listen(t)
	p := NewProxy(false, time.Second, 1)
	go p.Serve(front, device.Addr().String())
	defer p.Close()
	c, err := net.Dial("tcp", front.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	c.SetDeadline(time.Now().Add(20 * time.Second))
	ask := func() []byte {
		c.Write([]byte{0, 1, 0, 0, 0, 6, 1, 3, 0, 0, 0, 1})
		answer := make([]byte, 11)
		if _, err := io.ReadFull(c, answer); err != nil {
			t.Fatal(err)
		}
		return answer
	}
	want := []byte{0, 1, 0, 0, 0, 5, 1, 3, 2, 0, 7}
	if got := ask(); !bytes.Equal(got, want) || p.Damaged() != 0 {
		t.Errorf("% X", got)
	}
	p.Set(WrongUnit, 1)
	if got := ask(); got[6] != 2 || p.Damaged() != 1 {
		t.Errorf("% X", got)
	}
}

func listen(t *testing.T) net.Listener {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	return l
}
