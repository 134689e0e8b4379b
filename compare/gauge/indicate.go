package gauge

import (
	"errors"
	"fmt"
	"time"

	"bridlewatch/compare/buoyancy"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/dpcell"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/vessel"
)

// Truth is the state of vessel and chamber, known to a simulated plant and to
// nobody else.
type Truth struct {
	Time time.Time

	ChamberLevel quantity.Length // surface in the chamber above the lower tap; what hangs on the chamber sees this
	VesselLevel  quantity.Length // surface in the vessel above the lower tap

	Pressure           quantity.Pressure    // 0: operating pressure of the data sheet
	Temperature        quantity.Temperature // of the vessel's liquid; 0: operating temperature
	ChamberTemperature quantity.Temperature // 0: vessel temperature less the cooling of the data sheet
	Composition        float64              // true density over that of the fluid model; 0: 1
	UpperComposition   float64              // the same of the liquid above an interface; 0: 1
	Density            quantity.Density     // vessel's liquid where the fluid is known by densitometer only; 0: design density

	// What may be wrong with the parts the physics passes through.
	FloatGained quantity.Mass   // deposit or leak
	FloatHeld   bool            // the float is stuck ...
	HeldAt      quantity.Length // ... where its follower indicates this
	LegLost     float64         // part of the reference leg's liquid that is missing, 0 to 1

	LegTemperature quantity.Temperature // of the legs of a dp cell; 0: that of the data sheet
}

// Column is the density of the liquid and of what is above it.
type Column struct{ Liquid, Gas quantity.Density }

// Columns returns the true densities in chamber and vessel.
func (m *Model) Columns(t *Truth) (chamber, vessel Column, err error) {
	c, err := m.truly(t)
	if err != nil {
		return Column{}, Column{}, err
	}
	return c.inChamber.export(), c.inVessel.export(), nil
}

func (c *column) export() Column {
	return Column{Liquid: quantity.Density(c.liquid), Gas: quantity.Density(c.gas)}
}

// Conditions is what a true state comes to: pressure and temperatures with what
// the data sheet gives where the truth leaves them open, water under its own
// steam no hotter than boiling.
type Conditions struct {
	Pressure                        quantity.Pressure
	Temperature, ChamberTemperature quantity.Temperature
}

// Conditions returns them for a true state.
func (m *Model) Conditions(t *Truth) (Conditions, error) {
	c, err := m.truly(t)
	if err != nil {
		return Conditions{}, err
	}
	return Conditions{quantity.Pressure(c.pressure), quantity.Temperature(c.vessel), quantity.Temperature(c.chamber)}, nil
}

// Settle sets the chamber level to the one that balances the vessel level.
// Beyond a tap the chamber follows as if the line of the balance went on; what
// really happens there depends on how the liquid gets in and out.
func (m *Model) Settle(t *Truth) error {
	b, err := m.Balance(t)
	if err != nil {
		return err
	}
	t.ChamberLevel = b.ChamberUnbounded(t.VesselLevel)
	return nil
}

// truly finds the true conditions.
func (m *Model) truly(t *Truth) (*conditions, error) {
	var in Snapshot
	put := func(r *quantity.Reading, v float64) {
		if v != 0 {
			*r = quantity.Reading{Value: v, Quality: quantity.Good}
		}
	}
	put(&in.Pressure, float64(t.Pressure))
	put(&in.Temperature, float64(t.Temperature))
	put(&in.ChamberTemperature, float64(t.ChamberTemperature))
	put(&in.Density, float64(t.Density))
	var c conditions
	m.observe(&in, &c.state)
	if t.Composition != 0 {
		c.composition = t.Composition
	}
	if t.UpperComposition > 0 {
		c.above = t.UpperComposition
	}
	if err := m.fill(&c); err != nil {
		return nil, fmt.Errorf("gauge %q: no density at %.6g bar absolute with %.2f °C in the vessel and %.2f °C in the chamber: %w",
			m.sheet.Tag, c.pressure/1e5, quantity.Temperature(c.vessel).Celsius(), quantity.Temperature(c.chamber).Celsius(), err)
	}
	return &c, nil
}

// Indicate says what every sound instrument of the gauge would indicate in
// the true state: the inverse of Measure. Readings are exact, without noise
// and resolution. On entry out.Points hold what the switches said before: a
// switch keeps its state within its differential, and one without a previous
// state compares with its elevation. Instruments the gauge does not have stay
// Absent; a radar whose surface is in a dead zone and a displacer off its
// length say Uncertain.
func (m *Model) Indicate(t *Truth, out *Snapshot) error {
	c, err := m.truly(t)
	if err != nil {
		return err
	}
	before := out.Points
	*out = Snapshot{Time: t.Time}
	good := func(v float64) quantity.Reading {
		return quantity.Reading{Value: v, Time: t.Time, Quality: quantity.Good}
	}
	magnet := quantity.Length(0)
	if m.float != nil {
		if magnet, err = m.magnet(t, c); err != nil {
			return err
		}
		if m.sheet.Float.Follower != datasheet.NoFollower {
			out.Float = good(float64(magnet + m.sheet.Float.Offset))
		}
	}
	for i, p := range m.sheet.Points {
		seen := t.ChamberLevel
		if p.ByFloat() && m.float != nil {
			seen = magnet
		}
		out.Points[i] = good(trip(p, seen, before[i]))
	}
	out.Transmitter = m.transmit(m.first, t, c, magnet)
	out.Second = m.transmit(m.second, t, c, magnet)
	m.surroundings(t, c, out, good)
	return nil
}

// surroundings are the instruments that are no level.
func (m *Model) surroundings(t *Truth, c *conditions, out *Snapshot, good func(float64) quantity.Reading) {
	if m.sheet.Pressure != nil {
		out.Pressure = good(c.pressure)
	}
	if m.sheet.Temperature != nil {
		out.Temperature = good(c.vessel)
	}
	if m.sheet.ChamberTemperature != nil {
		out.ChamberTemperature = good(c.chamber)
	}
	if m.sheet.Densitometer != nil {
		out.Density = good(c.inVessel.liquid)
	}
	if m.sheet.Vessel != nil {
		out.Vessel = good(float64(t.VesselLevel - m.sheet.Vessel.Offset))
	}
}

// magnet returns what the follower indicates, its Offset left out. A float
// that sinks rests on the bottom of the chamber; one that swims stops at
// either end.
func (m *Model) magnet(t *Truth, c *conditions) (quantity.Length, error) {
	if t.FloatHeld {
		return t.HeldAt - m.sheet.Float.Offset, nil
	}
	f := m.float
	if t.FloatGained != 0 {
		var err error
		if f, err = f.Heavier(t.FloatGained); err != nil {
			return 0, err
		}
	}
	ch := &m.sheet.Chamber
	lowest := -ch.BelowLowerTap
	warm := f.Grown(1 + m.growth*(c.chamber-cold))
	highest := ch.CentreToCentre + ch.AboveUpperTap - warm.Height()
	bottom := lowest
	z, err := warm.Immersion(quantity.Density(c.inChamber.liquid), quantity.Density(c.inChamber.gas))
	var sunk *buoyancy.SunkError
	switch {
	case err == nil:
		bottom = max(lowest, min(t.ChamberLevel-z, highest))
	case !errors.As(err, &sunk):
		bottom = max(lowest, highest)
	}
	return bottom + m.builtImmersion, nil
}

// trip returns the state of a switch that sees a level.
func trip(p datasheet.Point, seen quantity.Length, before quantity.Reading) float64 {
	rising, falling := p.Trips()
	switch {
	case seen >= rising:
		return 1
	case seen <= falling:
		return 0
	case before.Usable():
		return before.Value
	case seen >= p.Elevation:
		return 1
	}
	return 0
}

// transmit returns what a transmitter would report.
func (m *Model) transmit(t *transmitter, truth *Truth, c *conditions, magnet quantity.Length) quantity.Reading {
	if t == nil {
		return quantity.Reading{}
	}
	r := quantity.Reading{Time: truth.Time, Quality: quantity.Good}
	h, col := truth.ChamberLevel, &c.inChamber
	if t.onVessel {
		h, col = truth.VesselLevel, &c.inVessel
	}
	switch t.spec.Principle {
	case datasheet.Radar:
		distance := t.spec.ReferencePoint - h
		r.Value = float64(t.spec.ReferencePoint - c.pulseOf(t).correction.Reported(distance))
		if m.blind(t, distance) {
			r.Quality, r.Reason = quantity.Uncertain, quantity.OutOfRange
		}
	case datasheet.Displacer:
		r.Value = m.weigh(t, h, col)
		if x := h - t.spec.DisplacerBottom; x < 0 || x > t.spec.DisplacerLength {
			r.Quality, r.Reason = quantity.Uncertain, quantity.OutOfRange
		}
	case datasheet.FloatFollower:
		r.Value = float64(h)
		if !t.onVessel && m.float != nil {
			r.Value = m.follow(t, truth, c, magnet)
		}
	default:
		r.Value = m.press(t, h, col, truth)
	}
	return r
}

// follow is a second follower: on the gauge's own float, or on a float of the
// same make in a second chamber.
func (m *Model) follow(t *transmitter, truth *Truth, c *conditions, magnet quantity.Length) float64 {
	if t.onSame {
		return float64(magnet - m.builtImmersion + t.set)
	}
	z, err := m.warm(c.chamber).Immersion(quantity.Density(c.inChamber.liquid), quantity.Density(c.inChamber.gas))
	if err != nil {
		return float64(-m.sheet.Chamber.BelowLowerTap + t.set)
	}
	return float64(truth.ChamberLevel - z + t.set)
}

// press is the pressure difference of a dp cell, or the level a compensated
// one makes of it.
func (m *Model) press(t *transmitter, h quantity.Length, col *column, truth *Truth) float64 {
	cell := m.cell(t, col, truth.LegLost)
	if truth.LegTemperature > 0 && t.spec.Principle != datasheet.DPDry {
		warmer := dpcell.Expand(1, t.spec.LegExpansion, t.spec.LegTemperature, truth.LegTemperature)
		cell.Impulse *= warmer
		cell.Reference *= warmer
	}
	// A column covered or left by the liquid no longer changes.
	h = max(0, min(h, cell.Span))
	dp := cell.Difference(h, dpcell.Column{Liquid: quantity.Density(col.liquid), Gas: quantity.Density(col.gas)})
	if !t.spec.Compensated {
		return float64(dp)
	}
	set := m.cellAsSet(t, t.spec.CalibratedFor)
	told, _ := set.Solve(dp, dpcell.Column{Liquid: t.spec.CalibratedFor})
	return float64(told)
}

// weigh is the apparent weight of a displacer, or the level its device makes
// of it.
func (m *Model) weigh(t *transmitter, h quantity.Length, col *column) float64 {
	x := max(0, min(h-t.spec.DisplacerBottom, t.spec.DisplacerLength))
	liquid, gas := quantity.Density(col.liquid), quantity.Density(col.gas)
	if t.spec.CalibratedFor > 0 {
		return float64(t.spec.DisplacerBottom + t.displacer.Reported(x, t.spec.CalibratedFor, liquid, gas))
	}
	return t.displacer.Weight(x, liquid, gas)
}

// Balance returns the hydrostatic balance of vessel and chamber in the true
// state.
func (m *Model) Balance(t *Truth) (vessel.Balance, error) {
	c, err := m.truly(t)
	if err != nil {
		return vessel.Balance{}, err
	}
	return c.balance, nil
}
