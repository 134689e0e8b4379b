package drift

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

const limit = 25 * quantity.Millimetre

// weather is daily noise with memory, mm: an autoregression of order one.
type weather struct {
	r   *rand.Rand
	now float64
}

func (w *weather) next(phi, sigma float64) float64 {
	w.now = phi*w.now + math.Sqrt(1-phi*phi)*sigma*w.r.NormFloat64()
	return w.now
}

// run feeds days of gaps and returns the days at which changes came.
func run(g *Gauge, days int, seed uint64, gap func(day float64) float64) map[string][]int {
	w := weather{r: rand.New(rand.NewPCG(seed, 1))}
	start := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	seen := map[string][]int{}
	for day := range days {
		offset := w.next(0.5, 1.5)
		for minute := 0; minute < 24*60; minute += 60 {
			at := start.Add(time.Duration(day)*24*time.Hour + time.Duration(minute)*time.Minute)
			var m gauge.Measurement
			value := gap(float64(day)+float64(minute)/1440) + offset + 3*w.r.NormFloat64()
			m.Gaps[gauge.FloatTransmitter] = gauge.Gap{Value: quantity.Length(value) * quantity.Millimetre, Budget: 15 * quantity.Millimetre, OK: true}
			for _, c := range g.Add(at, "LG-1", &m, limit, false) {
				seen[c.What] = append(seen[c.What], day)
			}
		}
	}
	return seen
}

// TestHealthyYearsAreSilent: a correlated healthy gap of 1.5 mm from day to
// day raises nothing in 6 years.
func TestHealthyYearsAreSilent(t *testing.T) {
	for seed := range uint64(6) {
		var g Gauge
		if seen := run(&g, 365, seed, func(float64) float64 { return 4 }); len(seen) != 0 {
			t.Errorf("seed %d: %v", seed, seen)
		}
	}
}

func TestDriftIsFoundBeforeTheLimit(t *testing.T) {
	tests := []struct {
		name     string
		perDay   float64
		from, to int // day the alert may come: limit at 25/perDay + 20
	}{
		{"1 mm a day", 1, 28, 46},
		{"0.4 mm a day downwards", -0.4, 60, 84},
		{"3 mm a day", 3, 22, 36},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			for seed := range uint64(5) {
				var g Gauge
				seen := run(&g, 95, seed, func(day float64) float64 { return tt.perDay * math.Max(0, day-20) })
				if len(seen["opened"]) != 1 || seen["opened"][0] < tt.from || seen["opened"][0] > tt.to {
					t.Errorf("seed %d: opened on days %v, want one between %d and %d", seed, seen["opened"], tt.from, tt.to)
				}
			}
		})
	}
}

// TestEstimate: the intervals, stated at 95 %, hold the truth in at least 50 of
// 60 trials; scatter and memory are learned in four weeks only.
func TestEstimate(t *testing.T) {
	const trials, perDay = 60, 0.3
	held := map[string]int{}
	count := func(what string, ok bool) {
		if ok {
			held[what]++
		}
	}
	for seed := range uint64(trials) {
		var g Gauge
		run(&g, 61, seed, func(day float64) float64 { return perDay * day })
		e := g.Pairs[gauge.FloatTransmitter].Estimate
		toLimit := (25 - perDay*56) / perDay
		count("rate", e.Low <= perDay && perDay <= e.High)
		count("drift", math.Abs(e.Drift-perDay*55) <= e.U)
		count("time to the limit", e.Earliest <= toLimit && (toLimit <= e.Latest || e.Latest == 0))
		count("trend", e.OK && e.Significant && e.Days == 60)
	}
	for _, what := range []string{"rate", "drift", "time to the limit", "trend"} {
		if held[what] < 50 {
			t.Errorf("%s: right in %d of %d trials", what, held[what], trials)
		}
	}
}

func TestAnEndedDriftIsClosed(t *testing.T) {
	var g Gauge
	seen := run(&g, 70, 3, func(day float64) float64 {
		if day > 50 {
			return 0 // zeroed
		}
		return math.Max(0, day-20) * 1.5
	})
	if len(seen["opened"]) != 1 || len(seen["closed"]) != 1 || seen["closed"][0] < 51 {
		t.Errorf("changes %v", seen)
	}
}

func TestRebaseBeginsAnew(t *testing.T) {
	var g Gauge
	run(&g, 60, 3, func(day float64) float64 { return math.Max(0, day-20) * 1.5 })
	open := g.Open(time.Now(), "LG-1")
	if len(open) != 1 || open[0].RatePerD <= 0 || !strings.Contains(open[0].Sentence, "25 mm are allowed") {
		t.Fatalf("open %+v", open)
	}
	closed := g.Rebase(time.Now(), "LG-1")
	if len(closed) != 1 || closed[0].Finding.ID != open[0].ID || len(g.Open(time.Now(), "LG-1")) != 0 || g.Pairs[gauge.FloatTransmitter].Referred {
		t.Errorf("closed %+v, state %+v", closed, g.Pairs[gauge.FloatTransmitter])
	}
}

func TestAStuckFloatExplainsItsDrift(t *testing.T) {
	var g Gauge
	at := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	for hour := range 60 * 24 {
		var m gauge.Measurement
		m.Gaps[gauge.FloatTransmitter] = gauge.Gap{Value: quantity.Length(hour) / 24 * quantity.Millimetre, OK: true}
		if c := g.Add(at.Add(time.Duration(hour)*time.Hour), "LG-1", &m, limit, true); len(c) != 0 {
			t.Fatalf("raised although explained: %+v", c)
		}
	}
}

// TestKeptDaysAreTheState: what is stored after each day, folded into an empty
// state, is the state.
func TestKeptDaysAreTheState(t *testing.T) {
	var whole, again Gauge
	last := int64(0)
	start := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	for hour := range 120 * 24 {
		var m gauge.Measurement
		m.Gaps[gauge.FloatTransmitter] = gauge.Gap{Value: quantity.Length(max(0, hour-480)) / 24 * quantity.Millimetre, OK: true}
		whole.Add(start.Add(time.Duration(hour)*time.Hour), "LG-1", &m, limit, false)
		if n := whole.Newest(); n != last {
			last = n
			text, err := json.Marshal(whole.Keep())
			if err != nil {
				t.Fatal(err)
			}
			var k Kept
			if err := json.Unmarshal(text, &k); err != nil {
				t.Fatal(err)
			}
			again.Restore(k)
		}
	}
	for p := range whole.Pairs { // the running day is not kept
		s := &whole.Pairs[p]
		s.Hour, s.Sum, s.N, s.Hours = 0, 0, 0, nil
	}
	if d := cmp.Diff(whole, again); d != "" || !again.Told[gauge.FloatTransmitter] {
		t.Error(d)
	}
}

func BenchmarkAdd(b *testing.B) {
	var g Gauge
	var m gauge.Measurement
	m.Gaps[gauge.FloatTransmitter] = gauge.Gap{OK: true}
	at := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	b.ReportAllocs()
	for b.Loop() {
		g.Add(at, "LG-1", &m, limit, false)
	}
}

// BenchmarkDay is the end of a day with three months behind it.
func BenchmarkDay(b *testing.B) {
	var s State
	for hour := range int64(100 * 24) {
		s.Add(hour*3600, float64(hour%7), 25)
	}
	b.ReportAllocs()
	for b.Loop() {
		s.estimate(25)
	}
}
