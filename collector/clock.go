package collector

import (
	"context"
	"time"
)

// Clock tells the time and waits. Everything under collector takes one, so
// that package poll is the only place that asks the machine for the time.
type Clock interface {
	// Now is the present, with a monotonic reading where the machine has one.
	Now() time.Time
	// Sleep returns after d, or earlier with ctx.Err() when ctx ends.
	Sleep(ctx context.Context, d time.Duration) error
}

// Counters are what a source counts about itself since it was made. Only
// BreakersOpen can go down.
type Counters struct {
	Requests      uint64 // sent to the device
	Timeouts      uint64 // requests without an answer in time
	Exceptions    uint64 // requests the device refused
	BadFrames     uint64 // answers that were not what was asked
	StaleFrames   uint64 // late or repeated answers that were thrown away
	Reconnects    uint64 // connections made after the first
	BytesSent     uint64
	BytesReceived uint64
	BreakersOpen  int // units that are left alone because they do not answer
}

// Counted is a Source that counts. It may be asked at any time from any
// goroutine.
type Counted interface {
	Counters() Counters
}

// ClockSet is before the first version of this program: a clock that says less was
// never set.
var ClockSet = time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
