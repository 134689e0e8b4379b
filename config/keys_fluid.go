package config

import (
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

// fluidShape is a fluid; whole says that it may hold others: the parts of a
// blend and the lighter liquid above. Those are not divided any further.
func fluidShape(whole bool) shape[datasheet.Fluid] {
	type fluid = datasheet.Fluid
	name := "plain fluid"
	if whole {
		name = "fluid"
	}
	s := shape[fluid]{name: name, decides: "model", kind: func(f *fluid) string { return string(f.Model) }, keys: []key[fluid]{
		value("name", "Name of the liquid.", asName(), func(f *fluid) *string { return &f.Name }),
		value("model", "How its density is found.",
			fluidModels(whole), func(f *fluid) *datasheet.FluidModel { return &f.Model }).need(),
		value("group", "Petroleum group of API MPMS 11.1: A crude oil, B products, C by its own expansion, D lubricating oil.",
			words("A", "B", "C", "D"), func(f *fluid) *string { return &f.Group }).need().onlyFor("petroleum"),
		value("base_density", "Density at base temperature; for a measured liquid what is used while there is no reading.",
			density(),
			func(f *fluid) *quantity.Density { return &f.BaseDensity }).need().onlyFor("petroleum", "coefficient", "constant", "measured").notNeededFor("measured"),
		value("base_temperature", "Temperature of the base density; 60 degF, 15 degC or 20 degC for petroleum.",
			temperature(),
			func(f *fluid) *quantity.Temperature { return &f.BaseTemperature }).otherwise("15 degC").onlyFor("petroleum", "coefficient", "polynomial", "constant", "measured"),
		value("expansion", "Thermal expansion at base temperature.",
			measured[float64](quantity.KindPerTemperature, "1/K"),
			func(f *fluid) *float64 { return &f.Expansion }).onlyFor("petroleum", "coefficient", "measured"),
		value("compressibility", "Isothermal compressibility.",
			measured[float64](quantity.KindPerPressure, "1/Pa"), func(f *fluid) *float64 { return &f.Compressibility }).onlyFor("coefficient"),
		value("relative_density", "Relative density at 60 degF.",
			number(0.2, 0.75), func(f *fluid) *float64 { return &f.RelativeDensity }).need().onlyFor("lpg"),
		several("densities", "Densities over temperature, and over pressure where it matters.",
			tablePointShape(), func(f *fluid) *[]datasheet.TablePoint { return &f.Table }).need().onlyFor("table"),
		values("factors", "Density at base temperature in kg/m3, its slope in kg/(m3 K), and so on: the factors of the powers of the temperature above base temperature.",
			number(-1e6, 1e6), func(f *fluid) *[]float64 { return &f.Powers }).need().onlyFor("polynomial"),
		value("coldest", "Coldest temperature the polynomial holds at.",
			temperature(), func(f *fluid) *quantity.Temperature { return &f.Coldest }).need().onlyFor("polynomial"),
		value("hottest", "Hottest temperature the polynomial holds at.",
			temperature(), func(f *fluid) *quantity.Temperature { return &f.Hottest }).need().onlyFor("polynomial"),
		several("components", "Components with their mole fractions.",
			componentShape(), func(f *fluid) *[]datasheet.Component { return &f.Components }).need().onlyFor("pure"),
		value("density_uncertainty", "Standard uncertainty of the density as a share; that of the model unless given.",
			fraction(0.5), func(f *fluid) *float64 { return &f.RelativeU }),
		within("vapour", "The gas above the liquid.", vapourShape(), func(f *fluid) *datasheet.Vapour { return &f.Vapour }),
	}}
	if whole {
		s.keys = append(s.keys, several("parts", "Fluids of the blend with their mass fractions.", partShape(),
			func(f *fluid) *[]datasheet.Part { return &f.Parts }).need().onlyFor("blend"))
		s.keys = append(s.keys, perhaps("upper", "Interface service: the lighter liquid above.", fluidShape(false),
			func(f *fluid) **fluid { return &f.Upper }))
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
		value("temperature", "Temperature.",
			temperature(), func(p *point) *quantity.Temperature { return &p.Temperature }).need(),
		value("pressure", "Pressure; at any pressure unless given.",
			pressure(), func(p *point) *quantity.Pressure { return &p.Pressure }),
		value("density", "Density.", density(), func(p *point) *quantity.Density { return &p.Density }).need(),
	}}
}

func componentShape() shape[datasheet.Component] {
	type part = datasheet.Component
	return shape[part]{name: "component", keys: []key[part]{
		value("name", "Name of the component, for example propane.",
			asName(), func(c *part) *string { return &c.Name }).need(),
		value("fraction", "Mole fraction.", fraction(1), func(c *part) *float64 { return &c.Fraction }).otherwise("1"),
	}}
}

func vapourShape() shape[datasheet.Vapour] {
	type vapour = datasheet.Vapour
	return shape[vapour]{name: "vapour", decides: "model", kind: func(v *vapour) string { return string(v.Model) }, keys: []key[vapour]{
		value("model", "How the density of the gas is found; steam over water, otherwise none unless given.",
			words(datasheet.NoVapour, datasheet.Steam, datasheet.Gas), func(v *vapour) *datasheet.VapourModel { return &v.Model }),
		value("molar_mass", "Molar mass of the gas.",
			measured[float64](quantity.KindMolarMass, "g/mol"), func(v *vapour) *float64 { return &v.MolarMass }).need().onlyFor("gas"),
		value("compressibility", "Compressibility factor Z.",
			number(0.1, 2), func(v *vapour) *float64 { return &v.Compressibility }).otherwise("1").onlyFor("gas"),
		value("permittivity", "Relative permittivity at 20 degC and 101.325 kPa.",
			number(1, 1.1), func(v *vapour) *float64 { return &v.Permittivity }).onlyFor("gas"),
	}}
}
