package main

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bridlewatch/cmd/bridlewatch/rehearsal"
	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/dashboards/access"
)

const historianCSV = `time,LT-102,LI-102
2026-03-01T00:00:00Z,601.5,600
2026-03-01T00:00:10Z,602.5,600
2026-03-01T00:00:20Z,603.5,605
`

// TestImportWhileTheServiceRuns reads a historian's file into the history a
// service has open: first as a trial, then in earnest, again without effect,
// and back.
func TestImportWhileTheServiceRuns(t *testing.T) {
	dir, here := t.TempDir(), t.TempDir()
	s := startStation(t, plantWithLogin(t), dir)
	config, file := filepath.Join(here, "plant.yaml"), filepath.Join(here, "history.csv")
	for name, text := range map[string][]byte{config: rehearsal.PlantYAML(), file: []byte(historianCSV)} {
		if err := os.WriteFile(name, text, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	common := []string{"--config", config, "--data", dir}
	run := func(want string, args ...string) {
		t.Helper()
		out, err := managed(t, newImport, "", append(args, common...)...)
		if err != nil || !strings.Contains(out, want) {
			t.Fatalf("%v: %q, %v; want %q", args, out, err, want)
		}
	}
	stored := func() int {
		t.Helper()
		known, err := s.store.Series(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		for id, series := range known {
			if series.Name == "LT-102" {
				points, err := s.store.Points(t.Context(), id, time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC), time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC))
				if err != nil {
					t.Fatal(err)
				}
				return len(points)
			}
		}
		t.Fatal("the service has no series LT-102")
		return 0
	}
	run("3 would be stored", "--file", file, "--name", "old-historian", "--dry-run")
	if n := stored(); n != 0 {
		t.Fatalf("a dry run stored %d values", n)
	}
	run("3 stored", "--file", file, "--name", "old-historian")
	if n := stored(); n != 3 {
		t.Errorf("%d values of LT-102, want 3", n)
	}
	run("0 stored as LT-102, 3 there already", "--file", file, "--name", "old-historian")
	run("import old-historian: 6 values taken back", "--undo", "old-historian")
	if n := stored(); n != 0 {
		t.Errorf("%d values after taking back, want none", n)
	}
	if _, err := managed(t, newImport, "", append([]string{"--undo", "nobody"}, common...)...); err == nil || !strings.Contains(err.Error(), "not found") {
		t.Errorf("taking back what was never imported: %v", err)
	}
	if left, err := os.ReadDir(filepath.Join(dir, inboxDir)); err != nil || len(left) != 0 {
		t.Errorf("%d folders left in the inbox, %v", len(left), err)
	}
	trail, err := managed(t, newAudit, "", "list", "--data", dir)
	if err != nil || strings.Count(trail, "imported history") != 2 || !strings.Contains(trail, "took back the import") {
		t.Errorf("audit %q, %v; want two imports and one taken back", trail, err)
	}
}

// A directory that something other than the service has open is not imported
// into, and the reason is said at once.
func TestImportBesideAnotherCommand(t *testing.T) {
	dir, here := t.TempDir(), t.TempDir()
	db, err := embedded.Open(t.Context(), embedded.Options{Dir: dir, Upkeep: -1})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	config := filepath.Join(here, "plant.yaml")
	if err := os.WriteFile(config, rehearsal.PlantYAML(), 0o600); err != nil {
		t.Fatal(err)
	}
	_, err = managed(t, newImport, "", "--undo", "x", "--config", config, "--data", dir)
	if !errors.Is(err, store.ErrLocked) || !strings.Contains(err.Error(), "not by the service") {
		t.Errorf("error %v, want that the directory is in use and not by the service", err)
	}
	if _, err := os.Stat(filepath.Join(dir, access.ConsoleFile)); !errors.Is(err, os.ErrNotExist) {
		t.Error("a service is there after all")
	}
}
