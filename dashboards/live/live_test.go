package live

import (
	"fmt"
	"sync/atomic"
	"testing"
	"time"

	"go.uber.org/goleak"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

func receive(t *testing.T, v *Viewer) string {
	t.Helper()
	select {
	case piece, ok := <-v.Pieces:
		if !ok {
			t.Fatal("the stream ended")
		}
		return string(piece)
	case <-time.After(5 * time.Second):
		t.Fatal("no piece came")
	}
	return ""
}

func TestOnePieceForEverybody(t *testing.T) {
	hub := New(time.Millisecond, time.Hour)
	defer hub.Close()
	var made atomic.Int32
	build := func() []byte { return fmt.Appendf(nil, "piece %d", made.Add(1)) }
	a, _ := hub.Look("LG-101", "metric", build)
	b, _ := hub.Look("LG-101", "metric", build)
	defer a.Leave()
	defer b.Leave()
	hub.Publish("LG-101")
	if first, second := receive(t, a), receive(t, b); first != second || made.Load() != 1 {
		t.Errorf("viewers got %q and %q from %d makings", first, second, made.Load())
	}
}

func TestNewsOfAnotherGaugeIsNotHeard(t *testing.T) {
	hub := New(time.Millisecond, time.Hour)
	defer hub.Close()
	v, _ := hub.Look("LG-101", "metric", func() []byte { return []byte("one") })
	defer v.Leave()
	hub.Publish("LG-102")
	select {
	case piece := <-v.Pieces:
		t.Errorf("got %q", piece)
	case <-time.After(30 * time.Millisecond):
	}
}

func TestSilenceIsShownToo(t *testing.T) {
	hub := New(time.Millisecond, 5*time.Millisecond)
	defer hub.Close()
	v, _ := hub.Look("LG-101", "metric", func() []byte { return []byte("again") })
	defer v.Leave()
	if got := receive(t, v); got != "again" {
		t.Errorf("got %q", got)
	}
}

// TestASlowBrowserMissesPiecesAndHoldsNobodyUp never reads and must not stop
// another viewer or the publisher.
func TestASlowBrowserMissesPiecesAndHoldsNobodyUp(t *testing.T) {
	hub := New(time.Microsecond, time.Hour)
	defer hub.Close()
	var n atomic.Int32
	build := func() []byte { return fmt.Appendf(nil, "%d", n.Add(1)) }
	slow, _ := hub.Look("LG-101", "metric", build)
	quick, _ := hub.Look("LG-101", "metric", build)
	defer slow.Leave()
	defer quick.Leave()
	for range 20 {
		hub.Publish("LG-101")
		receive(t, quick)
	}
	if got := receive(t, slow); got == "1" {
		t.Error("the slow viewer got the oldest piece, not the newest")
	}
}

func TestTheRateIsLimited(t *testing.T) {
	hub := New(time.Hour, time.Hour)
	defer hub.Close()
	var made atomic.Int32
	v, _ := hub.Look("LG-101", "metric", func() []byte { made.Add(1); return []byte("x") })
	defer v.Leave()
	hub.Publish("LG-101")
	receive(t, v)
	for range 100 {
		hub.Publish("LG-101")
	}
	time.Sleep(20 * time.Millisecond)
	if made.Load() != 1 {
		t.Errorf("%d pieces were made within the pause", made.Load())
	}
}

func TestCloseEndsStreamsAndRefusesNewOnes(t *testing.T) {
	hub := New(time.Millisecond, time.Hour)
	v, _ := hub.Look("LG-101", "metric", func() []byte { return nil })
	if hub.Viewers() != 1 {
		t.Errorf("%d viewers, want 1", hub.Viewers())
	}
	hub.Close()
	if _, open := <-v.Pieces; open {
		t.Error("the stream is still open")
	}
	v.Leave()
	if _, ok := hub.Look("LG-101", "metric", nil); ok {
		t.Error("a closed hub accepts viewers")
	}
}

// BenchmarkPublishUnseen is what the service pays per comparison while nobody
// looks.
func BenchmarkPublishUnseen(b *testing.B) {
	hub := New(time.Second, time.Hour)
	defer hub.Close()
	b.ReportAllocs()
	for b.Loop() {
		hub.Publish("LG-101")
	}
}
