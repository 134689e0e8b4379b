package main

import (
	"syscall"
	"time"

	"bridlewatch/dashboards"
)

// Bits of the kernel's clock status, adjtimex(2).
const (
	clockUnsynchronised = 0x0040 // STA_UNSYNC
	clockNanoseconds    = 0x2000 // STA_NANO: the offset is in ns, else in µs
)

// boxClock asks the kernel whether something keeps the clock of the box right.
func boxClock() dashboards.ClockHealth {
	var t syscall.Timex
	if _, err := syscall.Adjtimex(&t); err != nil {
		return dashboards.ClockHealth{}
	}
	unit := time.Microsecond
	if t.Status&clockNanoseconds != 0 {
		unit = time.Nanosecond
	}
	return dashboards.ClockHealth{Known: true, Synchronised: t.Status&clockUnsynchronised == 0, Offset: time.Duration(t.Offset) * unit}
}
