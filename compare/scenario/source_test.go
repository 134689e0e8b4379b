package scenario

import (
	"math"
	"testing"
)

// First values of SplitMix64 for the seed 1234567, as published by Rosetta
// Code, "Pseudo-random numbers/Splitmix64".
func TestSplitMix64(t *testing.T) {
	s := source{state: 1234567}
	for i, want := range []uint64{6457827717110365317, 3203168211198807973, 9817491932198370423, 4593380528125082431, 16408922859458223821} {
		if got := s.next(); got != want {
			t.Errorf("value %d is %d, want %d", i+1, got, want)
		}
	}
}

func TestNormalHasUnitVariance(t *testing.T) {
	s := newSource(1, streamNoise)
	const n = 200000
	var sum, squares, fourth float64
	for range n {
		x := s.normal()
		sum, squares, fourth = sum+x, squares+x*x, fourth+x*x*x*x
	}
	// Standard errors: mean 1/sqrt(n), variance sqrt(2/n), fourth moment sqrt(96/n).
	if m := sum / n; math.Abs(m) > 4/math.Sqrt(n) {
		t.Errorf("mean %g", m)
	}
	if v := squares / n; math.Abs(v-1) > 4*math.Sqrt(2.0/n) {
		t.Errorf("variance %g", v)
	}
	if k := fourth / n; math.Abs(k-3) > 4*math.Sqrt(96.0/n) {
		t.Errorf("fourth moment %g", k)
	}
}

// The wander must be the same process at any step: unit variance, and the
// correlation exp(-T/tau) over a time T, in one step or in many.
func TestWanderDoesNotDependOnTheStep(t *testing.T) {
	for _, row := range []struct {
		name  string
		dt    float64
		steps int
	}{{"one step of 60 s", 60, 1}, {"six of 10 s", 10, 6}, {"sixty of 1 s", 1, 60}} {
		t.Run(row.name, func(t *testing.T) {
			s := newSource(2, streamProcess)
			w := wander{value: s.normal()}
			const n, tau = 60000, 120.0
			var square, product float64
			for range n {
				before := w.value
				for range row.steps {
					w.step(&s, row.dt, tau)
				}
				square, product = square+w.value*w.value, product+before*w.value
			}
			if v := square / n; math.Abs(v-1) > 0.03 {
				t.Errorf("variance %.3f", v)
			}
			if c, want := product/n, math.Exp(-60/tau); math.Abs(c-want) > 0.03 {
				t.Errorf("correlation %.3f, want %.3f", c, want)
			}
		})
	}
}

// Boyle's law: gas trapped at 1 bar over a column that is pushed up until the
// gas has half its height stands at 2 bar. The level is where the weights
// balance (hand calculation from P1 h1 = P2 h2).
func TestTrappedGas(t *testing.T) {
	const weight = 1000 * 9.80665
	p := standpipe{level: 0}
	s := surroundings{balance: 0, pressure: 1e5, temperature: 300, density: 1000, lag: 1, upperClosed: true, height: 1}
	p.step(100, s)
	if math.Abs(p.level) > 1e-9 {
		t.Fatalf("the level moved to %g m although nothing changed", p.level)
	}
	// 2 bar on the gas and 0.5 m of liquid need the vessel 1 bar and 0.5 m higher.
	s.balance = 0.5 + 1e5/weight
	p.step(1000, s)
	if math.Abs(p.level-0.5) > 1e-9 {
		t.Errorf("the level is %g m, want 0.5", p.level)
	}
	// Small signals: gain rho g/(rho g + P/G) with G = 1 m and P = 1 bar(a) is 0.0893.
	q := standpipe{level: 0}
	s.balance = 0
	q.step(100, s)
	s.balance = 0.01
	q.step(1000, s)
	if gain, want := q.level/0.01, weight/(weight+1e5); math.Abs(gain/want-1) > 0.01 {
		t.Errorf("gain %.4f, want %.4f", gain, want)
	}
}

// A cold chamber stands lower than its vessel until that reaches the upper
// connection: then liquid spills into it, also where the lower one is closed,
// and not where the upper one is.
func TestVesselSpillsIntoTheChamber(t *testing.T) {
	for _, r := range []struct {
		name                     string
		lowerClosed, upperClosed bool
		spill, want              float64
	}{
		{"vessel below the connection", false, false, 0, 0.97},
		{"vessel above it", false, false, 1.01, 1.01},
		{"lower connection closed", true, false, 1.01, 1.01},
		{"lower connection closed, vessel below", true, false, 0, 0.5},
		{"upper connection closed", true, true, 1.01, 0.5},
	} {
		p := standpipe{level: 0.5}
		p.step(3600, surroundings{balance: 0.97, spill: r.spill, pressure: 1e5, temperature: 300, density: 1000, lag: 1,
			lowerClosed: r.lowerClosed, upperClosed: r.upperClosed, height: 1.3})
		if math.Abs(p.level-r.want) > 1e-9 {
			t.Errorf("%s: %.3f m, want %.3f m", r.name, p.level, r.want)
		}
	}
}

func TestHistoryInterpolates(t *testing.T) {
	var h history
	for i := range 200 {
		h.add(float64(i), 2*float64(i))
	}
	for _, late := range []float64{0, 0.5, 1, 7.25, 40} {
		if got, want := h.before(199, late), 2*(199-late); math.Abs(got-want) > 1e-9 {
			t.Errorf("%g s ago the value was %g, want %g", late, got, want)
		}
	}
	if got := h.before(199, 1e6); got != 2*(200-64) {
		t.Errorf("older than the memory gives %g, want the oldest", got)
	}
}
