package compare_test

import (
	"testing"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/symptom"
)

// TestSilenceOfAllSignalsIsToldOnce takes every signal away for half an hour;
// the points' come back ten minutes after the float's, the transmitter's stays
// away for hours: one finding for the gauge, later one for the transmitter.
func TestSilenceOfAllSignalsIsToldOnce(t *testing.T) {
	p := newPlant(t, baseSheet(), 11)
	p.cut = func(s float64, in *gauge.Snapshot) {
		lose := func(r *quantity.Reading) { r.Quality, r.Reason = quantity.Bad, quantity.TooOld }
		if s > 3600 && s < 5400 {
			lose(&in.Float)
		}
		if s > 3600 && s < 6000 {
			for i := range in.Points {
				lose(&in.Points[i])
			}
		}
		if s > 3600 && s < 12600 {
			lose(&in.Transmitter)
		}
	}
	p.run(5 * time.Hour)
	var tags []string
	for _, f := range p.opened {
		if f.Symptom == symptom.NoReading {
			tags = append(tags, f.Tag)
		}
		if f.Tier == cause.Alert {
			t.Errorf("announced: %s", f.Sentence)
		}
	}
	if len(tags) != 2 || tags[0] != "LG-101" || tags[1] != "LT-101" {
		t.Errorf("opened for %v, want LG-101 and then LT-101", tags)
	}
	if len(p.opened) != len(p.closed) {
		t.Errorf("%d opened, %d closed", len(p.opened), len(p.closed))
	}
}

// TestFirstToGoIsPartOfTheSilence takes the transmitter away six minutes before
// everything else, for more than a day: that is one event, announced once.
func TestFirstToGoIsPartOfTheSilence(t *testing.T) {
	p := newPlant(t, baseSheet(), 12)
	p.cut = func(s float64, in *gauge.Snapshot) {
		lose := func(r *quantity.Reading) { r.Quality, r.Reason = quantity.Bad, quantity.TooOld }
		if s > 3600 {
			lose(&in.Transmitter)
		}
		if s > 3960 {
			lose(&in.Float)
			for i := range in.Points {
				lose(&in.Points[i])
			}
		}
	}
	p.run(27 * time.Hour)
	var announced []string
	for _, f := range p.opened {
		if f.Tier == cause.Alert {
			announced = append(announced, f.Tag)
		}
	}
	for _, f := range p.upgraded {
		announced = append(announced, f.Tag)
	}
	if len(announced) != 1 || announced[0] != "LG-101" {
		t.Errorf("announced for %v, want LG-101 alone", announced)
	}
}

// TestASilentInstrumentIsNotAllRight takes the transmitter away: before that is
// announced the gauge already waits for somebody, with its float as usable as
// before; without any level it is not seen.
func TestASilentInstrumentIsNotAllRight(t *testing.T) {
	p := newPlant(t, baseSheet(), 13)
	lost := func(r *quantity.Reading) { r.Quality, r.Reason = quantity.Bad, quantity.TooOld }
	p.cut = func(s float64, in *gauge.Snapshot) {
		if s > 3600 {
			lost(&in.Transmitter)
		}
		if s > 9*3600 {
			lost(&in.Float)
		}
	}
	p.run(time.Hour + 3*time.Minute)
	if p.last.Headline != "No usable reading of LT-101." {
		t.Errorf("three minutes without the transmitter: %q", p.last.Headline)
	}
	p.run(4 * time.Hour)
	if p.last.Category != compare.MaintenanceDue {
		t.Errorf("hours without the transmitter: %s, want %s", p.last.Category, compare.MaintenanceDue)
	}
	p.run(6 * time.Hour)
	if p.last.Category != compare.NotSeenCategory {
		t.Errorf("without float and transmitter: %s, want %s", p.last.Category, compare.NotSeenCategory)
	}
}

// TestAQuietHeadlineIsTrue: without a finding the headline says what this scan
// shows, not that all agree.
func TestAQuietHeadlineIsTrue(t *testing.T) {
	for _, c := range []struct {
		name, want string
		cut        func(in *gauge.Snapshot)
	}{
		{"apart", "Float and transmitter disagree just now; that becomes a finding if it lasts.", func(in *gauge.Snapshot) { in.Transmitter.Value += .1 }},
		{"beyond the tap", "No two levels can be compared just now.", func(in *gauge.Snapshot) { in.Transmitter.Value += 2 }},
		{"sound", "All instruments agree within budget.", func(*gauge.Snapshot) {}},
	} {
		p := newPlant(t, baseSheet(), 14)
		p.cut = func(s float64, in *gauge.Snapshot) {
			if s > 3600 {
				c.cut(in)
			}
		}
		p.run(time.Hour + 70*time.Second)
		if len(p.opened) != 0 || p.last.Headline != c.want {
			t.Errorf("%s: %q, want %q; opened %+v", c.name, p.last.Headline, c.want, p.opened)
		}
	}
}
