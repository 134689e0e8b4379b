package gauge

import (
	"cmp"
	"math"

	"bridlewatch/compare/datasheet"
)

// Standard uncertainties that stand where the data sheet gives none. They are
// common practice, no source; a stated half width a of a rectangular
// distribution enters as a/√3 (JCGM 100:2008, 4.3.7).
const (
	gasModel           = 0.01  // relative, of a gas density: real-gas factor, non-condensables
	measuredPressure   = 0.005 // relative
	assumedPressure    = 0.05  // relative, of an operating pressure nobody measures
	measuredTemp       = 1.0   // K
	assumedTemperature = 10.0  // K, of an operating temperature nobody measures
	profileTemp        = 1.0   // K, mean of a chamber against its one thermometer
	defaultFloatMass   = 0.005 // relative, float mass and volume together
	couplingHalfWidth  = 2e-3  // m, magnet coupling and hysteresis
	stripHalfWidth     = 1e-3  // m, magnetostrictive strip
	tapHalfWidth       = 2e-3  // m, scale and tap elevation
	radarHalfWidth     = 5e-3  // m
	followerHalfWidth  = 3e-3  // m
	displacerHalfWidth = 0.005 // relative to its length
	dpHalfWidth        = 0.001 // relative to the span in pascals
	vesselHalfWidth    = 8e-3  // m
	inputHalfWidth     = 0.001 // relative to the centre-to-centre distance
	compositionOther   = 0.002 // relative, of any liquid that is not water
	legTemperature     = 10.0  // K, of a leg at ambient
	legUnexpanded      = 0.003 // relative, of a leg whose expansion is not given
	ambient            = 293.0 // K
)

var rectangular = 1 / math.Sqrt(3)

// uncertainties are the standard uncertainties of one gauge, resolved.
type uncertainties struct {
	instrumentPressure float64 // Pa, 0: relative default
	vesselTemperature  float64 // K
	chamberMeasured    float64 // K
	chamberFixed       float64 // K, where the data sheet states it; 0: by insulation
	bare               bool
	liquid             float64 // relative
	upper              float64 // relative
	density            float64 // kg/m3, of a densitometer
	designDensity      float64 // kg/m3, of a density nobody measures
	floatMass          float64 // kg
	follower           float64 // m
	tap                float64 // m
	vessel             float64 // m
	input              float64 // m
}

func (u *uncertainties) pressure(p float64) float64 {
	if u.instrumentPressure > 0 {
		return u.instrumentPressure
	}
	return measuredPressure * p
}

// chamberDerived is the uncertainty of a chamber temperature nobody measures:
// it grows with the distance from ambient, faster on bare pipe.
func (u *uncertainties) chamberDerived(t float64) float64 {
	if u.chamberFixed > 0 {
		return u.chamberFixed
	}
	away := math.Abs(t - ambient)
	if u.bare {
		return math.Max(2, 0.1*away)
	}
	return math.Max(1, 0.03*away)
}

// uncertainties resolves what the data sheet states and what it leaves open.
func (m *Model) uncertainties() uncertainties {
	s, b := &m.sheet, &m.sheet.Budget
	u := uncertainties{
		instrumentPressure: stated(s.Pressure, 0),
		vesselTemperature:  stated(s.Temperature, measuredTemp),
		chamberMeasured:    math.Hypot(stated(s.ChamberTemperature, measuredTemp), profileTemp),
		chamberFixed:       float64(s.Chamber.CoolingU),
		bare:               s.Chamber.Insulation == "bare",
		floatMass:          float64(b.FloatMass),
		follower:           float64(b.Follower),
		tap:                float64(b.TapElevation),
		input:              inputHalfWidth * rectangular * float64(s.Chamber.CentreToCentre),
	}
	if b.ChamberTemp > 0 && u.chamberFixed == 0 {
		u.chamberFixed = float64(b.ChamberTemp)
	}
	if u.floatMass == 0 {
		u.floatMass = defaultFloatMass * float64(s.Float.Mass)
	}
	if u.follower == 0 {
		u.follower = followerUncertainty(&s.Float)
	}
	if u.tap == 0 {
		u.tap = tapHalfWidth * rectangular
	}
	if s.Vessel != nil {
		u.vessel = cmp.Or(float64(s.Vessel.U), vesselHalfWidth*rectangular)
	}
	m.densityUncertainties(&u)
	return u
}

func (m *Model) densityUncertainties(u *uncertainties) {
	s := &m.sheet
	u.liquid = math.Hypot(m.liquid.RelativeU(), composition(s, &s.Fluid))
	if m.upper != nil {
		u.upper = math.Hypot(m.upper.RelativeU(), composition(s, s.Fluid.Upper))
	}
	u.density = stated(s.Densitometer, 0.001*float64(m.designDensity))
	width := (s.SGMax - s.SGMin) * float64(datasheet.WaterReferenceDensity)
	u.designDensity = cmp.Or(width/math.Sqrt(12), 0.02*float64(m.designDensity))
}

// UpperU is the relative standard uncertainty of the density of the liquid above
// an interface, 0 where there is none.
func (m *Model) UpperU() float64 { return m.u.upper }

// composition is the relative uncertainty of a liquid that is not quite what
// the data sheet says. Water is water.
func composition(s *datasheet.Sheet, f *datasheet.Fluid) float64 {
	if s.Budget.Density > 0 {
		return s.Budget.Density
	}
	if f.Model == datasheet.Water {
		return 0
	}
	return compositionOther
}

// followerUncertainty is coupling with the resolution of the follower: a reed
// chain tells one contact from the next, so its pitch is a rectangle of that
// full width (JCGM 100:2008, F.2.2.1).
func followerUncertainty(f *datasheet.Float) float64 {
	coupling := couplingHalfWidth * rectangular
	switch f.Follower {
	case datasheet.ReedChain:
		return math.Hypot(coupling, float64(f.Pitch)/math.Sqrt(12))
	default:
		return math.Hypot(coupling, stripHalfWidth*rectangular)
	}
}

// own resolves a transmitter's own uncertainty.
func (m *Model) own(t *transmitter) {
	s := &t.spec
	t.uInput = m.u.input
	t.uOwn = float64(s.U)
	span := float64(m.sheet.Chamber.CentreToCentre)
	switch s.Principle {
	case datasheet.Radar:
		t.uOwn = cmp.Or(t.uOwn, radarHalfWidth*rectangular)
	case datasheet.FloatFollower:
		t.uOwn = cmp.Or(t.uOwn, followerHalfWidth*rectangular)
	case datasheet.Displacer:
		t.uOwn = cmp.Or(t.uOwn, displacerHalfWidth*rectangular*float64(s.DisplacerLength))
		t.uVolume, t.uMass = 0.001, 0.001*float64(s.DisplacerMass)
	default:
		t.uPressure = float64(s.UPressure)
		if t.uPressure == 0 && t.uOwn == 0 {
			t.uPressure = dpHalfWidth * rectangular * span * float64(m.designDensity) * m.sheet.Gravity
		}
		t.uLeg = float64(s.LegDensity) * cmp.Or(s.LegExpansion*legTemperature, legUnexpanded)
	}
	if !t.onSame && !t.onVessel && !isDP(s.Principle) {
		t.uOwn = math.Hypot(t.uOwn, m.u.tap) // its own scale
	}
	if t.device == t.signal { // one place for both
		t.uOwn, t.uInput = math.Hypot(t.uOwn, t.uInput), 0
	}
}

func stated(i *datasheet.Instrument, otherwise float64) float64 {
	if i == nil {
		return otherwise
	}
	return cmp.Or(i.U, otherwise)
}
