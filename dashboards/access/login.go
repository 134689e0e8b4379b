package access

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"time"
)

// ErrLogIn is all that is said about a login that failed: not whether the name
// or the password was wrong.
var ErrLogIn = errors.New("name or password is wrong")

// TooManyError says how long to wait before the next try.
type TooManyError struct{ Wait time.Duration }

func (e *TooManyError) Error() string {
	return fmt.Sprintf("too many tries; wait %d s", e.Seconds())
}

// Seconds is the waiting time, rounded up.
func (e *TooManyError) Seconds() int { return int((e.Wait + time.Second - 1) / time.Second) }

// LogIn begins a session under a new token. It is ErrLogIn or a TooManyError
// when it does not.
func (a *Access) LogIn(r *http.Request, name, password string) error {
	ctx, from := r.Context(), network(Address(r))
	if wait := a.fromAddress.take(from); wait > 0 {
		return &TooManyError{wait}
	}
	if wait := a.ofName.take(name); wait > 0 {
		return &TooManyError{wait}
	}
	u, right, err := a.check(ctx, name, password)
	if err != nil {
		return err
	}
	if !right {
		a.options.Log.Warn("login refused", "user", name, "from", Address(r))
		return ErrLogIn
	}
	a.fromAddress.forgive(from)
	a.ofName.forgive(name)
	if err := a.sessions.RenewToken(ctx); err != nil {
		return fmt.Errorf("begin session: %w", err)
	}
	a.sessions.Put(ctx, sessionUser, u.Name)
	a.sessions.Put(ctx, sessionMark, u.mark())
	a.options.Log.Info("logged in", "user", u.Name, "from", Address(r))
	return nil
}

// check compares a password. It takes as long for a name that does not exist,
// and hashes only few at a time: each takes 20 MiB.
func (a *Access) check(ctx context.Context, name, password string) (User, bool, error) {
	select {
	case a.guesses <- struct{}{}:
		defer func() { <-a.guesses }()
	case <-ctx.Done():
		return User{}, false, ctx.Err()
	}
	u, known := a.User(name)
	h := a.decoy
	if known {
		var err error
		if h, err = parseHash(u.hash); err != nil {
			return u, false, fmt.Errorf("user %q: %w", name, err)
		}
	}
	if len(password) > 4*PasswordMost {
		password = "" // longer than any that was accepted
	}
	return u, h.matches(password) && known, nil
}

// LogOut ends the session of a request.
func (a *Access) LogOut(r *http.Request) error {
	if by := From(r.Context()); by.Via == BySession {
		a.options.Log.Info("logged out", "user", by.Name, "from", by.From)
	}
	return a.sessions.Destroy(r.Context())
}

// ChangeOwnPassword takes the old password and sets a new one. The session of
// the request goes on, every other of the user ends.
func (a *Access) ChangeOwnPassword(r *http.Request, old, password string) error {
	ctx, by := r.Context(), From(r.Context())
	if by.Via != BySession {
		return invalid("only somebody who is logged in has a password")
	}
	if wait := a.ofName.take(by.Name); wait > 0 {
		return &TooManyError{wait}
	}
	_, right, err := a.check(ctx, by.Name, old)
	if err != nil {
		return err
	}
	if !right {
		return invalid("the present password is wrong")
	}
	a.ofName.forgive(by.Name)
	if err := a.SetPassword(ctx, by, by.Name, password); err != nil {
		return err
	}
	u, _ := a.User(by.Name)
	if err := a.sessions.RenewToken(ctx); err != nil {
		return fmt.Errorf("renew session: %w", err)
	}
	a.sessions.Put(ctx, sessionMark, u.mark())
	return nil
}
