package symptom_test

import (
	"math"
	"testing"

	"bridlewatch/compare/symptom"
)

// Still moves weigh by how seldom the subject missed one before.
func TestFollowOdds(t *testing.T) {
	wave := func(i int) float64 { return 500 + 60*math.Sin(float64(i)/30) }
	run := func(misses bool) (odds []float64) {
		var f symptom.Follow
		rest := 0.0
		for i := range 6000 {
			x := wave(i)
			if i >= 4000 || misses && i%400 > 250 {
				x = rest
			}
			rest = x
			f.Add(int64(1e9+60*i), wave(i), x, 20)
			if i >= 4000 && f.Still > 0 {
				odds = append(odds, f.Odds()/float64(f.Still))
			}
		}
		return odds
	}
	faithful, careless := run(false), run(true)
	if len(faithful) == 0 || len(careless) == 0 {
		t.Fatal("no still moves")
	}
	if faithful[len(faithful)-1] < 3 {
		t.Errorf("a move missed by a subject that never missed one weighs %.1f nats", faithful[len(faithful)-1])
	}
	if careless[len(careless)-1] > 2 {
		t.Errorf("a move missed by a subject that often does weighs %.1f nats", careless[len(careless)-1])
	}
}

// The first move it missed says since when a subject rests, however long ago
// the last move was that it made.
func TestFollowRested(t *testing.T) {
	var f symptom.Follow
	at := int64(1e9)
	run := func(minutes int, witness, subject func(i int) float64) {
		for i := range minutes {
			f.Add(at, witness(i), subject(i), 10)
			at += 60
		}
	}
	level := func(x float64) func(int) float64 { return func(int) float64 { return x } }
	run(60, level(500), level(500))
	run(60, level(512), level(512)) // a move both made
	run(1440, level(514), level(514))
	stopped := at
	run(30, func(i int) float64 { return 514 + float64(i) }, level(514))
	if f.Still == 0 || f.Rested < stopped || f.Rested > stopped+1800 {
		t.Errorf("%d still moves, at rest from %d s after it stopped", f.Still, f.Rested-stopped)
	}
	if f.Start >= stopped {
		t.Errorf("the last move it followed is put %d s after it stopped", f.Start-stopped)
	}
}

// A level that jumps for a reason that is known, and back, makes no moves.
func TestBreakIsNoMove(t *testing.T) {
	for _, breaks := range []bool{false, true} {
		m := symptom.Movement{}
		scale := symptom.Scale{Size: 20, Fine: 6, Top: 1000}
		for i := range int64(600) {
			b := symptom.Block{At: 1e9 + 60*i}
			jumped := i%120 >= 60
			b.Has[symptom.FloatLevel], b.Has[symptom.TransmitterLevel] = true, true
			b.Level[symptom.FloatLevel], b.Level[symptom.TransmitterLevel] = 500, 500
			if jumped {
				b.Level[symptom.TransmitterLevel] = 530
			}
			if breaks && i >= 60 && i%60 < 3 {
				m.Break()
			}
			m.Add(&scale, &b)
		}
		still := m.Follow[symptom.FloatLevel][symptom.TransmitterLevel].Still
		if breaks && still != 0 || !breaks && still < 5 {
			t.Errorf("breaks %t: the float was still in %d moves", breaks, still)
		}
	}
}
