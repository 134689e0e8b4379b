package gauge

import (
	"fmt"

	"bridlewatch/compare/buoyancy"
	"bridlewatch/compare/chamber"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/displacer"
	"bridlewatch/compare/fluid"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
)

// Model is a data sheet made ready for arithmetic. It is immutable and safe
// for concurrent use.
type Model struct {
	sheet datasheet.Sheet

	liquid    fluid.Liquid
	slope     fluid.Sloping   // of the liquid
	measured  *fluid.Measured // the liquid, where a densitometer knows it; otherwise nil
	upper     fluid.Liquid    // interface service: the lighter liquid; otherwise nil
	upslope   fluid.Sloping   // of the lighter liquid
	vapour    fluid.Vapour    // nil: neglected
	steam     bool
	saturates bool // water under its own steam: no hotter than boiling
	boils     bool // and boiling by design

	float          *buoyancy.Float // as made, cold; nil: none
	growth         float64         // 1/K, of the float's material; 0 where it is not known
	builtFor       quantity.Density
	builtImmersion quantity.Length
	designDensity  quantity.Density

	first, second *transmitter
	radar         bool // either is one

	cooling  float64 // K, chamber below vessel where it is not measured
	u        uncertainties
	coverage float64
}

// New makes the Model of a data sheet. It fails on the first thing the
// arithmetic cannot do without; datasheet.Sheet.Validate tells everything that
// is wrong or implausible at once.
func New(sheet datasheet.Sheet) (*Model, error) {
	sheet = sheet.Clone()
	sheet.Normalise()
	m := &Model{sheet: sheet, coverage: sheet.Budget.Coverage}
	if !(sheet.Chamber.CentreToCentre > 0) {
		return nil, fmt.Errorf("gauge %q: centre-to-centre distance is %g m; it must be positive", sheet.Tag, float64(sheet.Chamber.CentreToCentre))
	}
	for _, build := range []func() error{m.buildFluids, m.buildFloat, m.buildTransmitters} {
		if err := build(); err != nil {
			return nil, fmt.Errorf("gauge %q: %w", sheet.Tag, err)
		}
	}
	if c := sheet.Chamber.Cooling; c != nil {
		m.cooling = float64(*c)
	}
	m.u = m.uncertainties()
	for _, t := range []*transmitter{m.first, m.second} {
		if t != nil {
			m.own(t)
		}
	}
	return m, nil
}

// Sheet returns the data sheet with its defaults filled in.
func (m *Model) Sheet() datasheet.Sheet { return m.sheet }

// Liquid returns the density model of the liquid.
func (m *Model) Liquid() fluid.Liquid { return m.liquid }

// BuiltImmersion returns the immersion at which the follower's indication is
// the surface itself.
func (m *Model) BuiltImmersion() quantity.Length { return m.builtImmersion }

func (m *Model) buildFluids() error {
	f := &m.sheet.Fluid
	var err error
	if m.liquid, err = fluid.New(*f); err != nil {
		return err
	}
	m.slope = fluid.WithSlope(m.liquid)
	m.measured, _ = m.liquid.(*fluid.Measured)
	if m.designDensity = m.sheet.DesignDensity(); !(m.designDensity > 0) {
		return fmt.Errorf("design specific gravity is %g; it must be positive", m.sheet.DesignSG)
	}
	if f.Upper != nil {
		if m.upper, err = fluid.New(*f.Upper); err != nil {
			return fmt.Errorf("upper liquid: %w", err)
		}
		m.upslope = fluid.WithSlope(m.upper)
	}
	switch f.Vapour.Model {
	case "", datasheet.NoVapour:
		return nil
	}
	m.steam = f.Vapour.Model == datasheet.Steam
	m.saturates = m.steam && f.Model == datasheet.Water
	m.boils = m.boilsByDesign()
	m.vapour, err = fluid.NewVapour(f.Vapour)
	return err
}

func (m *Model) buildFloat() error {
	f := &m.sheet.Float
	if f.Mass == 0 && f.Diameter == 0 && f.Length == 0 {
		return nil
	}
	head, err := buoyancy.ParseHead(string(f.EndShape))
	if err != nil {
		return err
	}
	if m.float, err = buoyancy.New(f.Mass, f.Diameter, f.Length, head); err != nil {
		return err
	}
	m.growth, _, _ = chamber.Expansion(f.Material) // 0 where it is not known
	m.builtFor = f.BuiltFor
	if m.builtImmersion, err = m.immersedIn(f.BuiltFor); err != nil {
		return fmt.Errorf("density the float was built for: %w", err)
	}
	return nil
}

// cold is the temperature a float is measured at.
const cold = 293.15 // K

// warm is the float at a temperature of the chamber in kelvins.
func (m *Model) warm(t float64) buoyancy.Warm { return m.float.Grown(1 + m.growth*(t-cold)) }

// Warm returns the float as it is at a temperature of the chamber, grown by
// the heat where its material is known. A gauge without a float has none.
func (m *Model) Warm(t quantity.Temperature) (buoyancy.Warm, bool) {
	if m.float == nil {
		return buoyancy.Warm{}, false
	}
	return m.warm(float64(t)), true
}

// immersedIn is the immersion a follower was built for: in a liquid under
// nothing, or for interface service under the lighter liquid at the operating
// state of the data sheet.
func (m *Model) immersedIn(rho quantity.Density) (quantity.Length, error) {
	above := quantity.Density(0)
	if m.upper != nil {
		var err error
		if above, err = m.upper.Density(m.sheet.OperatingTemp, m.sheet.OperatingPressure); err != nil {
			return 0, err
		}
	}
	return m.float.Immersion(rho, above)
}

func (m *Model) buildTransmitters() error {
	var err error
	if m.first, err = m.transmitter(m.sheet.Transmitter, level.TransmitterDevice); err != nil {
		return err
	}
	m.second, err = m.transmitter(m.sheet.Second, level.SecondDevice)
	for _, t := range []*transmitter{m.first, m.second} {
		m.radar = m.radar || t != nil && t.spec.Principle == datasheet.Radar
	}
	return err
}

func (m *Model) transmitter(spec *datasheet.Transmitter, device level.Input) (*transmitter, error) {
	if spec == nil {
		return nil, nil
	}
	t := &transmitter{
		spec:     *spec,
		onVessel: spec.Chamber == "vessel",
		onSame:   spec.Chamber == "same" || spec.Chamber == "",
		device:   device, signal: level.TransmitterInput, leg: level.LegDensity,
	}
	t.byTap = t.onSame && spec.Principle != datasheet.FloatFollower && !isDP(spec.Principle)
	if device == level.SecondDevice {
		t.second = true
		t.signal, t.leg = device, device
	}
	switch spec.Principle {
	case datasheet.Radar, datasheet.DPDry:
	case datasheet.DPWet, datasheet.DPSeals:
		if !(spec.LegDensity > 0) {
			return nil, fmt.Errorf("transmitter %q: a %s needs the density of its fill", spec.Tag, spec.Principle)
		}
	case datasheet.Displacer:
		t.displacer = displacer.Displacer{Mass: spec.DisplacerMass, Area: spec.DisplacerArea, Length: spec.DisplacerLength, Gravity: m.sheet.Gravity}
		t.edge = 1e-6 * spec.DisplacerLength
		if !(spec.DisplacerLength > 0) || (spec.CalibratedFor == 0 && !(spec.DisplacerArea > 0 && spec.DisplacerMass > 0)) {
			return nil, fmt.Errorf("transmitter %q: a displacer needs its length, and either the density it is calibrated for or its mass and cross-section", spec.Tag)
		}
	case datasheet.FloatFollower:
		return t, m.follower(t)
	default:
		return nil, fmt.Errorf("transmitter %q: principle %q is not known", spec.Tag, spec.Principle)
	}
	if spec.Compensated && !(spec.CalibratedFor > 0) {
		return nil, fmt.Errorf("transmitter %q: a compensated dp needs the density it is calibrated for", spec.Tag)
	}
	return t, nil
}

// follower prepares a second follower on the gauge's float, or on a float of
// the same make in a second chamber.
func (m *Model) follower(t *transmitter) error {
	t.set = m.builtImmersion
	if m.float == nil || t.spec.CalibratedFor == 0 {
		return nil
	}
	var err error
	t.set, err = m.immersedIn(t.spec.CalibratedFor)
	return err
}
