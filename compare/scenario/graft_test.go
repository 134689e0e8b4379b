package scenario_test

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/scenario"
)

// sound are readings of a gauge whose instruments all say the same level, in
// millimetres. A dp reads the pressure of it, as dpShift has it.
func sound(sheet *datasheet.Sheet, at time.Time, level float64) gauge.Snapshot {
	reading := func(v float64) quantity.Reading {
		return quantity.Reading{Value: v, Time: at, Quality: quantity.Good}
	}
	s := gauge.Snapshot{Time: at, Float: reading(level * 1e-3)}
	if sheet.Transmitter != nil {
		s.Transmitter = reading(level * 1e-3)
	}
	for i, p := range sheet.Points {
		s.Points[i] = reading(0)
		if level*1e-3 >= float64(p.Elevation) {
			s.Points[i].Value = 1
		}
	}
	return s
}

func graft(t *testing.T, sheet *datasheet.Sheet, text string) *scenario.Graft {
	t.Helper()
	f, err := scenario.ParseFault(sheet.Tag + ":" + text)
	if err != nil {
		t.Fatal(err)
	}
	g, err := scenario.NewGraft(sheet, f, start, 7)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// Every value is worked out by hand from what the kind says it does.
func TestGraftsDoWhatTheySay(t *testing.T) {
	const minute, tenDays = time.Minute, 240 * time.Hour
	moves := []float64{500, 510, 530, 520, 480, 300}
	drift := 30 * 10 / (365.25 / 12) // 30 mm a month over ten days: 9.856 mm
	rows := []struct {
		fault  string
		every  time.Duration
		levels []float64
		float  []float64 // mm; nil: as sound
		radar  []float64
		within float64 // mm
	}{
		{"float-stuck", minute, moves, []float64{500, 500, 500, 500, 500, 500}, nil, 2},
		{"float-partly-stuck=515mm", minute, moves, []float64{500, 510, 515, 515, 480, 300}, nil, 2},
		{"float-one-way=0.5mm", minute, moves, []float64{500, 510, 530, 529.5, 529, 528.5}, nil, 2},
		{"float-stick-slip=15mm", minute, moves, []float64{500, 500, 530, 530, 480, 300}, nil, 2},
		{"float-sunk", minute, moves, []float64{500, -50, -50, -50, -50, -50}, nil, 2},
		{"float-drags=40%", minute, moves, []float64{500, 504, 512, 508, 492, 420}, nil, 1e-6},
		{"float-heavier=30mm/month", tenDays, moves[:3], []float64{500, 510 - drift, 530 - 2*drift}, nil, 1e-6},
		{"follower-decoupled", minute, moves, []float64{500, 500, 500, 500, 500, 500}, nil, 2},
		{"follower-shifted=-20mm", minute, moves, []float64{480, 490, 510, 500, 460, 280}, nil, 1e-6},
		{"transmitter-zero=15mm", minute, moves, nil, []float64{515, 525, 545, 535, 495, 315}, 0.05},
		{"transmitter-span=4%", minute, moves, nil, []float64{520, 530.4, 551.2, 540.8, 499.2, 312}, 0.2},
		{"transmitter-drift=30mm/month", tenDays, moves[:3], nil, []float64{500, 510 + drift, 530 + 2*drift}, 0.05},
		{"transmitter-frozen", minute, moves, nil, []float64{500, 500, 500, 500, 500, 500}, 1e-9},
		{"transmitter-saturated", minute, moves, nil, []float64{1031.25, 1031.25, 1031.25, 1031.25, 1031.25, 1031.25}, 0.05},
		{"time-skew=150s", minute, moves, nil, []float64{500, 500, 500, 500, 510, 530}, 1e-9},
		{"time-skew/LI-1=150s", minute, moves, []float64{500, 500, 500, 500, 510, 530}, nil, 1e-9},
		{"chamber-isolated", minute, moves, []float64{500, 500, 500, 500, 500, 500}, []float64{500, 500, 500, 500, 500, 500}, 4},
	}
	for _, row := range rows {
		t.Run(row.fault, func(t *testing.T) {
			g := graft(t, glycol(), row.fault)
			for i, level := range row.levels {
				s := sound(glycol(), start.Add(time.Duration(i)*row.every), level)
				g.Apply(&s)
				for name, x := range map[string]struct {
					got  float64
					want []float64
				}{"float": {1e3 * s.Float.Value, row.float}, "radar": {1e3 * s.Transmitter.Value, row.radar}} {
					want := level
					if x.want != nil {
						want = x.want[i]
					}
					if math.Abs(x.got-want) > row.within {
						t.Errorf("reading %d: the %s says %.3f mm, want %.3f", i, name, x.got, want)
					}
				}
			}
		})
	}
}

// A level that rises by 0.02 mm/s is followed 900 s late in the end, by 18 mm,
// by every instrument in the chamber, and each keeps its noise. The switch that
// was made at 750 mm is made when the chamber is there: at 768 mm of the vessel.
func TestGraftOfAPluggedConnection(t *testing.T) {
	sheet := glycol()
	g := graft(t, sheet, "lower-plugged=15m")
	made := 0.0
	for i := range 1500 {
		at := start.Add(time.Duration(i) * 10 * time.Second)
		level := 500 + 0.02*10*float64(i)
		s := sound(sheet, at, level)
		noise := 0.4 * float64(1-2*(i%2))
		s.Transmitter.Value += noise * 1e-3
		g.Apply(&s)
		if s.Points[1].Value == 1 && made == 0 {
			made = level
		}
		if level < 700 {
			continue
		}
		for name, got := range map[string]float64{"float": 1e3 * s.Float.Value, "radar": 1e3*s.Transmitter.Value - noise} {
			if math.Abs(got-(level-18)) > 0.1 {
				t.Fatalf("at %.1f mm the %s says %.2f mm without its noise, want 18 less", level, name, got)
			}
		}
	}
	if math.Abs(made-768) > 0.5 {
		t.Errorf("LSH-1 is made at %.1f mm, want 768", made)
	}
}

// A dp cell gets the pressure of a level: 1052 kg/m3 of liquid, and a little
// gas in the other leg.
func TestGraftsIntoPressure(t *testing.T) {
	const weight = 1052 * quantity.StandardGravity // Pa/m
	rows := map[string]float64{
		"transmitter-zero=100mm": 0.1 * weight,
		"transmitter-span=10%":   0.1 * 0.5 * weight,
		"leg-partly-filled=10%":  -0.1 * weight,
		"density-wrong=-6%":      -0.06 * 0.5 * weight,
	}
	for fault, want := range rows {
		t.Run(fault, func(t *testing.T) {
			sheet := dry()
			s := sound(sheet, start, 500)
			s.Transmitter.Value = 0.5 * weight
			before := s
			graft(t, sheet, fault).Apply(&s)
			if got := s.Transmitter.Value - before.Transmitter.Value; math.Abs(got-want) > 0.03*math.Abs(want) {
				t.Errorf("the reading changed by %.1f Pa, want %.1f", got, want)
			}
		})
	}
}

// A wet leg of 990 kg/m3 and 800 mm that empties keeps steam: at 61 bar 31.4 kg/m3
// (IAPWS-IF97, saturated). The pressure on the leg falls by
// (990-31.4)*9.80665*0.8 = 7520 Pa, the difference grows by as much.
func TestGraftOfAnEmptyLeg(t *testing.T) {
	s := sound(drum(), start, 400)
	s.Transmitter.Value = -4000
	graft(t, drum(), "leg-empty").Apply(&s)
	if got := s.Transmitter.Value + 4000; math.Abs(got-7520) > 40 {
		t.Errorf("the reading changed by %.0f Pa, want 7520", got)
	}
}

// A leg that is plugged at 61.0 bar keeps that: at 61.3 bar the other side has
// 30,000 Pa more, at 60.9 bar 10,000 less. With the two sides swapped the
// difference goes the other way.
func TestGraftOfAPluggedLeg(t *testing.T) {
	swapped := drum()
	swapped.Transmitter.Swapped = true
	for name, x := range map[string]struct {
		sheet *datasheet.Sheet
		sign  float64
	}{"as drawn": {drum(), 1}, "swapped": {swapped, -1}} {
		g := graft(t, x.sheet, "leg-plugged")
		for i, row := range [][2]float64{{61.0e5, 0}, {61.3e5, 30e3}, {60.9e5, -10e3}} {
			s := sound(x.sheet, start.Add(time.Duration(i)*time.Minute), 400)
			s.Transmitter.Value = -4000
			s.Pressure = quantity.Reading{Value: row[0], Time: s.Time, Quality: quantity.Good}
			g.Apply(&s)
			if got, want := s.Transmitter.Value+4000, x.sign*row[1]; math.Abs(got-want) > 1e-6 {
				t.Errorf("%s: at %.1f bar the reading changed by %.3f Pa, want %.0f", name, row[0]/1e5, got, want)
			}
		}
	}
}

// A displacer that rubs stays until the level has left it by more than its dead
// band, then goes to the level: 50 mm are within, 60 mm beyond. Its signal is
// calibrated for 1050 kg/m3 and hangs in 1052, so that what is kept of 60 mm is
// right within 0.3 mm.
func TestGraftOfAStuckDisplacer(t *testing.T) {
	g := graft(t, weighed(), "displacer-stuck=50mm")
	for i, row := range [][2]float64{{500, 500}, {530, 500}, {549, 500}, {560, 560}, {520, 560}, {509, 509}} {
		s := sound(weighed(), start.Add(time.Duration(i)*time.Minute), row[0])
		if g.Apply(&s); math.Abs(1e3*s.Transmitter.Value-row[1]) > 0.3 {
			t.Errorf("at %v mm it says %.2f mm, want %v", row[0], 1e3*s.Transmitter.Value, row[1])
		}
	}
}

// A float of 290 g and 50 mm in a liquid 6 % lighter than 1052 kg/m3 swims
// 290/1052*(1/0.94-1) = 17.6 cm3 deeper: 9.0 mm over its 19.63 cm2.
func TestGraftOfLighterLiquidSinksTheFloat(t *testing.T) {
	s := sound(glycol(), start, 500)
	graft(t, glycol(), "density-wrong=-6%").Apply(&s)
	if got := 1e3*s.Float.Value - 500; math.Abs(got+9.0) > 0.3 {
		t.Errorf("the float reads %.2f mm otherwise, want -9.0", got)
	}
	if got := 1e3 * s.Transmitter.Value; got != 500 {
		t.Errorf("the radar reads %.2f mm; it does not weigh the liquid", got)
	}
}

func TestGraftsOfSwitches(t *testing.T) {
	rows := []struct {
		fault  string
		levels []float64
		want   []float64 // of LSH-1, which trips at 755 rising and 745 falling
	}{
		{"point-failed/LSH-1", []float64{700, 760, 700}, []float64{0, 0, 0}},
		{"point-failed/LSH-1", []float64{760, 700, 760}, []float64{1, 1, 1}},
		{"point-shifted/LSH-1=30mm", []float64{700, 760, 790, 760, 740}, []float64{0, 0, 1, 0, 0}},
		{"point-shifted/LSH-1=-30mm", []float64{700, 730, 760, 730, 710}, []float64{0, 1, 1, 1, 0}},
		{"point-widened/LSH-1=20mm", []float64{700, 760, 770, 740, 734}, []float64{0, 0, 1, 1, 0}},
		{"float-stuck", []float64{700, 760, 800}, []float64{0, 0, 0}},
		{"follower-decoupled", []float64{700, 760, 800}, []float64{0, 1, 1}},
		{"chamber-isolated", []float64{700, 760, 800}, []float64{0, 0, 0}},
		{"lower-plugged=10h", []float64{700, 760}, []float64{0, 0}},
		{"point-failed/LSL-1", []float64{700, 760, 700}, []float64{0, 1, 0}},
	}
	for _, row := range rows {
		g := graft(t, glycol(), row.fault)
		for i, level := range row.levels {
			s := sound(glycol(), start.Add(time.Duration(i)*time.Minute), level)
			g.Apply(&s)
			if got := s.Points[1].Value; got != row.want[i] {
				t.Errorf("%s at %v mm (%d): LSH-1 says %v, want %v", row.fault, level, i, got, row.want[i])
			}
		}
	}
}

func TestGraftKeepsWhatIsNotUsable(t *testing.T) {
	s := sound(glycol(), start, 500)
	s.Transmitter.Quality, s.Transmitter.Reason = quantity.Bad, quantity.NoAnswer
	before := s
	if graft(t, glycol(), "transmitter-zero=50mm").Apply(&s); s != before {
		t.Errorf("a reading that is not usable became %+v", s.Transmitter)
	}
	s = sound(glycol(), start, 500)
	if graft(t, glycol(), "signal-lost").Apply(&s); s.Transmitter.Usable() || !s.Float.Usable() {
		t.Errorf("a lost signal is %+v, the float %+v", s.Transmitter, s.Float)
	}
}

func TestGraftsAreRefusedWithTheRemedy(t *testing.T) {
	blind := bare()
	blind.Float.Follower = datasheet.NoFollower
	rows := []struct {
		sheet *datasheet.Sheet
		fault scenario.Fault
		want  string
	}{
		{glycol(), scenario.Fault{Kind: "rust"}, "the kinds are"},
		{glycol(), scenario.Fault{Kind: scenario.TransmitterZero, Part: "LT-9"}, `no instrument "LT-9"`},
		{glycol(), scenario.Fault{Kind: scenario.DisplacerStuck}, "no displacer"},
		{glycol(), scenario.Fault{Kind: scenario.UpperPlugged}, "rehearse and bench simulate it"},
		{glycol(), scenario.Fault{Kind: scenario.TransmitterNoiseLost}, "what of them is noise"},
		{dry(), scenario.Fault{Kind: scenario.LegPlugged}, "measures no pressure"},
		{blind, scenario.Fault{Kind: scenario.PointShifted}, "reads no level"},
		{bare(), scenario.Fault{Kind: scenario.SignalWild, Part: "LSH-1"}, "no such level instrument"},
	}
	for _, row := range rows {
		row.fault.Gauge = row.sheet.Tag
		_, err := scenario.NewGraft(row.sheet, row.fault, start, 1)
		var refused *scenario.FaultError
		if !errors.As(err, &refused) || !strings.Contains(err.Error(), row.want) {
			t.Errorf("%s at %s: got %v, want a FaultError with %q", row.fault.Kind, row.sheet.Tag, err, row.want)
		}
	}
	u := newUnit(t, glycol(), scenario.Options{})
	if err := u.Inject(scenario.Fault{Gauge: "LG-1", Kind: scenario.FloatDrags}); err == nil || !strings.Contains(err.Error(), "bridlewatch trial") {
		t.Errorf("a simulated gauge took a fault of readings: %v", err)
	}
}

func TestFaultTextIsReadAgain(t *testing.T) {
	for _, text := range []string{"float-stuck", "float-drags/LI-1=40%", "transmitter-zero/LT-1=-15mm", "transmitter-drift=12mm/month", "lower-plugged=15m0s", "point-shifted/LSH-1=12.5mm"} {
		f, err := scenario.ParseFault("LG-1:" + text)
		if err != nil {
			t.Fatal(err)
		}
		if got := f.Text(); got != text {
			t.Errorf("%s is written %s", text, got)
		}
	}
	if _, err := scenario.ParseFault("LG-1:transmitter-zero=15"); err == nil {
		t.Error("a size without unit was taken")
	}
}
