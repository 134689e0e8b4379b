package records

import (
	"context"
	"fmt"
	"time"

	"bridlewatch/compare/record"
	"bridlewatch/dashboards/plant"
)

// End is what a guided test ends with.
type End struct {
	Work       string // what was done
	Remarks    string
	NotTested  []string // beside what the record itself knows of
	Witness    string   // names
	Accepted   string
	Instrument string // that was adjusted, if one was
	Return     bool   // book the chamber back in service
}

// finishPatience is how long somebody who makes a record of a test may take
// before another may try: longer than writing it can take.
const finishPatience = time.Minute

// Finish makes one record of the test, however many try at once or again after
// a failure. The chamber is booked back in service after it when that is asked
// for.
func (b *Book) Finish(ctx context.Context, g plant.GaugeView, seen int64, e End) (Entry, error) {
	d, err := b.claim(ctx, g.Sheet.Tag, seen)
	if err != nil {
		return Entry{}, err
	}
	booked, err := b.bookTest(ctx, g, d.Seq, e)
	if err != nil && booked.Record == nil {
		b.release(ctx, g.Sheet.Tag, d.Seq)
	}
	if err != nil || !e.Return {
		return booked, err
	}
	_, err = b.Add(ctx, record.Record{Kind: record.Returned, Gauge: g.Sheet.Tag, By: booked.By, Permit: booked.Permit, Work: fmt.Sprintf("Chamber back in service after record %d.", booked.Number)})
	return booked, err
}

// claim writes down that a record is being made, so that whoever looked at the
// test before cannot make another, not even from another program.
func (b *Book) claim(ctx context.Context, gauge string, seen int64) (*Draft, error) {
	return b.step(ctx, gauge, seen, func(d *Draft) error {
		if since := b.Now().Sub(d.Finishing); !d.Finishing.IsZero() && since >= 0 && since < finishPatience {
			if _, there, err := b.madeOf(ctx, d); err != nil || !there {
				return orMoved(err)
			}
		}
		d.Finishing = b.Now()
		return nil
	})
}

func orMoved(err error) error {
	if err != nil {
		return err
	}
	return ErrMoved
}

// release lets others finish the test after nothing came of it.
func (b *Book) release(ctx context.Context, gauge string, seen int64) {
	_, _ = b.step(ctx, gauge, seen, func(d *Draft) error { // its time runs out by itself
		d.Finishing = time.Time{}
		return nil
	})
}

// bookTest books the record of a claimed test and ends it. A record that was
// booked of it before, and not noted, is taken for it.
func (b *Book) bookTest(ctx context.Context, g plant.GaugeView, seen int64, e End) (booked Entry, err error) {
	_, err = b.step(ctx, g.Sheet.Tag, seen, func(d *Draft) error {
		var there bool
		if booked, there, err = b.madeOf(ctx, d); err != nil {
			return err
		}
		if !there {
			r := d.Record
			r.Work, r.Remarks, r.Instrument, r.At, r.Sheet = e.Work, e.Remarks, e.Instrument, b.Now(), g.Sheet // the sheet may have changed since the test began
			r.NotTested = append(r.Untested(), e.NotTested...)
			r.Signatures = []record.Signature{{Role: "tested by", Name: r.By}, {Role: "witnessed by", Name: e.Witness}, {Role: "accepted by", Name: e.Accepted}}
			if booked, err = b.Add(ctx, r); err != nil {
				return err
			}
		}
		d.Open, d.Booked = false, booked.Number
		return nil
	})
	return booked, err
}

// madeOf returns the record that was made of a test, if one was: booked since
// it began, of the same gauge, kind and person, begun at the same instant.
func (b *Book) madeOf(ctx context.Context, d *Draft) (Entry, bool, error) {
	list, err := b.List(ctx, Filter{Gauge: d.Record.Gauge, Kind: d.Record.Kind, From: d.Record.Began})
	if err != nil {
		return Entry{}, false, err
	}
	for _, e := range list {
		if e.Number > d.After && !e.Began.IsZero() && e.Began.Equal(d.Record.Began) && e.By == d.Record.By {
			return e, true, nil
		}
	}
	return Entry{}, false, nil
}
