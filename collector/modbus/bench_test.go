package modbus_test

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"runtime"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	library "github.com/goburrow/modbus"

	"bridlewatch/collector"
	"bridlewatch/collector/collectortest"
	"bridlewatch/collector/modbus"
	"bridlewatch/collector/poll"
)

// serveEnv makes the test program a device in a process of its own, so that
// a benchmark measures the reader alone.
const serveEnv = "BRIDLEWATCH_BENCH_DEVICE"

// beDevice serves every unit until standard input ends.
func beDevice() {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		panic(err)
	}
	d := collectortest.NewDevice()
	d.Add(1, &collectortest.Unit{Holding: ramp(0, 125)})
	d.Record(false)
	go d.ServeTCP(l)
	fmt.Println(l.Addr())
	io.Copy(io.Discard, os.Stdin)
}

// deviceProcess starts the device and returns its address.
func deviceProcess(b *testing.B) string {
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), serveEnv+"=1")
	in, err1 := cmd.StdinPipe()
	out, err2 := cmd.StdoutPipe()
	if err1 != nil || err2 != nil {
		b.Fatal(err1, err2)
	}
	if err := cmd.Start(); err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { in.Close(); cmd.Wait() })
	address, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		b.Fatal(err)
	}
	return strings.TrimSpace(address)
}

// processorTime is what this process has used.
func processorTime() time.Duration {
	var u syscall.Rusage
	syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// load is what a way to poll costs.
type load struct {
	processor float64       // processors busy
	p99       time.Duration // from the tick to the answer
	perDevice float64       // KiB of memory
	reads     int
}

func (l load) report(b *testing.B, name string) {
	b.ReportMetric(100*l.processor/float64(runtime.NumCPU()), name+"-%machine")
	b.ReportMetric(float64(l.p99)/1e6, name+"-p99-ms")
	b.ReportMetric(l.perDevice, name+"-KiB/device")
}

// measure runs a load for a while and takes stock.
func measure(devices int, d time.Duration, run func(ctx context.Context, answered func(since time.Duration))) load {
	runtime.GC()
	before := memory()
	var mu sync.Mutex
	var took []time.Duration
	ctx, cancel := context.WithTimeout(context.Background(), d)
	defer cancel()
	start, used := time.Now(), processorTime()
	peak := make(chan uint64, 1)
	go func() {
		time.Sleep(d - d/8)
		peak <- memory()
	}()
	run(ctx, func(since time.Duration) { mu.Lock(); took = append(took, since); mu.Unlock() })
	busy := float64(processorTime()-used) / float64(time.Since(start))
	slices.Sort(took)
	return load{processor: busy, p99: took[len(took)*99/100], perDevice: (float64(<-peak) - float64(before)) / 1024 / float64(devices), reads: len(took)}
}

func memory() uint64 {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapInuse + m.StackInuse
}

// BenchmarkPolling polls 2000 devices of 20 registers each second and
// compares with plain clients of the library doing the same. The device runs
// in a process of its own on the same machine.
func BenchmarkPolling(b *testing.B) {
	const devices, registers, seconds = 2000, 20, 6
	address := deviceProcess(b)
	for b.Loop() {
		plain := measure(devices, seconds*time.Second, func(ctx context.Context, answered func(time.Duration)) {
			pollPlain(ctx, address, devices, registers, answered)
		})
		var p *poll.Poller
		var told func(time.Duration)
		before := memory()
		p = newPollerOf(b, address, devices, registers, func(d time.Duration) { told(d) })
		runtime.GC()
		made := memory() - before
		ours := measure(devices, seconds*time.Second, func(ctx context.Context, answered func(time.Duration)) {
			told = answered
			p.Run(ctx, func(collector.Snapshot) {})
		})
		p.Close()
		ours.perDevice += float64(made) / 1024 / devices
		if ours.reads < devices*(seconds-2) || plain.reads < devices*(seconds-2) {
			b.Fatalf("only %d and %d of %d reads", ours.reads, plain.reads, devices*(seconds-1))
		}
		ours.report(b, "ours")
		plain.report(b, "plain")
		b.ReportMetric(ours.processor/plain.processor, "ours/plain-processor")
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
	answered func(time.Duration)
}

func (w watched) Read(ctx context.Context) ([]collector.Sample, error) {
	samples, err := w.Source.Read(ctx)
	if err == nil {
		now := time.Now()
		w.answered(now.Sub(now.Truncate(time.Second)))
	}
	return samples, err
}

// newPollerOf polls devices of some registers each second.
func newPollerOf(b *testing.B, address string, devices, registers int, answered func(time.Duration)) *poll.Poller {
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
		jobs = append(jobs, poll.Job{Source: watched{s, answered}, Every: time.Second})
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
	address := deviceProcess(b)
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
