package modbus_test

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"bridlewatch/collector"
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

// The time-out of an answer, and how late the proxy makes answers that are
// late.
const faultTimeout = 60 * time.Millisecond

// rig is a device, a proxy that damages what it answers, and a source that
// reads it, all in memory and in fake time.
type rig struct {
	*plant
	proxy  *collectortest.Proxy
	source *modbus.Source
}

func (tr transport) endpoint() modbus.Endpoint {
	return modbus.Endpoint{Name: "device", Framing: tr.framing, Address: "memory", IgnoreTransactionID: tr.ignore,
		Timeout: faultTimeout, ProbeEvery: 100 * time.Millisecond, Baud: 115200, Parity: "none", StopBits: 1}
}

// line is a serial line: it cannot be closed by the other end, and opening it
// anew finds what is still on it.
type line struct{ io.ReadWriteCloser }

// sameLine is the near end of a line. Closing the device file does not end
// the line.
type sameLine struct{ *collectortest.End }

func (sameLine) Close() error { return nil }

// newRig puts a rig together. It must be closed.
func newRig(t *testing.T, tr transport, seed uint64) *rig {
	t.Helper()
	p := newPlant()
	proxy := collectortest.NewProxy(tr.framing != modbus.TCP, faultTimeout, seed)
	return &rig{plant: p, proxy: proxy, source: tr.attach(t, tr.endpoint(), p.device, proxy, p.fields...)}
}

// attach makes a source that reads a device in memory, through a proxy unless
// that is nil. Each connection is a pipe of its own; a serial line is always
// the same one.
func (tr transport) attach(t *testing.T, e modbus.Endpoint, d *collectortest.Device, proxy *collectortest.Proxy, fields ...modbus.Field) *modbus.Source {
	t.Helper()
	s, err := modbus.New(e, fields, poll.System{})
	if err != nil {
		t.Fatal(err)
	}
	serve := func(line io.ReadWriter) {
		if tr.framing == modbus.TCP {
			d.ServeOneTCP(line)
		} else {
			d.ServeRTU(line)
		}
	}
	pass := func(client io.ReadWriteCloser) {
		if proxy == nil {
			go serve(client)
			return
		}
		upstream, device := collectortest.NewPipe()
		go serve(device)
		go proxy.Pass(client, upstream)
	}
	var near *collectortest.End
	t.Cleanup(func() {
		if near != nil {
			near.Close()
		}
	})
	s.SetDial(func(context.Context) (modbus.Port, error) {
		if near != nil && tr.framing == modbus.RTU {
			return sameLine{near}, nil
		}
		var far *collectortest.End
		near, far = collectortest.NewPipe()
		if tr.framing == modbus.RTU {
			pass(line{far})
			return sameLine{near}, nil
		}
		pass(far)
		return near, nil
	})
	return s
}

func (r *rig) close() {
	r.source.Close()
	r.proxy.Close()
	time.Sleep(time.Minute) // what is on its way arrives
}

// plant is a device of two units with three blocks each, all of one shape,
// so that every mix-up is possible. Each value tells its unit, its address
// and the epoch, so that every mix-up is seen. Unit 1 has only the registers
// that are asked for, unit 2 others around them and eight coils.
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
			for i := 2; unit == 2 && i < 6; i++ {
				p.device.Update(2, func(u *collectortest.Unit) { u.Holding[200*block+i] = 0xBAD })
			}
		}
	}
	for bit := range 8 {
		p.fields = append(p.fields, modbus.Field{Tag: collector.Tag(fmt.Sprint("coil ", bit)), UnitID: 2, Table: modbus.Coil, Address: 40 + bit, Type: modbus.Bit})
	}
	p.device.Update(2, func(u *collectortest.Unit) { u.Coils = map[int]bool{} })
	for a := range 100 {
		p.device.Update(2, func(u *collectortest.Unit) { u.Coils[a] = a%2 == 0 })
	}
	p.turn()
	return p
}

// turn changes every value.
func (p *plant) turn() {
	p.epoch++
	for _, f := range p.fields {
		p.device.Update(byte(f.UnitID), func(u *collectortest.Unit) {
			if f.Table == modbus.Coil {
				u.Coils[f.Address] = p.value(f) == 1
				return
			}
			u.Holding[f.Address] = p.value(f)
		})
	}
}

func (p *plant) value(f modbus.Field) uint16 {
	if f.Table == modbus.Coil {
		return uint16(p.epoch >> (f.Address - 40) & 1)
	}
	return uint16(p.epoch*64 + f.UnitID*16 + f.Address/200*4 + f.Address%200)
}

// scan turns the values, reads once and counts good, bad and wrong values.
func (r *rig) scan(t *testing.T) tally {
	r.turn()
	return r.judge(t, r.source)
}

func (p *plant) judge(t *testing.T, s *modbus.Source) tally {
	ctx, cancel := context.WithTimeout(t.Context(), 600*time.Millisecond)
	defer cancel()
	samples, _ := s.Read(ctx)
	seen := tally{reasons: map[quantity.Reason]int{}}
	for i, sample := range samples {
		switch {
		case sample.Quality != quantity.Good:
			seen.bad++
			seen.reasons[sample.Reason]++
		case sample.Value != float64(p.value(p.fields[i])):
			seen.wrong++
			t.Logf("WRONG: %s is %v, not %v", sample.Tag, sample.Value, p.value(p.fields[i]))
		default:
			seen.good++
		}
	}
	return seen
}

// TestFaults puts every fault on every transport, first now and then and
// then always, and demands that no wrong value is ever delivered, that a
// harmless fault costs nothing and that everything is good again soon after
// the fault has gone. It runs in fake time.
func TestFaults(t *testing.T) {
	for _, tr := range transports {
		for _, fault := range collectortest.Faults() {
			t.Run(tr.name+"/"+string(fault), func(t *testing.T) {
				synctest.Test(t, func(t *testing.T) {
					t.Log(runFault(t, tr, fault))
				})
			})
		}
	}
}

// harmless are the faults that must not cost a value.
var harmless = []collectortest.Fault{collectortest.Delay, collectortest.Split, collectortest.Duplicate}

func runFault(t *testing.T, tr transport, fault collectortest.Fault) string {
	r := newRig(t, tr, 7)
	defer r.close()
	if first := r.scan(t); first.good != len(r.fields) {
		t.Fatalf("before the fault: %+v", first)
	}
	now, always, damaged := tally{}, tally{}, 0
	for i, seen := range []*tally{&now, &always} {
		r.proxy.Set(fault, []float64{0.3, 1}[i])
		for range 12 {
			seen.add(r.scan(t))
			time.Sleep(100 * time.Millisecond)
		}
		damaged += r.proxy.Damaged()
	}
	total := now
	total.add(always)
	r.proxy.Set(collectortest.NoFault, 0)
	recovery, after := r.recover(t)
	total.wrong += after.wrong
	if damaged == 0 {
		t.Error("nothing was damaged")
	}
	if total.wrong > 0 {
		t.Errorf("%d wrong values delivered", total.wrong)
	}
	if recovery > 1500*time.Millisecond {
		t.Errorf("not recovered after %v", recovery)
	}
	if slices.Contains(harmless, fault) && total.bad > 0 {
		t.Errorf("%d values lost to a harmless fault: %v", total.bad, total.reasons)
	}
	c := r.source.Counters()
	return fmt.Sprintf("| %s | %s | %d %% | %d %% | %s | %v | %d | stale %d, refused %d, reconnects %d |", fault, tr.name, now.percent(), always.percent(), total.text(), recovery.Round(time.Millisecond), total.wrong, c.StaleFrames, c.BadFrames, c.Reconnects)
}

// recover scans until everything is good twice in a row.
func (r *rig) recover(t *testing.T) (took time.Duration, seen tally) {
	start := time.Now()
	for inARow := 0; inARow < 2 && time.Since(start) < 5*time.Second; {
		one := r.scan(t)
		seen.add(one)
		if one.good == len(r.fields) {
			if inARow == 0 {
				took = time.Since(start)
			}
			inARow++
			continue
		}
		inARow, took = 0, 5*time.Second
		time.Sleep(20 * time.Millisecond)
	}
	return took, seen
}

// tally counts values.
type tally struct {
	good, bad, wrong int
	reasons          map[quantity.Reason]int
}

func (a *tally) add(b tally) {
	a.good, a.bad, a.wrong = a.good+b.good, a.bad+b.bad, a.wrong+b.wrong
	if a.reasons == nil {
		a.reasons = map[quantity.Reason]int{}
	}
	for reason, n := range b.reasons {
		a.reasons[reason] += n
	}
}

func (a tally) percent() int { return 100 * a.good / (a.good + a.bad + a.wrong) }

// text names the reasons seen.
func (a tally) text() string {
	var parts []string
	for r := quantity.Reason(0); r <= quantity.Unstable; r++ {
		if a.reasons[r] > 0 {
			parts = append(parts, r.String())
		}
	}
	if parts == nil {
		return "-"
	}
	return strings.Join(parts, ", ")
}

// shared is a context that is only asked for its end, as the poller gives one.
type shared struct{ context.Context }

func (s shared) Whole() context.Context { return s.Context }

// TestTheEndOfTheRunEndsAScan stops while a device keeps silent, in the
// second scan of one run.
func TestTheEndOfTheRunEndsAScan(t *testing.T) {
	d := collectortest.NewDevice()
	d.Add(1, &collectortest.Unit{Holding: ramp(0, 10)})
	s := open(t, modbus.Endpoint{Framing: modbus.TCP, Address: serve(t, modbus.TCP, d), Timeout: time.Minute}, register("a", 1, 0))
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	if _, err := s.Read(shared{ctx}); err != nil {
		t.Fatal(err)
	}
	d.Silence(1, true)
	d.Forget()
	go func() {
		for len(d.Requests()) == 0 {
			time.Sleep(time.Millisecond)
		}
		cancel()
	}()
	start := time.Now()
	samples, err := s.Read(shared{ctx})
	if err == nil || samples[0].Quality.Usable() || time.Since(start) > 30*time.Second {
		t.Errorf("%+v, error %v after %v", samples[0], err, time.Since(start))
	}
}
