package page

import (
	"bytes"
	"context"
	"encoding/csv"
	"strings"
	"testing"
	"time"

	"bridlewatch/dashboards/plant/planttest"
	"bridlewatch/dashboards/times"
	"bridlewatch/dashboards/trend"
	"bridlewatch/dashboards/units"
)

func TestExportIsWhatIsShown(t *testing.T) {
	from := planttest.Now.Add(-24 * time.Hour)
	chart, err := trend.NewReader(filled(t)).Chart(context.Background(), "LG-102", trend.Lines(planttest.Sheet("LG-102")), from, planttest.Now, 100)
	if err != nil {
		t.Fatal(err)
	}
	var text bytes.Buffer
	zone := times.Zone{Location: time.FixedZone("plant", -6*3600)}
	if err := writeCSV(csv.NewWriter(&text), chart, zone, units.US); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&text).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if got, want := strings.Join(rows[0][:5], " "), "time_utc time_local float_in_min float_in_mean float_in_max"; got != want {
		t.Errorf("head is %q, want %q", got, want)
	}
	if len(rows) < 90 || len(rows) > 97 {
		t.Errorf("%d rows; the hole in the history must have none", len(rows))
	}
	if first := rows[1]; first[0] != "2026-11-24T14:12:12Z" || first[1] != "2026-11-24T08:12:12-06:00" {
		t.Errorf("times are %q and %q", first[0], first[1])
	}
}

func TestNamesOfColumnsAreNoFormulas(t *testing.T) {
	for name, want := range map[string]string{"LSH-101": "LSH-101", "=1+1": "1-1", "-cmd": "cmd", "@x": "x"} {
		if got := columnName(trend.Column{Line: trend.Line{Kind: trend.Point, Label: name}}); got != want {
			t.Errorf("column of %q is called %q, want %q", name, got, want)
		}
	}
}
