package page

import (
	"net/http"
	"strconv"
	"strings"
	"time"

	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/access/audit"
)

// usersPage lists who may log in.
type usersPage struct {
	Shell
	Users         []userRow
	Roles         []roleChoice
	Adding        access.User // what was filled in and not taken
	Trouble, Done string
}

type userRow struct {
	access.User
	SinceWords string
	Roles      []roleChoice
	Self       bool
}

type roleChoice struct {
	Value, Words string
	Selected     bool
}

func roleChoices(chosen access.Role) []roleChoice {
	var out []roleChoice
	for _, r := range access.Roles() {
		out = append(out, roleChoice{string(r), roleWords[r], r == chosen})
	}
	return out
}

// usersDone are the words that confirm a change.
var usersDone = map[string]string{
	"add": "The user was added.", "role": "The role was changed.", "password": "The password was changed.", "remove": "The user was removed.",
	"revoke": "The token was revoked.",
}

func (p *Pages) users(w http.ResponseWriter, r *http.Request) {
	p.writeUsers(w, r, http.StatusOK, access.User{Role: access.Viewer}, "")
}

func (p *Pages) writeUsers(w http.ResponseWriter, r *http.Request, status int, adding access.User, trouble string) {
	page := usersPage{Shell: p.shell(r, navService, "Users"), Adding: adding, Roles: roleChoices(adding.Role), Trouble: trouble}
	if trouble == "" {
		page.Done = usersDone[r.URL.Query().Get("done")]
	}
	self := access.From(r.Context()).Name
	for _, u := range p.Access.Users() {
		row := userRow{User: u, Roles: roleChoices(u.Role), Self: u.Name == self, SinceWords: "of the configuration"}
		if !u.Fixed {
			row.SinceWords = p.Zone.Full(u.Since)
		}
		page.Users = append(page.Users, row)
	}
	p.write(w, status, "users", "layout", page)
}

func (p *Pages) addUser(w http.ResponseWriter, r *http.Request) {
	get, ok := p.posted(w, r)
	if !ok {
		return
	}
	u := access.User{Name: strings.TrimSpace(get("name")), FullName: strings.TrimSpace(get("full_name")), Role: access.Role(get("role"))}
	if get("password") != get("password-again") {
		p.writeUsers(w, r, http.StatusUnprocessableEntity, u, "The password was typed in two ways. Type it again.")
		return
	}
	if err := p.Access.AddUser(r.Context(), access.From(r.Context()), u, get("password")); err != nil {
		p.writeUsers(w, r, http.StatusUnprocessableEntity, u, upperFirst(err.Error())+".")
		return
	}
	http.Redirect(w, r, p.Base+"/users?done=add", http.StatusSeeOther)
}

// changeUser gives somebody another role or password, or removes them.
func (p *Pages) changeUser(w http.ResponseWriter, r *http.Request) {
	get, ok := p.posted(w, r)
	if !ok {
		return
	}
	ctx, by, name, do := r.Context(), access.From(r.Context()), get("name"), get("do")
	var err error
	switch do {
	case "role":
		err = p.Access.SetRole(ctx, by, name, access.Role(get("role")))
	case "password":
		err = p.Access.SetPassword(ctx, by, name, get("password"))
	case "remove":
		err = p.Access.RemoveUser(ctx, by, name)
	default:
		p.writeUsers(w, r, http.StatusUnprocessableEntity, access.User{Role: access.Viewer}, "Choose what to do: role, password or remove.")
		return
	}
	if err != nil {
		p.writeUsers(w, r, http.StatusUnprocessableEntity, access.User{Role: access.Viewer}, upperFirst(err.Error())+".")
		return
	}
	http.Redirect(w, r, p.Base+"/users?done="+do, http.StatusSeeOther)
}

// tokensPage lists the programs that may come in.
type tokensPage struct {
	Shell
	Tokens        []tokenRow
	Name          string // what was filled in and not taken
	Days          string
	Scopes        []scopeChoice
	Made          string // the new token, shown this once
	Trouble, Done string
}

type tokenRow struct {
	access.Token
	ScopeWords, MadeWords, ExpiresWords, UsedWords string
	Over                                           bool
}

type scopeChoice struct {
	Value, Words string
	Chosen       bool
}

var scopeWords = []scopeChoice{
	{Value: string(access.Read), Words: "read: gauges, evidence, history, metrics"},
	{Value: string(access.Alerting), Words: "alert: acknowledge, assign, shelve"},
	{Value: string(access.Recording), Words: "record: records, proofs, files to import"},
	{Value: string(access.Management), Words: "admin: users, tokens, audit log"},
}

func (p *Pages) tokens(w http.ResponseWriter, r *http.Request) {
	p.writeTokens(w, r, http.StatusOK, tokensPage{Days: "365", Done: usersDone[r.URL.Query().Get("done")]}, []access.Scope{access.Read})
}

func (p *Pages) writeTokens(w http.ResponseWriter, r *http.Request, status int, page tokensPage, chosen []access.Scope) {
	page.Shell = p.shell(r, navService, "Tokens")
	for _, s := range scopeWords {
		s.Chosen = strings.Contains(access.ScopeWords(chosen), s.Value)
		page.Scopes = append(page.Scopes, s)
	}
	now := time.Now()
	for _, t := range p.Access.Tokens() {
		row := tokenRow{Token: t, ScopeWords: access.ScopeWords(t.Scopes), MadeWords: "of the configuration", ExpiresWords: "never", UsedWords: "not since the start", Over: !t.Usable(now)}
		if !t.Fixed {
			row.MadeWords = p.Zone.Full(t.Made) + " by " + t.By
		}
		if !t.Expires.IsZero() {
			row.ExpiresWords = p.Zone.Full(t.Expires)
		}
		if !t.Used.IsZero() {
			row.UsedWords = p.ago(t.Used, now)
		}
		page.Tokens = append(page.Tokens, row)
	}
	p.write(w, status, "tokens", "layout", page)
}

// tokenDays are the times tokens can last, in days; "0" has no end.
var tokenDays = map[string]int{"30": 30, "90": 90, "365": 365, "0": 0}

func (p *Pages) addToken(w http.ResponseWriter, r *http.Request) {
	get, ok := p.posted(w, r)
	if !ok {
		return
	}
	page := tokensPage{Name: strings.TrimSpace(get("name")), Days: get("days")}
	scopes, err := access.ParseScopes(strings.Join(r.PostForm["scope"], ","))
	if err == nil {
		t := access.Token{Name: page.Name, Scopes: scopes}
		if days, ok := tokenDays[page.Days]; !ok || days > 0 {
			t.Expires = time.Now().AddDate(0, 0, max(days, 1))
		}
		page.Made, err = p.Access.AddToken(r.Context(), access.From(r.Context()), t)
	}
	status := http.StatusOK
	if err != nil {
		status, page.Trouble = http.StatusUnprocessableEntity, upperFirst(err.Error())+"."
	}
	p.writeTokens(w, r, status, page, scopes)
}

func (p *Pages) revokeToken(w http.ResponseWriter, r *http.Request) {
	get, ok := p.posted(w, r)
	if !ok {
		return
	}
	if err := p.Access.RevokeToken(r.Context(), access.From(r.Context()), get("name")); err != nil {
		p.writeTokens(w, r, http.StatusUnprocessableEntity, tokensPage{Days: "365", Trouble: upperFirst(err.Error()) + "."}, nil)
		return
	}
	http.Redirect(w, r, p.Base+"/tokens?done=revoke", http.StatusSeeOther)
}

// auditPage is the log of what people and programs changed.
type auditPage struct {
	Shell
	Entries []auditRow
	Older   int // number to go on before, 0 at the end
	Checked string
	Trouble string
}

type auditRow struct {
	audit.Entry
	When string
}

// auditLines is how many entries a page has.
const auditLines = 100

func (p *Pages) auditLog(w http.ResponseWriter, r *http.Request) {
	page := auditPage{Shell: p.shell(r, navService, "Audit log")}
	q := r.URL.Query()
	list, err := audit.List(r.Context(), p.Store, entryNumber(q.Get("before")), auditLines)
	for _, e := range list {
		page.Entries = append(page.Entries, auditRow{e, p.Zone.Full(e.Time)})
	}
	if n := len(list); n == auditLines && list[n-1].Number > 1 {
		page.Older = list[n-1].Number
	}
	if err == nil && q.Get("check") != "" {
		page.Checked, err = p.checkedAudit(r)
	}
	if err != nil {
		page.Trouble = upperFirst(err.Error()) + "."
	}
	p.write(w, http.StatusOK, "audit", "layout", page)
}

// checkedAudit verifies the log and says what was found whole.
func (p *Pages) checkedAudit(r *http.Request) (string, error) {
	report, err := audit.Verify(r.Context(), p.Store)
	if err != nil {
		return "", err
	}
	return report.Words(), nil
}

// entryNumber reads a whole number from an address; 0 when it is none.
func entryNumber(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil {
		return 0
	}
	return n
}
