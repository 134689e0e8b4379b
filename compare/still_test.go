package compare_test

import (
	"math"
	"testing"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/scenario"
	"bridlewatch/compare/symptom"
)

// A float that hangs is found although the level only wanders by millimetres.
func TestFloatStuckOnQuietLevel(t *testing.T) {
	sheet := baseSheet()
	withVessel(&sheet)
	p := commissioned(t, sheet, 3)
	p.level = func(s float64) float64 { return 500 + 9*math.Sin(2*math.Pi*s/5400) + 4*math.Sin(2*math.Pi*s/2300) }
	p.run(12 * time.Hour)
	if f := p.alerts(); len(f) != 0 {
		t.Fatalf("alert while the float follows: %s", f[0].Sentence)
	}
	p.float = func(_, _ float64) float64 { return 500 }
	p.run(12 * time.Hour)
	f := p.top()
	if f == nil || f.Tier != cause.Alert || f.Symptom != symptom.FloatStill || f.Set[0].Suspect != cause.Float {
		t.Fatalf("after twelve hours: %+v", f)
	}
}

// A chamber that somebody drains for a quarter of an hour while the vessel
// moves is a blow-down nobody recorded, also after hours of a level at rest; one
// that stays behind for longer is announced.
func TestBlowDownAfterAQuietLevel(t *testing.T) {
	sheet := baseSheet()
	withVessel(&sheet)
	p := commissioned(t, sheet, 3)
	from := p.now.Sub(p.start).Seconds() + 2*3600
	p.level = func(s float64) float64 { return 300 + math.Min(math.Max(0, s-from)/6, 300) }
	drained := func(s, level float64) float64 {
		if s > from && s < from+840 {
			return -20
		}
		return level
	}
	p.float, p.transmitter = drained, drained
	p.run(8 * time.Hour)
	if f := p.alerts(); len(f) != 0 {
		t.Fatalf("a blow-down is announced: %s", f[0].Sentence)
	}
	drained = func(_, _ float64) float64 { return 590 }
	p.float, p.transmitter = drained, drained
	p.level = wander(3)
	p.run(4 * time.Hour)
	if f := p.top(); f == nil || f.Tier != cause.Alert || f.Suspect != cause.Chamber {
		t.Fatalf("a chamber that stays behind: %+v", f)
	}
}

// While a chamber fills again its instruments are apart for a minute or two:
// they still agree that it is the chamber that stays behind the vessel.
func TestChamberAgreesWhileItFills(t *testing.T) {
	sheet := baseSheet()
	withVessel(&sheet)
	g, err := compare.New(sheet)
	if err != nil {
		t.Fatal(err)
	}
	for minutes, want := range map[uint16]bool{0: true, 1: true, 3: true, 4: false, 30: false} {
		var st compare.State
		st.Gaps[gauge.FloatTransmitter].Plain = minutes
		if got := g.ChamberAgrees(0, &st); got != want {
			t.Errorf("float and transmitter apart for %d min: agree %t", minutes, got)
		}
	}
}

// A temperature that is lost for longer than a minute, or comes back after it,
// makes every density jump; a reading that is missing once does not.
func TestReassumed(t *testing.T) {
	sheet := baseSheet()
	sheet.Temperature = &datasheet.Instrument{Tag: "TT-101"}
	g, err := compare.New(sheet)
	if err != nil {
		t.Fatal(err)
	}
	var st compare.State
	lost := &st.Presence.LostSince[symptom.TemperatureSignal]
	for _, row := range []struct {
		at, lost int64
		want     bool
	}{{1000, 0, false}, {1060, 1050, false}, {1120, 0, false}, {1180, 1130, false}, {1240, 1130, true}, {1420, 1130, true}, {1480, 1130, false},
		{9000, 1130, false}, {9060, 0, true}, {9240, 0, true}, {9300, 0, false}} {
		if *lost = row.lost; g.Reassumed(row.at, &st) != row.want {
			t.Errorf("at %d, lost since %d: want %t", row.at, row.lost, row.want)
		}
	}
}

// Within its play and the dead band of a device that sends only changes a sound
// float moves and its reading does not. Here a level at rest goes up and down by
// millimetres with the temperature of its chamber, and the radar shows it.
func TestDeadBandIsNoStuckFloat(t *testing.T) {
	const which = 86
	trial := scenario.HealthyTrials(scenario.Validate, scenario.Harsh(), which+1, time.Minute)[which]
	unit, err := trial.Unit()
	if err != nil {
		t.Fatal(err)
	}
	g, err := compare.New(*trial.Sheet)
	if err != nil {
		t.Fatal(err)
	}
	var st compare.State
	feed := scenario.NewFeed(unit, trial.Every, trial.Options.Seed)
	for unit.Now().Sub(scenario.Start) < 7*24*time.Hour {
		now, in, err := feed.Next()
		if err != nil {
			t.Fatal(err)
		}
		r := g.Evaluate(now, &in, &st)
		for i := range r.Findings {
			if f := &r.Findings[i]; f.Tier == cause.Alert {
				t.Fatalf("after %v: %s", now.Sub(scenario.Start), f.Sentence)
			}
		}
	}
	size := st.Movement.Sizes[symptom.FloatLevel][symptom.TransmitterLevel]
	if band := st.Exception[symptom.FloatLevel].Band(); band < 2 || size < 4*band {
		t.Errorf("dead band %.1f mm, move of %.1f mm", band, size)
	}
}
