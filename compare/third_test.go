package compare_test

import (
	"math"
	"testing"
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/symptom"
)

// tideWell is a well with three levels on a tide, and what a gap may be stated.
func tideWell(t *testing.T, limit float64) *plant {
	sheet := baseSheet()
	sheet.Points = nil
	sheet.Chamber.CentreToCentre, sheet.Transmitter.ReferencePoint = 5, 7
	sheet.Second = &datasheet.Transmitter{Tag: "LT-103", Principle: datasheet.FloatFollower, Chamber: "secondary", U: .002}
	sheet.Limits.Gap, sheet.Limits.MoveSize = quantity.Length(limit/1e3), .04
	sheet.Budget.LearnBaseline = true
	p := newPlant(t, sheet, 4)
	p.step, p.level = time.Minute, func(s float64) float64 { return 2500 + 600*math.Sin(2*math.Pi*s/44700) }
	p.run(8 * 24 * time.Hour)
	if f := p.alerts(); len(f) != 0 {
		t.Fatalf("alert while all follow: %s", f[0].Sentence)
	}
	return p
}

// Where the user states what a gap may be, one instrument that goes elsewhere
// proves nobody still while a third that could see it does not; two prove it.
func TestOneWitnessAloneProvesNothing(t *testing.T) {
	still := func(p *plant) bool {
		for _, f := range p.alerts() {
			if f.Symptom == symptom.FloatStill {
				return true
			}
		}
		return false
	}
	for _, both := range [...]bool{false, true} {
		p := tideWell(t, 160)
		from := p.now.Sub(p.start).Seconds()
		rest := p.level(from)
		p.level = func(float64) float64 { return rest }
		p.transmitter = func(s, level float64) float64 { // to and fro, slower than any swing
			if h := (s - from) / 3600; h > 8 && math.Mod(h, 1.6) > 0.8 {
				return level + 40
			} else if h > 8 {
				return level - 65
			}
			return level
		}
		p.second = func(s, level float64) float64 { return level - 30*math.Min(1, (s-from)/3600/8) } // the sea falls away slowly
		if both {
			p.second = p.transmitter
		}
		p.run(16 * time.Hour)
		if still(p) != both {
			t.Errorf("two witnesses %t: told %t", both, still(p))
			for _, f := range p.alerts() {
				t.Log(f.Symptom, f.Sentence)
			}
		}
	}
}

// One that leaves a reading which repeats says nothing while another that could
// see it did not go the same way.
func TestOneThatLeavesARepeatedReading(t *testing.T) {
	const subject, witness, third = symptom.TransmitterLevel, symptom.FloatLevel, symptom.SecondLevel
	for _, r := range []struct {
		limit, third float64 // mm
		alone        bool
	}{{160, 0, true}, {160, 60, false}, {160, -60, true}, {0, 0, false}} {
		p := tideWell(t, r.limit)
		st, at := &p.st, p.now.Unix()
		st.Repeat[subject].From, st.Repeat[subject].Seen = [symptom.Channels]float64{witness: 2500, third: 2500}, [symptom.Channels]bool{witness: true, third: true}
		st.Movement.Level[witness], st.Movement.Level[third] = 2560, 2500+r.third
		if got := p.g.LeftAlone(at, st, subject, witness, 60); got != r.alone {
			t.Errorf("limit %.0f mm, the third went %.0f mm: alone %t", r.limit, r.third, got)
		}
	}
}
