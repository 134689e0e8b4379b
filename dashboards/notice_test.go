package dashboards

import (
	"context"
	"encoding/json"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/record"
	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/plant/planttest"
	"bridlewatch/dashboards/records"
)

const diskFull = "History has stopped: no space left. Polling, comparing and alerts go on."

// fullDisk says that history has stopped, or that it goes on.
func fullDisk(p *planttest.Plant, full bool) {
	h := p.Health()
	h.Notices, h.Store.Error = nil, ""
	if full {
		h.Notices, h.Store.Error = []string{diskFull}, diskFull
	}
	p.SetHealth(h)
}

const nowhere = "/nowhere"

// everyPage lists an address for each registered pattern a page answers. A
// pattern with a part to fill in that is not known here fails the test.
func everyPage(t *testing.T, alert string) (pages []string) {
	t.Helper()
	parts := strings.NewReplacer("{tag}", "LG-102", "{number}", "1", "{$}", "")
	asked := map[string]string{"/alerts/one": "?id=" + url.QueryEscape(alert), "/fleet/box": "?site=Plant+two&box=gas-plant", "/find": "?find=nothing-of-this-name"}
	for _, pattern := range access.Table() {
		path, ok := strings.CutPrefix(pattern, "GET ")
		if !ok || strings.HasPrefix(path, "/api/") || path == "/s/" || strings.HasSuffix(path, "/events") {
			continue // changes something, is for programs, is a file, or never ends
		}
		filled := parts.Replace(path)
		if path == "/" {
			filled = nowhere // what answers every other address
		}
		if strings.Contains(filled, "{") {
			t.Errorf("%s: say here what to fill in", pattern)
			continue
		}
		pages = append(pages, filled+asked[path])
	}
	return pages
}

// TestAFullDiskIsOnEveryPage opens every page that is registered, as an admin:
// each says that history has stopped, and none once it goes on.
func TestAFullDiskIsOnEveryPage(t *testing.T) {
	p, m := planttest.Varied(), planttest.NewMemory()
	book := records.NewBook(records.Options{Store: m, Plant: p, Location: time.UTC, Software: "test"})
	if _, err := book.Add(t.Context(), record.Record{Kind: record.FloatCleaned, Gauge: "LG-102", Instrument: "LI-102", By: "admin", Work: "Cleaned.", At: planttest.Now.Add(-time.Hour)}); err != nil {
		t.Fatal(err)
	}
	f := planttest.StuckFloat("LG-102").Result.Findings[0]
	f.Tier, f.Raised = cause.Alert, planttest.Now.Add(-time.Hour)
	address, alert := deskSite(t, Options{Plant: p, Store: m, Records: book, Imports: someImports(), Fleet: planttest.Boxes{}, Trust: waitingCertificates()}, f)
	admin := visitor(t)
	enter(t, admin, address, "admin", passphrase)
	for _, full := range []bool{true, false} {
		fullDisk(p, full)
		shown := 0
		for _, path := range everyPage(t, alert) {
			answer, body := visit(t, admin, address+path)
			if !strings.HasPrefix(strings.ToLower(body), "<!doctype html>") {
				continue // a file, or a piece of a page
			}
			shown++
			if answer.StatusCode != http.StatusOK && path != nowhere {
				t.Errorf("%s answers %s: the page itself was not seen", path, answer.Status)
			}
			if strings.Contains(body, diskFull) != full {
				t.Errorf("disk full %v: %s says so: %v", full, path, !full)
			}
		}
		if shown < 25 {
			t.Errorf("%d pages were seen, there are more", shown)
		}
		tellsMachines(t, admin, address, full)
	}
}

// tellsMachines looks at what programs ask.
func tellsMachines(t *testing.T, c *http.Client, address string, full bool) {
	t.Helper()
	var h struct {
		Ready   bool
		Trouble string   `json:"store_error"`
		Notices []string `json:"notices"`
	}
	answer, body := visit(t, c, address+"/api/v1/health")
	if err := json.Unmarshal([]byte(body), &h); err != nil || answer.StatusCode != http.StatusOK {
		t.Fatalf("health: %s, %v", answer.Status, err)
	}
	if h.Ready == full || (h.Trouble == diskFull) != full || (len(h.Notices) == 1) != full {
		t.Errorf("disk full %v: the interface says %s", full, body)
	}
	want := map[bool]int{true: http.StatusServiceUnavailable, false: http.StatusOK}[full]
	if answer, body := visit(t, c, address+"/readyz"); answer.StatusCode != want || strings.Contains(body, "no space left") != full {
		t.Errorf("disk full %v: readyz %s %s", full, answer.Status, body)
	}
	if answer, _ := visit(t, c, address+"/healthz"); answer.StatusCode != http.StatusOK {
		t.Errorf("disk full %v: healthz %s: the process is well", full, answer.Status)
	}
}

// deskSite serves to people a plant that has one alert, and returns its number.
func deskSite(t *testing.T, o Options, f cause.Finding) (address, alert string) {
	t.Helper()
	d := openDesk(t, o.Store)
	d.Changed(context.Background(), f.Raised, "opened", f, "")
	open, err := d.Open(context.Background())
	if err != nil || len(open) != 1 {
		t.Fatalf("%d alerts are open, %v; want one", len(open), err)
	}
	o.Alerts = d
	address, _ = peopled(t, o, access.Options{})
	return address, open[0].ID
}
