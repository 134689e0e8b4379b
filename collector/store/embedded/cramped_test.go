package embedded

import (
	"errors"
	"log/slog"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/storetest"
)

// cramped opens dir as if its disk were full: through the one connection to what
// is there, or in memory.
func cramped(t *testing.T, dir, name string) *DB {
	t.Helper()
	lock, err := openDir(dir, true)
	if err != nil {
		t.Fatal(err)
	}
	db := &DB{dir: dir, now: time.Now, log: slog.New(slog.DiscardHandler), lock: lock, retain: DefaultRetention, cramped: true, inMemory: name == inMemory}
	if err := db.startCramped(t.Context(), alone(name)); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	return db
}

// A cramped store keeps the whole contract: nothing waits for a second
// connection, which there is not.
func TestContractOnOneConnection(t *testing.T) {
	storetest.Run(t, func(t *testing.T) store.Store {
		dir := t.TempDir()
		if err := open(t, dir).Close(); err != nil {
			t.Fatal(err)
		}
		return cramped(t, dir, dir+"/"+historyFile)
	})
}

func TestContractInMemory(t *testing.T) {
	storetest.Run(t, func(t *testing.T) store.Store { return cramped(t, t.TempDir(), inMemory) })
}

// What came into memory while there was no room is in history afterwards, but
// is not mixed with a history that was there before.
func TestMemoryIsPouredIntoHistory(t *testing.T) {
	memory := cramped(t, t.TempDir(), inMemory)
	ids := storetest.Register(t, memory, 3)
	if err := memory.Append(t.Context(), storetest.ScanAt(storetest.Start, ids, 1, 2, 3)); err != nil {
		t.Fatal(err)
	}
	for range 2 { // two versions
		if _, err := memory.Put(t.Context(), store.Document{Kind: "alert", ID: "1", Time: storetest.Start, Body: []byte(`{}`)}); err != nil {
			t.Fatal(err)
		}
	}
	disk := open(t, t.TempDir())
	storetest.Register(t, disk, 1)
	for _, want := range [][2]int{{1, 2}, {0, 0}} {
		scans, documents, err := memory.PourInto(t.Context(), disk)
		if err != nil || scans != want[0] || documents != want[1] {
			t.Fatalf("%d scans and %d documents, error %v; want %v", scans, documents, err, want)
		}
	}
	known, err := disk.Series(t.Context())
	if err != nil || len(known) != 3 {
		t.Fatalf("%d series, error %v; want 3", len(known), err)
	}
	last := storetest.Register(t, disk, 3)[2]
	if points, err := disk.Points(t.Context(), last, storetest.Start, storetest.Start.Add(time.Second)); err != nil || len(points) != 1 || points[0].Value != 3 {
		t.Errorf("%v, error %v; want the 3 of the third series", points, err)
	}
	if docs, err := disk.Documents(t.Context(), store.Query{Latest: true}); err != nil || len(docs) != 1 || docs[0].Replaces == 0 {
		t.Errorf("%v, error %v; want the second version of one document", docs, err)
	}
}

// A history in memory is bounded: it is full as a disk is.
func TestMemoryIsBounded(t *testing.T) {
	db := &DB{dir: t.TempDir(), now: time.Now, log: slog.New(slog.DiscardHandler), retain: DefaultRetention}
	if err := db.openInMemory(t.Context()); err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	ids := storetest.Register(t, db, 300)
	values := make([]float64, len(ids))
	for n := range 20_000 { // 20,000 scans of 2.4 KB would be 48 MB
		for i := range values {
			values[i] = float64(n + i)
		}
		if err := db.Append(t.Context(), storetest.ScanAt(storetest.Start.Add(time.Duration(n)*time.Second), ids, values...)); err != nil {
			if !errors.Is(err, store.ErrFull) {
				t.Errorf("scan %d: %v, want ErrFull", n, err)
			}
			return
		}
	}
	t.Error("never full")
}
