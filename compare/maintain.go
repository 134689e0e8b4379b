package compare

import (
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/symptom"
)

// WorkKind says what people did to a gauge.
type WorkKind string

// Kinds of work.
const (
	WorkIsolated   WorkKind = "isolated"        // chamber valved off
	WorkReturned   WorkKind = "back in service" // and back again
	WorkRebaseline WorkKind = "re-baseline"     // re-ranged, moved or calibrated: learn the normal gap again
	WorkRepaired   WorkKind = "repaired"        // cleaned, repaired or replaced: open findings about it end
)

// Work is a maintenance record as the comparison needs it.
type Work struct {
	Kind WorkKind
	At   time.Time
	Tag  string // of the instrument worked on; empty: the whole gauge
}

// Maintain books a maintenance record. What was proven stays proven; running
// evidence about what was worked on is forgotten; findings a repair or a new
// baseline puts right end with the next evaluation.
func (st *State) Maintain(w Work) {
	at := w.At.Unix()
	switch w.Kind {
	case WorkIsolated:
		st.Isolated, st.ByRecord = true, true
	case WorkReturned:
		st.Isolated, st.ByRecord = false, false
		st.Returned = at
		st.forget()
	case WorkRebaseline, WorkRepaired:
		st.forget()
		st.Rebased = at
		if w.Tag == "" {
			st.Points = [datasheet.MaxPoints]symptom.Point{}
		}
		for i := range st.Episodes {
			e := &st.Episodes[i]
			if w.Tag == "" || e.Finding.Tag == w.Tag || e.Finding.Tag == "" {
				e.Ended = true
				if e.Group == Contact {
					st.Points[e.Index] = symptom.Point{}
				}
			}
		}
	}
}
