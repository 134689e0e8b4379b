package symptom_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"bridlewatch/compare/symptom"
)

// A transmitter that loses its noise is told from a liquid that calms down,
// once, and is quiet again when the noise is back.
func TestCalm(t *testing.T) {
	const day = 86400
	rng := rand.New(rand.NewPCG(7, 7))
	var c symptom.Calm
	at, changes, lost := int64(1e9), 0, false
	run := func(days int, wave func(at int64) float64, share float64) (found int64) {
		for end := at + int64(days)*day; at < end; at += 60 {
			w := wave(at)
			mine, other := share*w*rng.NormFloat64(), 0.5*w*rng.NormFloat64()
			var b symptom.Block
			b.At, b.Level[symptom.FloatLevel] = at, 500
			b.Rough[symptom.TransmitterLevel], b.Roughs[symptom.TransmitterLevel] = mine*mine, 1
			b.Rough[symptom.FloatLevel], b.Roughs[symptom.FloatLevel] = other*other, 1
			c.Add(&b, symptom.TransmitterLevel, symptom.FloatLevel, false)
			if c.Lost != lost {
				lost = c.Lost
				changes++
				if lost {
					found = at
				}
			}
		}
		return found
	}
	boiling := func(at int64) float64 { return 1 + 3*math.Abs(math.Sin(float64(at)/40000)) }
	calm := func(int64) float64 { return 1.1 }
	run(20, boiling, 1)
	run(20, calm, 1)
	if changes != 0 {
		t.Fatal("a calm liquid is taken for a calm transmitter")
	}
	began := at
	found := run(5, boiling, 0.3)
	if hours := float64(found-began) / 3600; !lost || hours < 5.9 || hours > 24 {
		t.Errorf("loss of noise found after %.1f h", hours)
	}
	run(5, boiling, 1)
	if lost || changes != 2 {
		t.Errorf("%d changes, lost %t after the noise came back", changes, lost)
	}
}

// A loss of noise shows where the transmitter is rougher than the level, and
// not where the level is as rough as the reading.
func TestCalmShows(t *testing.T) {
	rows := map[string]struct {
		level, own float64 // mm, standard deviations
		shows      bool
	}{"quiet level": {0.3, 1, true}, "rough level": {3, 1, false}}
	for name, r := range rows {
		t.Run(name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(3, 3))
			var c symptom.Calm
			if _, ok := c.Shows(); ok {
				t.Error("something is known before anything was learned")
			}
			for i := range 20 * 1440 {
				common := r.level * rng.NormFloat64()
				mine := common + r.own*rng.NormFloat64()
				var b symptom.Block
				b.At, b.Level[symptom.FloatLevel] = 1e9+int64(i)*60, 500
				b.Rough[symptom.TransmitterLevel], b.Roughs[symptom.TransmitterLevel] = mine*mine, 1
				b.Rough[symptom.FloatLevel], b.Roughs[symptom.FloatLevel] = common*common, 1
				c.Add(&b, symptom.TransmitterLevel, symptom.FloatLevel, false)
			}
			if shows, ok := c.Shows(); !ok || shows != r.shows {
				t.Errorf("shows %t, known %t", shows, ok)
			}
		})
	}
}
