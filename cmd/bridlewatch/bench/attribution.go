package bench

import (
	"slices"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/scenario"
)

// named summarises the attribution at one instant.
func named(o []outcome, k int) Named {
	var n Named
	var decided, right, exact, covers, size int
	for i := range o {
		j := o[i].judged[k]
		if !j.made {
			continue
		}
		n.Judged++
		size += j.size
		for _, c := range []struct {
			is bool
			to *int
		}{{j.decided, &decided}, {j.right, &right}, {j.exact, &exact}, {j.covers, &covers}} {
			if c.is {
				*c.to++
			}
		}
	}
	share := func(a, b int) float64 {
		if b == 0 {
			return 0
		}
		return float64(a) / float64(b)
	}
	n.Decided, n.Right, n.Exact = share(decided, n.Judged), share(right, decided), share(exact, n.Judged)
	n.Covers, n.Size = share(covers, n.Judged), share(size, n.Judged)
	n.Wrong = share(decided-right, n.Judged)
	return n
}

// attribute adds the attribution over all faults, with and without a level on
// the vessel, and the confusion of instruments.
func (r *Report) attribute(p *plan, results []outcome) {
	for _, group := range groups {
		for _, vessel := range []bool{true, false} {
			var mine []outcome
			for i := range results {
				if p.cell[i] >= 0 && groupOf(&p.cells[p.cell[i]]) == group && results[i].vessel == vessel {
					mine = append(mine, results[i])
				}
			}
			if len(mine) == 0 && group != ladder {
				continue
			}
			for k, after := range judgedAfter {
				a := Attributed{After: after.String(), Of: group, Vessel: vessel, Named: named(mine, k)}
				r.Attribution = append(r.Attribution, a)
			}
		}
	}
	r.confuse(p, results)
}

// Groups of cells, judged apart.
const (
	ladder     = "one fault"
	further    = "one fault, further gauges"
	twoAtATime = "two faults"
)

var groups = [...]string{ladder, further, twoAtATime}

func groupOf(c *scenario.Cell) string {
	switch {
	case c.With != nil:
		return twoAtATime
	case c.On != "":
		return further
	}
	return ladder
}

func (r *Report) confuse(p *plan, results []outcome) {
	order := []cause.Suspect{cause.Float, cause.Follower, cause.Transmitter, cause.Point, cause.Chamber, cause.Density, cause.Clock, cause.Signal, cause.Vessel}
	c := Confusion{Truth: order, Named: append(slices.Clone(order), cause.Undecided)}
	c.Count = make([][]int, len(c.Truth))
	for i := range c.Count {
		c.Count[i] = make([]int, len(c.Named))
	}
	for i := range results {
		j := results[i].judged[len(judgedAfter)-1]
		if p.cell[i] < 0 || !j.made || groupOf(&p.cells[p.cell[i]]) == twoAtATime {
			continue
		}
		truth := slices.Index(c.Truth, answers[p.cells[p.cell[i]].Kind].suspect)
		named := slices.Index(c.Named, j.suspect)
		if named < 0 {
			named = len(c.Named) - 1
		}
		c.Count[truth][named]++
	}
	r.Confusion = c
}
