// Package water is the density and static permittivity of ordinary water
// and steam.
//
// # Sources
//
//   - IAPWS R7-97(2012), Revised Release on the IAPWS Industrial Formulation
//     1997 for the Thermodynamic Properties of Water and Steam (IF97):
//     regions 1, 2, 3 and 4, the border between 2 and 3, and the
//     supplementary equation for metastable vapour.
//   - IAPWS SR1-86(1992), Revised Supplementary Release on Saturation
//     Properties of Ordinary Water Substance: starting values of region 3,
//     and an independent check of the rest.
//   - IAPWS R8-97, Release on the Static Dielectric Constant of Ordinary
//     Water Substance for Temperatures from 238 K to 873 K and Pressures up
//     to 1000 MPa.
//
// Comments name the equation or table at the line that implements it.
//
// # Symbols
//
// T temperature in K, p absolute pressure in Pa (MPa inside the equations),
// ρ density in kg/m3, v specific volume in m3/kg, ε relative permittivity.
//
// # Range
//
// Density: 273.15 K to 1073.15 K and up to 100 MPa, which is IF97 without
// its region 5 (to 2273.15 K). Outside, every function returns a
// *quantity.RangeError. Saturation inside region 3 (above 623.15 K, 165.3
// bar) ends at 647.0 K, 0.1 K below the critical point, where density is no
// longer a usable function of pressure and temperature.
//
// # Accuracy
//
// IAPWS claims for the density of IF97 against IAPWS-95 (from memory): about
// 0.001 % in the usual liquid range, rising to 0.3 % near the critical point.
// Where the two part: saturated densities up to 350 °C differ by at most
// 3.0e-5 (liquid) and 4.2e-4 (vapour), so that a table of IAPWS-95 is no test
// of this package closer than that. In permittivity the difference of the two
// densities shows in the fifth to seventh digit.
//
// The regions meet within 1.8e-4 in density; a reading that crosses a border,
// which in the liquid lies only at 350 °C, may step by that much.
//
// # Not implemented
//
// Region 5, the backward equations (density is found from pressure and
// temperature forwards; region 3 is solved by iteration), transport
// properties, ice and sublimation, sea water. Enthalpy and the other
// caloric properties have no user here; the tests compute them, from the
// published coefficients, as a check of those.
package water
