package embedded

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/replacement"
	"bridlewatch/collector/store/storetest"
)

var farFuture = time.Date(2100, 1, 1, 0, 0, 0, 0, time.UTC)

// sealing seals before every read: the contract must hold wherever the samples
// are.
type sealing struct{ *DB }

func (s sealing) Points(ctx context.Context, id store.ID, from, to time.Time) ([]store.Point, error) {
	return afterSealing(ctx, s.DB, func() ([]store.Point, error) { return s.DB.Points(ctx, id, from, to) })
}

func (s sealing) Last(ctx context.Context, ids []store.ID, t time.Time) ([]store.Point, error) {
	return afterSealing(ctx, s.DB, func() ([]store.Point, error) { return s.DB.Last(ctx, ids, t) })
}

func (s sealing) Trend(ctx context.Context, ids []store.ID, from, to time.Time, width int) (store.Trend, error) {
	return afterSealing(ctx, s.DB, func() (store.Trend, error) { return s.DB.Trend(ctx, ids, from, to, width) })
}

func afterSealing[T any](ctx context.Context, db *DB, read func() (T, error)) (T, error) {
	if err := db.SealBefore(ctx, farFuture); err != nil {
		var none T
		return none, err
	}
	return read()
}

func TestContractOnSealedDays(t *testing.T) {
	storetest.Run(t, func(t *testing.T) store.Store { return sealing{open(t, t.TempDir())} })
}

// tending runs upkeep after every third scan, at a clock past the scans: minutes are
// summarised at once and changed after.
type tending struct {
	*DB
	n *atomic.Int32
}

func (s tending) Append(ctx context.Context, scan store.Scan) error {
	if err := s.DB.Append(ctx, scan); err != nil || s.n.Add(1)%3 != 0 {
		return err
	}
	return s.Upkeep(ctx)
}

func TestContractWithUpkeep(t *testing.T) {
	storetest.Run(t, func(t *testing.T) store.Store {
		now := storetest.Start.Add(90 * time.Minute)
		db, err := Open(t.Context(), Options{Dir: t.TempDir(), Now: func() time.Time { return now }, Upkeep: -1})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { db.Close() })
		return tending{db, new(atomic.Int32)}
	})
}

// plant is a database with a clock under control.
type plant struct {
	*DB
	t    *testing.T
	dir  string
	now  time.Time
	ids  []store.ID
	opts Options
}

func newPlant(t *testing.T, series int, opts Options) *plant {
	p := &plant{t: t, dir: t.TempDir(), now: storetest.Start, opts: opts}
	p.reopen()
	p.ids = storetest.Register(t, p, series)
	return p
}

func (p *plant) reopen() {
	p.t.Helper()
	if p.DB != nil {
		if err := p.Close(); err != nil {
			p.t.Fatal(err)
		}
	}
	o := p.opts
	o.Dir, o.Now, o.Upkeep = p.dir, func() time.Time { return p.now }, -1
	db, err := Open(p.t.Context(), o)
	if err != nil {
		p.t.Fatal(err)
	}
	p.DB = db
	p.t.Cleanup(func() { db.Close() })
}

// run records a scan of all series every step for d, with random values and
// some bad ones, and moves the clock along.
func (p *plant) run(d, step time.Duration) {
	p.t.Helper()
	r := rand.New(rand.NewPCG(uint64(p.now.UnixNano()), 1))
	var scans []store.Scan
	for end := p.now.Add(d); p.now.Before(end); p.now = p.now.Add(step) {
		scan := store.Scan{Time: p.now, ConfigVersion: 7}
		for i, id := range p.ids {
			v := store.Value{ID: id, Quality: 4, Value: math.Round(r.NormFloat64()*500) / 100}
			switch {
			case i%3 == 1:
				v.Value = float64(float32(r.NormFloat64()))
			case i%3 == 2:
				v.Value = r.NormFloat64()
			}
			if r.IntN(50) == 0 {
				v.Quality, v.Reason = 1, 3
			}
			scan.Values = append(scan.Values, v)
		}
		if scans = append(scans, scan); len(scans) == 10 {
			p.append(scans...)
			scans = nil
		}
	}
	p.append(scans...)
}

func (p *plant) append(scans ...store.Scan) {
	p.t.Helper()
	if err := p.AppendBatch(p.t.Context(), scans); err != nil {
		p.t.Fatal(err)
	}
}

func (p *plant) upkeep() {
	p.t.Helper()
	if err := p.Upkeep(p.t.Context()); err != nil {
		p.t.Fatal(err)
	}
}

func (p *plant) count(query string) (n int) {
	p.t.Helper()
	if err := p.read.QueryRow(query).Scan(&n); err != nil {
		p.t.Fatal(err)
	}
	return n
}

func (p *plant) all(id store.ID) []store.Point {
	p.t.Helper()
	points, err := p.Points(p.t.Context(), id, storetest.Start.AddDate(-1, 0, 0), farFuture)
	if err != nil {
		p.t.Fatal(err)
	}
	return points
}

// checkTrends compares trends of many widths with the points.
func (p *plant) checkTrends(from, to time.Time) {
	p.t.Helper()
	for _, width := range []int{3, 7, 30, 100, 700, 5000} {
		tr, err := p.Trend(p.t.Context(), p.ids, from, to, width)
		if err != nil {
			p.t.Fatal(err)
		}
		storetest.CheckTrend(p.t, p, p.ids, tr, from, to, width)
	}
}

func TestSealingChangesNothing(t *testing.T) {
	p := newPlant(t, 5, Options{})
	start := p.now
	p.run(3*24*time.Hour, 90*time.Second)
	var before [][]store.Point
	for _, id := range p.ids {
		before = append(before, p.all(id))
	}
	hot := p.count(`SELECT count(*) FROM scan`)
	p.upkeep()
	if left := p.count(`SELECT count(*) FROM scan`); left == 0 || left >= hot/2 {
		t.Errorf("%d of %d scans are unsealed; want the day that has not ended and the grace only", left, hot)
	}
	for _, reopened := range []bool{false, true} {
		if reopened {
			p.reopen()
		}
		for i, id := range p.ids {
			if diff := cmp.Diff(before[i], p.all(id)); diff != "" {
				t.Fatalf("series %d, reopened %v (-before +after):\n%s", i, reopened, diff)
			}
		}
		p.checkTrends(start.Add(time.Hour), p.now)
	}
	if len(p.Notices()) > 0 {
		t.Errorf("notices: %v", p.Notices())
	}
}

func TestLateAndCorrectedSamplesResealTheDay(t *testing.T) {
	p := newPlant(t, 4, Options{})
	start := p.now
	p.run(49*time.Hour, 5*time.Minute)
	p.upkeep()
	files := p.files()
	first := start.Add(4 * time.Hour)
	late := store.Scan{Time: first.Add(time.Second), Values: []store.Value{{ID: p.ids[1], Value: 77, Quality: 4}}}
	corrected := store.Scan{Time: first, Values: []store.Value{{ID: p.ids[1], Value: 88.5, Quality: 4}}}
	if err := p.AppendBatch(t.Context(), []store.Scan{late, corrected}); err != nil {
		t.Fatal(err)
	}
	check := func(when string) {
		t.Helper()
		points, err := p.Points(t.Context(), p.ids[1], first, first.Add(2*time.Second))
		if err != nil || len(points) != 2 || points[0].Value != 88.5 || points[1].Value != 77 {
			t.Errorf("%s: got %v, error %v; want 88.5 and 77", when, points, err)
		}
		p.checkTrends(start, p.now)
	}
	check("before resealing")
	p.upkeep()
	check("too early to reseal")
	if p.files() != files {
		t.Error("resealed while samples may still come")
	}
	p.now = p.now.Add(settleTime)
	p.upkeep()
	check("after resealing")
	if p.files() == files {
		t.Error("the day was not resealed")
	}
	p.reopen()
	check("after reopening")
}

// files lists the archive.
func (p *plant) files() string {
	p.t.Helper()
	var names []string
	err := filepath.WalkDir(filepath.Join(p.dir, "archive"), func(path string, e os.DirEntry, err error) error {
		if err == nil && !e.IsDir() {
			names = append(names, path)
		}
		return err
	})
	if err != nil {
		p.t.Fatal(err)
	}
	return strings.Join(names, "\n")
}

func TestDamagedFileIsSetAside(t *testing.T) {
	p := newPlant(t, 3, Options{}) // one file for each kind of value
	p.run(48*time.Hour, 10*time.Minute)
	p.upkeep()
	want := p.all(p.ids[0])
	broken, rest, _ := strings.Cut(p.files(), "\n")
	for name := range strings.SplitSeq(rest, "\n") {
		if filepath.Dir(name) == filepath.Dir(broken) {
			rest = name
		}
	}
	raw, err := os.ReadFile(broken)
	if err != nil {
		t.Fatal(err)
	}
	raw[len(raw)/3] ^= 0x10
	if err := errors.Join(os.WriteFile(broken, raw, 0o640), os.WriteFile(filepath.Join(p.dir, "archive", "stray.parquet"), raw, 0o640),
		os.WriteFile(filepath.Join(p.dir, "archive", "g001.parquet"+replacement.Suffix), raw, 0o640)); err != nil {
		t.Fatal(err)
	}
	p.reopen()
	if n := len(p.Notices()); n != 2 {
		t.Errorf("%d notices %v, want one for the damaged and one for the stray file", n, p.Notices())
	}
	aside, err := os.ReadDir(filepath.Join(p.dir, asideDir))
	if err != nil || len(aside) != 2 || strings.Contains(p.files(), "stray") || strings.Contains(p.files(), replacement.Suffix) {
		t.Errorf("set aside %v, error %v; archive %s", aside, err, p.files())
	}
	if got := p.all(p.ids[0]); len(got) >= len(want) || len(got) == 0 {
		t.Errorf("%d points left of %d: want those of the other days", len(got), len(want))
	}
	if tr, err := p.Trend(t.Context(), p.ids[:1], storetest.Start, p.now, 100); err != nil || count(tr.Columns[0]) != len(want) {
		t.Errorf("trend of %d values, error %v: summaries must still tell %d", count(tr.Columns[0]), err, len(want))
	}
}

func count(buckets []store.Bucket) (n int) {
	for _, b := range buckets {
		n += int(b.Count + b.Bad)
	}
	return n
}

func TestRetention(t *testing.T) {
	p := newPlant(t, 3, Options{Retain: Retention{RawDays: 2, TensDays: 5, SummaryDays: 8}})
	start := p.now
	for range 10 {
		p.run(24*time.Hour, 20*time.Minute)
		p.upkeep()
	}
	oldest := p.all(p.ids[0])[0].Time
	if age := p.now.Sub(oldest); age < 48*time.Hour || age > 73*time.Hour {
		t.Errorf("oldest sample is %s old, want two to three days", age)
	}
	tr, err := p.Trend(t.Context(), p.ids[:1], p.now.Add(-4*24*time.Hour), p.now, 10_000)
	if err != nil || tr.Step != 10*time.Minute || count(tr.Columns[0]) < 4*72-1 {
		t.Errorf("trend over dropped samples: step %s with %d values, error %v; want ten minutes and all", tr.Step, count(tr.Columns[0]), err)
	}
	tr, err = p.Trend(t.Context(), p.ids[:1], start, p.now, 10_000)
	if n := count(tr.Columns[0]); err != nil || tr.Step != time.Hour || n < 8*72-1 || n > 10*72 {
		t.Errorf("trend over dropped ten-minute summaries: step %s with %d values, error %v; want an hour and eight to nine days", tr.Step, n, err)
	}
	// A sample that comes after its day was dropped adds to the summary.
	if err := p.Append(t.Context(), storetest.ScanAt(p.now.Add(-5*24*time.Hour), p.ids[:1], 5)); err != nil {
		t.Fatal(err)
	}
	p.now = p.now.Add(settleTime)
	p.upkeep()
	again, err := p.Trend(t.Context(), p.ids[:1], start, p.now, 10_000)
	if err != nil || count(again.Columns[0]) != count(tr.Columns[0])+1 {
		t.Errorf("%d values after a very late sample, were %d; error %v", count(again.Columns[0]), count(tr.Columns[0]), err)
	}
}

// A clock that is years ahead drops nothing that as many days of history would
// not have dropped, and nothing is missing once it is right again.
func TestAWrongClockDropsNothing(t *testing.T) {
	p := newPlant(t, 3, Options{Retain: Retention{RawDays: 7, TensDays: 8, SummaryDays: 9}})
	start := p.now
	for range 4 {
		p.run(24*time.Hour, 20*time.Minute)
		p.upkeep()
	}
	before := len(p.all(p.ids[0]))
	right := p.now
	p.now = p.now.AddDate(11, 0, 0)
	p.run(25*time.Hour, 20*time.Minute)
	p.upkeep()
	for keep, want := range map[time.Duration]bool{3 * 24 * time.Hour: false, 7 * 24 * time.Hour: true} {
		if at, err := p.Cutoff(t.Context(), keep); err != nil || at.IsZero() != want {
			t.Errorf("what is kept for %s may go before %s, error %v; nothing may go: %v", keep, at, err, want)
		}
	}
	p.now = right
	p.upkeep()
	kept, err := p.Points(t.Context(), p.ids[0], start, right)
	if err != nil || len(kept) != before {
		t.Errorf("%d values of the days before, error %v; want %d", len(kept), err, before)
	}
}

func TestRetentionBySize(t *testing.T) {
	p := newPlant(t, 3, Options{Retain: Retention{RawBytes: 40_000}})
	for range 10 {
		p.run(24*time.Hour, 10*time.Minute)
		p.upkeep()
	}
	var bytes int64
	if err := p.read.QueryRow(`SELECT sum(bytes) FROM block`).Scan(&bytes); err != nil || bytes > 40_000 || bytes < 20_000 {
		t.Errorf("archive of %d bytes, error %v; want just below 40000", bytes, err)
	}
}

func TestSummariesBySize(t *testing.T) {
	const limit = 2_500
	size := func(p *plant) (tens, rest, days int64) {
		row := p.read.QueryRow(`SELECT coalesce(sum(length(tens)), 0), coalesce(sum(coalesce(length(hours), 0) + 48), 0), count(DISTINCT day) FROM summary`)
		if err := row.Scan(&tens, &rest, &days); err != nil {
			t.Fatal(err)
		}
		return tens, rest, days
	}
	filled := func(limit int64) *plant {
		p := newPlant(t, 3, Options{Retain: Retention{SummaryBytes: limit}})
		for range 12 {
			p.run(24*time.Hour, 10*time.Minute)
			p.upkeep()
		}
		return p
	}
	tens, rest, days := size(filled(0))
	if tens+rest <= 2*limit || rest <= limit {
		t.Fatalf("%d and %d bytes without a limit are no test of %d", tens, rest, limit)
	}
	if gotTens, gotRest, got := size(filled(rest + tens/2)); got != days || gotTens >= tens || gotTens == 0 || gotRest != rest {
		t.Errorf("ten minutes go first: %d and %d bytes of %d days are left of %d and %d of %d", gotTens, gotRest, got, tens, rest, days)
	}
	gotTens, gotRest, got := size(filled(limit))
	if gotTens+gotRest > 2*limit || got >= days || got == 0 {
		t.Errorf("%d and %d bytes of %d days are left where %d are allowed", gotTens, gotRest, got, limit)
	}
}

func TestSummaryRoundTrip(t *testing.T) {
	pack, err := newPacker()
	if err != nil {
		t.Fatal(err)
	}
	defer pack.close()
	r := rand.New(rand.NewPCG(5, 6))
	for n := range 500 {
		want := make([]store.Bucket, 144)
		for i := range want {
			for range r.IntN(4) {
				v := math.Round(r.NormFloat64()*1000) / 100
				if n%2 == 0 {
					v = r.NormFloat64()
				}
				add(&want[i], sample{Value: v, Quality: uint8(1 + 3*r.IntN(2))})
			}
		}
		got := make([]store.Bucket, len(want))
		packed := pack.pack(want)
		if err := pack.unpack(packed, got); err != nil {
			t.Fatal(err)
		}
		near := cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-9 })
		if diff := cmp.Diff(want, got, near); diff != "" {
			t.Fatalf("buckets (-want +got):\n%s", diff)
		}
		packed[r.IntN(len(packed))] ^= 1
		if err := pack.unpack(packed, got); err != nil && !errors.Is(err, store.ErrCorrupt) {
			t.Fatal(err)
		}
	}
}

// The archive describes itself: without a database it is taken in again.
func TestLostDatabaseIsRebuiltFromTheArchive(t *testing.T) {
	p := newPlant(t, 5, Options{})
	start := p.now
	p.run(72*time.Hour, 10*time.Minute)
	p.append(storetest.ScanAt(start.Add(time.Hour), p.ids, 9, 9, 9)) // makes a second generation
	p.upkeep()
	p.now = p.now.Add(settleTime)
	p.upkeep()
	names := storetest.Names(5)
	end := p.now.Truncate(24 * time.Hour)
	var want [][]store.Point
	for _, id := range p.ids {
		points, err := p.Points(t.Context(), id, start, end)
		if err != nil {
			t.Fatal(err)
		}
		want = append(want, points)
	}
	if err := p.Close(); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{historyFile, historyFile + "-wal", historyFile + "-shm"} {
		if err := os.Remove(filepath.Join(p.dir, name)); err != nil && !errors.Is(err, os.ErrNotExist) {
			t.Fatal(err)
		}
	}
	p.reopen()
	ids, err := p.Register(t.Context(), names)
	if err != nil {
		t.Fatal(err)
	}
	for i, id := range ids {
		points, err := p.Points(t.Context(), id, start, end)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want[i], points); diff != "" {
			t.Errorf("series %d (-before +rebuilt):\n%s", i, diff)
		}
	}
	p.ids = ids
	p.checkTrends(start, end)
	if n := p.Notices(); len(n) != 1 || !strings.Contains(n[0].Text, "taken in") {
		t.Errorf("notices %v, want one that says what happened", n)
	}
}
