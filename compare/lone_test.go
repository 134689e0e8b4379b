package compare_test

import (
	"testing"
	"time"

	"bridlewatch/compare/cause"
)

// With nothing but float and switches, one float works several switches: a
// switch that fails contradicts its neighbours, a follower that is lost
// contradicts them all, and one switch alone leaves both open.
func TestFloatAndPointsOnly(t *testing.T) {
	const onset = 30 * 3600.0
	type row struct {
		name    string
		liquid  bool
		set     func(p *plant)
		run     time.Duration
		cause   cause.Cause
		suspect cause.Suspect
		covers  []cause.Cause
	}
	held := wander(1)(onset)
	hold := func(s, l float64) float64 {
		if s > onset {
			return held
		}
		return l
	}
	rows := []row{
		{"follower lost", false, func(p *plant) { p.indicated = hold }, 12 * time.Hour, cause.FollowerDecoupled, cause.Follower, nil},
		{"switch dead", false, func(p *plant) {
			p.point = func(s float64, i int, wet bool) bool { return wet && (s < onset || i != 1) }
		}, 14 * time.Hour, cause.PointFailed, cause.Point, nil},
		{"float stuck, liquid switches", true, func(p *plant) { p.float = hold }, 12 * time.Hour, cause.Unknown, "",
			[]cause.Cause{cause.FloatStuck, cause.FollowerDecoupled}},
		{"level at rest, one switch trips by itself", false, func(p *plant) {
			p.level = func(s float64) float64 { return wander(1)(min(s, onset)) }
			p.point = func(s float64, i int, wet bool) bool {
				return wet != (i == 1 && s > onset+7200 && int(s/3600)%2 == 0)
			}
		}, 12 * time.Hour, cause.Unknown, cause.Undecided, []cause.Cause{cause.PointFailed, cause.FollowerDecoupled}},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			sheet := baseSheet()
			sheet.Transmitter = nil
			for i := range sheet.Points {
				if r.liquid {
					sheet.Points[i].Operated = "liquid"
				}
			}
			p := newPlant(t, sheet, 1)
			r.set(p)
			p.run(onset * time.Second)
			if a := p.alerts(); len(a) > 0 {
				t.Fatalf("alert before the fault: %s", a[0].Sentence)
			}
			p.run(r.run)
			f := p.top()
			if f == nil || f.Tier != cause.Alert {
				t.Fatalf("no alert: %+v", f)
			}
			t.Logf("%s / %s: %s %s", f.Cause, f.Suspect, f.Sentence, f.Next)
			if f.Cause != r.cause || r.suspect != "" && f.Suspect != r.suspect {
				t.Errorf("got %s (%s), want %s (%s)", f.Cause, f.Suspect, r.cause, r.suspect)
			}
			for _, a := range p.alerts() {
				if a.Cause != cause.Unknown && a.Cause != r.cause {
					t.Errorf("announced as %s", a.Cause)
				}
			}
			for _, c := range r.covers {
				if !names(f.Set, c) {
					t.Errorf("%s is not in the set: %+v", c, f.Set)
				}
			}
		})
	}
}

// A surface that rests at the trip point of a switch with an element of its own
// works it by its ripples, which the float is too heavy to follow: for hours the
// float has contradicted nothing. A rest far longer than any before is looked at.
func TestRipplesUnderARestingFloat(t *testing.T) {
	sheet := baseSheet()
	sheet.Transmitter = nil
	for i := range sheet.Points {
		sheet.Points[i].Operated = "liquid"
	}
	p := newPlant(t, sheet, 1)
	p.run(54 * time.Hour)
	rests := sheet.Points[1].Elevation.Millimetres()
	p.level = func(float64) float64 { return rests }
	p.point = func(s float64, i int, wet bool) bool { return wet && i != 1 || i == 1 && int(s/2400)%2 == 0 }
	for range 6 {
		p.run(time.Hour)
		if f := p.top(); f != nil {
			t.Fatalf("%s: %s", f.Tier, f.Sentence)
		}
	}
	p.run(12 * time.Hour)
	if f := p.top(); f == nil || f.Tier != cause.Alert || !names(f.Set, cause.FloatStuck) {
		t.Fatalf("after eighteen hours: %+v", f)
	}
}

func names(set []cause.Ranked, c cause.Cause) bool {
	for _, r := range set {
		if r.Cause == c {
			return true
		}
	}
	return false
}
