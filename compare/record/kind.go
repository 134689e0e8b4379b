package record

import "bridlewatch/compare"

// Kind says what was done.
type Kind string

// Kinds of records.
const (
	Verification    Kind = "verification" // instruments held against a reference
	DrainTest       Kind = "drain test"   // the same while draining or filling the chamber
	FloatCleaned    Kind = "float cleaned"
	SetPointChanged Kind = "set point changed"
	Recalibrated    Kind = "recalibrated"
	Repaired        Kind = "repaired"
	Replaced        Kind = "replaced"
	Isolated        Kind = "isolated"
	Returned        Kind = "back in service"
	Inspection      Kind = "inspection"
	Note            Kind = "note"
)

// Kinds lists every kind in the order people are offered them.
func Kinds() []Kind {
	return []Kind{Verification, DrainTest, Inspection, FloatCleaned, SetPointChanged, Recalibrated, Repaired, Replaced, Isolated, Returned, Note}
}

// Known reports whether k is one of Kinds.
func (k Kind) Known() bool {
	for _, known := range Kinds() {
		if k == known {
			return true
		}
	}
	return false
}

// Verifies reports whether a record of this kind holds instruments against a
// reference and so is dated in the list of what is due.
func (k Kind) Verifies() bool { return k == Verification || k == DrainTest }

// Effect returns what the comparison must know of the record; ok is false when
// it changes nothing. Readings as left after an adjustment begin a new normal,
// unless one of them was left outside what is allowed: that is no normal.
func (r *Record) Effect() (w compare.Work, ok bool) {
	w = compare.Work{At: r.At, Tag: r.Instrument}
	switch r.Kind {
	case Isolated:
		w.Kind, w.Tag = compare.WorkIsolated, ""
	case Returned:
		w.Kind, w.Tag = compare.WorkReturned, ""
	case FloatCleaned, Repaired, Replaced:
		w.Kind = compare.WorkRepaired
	case SetPointChanged, Recalibrated:
		w.Kind = compare.WorkRebaseline
	case Verification, DrainTest:
		w.Kind = compare.WorkRebaseline
		return w, r.has(AsLeft) && r.Tally(AsLeft).Outside == 0
	default:
		return w, false
	}
	return w, true
}

// has reports whether anything was recorded in a phase.
func (r *Record) has(p Phase) bool {
	for i := range r.Rows {
		if r.Rows[i].Phase == p {
			return true
		}
	}
	for i := range r.Trips {
		if r.Trips[i].Phase == p {
			return true
		}
	}
	return false
}
