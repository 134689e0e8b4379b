package modbus_test

import (
	"context"
	"fmt"
	"net"
	"sync"
	"testing"
	"time"

	library "github.com/goburrow/modbus"

	"bridlewatch/collector"
	"bridlewatch/collector/collectortest"
	"bridlewatch/collector/modbus"
	"bridlewatch/collector/poll"
)

// beDevice serves a unit on loopback.
func beDevice(string) string {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		panic(err)
	}
	d := collectortest.NewDevice()
	d.Add(1, &collectortest.Unit{Holding: ramp(0, 125)})
	d.Record(false)
	go d.ServeTCP(l)
	return l.Addr().String()
}

// BenchmarkPolling polls 2000 devices of 20 registers each second and
// compares with plain clients of the library doing the same: all at the tick,
// and spread over a quarter of the interval. The device runs in a process of
// its own on the same machine.
func BenchmarkPolling(b *testing.B) {
	const devices, registers = 2000, 20
	const settle, measured = 2 * time.Second, 10 * time.Second
	address := collectortest.Elsewhere(b, "")
	for b.Loop() {
		plain := collectortest.Measure(devices, settle, measured, func(ctx context.Context, answered func(time.Duration)) {
			pollPlain(ctx, address, devices, registers, answered)
		})
		polled := func(spread time.Duration) collectortest.Load {
			return collectortest.Measure(devices, settle, measured, func(ctx context.Context, answered func(time.Duration)) {
				p := newPollerOf(b, address, devices, registers, spread, answered)
				defer p.Close()
				p.Run(ctx, func(collector.Snapshot) {})
			})
		}
		ours, spread := polled(0), polled(time.Second/4)
		if few := devices * int(measured/time.Second-1); ours.Reads < few || plain.Reads < few {
			b.Fatalf("only %d and %d reads, want at least %d", ours.Reads, plain.Reads, few)
		}
		ours.Report(b, "ours")
		spread.Report(b, "spread")
		plain.Report(b, "plain")
		b.ReportMetric(ours.Processor/plain.Processor, "ours/plain-processor")
		b.ReportMetric(spread.Processor/plain.Processor, "spread/plain-processor")
	}
}

// pollPlain is one client of the library for each device.
func pollPlain(ctx context.Context, address string, devices, registers int, answered func(time.Duration)) {
	var all sync.WaitGroup
	for range devices {
		all.Go(func() {
			h := library.NewTCPClientHandler(address)
			h.SlaveId, h.Timeout = 1, time.Second
			defer h.Close()
			client := library.NewClient(h)
			for ctx.Err() == nil {
				tick := time.Now().Truncate(time.Second).Add(time.Second)
				if (poll.System{}).Sleep(ctx, time.Until(tick)) != nil {
					return
				}
				if data, err := client.ReadHoldingRegisters(0, uint16(registers)); err == nil && len(data) == 2*registers {
					answered(time.Since(tick))
				}
			}
		})
	}
	all.Wait()
}

// watched is a source that tells when it was read.
type watched struct {
	*modbus.Source
	phase    time.Duration
	answered func(time.Duration)
}

func (w watched) Read(ctx context.Context) ([]collector.Sample, error) {
	samples, err := w.Source.Read(ctx)
	if err == nil {
		now := time.Now()
		w.answered(now.Sub(now.Truncate(time.Second)) - w.phase)
	}
	return samples, err
}

// newPollerOf polls devices of some registers each second.
func newPollerOf(b *testing.B, address string, devices, registers int, spread time.Duration, answered func(time.Duration)) *poll.Poller {
	var jobs []poll.Job
	for i := range devices {
		var fields []modbus.Field
		for a := range registers {
			fields = append(fields, register(fmt.Sprintf("%d.%d", i, a), 1, a))
		}
		s, err := modbus.New(modbus.Endpoint{Name: fmt.Sprint(i), Framing: modbus.TCP, Address: address}, fields, poll.System{})
		if err != nil {
			b.Fatal(err)
		}
		phase := (time.Duration(i) * spread / time.Duration(devices)).Truncate(time.Millisecond)
		jobs = append(jobs, poll.Job{Source: watched{s, phase, answered}, Every: time.Second, Phase: phase})
	}
	p, err := poll.New(jobs, time.Second, poll.System{})
	if err != nil {
		b.Fatal(err)
	}
	return p
}

// BenchmarkRead is one scan of one device over loopback, beside the same
// request by a plain client of the library.
func BenchmarkRead(b *testing.B) {
	address := collectortest.Elsewhere(b, "")
	var fields []modbus.Field
	for a := range 20 {
		fields = append(fields, register(fmt.Sprint(a), 1, a))
	}
	s, err := modbus.New(modbus.Endpoint{Name: "device", Framing: modbus.TCP, Address: address}, fields, poll.System{})
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	b.Run("ours", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := s.Read(context.Background()); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("plain", func(b *testing.B) {
		h := library.NewTCPClientHandler(address)
		h.SlaveId = 1
		defer h.Close()
		client := library.NewClient(h)
		b.ReportAllocs()
		for b.Loop() {
			if _, err := client.ReadHoldingRegisters(0, 20); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// BenchmarkLine is one request for 20 registers over a serial line without
// wire time, beside the library's own transport, which sleeps for a fixed
// time before it reads.
func BenchmarkLine(b *testing.B) {
	line, err := collectortest.NewLine()
	if err != nil {
		b.Fatal(err)
	}
	d := collectortest.NewDevice()
	d.Add(1, &collectortest.Unit{Holding: ramp(0, 125)})
	done := make(chan struct{})
	go func() { defer close(done); d.ServeRTU(line) }()
	b.Cleanup(func() { line.Close(); <-done })
	b.Run("ours", func(b *testing.B) {
		e := modbus.Endpoint{Name: "line", Framing: modbus.RTU, Address: line.Path, Baud: 19200, Parity: "none", StopBits: 1}
		var fields []modbus.Field
		for a := range 20 {
			fields = append(fields, register(fmt.Sprint(a), 1, a))
		}
		s, err := modbus.New(e, fields, poll.System{})
		if err != nil {
			b.Fatal(err)
		}
		defer s.Close()
		for b.Loop() {
			if _, err := s.Read(context.Background()); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("plain", func(b *testing.B) {
		h := library.NewRTUClientHandler(line.Path)
		h.BaudRate, h.Parity, h.StopBits, h.SlaveId, h.Timeout = 19200, "N", 1, 1, time.Second
		defer h.Close()
		client := library.NewClient(h)
		for b.Loop() {
			if _, err := client.ReadHoldingRegisters(0, 20); err != nil {
				b.Fatal(err)
			}
		}
	})
}
