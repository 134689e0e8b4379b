package embedded

import (
	"errors"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/storetest"
)

func TestOutbox(t *testing.T) {
	dir, now := t.TempDir(), storetest.Start
	db := open(t, dir)
	doc := store.Document{Kind: "alert", ID: "A-1", Time: now, Body: []byte(`{}`)}
	hook := store.Parcel{Kind: "webhook", Body: []byte(`{"to":1}`), Due: now}
	soon := store.Parcel{Kind: "webhook", Body: []byte(`{"to":2}`), Due: now.Add(time.Minute)}
	if _, err := db.PutAll(t.Context(), []store.Document{doc}, []store.Parcel{hook, soon, {Kind: "mail", Body: []byte(`1`), Due: now}}); err != nil {
		t.Fatal(err)
	}
	doc.Replaces = 99
	if _, err := db.PutAll(t.Context(), []store.Document{doc}, []store.Parcel{hook}); !errors.Is(err, store.ErrConflict) {
		t.Errorf("conflicting document: %v, want ErrConflict", err)
	}
	if _, err := db.PutAll(t.Context(), nil, []store.Parcel{{Kind: "webhook"}}); !errors.Is(err, store.ErrInvalid) {
		t.Errorf("parcel without a body: %v, want ErrInvalid", err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	db = open(t, dir)
	due := func(at time.Time) []store.Parcel {
		t.Helper()
		p, err := db.Due(t.Context(), "webhook", at, 10)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	hook.ID = 1
	if diff := cmp.Diff([]store.Parcel{hook}, due(now)); diff != "" {
		t.Errorf("due (-want +got):\n%s", diff)
	}
	if err := db.Failed(t.Context(), 1, now.Add(2*time.Minute), "no answer"); err != nil {
		t.Fatal(err)
	}
	if n := len(due(now.Add(59 * time.Second))); n != 0 {
		t.Errorf("%d due after a failed try, want none yet", n)
	}
	soon.ID, hook.Tries, hook.Error, hook.Due = 2, 1, "no answer", now.Add(2*time.Minute)
	if diff := cmp.Diff([]store.Parcel{soon, hook}, due(now.Add(time.Hour))); diff != "" {
		t.Errorf("due an hour later (-want +got):\n%s", diff)
	}
	if err := errors.Join(db.Delivered(t.Context(), 1), db.Delivered(t.Context(), 2)); err != nil {
		t.Fatal(err)
	}
	if n := len(due(now.Add(time.Hour))); n != 0 {
		t.Errorf("%d due after delivery, want none", n)
	}
}
