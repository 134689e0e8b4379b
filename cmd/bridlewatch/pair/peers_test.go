//go:build peers

package pair

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os/exec"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
)

// server starts a real NATS server with JetStream.
func server(t *testing.T) (url string, stop func()) {
	t.Helper()
	path, err := exec.LookPath("nats-server")
	if err != nil {
		path = "/usr/sbin/nats-server"
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	port := l.Addr().(*net.TCPAddr).Port
	l.Close()
	cmd := exec.Command(path, "-js", "-a", "127.0.0.1", "-p", fmt.Sprint(port), "-sd", t.TempDir())
	if err := cmd.Start(); err != nil {
		t.Fatalf("nats-server does not start (%v): run testdata/peers/install.sh", err)
	}
	stop = func() {
		_ = cmd.Process.Kill()
		_, _ = cmd.Process.Wait()
	}
	t.Cleanup(stop)
	for range 100 {
		if c, err := net.Dial("tcp", fmt.Sprintf("127.0.0.1:%d", port)); err == nil {
			c.Close()
			return fmt.Sprintf("nats://127.0.0.1:%d", port), stop
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatal("nats-server does not listen")
	return "", nil
}

func join(t *testing.T, url, holder string) *Pair {
	t.Helper()
	p, err := Join(t.Context(), Options{URL: url, Bucket: "test", Name: "box-1", Holder: holder, TTL: 4 * time.Second, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(p.Close)
	return p
}

// hold runs Hold and sends what it returns.
func hold(ctx context.Context, p *Pair) <-chan context.Context {
	got := make(chan context.Context, 1)
	go func() {
		if held, _, err := p.Hold(ctx); err == nil {
			got <- held
		}
	}()
	return got
}

func TestPeerOneHoldsAndTheOtherTakesOver(t *testing.T) {
	url, _ := server(t)
	a, b := join(t, url, "a"), join(t, url, "b")
	held, release, err := a.Hold(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	other := hold(t.Context(), b)
	select {
	case <-other:
		t.Fatal("both hold the lease")
	case <-time.After(6 * time.Second): // longer than the lease lives without renewal
	}
	if held.Err() != nil {
		t.Fatal("the holder lost a lease it renewed")
	}
	release()
	select {
	case <-other:
	case <-time.After(10 * time.Second):
		t.Fatal("a lease given back was not taken within ten seconds")
	}
}

func TestPeerADeadBoxIsReplacedWithinTenSeconds(t *testing.T) {
	url, _ := server(t)
	a, b := join(t, url, "a"), join(t, url, "b")
	held, _, err := a.Hold(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	other := hold(t.Context(), b)
	a.Close() // as if its cable were cut: it can neither renew nor give back
	dead := time.Now()
	select {
	case <-held.Done():
	case <-time.After(15 * time.Second):
		t.Fatal("a box cut off goes on polling")
	}
	if a.Holds() {
		t.Error("a box that gave up holds the lease")
	}
	gaveUp := time.Now()
	select {
	case <-other:
		if took := time.Since(dead); took > 10*time.Second {
			t.Errorf("take-over after %v, want within 10 s", took)
		}
		if time.Now().Before(gaveUp) {
			t.Error("the second box polled before the first gave up")
		}
	case <-time.After(15 * time.Second):
		t.Fatal("nobody took over")
	}
}

func TestPeerStateIsHandedOver(t *testing.T) {
	url, _ := server(t)
	a, b := join(t, url, "a"), join(t, url, "b")
	if s, _, err := b.TakeOver(t.Context()); s != nil || err != nil {
		t.Errorf("state before there is any: %q, %v", s, err)
	}
	state := bytes.Repeat([]byte(`{"LG-1":{"episode":1}}`), 100_000)
	if err := a.HandOver(t.Context(), state); err != nil {
		t.Fatal(err)
	}
	got, others, err := b.TakeOver(t.Context())
	if err != nil || !others || !bytes.Equal(got, state) {
		t.Errorf("%d bytes arrived, want %d, of the other box %v: %v", len(got), len(state), others, err)
	}
	if err := b.HandOver(t.Context(), []byte(`{"newer":1}`)); err != nil {
		t.Fatal(err)
	}
	if err := a.HandOver(t.Context(), state); !errors.Is(err, ErrOvertaken) {
		t.Errorf("a box that was overtaken leaves its old state: %v", err)
	}
	if err := b.HandOver(t.Context(), []byte(`{"newer":2}`)); err != nil {
		t.Error(err)
	}
	if got, others, err := b.TakeOver(t.Context()); string(got) != `{"newer":2}` || others || err != nil {
		t.Errorf("the newest state is %q, of the other box %v: %v", got, others, err)
	}
}

// The server comes back without what it had in memory or on disk: the pair
// furnishes it again.
func TestPeerAServerThatLostEverythingIsFurnishedAgain(t *testing.T) {
	url, _ := server(t)
	a := join(t, url, "a")
	for _, name := range []string{"KV_test-lease", "KV_test-state", "test-journal"} {
		if err := a.js.DeleteStream(t.Context(), name); err != nil {
			t.Fatal(err)
		}
	}
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	_, release, err := a.Hold(ctx)
	if err != nil {
		t.Fatal(err)
	}
	release()
	if a.Holds() {
		t.Error("a lease given back is held")
	}
	if err := a.HandOver(t.Context(), []byte("{}")); err != nil {
		t.Error(err)
	}
}

func journal(t *testing.T, p *Pair) (*Journal, *embedded.DB) {
	t.Helper()
	dir := t.TempDir()
	db, err := embedded.Open(t.Context(), embedded.Options{Dir: dir, Upkeep: -1})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	j, err := p.OpenJournal(JournalOptions{Store: db, Dir: dir, Kinds: []string{"alert", "record"}, Once: []string{"record"}})
	if err != nil {
		t.Fatal(err)
	}
	return j, db
}

func TestPeerDocumentsReachTheOtherBoxOnce(t *testing.T) {
	url, _ := server(t)
	ja, a := journal(t, join(t, url, "a"))
	jb, b := journal(t, join(t, url, "b"))
	noon := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	put := func(db *embedded.DB, kind, id, body string, at time.Time) {
		t.Helper()
		if _, err := db.Put(t.Context(), store.Document{Kind: kind, ID: id, Time: at, Body: []byte(body)}); err != nil {
			t.Fatal(err)
		}
	}
	exchange := func(j *Journal, want int) {
		t.Helper()
		if err := j.Tell(t.Context()); err != nil {
			t.Fatal(err)
		}
		if n, err := j.Hear(t.Context()); n != want || err != nil {
			t.Errorf("%d documents were taken, want %d: %v", n, want, err)
		}
	}
	put(a, "alert", "7", `{"state":"open"}`, noon)
	put(a, "configuration", "x", `{}`, noon)
	put(a, "record", "1", `{ "of": "a" }`, noon)
	exchange(ja, 0)
	exchange(jb, 2)
	exchange(jb, 0)
	exchange(ja, 0) // what b adopted does not come back
	put(b, "alert", "7", `{"state":"acknowledged"}`, noon.Add(time.Minute))
	exchange(jb, 0)
	exchange(ja, 1)
	newest := func(db *embedded.DB, kind, id string) string {
		docs, err := db.Documents(t.Context(), store.Query{Kind: kind, ID: id, Latest: true})
		if err != nil || len(docs) != 1 {
			t.Fatalf("%s %s: %d documents, %v", kind, id, len(docs), err)
		}
		return string(docs[0].Body)
	}
	if got := newest(a, "alert", "7"); got != `{"state":"acknowledged"}` {
		t.Errorf("alert 7 on a is %s", got)
	}
	if got := newest(b, "record", "1"); got != `{ "of": "a" }` {
		t.Errorf("the record was changed on its way: %s", got)
	}
	// What happened on both while they could not hear of each other.
	put(b, "record", "2", `{"of":"b"}`, noon)
	put(a, "record", "2", `{"of":"a"}`, noon)
	put(a, "alert", "7", `{"state":"old"}`, noon.Add(time.Second))
	exchange(jb, 0)
	exchange(ja, 1)
	exchange(jb, 1)
	if got := newest(b, "record", "2"); got != `{"of":"b"}` {
		t.Errorf("record 2 of b was replaced by %s", got)
	}
	if got := newest(b, "record-aside", "2 of "+ja.at.ID); got != `{"of":"a"}` {
		t.Errorf("kept aside: %s", got)
	}
	if got := newest(b, "alert", "7"); got != `{"state":"acknowledged"}` {
		t.Errorf("an older state replaced the newer one: %s", got)
	}
	// A box that is killed between telling and noting that it did tells again.
	ja.at.Told = 0
	exchange(ja, 0)
	exchange(jb, 0)
}
