package gauge_test

import (
	"math/rand/v2"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

func bar(v float64) quantity.Pressure        { return quantity.Pressure(v * 1e5) }
func celsius(v float64) quantity.Temperature { return quantity.FromCelsius(v) }
func mm(v float64) quantity.Length           { return quantity.Length(v) * quantity.Millimetre }
func below(v quantity.TemperatureDifference) *quantity.TemperatureDifference {
	return &v
}

// drum is a boiler drum at 40 bar with a swapped wet-leg dp.
func drum() datasheet.Sheet {
	return datasheet.Sheet{
		Tag: "LG-101", Service: "steam drum",
		MaxPressure: bar(64), MaxTemperature: celsius(290), OperatingPressure: bar(40),
		DesignSG: 0.83, SGMin: 0.72, SGMax: 1.0,
		Chamber: datasheet.Chamber{
			Material: "316", PipeSize: "3", Schedule: "80", CentreToCentre: 0.8, BelowLowerTap: 0.35, AboveUpperTap: 0.4,
			ConnectionStyle: datasheet.SideSide, Insulation: "insulated", Cooling: below(45), CoolingU: 6,
		},
		Fluid: datasheet.Fluid{Name: "water", Model: datasheet.Water, Vapour: datasheet.Vapour{Model: datasheet.Steam}},
		Float: datasheet.Float{
			Tag: "LI-101", Mass: 0.62, Diameter: mm(60), Length: mm(420), EndShape: datasheet.Hemispherical,
			MagnetAbove: mm(300), Follower: datasheet.Magnetostrictive, BuiltFor: 830,
		},
		Transmitter: &datasheet.Transmitter{
			Tag: "LT-101", Principle: datasheet.DPWet, Chamber: "same", LegDensity: 992, LegTemperature: celsius(40), Swapped: true,
		},
		Points: []datasheet.Point{
			{Tag: "LSL-101", Elevation: 0.15, Differential: mm(10), Operated: "float"},
			{Tag: "LSH-101", Elevation: 0.65, Differential: mm(10), Operated: "liquid"},
		},
		Pressure:           &datasheet.Instrument{Tag: "PT-101", U: 1e4},
		ChamberTemperature: &datasheet.Instrument{Tag: "TT-101", U: 1},
		Vessel:             &datasheet.Vessel{Tag: "LT-102", Offset: mm(-200), U: mm(6)},
	}
}

// solvent is a liquid with a thermal expansion, nitrogen above it, and a
// guided wave radar.
func solvent() datasheet.Sheet {
	return datasheet.Sheet{
		Tag: "LG-205", Service: "solvent tank",
		MaxPressure: bar(11), MaxTemperature: celsius(120), OperatingPressure: bar(3), OperatingTemp: celsius(40),
		DesignSG: 0.79, SGMin: 0.72, SGMax: 0.86,
		Chamber: datasheet.Chamber{
			Material: "316L", PipeSize: "2-1/2", Schedule: "40", CentreToCentre: 1.6, BelowLowerTap: 0.3, AboveUpperTap: 0.35,
			Insulation: "bare", Cooling: below(8),
		},
		Fluid: datasheet.Fluid{
			Name: "solvent", Model: datasheet.Coefficient, BaseDensity: 790, BaseTemperature: celsius(20), Expansion: 1.2e-3,
			Vapour: datasheet.Vapour{Model: datasheet.Gas, MolarMass: 0.028, Permittivity: 1.000547},
		},
		Float: datasheet.Float{
			Tag: "LI-205", Mass: 0.24, Diameter: mm(50), Length: mm(260), EndShape: datasheet.Ellipsoidal,
			MagnetAbove: mm(170), Follower: datasheet.ReedChain, Pitch: mm(10), BuiltFor: 790,
		},
		Transmitter: &datasheet.Transmitter{
			Tag: "LT-205", Principle: datasheet.Radar, Chamber: "same", U: mm(3), ReferencePoint: 1.9, BlindTop: 0.1,
		},
		Temperature: &datasheet.Instrument{Tag: "TT-205", U: 0.5},
	}
}

// separator is oil over water: the float swims at the interface.
func separator() datasheet.Sheet {
	s := solvent()
	s.Tag, s.Service = "LG-310", "separator"
	s.DesignSG, s.SGMin, s.SGMax = 1.02, 0.98, 1.06
	s.Fluid = datasheet.Fluid{
		Name: "brine", Model: datasheet.Coefficient, BaseDensity: 1030, BaseTemperature: celsius(20), Expansion: 4e-4,
		Upper: &datasheet.Fluid{Name: "crude", Model: datasheet.Petroleum, Group: "A", BaseDensity: 850, BaseTemperature: celsius(15)},
	}
	s.Float = datasheet.Float{
		Tag: "LI-310", Mass: 0.4224, Diameter: mm(50), Length: mm(250), EndShape: datasheet.Hemispherical,
		Follower: datasheet.Magnetostrictive, BuiltFor: 1020,
	}
	return s
}

// caustic is known by a densitometer.
func caustic() datasheet.Sheet {
	s := solvent()
	s.Tag, s.Service = "LG-420", "caustic tank"
	s.DesignSG, s.SGMin, s.SGMax = 1.2, 1.1, 1.3
	s.Fluid.Model, s.Fluid.Name = datasheet.Measured, "caustic"
	s.Fluid.BaseDensity, s.Fluid.Expansion = 1210, 5e-4
	s.Float.BuiltFor = 1200
	s.Densitometer = &datasheet.Instrument{Tag: "DT-420", U: 1}
	return s
}

// randomSheet varies every number that the physics passes through.
func randomSheet(rng *rand.Rand, p datasheet.Principle, chamber string) datasheet.Sheet {
	u := rng.Float64
	s := [...]func() datasheet.Sheet{drum, solvent, separator, caustic}[rng.IntN(4)]()
	span := 0.3 + 2*u()
	s.Chamber.CentreToCentre = quantity.Length(span)
	s.Chamber.BelowLowerTap, s.Chamber.AboveUpperTap = 1, 1
	s.Chamber.Cooling = below(quantity.TemperatureDifference(30 * u()))
	s.Gravity = 9.764 + 0.07*u()
	s.Float.Material = []string{"", "titanium", "316L"}[rng.IntN(3)]
	heads := []datasheet.EndShape{datasheet.Flat, datasheet.Hemispherical, datasheet.Ellipsoidal, datasheet.Kloepper, datasheet.Korbbogen, datasheet.FlangedDished}
	s.Float.EndShape = heads[rng.IntN(len(heads))]
	s.Float.Offset = quantity.Length(0.02 * (u() - 0.5))
	s.Float.BuiltFor *= quantity.Density(0.98 + 0.04*u())
	s.Vessel = &datasheet.Vessel{Tag: "LT-9", Offset: quantity.Length(u() - 0.5), U: mm(5)}
	s.Transmitter = &datasheet.Transmitter{
		Tag: "LT-1", Principle: p, Chamber: chamber,
		ReferencePoint: quantity.Length(span + 0.2 + 0.3*u()), ConfiguredEps: 1 + 0.1*u()*float64(rng.IntN(2)),
		Elevation: quantity.Length(4*u() - 2), LegDensity: quantity.Density(900 + 200*u()), Swapped: rng.IntN(2) == 0,
		Compensated:   isDP(p) && rng.IntN(2) == 0,
		CalibratedFor: s.Float.BuiltFor, DisplacerLength: quantity.Length(span + 0.2), DisplacerArea: 1e-3, DisplacerMass: 3, DisplacerBottom: -0.1,
	}
	if p == datasheet.Displacer && rng.IntN(2) == 0 {
		s.Transmitter.CalibratedFor = 0
	}
	if p == datasheet.DPDry && rng.IntN(2) == 0 {
		s.Transmitter.LegDensity = 0
	}
	return s
}

func isDP(p datasheet.Principle) bool {
	return p == datasheet.DPWet || p == datasheet.DPDry || p == datasheet.DPSeals
}
