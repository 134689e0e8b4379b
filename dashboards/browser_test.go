//go:build peers

package dashboards

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"bridlewatch/compare/alert"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/record"
	"bridlewatch/dashboards/desk"
	"bridlewatch/dashboards/plant/planttest"
	"bridlewatch/dashboards/records"
	"bridlewatch/dashboards/trials/trialstest"
)

// browser starts headless Chromium and fails the test when there is none.
func browser(t *testing.T) context.Context {
	t.Helper()
	program := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if found, err := exec.LookPath(name); err == nil {
			program = found
			break
		}
	}
	if program == "" {
		t.Fatal("no Chromium found: install it (Debian: apt-get install chromium)")
	}
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(program), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		chromedp.Flag("no-first-run", true), chromedp.Flag("hide-scrollbars", true), chromedp.Flag("force-prefers-reduced-motion", true))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 10*time.Minute)
	t.Cleanup(cancel)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("Chromium does not start: %v", err)
	}
	return ctx
}

// complaints collects what a page must never give: console errors, uncaught
// exceptions and violations of the content policy.
type complaints struct {
	mu   sync.Mutex
	list []string
}

func listen(t *testing.T, ctx context.Context) *complaints {
	t.Helper()
	c := &complaints{}
	err := chromedp.Listen(ctx, func(event any) {
		c.mu.Lock()
		defer c.mu.Unlock()
		switch e := event.(type) {
		case *runtime.EventExceptionThrown:
			c.list = append(c.list, "exception: "+e.ExceptionDetails.Text)
		case *log.EventEntryAdded:
			c.list = append(c.list, fmt.Sprintf("%s: %s", e.Entry.Level, e.Entry.Text))
		case *runtime.EventConsoleAPICalled:
			c.list = append(c.list, fmt.Sprintf("console %s", e.Type))
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func (c *complaints) none(t *testing.T, where string) {
	t.Helper()
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, s := range c.list {
		t.Errorf("%s: %s", where, s)
	}
	c.list = nil
}

// site serves the varied plant with a day of history.
func site(t *testing.T, o Options) (*Server, *planttest.Plant, string) {
	t.Helper()
	p, m := planttest.Varied(), planttest.NewMemory()
	for _, tag := range []string{"LG-101", "LG-102", "LG-107", "LG-108"} {
		if err := m.Fill(tag, planttest.Now.Add(-24*time.Hour), planttest.Now, 30*time.Second); err != nil {
			t.Fatal(err)
		}
	}
	if err := m.RememberYear(); err != nil {
		t.Fatal(err)
	}
	o.Plant, o.Store, o.Version, o.Alerts, o.Fleet, o.Trust = p, m, "test", newDesk(t, p, m), planttest.Boxes{}, waitingCertificates()
	o.Trials = &trialstest.Runner{}
	book := records.NewBook(records.Options{Store: m, Plant: p, Location: time.UTC, Software: "test"})
	if _, err := book.Add(context.Background(), record.Record{Kind: record.FloatCleaned, Gauge: "LG-102", Instrument: "LI-102", By: "R. Okafor", Work: "Scale removed from the float.", At: planttest.Now.Add(-3 * time.Hour)}); err != nil {
		t.Fatal(err)
	}
	o.Location = time.FixedZone("UTC-6", -6*3600)
	if zone, err := time.LoadLocation("America/Chicago"); err == nil {
		o.Location = zone
	}
	s, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(s.Handler())
	t.Cleanup(server.Close)
	t.Cleanup(func() { s.Close() })
	return s, p, server.URL + o.BasePath
}

// newDesk is a desk that knows the alert of the stuck float and one that was
// handled.
func newDesk(t *testing.T, p *planttest.Plant, m *planttest.Memory) *desk.Desk {
	t.Helper()
	ctx := context.Background()
	d, err := desk.Open(ctx, desk.Options{Store: m, Now: p.Now, Gauges: []desk.Gauge{{Tag: "LG-102", Area: "Boiler house, level 1"}, {Tag: "LG-107"}, {Tag: "LG-108"}}})
	if err != nil {
		t.Fatal(err)
	}
	for i, g := range []GaugeView{planttest.StuckFloat("LG-102"), planttest.Undecided("LG-107"), planttest.Drifting("LG-108")} {
		f := g.Result.Findings[0]
		f.Tier, f.Raised = cause.Alert, planttest.Now.Add(-time.Duration(2+20*i)*time.Hour)
		d.Changed(ctx, f.Raised, "opened", f, string(g.Result.Category))
	}
	open, err := d.Open(ctx)
	if err != nil || len(open) != 3 {
		t.Fatalf("open alerts: %v, %v", open, err)
	}
	for _, do := range []alert.Action{
		{Verb: alert.Acknowledge, Alert: open[1].ID, By: "R. Okafor", Why: "gaskets ordered"},
		{Verb: alert.Assign, Alert: open[1].ID, By: "R. Okafor", To: "night shift"},
		{Verb: alert.Shelve, Alert: open[2].ID, By: "R. Okafor", Why: "transmitter is exchanged on Friday", Until: planttest.Now.Add(48 * time.Hour)},
	} {
		if _, err := d.Act(ctx, do); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := d.AddWindow(ctx, alert.Window{Gauges: []string{"LG-107"}, From: planttest.Now, Until: planttest.Now.Add(8 * time.Hour), Reason: "drum is being emptied", By: "R. Okafor"}); err != nil {
		t.Fatal(err)
	}
	return d
}

// screens are the sizes pages are looked at.
var screens = []struct {
	name          string
	width, height int64
	mobile        bool
}{{"1280x800", 1280, 800, false}, {"390x844", 390, 844, true}}

func shotDir(t *testing.T) string {
	dir := os.Getenv("BRIDLEWATCH_SHOTS")
	if dir == "" {
		dir = t.TempDir()
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	return dir
}

// shoot keeps a picture of the whole page.
func shoot(t *testing.T, ctx context.Context, dir, name string) {
	t.Helper()
	shot, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if err != nil {
		t.Fatalf("picture of %s: %v", name, err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".png"), shot, 0o644); err != nil {
		t.Fatal(err)
	}
}

func size(ctx context.Context, width, height int64, mobile bool) error {
	_, err := chromedp.Call(ctx, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: width, Height: height, DeviceScaleFactor: 1, Mobile: mobile})
	return err
}

func scheme(ctx context.Context, theme string) error {
	_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: theme}}})
	return err
}

// pagesToShow are the pages every check of the browser visits;
// TestEveryPageIsShown asks for those that are missing.
var pagesToShow = []struct{ name, path string }{
	{"visits", "/"},
	{"gauge-healthy", "/gauge/LG-101"},
	{"gauge-stuck", "/gauge/LG-102"},
	{"gauge-stale", "/gauge/LG-103"},
	{"gauge-no-transmitter", "/gauge/LG-104"},
	{"gauge-above", "/gauge/LG-105"},
	{"gauge-isolated", "/gauge/LG-106"},
	{"gauge-undecided", "/gauge/LG-107"},
	{"gauge-tall", "/gauge/LG-111"},
	{"trend", "/gauge/LG-102/trend"},
	{"settle", "/gauge/LG-102/settle"},
	{"settle-nothing", "/gauge/LG-101/settle"},
	{"compare", "/gauge/LG-102/compare"},
	{"compare-under", "/gauge/LG-102/compare?lay=under"},
	{"proven", "/gauge/LG-102/proven"},
	{"proven-months", "/gauge/LG-102/proven?by=month"},
	{"prove", "/gauge/LG-102/prove"},
	{"record-new", "/gauge/LG-102/record"},
	{"records", "/records"},
	{"records-due", "/records?view=due"},
	{"records-chain", "/records?view=chain"},
	{"record", "/records/1"},
	{"blind", "/gauge/LG-102/blind"},
	{"trial", "/gauge/LG-102/trial"},
	{"trial-running", "/gauge/LG-107/trial"},
	{"trial-failed", "/gauge/LG-108/trial"},
	{"trial-order", "/gauge/LG-101/trial"},
	{"walk", "/walk"},
	{"alerts", "/alerts"},
	{"alerts-quiet", "/alerts?view=quiet"},
	{"alerts-routes", "/alerts?view=routes"},
	{"alerts-journal", "/alerts?view=journal"},
	{"alerts-load", "/alerts?view=load"},
	{"alert", "/alerts/one?id=LG-102/1"},
	{"imports-shut", "/imports"},
	{"plant", "/plant"},
	{"service", "/service"},
	{"fleet", "/fleet"},
	{"fleet-box", "/fleet/box?site=Plant+two&box=gas-plant"},
	{"fleet-silent-box", "/fleet/box?site=Plant+one&box=tank-farm"},
	{"interface", "/interface"},
	{"not-found", "/nowhere"},
}

// TestEveryPageIsShown asks every registered address: one that answers with a
// whole page and is not among pagesToShow would be seen by no check of the
// browser. Addresses behind a login are in TestPagesOfAccessInABrowser.
func TestEveryPageIsShown(t *testing.T) {
	s, _, url := site(t, Options{Rehearsal: true})
	registered := http.NewServeMux()
	for _, p := range s.patterns {
		registered.Handle(p, http.NotFoundHandler())
	}
	shown := map[string]bool{}
	for _, p := range pagesToShow {
		_, pattern := registered.Handler(httptest.NewRequest(http.MethodGet, p.path, nil))
		shown[pattern] = true
	}
	example := strings.NewReplacer("{tag}", "LG-102", "{number}", "1", "{$}", "")
	stay := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	for _, p := range s.patterns {
		if strings.HasPrefix(p, "GET /s/") {
			continue // static files
		}
		if path, gets := strings.CutPrefix(p, "GET "); gets && !shown[p] && isPage(t, stay, url+example.Replace(path)) {
			t.Errorf("%s is a page: add it to pagesToShow", p)
		}
	}
}

// isPage reports whether an address answers with a whole page, not with data or
// with a piece of one.
func isPage(t *testing.T, c *http.Client, address string) bool {
	t.Helper()
	answer, err := c.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(answer.Header.Get("Content-Type"), "text/html") {
		answer.Body.Close() // events never end
		return false
	}
	return strings.HasPrefix(strings.ToLower(read(t, answer)), "<!doctype html")
}

// TestPagesInABrowser opens every page in light and dark at two sizes: no
// console error, no violation of the content policy, nothing wider than the
// screen. Pictures go to BRIDLEWATCH_SHOTS.
func TestPagesInABrowser(t *testing.T) {
	_, _, url := site(t, Options{Rehearsal: true})
	ctx, dir := browser(t), shotDir(t)
	heard := listen(t, ctx)
	for _, theme := range []string{"light", "dark"} {
		if err := scheme(ctx, theme); err != nil {
			t.Fatal(err)
		}
		for _, screen := range screens {
			if err := size(ctx, screen.width, screen.height, screen.mobile); err != nil {
				t.Fatal(err)
			}
			for _, p := range pagesToShow {
				if theme == "dark" && !slices.Contains([]string{"visits", "gauge-stuck", "trend", "settle", "proven", "trial", "trial-order"}, p.name) {
					continue
				}
				where := p.name + "-" + theme + "-" + screen.name
				if err := chromedp.Do(ctx, chromedp.Navigate(url+p.path), settled()); err != nil {
					t.Fatalf("%s: %v", where, err)
				}
				wide, err := chromedp.Run(ctx, chromedp.Evaluate[int](`document.documentElement.scrollWidth`))
				if err != nil || wide > int(screen.width) {
					t.Errorf("%s is %d pixels wide on a screen of %d (%v)", where, wide, screen.width, err)
				}
				shoot(t, ctx, dir, where)
				if p.name != "not-found" {
					heard.none(t, where)
				} else {
					heard.forget()
				}
			}
		}
	}
}

func (c *complaints) forget() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.list = nil
}

// drawn is true when the page is loaded and every plot has been drawn or says
// that there is nothing to draw.
const drawn = `document.readyState === "complete" && [...document.querySelectorAll(".plot")].every((p) => p.querySelector("canvas") ||
	(p.querySelector(".plot-note:not([hidden])")?.textContent ?? "").includes("No samples"))`

// settled waits until the page is drawn. It asks again when a page goes while
// it asks.
func settled() chromedp.Action[chromedp.Void] {
	return func(ctx context.Context, target *chromedp.Target) (chromedp.Void, error) {
		var err error
		for end := time.Now().Add(10 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
			var ok bool
			if ok, err = chromedp.Evaluate[bool](drawn)(ctx, target); err == nil && ok {
				return chromedp.Void{}, nil
			}
		}
		return chromedp.Void{}, fmt.Errorf("the plots are not drawn: %w", errors.Join(errors.New("10 s have passed"), err))
	}
}

// TestLiveInABrowser sees a page change without being loaded again, behind a
// base path.
func TestLiveInABrowser(t *testing.T) {
	s, p, url := site(t, Options{BasePath: "/level"})
	ctx := browser(t)
	heard := listen(t, ctx)
	if err := chromedp.Do(ctx, chromedp.Navigate(url+"/gauge/LG-101"), settled()); err != nil {
		t.Fatal(err)
	}
	p.Set(planttest.StuckFloat("LG-101"))
	s.Publish("LG-101")
	text, err := chromedp.Run(ctx, chromedp.Poll[string](`(() => { const s = document.querySelector(".sentence").textContent; return s.includes("stuck") ? s : ""; })()`, chromedp.WithPollingTimeout(10*time.Second)))
	if err != nil || !strings.Contains(text, "stuck") {
		t.Fatalf("the page did not renew itself: %q, %v", text, err)
	}
	heard.none(t, "live page")
}

// TestReadingWithoutScripts opens pages with scripts switched off.
func TestReadingWithoutScripts(t *testing.T) {
	_, _, url := site(t, Options{})
	ctx := browser(t)
	if _, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
	for path, words := range map[string][]string{
		"/":                   {"Float is probably stuck", "LG-103", "Not seen since"},
		"/gauge/LG-102":       {"Float is probably stuck", "LSH-102", "Evidence", "Instruments"},
		"/gauge/LG-102/trend": {"The same period as a table", "LI-102 float"},
	} {
		if err := chromedp.Do(ctx, chromedp.Navigate(url+path)); err != nil {
			t.Fatal(err)
		}
		text, err := chromedp.Run(ctx, chromedp.OuterHTML(chromedp.CSS("main")))
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range words {
			if !strings.Contains(text, w) {
				t.Errorf("%s without scripts does not show %q", path, w)
			}
		}
	}
}
