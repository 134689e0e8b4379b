//go:build peers

package dashboards

import (
	"context"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// submit presses a button and waits for the page that follows.
func submit(t *testing.T, ctx context.Context, selector string) {
	t.Helper()
	if err := chromedp.Do(ctx, quiet(`window.before = true`), chromedp.Click(chromedp.CSS(selector))); err != nil {
		t.Fatalf("press %s: %v", selector, err)
	}
	for range 100 { // the page may go away while it is asked
		if there, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`!window.before && document.readyState === "complete"`)); err == nil && there {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("press %s: no page followed", selector)
}

func fill(t *testing.T, ctx context.Context, values ...string) {
	t.Helper()
	for i := 0; i < len(values); i += 2 {
		if err := chromedp.Do(ctx, chromedp.SetValue(chromedp.CSS(values[i]), values[i+1])); err != nil {
			t.Fatalf("fill %s: %v", values[i], err)
		}
	}
}

func see(t *testing.T, ctx context.Context, want string) {
	t.Helper()
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.body.innerText`))
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(text, want) {
		t.Errorf("%q is not on the page:\n%s", want, text)
	}
}

// TestGuidedTestInABrowser takes a drain test from its beginning to the printed
// record, with errors on the way; every page on it is accessible in light and
// dark and gives no complaint.
func TestGuidedTestInABrowser(t *testing.T) {
	_, plant, url := site(t, Options{})
	ctx := browser(t)
	heard := listen(t, ctx)
	dir := shotDir(t)
	check := func(name string) {
		t.Helper()
		for _, theme := range []string{"light", "dark"} {
			if err := scheme(ctx, theme); err != nil {
				t.Fatal(err)
			}
			for _, v := range axe(t, ctx) {
				t.Errorf("%s, %s: %s", name, theme, v)
			}
		}
		if err := scheme(ctx, "light"); err != nil {
			t.Fatal(err)
		}
		for _, screen := range screens {
			if err := size(ctx, screen.width, screen.height, screen.mobile); err != nil {
				t.Fatal(err)
			}
			shoot(t, ctx, dir, name+"-"+screen.name)
		}
		if err := size(ctx, 320, 800, true); err != nil {
			t.Fatal(err)
		}
		if wide, err := chromedp.Run(ctx, chromedp.Evaluate[int](`document.documentElement.scrollWidth`)); err != nil || wide > 320 {
			t.Errorf("%s is %d px wide at 320 px: %v", name, wide, err)
		}
		if err := size(ctx, 1280, 800, false); err != nil {
			t.Fatal(err)
		}
	}
	if err := chromedp.Do(ctx, chromedp.Navigate(url+"/gauge/LG-101"), settled(), chromedp.Click(chromedp.CSS(`.tabs a[data-key="d"]`)), chromedp.WaitVisible(chromedp.CSS(`#begin-reference`))); err != nil {
		t.Fatal(err)
	}
	check("prove-begin")
	fill(t, ctx, "#begin-by", "R. Tester", "#begin-reference", "sight glass and steel rule", "#begin-reference_u", "four", "#begin-trips_may", "10")
	submit(t, ctx, `.entry .send button`)
	see(t, ctx, "This is no length")
	check("prove-errors")
	heard.only(t, "form with errors", "422")
	fill(t, ctx, "#begin-reference_u", "4")
	if err := chromedp.Do(ctx, chromedp.Click(chromedp.CSS("#begin-confirmed"))); err != nil {
		t.Fatal(err)
	}
	submit(t, ctx, `.entry .send button`)
	see(t, ctx, "Under way since")

	g, _ := plant.Gauge("LG-101")
	g.Result.Measurement.Float.Value = 0.6543
	plant.Set(g)
	if _, err := chromedp.Run(ctx, chromedp.Poll[bool](`document.querySelector("#now").innerText.includes("654.3")`, chromedp.WithPollingTimeout(10*time.Second))); err != nil {
		t.Fatalf("what the instruments say now is not renewed: %v", err)
	}
	fill(t, ctx, "#take-reference_level", "652")
	submit(t, ctx, `#readings .send button`)
	see(t, ctx, "654.3")
	see(t, ctx, "within")
	fill(t, ctx, "#switch-rising-LSH-101", "787", "#switch-falling-LSH-101", "775")
	submit(t, ctx, `#switches form:nth-of-type(2) .send button`)
	check("prove-under-way")
	heard.none(t, "test under way")

	// Left and resumed in a fresh window.
	if err := chromedp.Do(ctx, chromedp.Navigate(url+"/"), settled(), chromedp.Navigate(url+"/gauge/LG-101/prove"), settled()); err != nil {
		t.Fatal(err)
	}
	see(t, ctx, "654.3")
	fill(t, ctx, "#finish-work", "Drained in steps and refilled.", "#finish-witness", "W. Person")
	submit(t, ctx, `#end .entry .send button`)
	see(t, ctx, "The record is booked.")
	see(t, ctx, "Record 2: drain test")
	check("record")
	at, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.querySelector(".actions a").href`))
	if err != nil {
		t.Fatal(err)
	}
	printed(t, at, dir)
	for _, p := range []struct{ name, path string }{{"records", "/records"}, {"records-due", "/records?view=due"}, {"records-chain", "/records?view=chain"}, {"record-new", "/gauge/LG-102/record"}} {
		if err := chromedp.Do(ctx, chromedp.Navigate(url+p.path), settled()); err != nil {
			t.Fatal(err)
		}
		check(p.name)
	}
	heard.none(t, "records")
}

// only reports complaints other than the one that is meant.
func (c *complaints) only(t *testing.T, where, meant string) {
	t.Helper()
	c.mu.Lock()
	kept := c.list[:0]
	for _, s := range c.list {
		if !strings.Contains(s, meant) {
			kept = append(kept, s)
		}
	}
	c.list = kept
	c.mu.Unlock()
	c.none(t, where)
}

// printed reads the printed record with a program of somebody else.
func printed(t *testing.T, address, dir string) {
	t.Helper()
	reader, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Fatal("no pdftotext found: install it (Debian: apt-get install poppler-utils)")
	}
	res, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "record.pdf")
	if err := os.WriteFile(file, body, 0o600); err != nil {
		t.Fatal(err)
	}
	text, err := exec.Command(reader, "-layout", file, "-").Output()
	if err != nil {
		t.Fatalf("pdftotext: %v", err)
	}
	for _, want := range []string{"Record 2: drain test", "Condensate receiver", "sight glass and steel rule", "4.0 mm (k = 2)", "654.3 mm", "+2.3 mm", "within", "787.0 mm by reference", "12.0 mm, data sheet 12.0 mm",
		"Not tested", "LSL-101: not exercised", "Budget used", "to scale, 1 :", "under the site's permit", "witnessed by", "W. Person", "SHA-256", "page 1 of 3", "−06:00", "kg/m³"} {
		if !strings.Contains(string(text), want) {
			t.Errorf("%q is not in the printed record:\n%s", want, text)
		}
	}
}
