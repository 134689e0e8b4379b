package records

import (
	"context"
	"errors"
	"time"

	"bridlewatch/compare/quantity"
	"bridlewatch/compare/record"
	"bridlewatch/dashboards/plant"
)

// Start is what a guided test begins with.
type Start struct {
	Kind      record.Kind // verification or drain test
	By        string
	Permit    string
	Method    string
	Reference record.Reference
	Filling   bool            // upwards
	Allowed   quantity.Length // 0: what each instrument's own budget says
	TripsMay  quantity.Length
	Isolate   bool // book the chamber as isolated now
	Confirmed bool // permit, procedure and people are in place
}

func (s *Start) problems() (p record.Problems) {
	wrong := func(field, text string) { p = append(p, record.Problem{Field: field, Text: text}) }
	if !s.Kind.Verifies() {
		wrong("kind", "choose "+string(record.Verification)+" or "+string(record.DrainTest))
	}
	if s.By == "" {
		wrong("by", "give the name of who does it")
	}
	if s.Reference.Description == "" {
		wrong("reference", "say what the instruments are held against")
	}
	if s.Reference.U <= 0 {
		wrong("reference_u", "give the expanded uncertainty (k = 2) of one reading of the reference; it is the guard band")
	}
	if s.Reference.Due != "" {
		if _, err := time.Parse(time.DateOnly, s.Reference.Due); err != nil {
			wrong("reference_due", "this is no date; write it like 2027-03-31")
		}
	}
	if s.TripsMay <= 0 {
		wrong("trips_may", "say by how much a trip point may differ from its data sheet")
	}
	if s.Allowed < 0 {
		wrong("allowed", "this cannot be negative; leave it empty for what each instrument's budget says")
	}
	if !s.Confirmed {
		wrong("confirmed", "confirm that the work is permitted and the people are competent; without that nothing is begun")
	}
	return p
}

// Begin starts a guided test.
func (b *Book) Begin(ctx context.Context, g plant.GaugeView, s Start) (*Draft, error) {
	if b.ReadOnly {
		return nil, ErrReadOnly
	}
	if p := s.problems(); len(p) > 0 {
		return nil, p
	}
	b.steps.Lock() // two who begin at once begin one test
	defer b.steps.Unlock()
	old, err := b.Draft(ctx, g.Sheet.Tag)
	if err == nil {
		return old, ErrUnder
	}
	if !errors.Is(err, ErrNoDraft) {
		return nil, err
	}
	newest, err := b.List(ctx, Filter{Limit: 1})
	if err != nil {
		return nil, err
	}
	now := b.Now()
	d := &Draft{Open: true, Filling: s.Filling, Allowed: s.Allowed, TripsMay: s.TripsMay, Elevation: Suggest(g.Sheet, s.Filling), Isolated: s.Isolate}
	d.Record = record.Record{Kind: s.Kind, Gauge: g.Sheet.Tag, Began: now, By: s.By, Permit: s.Permit, Method: s.Method, Reference: &s.Reference, Sheet: g.Sheet}
	if old != nil {
		d.Seq = old.Seq
	}
	if len(newest) > 0 {
		d.After = newest[0].Number
	}
	if s.Isolate {
		if _, err := b.Add(ctx, record.Record{Kind: record.Isolated, Gauge: g.Sheet.Tag, By: s.By, Permit: s.Permit, Work: "Chamber isolated for " + article(s.Kind)}); err != nil {
			return nil, err
		}
	}
	return d, b.keep(ctx, d)
}

func article(k record.Kind) string { return "a " + string(k) + "." }
