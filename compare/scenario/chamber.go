package scenario

import (
	"math"

	"bridlewatch/compare/quantity"
)

// standpipe is the liquid in the chamber. It follows the level at which it
// would balance the vessel through the lower connection, unless a connection
// is plugged or closed. A vessel that stands above the upper connection spills
// through it, so that a cold chamber is full too, however heavy its liquid.
type standpipe struct {
	level float64 // metres above the lower tap

	// Upper connection plugged: gas trapped above the liquid.
	trapped   bool
	gas       float64 // pascal metre per kelvin: pressure times height over temperature
	top       float64 // metres above the lower tap: top of the gas
	condenses bool
}

// surroundings are what the chamber's liquid feels.
type surroundings struct {
	balance     float64 // level at which the chamber would stand, metres
	spill       float64 // level of a vessel above the upper connection, metres; 0: it is not
	pressure    float64 // of the vessel's gas, pascals absolute
	temperature float64 // of the chamber, kelvins
	density     float64 // of the chamber's liquid, kg/m3
	lag         float64 // seconds
	upperClosed bool
	lowerClosed bool
	height      float64 // top of the gas space above the lower tap, metres
	condenses   bool
}

func (p *standpipe) step(dt float64, s surroundings) {
	goal := s.balance
	switch {
	case s.lowerClosed:
		p.trapped = false
		goal = p.level
	case s.upperClosed:
		if !p.trapped {
			p.trap(s)
		}
		if p.condenses { // the vapour condenses and the chamber fills
			p.gas *= math.Exp(-dt / (6 * 3600))
		}
		goal = p.trappedLevel(s)
	default:
		p.trapped = false
	}
	if s.spill > 0 && !s.upperClosed {
		goal = math.Max(goal, s.spill)
	}
	p.level += (goal - p.level) * -math.Expm1(-dt/math.Max(s.lag, 0.1))
}

func (p *standpipe) trap(s surroundings) {
	p.trapped, p.condenses = true, s.condenses
	p.top = math.Max(s.height, p.level+0.05)
	p.gas = s.pressure * (p.top - p.level) / s.temperature
}

// trappedLevel is where the liquid balances the vessel against the trapped
// gas: P + rho g balance = gas T/(top-x) + rho g x, a quadratic in the height
// y = top-x of the gas.
func (p *standpipe) trappedLevel(s surroundings) float64 {
	weight := s.density * quantity.StandardGravity
	b := s.pressure + weight*(s.balance-p.top)
	y := (-b + math.Sqrt(b*b+4*weight*p.gas*s.temperature)) / (2 * weight)
	// Multiplying with the conjugate keeps the digits when b is large.
	if b > 0 {
		y = 2 * p.gas * s.temperature / (b + math.Sqrt(b*b+4*weight*p.gas*s.temperature))
	}
	return p.top - y
}
