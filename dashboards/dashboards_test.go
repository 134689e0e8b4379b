package dashboards

import (
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"bridlewatch/dashboards/plant/planttest"
)

func serve(t *testing.T, o Options) *httptest.Server {
	t.Helper()
	if o.Plant == nil {
		o.Plant = planttest.Varied()
	}
	if o.Store == nil {
		o.Store = planttest.NewMemory()
	}
	s, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(s.Handler())
	t.Cleanup(server.Close)
	t.Cleanup(func() { s.Close() })
	return server
}

func fetch(t *testing.T, address string) (*http.Response, string) {
	t.Helper()
	answer, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	return answer, string(body)
}

func TestNewRefuses(t *testing.T) {
	tests := []struct {
		name string
		o    Options
		says string
	}{
		{"nothing", Options{}, "need a store and a plant"},
		{"a relative base path", Options{Plant: planttest.New(), Store: planttest.NewMemory(), BasePath: "level"}, `base path "level"`},
		{"a base path that would break out", Options{Plant: planttest.New(), Store: planttest.NewMemory(), BasePath: `/"><x>`}, "must begin with /"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if _, err := New(tt.o); err == nil || !strings.Contains(err.Error(), tt.says) {
				t.Errorf("error %v, want one that says %q", err, tt.says)
			}
		})
	}
}

// TestEveryAddressOfAPageAnswers follows what a page links to, with and
// without a base path.
func TestEveryAddressOfAPageAnswers(t *testing.T) {
	for _, base := range []string{"", "/level"} {
		server := serve(t, Options{BasePath: base})
		seen := map[string]bool{}
		for _, page := range []string{"/", "/gauge/LG-102", "/gauge/LG-102/trend"} {
			_, body := fetch(t, server.URL+base+page)
			for _, address := range addresses(body) {
				if seen[address] {
					continue
				}
				seen[address] = true
				if !strings.HasPrefix(address, base+"/") && !strings.HasPrefix(address, "#") {
					t.Errorf("%s leads out of the base path %q", address, base)
				}
				if answer, _ := fetch(t, server.URL+address); answer.StatusCode != http.StatusOK {
					t.Errorf("%s of page %s answers %s", address, page, answer.Status)
				}
			}
		}
		if len(seen) < 20 {
			t.Errorf("only %d addresses were followed", len(seen))
		}
	}
}

func addresses(body string) []string {
	var found []string
	for _, attribute := range []string{`href="`, `src="`} {
		for rest := body; ; {
			_, after, ok := strings.Cut(rest, attribute)
			if !ok {
				break
			}
			var address string
			address, rest, _ = strings.Cut(after, `"`)
			if !strings.HasPrefix(address, "#") {
				found = append(found, strings.ReplaceAll(address, "&amp;", "&"))
			}
		}
	}
	return found
}

func TestHeaders(t *testing.T) {
	server := serve(t, Options{})
	answer, body := fetch(t, server.URL+"/")
	if got := answer.Header.Get("Content-Security-Policy"); !strings.HasPrefix(got, "default-src 'none'") || strings.Contains(got, "unsafe") {
		t.Errorf("content policy %q", got)
	}
	if got := answer.Header.Get("Cache-Control"); got != "no-store" {
		t.Errorf("a page may be kept: %q", got)
	}
	for _, inline := range []string{" style=", "<style", " onclick=", "javascript:"} {
		if strings.Contains(body, inline) {
			t.Errorf("page has %q, which the content policy blocks", inline)
		}
	}
	static := addresses(body)[0]
	answer, _ = fetch(t, server.URL+static)
	if got := answer.Header.Get("Cache-Control"); !strings.Contains(got, "immutable") {
		t.Errorf("%s is kept by %q", static, got)
	}
}

func TestFormsOfOtherSitesAreRefused(t *testing.T) {
	server := serve(t, Options{})
	r, _ := http.NewRequest(http.MethodPost, server.URL+"/preferences", strings.NewReader("units=us"))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	if answer.StatusCode != http.StatusForbidden {
		t.Errorf("status %s, want 403", answer.Status)
	}
}

func TestRehearsalIsSaidOnEveryPage(t *testing.T) {
	server := serve(t, Options{Rehearsal: true, RehearsalText: "Two faults are developing."})
	for _, page := range []string{"/", "/gauge/LG-101", "/gauge/LG-101/trend", "/nowhere"} {
		if _, body := fetch(t, server.URL+page); !strings.Contains(body, "REHEARSAL, not the plant.") || !strings.Contains(body, "Two faults are developing.") {
			t.Errorf("page %s does not say that this is a rehearsal", page)
		}
	}
}

// panicking is a plant that fails when it is asked for one gauge.
type panicking struct{ *planttest.Plant }

func (panicking) Gauge(string) (GaugeView, bool) { panic("no such luck") }

func TestAPanicGivesAnErrorPage(t *testing.T) {
	server := serve(t, Options{Plant: panicking{planttest.Varied()}})
	answer, body := fetch(t, server.URL+"/gauge/LG-101")
	if answer.StatusCode != http.StatusInternalServerError || !strings.Contains(body, "The service goes on polling") {
		t.Errorf("status %s: %.200s", answer.Status, body)
	}
	if answer, _ := fetch(t, server.URL+"/"); answer.StatusCode != http.StatusOK {
		t.Errorf("the list answers %s afterwards", answer.Status)
	}
}

func TestReadiness(t *testing.T) {
	p := planttest.Varied()
	server := serve(t, Options{Plant: p})
	if answer, body := fetch(t, server.URL+"/readyz"); answer.StatusCode != http.StatusOK || !strings.Contains(body, `"ready":true`) {
		t.Errorf("ready: %s %s", answer.Status, body)
	}
	h := p.Health()
	h.Store.Error = "disk full"
	p.SetHealth(h)
	if answer, body := fetch(t, server.URL+"/readyz"); answer.StatusCode != http.StatusServiceUnavailable || !strings.Contains(body, "disk full") {
		t.Errorf("not ready: %s %s", answer.Status, body)
	}
	for _, path := range []string{"/healthz", "/metrics", "/api/v1/health", "/api/v1/openapi.json"} {
		if answer, _ := fetch(t, server.URL+path); answer.StatusCode != http.StatusOK {
			t.Errorf("%s: %s", path, answer.Status)
		}
	}
}
