// Package gauge is one chamber with everything hung on it: it turns the
// readings of one instant into levels with their uncertainties, and the
// levels into gaps with their budgets.
//
// # What it does
//
// New makes a Model of a data sheet. Measure turns readings into levels,
// Indicate turns a known truth into the readings sound instruments would give;
// each undoes the other. Explain keeps every step of one conversion, Budget
// the tables of what it is uncertain by, CheckBudget asks a Monte Carlo
// propagation whether those tables can be trusted, InferDensity turns a gap
// into the density that would close it, and PointSays turns a switch into the
// interval it measures.
//
// # Symbols
//
// All lengths are above the lower tap. Upper case indices are of the chamber,
// lower case ones of the vessel: ρL, ρV and ρl, ρv in kg/m3; hc and hv levels,
// H the upper tap, in m; P absolute pressure in Pa; T and Tc temperature of
// vessel and chamber in K.
//
// # Physics
//
// Each piece has its own package with its equations and sources: the float
// buoyancy, the chamber against its vessel vessel, differential pressure
// dpcell, time of flight radar, the displacer displacer, densities fluid. What
// is decided here is which state they are given:
//
//   - pressure and temperatures are those measured, otherwise those of the
//     data sheet with a larger uncertainty (Measurement.Assumed);
//   - water under its own steam is never hotter than boiling; a vessel that
//     boils by its data sheet and has no thermometer boils at the live pressure;
//   - a chamber without a thermometer is colder than the vessel by what the
//     data sheet says, and as uncertain as its insulation is bad;
//   - the float is as large as its material makes it at the chamber's
//     temperature, where the material is known; the follower is taken to have
//     been built for the cold float;
//   - for interface service the lighter liquid takes the place of the gas;
//   - a chamber is taken as equally warm all the way up; package fit says what
//     a profile would make of it;
//   - a second chamber on the same connections holds the same liquid at the
//     same temperature.
//
// # Uncertainty
//
// Every level keeps sensitivity times standard uncertainty of each input, with
// its sign (level.Contributions). Inputs that two levels share cancel in their
// gap as far as both depend on them alike. The linear propagation is that of
// JCGM 100:2008, 5.1.2; derivatives are analytic. Uncertainties the data sheet
// leaves open are common practice, no source: see the constants in this
// package.
//
// # Range
//
// A level strictly between the taps is a number; at or beyond a tap it is a
// level.Bound without one. A reading that is no number, a state a fluid model
// refuses, a float that does not swim and a surface in a dead zone are typed
// reasons. No result is NaN or infinite.
package gauge
