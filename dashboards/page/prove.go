package page

import (
	"context"
	"errors"
	"net/http"
	"strconv"
	"strings"

	"bridlewatch/compare/quantity"
	"bridlewatch/compare/record"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/records"
)

// provePage leads through a drain or a fill with readings at elevations.
type provePage struct {
	Shell
	gaugeHead
	Form     form
	AskName  bool
	Name     string
	Caution  string
	Rule     string
	Evidence string
	ReadOnly bool

	Draft       *records.Draft // nil: none is under way
	Begun       string
	Reference   string
	Allowed     string
	Live        []liveReading
	LiveAt      string
	Stale       bool
	Isolated    bool
	Elevations  []proveStop
	NextAt      string // elevation to stop at next, as it is typed
	NextWhy     string
	Rows        []records.Line
	Trips       []records.Line
	Switches    []proveSwitch
	Untested    []string
	Instruments []string
	Last        string // number of the record the last test became
	LastLink    string
	Done        string
}

type liveReading struct{ Tag, Role, Value string }

type proveStop struct {
	At, Why string
	Done    bool
}

// proveSwitch is a switch with what its data sheet says and what the service
// has seen since the test began.
type proveSwitch struct {
	Tag, Sheet, Operated string
	Seen                 []string // in words; empty: no change was seen
	Rising, Falling      string   // as sent
	WrongRising          string
	WrongFalling         string
}

func (p *Pages) prove(w http.ResponseWriter, r *http.Request) {
	if g, ok := p.view(w, r); ok {
		p.writeProve(w, r, http.StatusOK, g, form{})
	}
}

func (p *Pages) writeProve(w http.ResponseWriter, r *http.Request, status int, g plant.GaugeView, f form) {
	page := provePage{Shell: p.shell(r, navRecords, g.Sheet.Tag+" prove"), gaugeHead: p.head(g, "prove"), Form: f, AskName: p.Actor == nil, Name: p.nameOf(r),
		Caution: record.Caution, Rule: record.Rule, Evidence: record.Evidence, ReadOnly: p.ReadOnly, Isolated: g.Result.Measurement.Isolated, Instruments: records.Instruments(g)}
	page.Form.Units = page.Units
	draft, err := p.Records.Draft(r.Context(), g.Sheet.Tag)
	switch {
	case err == nil:
		page.Draft = draft
		if err := p.fillProve(r.Context(), g, &page); err != nil {
			page.Form.Trouble = upperFirst(err.Error()) + "."
		}
	case !errors.Is(err, records.ErrNoDraft):
		page.Form.Trouble = upperFirst(err.Error()) + "."
	case draft != nil && draft.Booked > 0:
		page.Last, page.LastLink = strconv.Itoa(draft.Booked), p.recordLink(draft.Booked)
	}
	p.write(w, status, "prove", "layout", page)
}

func (p *Pages) fillProve(ctx context.Context, g plant.GaugeView, page *provePage) error {
	d, set, now := page.Draft, page.Units, p.Plant.Now()
	page.Begun = p.ago(d.Record.Began, now)
	page.Reference = d.Record.Reference.Description + ", ± " + set.LengthFine(d.Record.Reference.U) + " (k = 2)"
	page.Allowed = "what each instrument’s own budget says"
	if d.Allowed > 0 {
		page.Allowed = "± " + set.LengthFine(d.Allowed)
	}
	page.Stale, page.LiveAt = g.Stale(now), p.Zone.Short(g.LastSample, now)
	for _, l := range records.Live(g, now) {
		value := l.Missing
		if value == "" {
			value = set.LengthFine(l.Value)
		}
		page.Live = append(page.Live, liveReading{l.Tag, l.Role, value})
	}
	if next, ok := d.Next(); ok {
		page.NextAt, page.NextWhy = written(next.At, set), next.Why
	}
	for _, e := range d.Elevation {
		page.Elevations = append(page.Elevations, proveStop{At: set.Length(e.At), Why: e.Why, Done: d.Has(e)})
	}
	draft := d.Record
	draft.At, draft.Sheet = p.Records.Now(), g.Sheet
	sheet := records.SheetOf(records.Entry{Record: &draft}, set)
	page.Rows, page.Trips = sheet.Readings, sheet.Trips
	page.Untested = draft.Untested()
	return p.fillSwitches(ctx, g, page)
}

func (p *Pages) fillSwitches(ctx context.Context, g plant.GaugeView, page *provePage) error {
	seen, err := p.Records.Seen(ctx, g, page.Draft)
	for i, point := range g.Sheet.Points {
		rising, falling := point.Trips()
		s := proveSwitch{Tag: point.Tag, Sheet: page.Units.LengthFine(rising) + " up, " + page.Units.LengthFine(falling) + " down", Operated: "worked by the float’s magnet"}
		if !point.ByFloat() {
			s.Operated = "has an element of its own"
		}
		if i < len(seen) {
			s.Seen = p.seenWords(&seen[i], page)
		}
		if page.Form.Step == "switch" && page.Form.get("switch") == point.Tag {
			s.Rising, s.Falling = page.Form.get("rising-"+point.Tag), page.Form.get("falling-"+point.Tag)
			s.WrongRising, s.WrongFalling = page.Form.Problems.Of("rising-"+point.Tag), page.Form.Problems.Of("falling-"+point.Tag)
		}
		page.Switches = append(page.Switches, s)
	}
	return err
}

func (p *Pages) seenWords(s *records.Seen, page *provePage) (words []string) {
	for _, c := range []struct {
		way    string
		change *record.Change
	}{{"rising", s.Rising}, {"falling", s.Falling}} {
		if c.change != nil {
			words = append(words, "at "+c.change.At.In(p.Zone.Location).Format("15:04:05")+" on "+c.way+" level, "+page.Units.LengthFine(c.change.Level)+
				" ± "+page.Units.LengthFine(c.change.U)+" by "+c.change.Witness)
		}
	}
	return words
}

// proveStep takes one step of a test.
func (p *Pages) proveStep(w http.ResponseWriter, r *http.Request) {
	g, ok := p.view(w, r)
	if !ok {
		return
	}
	f, status, ok := p.recording(r, r.PostFormValue("step"))
	if !ok {
		p.writeProve(w, r, status, g, f)
		return
	}
	to, err := p.takeStep(r.Context(), g, &f)
	if err != nil {
		f.refuse(err)
		status = http.StatusUnprocessableEntity
		if errors.Is(err, records.ErrMoved) || errors.Is(err, records.ErrUnder) {
			status = http.StatusConflict
		}
		p.writeProve(w, r, status, g, f)
		return
	}
	p.keepName(w, r, f.get("by"))
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// takeStep does what a form of the page asks for and returns where to go on.
func (p *Pages) takeStep(ctx context.Context, g plant.GaugeView, f *form) (to string, err error) {
	here := p.link(g.Sheet.Tag, "prove")
	seen, _ := strconv.ParseInt(f.get("seen"), 10, 64) // 0 when the form does not say: any version
	switch f.Step {
	case "begin":
		return here + "#readings", p.beginTest(ctx, g, f)
	case "take":
		return here + "#readings", p.takeReadings(ctx, g, seen, f)
	case "drop":
		n, err := strconv.Atoi(f.get("row"))
		if err != nil {
			return "", record.Problems{{Field: "row", Text: "there is no such row"}}
		}
		_, err = p.Records.Drop(ctx, g.Sheet.Tag, seen, n)
		return here + "#readings", err
	case "switch":
		return here + "#switches", p.takeSwitch(ctx, g, seen, f)
	case "finish":
		e, err := p.Records.Finish(ctx, g, seen, records.End{Work: f.get("work"), Remarks: f.get("remarks"), NotTested: lines(f.get("not_tested")), Witness: f.get("witness"),
			Accepted: f.get("accepted"), Instrument: f.get("instrument"), Return: f.get("return") != ""})
		return p.Base + "/records/" + strconv.Itoa(numberOf(e)) + "?done=booked", err
	case "discard":
		return here, p.Records.Discard(ctx, g.Sheet.Tag, seen)
	}
	return "", errors.New("the form did not say which step it is")
}

func numberOf(e records.Entry) int {
	if e.Record == nil {
		return 0
	}
	return e.Number
}

func (p *Pages) beginTest(ctx context.Context, g plant.GaugeView, f *form) error {
	s := records.Start{Kind: record.Kind(f.get("kind")), By: f.get("by"), Permit: f.get("permit"), Method: f.get("method"), Filling: f.get("way") == "filling",
		Isolate: f.get("isolate") != "", Confirmed: f.get("confirmed") != "",
		Reference: record.Reference{Description: f.get("reference"), Serial: f.get("serial"), Due: f.get("reference_due")}}
	s.Reference.U, _ = f.length("reference_u")
	s.Allowed, _ = f.length("allowed")
	s.TripsMay, _ = f.length("trips_may")
	if len(f.Problems) > 0 {
		return f.Problems
	}
	_, err := p.Records.Begin(ctx, g, s)
	return err
}

func (p *Pages) takeReadings(ctx context.Context, g plant.GaugeView, seen int64, f *form) error {
	reference, ok := f.length("reference_level")
	asked, known := f.length("asked")
	switch {
	case len(f.Problems) > 0:
		return f.Problems
	case !ok:
		return record.Problems{{Field: "reference_level", Text: "read the reference and write what it says"}}
	case !known:
		asked = reference
	}
	_, err := p.Records.Take(ctx, g, seen, records.Stop{Phase: record.Phase(f.get("phase")), Asked: asked, Reference: reference})
	return err
}

func (p *Pages) takeSwitch(ctx context.Context, g plant.GaugeView, seen int64, f *form) error {
	tag := f.get("switch")
	s := records.Switched{Phase: record.Phase(f.get("phase")), Tag: tag, FromHistory: f.get("use") == "seen"}
	for name, to := range map[string]**quantity.Length{"rising-" + tag: &s.Rising, "falling-" + tag: &s.Falling} {
		if l, ok := f.length(name); ok {
			*to = &l
		}
	}
	if len(f.Problems) > 0 {
		return f.Problems
	}
	_, err := p.Records.Switch(ctx, g, seen, s)
	return err
}

// lines splits a text into its lines that say something.
func lines(text string) []string {
	var out []string
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(line); line != "" {
			out = append(out, line)
		}
	}
	return out
}
