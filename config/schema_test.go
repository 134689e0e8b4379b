package config_test

import (
	"bytes"
	"os"
	"path/filepath"
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
