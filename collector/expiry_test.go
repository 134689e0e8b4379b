package collector

import (
	"strings"
	"testing"
	"time"
)

func TestExpiryIsSaidInTime(t *testing.T) {
	now := time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC)
	rows := []struct {
		days int
		want string
	}{
		{400, ""}, {61, ""}, {59, "expires in 59 days"}, {7, "renew it now"}, {-1, "expired on 2026-04-30"},
	}
	for _, r := range rows {
		if got := Expiry(now.AddDate(0, 0, r.days), now); !strings.Contains(got, r.want) || r.want == "" && got != "" {
			t.Errorf("%d days: %q, want %q", r.days, got, r.want)
		}
	}
}
