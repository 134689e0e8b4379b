package page

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"time"

	"bridlewatch/compare/coverage"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/units"
)

// provenPage shows when each instrument was last proven at each elevation.
type provenPage struct {
	Shell
	gaugeHead
	Instruments []string
	Bins        []provenBin // from the top down
	Switches    []provenSwitch
	OldDays     int
	ByMonth     string // address of the other view
}

type provenBin struct {
	Range string
	Cells []provenCell

	from, to quantity.Length
}

// provenCell is the newest proof of one instrument in one bin.
type provenCell struct {
	Class string // "new", "old", "never"
	Age   string
	Words string
}

// provenSwitch is a point switch with its newest actuations.
type provenSwitch struct {
	Tag, Elevation  string
	Rising, Falling provenCell
}

var neverSwitched = provenCell{Class: "never", Age: "never", Words: "never seen to switch"}

func (p *Pages) proven(w http.ResponseWriter, r *http.Request) {
	g, ok := p.view(w, r)
	if !ok {
		return
	}
	if r.URL.Query().Get("by") == "month" {
		p.provenMonths(w, r, g)
		return
	}
	page := provenPage{Shell: p.shell(r, "", g.Sheet.Tag+" proven"), gaugeHead: p.head(g, "proven"), OldDays: oldDays(g), ByMonth: p.link(g.Sheet.Tag, "proven") + "?by=month"}
	page.fill(p.Plant.Proven(g.Sheet.Tag), page.Units, p.Plant.Now())
	page.setPoints(g.Sheet.Points, page.Units)
	p.write(w, http.StatusOK, "proven", "layout", page)
}

// oldDays is the age at which a proof is old.
func oldDays(g plant.GaugeView) int {
	if days := g.Sheet.Limits.ProvenDays; days > 0 {
		return days
	}
	return 180
}

// fill sorts proofs into a table of elevations by instruments; a proof of one
// elevation only is that of a switch.
func (v *provenPage) fill(proofs []coverage.Proof, set units.Set, now time.Time) {
	type place struct{ from, to quantity.Length }
	cells := map[place]map[string]provenCell{}
	var places []place
	for _, proof := range proofs {
		if proof.From == proof.To {
			v.addSwitch(proof, set, now)
			continue
		}
		at := place{proof.From, proof.To}
		if cells[at] == nil {
			cells[at] = map[string]provenCell{}
			places = append(places, at)
		}
		if !slices.Contains(v.Instruments, proof.Tag) {
			v.Instruments = append(v.Instruments, proof.Tag)
		}
		cells[at][proof.Tag] = v.cell(proof, set, now)
	}
	slices.SortFunc(places, func(a, b place) int { return cmp.Compare(b.from, a.from) })
	for _, at := range places {
		bin := provenBin{from: at.from, to: at.to}
		for _, tag := range v.Instruments {
			cell, ok := cells[at][tag]
			if !ok {
				cell = provenCell{Class: "never", Age: "–", Words: "cannot be proven here"}
			}
			bin.Cells = append(bin.Cells, cell)
		}
		v.addBin(bin)
	}
	for i := range v.Bins {
		v.Bins[i].Range = set.LengthNumber(v.Bins[i].from) + " – " + set.Length(v.Bins[i].to)
	}
}

// addBin adds a bin below the last; bins nothing was ever proven in are
// joined.
func (v *provenPage) addBin(bin provenBin) {
	if n := len(v.Bins) - 1; n >= 0 && v.Bins[n].never() && bin.never() {
		v.Bins[n].from = bin.from
		return
	}
	v.Bins = append(v.Bins, bin)
}

// never reports whether nothing was ever proven in the bin.
func (b provenBin) never() bool {
	return !slices.ContainsFunc(b.Cells, func(c provenCell) bool { return c.Class != "never" })
}

func (v *provenPage) addSwitch(proof coverage.Proof, set units.Set, now time.Time) {
	at := slices.IndexFunc(v.Switches, func(s provenSwitch) bool { return s.Tag == proof.Tag })
	if at < 0 {
		v.Switches = append(v.Switches, provenSwitch{Tag: proof.Tag, Rising: neverSwitched, Falling: neverSwitched})
		at = len(v.Switches) - 1
	}
	cell := v.cell(proof, set, now)
	if proof.Rising {
		v.Switches[at].Rising = cell
	} else {
		v.Switches[at].Falling = cell
	}
}

// setPoints gives each switch the elevation of the data sheet, midway between
// where it goes over rising and falling.
func (v *provenPage) setPoints(points []datasheet.Point, set units.Set) {
	for _, p := range points {
		for i := range v.Switches {
			if v.Switches[i].Tag == p.Tag {
				v.Switches[i].Elevation = set.Length(p.Elevation)
			}
		}
	}
}

func (v *provenPage) cell(proof coverage.Proof, set units.Set, now time.Time) provenCell {
	if proof.At.IsZero() && proof.From == proof.To {
		return neverSwitched
	}
	if proof.At.IsZero() {
		return provenCell{Class: "never", Age: "never", Words: "never passed together with a witness"}
	}
	days := int(now.Sub(proof.At).Hours() / 24)
	cell := provenCell{Class: "new", Age: fmt.Sprintf("%d d", days)}
	switch {
	case days > v.OldDays:
		cell.Class = "past"
	case days > 30:
		cell.Class = "old"
	case days == 0:
		cell.Age = "today"
	}
	way := proof.Way()
	if proof.From == proof.To { // a switch goes over half its differential from its set point
		way += " at " + set.Length(proof.From)
	}
	cell.Words = fmt.Sprintf("%s, against %s, difference %s ± %s", way, proof.Witness, set.Signed(proof.Difference), set.LengthFine(2*proof.U))
	if proof.Passes > 1 {
		cell.Words += fmt.Sprintf(", %d passes", proof.Passes)
	}
	return cell
}
