package symptom

import "math"

// Median is the median of the last three one-minute values: one or two echo
// jumps in a row do not pass it. The zero value is ready.
type Median struct {
	V     [3]float64
	N     uint8
	Every int32 // shortest time from one value to the next, s, lately
	At    int64
}

// Values farther apart than that are not in a row: half an hour, or where the
// record has one every hour, as archives of tide gauges do, an hour and a half.
const (
	inARow      = 1800
	everLongest = 3600 // s between the values of the coarsest record
)

// Lost reports whether the newest value is too old to stand for now.
func (m *Median) Lost(at int64) bool {
	return at-m.At > max(inARow, int64(gridLate*float64(m.Every)))
}

// pace books the time from one value to the next, s.
func (m *Median) pace(apart int64) {
	every := int64(m.Every)
	switch {
	case m.At == 0 || apart <= 0 || apart > everLongest:
	case every == 0 || apart < every:
		m.Every = int32(apart)
	default:
		m.Every = int32(every + (apart-every)/gridSmooth)
	}
}

// Add folds a value taken at time at and reports the median once three values
// in a row are there.
func (m *Median) Add(at int64, x float64) (float64, bool) {
	if m.pace(at - m.At); m.Lost(at) {
		m.N = 0
	}
	m.At = at
	m.V[0], m.V[1], m.V[2] = m.V[1], m.V[2], x
	if m.N < 3 {
		m.N++
	}
	if m.N < 3 {
		return 0, false
	}
	a, b, c := m.V[0], m.V[1], m.V[2]
	return math.Max(math.Min(a, b), math.Min(math.Max(a, b), c)), true
}
