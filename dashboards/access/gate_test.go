package access

import (
	"bufio"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/dashboards/access/audit"
	"bridlewatch/dashboards/plant/planttest"
)

// TestRoleMatrix holds every address of the table against every role, and
// against nobody.
func TestRoleMatrix(t *testing.T) {
	h := gated(openAccess(t, Options{Users: people()}))
	sessions := map[Role]*http.Cookie{}
	for _, r := range Roles() {
		sessions[r] = sessionOf(t, h, string(r))
	}
	for pattern, need := range needs {
		if slices.Contains([]string{"POST /login", "POST /logout", "POST /account/password"}, pattern) || strings.HasSuffix(pattern, "/events") {
			continue // tests of their own
		}
		t.Run(pattern, func(t *testing.T) {
			for _, r := range Roles() {
				want := http.StatusOK
				if !r.Includes(need.Role) {
					want = http.StatusForbidden
				}
				if got := send(h, mustRequest(pattern), sessions[r]).Code; got != want {
					t.Errorf("%s gets %d, want %d", r, got, want)
				}
			}
			want := http.StatusOK
			if need.Role != Nobody {
				want = http.StatusUnauthorized
			}
			if got := send(h, mustRequest(pattern)).Code; got != want {
				t.Errorf("nobody gets %d, want %d", got, want)
			}
		})
	}
}

// TestWhatEachRoleIsFor names some addresses by hand, so that a slip in the
// table is seen.
func TestWhatEachRoleIsFor(t *testing.T) {
	tests := []struct {
		name, pattern string
		least         Role
	}{
		{"watching a gauge", "GET /gauge/{tag}", Viewer},
		{"acknowledging", "POST /alerts/act", Technician},
		{"acknowledging by program", "POST /api/v1/alert/act", Technician},
		{"a quiet window", "POST /alerts/quiet", Engineer},
		{"adding a user", "POST /users", Admin},
		{"adding a token by program", "POST /api/v1/tokens", Admin},
		{"the audit log", "GET /audit", Admin},
		{"being alive", "GET /healthz", Nobody},
		{"logging in", "POST /login", Nobody},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if n, ok := NeedOf(tt.pattern); !ok || n.Role != tt.least {
				t.Errorf("%s needs %q (in the table: %v), want %q", tt.pattern, n.Role, ok, tt.least)
			}
		})
	}
}

func TestAddressOutsideTheTableIsRefused(t *testing.T) {
	a := openAccess(t, Options{Users: people()})
	m := everything()
	m.HandleFunc("POST /plant/forgotten", func(http.ResponseWriter, *http.Request) { t.Error("the address was answered") })
	h := a.Gate(m, func(w http.ResponseWriter, _ *http.Request, no Refusal) { http.Error(w, no.Title, no.Status) })
	if w := send(h, httptest.NewRequest("POST", "http://127.0.0.1/plant/forgotten", nil)); w.Code != http.StatusForbidden {
		t.Errorf("status %d, want 403", w.Code)
	}
}

func TestRefusalSaysWhomToAsk(t *testing.T) {
	users := append(people(), FixedUser("rok", "R. Okafor", Engineer, cheap))
	h := gated(openAccess(t, Options{Users: users}))
	w := send(h, mustRequest("POST /alerts/quiet"), sessionOf(t, h, "viewer"))
	if body := w.Body.String(); w.Code != http.StatusForbidden || !strings.Contains(body, "needs the role engineer") || !strings.Contains(body, "R. Okafor") {
		t.Errorf("status %d: %s", w.Code, body)
	}
	r := mustRequest("POST /api/v1/quiet/add")
	w = send(h, r, sessionOf(t, h, "viewer"))
	if body := w.Body.String(); w.Header().Get("Content-Type") != "application/problem+json" || !strings.Contains(body, "Ask engineer, R. Okafor, admin.") {
		t.Errorf("%s: %s", w.Header().Get("Content-Type"), body)
	}
}

func TestOpenAccess(t *testing.T) {
	here, proxied, elsewhere := "127.0.0.1:4000", "127.0.0.1:4001", "192.0.2.7:4000"
	tests := []struct {
		name       string
		open       Openness
		from, host string
		forwarded  string
		pattern    string
		status     int
	}{
		{"no login needed on this machine", LocalOpen, here, "127.0.0.1:8080", "", "GET /{$}", 200},
		{"handling alerts on this machine", LocalOpen, here, "localhost:8080", "", "POST /alerts/act", 200},
		{"IPv6", LocalOpen, "[::1]:4000", "[::1]:8080", "", "POST /alerts/act", 200},
		{"nobody is an admin", LocalOpen, here, "127.0.0.1:8080", "", "GET /users", 403},
		{"through a proxy one reads", LocalOpen, proxied, "levels.example", "192.0.2.7", "GET /{$}", 200},
		{"through a proxy one does not act", LocalOpen, proxied, "levels.example", "192.0.2.7", "POST /alerts/act", 403},
		{"a name that was made to lead here", LocalOpen, here, "attacker.example:8080", "", "GET /{$}", 421},
		{"a rehearsal is open to all", AllOpen, elsewhere, "box.example", "", "POST /alerts/act", 200},
		{"without open access one logs in here too", LogIn, here, "127.0.0.1:8080", "", "GET /{$}", 401},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			h := gated(openAccess(t, Options{Open: tt.open, Hosts: []string{"levels.example"}}))
			r := mustRequest(tt.pattern)
			r.RemoteAddr, r.Host = tt.from, tt.host
			if tt.forwarded != "" {
				r.Header.Set("X-Forwarded-For", tt.forwarded)
			}
			w := send(h, r)
			if w.Code != tt.status {
				t.Errorf("status %d, want %d: %s", w.Code, tt.status, w.Body)
			}
			if w.Code == http.StatusOK && !strings.HasSuffix(w.Body.String(), " for local") {
				t.Errorf("the actor is not local: %s", w.Body)
			}
		})
	}
}

func TestMetricsNeedATokenFromElsewhere(t *testing.T) {
	h := gated(openAccess(t, Options{Users: people(), Tokens: []Token{FixedToken("scraper", Viewer, "0123456789012345678901234567890123456789", time.Time{})}}))
	for _, tt := range []struct {
		name, from, forwarded, token string
		status                       int
	}{
		{"this machine", "127.0.0.1:999", "", "", 200},
		{"elsewhere", "192.0.2.7:999", "", "", 401},
		{"elsewhere through a proxy here", "127.0.0.1:999", "192.0.2.7", "", 401},
		{"elsewhere with a token", "192.0.2.7:999", "", "0123456789012345678901234567890123456789", 200},
		{"elsewhere with another", "192.0.2.7:999", "", "0123456789012345678901234567890123456780", 401},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r := mustRequest("GET /metrics")
			r.RemoteAddr = tt.from
			if tt.forwarded != "" {
				r.Header.Set("X-Forwarded-For", tt.forwarded)
			}
			if tt.token != "" {
				r.Header.Set("Authorization", "Bearer "+tt.token)
			}
			if w := send(h, r); w.Code != tt.status {
				t.Errorf("status %d, want %d: %s", w.Code, tt.status, w.Body)
			}
		})
	}
}

func TestReadOnlyServiceTakesNoActions(t *testing.T) {
	h := gated(openAccess(t, Options{Users: people(), ReadOnly: true}))
	c := sessionOf(t, h, "admin")
	for pattern, want := range map[string]int{"POST /alerts/act": 403, "POST /api/v1/quiet/add": 403, "GET /alerts": 200, "POST /users": 200} {
		if got := send(h, mustRequest(pattern), c).Code; got != want {
			t.Errorf("%s: %d, want %d", pattern, got, want)
		}
	}
}

func TestWhatPeopleDoIsNoted(t *testing.T) {
	m := planttest.NewMemory()
	h := gated(openAccess(t, Options{Store: m, Users: people()}))
	c := sessionOf(t, h, "technician")
	send(h, form("/alerts/act", map[string][]string{"verb": {"acknowledge"}, "alert": {"LG-102/1"}, "password": {"never kept"}, "here": {"/alerts"}}), c)
	r := httptest.NewRequest("POST", "http://127.0.0.1/api/v1/alert/act", strings.NewReader(`{"verb":"visit"}`))
	r.Header.Set("Content-Type", "application/json")
	send(h, r, c)
	send(h, mustRequest("POST /alerts/quiet"), c) // refused: an engineer does this
	list, err := audit.List(t.Context(), m, 0, 10)
	if err != nil || len(list) != 2 {
		t.Fatalf("%d entries, error %v; want one for each thing done: %+v", len(list), err, list)
	}
	e := list[1]
	if e.Who != "technician" || e.Via != "session" || e.What != "acted on the alert" || !strings.HasPrefix(e.From, "192.0.2.") {
		t.Errorf("entry %+v", e)
	}
	all, err := m.Documents(t.Context(), store.Query{})
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range all {
		if strings.Contains(string(d.Body), "never kept") {
			t.Errorf("a password was written down: %s", d.Body)
		}
	}
}

// TestEventStreamEndsWithTheSession: whoever is logged out or removed does not
// go on watching.
func TestEventStreamEndsWithTheSession(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a := openAccess(t, Options{Users: people()})
		m := &Mux{}
		m.HandleFunc("GET /gauge/{tag}/events", func(w http.ResponseWriter, r *http.Request) {
			_, _ = w.Write([]byte("data: 1\n"))
			<-r.Context().Done()
		})
		h := a.Gate(m, func(http.ResponseWriter, *http.Request, Refusal) {})
		all := gated(a)
		c := sessionOf(t, all, "viewer")
		r := mustRequest("GET /gauge/{tag}/events")
		r.AddCookie(c)
		w, done := httptest.NewRecorder(), make(chan struct{})
		go func() { h.ServeHTTP(w, r); close(done) }()
		time.Sleep(2 * recheck)
		synctest.Wait()
		select {
		case <-done:
			t.Fatal("the stream ended while the session lasts")
		default:
		}
		send(all, mustRequest("POST /logout"), c)
		time.Sleep(2 * recheck)
		synctest.Wait()
		select {
		case <-done:
		default:
			t.Error("the stream goes on after the session ended")
		}
		if line, err := bufio.NewReader(w.Body).ReadString('\n'); err != nil || line != "data: 1\n" {
			t.Errorf("stream %q, %v", line, err)
		}
	})
}

// BenchmarkGate is what asking who it is adds to every request: a session is
// read, held against the table and prolonged, or a token is found among 20.
func BenchmarkGate(b *testing.B) {
	var tokens []Token
	for i := range 20 {
		tokens = append(tokens, FixedToken(strings.Repeat("t", i+1), Viewer, strings.Repeat("0123456789", 4)+strings.Repeat("x", i), time.Time{}))
	}
	a, err := Open(b.Context(), Options{Store: planttest.NewMemory(), Users: people(), Tokens: tokens})
	if err != nil {
		b.Fatal(err)
	}
	defer a.Close() // nothing is kept
	a.ofToken = newLimiter(limits{1, 1 << 30}, time.Now)
	h := gated(a)
	session := mustRequest("GET /{$}")
	for _, c := range logIn(h, "viewer", goodPassword).Result().Cookies() {
		session.AddCookie(c)
	}
	token := mustRequest("GET /api/v1/gauges")
	token.Header.Set("Authorization", "Bearer "+strings.Repeat("0123456789", 4))
	for name, r := range map[string]*http.Request{"session": session, "token": token, "open": mustRequest("GET /healthz")} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				w := httptest.NewRecorder()
				if h.ServeHTTP(w, r); w.Code != http.StatusOK {
					b.Fatalf("status %d", w.Code)
				}
			}
		})
	}
}
