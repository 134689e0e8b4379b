package access

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"slices"
	"strings"
	"time"
)

// TokenPrefix begins every token made here, so that scanners for leaked
// secrets find it in files and logs: the prefix, 43 characters of base 64url
// (32 random bytes) and 6 of a checksum over both, which tells a token from a
// text that only looks like one.
const TokenPrefix = "bridlewatch_"

// Token lets a program in. The token itself is shown once and never kept.
type Token struct {
	Name    string
	Role    Role
	Scopes  []Scope
	Expires time.Time // zero: never
	Made    time.Time
	By      string    // who made it; "configuration" for a provisioned one
	Used    time.Time // last time since the service started
	Fixed   bool      // of the configuration: cannot be changed while the service runs

	sum [sha256.Size]byte
}

// FixedToken is a token of the configuration. Its scopes are those of its role.
func FixedToken(name string, role Role, value string, expires time.Time) Token {
	return Token{Name: name, Role: role, Scopes: ScopesOf(role), Expires: expires, By: byConfiguration, Fixed: true, sum: sha256.Sum256([]byte(value))}
}

// Usable reports whether the token works at a time.
func (t *Token) Usable(now time.Time) bool { return t.Expires.IsZero() || now.Before(t.Expires) }

// mint makes the text of a token.
func mint() (string, error) {
	raw := make([]byte, 32)
	if _, err := rand.Read(raw); err != nil {
		return "", fmt.Errorf("token: %w", err)
	}
	text := TokenPrefix + base64.RawURLEncoding.EncodeToString(raw)
	return text + checksum(text), nil
}

func checksum(text string) string {
	return base64.RawURLEncoding.EncodeToString(binary.BigEndian.AppendUint32(nil, crc32.ChecksumIEEE([]byte(text))))
}

// LooksLikeToken reports whether a text has the form and the checksum of a
// token made here.
func LooksLikeToken(text string) bool {
	body := len(TokenPrefix) + 43
	return len(text) == body+6 && strings.HasPrefix(text, TokenPrefix) && checksum(text[:body]) == text[body:]
}

// matching finds the token of a text. It looks at every token and compares
// hashes in constant time, so that an answer tells nothing of how near a guess
// was.
func matching(list []*Token, text string) *Token {
	sum := sha256.Sum256([]byte(text))
	var found *Token
	for _, t := range list {
		if subtle.ConstantTimeCompare(t.sum[:], sum[:]) == 1 {
			found = t
		}
	}
	return found
}

// opens reports whether the token has the scope.
func opens(list []Scope, s Scope) bool { return slices.Contains(list, s) }
