package scenario

import (
	"math"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

// character is what is peculiar to the instruments of one unit: the small
// errors every healthy instrument has, drawn once within the uncertainties
// the data sheet states.
type character struct {
	float    flaws
	main     flaws // transmitter
	second   flaws
	vessel   flaws
	point    [datasheet.MaxPoints]float64 // metres
	backlash float64                      // metres, half width
}

// flaws are the constant errors and the noise of one level instrument.
type flaws struct {
	zero  float64 // metres
	gain  float64 // fraction of level
	skew  float64 // seconds the sample is late
	noise float64 // metres, standard deviation of a single reading
	wave  float64 // share of the surface's waves it sees
}

func newCharacter(sheet *datasheet.Sheet, s *source) character {
	c := character{
		float:    flaws{zero: within(s, float64(sheet.Budget.Follower), 1e-3), noise: 0.3e-3, wave: 0.5, skew: s.between(0, 2)},
		main:     transmitterErrors(sheet.Transmitter, s),
		second:   transmitterErrors(sheet.Second, s),
		vessel:   flaws{noise: 1e-3, wave: 1.5, skew: s.between(0, 4)},
		backlash: s.between(0, 1.5e-3),
	}
	if sheet.Vessel != nil {
		c.vessel.zero = within(s, float64(sheet.Vessel.U), 2e-3)
	}
	for i := range sheet.Points {
		c.point[i] = within(s, float64(sheet.Points[i].U), 1.5e-3)
	}
	return c
}

// within draws an error within one and a half standard uncertainties.
func within(s *source, u, otherwise float64) float64 {
	if u <= 0 {
		u = otherwise
	}
	return u * s.between(-1.5, 1.5)
}

func transmitterErrors(t *datasheet.Transmitter, s *source) flaws {
	if t == nil {
		return flaws{}
	}
	e := flaws{zero: within(s, float64(t.U), 2e-3) * 0.7, gain: s.between(-0.002, 0.002), skew: s.between(0, 6), noise: 0.8e-3, wave: 1}
	switch t.Principle {
	case datasheet.DPWet, datasheet.DPDry, datasheet.DPSeals:
		e.noise, e.wave = 0.6e-3, 0.7
	case datasheet.Displacer:
		e.noise, e.wave = 1.5e-3, 0.6
	case datasheet.FloatFollower:
		e.noise, e.wave, e.gain = 0.3e-3, 0.5, 0
	}
	return e
}

// link is the way from a quantity at the instrument to a reading: it
// remembers what was sent, and when it was cut.
type link struct {
	sent    float64
	started bool
	cut     float64 // seconds left of a drop-out
}

// report applies report by exception: a change smaller than beyond is not sent.
func (l *link) report(value, beyond float64) float64 {
	if !l.started || math.Abs(value-l.sent) >= beyond {
		l.sent, l.started = value, true
	}
	return l.sent
}

// history keeps the readings of the last minutes, so that a late sample can be
// taken out of it.
type history struct {
	at     [64]float64 // seconds
	value  [64]float64
	next   int
	filled int
}

func (h *history) add(now, value float64) {
	h.at[h.next], h.value[h.next] = now, value
	h.next = (h.next + 1) % len(h.at)
	h.filled = min(h.filled+1, len(h.at))
}

// before returns the value at now-late, interpolated, or the oldest there is.
func (h *history) before(now, late float64) float64 {
	newer := (h.next + len(h.at) - 1) % len(h.at)
	wanted := now - late
	for i := 1; i < h.filled; i++ {
		older := (newer + len(h.at) - 1) % len(h.at)
		if h.at[older] <= wanted {
			span := h.at[newer] - h.at[older]
			if span <= 0 {
				return h.value[newer]
			}
			share := (wanted - h.at[older]) / span
			return h.value[older] + share*(h.value[newer]-h.value[older])
		}
		newer = older
	}
	return h.value[newer]
}

// lever says how a transmitter's reading depends on level near one operating
// point: reading = zero + slope * level.
type lever struct{ zero, slope float64 }

// contact is a bistable point switch.
type contact struct {
	wet, known bool
}

// pass updates the contact for the position of what works it. It trips up
// half a differential above its elevation and down half of it below.
func (c *contact) pass(position, elevation, differential float64) bool {
	switch {
	case position >= elevation+differential/2:
		c.wet = true
	case position <= elevation-differential/2:
		c.wet = false
	case !c.known:
		c.wet = position >= elevation
	}
	c.known = true
	return c.wet
}

// quantise rounds a float's position to the pitch of a reed chain.
func quantise(f *datasheet.Float, position float64) float64 {
	pitch := float64(f.Pitch)
	if f.Follower != datasheet.ReedChain || pitch <= 0 {
		return position
	}
	return math.Round(position/pitch) * pitch
}

// pascalsPerMetre is the weight of a liquid.
func pascalsPerMetre(d quantity.Density) float64 { return float64(d) * quantity.StandardGravity }
