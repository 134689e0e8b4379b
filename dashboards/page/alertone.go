package page

import (
	"net/http"
	"net/url"
)

// alertPage is one alert with everything that happened to it.
type alertPage struct {
	Shell
	Desk     bool // it can be handled here
	Row      alertRow
	Form     actForm
	Comments []commentRow
	Journal  []journalRow
	Done     string
	Trouble  string
}

type commentRow struct{ Time, By, Text string }

func (p *Pages) oneAlert(id string) string { return p.Base + "/alerts/one?id=" + url.QueryEscape(id) }

func (p *Pages) alertOne(w http.ResponseWriter, r *http.Request) {
	desk, ok := p.desk()
	if !ok {
		p.notFound(w, r)
		return
	}
	id := r.URL.Query().Get("id")
	a, comments, err := desk.Alert(r.Context(), id)
	if err != nil {
		p.say(w, r, http.StatusNotFound, "There is no such alert", upperFirst(err.Error())+".")
		return
	}
	page := alertPage{
		Desk:  !p.ReadOnly,
		Shell: p.shell(r, navAlerts, "Alert of "+a.Gauge), Row: p.alertRow(a, p.Plant.Now()), Done: done[r.URL.Query().Get("done")],
		Form: actForm{Base: p.Base, AskName: p.Actor == nil, Alert: id, By: p.nameOf(r)},
	}
	page.Shell.Here = p.oneAlert(id)
	for _, c := range comments {
		page.Comments = append(page.Comments, commentRow{p.Zone.Full(c.Time), c.By, c.Text})
	}
	if page.Journal, err = p.journal(r.Context(), a.Raised.AddDate(-1, 0, 0), id); err != nil {
		page.Trouble = upperFirst(err.Error())
	}
	p.write(w, http.StatusOK, "alert", "layout", page)
}
