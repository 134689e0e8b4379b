package main

import (
	"bytes"
	"context"
	"io/fs"
	"log/slog"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bridlewatch/cmd/bridlewatch/rehearsal"
	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector"
	"bridlewatch/dashboards"
	"bridlewatch/dashboards/api"
	"bridlewatch/dashboards/plant/planttest"
)

// commandLine runs a command line in this process.
func commandLine(t *testing.T, args ...string) (code int, out string) {
	t.Helper()
	var stdout, stderr bytes.Buffer
	code = run(t.Context(), args, &stdout, &stderr)
	return code, stdout.String() + stderr.String()
}

func plantFile(t *testing.T) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "plant.yaml")
	if err := os.WriteFile(file, rehearsal.PlantYAML(), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

func TestRecordsOfADataDirectory(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data")
	place := []string{"--data", dir, "--config", plantFile(t)}
	record := func(want int, args ...string) string {
		t.Helper()
		code, out := commandLine(t, append(append([]string{"record"}, args...), place...)...)
		if code != want {
			t.Fatalf("record %v: exit %d, want %d: %s", args, code, want, out)
		}
		return out
	}
	if out := record(exitOK, "list"); !strings.Contains(out, "No record") {
		t.Error(out)
	}
	record(exitFailed, "add", "LG-999", "--work", "x", "--by", "R. Tester")
	record(exitFailed, "add", "LG-104", "--work", "x")
	record(exitUsage, "add", "LG-104", "--work", "x", "--by", "R. Tester", "--at", "noon")
	booked := record(exitOK, "add", "LG-104", "--kind", "float cleaned", "--work", "Scale taken off.", "--by", "R. Tester", "--at", "2026-03-02T06:00:00-06:00")
	record(exitOK, "add", "LG-104", "--kind", "note", "--work", "Looked again.", "--by", "R. Tester", "--corrects", "1")
	if out := record(exitOK, "list", "--kind", "note"); !strings.Contains(out, "Looked again.") || strings.Contains(out, "Scale") {
		t.Error(out)
	}
	if out := record(exitOK, "show", "1"); !strings.Contains(out, "Scale taken off.") || !strings.Contains(out, "Record before") {
		t.Error(out)
	}
	if out := record(exitOK, "show", "1", "--output", "json"); !strings.Contains(out, `"kind":"float cleaned"`) {
		t.Error(out)
	}
	if out := record(exitOK, "due"); !strings.Contains(out, "LG-104     never") {
		t.Error(out)
	}
	record(exitUsage, "show", "first")
	record(exitFailed, "show", "7")
	file := filepath.Join(t.TempDir(), "r.pdf")
	record(exitOK, "print", "1", "--out", file)
	if body, err := os.ReadFile(file); err != nil || !bytes.HasPrefix(body, []byte("%PDF-")) {
		t.Errorf("%d bytes, %v", len(body), err)
	}
	hash := booked[strings.LastIndex(booked, " ")+1:]
	hash = strings.TrimSuffix(strings.TrimSpace(hash), ".")
	if out := record(exitOK, "verify", "--expect", hash); !strings.Contains(out, "2 records hold") {
		t.Error(out)
	}
	if out := record(exitFailed, "verify", "--expect", strings.Repeat("0", 64)); !strings.Contains(out, "cut and written anew") {
		t.Error(out)
	}
	forge(t, dir, "Scale taken off.", "Nothing was done")
	if out := record(exitFailed, "verify"); !strings.Contains(out, "chain of records is broken") || !strings.Contains(out, "1 was changed since") {
		t.Errorf("a forged record is not found: %s", out)
	}
}

// forge changes a text in the files of a data directory, as somebody with an
// editor could.
func forge(t *testing.T, dir, from, to string) {
	t.Helper()
	found := false
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		body, err := os.ReadFile(path)
		if err != nil || !bytes.Contains(body, []byte(from)) {
			return err
		}
		found = true
		return os.WriteFile(path, bytes.ReplaceAll(body, []byte(from), []byte(to)), 0o600)
	})
	if err != nil || !found {
		t.Fatalf("%q is in no file of %s: %v", from, dir, err)
	}
}

// TestProveAtATerminal takes a test over the interface, leaves it when the
// input ends and resumes it.
func TestProveAtATerminal(t *testing.T) {
	pages, err := dashboards.New(dashboards.Options{Store: planttest.NewMemory(), Plant: planttest.Varied(), Version: "test"})
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(pages.Handler())
	defer server.Close()
	defer pages.Close()
	var more []string
	prove := func(lines ...string) string {
		t.Helper()
		c, out := newProve(), &bytes.Buffer{}
		c.SetIn(strings.NewReader(strings.Join(lines, "\n") + "\n"))
		c.SetOut(out)
		c.SetErr(out)
		c.SetArgs(append([]string{"LG-101", "--server", server.URL}, more...))
		if err := c.ExecuteContext(t.Context()); err != nil {
			out.WriteString("error: " + err.Error())
		}
		return out.String()
	}
	if out := prove("no"); !strings.Contains(out, "nothing was begun") || !strings.Contains(out, "competent people") {
		t.Error(out)
	}
	out := prove("yes", "R. Tester", "sight glass", "four", "4", "", "10", "610")
	for _, want := range []string{"This is no length", "near the upper tap", "The test is kept"} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is missing in %s", want, out)
		}
	}
	out = prove("610", "", "1 m 20", "9000", "", "", "LSH-999", "", "787", "", "", "LSH-101", "", "787", "", "", "", "Drained.", "", "", "W. Person")
	for _, want := range []string{"A test by R. Tester is under way", "LI-101", "within", "Not taken: reference_level: 9000 mm is outside the chamber", "Not recorded: switch: LSH-999 is no switch",
		"LSH-101 on rising level at 787.0 mm by reference, difference +1.0 mm: within", "LSH-101: falling level was not exercised", "Record 1 is booked"} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is missing in %s", want, out)
		}
	}
	more = []string{"--isolate"}
	prove("yes", "R. Tester", "sight glass", "4", "", "10", "610", "")
	more = nil
	if out := prove("", "", "Drained.", "", "", "", "yes"); !strings.Contains(out, "back in service, taps open") || !strings.Contains(out, "Record 3 is booked") {
		t.Error(out)
	}
	if _, out := commandLine(t, "record", "list", "--server", server.URL); !strings.Contains(out, "Chamber isolated for a drain test.") || !strings.Contains(out, "Chamber back in service after record 3.") {
		t.Error(out)
	}
	prove("yes", "R. Tester", "sight glass", "4", "", "10", "")
	if out := prove("", "", "discard"); !strings.Contains(out, "No record was made") {
		t.Error(out)
	}
}

// TestRecordOutlivesAStop books an isolation, stops the service before its
// next comparison and finds the chamber isolated afterwards.
func TestRecordOutlivesAStop(t *testing.T) {
	cfg, err := rehearsal.Embedded()
	if err != nil {
		t.Fatal(err)
	}
	dir, ctx := t.TempDir(), context.Background()
	open := func() (*station, *httptest.Server) {
		s, err := openStation(ctx, cfg, slog.New(slog.DiscardHandler), stationOptions{dir: dir, rehearsal: "test"})
		if err != nil {
			t.Fatal(err)
		}
		return s, httptest.NewServer(s.pages.Handler())
	}
	at := time.Now()
	cycle := func(s *station) {
		at = at.Add(time.Second)
		s.watch.Cycle(ctx, collector.Snapshot{Time: at, Samples: make([]collector.Sample, len(watch.Tags(cfg)))})
	}
	isolated := func(s *station) bool {
		g, _ := s.watch.Gauge("LG-104")
		return g.Result.Measurement.Isolated
	}
	s, server := open()
	cycle(s)
	a := ask{server: server.URL}
	if _, err := (servedBook{&a}).add(ctx, api.NewRecord{Kind: "isolated", Gauge: "LG-104", Work: "Valves shut.", By: "R. Tester", At: at.Add(-time.Minute)}); err != nil {
		t.Fatal(err)
	}
	if isolated(s) {
		t.Error("isolated before the next comparison")
	}
	server.Close()
	if err := s.close(); err != nil {
		t.Fatal(err)
	}
	s, server = open()
	defer server.Close()
	defer s.close()
	cycle(s)
	if !isolated(s) {
		t.Error("the service has forgotten that the chamber is isolated")
	}
	if _, err := (servedBook{&ask{server: server.URL}}).add(ctx, api.NewRecord{Kind: "back in service", Gauge: "LG-104", Work: "Valves open.", By: "R. Tester"}); err != nil {
		t.Fatal(err)
	}
	cycle(s)
	if isolated(s) {
		t.Error("the chamber is not back in service")
	}
}
