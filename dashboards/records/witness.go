package records

import (
	"slices"
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/record"
	"bridlewatch/compare/uncertainty"
	"bridlewatch/dashboards/plant"
)

// Instruments lists the tags of everything a record may be about.
func Instruments(g plant.GaugeView) []string {
	var tags []string
	if g.Sheet.Float.Tag != "" {
		tags = append(tags, g.Sheet.Float.Tag)
	}
	if g.Sheet.Transmitter != nil {
		tags = append(tags, g.Sheet.Transmitter.Tag)
	}
	if g.Sheet.Second != nil {
		tags = append(tags, g.Sheet.Second.Tag)
	}
	for _, p := range g.Sheet.Points {
		tags = append(tags, p.Tag)
	}
	return tags
}

// instrument is a level instrument with what it says now.
type instrument struct {
	tag, role string
	level     *level.Level
}

func levelsOf(g *plant.GaugeView) []instrument {
	m := &g.Result.Measurement
	var all []instrument
	if g.Sheet.Float.Tag != "" {
		all = append(all, instrument{g.Sheet.Float.Tag, "float", &m.Float})
	}
	if g.Sheet.Transmitter != nil {
		all = append(all, instrument{g.Sheet.Transmitter.Tag, "transmitter", &m.Transmitter})
	}
	if g.Sheet.Second != nil {
		all = append(all, instrument{g.Sheet.Second.Tag, "second transmitter", &m.Second})
	}
	return all
}

// Live returns what every level instrument says now; a guided test takes the
// same.
func Live(g plant.GaugeView, now time.Time) []record.Reading {
	var out []record.Reading
	for _, i := range levelsOf(&g) {
		r := record.Reading{Tag: i.tag, Role: i.role, Value: i.level.Value}
		switch {
		case !g.Compared():
			r.Missing = "not compared yet"
		case g.Stale(now):
			r.Missing = "no fresh sample"
		case i.level.Bound == level.None:
			r.Missing = i.level.Reason.String()
		case !i.level.OK():
			r.Missing = i.level.Bound.String()
		}
		if r.Missing != "" {
			r.Value = 0
		}
		out = append(out, r)
	}
	return out
}

// allowances returns what each level instrument may differ by: what somebody
// decided, or its own expanded uncertainty.
func allowances(g plant.GaugeView, decided quantity.Length) func(tag string) quantity.Length {
	k := quantity.Length(g.Sheet.Budget.Coverage)
	if k <= 0 {
		k = 2
	}
	return func(tag string) quantity.Length {
		if decided > 0 {
			return decided
		}
		for _, i := range levelsOf(&g) {
			if i.tag == tag && i.level.OK() {
				return k * i.level.U()
			}
		}
		return 0
	}
}

// conditions are those of the process now.
func conditions(g plant.GaugeView) *record.Conditions {
	m := &g.Result.Measurement
	if !g.Compared() {
		return nil
	}
	c := &record.Conditions{Pressure: m.PressureUsed, Temperature: m.TemperatureUsed, Chamber: m.ChamberTempUsed, Assumed: m.Assumed}
	if m.DensityOK {
		c.Density, c.DensityU, c.Source = m.Liquid, m.LiquidU, "by "+string(g.Sheet.Fluid.Model)+" model of "+g.Sheet.Fluid.Name
		if g.Sheet.Densitometer != nil {
			c.Source = g.Sheet.Densitometer.Tag + ", carried to the chamber"
		}
	}
	return c
}

// picture is what the instruments say now, to be drawn later.
func picture(g plant.GaugeView, now time.Time) *record.Picture {
	m := &g.Result.Measurement
	if !g.Compared() || g.Stale(now) {
		return nil
	}
	p := &record.Picture{At: g.Result.Time, Float: markOf(&m.Float), Transmitter: markOf(&m.Transmitter), Second: markOf(&m.Second), Isolated: m.Isolated}
	if m.MagnetOK {
		magnet := m.Magnet
		p.Magnet = &magnet
	}
	if m.DensityOK {
		p.Liquid, p.Gas = m.Liquid, m.Gas
	}
	for i := range g.Sheet.Points {
		p.Points = append(p.Points, m.Points[i].String())
	}
	return p
}

func markOf(l *level.Level) *record.Mark {
	if !l.OK() {
		return nil
	}
	return &record.Mark{Value: l.Value, U: l.U()}
}

// budgets are the tables behind the levels as they are used now.
func budgets(g plant.GaugeView) []uncertainty.Budget {
	model, err := gauge.New(*g.Sheet)
	if err != nil {
		return nil // a gauge under watch has a model; a fixture may not
	}
	in := snapshotOf(g)
	tables, err := model.Budget(&in)
	if err != nil {
		return nil // no level, no budget; the rows say why
	}
	out := tables.Levels
	for _, gap := range tables.Gaps {
		out = append(out, gap.Budget)
	}
	return out
}

// snapshotOf puts the readings of a view back into a snapshot.
func snapshotOf(g plant.GaugeView) gauge.Snapshot {
	in := gauge.Snapshot{Time: g.Result.Time}
	for _, r := range g.Readings {
		reading := quantity.Reading{Value: r.Value, Time: g.Result.Time.Add(-r.Age), Quality: r.Quality, Reason: r.Reason}
		point := slices.IndexFunc(g.Sheet.Points, func(p datasheet.Point) bool { return p.Tag == r.Tag })
		if r.Role != plant.Point || point >= 0 {
			*in.Of(string(r.Role), point) = reading
		}
	}
	return in
}
