// Package density tells a wrong density from a wrong zero, out of a dp cell
// and a level that does not depend on density, such as that of a radar.
//
// At one instant two readings determine level and density only if both zeros
// are believed: package gauge has that (Model.InferDensity). Over many
// instants in which the density stays as it is and the level moves, a Track is
// a straight line whose slope is g(ρ − ρv) and whose intercept is the zero
// error of the cell, and the two can be told apart as far as the level has
// moved.
//
// When they cannot, a *NotIdentifiableError is returned and no number:
//
//   - the level has not moved by more than its own noise;
//   - the standard uncertainty that comes out is larger than the caller has a
//     use for, usually that of the density already assumed.
//
// A float against a radar is no pair for a Track: a wrong density shifts the
// float by its change of immersion, at every level alike, which looks exactly
// like a zero error.
//
// # Method
//
// Deming's straight line with errors in both variables (W. E. Deming,
// Statistical Adjustment of Data, 1943, from memory), its uncertainty from the
// effective variance u² = u_y² + slope² u_x²; where the points scatter more
// than that, their scatter counts, which without noise of the level is the
// straight line of JCGM 100:2008, H.3. What is the same in every sample, such
// as a wrong span of the cell, is not seen and must be added by the caller.
package density
