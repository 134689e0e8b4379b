package page

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/compare/cause"
	"bridlewatch/dashboards/plant"
)

// findings reads the history of findings, and answers for the alerts where
// nobody keeps states for them: every finding of the alert tier is an
// unacknowledged alert for as long as it is there.
type findings struct {
	plant plant.Plant
	store store.Store
}

var _ plant.Alerts = findings{}

// episode is the newest version of one finding.
type episode struct {
	cause.Finding
	Seq int64
}

// since returns every episode that changed after from, oldest first.
func (f findings) since(ctx context.Context, from time.Time) ([]episode, error) {
	docs, err := f.store.Documents(ctx, store.Query{Kind: plant.FindingKind, From: from, Latest: true, Limit: 20_000})
	if err != nil {
		return nil, fmt.Errorf("history of findings: %w", err)
	}
	list := make([]episode, 0, len(docs))
	for _, d := range docs {
		e := episode{Seq: d.Seq}
		if err := json.Unmarshal(d.Body, &e.Finding); err != nil {
			return nil, fmt.Errorf("finding %s of %s: %w", d.ID, d.Gauge, err)
		}
		list = append(list, e)
	}
	return list, nil
}

// told is a finding as it is told now.
type told struct {
	cause.Finding
	Revised time.Time // when it was given its present name; zero: it has the one it opened with
}

// of lists the findings of a gauge that were there in a period, as they are told
// now: a name that was given later counts for the whole finding.
func (f findings) of(ctx context.Context, tag string, from, to time.Time) ([]told, error) {
	docs, err := f.store.Documents(ctx, store.Query{Kind: plant.FindingKind, Gauge: tag, From: from.Add(-year), Latest: true, Newest: true, Limit: 2000})
	if err != nil {
		return nil, fmt.Errorf("findings of %s: %w", tag, err)
	}
	var list []told
	for _, d := range docs {
		var t told
		if err := json.Unmarshal(d.Body, &t.Finding); err != nil {
			return nil, fmt.Errorf("finding %s of %s: %w", d.ID, d.Gauge, err)
		}
		if !t.Since.Before(to) || !t.Cleared.IsZero() && !t.Cleared.After(from) {
			continue
		}
		if d.Replaces != 0 {
			if t.Revised, err = f.revised(ctx, d.ID); err != nil {
				return nil, err
			}
		}
		f.renew(&t)
		list = append(list, t)
	}
	return list, nil
}

// revised is when a finding was given its last name, zero where it has the one it
// opened with.
func (f findings) revised(ctx context.Context, id string) (at time.Time, err error) {
	versions, err := f.store.Documents(ctx, store.Query{Kind: plant.FindingKind, ID: id})
	if err != nil {
		return at, fmt.Errorf("versions of finding %s: %w", id, err)
	}
	var before cause.Finding
	for i, d := range versions {
		var now cause.Finding
		if err := json.Unmarshal(d.Body, &now); err != nil {
			return at, fmt.Errorf("finding %s of %s: %w", d.ID, d.Gauge, err)
		}
		if i > 0 && renamed(&before, &now) {
			at = d.Time
		}
		before = now
	}
	return at, nil
}

// renew takes what an open finding says from the last comparison: history keeps a
// version for each change and not for every new number.
func (f findings) renew(t *told) {
	g, ok := f.plant.Gauge(t.Gauge)
	if !ok || !t.Cleared.IsZero() {
		return
	}
	if i := slices.IndexFunc(g.Result.Findings, func(x cause.Finding) bool { return x.ID == t.ID }); i >= 0 {
		now := g.Result.Findings[i]
		if renamed(&t.Finding, &now) {
			t.Revised = now.Changed
		}
		t.Finding = now
	}
}

// renamed reports whether another cause or instrument is named than before.
func renamed(before, now *cause.Finding) bool {
	return before.Cause != now.Cause || before.Suspect != now.Suspect || before.Tag != now.Tag
}

// Open lists the findings of the alert tier that are there now.
func (f findings) Open(context.Context) ([]plant.Alert, error) {
	return f.present(func(g plant.GaugeView) bool { return !g.Result.Measurement.Isolated }), nil
}

// Quiet lists those of gauges that are isolated: suppressed by design.
func (f findings) Quiet(context.Context) ([]plant.Alert, error) {
	quiet := f.present(func(g plant.GaugeView) bool { return g.Result.Measurement.Isolated })
	for i := range quiet {
		quiet[i].Quiet, quiet[i].Why = "suppressed", "the chamber is isolated"
	}
	return quiet, nil
}

func (f findings) present(wanted func(plant.GaugeView) bool) []plant.Alert {
	var alerts []plant.Alert
	for _, g := range f.plant.Gauges() {
		if !wanted(g) {
			continue
		}
		for _, found := range g.Result.Findings {
			if found.Tier == cause.Alert {
				alerts = append(alerts, alertOf(found))
			}
		}
	}
	slices.SortStableFunc(alerts, func(a, b plant.Alert) int { return b.Raised.Compare(a.Raised) })
	return alerts
}

func alertOf(f cause.Finding) plant.Alert {
	return plant.Alert{
		ID: f.ID, Gauge: f.Gauge, Tag: f.Tag, Cause: strings.TrimPrefix(findingHeading(f), "Suspect: "), State: "unacknowledged",
		Sentence: f.Sentence, Next: nextStep(f.Next), Raised: f.Raised, Hides: len(f.Hides),
	}
}

// Journal lists the versions of findings as what happened.
func (f findings) Journal(ctx context.Context, from, to time.Time, limit int) ([]plant.AlertLine, error) {
	docs, err := f.store.Documents(ctx, store.Query{Kind: plant.FindingKind, From: from, To: to, Newest: true, Limit: limit})
	if err != nil {
		return nil, fmt.Errorf("journal: %w", err)
	}
	var lines []plant.AlertLine
	for _, d := range docs {
		var found cause.Finding
		if err := json.Unmarshal(d.Body, &found); err != nil {
			return nil, fmt.Errorf("finding %s of %s: %w", d.ID, d.Gauge, err)
		}
		lines = append(lines, plant.AlertLine{Time: d.Time, Gauge: d.Gauge, What: happened(d, found), Sentence: found.Sentence})
	}
	return lines, nil
}

// happened says what a version of a finding reports.
func happened(d store.Document, f cause.Finding) string {
	switch {
	case !f.Cleared.IsZero():
		return "cleared"
	case d.Replaces == 0:
		return "raised as " + string(f.Tier)
	case f.Tier == cause.Alert:
		return "changed, alert"
	}
	return "changed"
}
