package page

import (
	"net/http"
	"time"

	"bridlewatch/compare/coverage"
)

// blindPage says what a gauge cannot see.
type blindPage struct {
	Shell
	gaugeHead
	Groups []blindGroup
}

// blindGroup is a part of the list with one heading.
type blindGroup struct {
	Heading, Lead string
	Spots         []blindView
}

type blindView struct {
	What, Why, Reveals, Excluded, NotSince string
}

func (p *Pages) blind(w http.ResponseWriter, r *http.Request) {
	g, ok := p.view(w, r)
	if !ok {
		return
	}
	page := blindPage{Shell: p.shell(r, "", g.Sheet.Tag+" blind spots"), gaugeHead: p.head(g, "blind")}
	page.Groups = p.blindGroups(p.Plant.Blind(g.Sheet.Tag))
	p.write(w, http.StatusOK, "blind", "layout", page)
}

// blindGroups puts what is possible now first.
func (p *Pages) blindGroups(spots []coverage.BlindSpot) []blindGroup {
	groups := []blindGroup{
		{Heading: "Possible now", Lead: "Any of these could be true at this moment, and the readings would look as they do."},
		{Heading: "Follows from the instruments", Lead: "These instruments can never see it, whatever the level does. It is not the case now as far as can be told."},
		{Heading: "Not tested lately", Lead: "The instruments can see it, but nothing has moved to show it."},
	}
	now := p.Plant.Now()
	for _, s := range spots {
		at := 2
		switch {
		case s.PossibleNow:
			at = 0
		case s.Structural:
			at = 1
		}
		groups[at].Spots = append(groups[at].Spots, p.blindView(s, now))
	}
	return groups
}

func (p *Pages) blindView(s coverage.BlindSpot, now time.Time) blindView {
	v := blindView{What: upperFirst(s.What), Why: upperFirst(s.Why), Reveals: upperFirst(s.Reveals)}
	if !s.Excluded.IsZero() {
		v.Excluded = p.ago(s.Excluded, now)
	}
	if !s.NotSince.IsZero() {
		v.NotSince = p.ago(s.NotSince, now)
	}
	return v
}
