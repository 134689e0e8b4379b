package audit

import (
	"context"
	"encoding/hex"
	"fmt"
	"strconv"

	"bridlewatch/collector/store"
)

// Report is what Verify found to be whole.
type Report struct {
	Entries   int    `json:"entries"`          // of the audit log
	Documents int    `json:"documents"`        // of the whole store; 0 when it does not chain them
	Pruned    int    `json:"pruned,omitempty"` // documents past their retention, whose place in the chain is vouched for
	Hash      string `json:"hash,omitempty"`
}

// chained is a store whose documents hang together by hashes.
type chained interface {
	VerifyDocuments(ctx context.Context) (store.Chain, error)
}

// Verify walks the chain of all documents and the numbers of the log. It is
// store.ErrCorrupt, naming the first entry that does not fit, when something
// was changed, removed or slipped in. Entries cut off at the end leave no
// trace inside: note the count and the hash elsewhere from time to time and
// compare.
func Verify(ctx context.Context, s store.Store) (r Report, err error) {
	if c, ok := s.(chained); ok {
		chain, err := c.VerifyDocuments(ctx)
		r.Documents, r.Pruned, r.Hash = chain.Documents, chain.Pruned, hex.EncodeToString(chain.Hash)
		if err != nil {
			return r, err
		}
	}
	docs, err := s.Documents(ctx, store.Query{Kind: Kind})
	if err != nil {
		return r, fmt.Errorf("read audit log: %w", err)
	}
	for _, d := range docs {
		e, err := entryOf(d)
		if err != nil {
			return r, err
		}
		if want := r.Entries + 1; e.Number != want || d.ID != strconv.Itoa(want) || d.Replaces != 0 {
			return r, fmt.Errorf("audit log: %w: where entry %d belongs stands entry %d: one was removed, repeated or changed", store.ErrCorrupt, want, e.Number)
		}
		r.Entries++
	}
	return r, nil
}

// Words says what was found whole.
func (r Report) Words() string {
	if r.Documents == 0 {
		return fmt.Sprintf("%d entries, numbered without a gap.", r.Entries)
	}
	pruned := ""
	if r.Pruned > 0 {
		pruned = fmt.Sprintf(" (%d older ones are past their retention and vouched for)", r.Pruned)
	}
	return fmt.Sprintf("%d entries, numbered without a gap; the chain of all %d documents%s holds and ends in %s.", r.Entries, r.Documents, pruned, r.Hash)
}
