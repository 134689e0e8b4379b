package page

import (
	"net/http"
	"slices"
	"strings"

	"bridlewatch/compare"
)

// walkPage is the list of visits as a sheet to take along: by area, with what
// to bring, and lines to write on.
type walkPage struct {
	Shell
	Areas   []walkArea
	Minutes int
	Visits  int
}

type walkArea struct {
	Name   string
	Visits []walkVisit
}

// walkVisit is one gauge of the sheet with the first thing to do there.
type walkVisit struct {
	visit
	Test     string
	Minutes  int
	Permit   string
	Tools    string
	Cautions []string
}

func (p *Pages) walk(w http.ResponseWriter, r *http.Request) {
	page := walkPage{Shell: p.shell(r, navVisits, "Walk sheet")}
	now := p.Plant.Now()
	var visits []walkVisit
	for i, g := range p.Plant.Gauges() {
		category := g.Category(now)
		if category == compare.GoodCategory {
			continue
		}
		v := walkVisit{visit: p.visit(g, page.Units, now)}
		v.order = i
		if tests := p.Plant.Settle(g.Sheet.Tag); len(tests) > 0 {
			t := tests[0]
			v.Test, v.Minutes, v.Permit, v.Cautions, v.Tools = upperFirst(t.Name), t.Minutes, t.Permit, t.Cautions, strings.Join(t.Tools, ", ")
		}
		visits = append(visits, v)
	}
	slices.SortStableFunc(visits, func(a, b walkVisit) int { return worse(a.visit, b.visit) })
	page.fill(visits)
	p.write(w, http.StatusOK, "walk", "layout", page)
}

// fill groups by area; the area with the worst gauge comes first.
func (page *walkPage) fill(visits []walkVisit) {
	page.Visits = len(visits)
	for _, v := range visits {
		if v.Watched == "" {
			page.Minutes += v.Minutes
		}
		at := slices.IndexFunc(page.Areas, func(a walkArea) bool { return a.Name == v.Area })
		if at < 0 {
			page.Areas = append(page.Areas, walkArea{Name: v.Area})
			at = len(page.Areas) - 1
		}
		page.Areas[at].Visits = append(page.Areas[at].Visits, v)
	}
}
