package cause

import (
	"testing"

	"bridlewatch/compare/symptom"
)

// What a name rests on shows when one line of the ledger is left out: here the
// form of a gap blames the transmitter, and a float that stood still the float.
func TestRankWithoutOneLine(t *testing.T) {
	l := NewLedger([]Hypothesis{
		{Cause: FloatStuck, Suspect: Float, Prior: 1}, {Cause: TransmitterZero, Suspect: Transmitter, Channel: symptom.TransmitterLevel, Prior: 1},
	})
	l.Add(Evidence{Sentence: "still"}, func(h *Hypothesis) float64 { return map[Cause]float64{FloatStuck: 8}[h.Cause] })
	l.Add(Evidence{Sentence: "form"}, func(h *Hypothesis) float64 { return map[Cause]float64{FloatStuck: -15, TransmitterZero: 15}[h.Cause] })
	if i := l.Best(); l.Bank[i].Cause != TransmitterZero || l.Rank()[0].Cause != TransmitterZero {
		t.Errorf("best of all is %s", l.Bank[i].Cause)
	}
	if r := l.RankWithout(1); r[0].Cause != FloatStuck || r[1].Nats != -8 {
		t.Errorf("without the form: %+v", r)
	}
	if len(l.Lines) != 2 || l.Nats[0] != -7 {
		t.Errorf("the ledger itself changed: %+v", l.Nats)
	}
}
