package embedded

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/storetest"
)

// The test binary runs itself as the writer when this names a directory.
const writerDir = "BRIDLEWATCH_TEST_WRITER_DIR"

func TestMain(m *testing.M) {
	if dir := os.Getenv(writerDir); dir != "" {
		fmt.Fprintln(os.Stderr, writeForEver(dir))
		os.Exit(1)
	}
	os.Exit(m.Run())
}

// writeForEver appends scans and documents from where the directory stands
// and prints each number once it is acknowledged.
func writeForEver(dir string) error {
	ctx := context.Background()
	// The clock follows the scans, ten minutes each, so that days end and are
	// sealed all the time.
	var clock atomic.Int64
	db, err := Open(ctx, Options{Dir: dir, Upkeep: 10 * time.Millisecond, Now: func() time.Time { return killTime(int(clock.Load())) }})
	if err != nil {
		return err
	}
	ids, err := db.Register(ctx, storetest.Names(100))
	if err != nil {
		return err
	}
	docs, err := db.Documents(ctx, store.Query{Newest: true, Limit: 1})
	if err != nil {
		return err
	}
	n := 0
	if len(docs) > 0 {
		n, _ = strconv.Atoi(string(docs[0].Body))
	}
	for n++; ; n++ {
		clock.Store(int64(n))
		if err := db.Append(ctx, killScan(n, ids)); err != nil {
			return err
		}
		d := store.Document{Kind: "episode", ID: strconv.Itoa(n % 7), Time: storetest.Start, Body: []byte(strconv.Itoa(n))}
		if _, err := db.Put(ctx, d); err != nil {
			return err
		}
		fmt.Println(n)
	}
}

func killTime(n int) time.Time { return storetest.Start.Add(time.Duration(n) * 10 * time.Minute) }

func killScan(n int, ids []store.ID) store.Scan {
	values := make([]float64, len(ids))
	for i := range values {
		values[i] = float64(n*1000 + i)
	}
	return storetest.ScanAt(killTime(n), ids, values...)
}

// killOnce runs the writer, kills it d after ready is true of the number of
// scans it has acknowledged, or d after its start if that is nil, and returns
// the last number it acknowledged.
func killOnce(t *testing.T, dir string, d time.Duration, ready func(int) bool) int {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), writerDir+"="+dir)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	kill := func() { _ = cmd.Process.Kill() }
	if ready == nil {
		time.AfterFunc(d, kill)
	}
	last, acknowledged, armed := 0, 0, ready == nil
	for lines := bufio.NewScanner(out); lines.Scan(); {
		n, err := strconv.Atoi(strings.TrimSpace(lines.Text()))
		if err != nil {
			continue
		}
		if acknowledged++; !armed && ready(acknowledged) {
			armed = true
			time.AfterFunc(d, kill)
		}
		last = n
	}
	if err := cmd.Wait(); err == nil || !strings.Contains(err.Error(), "killed") {
		t.Fatalf("writer ended with %v, want it killed", err)
	}
	return last
}

// checkAcknowledged fails unless scans and documents 1 to last are all there.
func checkAcknowledged(t *testing.T, dir string, last int) {
	t.Helper()
	db, err := Open(t.Context(), Options{Dir: dir, Upkeep: -1})
	if err != nil {
		t.Fatalf("reopen after a kill: %v", err)
	}
	defer db.Close()
	ids := storetest.Register(t, db, 100)
	for _, i := range []int{0, 57, 99} {
		points, err := db.Points(t.Context(), ids[i], storetest.Start, storetest.Start.AddDate(50, 0, 0))
		if err != nil {
			t.Fatal(err)
		}
		if len(points) < last {
			t.Fatalf("%d scans acknowledged, %d stored", last, len(points))
		}
		for n, p := range points {
			if want := float64((n+1)*1000 + i); p.Value != want {
				t.Fatalf("scan %d of series %d is %v, want %v", n+1, i, p.Value, want)
			}
		}
	}
	if c, err := db.VerifyDocuments(t.Context()); err != nil || c.Documents < last {
		t.Fatalf("%d documents acknowledged, %d stored, error %v", last, c.Documents, err)
	}
	if n := db.Notices(); len(n) > 0 && !strings.Contains(n[0].Text, "not in the manifest") {
		t.Fatalf("damage after a kill: %v", n)
	}
	var ok string
	if err := db.write.QueryRow(`PRAGMA integrity_check`).Scan(&ok); err != nil || ok != "ok" {
		t.Fatalf("integrity: %s %v", ok, err)
	}
}

func TestKilledProcessLosesNothing(t *testing.T) {
	killRepeatedly(t, 0, 6)
}

// scansOfADay is a little more than a day of the writer's clock.
const scansOfADay = 160

func once(acknowledged int) bool { return acknowledged >= 1 }

// untilSealed waits for one more sealed file, however slow the machine; where
// none comes in twenty days of the writer it gives up.
func untilSealed(t *testing.T, dir string) func(int) bool {
	before := sealedFiles(t, dir)
	return func(acknowledged int) bool {
		return acknowledged >= 20*scansOfADay || acknowledged%10 == 0 && sealedFiles(t, dir) > before
	}
}

func sealedFiles(t *testing.T, dir string) (n int) {
	t.Helper()
	err := filepath.WalkDir(filepath.Join(dir, "archive"), func(path string, _ fs.DirEntry, err error) error {
		if filepath.Ext(path) == ".parquet" {
			n++
		}
		if errors.Is(err, fs.ErrNotExist) {
			return nil // before the first start, or moved while it was looked at
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// killRepeatedly kills the writer of a new history; from which of the instants
// on is the first argument.
func killRepeatedly(t *testing.T, from, times int) {
	dir := t.TempDir()
	last := 0
	for i := from; i < from+times; i++ {
		d := time.Duration(i*37%199) * time.Millisecond
		ready := once
		switch {
		case i%20 == 18:
			ready = untilSealed(t, dir)
		case i%5 == 4:
			ready = nil
		}
		if n := killOnce(t, dir, d, ready); n > 0 {
			last = n
		}
		checkAcknowledged(t, dir, last)
	}
	if last == 0 {
		t.Fatal("the writer never got to acknowledge a scan: nothing was tested")
	}
	db := open(t, dir)
	t.Logf("%d kills, %d scans acknowledged, %d days sealed", times, last, len(db.sealed.order))
	if times >= 50 && len(db.sealed.order) == 0 {
		t.Error("no day was sealed: sealing was not tested")
	}
}
