package notify

import (
	"fmt"
	"log/slog"
	"net/http/httptest"
	"slices"
	"testing"
	"time"

	"bridlewatch/collector/store"
)

// Old deliveries go, but not those that a restart, a reminder or the page of
// routes needs.
func TestPrune(t *testing.T) {
	takes, refuses := httptest.NewServer(&receiver{}), httptest.NewServer(&receiver{codes: slices.Repeat([]int{503}, 100)})
	defer takes.Close()
	defer refuses.Close()
	s := openStore(t, t.TempDir())
	open := func(name, url string) *Outbox {
		o, err := NewOutbox(t.Context(), s, []Route{NewWebhook(name, url, nil)}, slog.New(slog.DiscardHandler))
		if err != nil {
			t.Fatal(err)
		}
		return o
	}
	now := time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC)
	post := func(o *Outbox, id string, days int) {
		at := now.AddDate(0, 0, -days)
		o.now = func() time.Time { return at }
		m := message(at)
		m.ID, m.Alert = id, "of-"+id
		if err := o.Post(t.Context(), m); err != nil {
			t.Fatal(err)
		}
		o.round(t.Context())
	}
	ops, dead, seldom := open("ops", takes.URL), open("dead", refuses.URL), open("seldom", takes.URL)
	post(ops, "old", 900)
	post(ops, "stands", 800)
	post(dead, "waits", 800)
	post(seldom, "first", 850)
	post(seldom, "last", 840)
	post(ops, "young", 700)
	post(ops, "new", 0)
	ops.Standing(t.Context(), []Message{{Alert: "of-stands"}}, func(string) bool { return false })

	n, err := ops.Prune(t.Context(), now.AddDate(0, 0, -731))
	if n != 4 || err != nil { // queued and delivered, of two messages
		t.Errorf("%d versions dropped, error %v; want 4", n, err)
	}
	want := []string{"ops/stands", "dead/waits", "seldom/last", "ops/young", "ops/new"}
	docs, err := s.Documents(t.Context(), store.Query{Kind: OutboxKind, Latest: true})
	var got []string
	for _, d := range docs {
		got = append(got, d.ID)
	}
	if fmt.Sprint(got) != fmt.Sprint(want) || err != nil {
		t.Errorf("left are %v, error %v; want %v", got, err, want)
	}
	if n, err := ops.Prune(t.Context(), now.AddDate(0, 0, 1)); n != 2 || err != nil { // young; new is too young for a restart
		t.Errorf("%d versions dropped, error %v; want 2", n, err)
	}
}
