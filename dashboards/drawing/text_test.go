package drawing

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/dashboards/units"
)

// stuckScene is a gauge whose float stands still below the transmitter.
func stuckScene() Scene {
	s := Scene{Units: units.Metric, Float: &Float{Bottom: 0.44, Immersion: 0.19, BuiltFor: 0.205}, Sheet: &datasheet.Sheet{
		Tag: "LG-102", Service: "Boiler drum",
		Chamber:     datasheet.Chamber{CentreToCentre: 1, InnerDiameter: 0.0627, OuterDiameter: 0.073, BelowLowerTap: 0.3, AboveUpperTap: 0.2, LowerTapEL: 4.25},
		Float:       datasheet.Float{Tag: "LI-102", Length: 0.32, Diameter: 0.05, MagnetAbove: 0.24},
		Transmitter: &datasheet.Transmitter{Tag: "LT-102", Principle: datasheet.Radar, ReferencePoint: 1.2, BlindTop: 0.3},
		Points:      []datasheet.Point{{Tag: "LSL-102", Elevation: 0.22, Differential: 0.012}, {Tag: "LSH-102", Elevation: 0.78, Differential: 0.012}},
	}}
	m := &s.Result.Measurement
	m.Float, m.Transmitter = level.Level{Value: 0.63, Bound: level.Within}, level.Level{Value: 0.83, Bound: level.Within}
	m.Float.Parts[level.Follower], m.Transmitter.Parts[level.TransmitterDevice] = 0.0045, 0.006
	m.Points[0], m.Points[1] = gauge.Wet, gauge.Wet
	s.Result.Verdicts = []compare.Verdict{{Point: 1, Outcome: compare.Disagree}}
	s.Result.Findings = []cause.Finding{{Suspect: cause.Float, Tag: "LI-102"}}
	return s
}

// TestTextGolden compares with files; run with UPDATE_GOLDEN=1 to write them.
func TestTextGolden(t *testing.T) {
	stale := stuckScene()
	stale.Stale = true
	for name, c := range map[string]struct {
		scene Scene
		ascii bool
	}{"stuck": {stuckScene(), false}, "stuck-ascii": {stuckScene(), true}, "stale": {stale, false}} {
		t.Run(name, func(t *testing.T) {
			canvas := Text{ASCII: c.ascii}
			Draw(&canvas, c.scene, Terminal)
			path := filepath.Join("testdata", name+".txt")
			if os.Getenv("UPDATE_GOLDEN") != "" {
				if err := os.WriteFile(path, []byte(canvas.String()), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if got := canvas.String(); got != string(want) {
				t.Errorf("got\n%s\nwant\n%s", got, want)
			}
		})
	}
}

// TestTextSaysEveryLabel finds every reading and name in the picture of any
// gauge, and only plain characters where plain ones were asked for.
func TestTextSaysEveryLabel(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	for range 500 {
		s := randomScene(r)
		canvas := Text{}
		Draw(&canvas, s, Terminal)
		picture := canvas.String()
		for _, k := range s.marks() {
			if !strings.Contains(picture, k.value) || !strings.Contains(picture, k.name) {
				t.Fatalf("%q, %q are not in\n%s", k.value, k.name, picture)
			}
		}
		canvas = Text{ASCII: true}
		Draw(&canvas, s, Terminal)
		if text := canvas.String(); len(text) != utf8.RuneCountInString(text) {
			t.Fatalf("not plain:\n%s", text)
		}
	}
}
