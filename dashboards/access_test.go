package dashboards

import (
	"context"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/desk"
	"bridlewatch/dashboards/plant/planttest"
)

const passphrase = "barge candle forty moss"

// peopled serves the varied plant to one user of each role, named after it.
func peopled(t *testing.T, o Options, ao access.Options) (address string, a *access.Access) {
	t.Helper()
	if o.Store == nil {
		o.Store = planttest.NewMemory()
	}
	if o.Plant == nil {
		o.Plant = planttest.Varied()
	}
	ao.Store = o.Store
	hash, err := access.Hash(passphrase)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range access.Roles() {
		ao.Users = append(ao.Users, access.FixedUser(string(r), "", r, hash))
	}
	if a, err = access.Open(context.Background(), ao); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := a.Close(); err != nil {
			t.Error(err)
		}
	})
	if o.Alerts == nil {
		o.Alerts = openDesk(t, o.Store)
	}
	o.Access, o.Actor = a, access.Who
	return serve(t, o).URL + o.BasePath, a
}

// openDesk is a desk that knows one gauge.
func openDesk(t *testing.T, s store.Store) *desk.Desk {
	t.Helper()
	d, err := desk.Open(context.Background(), desk.Options{Store: s, Now: func() time.Time { return planttest.Now }, Gauges: []desk.Gauge{{Tag: "LG-102"}}})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// visitor is a browser without scripts.
func visitor(t *testing.T) *http.Client {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	return &http.Client{Jar: jar}
}

// enter logs in and returns where it led to.
func enter(t *testing.T, c *http.Client, address, name, password string) (*http.Response, string) {
	t.Helper()
	return postForm(t, c, address+"/login", url.Values{"name": {name}, "password": {password}})
}

func postForm(t *testing.T, c *http.Client, address string, form url.Values) (*http.Response, string) {
	t.Helper()
	answer, err := c.PostForm(address, form)
	if err != nil {
		t.Fatal(err)
	}
	return answer, read(t, answer)
}

func visit(t *testing.T, c *http.Client, address string) (*http.Response, string) {
	t.Helper()
	answer, err := c.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	return answer, read(t, answer)
}

// TestEveryAddressIsInTheTable walks what is registered: an address without a
// row in the table of access would be refused to everybody.
func TestEveryAddressIsInTheTable(t *testing.T) {
	m := planttest.NewMemory()
	a, err := access.Open(context.Background(), access.Options{Store: m})
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close() // nothing is kept
	d, err := desk.Open(context.Background(), desk.Options{Store: m, Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	s, err := New(Options{Plant: planttest.Varied(), Store: m, Access: a, Alerts: d})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close() // nobody looks
	registered := map[string]bool{}
	for _, p := range s.patterns {
		n, ok := access.NeedOf(p)
		if !ok {
			t.Errorf("%s is not in the table of dashboards/access/need.go: say there which role and scope it needs", p)
		}
		if ok && n.Role == access.Nobody && !strings.HasPrefix(p, "GET ") && p != "POST /login" && p != "POST /logout" && p != "POST /preferences" {
			t.Errorf("%s changes something and is open to everybody", p)
		}
		registered[access.Row(p)] = true
	}
	for _, p := range access.Table() {
		if !registered[p] {
			t.Errorf("%s is in the table and nothing answers it", p)
		}
	}
}

func TestLoggingIn(t *testing.T) {
	address, _ := peopled(t, Options{BasePath: "/level"}, access.Options{Base: "/level"})
	c := visitor(t)
	answer, body := visit(t, c, address+"/gauge/LG-102?units=us")
	if answer.Request.URL.Path != "/level/login" || !strings.Contains(body, `value="/level/gauge/LG-102"`) {
		t.Fatalf("not sent to the login page: %s %.300s", answer.Request.URL, body)
	}
	if strings.Contains(body, "LG-102 ") || !strings.Contains(body, `autocomplete="current-password"`) || strings.Contains(body, "onpaste") {
		t.Errorf("the login page shows the plant, or hinders pasting: %s", body)
	}
	wrong := map[string]string{"a wrong password": "viewer", "a user who does not exist": "nobody-of-that-name"}
	said := map[string]bool{}
	for what, name := range wrong {
		answer, body := postForm(t, c, address+"/login", url.Values{"name": {name}, "password": {"not the password"}})
		if answer.StatusCode != http.StatusUnauthorized || !strings.Contains(body, "Name or password is wrong.") {
			t.Errorf("%s: %d %.300s", what, answer.StatusCode, body)
		}
		said[strings.ReplaceAll(body[strings.Index(body, "<main"):strings.Index(body, "</main")], name, "NAME")] = true
	}
	if len(said) != 1 {
		t.Error("the answers tell a wrong password from a user who does not exist")
	}
	answer, body = postForm(t, c, address+"/login", url.Values{"name": {"viewer"}, "password": {passphrase}, "then": {"/level/gauge/LG-102"}})
	if answer.Request.URL.Path != "/level/gauge/LG-102" || !strings.Contains(body, `href="/level/account"`) {
		t.Fatalf("logged in, but at %s: %.300s", answer.Request.URL, body)
	}
	if answer, body = visit(t, c, address+"/users"); answer.StatusCode != http.StatusForbidden || !strings.Contains(body, "This needs the role admin") || !strings.Contains(body, "Ask admin") {
		t.Errorf("a viewer gets the users: %d %.300s", answer.StatusCode, body)
	}
	if _, body = postForm(t, c, address+"/logout", nil); !strings.Contains(body, "<h1>Log in</h1>") {
		t.Error("logging out does not lead to the login page")
	}
	if answer, _ = visit(t, c, address+"/"); answer.Request.URL.Path != "/level/login" {
		t.Error("after logging out the pages are still there")
	}
}

func TestLoginLeadsNowhereElse(t *testing.T) {
	address, _ := peopled(t, Options{}, access.Options{})
	for _, then := range []string{"https://attacker.example/", "//attacker.example/", `/\attacker.example`, "javascript:alert(1)"} {
		answer, _ := postForm(t, visitor(t), address+"/login", url.Values{"name": {"viewer"}, "password": {passphrase}, "then": {then}})
		if got := answer.Request.URL; got.Path != "/" || !strings.HasPrefix(got.String(), address) {
			t.Errorf("then %q leads to %s", then, got)
		}
	}
}

// TestHalfFilledFormSurvivesTheEndOfASession: nothing that was typed is lost
// but passwords.
func TestHalfFilledFormSurvivesTheEndOfASession(t *testing.T) {
	address, _ := peopled(t, Options{}, access.Options{})
	c := visitor(t) // never logged in: as after the end of a session
	answer, body := postForm(t, c, address+"/alerts/quiet", url.Values{"gauges": {"LG-102"}, "why": {`boiler "B" is <down>`}, "for": {"8h"}, "password": {"not to be kept"}})
	if answer.StatusCode != http.StatusUnauthorized || !strings.Contains(body, "Your session had ended") || strings.Contains(body, "not to be kept") {
		t.Fatalf("status %d: %.600s", answer.StatusCode, body)
	}
	fields := hidden(body)
	if fields.Get("kept.why") != `boiler "B" is <down>` || fields.Get("then") != "/alerts/quiet" {
		t.Fatalf("kept %v", fields)
	}
	fields.Set("name", "engineer")
	fields.Set("password", "wrong at first")
	_, body = postForm(t, c, address+"/login", fields)
	fields = hidden(body)
	fields.Set("name", "engineer")
	fields.Set("password", passphrase)
	answer, body = postForm(t, c, address+"/login", fields)
	if answer.StatusCode != http.StatusOK || !strings.Contains(body, `action="/alerts/quiet"`) || !strings.Contains(body, "Send it") {
		t.Fatalf("status %d: %.900s", answer.StatusCode, body)
	}
	answer, body = postForm(t, c, address+"/alerts/quiet", hidden(body))
	if answer.StatusCode != http.StatusOK || answer.Request.URL.Query().Get("done") != "window" {
		t.Fatalf("the form was not taken: %d %s %.600s", answer.StatusCode, answer.Request.URL, body)
	}
	if _, body = visit(t, c, address+"/alerts?view=quiet"); !strings.Contains(body, "boiler &#34;B&#34; is &lt;down&gt;") {
		t.Error("the window is not there")
	}
}

// hidden collects the hidden fields of a page.
func hidden(page string) url.Values {
	v := url.Values{}
	unescape := strings.NewReplacer("&#34;", `"`, "&lt;", "<", "&gt;", ">", "&amp;", "&", "&#39;", "'", "&#43;", "+")
	for _, part := range strings.Split(page[strings.Index(page, "<main"):strings.Index(page, "</main")], `<input type="hidden" name="`)[1:] {
		name, rest, _ := strings.Cut(part, `" value="`)
		value, _, _ := strings.Cut(rest, `"`)
		v.Add(unescape.Replace(name), unescape.Replace(value))
	}
	return v
}

// TestActionsFromOtherSitesAreRefused: what a browser says about where a form
// comes from counts (Fetch Metadata, Origin).
func TestActionsFromOtherSitesAreRefused(t *testing.T) {
	address, _ := peopled(t, Options{}, access.Options{})
	c := visitor(t)
	enter(t, c, address, "engineer", passphrase)
	for _, tt := range []struct {
		name, header, value string
		status              int
	}{
		{"another site, by fetch metadata", "Sec-Fetch-Site", "cross-site", 403},
		{"a sibling site", "Sec-Fetch-Site", "same-site", 403},
		{"another site, by origin", "Origin", "https://attacker.example", 403},
		{"this site", "Sec-Fetch-Site", "same-origin", 422},
		{"this site, by origin", "Origin", address, 422},
	} {
		t.Run(tt.name, func(t *testing.T) {
			for _, path := range []string{"/alerts/act", "/login"} {
				r, err := http.NewRequest(http.MethodPost, address+path, strings.NewReader("verb=acknowledge&name=viewer&password=x"))
				if err != nil {
					t.Fatal(err)
				}
				r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
				r.Header.Set(tt.header, tt.value)
				answer, err := c.Do(r)
				if err != nil {
					t.Fatal(err)
				}
				read(t, answer)
				if got := answer.StatusCode; (got == http.StatusForbidden) != (tt.status == http.StatusForbidden) {
					t.Errorf("%s: status %d, want like %d", path, got, tt.status)
				}
			}
		})
	}
}

// TestManagingPeople goes the way of an admin through the pages.
func TestManagingPeople(t *testing.T) {
	address, a := peopled(t, Options{}, access.Options{})
	c := visitor(t)
	enter(t, c, address, "admin", passphrase)
	steps := []struct {
		name, path string
		form       url.Values
		says       string
	}{
		{"two passwords", "/users", url.Values{"name": {"ruiz"}, "role": {"viewer"}, "password": {passphrase}, "password-again": {"x"}}, "typed in two ways"},
		{"a short password", "/users", url.Values{"name": {"ruiz"}, "role": {"viewer"}, "password": {"short"}, "password-again": {"short"}}, "at least 12"},
		{"added", "/users", url.Values{"name": {"ruiz"}, "full_name": {"J. Ruiz"}, "role": {"viewer"}, "password": {passphrase}, "password-again": {passphrase}}, "The user was added."},
		{"added twice", "/users", url.Values{"name": {"Ruiz"}, "role": {"viewer"}, "password": {passphrase}, "password-again": {passphrase}}, "is a user &#34;ruiz&#34; already"},
		{"promoted", "/users/change", url.Values{"name": {"ruiz"}, "do": {"role"}, "role": {"technician"}}, "The role was changed."},
		{"of the configuration", "/users/change", url.Values{"name": {"viewer"}, "do": {"remove"}}, "is of the configuration"},
		{"nothing chosen", "/users/change", url.Values{"name": {"ruiz"}}, "Choose what to do"},
		{"a token without scope", "/tokens", url.Values{"name": {"reports"}, "days": {"30"}}, "no scope given"},
		{"a token", "/tokens", url.Values{"name": {"reports"}, "days": {"30"}, "scope": {"read"}}, access.TokenPrefix},
		{"revoked", "/tokens/revoke", url.Values{"name": {"reports"}}, "The token was revoked."},
		{"removed", "/users/change", url.Values{"name": {"ruiz"}, "do": {"remove"}}, "The user was removed."},
	}
	for _, step := range steps {
		if _, body := postForm(t, c, address+step.path, step.form); !strings.Contains(strings.ToLower(body), strings.ToLower(step.says)) {
			t.Errorf("%s: the page does not say %q: %s", step.name, step.says, body[strings.Index(body, "<main"):])
		}
	}
	if _, ok := a.User("ruiz"); ok {
		t.Error("the removed user is still there")
	}
	_, body := visit(t, c, address+"/audit?check=1")
	for _, words := range []string{"added the user ruiz", "J. Ruiz, role viewer", "role technician", "made the token reports", "removed the user ruiz", "Whole: 5 entries"} {
		if !strings.Contains(body, words) {
			t.Errorf("the audit log does not say %q", words)
		}
	}
}

func TestAccessByProgram(t *testing.T) {
	address, a := peopled(t, Options{}, access.Options{})
	text, err := a.AddToken(t.Context(), access.Actor{Name: "test"}, access.Token{Name: "setup", Scopes: []access.Scope{access.Read, access.Management}})
	if err != nil {
		t.Fatal(err)
	}
	call := func(method, path, body string) (int, string) {
		t.Helper()
		r, err := http.NewRequest(method, address+"/api/v1"+path, strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Authorization", "Bearer "+text)
		r.Header.Set("Content-Type", "application/json")
		answer, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		return answer.StatusCode, read(t, answer)
	}
	for _, step := range []struct {
		method, path, body string
		status             int
		says               string
	}{
		{"GET", "/gauges", "", 200, "LG-102"},
		{"GET", "/openapi.json", "", 200, `"scheme":"bearer"`},
		{"GET", "/audit/verification", "", 200, `"entries":1`},
		{"POST", "/users", `{"name":"ruiz","role":"viewer","password":"` + passphrase + `"}`, 200, `"role":"viewer"`},
		{"POST", "/users", `{"name":"ruiz","role":"boss","password":"` + passphrase + `"}`, 422, "role"},
		{"PUT", "/users/ruiz/role", `{"role":"engineer"}`, 200, `"role":"engineer"`},
		{"PUT", "/users/ruiz/password", `{"password":"another four words here"}`, 200, `"name":"ruiz"`},
		{"PUT", "/users/nobody/role", `{"role":"engineer"}`, 422, "there is no user"},
		{"DELETE", "/users/ruiz", "", 200, "ruiz"},
		{"POST", "/tokens", `{"name":"t2","scopes":["read"]}`, 200, access.TokenPrefix},
		{"GET", "/tokens", "", 200, `"name":"t2"`},
		{"DELETE", "/tokens/t2", "", 200, "t2"},
		{"GET", "/audit?limit=2", "", 200, "revoked the token"},
		{"POST", "/alert/act", `{"alert":"x","verb":"acknowledge"}`, 403, "needs the scope alert"},
	} {
		status, body := call(step.method, step.path, step.body)
		if status != step.status || !strings.Contains(body, step.says) {
			t.Errorf("%s %s: %d %s; want %d and %q", step.method, step.path, status, body, step.status, step.says)
		}
		if step.path != "/openapi.json" && (strings.Contains(body, "argon2id") || strings.Contains(body, "sha256")) {
			t.Errorf("%s %s tells a hash: %s", step.method, step.path, body)
		}
	}
}

// TestAuditOfActions: what people do with alerts is in the audit log too.
func TestAuditOfActions(t *testing.T) {
	address, _ := peopled(t, Options{}, access.Options{})
	c := visitor(t)
	enter(t, c, address, "engineer", passphrase)
	postForm(t, c, address+"/alerts/quiet", url.Values{"gauges": {"LG-102"}, "why": {"boiler is down"}, "for": {"8h"}})
	admin := visitor(t)
	enter(t, admin, address, "admin", passphrase)
	_, body := visit(t, admin, address+"/audit")
	for _, words := range []string{"added the quiet window", "engineer", "why: boiler is down"} {
		if !strings.Contains(body, words) {
			t.Errorf("the audit log does not say %q", words)
		}
	}
}

func read(t *testing.T, answer *http.Response) string {
	t.Helper()
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(body)
}
