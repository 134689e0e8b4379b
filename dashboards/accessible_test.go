//go:build peers

package dashboards

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// violation is what axe-core finds wrong.
type violation struct {
	ID    string   `json:"id"`
	Help  string   `json:"help"`
	Nodes []string `json:"nodes"`
}

func (v violation) String() string {
	return fmt.Sprintf("%s: %s: %s", v.ID, v.Help, strings.Join(v.Nodes, " | "))
}

// axe checks the page that is open against WCAG 2.0, 2.1 and 2.2 at levels A
// and AA and the best practices of axe-core.
func axe(t *testing.T, ctx context.Context) []violation {
	t.Helper()
	source, err := os.ReadFile("testdata/axe/axe.min.js")
	if err != nil {
		t.Fatal(err)
	}
	if err := chromedp.Do(ctx, quiet(string(source))); err != nil {
		t.Fatalf("axe-core does not load: %v", err)
	}
	found, err := chromedp.Run(ctx, chromedp.Evaluate[[]violation](`axe.run(document, {runOnly: ["wcag2a","wcag2aa","wcag21a","wcag21aa","wcag22aa","best-practice"], resultTypes: ["violations"]})
		.then((r) => r.violations.map((v) => ({id: v.id, help: v.help, nodes: v.nodes.slice(0, 3).map((n) => n.target.join(" ") + " " + (n.any[0]?.message ?? n.all[0]?.message ?? n.none[0]?.message ?? ""))})))`, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatalf("axe-core does not run: %v", err)
	}
	return found
}

// quiet evaluates a script and does not bring its value back.
func quiet(script string) chromedp.Action[chromedp.Void] {
	return func(ctx context.Context, target *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, target, runtime.Evaluate, runtime.EvaluateParams{Expression: script + ";0"})
		return chromedp.Void{}, err
	}
}

// TestAccessible runs axe-core on every page in light and dark, light also at
// the size of a phone.
func TestAccessible(t *testing.T) {
	_, _, url := site(t, Options{Rehearsal: true})
	ctx := browser(t)
	for _, theme := range []string{"light", "dark"} {
		if err := scheme(ctx, theme); err != nil {
			t.Fatal(err)
		}
		for _, screen := range screens {
			if theme == "dark" && screen.mobile {
				continue
			}
			if err := size(ctx, screen.width, screen.height, screen.mobile); err != nil {
				t.Fatal(err)
			}
			for _, p := range pagesToShow {
				if err := chromedp.Do(ctx, chromedp.Navigate(url+p.path), settled()); err != nil {
					t.Fatalf("%s: %v", p.name, err)
				}
				for _, v := range axe(t, ctx) {
					t.Errorf("%s, %s, %s: %s", p.name, theme, screen.name, v)
				}
			}
		}
	}
}

// TestAxeFindsWhatIsWrong is the negative control: faults put into a page are
// reported.
func TestAxeFindsWhatIsWrong(t *testing.T) {
	_, _, url := site(t, Options{})
	ctx := browser(t)
	if err := chromedp.Do(ctx, chromedp.Navigate(url+"/"), quiet(`document.querySelector("main").insertAdjacentHTML("beforeend",
		'<img src="/favicon.svg"><input type="text"><p class="faint">hardly to be read</p>');
		document.querySelector(".faint").style.color = "#c8ccce"`)); err != nil {
		t.Fatal(err)
	}
	found := fmt.Sprint(axe(t, ctx))
	for _, id := range []string{"image-alt", "label", "color-contrast"} {
		if !strings.Contains(found, id) {
			t.Errorf("axe-core does not report %s: %s", id, found)
		}
	}
}

// TestReflow opens every page at 320 pixels, which is 1280 pixels at 400 %
// (WCAG 2.2, 1.4.10), and with larger text spacing (1.4.12).
func TestReflow(t *testing.T) {
	_, _, url := site(t, Options{Rehearsal: true})
	ctx := browser(t)
	if err := size(ctx, 320, 640, true); err != nil {
		t.Fatal(err)
	}
	for _, p := range pagesToShow {
		if err := chromedp.Do(ctx, chromedp.Navigate(url+p.path), settled()); err != nil {
			t.Fatalf("%s: %v", p.name, err)
		}
		for _, spaced := range []bool{false, true} {
			if spaced {
				if err := chromedp.Do(ctx, quiet(`for (const e of document.querySelectorAll("main *, header *, footer *")) { e.style.letterSpacing = "0.12em"; e.style.wordSpacing = "0.16em"; e.style.lineHeight = "1.5"; }`)); err != nil {
					t.Fatal(err)
				}
			}
			wide, err := chromedp.Run(ctx, chromedp.Evaluate[string](`(() => { const w = document.documentElement.scrollWidth; if (w <= 320) return "";
				const e = [...document.querySelectorAll("main *")].find((e) => e.getBoundingClientRect().right > 321 && !e.closest(".scroll")); return w + " by " + (e ? e.tagName + "." + e.className : "?"); })()`))
			if err != nil || wide != "" {
				t.Errorf("%s, spaced %v: wider than 320 pixels: %s %v", p.name, spaced, wide, err)
			}
		}
	}
}
