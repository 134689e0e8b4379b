package page

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"bridlewatch/dashboards/access"
)

// loginPage asks who somebody is. A form that was sent while the session had
// run out is carried along and is not lost.
type loginPage struct {
	Shell
	Name    string
	Then    string // where to go afterwards, or where the carried form goes
	Trouble string
	Carried []carried
	Dropped bool // secrets of the carried form must be typed again
	First   bool // there is no user yet
	Open    bool // nobody needs to log in
}

// carried is one field of a form that waits for its sender to log in.
type carried struct{ Name, Value string }

// carriedPrefix begins the names of carried fields.
const carriedPrefix = "kept."

// accessRoutes adds the pages about people and programs.
func (p *Pages) accessRoutes(mux router) {
	if p.Access == nil {
		return
	}
	mux.HandleFunc("GET /login", p.login)
	mux.HandleFunc("POST /login", p.logIn)
	mux.HandleFunc("POST /logout", p.logOut)
	mux.HandleFunc("GET /account", p.account)
	mux.HandleFunc("POST /account/password", p.changePassword)
	mux.HandleFunc("GET /users", p.users)
	mux.HandleFunc("POST /users", p.addUser)
	mux.HandleFunc("POST /users/change", p.changeUser)
	mux.HandleFunc("GET /tokens", p.tokens)
	mux.HandleFunc("POST /tokens", p.addToken)
	mux.HandleFunc("POST /tokens/revoke", p.revokeToken)
	mux.HandleFunc("GET /audit", p.auditLog)
}

// router is what routes are added to.
type router interface {
	HandleFunc(pattern string, handler func(http.ResponseWriter, *http.Request))
}

// Refused shows why somebody was not let in; with the login form when that
// helps.
func (p *Pages) Refused(w http.ResponseWriter, r *http.Request, no access.Refusal) {
	if !no.LogIn {
		text := no.Text
		if len(no.Ask) > 0 {
			text += " Ask " + strings.Join(no.Ask, ", ") + "."
		}
		p.say(w, r, no.Status, no.Title, text)
		return
	}
	if r.Method == http.MethodGet || r.Method == http.MethodHead {
		http.Redirect(w, r, p.Base+"/login?"+url.Values{"then": {p.Base + r.URL.RequestURI()}}.Encode(), http.StatusSeeOther)
		return
	}
	page := p.newLogin(r)
	page.Then = p.Base + r.URL.Path
	r.Body = http.MaxBytesReader(w, r.Body, 256<<10)
	if err := r.ParseForm(); err != nil {
		page.Trouble = "Your session has ended, and the form was too large to be kept. Go back in your browser before you log in: what you filled in is still there."
	}
	page.carry(r.PostForm)
	p.write(w, no.Status, "login", "layout", page)
}

// carry keeps the fields of a form, but for passwords.
func (l *loginPage) carry(form url.Values) {
	for name, values := range form {
		if strings.Contains(name, "password") {
			l.Dropped = true
			continue
		}
		for _, v := range values {
			l.Carried = append(l.Carried, carried{name, v})
		}
	}
	slices.SortStableFunc(l.Carried, func(a, b carried) int { return strings.Compare(a.Name, b.Name) })
}

func (p *Pages) newLogin(r *http.Request) loginPage {
	return loginPage{Shell: p.shell(r, "", "Log in"), First: len(p.Access.Users()) == 0, Open: p.Access.Openness() != access.LogIn}
}

func (p *Pages) login(w http.ResponseWriter, r *http.Request) {
	page := p.newLogin(r)
	page.Then = p.back(r.URL.Query().Get("then"))
	p.write(w, http.StatusOK, "login", "layout", page)
}

// logIn lets somebody in, or says that it did not, but never why.
func (p *Pages) logIn(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, 512<<10)
	page := p.newLogin(r)
	if err := r.ParseForm(); err != nil {
		page.Trouble, page.Then = "The form was not understood.", p.Base+"/"
		p.write(w, http.StatusBadRequest, "login", "layout", page)
		return
	}
	page.Name, page.Then = r.PostForm.Get("name"), p.back(r.PostForm.Get("then"))
	kept := url.Values{}
	for name, values := range r.PostForm {
		if field, ok := strings.CutPrefix(name, carriedPrefix); ok {
			kept[field] = values
		}
	}
	page.carry(kept)
	err := p.Access.LogIn(r, page.Name, r.PostForm.Get("password"))
	var many *access.TooManyError
	switch {
	case err == nil && len(page.Carried) > 0:
		page.Shell = p.shell(r, "", "Logged in")
		p.write(w, http.StatusOK, "resume", "layout", page)
	case err == nil:
		http.Redirect(w, r, page.Then, http.StatusSeeOther)
	case errors.As(err, &many):
		page.Trouble = upperFirst(many.Error()) + "."
		p.write(w, http.StatusTooManyRequests, "login", "layout", page)
	case errors.Is(err, access.ErrLogIn):
		page.Trouble = "Name or password is wrong."
		p.write(w, http.StatusUnauthorized, "login", "layout", page)
	default:
		page.Trouble = "Logging in did not work: " + err.Error() + "."
		p.write(w, http.StatusInternalServerError, "login", "layout", page)
	}
}

func (p *Pages) logOut(w http.ResponseWriter, r *http.Request) {
	if err := p.Access.LogOut(r); err != nil {
		p.say(w, r, http.StatusInternalServerError, "Logging out did not work", err.Error())
		return
	}
	http.Redirect(w, r, p.Base+"/login", http.StatusSeeOther)
}

// accountPage is what somebody can change about their own login.
type accountPage struct {
	Shell
	Name, FullName, RoleWords string
	Fixed                     bool
	Trouble, Done             string
}

// roleWords say what a role is for.
var roleWords = map[access.Role]string{
	access.Viewer:     "viewer: reads everything but users, tokens and the audit log",
	access.Technician: "technician: also acknowledges alerts, records and proves",
	access.Engineer:   "engineer: also sets limits, quiet windows and new baselines",
	access.Admin:      "admin: also manages users and tokens and reads the audit log",
}

func (p *Pages) account(w http.ResponseWriter, r *http.Request) {
	p.writeAccount(w, r, http.StatusOK, "", map[string]string{"password": "The password was changed. Every other session of yours has ended."}[r.URL.Query().Get("done")])
}

func (p *Pages) writeAccount(w http.ResponseWriter, r *http.Request, status int, trouble, done string) {
	who := access.From(r.Context())
	u, _ := p.Access.User(who.Name)
	p.write(w, status, "account", "layout", accountPage{
		Shell: p.shell(r, "", "Your account"), Name: u.Name, FullName: u.FullName, RoleWords: roleWords[u.Role], Fixed: u.Fixed, Trouble: trouble, Done: done,
	})
}

func (p *Pages) changePassword(w http.ResponseWriter, r *http.Request) {
	get, ok := p.posted(w, r)
	if !ok {
		return
	}
	if get("password-new") != get("password-again") {
		p.writeAccount(w, r, http.StatusUnprocessableEntity, "The new password was typed in two ways. Type it again.", "")
		return
	}
	if err := p.Access.ChangeOwnPassword(r, get("password-old"), get("password-new")); err != nil {
		p.writeAccount(w, r, http.StatusUnprocessableEntity, upperFirst(err.Error())+".", "")
		return
	}
	http.Redirect(w, r, p.Base+"/account?done=password", http.StatusSeeOther)
}

// posted reads a small form; it answers itself when that fails.
func (p *Pages) posted(w http.ResponseWriter, r *http.Request) (get func(string) string, ok bool) {
	r.Body = http.MaxBytesReader(w, r.Body, 64<<10)
	if err := r.ParseForm(); err != nil {
		p.say(w, r, http.StatusBadRequest, "The form was not understood", err.Error())
		return nil, false
	}
	return r.PostForm.Get, true
}

// fillWho says who is logged in. Somebody who is not is told nothing of the
// service beside its name.
func (p *Pages) fillWho(r *http.Request, s *Shell) {
	if p.Access == nil || p.Access.Openness() != access.LogIn {
		return
	}
	s.LogsIn = true
	who := access.From(r.Context())
	if who.Via == access.BySession {
		s.Who = who.Shown()
	}
	if s.Role = who.Role; s.Role == access.Nobody {
		s.Notices, s.Version = nil, ""
	}
}
