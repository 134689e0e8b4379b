package trend

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/collector/store"
	"bridlewatch/dashboards/plant/planttest"
	"bridlewatch/dashboards/units"
)

var (
	from = planttest.Now.Add(-24 * time.Hour)
	to   = planttest.Now
)

func reader(t testing.TB, step time.Duration) *Reader {
	t.Helper()
	m := planttest.NewMemory()
	if err := m.Fill("LG-101", from, to, step); err != nil {
		t.Fatal(err)
	}
	return NewReader(m)
}

func TestChartHasSharedBucketsAndLeavesGaps(t *testing.T) {
	chart, err := reader(t, time.Minute).Chart(context.Background(), "LG-101", Lines(planttest.Sheet("LG-101")), from, to, 100)
	if err != nil {
		t.Fatal(err)
	}
	if len(chart.Time) != 100 {
		t.Fatalf("%d buckets, want 100", len(chart.Time))
	}
	var keys []string
	for _, c := range chart.Columns {
		keys = append(keys, c.Key)
		if len(c.Min) != 100 || len(c.Max) != 100 || len(c.Mean) != 100 {
			t.Errorf("%s has %d, %d, %d values", c.Label, len(c.Min), len(c.Max), len(c.Mean))
		}
		if c.Mean[42] != nil {
			t.Errorf("%s bridges the hole in the history with %g", c.Label, *c.Mean[42])
		}
	}
	if diff := cmp.Diff([]string{"float", "transmitter", "gap", "budget", "point", "point", "density"}, keys); diff != "" {
		t.Error(diff)
	}
}

// TestSpikeSurvives records one odd sample among a day of quiet ones.
func TestSpikeSurvives(t *testing.T) {
	m := planttest.NewMemory()
	ctx := context.Background()
	ids, _ := m.Register(ctx, []store.Series{{Gauge: "LG-101", Name: LevelFloat, Class: store.Derived}})
	for at := from; at.Before(to); at = at.Add(time.Second * 10) {
		v := 0.5
		if at.Equal(from.Add(9 * time.Hour)) {
			v = 0.9
		}
		if err := m.Append(ctx, store.Scan{Time: at, Values: []store.Value{{ID: ids[0], Value: v, Quality: 4}}}); err != nil {
			t.Fatal(err)
		}
	}
	chart, err := NewReader(m).Chart(ctx, "LG-101", Lines(planttest.Sheet("LG-101")), from, to, 50)
	if err != nil {
		t.Fatal(err)
	}
	highest := 0.0
	for _, v := range chart.Columns[0].Max {
		highest = math.Max(highest, *v)
	}
	if highest != 0.9 {
		t.Errorf("highest value drawn is %g, recorded was 0.9", highest)
	}
}

func TestErrors(t *testing.T) {
	r := reader(t, time.Hour)
	var period *PeriodError
	if _, err := r.Chart(context.Background(), "LG-101", nil, to, from, 10); !errors.As(err, &period) {
		t.Errorf("a period that ends before it begins gives %v", err)
	}
	chart, err := r.Chart(context.Background(), "LG-999", Lines(planttest.Sheet("LG-999")), from, to, 10)
	if err != nil || !chart.Empty() {
		t.Errorf("a gauge without history gives %v, %v", chart, err)
	}
}

func TestEncodeIsJSONInTheUnitsAsked(t *testing.T) {
	chart, err := reader(t, time.Minute).Chart(context.Background(), "LG-101", Lines(planttest.Sheet("LG-101")), from, to, 4)
	if err != nil {
		t.Fatal(err)
	}
	chart.Columns[0].Label = "quote \" back \\ and −"
	var got struct {
		From, To, Step float64
		Time           []float64
		Lines          []struct {
			Label, Unit string
			Min         []*float64
		}
	}
	if err := json.Unmarshal(chart.Encode(units.US), &got); err != nil {
		t.Fatal(err)
	}
	if got.From != float64(from.Unix()) || len(got.Time) != 4 || got.Lines[0].Unit != "in" || got.Lines[0].Label != chart.Columns[0].Label {
		t.Errorf("got %+v", got)
	}
	if want := *chart.Columns[0].Min[0] / 0.0254; math.Abs(*got.Lines[0].Min[0]-want) > 1e-3 {
		t.Errorf("least = %g in, want %g", *got.Lines[0].Min[0], want)
	}
}

func TestRatiosAreTheWorstOfEachBucket(t *testing.T) {
	got, err := reader(t, time.Minute).Ratios(context.Background(), []string{"LG-101", "LG-999"}, from, to, 8)
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != 1 || len(got["LG-101"]) != 8 {
		t.Fatalf("got %v", got)
	}
	if first, last := got["LG-101"][0], got["LG-101"][7]; first > 1 || last < 5 {
		t.Errorf("ratio starts at %.2f and ends at %.2f, want within and far beyond the budget", first, last)
	}
}

func BenchmarkEncode(b *testing.B) {
	chart, err := reader(b, time.Minute).Chart(context.Background(), "LG-101", Lines(planttest.Sheet("LG-101")), from, to, 1200)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		chart.Encode(units.Metric)
	}
}
