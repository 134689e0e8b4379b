package page

import (
	"context"
	"fmt"
	"slices"
	"time"

	"bridlewatch/compare/record"
	"bridlewatch/dashboards/records"
	"bridlewatch/dashboards/trend"
)

// annotations are what a trend shows beside its lines: findings while they
// lasted, and what people did.
func (p *Pages) annotations(ctx context.Context, tag string, from, to time.Time) ([]trend.Span, error) {
	spans, err := p.findings.spans(ctx, tag, from, to)
	if err != nil {
		return nil, err
	}
	list, err := p.Records.List(ctx, records.Filter{Gauge: tag, To: to})
	if err != nil {
		return nil, fmt.Errorf("records of %s: %w", tag, err)
	}
	return append(spans, recordSpans(list, from)...), nil
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
