package scenario

import "math"

// source is a small deterministic random source: SplitMix64 (Steele, Lea,
// Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014). Equal
// seeds give equal sequences on every machine.
type source struct {
	state uint64
	spare float64 // the second normal of the last pair
	ready bool
}

// Streams of one unit. Each has a source of its own, so that injecting a fault
// never changes the healthy process or its noise: runs with and without a
// fault can be compared sample by sample.
const (
	streamCharacter uint64 = iota + 1
	streamProcess
	streamService
	streamNoise
	streamFault
	streamArrival
	streamEvents
	streamFeed
	streamLibrary
	streamRecord
)

func newSource(seed, stream uint64) source {
	s := source{state: seed}
	s.state ^= mix(stream * 0x9e3779b97f4a7c15)
	return source{state: s.next()}
}

func mix(z uint64) uint64 {
	z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9
	z = (z ^ (z >> 27)) * 0x94d049bb133111eb
	return z ^ (z >> 31)
}

func (s *source) next() uint64 {
	s.state += 0x9e3779b97f4a7c15
	return mix(s.state)
}

// uniform returns a value in [0, 1).
func (s *source) uniform() float64 { return float64(s.next()>>11) / (1 << 53) }

// between returns a value in [low, high).
func (s *source) between(low, high float64) float64 { return low + (high-low)*s.uniform() }

// exponential returns an exponential waiting time with the given mean.
func (s *source) exponential(mean float64) float64 { return -mean * math.Log1p(-s.uniform()) }

// chance reports true with probability p.
func (s *source) chance(p float64) bool { return p > 0 && s.uniform() < p }

// normal returns a standard normal value by the polar method (Marsaglia and
// Bray, SIAM Review 6, 1964).
func (s *source) normal() float64 {
	if s.ready {
		s.ready = false
		return s.spare
	}
	for {
		x, y := 2*s.uniform()-1, 2*s.uniform()-1
		q := x*x + y*y
		if q > 0 && q < 1 {
			f := math.Sqrt(-2 * math.Log(q) / q)
			s.spare, s.ready = y*f, true
			return x * f
		}
	}
}

// wander is a stationary Ornstein-Uhlenbeck process of unit standard
// deviation, exact for any step.
type wander struct{ value float64 }

// step advances by dt seconds with the correlation time tau.
func (w *wander) step(s *source, dt, tau float64) float64 {
	if tau <= 0 {
		w.value = s.normal()
		return w.value
	}
	keep := math.Exp(-dt / tau)
	w.value = keep*w.value + math.Sqrt(1-keep*keep)*s.normal()
	return w.value
}
