package watch

import (
	"testing"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/symptom"
	"bridlewatch/config"
)

// An alert is told by what it was called within three days, not by what is left
// of it when somebody has repaired something; signals that were missing are
// counted.
func TestEpisodesAreToldAsTheyWereJudged(t *testing.T) {
	at := func(h float64) time.Time {
		return time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC).Add(time.Duration(h * float64(time.Hour)))
	}
	var y Episodes
	add := func(h float64, what, id string, kind symptom.Kind, tier cause.Tier, tag, sentence string) {
		y.Add(&Change{Time: at(h), What: what, Finding: cause.Finding{ID: id, Symptom: kind, Tier: tier, Tag: tag, Sentence: sentence, Since: at(h - 1)}})
	}
	add(1, "opened", "a", symptom.GapBeyondBudget, cause.Watch, "", "a gap")
	add(4, "upgraded", "a", symptom.GapBeyondBudget, cause.Alert, "", "a gap, undecided")
	add(5, "opened", "b", symptom.NoReading, cause.Watch, "LT-1", "silent")
	add(7, "closed", "b", symptom.NoReading, cause.Watch, "LT-1", "silent")
	add(9, "opened", "c", symptom.NoReading, cause.Watch, "LT-1", "silent")
	add(9.5, "upgraded", "c", symptom.NoReading, cause.Alert, "LT-1", "silent")
	add(50, "revised", "a", symptom.FloatStill, cause.Alert, "LI-1", "stuck")
	add(80, "revised", "a", symptom.GapBeyondBudget, cause.Alert, "LT-1", "what a repair left")
	add(90, "closed", "a", symptom.GapBeyondBudget, cause.Alert, "LT-1", "what a repair left")
	add(91, "opened", "d", symptom.GapStep, cause.Watch, "", "only watched")

	g := summaryOf(&unit{config: config.Gauge{}}, &y)
	if len(g.Told) != 1 {
		t.Fatalf("told %+v, want one alert", g.Told)
	}
	if x := g.Told[0]; x.Sentence != "stuck" || x.Tag != "LI-1" || !x.Raised.Equal(at(4)) || !x.Closed.Equal(at(90)) {
		t.Errorf("told %+v", x)
	}
	if s := g.Silent; len(s) != 1 || s[0] != (Silence{Tag: "LT-1", Times: 2, Longest: time.Hour, Alerts: 1}) {
		t.Errorf("silent %+v", s)
	}
	if g.Alerts != 2 || g.Watches != 2 || g.Open != 2 {
		t.Errorf("%d alerts, %d watched only, %d open at the end", g.Alerts, g.Watches, g.Open)
	}
}
