//go:build peers

package main

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector/store"
)

// sql carries out statements with DuckDB, a program that we did not write, and
// returns the rows of the last as lines of JSON.
func sql(t *testing.T, statements ...string) string { return node(t, "sql.js", statements...) }

// peersDir is where testdata/peers/install.sh puts what it installs.
func peersDir(t *testing.T) string {
	t.Helper()
	cache, err := os.UserCacheDir()
	if err != nil {
		t.Fatal(err)
	}
	return filepath.Join(cache, "bridlewatch-peers")
}

// node runs a script of testdata/peers and returns what it prints.
func node(t *testing.T, script string, args ...string) string {
	t.Helper()
	cmd := exec.Command("node", append([]string{filepath.Join("..", "..", "testdata", "peers", script)}, args...)...)
	cmd.Env = append(os.Environ(), "NODE_PATH="+filepath.Join(peersDir(t), "node_modules"))
	out, err := cmd.Output()
	if exit := (*exec.ExitError)(nil); errors.As(err, &exit) {
		err = errors.New(string(exit.Stderr))
	}
	if err != nil {
		t.Fatalf("%s (install what it needs with sh testdata/peers/install.sh): %v", script, err)
	}
	return string(bytes.TrimSpace(out))
}

// TestParquetByPage hands in Parquet files that DuckDB wrote, with the types and
// codecs historians use; each value comes out as it went in, and an empty cell
// as nothing.
func TestParquetByPage(t *testing.T) {
	dir, cfg := t.TempDir(), plantWithLogin(t)
	cfg.Service.ImportUpload = 1e6
	s := startStation(t, cfg, dir)
	u := logIn(t, s, dir, "engineer")
	for _, c := range []struct{ name, clock, number, codec string }{
		{"zone-double-zstd", "stamp::TIMESTAMPTZ", "DOUBLE", "zstd"},
		{"local-decimal-snappy", "stamp", "DECIMAL(9, 2)", "snappy"},
		{"ms-float-gzip", "stamp::TIMESTAMP_MS", "FLOAT", "gzip"},
		{"ns-text-plain", "stamp::TIMESTAMP_NS", "VARCHAR", "uncompressed"},
		{"text-wide-brotli", "strftime(stamp, '%Y-%m-%dT%H:%M:%SZ')", "DECIMAL(30, 4)", "brotli"},
	} {
		file := filepath.Join(t.TempDir(), "history.parquet")
		sql(t, "SET TimeZone = 'UTC'", `COPY (SELECT `+c.clock+` AS time, CASE WHEN i % 10 <> 3 THEN (600.25 - i)::`+c.number+` END AS "LT-102"
			FROM (SELECT i, TIMESTAMP '2026-03-01 00:00:00' + INTERVAL (10 * i) SECOND AS stamp FROM range(1000) t(i))) TO '`+file+`' (FORMAT parquet, CODEC '`+c.codec+`')`)
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if code, page := u.send(c.name, "history.parquet", string(text)); code != 200 {
			t.Fatalf("%s: handing in: %d %s", c.name, code, page)
		}
		if page := u.sees(c.name + " was "); !strings.Contains(page, "1000 rows") {
			t.Fatalf("%s: the report of the trial does not say 1000 rows: %s", c.name, page)
		}
		u.act("confirm", c.name)
		u.sees(c.name + ": imported")
		u.holds(c.name)
		u.act("undo", c.name)
		u.sees(c.name + ": taken back")
	}
}

// holds checks the values of LT-102 against those DuckDB was told to write.
func (u *uploader) holds(name string) {
	u.t.Helper()
	begin := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	known, err := u.s.store.Series(u.t.Context())
	if err != nil {
		u.t.Fatal(err)
	}
	for id, series := range known {
		if series.Name != "LT-102" || series.Class != store.Raw {
			continue
		}
		points, err := u.s.store.Points(u.t.Context(), id, begin, begin.AddDate(0, 0, 1))
		if err != nil || len(points) != 900 {
			u.t.Errorf("%s: %d values, %v; want 900 of 1000 rows", name, len(points), err)
			return
		}
		for _, p := range points {
			i := p.Time.Sub(begin) / (10 * time.Second)
			if p.Value != 600.25-float64(i) || i%10 == 3 || !p.Time.Equal(begin.Add(i*10*time.Second)) {
				u.t.Errorf("%s: %v at %v", name, p.Value, p.Time)
				return
			}
		}
		return
	}
	u.t.Errorf("%s: there is no series LT-102", name)
}
