package datasheet

import (
	"slices"

	"bridlewatch/compare/pipe"
	"bridlewatch/compare/quantity"
)

// The defaults of a data sheet. They are common practice, no source.
const (
	DefaultCoverage    = 2.0
	DefaultDrift       = 25 * quantity.Millimetre
	DefaultMoveSize    = 20 * quantity.Millimetre
	DefaultStillMoves  = 3
	DefaultProvenDays  = 180
	DefaultPitch       = 10 * quantity.Millimetre
	DefaultMagnetShare = 0.5 // of the float's length, from its lower end
)

// Normalise fills in every default. It changes nothing that is stated and may
// be called twice. What it cannot know stays zero and is for Validate to
// report.
func (s *Sheet) Normalise() {
	set(&s.Gravity, quantity.StandardGravity)
	set(&s.Budget.Coverage, DefaultCoverage)
	set(&s.Limits.Drift, DefaultDrift)
	set(&s.Limits.MoveSize, DefaultMoveSize)
	set(&s.Limits.StillMoves, DefaultStillMoves)
	set(&s.Limits.ProvenDays, DefaultProvenDays)
	set(&s.SGMin, s.DesignSG)
	set(&s.SGMax, s.DesignSG)
	s.Chamber.normalise()
	s.Float.normalise(s.DesignDensity())
	for _, t := range []*Transmitter{s.Transmitter, s.Second} {
		if t != nil {
			set(&t.Chamber, "same")
		}
	}
}

func (c *Chamber) normalise() {
	set(&c.ConnectionStyle, SideSide)
	set(&c.Insulation, "bare")
	set(&c.Material, "316")
	if c.PipeSize == "" {
		return
	}
	if d, err := pipe.Lookup(c.PipeSize, c.Schedule); err == nil {
		set(&c.InnerDiameter, d.Bore())
		set(&c.OuterDiameter, d.Outer)
	}
}

func (f *Float) normalise(design quantity.Density) {
	if f.Mass == 0 && f.Diameter == 0 && f.Length == 0 {
		return
	}
	set(&f.EndShape, Hemispherical)
	set(&f.Follower, NoFollower)
	set(&f.BuiltFor, design)
	set(&f.MagnetAbove, f.Length*DefaultMagnetShare)
	if f.Follower == ReedChain {
		set(&f.Pitch, DefaultPitch)
	}
}

// Clone returns a copy that shares nothing with s.
func (s *Sheet) Clone() Sheet {
	c := *s
	c.Points = slices.Clone(s.Points)
	c.Fluid = s.Fluid.clone()
	c.Chamber.Cooling = clone(s.Chamber.Cooling)
	c.Transmitter, c.Second, c.Vessel = clone(s.Transmitter), clone(s.Second), clone(s.Vessel)
	c.Pressure, c.Temperature = clone(s.Pressure), clone(s.Temperature)
	c.ChamberTemperature, c.Densitometer = clone(s.ChamberTemperature), clone(s.Densitometer)
	return c
}

func (f Fluid) clone() Fluid {
	f.Table = slices.Clone(f.Table)
	f.Components = slices.Clone(f.Components)
	f.Powers = slices.Clone(f.Powers)
	f.Parts = slices.Clone(f.Parts)
	for i := range f.Parts {
		f.Parts[i].Fluid = f.Parts[i].Fluid.clone()
	}
	if f.Upper != nil {
		upper := f.Upper.clone()
		f.Upper = &upper
	}
	return f
}

func clone[T any](p *T) *T {
	if p == nil {
		return nil
	}
	c := *p
	return &c
}

// set gives a field its default when it is zero.
func set[T comparable](field *T, value T) {
	var zero T
	if *field == zero {
		*field = value
	}
}
