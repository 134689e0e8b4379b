// Package uncertainty is measurement uncertainty: budgets by the law of
// propagation, their check by Monte Carlo, evaluation of repeated readings and
// straight lines, and the question whether results agree.
//
// Sources: JCGM 100:2008 (GUM) for budgets, JCGM 101:2008 for the Monte Carlo
// method, JCGM 102:2011 for results that share inputs, ISO/IEC 17043 for the
// normalised error. Clause numbers stand at the lines that implement them;
// they are from memory of the documents.
//
// Symbols: x input estimate, u its standard uncertainty, ν its degrees of
// freedom, c sensitivity ∂f/∂x, r correlation, y result, k coverage factor,
// U = k u expanded uncertainty. Degrees of freedom of zero stand for infinite.
//
// The package has no random numbers of its own: Monte Carlo draws from a
// Random the caller makes with a seed, so that a result can be repeated.
package uncertainty
