package page

import (
	"regexp"
	"testing"

	"bridlewatch/dashboards/plant/planttest"
)

// The address a gauge page draws its live values from is the gauge's, also
// where the tag holds what an address divides by.
func TestLiveAddressOfTagWithSlash(t *testing.T) {
	_, mux := newPages(t, planttest.New(planttest.Healthy("LG 101/A")), planttest.NewMemory())
	body := get(mux, "/gauge/LG%20101%2FA").Body.String()
	found := regexp.MustCompile(`hx-sse:connect="([^"?]*)`).FindStringSubmatch(body)
	if found == nil || found[1] != "/gauge/LG%20101%2FA/events" {
		t.Errorf("live values come from %q", found)
	}
}
