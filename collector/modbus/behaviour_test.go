package modbus_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"bridlewatch/collector"
	"bridlewatch/collector/collectortest"
	"bridlewatch/collector/modbus"
	"bridlewatch/compare/quantity"
)

// bench is a device and a way to make sources for it, in fake time.
type bench struct {
	t      *testing.T
	tr     transport
	device *collectortest.Device
	proxy  *collectortest.Proxy
	open   []*modbus.Source
}

// inFakeTime runs a test on each of the transports named, all when none is.
func inFakeTime(t *testing.T, test func(t *testing.T, b *bench), names ...string) {
	t.Helper()
	for _, tr := range transports {
		if len(names) > 0 && !slices.Contains(names, tr.name) {
			continue
		}
		t.Run(tr.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				b := &bench{t: t, tr: tr, device: collectortest.NewDevice(), proxy: collectortest.NewProxy(tr.framing != modbus.TCP, faultTimeout, 1)}
				test(t, b)
				for _, s := range b.open {
					s.Close()
				}
				if b.proxy != nil {
					b.proxy.Close()
				}
				time.Sleep(time.Minute) // let the device finish
			})
		})
	}
}

// units gives the device units with registers 0 to 99.
func (b *bench) units(ids ...byte) {
	for _, id := range ids {
		b.device.Add(id, &collectortest.Unit{Holding: ramp(0, 100)})
	}
}

func (b *bench) source(e modbus.Endpoint, fields ...modbus.Field) *modbus.Source {
	b.t.Helper()
	full := b.tr.endpoint()
	full.ProbeEvery, full.PauseBetweenRequests, full.PauseAfterConnect = e.ProbeEvery, e.PauseBetweenRequests, e.PauseAfterConnect
	full.CloseAfterCycle, full.Reprobe, full.MaxGap, full.MaxRegisters = e.CloseAfterCycle, e.Reprobe, e.MaxGap, e.MaxRegisters
	s := b.tr.attach(b.t, full, b.device, b.proxy, fields...)
	b.open = append(b.open, s)
	return s
}

// asked counts the requests to a unit.
func (b *bench) asked(unit byte) int {
	n := 0
	for _, r := range b.device.Requests() {
		if r.Unit == unit {
			n++
		}
	}
	return n
}

func scan(t *testing.T, s *modbus.Source, within time.Duration) []collector.Sample {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), within)
	defer cancel()
	samples, _ := s.Read(ctx)
	return samples
}

func TestDeadUnitIsLeftAlone(t *testing.T) {
	inFakeTime(t, func(t *testing.T, b *bench) {
		b.units(1, 2, 3)
		b.device.Silence(2, true)
		s := b.source(modbus.Endpoint{ProbeEvery: 30 * time.Second}, register("a", 1, 1), register("b", 2, 2), register("c", 3, 3))
		for range 25 {
			samples := scan(t, s, time.Second)
			expect(t, samples[0], 101, 0)
			expect(t, samples[1], bad, quantity.NoAnswer)
			expect(t, samples[2], 103, 0)
			time.Sleep(time.Second)
		}
		if n := b.asked(2); n < 5 || n > 6 { // three, and probes 2, 4 and 8 s later
			t.Errorf("asked %d times, want 5 or 6", n)
		}
		if c := s.Counters(); c.BreakersOpen != 1 {
			t.Errorf("counters %+v", c)
		}
		if u := s.Units(); len(u) != 3 || u[1].Failures < 5 || !u[1].NotUntil.After(time.Now()) || !u[0].NotUntil.IsZero() {
			t.Errorf("units %+v", u)
		}
		before := b.asked(2)
		for range 300 {
			scan(t, s, time.Second)
			time.Sleep(time.Second)
		}
		if n := b.asked(2) - before; n < 9 || n > 13 {
			t.Errorf("asked %d times in five minutes, want one probe each 30 s", n)
		}
		b.device.Silence(2, false)
		time.Sleep(31 * time.Second)
		expect(t, scan(t, s, time.Second)[1], 102, 0)
		if c := s.Counters(); c.BreakersOpen != 0 {
			t.Errorf("counters %+v", c)
		}
	})
}

// TestGatewayExceptionsCountForTheUnit: exceptions 10 and 11 come from a
// gateway whose unit is silent. The connection stays.
func TestGatewayExceptionsCountForTheUnit(t *testing.T) {
	inFakeTime(t, func(t *testing.T, b *bench) {
		b.units(1, 2)
		b.device.RefuseUnit(2, 11)
		s := b.source(modbus.Endpoint{ProbeEvery: time.Hour}, register("a", 1, 1), register("b", 2, 2))
		for range 6 {
			samples := scan(t, s, time.Second)
			expect(t, samples[0], 101, 0)
			expect(t, samples[1], bad, quantity.NoAnswer)
		}
		if c := s.Counters(); b.asked(2) != 3 || c.Reconnects != 0 || c.BreakersOpen != 1 {
			t.Errorf("unit 2 asked %d times, want 3; %+v", b.asked(2), c)
		}
	})
}

// TestBusyIsNotAbsent: exception 6 spoils a scan and teaches nothing.
func TestBusyIsNotAbsent(t *testing.T) {
	inFakeTime(t, func(t *testing.T, b *bench) {
		b.units(1)
		s := b.source(modbus.Endpoint{}, register("a", 1, 1), register("b", 1, 20))
		b.device.RefuseUnit(1, 6)
		for range 5 {
			expect(t, scan(t, s, time.Second)[0], bad, quantity.Refused)
		}
		b.device.RefuseUnit(1, 0)
		b.device.Forget()
		expect(t, scan(t, s, time.Second)[1], 120, 0)
		if b.asked(1) != len(plans(t, b, register("a", 1, 1), register("b", 1, 20))) {
			t.Errorf("%d requests", b.asked(1))
		}
	})
}

func plans(t *testing.T, b *bench, fields ...modbus.Field) []modbus.Request {
	t.Helper()
	p, err := modbus.NewPlan(b.tr.endpoint(), fields)
	if err != nil {
		t.Fatal(err)
	}
	return p.Requests
}

func TestPauses(t *testing.T) {
	inFakeTime(t, func(t *testing.T, b *bench) {
		b.units(1, 2, 3)
		s := b.source(modbus.Endpoint{PauseBetweenRequests: 50 * time.Millisecond, PauseAfterConnect: 200 * time.Millisecond}, register("a", 1, 1), register("b", 2, 2), register("c", 3, 3))
		start := time.Now()
		expect(t, scan(t, s, 5*time.Second)[2], 103, 0)
		if took := time.Since(start); took < 300*time.Millisecond || took > 400*time.Millisecond {
			t.Errorf("first scan took %v, want 200ms and two pauses of 50ms", took)
		}
		start = time.Now()
		scan(t, s, 5*time.Second)
		if took := time.Since(start); took < 100*time.Millisecond || took > 200*time.Millisecond {
			t.Errorf("second scan took %v, want three requests with 50ms between", took)
		}
	})
}

func TestCloseAfterCycle(t *testing.T) {
	inFakeTime(t, func(t *testing.T, b *bench) {
		b.units(1)
		s := b.source(modbus.Endpoint{CloseAfterCycle: true}, register("a", 1, 1))
		for range 5 {
			expect(t, scan(t, s, time.Second)[0], 101, 0)
		}
		if c := s.Counters(); c.Reconnects != 4 {
			t.Errorf("%d reconnects, want 4", c.Reconnects)
		}
	})
}

func TestCadence(t *testing.T) {
	inFakeTime(t, func(t *testing.T, b *bench) {
		b.units(1)
		slow := register("slow", 1, 50)
		slow.EveryScan = 5
		s := b.source(modbus.Endpoint{MaxGap: -1}, register("fast", 1, 1), slow)
		var last time.Time
		for i := range 20 {
			samples := scan(t, s, time.Second)
			expect(t, samples[0], 101, 0)
			expect(t, samples[1], 150, 0)
			if fresh := samples[1].Time.After(last); fresh != (i%5 == 0) {
				t.Errorf("scan %d: fresh %v", i, fresh)
			}
			last = samples[1].Time
			time.Sleep(time.Second)
		}
		if b.asked(1) != 24 {
			t.Errorf("%d requests, want 20 and 4", b.asked(1))
		}
	})
}

// TestRefusedAddressIsTriedAgain: a device that starts up refuses a register
// for a while.
func TestRefusedAddressIsTriedAgain(t *testing.T) {
	inFakeTime(t, func(t *testing.T, b *bench) {
		holding := ramp(0, 20)
		delete(holding, 9)
		b.device.Add(1, &collectortest.Unit{Holding: holding})
		s := b.source(modbus.Endpoint{Reprobe: 24 * time.Hour}, register("a", 1, 5), register("b", 1, 9), register("c", 1, 15))
		refused := func() int {
			n := 0
			for _, r := range b.device.Requests() {
				if r.Address <= 9 && 9 < r.Address+r.Quantity {
					n++
				}
			}
			return n
		}
		for range 5 {
			samples := scan(t, s, time.Second)
			expect(t, samples[0], 105, 0)
			expect(t, samples[1], bad, quantity.Refused)
			expect(t, samples[2], 115, 0)
		}
		if u := s.Units()[0]; len(u.Refused) != 1 || u.Refused[0] != "b" || u.Retrial.IsZero() || u.Requests == 0 {
			t.Errorf("unit %+v", u)
		}
		before := refused()
		for range 58 {
			time.Sleep(time.Second)
			scan(t, s, time.Second)
		}
		if n := refused(); n != before {
			t.Errorf("%d requests for a refused address within a minute", n-before)
		}
		b.device.Update(1, func(u *collectortest.Unit) { u.Holding[9] = 109 })
		time.Sleep(10 * time.Second)
		scan(t, s, time.Second)
		expect(t, scan(t, s, time.Second)[1], 109, 0)
	})
}

// TestTrialsBecomeRare: an address that stays refused costs a few requests a
// day.
func TestTrialsBecomeRare(t *testing.T) {
	inFakeTime(t, func(t *testing.T, b *bench) {
		b.units(1)
		s := b.source(modbus.Endpoint{Reprobe: 24 * time.Hour}, register("gone", 1, 500))
		for range 3 * 24 * 60 {
			scan(t, s, time.Second)
			time.Sleep(time.Minute)
		}
		if n := b.asked(1); n < 8 || n > 16 {
			t.Errorf("%d requests for an address that is refused in three days, want 8 to 16", n)
		}
	}, "TCP")
}

// TestScansAreFair: when a scan has no time for everything, it is not always
// the same units that go without.
func TestScansAreFair(t *testing.T) {
	inFakeTime(t, func(t *testing.T, b *bench) {
		b.device.Delay(40 * time.Millisecond)
		var fields []modbus.Field
		for unit := 1; unit <= 10; unit++ {
			b.units(byte(unit))
			fields = append(fields, register(fmt.Sprint(unit), unit, 0))
		}
		s := b.source(modbus.Endpoint{}, fields...)
		good := make([]int, 10)
		for range 20 {
			for i, sample := range scan(t, s, 250*time.Millisecond) {
				if sample.Quality == quantity.Good {
					good[i]++
				}
			}
			time.Sleep(time.Second)
		}
		if slices.Min(good) < 5 || slices.Max(good)-slices.Min(good) > 4 {
			t.Errorf("good scans of 20 by unit: %v", good)
		}
	})
}

// TestTransactionIdentifiersWrap goes over the last identifier, with late
// answers from before it.
func TestTransactionIdentifiersWrap(t *testing.T) {
	inFakeTime(t, func(t *testing.T, b *bench) {
		b.units(1)
		s := b.source(modbus.Endpoint{ProbeEvery: time.Millisecond}, register("a", 1, 1))
		s.SetTransaction(65530)
		for i := range 12 {
			b.device.Delay(0)
			if i%3 == 0 {
				b.device.Delay(faultTimeout + 10*time.Millisecond)
				scan(t, s, time.Second)
				b.device.Delay(0)
			}
			time.Sleep(20 * time.Millisecond)
			expect(t, scan(t, s, time.Second)[0], 101, 0)
		}
		if c := s.Counters(); c.StaleFrames != 4 || c.Requests != 16 || c.Reconnects != 0 {
			t.Errorf("counters %+v, want 4 stale frames of 16 requests on one connection", c)
		}
	}, "TCP")
}

// TestSlowDeviceIsNamed: answers that come after the time-out are thrown away
// and the message says what to do.
func TestSlowDeviceIsNamed(t *testing.T) {
	inFakeTime(t, func(t *testing.T, b *bench) {
		b.units(1)
		b.device.Delay(faultTimeout + 20*time.Millisecond)
		s := b.source(modbus.Endpoint{ProbeEvery: time.Millisecond}, register("a", 1, 1))
		var detail string
		for range 6 {
			detail += scan(t, s, time.Second)[0].Detail
			time.Sleep(10 * time.Millisecond)
		}
		if !strings.Contains(detail, "raise the time-out") {
			t.Errorf("details %q", detail)
		}
	}, "TCP", "RTU on a line")
}

// TestEcho: a converter that hears what it sends. The addresses make the echo
// look like answers of several lengths.
func TestEcho(t *testing.T) {
	for _, address := range []int{0x0005, 0x0103, 0x0203, 0x0905, 0x6010} {
		t.Run(fmt.Sprintf("address %04X", address), func(t *testing.T) {
			inFakeTime(t, func(t *testing.T, b *bench) {
				b.device.Add(1, &collectortest.Unit{Holding: map[int]uint16{address: 4242}})
				b.proxy = nil // it takes an echo for an answer
				s := b.source(modbus.Endpoint{}, register("a", 1, address))
				for _, echo := range []bool{true, false, true} {
					b.device.Echo(echo)
					for range 2 { // it may have to find out, and to wait for what it has lost
						scan(t, s, time.Second)
						time.Sleep(time.Second)
					}
					for range 5 {
						expect(t, scan(t, s, time.Second)[0], 4242, 0)
					}
				}
			}, "RTU on a line")
		})
	}
}

// TestLateRefusalTeachesNothing: without transaction identifiers a refusal
// that comes while an answer is owed may belong to that.
func TestLateRefusalTeachesNothing(t *testing.T) {
	inFakeTime(t, func(t *testing.T, b *bench) {
		b.units(1)
		s := b.source(modbus.Endpoint{MaxGap: -1}, register("a", 1, 1), register("b", 1, 20))
		b.proxy.Set(collectortest.Drop, 1)
		scan(t, s, time.Second)
		b.proxy.Set(collectortest.NoFault, 0)
		b.device.RefuseUnit(1, 2)
		scan(t, s, time.Second)
		b.device.RefuseUnit(1, 0)
		time.Sleep(5 * time.Second)
		scan(t, s, time.Second)
		time.Sleep(time.Second)
		samples := scan(t, s, time.Second)
		expect(t, samples[0], 101, 0)
		expect(t, samples[1], 120, 0)
		if u := s.Units()[0]; len(u.Refused) != 0 {
			t.Errorf("unit %+v", u)
		}
	}, "TCP, ids ignored", "RTU over TCP", "RTU on a line")
}

// TestTrialsStartAnewAfterRecovery: a device that is put right and refuses
// again much later is tried again within a minute, not within a day.
func TestTrialsStartAnewAfterRecovery(t *testing.T) {
	inFakeTime(t, func(t *testing.T, b *bench) {
		b.units(1)
		s := b.source(modbus.Endpoint{}, register("a", 1, 5))
		outage := func(d time.Duration) (took time.Duration) {
			b.device.RefuseUnit(1, 2)
			for end := time.Now().Add(d); time.Now().Before(end); time.Sleep(time.Second) {
				scan(t, s, time.Second)
			}
			b.device.RefuseUnit(1, 0)
			for start := time.Now(); ; time.Sleep(time.Second) {
				if scan(t, s, time.Second)[0].Quality == quantity.Good {
					return time.Since(start)
				}
			}
		}
		if took := outage(6 * time.Hour); took > 7*time.Hour {
			t.Errorf("back after %v", took)
		}
		for range 5 {
			scan(t, s, time.Second)
			time.Sleep(time.Second)
		}
		if took := outage(10 * time.Second); took > time.Minute {
			t.Errorf("back after %v, want a minute at most", took)
		}
	}, "TCP")
}

// TestADeviceThatGivesFewerRegisters is asked for as many as it gives: found
// out without losing a value, remembered, and tried again when it is time.
func TestADeviceThatGivesFewerRegisters(t *testing.T) {
	const registers = 300
	for _, most := range []int{1, 16, 40, 63, 64, 100, 124} {
		t.Run(fmt.Sprint(most), func(t *testing.T) {
			inFakeTime(t, func(t *testing.T, b *bench) {
				unit := &collectortest.Unit{Holding: ramp(0, registers), MaxRegisters: most}
				b.device.Add(1, unit)
				var fields []modbus.Field
				for a := range registers {
					fields = append(fields, register(fmt.Sprint(a), 1, a))
				}
				s := b.source(modbus.Endpoint{}, fields...)
				all := func() (asked int) {
					before := len(b.device.Requests())
					for i, sample := range scan(t, s, 10*time.Second) {
						expect(t, sample, float64(100+i), 0)
					}
					return len(b.device.Requests()) - before
				}
				for range 10 {
					all()
				}
				fewest := (registers + most - 1) / most
				if asked := all(); asked != fewest {
					t.Errorf("%d requests a scan, want %d", asked, fewest)
				}
				if got := s.Units()[0].MaxRegisters; got > most || got != 0 && got*fewest < registers {
					t.Errorf("the limit is said to be %d", got)
				}
				b.device.Update(1, func(u *collectortest.Unit) { u.MaxRegisters = 125 })
				time.Sleep(2 * time.Minute)
				all()
				if asked := all(); asked != 3 || s.Units()[0].MaxRegisters != 0 {
					t.Errorf("%d requests a scan without a limit, want 3; %+v", asked, s.Units()[0])
				}
			})
		})
	}
}

// TestConditionNamesUnitsAndSignals: a source that answers says what is wrong
// with parts of it.
func TestConditionNamesUnitsAndSignals(t *testing.T) {
	inFakeTime(t, func(t *testing.T, b *bench) {
		b.device.Add(1, &collectortest.Unit{Holding: ramp(0, 20)})
		b.device.Add(2, &collectortest.Unit{Holding: ramp(0, 20)})
		b.device.Silence(2, true)
		s := b.source(modbus.Endpoint{Timeout: 50 * time.Millisecond}, register("a", 1, 5), register("gone", 1, 500), register("silent", 2, 5))
		if c := s.Condition(); len(c.Remarks) != 0 || c.LineTime == 0 {
			t.Errorf("at first: %+v", c)
		}
		for range 6 {
			scan(t, s, time.Second)
			time.Sleep(time.Second)
		}
		c := s.Condition()
		if c.Refused != 1 || len(c.Remarks) != 2 {
			t.Fatalf("%+v", c)
		}
		for i, want := range []struct{ tag, what string }{{"gone", "unit 1 refuses holding 500: "}, {"silent", "unit 2 does not answer, "}} {
			if r := c.Remarks[i]; len(r.Tags) != 1 || string(r.Tags[0]) != want.tag || !strings.HasPrefix(r.What, want.what) {
				t.Errorf("remark %d: %+v", i, r)
			}
		}
	})
}
