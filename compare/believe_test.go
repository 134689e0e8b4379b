package compare_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
)

// What an open alert blames, or does not rule out, is in doubt; a finding that is
// only watched puts nothing in doubt, a plugged chamber all that hangs on it and a
// wrong density all that is found with it.
func TestDoubted(t *testing.T) {
	sheet := believers()
	for _, r := range []struct {
		name string
		f    cause.Finding
		want [4]bool // float, radar, dp, vessel
	}{
		{"float", named(cause.Float, "LI-101"), [4]bool{true}},
		{"only watched", cause.Finding{Tier: cause.Watch, Suspect: cause.Float, Tag: "LI-101", Set: []cause.Ranked{{Suspect: cause.Float, Tag: "LI-101", Probability: 1}}}, [4]bool{}},
		{"chamber", named(cause.Chamber, "LG-101"), [4]bool{true, true, false, false}},
		{"density", named(cause.Density, "LI-101"), [4]bool{true, false, true, false}},
		{"undecided", among(cause.Ranked{Suspect: cause.Float, Tag: "LI-101", Probability: .97}, cause.Ranked{Suspect: cause.Transmitter, Tag: "LT-101", Probability: .03}), [4]bool{true, true}},
		{"the cause is open", among(cause.Ranked{Cause: cause.Unknown, Suspect: cause.Undecided, Probability: 1}), [4]bool{}},
		{"conditions", named(cause.Service, "LI-101"), [4]bool{}},
		{"hardly another", alsoIn(named(cause.Float, "LI-101"), .03), [4]bool{true}},
		{"perhaps another", alsoIn(named(cause.Float, "LI-101"), .15), [4]bool{true, true}},
	} {
		if got := compare.Doubted(&sheet, []cause.Finding{r.f}); got != r.want {
			t.Errorf("%s: in doubt %v, want %v", r.name, got, r.want)
		}
	}
}

// believers is a gauge with a float and a radar in its chamber, a dp cell and
// another instrument on the vessel.
func believers() datasheet.Sheet {
	s := baseSheet()
	s.OperatingTemp = 350
	cooling := quantity.TemperatureDifference(40)
	s.Chamber.Cooling = &cooling
	s.Fluid.Model, s.Fluid.Expansion = datasheet.Coefficient, 8e-4
	s.Second = &datasheet.Transmitter{Tag: "LT-102", Principle: datasheet.DPDry, Chamber: "vessel", U: .003}
	s.Vessel = &datasheet.Vessel{Tag: "LT-103", Offset: .05, U: .004}
	return s
}

func named(by cause.Suspect, tag string) cause.Finding {
	return cause.Finding{ID: "1", Tier: cause.Alert, Raised: began, Suspect: by, Tag: tag, Set: []cause.Ranked{{Suspect: by, Tag: tag, Probability: 1}}}
}

func among(set ...cause.Ranked) cause.Finding {
	return cause.Finding{ID: "1", Tier: cause.Alert, Raised: began, Suspect: cause.Undecided, Set: set}
}

func alsoIn(f cause.Finding, radar float64) cause.Finding {
	f.Set = append(f.Set, cause.Ranked{Suspect: cause.Transmitter, Tag: "LT-101", Probability: radar})
	return f
}

// The level to believe is that of the first instrument the alert leaves alone, and
// where there is none each says why.
func TestBelieve(t *testing.T) {
	float := named(cause.Float, "LI-101")
	more := float
	more.More = true
	watched := cause.Finding{Tier: cause.Watch, Suspect: cause.Transmitter, Tag: "LT-101", Set: []cause.Ranked{{Suspect: cause.Transmitter, Tag: "LT-101", Probability: 1}}}
	for _, r := range []struct {
		name     string
		findings []cause.Finding
		change   func(*gauge.Snapshot)
		by, why  string // empty: nothing is asked; "none" is no instrument
		without  string
	}{
		{"nothing is wrong", nil, nil, "", "", ""},
		{"another instrument", []cause.Finding{named(cause.Transmitter, "LT-101")}, nil, "", "", ""},
		{"float", []cause.Finding{float}, nil, "radar LT-101", "float LI-101 is blamed by the alert of T", ""},
		{"float or follower", []cause.Finding{among(cause.Ranked{Suspect: cause.Float, Tag: "LI-101", Probability: .5}, cause.Ranked{Suspect: cause.Follower, Tag: "LI-101", Probability: .5})}, nil,
			"radar LT-101", "float LI-101 is blamed by the alert of T", ""},
		{"float or radar", []cause.Finding{among(cause.Ranked{Suspect: cause.Float, Tag: "LI-101", Probability: .5}, cause.Ranked{Suspect: cause.Transmitter, Tag: "LT-101", Probability: .5})}, nil,
			"dp transmitter LT-102", "the alert of T does not rule out that float LI-101 is wrong", ""},
		{"chamber", []cause.Finding{named(cause.Chamber, "LG-101")}, nil, "dp transmitter LT-102", "the chamber is blamed by the alert of T", ""},
		{"density", []cause.Finding{named(cause.Density, "LI-101")}, nil, "radar LT-101", "the density is blamed by the alert of T", ""},
		{"the radar is silent", []cause.Finding{float}, func(in *gauge.Snapshot) {
			in.Transmitter.Quality, in.Transmitter.Reason = quantity.Stale, quantity.TooOld
		}, "dp transmitter LT-102", "float", ""},
		{"the radar is uncertain", []cause.Finding{float}, func(in *gauge.Snapshot) { in.Transmitter.Quality = quantity.Uncertain }, "dp transmitter LT-102", "float", ""},
		{"the radar is watched", []cause.Finding{float, watched}, nil, "dp transmitter LT-102", "float", ""},
		{"two alerts", []cause.Finding{float, named(cause.Transmitter, "LT-101"), named(cause.Transmitter, "LT-102")}, nil, "vessel instrument LT-103", "float", ""},
		{"all in doubt or silent", []cause.Finding{float, named(cause.Transmitter, "LT-101"), watchedOf("LT-102")}, func(in *gauge.Snapshot) {
			in.Vessel.Quality, in.Vessel.Reason = quantity.Bad, quantity.SensorFault
		}, "none", "float", "radar LT-101 is in doubt too, a finding about dp transmitter LT-102 is being watched, vessel instrument LT-103 has no level: " + quantity.SensorFault.String()},
		{"something more", []cause.Finding{more}, nil, "none", "float", "the alert says that something more is wrong"},
		{"anything", []cause.Finding{among(cause.Ranked{Suspect: cause.Float, Tag: "LI-101", Probability: .5}, cause.Ranked{Cause: cause.Unknown, Suspect: cause.Undecided, Probability: .5})}, nil,
			"none", "the alert of T", "the alert leaves open what is wrong"},
		{"isolated", []cause.Finding{float}, func(in *gauge.Snapshot) { in.Isolated = true }, "", "", ""},
	} {
		_, b := believe(t, believers(), r.findings, r.change)
		if b == nil || r.by == "" {
			if b != nil || r.by != "" {
				t.Errorf("%s: %+v", r.name, b)
			}
			continue
		}
		by := b.By
		if by == "" {
			by = "none"
		}
		why := b.Why(func(at time.Time) string { return map[bool]string{true: "T"}[at.Equal(began)] })
		if by != r.by || !strings.HasPrefix(why, r.why) || strings.Join(b.Without, ", ") != r.without {
			t.Errorf("%s: by %s because %s; without %q", r.name, by, why, b.Without)
		}
		if b.By != "" && !b.Level.OK() {
			t.Errorf("%s: %+v", r.name, b.Level)
		}
	}
}

func watchedOf(tag string) cause.Finding {
	f := named(cause.Transmitter, tag)
	f.Tier = cause.Watch
	return f
}

// believe measures one scan and adds findings to what was said of it.
func believe(t *testing.T, sheet datasheet.Sheet, findings []cause.Finding, change func(*gauge.Snapshot)) (*compare.Result, *compare.Belief) {
	t.Helper()
	g, err := compare.New(sheet)
	if err != nil {
		t.Fatal(err)
	}
	in := gauge.Snapshot{Time: began, Float: good(.612, began), Transmitter: good(.430, began), Second: good(865*9.80665*.444, began), Vessel: good(.394, began)}
	if change != nil {
		change(&in)
	}
	var st compare.State
	r := g.Evaluate(began, &in, &st)
	r.Findings = findings
	return &r, g.Believe(&in, &st, &r)
}

// A level of the chamber is taken to the vessel as that of the float is, by the
// weights of both columns; what hangs on the vessel is taken nowhere, and says its
// level also where the colder chamber is at its tap.
func TestTheLevelToBelieveIsThatOfTheVessel(t *testing.T) {
	r, b := believe(t, believers(), []cause.Finding{named(cause.Float, "LI-101")}, nil)
	m := &r.Measurement
	// (1) of package vessel: both columns weigh the same
	radar := float64(m.Transmitter.Value)
	want := (radar*float64(m.Liquid-m.Gas) + float64(m.Gas-m.VesselGas)) / float64(m.VesselLiquid-m.VesselGas)
	if math.Abs(float64(b.Level.Value)-want) > 1e-9 || want < radar+.005 {
		t.Errorf("radar %.4f m in the chamber: %.4f m in the vessel, want %.4f", radar, float64(b.Level.Value), want)
	}
	if u := b.Level.U(); !(u > m.Transmitter.U()/2 && u < 2*m.Transmitter.U()+.01) {
		t.Errorf("uncertainty %v of %v", u, m.Transmitter.U())
	}
	if !m.InVessel.OK() || math.Abs(float64(m.InVessel.Value-b.Level.Value)) < .1 {
		t.Errorf("the level of the float is no longer there: %+v", m.InVessel)
	}

	_, b = believe(t, believers(), []cause.Finding{named(cause.Chamber, "LG-101"), named(cause.Transmitter, "LT-102")}, func(in *gauge.Snapshot) { in.Vessel.Value = .94 })
	if b.By != "vessel instrument LT-103" || math.Abs(float64(b.Level.Value)-.99) > 1e-12 || b.Level.Basis != level.AsReported {
		t.Errorf("%s says %+v, it reads 0.94 m with its zero 50 mm above the tap", b.By, b.Level)
	}

	_, b = believe(t, believers(), []cause.Finding{named(cause.Float, "LI-101")}, func(in *gauge.Snapshot) { in.Transmitter.Value = 1.02 })
	if b.By != "radar LT-101" || b.Level.Bound != level.AboveUpperTap {
		t.Errorf("a sound radar at the upper tap: %s, %s", b.By, b.Level.Bound)
	}
}

// What is not in doubt and reads otherwise is said.
func TestBelieveSaysWhatReadsOtherwise(t *testing.T) {
	for _, off := range []float64{0, .2} {
		_, b := believe(t, believers(), []cause.Finding{named(cause.Float, "LI-101")}, func(in *gauge.Snapshot) { in.Vessel.Value += off })
		if said := strings.Join(b.Apart, ", "); strings.Contains(said, "LT-103") != (off > 0) {
			t.Errorf("the vessel instrument is off by %g m: %q", off, said)
		}
	}
}

// A float that sticks on a watched gauge: the level to believe follows the liquid.
func TestAStuckFloatLeavesTheRadarToBelieve(t *testing.T) {
	p := newPlant(t, baseSheet(), 3)
	p.run(48 * time.Hour)
	rest := p.level(p.now.Sub(p.start).Seconds())
	p.float = func(_, _ float64) float64 { return rest }
	p.run(6 * time.Hour)
	b := p.g.Believe(&p.seen, &p.st, &p.last)
	if b == nil || b.Tag != "LT-101" {
		t.Fatalf("%+v; findings %+v", b, p.last.Findings)
	}
	at := p.level(p.now.Sub(p.start).Seconds())
	if off := b.Level.Value.Millimetres() - at; math.Abs(off) > 10 || math.Abs(rest-at) < 30 {
		t.Errorf("the liquid stands at %.0f mm, the float at %.0f mm, believed are %.0f mm", at, rest, b.Level.Value.Millimetres())
	}
}
