package access

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"testing"
	"time"
)

// TestLoginsAreLimited by a clock that is set by hand.
func TestLoginsAreLimited(t *testing.T) {
	c := newClock()
	a := openAccess(t, Options{Users: people(), Now: c.now})
	m := &Mux{}
	m.HandleFunc("POST /login", func(w http.ResponseWriter, r *http.Request) {
		if err := a.LogIn(r, r.PostFormValue("name"), r.PostFormValue("password")); err != nil {
			http.Error(w, err.Error(), http.StatusUnauthorized)
		}
	})
	h := a.Gate(m, nil)
	for i := range loginsFromAddress.burst {
		if body := logIn(h, fmt.Sprint("name", i), "wrong").Body.String(); !strings.Contains(body, ErrLogIn.Error()) {
			t.Fatalf("try %d: %s", i, body)
		}
	}
	if body := logIn(h, "viewer", goodPassword).Body.String(); !strings.Contains(body, "too many tries; wait 6 s") {
		t.Errorf("after %d tries from one address: %s", loginsFromAddress.burst, body)
	}
	c.pass(loginsFromAddress.every)
	if w := logIn(h, "viewer", goodPassword); w.Code != http.StatusOK {
		t.Errorf("after waiting: %s", w.Body)
	}
	if w := logIn(h, "viewer", "wrong"); !strings.Contains(w.Body.String(), ErrLogIn.Error()) {
		t.Errorf("a right password gives no tries back: %s", w.Body)
	}
}

// TestOnePasswordIsNotGuessedFromManyAddresses also counts by name.
func TestOnePasswordIsNotGuessedFromManyAddresses(t *testing.T) {
	c := newClock()
	l := newLimiter(loginsOfName, c.now)
	for i := range loginsOfName.burst {
		if wait := l.take("viewer"); wait != 0 {
			t.Fatalf("try %d waits %s", i, wait)
		}
	}
	if wait := l.take("viewer"); wait != loginsOfName.every {
		t.Errorf("wait %s, want %s", wait, loginsOfName.every)
	}
	if wait := l.take("engineer"); wait != 0 {
		t.Errorf("another name waits %s", wait)
	}
	c.pass(loginsOfName.every / 3)
	if wait := l.take("viewer"); wait.Round(time.Second) != 20*time.Second {
		t.Errorf("wait %s, want 20 s", wait)
	}
}

func TestTokensAreLimited(t *testing.T) {
	c := newClock()
	text := strings.Repeat("0123456789", 4)
	h := gated(openAccess(t, Options{Now: c.now, Tokens: []Token{FixedToken("reports", Viewer, text, time.Time{})}}))
	for i := range callsOfToken.burst {
		if got := withToken(h, text, "GET /api/v1/gauges"); got != http.StatusOK {
			t.Fatalf("call %d: %d", i, got)
		}
	}
	r := mustRequest("GET /api/v1/gauges")
	r.Header.Set("Authorization", "Bearer "+text)
	w := send(h, r)
	if wait, err := strconv.Atoi(w.Header().Get("Retry-After")); w.Code != http.StatusTooManyRequests || err != nil || wait != 1 {
		t.Errorf("status %d, Retry-After %q", w.Code, w.Header().Get("Retry-After"))
	}
	c.pass(callsOfToken.every)
	if got := withToken(h, text, "GET /api/v1/gauges"); got != http.StatusOK {
		t.Errorf("after waiting: %d", got)
	}
}

func TestWrongTokensAreLimitedAndRightOnesAreNot(t *testing.T) {
	c := newClock()
	text := strings.Repeat("0123456789", 4)
	h := gated(openAccess(t, Options{Now: c.now, Tokens: []Token{FixedToken("reports", Viewer, text, time.Time{})}}))
	for i := range badTokens.burst {
		if got := withToken(h, "guess", "GET /api/v1/gauges"); got != http.StatusUnauthorized {
			t.Fatalf("guess %d: %d", i, got)
		}
	}
	if got := withToken(h, "guess", "GET /api/v1/gauges"); got != http.StatusTooManyRequests {
		t.Errorf("after %d guesses: %d", badTokens.burst, got)
	}
	if got := withToken(h, text, "GET /api/v1/gauges"); got != http.StatusOK {
		t.Errorf("the right token from the same address: %d", got)
	}
}

func TestLimiterForgetsAndIsBounded(t *testing.T) {
	c := newClock()
	l := newLimiter(limits{time.Minute, 2}, c.now)
	l.take("victim")
	l.take("victim")
	for i := range 3 * remembered {
		c.pass(time.Millisecond)
		l.take(fmt.Sprint("192.0.2.", i))
	}
	if len(l.keys) > remembered {
		t.Errorf("%d keys are kept, want at most %d", len(l.keys), remembered)
	}
	c.pass(time.Hour)
	l.take("new")
	if len(l.keys) > 1 {
		t.Errorf("%d keys are kept after an hour of silence", len(l.keys))
	}
}

func TestNetwork(t *testing.T) {
	for address, want := range map[string]string{
		"192.0.2.7":            "192.0.2.7",
		"::ffff:192.0.2.7":     "::ffff:192.0.2.7",
		"2001:db8:1:2:3:4:5:6": "2001:db8:1:2::/64",
		"fe80::1%eth0":         "fe80::/64",
		"no address":           "no address",
	} {
		if got := network(address); got != want {
			t.Errorf("%s is counted under %s, want %s", address, got, want)
		}
	}
}
