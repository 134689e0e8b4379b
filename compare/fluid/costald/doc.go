// Package costald is the density of pure liquids and their mixtures by
// corresponding states: the COSTALD method at saturation and under pressure,
// and the Rackett equation beside it as a second opinion.
//
// # Sources
//
//   - R. W. Hankinson, G. H. Thomson, A new correlation for saturated
//     densities of liquids and their mixtures, AIChE J. 25 (1979) 653-663.
//   - G. H. Thomson, K. R. Brobst, R. W. Hankinson, An improved correlation
//     for densities of compressed liquids and liquid mixtures, AIChE J. 28
//     (1982) 671-676.
//   - C. F. Spencer, R. P. Danner, Improved equation for prediction of
//     saturated liquid density, J. Chem. Eng. Data 17 (1972) 236-241, for the
//     modified Rackett equation.
//
// The papers were not read: the equations come from public implementations
// and are proven by their check values.
//
// # Symbols
//
// T temperature in K, Tc critical temperature, Tr = T/Tc, V molar volume in
// m3/mol, V* characteristic volume, ω acentric factor of the SRK equation,
// Z_RA Rackett factor.
//
// # Range
//
// 0.25 < Tr < 0.95. Outside, a *quantity.RangeError.
//
// # Accuracy
//
// The authors claim 0.4 % on average for pure liquids (from memory). Against
// API MPMS 11.2.4 at 60, 100 and 140 °F it is within 0.11 % for propane and
// the butanes, 0.22 % for n-pentane, 0.4 % for i-pentane and ethane. Handbook
// densities of all its substances come out within 0.6 %, ammonia within 0.8 %.
// The product counts 0.5 % as its standard uncertainty.
//
// The saturation pressure that compression starts from is that of the
// Lee-Kesler equation (AIChE J. 21 (1975) 510), good to a few percent, which
// changes the density of a compressed liquid by less than 0.05 % away from
// the critical point.
//
// # Known faults of sources
//
// The published tables of V* and ω were fitted with critical temperatures
// that differ a little between editions; those here are rounded to the digits
// of the handbooks, which changes densities by up to 0.03 %.
package costald
