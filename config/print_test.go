package config

import (
	"bytes"
	"flag"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"bridlewatch/compare/quantity"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

var update = flag.Bool("update", false, "write the golden files anew")

func printed(t *testing.T, c *Config) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := Print(c, &out); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func TestPrintOfTheReference(t *testing.T) {
	got := printed(t, loadReference(t))
	golden := filepath.Join("..", "testdata", "config", "reference.effective.yaml")
	if *update {
		if err := os.WriteFile(golden, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), string(got)); diff != "" {
		t.Errorf("effective configuration (-want +got):\n%s", diff)
	}
}

// TestPrintedLoadsToTheSame is the inverse of loading: what Print writes loads
// to the same configuration and the same version.
func TestPrintedLoadsToTheSame(t *testing.T) {
	files, err := filepath.Glob("../testdata/config/good/*.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range append(files, "reference.yaml") {
		t.Run(filepath.Base(file), func(t *testing.T) {
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			load := func(text []byte) *Config {
				c, err := Load(LoadOptions{File: "x.yaml", Root: fstest.MapFS{"x.yaml": {Data: text}}, Env: []string{}, WithoutSecrets: true})
				if err != nil {
					t.Fatalf("%v\n%s", err, text)
				}
				return c
			}
			first := load(data)
			second := load(printed(t, first))
			same := cmp.Options{
				cmpopts.IgnoreTypes(Place{}),
				cmpopts.IgnoreFields(Config{}, "Advice"),
				near[float64](), near[quantity.Length](), near[quantity.Pressure](), near[quantity.PressureDifference](),
				near[quantity.Temperature](), near[quantity.TemperatureDifference](), near[quantity.Density](), near[quantity.Mass](),
				cmpopts.EquateEmpty(),
				cmp.Comparer(func(a, b *time.Location) bool { return a.String() == b.String() }),
			}
			if diff := cmp.Diff(first, second, same); diff != "" {
				t.Errorf("(-loaded +printed and loaded again):\n%s", diff)
			}
		})
	}
}

// near allows for the last bits that a change of units costs.
func near[F ~float64]() cmp.Option {
	return cmp.Comparer(func(a, b F) bool {
		return math.Abs(float64(a-b)) <= 1e-11*math.Max(math.Abs(float64(a)), 1e-6)
	})
}

// TestVersion changes with what is effective and with nothing else.
func TestVersion(t *testing.T) {
	load := func(text string) string {
		c, err := LoadBytes("x.yaml", []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		return c.Version
	}
	base := load("site: {name: works}")
	if base == "" || strings.Trim(base, "0123456789abcdef") != "" {
		t.Errorf("version %q is no hash", base)
	}
	if v := load("# a comment\nsite:\n  name: works\n  box: box-1\n"); v != base {
		t.Error("a comment, the layout or a default written out changes the version")
	}
	if v := load("site: {name: works, box: box-2}"); v == base {
		t.Error("another box has the same version")
	}
}
