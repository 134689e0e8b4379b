package modbus_test

import (
	"context"
	"fmt"
	"net"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector/collectortest"
	"bridlewatch/collector/modbus"
	"bridlewatch/collector/poll"
	"bridlewatch/compare/quantity"
)

// transport is one way to reach a device, with a proxy in between.
type transport struct {
	name    string
	framing modbus.Framing
	ignore  bool
}

var transports = []transport{
	{"TCP", modbus.TCP, false},
	{"TCP, ids ignored", modbus.TCP, true},
	{"RTU over TCP", modbus.RTUOverTCP, false},
	{"RTU on a line", modbus.RTU, false},
}

// faultTimeout is the time-out of an answer in the fault tests.
const faultTimeout = 60 * time.Millisecond

// connect starts a device behind a proxy and returns the endpoint for it.
func (tr transport) connect(t *testing.T, d *collectortest.Device, seed uint64) (modbus.Endpoint, *collectortest.Proxy) {
	t.Helper()
	e := modbus.Endpoint{Name: "device", Framing: tr.framing, IgnoreTransactionID: tr.ignore, Timeout: faultTimeout, ProbeEvery: 100 * time.Millisecond, Baud: 115200, Parity: "none", StopBits: 1}
	p := collectortest.NewProxy(tr.framing != modbus.TCP, faultTimeout, seed)
	if tr.framing == modbus.RTU {
		line, err := collectortest.NewLine()
		if err != nil {
			t.Fatal(err)
		}
		near, far := net.Pipe()
		done := make(chan struct{})
		go func() { defer close(done); d.ServeRTU(far) }()
		go p.Pass(line, near)
		t.Cleanup(func() { line.Close(); p.Close(); <-done })
		e.Address = line.Path
		return e, p
	}
	device := serve(t, tr.framing, d)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	go func() { defer close(done); p.Serve(l, device) }()
	t.Cleanup(func() { l.Close(); <-done; p.Close() })
	e.Address = l.Addr().String()
	return e, p
}

// plant is a device of two units with three blocks each, all of one shape,
// so that every mix-up is possible. Each value tells its unit, its address
// and the epoch, so that every mix-up is seen.
type plant struct {
	device *collectortest.Device
	fields []modbus.Field
	epoch  int
}

func newPlant() *plant {
	p := &plant{device: collectortest.NewDevice()}
	for unit := 1; unit <= 2; unit++ {
		p.device.Add(byte(unit), &collectortest.Unit{Holding: map[int]uint16{}})
		for block := range 3 {
			for i := range 2 {
				p.fields = append(p.fields, register(fmt.Sprintf("%d.%d.%d", unit, block, i), unit, 200*block+i))
			}
		}
	}
	p.turn()
	return p
}

// turn changes every value.
func (p *plant) turn() {
	p.epoch++
	for _, f := range p.fields {
		p.device.Update(byte(f.UnitID), func(u *collectortest.Unit) { u.Holding[f.Address] = p.value(f) })
	}
}

func (p *plant) value(f modbus.Field) uint16 {
	return uint16(p.epoch*64 + f.UnitID*16 + f.Address/200*4 + f.Address%200)
}

// scan reads once and counts good, bad and wrong values.
func (p *plant) scan(t *testing.T, s *modbus.Source) (good, bad, wrong int, reasons map[quantity.Reason]int) {
	p.turn()
	ctx, cancel := context.WithTimeout(t.Context(), 600*time.Millisecond)
	defer cancel()
	samples, _ := s.Read(ctx)
	reasons = map[quantity.Reason]int{}
	for i, sample := range samples {
		switch {
		case sample.Quality != quantity.Good:
			bad++
			reasons[sample.Reason]++
		case sample.Value != float64(p.value(p.fields[i])):
			wrong++
			t.Logf("WRONG: %s is %v, not %v", sample.Tag, sample.Value, p.value(p.fields[i]))
		default:
			good++
		}
	}
	return good, bad, wrong, reasons
}

// harmless are the faults that must not cost a value, by transport.
func harmless(f collectortest.Fault, tr transport) bool {
	switch f {
	case collectortest.Delay, collectortest.Split, collectortest.Duplicate:
		return true
	case collectortest.DuplicateLater, collectortest.OldTransaction:
		return false
	}
	return false
}

// TestFaults puts every fault on every transport, first now and then and
// then always, and demands that no wrong value is ever delivered and that
// everything is good again soon after the fault has gone.
func TestFaults(t *testing.T) {
	for _, tr := range transports {
		for _, fault := range collectortest.Faults() {
			t.Run(tr.name+"/"+string(fault), func(t *testing.T) {
				t.Parallel()
				row := runFault(t, tr, fault)
				t.Logf("| %s | %s | %s |", tr.name, fault, row)
			})
		}
	}
}

func runFault(t *testing.T, tr transport, fault collectortest.Fault) string {
	p := newPlant()
	e, proxy := tr.connect(t, p.device, 7)
	s, err := modbus.New(e, p.fields, poll.System{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	all := len(p.fields)
	if good, _, _, reasons := p.scan(t, s); good != all {
		samples, err := s.Read(t.Context())
		t.Fatalf("before the fault %d of %d good: %v; %v %v", good, all, reasons, err, samples[0])
	}
	var good, bad, wrong, damaged int
	seen := map[quantity.Reason]int{}
	for _, share := range []float64{0.3, 1} {
		proxy.Set(fault, share)
		for range 6 {
			g, b, w, reasons := p.scan(t, s)
			good, bad, wrong = good+g, bad+b, wrong+w
			for reason, n := range reasons {
				seen[reason] += n
			}
		}
		damaged += proxy.Damaged()
	}
	if damaged == 0 && !(fault == collectortest.HalfOpen) {
		t.Error("nothing was damaged")
	}
	proxy.Set(collectortest.NoFault, 0)
	recovery, w := p.recover(t, s)
	wrong += w
	if wrong > 0 {
		t.Errorf("%d wrong values delivered", wrong)
	}
	if recovery > 3*time.Second {
		t.Errorf("not recovered after %v", recovery)
	}
	if harmless(fault, tr) && bad > 0 {
		t.Errorf("%d values lost to a harmless fault: %v", bad, seen)
	}
	c := s.Counters()
	return fmt.Sprintf("%d%% good, rest %s | %v | %d stale, %d bad frames, %d reconnects | %d",
		100*good/(good+bad+wrong), reasonText(seen), recovery.Round(time.Millisecond), c.StaleFrames, c.BadFrames, c.Reconnects, wrong)
}

// recover scans until everything is good twice in a row.
func (p *plant) recover(t *testing.T, s *modbus.Source) (took time.Duration, wrong int) {
	start := time.Now()
	for inARow := 0; inARow < 2 && time.Since(start) < 5*time.Second; {
		good, _, w, _ := p.scan(t, s)
		wrong += w
		if good == len(p.fields) {
			if inARow == 0 {
				took = time.Since(start)
			}
			inARow++
			continue
		}
		inARow, took = 0, 5*time.Second
		time.Sleep(20 * time.Millisecond)
	}
	return took, wrong
}

func reasonText(seen map[quantity.Reason]int) string {
	var parts []string
	for r := quantity.Reason(0); r <= quantity.Unstable; r++ {
		if n := seen[r]; n > 0 {
			parts = append(parts, fmt.Sprintf("%s", r))
		}
	}
	if parts == nil {
		return "-"
	}
	return strings.Join(parts, ", ")
}
