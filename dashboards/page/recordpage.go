package page

import (
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"strconv"
	"strings"

	"bridlewatch/compare/record"
	"bridlewatch/dashboards/drawing"
	"bridlewatch/dashboards/records"
	"bridlewatch/dashboards/times"
)

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
