package page

import (
	"net/http"

	"bridlewatch/dashboards/api"
)

// interfacePage describes the programming interface for people.
type interfacePage struct {
	Shell
	Calls    []api.Call
	Document string
	Metrics  string
}

// Interface returns the page that describes the calls.
func (p *Pages) Interface(calls []api.Call) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		p.write(w, http.StatusOK, "interface", "layout", interfacePage{
			Shell: p.shell(r, navService, "Programming interface"), Calls: calls, Document: p.Base + api.Prefix + "/openapi.json", Metrics: p.Base + "/metrics",
		})
	}
}
