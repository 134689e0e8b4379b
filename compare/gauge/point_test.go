package gauge_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

func TestPointSays(t *testing.T) {
	m := model(t, drum()) // LSL 150 mm by float, LSH 650 mm by liquid, 10 mm differential
	unbounded := math.Inf(1)
	for _, c := range []struct {
		name      string
		index     int
		r         gauge.PointReading
		low, high float64 // mm
		words     string
	}{
		{"steadily wet", 1, gauge.PointReading{State: gauge.Wet, Before: gauge.Wet, Between: time.Second}, 645, unbounded, "at or above 645 mm"},
		{"steadily dry", 1, gauge.PointReading{State: gauge.Dry}, -unbounded, 655, "at or below 655 mm"},
		{"changed to wet at 2 mm/s, 5 s", 1, gauge.PointReading{State: gauge.Wet, Before: gauge.Dry, Between: 5 * time.Second, Rate: 2e-3}, 655, 665, "changed to wet"},
		{"changed to dry at −2 mm/s, 5 s", 1, gauge.PointReading{State: gauge.Dry, Before: gauge.Wet, Between: 5 * time.Second, Rate: -2e-3}, 635, 645, "changed to dry"},
		{"worked by the float", 0, gauge.PointReading{State: gauge.Wet}, 145, unbounded, "the float's indication"},
	} {
		t.Run(c.name, func(t *testing.T) {
			i, err := m.PointSays(c.index, c.r)
			if err != nil {
				t.Fatal(err)
			}
			low, high := -unbounded, unbounded
			if i.LowKnown {
				low = i.Low.Millimetres()
			}
			if i.HighKnown {
				high = i.High.Millimetres()
			}
			if !near(low, c.low) || !near(high, c.high) || !strings.Contains(i.Sentence, c.words) {
				t.Errorf("%v to %v mm, %q; want %v to %v with %q", low, high, i.Sentence, c.low, c.high, c.words)
			}
			if i.Crossing {
				// 10 mm wide rectangle and a set point of ±5 mm: 5/√3 each.
				if want := 5 / math.Sqrt(3) * math.Sqrt2; math.Abs(i.CrossingU.Millimetres()-want) > 1e-9 {
					t.Errorf("u of the crossing %v mm, want %v", i.CrossingU.Millimetres(), want)
				}
			}
		})
	}
	for _, c := range []struct {
		index int
		r     gauge.PointReading
	}{{1, gauge.PointReading{}}, {2, gauge.PointReading{State: gauge.Wet}}, {-1, gauge.PointReading{State: gauge.Wet}}} {
		if i, err := m.PointSays(c.index, c.r); err == nil {
			t.Errorf("%+v: %+v, want an error", c, i)
		}
	}
}

func near(a, b float64) bool { return a == b || math.Abs(a-b) < 1e-9 }

func TestPointContradicts(t *testing.T) {
	m := model(t, drum())
	dry, err := m.PointSays(1, gauge.PointReading{State: gauge.Dry})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		level float64
		want  bool
	}{{400, false}, {655, false}, {660, false}, {700, true}} {
		by, yes := dry.Contradicts(mm(c.level), mm(2), 2)
		if yes != c.want || (yes && !near(by.Millimetres(), c.level-655)) {
			t.Errorf("%v mm against dry: %v by %v mm, want %v", c.level, yes, by.Millimetres(), c.want)
		}
	}
	wet, _ := m.PointSays(1, gauge.PointReading{State: gauge.Wet})
	if _, yes := wet.Contradicts(mm(500), quantity.Millimetre, 2); !yes {
		t.Error("500 mm under a wet switch at 645 mm does not contradict")
	}
}
