//go:build peers

package dashboards

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"bridlewatch/compare/datasheet"
)

// task is something a technician wants to know, from the front page. Each
// step is one click; the number of steps is what the task may cost, so that a
// way cannot get longer unnoticed.
type task struct {
	name   string
	clicks []string // what is clicked: the selector of one element each
	says   []string // what the page then shows
	where  string   // selector of the part that must show it
}

var tasks = []task{
	{"find the gauge to visit first and say why", nil, []string{"LG-102", "Float is probably stuck"}, ".visits li:first-child"},
	{"say which instrument is wrong", []string{`.visits li:first-child a.tag`}, []string{"Suspect: float LI-102", "96"}, ".finding"},
	{"say what test to do, with its cautions and its time", []string{`.visits li:first-child a.tag`, `.tabs a[href$="/settle"]`}, []string{"Drain and watch", "10 min", "Hot water and steam"}, ".test"},
	{"say the level at the last sample before an outage", []string{`.visits li:first-child a.tag`, `.tabs a[href$="/trend"]`, `[data-jump="-1"]`}, []string{"LT-102", "mm"}, "#rewound"},
	{"say whether a switch was ever proven", []string{`.goodlist a.tag`, `.tabs a[href$="/proven"]`}, []string{"LSH-101", "never seen to switch", "on rising level"}, "main"},
	{"have the record to print", []string{`.top nav a[href$="/records"]`, `a[href$="/records/1"]`}, []string{"Record 1", "PDF", "Scale removed from the float", "R. Okafor"}, "main"},
	{"say what the gauge cannot see", []string{`.visits li:first-child a.tag`, `.tabs a[href$="/blind"]`}, []string{"A plugged lower connection"}, "main"},
	{"say what happened lately", []string{`.top nav a[href$="/alerts"]`, `.tabs a[href$="view=journal"]`}, []string{"acknowledged", "shelved", "R. Okafor"}, "main"},
}

func TestTasks(t *testing.T) {
	_, _, url := site(t, Options{Rehearsal: true})
	ctx := browser(t)
	heard := listen(t, ctx)
	for _, k := range tasks {
		t.Run(strings.ReplaceAll(k.name, " ", "-"), func(t *testing.T) {
			if err := chromedp.Do(ctx, chromedp.Navigate(url+"/")); err != nil {
				t.Fatal(err)
			}
			for _, selector := range k.clicks {
				if err := chromedp.Do(ctx, settled(), chromedp.Click(chromedp.CSS(selector)), chromedp.Sleep(150*time.Millisecond), settled()); err != nil {
					t.Fatalf("click on %s: %v", selector, err)
				}
			}
			for _, words := range k.says {
				if err := shows(ctx, k.where, words); err != nil {
					t.Error(err)
				}
			}
			heard.none(t, k.name)
			t.Logf("%d clicks", len(k.clicks))
		})
	}
}

// shows waits until a part of the page has the words. It asks again when a
// page goes while it asks.
func shows(ctx context.Context, selector, words string) error {
	script := fmt.Sprintf(`[...document.querySelectorAll(%q)].some((e) => e.innerText.replace(/\u00a0/g, " ").toLowerCase().includes(%q.toLowerCase()))`, selector, words)
	var err error
	for end := time.Now().Add(5 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		var ok bool
		if ok, err = chromedp.Run(ctx, chromedp.Evaluate[bool](script)); err == nil && ok {
			return nil
		}
	}
	return fmt.Errorf("%s does not show %q within 5 s: %w", selector, words, errors.Join(errors.New("the words are not there"), err))
}

// TestKeys drives pages with single keys, and finds them switched off when
// they are switched off (WCAG 2.2, 2.1.4).
func TestKeys(t *testing.T) {
	_, _, url := site(t, Options{})
	ctx := browser(t)
	press := func(keys ...string) error {
		for _, k := range keys {
			if err := chromedp.Do(ctx, chromedp.KeyEvent(k), chromedp.Sleep(250*time.Millisecond)); err != nil {
				return err
			}
		}
		return nil
	}
	at := func(want string) {
		t.Helper()
		got := ""
		for end := time.Now().Add(5 * time.Second); got != url+want && time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
			got, _ = chromedp.Run(ctx, chromedp.Location()) // fails while a page goes and another comes
		}
		for end := time.Now().Add(5 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
			if state, _ := chromedp.Run(ctx, chromedp.Evaluate[string](`document.readyState`)); state == "complete" {
				break // scripts listen to keys from here on
			}
		}
		if got != url+want {
			t.Errorf("at %s, want %s", got, url+want)
		}
	}
	if err := chromedp.Do(ctx, chromedp.Navigate(url+"/")); err != nil {
		t.Fatal(err)
	}
	for _, step := range []struct{ key, at string }{
		{"j", "/"}, {kb.Enter, "/gauge/LG-102"}, {"t", "/gauge/LG-102/trend"}, {"s", "/gauge/LG-102/settle"}, {"e", "/gauge/LG-102/proven"},
		{"b", "/gauge/LG-102/blind"}, {"g", "/gauge/LG-102"}, {"]", "/gauge/LG-103"}, {"[", "/gauge/LG-102"}, {"a", "/alerts"}, {"v", "/"},
	} {
		if err := press(step.key); err != nil {
			t.Fatal(err)
		}
		at(step.at)
	}
	if err := press("?"); err != nil {
		t.Fatal(err)
	}
	if err := shows(ctx, "dialog[open]", "find a gauge"); err != nil {
		t.Error(err)
	}
	if err := press(kb.Escape, "/"); err != nil {
		t.Fatal(err)
	}
	if id, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.activeElement.id`)); err != nil || id != "find" {
		t.Errorf("the slash puts the cursor into %q, %v", id, err)
	}
	// the driver types the slash as well, which a keyboard does not
	if err := chromedp.Do(ctx, quiet(`document.getElementById("find").value = ""`), chromedp.SendKeys(chromedp.ID("find"), "LG-104"+kb.Enter)); err != nil {
		t.Fatal(err)
	}
	at("/gauge/LG-104")
	if err := chromedp.Do(ctx, chromedp.Navigate(url+"/"), quiet(`const k = document.querySelector("select[name=keys]"); k.value = "off"; k.dispatchEvent(new Event("change"))`), chromedp.Sleep(400*time.Millisecond)); err != nil {
		t.Fatal(err)
	}
	if err := press("a"); err != nil {
		t.Fatal(err)
	}
	at("/")
}

// TestPause stops a page from renewing itself and lets it go on (WCAG 2.2,
// 2.2.2).
func TestPause(t *testing.T) {
	s, p, url := site(t, Options{})
	ctx := browser(t)
	if err := chromedp.Do(ctx, chromedp.Navigate(url+"/gauge/LG-101"), settled(), chromedp.Click(chromedp.ID("pause"))); err != nil {
		t.Fatal(err)
	}
	g, _ := p.Gauge("LG-102")
	g.Sheet = sheetNamed(g, "LG-101")
	p.Set(g)
	s.Publish("LG-101")
	if err := chromedp.Do(ctx, chromedp.Sleep(1500*time.Millisecond)); err != nil {
		t.Fatal(err)
	}
	if text, err := chromedp.Run(ctx, chromedp.Text(chromedp.CSS(".sentence"))); err != nil || strings.Contains(text, "stuck") {
		t.Errorf("a paused page renewed itself: %q %v", text, err)
	}
	if err := chromedp.Do(ctx, chromedp.Click(chromedp.ID("pause"))); err != nil {
		t.Fatal(err)
	}
	s.Publish("LG-101")
	if err := shows(ctx, ".sentence", "stuck"); err != nil {
		t.Error(err)
	}
}

func sheetNamed(g GaugeView, tag string) *datasheet.Sheet {
	copied := *g.Sheet
	copied.Tag = tag
	return &copied
}

// TestKeepQuietForAShift shelves the first alert for a shift and finds who did
// it: four clicks beyond what is typed.
func TestKeepQuietForAShift(t *testing.T) {
	_, _, url := site(t, Options{})
	ctx := browser(t)
	clicks := 0
	click := func(selector, then string) {
		t.Helper()
		if err := chromedp.Do(ctx, chromedp.Click(chromedp.CSS(selector))); err != nil {
			t.Fatalf("click on %s: %v", selector, err)
		}
		waitFor(t, ctx, then, "page after a click on "+selector)
		clicks++
	}
	if err := chromedp.Do(ctx, chromedp.Navigate(url+"/")); err != nil {
		t.Fatal(err)
	}
	click(`.top nav a[href$="/alerts"]`, `location.pathname.endsWith("/alerts") && document.readyState === "complete"`)
	click(".handle summary", `document.querySelector(".handle").open`)
	if err := chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS(`.handle input[name=why]`), "float spare arrives tomorrow"), chromedp.SendKeys(chromedp.CSS(`.handle input[name=by]`), "A. Novak"),
		quiet(`document.querySelector(".handle select[name=for]").value = "8h"`)); err != nil {
		t.Fatal(err)
	}
	click(`.handle button[value=shelve]`, `location.search.includes("done=shelve") && document.readyState === "complete"`)
	click(`.tabs a[href$="view=quiet"]`, `location.search.includes("view=quiet") && document.readyState === "complete"`)
	if clicks != 4 {
		t.Errorf("%d clicks, want 4", clicks)
	}
	for _, words := range []string{"LG-102", "float spare arrives tomorrow", "A. Novak", "in 8 h"} {
		if err := shows(ctx, ".alerts", words); err != nil {
			t.Error(err)
		}
	}
}

// TestPrinting makes a document of pages that are printed: it has the light
// palette and text that can be read by machines.
func TestPrinting(t *testing.T) {
	_, _, url := site(t, Options{Rehearsal: true})
	ctx := browser(t)
	if err := scheme(ctx, "dark"); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"/walk", "/gauge/LG-102"} {
		if err := chromedp.Do(ctx, chromedp.Navigate(url+path), settled()); err != nil {
			t.Fatal(err)
		}
		document, err := chromedp.Run(ctx, chromedp.PrintToPDF())
		if err != nil || len(document) < 20_000 || !strings.HasPrefix(string(document), "%PDF-") {
			t.Errorf("%s prints %d bytes: %v", path, len(document), err)
		}
		if _, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"}); err != nil {
			t.Fatal(err)
		}
		ground, err := chromedp.Run(ctx, chromedp.Evaluate[string](`getComputedStyle(document.documentElement).backgroundColor`))
		if err != nil || ground != "rgb(255, 255, 255)" {
			t.Errorf("%s prints on %s, want white paper (%v)", path, ground, err)
		}
		shoot(t, ctx, shotDir(t), "print"+strings.ReplaceAll(path, "/", "-"))
		if dir := shotDir(t); err == nil {
			_ = os.WriteFile(filepath.Join(dir, "print"+strings.ReplaceAll(path, "/", "-")+".pdf"), document, 0o644)
		}
	}
}
