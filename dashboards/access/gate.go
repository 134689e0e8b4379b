package access

import (
	"context"
	"crypto/subtle"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"slices"
	"strings"
	"time"
)

// Refusal is why a request is not answered.
type Refusal struct {
	Status int
	Title  string
	Text   string
	Ask    []string // who could do it; nil when that does not help
	LogIn  bool     // logging in would help
	Wait   int      // s, 0: waiting does not help
}

// Refuser shows a refusal to a person.
type Refuser func(http.ResponseWriter, *http.Request, Refusal)

// Gate answers for routes, after it has found out who asks and whether the
// table lets them. People are shown refusals by refuse, programs get a problem
// document (RFC 9457).
func (a *Access) Gate(routes *Mux, refuse Refuser) http.Handler {
	behind := a.sessions.LoadAndSave(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		a.admit(w, r, routes, refuse)
	}))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if pattern := routes.pattern(r); pattern == "" || needs[staticPattern(pattern)] == toAll && known(pattern) {
			routes.ServeHTTP(w, r)
			return
		}
		if renews(r) {
			a.lookOn(w, r, routes, refuse)
			return
		}
		behind.ServeHTTP(w, r)
	})
}

// renews reports whether a page that is open renews itself. That is no use of
// a session and does not prolong it.
func renews(r *http.Request) bool {
	return r.Method == http.MethodGet && (r.Header.Get("HX-Request") != "" || strings.HasSuffix(r.URL.Path, "/events"))
}

// lookOn is admit with a session that is read and not prolonged.
func (a *Access) lookOn(w http.ResponseWriter, r *http.Request, routes *Mux, refuse Refuser) {
	ctx, err := a.sessions.Load(r.Context(), sessionToken(r))
	if err != nil {
		a.sessions.ErrorFunc(w, r, err)
		return
	}
	w.Header().Add("Vary", "Cookie")
	a.admit(w, r.WithContext(ctx), routes, refuse)
}

func sessionToken(r *http.Request) string {
	c, err := r.Cookie(SessionCookie)
	if err != nil {
		return ""
	}
	return c.Value
}

func known(pattern string) bool {
	_, ok := NeedOf(pattern)
	return ok
}

// admit lets one request in or refuses it.
func (a *Access) admit(w http.ResponseWriter, r *http.Request, routes *Mux, refuse Refuser) {
	pattern := routes.pattern(r)
	need, ok := NeedOf(pattern)
	actor, no := a.identify(r)
	if no == nil {
		no = a.judge(need, ok, actor)
	}
	if !ok {
		a.options.Log.Error("an address is not in the table of access and is refused", "pattern", pattern)
	}
	r = r.WithContext(withActor(r.Context(), actor))
	if no != nil {
		answer(w, r, *no, refuse)
		return
	}
	switch {
	case strings.HasSuffix(pattern, "/events"):
		ctx, stop := context.WithCancel(r.Context())
		defer stop()
		go a.watch(ctx, stop, r, need)
		routes.ServeHTTP(w, r.WithContext(ctx))
	case need.What != "":
		a.noted(w, r, routes, need, actor)
	default:
		routes.ServeHTTP(w, r)
	}
}

// identify finds out who asks. Whoever sends a token is judged by it alone.
func (a *Access) identify(r *http.Request) (Actor, *Refusal) {
	who := Actor{From: Address(r)}
	if text, ok := bearer(r); ok {
		return a.program(r, who, text)
	}
	if u, ok := a.person(r); ok {
		who.Name, who.FullName, who.Role, who.Via, who.Scopes = u.Name, u.FullName, u.Role, BySession, ScopesOf(u.Role)
		return who, nil
	}
	return a.passer(r, who)
}

// bearer takes the token out of a request (RFC 6750, 2.1).
func bearer(r *http.Request) (text string, ok bool) {
	scheme, text, _ := strings.Cut(r.Header.Get("Authorization"), " ")
	return strings.TrimSpace(text), strings.EqualFold(scheme, "Bearer")
}

// person is who the session belongs to, while the password it began with is
// still the one.
func (a *Access) person(r *http.Request) (User, bool) {
	ctx := r.Context()
	name := a.sessions.GetString(ctx, sessionUser)
	if name == "" {
		return User{}, false
	}
	u, ok := a.User(name)
	if ok && subtle.ConstantTimeCompare([]byte(u.mark()), []byte(a.sessions.GetString(ctx, sessionMark))) == 1 {
		return u, true
	}
	if err := a.sessions.Destroy(ctx); err != nil {
		a.options.Log.Warn("a session that is over could not be removed", "error", err)
	}
	return User{}, false
}

// program is what a token belongs to.
func (a *Access) program(r *http.Request, who Actor, text string) (Actor, *Refusal) {
	if a.console(text) {
		who.Name, who.Role, who.Via, who.Scopes = "console", Admin, ByConsole, ScopesOf(Admin)
		if account := r.Header.Get(ConsoleUserHeader); checkName("user", account) == nil {
			who.Name = "console (" + account + ")"
		}
		return who, nil
	}
	now := a.options.Now()
	a.mu.Lock()
	list := make([]*Token, 0, len(a.tokens))
	for _, t := range a.tokens {
		list = append(list, t)
	}
	t := matching(list, text)
	if t == nil || !t.Usable(now) {
		a.mu.Unlock()
		return who, a.badly(who.From, t)
	}
	t.Used = now
	who.Name, who.Role, who.Via, who.Scopes = t.Name, t.Role, ByToken, t.Scopes
	a.mu.Unlock()
	if wait := a.ofToken.take(who.Name); wait > 0 {
		return who, tooMany(wait)
	}
	return who, nil
}

func (a *Access) badly(from string, expired *Token) *Refusal {
	if wait := a.badToken.take(network(from)); wait > 0 {
		return tooMany(wait)
	}
	if expired != nil {
		return &Refusal{Status: http.StatusUnauthorized, Title: "The token has expired", Text: "It ended on " + expired.Expires.UTC().Format(time.RFC3339) + ". An admin can make another one."}
	}
	return &Refusal{Status: http.StatusUnauthorized, Title: "The token is not known", Text: "It was revoked, or is not one of this service."}
}

func tooMany(wait time.Duration) *Refusal {
	e := TooManyError{wait}
	return &Refusal{Status: http.StatusTooManyRequests, Title: "Too many calls", Text: "Wait " + fmt.Sprint(e.Seconds()) + " s.", Wait: e.Seconds()}
}

// passer is somebody who has not logged in. With open access on this machine
// the name of the service must be asked for: a page of somebody else's must
// not get in by a name that leads here.
func (a *Access) passer(r *http.Request, who Actor) (Actor, *Refusal) {
	switch {
	case a.options.Open == AllOpen:
		who.Role = Engineer
	case a.options.Open == LocalOpen && !a.ourHost(r.Host):
		return who, &Refusal{Status: http.StatusMisdirectedRequest, Title: "This service has another name", Text: "Without login it answers only to the names of this machine itself and to its external_url."}
	case a.options.Open == LocalOpen && fromHere(r):
		who.Role = Engineer
	case a.options.Open == LocalOpen:
		who.Role = Viewer
	default:
		return who, nil
	}
	who.Name, who.Via, who.Scopes = Local, ByLocal, ScopesOf(who.Role)
	return who, nil
}

func (a *Access) ourHost(host string) bool {
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	}
	return IsLoopback(host) || slices.ContainsFunc(a.options.Hosts, func(h string) bool { return strings.EqualFold(h, host) })
}

// judge holds an actor against a need; nil lets in.
func (a *Access) judge(need Need, inTable bool, who Actor) *Refusal {
	switch {
	case !inTable:
		return &Refusal{Status: http.StatusForbidden, Title: "Nobody may do this", Text: "The address is not in the table of access. Please report it."}
	case need.Here && IsLoopback(who.From), need.Role == Nobody:
		return nil
	case who.Role == Nobody:
		return &Refusal{Status: http.StatusUnauthorized, Title: "Log in first", Text: "This service asks who you are; a program sends a token.", LogIn: true}
	case a.options.ReadOnly && (need.Scope == Alerting || need.Scope == Recording):
		return &Refusal{Status: http.StatusForbidden, Title: "This service is read only", Text: "Its configuration takes no records and no acknowledgements here."}
	case need.Scope == "" && who.Via != BySession:
		return &Refusal{Status: http.StatusForbidden, Title: "This is for people who have logged in", Text: "A token or open access has no account and no password."}
	case who.May(need):
		return nil
	case who.Via == ByToken && who.Role.Includes(need.Role):
		return &Refusal{Status: http.StatusForbidden, Title: "The token does not open this", Text: fmt.Sprintf("It needs the scope %s; the token %s has %s.", need.Scope, who.Name, ScopeWords(who.Scopes))}
	case who.Via == ByLocal && need.Role == Admin:
		return &Refusal{Status: http.StatusForbidden, Title: "Nobody is an admin here", Text: "This service runs without login. Users and tokens are made on the command line: bridlewatch user, bridlewatch token."}
	}
	return &Refusal{Status: http.StatusForbidden, Title: fmt.Sprintf("This needs the role %s", need.Role), Text: fmt.Sprintf("Yours is %s.", who.Role), Ask: a.WhoHas(need.Role)}
}

// recheck is how often an open event stream is held against the table.
const recheck = 15 * time.Second

// watch ends an event stream when its session or token is over. Looking on
// does not prolong a session.
func (a *Access) watch(ctx context.Context, stop context.CancelFunc, r *http.Request, need Need) {
	tick := time.NewTicker(recheck)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			if !a.still(r, need) {
				stop()
				return
			}
		}
	}
}

func (a *Access) still(r *http.Request, need Need) bool {
	ctx, err := a.sessions.Load(context.Background(), sessionToken(r))
	if err != nil {
		return false
	}
	who, no := a.identify(r.Clone(ctx))
	return no == nil && a.judge(need, true, who) == nil
}

// answer refuses in the form the asker reads.
func answer(w http.ResponseWriter, r *http.Request, no Refusal, refuse Refuser) {
	h := w.Header()
	h.Set("Cache-Control", "no-store")
	if no.Wait > 0 {
		h.Set("Retry-After", fmt.Sprint(no.Wait))
	}
	if r.Header.Get("HX-Request") != "" {
		h.Set("HX-Reswap", "none") // what is on the page stays, and the page says that it is not connected
	}
	if !byProgram(r) {
		refuse(w, r, no)
		return
	}
	if no.Status == http.StatusUnauthorized {
		h.Set("WWW-Authenticate", `Bearer realm="bridlewatch"`)
	}
	text := no.Text
	if len(no.Ask) > 0 {
		text += " Ask " + strings.Join(no.Ask, ", ") + "."
	}
	body, err := json.Marshal(map[string]any{"status": no.Status, "title": no.Title, "detail": no.Title + ". " + text})
	if err != nil {
		http.Error(w, no.Title, no.Status)
		return
	}
	h.Set("Content-Type", "application/problem+json")
	w.WriteHeader(no.Status)
	_, _ = w.Write(body) // the asker has gone away
}

// byProgram reports whether a script or another program asks: it is not sent
// to a page to log in, and a form that is half filled in stays where it is.
func byProgram(r *http.Request) bool {
	_, token := bearer(r)
	return token || strings.HasPrefix(r.URL.Path, "/api/") || r.URL.Path == "/metrics" || strings.HasSuffix(r.URL.Path, ".json") || strings.HasSuffix(r.URL.Path, "/events") ||
		r.Header.Get("HX-Request") != ""
}
