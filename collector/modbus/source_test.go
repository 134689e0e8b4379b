package modbus_test

import (
	"context"
	"errors"
	"math"
	"net"
	"os"
	"testing"
	"time"

	"bridlewatch/collector"
	"bridlewatch/collector/collectortest"
	"bridlewatch/collector/modbus"
	"bridlewatch/collector/poll"
	"bridlewatch/compare/quantity"
)

// ramp is a table in which register a holds the value 100+a.
func ramp(from, to int) map[int]uint16 {
	m := map[int]uint16{}
	for a := from; a < to; a++ {
		m[a] = uint16(100 + a)
	}
	return m
}

// serve starts a device and returns where it listens.
func serve(t *testing.T, framing modbus.Framing, d *collectortest.Device) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		if framing == modbus.TCP {
			d.ServeTCP(l)
		} else {
			d.ServeRTUOverTCP(l)
		}
	}()
	t.Cleanup(func() { l.Close(); <-done })
	return l.Addr().String()
}

func open(t *testing.T, e modbus.Endpoint, fields ...modbus.Field) *modbus.Source {
	t.Helper()
	if e.Name == "" {
		e.Name = "device"
	}
	if e.Timeout == 0 {
		e.Timeout = 100 * time.Millisecond
	}
	s, err := modbus.New(e, fields, poll.System{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func register(tag string, unit, address int) modbus.Field {
	return modbus.Field{Tag: collector.Tag(tag), UnitID: unit, Table: modbus.Holding, Address: address, Type: modbus.Uint16}
}

func read(t *testing.T, s *modbus.Source) []collector.Sample {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Second)
	defer cancel()
	samples, _ := s.Read(ctx)
	if len(samples) != len(s.Tags()) {
		t.Fatalf("%d samples for %d tags", len(samples), len(s.Tags()))
	}
	return samples
}

// expect checks one sample; a NaN value means bad for the reason.
func expect(t *testing.T, got collector.Sample, value float64, reason quantity.Reason) {
	t.Helper()
	if math.IsNaN(value) {
		if got.Quality != quantity.Bad || got.Reason != reason {
			t.Errorf("%s: got %v %v (%v) %s, want bad (%v)", got.Tag, got.Value, got.Quality, got.Reason, got.Detail, reason)
		}
		return
	}
	if got.Quality != quantity.Good || got.Value != value {
		t.Errorf("%s: got %v %v (%v) %s, want good %v", got.Tag, got.Value, got.Quality, got.Reason, got.Detail, value)
	}
}

var bad = math.NaN()

var streams = []modbus.Framing{modbus.TCP, modbus.RTUOverTCP}

func TestReadEveryTableAndType(t *testing.T) {
	unit := &collectortest.Unit{
		Holding: map[int]uint16{
			0: 0xFFFE,            // -2
			2: 0x449A, 3: 0x5225, // float32 1234.5670166015625
			4: 0x5225, 5: 0x449A,
			6: 0x4093, 7: 0x4A45, 8: 0x6D5C, 9: 0xFAAD, // float64 1234.5678
			10: 0x0008,
			12: 0xFFFF, 13: 0xFFFE,
		},
		Input:    map[int]uint16{30: 4242},
		Coils:    map[int]bool{7: false, 8: true, 9: true},
		Discrete: map[int]bool{0: true},
	}
	fields := []modbus.Field{
		{Tag: "int16", Table: modbus.Holding, Address: 0, Type: modbus.Int16},
		{Tag: "float32", Table: modbus.Holding, Address: 2, Type: modbus.Float32},
		{Tag: "float32 CDAB", Table: modbus.Holding, Address: 4, Type: modbus.Float32, Order: modbus.CDAB},
		{Tag: "float64", Table: modbus.Holding, Address: 6, Type: modbus.Float64},
		{Tag: "bit 3", Table: modbus.Holding, Address: 10, Type: modbus.Bit, Bit: 3},
		{Tag: "bit 2", Table: modbus.Holding, Address: 10, Type: modbus.Bit, Bit: 2},
		{Tag: "int32", Table: modbus.Holding, Address: 12, Type: modbus.Int32},
		{Tag: "input", Table: modbus.Input, Address: 30, Type: modbus.Uint16},
		{Tag: "coil 7", Table: modbus.Coil, Address: 7, Type: modbus.Bit},
		{Tag: "coil 9", Table: modbus.Coil, Address: 9, Type: modbus.Bit},
		{Tag: "discrete", Table: modbus.Discrete, Address: 0, Type: modbus.Bit},
	}
	want := []float64{-2, 1234.5670166015625, 1234.5670166015625, 1234.5678, 1, 0, -2, 4242, 0, 1, 1}
	for i := range fields {
		fields[i].UnitID = 1
	}
	for _, framing := range streams {
		t.Run(string(framing), func(t *testing.T) {
			d := collectortest.NewDevice()
			d.Add(1, unit)
			s := open(t, modbus.Endpoint{Framing: framing, Address: serve(t, framing, d), MaxGap: -1}, fields...)
			for range 3 {
				for i, sample := range read(t, s) {
					expect(t, sample, want[i], 0)
					if sample.Time.IsZero() {
						t.Errorf("%s has no time", sample.Tag)
					}
				}
			}
		})
	}
}

// TestOnlyReadsLeave records everything a device is sent by a source with
// every kind of field, and tries every other function code at the place all
// requests pass.
func TestOnlyReadsLeave(t *testing.T) {
	for _, framing := range streams {
		t.Run(string(framing), func(t *testing.T) {
			d := collectortest.NewDevice()
			d.Add(1, &collectortest.Unit{Holding: ramp(0, 50), Input: ramp(0, 50), Coils: map[int]bool{1: true}, Discrete: map[int]bool{1: true}})
			s := open(t, modbus.Endpoint{Framing: framing, Address: serve(t, framing, d)},
				register("a", 1, 0), register("b", 1, 49), register("gone", 1, 60), register("absent", 2, 0),
				modbus.Field{Tag: "c", UnitID: 1, Table: modbus.Input, Address: 3, Type: modbus.Uint16},
				modbus.Field{Tag: "d", UnitID: 1, Table: modbus.Coil, Address: 1, Type: modbus.Bit},
				modbus.Field{Tag: "e", UnitID: 1, Table: modbus.Discrete, Address: 1, Type: modbus.Bit})
			for range 4 {
				read(t, s)
			}
			requests := d.Requests()
			if len(requests) < 12 {
				t.Fatalf("only %d requests seen", len(requests))
			}
			for _, r := range requests {
				if r.Function < 1 || r.Function > 4 {
					t.Errorf("function code %d left: % x", r.Function, r.Raw)
				}
			}
		})
	}
}

func TestOneBadAddressSpoilsOnlyItself(t *testing.T) {
	for _, framing := range streams {
		t.Run(string(framing), func(t *testing.T) {
			holding := ramp(0, 20)
			delete(holding, 7) // a field
			delete(holding, 12)
			d := collectortest.NewDevice()
			d.Add(1, &collectortest.Unit{Holding: holding})
			s := open(t, modbus.Endpoint{Framing: framing, Address: serve(t, framing, d)},
				register("a", 1, 0), register("b", 1, 5), register("gone", 1, 7), register("c", 1, 10), register("d", 1, 15), register("e", 1, 19))
			want := []float64{100, 105, bad, 110, 115, 119}
			for i, sample := range read(t, s) {
				expect(t, sample, want[i], quantity.Refused)
			}
			d.Forget()
			for i, sample := range read(t, s) {
				expect(t, sample, want[i], quantity.Refused)
			}
			if n := len(d.Requests()); n > 3 {
				t.Errorf("%d requests in the second scan, want at most 3: the lesson was not learned", n)
			}
			d.Forget()
			read(t, s)
			for _, r := range d.Requests() {
				if r.Address <= 7 && 7 < r.Address+r.Quantity || r.Address <= 12 && 12 < r.Address+r.Quantity {
					t.Errorf("asked again for a refused address: %+v", r)
				}
			}
		})
	}
}

func TestNothingListens(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := l.Addr().String()
	l.Close()
	s := open(t, modbus.Endpoint{Framing: modbus.TCP, Address: address}, register("a", 1, 0), register("b", 2, 0))
	samples, err := s.Read(t.Context())
	var connect *modbus.ConnectError
	if !errors.As(err, &connect) {
		t.Errorf("error %v, want a ConnectError", err)
	}
	for _, sample := range samples {
		expect(t, sample, bad, quantity.NotConnected)
	}
}

func TestCancelEndsARead(t *testing.T) {
	for _, framing := range streams {
		t.Run(string(framing), func(t *testing.T) {
			d := collectortest.NewDevice()
			d.Add(1, &collectortest.Unit{Holding: ramp(0, 10)})
			d.Silence(1, true)
			s := open(t, modbus.Endpoint{Framing: framing, Address: serve(t, framing, d), Timeout: 30 * time.Second}, register("a", 1, 0))
			ctx, cancel := context.WithCancel(t.Context())
			time.AfterFunc(50*time.Millisecond, cancel)
			start := time.Now()
			samples, err := s.Read(ctx)
			if took := time.Since(start); took > 5*time.Second {
				t.Errorf("took %v", took)
			}
			if err == nil || len(samples) != 1 {
				t.Errorf("samples %v, error %v", samples, err)
			}
		})
	}
}

// TestLine reads through a pseudo terminal, which is hung up in the end.
func TestLine(t *testing.T) {
	d := collectortest.NewDevice()
	d.Add(1, &collectortest.Unit{Holding: ramp(0, 50)})
	line, err := collectortest.NewLine()
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	go func() { defer close(done); d.ServeRTU(line) }()
	for _, parity := range []string{"even", "none", "odd"} {
		s := open(t, modbus.Endpoint{Framing: modbus.RTU, Address: line.Path, Baud: 19200, Parity: parity, Timeout: time.Second}, register("a", 1, 7), register("b", 1, 49))
		for range 3 {
			samples := read(t, s)
			expect(t, samples[0], 107, 0)
			expect(t, samples[1], 149, 0)
		}
		if parity != "odd" {
			s.Close()
			continue
		}
		line.Close()
		<-done
		for range 3 {
			expect(t, read(t, s)[0], bad, quantity.NotConnected)
		}
	}
}

// TestNoDescriptorsLeft cuts and resets real connections many times.
func TestNoDescriptorsLeft(t *testing.T) {
	d := collectortest.NewDevice()
	d.Add(1, &collectortest.Unit{Holding: ramp(0, 10)})
	for _, framing := range streams {
		t.Run(string(framing), func(t *testing.T) {
			device := serve(t, framing, d)
			proxy := collectortest.NewProxy(framing != modbus.TCP, time.Second, 3)
			l, err := net.Listen("tcp", "127.0.0.1:0")
			if err != nil {
				t.Fatal(err)
			}
			done := make(chan struct{})
			go func() { defer close(done); proxy.Serve(l, device) }()
			t.Cleanup(func() { l.Close(); <-done; proxy.Close() })
			s := open(t, modbus.Endpoint{Framing: framing, Address: l.Addr().String(), Timeout: 40 * time.Millisecond, ProbeEvery: time.Millisecond}, register("a", 1, 3))
			read(t, s)
			before := descriptors(t)
			for i := range 24 {
				proxy.Set([]collectortest.Fault{collectortest.Reset, collectortest.Cut, collectortest.NoFault}[i%3], 1)
				read(t, s)
			}
			proxy.Set(collectortest.NoFault, 0)
			for range 100 { // the other ends need a moment
				if read(t, s); descriptors(t) <= before+2 {
					return
				}
				time.Sleep(20 * time.Millisecond)
			}
			t.Errorf("%d descriptors, %d before", descriptors(t), before)
		})
	}
}

func descriptors(t *testing.T) int {
	t.Helper()
	open, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		t.Fatal(err)
	}
	return len(open)
}

func TestSentinelsAndNaN(t *testing.T) {
	d := collectortest.NewDevice()
	d.Add(1, &collectortest.Unit{Holding: map[int]uint16{0: 0x8000, 1: 0x7FC0, 2: 0, 3: 0xC61C, 4: 0x3F9A}})
	s := open(t, modbus.Endpoint{Framing: modbus.TCP, Address: serve(t, modbus.TCP, d)},
		modbus.Field{Tag: "a", UnitID: 1, Table: modbus.Holding, Address: 0, Type: modbus.Int16, Sentinels: []float64{-32768}},
		modbus.Field{Tag: "b", UnitID: 1, Table: modbus.Holding, Address: 1, Type: modbus.Float32},
		modbus.Field{Tag: "c", UnitID: 1, Table: modbus.Holding, Address: 3, Type: modbus.Float32, Sentinels: []float64{-9999.9}})
	samples := read(t, s)
	expect(t, samples[0], bad, quantity.Sentinel)
	expect(t, samples[1], bad, quantity.NotANumber)
	expect(t, samples[2], bad, quantity.Sentinel)
}
