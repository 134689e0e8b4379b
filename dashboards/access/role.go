// Package access says who may do what: people with a password and a session,
// programs with a token, and roles for both. One table names what every
// address of the service needs; an address that is not in the table is
// refused. Every change is written into the audit log before it is made.
//
// Nothing here reaches a plant device, whatever the role.
package access

import (
	"fmt"
	"slices"
	"strings"
)

// Role is what a person may do; each includes those before it.
type Role string

// Roles, least first.
const (
	Nobody     Role = ""           // not logged in
	Viewer     Role = "viewer"     // reads everything but users, tokens and the audit log
	Technician Role = "technician" // acknowledges, records, proves
	Engineer   Role = "engineer"   // limits, quiet windows, new baselines
	Admin      Role = "admin"      // users, tokens, audit log
)

// roles are what Roles returns.
var roles = []Role{Viewer, Technician, Engineer, Admin}

// Roles returns the roles people can have, least first.
func Roles() []Role { return slices.Clone(roles) }

// ParseRole reads a role.
func ParseRole(s string) (Role, error) {
	if !slices.Contains(roles, Role(s)) {
		return Nobody, invalid("the role %q is not one of viewer, technician, engineer, admin", s)
	}
	return Role(s), nil
}

// Includes reports whether r may do what needs the other role.
func (r Role) Includes(other Role) bool {
	return other == Nobody || slices.Index(roles, r) >= slices.Index(roles, other)
}

// Scope is a part of the interface a token opens.
type Scope string

// Scopes.
const (
	Read       Scope = "read"
	Alerting   Scope = "alert"  // acknowledge, assign, shelve, quiet windows
	Recording  Scope = "record" // records, proofs, baselines
	Management Scope = "admin"  // users, tokens, audit log
)

var scopes = []Scope{Read, Alerting, Recording, Management}

// ParseScopes reads scopes separated by commas; at least one.
func ParseScopes(s string) ([]Scope, error) {
	var out []Scope
	for _, word := range strings.FieldsFunc(s, func(r rune) bool { return r == ',' || r == ' ' }) {
		if !slices.Contains(scopes, Scope(word)) {
			return nil, invalid("the scope %q is not one of read, alert, record, admin", word)
		}
		if !slices.Contains(out, Scope(word)) {
			out = append(out, Scope(word))
		}
	}
	if len(out) == 0 {
		return nil, invalid("no scope given: say what the token is for: read, alert, record, admin")
	}
	return out, nil
}

// ScopesOf returns all that a role can use.
func ScopesOf(r Role) []Scope {
	switch r {
	case Viewer:
		return []Scope{Read}
	case Technician, Engineer:
		return []Scope{Read, Alerting, Recording}
	case Admin:
		return slices.Clone(scopes)
	}
	return nil
}

// roleFor is the least role that can use all the scopes.
func roleFor(list []Scope) Role {
	for _, r := range roles {
		if !slices.ContainsFunc(list, func(s Scope) bool { return !slices.Contains(ScopesOf(r), s) }) {
			return r
		}
	}
	return Admin
}

// InvalidError is a wish that cannot be met as it was said; its text says why
// and what would do.
type InvalidError struct{ text string }

func (e *InvalidError) Error() string { return e.text }

func invalid(format string, args ...any) error { return &InvalidError{fmt.Sprintf(format, args...)} }
