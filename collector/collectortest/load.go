package collectortest

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"runtime"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// elsewhereEnv asks the test program to be a server in a process of its own.
const elsewhereEnv = "BRIDLEWATCH_BENCH_SERVER"

// ServeElsewhere makes the program a server when Elsewhere has started it:
// serve gets the argument and returns the address, and the process lives until
// its standard input ends. A TestMain calls it first and returns when it says
// true.
func ServeElsewhere(serve func(argument string) (address string)) bool {
	argument, asked := os.LookupEnv(elsewhereEnv)
	if !asked {
		return false
	}
	fmt.Println(serve(argument))
	io.Copy(io.Discard, os.Stdin)
	return true
}

// Elsewhere starts the server in a process of its own, so that a benchmark
// measures the reader alone, and returns its address.
func Elsewhere(b testing.TB, argument string) string {
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), elsewhereEnv+"="+argument)
	cmd.Stderr = os.Stderr
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

// Load is what a way to poll costs.
type Load struct {
	Processor float64       // processors busy
	P50, P99  time.Duration // from the tick to the answer
	PerDevice float64       // KiB of memory
	Reads     int
}

// Report gives the figures to a benchmark under a name.
func (l Load) Report(b *testing.B, name string) {
	b.ReportMetric(100*l.Processor/float64(runtime.NumCPU()), name+"-%machine")
	b.ReportMetric(float64(l.P50)/1e6, name+"-p50-ms")
	b.ReportMetric(float64(l.P99)/1e6, name+"-p99-ms")
	b.ReportMetric(l.PerDevice, name+"-KiB/device")
}

// Measure runs a way to poll and takes stock once it has settled: what it
// costs to connect is not counted. run calls answered after each read with the
// time since its tick.
func Measure(devices int, settle, d time.Duration, run func(ctx context.Context, answered func(since time.Duration))) Load {
	before := Memory()
	settle = time.Until(time.Now().Add(settle).Truncate(time.Second).Add(1500 * time.Millisecond)) // between two ticks
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	var mu sync.Mutex
	var l Load
	var took []time.Duration
	begin := time.AfterFunc(settle, func() {
		mu.Lock()
		defer mu.Unlock()
		took = make([]time.Duration, 0, devices*int(d/time.Second+2))
		start, used := time.Now(), processorTime()
		time.AfterFunc(d, func() {
			defer cancel() // before anything is closed
			busy := float64(processorTime()-used) / float64(time.Since(start))
			held := Memory()
			mu.Lock()
			defer mu.Unlock()
			l.Processor, l.PerDevice = busy, (float64(held)-float64(before))/1024/float64(devices)
		})
	})
	defer begin.Stop()
	run(ctx, func(since time.Duration) { mu.Lock(); took = append(took, since); mu.Unlock() })
	mu.Lock()
	defer mu.Unlock()
	l.Reads = len(took)
	if slices.Sort(took); len(took) > 0 {
		l.P50, l.P99 = took[len(took)/2], took[len(took)*99/100]
	}
	return l
}

// processorTime is what this process has used.
func processorTime() time.Duration {
	var u syscall.Rusage
	syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// Memory is what is alive in this process: heap after a collection, and stacks.
func Memory() uint64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapAlloc + m.StackInuse
}
