package symptom_test

import (
	"math"
	"math/rand/v2"
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
			f.Add(int64(1e9+60*i), wave(i), x, symptom.Sight{Size: 20})
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
			f.Add(at, witness(i), subject(i), symptom.Sight{Size: 10})
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

// A subject whose source is slow follows a swinging level a little later: at the
// turns it goes the other way for a whole move, and stands still in none.
func TestSwingingLaterIsNoStandingStill(t *testing.T) {
	for _, stuck := range []bool{false, true} {
		var m symptom.Movement
		scale := symptom.Scale{Size: 40, Fine: 6}
		most := uint16(0)
		for i := range int64(3000) {
			swing := func(minute float64) float64 { return 2000 + 50*math.Sin(2*math.Pi*minute/30) }
			b := symptom.Block{At: 1e9 + 60*i}
			b.Has[symptom.FloatLevel], b.Has[symptom.TransmitterLevel] = true, true
			b.Level[symptom.TransmitterLevel] = swing(float64(i))
			b.Level[symptom.FloatLevel] = swing(float64(i - i%6 - 4)) // sampled every six minutes, four late
			if stuck && i >= 1500 {
				b.Level[symptom.FloatLevel] = swing(1500)
			}
			m.Add(&scale, &b)
			if f := &m.Follow[symptom.FloatLevel][symptom.TransmitterLevel]; i < 1500 || stuck {
				most = max(most, f.Still)
			}
		}
		if !stuck && most > 1 || stuck && most < 20 {
			t.Errorf("stuck %t: still in %d moves in a row", stuck, most)
		}
	}
}

// A reading that grows noisy makes no moves, whatever it goes to and fro. The
// same to and fro of a level that stays for a while are moves.
func TestNoiseMakesNoMoves(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	run := func(level func(i int64) float64) uint16 {
		var m symptom.Movement
		scale := symptom.Scale{Size: 20, Fine: 6}
		most := uint16(0)
		for i := range int64(1200) {
			b := symptom.Block{At: 1e9 + 60*i}
			b.Has[symptom.FloatLevel], b.Has[symptom.TransmitterLevel] = true, true
			b.Level[symptom.FloatLevel] = 500
			b.Level[symptom.TransmitterLevel] = level(i)
			m.Add(&scale, &b)
			if i > 60 {
				most = max(most, m.Follow[symptom.FloatLevel][symptom.TransmitterLevel].Still)
			}
		}
		return most
	}
	noise := 0.0
	if n := run(func(i int64) float64 {
		if i%2 == 0 { // a value every two minutes
			noise = 25 * rng.NormFloat64()
		}
		return 500 + noise
	}); n > 40 {
		t.Errorf("%d moves in a row by noise of 25 mm in twenty hours", n)
	}
	if n := run(func(i int64) float64 { return 500 + 25*math.Sin(float64(i)/8) }); n < 40 {
		t.Errorf("%d moves in a row of a level that swings by 50 mm every 50 minutes", n)
	}
}

// A level that jumps for a reason that is known, and back, makes no moves.
func TestBreakIsNoMove(t *testing.T) {
	for _, breaks := range []bool{false, true} {
		m := symptom.Movement{}
		scale := symptom.Scale{Size: 20, Fine: 6}
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

// A wild echo that is held for some minutes and gone before the move is judged
// is neither one move nor two; a witness that stays where it went has moved.
func TestEchoTakenBackIsNoMove(t *testing.T) {
	for _, row := range []struct {
		name  string
		held  int // minutes
		still uint16
	}{{"echo", 2, 0}, {"level", 60, 1}} {
		var f symptom.Follow
		for i := range 120 {
			x := 500.0
			if i >= 30 && i < 30+row.held {
				x = 436
			}
			f.Add(int64(1e9+60*i), x, 500, symptom.Sight{Size: 20})
			if i == 60 && (f.Still != row.still || f.Under > 1 != (row.still > 0)) {
				t.Errorf("%s: %d still moves, want %d; %.0f mm below", row.name, f.Still, row.still, f.Under)
			}
		}
	}
}

// A float in a well damps the swings of the open water and comes later: it stays
// behind in every one of them and stands still in none. One that is stuck while
// the same water rises stays behind for good.
func TestDampedSwingIsNoStandingStill(t *testing.T) {
	for _, row := range []struct {
		name        string
		rise        float64 // mm a minute
		tide        float64 // mm, half its range
		stuck       bool
		least, most uint16
	}{
		{"damped", 0, 0, false, 0, 2},
		{"stuck on a rising tide", 2, 0, true, 8, 1000},
		{"dragged a little by a tide that comes and goes", 0, 700, true, 100, 1000},
	} {
		var m symptom.Movement
		scale := symptom.Scale{Size: 40, Fine: 6}
		subject, most := 2000.0, uint16(0)
		for i := range int64(2000) {
			x := 2000 + row.rise*float64(i) + row.tide*math.Sin(2*math.Pi*float64(i)/745)
			if row.tide == 0 {
				x += 75 * math.Sin(2*math.Pi*float64(i)/12)
			}
			subject += (x - subject) * -math.Expm1(-1.0/6)
			if row.stuck {
				subject = 2000 + 3*math.Sin(float64(i)/7) + 0.15*row.tide*math.Sin(2*math.Pi*float64(i)/745)
			}
			b := symptom.Block{At: 1e9 + 60*i}
			b.Has[symptom.FloatLevel], b.Has[symptom.TransmitterLevel] = true, true
			b.Level[symptom.FloatLevel], b.Level[symptom.TransmitterLevel] = subject, x
			m.Add(&scale, &b)
			if i > 60 {
				most = max(most, m.Follow[symptom.FloatLevel][symptom.TransmitterLevel].Still)
			}
		}
		if most < row.least || most > row.most {
			t.Errorf("%s: still in %d moves in a row, want %d to %d", row.name, most, row.least, row.most)
		}
	}
}

// Readings six minutes apart show nothing of a level that swings there and back
// in eight: they may all be the same.
func TestSwingFasterThanReadingsProvesNothing(t *testing.T) {
	for _, every := range []float64{60, 360} {
		f := symptom.Follow{}
		for i := range 600 {
			f.Add(int64(1e9+60*i), 2000+60*math.Sin(2*math.Pi*float64(i)/8), 2000, symptom.Sight{Size: 40, Every: every})
		}
		if slow := every > 120; slow && f.Still > 2 || !slow && f.Still < 50 {
			t.Errorf("a reading every %.0f s: still in %d moves in a row", every, f.Still)
		}
	}
}

// Noise that lasts makes next to no moves, and one wild burst does not hide the
// moves of the hours behind it.
func TestLastingNoiseAndWildBurst(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	run := func(level func(i int64) float64) (moves int) {
		var m symptom.Movement
		scale := symptom.Scale{Size: 40, Fine: 6}
		for i := range int64(2 * 1440) {
			b := symptom.Block{At: 1e9 + 60*i}
			b.Has[symptom.FloatLevel], b.Has[symptom.TransmitterLevel] = true, true
			b.Level[symptom.FloatLevel], b.Level[symptom.TransmitterLevel] = 500, level(i)
			m.Add(&scale, &b)
			if i > 120 {
				moves += len(m.Moves())
			}
		}
		return moves / 2
	}
	if n := run(func(int64) float64 { return 500 + 60*rng.NormFloat64() }); n > 10 {
		t.Errorf("%d moves a day by noise of 60 mm", n)
	}
	if n := run(func(i int64) float64 {
		if i >= 300 && i < 310 {
			return 3000 * float64(i%4/2)
		}
		return 500 + 100*math.Sin(float64(i)/60)
	}); n < 20 {
		t.Errorf("%d moves a day of a tide behind a wild burst", n)
	}
}
