package page

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"bridlewatch/compare/record"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/records"
)

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
