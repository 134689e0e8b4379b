package page

import (
	"context"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"bridlewatch/compare/quantity"
	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/trials"
	"bridlewatch/dashboards/units"
)

// trialPage orders faults put into the history of a gauge and shows what came of
// them.
type trialPage struct {
	Shell
	gaugeHead
	Form                 form
	Shut                 string // why nothing can be ordered here
	Offers               []trials.Offer
	Elsewhere            *neighbour // a gauge an order is under way on
	First, Last          string     // days of the history there is
	From, To             string     // first offered
	Times, Before, Watch string
	Run                  *trialRun // the newest; nil: none since the service began
}

// trialRun is an order and what came of it.
type trialRun struct {
	Asked     string // what was ordered
	By, Began string
	Running   bool
	Stage     string
	Percent   int
	Trouble   string // why there is no report
	Missing   []string
	History   string
	Own       []ownAlert
	OwnWords  string
	MoreOwn   int
	Begins    []string
	Limit     string
	Rows      []trialRow
	Sentences []string
	Cautions  []string
	Single    []trialView // wrongly named and missed
}

// ownAlert is what the history raises by itself.
type ownAlert struct{ At, Lasted, Blamed, Sentence string }

// trialRow is one fault in one size.
type trialRow struct {
	Fault, Found, Noted, Alerted string
	Right, InSet, Outside        int
	Wrong                        string
	Why                          []string // some were not found
	Bad                          bool     // not found every time, or another named
}

// trialView is one trial in which the right instrument was not named.
type trialView struct{ Fault, At, What, Said string }

// defaultDays is how much history is offered at first.
const defaultDays = 120

func (p *Pages) trialsOf(w http.ResponseWriter, r *http.Request) {
	p.writeTrials(w, r, http.StatusOK, form{})
}

func (p *Pages) writeTrials(w http.ResponseWriter, r *http.Request, status int, f form) {
	g, ok := p.view(w, r)
	if !ok {
		return
	}
	tag := g.Sheet.Tag
	page := trialPage{Shell: p.shell(r, "", tag+" trial"), gaugeHead: p.head(g, "trial"), Form: f, Offers: trials.Offers(g.Sheet), Times: "1", Before: "14", Watch: "30"}
	page.Form.Units = page.Shell.Units
	p.fillExtent(r.Context(), &page)
	if p.Trials != nil {
		if run, ok := p.Trials.Newest(tag); ok {
			page.Run = p.trialRun(&run, page.Shell.Units)
		}
		if busy := p.Trials.Busy(); busy != "" && busy != tag {
			page.Elsewhere = &neighbour{Tag: busy, Link: strings.TrimSuffix(p.link(busy, "trial"), "/")}
		}
	}
	p.write(w, status, "trial", "layout", page)
}

// fillExtent says which history there is, or why none can be tried.
func (p *Pages) fillExtent(ctx context.Context, page *trialPage) {
	switch {
	case p.Trials == nil:
		page.Shut = "This service makes no trials."
		return
	case p.ReadOnly:
		page.Shut = "This service is for reading only and makes no trials. On the box: bridlewatch trial with --data."
		return
	case page.Shell.LogsIn && !page.Shell.Role.Includes(access.Engineer):
		page.Shut = "Trials take the box some time: an engineer orders them."
	}
	from, to, err := p.Trials.Extent(ctx)
	switch {
	case err != nil:
		page.Shut = "History could not be read: " + err.Error() + "."
	case from.IsZero():
		page.Shut = "No history is kept yet."
	default:
		last := to.Add(-time.Nanosecond).In(p.Zone.Location)
		first := from.In(p.Zone.Location)
		page.First, page.Last, page.To = first.Format(time.DateOnly), last.Format(time.DateOnly), last.Format(time.DateOnly)
		if early := last.AddDate(0, 0, -defaultDays); first.Before(early) {
			first = early
		}
		page.From = first.Format(time.DateOnly)
	}
}

// trialRun shows an order.
func (p *Pages) trialRun(run *trials.Run, set units.Set) *trialRun {
	v := &trialRun{Asked: p.asked(&run.Order), By: run.By, Began: p.Zone.Full(run.Began), Running: run.State == trials.Running,
		Stage: run.Stage, Percent: int(100 * run.Share), Missing: run.Incomplete}
	switch run.State {
	case trials.Failed:
		v.Trouble = upperFirst(run.Trouble) + "."
	case trials.Cancelled:
		v.Trouble = "Cancelled before it ended; there is no report."
	}
	if run.Report != nil {
		p.fillTrials(v, run.Report, set)
	}
	return v
}

// asked says what was ordered.
func (p *Pages) asked(o *trials.Order) string {
	what := "every fault the gauge can have, in sizes around the allowed gap"
	if len(o.Faults) > 0 {
		what = o.Faults[0].Text()
	}
	when := fmt.Sprintf("at %d times by chance", o.Times)
	switch {
	case len(o.At) > 0:
		when = "from " + p.Zone.Full(o.At[0]) + " on"
	case o.Times == 1:
		when = "at one time by chance"
	}
	return fmt.Sprintf("%s, %s, in the history from %s to %s", what, when, o.From.In(p.Zone.Location).Format(time.DateOnly),
		o.To.Add(-time.Nanosecond).In(p.Zone.Location).Format(time.DateOnly))
}

// shownOwn and shownSingle are how many alerts and trials are shown one by one.
const (
	shownOwn    = 12
	shownSingle = 40
)

func (p *Pages) fillTrials(v *trialRun, r *trials.Report, set units.Set) {
	v.History = fmt.Sprintf("%d snapshots from %s to %s", r.Snapshots, p.Zone.Full(r.From), p.Zone.Full(r.To))
	v.OwnWords = r.OwnText()
	for _, e := range r.Own[:min(len(r.Own), shownOwn)] {
		a := ownAlert{p.Zone.Full(e.Alert), "open to the end", e.Blamed, e.Sentence}
		if !e.Closed.IsZero() {
			a.Lasted = "for " + trials.Days(e.Closed.Sub(e.Alert))
		}
		v.Own = append(v.Own, a)
	}
	v.MoreOwn = len(r.Own) - len(v.Own)
	for _, text := range r.Times {
		if at, err := time.Parse(time.RFC3339, text); err == nil {
			v.Begins = append(v.Begins, p.Zone.Full(at))
		}
	}
	v.Limit = set.Length(quantity.Length(r.LimitMM) * quantity.Millimetre)
	for i := range r.Rows {
		v.Rows = append(v.Rows, trialRowOf(&r.Rows[i]))
	}
	v.Sentences, v.Cautions = r.Sentences, r.Cautions
	for i := range r.Trials {
		t := &r.Trials[i]
		if t.Changed == 0 || t.Verdict == trials.Right || len(v.Single) == shownSingle {
			continue
		}
		what := "no alert within " + trials.Hours(t.Watched)
		if t.Alert != nil {
			what = fmt.Sprintf("alert after %s: %s, %s", trials.Hours(*t.Alert), t.Blamed, t.Verdict)
		}
		v.Single = append(v.Single, trialView{t.Fault, p.Zone.Full(t.At), what, t.Said})
	}
}

func trialRowOf(r *trials.Row) trialRow {
	delay := func(d *trials.Delay) string {
		if d == nil {
			return "–"
		}
		if d.Worst == d.Median {
			return trials.Hours(d.Median)
		}
		return trials.Hours(d.Median) + ", at most " + trials.Hours(d.Worst)
	}
	row := trialRow{Fault: r.Fault, Found: fmt.Sprintf("%d of %d", r.Found, r.Trials), Noted: delay(r.Watch), Alerted: delay(r.Alert),
		Right: r.Right, InSet: r.InSet, Outside: r.Outside, Wrong: strconv.Itoa(r.Wrong), Bad: r.Found < r.Trials || r.Wrong > 0}
	switch {
	case r.Trials == 0:
		row.Found = "not tried"
	case r.Found > 0:
		row.Why = r.Why // of what was never found the sentences say it
	}
	if r.Wrong > 0 {
		row.Wrong += ": " + strings.Join(slices.Sorted(maps.Keys(r.Blamed)), ", ")
	}
	return row
}
