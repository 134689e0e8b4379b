//go:build peers

package embedded

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/archive"
	"bridlewatch/collector/store/storetest"
)

func peersCache(t *testing.T) string {
	t.Helper()
	cache, err := os.UserCacheDir()
	if err != nil {
		t.Fatal(err)
	}
	return filepath.Join(cache, "bridlewatch-peers")
}

// archiveRow is what archive_read.js prints for a series.
type archiveRow struct {
	Class, Gauge, Signal, Unit                   string
	Rows, Vals, Config, Sourced, Quality, Reason int
	Low, High, Total                             float64
	First, Last                                  string
}

// DuckDB, an engine that we did not write, reads the archive as it lies.
func TestArchiveIsReadByDuckDB(t *testing.T) {
	p := newPlant(t, 7, Options{})
	ids, err := p.Register(t.Context(), []store.Series{{Gauge: "LG-101", Name: "float.level", Class: store.Derived, Unit: "m"}})
	if err != nil {
		t.Fatal(err)
	}
	p.ids = append(p.ids, ids...)
	p.run(3*24*time.Hour, time.Minute)
	p.append(store.Scan{Time: storetest.Start.Add(time.Hour), ConfigVersion: 7, Values: []store.Value{
		{ID: p.ids[0], Value: 0.1, Quality: 3, Reason: 11, Source: storetest.Start}}})
	if err := p.SealBefore(t.Context(), p.now.Add(24*time.Hour)); err != nil {
		t.Fatal(err)
	}
	known, err := p.Series(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	got := duckdb(t, filepath.Join(p.dir, "archive"))
	if len(got) != len(p.ids) {
		t.Errorf("DuckDB found %d series, want %d", len(got), len(p.ids))
	}
	for _, id := range p.ids {
		s := known[id]
		want := describe(s, p.all(id))
		row := got[s]
		row.Config, row.Sourced = 0, 0
		if math.Abs(row.Total-want.Total) > 1e-6 {
			t.Errorf("%s %s: sum %v, want %v", s.Gauge, s.Name, row.Total, want.Total)
		}
		row.Total = want.Total
		if row != want {
			t.Errorf("%s %s:\ngot  %+v\nwant %+v", s.Gauge, s.Name, row, want)
		}
	}
	if row := got[known[p.ids[0]]]; row.Sourced != 1 || row.Config != 7*row.Rows {
		t.Errorf("%d source times and configuration sum %d, want 1 and %d", row.Sourced, row.Config, 7*row.Rows)
	}
}

func describe(s store.Series, points []store.Point) archiveRow {
	r := archiveRow{Class: archive.ClassName(s.Class), Gauge: s.Gauge, Signal: s.Name, Unit: s.Unit,
		Low: math.Inf(1), High: math.Inf(-1),
		First: strconv.FormatInt(points[0].Time.UnixMicro(), 10), Last: strconv.FormatInt(points[len(points)-1].Time.UnixMicro(), 10)}
	for _, p := range points {
		r.Rows++
		r.Quality += int(p.Quality)
		r.Reason += int(p.Reason)
		if usable(p.Quality) {
			r.Vals++
			r.Low, r.High, r.Total = min(r.Low, p.Value), max(r.High, p.Value), r.Total+p.Value
		}
	}
	return r
}

func duckdb(t *testing.T, dir string) map[store.Series]archiveRow {
	t.Helper()
	cmd := exec.Command("node", filepath.Join("..", "..", "..", "testdata", "peers", "archive_read.js"), dir)
	cmd.Env = append(os.Environ(), "NODE_PATH="+filepath.Join(peersCache(t), "node_modules"))
	out, err := cmd.Output()
	if err != nil {
		var exit *exec.ExitError
		if errors.As(err, &exit) {
			err = errors.New(string(exit.Stderr))
		}
		t.Fatalf("DuckDB through node (install with sh testdata/peers/install.sh): %v", err)
	}
	rows := map[store.Series]archiveRow{}
	for lines := bufio.NewScanner(bytes.NewReader(out)); lines.Scan(); {
		var r archiveRow
		if err := json.Unmarshal(lines.Bytes(), &r); err != nil {
			t.Fatalf("%s: %v", lines.Text(), err)
		}
		class := store.Raw
		if r.Class == "derived" {
			class = store.Derived
		}
		rows[store.Series{Gauge: r.Gauge, Name: r.Signal, Class: class, Unit: r.Unit}] = r
	}
	return rows
}

// A full disk stops history with ErrFull and nothing else; once there is room
// the same handle goes on.
func TestFullDisk(t *testing.T) {
	dir := t.TempDir()
	if err := unix.Mount("tmpfs", dir, "tmpfs", 0, "size=12m"); err != nil {
		t.Fatalf("mount a small tmpfs: %v (run the tests as root)", err)
	}
	t.Cleanup(func() {
		if err := unix.Unmount(dir, unix.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	now := storetest.Start
	db, err := Open(t.Context(), Options{Dir: filepath.Join(dir, "data"), Now: func() time.Time { return now }, Upkeep: -1})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	ids := storetest.Register(t, db, 100)
	ballast := filepath.Join(dir, "ballast")
	if err := os.WriteFile(ballast, make([]byte, 6<<20), 0o600); err != nil {
		t.Fatal(err)
	}
	acknowledged := fillUp(t, db, ids)
	if _, err := db.Put(t.Context(), store.Document{Kind: "k", ID: "1", Time: now, Body: make([]byte, 0)}); !errors.Is(err, store.ErrInvalid) {
		t.Errorf("empty document on a full disk: %v", err)
	}
	now = now.AddDate(0, 0, 30)
	if err := db.Upkeep(t.Context()); err != nil && !errors.Is(err, store.ErrFull) {
		t.Errorf("upkeep on a full disk: %v, want nothing or ErrFull", err)
	}
	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	if err := db.Append(t.Context(), killScan(acknowledged+1, ids)); err != nil {
		t.Fatalf("append after space came back: %v", err)
	}
	if err := db.Upkeep(t.Context()); err != nil {
		t.Fatalf("upkeep after space came back: %v", err)
	}
	points, err := db.Points(t.Context(), ids[5], storetest.Start, now)
	if err != nil || len(points) != acknowledged+1 {
		t.Errorf("%d points, error %v; want the %d acknowledged", len(points), err, acknowledged+1)
	}
}

// fillUp appends until the disk is full and returns the last scan acknowledged.
func fillUp(t *testing.T, db *DB, ids []store.ID) int {
	t.Helper()
	for n := 1; n < 100_000; n++ {
		err := db.Append(t.Context(), killScan(n, ids))
		if errors.Is(err, store.ErrFull) {
			t.Logf("full after %d scans: %v", n-1, err)
			return n - 1
		}
		if err != nil {
			t.Fatalf("scan %d: %v, want ErrFull", n, err)
		}
	}
	t.Fatal("the disk never became full")
	return 0
}

// The number of the store's promise: killed 200 times at different instants.
// What was acknowledged is read again after every kill, so four histories of 50
// kills are read in a quarter of the time of one.
func TestKilledTwoHundredTimes(t *testing.T) {
	for from := range 4 {
		killRepeatedly(t, 50*from, 50)
	}
}

// A disk that is full before the start: what is there is read, a directory that
// was never used begins in memory, and with room both are opened as usual.
func TestOpenOnAFullDisk(t *testing.T) {
	for _, used := range []bool{true, false} {
		t.Run(fmt.Sprintf("used before %v", used), func(t *testing.T) {
			disk := t.TempDir()
			if err := unix.Mount("tmpfs", disk, "tmpfs", 0, "size=4m"); err != nil {
				t.Fatalf("mount a small tmpfs: %v (run the tests as root)", err)
			}
			t.Cleanup(func() {
				if err := unix.Unmount(disk, unix.MNT_DETACH); err != nil {
					t.Error(err)
				}
			})
			dir := filepath.Join(disk, "data")
			if used {
				db := open(t, dir)
				ids := storetest.Register(t, db, 2)
				if err := errors.Join(db.Append(t.Context(), storetest.ScanAt(storetest.Start, ids, 1, 2)), db.Close()); err != nil {
					t.Fatal(err)
				}
			}
			ballast, err := os.Create(filepath.Join(disk, "ballast"))
			if err != nil {
				t.Fatal(err)
			}
			for err == nil {
				_, err = ballast.Write(make([]byte, 4096))
			}
			if HasRoom(dir) {
				t.Fatal("a full disk has room")
			}
			if db, err := Open(t.Context(), Options{Dir: dir}); !errors.Is(err, store.ErrFull) {
				t.Errorf("opened as usual: %v, %v; want ErrFull", db, err)
			}
			db, err := Open(t.Context(), Options{Dir: dir, EvenFull: true})
			if err != nil {
				t.Fatal(err)
			}
			if !db.Cramped() || db.inMemory == used {
				t.Errorf("cramped %v, in memory %v", db.Cramped(), db.inMemory)
			}
			known, err := db.Series(t.Context())
			if err != nil || len(known) != 2 && used {
				t.Errorf("series %v, error %v; want the two of before", known, err)
			}
			if err := errors.Join(ballast.Close(), os.Remove(ballast.Name()), db.Close()); err != nil {
				t.Fatal(err)
			}
			if !HasRoom(dir) {
				t.Error("no room though the disk is empty")
			}
			db, err = Open(t.Context(), Options{Dir: dir, EvenFull: true})
			if err != nil || db.Cramped() {
				t.Fatalf("with room: %v, cramped %v", err, db.Cramped())
			}
			if points, err := db.Last(t.Context(), storetest.Register(t, db, 2), storetest.Start); used && (err != nil || points[1].Value != 2) {
				t.Errorf("%v, error %v; want what was there before", points, err)
			}
			if err := db.Close(); err != nil {
				t.Error(err)
			}
		})
	}
}
