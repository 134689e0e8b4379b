// Package density finds the density of the liquid from two instruments that
// depend on it differently: a radar that sees only the surface, a float that
// swims deeper in a lighter liquid, a dp cell that weighs the column, a
// displacer that is lifted by it.
//
// There are two ways, and they see different things:
//
//   - Infer takes one instant. Two readings, two unknowns: level h and density
//     ρ. It believes both zeros, so a zero error of either instrument becomes
//     a density error.
//   - Track takes many instants over which the density stayed as it was and
//     the level moved. A dp cell against a radar is then a straight line whose
//     slope is g(ρ - ρv) and whose intercept is the zero error: the two can be
//     told apart, as far as the level has moved.
//
// Both say when they cannot: a *NotIdentifiableError is returned and no
// number. A pair stops being identifiable
//
//   - when both instruments depend on density in the same way, as two dp
//     cells do, or a dp cell and a displacer that hangs from tap to tap;
//   - for a dp cell, near the lower tap: there is no column to weigh;
//   - for a float against a radar, always for Track: the density only shifts
//     the float by its change of immersion, at every level alike, which looks
//     exactly like a zero error;
//   - whenever the standard uncertainty that comes out is larger than the
//     caller has a use for, usually that of the density already assumed.
//
// # Method
//
// With readings y = f(h, ρ) and J the matrix of the derivatives of f, the
// covariance of (h, ρ) is J⁻¹ diag(u²) J⁻ᵀ (JCGM 102:2011, 6.2, solved for
// the inputs). Track is Deming's straight line with errors in both variables
// (W. E. Deming, Statistical Adjustment of Data, 1943, from memory), its
// uncertainty from the effective variance u² = u_y² + slope² u_x²; where the
// points scatter more than that, their scatter counts, which without noise of
// the level is the straight line of JCGM 100:2008, H.3.
package density
