package poll

import (
	"testing"
	"time"
)

// Sources of a long interval whose phases are far apart always leave an order
// waiting: what those of a short one were given meanwhile must not be kept.
func TestQueueKeepsOnlyWhatWaits(t *testing.T) {
	now := time.Now()
	quick, slow := &worker{}, &worker{}
	var q queue
	q.add(slow, order{now.Add(time.Hour).Round(0), newRound()}, now)
	for range 3000 {
		now = now.Add(time.Second)
		q.add(quick, order{now.Round(0), newRound()}, now)
		q.release(now)
	}
	if len(q.all)-q.head != 1 || len(q.all) > 4 {
		t.Errorf("%d orders held, %d of them waiting; want 1 waiting and hardly more", len(q.all), len(q.all)-q.head)
	}
	if quick.stats.Skipped != 3000 {
		t.Errorf("%d orders reached the worker, want 3000", quick.stats.Skipped)
	}
}
