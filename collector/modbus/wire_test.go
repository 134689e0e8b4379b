package modbus

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	library "github.com/goburrow/modbus"
)

// still is a clock in which no time passes.
type still struct{}

func (still) Now() time.Time                             { return time.Unix(1_000_000, 0) }
func (still) Sleep(context.Context, time.Duration) error { return nil }

// tape is a port that plays an answer and then falls silent.
type tape struct {
	answer  *bytes.Reader
	written []byte
}

func (p *tape) Read(b []byte) (int, error) {
	n, err := p.answer.Read(b)
	if errors.Is(err, io.EOF) {
		err = os.ErrDeadlineExceeded
	}
	return n, err
}
func (p *tape) Write(b []byte) (int, error) { p.written = append(p.written, b...); return len(b), nil }
func (*tape) Close() error                  { return nil }
func (*tape) SetDeadline(time.Time) error   { return nil }

// ask plays an answer to the request a unit sends.
func ask(framing Framing, transaction uint16, id byte, table Table, address, quantity int, answer []byte) (data, request []byte, err error) {
	l := newLink(Endpoint{Name: "tape", Framing: framing}.withDefaults(), still{}, &counters{})
	port := &tape{answer: bytes.NewReader(answer)}
	l.port, l.ids = port, transaction-1
	data, err = newUnit(id, l).ask(table, address, quantity)
	return data, port.written, err
}

// exchange is one line of the corpus.
type exchange struct {
	name            string
	framing         Framing
	request, answer []byte
	outcome         string
}

func exchanges(t testing.TB) []exchange {
	t.Helper()
	text, err := os.ReadFile("../../testdata/wire/modbus/exchanges.txt")
	if err != nil {
		t.Fatal(err)
	}
	frame := func(s string) []byte {
		b, err := hex.DecodeString(strings.ReplaceAll(s, " ", ""))
		if err != nil {
			t.Fatalf("%q: %v", s, err)
		}
		return b
	}
	var all []exchange
	for line := range strings.Lines(string(text)) {
		line = strings.TrimSpace(line)
		if line == "" || line[0] == '#' {
			continue
		}
		columns := strings.Split(line, "|")
		if len(columns) != 5 {
			t.Fatalf("%q: %d columns", line, len(columns))
		}
		for i := range columns {
			columns[i] = strings.TrimSpace(columns[i])
		}
		all = append(all, exchange{columns[0], Framing(columns[1]), frame(columns[2]), frame(columns[3]), columns[4]})
	}
	return all
}

// parts takes a request frame apart.
func (x exchange) parts() (transaction uint16, id byte, table Table, address, quantity int) {
	pdu := x.request
	if x.framing == TCP {
		transaction = uint16(pdu[0])<<8 | uint16(pdu[1])
		pdu = pdu[6:]
	}
	table = map[byte]Table{1: Coil, 2: Discrete, 3: Holding, 4: Input}[pdu[1]]
	return transaction, pdu[0], table, int(pdu[2])<<8 | int(pdu[3]), int(pdu[4])<<8 | int(pdu[5])
}

func TestExchanges(t *testing.T) {
	all := exchanges(t)
	if len(all) < 25 {
		t.Fatalf("only %d exchanges", len(all))
	}
	for _, x := range all {
		t.Run(x.name, func(t *testing.T) {
			transaction, id, table, address, quantity := x.parts()
			data, request, err := ask(x.framing, transaction, id, table, address, quantity, x.answer)
			if !bytes.Equal(request[:len(x.request)], x.request) {
				t.Errorf("sent % X, want % X", request, x.request)
			}
			if got := outcome(data, err); got != x.outcome {
				t.Errorf("got %s (%v), want %s", got, err, x.outcome)
			}
		})
	}
}

func outcome(data []byte, err error) string {
	var exception *ExceptionError
	switch {
	case err == nil:
		return strings.ToUpper(hex.EncodeToString(data))
	case errors.As(err, &exception):
		return fmt.Sprintf("exception %d", exception.Code)
	case damaged(err):
		return "shape"
	}
	return "silence"
}

// FuzzAnswer holds the reader to its promise for any bytes a line may bring:
// no panic, and data only from a frame that is exactly the answer.
func FuzzAnswer(f *testing.F) {
	for _, x := range exchanges(f) {
		_, _, _, _, quantity := x.parts()
		f.Add(x.framing == TCP, byte(quantity), x.answer)
	}
	checksum := library.NewRTUClientHandler("")
	f.Fuzz(func(t *testing.T, tcp bool, n byte, answer []byte) {
		quantity := 1 + int(n)%MaxRegisters
		framing := RTUOverTCP
		if tcp {
			framing = TCP
		}
		data, _, err := ask(framing, 7, 17, Holding, 0, quantity, answer)
		if err != nil {
			return
		}
		if len(data) != 2*quantity {
			t.Fatalf("%d bytes for %d registers", len(data), quantity)
		}
		head := []byte{17, 3, byte(2 * quantity)}
		at := bytes.Index(answer, append(head, data...))
		if at < 0 {
			t.Fatal("data that no frame carried")
		}
		if tcp && !bytes.Equal(answer[at-6:at-2], []byte{0, 7, 0, 0}) {
			t.Fatalf("data of another transaction: % X", answer)
		}
		if !tcp {
			if _, err := checksum.Decode(answer[at : at+5+len(data)]); err != nil {
				t.Fatal(err)
			}
		}
	})
}

// TestDecode: the numbers by hand, the byte orders by the definition of their
// names.
func TestDecode(t *testing.T) {
	const order, hand = "definition of the order", "IEEE 754-2019, by hand"
	rows := []struct {
		name, source string
		typ          Type
		order        Order
		bit          int
		data         []byte
		want         float64
	}{
		{"uint16", hand, Uint16, ABCD, 0, []byte{0xAB, 0xCD}, 0xABCD},
		{"uint16 swapped", order, Uint16, BADC, 0, []byte{0xAB, 0xCD}, 0xCDAB},
		{"uint16 CDAB has one word", order, Uint16, CDAB, 0, []byte{0xAB, 0xCD}, 0xABCD},
		{"int16 lowest", hand, Int16, ABCD, 0, []byte{0x80, 0x00}, -32768},
		{"int16 -1", hand, Int16, "", 0, []byte{0xFF, 0xFF}, -1},
		{"uint32 ABCD", order, Uint32, ABCD, 0, []byte{0xAA, 0xBB, 0xCC, 0xDD}, 0xAABBCCDD},
		{"uint32 CDAB", order, Uint32, CDAB, 0, []byte{0xCC, 0xDD, 0xAA, 0xBB}, 0xAABBCCDD},
		{"uint32 BADC", order, Uint32, BADC, 0, []byte{0xBB, 0xAA, 0xDD, 0xCC}, 0xAABBCCDD},
		{"uint32 DCBA", order, Uint32, DCBA, 0, []byte{0xDD, 0xCC, 0xBB, 0xAA}, 0xAABBCCDD},
		{"int32 lowest", hand, Int32, ABCD, 0, []byte{0x80, 0, 0, 0}, -2147483648},
		{"uint64 ABCDEFGH", order, Uint64, ABCD, 0, []byte{0, 0, 0xA1, 0xB2, 0xC3, 0xD4, 0xE5, 0xF6}, 0xA1B2C3D4E5F6},
		{"uint64 GHEFCDAB", order, Uint64, CDAB, 0, []byte{0xE5, 0xF6, 0xC3, 0xD4, 0xA1, 0xB2, 0, 0}, 0xA1B2C3D4E5F6},
		{"uint64 BADCFEHG", order, Uint64, BADC, 0, []byte{0, 0, 0xB2, 0xA1, 0xD4, 0xC3, 0xF6, 0xE5}, 0xA1B2C3D4E5F6},
		{"uint64 HGFEDCBA", order, Uint64, DCBA, 0, []byte{0xF6, 0xE5, 0xD4, 0xC3, 0xB2, 0xA1, 0, 0}, 0xA1B2C3D4E5F6},
		{"int64 -1", hand, Int64, ABCD, 0, bytes.Repeat([]byte{0xFF}, 8), -1},
		{"float32 1", hand, Float32, ABCD, 0, []byte{0x3F, 0x80, 0, 0}, 1},
		{"float32 -2.5 DCBA", hand, Float32, DCBA, 0, []byte{0, 0, 0x20, 0xC0}, -2.5},
		{"float32 infinity", hand, Float32, ABCD, 0, []byte{0x7F, 0x80, 0, 0}, math.Inf(1)},
		{"float64 -0.1", hand, Float64, ABCD, 0, []byte{0xBF, 0xB9, 0x99, 0x99, 0x99, 0x99, 0x99, 0x9A}, -0.1},
		{"bit 0", hand, Bit, ABCD, 0, []byte{0, 1}, 1},
		{"bit 15", hand, Bit, ABCD, 15, []byte{0x80, 0}, 1},
		{"bit 15 clear", hand, Bit, ABCD, 15, []byte{0x7F, 0xFF}, 0},
		{"bit 8 swapped", order, Bit, BADC, 8, []byte{0, 1}, 1},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			if got := Decode(r.typ, r.order, r.bit, r.data); got != r.want {
				t.Errorf("got %v, want %v; source: %s", got, r.want, r.source)
			}
		})
	}
}

// FuzzDecode compares every order with a rearrangement of the bytes written
// out one by one.
func FuzzDecode(f *testing.F) {
	f.Add([]byte{1, 2, 3, 4, 5, 6, 7, 8})
	f.Add(bytes.Repeat([]byte{0xFF}, 8))
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) < 8 {
			return
		}
		d := data[:8]
		for _, typ := range []Type{Uint16, Int16, Uint32, Int32, Float32, Uint64, Int64, Float64} {
			n := 2 * typ.width()
			for _, o := range Orders() {
				var plain [8]byte
				for i := range n {
					from := map[Order]int{ABCD: i, BADC: i ^ 1, DCBA: n - 1 - i, CDAB: (n - 1 - i) ^ 1}[o]
					plain[i] = d[from]
				}
				got, want := Decode(typ, o, 0, d), Decode(typ, ABCD, 0, plain[:])
				if got != want && !(math.IsNaN(got) && math.IsNaN(want)) {
					t.Fatalf("%s %s of % X: %v, want %v", typ, o, d, got, want)
				}
			}
		}
	})
}

// TestDebts keeps the books of what a line owes.
func TestDebts(t *testing.T) {
	const timeout = time.Second
	start := time.Unix(1_000_000, 0)
	a, b, other := shapeOfRead(1, Holding, 2), shapeOfRead(1, Holding, 1), shapeOfRead(2, Holding, 2)
	rows := []struct {
		name   string
		fenced bool
		age    time.Duration
		owed   bool
	}{
		{"young", false, timeout, true},
		{"young and fenced", true, timeout, true},
		{"older, but the unit has answered nothing since", false, 10 * timeout, true},
		{"older, and the unit has answered since", true, 10 * timeout, false},
		{"older than any device can be late", false, 3 * time.Minute, false},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			var d debts
			d.enter(debt{shape: a, since: start})
			d.enter(debt{shape: a, since: start})
			d.enter(debt{shape: other, since: start.Add(r.age)})
			if len(d) != 2 || d.owes(b) || !d.ofUnit(1) {
				t.Fatalf("books %v", d)
			}
			if r.fenced {
				d.fence(1)
			}
			d.writeOff(start.Add(r.age), timeout)
			if d.owes(a) != r.owed || !d.owes(other) {
				t.Errorf("books %v", d)
			}
			if d.paid(a) != r.owed || d.ofUnit(1) {
				t.Errorf("books after payment %v", d)
			}
		})
	}
}

// TestRefusals: which request a refusal answers.
func TestRefusals(t *testing.T) {
	at := time.Unix(1_000_000, 0)
	owed := func(unit byte, registers int, odd bool) debt {
		return debt{shape: shapeOfRead(unit, Holding, registers), since: at, odd: odd}
	}
	rows := []struct {
		name       string
		debts      debts
		this       bool // the refusal answers the request just sent
		left       int
		fencedLeft int
	}{
		{"nothing owed", nil, true, 0, 0},
		{"only what is never refused", debts{owed(1, 2, false), owed(1, 3, false)}, true, 2, 2},
		{"an odd one is owed", debts{owed(1, 2, false), owed(1, 5, true), owed(1, 3, false)}, false, 3, 2},
		{"two odd ones are owed", debts{owed(1, 5, true), owed(1, 2, false), owed(1, 6, true)}, false, 3, 1},
		{"an odd one is owed, though the unit has answered since", debts{{shape: shapeOfRead(1, Holding, 5), odd: true, fenced: true}, owed(1, 2, false)}, false, 2, 2},
		{"of another unit", debts{owed(2, 5, true)}, true, 1, 0},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			if got := r.debts.refusal(1); got != r.this {
				t.Errorf("answers the request just sent: %v", got)
			}
			fenced := 0
			for _, d := range r.debts {
				if d.fenced {
					fenced++
				}
			}
			if len(r.debts) != r.left || fenced != r.fencedLeft {
				t.Errorf("%d left, %d of them fenced; want %d and %d", len(r.debts), fenced, r.left, r.fencedLeft)
			}
		})
	}
}

// TestCut takes a place out of a wider answer.
func TestCut(t *testing.T) {
	data := []byte{0, 1, 2, 3, 4, 5, 6, 7}
	rows := []struct {
		name        string
		wide, inner place
		want        []byte
	}{
		{"registers at the start", place{Holding, 10, 4}, place{Holding, 10, 2}, data[0:4]},
		{"registers at the end", place{Holding, 10, 4}, place{Holding, 12, 2}, data[4:8]},
		{"bits at the start", place{Coil, 10, 13}, place{Coil, 10, 5}, data[0:1]},
		{"bits after one byte", place{Coil, 2, 13}, place{Coil, 10, 5}, data[1:2]},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			if got := r.wide.cut(data, r.inner); !bytes.Equal(got, r.want) {
				t.Errorf("got % X, want % X", got, r.want)
			}
		})
	}
}
