package embedded

import (
	"errors"
	"os"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/storetest"
)

func TestViewWhileRecording(t *testing.T) {
	p := newPlant(t, 3, Options{})
	start := p.now
	p.run(50*time.Hour, 10*time.Minute)
	if _, err := p.Put(t.Context(), store.Document{Kind: "k", ID: "1", Time: p.now, Body: []byte(`1`)}); err != nil {
		t.Fatal(err)
	}
	v, err := OpenView(t.Context(), p.dir)
	if err != nil {
		t.Fatal(err)
	}
	defer v.Close()
	want := p.all(p.ids[1])
	p.run(10*time.Hour, 10*time.Minute)
	p.upkeep() // seals and drops what the view reads
	view := &plant{DB: v, t: t, ids: p.ids}
	if diff := cmp.Diff(want, view.all(p.ids[1])); diff != "" {
		t.Errorf("points of the view (-when opened +now):\n%s", diff)
	}
	view.checkTrends(start, start.Add(50*time.Hour))
	if docs, err := v.Documents(t.Context(), store.Query{}); err != nil || len(docs) != 1 {
		t.Errorf("%d documents, error %v; want one", len(docs), err)
	}
	if last, err := v.Last(t.Context(), p.ids, p.now); err != nil || !last[1].Time.Equal(want[len(want)-1].Time) {
		t.Errorf("last value %v, error %v; want that of the instant of opening", last, err)
	}
	if err := v.Append(t.Context(), storetest.ScanAt(p.now, p.ids, 1)); !errors.Is(err, errView) {
		t.Errorf("append to a view: %v, want a refusal", err)
	}
	if _, err := OpenView(t.Context(), t.TempDir()); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("view of an empty directory: %v, want that there is no history", err)
	}
}
