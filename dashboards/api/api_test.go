package api

import (
	"bufio"
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"bridlewatch/dashboards/live"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/plant/planttest"
)

type noAlerts struct{}

func (noAlerts) Open(context.Context) ([]plant.Alert, error) {
	return []plant.Alert{{ID: "1", Gauge: "LG-102", State: "unacknowledged", Raised: planttest.Now}}, nil
}
func (noAlerts) Quiet(context.Context) ([]plant.Alert, error) { return nil, nil }
func (noAlerts) Journal(context.Context, time.Time, time.Time, int) ([]plant.AlertLine, error) {
	return nil, nil
}

func server(t *testing.T) (*httptest.Server, *planttest.Plant, *live.Hub) {
	t.Helper()
	m, p, hub := planttest.NewMemory(), planttest.Varied(), live.New(time.Millisecond, time.Minute)
	if err := m.Fill("LG-101", planttest.Now.Add(-24*time.Hour), planttest.Now, 10*time.Minute); err != nil {
		t.Fatal(err)
	}
	if err := m.RememberYear(); err != nil {
		t.Fatal(err)
	}
	mux := http.NewServeMux()
	Routes(mux, Options{Plant: p, Store: m, Alerts: noAlerts{}, Hub: hub, Version: "test"})
	s := httptest.NewServer(mux)
	t.Cleanup(s.Close)
	t.Cleanup(hub.Close)
	return s, p, hub
}

func get(t *testing.T, address string, into any) int {
	t.Helper()
	answer, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if err := json.NewDecoder(answer.Body).Decode(into); err != nil {
		t.Fatalf("%s: %v", address, err)
	}
	return answer.StatusCode
}

// TestAnswersFitTheDocument asks every address of the OpenAPI document for
// every gauge and validates the answers with a JSON Schema library (draft
// 2020-12, the dialect of OpenAPI 3.1.0, section 4.8.24).
func TestAnswersFitTheDocument(t *testing.T) {
	s, p, _ := server(t)
	var document map[string]any
	if status := get(t, s.URL+Prefix+"/openapi.json", &document); status != http.StatusOK {
		t.Fatalf("document: status %d", status)
	}
	if document["openapi"] != "3.1.0" {
		t.Errorf("document is of OpenAPI %v", document["openapi"])
	}
	compiler := jsonschema.NewCompiler()
	compiler.DefaultDraft(jsonschema.Draft2020)
	if err := compiler.AddResource("mem:openapi", document); err != nil {
		t.Fatal(err)
	}
	checked := 0
	for path, calls := range document["paths"].(map[string]any) {
		if calls.(map[string]any)["get"] == nil {
			continue // it changes something
		}
		pointer := strings.NewReplacer("~", "~0", "/", "~1").Replace(path)
		schema, err := compiler.Compile("mem:openapi#/paths/" + pointer + "/get/responses/200/content/application~1json/schema")
		if err != nil {
			t.Errorf("schema of %s: %v", path, err)
			continue
		}
		for _, g := range p.Gauges() {
			var body any
			address := s.URL + strings.Replace(path, "{tag}", g.Sheet.Tag, 1)
			if status := get(t, address, &body); status != http.StatusOK {
				t.Errorf("%s: status %d: %v", address, status, body)
				continue
			}
			if err := schema.Validate(body); err != nil {
				t.Errorf("%s does not fit its schema: %v", address, err)
			}
			checked++
		}
	}
	if checked < 100 {
		t.Errorf("only %d answers were checked", checked)
	}
}

func TestCallsThatCannotBeAnswered(t *testing.T) {
	s, _, _ := server(t)
	tests := []struct {
		name, path string
		status     int
		says       string
	}{
		{"unknown gauge", "/gauges/LG-999", 404, "there is no gauge LG-999"},
		{"evidence of an unknown gauge", "/gauges/LG-999/evidence", 404, "there is no gauge"},
		{"period backwards", "/gauges/LG-101/trend?from=2026-11-25T00:00:00Z&to=2026-11-24T00:00:00Z", 422, "the end must be after the start"},
		{"width out of range", "/gauges/LG-101/trend?width=1", 422, "width"},
		{"not a time", "/findings?from=yesterday", 422, "from"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var body map[string]any
			if status := get(t, s.URL+Prefix+tt.path, &body); status != tt.status {
				t.Errorf("status %d, want %d", status, tt.status)
			}
			if text, _ := json.Marshal(body); !strings.Contains(string(text), tt.says) {
				t.Errorf("answer %s does not say %q", text, tt.says)
			}
		})
	}
}

func TestGaugeInFull(t *testing.T) {
	s, _, _ := server(t)
	var g Gauge
	get(t, s.URL+Prefix+"/gauges/LG-102", &g)
	if g.Category != "failure" || len(g.Findings) != 1 || g.Findings[0].Suspect != "float" {
		t.Errorf("category %q, findings %v", g.Category, g.Findings)
	}
	if g.Levels[0].M != 0.612 || g.Gaps[0].Verdict != "disagree" || g.Gaps[0].Budget != 0.015 {
		t.Errorf("levels %v, gaps %v", g.Levels, g.Gaps)
	}
	of := func(name string) Level {
		return g.Levels[slices.IndexFunc(g.Levels, func(l Level) bool { return l.Of == name })]
	}
	if !of("float").Doubt || of("transmitter").Doubt || !of("in vessel").Doubt || of("in vessel").M != 0.624 {
		t.Errorf("a stuck float puts in doubt %+v", g.Levels)
	}
	if b := g.Believed; b == nil || b.Tag != "LT-102" || b.M != 0.808 || b.Bound != "within" || b.Alert != g.Findings[0].ID ||
		b.Why != "float LI-102 is blamed by the alert of "+b.Raised.UTC().Format("2006-01-02 15:04 UTC") {
		t.Errorf("the level to believe: %+v", b)
	}
	var sound Gauge
	if get(t, s.URL+Prefix+"/gauges/LG-101", &sound); sound.Believed != nil {
		t.Errorf("a sound gauge has a level to believe: %+v", sound.Believed)
	}
	var list []Summary
	get(t, s.URL+Prefix+"/gauges", &list)
	if i := slices.IndexFunc(list, func(s Summary) bool { return s.Tag == "LG-103" }); list[i].Category != "not seen" {
		t.Errorf("a stale gauge is %q", list[i].Category)
	}
}

func TestEvents(t *testing.T) {
	s, p, hub := server(t)
	answer, err := http.Get(s.URL + Prefix + "/gauges/LG-101/events")
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	lines := bufio.NewScanner(answer.Body)
	lines.Buffer(nil, 1<<20)
	next := func() (g Gauge) {
		for lines.Scan() {
			if data, ok := strings.CutPrefix(lines.Text(), "data: "); ok {
				if err := json.Unmarshal([]byte(data), &g); err != nil {
					t.Fatal(err)
				}
				return g
			}
		}
		t.Fatal("the stream ended")
		return g
	}
	if g := next(); g.Category != "good" {
		t.Errorf("first event is %q", g.Category)
	}
	p.Set(planttest.StuckFloat("LG-101"))
	hub.Publish("LG-101")
	if g := next(); g.Category != "failure" {
		t.Errorf("second event is %q", g.Category)
	}
}
