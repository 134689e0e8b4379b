package compare_test

import (
	"math"
	"testing"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/symptom"
)

// What a gap may be does not shrink because a reading is missing, and grows
// while the temperature its densities are computed with is only assumed.
func TestAllowanceWithoutReadings(t *testing.T) {
	sheet := baseSheet()
	fine(&sheet)
	sheet.Temperature = &datasheet.Instrument{Tag: "TT-101", U: 0.5}
	sheet.Fluid = datasheet.Fluid{Name: "oil", Model: datasheet.Coefficient, BaseDensity: 900, BaseTemperature: 300, Expansion: 9e-4, RelativeU: .002}
	p := commissioned(t, sheet, 5)
	whole := p.st.Allow[gauge.FloatTransmitter]
	if whole.Varies <= 2 || whole.Budget <= 0 {
		t.Fatalf("allowance %+v", whole)
	}
	lost := quantity.Reading{Quality: quantity.Bad, Reason: quantity.NoAnswer}
	p.cut = func(_ float64, in *gauge.Snapshot) { in.Float = lost }
	p.run(5 * time.Minute)
	if a := p.st.Allow[gauge.FloatTransmitter]; a.Budget != whole.Budget || a.Varies != whole.Varies {
		t.Errorf("without the float the allowance is %+v, was %+v", a, whole)
	}
	p.cut = func(_ float64, in *gauge.Snapshot) { in.Temperature = lost }
	p.run(5 * time.Minute)
	if a := p.st.Allow[gauge.FloatTransmitter]; a.Varies < 1.3*whole.Varies {
		t.Errorf("without the temperature a gap may vary by %.1f mm, with it by %.1f mm", a.Varies, whole.Varies)
	}
	p.cut = nil
	p.run(5 * time.Minute)
	if a := p.st.Allow[gauge.FloatTransmitter]; a.Varies > 1.1*whole.Varies {
		t.Errorf("with the temperature back a gap may vary by %.1f mm, before by %.1f mm", a.Varies, whole.Varies)
	}
}

// A verdict is that of one scan: readings half a minute apart on a level that
// moves by half a millimetre a second differ by centimetres and still agree. The
// detectors price the same by the minute, so their allowance stays as it was.
func TestVerdictWithReadingsOfUnequalTime(t *testing.T) {
	const late = 30 * time.Second
	sheet := baseSheet()
	p := newPlant(t, sheet, 1)
	p.level = func(s float64) float64 { return 500 + 350*math.Sin(2*math.Pi*s/3600) } // up to 0.6 mm/s
	p.transmitter = func(s, _ float64) float64 { return p.level(s - late.Seconds()) }
	p.cut = func(_ float64, in *gauge.Snapshot) { in.Transmitter.Time = in.Time.Add(-late) }
	agreed, wide, scans := 0, 0, 0
	for p.run(10 * time.Minute); scans < 180; scans++ {
		p.run(p.step)
		gap := p.last.Measurement.Gaps[gauge.FloatTransmitter]
		if p.last.Verdicts[0].Outcome == compare.Agree {
			agreed++
		}
		if gap.Budget > 15*quantity.Millimetre {
			wide++
		}
		if together := p.st.Allow[gauge.FloatTransmitter].Budget; together > 6.5 || together < 4 {
			t.Fatalf("the detectors allow %.1f mm at %v", together, p.now)
		}
	}
	if agreed < scans*95/100 || wide < scans/2 {
		t.Errorf("of %d scans %d agreed, %d with a budget that counts the 30 s", scans, agreed, wide)
	}

	// One echo has no rate: the budget stays what it was.
	p = newPlant(t, sheet, 1)
	p.level = func(float64) float64 { return 500 }
	p.cut = func(_ float64, in *gauge.Snapshot) { in.Transmitter.Time = in.Time.Add(-late) }
	p.run(10 * time.Minute)
	calm := p.last.Measurement.Gaps[gauge.FloatTransmitter].Budget
	p.transmitter = func(_, level float64) float64 { return level + 300 }
	p.run(p.step)
	p.transmitter = nil
	for range 15 {
		p.run(p.step)
		if b := p.last.Measurement.Gaps[gauge.FloatTransmitter].Budget; b > calm+quantity.Millimetre {
			t.Fatalf("an echo widens the budget from %.1f to %.1f mm", calm.Millimetres(), b.Millimetres())
		}
	}
}

// Inputs at the ends of their ranges beside what is usual may take a gap past two
// standard uncertainties, on the side of what is usual first (rectangular ranges
// of √3 standard uncertainties: JCGM 100:2008, 4.3.7).
func TestBudgetReachesTheEndsOfRanges(t *testing.T) {
	for _, r := range []struct {
		name                string
		budget, usual       float64
		parts               symptom.Varying
		half, middle, close float64
	}{
		{"density and temperature beside a bias below", 18.9, -5.1, symptom.Varying{7.8, -4.1, -.17, -.68}, 19.66, -.76, .01},
		{"the same above", 18.9, 5.1, symptom.Varying{7.8, -4.1, -.17, -.68}, 19.66, .76, .01},
		{"what is constant has most of the budget", 18.9, -5.1, symptom.Varying{2, 1}, 18.9, 0, 0},
		{"nothing varies", 6, 2, symptom.Varying{}, 6, 0, 0},
	} {
		half, middle := compare.WithRange(r.budget, r.usual, &r.parts)
		if math.Abs(half-r.half) > r.close || math.Abs(middle-r.middle) > r.close {
			t.Errorf("%s: %.2f around %.2f mm, want %.2f around %.2f mm", r.name, half, middle, r.half, r.middle)
		}
	}
}

// A product that stays at an end of its range meets the warmest hours of every
// day. Worked by hand: 13.4 mm of which 5.1 and 0.44 mm are densities and 2.6 mm
// the chamber's temperature leave √(13.4² - 4·32.96) = 6.91 mm for what is
// constant, and the ends √3·(5.119 + 2.6) = 13.37 mm, together 15.05 mm.
func TestProductAndDayTogether(t *testing.T) {
	for _, r := range []struct {
		name   string
		budget float64
		parts  symptom.Varying
		want   float64
	}{
		{"dry leg in the sun", 13.4, symptom.Varying{5.1, -2.6, 0, -.44}, 15.05},
		{"what is constant has most of the budget", 5.5, symptom.Varying{1}, 5.5},
		{"nothing is constant", 4, symptom.Varying{2, 1}, 3 * math.Sqrt(3)},
		{"nothing varies", 6, symptom.Varying{}, 6},
	} {
		if got := compare.AtOnce(r.budget, &r.parts); math.Abs(got-r.want) > .01 {
			t.Errorf("%s: %.2f mm, want %.2f mm", r.name, got, r.want)
		}
	}
}

// A transmitter that reads a little high says "above the upper tap" before the
// level is there. Its uncertainty is still that of a level just below.
func TestTransmitterAtTheTapIsNoGap(t *testing.T) {
	sheet := baseSheet()
	fine(&sheet)
	sheet.Transmitter.U = .012
	p := newPlant(t, sheet, 5)
	p.level = func(s float64) float64 { return 500 + 490*math.Sin(2*math.Pi*s/14400) } // to 990 of 1 000 mm
	p.transmitter = func(_, l float64) float64 { return 1.02 * l }
	beyond := 0
	for range 24 * 60 {
		p.run(time.Minute)
		if m := &p.last.Measurement; m.Transmitter.Bound == level.AboveUpperTap && m.Float.OK() {
			beyond++
		}
		for _, f := range p.last.Findings {
			t.Fatalf("after %v: %s %s: %s", p.now.Sub(p.start), f.Tier, f.Symptom, f.Sentence)
		}
	}
	if beyond < 20 {
		t.Errorf("the transmitter was beyond the tap for %d minutes, too few to show anything", beyond)
	}
}
