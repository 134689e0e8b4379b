package page

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"time"

	"bridlewatch/compare/quantity"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/trend"
	"bridlewatch/dashboards/units"
)

// monthsPage shows for each month and elevation how often float and
// transmitter were seen to pass together.
type monthsPage struct {
	Shell
	gaugeHead
	Plain   string   // address of the other view
	Months  []string // oldest first
	Rows    []monthsRow
	Step    string
	Pair    bool // the gauge has both instruments
	Trouble string
}

// monthsRow is one elevation, from the top down.
type monthsRow struct {
	Range string
	Cells []monthCell
}

// monthCell counts the intervals of one month in which both passed.
type monthCell struct {
	Class string // "never", "old" once or twice, "new" more often
	Words string
}

const (
	monthsShown   = 12
	monthBands    = 10   // between the taps
	monthsBuckets = 4000 // of the whole span
)

func (p *Pages) provenMonths(w http.ResponseWriter, r *http.Request, g plant.GaugeView) {
	page := monthsPage{Shell: p.shell(r, "", g.Sheet.Tag+" proven by month"), gaugeHead: p.head(g, "proven"), Plain: p.link(g.Sheet.Tag, "proven")}
	status := http.StatusOK
	if err := p.fillMonths(r.Context(), g, &page); err != nil {
		page.Trouble, status = "History could not be read: "+err.Error()+".", http.StatusInternalServerError
	}
	p.write(w, status, "months", "layout", page)
}

func (p *Pages) fillMonths(ctx context.Context, g plant.GaugeView, page *monthsPage) error {
	now := p.Plant.Now().In(p.Zone.Location)
	first := time.Date(now.Year(), now.Month()-monthsShown+1, 1, 0, 0, 0, 0, p.Zone.Location)
	lines := []trend.Line{{Key: "float", Name: trend.LevelFloat}, {Key: "transmitter", Name: trend.LevelTransmitter}, {Key: "gap", Name: trend.Gap}, {Key: "budget", Name: trend.Budget}}
	for m := range monthsShown {
		page.Months = append(page.Months, first.AddDate(0, m, 0).Format("2006-01"))
	}
	chart, err := p.trends.Chart(ctx, g.Sheet.Tag, lines, first, now, monthsBuckets)
	if err != nil {
		return err
	}
	if page.Pair = len(chart.Columns) == len(lines); !page.Pair {
		return nil
	}
	top := g.Sheet.Chamber.CentreToCentre
	for b := monthBands - 1; b >= 0; b-- {
		from, to := top*quantity.Length(b)/monthBands, top*quantity.Length(b+1)/monthBands
		row := monthsRow{Range: page.Units.LengthNumber(from) + " – " + page.Units.Length(to)}
		for _, n := range passes(chart, first, float64((from+to)/2)) {
			row.Cells = append(row.Cells, monthCellOf(n))
		}
		page.Rows = append(page.Rows, row)
	}
	page.Step = units.Fixed(chart.Step.Hours(), 1) + units.NoBreak + "h"
	return nil
}

// passes counts for each month the intervals in which float and transmitter
// both passed an elevation and their gap stayed within what is allowed. A pass
// at the edge of two intervals is one: each is looked at together with the one
// before it, and counted where it ends.
func passes(c *trend.Chart, first time.Time, at float64) [monthsShown]int {
	var n [monthsShown]int
	float, transmitter, gap, budget := c.Columns[0], c.Columns[1], c.Columns[2], c.Columns[3]
	counted := -2
	for j := 1; j < len(c.Time); j++ {
		if !passed(&float, j, at) || !passed(&transmitter, j, at) || counted == j-1 || !agreed(&gap, &budget, j) {
			continue
		}
		t := c.Time[j].In(first.Location())
		if m := (t.Year()-first.Year())*12 + int(t.Month()-first.Month()); m >= 0 && m < monthsShown {
			n[m]++
			counted = j
		}
	}
	return n
}

// passed reports whether a level was on both sides of an elevation in an
// interval and the one before it, both sampled.
func passed(c *trend.Column, j int, at float64) bool {
	if c.Mean[j] == nil || c.Mean[j-1] == nil {
		return false
	}
	return min(*c.Min[j], *c.Min[j-1]) < at && max(*c.Max[j], *c.Max[j-1]) > at
}

// agreed reports whether the gap stayed within what is allowed in an interval
// and the one before it.
func agreed(gap, budget *trend.Column, j int) bool {
	for _, i := range []int{j - 1, j} {
		if gap.Mean[i] == nil || budget.Mean[i] == nil || math.Max(math.Abs(*gap.Min[i]), math.Abs(*gap.Max[i])) > *budget.Mean[i] {
			return false
		}
	}
	return true
}

func monthCellOf(n int) monthCell {
	switch {
	case n == 0:
		return monthCell{"never", "–"}
	case n <= 2:
		return monthCell{"old", fmt.Sprint(n)}
	}
	return monthCell{"new", fmt.Sprint(n)}
}
