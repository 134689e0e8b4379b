// Command stores keeps the same history in several engines, one after another
// on the same machine, and prints what each costs: this project's store, plain
// SQLite rows, the Prometheus storage engine, InfluxDB 1.8 and VictoriaMetrics.
// It is a module of its own, so that the engines it compares with do not reach
// the program.
//
//	go run . -signals 6 -days 365
//
// The history is so many signals every ten seconds. With -noise they are float32
// with noise of 0.3 % of the span on a slow swing: 23 bits of fraction, of
// which the lower 16 or so are noise (its entropy is 17.7 bits a value, 2.2
// bytes; nothing lossless stores less). Otherwise they are in steps of 0.01, as
// transmitters with a display give them.
package main

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"syscall"
	"time"
)

const (
	every  = 10 * time.Second
	aDay   = int(24 * time.Hour / every)
	commit = 60   // ticks in one commit of the engines that have commits
	width  = 1200 // buckets of a trend
)

// signals is how many there are.
var signals int

// begin is the first instant. Some engines refuse what is older than their
// retention, so it lies in the recent past.
func begin(days int) time.Time {
	return time.Now().UTC().Truncate(24*time.Hour).AddDate(0, 0, -days)
}

// engine keeps history one way.
type engine interface {
	name() string
	open(dir string, first time.Time) error
	// write keeps one day: columns[signal][tick].
	write(day time.Time, columns [][]float64) error
	// settle returns when everything is on disk in its final form.
	settle() error
	// trend returns the least, greatest and mean value of every signal in
	// buckets, and how many values they stand for.
	trend(from, to time.Time) (values int, err error)
	// process is the server, 0 when there is none.
	process() int
	close() error
}

func main() {
	flag.IntVar(&signals, "signals", 6, "signals")
	days := flag.Int("days", 365, "days of history")
	noise := flag.Bool("noise", false, "float32 at full noise instead of steps of 0.01")
	only := flag.String("only", "", "one engine by name")
	flag.Parse()
	what := "steps of 0.01"
	if *noise {
		what = "float32 at full noise"
	}
	fmt.Printf("%d signals every %s for %d days, %s; one commit for %d ticks\n\n", signals, every, *days, what, commit)
	fmt.Printf("%-28s %12s %14s %12s %12s %12s\n", "", "CPU/sample", "of it server", "bytes/sample", "trend 1 year", "trend 30 d")
	failed := false
	for _, e := range []engine{&here{}, &rows{}, &tsdb{}, &influxd{}, &victoria{}} {
		if *only != "" && e.name() != *only {
			continue
		}
		if err := measure(e, *days, *noise); err != nil {
			fmt.Printf("%-28s failed: %v\n", e.name(), err)
			failed = true
		}
	}
	fmt.Println()
	if failed {
		os.Exit(1)
	}
}

func measure(e engine, days int, noise bool) (err error) {
	dir, err := os.MkdirTemp("", "stores-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	first := begin(days)
	if err := e.open(dir, first); err != nil {
		return err
	}
	defer e.close()
	random := rand.New(rand.NewPCG(1, 2))
	var own time.Duration
	serverBefore := processCPU(e.process())
	for d := range days {
		columns := day(random, d, noise) // not part of the cost
		before := ownCPU()
		if err := e.write(first.AddDate(0, 0, d), columns); err != nil {
			return err
		}
		own += ownCPU() - before
	}
	before := ownCPU()
	if err := e.settle(); err != nil {
		return err
	}
	own += ownCPU() - before
	server := processCPU(e.process()) - serverBefore
	n := float64(days * aDay * signals)
	size := float64(diskUse(dir))
	last := first.AddDate(0, 0, days)
	year, err := draw(e, last.AddDate(-1, 0, 0), last, days)
	if err != nil {
		return err
	}
	month, err := draw(e, last.AddDate(0, 0, -30), last, min(days, 30))
	if err != nil {
		return err
	}
	fmt.Printf("%-28s %9.0f ns %11.0f ns %12.2f %12s %12s\n", e.name(), float64(own+server)/n, float64(server)/n, size/n, year, month)
	return nil
}

// draw returns how long a trend takes, the best of three, and checks that it
// stands for all values.
func draw(e engine, from, to time.Time, days int) (time.Duration, error) {
	best := time.Hour
	for range 3 {
		began := time.Now()
		n, err := e.trend(from, to)
		if err != nil {
			return 0, err
		}
		best = min(best, time.Since(began))
		if want := min(days, int(to.Sub(from).Hours()/24)) * aDay * signals; math.Abs(float64(n-want)) > 0.01*float64(want) {
			return 0, fmt.Errorf("the trend stands for %d values, want %d", n, want)
		}
	}
	return best.Round(100 * time.Microsecond), nil
}

// day makes one day of history.
func day(r *rand.Rand, d int, noise bool) [][]float64 {
	out := make([][]float64, signals)
	for i := range out {
		out[i] = make([]float64, aDay)
		for k := range out[i] {
			v := 12 + 4*math.Sin(float64(d*aDay+k)/2000+float64(i)) + 0.05*r.NormFloat64()
			if noise {
				out[i][k] = float64(float32(v))
			} else {
				out[i][k] = math.Round(v*100) / 100
			}
		}
	}
	return out
}

// diskUse is the room a directory takes; some engines make files that are
// mostly holes.
func diskUse(dir string) (n int64) {
	_ = filepath.Walk(dir, func(path string, info os.FileInfo, err error) error {
		var st syscall.Stat_t
		if err == nil && !info.IsDir() && syscall.Lstat(path, &st) == nil {
			n += st.Blocks * 512
		}
		return nil // files may come and go
	})
	return n
}
