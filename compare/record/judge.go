package record

import (
	"fmt"
	"math"

	"bridlewatch/compare/quantity"
)

// Finding is what a difference says about an instrument.
type Finding string

// Findings. There is deliberately no "pass".
const (
	Within    Finding = "within"
	Outside   Finding = "outside"
	CannotSay Finding = "cannot say"
)

// Verdict is a difference with what it may be and what follows.
type Verdict struct {
	Difference  quantity.Length `json:"difference_m"`
	U           quantity.Length `json:"difference_u_m"` // expanded (k = 2): the guard band
	Allowed     quantity.Length `json:"allowed_m"`
	Finding     Finding         `json:"finding"`
	Why         string          `json:"why,omitempty"`         // why nothing can be said
	Probability float64         `json:"probability,omitempty"` // that the true difference is within what is allowed
}

// Judge holds a difference against what is allowed, with the expanded
// uncertainty of the difference (k = 2) as the guard band:
//
//	within     |d| + U <= allowed
//	outside    |d| - U >  allowed
//	cannot say in between
//
// so that whoever claims one or the other carries the uncertainty of the
// measurement. The rule is that of ISO 14253-1 with the guard band of JCGM
// 106:2012, 8.3.2, w = U (both from memory). All three are metres; what is
// allowed must be positive, the uncertainty must not be negative.
func Judge(d, u, allowed quantity.Length) Verdict {
	v := Verdict{Difference: d, U: u, Allowed: allowed, Finding: CannotSay}
	size := quantity.Length(math.Abs(float64(d)))
	switch {
	case !finite(d) || !finite(u) || !finite(allowed):
		return Verdict{Finding: CannotSay, Why: "there is no number to judge"}
	case allowed <= 0:
		v.Why = "nobody has said what is allowed"
		return v
	case u < 0:
		v.Why = "the uncertainty of the reference is not known"
		return v
	case size+u <= allowed:
		v.Finding = Within
	case size-u > allowed:
		v.Finding = Outside
	case u >= allowed:
		v.Why = fmt.Sprintf("the reference is uncertain by %.1f mm, as much as is allowed or more; use a better one", u.Millimetres())
	default:
		v.Why = fmt.Sprintf("%.1f mm is nearer to the limit of %.1f mm than the reference can tell (%.1f mm)", size.Millimetres(), allowed.Millimetres(), u.Millimetres())
	}
	v.Probability = Conformance(d, u/2, allowed)
	return v
}

// Missing is the verdict on an instrument that gave no reading.
func Missing(why string) Verdict { return Verdict{Finding: CannotSay, Why: why} }

// Conformance is the probability that the true difference is within ±allowed,
// for a difference d measured with standard uncertainty u and nothing else
// known of it (JCGM 106:2012, 7.3, normal distribution; from memory).
func Conformance(d, u, allowed quantity.Length) float64 {
	if u <= 0 {
		if quantity.Length(math.Abs(float64(d))) <= allowed {
			return 1
		}
		return 0
	}
	return normal(float64((allowed-d)/u)) - normal(float64((-allowed-d)/u))
}

// normal is the standard normal distribution function.
func normal(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

func finite(l quantity.Length) bool { return !math.IsNaN(float64(l)) && !math.IsInf(float64(l), 0) }

// JudgeRow judges every reading of a row against its reference. allowed tells
// what an instrument may differ by; u is the expanded uncertainty (k = 2) of
// the reference.
func (row *Row) JudgeRow(u quantity.Length, allowed func(tag string) quantity.Length) {
	for i := range row.Readings {
		r := &row.Readings[i]
		if r.Missing != "" {
			r.Verdict = Missing(r.Missing)
			continue
		}
		r.Verdict = Judge(r.Value-row.Reference, u, allowed(r.Tag))
	}
}

// JudgeTrip judges the trip points of a switch against its data sheet.
func (t *Trip) JudgeTrip() {
	if c := t.Rising; c != nil {
		c.Verdict = Judge(c.Level-t.Sheet.Rising, c.U, t.Allowed)
	}
	if c := t.Falling; c != nil {
		c.Verdict = Judge(c.Level-t.Sheet.Falling, c.U, t.Allowed)
	}
}

// Tally counts findings of one phase.
type Tally struct{ Within, Outside, CannotSay int }

// Sum returns the number of judgements.
func (t Tally) Sum() int { return t.Within + t.Outside + t.CannotSay }

// Tally counts what the record says of one phase.
func (r *Record) Tally(p Phase) Tally {
	var t Tally
	count := func(v Verdict) {
		switch v.Finding {
		case Within:
			t.Within++
		case Outside:
			t.Outside++
		default:
			t.CannotSay++
		}
	}
	for i := range r.Rows {
		if r.Rows[i].Phase != p {
			continue
		}
		for _, reading := range r.Rows[i].Readings {
			count(reading.Verdict)
		}
	}
	for i := range r.Trips {
		if r.Trips[i].Phase != p {
			continue
		}
		for _, c := range []*Change{r.Trips[i].Rising, r.Trips[i].Falling} {
			if c != nil {
				count(c.Verdict)
			}
		}
	}
	return t
}
