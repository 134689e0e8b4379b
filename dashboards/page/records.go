package page

import (
	"context"
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"bridlewatch/compare/record"
	"bridlewatch/dashboards/drawing"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/records"
	"bridlewatch/dashboards/times"
)

// recordsPage lists what people did, or when each gauge was last verified.
type recordsPage struct {
	Shell
	View    string
	Tabs    []tab
	Gauge   string
	Kind    record.Kind
	By      string
	From    string
	To      string
	Kinds   []record.Kind
	Gauges  []string
	Rows    []recordRow
	Due     []dueRow
	Chain   string
	Broken  bool
	Trouble string
	Done    string
	More    bool // there are older ones
}

type recordRow struct {
	Number                        int
	Link, At, Gauge, GaugeLink    string
	Kind, Instrument, By, Summary string
	Outside                       bool
}

type dueRow struct{ Gauge, Link, Service, Area, Last, Age, LastLink, ProveLink string }

// listed at most.
const mostRecords = 200

func (p *Pages) records(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	page := recordsPage{Shell: p.shell(r, navRecords, "Records"), View: q.Get("view"), Gauge: q.Get("gauge"), Kind: record.Kind(q.Get("kind")), By: q.Get("by"),
		From: q.Get("from"), To: q.Get("to"), Kinds: record.Kinds()}
	for _, t := range []struct{ name, view string }{{"Records", ""}, {"When last verified", "due"}, {"Chain", "chain"}} {
		link := p.Base + "/records"
		if t.view != "" {
			link += "?view=" + t.view
		}
		page.Tabs = append(page.Tabs, tab{Name: t.name, Link: link, Here: t.view == page.View})
	}
	for _, g := range p.Plant.Gauges() {
		page.Gauges = append(page.Gauges, g.Sheet.Tag)
	}
	var err error
	switch page.View {
	case "due":
		err = p.fillDue(r, &page)
	case "chain":
		p.fillChain(r, &page)
	default:
		err = p.fillRecords(r, &page)
	}
	if err != nil {
		page.Trouble = upperFirst(err.Error()) + "."
	}
	p.write(w, http.StatusOK, "records", "layout", page)
}

func (p *Pages) fillRecords(r *http.Request, page *recordsPage) error {
	f := records.Filter{Gauge: page.Gauge, Kind: page.Kind, By: strings.TrimSpace(page.By), Limit: mostRecords + 1}
	var err error
	if f.From, err = p.day(page.From, 0); err != nil {
		return err
	}
	if f.To, err = p.day(page.To, 1); err != nil {
		return err
	}
	list, err := p.Records.List(r.Context(), f)
	if err != nil {
		return err
	}
	if page.More = len(list) > mostRecords; page.More {
		list = list[:mostRecords]
	}
	for _, e := range list {
		page.Rows = append(page.Rows, p.recordRow(e))
	}
	return nil
}

// fillChain verifies all records.
func (p *Pages) fillChain(r *http.Request, page *recordsPage) {
	n, hash, err := p.Records.Verify(r.Context())
	switch {
	case err != nil:
		page.Broken, page.Chain = true, upperFirst(err.Error())+"."
	case n == 0:
		page.Chain = "There is no record yet."
	default:
		page.Chain = fmt.Sprintf("The chain holds from record 1 to record %d. SHA-256 of the newest: %s.", n, hash)
	}
}

func (p *Pages) recordRow(e records.Entry) recordRow {
	return recordRow{
		Number: e.Number, Link: p.recordLink(e.Number), At: times.Zone{Location: e.At.Location()}.Full(e.At), Gauge: e.Gauge, GaugeLink: p.link(e.Gauge),
		Kind: string(e.Kind), Instrument: e.Instrument, By: e.By, Summary: upperFirst(e.Summary()),
		Outside: e.Tally(record.AsFound).Outside+e.Tally(record.AsLeft).Outside > 0,
	}
}

// fillLastRecord shows what was done last. A book that cannot be read is
// reported by the page of records; the gauge is shown all the same.
func (p *Pages) fillLastRecord(ctx context.Context, page *gaugePage) {
	page.Records = p.Base + "/records?gauge=" + url.QueryEscape(page.Tag)
	if list, err := p.Records.List(ctx, records.Filter{Gauge: page.Tag, Limit: 1}); err == nil && len(list) > 0 {
		row := p.recordRow(list[0])
		page.Record = &row
	}
	_, err := p.Records.Draft(ctx, page.Tag)
	page.UnderWay = err == nil
}

func (p *Pages) recordLink(n int) string { return p.Base + "/records/" + strconv.Itoa(n) }

// day reads a date of the plant and moves it by whole days.
func (p *Pages) day(text string, more int) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	t, err := time.ParseInLocation(time.DateOnly, text, p.Zone.Location)
	if err != nil {
		return t, fmt.Errorf("%q is no date; write it like 2026-11-25", text)
	}
	return t.AddDate(0, 0, more), nil
}

func (p *Pages) fillDue(r *http.Request, page *recordsPage) error {
	due, err := p.Records.Due(r.Context())
	now := p.Plant.Now()
	for _, d := range due {
		row := dueRow{Gauge: d.Gauge, Link: p.link(d.Gauge), Service: d.Service, Area: d.Area, Last: "never, as far as these records go back", ProveLink: p.link(d.Gauge, "prove")}
		if d.Last != nil {
			row.Last, row.LastLink = p.Zone.Short(d.Last.At, now)+", "+string(d.Last.Kind), p.recordLink(d.Last.Number)
			row.Age = fmt.Sprintf("%d d", int(now.Sub(d.Last.At).Hours()/24))
		}
		page.Due = append(page.Due, row)
	}
	return err
}

// recordPage is one record: the accessible twin of the printed one.
type recordPage struct {
	Shell
	records.Sheet
	Phases            []phaseView
	GaugeLink, PDF    string
	JSON, CorrectLink string
	Before            string // address of the record before
	After             string
	Corrected         string // address of the record this one puts right
	Drawing           template.HTML
	PictureAt         string
	Caution, Rule     string
	Evidence          string
	Done              string
}

// phaseView is what was found or left.
type phaseView struct {
	Phase           record.Phase
	Readings, Trips []records.Line
}

func (p *Pages) entry(w http.ResponseWriter, r *http.Request) (e records.Entry, ok bool) {
	n, err := strconv.Atoi(r.PathValue("number"))
	if err == nil {
		e, err = p.Records.Get(r.Context(), n)
	}
	switch {
	case err == nil:
		return e, true
	case errors.Is(err, records.ErrNone) || errors.Is(err, strconv.ErrSyntax) || errors.Is(err, strconv.ErrRange):
		p.say(w, r, http.StatusNotFound, "There is no record "+r.PathValue("number"), "Records count from 1 without gaps. The list of records is one step away.")
	default:
		p.say(w, r, http.StatusInternalServerError, "The record could not be read", upperFirst(err.Error())+".")
	}
	return e, false
}

func (p *Pages) showRecord(w http.ResponseWriter, r *http.Request) {
	e, ok := p.entry(w, r)
	if !ok {
		return
	}
	shell := p.shell(r, navRecords, fmt.Sprintf("Record %d, %s", e.Number, e.Gauge))
	page := recordPage{Shell: shell, Sheet: records.SheetOf(e, shell.Units), GaugeLink: p.link(e.Gauge), PDF: p.recordLink(e.Number) + "/pdf?units=" + shell.Units.Name,
		JSON: p.recordLink(e.Number) + "/json", CorrectLink: p.link(e.Gauge, "record") + "?corrects=" + strconv.Itoa(e.Number),
		Caution: record.Caution, Rule: record.Rule, Evidence: record.Evidence, Done: bookedWords(r)}
	if e.Previous > 0 {
		page.Before = p.recordLink(e.Previous)
	}
	if _, err := p.Records.Get(r.Context(), e.Number+1); err == nil {
		page.After = p.recordLink(e.Number + 1)
	}
	if e.Corrects > 0 {
		page.Corrected = p.recordLink(e.Corrects)
	}
	page.fillPhases()
	if scene, ok := records.SceneOf(e.Record, shell.Units); ok {
		page.Drawing = picture("record-wide", scene, drawing.Wide) + picture("record-narrow", scene, drawing.Narrow)
		page.PictureAt = times.Zone{Location: e.At.Location()}.Full(e.Picture.At)
	}
	p.write(w, http.StatusOK, "record", "layout", page)
}

// bookedWords confirms what was just booked.
func bookedWords(r *http.Request) string {
	if r.URL.Query().Get("done") == "booked" {
		return "The record is booked."
	}
	return ""
}

func (page *recordPage) fillPhases() {
	for _, phase := range []record.Phase{record.AsFound, record.AsLeft} {
		v := phaseView{Phase: phase}
		for _, l := range page.Readings {
			if l.Phase == phase {
				v.Readings = append(v.Readings, l)
			}
		}
		for _, l := range page.Sheet.Trips {
			if l.Phase == phase {
				v.Trips = append(v.Trips, l)
			}
		}
		if len(v.Readings)+len(v.Trips) > 0 {
			page.Phases = append(page.Phases, v)
		}
	}
}

// recordPDF serves the printed form.
func (p *Pages) recordPDF(w http.ResponseWriter, r *http.Request) {
	e, ok := p.entry(w, r)
	if !ok {
		return
	}
	body, err := records.PDF(e, preferencesOf(r).units)
	if err != nil {
		p.say(w, r, http.StatusInternalServerError, "The record could not be printed", upperFirst(err.Error())+".")
		return
	}
	w.Header().Set("Content-Type", "application/pdf")
	w.Header().Set("Content-Disposition", fmt.Sprintf(`inline; filename="record-%d-%s.pdf"`, e.Number, fileName(e.Gauge)))
	_, _ = w.Write(body) // the reader has gone away
}

// recordJSON serves the stored bytes, whose SHA-256 is the hash of the record.
func (p *Pages) recordJSON(w http.ResponseWriter, r *http.Request) {
	e, ok := p.entry(w, r)
	if !ok {
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("X-Record-SHA256", e.Hash)
	_, _ = w.Write(e.Body) // the reader has gone away
}

// fileName keeps of a tag what a file may be called.
func fileName(tag string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '_', r == '.':
			return r
		}
		return '-'
	}, tag)
}

// newRecordPage is the form for a record without readings.
type newRecordPage struct {
	Shell
	gaugeHead
	Form        form
	Kinds       []record.Kind
	Instruments []string
	Corrects    string
	Caution     string
	AskName     bool
	Name        string
	Now         string
	ProveLink   string
	Isolated    bool
}

const localTime = "2006-01-02T15:04"

func (p *Pages) newRecord(w http.ResponseWriter, r *http.Request) {
	if g, ok := p.view(w, r); ok {
		p.writeNewRecord(w, r, http.StatusOK, g, form{})
	}
}

func (p *Pages) writeNewRecord(w http.ResponseWriter, r *http.Request, status int, g plant.GaugeView, f form) {
	page := newRecordPage{Shell: p.shell(r, navRecords, g.Sheet.Tag+" new record"), gaugeHead: p.head(g, "record"), Form: f, Instruments: records.Instruments(g),
		Corrects: r.FormValue("corrects"), Caution: record.Caution, AskName: p.Actor == nil, Name: p.nameOf(r), Now: p.Records.Now().Format(localTime), ProveLink: p.link(g.Sheet.Tag, "prove"),
		Isolated: g.Result.Measurement.Isolated}
	for _, k := range record.Kinds() {
		if !k.Verifies() {
			page.Kinds = append(page.Kinds, k)
		}
	}
	page.Form.Units = page.Units
	p.write(w, status, "newrecord", "layout", page)
}

// addRecord books a record without readings.
func (p *Pages) addRecord(w http.ResponseWriter, r *http.Request) {
	g, ok := p.view(w, r)
	if !ok {
		return
	}
	f, status, ok := p.recording(r, "record")
	if ok {
		e, err := p.book(r, g, &f)
		if e.Record != nil { // even when nobody could be told
			p.keepName(w, r, f.get("by"))
			http.Redirect(w, r, p.recordLink(e.Number)+"?done=booked", http.StatusSeeOther)
			return
		}
		f.refuse(err)
		status = http.StatusUnprocessableEntity
	}
	p.writeNewRecord(w, r, status, g, f)
}

func (p *Pages) book(r *http.Request, g plant.GaugeView, f *form) (records.Entry, error) {
	rec := record.Record{Kind: record.Kind(f.get("kind")), Gauge: g.Sheet.Tag, Instrument: f.get("instrument"), By: f.get("by"), Permit: f.get("permit"), Work: f.get("work"), Remarks: f.get("remarks")}
	if at := f.get("at"); at != "" {
		t, err := time.ParseInLocation(localTime, at, p.Zone.Location)
		if err != nil {
			return records.Entry{}, record.Problems{{Field: "at", Text: "this is no time; write it like 2026-11-25T08:05"}}
		}
		if now := p.Records.Now(); now.Sub(t) >= 0 && now.Sub(t) < time.Minute {
			t = now // the minute offered by the form
		}
		rec.At = t
	}
	if text := f.get("corrects"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 {
			return records.Entry{}, record.Problems{{Field: "corrects", Text: "give the number of a record of this gauge, or nothing"}}
		}
		rec.Corrects = n
	}
	return p.Records.Add(r.Context(), rec)
}

// recording reads a form and finds out who sent it; the name is then that of
// whoever is logged in. When ok is false the form says why, and status is what
// to answer with.
func (p *Pages) recording(r *http.Request, step string) (f form, status int, ok bool) {
	if err := r.ParseForm(); err != nil {
		return form{Trouble: "The form was not understood: " + err.Error()}, http.StatusBadRequest, false
	}
	f = form{Step: step, Sent: url.Values{}, Units: preferencesOf(r).units}
	for name, values := range r.PostForm {
		f.Sent[name] = values
	}
	if p.ReadOnly {
		f.refuse(records.ErrReadOnly)
		return f, http.StatusForbidden, false
	}
	who, err := plant.Who(p.Actor, r, f.get("by"), plant.Technician)
	if err == nil {
		f.Sent.Set("by", who)
		return f, http.StatusOK, true
	}
	status = http.StatusUnprocessableEntity
	var role *plant.RoleError
	if errors.As(err, &role) {
		status = http.StatusForbidden
	}
	if p.Actor == nil && f.get("by") == "" {
		f.Problems = record.Problems{{Field: "by", Text: "give your name; the record keeps it"}}
	} else {
		f.refuse(err)
	}
	return f, status, false
}

// keepName remembers the name given by hand.
func (p *Pages) keepName(w http.ResponseWriter, r *http.Request, name string) {
	if p.Actor == nil {
		http.SetCookie(w, &http.Cookie{Name: nameCookie, Value: url.QueryEscape(name), Path: p.Base + "/", MaxAge: int((90 * 24 * time.Hour).Seconds()), HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: r.TLS != nil})
	}
}
