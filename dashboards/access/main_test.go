package access

import (
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"bridlewatch/dashboards/plant/planttest"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

const goodPassword = "barge candle forty moss"

// cheap is a hash of goodPassword that costs a test little.
var cheap = cost{memory: 64, passes: 1, lanes: 1}.hash(goodPassword, []byte("0123456789abcdef"))

// people are one user of each role, named after it.
func people() []User {
	var list []User
	for _, r := range Roles() {
		list = append(list, FixedUser(string(r), "", r, cheap))
	}
	return list
}

// clock is a clock that is set by hand.
type clock struct {
	mu sync.Mutex
	t  time.Time
}

func newClock() *clock { return &clock{t: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)} }

func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.t
}

func (c *clock) pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.t = c.t.Add(d)
}

func openAccess(t *testing.T, o Options) *Access {
	t.Helper()
	if o.Store == nil {
		o.Store = planttest.NewMemory()
	}
	a, err := Open(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := a.Close(); err != nil {
			t.Error(err)
		}
	})
	return a
}

// everything registers every address of the table; each answers with its
// pattern and who asked.
func everything() *Mux {
	m := &Mux{}
	for pattern := range needs {
		m.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
			who := From(r.Context())
			_, _ = w.Write([]byte(pattern + " for " + who.Name))
		})
	}
	return m
}

// gated is the whole table behind a gate, with a login that works.
func gated(a *Access) http.Handler {
	m := everything()
	login := http.NewServeMux()
	login.HandleFunc("POST /login", func(w http.ResponseWriter, r *http.Request) {
		if err := a.LogIn(r, r.PostFormValue("name"), r.PostFormValue("password")); err != nil {
			http.Error(w, err.Error(), http.StatusUnauthorized)
		}
	})
	login.HandleFunc("POST /logout", func(w http.ResponseWriter, r *http.Request) {
		if err := a.LogOut(r); err != nil {
			http.Error(w, err.Error(), http.StatusInternalServerError)
		}
	})
	login.HandleFunc("POST /account/password", func(w http.ResponseWriter, r *http.Request) {
		if err := a.ChangeOwnPassword(r, r.PostFormValue("old"), r.PostFormValue("new")); err != nil {
			http.Error(w, err.Error(), http.StatusUnprocessableEntity)
		}
	})
	g := &Mux{}
	for _, p := range m.Patterns() {
		if _, own := login.Handler(mustRequest(p)); own != "" {
			g.Handle(p, login)
		} else {
			g.Handle(p, m)
		}
	}
	return a.Gate(g, func(w http.ResponseWriter, _ *http.Request, no Refusal) {
		http.Error(w, no.Title+". "+no.Text+" "+strings.Join(no.Ask, ", "), no.Status)
	})
}

// mustRequest makes a request that a pattern matches.
func mustRequest(pattern string) *http.Request {
	method, path, _ := strings.Cut(pattern, " ")
	path = strings.NewReplacer("{$}", "", "{tag}", "LG-101", "{name}", "x").Replace(path)
	return httptest.NewRequest(method, "http://127.0.0.1"+path, nil)
}

func send(h http.Handler, r *http.Request, cookies ...*http.Cookie) *httptest.ResponseRecorder {
	for _, c := range cookies {
		r.AddCookie(c)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func form(path string, fields url.Values) *http.Request {
	r := httptest.NewRequest(http.MethodPost, "http://127.0.0.1"+path, strings.NewReader(fields.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return r
}

func logIn(h http.Handler, name, password string, cookies ...*http.Cookie) *httptest.ResponseRecorder {
	return send(h, form("/login", url.Values{"name": {name}, "password": {password}}), cookies...)
}

// sessionOf is the cookie of a fresh session.
func sessionOf(t *testing.T, h http.Handler, name string) *http.Cookie {
	t.Helper()
	w := logIn(h, name, goodPassword)
	for _, c := range w.Result().Cookies() {
		if c.Name == SessionCookie && c.MaxAge >= 0 {
			return c
		}
	}
	t.Fatalf("%s could not log in: %d %s", name, w.Code, w.Body)
	return nil
}
