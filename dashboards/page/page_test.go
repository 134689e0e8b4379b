package page

import (
	"errors"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"strings"
	"testing"
	"time"

	"bridlewatch/dashboards/live"
	"bridlewatch/dashboards/plant/planttest"
	"bridlewatch/dashboards/times"
)

func templates() fs.FS { return os.DirFS("../ui/templates") }

func newPages(t *testing.T, p *planttest.Plant, s *planttest.Memory) (*Pages, *http.ServeMux) {
	t.Helper()
	hub := live.New(time.Millisecond, time.Minute)
	t.Cleanup(hub.Close)
	pages, err := New(Options{Plant: p, Store: s, Hub: hub, Templates: templates(), Static: "/s/test", Zone: times.Zone{Location: time.UTC}, Version: "test"})
	if err != nil {
		t.Fatal(err)
	}
	mux := http.NewServeMux()
	pages.Routes(mux)
	return pages, mux
}

func get(mux http.Handler, address string) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	mux.ServeHTTP(w, httptest.NewRequest(http.MethodGet, address, nil))
	return w
}

func filled(t *testing.T) *planttest.Memory {
	t.Helper()
	m := planttest.NewMemory()
	if err := m.RememberYear(); err != nil {
		t.Fatal(err)
	}
	if err := m.Fill("LG-102", planttest.Now.Add(-24*time.Hour), planttest.Now, time.Minute); err != nil {
		t.Fatal(err)
	}
	return m
}

// TestEveryPageWithEveryGauge renders every page of every fixture in every set
// of units: a template that names what is not there fails here.
func TestEveryPageWithEveryGauge(t *testing.T) {
	p := planttest.Varied()
	_, mux := newPages(t, p, filled(t))
	addresses := []string{"/", "/walk", "/alerts", "/alerts?view=quiet", "/alerts?view=journal", "/alerts?view=load", "/plant", "/service", "/?find=drum", "/?find=nothing-like-it", "/find?find=LG-101"}
	for _, g := range p.Gauges() {
		address := "/gauge/" + url.PathEscape(g.Sheet.Tag)
		for _, more := range []string{"", "/settle", "/proven", "/blind", "/trend", "/trend?last=1h", "/trend?from=2026-11-24T00:00:00&to=2026-11-25T00:00:00"} {
			addresses = append(addresses, address+more)
		}
	}
	for _, address := range addresses {
		for _, set := range []string{"metric", "si", "us"} {
			u, _ := url.Parse(address)
			q := u.Query()
			q.Set("units", set)
			u.RawQuery = q.Encode()
			w := get(mux, u.String())
			if w.Code != http.StatusOK && w.Code != http.StatusSeeOther {
				t.Errorf("%s: status %d: %s", u, w.Code, w.Body)
			}
			if body := w.Body.String(); strings.Contains(body, "NaN") || strings.Contains(body, "%!") || strings.Contains(body, "ZgotmplZ") {
				t.Errorf("%s has a value that was not written properly", u)
			}
		}
	}
}

func TestVisitsWorstFirst(t *testing.T) {
	_, mux := newPages(t, planttest.Varied(), planttest.NewMemory())
	body := get(mux, "/").Body.String()
	last := -1
	for _, tag := range []string{"LG-102", "LG-106", "LG-107", "LG-105", "LG-103", "LG-109", "LG-108", "LG-101"} {
		at := strings.Index(body, `href="/gauge/`+tag+`"`)
		if at <= last {
			t.Errorf("%s stands at %d, before or at the gauge that should be above it at %d", tag, at, last)
		}
		last = at
	}
	for _, words := range []string{"Float is probably stuck", "since 10:55:00 (3 h 10 min)", "Not seen since 13:41:00 (24 min ago): opc-ua 10.1.2.9:4840: no answer"} {
		if !strings.Contains(body, words) {
			t.Errorf("the list does not say %q", words)
		}
	}
}

func TestStates(t *testing.T) {
	failing := planttest.NewMemory()
	failing.Fail = errors.New("disk is on fire")
	tests := []struct {
		name    string
		plant   *planttest.Plant
		store   *planttest.Memory
		address string
		status  int
		says    string
		not     string
	}{
		{"nothing configured", planttest.New(), planttest.NewMemory(), "/", 200, "No gauges yet", "No gauge needs a visit"},
		{"all well", planttest.New(planttest.Healthy("LG-101")), planttest.NewMemory(), "/", 200, "No gauge needs a visit", "No gauges yet"},
		{"unknown gauge", planttest.Varied(), planttest.NewMemory(), "/gauge/LG-999", 404, "There is no gauge LG-999", ""},
		{"unknown page", planttest.Varied(), planttest.NewMemory(), "/nowhere", 404, "leads nowhere", ""},
		{"no history", planttest.Varied(), planttest.NewMemory(), "/gauge/LG-101/trend", 200, "No samples were recorded in this period.", ""},
		{"history cannot be read", planttest.Varied(), failing, "/gauge/LG-101/trend", 422, "Readings are still being recorded", ""},
		{"bad time", planttest.Varied(), planttest.NewMemory(), "/gauge/LG-101/trend?from=yesterday&to=now", 422, "is not a time", ""},
		{"period backwards", planttest.Varied(), planttest.NewMemory(), "/gauge/LG-101/trend?from=2026-11-25&to=2026-11-24", 422, "the end must be after the start", ""},
		{"stale gauge shows no lively picture", planttest.Varied(), planttest.NewMemory(), "/gauge/LG-103", 200, "Not seen since", `class="ink-liquid"`},
		{"never compared", planttest.Varied(), planttest.NewMemory(), "/gauge/LG-109", 200, "Not seen yet", `class="ink-liquid"`},
		{"above upper tap", planttest.Varied(), planttest.NewMemory(), "/gauge/LG-105", 200, "at or above upper tap", ""},
		{"isolated", planttest.Varied(), planttest.NewMemory(), "/gauge/LG-106", 200, "chamber isolated", ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, mux := newPages(t, tt.plant, tt.store)
			w := get(mux, tt.address)
			if w.Code != tt.status {
				t.Errorf("status %d, want %d", w.Code, tt.status)
			}
			if !strings.Contains(w.Body.String(), tt.says) {
				t.Errorf("page does not say %q", tt.says)
			}
			if tt.not != "" && strings.Contains(w.Body.String(), tt.not) {
				t.Errorf("page says %q", tt.not)
			}
		})
	}
}

func TestEventsSendFreshPieces(t *testing.T) {
	p := planttest.Varied()
	pages, mux := newPages(t, p, planttest.NewMemory())
	server := httptest.NewServer(mux)
	t.Cleanup(server.Close)
	answer, err := server.Client().Get(server.URL + "/gauge/LG-101/events")
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if got := answer.Header.Get("Content-Type"); got != "text/event-stream" {
		t.Errorf("content type %q", got)
	}
	if first := readEvent(t, answer); !strings.Contains(first, "Float and transmitter agree") {
		t.Errorf("first piece does not have the headline: %.200s", first)
	}
	changed := planttest.StuckFloat("LG-101")
	p.Set(changed)
	pages.Hub.Publish("LG-101")
	if second := readEvent(t, answer); !strings.Contains(second, "probably stuck") {
		t.Errorf("second piece does not have the new headline: %.200s", second)
	}
}

// readEvent reads one event and takes the frame off.
func readEvent(t *testing.T, answer *http.Response) string {
	t.Helper()
	var lines []string
	buf := make([]byte, 1)
	line := []byte{}
	for {
		if _, err := answer.Body.Read(buf); err != nil {
			t.Fatal(err)
		}
		if buf[0] != '\n' {
			line = append(line, buf[0])
			continue
		}
		if len(line) == 0 {
			return strings.Join(lines, "\n")
		}
		text, ok := strings.CutPrefix(string(line), "data: ")
		if !ok {
			t.Fatalf("line %q is not part of an event", line)
		}
		lines, line = append(lines, text), line[:0]
	}
}

func TestPreferencesComeBackToThePageAndNowhereElse(t *testing.T) {
	_, mux := newPages(t, planttest.Varied(), planttest.NewMemory())
	tests := []struct{ name, here, want string }{
		{"a page of ours", "/gauge/LG-101/trend?last=1h&units=us", "/gauge/LG-101/trend?last=1h"},
		{"another host", "https://elsewhere.example/", "/"},
		{"another host without scheme", "//elsewhere.example/", "/"},
		{"backslashes", `/\elsewhere.example`, "/"},
		{"nothing", "", "/"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			form := url.Values{"here": {tt.here}, "units": {"us"}, "theme": {"dark"}, "keys": {"off"}}
			r := httptest.NewRequest(http.MethodPost, "/preferences", strings.NewReader(form.Encode()))
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			w := httptest.NewRecorder()
			mux.ServeHTTP(w, r)
			if got := w.Header().Get("Location"); got != tt.want || w.Code != http.StatusSeeOther {
				t.Errorf("status %d to %q, want %q", w.Code, got, tt.want)
			}
			next := httptest.NewRequest(http.MethodGet, "/gauge/LG-101", nil)
			next.AddCookie(w.Result().Cookies()[0])
			w = httptest.NewRecorder()
			mux.ServeHTTP(w, next)
			if body := w.Body.String(); !strings.Contains(body, `data-theme="dark"`) || !strings.Contains(body, `data-keys="off"`) || !strings.Contains(body, "24.09") {
				t.Error("the choice was not kept")
			}
		})
	}
}
