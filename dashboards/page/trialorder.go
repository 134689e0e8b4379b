package page

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/record"
	"bridlewatch/compare/scenario"
	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/trials"
)

// orderTrials begins or cancels an order.
func (p *Pages) orderTrials(w http.ResponseWriter, r *http.Request) {
	g, ok := p.view(w, r)
	if !ok {
		return
	}
	if _, ok := p.posted(w, r); !ok {
		return
	}
	f := form{Step: "order", Sent: r.PostForm}
	by := access.From(r.Context())
	switch {
	case p.Trials == nil || p.ReadOnly:
		f.Trouble = "Nothing can be ordered here."
	case f.get("do") == "cancel":
		if err := p.Trials.Cancel(r.Context(), by, g.Sheet.Tag); err != nil {
			f.refuse(err)
		}
	default:
		order, ok := p.orderOf(g.Sheet, &f)
		if !ok {
			break
		}
		if err := p.Trials.Start(r.Context(), by, order); err != nil {
			f.refuse(err)
		}
	}
	if f.Trouble != "" || len(f.Problems) > 0 {
		p.writeTrials(w, r, http.StatusUnprocessableEntity, f)
		return
	}
	http.Redirect(w, r, strings.TrimSuffix(p.link(g.Sheet.Tag, "trial"), "/")+"#run", http.StatusSeeOther)
}

// orderOf reads an order from its form.
func (p *Pages) orderOf(sheet *datasheet.Sheet, f *form) (o trials.Order, ok bool) {
	wrong := func(field, format string, a ...any) {
		f.Problems = append(f.Problems, record.Problem{Field: field, Text: fmt.Sprintf(format, a...)})
	}
	day := func(name string) time.Time {
		t, err := time.ParseInLocation(time.DateOnly, f.get(name), p.Zone.Location)
		if err != nil {
			wrong(name, "%q is no day; write it like 2026-03-02", f.get(name))
		}
		return t
	}
	days := func(name string) time.Duration {
		v, err := strconv.ParseFloat(f.get(name), 64)
		if err != nil || !(v > 0 && v <= trials.MostDays) {
			wrong(name, "%q is no number of days above 0 and up to %d", f.get(name), trials.MostDays)
			return 0
		}
		return time.Duration(v * 24 * float64(time.Hour))
	}
	o = trials.Order{Gauge: sheet.Tag, From: day("from"), To: day("to").AddDate(0, 0, 1), Before: days("before"), Watch: days("watch")}
	if text := f.get("at"); text != "" {
		at, err := time.ParseInLocation(localTime, text, p.Zone.Location)
		if err != nil {
			wrong("at", "%q is no time; write it like 2026-03-02T06:00", text)
		}
		o.At = []time.Time{at}
	} else if n, err := strconv.Atoi(f.get("times")); err != nil || n < 1 || n > trials.MostTimes {
		wrong("times", "%q is no number from 1 to %d", f.get("times"), trials.MostTimes)
	} else {
		o.Times = n
	}
	p.faultOf(sheet, f, &o, wrong)
	return o, len(f.Problems) == 0
}

// faultOf reads which fault is tried, in which size.
func (p *Pages) faultOf(sheet *datasheet.Sheet, f *form, o *trials.Order, wrong func(field, format string, a ...any)) {
	text, size := f.get("fault"), f.get("size")
	switch {
	case text == "" && size != "":
		wrong("size", "a size is for one fault; choose it, or leave the size empty")
		return
	case text == "":
		return
	case size != "":
		text += "=" + strings.ReplaceAll(size, " ", "")
	}
	fault, err := scenario.ParseFault(sheet.Tag + ":" + text)
	if err == nil && fault.Delay > 0 {
		err = fmt.Errorf("a fault has no delay here; it begins at the time given")
	}
	if err == nil {
		_, err = scenario.NewGraft(sheet, fault, time.Time{}, 0)
	}
	if err != nil {
		wrong(map[bool]string{true: "size", false: "fault"}[size != ""], "%s", err)
		return
	}
	o.Faults = []scenario.Fault{fault}
}
