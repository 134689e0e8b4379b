package grafana

//lint:file-ignore SA1019 dashboards that are provisioned by file are of this kind; the newer one is for the programming interface of Grafana

import (
	"bytes"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/google/go-cmp/cmp"
	"github.com/grafana/grafana-foundation-sdk/go/cog"
	"github.com/grafana/grafana-foundation-sdk/go/dashboard"
)

var everything = Options{ExternalURL: "https://level.example/", TimeZone: "America/Chicago"}

func boards(t *testing.T) map[string][]byte {
	t.Helper()
	files, err := Files(everything)
	if err != nil {
		t.Fatal(err)
	}
	found := map[string][]byte{}
	for _, f := range files {
		if strings.HasSuffix(f.Path, ".json") {
			found[filepath.Base(f.Path)] = f.Body
		}
	}
	if len(found) != 3 {
		t.Fatalf("%d dashboards, want 3", len(found))
	}
	return found
}

// TestGolden compares with files; run with UPDATE_GOLDEN=1 to write them.
func TestGolden(t *testing.T) {
	for name, body := range boards(t) {
		path := filepath.Join("testdata", name)
		if os.Getenv("UPDATE_GOLDEN") != "" {
			if err := os.WriteFile(path, body, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(string(want), string(body)); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
}

// TestKitReadsThem decodes every dashboard with the published Go kit: strictly
// for what it complains about, then plainly for a round trip.
func TestKitReadsThem(t *testing.T) {
	for name, body := range boards(t) {
		var strict dashboard.Dashboard
		var complaints cog.BuildErrors
		if err := strict.UnmarshalJSONStrict(body); err != nil && (!errors.As(err, &complaints) || len(complaints) > 0) {
			for _, c := range complaints {
				if !strings.Contains(c.Error(), "influxdb") { // the kit has no query type for it
					t.Errorf("%s: %v", name, c)
				}
			}
		}
		var plain map[string]any
		if err := json.Unmarshal(body, &plain); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		var again bytes.Buffer
		e := json.NewEncoder(&again)
		e.SetIndent("", "  ")
		if err := e.Encode(plain); err != nil {
			t.Fatal(err)
		}
		if uid, ok := plain["uid"].(string); !ok || !strings.HasPrefix(uid, "bridlewatch-") {
			t.Errorf("%s has uid %v", name, plain["uid"])
		}
	}
}

// panelOf is the part of a panel the rules are about.
type panelOf struct {
	Title, Description string
	GridPos            struct{ X, Y, W, H int }
	Datasource         struct{ UID string }
	FieldConfig        struct {
		Defaults struct{ Unit string }
	}
	Targets []struct {
		RefID       string
		Query, Expr string
		Datasource  struct{ UID string }
	}
}

func TestPanels(t *testing.T) {
	for name, body := range boards(t) {
		var d struct{ Panels []panelOf }
		if err := json.Unmarshal(body, &d); err != nil {
			t.Fatal(err)
		}
		titles := map[string]bool{}
		for i, p := range d.Panels {
			switch {
			case titles[p.Title]:
				t.Errorf("%s: two panels are called %q", name, p.Title)
			case p.Description == "":
				t.Errorf("%s: panel %q has no description", name, p.Title)
			case p.FieldConfig.Defaults.Unit == "":
				t.Errorf("%s: panel %q has no unit", name, p.Title)
			case !strings.HasPrefix(p.Datasource.UID, "${"):
				t.Errorf("%s: panel %q has the fixed data source %q", name, p.Title, p.Datasource.UID)
			case p.GridPos.X+p.GridPos.W > 24:
				t.Errorf("%s: panel %q leaves the grid", name, p.Title)
			}
			titles[p.Title] = true
			for _, other := range d.Panels[:i] {
				if overlap(p, other) {
					t.Errorf("%s: panels %q and %q overlap", name, p.Title, other.Title)
				}
			}
			var refs []string
			for _, target := range p.Targets {
				if slices.Contains(refs, target.RefID) || target.Query+target.Expr == "" || !strings.HasPrefix(target.Datasource.UID, "${") {
					t.Errorf("%s: panel %q has a query that is empty, fixed or twice named %q", name, p.Title, target.RefID)
				}
				refs = append(refs, target.RefID)
				contract(t, name+": "+p.Title, target.Query)
			}
		}
	}
}

func overlap(a, b panelOf) bool {
	return a.GridPos.X < b.GridPos.X+b.GridPos.W && b.GridPos.X < a.GridPos.X+a.GridPos.W &&
		a.GridPos.Y < b.GridPos.Y+b.GridPos.H && b.GridPos.Y < a.GridPos.Y+a.GridPos.H
}

// contract sees that a query filters only by tags and fields a box writes.
func contract(t *testing.T, where, query string) {
	t.Helper()
	known := append([]string{"_measurement", "_field", "_time", "_value", "value", "quality", "gap", "budget", "ratio"}, tags...)
	for _, m := range regexp.MustCompile(`\br\.([a-z_]+)`).FindAllStringSubmatch(query, -1) {
		if !slices.Contains(known, m[1]) {
			t.Errorf("%s asks for r.%s, which nobody writes", where, m[1])
		}
	}
}

func TestRulesForQueries(t *testing.T) {
	tests := []struct{ name, query, says string }{
		{"no time range", `from(bucket: v.defaultBucket) |> range(start: -1h)`, "not bounded"},
		{"bridges gaps", `from(bucket: v.defaultBucket) |> range(start: v.timeRangeStart, stop: v.timeRangeStop) |> aggregateWindow(every: v.windowPeriod, fn: mean)`, "bridges gaps"},
		{"unknown measurement", `from(bucket: v.defaultBucket) |> range(start: v.timeRangeStart, stop: v.timeRangeStop) |> filter(fn: (r) => r._measurement == "level")`, `no measurement "level"`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if _, err := query("A", tt.query).Build(); err == nil || !strings.Contains(err.Error(), tt.says) {
				t.Errorf("error %v, want one that says %q", err, tt.says)
			}
		})
	}
}

func TestProvisioningIsYAML(t *testing.T) {
	for name, text := range map[string]string{"providers": providers, "sources": sources} {
		var v struct {
			APIVersion int `yaml:"apiVersion"`
		}
		if err := yaml.Unmarshal([]byte(text), &v); err != nil || v.APIVersion != 1 {
			t.Errorf("%s: version %d, %v", name, v.APIVersion, err)
		}
	}
}

func TestWrite(t *testing.T) {
	written, err := Write(t.TempDir(), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(written) != 5 {
		t.Errorf("wrote %v", written)
	}
	for _, path := range written {
		body, err := os.ReadFile(path)
		if err != nil || bytes.Contains(body, []byte("level.example")) {
			t.Errorf("%s: %v, or a link to nowhere", path, err)
		}
	}
}
