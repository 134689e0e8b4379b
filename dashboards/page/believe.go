package page

import (
	"slices"
	"strings"
	"time"

	"bridlewatch/compare/level"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/units"
)

// beliefView is the level in the vessel to believe while an alert puts in doubt the
// instrument it is usually made of.
type beliefView struct {
	Level string // empty: none can be believed
	From  string // which instrument, and why not the usual one
	Apart string // what else does not fit
}

// beliefOf puts it in words. It is nil where no level is in doubt.
func (p *Pages) beliefOf(g plant.GaugeView, set units.Set) *beliefView {
	b := g.Belief
	if b == nil {
		return nil
	}
	now := p.Plant.Now()
	why := b.Why(func(t time.Time) string { return p.Zone.Short(t, now) })
	if b.By == "" {
		return &beliefView{From: why + "; " + strings.Join(b.Without, ", ")}
	}
	v := &beliefView{Level: b.Level.Bound.String(), From: "from " + b.By + ": " + why}
	if b.Level.OK() {
		v.Level = set.LengthWith(b.Level.Value, b.Level.U())
	}
	if len(b.Apart) > 0 {
		v.Apart = strings.Join(b.Apart, " and ") + ", not in doubt either, reads otherwise just now"
	}
	return v
}

// besideGlass puts the level in the vessel beside what a gauge glass on the
// chamber would show, which a colder chamber makes lower. Both are as good as the
// instrument of the chamber they come from; where that is in doubt, the level to
// believe stands beside them.
func (p *Pages) besideGlass(g plant.GaugeView, set units.Set) (rows []condition) {
	m := &g.Result.Measurement
	place, l := m.InChamber()
	inVessel := "Level in the vessel"
	if m.InVessel.OK() {
		from, by := "from the chamber by the hydrostatic balance", "the surface in the chamber itself, "+set.Signed(l.Value-m.InVessel.Value)+" from the vessel"
		if g.Doubted()[place] {
			tag := g.LevelTags()[place]
			from, by = from+"; "+tag+inDoubt, by+"; by "+tag+inDoubt
		}
		rows = []condition{
			{inVessel, set.LengthWith(m.InVessel.Value, m.InVessel.U()), from},
			{"A gauge glass on the chamber shows", set.LengthWith(l.Value, l.U()), by},
		}
	} else if g.Belief != nil && m.InVessel.Bound != level.None {
		rows = []condition{{inVessel, m.InVessel.Bound.String(), g.LevelTags()[place] + inDoubt}}
	}
	if b := p.beliefOf(g, set); b != nil && b.Level != "" && len(rows) > 0 {
		rows = slices.Insert(rows, 1, condition{inVessel + ", to believe", b.Level, b.From})
	}
	return rows
}

const inDoubt = ", which the open alert puts in doubt"
