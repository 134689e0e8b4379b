package poll

import (
	"context"
	"time"

	"bridlewatch/collector"
)

// System is the clock of the machine.
type System struct{}

var _ collector.Clock = System{}

// Now is the present with a monotonic reading.
func (System) Now() time.Time { return time.Now() }

// Sleep waits for d or the end of ctx.
func (System) Sleep(ctx context.Context, d time.Duration) error {
	if d <= 0 {
		return ctx.Err()
	}
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
