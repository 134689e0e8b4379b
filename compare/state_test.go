package compare_test

import (
	"encoding/json"
	"testing"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/gauge"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// A restart in the middle of an episode continues: nothing is announced
// twice, nothing is forgotten, and the same data give the same result.
func TestRestartContinues(t *testing.T) {
	whole, cut := newPlant(t, baseSheet(), 5), newPlant(t, baseSheet(), 5)
	for _, p := range []*plant{whole, cut} {
		p.transmitter = func(s, l float64) float64 {
			if s > 7200 {
				return l + 45
			}
			return l
		}
		p.run(9 * time.Hour)
	}
	text, err := json.Marshal(&cut.st)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%d bytes of state", len(text))
	cut.st = compare.State{}
	if err := json.Unmarshal(text, &cut.st); err != nil {
		t.Fatal(err)
	}
	before := len(cut.opened)
	whole.run(3 * time.Hour)
	cut.run(3 * time.Hour)
	if len(cut.opened) != before {
		t.Errorf("announced again after the restart: %+v", cut.opened[before:])
	}
	if d := cmp.Diff(whole.last, cut.last, cmpopts.EquateEmpty()); d != "" {
		t.Errorf("result after restart differs (-whole +restarted):\n%s", d)
	}
	if len(whole.last.Findings) == 0 || whole.last.Findings[0].Tier != "alert" {
		t.Errorf("no alert to continue: %+v", whole.last.Findings)
	}
}

// steady runs a quiet plant until nothing changes any more and returns a
// function that evaluates the same scan again, a second later each time.
func steady(tb testing.TB) func() {
	g, err := compare.New(baseSheet())
	if err != nil {
		tb.Fatal(err)
	}
	st, now := &compare.State{}, began
	in := gauge.Snapshot{Float: good(.5, now), Transmitter: good(.5, now)}
	in.Points[0], in.Points[1] = good(1, now), good(0, now)
	scan := func() {
		now = now.Add(time.Second)
		in.Time, in.Float.Time, in.Transmitter.Time = now, now, now
		g.Evaluate(now, &in, st)
	}
	for range 10000 {
		scan()
	}
	return scan
}

func TestSteadyScanDoesNotAllocate(t *testing.T) {
	scan := steady(t)
	if n := testing.AllocsPerRun(5000, scan); n != 0 {
		t.Errorf("%.3f allocations per scan", n)
	}
}

// The same scans give the same state, byte for byte, whatever ran before.
func TestReplayIsDeterministic(t *testing.T) {
	run := func() []byte {
		p := newPlant(t, baseSheet(), 9)
		p.float = func(s, l float64) float64 {
			if s > 20*3600 {
				return 480
			}
			return l
		}
		p.run(40 * time.Hour)
		text, err := json.Marshal(&p.st)
		if err != nil {
			t.Fatal(err)
		}
		return text
	}
	if a, b := run(), run(); string(a) != string(b) {
		t.Error("two runs over the same scans differ")
	}
}

// A clock that goes back runs no time twice: the scans until it has caught up
// change nothing.
func TestClockGoingBack(t *testing.T) {
	p := newPlant(t, baseSheet(), 3)
	p.run(2 * time.Hour)
	before, err := json.Marshal(&p.st)
	if err != nil {
		t.Fatal(err)
	}
	now := p.now
	p.now = p.now.Add(-30 * time.Minute)
	p.run(20 * time.Minute)
	after, err := json.Marshal(&p.st)
	if err != nil {
		t.Fatal(err)
	}
	if string(before) != string(after) {
		t.Error("scans from before the newest one changed the state")
	}
	p.now = now
	p.run(time.Hour)
	if len(p.opened) != 0 {
		t.Errorf("opened %+v", p.opened)
	}
}
