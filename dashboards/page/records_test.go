package page

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"bridlewatch/compare/record"
	"bridlewatch/dashboards/live"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/plant/planttest"
	"bridlewatch/dashboards/times"
)

// loggedIn are pages somebody with a role has logged in to.
func loggedIn(t *testing.T, role string) (*Pages, *http.ServeMux) {
	t.Helper()
	hub := live.New(1, 1e9)
	t.Cleanup(hub.Close)
	actor := func(*http.Request) (string, string, bool) { return "R. Tester", role, role != "" }
	pages, err := New(Options{Plant: planttest.Varied(), Store: planttest.NewMemory(), Actor: actor, Hub: hub, Templates: templates(), Static: "/s/test", Zone: times.Zone{Location: planttest.Now.Location()}, Version: "test"})
	if err != nil {
		t.Fatal(err)
	}
	mux := http.NewServeMux()
	pages.Routes(mux)
	return pages, mux
}

func begun() url.Values {
	return url.Values{"step": {"begin"}, "kind": {"drain test"}, "way": {"draining"}, "reference": {"sight glass"}, "reference_u": {"4"}, "trips_may": {"10"}, "confirmed": {"on"}, "isolate": {"on"}}
}

func TestRecordIsBookedByForm(t *testing.T) {
	pages, mux := loggedIn(t, plant.Technician)
	w := post(mux, "/gauge/LG-102/record", url.Values{"kind": {"float cleaned"}, "instrument": {"LI-102"}, "work": {"Scale removed <b>carefully</b>."}})
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/records/1?done=booked" {
		t.Fatalf("%d to %s: %s", w.Code, w.Header().Get("Location"), w.Body)
	}
	for address, want := range map[string]string{
		"/records/1": "Scale removed &lt;b&gt;carefully&lt;/b&gt;.", "/records": "Scale removed", "/records?view=chain": "The chain holds from record 1 to record 1", "/records?gauge=LG-101": "No record matches",
		"/records?kind=float+cleaned&by=tester&from=2026-11-25&to=2026-11-25": "LI-102", "/records?from=soon": "is no date", "/records?view=due": "never, as far as",
		"/gauge/LG-102": "Record 1: float cleaned LI-102", "/gauge/LG-101": "Nothing was recorded yet", "/records/1/json": `"float cleaned"`, "/records/1/pdf": "%PDF-",
	} {
		w := get(mux, address)
		if w.Code != http.StatusOK || !strings.Contains(w.Body.String(), want) {
			t.Errorf("%s: %d without %q", address, w.Code, want)
		}
	}
	e, err := pages.Records.Get(t.Context(), 1)
	if err != nil || e.By != "R. Tester" {
		t.Errorf("by %q, %v", e.By, err)
	}
	if get(mux, "/records/2").Code != http.StatusNotFound || get(mux, "/records/x").Code != http.StatusNotFound {
		t.Error("a record that is not there was found")
	}
}

func TestRecordFormSaysWhatIsWrong(t *testing.T) {
	for _, c := range []struct {
		name, want string
		values     url.Values
	}{
		{"no words", "Say what was done", url.Values{"kind": {"note"}}},
		{"kind of nothing", "is no kind of record", url.Values{"kind": {"party"}, "work": {"x"}}},
		{"time in words", "This is no time", url.Values{"kind": {"note"}, "work": {"x"}, "at": {"noon"}}},
		{"in the future", "in the future", url.Values{"kind": {"note"}, "work": {"x"}, "at": {"2030-01-01T00:00"}}},
		{"corrects nothing", "There is no such record", url.Values{"kind": {"note"}, "work": {"x"}, "corrects": {"9"}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, mux := loggedIn(t, plant.Technician)
			w := post(mux, "/gauge/LG-102/record", c.values)
			if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), c.want) {
				t.Errorf("%d without %q", w.Code, c.want)
			}
			if work := c.values.Get("work"); work != "" && !strings.Contains(w.Body.String(), ">"+work+"</textarea>") {
				t.Error("what was typed is lost")
			}
		})
	}
}

func TestWhoMayBook(t *testing.T) {
	for role, want := range map[string]int{plant.Viewer: http.StatusForbidden, "": http.StatusUnprocessableEntity, plant.Technician: http.StatusSeeOther, plant.Admin: http.StatusSeeOther} {
		_, mux := loggedIn(t, role)
		if w := post(mux, "/gauge/LG-102/record", url.Values{"kind": {"note"}, "work": {"x"}}); w.Code != want {
			t.Errorf("record by %q: %d, want %d", role, w.Code, want)
		}
		if w := post(mux, "/gauge/LG-102/prove", begun()); w.Code != want {
			t.Errorf("test by %q: %d, want %d", role, w.Code, want)
		}
	}
}

var seenField = regexp.MustCompile(`name="seen" value="(\d+)"`)

// TestGuidedTest goes the whole way without scripts.
func TestGuidedTest(t *testing.T) {
	pages, mux := loggedIn(t, plant.Technician)
	const here = "/gauge/LG-101/prove"
	step := func(want int, values url.Values) string {
		t.Helper()
		if m := seenField.FindStringSubmatch(get(mux, here).Body.String()); m != nil && values.Get("seen") == "" {
			values.Set("seen", m[1])
		}
		w := post(mux, here, values)
		if w.Code != want {
			t.Fatalf("%s: %d, want %d: %s", values.Get("step"), w.Code, want, w.Body)
		}
		return w.Body.String() + w.Header().Get("Location")
	}
	if body := get(mux, here).Body.String(); !strings.Contains(body, "permit") || !strings.Contains(body, "competent people") {
		t.Error("the form does not say whose permit is needed")
	}
	missing := begun()
	missing.Del("confirmed")
	if body := step(http.StatusUnprocessableEntity, missing); !strings.Contains(body, "Confirm that the work is permitted") || !strings.Contains(body, `value="sight glass"`) {
		t.Error("the message or what was typed is missing")
	}
	step(http.StatusSeeOther, begun())
	step(http.StatusConflict, begun())
	body := step(http.StatusUnprocessableEntity, url.Values{"step": {"take"}, "phase": {"as found"}, "reference_level": {"half way"}})
	if !strings.Contains(body, "write it like 612 for 612 mm") || !strings.Contains(body, `value="half way"`) {
		t.Error("a wrong length is not explained")
	}
	step(http.StatusSeeOther, url.Values{"step": {"take"}, "phase": {"as found"}, "asked": {"950"}, "reference_level": {"612"}})
	step(http.StatusConflict, url.Values{"step": {"take"}, "seen": {"1"}, "phase": {"as found"}, "reference_level": {"612"}})
	step(http.StatusSeeOther, url.Values{"step": {"take"}, "phase": {"as found"}, "reference_level": {"0.5 m"}})
	step(http.StatusSeeOther, url.Values{"step": {"drop"}, "row": {"1"}})
	step(http.StatusUnprocessableEntity, url.Values{"step": {"switch"}, "phase": {"as found"}, "switch": {"LSH-101"}})
	step(http.StatusSeeOther, url.Values{"step": {"switch"}, "phase": {"as found"}, "switch": {"LSH-101"}, "rising-LSH-101": {"787"}})
	if body := get(mux, here).Body.String(); !strings.Contains(body, "LSH-101: falling level was not exercised") || !strings.Contains(body, "787.0") {
		t.Error("the test so far is not shown")
	}
	step(http.StatusUnprocessableEntity, url.Values{"step": {"finish"}})
	if to := step(http.StatusSeeOther, url.Values{"step": {"finish"}, "work": {"Drained in steps."}, "return": {"on"}}); to != "/records/2?done=booked" {
		t.Errorf("ended at %s", to)
	}
	e, err := pages.Records.Get(t.Context(), 2)
	if err != nil || len(e.Rows) != 1 || len(e.Trips) != 1 || e.Kind != record.DrainTest {
		t.Fatalf("%+v, %v", e.Record, err)
	}
	for _, more := range []string{"", "?units=us"} {
		body := get(mux, "/records/2"+more).Body.String()
		for _, want := range []string{"As found", "sight glass", "guard band", "Not tested", "<svg", "Budget used", "competent people", e.Hash} {
			if !strings.Contains(body, want) {
				t.Errorf("record page%s without %q", more, want)
			}
		}
	}
	if n, _, err := pages.Records.Verify(t.Context()); n != 3 || err != nil {
		t.Errorf("%d records, want isolated, test, back in service: %v", n, err)
	}
}

func TestReadOnlyPagesTakeNothing(t *testing.T) {
	pages, mux := loggedIn(t, plant.Admin)
	pages.ReadOnly = true
	if w := post(mux, "/gauge/LG-101/record", url.Values{"kind": {"note"}, "work": {"x"}}); w.Code != http.StatusForbidden {
		t.Errorf("%d", w.Code)
	}
	if w := post(mux, "/gauge/LG-101/prove", begun()); w.Code != http.StatusForbidden {
		t.Errorf("%d", w.Code)
	}
}

// Every fixture's forms render before, during and after a test, in every set
// of units.
func TestRecordPagesWithEveryGauge(t *testing.T) {
	pages, mux := loggedIn(t, plant.Technician)
	look := func(address string) {
		t.Helper()
		for _, set := range []string{"metric", "si", "us"} {
			w := get(mux, address+"?units="+set)
			if body := w.Body.String(); w.Code != http.StatusOK || strings.Contains(body, "NaN") || strings.Contains(body, "%!") || strings.Contains(body, "ZgotmplZ") {
				t.Errorf("%s in %s: %d", address, set, w.Code)
			}
		}
	}
	for _, g := range pages.Plant.Gauges() {
		here := "/gauge/" + url.PathEscape(g.Sheet.Tag)
		look(here + "/record")
		look(here + "/prove")
		for _, values := range []url.Values{begun(), {"step": {"take"}, "phase": {"as left"}, "reference_level": {"0.4 m"}}} {
			if w := post(mux, here+"/prove", values); w.Code != http.StatusSeeOther {
				t.Fatalf("%s: %d %s", here, w.Code, w.Body)
			}
			look(here + "/prove")
		}
		w := post(mux, here+"/prove", url.Values{"step": {"finish"}, "work": {"Tested."}})
		if w.Code != http.StatusSeeOther {
			t.Fatalf("%s: %d %s", here, w.Code, w.Body)
		}
		look(strings.TrimSuffix(w.Header().Get("Location"), "?done=booked"))
		look(here + "/prove")
	}
}

// What people did stands in the trend and in its table.
func TestRecordsAnnotateTheTrend(t *testing.T) {
	_, mux := loggedIn(t, plant.Technician)
	for _, values := range []url.Values{{"kind": {"isolated"}, "work": {"Valves shut."}, "at": {"2026-11-25T12:00"}}, {"kind": {"back in service"}, "work": {"Valves open."}, "at": {"2026-11-25T13:30"}},
		{"kind": {"note"}, "work": {"Long ago."}, "at": {"2026-11-01T00:00"}}} {
		if w := post(mux, "/gauge/LG-102/record", values); w.Code != http.StatusSeeOther {
			t.Fatalf("%d %s", w.Code, w.Body)
		}
	}
	data := get(mux, "/gauge/LG-102/trend.json?last=24h").Body.String()
	if !strings.Contains(data, `"kind":"record","label":"Record 1: isolated. Valves shut."`) || strings.Contains(data, "Long ago") {
		t.Errorf("spans: %s", data)
	}
	if body := get(mux, "/gauge/LG-102/trend?last=24h").Body.String(); !strings.Contains(body, "Record 1: isolated") || !strings.Contains(body, "1 h 30 min") {
		t.Error("the table has no record")
	}
}
