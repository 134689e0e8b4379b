package access

import (
	"context"
	"net"
	"net/http"
	"strings"
)

// Via is how somebody came in.
type Via string

// Ways in.
const (
	BySession Via = "session" // a person with a password
	ByToken   Via = "token"   // a program
	ByLocal   Via = "local"   // open access: whoever is at this machine
	ByConsole Via = "console" // the command line on this machine, which may read the data directory
)

// Actor is who asks.
type Actor struct {
	Name     string // of the user or token; "local" with open access
	FullName string
	Role     Role
	Via      Via
	Scopes   []Scope
	From     string // address
}

// Local is the name of whoever uses a service with open access.
const Local = "local"

// May reports whether the actor has the role and the scope.
func (a Actor) May(n Need) bool {
	return a.Role != Nobody && a.Role.Includes(n.Role) && (n.Scope == "" || opens(a.Scopes, n.Scope))
}

// Shown is the name people read.
func (a Actor) Shown() string {
	if a.FullName != "" {
		return a.FullName
	}
	return a.Name
}

type actorKey struct{}

func withActor(ctx context.Context, a Actor) context.Context {
	return context.WithValue(ctx, actorKey{}, a)
}

// From returns who asks; the role is Nobody when nobody is logged in.
func From(ctx context.Context) Actor {
	a, _ := ctx.Value(actorKey{}).(Actor)
	return a
}

// Who returns name and role of who asks; ok is false when nobody is logged in.
func Who(r *http.Request) (name, role string, ok bool) {
	a := From(r.Context())
	return a.Name, string(a.Role), a.Role != Nobody
}

// forwarded reports whether a request came through a proxy that said so.
func forwarded(r *http.Request) bool {
	return r.Header.Get("X-Forwarded-For") != "" || r.Header.Get("Forwarded") != ""
}

// Address is where a request came from, without the port. A proxy is believed
// only on this machine.
func Address(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		host = r.RemoteAddr
	}
	if list := r.Header.Values("X-Forwarded-For"); len(list) > 0 && IsLoopback(host) {
		hops := strings.Split(strings.Join(list, ","), ",")
		if last := net.ParseIP(strings.TrimSpace(hops[len(hops)-1])); last != nil {
			return last.String()
		}
	}
	return host
}

// IsLoopback reports whether a host without port is this machine itself.
func IsLoopback(host string) bool {
	if host == "localhost" {
		return true
	}
	ip := net.ParseIP(strings.Trim(host, "[]"))
	return ip != nil && ip.IsLoopback()
}

// fromHere reports whether a request comes from this machine itself and
// through no proxy.
func fromHere(r *http.Request) bool {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	return err == nil && IsLoopback(host) && !forwarded(r)
}
