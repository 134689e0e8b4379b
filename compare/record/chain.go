package record

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
)

// Link is a record as it is stored: its number and its bytes.
type Link struct {
	Number int
	Body   []byte
}

// ErrChain is a chain of records that does not hold together.
var ErrChain = errors.New("chain of records is broken")

// Hash is the SHA-256 of a stored record, hexadecimal.
func Hash(body []byte) string {
	sum := sha256.Sum256(body)
	return hex.EncodeToString(sum[:])
}

// Follow numbers a record after the one before, which is nil for the first,
// and returns its stored form.
func Follow(r *Record, before *Link) ([]byte, error) {
	r.Schema, r.Number, r.Previous, r.PreviousHash = Schema, 1, 0, ""
	if before != nil {
		r.Number, r.Previous, r.PreviousHash = before.Number+1, before.Number, Hash(before.Body)
	}
	body, err := json.Marshal(r)
	if err != nil {
		return nil, fmt.Errorf("encode record %d: %w", r.Number, err)
	}
	return body, nil
}

// Parse reads a stored record. It refuses one of a newer schema, whose fields
// it might not understand.
func Parse(body []byte) (*Record, error) {
	var r Record
	if err := json.Unmarshal(body, &r); err != nil {
		return nil, fmt.Errorf("read record: %w", err)
	}
	if r.Schema > Schema {
		return nil, fmt.Errorf("record %d has schema %d, this program knows up to %d; update the program", r.Number, r.Schema, Schema)
	}
	return &r, nil
}

// VerifyChain walks records in the order of their numbers. The error names the
// first that was changed, removed or put in: what a record says of the one
// before must be true, and the numbers must have no gap. It returns how many
// hold and the hash of the last of them, which can be noted elsewhere: only
// that finds the end of a chain cut off.
func VerifyChain(links []Link) (n int, hash string, err error) {
	for _, l := range links {
		r, err := Parse(l.Body)
		if err != nil {
			return n, hash, fmt.Errorf("%w: record %d: %w", ErrChain, l.Number, err)
		}
		switch {
		case l.Number != n+1 || r.Number != n+1:
			return n, hash, fmt.Errorf("%w: after record %d comes number %d (stored as %d)", ErrChain, n, r.Number, l.Number)
		case r.Previous != n:
			return n, hash, fmt.Errorf("%w: record %d says it follows %d, not %d", ErrChain, r.Number, r.Previous, n)
		case r.PreviousHash != hash:
			return n, hash, fmt.Errorf("%w: record %d was made after a record %d with other contents: %d was changed since", ErrChain, r.Number, n, n)
		}
		n, hash = n+1, Hash(l.Body)
	}
	return n, hash, nil
}
