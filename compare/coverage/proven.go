package coverage

import (
	"math"

	"bridlewatch/compare/quantity"
	"bridlewatch/compare/symptom"
)

// Bins is the number of equal elevation bins between the taps.
const Bins = 20

// Pass is the newest time a channel moved past the middle of a bin together
// with an independent witness. The zero value means never.
type Pass struct {
	At         int64 // Unix seconds
	Witness    symptom.Channel
	Rising     bool
	Difference float32 // channel minus witness, mm
	U          float32 // standard uncertainty of the difference, mm
	Count      uint32
}

// Passes keeps the newest pass of every channel through every bin. The zero
// value is ready.
type Passes [symptom.Channels][Bins]Pass

// Add books a move of a subject that a witness made too: every bin whose
// middle both crossed is proven. Lengths are millimetres, top is the distance
// between the taps, u the standard uncertainty of the difference.
func (p *Passes) Add(m *symptom.Move, top, u float64) {
	from, to := m.Subject-m.DX, m.Subject
	lo, hi := math.Min(from, to), math.Max(from, to)
	for b := max(0, int(lo/top*Bins-0.5)); b < Bins; b++ {
		middle := (float64(b) + 0.5) * top / Bins
		if middle > hi {
			break
		}
		if middle < lo {
			continue
		}
		pass := &p[m.SubjectIs][b]
		*pass = Pass{At: m.At, Witness: m.WitnessIs, Rising: m.DW > 0, Difference: float32(m.Subject - m.Witness), U: float32(u), Count: pass.Count + 1}
	}
}

// Newest returns when a channel was last proven anywhere, Unix seconds.
func (p *Passes) Newest(c symptom.Channel) (at int64) {
	for _, pass := range p[c] {
		at = max(at, pass.At)
	}
	return at
}

// BinEdges returns the elevations of a bin for a distance top between the taps.
func BinEdges(b int, top quantity.Length) (from, to quantity.Length) {
	return top * quantity.Length(b) / Bins, top * quantity.Length(b+1) / Bins
}
