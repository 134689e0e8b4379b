package compare_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

// fourWitnesses is a gauge with everything: float, radar, dp and a level on the
// vessel.
func fourWitnesses() datasheet.Sheet {
	sheet := baseSheet()
	sheet.Second = &datasheet.Transmitter{Tag: "LT-103", Principle: datasheet.FloatFollower, Chamber: "secondary", U: .002}
	sheet.Vessel = &datasheet.Vessel{Tag: "LT-102", U: .002}
	return sheet
}

// Every two of four levels are a pair, and each has its verdict.
func TestEveryTwoLevelsAreAPair(t *testing.T) {
	p := newPlant(t, fourWitnesses(), 1)
	p.run(time.Hour)
	var seen []gauge.Pair
	for _, v := range p.last.Verdicts {
		if v.Point < 0 && v.Outcome == "agree" {
			seen = append(seen, v.Pair)
		}
	}
	for pair := range gauge.Pairs {
		if !slices.Contains(seen, pair) {
			t.Errorf("%v is not compared: %+v", pair, p.last.Verdicts)
		}
	}
}

// With float and first transmitter silent the second one is still held against
// the vessel.
func TestSecondAgainstVessel(t *testing.T) {
	p := newPlant(t, fourWitnesses(), 2)
	const silent, shifted = 6 * 3600, 8 * 3600
	p.cut = func(s float64, in *gauge.Snapshot) {
		if s > silent {
			in.Float.Quality, in.Transmitter.Quality = quantity.Bad, quantity.Bad
		}
	}
	p.second = func(s, l float64) float64 {
		if s > shifted {
			return l + 80
		}
		return l
	}
	p.run(20 * time.Hour)
	f := p.top()
	for i := range p.last.Findings {
		if p.last.Findings[i].Symptom != "no-reading" {
			f = &p.last.Findings[i]
			break
		}
	}
	if f == nil || f.Tier != cause.Alert || !slices.ContainsFunc(f.Set, func(r cause.Ranked) bool { return r.Tag == "LT-103" }) {
		t.Fatalf("got %+v", f)
	}
	for _, r := range f.Set {
		if r.Tag == "LI-101" || r.Tag == "LT-101" {
			t.Errorf("%s of %s is silent and still suspected: %s", r.Cause, r.Tag, f.Sentence)
		}
	}
}

// A third kind of level tells the density from float and transmitter; what is
// left are chamber and vessel instrument, which only a look tells apart.
func TestFourWitnessesAreBlindToLittle(t *testing.T) {
	sheet := fourWitnesses()
	sheet.Second.Principle, sheet.Second.Chamber = datasheet.DPDry, "same"
	p := newPlant(t, sheet, 1)
	var apart []string
	for _, b := range p.g.Blind(p.now, &p.st) {
		if strings.HasPrefix(b.ID, "apart-") || strings.HasPrefix(b.ID, "unseen-") {
			apart = append(apart, b.ID)
		}
	}
	if !slices.Equal(apart, []string{"apart-chamber-lt-102"}) {
		t.Errorf("%v", apart)
	}
	// Two instruments on one secondary chamber see its connections once.
	sheet.Transmitter.Chamber, sheet.Second.Chamber = "secondary", "secondary"
	sheet.Vessel, sheet.Points = nil, nil
	p = newPlant(t, sheet, 1)
	for _, b := range p.g.Blind(p.now, &p.st) {
		if strings.Contains(b.ID, "second-chamber") {
			return
		}
	}
	t.Error("a plugged connection of the secondary chamber goes unmentioned")
}

// A second transmitter that swings by itself, by less than the user allows, while
// float and radar stand together, proves nothing against them.
func TestMovingAloneProvesNothing(t *testing.T) {
	sheet := baseSheet()
	sheet.Second = &datasheet.Transmitter{Tag: "LT-103", Principle: datasheet.FloatFollower, Chamber: "secondary", U: .004}
	sheet.Limits.Gap = .15 // the user knows that it swings
	p := newPlant(t, sheet, 3)
	const quiet = 6 * 86400
	moving := p.level
	p.level = func(s float64) float64 {
		if s > quiet {
			return 500
		}
		return moving(s)
	}
	p.second = func(s, l float64) float64 {
		if s > quiet {
			return l + 60*math.Sin(2*math.Pi*(s-quiet)/3600)
		}
		return l
	}
	p.run(7 * 24 * time.Hour)
	for _, f := range slices.Concat(p.opened, p.upgraded) {
		if f.Tier == cause.Alert {
			t.Errorf("%s of %q: %s", f.Cause, f.Tag, f.Sentence)
		}
	}
}
