//go:build peers

package dashboards

import (
	"context"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"bridlewatch/dashboards/access"
)

// logInByHand fills in the login form as a person does.
func logInByHand(t *testing.T, ctx context.Context, address, name string) {
	t.Helper()
	if err := chromedp.Do(ctx, chromedp.Navigate(address+"/login"),
		chromedp.SendKeys(chromedp.CSS("#name"), name), chromedp.SendKeys(chromedp.CSS("#password"), passphrase+"\r")); err != nil {
		t.Fatal(err)
	}
	waitFor(t, ctx, `location.pathname === "/" && document.readyState === "complete"`, "the list of gauges after logging in")
}

func waitFor(t *testing.T, ctx context.Context, condition, what string) {
	t.Helper()
	waitUpTo(t, ctx, 10*time.Second, condition, what)
}

func waitUpTo(t *testing.T, ctx context.Context, limit time.Duration, condition, what string) {
	t.Helper()
	var err error
	for end := time.Now().Add(limit); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		var ok bool
		if ok, err = chromedp.Run(ctx, chromedp.Evaluate[bool](condition)); err == nil && ok {
			return
		}
	}
	t.Fatalf("no %s (%v)", what, err) // while a page goes and another comes there are errors
}

// TestLogInInABrowser: a viewer logs in, with scripts and without, reads the
// gauges and is refused the users, with a word on whom to ask.
func TestLogInInABrowser(t *testing.T) {
	for _, scripts := range []bool{true, false} {
		address, _ := peopled(t, Options{}, access.Options{})
		ctx := browser(t)
		heard := listen(t, ctx)
		if _, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: !scripts}); err != nil {
			t.Fatal(err)
		}
		logInByHand(t, ctx, address, "viewer")
		heard.none(t, "logging in")
		if err := chromedp.Do(ctx, chromedp.Navigate(address+"/users")); err != nil {
			t.Fatal(err)
		}
		text, err := chromedp.Run(ctx, chromedp.OuterHTML(chromedp.CSS("main")))
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(text, "This needs the role admin") || !strings.Contains(text, "Ask admin") || strings.Contains(text, "<table") {
			t.Errorf("scripts %v: a viewer sees of the users: %s", scripts, text)
		}
	}
}

// TestScriptsCannotReadTheSession asks the browser itself.
func TestScriptsCannotReadTheSession(t *testing.T) {
	address, _ := peopled(t, Options{}, access.Options{})
	ctx := browser(t)
	logInByHand(t, ctx, address, "viewer")
	seen, err := chromedp.Run(ctx, chromedp.Evaluate[string]("document.cookie"))
	if err != nil || strings.Contains(seen, access.SessionCookie) {
		t.Errorf("scripts see %q (%v)", seen, err)
	}
}

// TestPageStaysWhenTheSessionEndsInABrowser: a page that is open when its
// session ends keeps what is on it and says that it is not fresh any more.
func TestPageStaysWhenTheSessionEndsInABrowser(t *testing.T) {
	address, a := peopled(t, Options{Imports: someImports()}, access.Options{})
	by := access.Actor{Name: "admin", Role: access.Admin, Via: access.BySession}
	if err := a.AddUser(t.Context(), by, access.User{Name: "okafor", Role: access.Viewer}, passphrase); err != nil {
		t.Fatal(err)
	}
	ctx := browser(t)
	logInByHand(t, ctx, address, "okafor")
	if err := a.RemoveUser(t.Context(), by, "okafor"); err != nil {
		t.Fatal(err)
	}
	waitUpTo(t, ctx, 40*time.Second, `!document.getElementById("connection").hidden`, "word that the page is not connected")
	text, err := chromedp.Run(ctx, chromedp.OuterHTML(chromedp.CSS("main")))
	if err != nil || !strings.Contains(text, "Float is probably stuck") || strings.Contains(text, "Log in first") {
		t.Errorf("the list did not stay: %.500s (%v)", text, err)
	}
}

// TestPagesOfAccessInABrowser looks at every page about people in light and dark at both
// sizes and at 320 pixels: axe-core, width, console. Pictures go to
// BRIDLEWATCH_SHOTS.
func TestPagesOfAccessInABrowser(t *testing.T) {
	address, a := peopled(t, Options{}, access.Options{})
	by := access.Actor{Name: "admin", Role: access.Admin, Via: access.BySession, From: "192.0.2.7"}
	for _, err := range []error{
		a.AddUser(t.Context(), by, access.User{Name: "okafor", FullName: "R. Okafor", Role: access.Technician}, passphrase),
		a.SetRole(t.Context(), by, "okafor", access.Engineer),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	if _, err := a.AddToken(t.Context(), by, access.Token{Name: "weekly report", Scopes: []access.Scope{access.Read}}); err != nil {
		t.Fatal(err)
	}
	ctx, dir := browser(t), shotDir(t)
	heard := listen(t, ctx)
	look := func(pages []struct{ name, path string }) {
		for _, theme := range []string{"light", "dark"} {
			if err := scheme(ctx, theme); err != nil {
				t.Fatal(err)
			}
			for _, s := range append(screens, screen320) {
				if err := size(ctx, s.width, s.height, s.mobile); err != nil {
					t.Fatal(err)
				}
				for _, p := range pages {
					where := p.name + "-" + theme + "-" + s.name
					if err := chromedp.Do(ctx, chromedp.Navigate(address+p.path)); err != nil {
						t.Fatalf("%s: %v", where, err)
					}
					wide, err := chromedp.Run(ctx, chromedp.Evaluate[int](`document.documentElement.scrollWidth`))
					if err != nil || wide > int(s.width) {
						t.Errorf("%s is %d pixels wide on a screen of %d (%v)", where, wide, s.width, err)
					}
					for _, v := range axe(t, ctx) {
						t.Errorf("%s: %s", where, v)
					}
					shoot(t, ctx, dir, where)
					heard.none(t, where)
				}
			}
		}
	}
	look([]struct{ name, path string }{{"login", "/login?" + url.Values{"then": {"/gauge/LG-102"}}.Encode()}})
	logInByHand(t, ctx, address, "admin")
	look([]struct{ name, path string }{{"account", "/account"}, {"users", "/users"}, {"tokens", "/tokens"}, {"audit", "/audit?check=1"}, {"imports", "/imports"}})
	if err := chromedp.Do(ctx, chromedp.Navigate(address+"/account"), chromedp.Click(chromedp.CSS("form[action='/logout'] button"))); err != nil {
		t.Fatal(err)
	}
	waitFor(t, ctx, `location.pathname === "/login"`, "login page after logging out")
	logInByHand(t, ctx, address, "okafor")
	look([]struct{ name, path string }{{"account-own", "/account"}})
}

// screen320 is 1280 pixels at 400 % (WCAG 2.2, 1.4.10).
var screen320 = struct {
	name          string
	width, height int64
	mobile        bool
}{"320x640", 320, 640, true}
