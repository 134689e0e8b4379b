package config_test

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"bridlewatch/config"

	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"
)

func compileSchema(t *testing.T) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(config.Schema()))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	if err := c.AddResource("bridlewatch.schema.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("bridlewatch.schema.json")
	if err != nil {
		t.Fatalf("the schema is no valid JSON Schema 2020-12: %v", err)
	}
	return s
}

// instance reads YAML the way an editor does before it applies a schema.
func instance(t *testing.T, data []byte) any {
	t.Helper()
	asJSON, err := yaml.YAMLToJSON(data)
	if err != nil {
		t.Fatal(err)
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(asJSON))
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestSchemaAcceptsTheReferenceAndGoodFiles(t *testing.T) {
	s := compileSchema(t)
	if err := s.Validate(instance(t, config.Reference())); err != nil {
		t.Errorf("reference: %v", err)
	}
	files, _ := filepath.Glob(filepath.Join(corpus, "good", "*.yaml"))
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Validate(instance(t, data)); err != nil {
			t.Errorf("%s: %v", file, err)
		}
	}
}

// TestSchemaOnBadFiles says which of the bad files an editor marks: wrong
// keys, wrong types, wrong words, missing keys. Units, references between
// parts and physics are for Load.
func TestSchemaOnBadFiles(t *testing.T) {
	s := compileSchema(t)
	for name := range bad {
		t.Run(name, func(t *testing.T) {
			asJSON, err := yaml.YAMLToJSON(read(t, "bad", name+".yaml"))
			if err != nil {
				return // no YAML at all
			}
			v, err := jsonschema.UnmarshalJSON(bytes.NewReader(asJSON))
			if err != nil {
				return
			}
			refused := s.Validate(v) != nil
			if want := slices.Contains(markedByEditor, name); refused != want {
				t.Errorf("refused by the schema: %v, want %v", refused, want)
			}
		})
	}
}

// An editor cannot know that a secret must be a reference unless the schema
// says so; this is where a literal one would be typed.
func TestSchemaRefusesLiteralSecrets(t *testing.T) {
	s := compileSchema(t)
	for text, good := range map[string]bool{"env:TOKEN": true, "file:/etc/token": true, "credential:token": true, "hunter2": false, "env:": false} {
		v := instance(t, []byte("tokens: [{name: t, value: '"+text+"'}]"))
		if err := s.Validate(v); (err == nil) != good {
			t.Errorf("%q: %v", text, err)
		}
	}
}

var markedByEditor = []string{
	"address-missing", "alias-loop", "blend-part-of-blend", "coverage", "drift", "fluid-key-missing", "fluid-key-of-other-model",
	"gauge-without-tag", "gravity-of-no-place", "group-for-value", "group-missing", "influx-without-bucket", "item-not-group",
	"key-missing", "key-of-other-protocol", "list-at-top", "literal-secret", "no-duration", "no-size", "no-unit",
	"not-a-number", "not-a-word", "not-true-or-false", "number-out-of-range", "quiet-without-reason",
	"route-key-missing", "route-key-of-other-kind", "route-literal-secret", "secret-of-unknown-kind",
	"several-at-once", "source-without-name", "timestamp-column-separator", "transmitter-key-missing",
	"transmitter-key-of-other-principle", "unknown-group", "unknown-key", "unknown-key-in-signal", "unknown-key-of-another-group",
	"unknown-protocol", "unknown-unit-set", "user-role", "value-for-group", "value-for-list", "yaml-tag",
}
