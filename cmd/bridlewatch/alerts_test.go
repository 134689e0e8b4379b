package main

import (
	"encoding/json"
	"log/slog"
	"os"
	"path/filepath"
	"testing"
	"time"

	"bridlewatch/cmd/bridlewatch/rehearsal"
	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/compare/quantity"
	"bridlewatch/config"
	"bridlewatch/dashboards/notify"
	"bridlewatch/dashboards/records"
)

// everyRoute is one route of each kind as people write them.
const everyRoute = `
notify:
  - {name: desk, kind: webhook, url: "https://desk.example/hook", areas: ["boiler house, level 4"], ended: false}
  - {name: on call, kind: alertmanager, url: "https://on-call.example", repeat_every: 30 min}
  - {name: shift, kind: smtp, url: "smtp://mail.example:587", from: levels@works.example, to: [shift@works.example], watches: true}
  - {name: bus, kind: mqtt, url: "mqtts://broker.example:8883"}
  - {name: log host, kind: syslog, url: "syslog+tls://log.example:6514"}
quiet:
  - {name: turnaround, gauges: [LG-201], from: "2026-04-06T06:00:00+02:00", until: "2026-04-20T06:00:00+02:00", reason: vessel open}
`

func withRoutes(t *testing.T) *config.Config {
	t.Helper()
	file := filepath.Join(t.TempDir(), "bridlewatch.yaml")
	if err := os.WriteFile(file, append(rehearsal.PlantYAML(), everyRoute...), 0o600); err != nil {
		t.Fatal(err)
	}
	cfg, err := config.Load(config.LoadOptions{File: file, WithoutSecrets: true})
	if err != nil {
		t.Fatal(err)
	}
	return cfg
}

func TestEveryConfiguredRouteIsMade(t *testing.T) {
	cfg := withRoutes(t)
	s, err := embedded.Open(t.Context(), embedded.Options{Dir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	settings := routeSettings(cfg)
	o, err := notify.Open(t.Context(), s, settings, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	health := o.Health()
	if len(health) != 5 {
		t.Fatalf("routes %+v", health)
	}
	for i, want := range []notify.Health{
		{Name: "desk", Kind: "webhook", To: "https://desk.example"},
		{Name: "on call", Kind: "alertmanager", To: "https://on-call.example"},
		{Name: "shift", Kind: "smtp", To: "smtp://mail.example:587"},
		{Name: "bus", Kind: "mqtt", To: "mqtts://broker.example:8883"},
		{Name: "log host", Kind: "syslog", To: "syslog+tls://log.example:6514"},
	} {
		if health[i] != want {
			t.Errorf("route %+v, want %+v", health[i], want)
		}
	}
	if desk, shift, bus := settings[0], settings[2], settings[3]; desk.Ended || desk.Areas[0] != "boiler house, level 4" || !shift.Watches || !shift.Ended || bus.Topic != "bridlewatch" || bus.Client != cfg.Site.Name+"/"+cfg.Site.Box {
		t.Errorf("settings %+v", settings)
	}
	if settings[1].RepeatEvery != 30*time.Minute {
		t.Errorf("repeated every %s", settings[1].RepeatEvery)
	}
}

func TestWhatTheDeskIsTold(t *testing.T) {
	cfg := withRoutes(t)
	w := quietWindows(cfg)
	if len(w) != 1 || w[0].ID != "turnaround" || w[0].By != "configuration" || w[0].Gauges[0] != "LG-201" || w[0].Until.Sub(w[0].From) != 14*24*time.Hour {
		t.Errorf("windows %+v", w)
	}
	gauges := deskGauges(cfg)
	if len(gauges) != len(cfg.Gauges) || gauges[0].Tag != cfg.Gauges[0].Sheet.Tag || gauges[0].Drift != 25*quantity.Millimetre {
		t.Errorf("gauges %+v", gauges[0])
	}
}

// TestAGuidedTestLeftLyingIsNoTest: a test under way keeps its gauge quiet, one
// nobody went on with for hours does not.
func TestAGuidedTestLeftLyingIsNoTest(t *testing.T) {
	s, err := embedded.Open(t.Context(), embedded.Options{Dir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	now := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
	for _, d := range []struct {
		gauge string
		open  bool
		ago   time.Duration
	}{{"LG-101", true, time.Hour}, {"LG-102", false, time.Hour}, {"LG-103", true, 5 * time.Hour}} {
		body, err := json.Marshal(records.Draft{Open: d.open})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := s.Put(t.Context(), store.Document{Kind: records.DraftKind, ID: d.gauge, Time: now.Add(-d.ago), Body: body}); err != nil {
			t.Fatal(err)
		}
	}
	under, err := (&station{store: s}).underTest(t.Context(), now)
	if err != nil || !under["LG-101"] || under["LG-102"] || under["LG-103"] {
		t.Errorf("under test %v, %v", under, err)
	}
}
