package page

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/compare/record"
	"bridlewatch/dashboards/records"
	"bridlewatch/dashboards/trend"
)

// configurationKind is the kind of the documents that hold configurations, one
// for each the box has run with.
const configurationKind = "configuration"

// RecomputedKind is the kind of the documents that say which levels were
// computed again.
const RecomputedKind = "recomputed"

// Recomputed says that the levels of a period were computed again with a
// configuration.
type Recomputed struct {
	From    time.Time `json:"from"`
	To      time.Time `json:"to"`
	Version string    `json:"version"` // of the configuration
}

// annotations are what a trend shows beside its lines: findings while they
// lasted, what people did, and when the box began to run with another
// configuration, which may have changed the levels.
func (p *Pages) annotations(ctx context.Context, tag string, from, to time.Time) ([]trend.Span, error) {
	found, err := p.findings.of(ctx, tag, from, to)
	if err != nil {
		return nil, err
	}
	var spans []trend.Span
	for _, f := range found {
		label := f.Sentence
		if !f.Revised.IsZero() {
			label += " Revised " + p.Zone.Full(f.Revised) + "."
		}
		spans = append(spans, trend.Span{From: f.Since, To: f.Cleared, Kind: string(f.Tier), Label: label})
	}
	list, err := p.Records.List(ctx, records.Filter{Gauge: tag, To: to})
	if err != nil {
		return nil, fmt.Errorf("records of %s: %w", tag, err)
	}
	changes, err := p.changes(ctx, from, to)
	if err != nil {
		return nil, err
	}
	spans = append(spans, changes...)
	return append(spans, recordSpans(list, from)...), nil
}

// changes are what changed how levels are computed.
func (p *Pages) changes(ctx context.Context, from, to time.Time) ([]trend.Span, error) {
	var spans []trend.Span
	first, err := p.Store.Documents(ctx, store.Query{Kind: configurationKind, From: from, To: to})
	if err != nil {
		return nil, fmt.Errorf("configurations of the period: %w", err)
	}
	for _, c := range first {
		spans = append(spans, trend.Span{From: c.Time, To: c.Time, Kind: configurationKind, Label: "The box ran with configuration " + c.ID + " for the first time."})
	}
	again, err := p.Store.Documents(ctx, store.Query{Kind: RecomputedKind, Latest: true})
	if err != nil {
		return nil, fmt.Errorf("recomputations: %w", err)
	}
	for _, d := range again {
		var r Recomputed
		if err := json.Unmarshal(d.Body, &r); err != nil {
			return nil, fmt.Errorf("recomputation %s: %w", d.ID, err)
		}
		if r.From.Before(to) && r.To.After(from) {
			spans = append(spans, trend.Span{From: r.From, To: r.To, Kind: RecomputedKind, Label: "Levels computed again with configuration " + r.Version + ", on " + p.Zone.Full(d.Time) + "."})
		}
	}
	return spans, nil
}

// recordSpans makes spans of the records of a gauge, newest first: a test
// lasts from its beginning, an isolation until the chamber is back in service,
// everything else is a moment.
func recordSpans(list []records.Entry, from time.Time) []trend.Span {
	var spans []trend.Span
	isolated := -1 // index of the isolation that has not ended
	for _, e := range slices.Backward(list) {
		s := trend.Span{From: e.At, To: e.At, Kind: "record", Label: upperFirst(e.Title()) + ". " + upperFirst(e.Summary())}
		switch {
		case e.Kind == record.Isolated && isolated < 0:
			s.To, isolated = time.Time{}, len(spans)
		case e.Kind == record.Returned && isolated >= 0:
			spans[isolated].To, isolated = e.At, -1
		case !e.Began.IsZero():
			s.From = e.Began
		}
		spans = append(spans, s)
	}
	return slices.DeleteFunc(spans, func(s trend.Span) bool { return !s.To.IsZero() && s.To.Before(from) })
}
