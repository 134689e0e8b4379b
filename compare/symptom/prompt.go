package symptom

import "math"

// Prompt counts the minutes in a row in which a gap is beyond what is allowed
// by a margin, so that a fault of the mechanics need not wait for the hours an
// offset is confirmed in. A wild echo lasts three readings at most. The zero
// value is ready.
type Prompt struct {
	Minutes uint16  // beyond the margin
	Since   int64   // Unix seconds of the first of Minutes
	Sign    float64 // of the gap
}

// Margins of Prompt, mm: a quarter more than is allowed and as much as play,
// resolution and noise of three minutes make.
const (
	promptLeast = 12.0
	promptMore  = 6.0
	promptShare = 1.25
)

func (p *Prompt) add(at int64, x float64, t Tolerance, movement float64) {
	limit := math.Max(promptLeast, promptShare*t.UD+promptMore) + t.Floor + movement
	if math.Abs(x) <= limit || x*p.Sign < 0 {
		*p = Prompt{}
		return
	}
	if p.Minutes == 0 {
		p.Since, p.Sign = at, math.Copysign(1, x)
	}
	p.Minutes = satAdd(p.Minutes)
}
