//go:build peers

package main

import (
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"bridlewatch/collector"
	"bridlewatch/compare/quantity"
)

// TestFullDiskOfAService fills the disk of a service: history stops, pages and
// interface say so, comparing goes on; once there is room again it is recorded
// without anybody's help, and nothing says otherwise.
func TestFullDiskOfAService(t *testing.T) {
	disk := t.TempDir()
	if err := unix.Mount("tmpfs", disk, "tmpfs", 0, "size=24m"); err != nil {
		t.Fatalf("mount a small tmpfs: %v (run the tests as root)", err)
	}
	t.Cleanup(func() {
		if err := unix.Unmount(disk, unix.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	cfg := plantWithLogin(t)
	cfg.Service.OpenAccess = true
	dir := filepath.Join(disk, "data")
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	s := startStation(t, cfg, dir)
	at := time.Now().Truncate(time.Second).Add(-time.Hour)
	scan := func() {
		at = at.Add(time.Second)
		snap := collector.Snapshot{Time: at}
		for _, g := range cfg.Gauges {
			for i := range g.Signals {
				snap.Samples = append(snap.Samples, collector.Sample{Tag: collector.Tag(g.Signals[i].Tag), Value: 12, Time: at, Quality: quantity.Good})
			}
		}
		s.watch.Cycle(t.Context(), snap)
	}
	scan()
	sees(t, s, false)
	fill(t, filepath.Join(disk, "ballast"))
	for n := 0; s.watch.Health().Store.Error == ""; n++ {
		if n == 20_000 {
			t.Fatal("the disk never became full")
		}
		scan()
	}
	before := s.watch.Health().Scan.Scans
	scan()
	if now := s.watch.Health().Scan.Scans; now != before+1 {
		t.Errorf("%d scans compared, want %d: a full disk stops history only", now, before+1)
	}
	sees(t, s, true)
	if err := os.Remove(filepath.Join(disk, "ballast")); err != nil {
		t.Fatal(err)
	}
	scan()
	sees(t, s, false)
	known, err := s.store.Series(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for id, series := range known {
		if points, err := s.store.Points(t.Context(), id, at, at.Add(time.Millisecond)); err == nil && len(points) == 1 {
			return
		} else if err != nil {
			t.Fatalf("%s: %v", series.Name, err)
		}
	}
	t.Error("the scan after there was room again is not in history")
}

// fill takes what room there is.
func fill(t *testing.T, file string) {
	t.Helper()
	out, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	defer out.Close()
	for err == nil {
		_, err = out.Write(make([]byte, 4096))
	}
}

// sees checks what people and programs are told.
func sees(t *testing.T, s *station, full bool) {
	t.Helper()
	for _, c := range []struct {
		path string
		full int
	}{{"/", http.StatusOK}, {"/service", http.StatusOK}, {"/readyz", http.StatusServiceUnavailable}, {"/api/v1/health", http.StatusOK}} {
		answer, err := http.Get(s.url() + c.path)
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(answer.Body)
		answer.Body.Close()
		want := http.StatusOK
		if full {
			want = c.full
		}
		if err != nil || answer.StatusCode != want || strings.Contains(string(body), "no space left") != full {
			t.Errorf("disk full %v: %s answers %s and says so: %v (%v)", full, c.path, answer.Status, !full, err)
		}
	}
}
