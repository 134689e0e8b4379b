package plant

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"slices"
	"time"

	"bridlewatch/compare/alert"
)

// Desk is where people handle alerts: everything Alerts answers, and what may
// be done about it. Every action is written into the journal with the name of
// who did it.
type Desk interface {
	Alerts
	// Act does what a person asks for, or says why not and what would help.
	Act(ctx context.Context, do alert.Action) (Alert, error)
	// Alert returns one alert and its comments.
	Alert(ctx context.Context, id string) (Alert, []alert.Comment, error)
	// Windows returns the quiet windows with what each keeps quiet now, those
	// that are active first.
	Windows(ctx context.Context) ([]Window, error)
	// AddWindow adds a quiet window and returns it with its name.
	AddWindow(ctx context.Context, w alert.Window) (Window, error)
	// EndWindow ends a quiet window before its time.
	EndWindow(ctx context.Context, id, by string) error
	// Load returns how much the alerts asked of people in the last days.
	Load(ctx context.Context, days int) (alert.Load, error)
	// Routes returns how the ways out are.
	Routes(ctx context.Context) ([]RouteHealth, error)
	// Trial sends a trial message over a route and returns what the receiver
	// answered.
	Trial(ctx context.Context, route, by string) error
}

// Window is a quiet window with the alerts it keeps quiet now.
type Window struct {
	alert.Window
	Scope  string   `json:"scope"`
	Active bool     `json:"active"`
	Hides  []string `json:"hides"` // tags of gauges and causes
}

// RouteHealth is how one way out is.
type RouteHealth struct {
	Name      string    `json:"name"`
	Kind      string    `json:"kind"`
	To        string    `json:"to"` // without secrets
	Waiting   int       `json:"waiting"`
	Delivered time.Time `json:"delivered,omitzero"` // last time
	Failed    time.Time `json:"failed,omitzero"`    // last time
	Error     string    `json:"error,omitempty"`    // of the last failure, empty after a delivery
	Sent      uint64    `json:"sent"`               // since the service started
	Failures  uint64    `json:"failures"`
}

// Actor tells who asks: the name the journal keeps and the role. ok is false
// when nobody is logged in.
type Actor func(r *http.Request) (name, role string, ok bool)

// Roles of people, least first.
const (
	Viewer     = "viewer"
	Technician = "technician"
	Engineer   = "engineer"
	Admin      = "admin"
)

var roles = []string{Viewer, Technician, Engineer, Admin}

// ErrWho is wrapped when it is not known who asks.
var ErrWho = errors.New("it is not known who asks")

// RoleError says which role an action needs.
type RoleError struct{ Need, Has string }

func (e *RoleError) Error() string {
	return fmt.Sprintf("this needs the role %s, yours is %s: ask somebody who has it", e.Need, e.Has)
}

// Who finds out who asks for something that needs a role. Without an Actor a
// name given by hand is taken, but only from this machine itself: without log-
// in anybody on the network could sign with any name.
func Who(actor Actor, r *http.Request, given, need string) (name string, err error) {
	role := Engineer
	switch {
	case actor != nil:
		var ok bool
		if name, role, ok = actor(r); !ok {
			return "", fmt.Errorf("%w: log in, or send an access token", ErrWho)
		}
	case !local(r):
		return "", fmt.Errorf("%w: without log-in this is only taken on the machine of the service itself", ErrWho)
	case given == "":
		return "", fmt.Errorf("%w: give your name, the journal keeps it", ErrWho)
	default:
		name = given
	}
	if slices.Index(roles, role) < slices.Index(roles, need) {
		return "", &RoleError{Need: need, Has: role}
	}
	return name, nil
}

// local reports whether a request came to a loopback listener, from this
// machine, and through no proxy.
func local(r *http.Request) bool {
	if r.Header.Get("X-Forwarded-For") != "" || r.Header.Get("Forwarded") != "" {
		return false
	}
	at, ok := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
	return ok && loopback(at.String()) && loopback(r.RemoteAddr)
}

func loopback(address string) bool {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return false
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}

// NeedFor is the role an action on an alert needs: technicians handle alerts,
// engineers decide what is out of service.
func NeedFor(v alert.Verb) string {
	if v == alert.OutOfService || v == alert.BackInto {
		return Engineer
	}
	return Technician
}
