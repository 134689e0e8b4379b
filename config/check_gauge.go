package config

import (
	"bridlewatch/compare/datasheet"
)

// checkGauge looks at one gauge as a whole.
func (d *decoder) checkGauge(g *Gauge, n *node) {
	if len(g.Sheet.Points) > datasheet.MaxPoints {
		d.report(n.find("points"), "has %d point switches; a gauge takes at most %d", len(g.Sheet.Points), datasheet.MaxPoints)
	}
	if len(g.Signals) == 0 {
		d.advise(g.Place, "has no signal: it can be checked with fit, but there is nothing to watch")
	}
}
