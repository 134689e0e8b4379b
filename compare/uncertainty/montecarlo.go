package uncertainty

import (
	"fmt"
	"math"
	"slices"
)

// Random is a source of random numbers with a known seed; *rand.Rand of
// math/rand/v2 is one.
type Random interface {
	Float64() float64     // uniform in [0, 1)
	NormFloat64() float64 // standard normal
}

// Variable is one input of a Monte Carlo propagation.
type Variable struct {
	Mean         float64
	U            float64 // standard uncertainty; for Student the scale of the t
	Distribution Distribution
	DoF          float64 // of Student
}

// Propagation is what a Monte Carlo propagation found.
type Propagation struct {
	Trials      int
	Refused     int // trials the model refused, left out of the rest
	Mean, U     float64
	Probability float64
	Low, High   float64 // probabilistically symmetric coverage interval
	// Shortest coverage interval; the same for a symmetric distribution.
	ShortLow, ShortHigh float64
}

// MonteCarlo draws independent inputs, evaluates the model for each trial and
// summarises the results (JCGM 101:2008, clause 7). The model gets the inputs
// in order and reports false for a state it refuses. At least 1000 trials; 10^6
// give two significant digits of a 95 % interval.
func MonteCarlo(model func(x []float64) (float64, bool), inputs []Variable, trials int, r Random, probability float64) (Propagation, error) {
	if trials < 1000 || !(probability > 0 && probability < 1) {
		return Propagation{}, fmt.Errorf("uncertainty: %d trials for a probability of %g: at least 1000 and between 0 and 1", trials, probability)
	}
	for i, v := range inputs {
		if !(v.U >= 0) || (v.Distribution == Student && !(v.DoF >= 2)) {
			return Propagation{}, fmt.Errorf("uncertainty: input %d has standard uncertainty %g and %g degrees of freedom; a t needs at least 2", i, v.U, v.DoF)
		}
	}
	results := make([]float64, 0, trials)
	x := make([]float64, len(inputs))
	for range trials {
		for i, v := range inputs {
			x[i] = v.Mean + v.U*v.Distribution.draw(r, v.DoF)
		}
		if y, ok := model(x); ok && !math.IsNaN(y) {
			results = append(results, y)
		}
	}
	if len(results) < trials/2 {
		return Propagation{}, fmt.Errorf("uncertainty: the model refused %d of %d trials; its inputs reach far outside its range", trials-len(results), trials)
	}
	p := summarise(results, probability)
	p.Trials, p.Refused = trials, trials-len(results)
	return p, nil
}

// summarise sorts the results and reads mean, deviation and intervals off them
// (JCGM 101:2008, 7.6 and 7.7).
func summarise(y []float64, probability float64) Propagation {
	slices.Sort(y)
	p := Propagation{Probability: probability}
	p.Mean, p.U = moments(y)
	n := len(y)
	q := int(probability*float64(n) + 0.5)
	if q >= n {
		q = n - 1
	}
	low := (n - q) / 2
	p.Low, p.High = y[low], y[low+q]
	p.ShortLow, p.ShortHigh = p.Low, p.High
	for i := 0; i+q < n; i++ {
		if y[i+q]-y[i] < p.ShortHigh-p.ShortLow {
			p.ShortLow, p.ShortHigh = y[i], y[i+q]
		}
	}
	return p
}

// moments returns mean and standard deviation, in two passes.
func moments(y []float64) (mean, s float64) {
	for _, v := range y {
		mean += v
	}
	mean /= float64(len(y))
	for _, v := range y {
		s += (v - mean) * (v - mean)
	}
	return mean, math.Sqrt(s / float64(len(y)-1))
}

// Check compares a budget with a Monte Carlo propagation of the same model
// (JCGM 101:2008, 8.1): the ends of y ± U may differ from those of the
// symmetric coverage interval by half a unit of the given significant digit of
// u(y).
type Check struct {
	Tolerance     float64 // of either end
	LowBy, HighBy float64 // how far the ends differ
	Trusted       bool    // the linear budget may be used
	MonteCarlo    Propagation
	ValueBy       float64 // budget's value less Monte Carlo mean
	Sentence      string
	Digits        int
}

// Validate checks a budget that has been combined. digits is 1 or 2.
func Validate(b Budget, p Propagation, digits int) Check {
	c := Check{
		Tolerance:  NumericalTolerance(b.U, digits),
		LowBy:      math.Abs(b.Value - b.Expanded - p.Low),
		HighBy:     math.Abs(b.Value + b.Expanded - p.High),
		ValueBy:    b.Value - p.Mean,
		MonteCarlo: p,
		Digits:     digits,
	}
	c.Trusted = c.LowBy <= c.Tolerance && c.HighBy <= c.Tolerance
	if c.Trusted {
		c.Sentence = fmt.Sprintf("The linear budget holds: its ends differ from those of %d trials by %.2g and %.2g %s, allowed %.2g.",
			p.Trials, c.LowBy, c.HighBy, b.Unit, c.Tolerance)
	} else {
		c.Sentence = fmt.Sprintf("Do not trust the linear budget: its ends differ from those of %d trials by %.2g and %.2g %s, allowed %.2g. Use the interval %.4g to %.4g %s.",
			p.Trials, c.LowBy, c.HighBy, b.Unit, c.Tolerance, p.Low, p.High, b.Unit)
	}
	return c
}

// NumericalTolerance returns δ = 10^l / 2 for u = c 10^l with c a whole number
// of the given significant digits (JCGM 101:2008, 7.9.2).
func NumericalTolerance(u float64, digits int) float64 {
	if !(u > 0) {
		return 0
	}
	l := int(math.Floor(math.Log10(u))) - digits + 1
	if math.Round(u/math.Pow10(l)) >= math.Pow10(digits) { // 0.0996 is 0.10 in two digits
		l++
	}
	return math.Pow10(l) / 2
}
