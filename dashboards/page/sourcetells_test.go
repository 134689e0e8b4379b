package page

import (
	"testing"
	"time"

	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/times"
)

func TestWhatASourceTells(t *testing.T) {
	now := time.Date(2026, 5, 4, 12, 0, 0, 0, time.UTC)
	p := &Pages{Options: Options{Zone: times.Zone{Location: time.UTC}}}
	s := plant.SourceHealth{OK: true, Good: 10, Bad: 2, Every: time.Second, Late: 3, MaxLateness: 400 * time.Millisecond, Skew: -90 * time.Second, SkewKnown: true, Timeouts: 5,
		Units: []plant.UnitHealth{
			{ID: 3, Refused: []string{"LT-7", "TT-7"}, Retrial: now.Add(time.Hour), LineTime: 500 * time.Millisecond},
			{ID: 7, Failures: 4, NotUntil: now.Add(20 * time.Second), LineTime: 300 * time.Millisecond},
		}}
	want := []sourceLine{
		{"Unit 3 refuses the addresses of LT-7, TT-7; they are tried again at 13:00:00.", true},
		{"Unit 7 does not answer and is left alone until 12:00:20.", true},
		{"2 of 12 signals of the last poll are not usable.", true},
		{"Its clock is 1 min 30 s ahead of that of this box.", true},
		{"The line is busy for 800 ms of every 1 s, 80 %.", true},
		{"3 polls began late, the latest by 400 ms.", false},
		{"Since the start: 5 without an answer in time.", false},
	}
	got := p.sourceTells(s, now)
	if len(got) != len(want) {
		t.Fatalf("%d lines: %+v", len(got), got)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("line %d: %+v, want %+v", i, got[i], want[i])
		}
	}
	got = p.sourceTells(plant.SourceHealth{OK: true, Remarks: []string{"LT-9: the server has no namespace urn:x"}}, now)
	if len(got) != 1 || got[0] != (sourceLine{"LT-9: the server has no namespace urn:x", true}) {
		t.Errorf("a remark is said as %+v", got)
	}
	if quiet := p.sourceTells(plant.SourceHealth{OK: true, Good: 12, SkewKnown: true, Skew: 40 * time.Millisecond}, now); len(quiet) != 0 {
		t.Errorf("a source that is well says %+v", quiet)
	}
}
