package embedded

import (
	"database/sql"
	"path/filepath"
	"strings"
	"testing"

	"bridlewatch/collector/store/storetest"
)

func TestMigrationCopiesFirst(t *testing.T) {
	dir := t.TempDir()
	db := open(t, dir)
	ids := storetest.Register(t, db, 1)
	if err := db.Append(t.Context(), storetest.ScanAt(storetest.Start, ids, 42)); err != nil {
		t.Fatal(err)
	}
	next := append(schema[:len(schema):len(schema)], migration{version: len(schema) + 1, name: "test", sql: `CREATE TABLE extra (x INTEGER)`})
	if err := db.migrate(t.Context(), next); err != nil {
		t.Fatal(err)
	}
	copies, err := filepath.Glob(filepath.Join(dir, "backup", "history-schema*.db"))
	if err != nil || len(copies) != 1 {
		t.Fatalf("found copies %v, error %v; want one", copies, err)
	}
	before, err := sql.Open("sqlite", copies[0])
	if err != nil {
		t.Fatal(err)
	}
	defer before.Close()
	var version, scans int
	if err := before.QueryRow(`SELECT user_version, (SELECT count(*) FROM scan) FROM pragma_user_version`).Scan(&version, &scans); err != nil {
		t.Fatal(err)
	}
	if version != len(schema) || scans != 1 {
		t.Errorf("copy has schema %d and %d scans, want %d and 1", version, scans, len(schema))
	}
}

func TestFailedMigrationChangesNothing(t *testing.T) {
	db := open(t, t.TempDir())
	next := append(schema[:len(schema):len(schema)], migration{version: len(schema) + 1, name: "broken", sql: `CREATE TABLE half (x); CREATE TABLE series (x)`})
	if err := db.migrate(t.Context(), next); err == nil || !strings.Contains(err.Error(), "broken") {
		t.Fatalf("got %v, want an error naming the step", err)
	}
	var halves int
	if err := db.write.QueryRow(`SELECT count(*) FROM sqlite_master WHERE name = 'half'`).Scan(&halves); err != nil || halves != 0 {
		t.Errorf("half a migration stayed: %d tables, error %v", halves, err)
	}
}

func TestNewerSchemaIsRefused(t *testing.T) {
	dir := t.TempDir()
	db := open(t, dir)
	if _, err := db.write.Exec(`PRAGMA user_version = 999`); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(t.Context(), Options{Dir: dir}); err == nil || !strings.Contains(err.Error(), "schema 999") {
		t.Errorf("got %v, want a refusal that names schema 999", err)
	}
}
