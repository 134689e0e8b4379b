package shape

import (
	"math"
	"slices"

	"bridlewatch/compare/symptom"
)

// fitter fits the forms of one channel.
type fitter struct {
	p       *Problem
	points  []point
	rests   []rest
	channel symptom.Channel
	healthy []float64
	scratch []float64
}

// best tries every onset of the grid and every trial parameter of the form.
func (f *fitter) best(form Form) Fit {
	best := Fit{Nats: math.Inf(-1)}
	n := len(f.points)
	if form >= Lagging && f.channel != symptom.VesselLevel {
		return best
	}
	for _, k0 := range f.p.grid(f.points) {
		fit := f.from(form, k0)
		fit.Left = -2 * fit.Nats / (f.p.PerMark * float64((n-k0)*(len(f.p.Channels)-1)))
		fit.Nats += -0.5 * f.healthy[k0] * f.p.PerMark
		if fit.Nats > best.Nats {
			best = fit
			best.Onset = f.points[k0].at
		}
	}
	best.Nats -= price(form) * math.Log(math.Max(2, float64(n)*f.p.PerMark)) / 2
	return best
}

// grid returns the points tried as onsets: the start of the window, the time
// it was found to begin, more and more before that, and two later ones.
func (p *Problem) grid(points []point) []int {
	n := len(points)
	at := n - leastRun
	for i := range points {
		if points[i].at >= p.Onset {
			at = min(i, at)
			break
		}
	}
	var grid []int
	for _, k := range [...]int{0, at / 4, at / 2, at * 5 / 8, at * 3 / 4, at * 7 / 8, at - 1, at, at + (n-at)/3, at + (n-at)*2/3} {
		if k >= 0 && k <= n-leastRun && !slices.Contains(grid, k) {
			grid = append(grid, k)
		}
	}
	return grid
}

// price is the number of parameters of a form, its onset included.
func price(form Form) float64 {
	switch form {
	case Late, Hours, Foam:
		return 1
	case Dead, Free:
		return 1.5
	}
	return 2
}

// from fits a form from point k0 on. The nats are those of the points from k0.
func (f *fitter) from(form Form, k0 int) Fit {
	switch form {
	case Constant:
		return f.linear(k0, func(int) float64 { return 1 })
	case Ramp:
		begin := f.points[k0].at
		return f.linear(k0, func(i int) float64 { return float64(f.points[i].at-begin) / 86400 })
	case Span:
		return f.linear(k0, func(i int) float64 { return f.rests[i].mean / f.p.Top })
	case Late:
		fit := f.linear(k0, func(i int) float64 { return -f.slope(i) })
		if fit.Size < 0 {
			fit.Nats -= 3
		}
		return fit
	case Hours:
		return f.hours(k0)
	case Density:
		return f.density(k0, func(pt *point) [symptom.Channels]float64 { return pt.d })
	case Upper:
		return f.density(k0, f.above)
	case Still, Gone, Dead:
		return f.still(form, k0)
	case Ceiling, Floor:
		return f.clipped(form, k0)
	case HangsUp, HangsDown, Deadband:
		return f.mechanical(form, k0)
	case Lagging:
		return f.lagging(k0)
	case Weak:
		return f.weak(k0)
	case Foam:
		return f.foam(k0)
	}
	return f.free(k0)
}

// slope is the rate of the level by the others, mm/s.
func (f *fitter) slope(i int) float64 {
	a, b := max(0, i-1), min(len(f.points)-1, i+1)
	if f.points[i].after {
		a = i
	}
	if i+1 < len(f.points) && f.points[i+1].after {
		b = i
	}
	dt := f.points[b].at - f.points[a].at
	if dt <= 0 {
		return 0
	}
	return (f.rests[b].mean - f.rests[a].mean) / float64(dt)
}

// linear fits e = size·phi with a density off, in turns, and down-weights
// outliers.
func (f *fitter) linear(k0 int, phi func(i int) float64) Fit {
	size, a := 0.0, 0.0
	for round := range 3 {
		num, den := 0.0, 0.0
		for i := k0; i < len(f.points); i++ {
			r, u := &f.rests[i], phi(i)
			w := 1 / (r.s * r.s)
			if round > 0 {
				if z := math.Abs(r.off(a)-size*u) / r.s; z > 3 {
					w *= 3 / z
				}
			}
			num += w * u * r.off(a)
			den += w * u * u
		}
		if den == 0 {
			break
		}
		size = num / den
		if round < 2 {
			a = f.swung(k0, func(i int) (float64, float64) { return size * phi(i), 0 })
		}
	}
	return f.score(k0, size, func(i int) (float64, float64) { return size * phi(i), 0 })
}

// swung is the density, in standard uncertainties off, that explains most of
// what a prediction leaves.
func (f *fitter) swung(k0 int, predict func(i int) (e, extra float64)) float64 {
	num, den := 0.0, 1/f.p.PerMark
	for i := k0; i < len(f.points); i++ {
		r := &f.rests[i]
		if r.apart > 2*markCap {
			continue
		}
		num += r.across
		den += r.along
		if predict == nil {
			continue
		}
		e, extra := predict(i)
		v := r.s*r.s + extra*extra
		if d := r.e - e; d*d < 2*markCap*v {
			num += d * r.swing / v
			den += r.swing * r.swing / v
		}
	}
	return num / den
}

// score sums up what a prediction of the error leaves; extra is added to the
// standard deviation of the error.
func (f *fitter) score(k0 int, size float64, predict func(i int) (e, extra float64)) Fit {
	a := f.swung(k0, predict)
	nats, sum := 0.0, 0.0
	for i := k0; i < len(f.points); i++ {
		r := &f.rests[i]
		e, extra := predict(i)
		v := r.s*r.s + extra*extra
		d := r.off(a) - e
		nats += -0.5*capped(r.parted(a)+d*d/v) - 0.5*math.Log(v/(r.s*r.s))
		sum += d * d
	}
	return Fit{Nats: nats*f.p.PerMark - 0.5*a*a, Size: size, RMS: math.Sqrt(sum / float64(len(f.points)-k0))}
}

// above is what one standard uncertainty of the upper liquid's density does to
// each channel at the level of a point, mm.
func (f *fitter) above(pt *point) (by [symptom.Channels]float64) {
	for _, c := range f.p.Channels {
		by[c] = f.p.Above[c].At(pt.mean)
	}
	return by
}

// density fits the pattern a wrong density of a liquid makes in all channels at
// once, which disturbs them as of says. The blamed channel plays no part in it.
func (f *fitter) density(k0 int, of func(pt *point) [symptom.Channels]float64) Fit {
	num, den := 0.0, 0.0
	for i := k0; i < len(f.points); i++ {
		f.p.lean(&f.points[i], of(&f.points[i]), &num, &den)
	}
	if den < 1e-9 {
		return Fit{Nats: math.Inf(-1)}
	}
	a, nats, sum := num/den, 0.0, 0.0
	for i := k0; i < len(f.points); i++ {
		pt := &f.points[i]
		by := of(pt)
		dm, q := f.p.direction(pt, by), 0.0
		for _, c := range f.p.Channels {
			d := pt.x[c] - pt.mean - a*(by[c]-dm)
			q += pt.w[c] * d * d
			sum += d * d
		}
		nats -= 0.5 * capped(q)
	}
	return Fit{Nats: nats * f.p.PerMark, Size: a, RMS: math.Sqrt(sum / float64((len(f.points)-k0)*len(f.p.Channels)))}
}

// still fits a reading, or for Dead the chamber, that stands at its median.
func (f *fitter) still(form Form, k0 int) Fit {
	if form == Dead && f.channel != symptom.VesselLevel {
		return Fit{Nats: math.Inf(-1)}
	}
	f.scratch = f.scratch[:0]
	for i := k0; i < len(f.points); i++ {
		f.scratch = append(f.scratch, f.shown(form, i))
	}
	slices.Sort(f.scratch)
	at := f.scratch[len(f.scratch)/2]
	a := f.swung(k0, nil)
	nats, sum := -0.5*a*a/f.p.PerMark, 0.0
	for i := k0; i < len(f.points); i++ {
		r := &f.rests[i]
		d := f.shown(form, i) - at
		nats += -0.5*capped(r.parted(a)+d*d/(stillS*stillS)) - math.Log(stillS/r.s)
		sum += d * d
	}
	fit := Fit{Nats: nats * f.p.PerMark, Size: at, RMS: math.Sqrt(sum / float64(len(f.points)-k0))}
	switch {
	case form == Gone && !f.left(k0, at):
		fit.Nats = math.Inf(-1)
	case form != Gone && !f.moved(k0):
		fit.Nats = f.score(k0, at, func(int) (float64, float64) { return 0, 0 }).Nats // a level that rests shows nothing
	}
	return fit
}

// left reports whether a reading stands away from the level from k0 on.
func (f *fitter) left(k0 int, at float64) bool {
	away := 0
	for i := k0; i < len(f.points); i++ {
		if math.Abs(f.rests[i].mean-at) > movedLeast {
			away++
		}
	}
	return 4*away >= 3*(len(f.points)-k0)
}

// shown is what stands still: the reading, or the chamber's level.
func (f *fitter) shown(form Form, i int) float64 {
	if form == Dead {
		return f.rests[i].mean
	}
	return f.points[i].x[f.channel]
}

// moved reports whether what should have moved the reading did so: the others
// for a reading, the vessel for the chamber.
func (f *fitter) moved(k0 int) bool {
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := k0; i < len(f.points); i++ {
		x := f.rests[i].mean
		if f.channel == symptom.VesselLevel {
			x = math.Max(x, f.points[i].x[f.channel])
		}
		lo, hi = math.Min(lo, x), math.Max(hi, x)
	}
	return hi-lo > movedLeast
}

// clipped fits a reading that cannot pass an elevation: the extreme it
// reached, or a little inside.
func (f *fitter) clipped(form Form, k0 int) Fit {
	sign := 1.0
	if form == Floor {
		sign = -1
	}
	f.scratch = f.scratch[:0]
	for i := k0; i < len(f.points); i++ {
		f.scratch = append(f.scratch, sign*f.points[i].x[f.channel])
	}
	slices.Sort(f.scratch)
	best := Fit{Nats: math.Inf(-1)}
	for _, share := range [...]float64{1, 0.95, 0.85, 0.7} {
		z := f.scratch[int(share*float64(len(f.scratch)-1))]
		fit := f.score(k0, sign*z, func(i int) (float64, float64) {
			if l := sign * f.rests[i].mean; l > z {
				return sign * (z - l), stillS
			}
			return 0, 0
		})
		if fit.Nats > best.Nats {
			best = fit
		}
	}
	if !f.freeBelow(best.Size, sign, k0) {
		best.Nats = math.Inf(-1) // it never was free: it stood still
	}
	return best
}

// freeBelow reports whether the level was on the free side of the elevation
// for a good part and moved there.
func (f *fitter) freeBelow(z, sign float64, k0 int) bool {
	lo, hi, n := math.Inf(1), math.Inf(-1), 0
	for i := k0; i < len(f.points); i++ {
		if l := f.rests[i].mean; sign*l < sign*z-5 {
			lo, hi = math.Min(lo, l), math.Max(hi, l)
			n++
		}
	}
	return n >= leastRun && hi-lo > 20
}

// foam is an even mixture of no error and one anywhere up to foamTop.
func (f *fitter) foam(k0 int) Fit {
	a := f.swung(k0, nil)
	nats := -0.5 * a * a / f.p.PerMark
	for i := k0; i < len(f.points); i++ {
		r := &f.rests[i]
		healthy := 0.5 * math.Exp(-0.5*math.Min(r.e*r.e/(r.s*r.s), 60))
		lifted := 0.5 * r.s * math.Sqrt(2*math.Pi) / foamTop * (cdf(r.e/r.s) - cdf((r.e-foamTop)/r.s))
		q := -2 * math.Log(math.Max(healthy+lifted, 1e-12))
		nats -= 0.5 * capped(r.parted(a)+q)
	}
	return Fit{Nats: nats * f.p.PerMark}
}

func cdf(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

// free tries an irregular error of a few spreads.
func (f *fitter) free(k0 int) Fit {
	best := Fit{Nats: math.Inf(-1)}
	a := f.swung(k0, nil)
	for _, spread := range [...]float64{freeS, 3 * freeS, 8 * freeS} {
		nats := -0.5 * a * a / f.p.PerMark
		for i := k0; i < len(f.points); i++ {
			nats += free(&f.rests[i], a, spread)
		}
		if nats *= f.p.PerMark; nats > best.Nats {
			best = Fit{Nats: nats, Size: spread}
		}
	}
	return best
}
