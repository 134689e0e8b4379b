package api

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/quantity"
	"bridlewatch/dashboards/notify"
)

// TestMessagesFitTheDocument holds messages as they leave the box against the
// schema of the OpenAPI document.
func TestMessagesFitTheDocument(t *testing.T) {
	s, _, _ := server(t)
	var document map[string]any
	get(t, s.URL+Prefix+"/openapi.json", &document)
	compiler := jsonschema.NewCompiler()
	compiler.DefaultDraft(jsonschema.Draft2020)
	if err := compiler.AddResource("mem:openapi", document); err != nil {
		t.Fatal(err)
	}
	schema, err := compiler.Compile("mem:openapi#/webhooks/alert/post/requestBody/content/application~1json/schema")
	if err != nil {
		t.Fatal(err)
	}
	full := cause.Finding{
		ID: "1", Gauge: "LG-7", Cause: cause.FloatStuck, Suspect: cause.Float, Tag: "LI-7", Since: time.Now(), Value: 184 * quantity.Millimetre, Budget: 0.033,
		Set:      []cause.Ranked{{Cause: cause.FloatStuck, Suspect: cause.Float, Probability: 0.96}},
		Evidence: []cause.Evidence{{Sentence: "Transmitter moved 184 mm."}}, Sentence: "Float is probably stuck.", Next: "Drain test.",
	}
	origin := notify.Origin{Site: "north", Box: "edge-1", ExternalURL: "https://box.example"}
	for _, row := range []struct {
		name string
		m    notify.Message
		fits bool
	}{
		{"raised", notify.MessageOf(origin, notify.Raised, time.Now(), "drum", "unit 2", full), true},
		{"cleared and bare", notify.MessageOf(notify.Origin{}, notify.Cleared, time.Now(), "", "", cause.Finding{Gauge: "LG-7"}), true},
		{"trial", notify.Message{Schema: notify.Schema, Event: notify.Trial, Time: time.Now()}, true},
		{"no such event", notify.Message{Schema: notify.Schema, Event: "burnt", Time: time.Now()}, false},
	} {
		t.Run(row.name, func(t *testing.T) {
			text, err := json.Marshal(row.m)
			if err != nil {
				t.Fatal(err)
			}
			var body any
			if err := json.Unmarshal(text, &body); err != nil {
				t.Fatal(err)
			}
			if err := schema.Validate(body); (err == nil) != row.fits {
				t.Errorf("fits: %v, want %v: %v", err == nil, row.fits, err)
			}
		})
	}
}
