package access

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"strings"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"
	"golang.org/x/text/unicode/norm"
)

// cost is what one guess costs whoever has the hash: passes over a memory, and
// how many lanes work at it.
type cost struct {
	memory uint32 // KiB
	passes uint32
	lanes  uint8
}

// usual fits a small edge box: 20 MiB and two passes take tens of ms on one
// core. It is no less than the OWASP Password Storage Cheat Sheet asks for
// argon2id (19 MiB, t = 2, p = 1).
var usual = cost{memory: 20 << 10, passes: 2, lanes: 1}

const (
	saltSize = 16 // RFC 9106, 4: 128 bits suffice for all applications
	keySize  = 32

	// PasswordLeast and PasswordMost are how many characters a password has.
	// There are no rules about kinds of characters (NIST SP 800-63B, 5.1.1.2).
	PasswordLeast = 12
	PasswordMost  = 128
)

// Hash returns the argon2id hash of a password in PHC form, as the
// configuration and the store keep it.
func Hash(password string) (string, error) {
	salt := make([]byte, saltSize)
	if _, err := rand.Read(salt); err != nil {
		return "", fmt.Errorf("salt of the password: %w", err)
	}
	return usual.hash(password, salt), nil
}

func (c cost) hash(password string, salt []byte) string {
	key := argon2.IDKey(prepared(password), salt, c.passes, c.memory, c.lanes, keySize)
	plain := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, c.memory, c.passes, c.lanes, plain.EncodeToString(salt), plain.EncodeToString(key))
}

// prepared makes the same bytes of the same characters, however a keyboard
// composed them (Unicode NFKC, as NIST SP 800-63B, 5.1.1.2 advises).
func prepared(password string) []byte { return norm.NFKC.Bytes([]byte(password)) }

// hashed is a hash that was read.
type hashed struct {
	cost
	salt, key []byte
}

// parseHash reads the PHC form. Costs that would stop a box, and salts or keys
// too short to protect anything, are refused.
func parseHash(phc string) (h hashed, err error) {
	parts := strings.Split(phc, "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" {
		return h, invalid("the password hash is not argon2id in PHC form, $argon2id$v=19$m=20480,t=2,p=1$salt$hash")
	}
	if parts[2] != fmt.Sprintf("v=%d", argon2.Version) {
		return h, invalid("the password hash has version %q, only v=%d is read", parts[2], argon2.Version)
	}
	if n, err := fmt.Sscanf(parts[3], "m=%d,t=%d,p=%d", &h.memory, &h.passes, &h.lanes); n != 3 || err != nil || parts[3] != fmt.Sprintf("m=%d,t=%d,p=%d", h.memory, h.passes, h.lanes) {
		return h, invalid("the cost of the password hash is %q, want m=KIB,t=PASSES,p=LANES", parts[3])
	}
	switch {
	case h.memory < 8*uint32(h.lanes) || h.memory > 256<<10:
		return h, invalid("the memory of the password hash is %d KiB, want at least 8 for each lane and at most %d", h.memory, 256<<10)
	case h.passes < 1 || h.passes > 16 || h.lanes < 1 || h.lanes > 16:
		return h, invalid("the password hash has %d passes and %d lanes, want 1 to 16 of each", h.passes, h.lanes)
	}
	if h.salt, err = base64.RawStdEncoding.Strict().DecodeString(parts[4]); err != nil || len(h.salt) < 8 || len(h.salt) > 64 {
		return h, invalid("the salt of the password hash is not 8 to 64 bytes in base 64 without padding")
	}
	if h.key, err = base64.RawStdEncoding.Strict().DecodeString(parts[5]); err != nil || len(h.key) < 16 || len(h.key) > 64 {
		return h, invalid("the password hash itself is not 16 to 64 bytes in base 64 without padding")
	}
	return h, nil
}

// matches compares in constant time.
func (h hashed) matches(password string) bool {
	key := argon2.IDKey(prepared(password), h.salt, h.passes, h.memory, h.lanes, uint32(len(h.key)))
	return subtle.ConstantTimeCompare(key, h.key) == 1
}

// checkPassword refuses what is guessed first.
func checkPassword(name, password string) error {
	n, kinds := utf8.RuneCountInString(password), map[rune]bool{}
	for _, r := range password {
		kinds[r] = true
	}
	lower := strings.ToLower(password)
	switch {
	case n < PasswordLeast:
		return invalid("the password has %d characters; it needs at least %d: four unrelated words will do", n, PasswordLeast)
	case n > PasswordMost:
		return invalid("the password has %d characters; at most %d are taken", n, PasswordMost)
	case len(kinds) < 5:
		return invalid("the password repeats %d characters over and over; take four unrelated words", len(kinds))
	case name != "" && strings.Contains(lower, strings.ToLower(name)), strings.Contains(lower, "bridlewatch"):
		return invalid("the password holds the name of the user or of this program, which is guessed first")
	}
	for _, known := range []string{"password", "123456789", "qwertyuiop", "qwertzuiop", "letmein"} {
		if strings.Contains(lower, known) {
			return invalid("the password holds %q, which is guessed first; take four unrelated words", known)
		}
	}
	return nil
}

// HashChecked is Hash for a password that is not too easy.
func HashChecked(password string) (string, error) {
	if err := checkPassword("", password); err != nil {
		return "", err
	}
	return Hash(password)
}
