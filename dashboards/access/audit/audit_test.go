package audit

import (
	"context"
	"database/sql"
	"errors"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"go.uber.org/goleak"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
)

func TestMain(m *testing.M) {
	goleak.VerifyTestMain(m, goleak.IgnoreTopFunction("database/sql.(*DB).connectionOpener"))
}

var start = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

func openStore(t *testing.T, dir string) *embedded.DB {
	t.Helper()
	db, err := embedded.Open(context.Background(), embedded.Options{Dir: dir, Upkeep: -1})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	return db
}

func openLog(t *testing.T, s store.Store) *Log {
	t.Helper()
	l, err := Open(context.Background(), s, func() time.Time { return start })
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func record(t *testing.T, l *Log, what ...string) {
	t.Helper()
	for _, w := range what {
		if err := l.Record(context.Background(), Entry{Who: "ruiz", Role: "admin", Via: "session", From: "192.0.2.7", What: w, Subject: "okafor", Before: "role viewer", After: "role technician"}); err != nil {
			t.Fatal(err)
		}
	}
}

func TestEntriesAreNumberedOverRestarts(t *testing.T) {
	dir := t.TempDir()
	db := openStore(t, dir)
	record(t, openLog(t, db), "first", "second")
	record(t, openLog(t, db), "third")
	got, err := List(t.Context(), db, 0, 2)
	if err != nil {
		t.Fatal(err)
	}
	want := []Entry{
		{Number: 3, Time: start, Who: "ruiz", Role: "admin", Via: "session", From: "192.0.2.7", What: "third", Subject: "okafor", Before: "role viewer", After: "role technician"},
		{Number: 2, Time: start, Who: "ruiz", Role: "admin", Via: "session", From: "192.0.2.7", What: "second", Subject: "okafor", Before: "role viewer", After: "role technician"},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("newest two (-want +got):\n%s", diff)
	}
	if older, err := List(t.Context(), db, 2, 10); err != nil || len(older) != 1 || older[0].What != "first" {
		t.Errorf("before 2: %+v, %v", older, err)
	}
	r, err := Verify(t.Context(), db)
	if err != nil || r.Entries != 3 || r.Documents != 3 || len(r.Hash) != 64 {
		t.Errorf("report %+v, %v", r, err)
	}
}

// TestTamperingIsFound changes the database behind the program's back, each
// time in another way.
func TestTamperingIsFound(t *testing.T) {
	tests := []struct{ name, sql, says string }{
		{"an entry changed", `UPDATE document SET body = replace(body, 'technician', 'viewer') WHERE id = '2'`, "does not follow"},
		{"who did it changed", `UPDATE document SET body = replace(body, 'ruiz', 'okafor') WHERE id = '3'`, "does not follow"},
		{"a time changed", `UPDATE document SET t = t - 3600000000 WHERE id = '2'`, "does not follow"},
		{"an entry removed", `DELETE FROM document WHERE id = '2'`, "does not follow"},
		{"the first removed", `DELETE FROM document WHERE id = '1'`, "does not follow"},
		{"two exchanged", `UPDATE document SET body = (SELECT body FROM document AS other WHERE other.id = CASE document.id WHEN '1' THEN '2' ELSE '1' END) WHERE id IN ('1', '2')`, "does not follow"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			dir := t.TempDir()
			db := openStore(t, dir)
			record(t, openLog(t, db), "first", "second", "third")
			if _, err := Verify(t.Context(), db); err != nil {
				t.Fatal(err)
			}
			tamper(t, dir, tt.sql)
			_, err := Verify(t.Context(), db)
			if !errors.Is(err, store.ErrCorrupt) || !strings.Contains(err.Error(), tt.says) {
				t.Errorf("error %v, want %q", err, tt.says)
			}
		})
	}
}

func tamper(t *testing.T, dir, statement string) {
	t.Helper()
	raw, err := sql.Open("sqlite", filepath.Join(dir, "history.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer raw.Close() // everything is written
	triggers, err := raw.Query(`SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'document'`)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for triggers.Next() {
		var name string
		if err := triggers.Scan(&name); err != nil {
			t.Fatal(err)
		}
		names = append(names, name)
	}
	if err := errors.Join(triggers.Err(), triggers.Close()); err != nil {
		t.Fatal(err)
	}
	for _, name := range names { // a tamperer would
		if _, err := raw.Exec(`DROP TRIGGER ` + name); err != nil {
			t.Fatal(err)
		}
	}
	done, err := raw.Exec(statement)
	if err != nil {
		t.Fatal(err)
	}
	if n, err := done.RowsAffected(); err != nil || n == 0 {
		t.Fatalf("nothing was tampered with: %d, %v", n, err)
	}
}

// TestSlippedInAndRepeated: what goes through the store keeps the chain, but
// not the numbers.
func TestSlippedInAndRepeated(t *testing.T) {
	for name, d := range map[string]store.Document{
		"a new version of an entry": {Kind: Kind, ID: "2", Time: start, Body: []byte(`{"number":2,"who":"nobody"}`)},
		"a number left out":         {Kind: Kind, ID: "9", Time: start, Body: []byte(`{"number":9}`)},
		"a number that is not its":  {Kind: Kind, ID: "4", Time: start, Body: []byte(`{"number":3}`)},
	} {
		t.Run(name, func(t *testing.T) {
			db := openStore(t, t.TempDir())
			record(t, openLog(t, db), "first", "second", "third")
			if _, err := db.Put(t.Context(), d); err != nil {
				t.Fatal(err)
			}
			if _, err := Verify(t.Context(), db); !errors.Is(err, store.ErrCorrupt) {
				t.Errorf("error %v, want store.ErrCorrupt", err)
			}
		})
	}
}

// TestNothingIsChangedWithoutATrace: a log that cannot be written says so.
func TestNothingIsChangedWithoutATrace(t *testing.T) {
	db := openStore(t, t.TempDir())
	l := openLog(t, db)
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	if err := l.Record(t.Context(), Entry{Who: "ruiz", What: "first"}); err == nil || !strings.Contains(err.Error(), "nothing was changed") {
		t.Errorf("error %v", err)
	}
}
