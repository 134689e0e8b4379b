package scenario

import (
	"strconv"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

// trimmed writes a number without needless digits.
func trimmed(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

// Makes are the gauges of the benchmark: every principle, with and without a
// level on the vessel, with and without points.
func Makes() []Make {
	return []Make{
		{"radar, points, vessel level", func() *datasheet.Sheet { return with(glycol(), radar, points, onVessel) }},
		{"radar, points", func() *datasheet.Sheet { return with(naphtha(), radar, points) }},
		{"wet-leg dp, points, vessel level", func() *datasheet.Sheet { return with(drum(), wetLeg, points, onVessel) }},
		{"dry-leg dp, points", func() *datasheet.Sheet { return with(naphtha(), dryLeg, points) }},
		{"displacer, points, vessel level", func() *datasheet.Sheet { return with(crude(), displacer, points, onVessel) }},
		{"radar, dry-leg dp, points", func() *datasheet.Sheet { return with(naphtha(), radar, secondDP, points) }},
		{"radar, vessel level", func() *datasheet.Sheet { return with(glycol(), radar, onVessel) }},
		{"interface, radar, points", func() *datasheet.Sheet { return with(separator(), radar, points) }},
		{"points only", func() *datasheet.Sheet { return with(glycol(), points) }},
	}
}

// Further are gauges a few cells of the benchmark are tried on: what can be
// told apart there is told apart nowhere else. They are not among Makes, so
// that the trials of those stay what they were.
func Further() []Make {
	return []Make{
		{EveryWitness, func() *datasheet.Sheet { return with(naphtha(), radar, secondDP, points, onVessel) }},
		{LiquidPoints, func() *datasheet.Sheet { return with(glycol(), points, byLiquid) }},
		{Interface, func() *datasheet.Sheet { return with(separator(), radar, points) }},
	}
}

// Names of further makes.
const (
	EveryWitness = "radar, dry-leg dp, points, vessel level"
	LiquidPoints = "points with elements of their own"
	Interface    = "interface, radar, points"
)

func with(s *datasheet.Sheet, parts ...func(*datasheet.Sheet)) *datasheet.Sheet {
	for _, add := range parts {
		add(s)
	}
	return s
}

// base is what the gauges of the benchmark have in common.
func base(service string) *datasheet.Sheet {
	return &datasheet.Sheet{
		Tag: "LG-1", Service: service,
		MaxPressure: 20e5, MaxTemperature: 420, OperatingPressure: 4e5, OperatingTemp: 325,
		Chamber: datasheet.Chamber{
			Material: "316", PipeSize: "3", Schedule: "40", InnerDiameter: 77.92e-3, OuterDiameter: 88.9e-3,
			ConnectionStyle: datasheet.SideSide, CentreToCentre: 1, BelowLowerTap: 0.5, AboveUpperTap: 0.3, CoolingU: 3,
			Cooling: kelvin(3),
		},
		Float: datasheet.Float{
			Tag: "LI-1", Mass: 0.29, Diameter: 50e-3, Length: 0.25, EndShape: datasheet.Hemispherical,
			MagnetAbove: 0.18, Follower: datasheet.Magnetostrictive,
		},
		Temperature: &datasheet.Instrument{Tag: "TT-1", U: 0.5},
	}
}

func glycol() *datasheet.Sheet {
	s := base("glycol surge drum")
	s.DesignSG, s.SGMin, s.SGMax = 1.09, 1.05, 1.12
	s.Fluid = datasheet.Fluid{Name: "glycol", Model: datasheet.Coefficient, BaseDensity: 1125, BaseTemperature: 293.15, Expansion: 7e-4, RelativeU: 0.002}
	s.Float.BuiltFor = 1090
	return s
}

func naphtha() *datasheet.Sheet {
	s := base("naphtha surge drum")
	s.DesignSG, s.SGMin, s.SGMax = 0.68, 0.63, 0.73
	s.Chamber.CentreToCentre = 1.4
	s.Fluid = datasheet.Fluid{
		Name: "naphtha", Model: datasheet.Coefficient, BaseDensity: 705, BaseTemperature: 288.15, Expansion: 1.1e-3, RelativeU: 0.002,
		Vapour: datasheet.Vapour{Model: datasheet.Gas, MolarMass: 0.040, Compressibility: 0.95, Permittivity: 1.0015},
	}
	s.Float.Diameter, s.Float.Length, s.Float.BuiltFor = 54e-3, 0.33, 680
	s.Float.MagnetAbove = 0.24
	s.Pressure = &datasheet.Instrument{Tag: "PT-1", U: 1e3}
	return s
}

func crude() *datasheet.Sheet {
	s := base("knock-out drum")
	s.DesignSG, s.SGMin, s.SGMax = 0.82, 0.78, 0.86
	s.Chamber.CentreToCentre = 0.9
	s.Fluid = datasheet.Fluid{
		Name: "crude condensate", Model: datasheet.Coefficient, BaseDensity: 848, BaseTemperature: 288.15, Expansion: 9e-4, RelativeU: 0.002,
		Vapour: datasheet.Vapour{Model: datasheet.Gas, MolarMass: 0.020, Compressibility: 0.97, Permittivity: 1.0009},
	}
	s.Float.Mass, s.Float.Length, s.Float.BuiltFor = 0.255, 0.29, 820
	s.Float.Follower, s.Float.Pitch = datasheet.ReedChain, 5e-3
	s.Pressure = &datasheet.Instrument{Tag: "PT-1", U: 1e3}
	return s
}

func drum() *datasheet.Sheet {
	s := base("steam drum")
	s.MaxPressure, s.MaxTemperature, s.OperatingPressure, s.OperatingTemp = 76e5, 593, 62e5, 551
	s.DesignSG, s.SGMin, s.SGMax = 0.80, 0.74, 0.92
	s.Chamber.CentreToCentre, s.Chamber.Insulation, s.Chamber.Cooling = 0.8, "insulated", kelvin(25)
	s.Fluid = datasheet.Fluid{Name: "boiler water", Model: datasheet.Water, Vapour: datasheet.Vapour{Model: datasheet.Steam}}
	s.Float.Mass, s.Float.Length, s.Float.BuiltFor = 0.255, 0.29, 800
	s.Temperature = nil
	s.Pressure = &datasheet.Instrument{Tag: "PT-1", U: 5e3}
	s.ChamberTemperature = &datasheet.Instrument{Tag: "TT-2", U: 2}
	return s
}

// separator is water under oil: the float swims between the two.
func separator() *datasheet.Sheet {
	s := base("oil-water separator")
	s.DesignSG, s.SGMin, s.SGMax = 0.99, 0.98, 1.03
	s.Chamber.CentreToCentre, s.Chamber.Insulation = 0.9, "insulated"
	s.Fluid = datasheet.Fluid{
		Name: "produced water", Model: datasheet.Coefficient, BaseDensity: 1012, BaseTemperature: 288.15, Expansion: 3.5e-4, RelativeU: 0.001,
		Upper: &datasheet.Fluid{Name: "crude oil", Model: datasheet.Coefficient, BaseDensity: 860, BaseTemperature: 288.15, Expansion: 8.5e-4, RelativeU: 0.001},
	}
	s.Float.Mass, s.Float.Diameter, s.Float.Length, s.Float.MagnetAbove, s.Float.BuiltFor = 0.895, 76e-3, 0.24, 0.12, 1000
	s.Chamber.PipeSize, s.Chamber.InnerDiameter, s.Chamber.OuterDiameter = "4", 102.26e-3, 114.3e-3
	return s
}

func radar(s *datasheet.Sheet) {
	s.Transmitter = &datasheet.Transmitter{
		Tag: "LT-1", Principle: datasheet.Radar, Chamber: "same", U: 2e-3, ReferencePoint: s.Chamber.CentreToCentre + 0.4, BlindTop: 0.15,
	}
}

func wetLeg(s *datasheet.Sheet) {
	s.Transmitter = &datasheet.Transmitter{Tag: "LT-1", Principle: datasheet.DPWet, Chamber: "same", U: 2e-3, LegDensity: 990, LegTemperature: 318, UPressure: 8}
}

func dryLeg(s *datasheet.Sheet) {
	s.Transmitter = &datasheet.Transmitter{Tag: "LT-1", Principle: datasheet.DPDry, Chamber: "same", U: 2e-3, UPressure: 8}
}

func displacer(s *datasheet.Sheet) {
	s.Transmitter = &datasheet.Transmitter{
		Tag: "LT-1", Principle: datasheet.Displacer, Chamber: "secondary", U: 4e-3, CalibratedFor: s.Float.BuiltFor,
		DisplacerLength: s.Chamber.CentreToCentre, DisplacerArea: 12e-4, DisplacerMass: 1.4,
	}
}

func secondDP(s *datasheet.Sheet) {
	s.Second = &datasheet.Transmitter{Tag: "LT-2", Principle: datasheet.DPDry, Chamber: "same", U: 2e-3, UPressure: 8}
}

// points stand from 35 to 65 per cent of the height, where the level passes.
func points(s *datasheet.Sheet) {
	for i, tag := range []string{"LSLL-1", "LSL-1", "LSH-1", "LSHH-1"} {
		s.Points = append(s.Points, datasheet.Point{
			Tag: tag, Elevation: s.Chamber.CentreToCentre * quantity.Length(0.35+0.1*float64(i)), Differential: 10e-3, Operated: "float", U: 2e-3,
		})
	}
}

func byLiquid(s *datasheet.Sheet) {
	for i := range s.Points {
		s.Points[i].Operated = "liquid"
	}
}

func onVessel(s *datasheet.Sheet) {
	s.Vessel = &datasheet.Vessel{Tag: "LT-3", U: 5e-3}
}
