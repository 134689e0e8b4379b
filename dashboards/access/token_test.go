package access

import (
	"crypto/sha256"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"net/http"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/dashboards/plant/planttest"
)

var someAdmin = Actor{Name: "admin", Role: Admin, Via: BySession}

func withToken(h http.Handler, text, pattern string) int {
	r := mustRequest(pattern)
	r.Header.Set("Authorization", "Bearer "+text)
	return send(h, r).Code
}

func TestTokenIsShownOnceAndKeptAsHash(t *testing.T) {
	m := planttest.NewMemory()
	a := openAccess(t, Options{Store: m})
	text, err := a.AddToken(t.Context(), someAdmin, Token{Name: "reports", Scopes: []Scope{Read}})
	if err != nil {
		t.Fatal(err)
	}
	if !regexp.MustCompile(`^bridlewatch_[A-Za-z0-9_-]{49}$`).MatchString(text) || !LooksLikeToken(text) {
		t.Errorf("token %q does not have the form scanners look for", text)
	}
	for _, wrong := range []string{"", "bridlewatch_", text[:len(text)-1], text + "A", strings.Replace(text, "bridlewatch_", "bridlewatcH_", 1), text[:20] + flip(text[20]) + text[21:]} {
		if LooksLikeToken(wrong) {
			t.Errorf("%q passes for a token", wrong)
		}
	}
	docs, err := m.Documents(t.Context(), store.Query{})
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range docs {
		if strings.Contains(string(d.Body), text[12:55]) {
			t.Errorf("the token is kept: %s", d.Body)
		}
	}
	if got := withToken(gated(openAccess(t, Options{Store: m})), text, "GET /api/v1/gauges"); got != http.StatusOK {
		t.Errorf("after a restart the token gets %d", got)
	}
}

func flip(c byte) string {
	if c == 'A' {
		return "B"
	}
	return "A"
}

func TestTokenScopesAndExpiry(t *testing.T) {
	c := newClock()
	a := openAccess(t, Options{Now: c.now})
	h := gated(a)
	text, err := a.AddToken(t.Context(), someAdmin, Token{Name: "handheld", Scopes: []Scope{Read, Alerting}, Expires: c.now().Add(time.Hour)})
	if err != nil {
		t.Fatal(err)
	}
	for pattern, want := range map[string]int{
		"GET /api/v1/gauges":       200,
		"GET /{$}":                 200,
		"POST /api/v1/alert/act":   200,
		"POST /api/v1/quiet/add":   403, // role
		"POST /gauge/{tag}/record": 403, // scope
		"GET /api/v1/users":        403,
		"GET /account":             403, // a program has none
	} {
		if got := withToken(h, text, pattern); got != want {
			t.Errorf("%s: %d, want %d", pattern, got, want)
		}
	}
	c.pass(time.Hour - time.Second)
	if got := withToken(h, text, "GET /api/v1/gauges"); got != http.StatusOK {
		t.Errorf("a second before the end: %d", got)
	}
	c.pass(time.Second)
	if got := withToken(h, text, "GET /api/v1/gauges"); got != http.StatusUnauthorized {
		t.Errorf("at the end: %d", got)
	}
}

func TestRevokedTokenIsRefusedAtOnce(t *testing.T) {
	a := openAccess(t, Options{})
	text, err := a.AddToken(t.Context(), someAdmin, Token{Name: "reports", Scopes: []Scope{Read}})
	if err != nil {
		t.Fatal(err)
	}
	h := gated(a)
	if got := withToken(h, text, "GET /api/v1/gauges"); got != http.StatusOK {
		t.Fatalf("status %d", got)
	}
	if err := a.RevokeToken(t.Context(), someAdmin, "reports"); err != nil {
		t.Fatal(err)
	}
	if got := withToken(h, text, "GET /api/v1/gauges"); got != http.StatusUnauthorized {
		t.Errorf("revoked: %d", got)
	}
}

// TestSessionDoesNotHelpAWrongToken: whoever sends a token is judged by it.
func TestSessionDoesNotHelpAWrongToken(t *testing.T) {
	h := gated(openAccess(t, Options{Users: people()}))
	r := mustRequest("GET /api/v1/gauges")
	r.Header.Set("Authorization", "Bearer wrong")
	if got := send(h, r, sessionOf(t, h, "admin")).Code; got != http.StatusUnauthorized {
		t.Errorf("status %d", got)
	}
}

func TestWishesThatAreRefused(t *testing.T) {
	c := newClock()
	a := openAccess(t, Options{Users: people()[:3], Now: c.now})
	if err := a.AddUser(t.Context(), someAdmin, User{Name: "ruiz", Role: Admin}, goodPassword); err != nil {
		t.Fatal(err)
	}
	token := func(tk Token) error {
		_, err := a.AddToken(t.Context(), someAdmin, tk)
		return err
	}
	tests := []struct {
		name string
		err  error
		says string
	}{
		{"user without a name", a.AddUser(t.Context(), someAdmin, User{Role: Viewer}, goodPassword), "needs a name"},
		{"user with a slash", a.AddUser(t.Context(), someAdmin, User{Name: "a/b", Role: Viewer}, goodPassword), "cannot be part of the name"},
		{"user with a line break", a.AddUser(t.Context(), someAdmin, User{Name: "a\nb", Role: Viewer}, goodPassword), "cannot be part of the name"},
		{"user of no role", a.AddUser(t.Context(), someAdmin, User{Name: "x", Role: "boss"}, goodPassword), `role "boss"`},
		{"user twice", a.AddUser(t.Context(), someAdmin, User{Name: "RUIZ", Role: Viewer}, goodPassword), `a user "ruiz" already`},
		{"last admin demoted", a.SetRole(t.Context(), someAdmin, "ruiz", Engineer), "last admin"},
		{"last admin removed", a.RemoveUser(t.Context(), someAdmin, "ruiz"), "last admin"},
		{"user of the configuration", a.SetPassword(t.Context(), someAdmin, "viewer", "quiet river stone lamp"), "of the configuration"},
		{"unknown user", a.RemoveUser(t.Context(), someAdmin, "nobody"), "there is no user"},
		{"token without scope", token(Token{Name: "x"}), "no scope"},
		{"token beyond its role", token(Token{Name: "x", Role: Viewer, Scopes: []Scope{Alerting}}), "needs the role technician"},
		{"token over before it begins", token(Token{Name: "x", Scopes: []Scope{Read}, Expires: c.now().Add(-time.Hour)}), "expired"},
		{"unknown token", a.RevokeToken(t.Context(), someAdmin, "x"), "there is no token"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if tt.err == nil || !strings.Contains(tt.err.Error(), tt.says) {
				t.Errorf("error %v, want %q", tt.err, tt.says)
			}
		})
	}
}

// TestEveryTokenIsLookedAt: finding one takes no less than missing all.
func TestEveryTokenIsLookedAt(t *testing.T) {
	var list []*Token
	for i := range 5 {
		list = append(list, &Token{Name: fmt.Sprint(i), sum: sha256.Sum256(fmt.Append(nil, "token ", i))})
	}
	for i := range 5 {
		if got := matching(list, fmt.Sprint("token ", i)); got != list[i] {
			t.Errorf("token %d found %v", i, got)
		}
	}
	if got := matching(list, "token 5"); got != nil {
		t.Errorf("an unknown token found %v", got)
	}
}

// TestSecretsAreComparedInConstantTime reads the code of this package: hashes
// and marks are never compared by ==, != or a function that stops at the first
// difference.
func TestSecretsAreComparedInConstantTime(t *testing.T) {
	secret := regexp.MustCompile(`\b(sum|key|hash|mark\(\))$`)
	files := token.NewFileSet()
	names, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	compared := 0
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(files, name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			switch e := n.(type) {
			case *ast.BinaryExpr:
				if e.Op != token.EQL && e.Op != token.NEQ {
					return true
				}
				for _, side := range []ast.Expr{e.X, e.Y} {
					if s := words(side); secret.MatchString(s) && words(e.Y) != "nil" {
						t.Errorf("%s: %s is compared by %s", files.Position(e.Pos()), s, e.Op)
					}
				}
			case *ast.CallExpr:
				switch s := words(e.Fun); s {
				case "bytes.Equal", "bytes.Compare", "slices.Equal", "reflect.DeepEqual":
					t.Errorf("%s: %s stops at the first difference", files.Position(e.Pos()), s)
				case "subtle.ConstantTimeCompare":
					compared++
				}
			}
			return true
		})
	}
	if compared < 4 {
		t.Errorf("%d comparisons in constant time; passwords, tokens, marks and the console key need one each", compared)
	}
}

func words(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.Ident:
		return e.Name
	case *ast.SelectorExpr:
		return words(e.X) + "." + e.Sel.Name
	case *ast.CallExpr:
		return words(e.Fun) + "()"
	}
	return ""
}
