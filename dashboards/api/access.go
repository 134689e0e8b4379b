package api

import (
	"context"
	"errors"
	"net/http"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/access/audit"
)

// people and programs are managed by admins; see Options.Access.
func (s *service) access(a huma.API) {
	if s.Access == nil {
		return
	}
	call := func(method, id, path, summary string) huma.Operation {
		return huma.Operation{OperationID: id, Method: method, Path: Prefix + path, Summary: summary, DefaultStatus: http.StatusOK}
	}
	huma.Register(a, call(http.MethodGet, "list-users", "/users", "Who may log in"), s.users)
	huma.Register(a, call(http.MethodPost, "add-user", "/users", "Add a user"), s.addUser)
	huma.Register(a, call(http.MethodPut, "set-role", "/users/{name}/role", "Give a user another role"), s.setRole)
	huma.Register(a, call(http.MethodPut, "set-password", "/users/{name}/password", "Give a user another password; sessions of the user end"), s.setPassword)
	huma.Register(a, call(http.MethodDelete, "remove-user", "/users/{name}", "Remove a user"), s.removeUser)
	huma.Register(a, call(http.MethodGet, "list-tokens", "/tokens", "Which programs may come in"), s.tokens)
	huma.Register(a, call(http.MethodPost, "add-token", "/tokens", "Make a token; its text is answered this once"), s.addToken)
	huma.Register(a, call(http.MethodDelete, "revoke-token", "/tokens/{name}", "Revoke a token"), s.revokeToken)
	huma.Register(a, call(http.MethodGet, "get-audit-log", "/audit", "What people and programs changed, newest first"), s.auditLog)
	huma.Register(a, call(http.MethodGet, "verify-audit-log", "/audit/verification", "Whether the audit log is whole"), s.verifyAudit)
}

// secure says in the document how programs come in.
func secure(c *huma.Config) {
	c.Components.SecuritySchemes = map[string]*huma.SecurityScheme{"token": {
		Type: "http", Scheme: "bearer",
		Description: "An access token: bridlewatch token add NAME, or the page Tokens. What it opens is read, alert, record or admin; a call beyond it is answered with 403.",
	}}
	c.Security = []map[string][]string{{"token": {}}}
}

// wish answers with what access said.
func wish[O any](out *O, err error) (*O, error) {
	var invalid *access.InvalidError
	switch {
	case err == nil:
		return out, nil
	case errors.As(err, &invalid):
		return nil, huma.Error422UnprocessableEntity(err.Error())
	}
	return nil, huma.Error500InternalServerError(err.Error())
}

// User is somebody who may log in.
type User struct {
	Name     string    `json:"name"`
	FullName string    `json:"full_name,omitempty"`
	Role     string    `json:"role" enum:"viewer,technician,engineer,admin"`
	Changed  time.Time `json:"changed,omitzero"`
	Fixed    bool      `json:"fixed" doc:"of the configuration: is changed there"`
}

// UserOf is a user as the interface shows them.
func UserOf(u access.User) User {
	return User{Name: u.Name, FullName: u.FullName, Role: string(u.Role), Changed: u.Since, Fixed: u.Fixed}
}

func (s *service) users(context.Context, *struct{}) (*body[[]User], error) {
	out := &body[[]User]{[]User{}}
	for _, u := range s.Access.Users() {
		out.Body = append(out.Body, UserOf(u))
	}
	return out, nil
}

// NewUser is somebody to be added.
type NewUser struct {
	Name     string `json:"name" minLength:"1" maxLength:"64"`
	FullName string `json:"full_name,omitempty"`
	Role     string `json:"role" enum:"viewer,technician,engineer,admin"`
	Password string `json:"password" doc:"at least 12 characters"`
}

func (s *service) addUser(ctx context.Context, in *struct{ Body NewUser }) (*body[User], error) {
	u := access.User{Name: in.Body.Name, FullName: in.Body.FullName, Role: access.Role(in.Body.Role)}
	if err := s.Access.AddUser(ctx, access.From(ctx), u, in.Body.Password); err != nil {
		return wish[body[User]](nil, err)
	}
	return s.oneUser(u.Name)
}

func (s *service) oneUser(name string) (*body[User], error) {
	u, _ := s.Access.User(name)
	return &body[User]{UserOf(u)}, nil
}

// ByName is the input of calls about one user or token.
type ByName struct {
	Name string `path:"name"`
}

// NewRole is the role somebody gets.
type NewRole struct {
	Role string `json:"role" enum:"viewer,technician,engineer,admin"`
}

func (s *service) setRole(ctx context.Context, in *struct {
	ByName
	Body NewRole
}) (*body[User], error) {
	if err := s.Access.SetRole(ctx, access.From(ctx), in.Name, access.Role(in.Body.Role)); err != nil {
		return wish[body[User]](nil, err)
	}
	return s.oneUser(in.Name)
}

// NewPassword is the password somebody gets.
type NewPassword struct {
	Password string `json:"password" doc:"at least 12 characters"`
}

func (s *service) setPassword(ctx context.Context, in *struct {
	ByName
	Body NewPassword
}) (*body[User], error) {
	if err := s.Access.SetPassword(ctx, access.From(ctx), in.Name, in.Body.Password); err != nil {
		return wish[body[User]](nil, err)
	}
	return s.oneUser(in.Name)
}

// Gone names what is no more.
type Gone struct {
	Name string `json:"name"`
}

func (s *service) removeUser(ctx context.Context, in *ByName) (*body[Gone], error) {
	return wish(&body[Gone]{Gone{in.Name}}, s.Access.RemoveUser(ctx, access.From(ctx), in.Name))
}

// Token lets a program in.
type Token struct {
	Name    string    `json:"name"`
	Role    string    `json:"role" enum:"viewer,technician,engineer,admin"`
	Scopes  []string  `json:"scopes"`
	Made    time.Time `json:"made,omitzero"`
	By      string    `json:"by"`
	Expires time.Time `json:"expires,omitzero" doc:"left out: never"`
	Used    time.Time `json:"used,omitzero" doc:"last time since the service started"`
	Fixed   bool      `json:"fixed" doc:"of the configuration: is changed there"`
	Text    string    `json:"token,omitempty" doc:"the token itself, only in the answer that makes it"`
}

// TokenOf is a token as the interface shows it.
func TokenOf(t access.Token) Token {
	out := Token{Name: t.Name, Role: string(t.Role), Made: t.Made, By: t.By, Expires: t.Expires, Used: t.Used, Fixed: t.Fixed}
	for _, scope := range t.Scopes {
		out.Scopes = append(out.Scopes, string(scope))
	}
	return out
}

func (s *service) tokens(context.Context, *struct{}) (*body[[]Token], error) {
	out := &body[[]Token]{[]Token{}}
	for _, t := range s.Access.Tokens() {
		out.Body = append(out.Body, TokenOf(t))
	}
	return out, nil
}

// NewToken is a token to be made.
type NewToken struct {
	Name    string    `json:"name" minLength:"1" maxLength:"64" doc:"what it is for"`
	Scopes  []string  `json:"scopes" minItems:"1" enum:"read,alert,record,admin"`
	Role    string    `json:"role,omitempty" enum:"viewer,technician,engineer,admin" doc:"left out: the least that can use the scopes"`
	Expires time.Time `json:"expires,omitzero" required:"false" doc:"left out: never"`
}

func (s *service) addToken(ctx context.Context, in *struct{ Body NewToken }) (*body[Token], error) {
	t := access.Token{Name: in.Body.Name, Role: access.Role(in.Body.Role), Expires: in.Body.Expires}
	for _, scope := range in.Body.Scopes {
		t.Scopes = append(t.Scopes, access.Scope(scope))
	}
	text, err := s.Access.AddToken(ctx, access.From(ctx), t)
	if err != nil {
		return wish[body[Token]](nil, err)
	}
	for _, made := range s.Access.Tokens() {
		if made.Name == t.Name {
			t = made
		}
	}
	out := TokenOf(t)
	out.Text = text
	return &body[Token]{out}, nil
}

func (s *service) revokeToken(ctx context.Context, in *ByName) (*body[Gone], error) {
	return wish(&body[Gone]{Gone{in.Name}}, s.Access.RevokeToken(ctx, access.From(ctx), in.Name))
}

// auditInput asks for a part of the audit log.
type auditInput struct {
	Before int `query:"before" minimum:"0" doc:"only entries with a lower number; left out: the newest"`
	Limit  int `query:"limit" minimum:"1" maximum:"10000" default:"100"`
}

func (s *service) auditLog(ctx context.Context, in *auditInput) (*body[[]audit.Entry], error) {
	list, err := audit.List(ctx, s.Store, in.Before, in.Limit)
	if err != nil {
		return nil, huma.Error500InternalServerError("the audit log could not be read", err)
	}
	return &body[[]audit.Entry]{append([]audit.Entry{}, list...)}, nil
}

func (s *service) verifyAudit(ctx context.Context, _ *struct{}) (*body[audit.Report], error) {
	report, err := audit.Verify(ctx, s.Store)
	if err != nil {
		return nil, huma.Error500InternalServerError(err.Error())
	}
	return &body[audit.Report]{report}, nil
}
