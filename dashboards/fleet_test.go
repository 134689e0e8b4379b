package dashboards

import (
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"bridlewatch/dashboards/plant/planttest"
)

// TestASilentBoxIsNotDrawnAsHealthy: its gauges said they were all right, and
// nothing of that is shown as if it were so now.
func TestASilentBoxIsNotDrawnAsHealthy(t *testing.T) {
	h := handler(t, Options{Fleet: planttest.Boxes{}})
	page := asked200(t, h, "/fleet")
	order := []string{"tank-farm", "gas-plant", "utilities", "boiler-house"} // silent, failure, says nothing, well
	at := 0
	for _, box := range order {
		next := strings.Index(page[at:], ">"+box+"<")
		if next < 0 {
			t.Fatalf("%s is not after the ones before it in %v", box, order)
		}
		at += next
	}
	silent := page[strings.Index(page, ">tank-farm<"):strings.Index(page, ">gas-plant<")]
	for _, want := range []string{"not seen", "said last: all right", "<strong>silent</strong>", "3 h ago"} {
		if !strings.Contains(silent, want) {
			t.Errorf("a silent box lacks %q", want)
		}
	}
	if strings.Contains(silent, "cat-good") {
		t.Error("a silent box is drawn as good")
	}
	for _, want := range []string{"2 h behind", "7 values refused", "3, 2 of them not acknowledged", "https://level.plant.example", "41 gauges"} {
		if !strings.Contains(page, want) {
			t.Errorf("the fleet lacks %q", want)
		}
	}
	if strings.Contains(page, "javascript:") {
		t.Error("a box can put a script into the page")
	}
	box := asked200(t, h, "/fleet/box?"+url.Values{"site": {"Plant one"}, "box": {"tank-farm"}}.Encode())
	if !strings.Contains(box, "silent since") || strings.Count(box, "said last: all right") != 2 {
		t.Errorf("the page of a silent box shows its gauges as all right")
	}
	if box = asked200(t, h, "/fleet/box?site=Plant+two&box=gas-plant"); !strings.Contains(box, "probably stuck") {
		t.Error("the page of a box lacks what is wrong")
	}
}

// TestFleetWithoutCentralStore: the page says what is not known and that
// nothing else depends on it.
func TestFleetWithoutCentralStore(t *testing.T) {
	page := asked200(t, handler(t, Options{Fleet: planttest.Boxes{Err: errors.New("central store: connection refused")}}), "/fleet")
	if !strings.Contains(page, "connection refused") || !strings.Contains(page, "goes on by itself") || strings.Contains(page, "No box has reported") {
		t.Error("the page does not say what happened")
	}
	w := httptest.NewRecorder()
	handler(t, Options{}).ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/fleet", nil))
	if w.Code != http.StatusNotFound || strings.Contains(w.Body.String(), `href="/fleet"`) {
		t.Errorf("without a central store: %d", w.Code)
	}
}

func handler(t *testing.T, o Options) http.Handler {
	t.Helper()
	o.Plant, o.Store = planttest.Varied(), planttest.NewMemory()
	s, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() }) // nobody looks
	return s.Handler()
}

func asked200(t *testing.T, h http.Handler, address string) string {
	t.Helper()
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, address, nil))
	if w.Code != http.StatusOK {
		t.Fatalf("%s: %d", address, w.Code)
	}
	return w.Body.String()
}
