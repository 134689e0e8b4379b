package chamber

import (
	"fmt"

	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/vessel"
)

// Sight is what a chamber on two taps shows of two liquids in the vessel.
type Sight uint8

// Sights.
const (
	SeesNothing    Sight = iota // a tap is not where anything can be said
	SeesInterface               // the interface, by the balance of two liquids
	SeesTotal                   // the total level; the interface is below the lower tap
	Unidentifiable              // a level of one liquid that is neither interface nor total level
)

func (s Sight) String() string {
	return [...]string{"nothing", "interface", "total level", "not identifiable"}[s]
}

// Separation is a vessel with a lighter liquid 2 on a heavier liquid 1 and a
// chamber on two taps H apart.
type Separation struct {
	Span             quantity.Length // H
	Heavy, Light     quantity.Density
	Gas              quantity.Density
	HeavyInChamber   quantity.Density // at the chamber's temperature
	LightInChamber   quantity.Density
	Interface, Total quantity.Length // in the vessel, above the lower tap
}

// Standing is what stands in the chamber.
type Standing struct {
	Sight    Sight
	Level    quantity.Length // of the interface or surface in the chamber
	Bound    level.Bound
	Sentence string
}

func (s *Separation) check() error {
	if !(s.Span > 0) || !(s.Heavy > s.Light && s.Light > s.Gas && s.Gas >= 0) ||
		!(s.HeavyInChamber > s.LightInChamber && s.LightInChamber > s.Gas) || !(s.Total >= s.Interface) {
		return fmt.Errorf("chamber: separation with heavy %g, light %g, gas %g kg/m3, interface %g and total %g m on %g m: heavy over light over gas, total not below the interface",
			float64(s.Heavy), float64(s.Light), float64(s.Gas), float64(s.Interface), float64(s.Total), float64(s.Span))
	}
	return nil
}

// Stand says what the chamber shows when it was filled through its taps.
//
//   - Both taps covered, interface between them: liquid 2 comes in at the top
//     and liquid 1 at the bottom, and the columns balance:
//     ρ1c ic + ρ2c (H − ic) = ρ1 iv + ρ2 (H − iv).
//   - Lower tap in liquid 1, upper tap in the gas: only liquid 1 gets in. The
//     chamber balances ρ1c hc = ρ1 iv + ρ2 t2 (gas aside) with one number for
//     two unknowns, interface and thickness: it shows neither.
//   - Lower tap in liquid 2, upper tap in the gas: an ordinary level of
//     liquid 2. The interface is below and not seen.
func (s *Separation) Stand() (Standing, error) {
	if err := s.check(); err != nil {
		return Standing{}, err
	}
	switch {
	case s.Interface >= s.Span:
		return Standing{Bound: level.AboveUpperTap, Sentence: "The interface is at or above the upper tap: the chamber is full of the heavier liquid."}, nil
	case s.Total >= s.Span && s.Interface <= 0:
		return Standing{Bound: level.BelowLowerTap, Sentence: "The interface is at or below the lower tap: the chamber is full of the lighter liquid."}, nil
	case s.Total >= s.Span:
		return s.both(), nil
	case s.Total <= 0:
		return Standing{Bound: level.BelowLowerTap, Sentence: "Both liquids are below the lower tap."}, nil
	case s.Interface <= 0:
		return s.total(), nil
	}
	return s.neither(), nil
}

func (s *Separation) both() Standing {
	b := vessel.Balance{Span: s.Span, Vessel: s.Heavy, VesselGas: s.Light, Chamber: s.HeavyInChamber, ChamberGas: s.LightInChamber}
	h, at := b.InChamber(s.Interface)
	return Standing{Sight: SeesInterface, Level: h, Bound: at, Sentence: "Both taps are covered: the chamber shows the interface."}
}

func (s *Separation) total() Standing {
	b := vessel.Balance{Span: s.Span, Vessel: s.Light, VesselGas: s.Gas, Chamber: s.LightInChamber, ChamberGas: s.Gas}
	h, at := b.InChamber(s.Total)
	return Standing{Sight: SeesTotal, Level: h, Bound: at, Sentence: "The lower tap is in the lighter liquid: the chamber shows the total level and nothing of the interface."}
}

func (s *Separation) neither() Standing {
	head := float64(s.Heavy)*float64(s.Interface) + float64(s.Light)*float64(s.Total-s.Interface) + float64(s.Gas)*float64(s.Span-s.Total)
	h := quantity.Length((head - float64(s.Gas)*float64(s.Span)) / float64(s.HeavyInChamber-s.Gas))
	return Standing{
		Sight: Unidentifiable, Level: h, Bound: vessel.Between(h, s.Span),
		Sentence: "The lower tap is in the heavier liquid and the upper tap in the gas: only the heavier liquid gets into the chamber. " +
			"Its level is neither the interface nor the total level, and no instrument on this chamber can tell them apart; it takes a third tap in the lighter liquid or an instrument on the vessel.",
	}
}
