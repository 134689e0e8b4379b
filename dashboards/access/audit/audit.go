// Package audit keeps the log of what people and programs changed: who, when,
// from where, and what it was before and after, in words. Entries are only
// ever added. They are documents of the store, which chains every document to
// the one before, and they are numbered from 1 without a gap; Verify checks
// both.
package audit

import (
	"context"
	"encoding/json"
	"fmt"
	"strconv"
	"sync"
	"time"

	"bridlewatch/collector/store"
)

// Kind of the documents; the ID is the number of the entry.
const Kind = "audit"

// Entry is one line of the log.
type Entry struct {
	Number  int       `json:"number"`
	Time    time.Time `json:"time"`
	Who     string    `json:"who"`  // name of the user or token
	Role    string    `json:"role"` // at that time
	Via     string    `json:"via"`  // "session", "token", "local", "console"; "service" for what the program did by itself
	From    string    `json:"from,omitempty"`
	What    string    `json:"what"`              // "added the user", "ended the quiet window", ...
	Subject string    `json:"subject,omitempty"` // whom or what it was done to
	Before  string    `json:"before,omitempty"`  // in words, never a secret
	After   string    `json:"after,omitempty"`
}

// Log adds to the audit log of one store. It may be used by several goroutines.
type Log struct {
	store store.Store
	now   func() time.Time

	mu   sync.Mutex
	last int
}

// Open finds the end of the log. A nil now means time.Now.
func Open(ctx context.Context, s store.Store, now func() time.Time) (*Log, error) {
	if now == nil {
		now = time.Now
	}
	newest, err := s.Documents(ctx, store.Query{Kind: Kind, Newest: true, Limit: 1})
	if err != nil {
		return nil, fmt.Errorf("read audit log: %w", err)
	}
	l := &Log{store: s, now: now}
	for _, d := range newest {
		if l.last, err = strconv.Atoi(d.ID); err != nil {
			return nil, fmt.Errorf("audit log: %w: document %d has the number %q", store.ErrCorrupt, d.Seq, d.ID)
		}
	}
	return l, nil
}

// Record adds an entry; its number is given here, its time where it has none.
// Whoever changes something records it first and does not change it when that
// fails: nothing is changed without a trace.
func (l *Log) Record(ctx context.Context, e Entry) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	e.Number = l.last + 1
	if e.Time.IsZero() {
		e.Time = l.now()
	}
	e.Time = e.Time.UTC().Truncate(time.Microsecond)
	body, err := json.Marshal(e)
	if err != nil {
		return fmt.Errorf("encode audit entry: %w", err)
	}
	if _, err := l.store.Put(ctx, store.Document{Kind: Kind, ID: strconv.Itoa(e.Number), Time: e.Time, Body: body}); err != nil {
		return fmt.Errorf("audit log cannot be written, so nothing was changed: %w", err)
	}
	l.last = e.Number
	return nil
}

// List returns at most limit entries before the given number, newest first;
// before 0 begins at the newest.
func List(ctx context.Context, s store.Store, before, limit int) ([]Entry, error) {
	want := limit
	if before > 0 {
		want = 0 // numbers are in the documents, the query knows only the sequence
	}
	docs, err := s.Documents(ctx, store.Query{Kind: Kind, Newest: true, Limit: want})
	if err != nil {
		return nil, fmt.Errorf("read audit log: %w", err)
	}
	var out []Entry
	for _, d := range docs {
		e, err := entryOf(d)
		if err != nil {
			return out, err
		}
		if before > 0 && e.Number >= before {
			continue
		}
		if out = append(out, e); len(out) == limit {
			break
		}
	}
	return out, nil
}

func entryOf(d store.Document) (e Entry, err error) {
	if err := json.Unmarshal(d.Body, &e); err != nil {
		return e, fmt.Errorf("audit log: %w: entry %s cannot be read: %w", store.ErrCorrupt, d.ID, err)
	}
	return e, nil
}
