package shape_test

import (
	"math"
	"testing"

	"bridlewatch/compare/shape"
	"bridlewatch/compare/symptom"
)

// tide is a semidiurnal tide, which has no form of its own within hours.
func tide(at float64) float64 {
	return 2500 + 600*math.Sin(2*math.Pi*at/44700) + 90*math.Sin(2*math.Pi*at/86000)
}

// Only what moves with another at another time is off by that time: nothing
// that stands, rests at a turn, is shifted, damped or a few minutes late.
func TestElsewhen(tt *testing.T) {
	rows := map[string]struct {
		shows func(at float64) float64
		late  int64
	}{
		"an hour late":       {func(at float64) float64 { return tide(at - 3600) }, 3600},
		"an hour early":      {func(at float64) float64 { return tide(at + 3600) }, -3600},
		"late and elsewhere": {func(at float64) float64 { return tide(at-7200) + 300 }, 7200},
		"sound":              {tide, 0},
		"shifted":            {func(at float64) float64 { return tide(at) + 500 }, 0},
		"stands":             {func(float64) float64 { return 2500 }, 0},
		"under a ceiling":    {func(at float64) float64 { return math.Min(tide(at), 2600) }, 0},
		"span":               {func(at float64) float64 { return 1.3 * tide(at) }, 0},
		"falls slowly":       {func(at float64) float64 { return 3100 - at/120 }, 0},
		"minutes late":       {func(at float64) float64 { return tide(at - 400) }, 0},
	}
	for name, row := range rows {
		tt.Run(name, func(tt *testing.T) {
			for _, from := range []float64{0, 10000, 20000, 30000} {
				p := problem(30, func(at float64) [symptom.Channels]float64 {
					return [4]float64{row.shows(at + from), tide(at + from), math.NaN(), math.NaN()}
				})
				if c := shape.Elsewhen(p.Marks, p.Step, f, t); c.Late != row.late {
					tt.Errorf("from %.0f s: %d s late, want %d; apart %.1f mm now, %.1f mm then", from, c.Late, row.late, c.Now, c.Then)
				}
			}
		})
	}
}

// In marks hours apart no hour shows.
func TestHoursNeedShortMarks(tt *testing.T) {
	p := problem(60, func(at float64) [symptom.Channels]float64 {
		return [4]float64{tide(at - 3600), tide(at), tide(at), math.NaN()}
	})
	late := p.SolveFor(f, shape.Hours).Fits[f][shape.Hours]
	if late.Size != 3600 || late.Nats < p.Healthy()+3 {
		tt.Errorf("%.0f s, %.1f nats; healthy %.1f", late.Size, late.Nats, p.Healthy())
	}
	p.Step = 4 * 3600
	if late := p.SolveFor(f, shape.Hours).Fits[f][shape.Hours]; !math.IsInf(late.Nats, -1) {
		tt.Errorf("%.1f nats of marks four hours apart", late.Nats)
	}
}
