package poll

import (
	"testing"
	"time"

	"bridlewatch/collector"
)

func TestSkew(t *testing.T) {
	at := time.Date(2031, 5, 1, 12, 0, 0, 0, time.UTC)
	sample := func(received, source time.Duration) collector.Sample {
		return collector.Sample{Time: at.Add(received), SourceTime: at.Add(source)}
	}
	rows := []struct {
		name  string
		reads [][]collector.Sample
		want  time.Duration
		known bool
	}{
		{"no source times", [][]collector.Sample{{{Time: at}}}, 0, false},
		{"the shortest delay counts", [][]collector.Sample{{sample(100, 0), sample(100, 70)}, {sample(210, 200)}, {sample(400, 300)}}, 10, true},
		{"a source ahead of us", [][]collector.Sample{{sample(0, 5000)}}, -5000, true},
		{"an unchanged value says nothing", [][]collector.Sample{{sample(100, 90)}, {sample(1e9, 90)}, {sample(2e9, 90)}}, 10, true},
		{"an older source time says nothing", [][]collector.Sample{{sample(100, 90)}, {sample(200, 80)}}, 10, true},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			var k skew
			for _, samples := range r.reads {
				k.note(samples)
			}
			if got, known := k.estimate(); got != r.want || known != r.known {
				t.Errorf("%v, known %v; want %v, %v", got, known, r.want, r.known)
			}
		})
	}
	t.Run("the window moves on", func(t *testing.T) {
		var k skew
		k.note([]collector.Sample{sample(1, 0)})
		for i := range skewWindow {
			source := time.Duration(1000 * (i + 1))
			k.note([]collector.Sample{sample(source+500, source)})
		}
		if got, _ := k.estimate(); got != 500 {
			t.Errorf("%v, want 500ns: a clock that was set stays wrong in the estimate", got)
		}
	})
}

func TestClockStep(t *testing.T) {
	before := time.Date(2031, 5, 1, 12, 0, 0, 0, time.UTC)
	rows := []struct {
		name    string
		wall    time.Duration // by how much the wall clock moved
		elapsed time.Duration // by how much time did
		want    time.Duration // of the step; 0: none
	}{
		{"an ordinary second", time.Second, time.Second, 0},
		{"a slewed clock", 1100 * time.Millisecond, time.Second, 0},
		{"set forwards", time.Hour, time.Second, time.Hour - time.Second},
		{"set back", -time.Hour, time.Second, -time.Hour - time.Second},
		{"just under the limit", 2900 * time.Millisecond, time.Second, 0},
		{"a long sleep is no step", time.Hour, time.Hour, 0},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			var p Poller
			p.noteStep(before, before.Add(r.wall), r.elapsed)
			steps := p.ClockSteps()
			if len(steps) != map[bool]int{true: 1}[r.want != 0] {
				t.Fatalf("steps %v, want %v", steps, r.want)
			}
			if r.want != 0 && (steps[0].By != r.want || !steps[0].At.Equal(before.Add(r.wall))) {
				t.Errorf("step %+v, want %v", steps[0], r.want)
			}
		})
	}
	t.Run("the latest hundred are kept", func(t *testing.T) {
		var p Poller
		for i := range 250 {
			p.noteStep(before, before.Add(time.Duration(i+10)*time.Hour), time.Second)
		}
		if steps := p.ClockSteps(); len(steps) != 100 || steps[99].By != 259*time.Hour-time.Second {
			t.Errorf("%d steps", len(steps))
		}
	})
}
