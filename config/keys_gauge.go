package config

import (
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

// gaugeForm is a gauge as it is written: each instrument with its signal.
type gaugeForm struct {
	Tag, Service, Area string

	Data    dataForm
	Chamber datasheet.Chamber
	Fluid   datasheet.Fluid
	Float   *floatForm

	Transmitter, Second *transmitterForm
	Points              []pointForm

	Pressure, Temperature, ChamberTemperature, Densitometer *instrumentForm
	Vessel                                                  *vesselForm

	Limits datasheet.Limits
	Drift  driftForm
	Budget datasheet.Budget

	node *node
}

type dataForm struct {
	MaxPressure  quantity.Pressure
	MaxTemp      quantity.Temperature
	OperPressure quantity.Pressure
	OperTemp     quantity.Temperature
	SG           float64
	SGRange      [2]float64
	Gravity      float64
}

type floatForm struct {
	datasheet.Float
	Signal *signalForm
}

type transmitterForm struct {
	datasheet.Transmitter
	Signal *signalForm
}

type pointForm struct {
	datasheet.Point
	Signal *signalForm
}

type instrumentForm struct {
	datasheet.Instrument
	Signal *signalForm
}

type vesselForm struct {
	datasheet.Vessel
	Signal *signalForm
}

// driftForm is a limit as a length or as a share of the distance between the
// taps.
type driftForm struct {
	Length quantity.Length
	Share  float64
}

func gaugeShape() shape[gaugeForm] {
	return shape[gaugeForm]{name: "gauge", begin: func(g *gaugeForm, n *node) { g.node = n }, keys: []key[gaugeForm]{
		value("tag", "Tag of the gauge.", asName(), func(g *gaugeForm) *string { return &g.Tag }).need(),
		value("service", "What the vessel is, in words.", asText(), func(g *gaugeForm) *string { return &g.Service }),
		value("area", "Where it stands; walk lists are sorted by it.",
			asText(), func(g *gaugeForm) *string { return &g.Area }),
		within("data_sheet", "What the engineer knew when specifying it.",
			dataShape(), func(g *gaugeForm) *dataForm { return &g.Data }),
		within("chamber", "The external chamber.",
			chamberShape(), func(g *gaugeForm) *datasheet.Chamber { return &g.Chamber }),
		within("fluid", "What is in the vessel and how its density is found.",
			fluidShape(true), func(g *gaugeForm) *datasheet.Fluid { return &g.Fluid }),
		perhaps("float", "The float, its magnet and the follower that reads it.",
			floatShape(), func(g *gaugeForm) **floatForm { return &g.Float }),
		perhaps("transmitter", "The continuous level transmitter that shares the connections.",
			transmitterShape(), func(g *gaugeForm) **transmitterForm { return &g.Transmitter }),
		perhaps("second_transmitter", "A second transmitter, of another principle.",
			transmitterShape(), func(g *gaugeForm) **transmitterForm { return &g.Second }),
		several("points", "Point switches on the chamber, at most 8.",
			pointShape(), func(g *gaugeForm) *[]pointForm { return &g.Points }),
		perhaps("pressure", "Pressure of the vessel's vapour space.",
			instrumentShape("pressure", "mbar", quantity.KindPressureDifference), func(g *gaugeForm) **instrumentForm { return &g.Pressure }),
		perhaps("temperature", "Temperature of the vessel's liquid.",
			instrumentShape("temperature", "K", quantity.KindTemperatureDifference), func(g *gaugeForm) **instrumentForm { return &g.Temperature }),
		perhaps("chamber_temperature", "Temperature of the chamber's liquid.",
			instrumentShape("temperature", "K", quantity.KindTemperatureDifference), func(g *gaugeForm) **instrumentForm { return &g.ChamberTemperature }),
		perhaps("densitometer", "Density of the vessel's liquid.",
			instrumentShape("densitometer", "kg/m3", quantity.KindDensity), func(g *gaugeForm) **instrumentForm { return &g.Densitometer }),
		perhaps("vessel_level", "A level measured on the vessel, not on the chamber.",
			vesselShape(), func(g *gaugeForm) **vesselForm { return &g.Vessel }),
		within("limits", "Thresholds; each has a default.", limitsShape(), func(g *gaugeForm) *gaugeForm { return g }),
		within("budget", "Standard uncertainties (k = 1) that are known better than common practice.",
			budgetShape(), func(g *gaugeForm) *datasheet.Budget { return &g.Budget }),
	}}
}

func dataShape() shape[dataForm] {
	return shape[dataForm]{name: "data sheet", keys: []key[dataForm]{
		value("maximum_pressure", "Highest pressure the gauge is made for.",
			pressure(), func(s *dataForm) *quantity.Pressure { return &s.MaxPressure }).need(),
		value("maximum_temperature", "Highest temperature the gauge is made for.",
			temperature(), func(s *dataForm) *quantity.Temperature { return &s.MaxTemp }).need(),
		value("operating_pressure", "Pressure used where none is measured.",
			pressure(), func(s *dataForm) *quantity.Pressure { return &s.OperPressure }).need(),
		value("operating_temperature", "Temperature of the vessel's liquid, used where none is measured.",
			temperature(), func(s *dataForm) *quantity.Temperature { return &s.OperTemp }).need(),
		value("specific_gravity", "Specific gravity at operating conditions the float was made for (water at 60 degF is 1).",
			number(0.2, 3), func(s *dataForm) *float64 { return &s.SG }).need(),
		value("specific_gravity_range", "Range in service; the design value alone unless given.",
			plainSpan(), func(s *dataForm) *[2]float64 { return &s.SGRange }),
		value("gravity", "Acceleration of gravity of the place in m/s2; a dp cell and a displacer weigh the liquid with it.",
			number(9.76, 9.84), func(s *dataForm) *float64 { return &s.Gravity }).otherwise("9.80665"),
	}}
}

func chamberShape() shape[datasheet.Chamber] {
	type chamber = datasheet.Chamber
	return shape[chamber]{name: "chamber", keys: []key[chamber]{
		value("material", "Material of the chamber pipe.",
			asText(), func(c *chamber) *string { return &c.Material }).otherwise("316"),
		value("pipe_size", "Nominal pipe size in inches: 2, 2-1/2, 3, 4.",
			asText(), func(c *chamber) *string { return &c.PipeSize }).otherwise("2-1/2"),
		value("schedule", "Pipe schedule: 10S, 40, 80, 160.",
			asText(), func(c *chamber) *string { return &c.Schedule }).otherwise("40"),
		value("inner_diameter", "Bore; from pipe size and schedule unless given.",
			length(), func(c *chamber) *quantity.Length { return &c.InnerDiameter }),
		value("outer_diameter", "Outside diameter; from pipe size unless given.",
			length(), func(c *chamber) *quantity.Length { return &c.OuterDiameter }),
		value("end_style", "How the ends of the chamber are made, for example flanged, welded cap, plug.",
			asText(), func(c *chamber) *string { return &c.EndStyle }).otherwise("flanged"),
		value("connection_style", "Where the two process connections are.",
			words(datasheet.SideSide, datasheet.SideBottom, datasheet.TopBottom, datasheet.TopSide),
			func(c *chamber) *datasheet.ConnectionStyle { return &c.ConnectionStyle }).otherwise("side-side"),
		value("centre_to_centre", "Distance between lower and upper tap; the measured range.",
			length(), func(c *chamber) *quantity.Length { return &c.CentreToCentre }).need(),
		value("lower_tap_elevation", "Plant elevation of the lower tap.",
			length(), func(c *chamber) *quantity.Length { return &c.LowerTapEL }),
		value("below_lower_tap", "Free chamber length below the lower tap, room for the float.",
			length(), func(c *chamber) *quantity.Length { return &c.BelowLowerTap }).need(),
		value("above_upper_tap", "Free chamber length above the upper tap.",
			length(), func(c *chamber) *quantity.Length { return &c.AboveUpperTap }).otherwise("150 mm"),
		value("insulation", "Whether heat is kept in.",
			words("bare", "insulated", "traced"), func(c *chamber) *string { return &c.Insulation }).otherwise("bare"),
		maybe("cooler_by", "How much colder the chamber is than the vessel, where it is not measured.",
			temperatureDifference(), func(c *chamber) **quantity.TemperatureDifference { return &c.Cooling }),
		value("temperature_uncertainty", "Standard uncertainty of the mean chamber temperature.",
			temperatureDifference(), func(c *chamber) *quantity.TemperatureDifference { return &c.CoolingU }),
	}}
}

func limitsShape() shape[gaugeForm] {
	return shape[gaugeForm]{name: "limits", keys: []key[gaugeForm]{
		value("gap", "Gap allowed between float and transmitter, instead of the computed budget. Waves, a well that is late by minutes and bursts of corrupt values are allowed for too.",
			length(), func(g *gaugeForm) *quantity.Length { return &g.Limits.Gap }),
		value("drift", "Estimated drift at which an alert is raised.",
			driftLimit(), func(g *gaugeForm) *driftForm { return &g.Drift }).otherwise("25 mm"),
		value("max_age", "Age at which a sample is stale, in place of that of its source.",
			seconds(), func(g *gaugeForm) *float64 { return &g.Limits.MaxAge }),
		value("still_moves", "Moves a witness makes before a float that stands still counts.",
			integer(1, 100), func(g *gaugeForm) *int { return &g.Limits.StillMoves }).otherwise("3"),
		value("move_size", "Size of one move.",
			length(), func(g *gaugeForm) *quantity.Length { return &g.Limits.MoveSize }).otherwise("20 mm"),
		value("proven_for", "Days after which a proof is old.",
			days(), func(g *gaugeForm) *int { return &g.Limits.ProvenDays }).otherwise("180 days"),
		value("verify_every", "How often the gauge is to be verified: your decision, never computed here; that of the site unless given.",
			days(), func(g *gaugeForm) *int { return &g.Limits.VerifyDays }),
		value("common_range", "Range that both instruments measure; the taps unless given.",
			span[quantity.Length](quantity.KindLength, "mm"), func(g *gaugeForm) *[2]quantity.Length { return &g.Limits.CommonRange }),
	}}
}

func budgetShape() shape[datasheet.Budget] {
	type budget = datasheet.Budget
	return shape[budget]{name: "budget", keys: []key[budget]{
		value("float_mass", "Mass of the float.", mass(), func(b *budget) *quantity.Mass { return &b.FloatMass }),
		value("follower", "Coupling, hysteresis and accuracy of the follower.",
			length(), func(b *budget) *quantity.Length { return &b.Follower }),
		value("tap_elevation", "Elevation of tap and scale.",
			length(), func(b *budget) *quantity.Length { return &b.TapElevation }),
		value("density", "Unexplained change of composition, as a share of the density.",
			fraction(0.5), func(b *budget) *float64 { return &b.Density }),
		value("chamber_temperature", "Temperature of the chamber's liquid.",
			temperatureDifference(), func(b *budget) *quantity.TemperatureDifference { return &b.ChamberTemp }),
		value("coverage", "Coverage factor of every budget.",
			number(1, 5), func(b *budget) *float64 { return &b.Coverage }).otherwise("2"),
		value("learn_baseline", "Subtract the median gap of the commissioning period.",
			yesNo(), func(b *budget) *bool { return &b.LearnBaseline }).otherwise("false"),
	}}
}
