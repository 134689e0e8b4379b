// Package fluid gives the density of what is in the vessel and of the gas
// above it, and the permittivity of that gas, for every model a data sheet
// can name.
//
// Formulations of a substance have packages of their own: water (IAPWS-IF97
// and R8-97), petroleum (API MPMS 11.1-2004 and 11.2.4) and costald (COSTALD
// and Rackett, for pure liquids and their mixtures). This package chooses
// between them and adds the simple models: tables, a polynomial, an expansion
// coefficient, one value, an ideal mixture by mass, a densitometer.
//
// Pressures are absolute. Every density is refused with a *RangeError outside
// the range of its model; nothing is clamped or extrapolated.
package fluid
