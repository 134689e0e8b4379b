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
	"bridlewatch/dashboards/trend"
)

// findingKind is the kind of the documents findings are kept as, one version
// for each change.
const findingKind = "finding"

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
	docs, err := f.store.Documents(ctx, store.Query{Kind: findingKind, From: from, Latest: true, Limit: 20_000})
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

// spans lists the findings of a gauge that were there in a period, with what
// they said last.
func (f findings) spans(ctx context.Context, tag string, from, to time.Time) ([]trend.Span, error) {
	docs, err := f.store.Documents(ctx, store.Query{Kind: findingKind, Gauge: tag, From: from.Add(-year), To: to, Latest: true, Newest: true, Limit: 500})
	if err != nil {
		return nil, fmt.Errorf("findings of %s: %w", tag, err)
	}
	var spans []trend.Span
	for _, d := range docs {
		var found cause.Finding
		if err := json.Unmarshal(d.Body, &found); err != nil {
			return nil, fmt.Errorf("finding %s of %s: %w", d.ID, d.Gauge, err)
		}
		if found.Since.Before(to) && (found.Cleared.IsZero() || found.Cleared.After(from)) {
			spans = append(spans, trend.Span{From: found.Since, To: found.Cleared, Kind: string(found.Tier), Label: found.Sentence})
		}
	}
	return spans, nil
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
	docs, err := f.store.Documents(ctx, store.Query{Kind: findingKind, From: from, To: to, Newest: true, Limit: limit})
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
