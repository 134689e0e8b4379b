package scenario_test

import (
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

// glycol is a gauge with a radar, two points and a level on the vessel.
func glycol() *datasheet.Sheet {
	return &datasheet.Sheet{
		Tag: "LG-1", MaxPressure: 10e5, MaxTemperature: 400, OperatingPressure: 3e5, OperatingTemp: 330,
		DesignSG: 1.05, SGMin: 1.0, SGMax: 1.1,
		Chamber: datasheet.Chamber{
			PipeSize: "3", Schedule: "40", InnerDiameter: 0.0779, OuterDiameter: 0.0889, ConnectionStyle: datasheet.SideSide,
			CentreToCentre: 1, BelowLowerTap: 0.4, AboveUpperTap: 0.3,
		},
		Fluid: datasheet.Fluid{Name: "glycol", Model: datasheet.Coefficient, BaseDensity: 1080, BaseTemperature: 293.15, Expansion: 7e-4},
		Float: datasheet.Float{
			Tag: "LI-1", Mass: 0.29, Diameter: 0.05, Length: 0.25, EndShape: datasheet.Hemispherical, MagnetAbove: 0.18,
			Follower: datasheet.Magnetostrictive, BuiltFor: 1050,
		},
		Transmitter: &datasheet.Transmitter{Tag: "LT-1", Principle: datasheet.Radar, Chamber: "same", U: 2e-3, ReferencePoint: 1.4, BlindTop: 0.1},
		Points: []datasheet.Point{
			{Tag: "LSL-1", Elevation: 0.25, Differential: 0.010, Operated: "float", U: 2e-3},
			{Tag: "LSH-1", Elevation: 0.75, Differential: 0.010, Operated: "float", U: 2e-3},
		},
		Temperature: &datasheet.Instrument{Tag: "TT-1", U: 0.5},
		Vessel:      &datasheet.Vessel{Tag: "LT-2", U: 5e-3},
	}
}

// drum is a boiler drum with a wet leg.
func drum() *datasheet.Sheet {
	cooling := quantity.TemperatureDifference(30)
	s := glycol()
	s.Tag, s.OperatingPressure, s.OperatingTemp, s.DesignSG, s.SGMin, s.SGMax = "LG-2", 61e5, 549, 0.8, 0.74, 0.9
	s.Chamber.Cooling, s.Chamber.CentreToCentre = &cooling, 0.8
	s.Fluid = datasheet.Fluid{Name: "boiler water", Model: datasheet.Water, Vapour: datasheet.Vapour{Model: datasheet.Steam}}
	s.Float.BuiltFor, s.Float.Mass, s.Float.Length = 800, 0.255, 0.29
	s.Transmitter = &datasheet.Transmitter{Tag: "LT-1", Principle: datasheet.DPWet, Chamber: "same", LegDensity: 990, U: 2e-3}
	s.Pressure = &datasheet.Instrument{Tag: "PT-1", U: 5e3}
	s.Points[0].Elevation, s.Points[1].Elevation = 0.3, 0.5
	return s
}

// dry is a gauge with a dry-leg dp.
func dry() *datasheet.Sheet {
	s := glycol()
	s.Tag = "LG-3"
	s.Transmitter = &datasheet.Transmitter{Tag: "LT-1", Principle: datasheet.DPDry, Chamber: "same", U: 2e-3}
	return s
}

// weighed is a gauge with a displacer.
func weighed() *datasheet.Sheet {
	s := glycol()
	s.Tag = "LG-4"
	s.Transmitter = &datasheet.Transmitter{Tag: "LT-1", Principle: datasheet.Displacer, Chamber: "same", U: 4e-3, CalibratedFor: 1050, DisplacerLength: 1, DisplacerArea: 12e-4, DisplacerMass: 1.6}
	return s
}

// bare is a gauge without a transmitter and without a vessel level.
func bare() *datasheet.Sheet {
	s := glycol()
	s.Tag, s.Transmitter, s.Vessel = "LG-5", nil, nil
	return s
}
