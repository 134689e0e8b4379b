package page

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"bridlewatch/compare/scenario"
	"bridlewatch/dashboards/live"
	"bridlewatch/dashboards/plant/planttest"
	"bridlewatch/dashboards/times"
	"bridlewatch/dashboards/trials"
	"bridlewatch/dashboards/trials/trialstest"
)

// tried are pages whose runner is r; nil: there is none.
func tried(t *testing.T, r trials.Runner, readOnly bool) *http.ServeMux {
	t.Helper()
	hub := live.New(time.Millisecond, time.Minute)
	t.Cleanup(hub.Close)
	pages, err := New(Options{Plant: planttest.Varied(), Store: planttest.NewMemory(), Hub: hub, Templates: templates(), Static: "/s/test",
		Zone: times.Zone{Location: time.FixedZone("", 2*3600)}, Trials: r, ReadOnly: readOnly})
	if err != nil {
		t.Fatal(err)
	}
	mux := http.NewServeMux()
	pages.Routes(mux)
	return mux
}

func order(mux http.Handler, tag string, fields url.Values) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodPost, "/gauge/"+tag+"/trial", strings.NewReader(fields.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	mux.ServeHTTP(w, r)
	return w
}

func asked(more ...string) url.Values {
	f := url.Values{"from": {"2026-08-01"}, "to": {"2026-11-24"}, "times": {"3"}, "before": {"14"}, "watch": {"7.5"}}
	for i := 0; i < len(more); i += 2 {
		f.Set(more[i], more[i+1])
	}
	return f
}

// The form becomes an order, with days in the zone of the plant and the last of
// them included.
func TestTrialsAreOrderedByForm(t *testing.T) {
	r := &trialstest.Runner{}
	mux := tried(t, r, false)
	if w := order(mux, "LG-101", asked("fault", "transmitter-zero/LT-101", "size", "15 mm")); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/gauge/LG-101/trial#run" {
		t.Fatalf("status %d to %q: %s", w.Code, w.Header().Get("Location"), w.Body)
	}
	if w := order(mux, "LG-101", asked("at", "2026-10-01T06:30", "times", "")); w.Code != http.StatusSeeOther {
		t.Fatalf("at a time: status %d: %s", w.Code, w.Body)
	}
	one, all := r.Ordered[0], r.Ordered[1]
	if one.Gauge != "LG-101" || len(one.Faults) != 1 || one.Faults[0] != (scenario.Fault{Gauge: "LG-101", Kind: scenario.TransmitterZero, Part: "LT-101", Size: 0.015}) ||
		one.Times != 3 || one.Before != 14*24*time.Hour || one.Watch != 180*time.Hour {
		t.Errorf("%+v", one)
	}
	zone := time.FixedZone("", 2*3600)
	if !one.From.Equal(time.Date(2026, 8, 1, 0, 0, 0, 0, zone)) || !one.To.Equal(time.Date(2026, 11, 25, 0, 0, 0, 0, zone)) {
		t.Errorf("from %v to %v", one.From, one.To)
	}
	if len(all.Faults) != 0 || len(all.At) != 1 || !all.At[0].Equal(time.Date(2026, 10, 1, 6, 30, 0, 0, zone)) {
		t.Errorf("%+v", all)
	}
	if w := order(mux, "LG-107", url.Values{"do": {"cancel"}}); w.Code != http.StatusSeeOther || len(r.Cancelled) != 1 || r.Cancelled[0] != "LG-107" {
		t.Errorf("cancel: status %d, %v", w.Code, r.Cancelled)
	}
}

// What cannot be is said beside its field, and what was filled in stays.
func TestATrialThatCannotBe(t *testing.T) {
	for want, fields := range map[string]url.Values{
		"is no day":                                asked("from", "yesterday"),
		"is no number of days above 0":             asked("before", "0"),
		"is no number from 1 to 10":                asked("times", "11"),
		"is no time; write it like":                asked("at", "noon"),
		"A size is for one fault":                  asked("size", "15mm"),
		"there is no kind":                         asked("fault", "rust"),
		"size &#34;15&#34;":                        asked("fault", "transmitter-zero/LT-101", "size", "15"),
		"it begins at the time given":              asked("fault", "float-stuck@2h"),
		"the end must be after the begin":          asked("to", "2026-07-01"),
		"at most 400 are tried here: choose fewer": asked("from", "2024-01-01"),
	} {
		w := order(tried(t, &trialstest.Runner{}, false), "LG-101", fields)
		body := w.Body.String()
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(body, want) || !strings.Contains(body, `value="`+fields.Get("watch")+`"`) {
			t.Errorf("%v: status %d, does not say %q", fields, w.Code, want)
		}
	}
	if w := order(tried(t, &trialstest.Runner{}, false), "LG-103", asked()); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "Trials on LG-107 are under way") {
		t.Errorf("while another is under way: %d", w.Code)
	}
}

// The page says the report in the words of the command, an order under way with its
// progress, one that failed with its reason, and offers only what the gauge can have.
func TestTrialPages(t *testing.T) {
	mux := tried(t, &trialstest.Runner{}, false)
	for tag, want := range map[string][]string{
		"LG-102": {"Asked for: every fault the gauge can have, in sizes around the allowed gap, at 2 times by chance", "<td>2 of 2</td>", "4.2 h, at most 6.3 h", "1: LI-102 (float)", "the gauge says it cannot see a shift while the level rests", "not tried",
			"Found every time: float-stuck/LI-102, after 6.3 h at most.", "Never found: transmitter-zero/LT-102=7.5mm", "Wrong blame: LI-102 (float) was named for transmitter-zero/LT-102=30mm",
			"3.0 a year", "open to the end", "no alert within 30.0 d", "Found here is no promise", `<form class="entry"`, "one gauge is tried at a time"},
		"LG-107": {"float-stuck/LI-107", "41 faults at 2 times each", "43 %", "Cancel", `hx-trigger="every 2s"`},
		"LG-108": {"No report", "nowhere in the history from"},
		"LG-101": {`<option value="transmitter-zero/LT-101"`, `<option value="point-failed/LSH-101"`, `value="2026-07-28"`, "kept since 2026-05-25"},
		"LG-104": {"Try faults"},
	} {
		body := get(mux, "/gauge/"+tag+"/trial").Body.String()
		for _, w := range want {
			if !strings.Contains(body, w) {
				t.Errorf("%s does not say %q", tag, w)
			}
		}
	}
	if body := get(mux, "/gauge/LG-107/trial").Body.String(); strings.Contains(body, `<form class="entry"`) {
		t.Error("another order can be given while one is under way")
	}
	if body := get(mux, "/gauge/LG-104/trial").Body.String(); strings.Contains(body, "transmitter-zero") {
		t.Error("a gauge without a transmitter is offered its faults")
	}
}

func TestWhereNoTrialsAreMade(t *testing.T) {
	r := &trialstest.Runner{}
	for name, mux := range map[string]*http.ServeMux{"no runner": tried(t, nil, false), "for reading only": tried(t, r, true)} {
		if body := get(mux, "/gauge/LG-101/trial").Body.String(); !strings.Contains(body, "makes no trials") || strings.Contains(body, `<form class="entry"`) {
			t.Errorf("%s: the page offers them", name)
		}
		if w := order(mux, "LG-101", asked()); w.Code != http.StatusUnprocessableEntity || len(r.Ordered) > 0 {
			t.Errorf("%s: ordered, status %d", name, w.Code)
		}
	}
}
