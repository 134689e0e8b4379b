package access

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"
	"time"
	"unicode"

	"bridlewatch/collector/store"
)

// User is a person who may log in.
type User struct {
	Name     string
	FullName string
	Role     Role
	Since    time.Time // of the last change
	Fixed    bool      // of the configuration: cannot be changed while the service runs

	hash string
}

// FixedUser is a user of the configuration with the hash of the password.
func FixedUser(name, fullName string, role Role, hash string) User {
	return User{Name: name, FullName: fullName, Role: role, Fixed: true, hash: hash}
}

// Shown is the name people read.
func (u User) Shown() string {
	if u.FullName != "" {
		return u.FullName
	}
	return u.Name
}

// mark changes with the password: a session made under another is over.
func (u *User) mark() string {
	sum := sha256.Sum256([]byte(u.Name + "\x00" + u.hash))
	return hex.EncodeToString(sum[:8])
}

// checkName takes what can be typed, read aloud and part of an address.
func checkName(what, name string) error {
	switch {
	case name == "" || len(name) > 64:
		return invalid("a %s needs a name of 1 to 64 characters", what)
	case name != strings.TrimSpace(name) || name == "." || name == "..":
		return invalid("%q is no name for a %s", name, what)
	}
	for _, r := range name {
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) && !strings.ContainsRune(" ._-@+", r) {
			return invalid("%q cannot be part of the name of a %s: take letters, digits, blank . _ - @ +", r, what)
		}
	}
	return nil
}

// userDocument is how a user is kept.
type userDocument struct {
	FullName string `json:"full_name,omitempty"`
	Role     Role   `json:"role"`
	Hash     string `json:"password_hash,omitempty"`
	Removed  bool   `json:"removed,omitempty"`
}

// tokenDocument is how a token is kept: its hash, never itself.
type tokenDocument struct {
	Role    Role      `json:"role"`
	Scopes  []Scope   `json:"scopes"`
	Sum     []byte    `json:"sha256,omitempty"`
	Expires time.Time `json:"expires,omitzero"`
	By      string    `json:"by"`
	Removed bool      `json:"removed,omitempty"`
}

// read takes users and tokens from the store.
func (a *Access) read(ctx context.Context) error {
	err := each(ctx, a.options.Store, userKind, func(d store.Document, u userDocument) {
		if !u.Removed {
			a.users[d.ID] = &User{Name: d.ID, FullName: u.FullName, Role: u.Role, Since: d.Time, hash: u.Hash}
		}
	})
	if err != nil {
		return err
	}
	return each(ctx, a.options.Store, tokenKind, func(d store.Document, t tokenDocument) {
		if t.Removed || len(t.Sum) != sha256.Size {
			return
		}
		a.tokens[d.ID] = &Token{Name: d.ID, Role: t.Role, Scopes: t.Scopes, Expires: t.Expires, Made: d.Time, By: t.By, sum: [sha256.Size]byte(t.Sum)}
	})
}

func each[T any](ctx context.Context, s store.Store, kind string, do func(store.Document, T)) error {
	docs, err := s.Documents(ctx, store.Query{Kind: kind, Latest: true})
	if err != nil {
		return fmt.Errorf("read %ss: %w", kind, err)
	}
	for _, d := range docs {
		var body T
		if err := json.Unmarshal(d.Body, &body); err != nil {
			return fmt.Errorf("%s %q cannot be read: %w", kind, d.ID, err)
		}
		do(d, body)
	}
	return nil
}

func (a *Access) put(ctx context.Context, kind, name string, body any) error {
	text, err := json.Marshal(body)
	if err != nil {
		return fmt.Errorf("encode %s %q: %w", kind, name, err)
	}
	if _, err := a.options.Store.Put(ctx, store.Document{Kind: kind, ID: name, Time: a.options.Now(), Body: text}); err != nil {
		return fmt.Errorf("keep %s %q: %w", kind, name, err)
	}
	return nil
}
