package config

import (
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

func floatShape() shape[floatForm] {
	return shape[floatForm]{name: "float", keys: []key[floatForm]{
		value("tag", "Tag of the follower's signal.", asName(), func(f *floatForm) *string { return &f.Tag }),
		value("mass", "Mass of the float with its magnet.",
			mass(), func(f *floatForm) *quantity.Mass { return &f.Mass }).need(),
		value("diameter", "Outside diameter.", length(), func(f *floatForm) *quantity.Length { return &f.Diameter }).need(),
		value("length", "Whole length, ends included.",
			length(), func(f *floatForm) *quantity.Length { return &f.Length }).need(),
		value("wall", "Thickness of the shell.", length(), func(f *floatForm) *quantity.Length { return &f.Wall }),
		value("material", "Material of the shell.",
			asText(), func(f *floatForm) *string { return &f.Material }).otherwise("titanium"),
		value("end_shape", "Shape of the ends.",
			words(datasheet.Flat, datasheet.Hemispherical, datasheet.Ellipsoidal, datasheet.Kloepper, datasheet.Korbbogen, datasheet.FlangedDished),
			func(f *floatForm) *datasheet.EndShape { return &f.EndShape }).otherwise("hemispherical"),
		value("magnet_height", "Height of the magnet above the bottom of the float.",
			length(), func(f *floatForm) *quantity.Length { return &f.MagnetAbove }).need(),
		value("maximum_pressure", "Maker's rating for external pressure.",
			pressure(), func(f *floatForm) *quantity.Pressure { return &f.MaxPressure }),
		value("follower", "What turns the magnet's position into a signal; reed-chain when a pitch is given, otherwise magnetostrictive; none is a visual indicator.",
			words(datasheet.ReedChain, datasheet.Magnetostrictive, datasheet.NoFollower), func(f *floatForm) *datasheet.FollowerType { return &f.Follower }),
		value("pitch", "Distance of the contacts of a reed chain.",
			length(), func(f *floatForm) *quantity.Length { return &f.Pitch }),
		value("built_for", "Density at which the follower shows the surface; the design specific gravity unless given.",
			density(), func(f *floatForm) *quantity.Density { return &f.BuiltFor }),
		value("offset", "Added by the maker or at calibration.",
			length(), func(f *floatForm) *quantity.Length { return &f.Offset }),
		perhaps("signal", "Where the follower's value comes from.",
			signalShape(), func(f *floatForm) **signalForm { return &f.Signal }),
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
		value("tag", "Tag of the transmitter.", asName(), func(t *form) *string { return &t.Tag }).need(),
		value("principle", "How it measures.",
			words(datasheet.Radar, datasheet.DPWet, datasheet.DPDry, datasheet.DPSeals, datasheet.Displacer, datasheet.FloatFollower),
			func(t *form) *datasheet.Principle { return &t.Principle }).need(),
		value("chamber", "Where it hangs: in the same chamber, in a secondary chamber on the same connections, or on the vessel.",
			words("same", "secondary", "vessel"), func(t *form) *string { return &t.Chamber }).otherwise("same"),
		value("uncertainty", "Standard uncertainty of the device alone, as level.",
			length(), func(t *form) *quantity.Length { return &t.U }),

		value("reference_point", "Radar: process seal above the lower tap, from which the device measures down; its signal is the level it makes of that.",
			length(), func(t *form) *quantity.Length { return &t.ReferencePoint }).need().onlyFor(radarOnly...),
		value("configured_permittivity", "Radar: permittivity of the gas the device was told.",
			number(1, 1.5), func(t *form) *float64 { return &t.ConfiguredEps }).otherwise("1").onlyFor(radarOnly...),
		value("blind_top", "Radar: dead zone below the reference point.",
			length(), func(t *form) *quantity.Length { return &t.BlindTop }).onlyFor(radarOnly...),
		value("blind_bottom", "Radar: dead zone above the probe end.",
			length(), func(t *form) *quantity.Length { return &t.BlindBottom }).onlyFor(radarOnly...),
		value("reference_reflector", "Radar: distance of the reference reflector below the reference point.",
			length(), func(t *form) *quantity.Length { return &t.ReferenceReflector }).onlyFor(radarOnly...),

		value("elevation", "dp: transmitter above the lower tap, negative below.",
			length(), func(t *form) *quantity.Length { return &t.Elevation }).otherwise("0 mm").onlyFor(dpOnly...),
		value("leg_density", "dp: density of the wet leg or seal fill at leg temperature.",
			density(), func(t *form) *quantity.Density { return &t.LegDensity }).need().onlyFor(filledLeg...),
		value("leg_temperature", "dp: temperature of the leg density.",
			temperature(), func(t *form) *quantity.Temperature { return &t.LegTemperature }).otherwise("20 degC").onlyFor(filledLeg...),
		value("leg_expansion", "dp: thermal expansion of the fill.",
			measured[float64](quantity.KindPerTemperature, "1/K"), func(t *form) *float64 { return &t.LegExpansion }).onlyFor(filledLeg...),
		value("swapped", "dp: high side on the reference leg, so that dp falls with level.",
			yesNo(), func(t *form) *bool { return &t.Swapped }).otherwise("false").onlyFor(dpOnly...),
		value("pressure_uncertainty", "dp: standard uncertainty of the differential pressure.",
			pressureDifference(), func(t *form) *quantity.PressureDifference { return &t.UPressure }).onlyFor(dpOnly...),
		value("compensated", "dp: the device reports a level, computed with calibrated_for.",
			yesNo(), func(t *form) *bool { return &t.Compensated }).otherwise("false").onlyFor(dpOnly...),

		value("calibrated_for", "Density the device computes its level with; a displacer without it reports its weight.",
			density(), func(t *form) *quantity.Density { return &t.CalibratedFor }).onlyFor(bornDensity...),
		value("displacer_length", "Length of the displacer.",
			length(), func(t *form) *quantity.Length { return &t.DisplacerLength }).need().onlyFor(displacerOnly...),
		value("displacer_area", "Cross-section of the displacer.",
			measured[float64](quantity.KindArea, "cm2"), func(t *form) *float64 { return &t.DisplacerArea }).need().onlyFor(displacerOnly...),
		value("displacer_mass", "Mass of the displacer.",
			mass(), func(t *form) *quantity.Mass { return &t.DisplacerMass }).need().onlyFor(displacerOnly...),
		value("displacer_bottom", "Lower end of the displacer above the lower tap.",
			length(), func(t *form) *quantity.Length { return &t.DisplacerBottom }).otherwise("0 mm").onlyFor(displacerOnly...),

		perhaps("signal", "Where its value comes from.",
			signalShape(), func(t *form) **signalForm { return &t.Signal }).need(),
	}}
}

func pointShape() shape[pointForm] {
	return shape[pointForm]{name: "point", keys: []key[pointForm]{
		value("tag", "Tag of the switch.", asName(), func(p *pointForm) *string { return &p.Tag }).need(),
		value("elevation", "Elevation above the lower tap, half way between the two trip points.",
			length(), func(p *pointForm) *quantity.Length { return &p.Elevation }).need(),
		value("differential", "Distance between rising and falling trip point.",
			length(), func(p *pointForm) *quantity.Length { return &p.Differential }).otherwise("10 mm"),
		value("operated", "By the magnet of the float, or by the liquid with an element of its own.",
			words("float", "liquid"), func(p *pointForm) *string { return &p.Operated }).otherwise("float"),
		value("uncertainty", "Standard uncertainty of the trip elevation.",
			length(), func(p *pointForm) *quantity.Length { return &p.U }).otherwise("3 mm"),
		perhaps("signal", "Where its contact is read; 1 means wet unless inverted.",
			signalShape(), func(p *pointForm) **signalForm { return &p.Signal }).need(),
	}}
}

func instrumentShape(name, unit string, kind quantity.Kind) shape[instrumentForm] {
	return shape[instrumentForm]{name: name, keys: []key[instrumentForm]{
		value("tag", "Tag of the instrument.", asName(), func(i *instrumentForm) *string { return &i.Tag }).need(),
		value("uncertainty", "Standard uncertainty.",
			measured[float64](kind, unit), func(i *instrumentForm) *float64 { return &i.U }),
		perhaps("signal", "Where its value comes from; left out when the same tag has a signal on another gauge.",
			signalShape(), func(i *instrumentForm) **signalForm { return &i.Signal }),
	}}
}

func vesselShape() shape[vesselForm] {
	return shape[vesselForm]{name: "vessel level", keys: []key[vesselForm]{
		value("tag", "Tag of the instrument.", asName(), func(v *vesselForm) *string { return &v.Tag }).need(),
		value("zero", "Its zero above the lower tap.",
			length(), func(v *vesselForm) *quantity.Length { return &v.Offset }).otherwise("0 mm"),
		value("uncertainty", "Standard uncertainty.",
			length(), func(v *vesselForm) *quantity.Length { return &v.U }).otherwise("10 mm"),
		perhaps("signal", "Where its value comes from.",
			signalShape(), func(v *vesselForm) **signalForm { return &v.Signal }).need(),
	}}
}
