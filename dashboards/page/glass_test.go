package page

import (
	"strings"
	"testing"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/plant/planttest"
	"bridlewatch/dashboards/units"
)

// A drum at 10 MPa whose chamber is at 211 °C: 394.347 mm in the chamber are
// 499.993 mm in the drum (calculated from the balance with IAPWS-IF97), and
// the page says both.
func TestDrumLevelStandsBesideTheGaugeGlass(t *testing.T) {
	sheet := &datasheet.Sheet{Float: datasheet.Float{Tag: "LI-1"}, Transmitter: &datasheet.Transmitter{Tag: "LT-1"}}
	g := plant.GaugeView{Sheet: sheet}
	m := &g.Result.Measurement
	*m = gauge.Measurement{
		Float:       planttest.Level(0.394347, 0.002, level.ByBuoyancy, level.Follower),
		Transmitter: planttest.Level(0.391, 0.004, level.ByDP, level.LegDensity),
		InVessel:    planttest.Level(0.499993, 0.005, level.ByBuoyancy, level.Follower),
	}
	pages, _ := newPages(t, planttest.New(), planttest.NewMemory())
	rows := pages.besideGlass(g, units.Metric)
	want := []condition{
		{"Level in the vessel", "500 ± 10 mm", "from the chamber by the hydrostatic balance"},
		{"A gauge glass on the chamber shows", "394.3 ± 4.0 mm", "the surface in the chamber itself, −105.6 mm from the vessel"},
	}
	if len(rows) != len(want) {
		t.Fatalf("%q", rows)
	}
	for i := range want {
		if plain(rows[i]) != want[i] {
			t.Errorf("row %q, want %q", plain(rows[i]), want[i])
		}
	}
	g.Result.Findings = []cause.Finding{{Tier: cause.Alert, Suspect: cause.Float, Tag: "LI-1", Set: []cause.Ranked{{Cause: cause.FloatStuck, Suspect: cause.Float, Tag: "LI-1"}}}}
	for _, row := range pages.besideGlass(g, units.Metric) {
		if !strings.Contains(row.Note, "LI-1, which the open alert puts in doubt") {
			t.Errorf("a stuck float: %q", row)
		}
	}
	g.Belief = &compare.Belief{By: "radar LT-1", Level: planttest.Level(0.391, 0.004, level.ByTimeFlight, level.TransmitterDevice), Raised: planttest.Now.Add(-time.Hour),
		Blames: "float LI-1 is blamed by the alert of " + compare.RaisedAt}
	if rows := pages.besideGlass(g, units.Metric); len(rows) != 3 || plain(rows[0]).Value != "500 ± 10 mm" || plain(rows[1]).Value != "391.0 ± 8.0 mm" || !strings.HasPrefix(rows[1].Note, "from radar LT-1: float LI-1 is blamed") {
		t.Errorf("with another to believe: %q", rows)
	}
	g.Belief = nil
	m.Float = level.Level{Reason: quantity.SensorFault}
	if rows := pages.besideGlass(g, units.Metric); plain(rows[1]).Value != "391.0 ± 8.0 mm" || strings.Contains(rows[1].Note, "doubt") {
		t.Errorf("without a float: %q", rows)
	}
	m.InVessel = level.Level{Bound: level.AboveUpperTap}
	if rows := pages.besideGlass(g, units.Metric); rows != nil {
		t.Errorf("at a tap: %q", rows)
	}
}

// plain is a row with ordinary spaces.
func plain(c condition) condition {
	return condition{c.Name, strings.ReplaceAll(c.Value, units.NoBreak, " "), strings.ReplaceAll(c.Note, units.NoBreak, " ")}
}

// The page of a gauge says the level that can be believed beside its headline, the
// one in doubt stays where it was; where none is left it says why.
func TestThePageSaysWhichLevelToBelieve(t *testing.T) {
	stuck, alone := planttest.StuckFloat("LG-102"), planttest.StuckFloat("LG-103")
	alone.Belief = &compare.Belief{Doubted: "float LI-103", Blames: "float LI-103 is blamed by the alert of " + compare.RaisedAt, Raised: planttest.Now, Without: []string{"radar LT-103 has no level: too old"}}
	beyond := planttest.StuckFloat("LG-104")
	beyond.Result.Measurement.InVessel = level.Level{Bound: level.BelowLowerTap}
	_, mux := newPages(t, planttest.New(stuck, alone, beyond, planttest.Healthy("LG-105")), planttest.NewMemory())
	for tag, want := range map[string][]string{
		"LG-102": {`<strong>808 ± 18 mm</strong> from radar LT-102: float LI-102 is blamed by the alert of `, "624 ± 18 mm", "LI-102, which the open alert puts in doubt"},
		"LG-103": {"None can be believed: float LI-103 is blamed by the alert of ", "; radar LT-103 has no level: too old."},
		"LG-104": {"at or below lower tap", "808 ± 18 mm"},
	} {
		body := strings.NewReplacer("\u00a0", " ", "\u202f", " ").Replace(get(mux, "/gauge/"+tag).Body.String())
		for _, w := range want {
			if !strings.Contains(body, w) {
				t.Errorf("%s does not say %q", tag, w)
			}
		}
	}
	if body := get(mux, "/gauge/LG-105").Body.String(); strings.Contains(body, `class="believe"`) {
		t.Error("a sound gauge has a level to believe")
	}
}
