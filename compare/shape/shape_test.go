package shape_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"bridlewatch/compare/shape"
	"bridlewatch/compare/symptom"
)

const (
	f = symptom.FloatLevel
	t = symptom.TransmitterLevel
	s = symptom.SecondLevel
	v = symptom.VesselLevel
)

// problem makes n ten-minute marks of the levels a function of the time in
// seconds gives; NaN leaves a channel out.
func problem(n int, levels func(t float64) [symptom.Channels]float64) *shape.Problem {
	rng := rand.New(rand.NewPCG(1, 9))
	p := &shape.Problem{Top: 1000, PerMark: 1.0 / 6, Step: 600, Onset: 1e9 + int64(n)*300}
	first := levels(0)
	for c := range symptom.Channels {
		if !math.IsNaN(first[c]) {
			p.Channels = append(p.Channels, c)
			p.Sigma[c] = 2.5
		}
	}
	for i := range n {
		at := float64(i) * 600
		m := symptom.Mark{At: 1e9 + int64(at), Ratio: float32(math.NaN()), Density: [symptom.Channels]float32{1, 0, 0, 0}}
		for c, x := range levels(at) {
			m.Level[c] = float32(x + 1.2*rng.NormFloat64())
		}
		m.Rate = float32((levels(at + 300)[p.Channels[0]] - levels(at - 300)[p.Channels[0]]) / 600)
		p.Marks = append(p.Marks, m)
	}
	return p
}

func level(at float64) float64 { return 500 + 150*math.Sin(at/9000) + 40*math.Sin(at/2500) }

// Each form of error is recognised among all others when three instruments
// can be compared; the fault begins in the middle of 48 hours.
func TestFormsAreRecognised(tt *testing.T) {
	const onset = 24 * 3600
	after := func(at, bad, good float64) float64 {
		if at > onset {
			return bad
		}
		return good
	}
	nan := math.NaN()
	at0 := level(onset)
	rows := []struct {
		name    string
		levels  func(at, l float64) [symptom.Channels]float64
		channel symptom.Channel
		form    shape.Form
	}{
		{"transmitter zero", func(at, l float64) [symptom.Channels]float64 { return [4]float64{l, after(at, l+15, l), nan, l} }, t, shape.Constant},
		{"transmitter drift", func(at, l float64) [symptom.Channels]float64 {
			return [4]float64{l, after(at, l+(at-onset)/3600, l), nan, l}
		}, t, shape.Ramp},
		{"transmitter span", func(at, l float64) [symptom.Channels]float64 { return [4]float64{l, after(at, 1.04*l, l), nan, l} }, t, shape.Span},
		{"transmitter frozen", func(at, l float64) [symptom.Channels]float64 { return [4]float64{l, after(at, at0, l), nan, l} }, t, shape.Still},
		{"float stuck", func(at, l float64) [symptom.Channels]float64 { return [4]float64{after(at, at0, l), l, nan, l} }, f, shape.Still},
		{"float under a ceiling", func(at, l float64) [symptom.Channels]float64 {
			return [4]float64{after(at, math.Min(l, 560), l), l, nan, l}
		}, f, shape.Ceiling},
		{"transmitter over a floor", func(at, l float64) [symptom.Channels]float64 {
			return [4]float64{l, after(at, math.Max(l, 470), l), nan, l}
		}, t, shape.Floor},
		{"transmitter late", func(at, l float64) [symptom.Channels]float64 {
			return [4]float64{l, after(at, level(at-300), l), nan, l}
		}, t, shape.Late},
		{"clock an hour off", func(at, l float64) [symptom.Channels]float64 {
			return [4]float64{after(at, level(at-3600), l), l, nan, l}
		}, f, shape.Hours},
		{"clock an hour early", func(at, l float64) [symptom.Channels]float64 {
			return [4]float64{l, after(at, level(at+3600), l), nan, l}
		}, t, shape.Hours},
		{"wrong density", func(at, l float64) [symptom.Channels]float64 { return [4]float64{after(at, l-14, l), l, nan, l} }, f, shape.Density},
		{"chamber dead", func(at, l float64) [symptom.Channels]float64 {
			c := after(at, at0, l)
			return [4]float64{c, c, nan, l}
		}, v, shape.Dead},
		{"chamber by a second transmitter", func(at, l float64) [symptom.Channels]float64 {
			return [4]float64{l, after(at, l-25, l), l, nan}
		}, t, shape.Constant},
	}
	for _, r := range rows {
		tt.Run(r.name, func(tt *testing.T) {
			p := problem(288, func(at float64) [symptom.Channels]float64 { return r.levels(at, level(at)) })
			sol := p.Solve()
			want := sol.Fits[r.channel][r.form].Nats
			for c := range symptom.Channels {
				for form := range shape.Forms {
					fit := sol.Fits[c][form]
					if (c != r.channel || form != r.form) && fit.Nats > want+0.01 && !(r.form == shape.Density && form == shape.Constant) {
						tt.Errorf("%v %v scores %.1f, the true %v %v only %.1f", c, form, fit.Nats, r.channel, r.form, want)
					}
				}
			}
			if want < sol.Healthy+3 || want < sol.Unknown+3 {
				tt.Errorf("true form %.1f nats, healthy %.1f, unknown %.1f", want, sol.Healthy, sol.Unknown)
			}
		})
	}
}

// Two instruments alone cannot be told apart by a constant.
func TestTwoInstrumentsAreSymmetric(tt *testing.T) {
	p := problem(60, func(at float64) [symptom.Channels]float64 {
		return [4]float64{level(at) + 20, level(at), math.NaN(), math.NaN()}
	})
	sol := p.Solve()
	if a, b := sol.Fits[f][shape.Constant].Nats, sol.Fits[t][shape.Constant].Nats; math.Abs(a-b) > 1e-6 {
		tt.Errorf("float %.6f, transmitter %.6f", a, b)
	}
}

// A real upset that all instruments see is no error of any of them.
func TestUpsetSeenByAllIsHealthy(tt *testing.T) {
	p := problem(60, func(at float64) [symptom.Channels]float64 {
		l := level(at)
		if at > 5*3600 {
			l -= 200
		}
		return [4]float64{l, l, math.NaN(), l}
	})
	sol := p.Solve()
	for c := range symptom.Channels {
		for form := range shape.Forms {
			if fit := sol.Fits[c][form]; fit.Nats > sol.Healthy+0.5 {
				tt.Errorf("%v %v scores %.2f above healthy %.2f", c, form, fit.Nats, sol.Healthy)
			}
		}
	}
}
