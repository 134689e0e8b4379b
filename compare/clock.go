package compare

import (
	"fmt"
	"math"
	"slices"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/shape"
	"bridlewatch/compare/symptom"
)

// clocks is what every two instruments of the chamber show an hour or so apart.
type clocks [gauge.Pairs]shape.Clock

// clocks compares them since the onset of an episode, at most over the last
// days, and over a day at least where a record has a value an hour: there a gap
// that comes and goes is gone before it shows.
func (g *Gauge) clocks(at int64, st *State, e *Episode) (all clocks) {
	if st.marks = st.Hours.Since(max(e.Finding.Since.Unix(), at-hoursSpan), st.marks); len(st.marks) < shape.ClockMarks {
		st.marks = st.Hours.Since(at-day, st.marks)
	}
	for _, p := range g.pairs {
		if a, b := symptom.Members(p); a != symptom.VesselLevel {
			all[p] = shape.Elsewhen(st.marks, st.Hours.Step, a, b)
		}
	}
	return all
}

// off reports whether what one channel misses of another is a matter of hours.
func (c *clocks) off(subject, witness symptom.Channel) bool {
	p := pairOf(subject, witness)
	return p < gauge.Pairs && c[p].Off()
}

// any reports whether any two agree at another time: short marks alone show that.
func (c *clocks) any() bool {
	return slices.ContainsFunc(c[:], func(k shape.Clock) bool { return k.Off() })
}

// clockEvidence enters which instruments agree at another time.
func (g *Gauge) clockEvidence(at int64, st *State, e *Episode, l *cause.Ledger, c *clocks) {
	for _, p := range g.pairs {
		k := &c[p]
		if !k.Off() {
			continue
		}
		a, b := symptom.Members(p)
		when := "before"
		if k.Late < 0 {
			when = "later"
		}
		l.Add(cause.Evidence{From: e.Finding.Since, To: unix(at), Excitation: fmt.Sprintf("%d marks of %s", k.Marks, span(st.Hours.Step)),
			Sentence: fmt.Sprintf("%s shows what %s showed %s %s, within %.0f mm; at the same time they go apart by %.0f mm.",
				g.name(a), lower(g.name(b)), span(max(k.Late, -k.Late)), when, math.Max(1, k.Then), k.Now),
			Numbers: map[string]float64{"late_s": float64(k.Late), "then_mm": k.Then, "now_mm": k.Now}},
			func(h *cause.Hypothesis) float64 {
				if h.Cause == cause.TimeSkew {
					return math.Min(clockMost, float64(k.Marks)/clockMarksPerNat)
				}
				return 0
			})
	}
}

// What an instrument that agrees at another time weighs, nats.
const (
	clockMost        = 12.0
	clockMarksPerNat = 4.0
)
