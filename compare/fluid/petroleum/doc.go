// Package petroleum is the density of petroleum liquids: crude oil, refined
// products, special applications and lubricating oils by API MPMS
// 11.1-2004, and liquefied gases by API MPMS 11.2.4.
//
// # Sources
//
//   - API Manual of Petroleum Measurement Standards, chapter 11, section
//     1-2004 (ASTM D1250-04, IP 200/04), Temperature and Pressure Volume
//     Correction Factors for Generalized Crude Oils, Refined Products, and
//     Lubricating Oils: CTL and CPL of groups A to D, from base to alternate
//     conditions, from observed to base, and between bases.
//   - API MPMS chapter 11, section 2, part 4 (GPA TP-27), Temperature
//     Correction for the Volume of NGL and LPG: the two-fluid method at
//     saturation.
//
// The documents themselves were not read: equations and numbers come by way
// of the published reference implementation and a public reimplementation,
// and are proven by the documents' worked examples.
//
// # Symbols
//
// ρ60 density at 60 °F and zero gauge pressure, α60 thermal expansion there
// in 1/°F, T* temperature on the scale of IPTS-68, ρ* density at 60 °F of
// that scale, CTL and CPL the factors for temperature and pressure, Fp the
// scaled compressibility in 1e-5/psi.
//
// # Range
//
// 11.1: -58 °F to 302 °F (-50 °C to 150 °C), 0 to 1500 psig, density at 60 °F
// 610.6 to 1163.5 kg/m3 (lubricating oils 800.9 to 1163.5). A negative gauge
// pressure counts as zero, as the standard has it. 11.2.4: -46 °C to 93 °C,
// relative density 0.3500 to 0.6880. Outside, a *quantity.RangeError.
//
// # Accuracy
//
// API claims for 11.1 a 95 % uncertainty of the density that grows from 0.05
// % near the base temperature to 0.25 % at its far end (from memory). The
// pressure correction of 11.2.2 and the vapour pressure of 11.2.5 are not
// implemented, because no check values for them could be found: a liquefied
// gas is taken at its saturation density.
//
// # Known differences of sources
//
// The edition of 1980 (the table of D1250-80) differs from that of 2004 by
// 3e-6 to 7e-5 in CTL. Example 11.1.6.1-5 is printed with two different
// inputs by the two sources of the examples; both are tested. Examples of
// 11.1.7.1 print densities computed from the factor rounded to five decimals.
package petroleum
