package access

import (
	"maps"
	"slices"
	"strings"
)

// Need is what an address asks of whoever calls it.
type Need struct {
	Role    Role   // of people; Nobody: open to everybody
	Scope   Scope  // of tokens; "": no token is taken
	Here    bool   // this machine itself needs neither
	Session bool   // it matters who asks, though everybody may
	What    string // changes: what is written into the audit log; "" when whoever answers writes it, or nothing of the plant's is changed
}

var (
	toAll     = Need{}
	toAnybody = Need{Session: true}
	toViewers = Need{Role: Viewer, Scope: Read}
	toAdmins  = Need{Role: Admin, Scope: Management}
	toMyself  = Need{Role: Viewer} // people only
)

// needs is the table: method and pattern as they are registered, and what they
// need. An address that is not in it is refused.
var needs = map[string]Need{
	"GET /healthz": toAll,
	"GET /readyz":  {Role: Viewer, Scope: Read, Here: true}, // its reasons name sources
	"GET /s/":      toAll,                                   // static files
	"GET /metrics": {Role: Viewer, Scope: Read, Here: true},

	"GET /login":             toAnybody,
	"POST /login":            toAnybody,
	"POST /logout":           toAnybody,
	"POST /preferences":      toAll, // kept in the browser
	"GET /account":           toMyself,
	"POST /account/password": toMyself,

	"GET /{$}":                    toViewers,
	"GET /":                       toViewers,
	"GET /find":                   toViewers,
	"GET /gauge/{tag}":            toViewers,
	"GET /gauge/{tag}/events":     toViewers,
	"GET /gauge/{tag}/trend":      toViewers,
	"GET /gauge/{tag}/trend.json": toViewers,
	"GET /gauge/{tag}/trend.csv":  toViewers,
	"GET /gauge/{tag}/compare":    toViewers,
	"GET /gauge/{tag}/rewind":     toViewers,
	"GET /gauge/{tag}/settle":     toViewers,
	"GET /gauge/{tag}/proven":     toViewers,
	"GET /gauge/{tag}/blind":      toViewers,
	"GET /gauge/{tag}/trial":      toViewers,
	"POST /gauge/{tag}/trial":     {Role: Engineer, Scope: Recording}, // it takes the box some time
	"GET /plant":                  toViewers,
	"GET /walk":                   toViewers,
	"GET /service":                toViewers,
	"GET /fleet":                  toViewers,
	"GET /fleet/box":              toViewers,
	"POST /service/trust":         toAdmins,
	"GET /interface":              toViewers,

	"GET /alerts":               toViewers,
	"GET /alerts/one":           toViewers,
	"POST /alerts/act":          {Role: Technician, Scope: Alerting, What: "acted on the alert"},
	"POST /alerts/quiet":        {Role: Engineer, Scope: Alerting, What: "added the quiet window"},
	"POST /alerts/quiet/end":    {Role: Engineer, Scope: Alerting, What: "ended the quiet window"},
	"POST /alerts/routes/trial": {Role: Engineer, Scope: Alerting, What: "sent a trial message"},

	"GET /records":               toViewers,
	"GET /records/{number}":      toViewers,
	"GET /records/{number}/pdf":  toViewers,
	"GET /records/{number}/json": toViewers,
	"GET /gauge/{tag}/record":    toViewers,
	"POST /gauge/{tag}/record":   {Role: Technician, Scope: Recording, What: "booked a record of the gauge"},
	"GET /gauge/{tag}/prove":     toViewers,
	"POST /gauge/{tag}/prove":    {Role: Technician, Scope: Recording, What: "took a step of the test of the gauge"},

	"GET /imports":      {Role: Engineer, Scope: Recording},
	"POST /imports":     {Role: Engineer, Scope: Recording},
	"POST /imports/act": {Role: Engineer, Scope: Recording},

	"GET /users":          toAdmins,
	"POST /users":         toAdmins,
	"POST /users/change":  toAdmins,
	"GET /tokens":         toAdmins,
	"POST /tokens":        toAdmins,
	"POST /tokens/revoke": toAdmins,
	"GET /audit":          toAdmins,

	"GET /api/v1/openapi.json":          toViewers,
	"GET /api/v1/openapi.yaml":          toViewers,
	"GET /api/v1/openapi-3.0.json":      toViewers,
	"GET /api/v1/openapi-3.0.yaml":      toViewers,
	"GET /api/v1/gauges":                toViewers,
	"GET /api/v1/gauges/{tag}":          toViewers,
	"GET /api/v1/gauges/{tag}/evidence": toViewers,
	"GET /api/v1/gauges/{tag}/tests":    toViewers,
	"GET /api/v1/gauges/{tag}/proven":   toViewers,
	"GET /api/v1/gauges/{tag}/blind":    toViewers,
	"GET /api/v1/gauges/{tag}/trend":    toViewers,
	"GET /api/v1/gauges/{tag}/events":   toViewers,
	"GET /api/v1/gauges/{tag}/drawing":  toViewers,
	"GET /api/v1/findings":              toViewers,
	"GET /api/v1/alerts":                toViewers,
	"GET /api/v1/alerts/quiet":          toViewers,
	"GET /api/v1/alerts/journal":        toViewers,
	"GET /api/v1/alerts/load":           toViewers,
	"GET /api/v1/alert":                 toViewers,
	"GET /api/v1/quiet":                 toViewers,
	"GET /api/v1/routes":                toViewers,
	"POST /api/v1/alert/act":            {Role: Technician, Scope: Alerting, What: "acted on the alert"},
	"POST /api/v1/quiet/add":            {Role: Engineer, Scope: Alerting, What: "added the quiet window"},
	"POST /api/v1/quiet/end":            {Role: Engineer, Scope: Alerting, What: "ended the quiet window"},
	"POST /api/v1/routes/trial":         {Role: Engineer, Scope: Alerting, What: "sent a trial message"},
	"GET /api/v1/health":                toViewers,

	"GET /api/v1/records":                     toViewers,
	"GET /api/v1/records/{number}":            toViewers,
	"GET /api/v1/records/{number}/pdf":        toViewers,
	"GET /api/v1/records/verification":        toViewers,
	"GET /api/v1/records/due":                 toViewers,
	"POST /api/v1/records":                    {Role: Technician, Scope: Recording, What: "booked a record"},
	"GET /api/v1/gauges/{tag}/test":           toViewers,
	"POST /api/v1/gauges/{tag}/test":          {Role: Technician, Scope: Recording, What: "began a test of the gauge"},
	"POST /api/v1/gauges/{tag}/test/readings": {Role: Technician, Scope: Recording, What: "took readings in the test of the gauge"},
	"POST /api/v1/gauges/{tag}/test/switch":   {Role: Technician, Scope: Recording, What: "recorded a switch in the test of the gauge"},
	"POST /api/v1/gauges/{tag}/test/end":      {Role: Technician, Scope: Recording, What: "ended the test of the gauge"},

	"GET /api/v1/imports":      {Role: Engineer, Scope: Recording},
	"POST /api/v1/imports":     {Role: Engineer, Scope: Recording},
	"POST /api/v1/imports/act": {Role: Engineer, Scope: Recording},

	"GET /api/v1/users":                 toAdmins,
	"POST /api/v1/users":                toAdmins,
	"PUT /api/v1/users/{name}/role":     toAdmins,
	"PUT /api/v1/users/{name}/password": toAdmins,
	"DELETE /api/v1/users/{name}":       toAdmins,
	"GET /api/v1/tokens":                toAdmins,
	"POST /api/v1/tokens":               toAdmins,
	"DELETE /api/v1/tokens/{name}":      toAdmins,
	"GET /api/v1/audit":                 toAdmins,
	"GET /api/v1/audit/verification":    toAdmins,
}

// NeedOf returns what a pattern needs; ok is false when it is not in the
// table.
func NeedOf(pattern string) (n Need, ok bool) {
	n, ok = needs[staticPattern(pattern)]
	return n, ok
}

// staticPattern takes the hash out of the address of the static files.
func staticPattern(pattern string) string {
	if strings.HasPrefix(pattern, "GET /s/") {
		return "GET /s/"
	}
	return pattern
}

// Row is the row of the table a pattern has.
func Row(pattern string) string { return staticPattern(pattern) }

// Table lists the patterns of the table, in order.
func Table() []string { return slices.Sorted(maps.Keys(needs)) }
