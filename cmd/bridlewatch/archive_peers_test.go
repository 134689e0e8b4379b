//go:build peers

package main

import (
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
)

// documentedQuery is the SQL example of the README.
func documentedQuery(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	for block := range strings.SplitSeq(string(text), "```") {
		if strings.Contains(block, "read_parquet(") {
			return strings.TrimSpace(block)
		}
	}
	t.Fatal("the README has no query over the archive")
	return ""
}

// twoSealedDays is a data directory with two finished days, in which the gap of
// LG-104 grows to 250 mm and then to 500 mm the other way, beside another gauge.
func twoSealedDays(t *testing.T) (dir string) {
	t.Helper()
	dir = t.TempDir()
	begin := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	db, err := embedded.Open(t.Context(), embedded.Options{Dir: dir, Upkeep: -1, Now: func() time.Time { return begin.AddDate(0, 0, 3) }})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	ids, err := db.Register(t.Context(), []store.Series{
		{Gauge: "LG-104", Name: "gap.float-transmitter", Class: store.Derived, Unit: "m"},
		{Gauge: "LG-105", Name: "gap.float-transmitter", Class: store.Derived, Unit: "m"},
		{Gauge: "LG-104", Name: "LT-104", Class: store.Raw, Unit: "mA"}})
	if err != nil {
		t.Fatal(err)
	}
	for day, most := range []float64{0.25, -0.5} {
		var scans []store.Scan
		for minute := range 1440 {
			scans = append(scans, store.Scan{Time: begin.AddDate(0, 0, day).Add(time.Duration(minute) * time.Minute), Values: []store.Value{
				{ID: ids[0], Value: most * float64(minute) / 1439, Quality: 4}, {ID: ids[1], Value: 9, Quality: 4}, {ID: ids[2], Value: 12, Quality: 4}}})
		}
		if err := db.AppendBatch(t.Context(), scans); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.SealBefore(t.Context(), begin.AddDate(0, 0, 2)); err != nil {
		t.Fatal(err)
	}
	return dir
}

// TestDocumentedQuery carries out the query of the README as it is printed, in
// the data directory.
func TestDocumentedQuery(t *testing.T) {
	dir, query := twoSealedDays(t), documentedQuery(t)
	if !strings.Contains(query, "'archive/class=derived/") {
		t.Fatalf("the query does not say where the archive is: %s", query)
	}
	got := sql(t, strings.ReplaceAll(query, "'archive/", "'"+filepath.Join(dir, "archive")+"/"))
	if want := `{"day":"2026-03-01","gap":0.25}` + "\n" + `{"day":"2026-03-02","gap":0.5}`; got != want {
		t.Errorf("DuckDB answers\n%s\nwant\n%s", got, want)
	}
}

// TestDocumentedQueryInAnObjectStore asks the same of Polars, with the archive
// behind a server that speaks S3.
func TestDocumentedQueryInAnObjectStore(t *testing.T) {
	listen, dir := freeAddress(t), twoSealedDays(t)
	server := exec.Command(filepath.Join(peersDir(t), "bin", "gofakes3"), "-backend", "directfs", "-directfs.path", dir, "-directfs.bucket", "plant", "-host", listen)
	if err := server.Start(); err != nil {
		t.Fatalf("the object store does not start (%v): run testdata/peers/install.sh", err)
	}
	t.Cleanup(func() { _ = server.Process.Kill(); _ = server.Wait() })
	until(t, "the object store", func() bool {
		c, err := net.Dial("tcp", listen)
		return err == nil && c.Close() == nil
	})
	from := regexp.MustCompile(`(?s)FROM read_parquet\('([^']+)/\*\.parquet'[^)]*\)`)
	where := from.FindStringSubmatch(documentedQuery(t))
	if where == nil {
		t.Fatal("the query names no files")
	}
	args := []string{"http://" + listen, strings.TrimSuffix(from.ReplaceAllString(documentedQuery(t), "FROM archive"), ";")}
	for _, kind := range kindsIn(t, filepath.Join(dir, where[1])) {
		args = append(args, "s3://plant/"+where[1]+"/*-"+kind)
	}
	got := node(t, "object_read.js", args...)
	if want := `{"day":"2026-03-01T00:00:00.000Z","gap":0.25}` + "\n" + `{"day":"2026-03-02T00:00:00.000Z","gap":0.5}`; got != want {
		t.Errorf("Polars answers\n%s\nwant\n%s", got, want)
	}
}

// kindsIn lists the ends of the names of archive files, by kind.
func kindsIn(t *testing.T, pattern string) []string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(pattern, "*.parquet"))
	if err != nil || len(files) == 0 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	var kinds []string
	for _, f := range files {
		if kind := f[strings.LastIndexByte(f, '-')+1:]; !slices.Contains(kinds, kind) {
			kinds = append(kinds, kind)
		}
	}
	return kinds
}

func until(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(30 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if ok() {
			return
		}
	}
	t.Fatalf("%s does not answer", what)
}
