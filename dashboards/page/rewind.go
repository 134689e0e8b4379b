package page

import (
	"context"
	"html/template"
	"net/http"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/dashboards/drawing"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/times"
	"bridlewatch/dashboards/trend"
	"bridlewatch/dashboards/units"
)

// rewindView is the chamber as it was recorded at one instant.
type rewindView struct {
	At, Machine  string
	Note         string
	Wide, Narrow template.HTML
	Gap          string
}

// rewind answers with the chamber at an instant, for the slider.
func (p *Pages) rewind(w http.ResponseWriter, r *http.Request) {
	g, ok := p.view(w, r)
	if !ok {
		return
	}
	at, err := p.instant(r.URL.Query().Get("at"))
	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	view, err := p.rewound(r.Context(), g, at, preferencesOf(r).units)
	if err != nil {
		http.Error(w, "history could not be read: "+err.Error(), http.StatusInternalServerError)
		return
	}
	p.write(w, http.StatusOK, "trend", "rewound", view)
}

// rewound draws the gauge from what was recorded. Values older than the gauge's
// limit count as not there: a gap in the history is shown as a gap.
func (p *Pages) rewound(ctx context.Context, g plant.GaugeView, at time.Time, set units.Set) (rewindView, error) {
	v := rewindView{At: p.Zone.Full(at), Machine: p.Zone.Machine(at)}
	var tags []string
	for _, point := range g.Sheet.Points {
		tags = append(tags, point.Tag)
	}
	moment, err := p.trends.Moment(ctx, g.Sheet.Tag, tags, at)
	if err != nil {
		return v, err
	}
	scene := drawing.Scene{Sheet: g.Sheet, Now: at, Units: set}
	newest, limit := moment.Newest(), ageLimit(g)
	switch {
	case newest.IsZero():
		scene.Stale, v.Note = true, "Nothing was recorded before this time."
	case at.Sub(newest) > limit:
		scene.Stale, v.Note = true, "No samples at this time. The last before it is of "+p.Zone.Full(newest)+", "+times.Span(at.Sub(newest))+" earlier."
	default:
		scene.Result = resultAt(g.Sheet, moment, at, limit)
		scene.Float = floatAt(g.Sheet, moment, at, limit)
		if gap := scene.Result.Measurement.Gaps[gauge.FloatTransmitter]; gap.OK {
			v.Gap = drawing.GapWords(gap, set)
		}
	}
	scene.Note = v.Note
	v.Wide, v.Narrow = picture("rewind-wide", scene, drawing.Wide), picture("rewind-narrow", scene, drawing.Narrow)
	return v, nil
}

// ageLimit is how old a recorded value may be: scans can be stored less often
// than they are made.
func ageLimit(g plant.GaugeView) time.Duration {
	limit := g.MaxAge
	if limit <= 0 {
		limit = plant.DefaultMaxAge
	}
	return max(limit, 2*time.Minute)
}

func resultAt(sheet *datasheet.Sheet, m trend.Moment, at time.Time, age time.Duration) compare.Result {
	r := compare.Result{Gauge: sheet.Tag, Time: at}
	r.Measurement.Float = levelAt(m, trend.LevelFloat, trend.UFloat, at, age)
	r.Measurement.Transmitter = levelAt(m, trend.LevelTransmitter, trend.UTransmitter, at, age)
	r.Measurement.Second = levelAt(m, trend.LevelSecond, "", at, age)
	r.Measurement.InVessel = levelAt(m, trend.LevelInVessel, "", at, age)
	gap, hasGap := m.Usable(trend.Gap, at, age)
	budget, hasBudget := m.Usable(trend.Budget, at, age)
	r.Measurement.Gaps[gauge.FloatTransmitter] = gauge.Gap{Value: quantity.Length(gap), Budget: quantity.Length(budget), OK: hasGap && hasBudget, Reason: quantity.NotRead}
	for i, point := range sheet.Points {
		if wet, ok := m.Usable(trend.PointPrefix+point.Tag, at, age); ok {
			r.Measurement.Points[i] = gauge.Dry
			if wet > 0.5 {
				r.Measurement.Points[i] = gauge.Wet
			}
		}
	}
	return r
}

func levelAt(m trend.Moment, name, u string, at time.Time, age time.Duration) level.Level {
	v, ok := m.Usable(name, at, age)
	if !ok {
		return level.Level{}
	}
	l := level.Level{Value: quantity.Length(v), Bound: level.Within}
	l.Parts[level.TransmitterDevice], _ = m.Usable(u, at, age)
	return l
}

// floatAt places the float below its level by its immersion at the recorded
// density.
func floatAt(sheet *datasheet.Sheet, m trend.Moment, at time.Time, age time.Duration) *drawing.Float {
	surface, ok := m.Usable(trend.LevelFloat, at, age)
	density, known := m.Usable(trend.DensityLiquid, at, age)
	if !ok || !known {
		return nil
	}
	now, built, ok := drawing.Immersions(sheet, quantity.Density(density), 0)
	if !ok {
		return nil
	}
	return &drawing.Float{Bottom: quantity.Length(surface) - now, Immersion: now, BuiltFor: built}
}
