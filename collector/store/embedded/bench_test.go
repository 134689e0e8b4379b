package embedded

import (
	"database/sql"
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/storetest"
)

// BenchmarkAppend records scans of n values, one synced transaction per batch,
// and reports processor time, which a busy disk does not change.
func BenchmarkAppend(b *testing.B) {
	for _, c := range []struct{ values, batch int }{{100, 1}, {100, 60}, {300, 1}, {1000, 1}, {6000, 1}} {
		b.Run(fmt.Sprintf("values=%d/batch=%d", c.values, c.batch), func(b *testing.B) {
			db, err := Open(b.Context(), Options{Dir: b.TempDir(), Upkeep: -1})
			if err != nil {
				b.Fatal(err)
			}
			defer db.Close()
			ids, err := db.Register(b.Context(), storetest.Names(c.values))
			if err != nil {
				b.Fatal(err)
			}
			values := make([]float64, len(ids))
			batch := make([]store.Scan, c.batch)
			for i := range batch {
				batch[i] = storetest.ScanAt(storetest.Start, ids, values...)
			}
			b.ReportAllocs()
			n, before := 0, used(b, usage{})
			for b.Loop() {
				for i := range batch {
					n++
					batch[i].Time = storetest.Start.Add(time.Duration(n) * time.Second)
				}
				if err := db.AppendBatch(b.Context(), batch); err != nil {
					b.Fatal(err)
				}
			}
			cpu := used(b, before)
			b.ReportMetric((cpu.user+cpu.kernel)/float64(n*c.values), "cpu-ns/sample")
		})
	}
}

// BenchmarkSync is what BenchmarkAppend cannot go below: one write of as many
// bytes as a scan of n values has, and nothing but its way to the disk.
func BenchmarkSync(b *testing.B) {
	for _, n := range []int{100, 1000, 6000} {
		b.Run(fmt.Sprintf("values=%d", n), func(b *testing.B) {
			file, err := os.Create(filepath.Join(b.TempDir(), "journal"))
			if err != nil {
				b.Fatal(err)
			}
			defer file.Close()
			scan := make([]byte, 8*n)
			ticks, before := 0, used(b, usage{})
			for b.Loop() {
				ticks++
				if _, err := file.Write(scan); err != nil {
					b.Fatal(err)
				}
				if err := unix.Fdatasync(int(file.Fd())); err != nil {
					b.Fatal(err)
				}
			}
			cpu := used(b, before)
			b.ReportMetric((cpu.user+cpu.kernel)/float64(ticks), "cpu-ns/tick")
			b.ReportMetric((cpu.user+cpu.kernel)/float64(ticks*n), "cpu-ns/sample")
		})
	}
}

// wave is the test signal of series i at tick n: a slow swing with noise of
// five counts of 0.01, at transmitter resolution or as float32.
func wave(r *rand.Rand, i, n int, resolved bool) float64 {
	v := 12 + 4*math.Sin(float64(n)/2000+float64(i)) + 0.05*r.NormFloat64()
	if resolved {
		return math.Round(v*100) / 100
	}
	return float64(float32(v))
}

const (
	benchSeries = 100
	benchTicks  = 8640 // one day at 10 s
)

// workload is one day of history: 100 series every ten seconds, or as many
// values of fewer series more often. At full noise the values are float32 with
// noise of 0.3 % of the span on a slow swing of the whole span in some hours:
// the entropy of that noise alone is 17.7 bits a value, 2.2 bytes.
type workload struct {
	resolved bool
	every    time.Duration
	batch    int // ticks in a commit
}

func (w workload) ticks() int  { return int(24 * time.Hour / w.every) }
func (w workload) series() int { return benchSeries * benchTicks / w.ticks() }

// value of series i at tick n.
func (w workload) value(r *rand.Rand, i, n int) float64 {
	return wave(r, i, n*int(w.every/time.Second)/10, w.resolved)
}

// BenchmarkAgainstRows stores one day of 100 series at 10 s here, with sealing
// and summaries, and as plain SQLite rows, one synced commit for each tick or
// for 60 ticks, and reports for each sample the processor time in the program
// and in the kernel (mostly syncing), the bytes, and how many times less both
// are than with rows. Run it with -benchtime 1x.
func BenchmarkAgainstRows(b *testing.B) {
	for _, c := range []struct {
		name string
		workload
	}{
		{"steps of 0.01", workload{true, 10 * time.Second, 1}},
		{"float32 noise", workload{false, 10 * time.Second, 1}},
		{"steps of 0.01, 60 ticks a commit", workload{true, 10 * time.Second, 60}},
		{"float32 noise every second, 60 ticks a commit", workload{false, time.Second, 60}},
	} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				here, size := sealedDayOf(b, c.workload)
				rows, rowSize := rowsOf(b, c.workload)
				n := float64(benchSeries * benchTicks)
				b.ReportMetric(here.user/n, "user-ns/sample")
				b.ReportMetric(here.kernel/n, "kernel-ns/sample")
				b.ReportMetric(size/n, "B/sample")
				b.ReportMetric((rows.user+rows.kernel)/(here.user+here.kernel), "times-less-cpu")
				b.ReportMetric(rowSize/size, "times-less-bytes")
			}
		})
	}
}

// usage is processor time in nanoseconds.
type usage struct{ user, kernel float64 }

func used(b *testing.B, since usage) usage {
	var u unix.Rusage
	if err := unix.Getrusage(unix.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return usage{float64(u.Utime.Nano()) - since.user, float64(u.Stime.Nano()) - since.kernel}
}

// sealedDayOf returns the CPU time of storing and sealing, and the bytes of
// archive files and summaries.
func sealedDayOf(b *testing.B, w workload) (cpu usage, size float64) {
	dir := b.TempDir()
	db, err := Open(b.Context(), Options{Dir: dir, Upkeep: -1})
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	ids, err := db.Register(b.Context(), storetest.Names(w.series()))
	if err != nil {
		b.Fatal(err)
	}
	start := storetest.Start.Truncate(24 * time.Hour)
	r := rand.New(rand.NewPCG(1, 2))
	before := used(b, usage{})
	for n := 0; n < w.ticks(); n += w.batch {
		scans := make([]store.Scan, w.batch)
		for k := range scans {
			values := make([]float64, w.series())
			for i := range values {
				values[i] = w.value(r, i, n+k)
			}
			scans[k] = storetest.ScanAt(start.Add(time.Duration(n+k)*w.every), ids, values...)
		}
		if err := db.AppendBatch(b.Context(), scans); err != nil {
			b.Fatal(err)
		}
	}
	appended := used(b, before)
	if err := db.SealBefore(b.Context(), farFuture); err != nil {
		b.Fatal(err)
	}
	cpu = used(b, before)
	b.ReportMetric((cpu.user+cpu.kernel-appended.user-appended.kernel)/float64(w.series()*w.ticks()), "sealing-ns/sample")
	var summaries float64
	if err := db.read.QueryRow(`SELECT sum(60 + length(hours) + length(tens)) FROM summary`).Scan(&summaries); err != nil {
		b.Fatal(err)
	}
	return cpu, summaries + diskUse(b, filepath.Join(dir, "archive"))
}

func diskUse(b *testing.B, dir string) (n float64) {
	err := filepath.WalkDir(dir, func(_ string, e fs.DirEntry, err error) error {
		if err == nil && !e.IsDir() {
			var info fs.FileInfo
			if info, err = e.Info(); err == nil {
				n += float64(info.Size())
			}
		}
		return err
	})
	if err != nil {
		b.Fatal(err)
	}
	return n
}

// rowsOf stores the same values as one row each.
func rowsOf(b *testing.B, w workload) (cpu usage, size float64) {
	file := filepath.Join(b.TempDir(), "rows.db")
	db, err := sql.Open("sqlite", dsn(file, "immediate", "synchronous(FULL)"))
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	if _, err := db.Exec(`CREATE TABLE sample (id INTEGER, t INTEGER, value REAL, quality INTEGER, PRIMARY KEY (id, t)) WITHOUT ROWID`); err != nil {
		b.Fatal(err)
	}
	start := storetest.Start.Truncate(24 * time.Hour).UnixMicro()
	r := rand.New(rand.NewPCG(1, 2))
	before := used(b, usage{})
	for n := 0; n < w.ticks(); n += w.batch {
		tx, err := db.Begin()
		if err != nil {
			b.Fatal(err)
		}
		insert, err := tx.Prepare(`INSERT OR REPLACE INTO sample VALUES (?, ?, ?, 4)`)
		if err != nil {
			b.Fatal(err)
		}
		for k := range w.batch * w.series() {
			tick, i := n+k/w.series(), k%w.series()
			if _, err := insert.Exec(i, start+int64(tick)*w.every.Microseconds(), w.value(r, i, tick)); err != nil {
				b.Fatal(err)
			}
		}
		if err := tx.Commit(); err != nil {
			b.Fatal(err)
		}
	}
	cpu = used(b, before)
	if _, err := db.Exec(`PRAGMA wal_checkpoint(TRUNCATE)`); err != nil {
		b.Fatal(err)
	}
	st, err := os.Stat(file)
	if err != nil {
		b.Fatal(err)
	}
	return cpu, float64(st.Size())
}

// BenchmarkTrend draws one gauge of six signals at 10 s over a year of sealed
// days, 1200 buckets wide. The history is made once and takes a minute.
func BenchmarkTrend(b *testing.B) {
	dir := b.TempDir()
	start := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	now := start.AddDate(1, 0, 0).Add(12 * time.Hour)
	options := Options{Dir: dir, Now: func() time.Time { return now }, Upkeep: -1}
	db, err := Open(b.Context(), options)
	if err != nil {
		b.Fatal(err)
	}
	ids := yearOf(b, db, start, now)
	if err := db.Close(); err != nil {
		b.Fatal(err)
	}
	for _, c := range []struct {
		name string
		span time.Duration
	}{{"1 year", 365 * 24 * time.Hour}, {"30 days", 30 * 24 * time.Hour}, {"7 days", 7 * 24 * time.Hour}, {"24 hours", 24 * time.Hour}, {"1 hour", time.Hour}} {
		b.Run(c.name, func(b *testing.B) {
			if db, err = Open(b.Context(), options); err != nil {
				b.Fatal(err)
			}
			defer db.Close()
			began := time.Now()
			draw(b, db, ids, now.Add(-c.span), now)
			first := time.Since(began)
			for b.Loop() {
				draw(b, db, ids, now.Add(-c.span), now)
			}
			b.ReportMetric(float64(first.Microseconds())/1000, "first-ms")
		})
	}
}

func draw(b *testing.B, db *DB, ids []store.ID, from, to time.Time) {
	tr, err := db.Trend(b.Context(), ids, from, to, 1200)
	if err != nil || count(tr.Columns[5]) == 0 {
		b.Fatalf("trend of %d values, error %v", count(tr.Columns[5]), err)
	}
}

// yearOf records six series from start to now and seals the days that ended.
func yearOf(b *testing.B, db *DB, start, now time.Time) []store.ID {
	ids, err := db.Register(b.Context(), storetest.Names(6))
	if err != nil {
		b.Fatal(err)
	}
	r := rand.New(rand.NewPCG(3, 4))
	n := 0
	for at := start; at.Before(now); {
		var batch []store.Scan
		for range 8640 {
			if !at.Before(now) {
				break
			}
			values := make([]float64, 6)
			for i := range values {
				values[i] = wave(r, i, n, i < 3)
			}
			batch = append(batch, storetest.ScanAt(at, ids, values...))
			at, n = at.Add(10*time.Second), n+1
		}
		if err := db.AppendBatch(b.Context(), batch); err != nil {
			b.Fatal(err)
		}
		if err := db.SealBefore(b.Context(), at); err != nil {
			b.Fatal(err)
		}
	}
	if err := db.Upkeep(b.Context()); err != nil {
		b.Fatal(err)
	}
	return ids
}
