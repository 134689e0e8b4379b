//go:build peers

package pair

import (
	"bytes"
	"context"
	"fmt"
	"log/slog"
	"net"
	"os/exec"
	"testing"
	"time"
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
	if s, err := b.TakeOver(t.Context()); s != nil || err != nil {
		t.Errorf("state before there is any: %q, %v", s, err)
	}
	state := bytes.Repeat([]byte(`{"LG-1":{"episode":1}}`), 100_000)
	if err := a.HandOver(t.Context(), state); err != nil {
		t.Fatal(err)
	}
	got, err := b.TakeOver(t.Context())
	if err != nil || !bytes.Equal(got, state) {
		t.Errorf("%d bytes arrived, want %d: %v", len(got), len(state), err)
	}
}
