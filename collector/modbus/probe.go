package modbus

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"bridlewatch/collector"
)

// Probe is a careful look at an endpoint nobody has described: which framing
// answers, which units are there, and what some registers could mean. It
// only reads, one request at a time with a pause in between, and stops at a
// limit, so that a line in service is not flooded.
type Probe struct {
	Address  string
	Framings []Framing // in the order they are tried; empty: TCP and RTU over TCP for host:port, RTU for a device
	Bauds    []int     // RTU; empty: 9600, 19200, 38400, 57600, 115200
	Parities []string  // RTU; empty: even, none, odd
	Units    []int     // empty: 1 to 16, 247 and, with TCP, 255 and 0

	Table    Table // of the registers to look at; empty: holding and, where it is refused, input
	Register int
	Quantity int // of registers; 0 means 8, at most 32

	Timeout time.Duration // of one answer; 0 means 300 ms
	Pause   time.Duration // between two requests; 0 means 50 ms
	Limit   int           // of requests; 0 means 200
}

// Found is what a probe has found.
type Found struct {
	Address  string
	Framing  Framing
	Baud     int    // RTU
	Parity   string // RTU
	Units    []FoundUnit
	Requests int  // sent
	Cut      bool // the limit ended the probe
}

// FoundUnit is one unit that answered.
type FoundUnit struct {
	UnitID    int
	Table     Table
	Register  int
	Registers []uint16 // nil when the unit refused
	Refusal   string   // the exception it answered
	Took      time.Duration
	Order     Order // the word order its numbers suggest; empty when they do not
}

// ErrNothingFound says that nothing answered in any framing.
var ErrNothingFound = errors.New("modbus: nothing answered; check address, power, baud rate and parity, and that no other master holds the connection")

// errLimit ends a probe.
var errLimit = errors.New("modbus: the limit of requests is reached")

func (p Probe) withDefaults() Probe {
	if len(p.Framings) == 0 {
		p.Framings = []Framing{TCP, RTUOverTCP}
		if len(p.Address) > 0 && p.Address[0] == '/' {
			p.Framings = []Framing{RTU}
		}
	}
	if len(p.Bauds) == 0 {
		p.Bauds = []int{9600, 19200, 38400, 57600, 115200}
	}
	if len(p.Parities) == 0 {
		p.Parities = []string{"even", "none", "odd"}
	}
	if p.Quantity <= 0 {
		p.Quantity = 8
	}
	p.Quantity = min(p.Quantity, 32)
	if p.Timeout <= 0 {
		p.Timeout = 300 * time.Millisecond
	}
	if p.Pause <= 0 {
		p.Pause = 50 * time.Millisecond
	}
	if p.Limit <= 0 {
		p.Limit = 200
	}
	return p
}

// units are those to ask in a framing.
func (p Probe) units(f Framing) []int {
	if len(p.Units) > 0 {
		return p.Units
	}
	units := []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 247}
	if f == TCP {
		return append([]int{1, 255, 0}, units[1:]...)
	}
	return units
}

// endpoints are the settings to try.
func (p Probe) endpoints() []Endpoint {
	var all []Endpoint
	for _, f := range p.Framings {
		e := Endpoint{Name: "probe", Address: p.Address, Framing: f, Timeout: p.Timeout, PauseBetweenRequests: p.Pause}
		if f != RTU {
			all = append(all, e.withDefaults())
			continue
		}
		for _, baud := range p.Bauds {
			for _, parity := range p.Parities {
				e.Baud, e.Parity, e.StopBits = baud, parity, 1
				all = append(all, e.withDefaults())
			}
		}
	}
	return all
}

// Run probes until everything asked for is known, the limit is reached or
// ctx ends. The settings in which a unit answers first are taken for those of
// the endpoint. Nothing at all is ErrNothingFound or why there is no
// connection.
func (p Probe) Run(ctx context.Context, clock collector.Clock) (Found, error) {
	p = p.withDefaults()
	found := Found{Address: p.Address}
	failure := ErrNothingFound
	for _, e := range p.endpoints() {
		err := p.try(ctx, clock, e, &found)
		var connect *ConnectError
		switch {
		case errors.Is(err, errLimit):
			found.Cut = true
		case errors.As(err, &connect):
			failure = err
		case err != nil:
			return found, err
		}
		if len(found.Units) > 0 || found.Cut {
			break
		}
	}
	if len(found.Units) == 0 {
		return found, failure
	}
	return found, nil
}

// try asks every unit in one setting.
func (p Probe) try(ctx context.Context, clock collector.Clock, e Endpoint, found *Found) error {
	l := newLink(e, clock, &counters{})
	defer l.Close()
	defer l.begin(ctx)()
	for _, id := range p.units(e.Framing) {
		if found.Requests >= p.Limit {
			return errLimit
		}
		found.Requests++
		start := clock.Now()
		_, err := p.ask(l, id, p.tables()[0], 1)
		took := clock.Now().Sub(start)
		var exception *ExceptionError
		switch {
		case ctx.Err() != nil, errors.Is(err, errOutOfTime):
			return cmp.Or(ctx.Err(), context.DeadlineExceeded)
		case err == nil, errors.As(err, &exception) && !exception.gateway():
			found.Framing, found.Baud, found.Parity = e.Framing, 0, ""
			if e.Framing == RTU {
				found.Baud, found.Parity = e.Baud, e.Parity
			}
			found.Units = append(found.Units, p.look(l, id, took, found))
		case !unheard(err) && !isCut(err):
			return err
		}
	}
	return nil
}

func (p Probe) tables() []Table {
	if p.Table == "" {
		return []Table{Holding, Input}
	}
	return []Table{p.Table}
}

// ask sends one request, after a fence where one is needed.
func (p Probe) ask(l *link, id int, table Table, quantity int) ([]byte, error) {
	return newUnit(byte(id), l).read(table, p.Register, quantity)
}

// look reads the registers of a unit that answers, fewer when it refuses
// many.
func (p Probe) look(l *link, id int, took time.Duration, found *Found) FoundUnit {
	u := FoundUnit{UnitID: id, Register: p.Register, Took: took}
	for _, table := range p.tables() {
		for quantity := p.Quantity; quantity > 0 && found.Requests < p.Limit; quantity /= 2 {
			found.Requests++
			data, err := p.ask(l, id, table, quantity)
			if err == nil {
				u.Table, u.Registers, u.Refusal = table, registers(data), ""
				u.Order = suggestOrder(u.Registers)
				return u
			}
			u.Refusal = fmt.Sprintf("%s: %v", table, err)
		}
	}
	return u
}

func registers(data []byte) []uint16 {
	words := make([]uint16, len(data)/2)
	for i := range words {
		words[i] = uint16(data[2*i])<<8 | uint16(data[2*i+1])
	}
	return words
}

// suggestOrder is the order in which most pairs of registers look like
// 32-bit floating point numbers of a plant: between a millionth and ten
// million. It is a suggestion; a tie gives none.
func suggestOrder(words []uint16) Order {
	scores := map[Order]int{}
	for i := 0; i+1 < len(words); i += 2 {
		if words[i] == 0 && words[i+1] == 0 {
			continue
		}
		for _, o := range Orders() {
			if v := decodeWords(Float32, o, words[i:]); plausible(v) {
				scores[o]++
			}
		}
	}
	orders := slices.Clone(Orders())
	slices.SortStableFunc(orders, func(a, b Order) int { return scores[b] - scores[a] })
	if scores[orders[0]] == scores[orders[1]] {
		return ""
	}
	return orders[0]
}

// plausible says that a number has the size of one from a plant. Integers
// read as floating point numbers are tiny or huge.
func plausible(v float64) bool {
	size := max(v, -v)
	return size >= 1e-6 && size <= 1e7
}

func decodeWords(t Type, o Order, words []uint16) float64 {
	var data [8]byte
	for i := range t.width() {
		data[2*i], data[2*i+1] = byte(words[i]>>8), byte(words[i])
	}
	return Decode(t, o, 0, data[:])
}
