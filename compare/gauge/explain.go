package gauge

import (
	"fmt"
	"math"
	"slices"

	"bridlewatch/compare/fluid"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/vessel"
)

const (
	byStates   = "JCGM 100:2008, eq. (13), (16)"
	archimedes = "Archimedes' principle, package buoyancy eq. (1)"
	hydrostat  = "hydrostatic balance, package vessel eq. (1)"
)

// Explain carries one reading through to the level and keeps every step. The
// numbers are those of Measure. A gauge without the instrument is an error; a
// reading no level can be made of is not, it ends in a reason.
func (m *Model) Explain(in *Snapshot, of Instrument) (Explanation, error) {
	var c conditions
	m.observe(in, &c.state)
	refused := m.fill(&c)
	filled := refused == nil
	var out Measurement
	m.levels(in, &c, filled, &out)

	e := Explanation{Gauge: m.sheet.Tag, Instrument: of.String()}
	m.explainState(&e, &c, filled)
	l, err := m.explainReading(&e, in, of, &c, &out, filled)
	if err != nil {
		return Explanation{}, err
	}
	inVessel := *l
	if inVessel.OK() && filled {
		m.explainVessel(&e, &c, &inVessel)
	} else {
		inVessel = level.Level{}
	}
	e.conclude(l, &inVessel, m.coverage)
	m.outside(&c, &out)
	e.Densities = m.inferences(in, of)
	e.Notes = m.notes(&c, &out, &inVessel)
	if why := m.refusal(refused, of, &c); why != nil && l.Reason == quantity.ConversionFailed {
		e.Reason += ": " + why.Error()
	}
	return e, nil
}

// refusal says why a conversion failed: a fluid model refused the state, or the
// float does not swim in it.
func (m *Model) refusal(refused error, of Instrument, c *conditions) error {
	if refused != nil || of != TheFloat || c.float.swims {
		return refused
	}
	_, err := m.warm(c.chamber).Immersion(quantity.Density(c.inChamber.liquid), quantity.Density(c.inChamber.gas))
	return err
}

// exampleBubbles is the share of gas in a boiling liquid the note on the
// swollen level takes as its example.
const exampleBubbles = 0.1

// farFromAmbient is how far a vessel must be from ambient for a chamber of
// unknown temperature to be worth a note. Common practice, no source.
const farFromAmbient = 60 // K

// notes says what the numbers of an explanation rest on.
func (m *Model) notes(c *conditions, out *Measurement, inVessel *level.Level) []string {
	var notes []string
	if out.Assumed {
		notes = append(notes, "A pressure, temperature or density was not measured but taken from the data sheet, with a larger uncertainty.")
	}
	if c.derived && m.sheet.Chamber.Cooling == nil && math.Abs(c.vessel-ambient) > farFromAmbient {
		notes = append(notes, "The chamber is taken as warm as the vessel: "+m.unread()+" and the data sheet does not say how much colder it is.")
	}
	if c.superheat > 0 {
		notes = append(notes, fmt.Sprintf("The liquid is read %.1f K above its boiling point and cannot be: levels are found with the boiling point, %.1f °C.", c.superheat, quantity.Temperature(c.boiling).Celsius()))
	}
	if m.upper != nil {
		notes = append(notes, "Interface service: this holds only while both taps are covered. With the upper tap in the gas the chamber shows neither the interface nor the total level.")
	}
	if m.boils && inVessel.OK() {
		if swollen, err := vessel.Swollen(inVessel.Value, exampleBubbles); err == nil {
			notes = append(notes, fmt.Sprintf("The level in the vessel is the collapsed one: the chamber holds no bubbles. With %.0f %% of steam in the boiling liquid its surface would stand at %.0f mm.",
				100*exampleBubbles, swollen.Millimetres()))
		}
	}
	for _, l := range out.OutsideDataSheet {
		notes = append(notes, "Outside the data sheet: "+l.Sentence)
	}
	return notes
}

// unread says why the temperature of the chamber is not known.
func (m *Model) unread() string {
	if i := m.sheet.ChamberTemperature; i != nil {
		return "no reading of " + i.Tag + " was given"
	}
	return "nothing measures it"
}

// explainState books pressure, temperatures and densities.
func (m *Model) explainState(e *Explanation, c *conditions, filled bool) {
	e.add("P", "absolute pressure", c.pressure/1e5, "bar", "", m.pressureSource(c))
	if c.boiling > 0 {
		e.add("Ts", "boiling point at P", quantity.Temperature(c.boiling).Celsius(), "°C", "Ts(P)", "IAPWS R7-97(2012), eq. (31)")
	}
	e.add("T", "temperature of the vessel's liquid", quantity.Temperature(c.vessel).Celsius(), "°C", "", m.temperatureSource(c))
	e.add("Tc", "mean temperature of the chamber's liquid", quantity.Temperature(c.chamber).Celsius(), "°C", "", m.chamberSource(c))
	if !filled {
		return
	}
	e.density("ρL", "liquid in the chamber", c.inChamber.liquid, "ρ(Tc, P)", m.liquid.Basis())
	above, source := m.above()
	e.density("ρV", above+" in the chamber", c.inChamber.gas, "", source)
	m.explainFluids(e, c)
	if m.float != nil {
		e.density("ρ0", "the float's follower was built for", float64(m.builtFor), "", "data sheet")
	}
}

// above names what is above the liquid and where its density comes from.
func (m *Model) above() (name, source string) {
	switch {
	case m.upper != nil:
		return "lighter liquid", m.upper.Basis()
	case m.steam:
		return "steam", "IAPWS R7-97(2012)"
	case m.vapour == nil:
		return "gas", "neglected"
	}
	return "gas", "gas model of the data sheet"
}

// explainFluids keeps how the densities themselves were found. A model that has
// no steps of its own leaves them out.
func (m *Model) explainFluids(e *Explanation, c *conditions) {
	t, p := quantity.Temperature(c.chamber), quantity.Pressure(c.pressure)
	if m.measured == nil {
		if steps, err := fluid.Explain(m.liquid, t, p); err == nil {
			e.Liquid = steps
		}
	}
	if m.vapour != nil && m.upper == nil {
		if density, permittivity, err := fluid.ExplainVapour(m.vapour, t, p); err == nil {
			e.Gas = density
			if m.radar {
				e.Permittivity = permittivity
			}
		}
	}
}

// explainReading books the steps of one instrument.
func (m *Model) explainReading(e *Explanation, in *Snapshot, of Instrument, c *conditions, out *Measurement, filled bool) (*level.Level, error) {
	switch of {
	case TheFloat:
		if m.float == nil {
			return nil, fmt.Errorf("gauge %q has no float", m.sheet.Tag)
		}
		e.Tag, e.Principle = m.sheet.Float.Tag, "float and "+string(m.sheet.Float.Follower)
		if filled && sound(&in.Float) {
			m.explainFloat(e, quantity.Length(in.Float.Value), m.sheet.Float.Offset, m.builtImmersion, c, &out.Float)
		}
		return &out.Float, nil
	case TheVessel:
		if m.sheet.Vessel == nil {
			return nil, fmt.Errorf("gauge %q has no level instrument on the vessel", m.sheet.Tag)
		}
		e.Tag, e.Principle = m.sheet.Vessel.Tag, "vessel instrument"
		if filled && sound(&in.Vessel) {
			reading := quantity.Length(in.Vessel.Value)
			e.length("x", "reading above the instrument's zero", reading, "", e.Tag)
			e.length("z0", "zero above the lower tap", m.sheet.Vessel.Offset, "", "data sheet")
			m.explainCarry(e, c, reading+m.sheet.Vessel.Offset, "x + z0", &out.Vessel)
		}
		return &out.Vessel, nil
	case TheSecond:
		return &out.Second, m.explainTransmitter(e, m.second, in.Second, c, &out.Second, filled)
	}
	return &out.Transmitter, m.explainTransmitter(e, m.first, in.Transmitter, c, &out.Transmitter, filled)
}

func (m *Model) explainFloat(e *Explanation, x, offset, built quantity.Length, c *conditions, l *level.Level) {
	e.length("x", "follower's indication", x, "", e.Tag)
	e.length("x0", "added by the maker or at calibration", offset, "", "data sheet")
	e.add("m", "mass of the float", 1e3*float64(m.float.Mass()), "g", "", "data sheet")
	float := m.warm(c.chamber)
	e.add("Vt0", "volume of the float at 20 °C", 1e6*m.float.Volume(), "cm3", "", "geometry of the data sheet")
	e.add("α", "thermal expansion of its material", m.growth, "1/K", "", growthSource(m.growth, m.sheet.Float.Material))
	e.add("Vt", "volume of the float at Tc", 1e6*float.Volume(), "cm3", "Vt0 (1 + α (Tc − 20 °C))³", "linear expansion in three directions")
	e.density("m/Vt", "density at which the float sinks", float64(float.SinkingDensity()), "m / Vt", archimedes)
	e.length("z(ρ0)", "immersion the follower was built for", built, "V(z) = m / ρ0", archimedes)
	lower, upper := quantity.Density(c.inChamber.liquid), quantity.Density(c.inChamber.gas)
	z, ok := float.Swims(lower, upper)
	if !ok {
		return // the conclusion says why
	}
	e.add("V(z)", "volume immersed", 1e6*float.VolumeBelow(z), "cm3", "(m − ρV Vt) / (ρL − ρV)", archimedes)
	e.length("z(ρ)", "immersion now", z, "V(z)", archimedes)
	e.length("zm", "magnet above the lower tap", x-offset-built+m.sheet.Float.MagnetAbove, "x − x0 − z(ρ0) + its height in the float", "geometry of the data sheet")
	e.length("hc", "surface in the chamber above the lower tap", x-offset-built+z, "x − x0 − z(ρ0) + z(ρ)", "geometry of the data sheet")
	e.add("u", "standard uncertainty", l.U().Millimetres(), "mm", "", byStates)
}

func growthSource(perK float64, material string) string {
	if perK == 0 {
		return "material not known, growth neglected"
	}
	return material
}

// explainCarry books how a vessel level comes to the chamber.
func (m *Model) explainCarry(e *Explanation, c *conditions, hv quantity.Length, from string, l *level.Level) {
	b := &c.balance
	e.length("hv", "level in the vessel above the lower tap", hv, from, "geometry of the data sheet")
	m.explainBalance(e, c, b)
	if l.OK() {
		e.length("hc", "surface in the chamber above the lower tap", l.Value, "[(ρl − ρv) hv + (ρv − ρV) H] / (ρL − ρV)", hydrostat)
	}
}

// explainBalance books the densities of the vessel and what they do, unless a
// transmitter there has booked them already.
func (m *Model) explainBalance(e *Explanation, c *conditions, b *vessel.Balance) {
	if !slices.ContainsFunc(e.Steps, func(s quantity.Step) bool { return s.Symbol == "ρl" }) {
		m.explainInVessel(e, &c.inVessel)
	}
	e.add("k", "chamber level moves per vessel level", b.Factor(), "1", "(ρl − ρv) / (ρL − ρV)", hydrostat)
}

// explainInVessel books the densities of the vessel.
func (m *Model) explainInVessel(e *Explanation, col *column) {
	above, source := m.above()
	e.density("ρl", "liquid in the vessel", col.liquid, "ρ(T, P)", m.liquid.Basis())
	e.density("ρv", above+" in the vessel", col.gas, "", source)
}

// explainVessel books how the chamber level goes back to the vessel, and turns
// l into it.
func (m *Model) explainVessel(e *Explanation, c *conditions, l *level.Level) {
	b := &c.balance
	hc := l.Value
	hv, at := b.InVessel(hc)
	across(c, l, l, hv, at, b.OfVessel(hc, hv))
	if slices.ContainsFunc(e.Steps, func(s quantity.Step) bool { return s.Symbol == "hv" }) {
		return // it came from there
	}
	m.explainBalance(e, c, b)
	if l.OK() {
		e.length("hv", "level in the vessel above the lower tap", hv, "[(ρL − ρV) hc + (ρV − ρv) H] / (ρl − ρv)", hydrostat)
	}
}
