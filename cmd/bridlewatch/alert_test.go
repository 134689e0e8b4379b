package main

import (
	"bytes"
	"context"
	"encoding/json"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector/store/embedded"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/symptom"
	"bridlewatch/dashboards"
	"bridlewatch/dashboards/desk"
	"bridlewatch/dashboards/notify"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/plant/planttest"
)

// served is a service with two alerts, the address of its interface, and its
// desk.
func served(t *testing.T, o dashboards.Options) string {
	t.Helper()
	s, err := embedded.Open(t.Context(), embedded.Options{Dir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	outbox, err := notify.Open(t.Context(), s, []notify.Setting{{Name: "ops", Kind: "webhook", URL: "http://127.0.0.1:1/hook"}}, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	d, err := desk.Open(t.Context(), desk.Options{Store: s, Outbox: outbox, Now: func() time.Time { return planttest.Now },
		Gauges: []desk.Gauge{{Tag: "LG-102", Area: "unit 2"}, {Tag: "LG-107", Area: "unit 2"}}})
	if err != nil {
		t.Fatal(err)
	}
	for _, tag := range []string{"LG-102", "LG-107"} {
		d.Changed(t.Context(), planttest.Now, "opened", cause.Finding{ID: tag + "/1", Gauge: tag, Cause: cause.FloatStuck, Symptom: symptom.FloatStill, Suspect: cause.Float,
			Tier: cause.Alert, Value: 184 * quantity.Millimetre, Sentence: "Float is probably stuck.", Next: "Drain test, 10 min."}, "failure")
	}
	o.Store, o.Plant, o.Alerts = s, planttest.Varied(), d
	pages, err := dashboards.New(o)
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(pages.Handler())
	t.Cleanup(server.Close)
	t.Cleanup(func() { pages.Close() })
	return server.URL
}

// command runs one command line against a service.
func command(t *testing.T, server string, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, complaint bytes.Buffer
	code = run(t.Context(), append(args, "--server", server), &out, &complaint)
	return code, out.String(), complaint.String()
}

func TestAlertsAreHandledFromTheCommandLine(t *testing.T) {
	server := served(t, dashboards.Options{})
	steps := []struct {
		name string
		args []string
		code int
		says string
	}{
		{"list", []string{"alert", "list"}, exitOK, "Next: Drain test, 10 min."},
		{"acknowledge by gauge", []string{"alert", "ack", "LG-102", "--by", "technician", "--why", "on my way"}, exitOK, "by technician"},
		{"again", []string{"alert", "ack", "LG-102", "--by", "other"}, exitFailed, "technician has done so"},
		{"nobody", []string{"alert", "ack", "LG-107", "--by", ""}, exitFailed, "give your name"},
		{"assign", []string{"alert", "assign", "LG-102", "night shift", "--by", "a"}, exitOK, "With night shift"},
		{"show", []string{"alert", "show", "LG-102"}, exitOK, "technician: on my way"},
		{"shelve without end", []string{"alert", "shelve", "LG-107", "--by", "a", "--why", "spare ordered"}, exitUsage, "an end is missing"},
		{"shelve too long", []string{"alert", "shelve", "LG-107", "--by", "a", "--why", "spare ordered", "--for", "31d"}, exitFailed, "at most 30"},
		{"shelve", []string{"alert", "shelve", "LG-107", "--by", "a", "--why", "spare ordered", "--for", "3d"}, exitOK, "Quiet: shelved until"},
		{"quiet ones", []string{"alert", "list", "--quiet"}, exitOK, "spare ordered"},
		{"unshelve", []string{"alert", "unshelve", "LG-107", "--by", "a"}, exitOK, "unacknowledged"},
		{"out of service", []string{"alert", "out-of-service", "LG-107", "--by", "a", "--why", "at the workshop"}, exitOK, "Quiet: out of service by a"},
		{"back", []string{"alert", "back", "LG-107", "--by", "a"}, exitOK, "unacknowledged"},
		{"visit while there", []string{"alert", "visit", "LG-107", "--by", "a", "--why", "looked"}, exitFailed, "still there"},
		{"unknown", []string{"alert", "ack", "LG-999", "--by", "a"}, exitFailed, "no such alert"},
		{"journal", []string{"alert", "journal"}, exitOK, "assigned to night shift"},
		{"load", []string{"alert", "load"}, exitOK, "Open                      2, 1 of them not acknowledged"},
		{"routes", []string{"alert", "routes"}, exitOK, "http://127.0.0.1:1"},
		{"trial of a dead route", []string{"alert", "test", "ops", "--by", "a"}, exitFailed, "connection refused"},
		{"trial of no route", []string{"alert", "test", "pigeon", "--by", "a"}, exitFailed, "no route"},
		{"no windows", []string{"quiet", "list"}, exitOK, "There is no quiet window."},
		{"window without end", []string{"quiet", "add", "--gauge", "LG-102", "--why", "open", "--by", "a", "--until-clear"}, exitUsage, "needs an end"},
		{"window about everything", []string{"quiet", "add", "--for", "8h", "--why", "open", "--by", "a"}, exitFailed, "about everything"},
		{"window", []string{"quiet", "add", "--name", "turnaround", "--area", "unit 2", "--for", "8h", "--why", "vessel open", "--by", "planner"}, exitOK, "keeps quiet now: LG-102: float stuck"},
		{"end", []string{"quiet", "end", "turnaround", "--by", "planner"}, exitOK, "ended"},
		{"end again", []string{"quiet", "end", "turnaround", "--by", "planner"}, exitFailed, "has ended already"},
	}
	for _, s := range steps {
		t.Run(s.name, func(t *testing.T) {
			code, out, complaint := command(t, server, s.args...)
			if code != s.code || !strings.Contains(out+complaint, s.says) {
				t.Errorf("exit %d, want %d; %q is not in\n%s%s", code, s.code, s.says, out, complaint)
			}
		})
	}
}

func TestAlertListIsJSON(t *testing.T) {
	server := served(t, dashboards.Options{})
	_, out, _ := command(t, server, "alert", "list", "--output", "json")
	var list []plant.Alert
	if err := json.Unmarshal([]byte(out), &list); err != nil || len(list) != 2 || list[0].ValueMM != 184 {
		t.Errorf("%v: %s", err, out)
	}
}

func TestWhoMayHandleAlerts(t *testing.T) {
	rows := []struct {
		name string
		o    dashboards.Options
		args []string
		says string
	}{
		{"viewer", dashboards.Options{Actor: as("a", plant.Viewer)}, []string{"alert", "ack", "LG-102"}, "needs the role technician"},
		{"technician", dashboards.Options{Actor: as("Technician T", plant.Technician)}, []string{"alert", "ack", "LG-102", "--by", "somebody else"}, "by Technician T"},
		{"technician and windows", dashboards.Options{Actor: as("a", plant.Technician)}, []string{"quiet", "add", "--gauge", "LG-102", "--for", "8h", "--why", "x"}, "needs the role engineer"},
		{"technician and service", dashboards.Options{Actor: as("a", plant.Technician)}, []string{"alert", "out-of-service", "LG-102", "--why", "x"}, "needs the role engineer"},
		{"nobody logged in", dashboards.Options{Actor: nobody}, []string{"alert", "ack", "LG-102"}, "log in"},
		{"read only", dashboards.Options{ReadOnly: true}, []string{"alert", "ack", "LG-102", "--by", "a"}, "read only"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			_, out, complaint := command(t, served(t, row.o), row.args...)
			if !strings.Contains(out+complaint, row.says) {
				t.Errorf("%q is not in %s%s", row.says, out, complaint)
			}
		})
	}
}

func as(name, role string) plant.Actor {
	return func(*http.Request) (string, string, bool) { return name, role, true }
}

func nobody(*http.Request) (name, role string, ok bool) { return "", "", false }

// TestANameByHandIsTakenHereOnly: without log-in anybody could sign with any
// name, so only this machine may.
func TestANameByHandIsTakenHereOnly(t *testing.T) {
	here := &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 8080}
	rows := []struct {
		name          string
		at            net.Addr
		from, forward string
		ok            bool
	}{
		{"this machine", here, "127.0.0.1:50000", "", true},
		{"through a proxy on this machine", here, "127.0.0.1:50000", "192.0.2.7", false},
		{"another machine", &net.TCPAddr{IP: net.IPv4(192, 0, 2, 1), Port: 8080}, "192.0.2.7:50000", "", false},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			r := httptest.NewRequest(http.MethodPost, "/", nil)
			r = r.WithContext(context.WithValue(r.Context(), http.LocalAddrContextKey, row.at))
			r.RemoteAddr = row.from
			if row.forward != "" {
				r.Header.Set("X-Forwarded-For", row.forward)
			}
			name, err := plant.Who(nil, r, "technician", plant.Technician)
			if (err == nil) != row.ok || row.ok && name != "technician" {
				t.Errorf("name %q, %v", name, err)
			}
		})
	}
}
