package datasheet

import (
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
	set(&s.Budget.Coverage, DefaultCoverage)
	set(&s.Limits.Drift, DefaultDrift)
	set(&s.Limits.MoveSize, DefaultMoveSize)
	set(&s.Limits.StillMoves, DefaultStillMoves)
	set(&s.Limits.ProvenDays, DefaultProvenDays)
	set(&s.SGMin, s.DesignSG)
	set(&s.SGMax, s.DesignSG)
	s.Chamber.normalise()
	s.Float.normalise(s.DesignDensity())
	s.Transmitter = s.Transmitter.normalised()
	s.Second = s.Second.normalised()
}

// normalised returns a copy, so that sheets may share a Transmitter.
func (t *Transmitter) normalised() *Transmitter {
	if t == nil {
		return nil
	}
	c := *t
	set(&c.Chamber, "same")
	return &c
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

// set gives a field its default when it is zero.
func set[T comparable](field *T, value T) {
	var zero T
	if *field == zero {
		*field = value
	}
}
