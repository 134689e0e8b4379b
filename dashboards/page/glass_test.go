package page

import (
	"strings"
	"testing"

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
	rows := besideGlass(g, units.Metric)
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
	g.Result.Findings = []cause.Finding{{Tier: cause.Alert, Set: []cause.Ranked{{Cause: cause.FloatStuck, Suspect: cause.Float, Tag: "LI-1"}}}}
	for _, row := range besideGlass(g, units.Metric) {
		if !strings.Contains(row.Note, "LI-1, which the open alert puts in doubt") {
			t.Errorf("a stuck float: %q", row)
		}
	}
	m.Float = level.Level{Reason: quantity.SensorFault}
	if rows := besideGlass(g, units.Metric); plain(rows[1]).Value != "391.0 ± 8.0 mm" || strings.Contains(rows[1].Note, "doubt") {
		t.Errorf("without a float: %q", rows)
	}
	m.InVessel = level.Level{Bound: level.AboveUpperTap}
	if rows := besideGlass(g, units.Metric); rows != nil {
		t.Errorf("at a tap: %q", rows)
	}
}

// plain is a row with ordinary spaces.
func plain(c condition) condition {
	return condition{c.Name, strings.ReplaceAll(c.Value, units.NoBreak, " "), strings.ReplaceAll(c.Note, units.NoBreak, " ")}
}
