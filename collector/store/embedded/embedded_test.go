package embedded

import (
	"errors"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/storetest"
)

func TestContract(t *testing.T) {
	storetest.Run(t, func(t *testing.T) store.Store { return open(t, t.TempDir()) })
}

func open(t testing.TB, dir string) *DB {
	t.Helper()
	db, err := Open(t.Context(), Options{Dir: dir})
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

func TestLockedDirectory(t *testing.T) {
	dir := t.TempDir()
	open(t, dir)
	_, err := Open(t.Context(), Options{Dir: dir})
	if !errors.Is(err, store.ErrLocked) || !strings.Contains(err.Error(), "process "+strconv.Itoa(os.Getpid())) {
		t.Errorf("second open: %v; want ErrLocked naming process %d", err, os.Getpid())
	}
}

func TestReopenKeepsEverything(t *testing.T) {
	dir := t.TempDir()
	db := open(t, dir)
	ids := storetest.Register(t, db, 3)
	at := storetest.Start
	for n := range 5 {
		if err := db.Append(t.Context(), storetest.ScanAt(at.Add(time.Duration(n)*time.Second), ids, 1, 2, float64(n))); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	db = open(t, dir)
	if again := storetest.Register(t, db, 3); again[2] != ids[2] {
		t.Errorf("series 2 became %d, was %d", again[2], ids[2])
	}
	got, err := db.Points(t.Context(), ids[2], at, at.Add(time.Minute))
	if err != nil || len(got) != 5 || got[4].Value != 4 {
		t.Errorf("got %v, error %v; want five points ending in 4", got, err)
	}
	if n := len(db.layouts.byID); n != 1 {
		t.Errorf("%d layouts stored for one kind of scan, want 1", n)
	}
}

func TestBatchIsWhole(t *testing.T) {
	db := open(t, t.TempDir())
	ids := storetest.Register(t, db, 1)
	at := storetest.Start
	good := storetest.ScanAt(at, ids, 1)
	bad := storetest.ScanAt(at, []store.ID{99}, 1)
	if err := db.AppendBatch(t.Context(), []store.Scan{good, bad}); !errors.Is(err, store.ErrInvalid) {
		t.Errorf("got %v, want ErrInvalid", err)
	}
	if got, err := db.Points(t.Context(), ids[0], at, at.Add(1)); err != nil || len(got) != 0 {
		t.Errorf("a refused batch left %v, error %v", got, err)
	}
}

// Scans whose lists of series never repeat must not fill the table of layouts.
func TestManyLayouts(t *testing.T) {
	db := open(t, t.TempDir())
	ids := storetest.Register(t, db, 3)
	for n := range maxLayouts {
		db.layouts.add(layout{id: int64(n + 100)}, strconv.Itoa(n))
	}
	at := storetest.Start
	if err := db.Append(t.Context(), storetest.ScanAt(at, ids, 1, 2, 3)); err != nil {
		t.Fatal(err)
	}
	got, err := db.Last(t.Context(), ids, at.Add(time.Hour))
	if err != nil || got[2].Value != 3 || got[0].Value != 1 {
		t.Errorf("got %v, error %v; want 1, 2, 3", got, err)
	}
}

func TestDocumentChain(t *testing.T) {
	db := open(t, t.TempDir())
	for _, body := range []string{`1`, `2`, `3`} {
		if _, err := db.Put(t.Context(), store.Document{Kind: "audit", ID: body, Time: storetest.Start, Body: []byte(body)}); err != nil {
			t.Fatal(err)
		}
	}
	if c, err := db.VerifyDocuments(t.Context()); c.Documents != 3 || c.Pruned != 0 || len(c.Hash) != 32 || err != nil {
		t.Fatalf("verify: %d documents, hash of %d bytes, error %v; want 3, 32, none", c.Documents, len(c.Hash), err)
	}
	for _, tamper := range []struct{ name, sql, undo string }{
		{"changed", `UPDATE document SET body = '9' WHERE seq = 2`, `UPDATE document SET body = '2' WHERE seq = 2`},
		{"moved in time", `UPDATE document SET t = t + 1 WHERE seq = 1`, `UPDATE document SET t = t - 1 WHERE seq = 1`},
		{"removed", `DELETE FROM document WHERE seq = 2`, ``},
	} {
		t.Run(tamper.name, func(t *testing.T) {
			if _, err := db.write.Exec(tamper.sql); err != nil {
				t.Fatal(err)
			}
			if _, err := db.VerifyDocuments(t.Context()); !errors.Is(err, store.ErrCorrupt) {
				t.Errorf("got %v, want ErrCorrupt", err)
			}
			if _, err := db.write.Exec(tamper.undo); err != nil {
				t.Fatal(err)
			}
		})
	}
}
