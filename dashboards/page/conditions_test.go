package page

import (
	"net/http"
	"strings"
	"testing"

	"bridlewatch/compare/datasheet"
	"bridlewatch/dashboards/plant/planttest"
	"bridlewatch/dashboards/units"
)

// TestInterfaceHasNoGasAboveIt: what stands above an interface is a liquid.
func TestInterfaceHasNoGasAboveIt(t *testing.T) {
	sheet := datasheet.Sheet{Fluid: datasheet.Fluid{Upper: &datasheet.Fluid{}}}
	if got := aboveCondition(&sheet, 843, units.Metric); !strings.HasPrefix(got.Name, "Upper liquid") {
		t.Errorf("%+v", got)
	}
	if got := aboveCondition(&datasheet.Sheet{}, 8, units.Metric); got.Name != "Gas density" {
		t.Errorf("%+v", got)
	}
}

// TestNoLinkToTestsThereAreNone: the page of a finding nothing splits further
// does not lead to an empty page.
func TestNoLinkToTestsThereAreNone(t *testing.T) {
	p := planttest.New(planttest.StuckFloat("LG-102"))
	_, mux := newPages(t, p, planttest.NewMemory())
	body := func() string {
		w := get(mux, "/gauge/LG-102")
		if w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "Next</span>") {
			t.Fatalf("status %d, or no next step", w.Code)
		}
		return w.Body.String()
	}
	if strings.Contains(body(), "Settle it, step by step") {
		t.Error("a link to no test")
	}
}
