// Package records keeps the book of what people did to the gauges: it numbers
// and chains records, keeps the drafts of guided tests, tells the comparison
// what a record changes, and prints records as PDF files.
//
// The book is part of the store: each record is a document of kind "record"
// and never gets a second version.
package records

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/compare"
	"bridlewatch/compare/record"
	"bridlewatch/dashboards/plant"
)

// Kind of the documents that are records.
const Kind = "record"

// Errors of the book.
var (
	ErrReadOnly = errors.New("the service takes no records: it runs read-only")
	ErrNone     = errors.New("there is no such record")
)

// Options are what a book is made of. Store and Plant must be given.
type Options struct {
	Store     store.Store
	Plant     plant.Plant
	Location  *time.Location // of the plant, nil: UTC
	Software  string         // version of the program
	ReadOnly  bool
	Rehearsal bool // the plant is simulated; every record says so
	// Post tells the comparison what a record changes; nil: nobody is told.
	Post func(gauge string, work compare.Work) error
}

// Book is the book of records of one box. It may be used by several
// goroutines; no other process may write to its store.
type Book struct {
	Options
	mu    sync.Mutex // one record is numbered at a time
	steps sync.Mutex // one step of a test is taken at a time
}

// NewBook opens the book in a store.
func NewBook(o Options) *Book {
	if o.Location == nil {
		o.Location = time.UTC
	}
	return &Book{Options: o}
}

// Entry is a record as it stands in the book.
type Entry struct {
	*record.Record
	Hash string // SHA-256 of Body
	Body []byte // as stored
}

// Now is the time of the plant, in its zone; that of this machine before the
// first scan.
func (b *Book) Now() time.Time {
	now := b.Plant.Now()
	if now.IsZero() {
		now = time.Now()
	}
	return now.In(b.Location).Truncate(time.Millisecond)
}

// Add books a record: it completes, checks, numbers, chains and stores it, and
// then tells the comparison. The error is record.Problems when the record is
// not complete. A record that was stored but about which nobody could be told
// is returned together with the error.
func (b *Book) Add(ctx context.Context, r record.Record) (Entry, error) {
	if b.ReadOnly {
		return Entry{}, ErrReadOnly
	}
	b.complete(&r)
	if p := b.check(ctx, &r); len(p) > 0 {
		return Entry{}, p
	}
	e, err := b.append(ctx, &r)
	if err != nil {
		return Entry{}, err
	}
	if work, ok := e.Effect(); ok && b.Post != nil {
		if err := b.Post(e.Gauge, work); err != nil {
			return e, fmt.Errorf("record %d is booked, but the comparison does not know of it: %w", e.Number, err)
		}
	}
	return e, nil
}

// complete fills in what the box knows better than the person.
func (b *Book) complete(r *record.Record) {
	health := b.Plant.Health()
	r.Site, r.Box, r.Configuration, r.Software, r.Rehearsal = health.Site, health.Box, health.ConfigVersion, b.Software, b.Rehearsal
	r.Booked, r.Zone = b.Now(), b.Location.String()
	if r.At.IsZero() {
		r.At = r.Booked
	}
	r.At = r.At.In(b.Location)
	if !r.Began.IsZero() {
		r.Began = r.Began.In(b.Location)
	}
	if g, ok := b.Plant.Gauge(r.Gauge); ok {
		r.Service = g.Sheet.Service
	}
}

func (b *Book) check(ctx context.Context, r *record.Record) record.Problems {
	p := r.Check(r.Booked)
	g, ok := b.Plant.Gauge(r.Gauge)
	switch {
	case r.Gauge != "" && !ok:
		p = append(p, record.Problem{Field: "gauge", Text: "there is no gauge " + r.Gauge + "; tags are compared letter by letter"})
	case ok && r.Instrument != "" && !slices.Contains(Instruments(g), r.Instrument):
		p = append(p, record.Problem{Field: "instrument", Text: r.Instrument + " does not belong to " + r.Gauge + "; it has " + strings.Join(Instruments(g), ", ")})
	}
	if r.Corrects > 0 {
		switch old, err := b.Get(ctx, r.Corrects); {
		case err != nil:
			p = append(p, record.Problem{Field: "corrects", Text: err.Error()})
		case old.Gauge != r.Gauge:
			p = append(p, record.Problem{Field: "corrects", Text: fmt.Sprintf("record %d is about %s", r.Corrects, old.Gauge)})
		}
	}
	return p
}

// append numbers and stores a record.
func (b *Book) append(ctx context.Context, r *record.Record) (Entry, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	before, err := b.newest(ctx)
	if err != nil {
		return Entry{}, err
	}
	body, err := record.Follow(r, before)
	if err != nil {
		return Entry{}, err
	}
	_, err = b.Store.Put(ctx, store.Document{Kind: Kind, ID: strconv.Itoa(r.Number), Gauge: r.Gauge, Time: r.At, Body: body})
	if err != nil {
		return Entry{}, fmt.Errorf("record was not booked: %w", err)
	}
	return Entry{Record: r, Hash: record.Hash(body), Body: body}, nil
}

func (b *Book) newest(ctx context.Context) (*record.Link, error) {
	docs, err := b.Store.Documents(ctx, store.Query{Kind: Kind, Newest: true, Limit: 1})
	if err != nil || len(docs) == 0 {
		return nil, err
	}
	l, err := linkOf(docs[0])
	return &l, err
}

func linkOf(d store.Document) (record.Link, error) {
	n, err := strconv.Atoi(d.ID)
	if err != nil {
		return record.Link{}, fmt.Errorf("document %q of kind %s has no number: %w", d.ID, Kind, err)
	}
	return record.Link{Number: n, Body: d.Body}, nil
}

func entryOf(d store.Document) (Entry, error) {
	r, err := record.Parse(d.Body)
	if err != nil {
		return Entry{}, fmt.Errorf("record %s: %w", d.ID, err)
	}
	return Entry{Record: r, Hash: record.Hash(d.Body), Body: d.Body}, nil
}

// Get returns one record. The error is ErrNone when there is none of that
// number.
func (b *Book) Get(ctx context.Context, number int) (Entry, error) {
	docs, err := b.Store.Documents(ctx, store.Query{Kind: Kind, ID: strconv.Itoa(number), Limit: 1})
	if err != nil {
		return Entry{}, err
	}
	if len(docs) == 0 {
		return Entry{}, fmt.Errorf("%w: %d", ErrNone, number)
	}
	return entryOf(docs[0])
}

// Filter selects records. Empty fields do not restrict.
type Filter struct {
	Gauge    string
	Kind     record.Kind
	By       string // a part of the name
	From, To time.Time
	Limit    int
}

// List returns the records that match, newest first.
func (b *Book) List(ctx context.Context, f Filter) ([]Entry, error) {
	q := store.Query{Kind: Kind, Gauge: f.Gauge, From: f.From, To: f.To, Newest: true}
	if f.Kind == "" && f.By == "" {
		q.Limit = f.Limit
	}
	docs, err := b.Store.Documents(ctx, q)
	if err != nil {
		return nil, err
	}
	var out []Entry
	for _, d := range docs {
		e, err := entryOf(d)
		if err != nil {
			return out, err
		}
		if f.Kind != "" && e.Kind != f.Kind || !strings.Contains(strings.ToLower(e.By), strings.ToLower(f.By)) {
			continue
		}
		if out = append(out, e); f.Limit > 0 && len(out) == f.Limit {
			break
		}
	}
	return out, nil
}

// Verify walks the chain of all records. It returns how many hold and the hash
// of the newest of them; the error names the first that does not follow.
func (b *Book) Verify(ctx context.Context) (n int, hash string, err error) {
	docs, err := b.Store.Documents(ctx, store.Query{Kind: Kind})
	if err != nil {
		return 0, "", err
	}
	links := make([]record.Link, len(docs))
	for i, d := range docs {
		if links[i], err = linkOf(d); err != nil {
			return 0, "", err
		}
	}
	return record.VerifyChain(links)
}

// Resume tells the comparison of records it had not remembered when the
// service stopped: those booked since its state of each gauge was saved.
func (b *Book) Resume(ctx context.Context, remembers func(gauge string) time.Time) error {
	if b.Post == nil {
		return nil
	}
	for _, g := range b.Plant.Gauges() {
		tag := g.Sheet.Tag
		entries, err := b.List(ctx, Filter{Gauge: tag})
		if err != nil {
			return err
		}
		since := remembers(tag)
		for _, e := range slices.Backward(entries) {
			work, ok := e.Effect()
			if !ok || e.Booked.Before(since) {
				continue
			}
			if err := b.Post(tag, work); err != nil {
				return err
			}
		}
	}
	return nil
}

// Works returns what the comparison must know of the records of a gauge, in
// order of the time the work was done.
func (b *Book) Works(ctx context.Context, gauge string) ([]compare.Work, error) {
	entries, err := b.List(ctx, Filter{Gauge: gauge})
	if err != nil {
		return nil, err
	}
	var works []compare.Work
	for _, e := range slices.Backward(entries) {
		if work, ok := e.Effect(); ok {
			works = append(works, work)
		}
	}
	slices.SortStableFunc(works, func(a, b compare.Work) int { return a.At.Compare(b.At) })
	return works, nil
}
