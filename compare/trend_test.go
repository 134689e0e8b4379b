package compare_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

const days = 24 * time.Hour

// A transmitter that drifts by 12 mm a month is an alert within eighteen days,
// when it is 7 mm off; products that come and go in steps of 2 mm are none.
func TestDriftOfTwelveMillimetresAMonth(t *testing.T) {
	sheet := baseSheet()
	fine(&sheet)
	rows := []struct {
		name  string
		error func(day float64) float64 // mm
		alert bool
	}{
		{"drift", func(day float64) float64 { return 12 * day / 30.4 }, true},
		{"two products", func(day float64) float64 { return 2 * math.Floor(day/6) }, false},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			t.Parallel()
			p := commissioned(t, sheet, 3)
			p.transmitter = func(s, level float64) float64 { return level + r.error(s/86400) }
			p.run(17*days + 23*time.Hour)
			if f := p.alerts(); (len(f) > 0) != r.alert {
				t.Fatalf("%d alerts; drift %+v", len(f), p.st.Drifts[gauge.FloatTransmitter])
			} else if r.alert && f[0].Set == nil && f[0].Suspect == cause.Undecided {
				t.Errorf("nothing is suspected: %s", f[0].Sentence)
			}
		})
	}
}

// A drift that goes on while days are better and worse is one alert, and ends
// some weeks after it stopped.
func TestADriftIsOneAlert(t *testing.T) {
	sheet := baseSheet()
	fine(&sheet)
	p := commissioned(t, sheet, 3)
	rng := rand.New(rand.NewPCG(2, 2))
	weather := make([]float64, 120)
	for i := range weather {
		weather[i] = 1.5 * rng.NormFloat64()
	}
	p.transmitter = func(s, level float64) float64 {
		day := s / 86400
		return level + 7*math.Min(day, 45)/30.4 + weather[int(day)]
	}
	p.run(45 * days)
	ids := map[string]bool{}
	for _, f := range p.alerts() {
		ids[f.ID] = true
	}
	if len(ids) != 1 {
		t.Errorf("%d alerts of one drift", len(ids))
	}
}

// The error of a chamber's thermometer is the same every day: of the share its
// temperature has in a gap a healthy one can change by half, from one end of
// the range to the other (√3 standard uncertainties each way, JCGM 100:2008,
// 4.3.7). While it is lost and its temperature assumed it counts whole, twice.
func TestAMeasuredChamberVariesLess(t *testing.T) {
	const chamber, rest = 1, 2.0 // its place in the parts; mm left of what is constant
	sheet := baseSheet()
	fine(&sheet)
	sheet.ChamberTemperature = &datasheet.Instrument{Tag: "TT-102", U: 6}
	sheet.Fluid = datasheet.Fluid{Name: "oil", Model: datasheet.Coefficient, BaseDensity: 900, BaseTemperature: 300, Expansion: 2e-3, RelativeU: .002}
	p := newPlant(t, sheet, 5)
	p.step = time.Minute
	p.cut = func(_ float64, in *gauge.Snapshot) { in.ChamberTemperature = good(300, in.Time) }
	p.run(15 * days)
	a, base := &p.st.Allow[gauge.FloatTransmitter], &p.st.Base[gauge.FloatTransmitter]
	if learned := base.Parts(); !base.Known || math.Abs(learned[chamber]-a.Parts[chamber]) > 0.01*math.Abs(learned[chamber]) {
		t.Fatalf("parts %v now, %v while learned", a.Parts, learned)
	}
	if math.Abs(a.Parts[chamber]) < 1 {
		t.Fatalf("the chamber's temperature gives %.2f mm: too little to see", a.Parts[chamber])
	}
	varies := func(share float64) float64 {
		sum := rest * rest
		for i, part := range a.Parts {
			if i == chamber {
				part *= share
			}
			sum += 3 * 4 * part * part
		}
		return math.Sqrt(sum)
	}
	if want := varies(0.5); math.Abs(a.Varies-want) > 0.02*want {
		t.Errorf("a healthy gap may change by %.2f mm, want %.2f", a.Varies, want)
	}
	p.cut = func(_ float64, in *gauge.Snapshot) {
		in.ChamberTemperature = quantity.Reading{Quality: quantity.Bad, Reason: quantity.NoAnswer}
	}
	known := a.Varies
	p.run(5 * time.Minute)
	if a.Varies < 1.3*known {
		t.Errorf("without its temperature a gap may change by %.2f mm, with it by %.2f", a.Varies, known)
	}
}

// The interval of a rate holds the rate, whichever way it goes and also where it may
// be none.
func TestIntervalOfADrift(t *testing.T) {
	for _, r := range [][5]float64{{2, 1, 3, 1, 3}, {-2, -3, -1, 1, 3}, {-1.6, -3.8, 2.4, 0, 3.8}, {1.6, -2.4, 3.8, 0, 3.8}} {
		d := compare.Drift{Rate: r[0], Low: r[1], High: r[2]}
		if low, high := d.Between(); low != r[3] || high != r[4] {
			t.Errorf("%v: %.1f to %.1f", r, low, high)
		}
	}
}
