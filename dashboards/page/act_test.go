package page

import (
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"bridlewatch/compare/alert"
	"bridlewatch/compare/gauge"
	"bridlewatch/dashboards/desk"
	"bridlewatch/dashboards/live"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/plant/planttest"
	"bridlewatch/dashboards/times"
)

// newDesk serves the varied plant with a desk that knows the alert of the
// stuck float. Whoever asks has the role.
func newDesk(t *testing.T, role string) (http.Handler, *desk.Desk) {
	t.Helper()
	m, p := planttest.NewMemory(), planttest.Varied()
	d, err := desk.Open(context.Background(), desk.Options{Store: m, Now: func() time.Time { return planttest.Now }, Gauges: []desk.Gauge{{Tag: "LG-102", Area: "Boiler house"}, {Tag: "LG-103"}}})
	if err != nil {
		t.Fatal(err)
	}
	f := planttest.StuckFloat("LG-102").Result.Findings[0]
	d.Changed(context.Background(), planttest.Now.Add(-2*time.Hour), "opened", f, "failure")
	hub := live.New(time.Millisecond, time.Minute)
	t.Cleanup(hub.Close)
	actor := func(*http.Request) (string, string, bool) { return "R. Okafor", role, role != "" }
	pages, err := New(Options{Plant: p, Store: m, Alerts: d, Actor: actor, Hub: hub, Templates: templates(), Static: "/s/test", Zone: times.Zone{Location: time.UTC}})
	if err != nil {
		t.Fatal(err)
	}
	mux := http.NewServeMux()
	pages.Routes(mux)
	return mux, d
}

func post(h http.Handler, address string, form url.Values) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodPost, address, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func openAlert(t *testing.T, d *desk.Desk) plant.Alert {
	t.Helper()
	open, err := d.Open(context.Background())
	if err != nil || len(open) != 1 {
		t.Fatalf("open alerts: %v, %v", open, err)
	}
	return open[0]
}

func TestAcknowledge(t *testing.T) {
	h, d := newDesk(t, plant.Technician)
	a := openAlert(t, d)
	w := post(h, "/alerts/act", url.Values{"alert": {a.ID}, "verb": {"acknowledge"}, "why": {"looking at it"}, "here": {"/alerts"}})
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/alerts?done=acknowledge" {
		t.Fatalf("status %d to %q: %s", w.Code, w.Header().Get("Location"), w.Body)
	}
	if a = openAlert(t, d); a.State != "acknowledged" || a.By != "R. Okafor" {
		t.Errorf("alert is %q by %q", a.State, a.By)
	}
	body := get(h, "/alerts?done=acknowledge").Body.String()
	if !strings.Contains(body, "Acknowledged.") || !strings.Contains(body, "acknowledged 14:05:00 by R. Okafor") {
		t.Error("the list does not say that it is acknowledged, and by whom")
	}
	one := get(h, "/alerts/one?id="+url.QueryEscape(a.ID)).Body.String()
	if !strings.Contains(one, "looking at it") {
		t.Error("the page of the alert does not have the comment")
	}
}

func TestShelveNeedsAReasonAndKeepsWhatWasFilledIn(t *testing.T) {
	h, d := newDesk(t, plant.Technician)
	a := openAlert(t, d)
	w := post(h, "/alerts/act", url.Values{"alert": {a.ID}, "verb": {"shelve"}, "for": {"24h"}, "to": {"J. Ruiz"}})
	body := w.Body.String()
	if w.Code != http.StatusUnprocessableEntity || !strings.Contains(body, "needs a reason") {
		t.Fatalf("status %d: %.300s", w.Code, body)
	}
	if !strings.Contains(body, `<option value="24h" selected>`) || !strings.Contains(body, `value="J. Ruiz"`) || !strings.Contains(body, `<details class="handle" open>`) {
		t.Error("what was filled in is lost")
	}
	w = post(h, "/alerts/act", url.Values{"alert": {a.ID}, "verb": {"shelve"}, "for": {"8h"}, "why": {"spare float ordered"}, "here": {"/alerts"}})
	if w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, w.Body)
	}
	body = get(h, "/alerts?view=quiet").Body.String()
	for _, words := range []string{"spare float ordered", "22:05:00", "R. Okafor"} {
		if !strings.Contains(body, words) {
			t.Errorf("what is kept quiet does not say %q", words)
		}
	}
}

// Whoever keeps something quiet reads on every page that it ends soon, and
// nobody else does.
func TestReminderOfAQuietWindow(t *testing.T) {
	for _, by := range []string{"R. Okafor", "J. Ruiz"} {
		h, d := newDesk(t, plant.Engineer)
		now := planttest.Now
		if _, err := d.AddWindow(t.Context(), alert.Window{Gauges: []string{"LG-102"}, Causes: []string{"float-stuck"}, From: now.Add(-90 * time.Minute), Until: now.Add(10 * time.Minute), Reason: "drum is emptied", By: by}); err != nil {
			t.Fatal(err)
		}
		d.Compared(t.Context(), now, "LG-102", "failure", &gauge.Measurement{}, nil)
		const words = "Your quiet window about gauges LG-102; causes float-stuck ends in 10 min"
		if told := strings.Contains(get(h, "/plant").Body.String(), words); told != (by == "R. Okafor") {
			t.Errorf("set by %s: R. Okafor is told %v", by, told)
		}
		if !strings.Contains(get(h, "/alerts?view=quiet").Body.String(), "keeps quiet, ends soon") {
			t.Error("the list of windows does not say that it ends soon")
		}
	}
}

func TestWhoMayDoWhat(t *testing.T) {
	tests := []struct {
		name, role, address string
		form                url.Values
		status              int
		says                string
	}{
		{"viewers acknowledge nothing", plant.Viewer, "/alerts/act", url.Values{"verb": {"acknowledge"}, "alert": {"x"}}, 403, "needs the role technician"},
		{"technicians set no windows", plant.Technician, "/alerts/quiet", url.Values{"gauges": {"LG-102"}, "why": {"x"}, "for": {"8h"}}, 403, "needs the role engineer"},
		{"nobody logged in", "", "/alerts/act", url.Values{"verb": {"acknowledge"}, "alert": {"x"}}, 422, "log in"},
		{"nothing ticked", plant.Technician, "/alerts/act", url.Values{"verb": {"acknowledge"}}, 422, "No alert is selected"},
		{"unknown alert", plant.Technician, "/alerts/act", url.Values{"verb": {"acknowledge"}, "alert": {"LG-999/1"}}, 422, "no such alert"},
		{"unknown verb", plant.Technician, "/alerts/act", url.Values{"verb": {"ignore"}, "alert": {"LG-999/1"}}, 422, "Not done"},
		{"window about everything", plant.Engineer, "/alerts/quiet", url.Values{"why": {"x"}, "for": {"8h"}}, 422, "name gauges, areas or causes"},
		{"window about areas with commas", plant.Engineer, "/alerts/quiet", url.Values{"areas": {"tank farm, east; boiler house, level 9"}, "why": {"x"}, "for": {"8h"}}, 422, "o gauge stands in an area &#34;tank farm, east&#34;"},
		{"window without a length", plant.Engineer, "/alerts/quiet", url.Values{"gauges": {"LG-102"}, "why": {"x"}, "for": {"for ever"}}, 422, "choose for how long"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			h, _ := newDesk(t, tt.role)
			w := post(h, tt.address, tt.form)
			if w.Code != tt.status || !strings.Contains(w.Body.String(), tt.says) {
				t.Errorf("status %d, want %d with %q: %.400s", w.Code, tt.status, tt.says, w.Body)
			}
		})
	}
}

func TestQuietWindowIsSetShownAndEnded(t *testing.T) {
	h, d := newDesk(t, plant.Engineer)
	w := post(h, "/alerts/quiet", url.Values{"gauges": {"LG-102, LG-103"}, "why": {"boiler is down"}, "for": {"72h"}, "here": {"/alerts?view=quiet"}})
	if w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, w.Body)
	}
	body := get(h, "/alerts?view=quiet").Body.String()
	for _, words := range []string{"gauges LG-102, LG-103", "boiler is down", "End now", "in 3 d"} {
		if !strings.Contains(body, words) {
			t.Errorf("the window does not show %q", words)
		}
	}
	windows, err := d.Windows(context.Background())
	if err != nil || len(windows) != 1 {
		t.Fatalf("%v, %v", windows, err)
	}
	post(h, "/alerts/quiet/end", url.Values{"window": {windows[0].ID}, "here": {"/alerts?view=quiet"}})
	if body := get(h, "/alerts?view=quiet").Body.String(); !strings.Contains(body, "ended by R. Okafor") {
		t.Error("the window is not shown as ended")
	}
}

func TestEveryViewOfTheDesk(t *testing.T) {
	h, _ := newDesk(t, plant.Engineer)
	for _, view := range []string{"", "quiet", "journal", "load", "routes"} {
		if w := get(h, "/alerts?view="+view); w.Code != http.StatusOK || strings.Contains(w.Body.String(), "could not be made") {
			t.Errorf("view %q: status %d: %.200s", view, w.Code, w.Body)
		}
	}
}
