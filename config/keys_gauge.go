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
		value("tag", "Tag of the gauge.", asText(), func(g *gaugeForm) *string { return &g.Tag }).need(),
		value("service", "What the vessel is, in words.", asText(), func(g *gaugeForm) *string { return &g.Service }),
		value("area", "Where it stands; walk lists are sorted by it.", asText(), func(g *gaugeForm) *string { return &g.Area }),
		within("data_sheet", "What the engineer knew when specifying it.", dataShape(), func(g *gaugeForm) *dataForm { return &g.Data }),
		within("chamber", "The external chamber.", chamberShape(), func(g *gaugeForm) *datasheet.Chamber { return &g.Chamber }),
		within("fluid", "What is in the vessel and how its density is found.", fluidShape(true), func(g *gaugeForm) *datasheet.Fluid { return &g.Fluid }),
		perhaps("float", "The float, its magnet and the follower that reads it.", floatShape(), func(g *gaugeForm) **floatForm { return &g.Float }),
		perhaps("transmitter", "The continuous level transmitter that shares the connections.", transmitterShape(), func(g *gaugeForm) **transmitterForm { return &g.Transmitter }),
		perhaps("second_transmitter", "A second transmitter, of another principle.", transmitterShape(), func(g *gaugeForm) **transmitterForm { return &g.Second }),
		several("points", "Point switches on the chamber, at most 8.", pointShape(), func(g *gaugeForm) *[]pointForm { return &g.Points }),
		perhaps("pressure", "Pressure of the vessel's vapour space.", instrumentShape("pressure", "mbar", quantity.KindPressureDifference), func(g *gaugeForm) **instrumentForm { return &g.Pressure }),
		perhaps("temperature", "Temperature of the vessel's liquid.", instrumentShape("temperature", "K", quantity.KindTemperatureDifference), func(g *gaugeForm) **instrumentForm { return &g.Temperature }),
		perhaps("chamber_temperature", "Temperature of the chamber's liquid.", instrumentShape("temperature", "K", quantity.KindTemperatureDifference), func(g *gaugeForm) **instrumentForm { return &g.ChamberTemperature }),
		perhaps("densitometer", "Density of the vessel's liquid.", instrumentShape("densitometer", "kg/m3", quantity.KindDensity), func(g *gaugeForm) **instrumentForm { return &g.Densitometer }),
		perhaps("vessel_level", "A level measured on the vessel, not on the chamber.", vesselShape(), func(g *gaugeForm) **vesselForm { return &g.Vessel }),
		within("limits", "Thresholds; each has a default.", limitsShape(), func(g *gaugeForm) *gaugeForm { return g }),
		within("budget", "Standard uncertainties (k = 1) that are known better than common practice.", budgetShape(), func(g *gaugeForm) *datasheet.Budget { return &g.Budget }),
	}}
}

func dataShape() shape[dataForm] {
	return shape[dataForm]{name: "data sheet", keys: []key[dataForm]{
		value("maximum_pressure", "Highest pressure the gauge is made for.", pressure(), func(s *dataForm) *quantity.Pressure { return &s.MaxPressure }).need(),
		value("maximum_temperature", "Highest temperature the gauge is made for.", temperature(), func(s *dataForm) *quantity.Temperature { return &s.MaxTemp }).need(),
		value("operating_pressure", "Pressure used where none is measured.", pressure(), func(s *dataForm) *quantity.Pressure { return &s.OperPressure }).need(),
		value("operating_temperature", "Temperature of the vessel's liquid, used where none is measured.", temperature(), func(s *dataForm) *quantity.Temperature { return &s.OperTemp }).need(),
		value("specific_gravity", "Specific gravity at operating conditions the float was made for (water at 60 degF is 1).", number(0.2, 3), func(s *dataForm) *float64 { return &s.SG }).need(),
		value("specific_gravity_range", "Range in service; the design value alone unless given.", plainSpan(), func(s *dataForm) *[2]float64 { return &s.SGRange }),
	}}
}

func chamberShape() shape[datasheet.Chamber] {
	type chamber = datasheet.Chamber
	return shape[chamber]{name: "chamber", keys: []key[chamber]{
		value("material", "Material of the chamber pipe.", asText(), func(c *chamber) *string { return &c.Material }).otherwise("316"),
		value("pipe_size", "Nominal pipe size in inches: 2, 2-1/2, 3, 4.", asText(), func(c *chamber) *string { return &c.PipeSize }).otherwise("2-1/2"),
		value("schedule", "Pipe schedule: 10S, 40, 80, 160.", asText(), func(c *chamber) *string { return &c.Schedule }).otherwise("40"),
		value("inner_diameter", "Bore; from pipe size and schedule unless given.", length(), func(c *chamber) *quantity.Length { return &c.InnerDiameter }),
		value("outer_diameter", "Outside diameter; from pipe size unless given.", length(), func(c *chamber) *quantity.Length { return &c.OuterDiameter }),
		value("end_style", "How the ends of the chamber are made, for example flanged, welded cap, plug.", asText(), func(c *chamber) *string { return &c.EndStyle }).otherwise("flanged"),
		value("connection_style", "Where the two process connections are.", words(datasheet.SideSide, datasheet.SideBottom, datasheet.TopBottom, datasheet.TopSide), func(c *chamber) *datasheet.ConnectionStyle { return &c.ConnectionStyle }).otherwise("side-side"),
		value("centre_to_centre", "Distance between lower and upper tap; the measured range.", length(), func(c *chamber) *quantity.Length { return &c.CentreToCentre }).need(),
		value("lower_tap_elevation", "Plant elevation of the lower tap.", length(), func(c *chamber) *quantity.Length { return &c.LowerTapEL }),
		value("below_lower_tap", "Free chamber length below the lower tap, room for the float.", length(), func(c *chamber) *quantity.Length { return &c.BelowLowerTap }).need(),
		value("above_upper_tap", "Free chamber length above the upper tap.", length(), func(c *chamber) *quantity.Length { return &c.AboveUpperTap }).otherwise("150 mm"),
		value("insulation", "Whether heat is kept in.", words("bare", "insulated", "traced"), func(c *chamber) *string { return &c.Insulation }).otherwise("bare"),
		maybe("cooler_by", "How much colder the chamber is than the vessel, where it is not measured.", temperatureDifference(), func(c *chamber) **quantity.TemperatureDifference { return &c.Cooling }),
		value("temperature_uncertainty", "Standard uncertainty of the mean chamber temperature.", temperatureDifference(), func(c *chamber) *quantity.TemperatureDifference { return &c.CoolingU }),
	}}
}

// fluidShape is a fluid; whole says that it may hold others: the parts of a
// blend and the lighter liquid above. Those are not divided any further.
func fluidShape(whole bool) shape[datasheet.Fluid] {
	type fluid = datasheet.Fluid
	name := "plain fluid"
	if whole {
		name = "fluid"
	}
	s := shape[fluid]{name: name, decides: "model", kind: func(f *fluid) string { return string(f.Model) }, keys: []key[fluid]{
		value("name", "Name of the liquid.", asText(), func(f *fluid) *string { return &f.Name }),
		value("model", "How its density is found.", fluidModels(whole), func(f *fluid) *datasheet.FluidModel { return &f.Model }).need(),
		value("group", "Petroleum group of API MPMS 11.1: A crude oil, B products, C by its own expansion, D lubricating oil.", words("A", "B", "C", "D"), func(f *fluid) *string { return &f.Group }).need().onlyFor("petroleum"),
		value("base_density", "Density at base temperature; for a measured liquid what is used while there is no reading.", density(), func(f *fluid) *quantity.Density { return &f.BaseDensity }).need().onlyFor("petroleum", "coefficient", "constant", "measured").notNeededFor("measured"),
		value("base_temperature", "Temperature of the base density; 60 degF, 15 degC or 20 degC for petroleum.", temperature(), func(f *fluid) *quantity.Temperature { return &f.BaseTemperature }).otherwise("15 degC").onlyFor("petroleum", "coefficient", "polynomial", "constant", "measured"),
		value("expansion", "Thermal expansion at base temperature.", measured[float64](quantity.KindPerTemperature, "1/K"), func(f *fluid) *float64 { return &f.Expansion }).onlyFor("petroleum", "coefficient", "measured"),
		value("compressibility", "Isothermal compressibility.", measured[float64](quantity.KindPerPressure, "1/Pa"), func(f *fluid) *float64 { return &f.Compressibility }).onlyFor("coefficient"),
		value("relative_density", "Relative density at 60 degF.", number(0.2, 0.75), func(f *fluid) *float64 { return &f.RelativeDensity }).need().onlyFor("lpg"),
		several("densities", "Densities over temperature, and over pressure where it matters.", tablePointShape(), func(f *fluid) *[]datasheet.TablePoint { return &f.Table }).need().onlyFor("table"),
		values("factors", "Density at base temperature in kg/m3, its slope in kg/(m3 K), and so on: the factors of the powers of the temperature above base temperature.", number(-1e6, 1e6), func(f *fluid) *[]float64 { return &f.Powers }).need().onlyFor("polynomial"),
		value("coldest", "Coldest temperature the polynomial holds at.", temperature(), func(f *fluid) *quantity.Temperature { return &f.Coldest }).need().onlyFor("polynomial"),
		value("hottest", "Hottest temperature the polynomial holds at.", temperature(), func(f *fluid) *quantity.Temperature { return &f.Hottest }).need().onlyFor("polynomial"),
		several("components", "Components with their mole fractions.", componentShape(), func(f *fluid) *[]datasheet.Component { return &f.Components }).need().onlyFor("pure"),
		value("density_uncertainty", "Standard uncertainty of the density as a share; that of the model unless given.", fraction(0.5), func(f *fluid) *float64 { return &f.RelativeU }),
		within("vapour", "The gas above the liquid.", vapourShape(), func(f *fluid) *datasheet.Vapour { return &f.Vapour }),
	}}
	if whole {
		s.keys = append(s.keys, several("parts", "Fluids of the blend with their mass fractions.", partShape(), func(f *fluid) *[]datasheet.Part { return &f.Parts }).need().onlyFor("blend"))
		s.keys = append(s.keys, perhaps("upper", "Interface service: the lighter liquid above.", fluidShape(false), func(f *fluid) **fluid { return &f.Upper }))
	}
	return s
}

func fluidModels(whole bool) format[datasheet.FluidModel] {
	models := []datasheet.FluidModel{datasheet.Water, datasheet.Petroleum, datasheet.LPG, datasheet.Pure, datasheet.Table,
		datasheet.Coefficient, datasheet.Polynomial, datasheet.Constant, datasheet.Measured}
	if whole {
		models = append(models, datasheet.Blend)
	}
	return words(models...)
}

func partShape() shape[datasheet.Part] {
	type part = datasheet.Part
	return shape[part]{name: "part", keys: []key[part]{
		value("fraction", "Mass fraction.", fraction(1), func(p *part) *float64 { return &p.MassFraction }).need(),
		within("fluid", "The fluid.", fluidShape(false), func(p *part) *datasheet.Fluid { return &p.Fluid }),
	}}
}

func tablePointShape() shape[datasheet.TablePoint] {
	type point = datasheet.TablePoint
	return shape[point]{name: "density", keys: []key[point]{
		value("temperature", "Temperature.", temperature(), func(p *point) *quantity.Temperature { return &p.Temperature }).need(),
		value("pressure", "Pressure; at any pressure unless given.", pressure(), func(p *point) *quantity.Pressure { return &p.Pressure }),
		value("density", "Density.", density(), func(p *point) *quantity.Density { return &p.Density }).need(),
	}}
}

func componentShape() shape[datasheet.Component] {
	type part = datasheet.Component
	return shape[part]{name: "component", keys: []key[part]{
		value("name", "Name of the component, for example propane.", asText(), func(c *part) *string { return &c.Name }).need(),
		value("fraction", "Mole fraction.", fraction(1), func(c *part) *float64 { return &c.Fraction }).otherwise("1"),
	}}
}

func vapourShape() shape[datasheet.Vapour] {
	type vapour = datasheet.Vapour
	return shape[vapour]{name: "vapour", decides: "model", kind: func(v *vapour) string { return string(v.Model) }, keys: []key[vapour]{
		value("model", "How the density of the gas is found; steam over water, otherwise none unless given.", words(datasheet.NoVapour, datasheet.Steam, datasheet.Gas), func(v *vapour) *datasheet.VapourModel { return &v.Model }),
		value("molar_mass", "Molar mass of the gas.", measured[float64](quantity.KindMolarMass, "g/mol"), func(v *vapour) *float64 { return &v.MolarMass }).need().onlyFor("gas"),
		value("compressibility", "Compressibility factor Z.", number(0.1, 2), func(v *vapour) *float64 { return &v.Compressibility }).otherwise("1").onlyFor("gas"),
		value("permittivity", "Relative permittivity at 20 degC and 101.325 kPa.", number(1, 1.1), func(v *vapour) *float64 { return &v.Permittivity }).onlyFor("gas"),
	}}
}

func floatShape() shape[floatForm] {
	return shape[floatForm]{name: "float", keys: []key[floatForm]{
		value("tag", "Tag of the follower's signal.", asText(), func(f *floatForm) *string { return &f.Tag }),
		value("mass", "Mass of the float with its magnet.", mass(), func(f *floatForm) *quantity.Mass { return &f.Mass }).need(),
		value("diameter", "Outside diameter.", length(), func(f *floatForm) *quantity.Length { return &f.Diameter }).need(),
		value("length", "Whole length, ends included.", length(), func(f *floatForm) *quantity.Length { return &f.Length }).need(),
		value("wall", "Thickness of the shell.", length(), func(f *floatForm) *quantity.Length { return &f.Wall }),
		value("material", "Material of the shell.", asText(), func(f *floatForm) *string { return &f.Material }).otherwise("titanium"),
		value("end_shape", "Shape of the ends.", words(datasheet.Flat, datasheet.Hemispherical, datasheet.Ellipsoidal, datasheet.Kloepper, datasheet.Korbbogen, datasheet.FlangedDished), func(f *floatForm) *datasheet.EndShape { return &f.EndShape }).otherwise("hemispherical"),
		value("magnet_height", "Height of the magnet above the bottom of the float.", length(), func(f *floatForm) *quantity.Length { return &f.MagnetAbove }).need(),
		value("maximum_pressure", "Maker's rating for external pressure.", pressure(), func(f *floatForm) *quantity.Pressure { return &f.MaxPressure }),
		value("follower", "What turns the magnet's position into a signal; reed-chain when a pitch is given, otherwise magnetostrictive; none is a visual indicator.", words(datasheet.ReedChain, datasheet.Magnetostrictive, datasheet.NoFollower), func(f *floatForm) *datasheet.FollowerType { return &f.Follower }),
		value("pitch", "Distance of the contacts of a reed chain.", length(), func(f *floatForm) *quantity.Length { return &f.Pitch }),
		value("built_for", "Density at which the follower shows the surface; the design specific gravity unless given.", density(), func(f *floatForm) *quantity.Density { return &f.BuiltFor }),
		value("offset", "Added by the maker or at calibration.", length(), func(f *floatForm) *quantity.Length { return &f.Offset }),
		perhaps("signal", "Where the follower's value comes from.", signalShape(), func(f *floatForm) **signalForm { return &f.Signal }),
	}}
}

var (
	radarOnly     = []string{string(datasheet.Radar)}
	dpOnly        = []string{string(datasheet.DPWet), string(datasheet.DPDry), string(datasheet.DPSeals)}
	filledLeg     = []string{string(datasheet.DPWet), string(datasheet.DPSeals)}
	displacerOnly = []string{string(datasheet.Displacer)}
	bornDensity   = append(dpOnly[:3:3], string(datasheet.Displacer))
)

func transmitterShape() shape[transmitterForm] {
	type form = transmitterForm
	return shape[form]{name: "transmitter", decides: "principle", kind: func(t *form) string { return string(t.Principle) }, keys: []key[form]{
		value("tag", "Tag of the transmitter.", asText(), func(t *form) *string { return &t.Tag }).need(),
		value("principle", "How it measures.", words(datasheet.Radar, datasheet.DPWet, datasheet.DPDry, datasheet.DPSeals, datasheet.Displacer, datasheet.FloatFollower), func(t *form) *datasheet.Principle { return &t.Principle }).need(),
		value("chamber", "Where it hangs: in the same chamber, in a secondary chamber on the same connections, or on the vessel.", words("same", "secondary", "vessel"), func(t *form) *string { return &t.Chamber }).otherwise("same"),
		value("uncertainty", "Standard uncertainty of the device alone, as level.", length(), func(t *form) *quantity.Length { return &t.U }),

		value("reference_point", "Radar: process seal above the lower tap; distances are measured down from it.", length(), func(t *form) *quantity.Length { return &t.ReferencePoint }).need().onlyFor(radarOnly...),
		value("configured_permittivity", "Radar: permittivity of the gas the device was told.", number(1, 1.5), func(t *form) *float64 { return &t.ConfiguredEps }).otherwise("1").onlyFor(radarOnly...),
		value("blind_top", "Radar: dead zone below the reference point.", length(), func(t *form) *quantity.Length { return &t.BlindTop }).onlyFor(radarOnly...),
		value("blind_bottom", "Radar: dead zone above the probe end.", length(), func(t *form) *quantity.Length { return &t.BlindBottom }).onlyFor(radarOnly...),
		value("reference_reflector", "Radar: distance of the reference reflector below the reference point.", length(), func(t *form) *quantity.Length { return &t.ReferenceReflector }).onlyFor(radarOnly...),

		value("elevation", "dp: transmitter above the lower tap, negative below.", length(), func(t *form) *quantity.Length { return &t.Elevation }).otherwise("0 mm").onlyFor(dpOnly...),
		value("leg_density", "dp: density of the wet leg or seal fill at leg temperature.", density(), func(t *form) *quantity.Density { return &t.LegDensity }).need().onlyFor(filledLeg...),
		value("leg_temperature", "dp: temperature of the leg density.", temperature(), func(t *form) *quantity.Temperature { return &t.LegTemperature }).otherwise("20 degC").onlyFor(filledLeg...),
		value("leg_expansion", "dp: thermal expansion of the fill.", measured[float64](quantity.KindPerTemperature, "1/K"), func(t *form) *float64 { return &t.LegExpansion }).onlyFor(filledLeg...),
		value("swapped", "dp: high side on the reference leg, so that dp falls with level.", yesNo(), func(t *form) *bool { return &t.Swapped }).otherwise("false").onlyFor(dpOnly...),
		value("pressure_uncertainty", "dp: standard uncertainty of the differential pressure.", pressureDifference(), func(t *form) *quantity.PressureDifference { return &t.UPressure }).onlyFor(dpOnly...),
		value("compensated", "dp: the device reports a level, computed with calibrated_for.", yesNo(), func(t *form) *bool { return &t.Compensated }).otherwise("false").onlyFor(dpOnly...),

		value("calibrated_for", "Density the device computes its level with; a displacer without it reports its weight.", density(), func(t *form) *quantity.Density { return &t.CalibratedFor }).onlyFor(bornDensity...),
		value("displacer_length", "Length of the displacer.", length(), func(t *form) *quantity.Length { return &t.DisplacerLength }).need().onlyFor(displacerOnly...),
		value("displacer_area", "Cross-section of the displacer.", measured[float64](quantity.KindArea, "cm2"), func(t *form) *float64 { return &t.DisplacerArea }).need().onlyFor(displacerOnly...),
		value("displacer_mass", "Mass of the displacer.", mass(), func(t *form) *quantity.Mass { return &t.DisplacerMass }).need().onlyFor(displacerOnly...),
		value("displacer_bottom", "Lower end of the displacer above the lower tap.", length(), func(t *form) *quantity.Length { return &t.DisplacerBottom }).otherwise("0 mm").onlyFor(displacerOnly...),

		perhaps("signal", "Where its value comes from.", signalShape(), func(t *form) **signalForm { return &t.Signal }).need(),
	}}
}

func pointShape() shape[pointForm] {
	return shape[pointForm]{name: "point", keys: []key[pointForm]{
		value("tag", "Tag of the switch.", asText(), func(p *pointForm) *string { return &p.Tag }).need(),
		value("elevation", "Elevation above the lower tap, half way between the two trip points.", length(), func(p *pointForm) *quantity.Length { return &p.Elevation }).need(),
		value("differential", "Distance between rising and falling trip point.", length(), func(p *pointForm) *quantity.Length { return &p.Differential }).otherwise("10 mm"),
		value("operated", "By the magnet of the float, or by the liquid with an element of its own.", words("float", "liquid"), func(p *pointForm) *string { return &p.Operated }).otherwise("float"),
		value("uncertainty", "Standard uncertainty of the trip elevation.", length(), func(p *pointForm) *quantity.Length { return &p.U }).otherwise("3 mm"),
		perhaps("signal", "Where its contact is read; 1 means wet unless inverted.", signalShape(), func(p *pointForm) **signalForm { return &p.Signal }).need(),
	}}
}

func instrumentShape(name, unit string, kind quantity.Kind) shape[instrumentForm] {
	return shape[instrumentForm]{name: name, keys: []key[instrumentForm]{
		value("tag", "Tag of the instrument.", asText(), func(i *instrumentForm) *string { return &i.Tag }).need(),
		value("uncertainty", "Standard uncertainty.", measured[float64](kind, unit), func(i *instrumentForm) *float64 { return &i.U }),
		perhaps("signal", "Where its value comes from; left out when the same tag has a signal on another gauge.", signalShape(), func(i *instrumentForm) **signalForm { return &i.Signal }),
	}}
}

func vesselShape() shape[vesselForm] {
	return shape[vesselForm]{name: "vessel level", keys: []key[vesselForm]{
		value("tag", "Tag of the instrument.", asText(), func(v *vesselForm) *string { return &v.Tag }).need(),
		value("zero", "Its zero above the lower tap.", length(), func(v *vesselForm) *quantity.Length { return &v.Offset }).otherwise("0 mm"),
		value("uncertainty", "Standard uncertainty.", length(), func(v *vesselForm) *quantity.Length { return &v.U }).otherwise("10 mm"),
		perhaps("signal", "Where its value comes from.", signalShape(), func(v *vesselForm) **signalForm { return &v.Signal }).need(),
	}}
}

func limitsShape() shape[gaugeForm] {
	return shape[gaugeForm]{name: "limits", keys: []key[gaugeForm]{
		value("gap", "Gap allowed between float and transmitter, instead of the computed budget.", length(), func(g *gaugeForm) *quantity.Length { return &g.Limits.Gap }),
		value("drift", "Estimated drift at which an alert is raised.", driftLimit(), func(g *gaugeForm) *driftForm { return &g.Drift }).otherwise("25 mm"),
		value("max_age", "Age at which a sample is stale, in place of that of its source.", seconds(), func(g *gaugeForm) *float64 { return &g.Limits.MaxAge }),
		value("still_moves", "Moves a witness makes before a float that stands still counts.", integer(1, 100), func(g *gaugeForm) *int { return &g.Limits.StillMoves }).otherwise("3"),
		value("move_size", "Size of one move.", length(), func(g *gaugeForm) *quantity.Length { return &g.Limits.MoveSize }).otherwise("20 mm"),
		value("proven_for", "Days after which a proof is old.", days(), func(g *gaugeForm) *int { return &g.Limits.ProvenDays }).otherwise("180 days"),
		value("common_range", "Range that both instruments measure; the taps unless given.", span[quantity.Length](quantity.KindLength, "mm"), func(g *gaugeForm) *[2]quantity.Length { return &g.Limits.CommonRange }),
	}}
}

func budgetShape() shape[datasheet.Budget] {
	type budget = datasheet.Budget
	return shape[budget]{name: "budget", keys: []key[budget]{
		value("float_mass", "Mass of the float.", mass(), func(b *budget) *quantity.Mass { return &b.FloatMass }),
		value("follower", "Coupling, hysteresis and accuracy of the follower.", length(), func(b *budget) *quantity.Length { return &b.Follower }),
		value("tap_elevation", "Elevation of tap and scale.", length(), func(b *budget) *quantity.Length { return &b.TapElevation }),
		value("density", "Unexplained change of composition, as a share of the density.", fraction(0.5), func(b *budget) *float64 { return &b.Density }),
		value("chamber_temperature", "Temperature of the chamber's liquid.", temperatureDifference(), func(b *budget) *quantity.TemperatureDifference { return &b.ChamberTemp }),
		value("coverage", "Coverage factor of every budget.", number(1, 5), func(b *budget) *float64 { return &b.Coverage }).otherwise("2"),
		value("learn_baseline", "Subtract the median gap of the commissioning period.", yesNo(), func(b *budget) *bool { return &b.LearnBaseline }).otherwise("false"),
	}}
}
