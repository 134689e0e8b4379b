package embedded

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/storetest"
)

// interleaved fills a store with forty deliveries, one a day, of two versions each,
// and a record after each of them.
func interleaved(t *testing.T) *DB {
	t.Helper()
	db := open(t, t.TempDir())
	for day := range 40 {
		at := storetest.Start.AddDate(0, 0, day)
		for _, d := range []store.Document{
			{Kind: "delivery", ID: fmt.Sprint("m", day), Body: []byte(`{"done":false}`)},
			{Kind: "record", ID: fmt.Sprint("r", day), Body: []byte(`1`)},
			{Kind: "delivery", ID: fmt.Sprint("m", day), Body: []byte(`{"done":true}`)},
		} {
			d.Time = at
			if _, err := db.Put(t.Context(), d); err != nil {
				t.Fatal(err)
			}
		}
	}
	return db
}

// prune drops the deliveries of the first days but the third.
func prune(t *testing.T, db *DB, days, want int) {
	t.Helper()
	n, err := db.PruneDocuments(t.Context(), "delivery", storetest.Start.AddDate(0, 0, days), func(d store.Document) bool { return d.ID == "m2" })
	if n != want || err != nil {
		t.Fatalf("%d documents pruned, error %v; want %d", n, err, want)
	}
}

func TestPrunedDocumentsLeaveTheChainWhole(t *testing.T) {
	db := interleaved(t)
	prune(t, db, 10, 18)
	prune(t, db, 10, 0)
	prune(t, db, 20, 20)
	c, err := db.VerifyDocuments(t.Context())
	if err != nil || c.Pruned != 38 || c.Documents != 120-38+2 {
		t.Fatalf("%d documents and %d pruned, error %v; want 84 and 38", c.Documents, c.Pruned, err)
	}
	for kind, want := range map[string]int{"record": 40, "delivery": 42} {
		if docs, err := db.Documents(t.Context(), store.Query{Kind: kind}); len(docs) != want || err != nil {
			t.Errorf("%d of kind %s, error %v; want %d", len(docs), kind, err, want)
		}
	}
	seq, err := db.Put(t.Context(), store.Document{Kind: "delivery", ID: "m0", Time: storetest.Start, Body: []byte(`2`)})
	if seq != 123 || err != nil {
		t.Errorf("the next document is %d, error %v; want 123", seq, err)
	}
	if _, err := db.VerifyDocuments(t.Context()); err != nil {
		t.Errorf("a document whose name was pruned: %v", err)
	}
}

func TestPrunedDocumentsInABackup(t *testing.T) {
	db := interleaved(t)
	prune(t, db, 20, 38)
	file := filepath.Join(t.TempDir(), "copy")
	if _, err := CreateBackup(t.Context(), db.dir, file, func(int64, int64) {}); err != nil {
		t.Fatal(err)
	}
	if _, err := RestoreBackup(t.Context(), file, filepath.Join(t.TempDir(), "restored")); err != nil {
		t.Fatal(err)
	}
}

// Tampering shows before, at and behind the checkpoint.
func TestTamperingWithPrunedDocuments(t *testing.T) {
	for name, c := range map[string]struct{ sql, says string }{
		"record before the checkpoint changed": {`UPDATE document SET body = '9' WHERE kind = 'record' AND id = 'r1'`, "does not follow"},
		"record before the checkpoint removed": {`DELETE FROM document WHERE kind = 'record' AND id = 'r1'`, "does not follow"},
		"record passed off as pruned": {`INSERT INTO pruned SELECT seq, seq, hash, (SELECT seq FROM document WHERE kind = 'pruned') FROM document WHERE kind = 'record' AND id = 'r1';
			DELETE FROM document WHERE kind = 'record' AND id = 'r1'`, "was changed"},
		"record and neighbours passed off as pruned": {`UPDATE pruned SET last = 6, hash = (SELECT hash FROM pruned WHERE first = 6) WHERE first = 3;
			DELETE FROM pruned WHERE first = 6; DELETE FROM document WHERE seq = 5`, "was changed"},
		"kept hash changed":            {`UPDATE pruned SET hash = zeroblob(32) WHERE first = 1`, "does not follow"},
		"run taken away":               {`DELETE FROM pruned WHERE first = 1`, "does not follow"},
		"run of another checkpoint":    {`UPDATE pruned SET checkpoint = 1 WHERE first = 1`, "no document says"},
		"checkpoint changed":           {`UPDATE document SET body = replace(body, '"count":38', '"count":39') WHERE kind = 'pruned'`, "does not follow"},
		"record behind the checkpoint": {`UPDATE document SET body = '9' WHERE kind = 'record' AND id = 'late'`, "does not follow"},
		"last record passed off as pruned": {`INSERT INTO pruned SELECT seq, seq, hash, (SELECT seq FROM document WHERE kind = 'pruned') FROM document WHERE id = 'late';
			DELETE FROM document WHERE id = 'late'`, "does not fit"},
	} {
		t.Run(name, func(t *testing.T) {
			db := interleaved(t)
			prune(t, db, 20, 38)
			if _, err := db.Put(t.Context(), store.Document{Kind: "record", ID: "late", Time: storetest.Start, Body: []byte(`1`)}); err != nil {
				t.Fatal(err)
			}
			if _, err := db.write.Exec(`PRAGMA foreign_keys = OFF`); err != nil {
				t.Fatal(err)
			}
			if _, err := db.write.Exec(c.sql); err != nil {
				t.Fatal(err)
			}
			if _, err := db.VerifyDocuments(t.Context()); !errors.Is(err, store.ErrCorrupt) || !strings.Contains(err.Error(), c.says) {
				t.Errorf("got %v, want ErrCorrupt that says %q", err, c.says)
			}
		})
	}
}

func TestOnlyTheStoreVouches(t *testing.T) {
	db := interleaved(t)
	if _, err := db.Put(t.Context(), store.Document{Kind: "pruned", ID: "record", Time: storetest.Start, Body: []byte(`{}`)}); !errors.Is(err, store.ErrInvalid) {
		t.Errorf("a checkpoint from outside: %v, want ErrInvalid", err)
	}
	for _, kind := range []string{"", "pruned"} {
		if _, err := db.PruneDocuments(t.Context(), kind, storetest.Start.Add(time.Hour), func(store.Document) bool { return false }); !errors.Is(err, store.ErrInvalid) {
			t.Errorf("pruning kind %q: %v, want ErrInvalid", kind, err)
		}
	}
}
