package access

import (
	"context"
	"crypto/sha256"
	"fmt"
	"strings"
	"time"

	"bridlewatch/dashboards/access/audit"
)

// Record writes into the audit log what an actor is about to change.
func (a *Access) Record(ctx context.Context, by Actor, what, subject, before, after string) error {
	a.options.Log.Info(what, "subject", subject, "who", by.Name, "via", by.Via, "from", by.From)
	return a.audit.Record(ctx, audit.Entry{
		Who: by.Name, Role: string(by.Role), Via: string(by.Via), From: by.From,
		What: what, Subject: subject, Before: before, After: after,
	})
}

// AddUser adds a person.
func (a *Access) AddUser(ctx context.Context, by Actor, u User, password string) error {
	if err := checkName("user", u.Name); err != nil {
		return err
	}
	if _, err := ParseRole(string(u.Role)); err != nil {
		return err
	}
	if err := checkPassword(u.Name, password); err != nil {
		return err
	}
	hash, err := Hash(password)
	if err != nil {
		return err
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	for name := range a.users {
		if strings.EqualFold(name, u.Name) {
			return invalid("there is a user %q already", name)
		}
	}
	u.FullName, u.hash, u.Fixed, u.Since = strings.TrimSpace(u.FullName), hash, false, a.options.Now()
	return a.keepUser(ctx, by, &u, "added the user", "", describe(&u))
}

// SetRole gives a user another role. It holds from the next request on.
func (a *Access) SetRole(ctx context.Context, by Actor, name string, role Role) error {
	if _, err := ParseRole(string(role)); err != nil {
		return err
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	u, err := a.changeable(name)
	if err != nil {
		return err
	}
	if u.Role == role {
		return nil
	}
	if err := a.leavesAdmin(u, role); err != nil {
		return err
	}
	before := "role " + string(u.Role)
	u.Role, u.Since = role, a.options.Now()
	return a.keepUser(ctx, by, u, "changed the role of the user", before, "role "+string(role))
}

// SetPassword gives a user another password. Every session of the user made
// under the old one is over.
func (a *Access) SetPassword(ctx context.Context, by Actor, name, password string) error {
	if err := checkPassword(name, password); err != nil {
		return err
	}
	hash, err := Hash(password)
	if err != nil {
		return err
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	u, err := a.changeable(name)
	if err != nil {
		return err
	}
	u.hash, u.Since = hash, a.options.Now()
	return a.keepUser(ctx, by, u, "changed the password of the user", "", "a new password; other sessions have ended")
}

// RemoveUser lets a person in no more. What was signed with the name stays.
func (a *Access) RemoveUser(ctx context.Context, by Actor, name string) error {
	a.mu.Lock()
	defer a.mu.Unlock()
	u, err := a.changeable(name)
	if err != nil {
		return err
	}
	if err := a.leavesAdmin(u, Nobody); err != nil {
		return err
	}
	if err := a.Record(ctx, by, "removed the user", name, describe(u), ""); err != nil {
		return err
	}
	if err := a.put(ctx, userKind, name, userDocument{Role: u.Role, FullName: u.FullName, Removed: true}); err != nil {
		return err
	}
	delete(a.users, name)
	return nil
}

// changeable returns a copy of a user who is not of the configuration.
func (a *Access) changeable(name string) (*User, error) {
	u, ok := a.users[name]
	switch {
	case !ok:
		return nil, invalid("there is no user %q", name)
	case u.Fixed:
		return nil, invalid("the user %q is of the configuration and is changed there", name)
	}
	changed := *u
	return &changed, nil
}

// leavesAdmin refuses to take the role from the last admin.
func (a *Access) leavesAdmin(u *User, role Role) error {
	if u.Role != Admin || role == Admin {
		return nil
	}
	for name, other := range a.users {
		if name != u.Name && other.Role == Admin {
			return nil
		}
	}
	return invalid("%q is the last admin; make another one first", u.Name)
}

func (a *Access) keepUser(ctx context.Context, by Actor, u *User, what, before, after string) error {
	if err := a.Record(ctx, by, what, u.Name, before, after); err != nil {
		return err
	}
	if err := a.put(ctx, userKind, u.Name, userDocument{FullName: u.FullName, Role: u.Role, Hash: u.hash}); err != nil {
		return err
	}
	a.users[u.Name] = u
	return nil
}

func describe(u *User) string {
	words := "role " + string(u.Role)
	if u.FullName != "" {
		words = u.FullName + ", " + words
	}
	return words
}

// AddToken makes a token and returns its text, which is shown once and kept
// nowhere. The role is the least that can use the scopes unless given.
func (a *Access) AddToken(ctx context.Context, by Actor, t Token) (text string, err error) {
	if err := a.completeToken(&t); err != nil {
		return "", err
	}
	if text, err = mint(); err != nil {
		return "", err
	}
	t.By, t.Made, t.Fixed, t.sum = by.Name, a.options.Now(), false, sha256.Sum256([]byte(text))
	a.mu.Lock()
	defer a.mu.Unlock()
	for name := range a.tokens {
		if strings.EqualFold(name, t.Name) {
			return "", invalid("there is a token %q already; revoke it first or take another name", name)
		}
	}
	if err := a.Record(ctx, by, "made the token", t.Name, "", describeToken(&t)); err != nil {
		return "", err
	}
	body := tokenDocument{Role: t.Role, Scopes: t.Scopes, Sum: t.sum[:], Expires: t.Expires, By: t.By}
	if err := a.put(ctx, tokenKind, t.Name, body); err != nil {
		return "", err
	}
	a.tokens[t.Name] = &t
	return text, nil
}

func (a *Access) completeToken(t *Token) error {
	if err := checkName("token", t.Name); err != nil {
		return err
	}
	if len(t.Scopes) == 0 {
		return invalid("no scope given: say what the token is for: read, alert, record, admin")
	}
	if t.Role == Nobody {
		t.Role = roleFor(t.Scopes)
	}
	if _, err := ParseRole(string(t.Role)); err != nil {
		return err
	}
	for _, s := range t.Scopes {
		if !opens(ScopesOf(t.Role), s) {
			return invalid("the scope %s needs the role %s, not %s", s, roleFor([]Scope{s}), t.Role)
		}
	}
	if !t.Usable(a.options.Now()) {
		return invalid("the token would have expired on %s already", t.Expires.Format(time.RFC3339))
	}
	return nil
}

// RevokeToken ends a token at once.
func (a *Access) RevokeToken(ctx context.Context, by Actor, name string) error {
	a.mu.Lock()
	defer a.mu.Unlock()
	t, ok := a.tokens[name]
	switch {
	case !ok:
		return invalid("there is no token %q", name)
	case t.Fixed:
		return invalid("the token %q is of the configuration and is changed there", name)
	}
	if err := a.Record(ctx, by, "revoked the token", name, describeToken(t), ""); err != nil {
		return err
	}
	if err := a.put(ctx, tokenKind, name, tokenDocument{Role: t.Role, Scopes: t.Scopes, By: t.By, Removed: true}); err != nil {
		return err
	}
	delete(a.tokens, name)
	return nil
}

func describeToken(t *Token) string {
	until := "no end"
	if !t.Expires.IsZero() {
		until = "until " + t.Expires.UTC().Format(time.RFC3339)
	}
	return fmt.Sprintf("role %s, %s, %s", t.Role, ScopeWords(t.Scopes), until)
}

// ScopeWords lists scopes for people.
func ScopeWords(list []Scope) string {
	words := make([]string, len(list))
	for i, s := range list {
		words[i] = string(s)
	}
	return strings.Join(words, ", ")
}
