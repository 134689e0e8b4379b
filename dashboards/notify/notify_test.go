package notify

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/quantity"
)

// receiver answers with the given status codes in turn, then 204.
type receiver struct {
	mu     sync.Mutex
	codes  []int
	bodies [][]byte
	heads  []http.Header
}

func (r *receiver) ServeHTTP(w http.ResponseWriter, req *http.Request) {
	body, _ := io.ReadAll(req.Body)
	r.mu.Lock()
	defer r.mu.Unlock()
	r.bodies, r.heads = append(r.bodies, body), append(r.heads, req.Header.Clone())
	code := http.StatusNoContent
	if len(r.codes) > 0 {
		code, r.codes = r.codes[0], r.codes[1:]
	}
	w.WriteHeader(code)
}

func (r *receiver) count() int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return len(r.bodies)
}

func openStore(t *testing.T, dir string) store.Store {
	t.Helper()
	s, err := embedded.Open(t.Context(), embedded.Options{Dir: dir})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func finding() cause.Finding {
	return cause.Finding{
		ID: "LG-7/float-stuck/1", Gauge: "LG-7", Cause: cause.FloatStuck, Suspect: cause.Float, Tag: "LI-7", Tier: cause.Alert,
		Value: 184 * quantity.Millimetre, Budget: 33 * quantity.Millimetre, Sentence: "Float has not moved for 3 h 10 min.",
		Evidence: []cause.Evidence{{Sentence: "Transmitter moved 184 mm."}},
	}
}

func message(at time.Time) Message {
	return MessageOf(Origin{Site: "north", Box: "edge-1", ExternalURL: "https://box.example"}, Raised, at, "condensate", "unit 2", finding())
}

// advance makes the outbox's clock run an hour ahead at every look, so that
// pauses pass at once.
func advance(o *Outbox) {
	var mu sync.Mutex
	now := time.Now()
	o.now = func() time.Time { mu.Lock(); defer mu.Unlock(); now = now.Add(time.Hour); return now }
}

func TestWebhookIsSignedAndComplete(t *testing.T) {
	rec := &receiver{}
	srv := httptest.NewServer(rec)
	defer srv.Close()
	want := message(time.Now().UTC().Truncate(time.Second))
	if again, err := NewWebhook("ops", srv.URL, []byte("key")).Send(t.Context(), want); again || err != nil {
		t.Fatal(again, err)
	}
	var got Message
	if err := json.Unmarshal(rec.bodies[0], &got); err != nil {
		t.Fatal(err)
	}
	if got.Gauge != "LG-7" || got.ValueMM != 184 || got.Link != "https://box.example/gauge/LG-7" || got.Evidence[0] != "Transmitter moved 184 mm." || got.Schema != Schema {
		t.Errorf("message %+v", got)
	}
	mac := hmac.New(sha256.New, []byte("key"))
	mac.Write(rec.bodies[0])
	if h := rec.heads[0].Get("Bridlewatch-Signature"); h != "sha256="+hex.EncodeToString(mac.Sum(nil)) {
		t.Errorf("signature %q does not fit the body", h)
	}
	if h := rec.heads[0].Get("Bridlewatch-Delivery"); h != want.ID {
		t.Errorf("delivery %q, want %q", h, want.ID)
	}
}

// TestHMACSHA256 is RFC 4231, test case 2: the signature scheme itself.
func TestHMACSHA256(t *testing.T) {
	mac := hmac.New(sha256.New, []byte("Jefe"))
	mac.Write([]byte("what do ya want for nothing?"))
	if got := hex.EncodeToString(mac.Sum(nil)); got != "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843" {
		t.Error(got)
	}
}

func TestDeliveryIsTriedAgainThenTakenOnce(t *testing.T) {
	rows := []struct {
		name  string
		codes []int
		tries int
		ok    bool
	}{
		{"taken at once", nil, 1, true},
		{"busy twice", []int{503, 429}, 3, true},
		{"refused for good", []int{400}, 1, false},
		{"redirect is not followed", []int{302}, 1, false},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			rec := &receiver{codes: row.codes}
			srv := httptest.NewServer(rec)
			defer srv.Close()
			dir := t.TempDir()
			s := openStore(t, dir)
			routes := []Route{NewWebhook("ops", srv.URL, nil)}
			o, err := NewOutbox(t.Context(), s, routes, slog.New(slog.DiscardHandler))
			if err != nil {
				t.Fatal(err)
			}
			advance(o)
			m := message(time.Now())
			for range 2 { // the second is the same event again
				if err := o.Post(t.Context(), m); err != nil {
					t.Fatal(err)
				}
			}
			for range 5 {
				o.round(t.Context())
			}
			if n := rec.count(); n != row.tries || len(o.Pending()) != 0 {
				t.Errorf("%d tries, %d pending; want %d and none", n, len(o.Pending()), row.tries)
			}
			again, err := NewOutbox(t.Context(), s, routes, slog.New(slog.DiscardHandler))
			if err != nil {
				t.Fatal(err)
			}
			if err := again.Post(t.Context(), m); err != nil {
				t.Fatal(err)
			}
			again.round(t.Context())
			if n := rec.count(); n != row.tries {
				t.Errorf("sent again after a restart: %d tries", n)
			}
		})
	}
}

func TestWhatWasOnItsWayIsSentAfterARestart(t *testing.T) {
	rec := &receiver{}
	srv := httptest.NewServer(rec)
	defer srv.Close()
	s := openStore(t, t.TempDir())
	routes := []Route{NewWebhook("ops", srv.URL, nil)}
	first, err := NewOutbox(t.Context(), s, routes, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	if err := first.Post(t.Context(), message(time.Now())); err != nil {
		t.Fatal(err)
	}
	second, err := NewOutbox(t.Context(), s, routes, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { second.Run(ctx); close(done) }()
	for range 200 {
		if rec.count() == 1 && len(second.Pending()) == 0 {
			break
		}
		time.Sleep(10 * time.Millisecond)
	}
	stop()
	<-done
	if rec.count() != 1 {
		t.Errorf("%d deliveries, want 1", rec.count())
	}
}

// fullStore takes nothing while it is full.
type fullStore struct {
	store.Store
	full atomic.Bool
}

func (f *fullStore) Put(ctx context.Context, d store.Document) (int64, error) {
	if f.full.Load() {
		return 0, store.ErrFull
	}
	return f.Store.Put(ctx, d)
}

// TestAFullDiskKeepsNoMessageBack: what cannot be kept is sent all the same, and
// kept once there is room, so that a restart then does not send it again.
func TestAFullDiskKeepsNoMessageBack(t *testing.T) {
	rec := &receiver{}
	srv := httptest.NewServer(rec)
	defer srv.Close()
	dir := t.TempDir()
	s := &fullStore{Store: openStore(t, dir)}
	s.full.Store(true)
	routes := []Route{NewWebhook("ops", srv.URL, []byte("key"))}
	o, err := NewOutbox(t.Context(), s, routes, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	m := message(time.Now())
	for range 2 {
		if err := o.Post(t.Context(), m); err != nil {
			t.Fatal(err)
		}
	}
	o.round(t.Context())
	if rec.count() != 1 || len(o.Pending()) != 0 {
		t.Fatalf("%d messages received, %d on their way; want one and none", rec.count(), len(o.Pending()))
	}
	s.full.Store(false)
	o.round(t.Context())
	again, err := NewOutbox(t.Context(), s, routes, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	if err := again.Post(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	again.round(t.Context())
	if rec.count() != 1 {
		t.Errorf("%d messages received after a restart, want one", rec.count())
	}
}

// TestAWrongClockLosesNoMessage: a route is dead while the clock is a year ahead,
// which makes the message old at once, and the next try a year off when it is
// right again.
func TestAWrongClockLosesNoMessage(t *testing.T) {
	rec := &receiver{codes: []int{http.StatusBadGateway, http.StatusBadGateway}}
	srv := httptest.NewServer(rec)
	defer srv.Close()
	o, err := NewOutbox(t.Context(), openStore(t, t.TempDir()), []Route{NewWebhook("ops", srv.URL, []byte("key"))}, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	o.now = func() time.Time { return now }
	if err := o.Post(t.Context(), message(now)); err != nil {
		t.Fatal(err)
	}
	o.round(t.Context())
	for _, now = range []time.Time{now.AddDate(1, 0, 0), now.Add(time.Minute)} {
		o.round(t.Context())
	}
	if rec.count() != 3 || len(o.Pending()) != 0 {
		t.Errorf("%d tries, %d on the way; want two in vain and one that arrives", rec.count(), len(o.Pending()))
	}
}

// TestAReminderOfAClockThatWasAhead: told "next year", reminded now.
func TestAReminderOfAClockThatWasAhead(t *testing.T) {
	rec := &receiver{}
	srv := httptest.NewServer(rec)
	defer srv.Close()
	o, err := NewOutbox(t.Context(), openStore(t, t.TempDir()), []Route{NewWebhook("ops", srv.URL, []byte("key"))}, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	o.lanes[0].setting.RepeatEvery = time.Hour
	now := time.Now().AddDate(1, 0, 0)
	o.now = func() time.Time { return now }
	m := message(now)
	if err := o.Post(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	now = time.Now()
	for range 2 {
		o.Standing(t.Context(), []Message{m}, func(string) bool { return true })
	}
	if n := len(o.Pending()); n != 2 {
		t.Errorf("%d messages, want the first and one reminder", n)
	}
}
