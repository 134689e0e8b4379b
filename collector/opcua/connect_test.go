package opcua

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/gopcua/opcua/ua"

	"bridlewatch/collector"
)

// hurried is a read that has no time at all.
func hurried() context.Context {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	return ctx
}

// TestConnectingOutlivesTheRead reads a server that takes longer to connect to
// than a read may take: the next read goes on with the same connection.
func TestConnectingOutlivesTheRead(t *testing.T) {
	endpoint := startServer(t, map[string]func() *ua.DataValue{"level": fixed(0.6125)})
	p, through := startProxy(t, endpoint, 0)
	src, err := New(Options{Name: "slow", Endpoint: through, Timeout: faultTimeout, Security: clear()}, []Item{{"level", "nsu=" + testSpace + ";s=level"}}, machine{})
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	for range 3 {
		got, err := src.Read(hurried())
		if !errors.Is(err, collector.ErrNotYet) || got[0].Quality != bad || got[0].Reason != notConnected {
			t.Fatalf("got %+v, %v, want a bad sample while connecting", got, err)
		}
	}
	if got, err := src.Read(t.Context()); err != nil || got[0].Value != 0.6125 {
		t.Errorf("got %+v, %v", got, err)
	}
	if n := p.accepted(); n != 1 {
		t.Errorf("%d connections, want 1", n)
	}
}

// TestCloseEndsConnecting closes while the other end says nothing.
func TestCloseEndsConnecting(t *testing.T) {
	endpoint := startServer(t, nil)
	p, through := startProxy(t, endpoint, 0)
	p.set(swallow)
	src, err := New(Options{Name: "silent", Endpoint: through, Timeout: faultTimeout, Security: clear()}, []Item{{"level", "nsu=" + testSpace + ";s=level"}}, machine{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := src.Read(hurried()); !errors.Is(err, collector.ErrNotYet) {
		t.Fatalf("got %v", err)
	}
	src.Close()
	if src.attempt != nil || src.session != nil {
		t.Error("something is left of the connection")
	}
}

// TestALateAnswerCostsNoSession reads with too little time twice: the session
// stays, and the answers that come late are taken for nothing else.
func TestALateAnswerCostsNoSession(t *testing.T) {
	endpoint := startServer(t, map[string]func() *ua.DataValue{"level": fixed(0.6125)})
	p, through := startProxy(t, endpoint, 0)
	src, err := New(Options{Name: "late", Endpoint: through, Timeout: faultTimeout, Security: clear()}, []Item{{"level", "nsu=" + testSpace + ";s=level"}}, machine{})
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	if _, err := src.Read(t.Context()); err != nil {
		t.Fatal(err)
	}
	for range silentLimit - 1 {
		p.set(swallow)
		ctx, cancel := context.WithTimeout(t.Context(), 10*time.Millisecond)
		if got, err := src.Read(ctx); err == nil || got[0].Quality != bad {
			t.Errorf("got %+v, %v without an answer", got, err)
		}
		cancel()
		p.set(pass)
	}
	if got, err := src.Read(t.Context()); err != nil || got[0].Value != 0.6125 {
		t.Errorf("got %+v, %v", got, err)
	}
	if n := p.accepted(); n != 1 {
		t.Errorf("%d connections, want 1", n)
	}
}
