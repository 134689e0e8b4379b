package collector

import (
	"fmt"
	"time"
)

// Expiry says in words that a certificate ends soon: within 60, 30 and 7 days.
// It is empty before that.
func Expiry(notAfter, now time.Time) string {
	left := notAfter.Sub(now)
	day := 24 * time.Hour
	switch {
	case left <= 0:
		return "expired on " + notAfter.Format(time.DateOnly)
	case left <= 7*day:
		return fmt.Sprintf("expires in %d days: renew it now", int(left/day))
	case left <= 60*day:
		return fmt.Sprintf("expires in %d days, on %s", int(left/day), notAfter.Format(time.DateOnly))
	}
	return ""
}
