//go:build peers

package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"bridlewatch/cmd/bridlewatch/rehearsal"
	"bridlewatch/collector"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/compare/quantity"
	"bridlewatch/config"
	"bridlewatch/dashboards/api"
)

// TestFullDiskOfAService fills the disk of a service: history stops, pages and
// interface say so, comparing goes on; once there is room again it is recorded
// without anybody's help, and nothing says otherwise.
func TestFullDiskOfAService(t *testing.T) {
	disk := smallDisk(t, "24m")
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

// smallDisk mounts a disk of its own for a test.
func smallDisk(t *testing.T, size string) string {
	t.Helper()
	disk := t.TempDir()
	if err := unix.Mount("tmpfs", disk, "tmpfs", 0, "size="+size); err != nil {
		t.Fatalf("mount a small tmpfs: %v (run the tests as root)", err)
	}
	t.Cleanup(func() {
		if err := unix.Unmount(disk, unix.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	return disk
}

// TestServiceStartsOnAFullDisk: the disk is full before the service starts, in a
// directory of an earlier run or in a new one. It compares and says what is
// wrong, and with room it records by itself; of a new directory also what it
// kept in memory.
func TestServiceStartsOnAFullDisk(t *testing.T) {
	for _, used := range []bool{true, false} {
		t.Run(fmt.Sprintf("used before %v", used), func(t *testing.T) {
			disk := smallDisk(t, "8m")
			plant, err := rehearsal.Start(t.Context(), rehearsal.Options{})
			if err != nil {
				t.Fatal(err)
			}
			defer plant.Close()
			cfg := *plant.Config()
			cfg.Store.Dir, cfg.Service.Listen, cfg.Service.TLSSelfMade = filepath.Join(disk, "data"), freePort(t), false
			if used {
				stop := serveInTest(t, &cfg)
				awaitHealth(t, &cfg, func(h api.Health) bool { return h.Scans > 0 })
				stop()
			}
			ballast := filepath.Join(disk, "ballast")
			fill(t, ballast)
			defer serveInTest(t, &cfg)()
			h := awaitHealth(t, &cfg, func(h api.Health) bool { return h.Scans > 2 && h.StoreError != "" })
			if h.Ready || !strings.Contains(strings.ToLower(strings.Join(h.Notices, " ")), "no space left") {
				t.Errorf("ready %v, notices %q; want not ready, for no space is left", h.Ready, h.Notices)
			}
			full := time.Now()
			if err := os.Remove(ballast); err != nil {
				t.Fatal(err)
			}
			awaitHealth(t, &cfg, func(h api.Health) bool { return h.Ready && h.StoreError == "" && len(h.Notices) == 0 && h.Scans > 1 })
			db, err := embedded.OpenView(t.Context(), cfg.Store.Dir)
			if err != nil {
				t.Fatal(err)
			}
			defer db.Close()
			begin, end, err := db.Extent(t.Context())
			if err != nil || !end.After(full) || !begin.Before(full) {
				t.Errorf("history from %s to %s, error %v; want it from before %s to after it", begin, end, err, full)
			}
		})
	}
}

func freePort(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// serveInTest serves until the returned function is called.
func serveInTest(t *testing.T, cfg *config.Config) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- serveHere(ctx, cfg, "test", slog.New(slog.DiscardHandler), nil) }()
	return func() {
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
}

// awaitHealth asks a service how it is until it is as it should be.
func awaitHealth(t *testing.T, cfg *config.Config, is func(api.Health) bool) (h api.Health) {
	t.Helper()
	for until := time.Now().Add(30 * time.Second); time.Now().Before(until); time.Sleep(100 * time.Millisecond) {
		answer, err := http.Get("http://" + cfg.Service.Listen + "/api/v1/health")
		if err != nil {
			continue // it is not there yet
		}
		h = api.Health{}
		err = json.NewDecoder(answer.Body).Decode(&h)
		answer.Body.Close()
		if err == nil && is(h) {
			return h
		}
	}
	t.Fatalf("the service stays as it is: %+v", h)
	return h
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
