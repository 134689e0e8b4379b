package access

import (
	"io/fs"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

func sessionCookie(t *testing.T, r *http.Response) *http.Cookie {
	t.Helper()
	for _, c := range r.Cookies() {
		if c.Name == SessionCookie {
			return c
		}
	}
	t.Fatal("no session cookie")
	return nil
}

// TestCookieFlags: RFC 6265bis attributes that keep a session from scripts,
// from other sites and from unencrypted connections.
func TestCookieFlags(t *testing.T) {
	for _, secure := range []bool{false, true} {
		h := gated(openAccess(t, Options{Users: people(), Secure: secure, Base: "/level", Idle: time.Hour}))
		c := sessionCookie(t, logIn(h, "viewer", goodPassword).Result())
		if !c.HttpOnly || c.SameSite != http.SameSiteLaxMode || c.Secure != secure || c.Path != "/level/" || c.Domain != "" {
			t.Errorf("secure %v: cookie %+v", secure, c)
		}
		if len(c.Value) < 43 {
			t.Errorf("the token has %d characters, fewer than 256 random bits need", len(c.Value))
		}
		if c.MaxAge < 3590 || c.MaxAge > 3602 {
			t.Errorf("the browser keeps it for %d s, want the idle time", c.MaxAge)
		}
	}
}

// TestSessionFixation: neither a made up session nor the one from before the
// login is the one after it.
func TestSessionFixation(t *testing.T) {
	h := gated(openAccess(t, Options{Users: people()}))
	planted := &http.Cookie{Name: SessionCookie, Value: strings.Repeat("A", 43)}
	after := sessionCookie(t, logIn(h, "viewer", goodPassword, planted).Result())
	if after.Value == planted.Value {
		t.Error("a session an attacker made up was taken")
	}
	if got := send(h, mustRequest("GET /{$}"), planted).Code; got != http.StatusUnauthorized {
		t.Errorf("the made up session gets %d, want 401", got)
	}
	again := sessionCookie(t, logIn(h, "engineer", goodPassword, after).Result())
	if again.Value == after.Value {
		t.Error("logging in again keeps the session")
	}
	if got := send(h, mustRequest("GET /{$}"), after).Code; got != http.StatusUnauthorized {
		t.Errorf("the session from before the second login gets %d, want 401", got)
	}
}

func TestLogOutEndsTheSession(t *testing.T) {
	h := gated(openAccess(t, Options{Users: people()}))
	c := sessionOf(t, h, "viewer")
	w := send(h, mustRequest("POST /logout"), c)
	if out := sessionCookie(t, w.Result()); out.MaxAge >= 0 || out.Value != "" {
		t.Errorf("the browser keeps the cookie: %+v", out)
	}
	if got := send(h, mustRequest("GET /{$}"), c).Code; got != http.StatusUnauthorized {
		t.Errorf("the old cookie gets %d, want 401", got)
	}
}

// TestEndedSessionStaysEnded: a request that was under way while the session
// ended does not bring it back.
func TestEndedSessionStaysEnded(t *testing.T) {
	s := openSessionStore("", nil)
	steps := []error{
		s.Commit("key", []byte("data"), time.Now().Add(time.Hour)),
		s.Delete("key"),
		s.Commit("key", []byte("data"), time.Now().Add(time.Hour)),
	}
	for i, err := range steps {
		if err != nil {
			t.Fatalf("step %d: %v", i, err)
		}
	}
	if _, found, err := s.Find("key"); found || err != nil {
		t.Errorf("found %v, error %v", found, err)
	}
}

// TestIdleAndAbsoluteLimit runs by a clock of its own.
func TestIdleAndAbsoluteLimit(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := gated(openAccess(t, Options{Users: people(), Idle: time.Hour}))
		c := sessionOf(t, h, "viewer")
		began := time.Now()
		for time.Since(began) < longestSession-time.Hour {
			time.Sleep(50 * time.Minute)
			if got := send(h, mustRequest("GET /{$}"), c).Code; got != http.StatusOK {
				t.Fatalf("a session in use ended after %s with %d", time.Since(began), got)
			}
		}
		time.Sleep(59 * time.Minute)
		send(h, mustRequest("GET /{$}"), c)
		time.Sleep(59 * time.Minute)
		if got := send(h, mustRequest("GET /{$}"), c).Code; got != http.StatusUnauthorized {
			t.Errorf("a session in use goes on after %s", time.Since(began))
		}
		c = sessionOf(t, h, "viewer")
		for range 3 { // a page left open renews itself
			time.Sleep(20*time.Minute + time.Second)
			r := mustRequest("GET /{$}")
			r.Header.Set("HX-Request", "true")
			send(h, r, c)
		}
		if got := send(h, mustRequest("GET /{$}"), c).Code; got != http.StatusUnauthorized {
			t.Error("an idle session goes on")
		}
	})
}

func TestSessionsSurviveARestart(t *testing.T) {
	file := filepath.Join(t.TempDir(), "sessions.json")
	first, err := Open(t.Context(), Options{Store: openAccess(t, Options{}).options.Store, Users: people(), SessionFile: file})
	if err != nil {
		t.Fatal(err)
	}
	c := sessionOf(t, gated(first), "viewer")
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(file)
	if err != nil || strings.Contains(string(text), c.Value) {
		t.Errorf("the file holds what the browser holds, or is not there: %v", err)
	}
	if info, err := os.Stat(file); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("others can read the sessions: %v %v", info, err)
	}
	h := gated(openAccess(t, Options{Users: people(), SessionFile: file}))
	if got := send(h, mustRequest("GET /{$}"), c).Code; got != http.StatusOK {
		t.Errorf("after a restart the session gets %d", got)
	}
	if err := os.WriteFile(file, []byte("{damaged"), 0o600); err != nil {
		t.Fatal(err)
	}
	h = gated(openAccess(t, Options{Users: people(), SessionFile: file}))
	if got := send(h, mustRequest("GET /{$}"), c).Code; got != http.StatusUnauthorized {
		t.Errorf("with a damaged file the session gets %d", got)
	}
	sessionOf(t, h, "viewer")
}

// TestPasswordAndRoleTakeEffectAtOnce also for sessions that have begun.
func TestPasswordAndRoleTakeEffectAtOnce(t *testing.T) {
	a := openAccess(t, Options{Users: people()})
	by := Actor{Name: "admin", Role: Admin, Via: BySession}
	if err := a.AddUser(t.Context(), by, User{Name: "ruiz", Role: Technician}, goodPassword); err != nil {
		t.Fatal(err)
	}
	h := gated(a)
	here, there := sessionOf(t, h, "ruiz"), sessionOf(t, h, "ruiz")
	if err := a.SetRole(t.Context(), by, "ruiz", Viewer); err != nil {
		t.Fatal(err)
	}
	if got := send(h, mustRequest("POST /alerts/act"), here).Code; got != http.StatusForbidden {
		t.Errorf("with the role taken away: %d, want 403", got)
	}
	w := send(h, form("/account/password", url.Values{"old": {"wrong words here again"}, "new": {"quiet river stone lamp"}}), here)
	if w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a wrong present password: %d", w.Code)
	}
	w = send(h, form("/account/password", url.Values{"old": {goodPassword}, "new": {"quiet river stone lamp"}}), here)
	if w.Code != http.StatusOK {
		t.Fatalf("changing the password: %d %s", w.Code, w.Body)
	}
	renewed := sessionCookie(t, w.Result())
	for name, want := range map[*http.Cookie]int{renewed: 200, here: 401, there: 401} {
		if got := send(h, mustRequest("GET /{$}"), name).Code; got != want {
			t.Errorf("session gets %d, want %d", got, want)
		}
	}
	if err := a.RemoveUser(t.Context(), by, "ruiz"); err != nil {
		t.Fatal(err)
	}
	if got := send(h, mustRequest("GET /{$}"), renewed).Code; got != http.StatusUnauthorized {
		t.Errorf("the removed user gets %d", got)
	}
}

func TestConsole(t *testing.T) {
	a := openAccess(t, Options{Users: people()})
	file := filepath.Join(t.TempDir(), ConsoleFile)
	if err := a.OpenConsole(file, Console{URL: "http://127.0.0.1:8080"}); err != nil {
		t.Fatal(err)
	}
	c, err := ReadConsole(file)
	if err != nil || c.URL != "http://127.0.0.1:8080" || !LooksLikeToken(c.Key) {
		t.Fatalf("%+v, %v", c, err)
	}
	if info, err := os.Stat(file); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("others can read the key: %v %v", info, err)
	}
	h := gated(a)
	ask := func() (int, string) {
		r := mustRequest("GET /users")
		r.Header.Set("Authorization", "Bearer "+c.Key)
		r.Header.Set(ConsoleUserHeader, "root")
		w := send(h, r)
		return w.Code, w.Body.String()
	}
	if status, body := ask(); status != http.StatusOK || !strings.HasSuffix(body, "console (root)") {
		t.Errorf("the key of the console gets %d %s", status, body)
	}
	if err := a.Close(); err != nil {
		t.Fatal(err)
	}
	if status, _ := ask(); status != http.StatusUnauthorized {
		t.Errorf("after the end the key gets %d", status)
	}
	if _, err := os.Stat(file); !os.IsNotExist(err) {
		t.Error("the file of the key is still there")
	}
	if _, err := ReadConsole(file); !os.IsNotExist(err) && err != fs.ErrNotExist {
		t.Errorf("error %v", err)
	}
}

// TestSessionOfAClockThatWasAhead: what was begun while the clock was a year
// ahead does not last a year.
func TestSessionOfAClockThatWasAhead(t *testing.T) {
	s := openSessionStore("", nil)
	newSessions(Options{Idle: time.Hour}, s)
	for ahead, want := range map[time.Duration]bool{0: true, 365 * 24 * time.Hour: false} {
		if err := s.Commit("key", []byte("data"), time.Now().Add(ahead+time.Hour)); err != nil {
			t.Fatal(err)
		}
		if _, found, err := s.Find("key"); found != want || err != nil {
			t.Errorf("begun by a clock %s ahead: found %v, error %v", ahead, found, err)
		}
	}
}
