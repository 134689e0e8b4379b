package symptom

import "math"

// burst books a gap that came and went; several within an hour are one.
func (g *Gap) burst(at int64) {
	if at-g.BurstAt < 3600 {
		g.BurstAt = at
		return
	}
	g.Bursts = g.Bursts*math.Exp(-float64(at-g.BurstAt)/burstMemory) + 1
	g.BurstAt, g.BurstSign = at, g.PlainSign
}

// Bursting reports how many such gaps came and went lately.
func (g *Gap) Bursting(at int64) float64 {
	return g.Bursts * math.Exp(-float64(at-g.BurstAt)/burstMemory)
}

func (g *Gap) gross(at int64, x, allowance float64) {
	if math.Abs(x) <= grossMM+allowance || (g.Gross > 0 && x*g.GrossSign < 0) {
		if g.Gross > 0 && at-g.GrossSince <= wildLongest {
			g.Wild, g.WildAt = g.wilds(at)+1, at
		}
		g.Gross = 0
		return
	}
	if g.Gross == 0 {
		g.GrossSince, g.GrossSign = at, math.Copysign(1, x)
	}
	if g.Gross < 255 {
		g.Gross++
	}
}

// wilds is how many gross gaps came and went within minutes lately.
func (g *Gap) wilds(at int64) float64 {
	return g.Wild * math.Exp(-float64(at-g.WildAt)/wildMemory)
}

// Bursty reports whether a gap must outlast a burst of corrupt values to be told
// within minutes: where values are minutes apart, where such bursts came lately, and
// where the user states what a gap may be and waits for it.
func (g *Gap) Bursty(at int64) bool {
	return g.Sparse || g.Patient || g.wilds(at) >= wildTold
}

// Lasts reports whether the gap was beyond its margin for so many minutes, or for
// longer than corrupt values come in a row.
func (g *Gap) Lasts(minutes uint16) bool {
	if g.Patient {
		minutes = burstValues
	}
	return g.Prompt.Minutes >= minutes
}

// IsGross reports a gap so large for so long that nothing need be confirmed.
func (g *Gap) IsGross(at int64) bool {
	if g.Bursty(at) {
		return g.Gross >= burstValues
	}
	return g.Gross >= grossMinutes
}
