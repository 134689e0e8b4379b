// Package shape weighs which kind of error of which instrument explains how
// the levels of one chamber parted.
//
// All instruments see one level, which is unknown. Leaving out the instrument
// that is blamed, the others give that level by their weighted mean, and what
// remains are two kinds of misfit: how far the others are apart, and how far
// the blamed one is from what the form of its error predicts. Because
//
//	Σ w_j (x_j - x̄)² = Σ_{j≠i} w_j (x_j - x̄_-i)² + (x_i - x̄_-i)²/s_i²
//
// all hypotheses live in the same coordinates and their likelihoods can be
// compared. Each form pays ½·ln(n) per fitted parameter (Schwarz 1978), n being
// the number of independent marks; no single mark weighs more than 12.5 nats.
//
// The density of the liquid is known only within its uncertainty and stays what
// it is for days: every form may explain part of what it sees by one density
// that is off, at the price of how unlikely that is. Marks do not average it
// away.
//
// Before the onset of the error, which each form fits from a grid, every
// instrument is taken to be healthy.
package shape

import (
	"math"

	"bridlewatch/compare/symptom"
)

// Form is how an error behaves over time.
type Form uint8

// Forms. L is the true level, t0 the onset.
const (
	Constant  Form = iota // shifted by a constant
	Ramp                  // grows from t0
	Span                  // proportional to the level
	Still                 // shows a constant whatever the level
	Gone                  // left the level and stands elsewhere, whether or not the level moves
	Ceiling               // cannot rise above an elevation
	Floor                 // cannot fall below an elevation
	HangsUp               // rises with the level, falls slowly or not at all
	HangsDown             // falls with the level, rises slowly or not at all
	Deadband              // moves only when the level has left it by a distance
	Late                  // shows the level of some time ago
	Hours                 // shows the level of an hour ago or to come: a clock
	Density               // as a wrong density disturbs all instruments together
	Upper                 // the same of the liquid above an interface
	Foam                  // too high in bursts
	Free                  // anything
	Lagging               // the chamber follows the vessel with a time constant
	Dead                  // the chamber stands still whatever the vessel does
	Weak                  // the chamber follows the vessel by a small part only
	Forms                 // number of forms
)

func (f Form) String() string {
	return [...]string{"constant shift", "growing shift", "proportional to level", "standing still", "standing away from the level", "cannot rise above an elevation",
		"cannot fall below an elevation", "rises but does not fall", "falls but does not rise", "moves in jumps", "late", "late or early by hours",
		"as a wrong density disturbs them", "as a wrong density of the upper liquid disturbs them", "too high in bursts", "irregular", "chamber follows late", "chamber stands still",
		"chamber follows weakly"}[f]
}

// Fit is the best a form can do.
type Fit struct {
	Nats  float64 // log-likelihood less the price of its parameters
	Size  float64 // the parameter: mm, mm per day for Ramp, mm at full scale for Span, seconds for Late and Lagging, standard uncertainties for Density
	Onset int64   // Unix seconds
	RMS   float64 // of what the form leaves, mm
	Left  float64 // mean square of what it leaves since its onset, in what may be left
}

// Problem is a window of marks of the channels that take part.
type Problem struct {
	Marks    []symptom.Mark
	Channels []symptom.Channel
	Offset   [symptom.Channels]float64 // normal reading minus common level at mid scale, mm
	Slope    [symptom.Channels]float64 // mm per half-span
	Lead     [symptom.Channels]float64 // s by which the signal usually comes early against the others
	Sigma    [symptom.Channels]float64 // standard deviation of a mark, mm
	Above    [symptom.Channels]Tilt    // mm a standard uncertainty of the upper liquid's density gives; 0: no interface
	Top      float64                   // centre to centre, mm
	Clock    float64                   // s by which the signals may be apart, at least clockS
	PerMark  float64                   // independent marks per mark, <= 1
	Step     int64                     // seconds between marks
	Onset    int64                     // Unix seconds at which the error was found to begin
}

const (
	markCap   = 25.0 // largest misfit of a mark in squared standard deviations
	clockS    = 12.0 // s, skew healthy signals may have
	freeS     = 60.0 // mm, spread of an irregular error
	freeLeast = 3.0  // times what the reading scatters anyhow
	stillS    = 2.0  // mm, spread of a reading that stands still
	slackS    = 5.0  // mm, spread about a mechanical form
	foamTop   = 80.0 // mm
	leastRun  = 3    // marks an error must last

	movedLeast = 25.0 // mm a level must move for a reading that stands still to show
	briefly    = 0.4  // of the uncertainty of the density that comes and goes within the window
)

// Solution holds the fits of all forms of all channels.
type Solution struct {
	Fits    [symptom.Channels][Forms]Fit
	Healthy float64 // nats of no error at all
	Unknown float64 // nats of any disturbance of any channel
	Marks   int     // complete marks used
	Voices  int     // channels that took part
	Coarse  bool    // marks are hours apart: bursts are averaged away
	From    int64
	To      int64
	perMark float64
	Outside [symptom.Channels]float64 // rms distance of the others among each other, leaving out the channel, mm
	Beside  [symptom.Channels]float64 // mean square of that since the onset, in what it may be: 1 or less where they agree; 0 for two voices
}

// Strained reports whether no regular form explains the marks: the squares it
// leaves are a few times what they should be. Then there was more than one.
func (s *Solution) Strained() bool { return s.Strains(s.Best()) }

// Strains reports the same of what some explanation of these marks leaves.
func (s *Solution) Strains(nats float64) bool {
	return nats < -6-1.5*float64(s.Voices-1)*float64(s.Marks)*s.perMark
}

// Best returns the nats of the regular form that explains the marks best, or of
// no error at all.
func (s *Solution) Best() float64 {
	best := s.Healthy
	for c := range s.Fits {
		for form := range s.Fits[c] {
			if Form(form) != Free && Form(form) != Foam {
				best = math.Max(best, s.Fits[c][form].Nats)
			}
		}
	}
	return best
}

// Took reports whether a channel took part.
func (s *Solution) Took(c symptom.Channel) bool { return !math.IsInf(s.Fits[c][Constant].Nats, -1) }

// point is one mark ready for use.
type point struct {
	at    int64
	x     [symptom.Channels]float64
	w     [symptom.Channels]float64 // 1/s²; 0: not there
	d     [symptom.Channels]float64 // density direction
	mean  float64                   // of all
	rate  float64                   // mm/s of the level
	after bool                      // a gap in the data lies before this point
}

// rest is a point seen without one channel. swing is what one standard
// uncertainty of the density does to e; across and along are the first and
// second power of it in how far the others are apart.
type rest struct {
	mean   float64 // level by the others
	apart  float64 // Σ w (x - mean)² of the others
	e      float64 // channel minus mean
	s      float64 // standard deviation of e
	swing  float64
	across float64
	along  float64
}

// parted is how far the others are apart at a density a off.
func (r *rest) parted(a float64) float64 { return math.Max(0, r.apart-2*a*r.across+a*a*r.along) }

// off is the channel's error at a density a off.
func (r *rest) off(a float64) float64 { return r.e - a*r.swing }

// Solve fits every form to every channel. It needs at least two channels.
func (p *Problem) Solve() Solution { return p.solve(p.Channels, every[:]) }

// SolveFor fits the forms of one channel only: all, or those given.
func (p *Problem) SolveFor(c symptom.Channel, forms ...Form) Solution {
	if len(forms) == 0 {
		forms = every[:]
	}
	return p.solve([]symptom.Channel{c}, forms)
}

// Healthy is how well the marks fit without an error, nats.
func (p *Problem) Healthy() float64 { return p.solve(nil, nil).Healthy }

// every is all forms.
var every = func() (all [Forms]Form) {
	for f := range all {
		all[f] = Form(f)
	}
	return all
}()

func (p *Problem) solve(channels []symptom.Channel, forms []Form) Solution {
	p.widen()
	points := p.prepare()
	s := Solution{Marks: len(points), Voices: len(p.Channels), Coarse: p.Step > 3600, perMark: p.PerMark}
	for c := range s.Fits {
		for form := range s.Fits[c] {
			s.Fits[c][form].Nats = math.Inf(-1)
		}
	}
	if len(points) < leastRun || len(p.Channels) < 2 {
		return s
	}
	p.settle(points)
	s.From, s.To = points[0].at, points[len(points)-1].at
	healthy := make([]float64, len(points)+1) // running sums
	for i := range points {
		pt := &points[i]
		healthy[i+1] = healthy[i] + capped(p.spread(pt, pt.mean))
		s.Unknown += p.unknown(pt)
	}
	s.Healthy = -0.5 * healthy[len(points)] * p.PerMark
	s.Unknown *= p.PerMark
	rests := make([]rest, len(points))
	for _, c := range channels {
		for i := range points {
			rests[i] = p.without(&points[i], c)
		}
		s.Outside[c] = outside(rests, len(p.Channels))
		f := fitter{p: p, points: points, rests: rests, channel: c, healthy: healthy}
		s.Beside[c] = f.beside()
		for _, form := range forms {
			s.Fits[c][form] = f.best(form)
		}
	}
	return s
}

func capped(q float64) float64 { return math.Min(q, markCap) }

// prepare turns marks that hold all channels into points.
func (p *Problem) prepare() []point {
	points := make([]point, 0, len(p.Marks))
	for i := range p.Marks {
		m := &p.Marks[i]
		var pt point
		pt.at = m.At
		sum, weight, complete := 0.0, 0.0, true
		for _, c := range p.Channels {
			x := float64(m.Level[c])
			if math.IsNaN(x) {
				complete = false
				break
			}
			pt.x[c] = x - p.Offset[c] - p.Slope[c]*(2*x/p.Top-1) - p.Lead[c]*float64(m.Rate)
			pt.d[c] = float64(m.Density[c])
			s2 := p.Sigma[c]*p.Sigma[c] + math.Pow(math.Max(clockS, p.Clock)*float64(m.Rate), 2) + math.Pow(briefly*pt.d[c], 2)
			pt.w[c] = 1 / s2
			sum += pt.w[c] * pt.x[c]
			weight += pt.w[c]
		}
		if complete {
			pt.mean, pt.rate = sum/weight, float64(m.Rate)
			pt.after = len(points) == 0 || m.At-points[len(points)-1].at > 3*p.Step
			points = append(points, pt)
		}
	}
	return points
}

// settle takes out of all points what a density that was already off before the
// onset does to them.
func (p *Problem) settle(points []point) {
	num, den, n := 0.0, 1/p.PerMark, 0
	for i := range points {
		pt := &points[i]
		if pt.at >= p.Onset {
			break
		}
		if n++; p.spread(pt, pt.mean) > markCap {
			continue
		}
		p.lean(pt, pt.d, &num, &den)
	}
	if n < leastRun {
		return
	}
	a := num / den
	for i := range points {
		pt := &points[i]
		dm := p.direction(pt, pt.d)
		for _, c := range p.Channels {
			pt.x[c] -= a * (pt.d[c] - dm)
		}
	}
}

// lean adds what a point says of a density that is off, to the sums whose
// quotient is by how much; by is what it does to each channel.
func (p *Problem) lean(pt *point, by [symptom.Channels]float64, num, den *float64) {
	dm := p.direction(pt, by)
	for _, c := range p.Channels {
		*num += pt.w[c] * (pt.x[c] - pt.mean) * (by[c] - dm)
		*den += pt.w[c] * (by[c] - dm) * (by[c] - dm)
	}
}

// direction is the mean of what the density does to the channels.
func (p *Problem) direction(pt *point, by [symptom.Channels]float64) float64 {
	sum, weight := 0.0, 0.0
	for _, c := range p.Channels {
		sum += pt.w[c] * by[c]
		weight += pt.w[c]
	}
	return sum / weight
}

func (p *Problem) spread(pt *point, mean float64) float64 {
	q := 0.0
	for _, c := range p.Channels {
		q += pt.w[c] * (pt.x[c] - mean) * (pt.x[c] - mean)
	}
	return q
}

// unknown is the log-likelihood of a mark in which any one channel may be
// anywhere.
func (p *Problem) unknown(pt *point) float64 {
	best := math.Inf(-1)
	for _, c := range p.Channels {
		r := p.without(pt, c)
		best = math.Max(best, free(&r, 0, freeS))
	}
	return best - math.Log(float64(len(p.Channels)))
}

// free is the log-likelihood of a rest whose error may be anywhere within a
// spread, mm, at a density a off.
func free(r *rest, a, spread float64) float64 {
	spread = math.Max(spread, freeLeast*r.s)
	v := r.s*r.s + spread*spread
	return -0.5*capped(r.parted(a)+r.off(a)*r.off(a)/v) - 0.5*math.Log(v/(r.s*r.s))
}

// without looks at a point leaving out channel c.
func (p *Problem) without(pt *point, c symptom.Channel) rest {
	sum, density, weight := 0.0, 0.0, 0.0
	for _, o := range p.Channels {
		if o != c {
			sum += pt.w[o] * pt.x[o]
			density += pt.w[o] * pt.d[o]
			weight += pt.w[o]
		}
	}
	r := rest{mean: sum / weight, swing: pt.d[c] - density/weight}
	for _, o := range p.Channels {
		if o != c {
			x, d := pt.x[o]-r.mean, pt.d[o]-density/weight
			r.apart += pt.w[o] * x * x
			r.across += pt.w[o] * x * d
			r.along += pt.w[o] * d * d
		}
	}
	r.e = pt.x[c] - r.mean
	r.s = math.Sqrt(1/pt.w[c] + 1/weight)
	return r
}

// outside is the root mean square distance of the others in standard
// deviations, turned to millimetres with a typical spread.
func outside(rests []rest, channels int) float64 {
	if channels < 3 {
		return 0
	}
	sum, s := 0.0, 0.0
	for i := range rests {
		sum += rests[i].apart
		s += rests[i].s
	}
	n := float64(len(rests))
	return math.Sqrt(sum/n/float64(channels-2)) * s / n
}
