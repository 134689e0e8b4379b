package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/url"
	"strconv"
	"time"

	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/compare/record"
	"bridlewatch/config"
	"bridlewatch/dashboards/api"
	"bridlewatch/dashboards/records"
)

// ledger is the book of records, of a running service or of a data directory.
type ledger interface {
	list(ctx context.Context, f records.Filter) ([]api.RecordLine, error)
	get(ctx context.Context, number int) (records.Entry, error)
	add(ctx context.Context, r api.NewRecord) (records.Entry, error)
	due(ctx context.Context) ([]api.Due, error)
	verify(ctx context.Context) (api.Chain, error)
	close() error
}

// openLedger finds the book: with --data that of a directory no service has
// open, else that of the service.
func openLedger(ctx context.Context, a *ask) (ledger, error) {
	if a.data == "" {
		return servedBook{a}, nil
	}
	l, err := openLocalBook(ctx, a.config, a.data)
	if err != nil {
		return nil, fmt.Errorf("%w; while a service runs, ask it: leave out --data", err)
	}
	return l, nil
}

// openLocalBook opens the book of a data directory no service has open.
func openLocalBook(ctx context.Context, file, dir string) (localBook, error) {
	cfg, err := config.Load(config.LoadOptions{File: file, WithoutSecrets: true})
	if err != nil {
		return localBook{}, err
	}
	w, err := watch.Revive(ctx, cfg, dir)
	if err != nil {
		return localBook{}, err
	}
	db, err := embedded.Open(ctx, embedded.Options{Dir: dir, Upkeep: -1, Retain: retention(cfg)})
	if err != nil {
		return localBook{}, err
	}
	return localBook{db, records.NewBook(records.Options{Store: db, Plant: w, Location: cfg.Site.TimeZone, Software: programVersion()})}, nil
}

// localBook is the book of a data directory. The comparison hears of what is
// added when the service starts.
type localBook struct {
	db   *embedded.DB
	book *records.Book
}

func (l localBook) list(ctx context.Context, f records.Filter) ([]api.RecordLine, error) {
	list, err := l.book.List(ctx, f)
	lines := []api.RecordLine{}
	for _, e := range list {
		lines = append(lines, api.RecordLineOf(e))
	}
	return lines, err
}

func (l localBook) get(ctx context.Context, number int) (records.Entry, error) {
	return l.book.Get(ctx, number)
}

func (l localBook) add(ctx context.Context, r api.NewRecord) (records.Entry, error) {
	return l.book.Add(ctx, record.Record{Kind: record.Kind(r.Kind), Gauge: r.Gauge, Instrument: r.Instrument, At: r.At, By: r.By, Permit: r.Permit, Work: r.Work, Remarks: r.Remarks, Corrects: r.Corrects})
}

func (l localBook) verify(ctx context.Context) (api.Chain, error) {
	n, hash, err := l.book.Verify(ctx)
	c := api.Chain{Holds: err == nil, Records: n, SHA256: hash}
	if errors.Is(err, record.ErrChain) {
		c.Trouble, err = err.Error(), nil
	}
	return c, err
}

func (l localBook) due(ctx context.Context) ([]api.Due, error) {
	list, err := l.book.Due(ctx)
	return api.DueOf(list), err
}

func (l localBook) close() error { return l.db.Close() }

// servedBook is the book of a running service.
type servedBook struct{ ask *ask }

func (s servedBook) list(ctx context.Context, f records.Filter) ([]api.RecordLine, error) {
	q := url.Values{}
	set := func(name, value string) {
		if value != "" {
			q.Set(name, value)
		}
	}
	set("gauge", f.Gauge)
	set("kind", string(f.Kind))
	set("by", f.By)
	for name, t := range map[string]time.Time{"from": f.From, "to": f.To} {
		if !t.IsZero() {
			q.Set(name, t.Format(time.RFC3339))
		}
	}
	if f.Limit > 0 {
		q.Set("limit", strconv.Itoa(f.Limit))
	}
	return get[[]api.RecordLine](ctx, s.ask, "/records?"+q.Encode())
}

// sentRecord is a record as the interface sends it.
type sentRecord struct {
	SHA256 string          `json:"sha256"`
	Record json.RawMessage `json:"record"`
}

// entry reads what was sent and holds it against its hash.
func (s sentRecord) entry() (records.Entry, error) {
	if sum := record.Hash(s.Record); sum != s.SHA256 {
		return records.Entry{}, fmt.Errorf("the record was changed on its way: SHA-256 %s, not %s", sum, s.SHA256)
	}
	r, err := record.Parse(s.Record)
	return records.Entry{Record: r, Hash: s.SHA256, Body: s.Record}, err
}

func (s servedBook) get(ctx context.Context, number int) (records.Entry, error) {
	sent, err := get[sentRecord](ctx, s.ask, "/records/"+strconv.Itoa(number))
	if err != nil {
		return records.Entry{}, err
	}
	return sent.entry()
}

func (s servedBook) add(ctx context.Context, r api.NewRecord) (records.Entry, error) {
	sent, err := post[sentRecord](ctx, s.ask, "/records", r)
	if err != nil {
		return records.Entry{}, err
	}
	return sent.entry()
}

func (s servedBook) verify(ctx context.Context) (api.Chain, error) {
	return get[api.Chain](ctx, s.ask, "/records/verification")
}

func (s servedBook) due(ctx context.Context) ([]api.Due, error) {
	return get[[]api.Due](ctx, s.ask, "/records/due")
}

func (s servedBook) close() error { return nil }
