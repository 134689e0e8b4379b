//go:build peers

package influx_test

import (
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/collector/store/influx"
	"bridlewatch/collector/store/storetest"
)

const (
	benchSeries = 100
	benchTicks  = 8640 // one day at 10 s
)

// BenchmarkEngines stores the same day of 100 series at 10 s, in steps of
// 0.01, in the embedded store (sealed, with summaries), in InfluxDB 1.8 and in
// VictoriaMetrics over HTTP, and reports processor time of client and server
// together, and bytes on the disk, for each sample. Run it with -benchtime 1x.
func BenchmarkEngines(b *testing.B) {
	b.Run("embedded", func(b *testing.B) {
		dir := b.TempDir()
		db, err := embedded.Open(b.Context(), embedded.Options{Dir: dir, Upkeep: -1})
		if err != nil {
			b.Fatal(err)
		}
		defer db.Close()
		ids, err := db.Register(b.Context(), storetest.Names(benchSeries))
		if err != nil {
			b.Fatal(err)
		}
		for b.Loop() {
			before := ownCPU(b)
			eachBatch(b, ids, 60, func(scans []store.Scan) error { return db.AppendBatch(b.Context(), scans) })
			if err := db.SealBefore(b.Context(), time.Date(2100, 1, 1, 0, 0, 0, 0, time.UTC)); err != nil {
				b.Fatal(err)
			}
			report(b, ownCPU(b)-before, filepath.Join(dir, "archive"))
		}
	})
	b.Run("InfluxDB 1.8", func(b *testing.B) {
		dir := b.TempDir()
		address, pid := startInflux(b, dir)
		bench(b, influx.Server{URL: address, Bucket: "bench/autogen"}, pid, dir)
	})
	b.Run("VictoriaMetrics", func(b *testing.B) {
		dir, listen := b.TempDir(), freePort(b)
		pid := startServer(b, "http://"+listen+"/health", "victoria-metrics", "-storageDataPath="+dir, "-httpListenAddr="+listen, "-retentionPeriod=100y", "-loggerLevel=ERROR")
		bench(b, influx.Server{URL: "http://" + listen, Bucket: "bench"}, pid, dir)
	})
}

// eachBatch makes the day, n scans at a time.
func eachBatch(b *testing.B, ids []store.ID, n int, do func([]store.Scan) error) {
	r := rand.New(rand.NewPCG(1, 2))
	start := storetest.Start.Truncate(24 * time.Hour)
	for tick := 0; tick < benchTicks; tick += n {
		scans := make([]store.Scan, n)
		for k := range scans {
			values := make([]float64, len(ids))
			for i := range values {
				values[i] = math.Round((12+4*math.Sin(float64(tick+k)/2000+float64(i))+0.05*r.NormFloat64())*100) / 100
			}
			scans[k] = storetest.ScanAt(start.Add(time.Duration(tick+k)*10*time.Second), ids, values...)
		}
		if err := do(scans); err != nil {
			b.Fatal(err)
		}
	}
}

// bench forwards the day and waits until the server is done with it.
func bench(b *testing.B, server influx.Server, pid int, dir string) {
	db, err := embedded.Open(b.Context(), embedded.Options{Dir: b.TempDir(), Upkeep: -1})
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	ids, err := db.Register(b.Context(), storetest.Names(benchSeries))
	if err != nil {
		b.Fatal(err)
	}
	eachBatch(b, ids, 60, func(scans []store.Scan) error { return db.AppendBatch(b.Context(), scans) })
	for b.Loop() {
		before := ownCPU(b) + cpuOf(b, pid)
		f := forward(b, db, server.URL, func(o *influx.ForwardOptions) { o.Bucket, o.Batch, o.Timeout = server.Bucket, 5000, time.Minute })
		for f.Status().Sent < benchSeries*benchTicks {
			time.Sleep(50 * time.Millisecond)
		}
		if r, err := http.Get(server.URL + "/internal/force_flush"); err == nil {
			r.Body.Close()
		}
		time.Sleep(15 * time.Second) // let it write to the disk and compact
		report(b, ownCPU(b)+cpuOf(b, pid)-before, dir)
	}
}

func report(b *testing.B, cpu float64, dir string) {
	var size float64
	err := filepath.WalkDir(dir, func(_ string, e fs.DirEntry, err error) error {
		if err == nil && !e.IsDir() {
			if info, err := e.Info(); err == nil {
				size += float64(info.Size())
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(cpu/(benchSeries*benchTicks), "cpu-ns/sample")
	b.ReportMetric(size/(benchSeries*benchTicks), "B/sample")
}

func ownCPU(b *testing.B) float64 {
	var u unix.Rusage
	if err := unix.Getrusage(unix.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return float64(u.Utime.Nano() + u.Stime.Nano())
}

// cpuOf reads the processor time of another process, in ticks of 10 ms.
func cpuOf(b *testing.B, pid int) float64 {
	raw, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		b.Fatal(err)
	}
	fields := strings.Fields(string(raw[strings.LastIndexByte(string(raw), ')')+1:]))
	var ticks float64
	for _, f := range fields[11:13] {
		n, err := strconv.ParseFloat(f, 64)
		if err != nil {
			b.Fatal(err)
		}
		ticks += n
	}
	return ticks * 1e7
}

// startInflux runs InfluxDB in dir with a database named bench.
func startInflux(b *testing.B, dir string) (address string, pid int) {
	conf, listen := influxConf(b, dir)
	pid = startServer(b, "http://"+listen+"/ping", influxdPath(b), "-config", conf)
	createDatabase(b, "http://"+listen, "bench")
	return "http://" + listen, pid
}

func startServer(t testing.TB, health, name string, args ...string) (pid int) {
	t.Helper()
	cmd := exec.Command(name, args...)
	if err := cmd.Start(); err != nil {
		t.Fatalf("%v (install the peers: sh testdata/peers/install.sh)", err)
	}
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	eventually(t, name+" to answer", func() bool {
		r, err := http.Get(health)
		if err != nil {
			return false
		}
		r.Body.Close()
		return r.StatusCode < 300
	})
	return cmd.Process.Pid
}
