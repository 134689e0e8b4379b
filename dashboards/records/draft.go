package records

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/record"
	"bridlewatch/dashboards/plant"
)

// DraftKind of the documents that are guided tests under way, one for each
// gauge.
const DraftKind = "record-draft"

// Errors of drafts.
var (
	ErrNoDraft = errors.New("no test is under way on this gauge; begin one")
	ErrUnder   = errors.New("a test is already under way on this gauge; go on with it or discard it")
	ErrMoved   = errors.New("somebody else went on with this test; look at it again, then repeat what you wanted")
)

// Draft is a guided drain or fill under way. It is kept after every step, so
// that it can be left and resumed from any device.
type Draft struct {
	Open      bool            `json:"open"`
	Record    record.Record   `json:"record"` // so far
	Filling   bool            `json:"filling"`
	Allowed   quantity.Length `json:"allowed_m"`          // decided by the user; 0: what each instrument's own budget says
	TripsMay  quantity.Length `json:"trips_may_m"`        // what a trip point may differ by
	Isolated  bool            `json:"isolated"`           // the chamber was booked as isolated for this test
	Elevation []Elevation     `json:"elevations"`         // suggested
	After     int             `json:"after"`              // newest record when it began
	Finishing time.Time       `json:"finishing,omitzero"` // somebody is making a record of it
	Booked    int             `json:"booked"`             // number of the record it became
	Seq       int64           `json:"seq"`                // version; steps name the one they saw
	Changed   time.Time       `json:"changed,omitzero"`
}

// Next is the first suggested elevation that has no row as found yet.
func (d *Draft) Next() (Elevation, bool) {
	for _, e := range d.Elevation {
		if !d.Has(e) {
			return e, true
		}
	}
	return Elevation{}, false
}

// Has reports whether there is a row as found near enough to an elevation,
// whatever elevation it was meant for.
func (d *Draft) Has(e Elevation) bool {
	return slices.ContainsFunc(d.Record.Rows, func(r record.Row) bool { return r.Phase == record.AsFound && abs(r.Reference-e.At) <= apart })
}

func abs(l quantity.Length) quantity.Length { return max(l, -l) }

// Draft returns the test under way on a gauge; ErrNoDraft when there is none.
func (b *Book) Draft(ctx context.Context, gauge string) (*Draft, error) {
	docs, err := b.Store.Documents(ctx, store.Query{Kind: DraftKind, ID: gauge, Latest: true})
	if err != nil {
		return nil, err
	}
	if len(docs) == 0 {
		return nil, ErrNoDraft
	}
	var d Draft
	if err := json.Unmarshal(docs[0].Body, &d); err != nil {
		return nil, fmt.Errorf("test under way on %s: %w", gauge, err)
	}
	d.Seq = docs[0].Seq
	if !d.Open {
		return &d, ErrNoDraft
	}
	return &d, nil
}

// keep stores the draft as the version after the one that was read.
func (b *Book) keep(ctx context.Context, d *Draft) error {
	seen := d.Seq
	d.Changed = b.Now()
	body, err := json.Marshal(d)
	if err != nil {
		return fmt.Errorf("keep test under way on %s: %w", d.Record.Gauge, err)
	}
	seq, err := b.Store.Put(ctx, store.Document{Kind: DraftKind, ID: d.Record.Gauge, Gauge: d.Record.Gauge, Time: d.Changed, Replaces: seen, Body: body})
	if errors.Is(err, store.ErrConflict) {
		return ErrMoved
	}
	if err != nil {
		return fmt.Errorf("keep test under way on %s: %w", d.Record.Gauge, err)
	}
	d.Seq = seq
	return nil
}

// step changes the draft of a gauge, as somebody who saw version seen wants.
func (b *Book) step(ctx context.Context, gauge string, seen int64, change func(*Draft) error) (*Draft, error) {
	if b.ReadOnly {
		return nil, ErrReadOnly
	}
	b.steps.Lock()
	defer b.steps.Unlock()
	d, err := b.Draft(ctx, gauge)
	if err != nil {
		return nil, err
	}
	if seen != 0 && seen != d.Seq {
		return d, ErrMoved
	}
	if err := change(d); err != nil {
		return d, err
	}
	return d, b.keep(ctx, d)
}

// Stop is one elevation at which the technician stopped.
type Stop struct {
	Phase     record.Phase
	Asked     quantity.Length
	Reference quantity.Length // what the reference says
}

// Take confirms an elevation: the readings of the instruments at this moment
// are taken from the service and judged.
func (b *Book) Take(ctx context.Context, g plant.GaugeView, seen int64, s Stop) (*Draft, error) {
	return b.step(ctx, g.Sheet.Tag, seen, func(d *Draft) error {
		up := g.Sheet.Chamber.CentreToCentre
		switch {
		case s.Phase != record.AsFound && s.Phase != record.AsLeft:
			return record.Problems{{Field: "phase", Text: "choose as found or as left"}}
		case s.Reference < -g.Sheet.Chamber.BelowLowerTap || s.Reference > up+g.Sheet.Chamber.AboveUpperTap:
			return record.Problems{{Field: "reference_level", Text: fmt.Sprintf("%.0f mm is outside the chamber, which goes from %.0f to %.0f mm above the lower tap",
				s.Reference.Millimetres(), -g.Sheet.Chamber.BelowLowerTap.Millimetres(), (up + g.Sheet.Chamber.AboveUpperTap).Millimetres())}}
		}
		row := record.Row{Phase: s.Phase, At: b.Now(), Asked: s.Asked, Reference: s.Reference, Readings: Live(g, b.Plant.Now())}
		row.JudgeRow(d.Record.Reference.U, allowances(g, d.Allowed))
		d.Record.Rows = append(d.Record.Rows, row)
		d.Record.Conditions, d.Record.Picture, d.Record.Budgets = conditions(g), picture(g, b.Plant.Now()), budgets(g)
		return nil
	})
}

// Drop takes back a row that was taken by mistake; index counts from 0.
func (b *Book) Drop(ctx context.Context, gauge string, seen int64, index int) (*Draft, error) {
	return b.step(ctx, gauge, seen, func(d *Draft) error {
		if index < 0 || index >= len(d.Record.Rows) {
			return record.Problems{{Field: "row", Text: "there is no such row"}}
		}
		d.Record.Rows = slices.Delete(d.Record.Rows, index, index+1)
		return nil
	})
}

// Switched is where a switch changed over, by the reference; or, with
// FromHistory, where history says it did since the test began.
type Switched struct {
	Phase           record.Phase
	Tag             string
	Rising, Falling *quantity.Length // nil: not exercised
	FromHistory     bool
}

// Switch records where a switch changed over.
func (b *Book) Switch(ctx context.Context, g plant.GaugeView, seen int64, s Switched) (*Draft, error) {
	return b.step(ctx, g.Sheet.Tag, seen, func(d *Draft) error {
		trip := record.Trip{Phase: s.Phase, Tag: s.Tag, Allowed: d.TripsMay}
		found := false
		for _, p := range g.Sheet.Points {
			if p.Tag == s.Tag {
				trip.Sheet.Rising, trip.Sheet.Falling = p.Trips()
				trip.Sheet.Operated, found = p.Operated, true
			}
		}
		switch {
		case !found:
			return record.Problems{{Field: "switch", Text: s.Tag + " is no switch of " + g.Sheet.Tag}}
		case s.Phase != record.AsFound && s.Phase != record.AsLeft:
			return record.Problems{{Field: "phase", Text: "choose as found or as left"}}
		}
		if s.FromHistory {
			if err := b.fromHistory(ctx, g, d, &trip); err != nil {
				return err
			}
		} else {
			trip.Rising, trip.Falling = byReference(s.Rising, d), byReference(s.Falling, d)
		}
		if trip.Rising == nil && trip.Falling == nil {
			return record.Problems{{Field: "rising-" + s.Tag, Text: "give the level at which it changed on rising level, on falling level, or both"}}
		}
		trip.JudgeTrip()
		d.Record.Trips = slices.DeleteFunc(d.Record.Trips, func(t record.Trip) bool { return t.Phase == s.Phase && t.Tag == s.Tag })
		d.Record.Trips = append(d.Record.Trips, trip)
		return nil
	})
}

func byReference(l *quantity.Length, d *Draft) *record.Change {
	if l == nil {
		return nil
	}
	return &record.Change{Level: *l, U: d.Record.Reference.U, Witness: "reference", Filling: true}
}

func (b *Book) fromHistory(ctx context.Context, g plant.GaugeView, d *Draft, trip *record.Trip) error {
	seen, err := b.Seen(ctx, g, d)
	if err != nil {
		return err
	}
	for _, s := range seen {
		if s.Tag == trip.Tag {
			trip.Rising, trip.Falling = s.Rising, s.Falling
		}
	}
	for _, c := range []*record.Change{trip.Rising, trip.Falling} {
		if c != nil {
			c.Filling, c.At = true, c.At.In(b.Location)
		}
	}
	return nil
}

// Seen returns the changes of switches that the service has seen since the
// test began.
func (b *Book) Seen(ctx context.Context, g plant.GaugeView, d *Draft) ([]Seen, error) {
	return Changes(ctx, b.Store, g.Sheet, d.Record.Began, b.Now().Add(time.Second))
}

// Discard ends a test without a record.
func (b *Book) Discard(ctx context.Context, gauge string, seen int64) error {
	_, err := b.step(ctx, gauge, seen, func(d *Draft) error {
		d.Open = false
		return nil
	})
	return err
}
