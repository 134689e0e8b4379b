package bench

import (
	"math"
	"time"

	"bridlewatch/compare/gauge"
)

// The baselines are what a control system or a general statistics package
// offers on the same gap between float and transmitter. Each learns mean and
// standard deviation in the first two weeks, as an engineer would set it up,
// and runs at a ladder of thresholds at once; one of them is its default.
const (
	learning   = 14 * 24 * time.Hour
	mergeAfter = 24 * time.Hour // a quiet day ends an episode, as with ours
	steps      = 16
)

// baseline is one kind of alarm.
type baseline struct {
	Name      string
	Default   float64 // threshold people start with
	low, high float64 // ladder of thresholds
	delay     time.Duration
	band      float64 // how far below the threshold the alarm goes off again
	fresh     func(mean, sd float64) chart
}

// chart turns gaps into a score that is compared with a threshold.
type chart interface {
	// score takes a gap in millimetres; reset tells it that the alarm went.
	score(gap float64) float64
	reset()
}

var baselines = []baseline{
	{Name: "deviation, 60 s", Default: 20, low: 4, high: 200, delay: 60 * time.Second, band: 5, fresh: newDeviation},
	{Name: "deviation, 300 s", Default: 50, low: 4, high: 200, delay: 300 * time.Second, band: 5, fresh: newDeviation},
	{Name: "EWMA", Default: 3, low: 3, high: 3000, fresh: newEWMA},
	{Name: "Page-Hinkley", Default: 50, low: 50, high: 5e6, fresh: newPageHinkley},
}

// threshold returns step i of the ladder; step -1 is the default.
func (b *baseline) threshold(i int) float64 {
	if i < 0 {
		return b.Default
	}
	return b.low * math.Pow(b.high/b.low, float64(i)/(steps-1))
}

// deviation is |gap - mean|.
type deviation struct{ mean float64 }

func newDeviation(mean, _ float64) chart       { return &deviation{mean} }
func (d *deviation) score(gap float64) float64 { return math.Abs(gap - d.mean) }
func (d *deviation) reset()                    {}

// ewma is an exponentially weighted moving average with weight 0.05, in its
// own standard deviations.
type ewma struct{ mean, sd, z float64 }

const ewmaWeight = 0.05

func newEWMA(mean, sd float64) chart {
	return &ewma{mean: mean, sd: math.Max(sd, 0.1) * math.Sqrt(ewmaWeight/(2-ewmaWeight)), z: mean}
}

func (e *ewma) score(gap float64) float64 {
	e.z += ewmaWeight * (gap - e.z)
	return math.Abs(e.z-e.mean) / e.sd
}
func (e *ewma) reset() {}

// pageHinkley is the two-sided test with the parameters it is usually
// delivered with: delta 0.005, forgetting 0.9999, at least 30 values.
type pageHinkley struct {
	n              int
	mean, up, down float64
}

func newPageHinkley(_, _ float64) chart { return &pageHinkley{} }

func (p *pageHinkley) score(gap float64) float64 {
	const delta, alpha = 0.005, 0.9999
	p.n++
	p.mean += (gap - p.mean) / float64(p.n)
	p.up = math.Max(0, alpha*p.up+gap-p.mean-delta)
	p.down = math.Max(0, alpha*p.down-(gap-p.mean)-delta)
	if p.n < 30 {
		return 0
	}
	return math.Max(p.up, p.down)
}
func (p *pageHinkley) reset() { *p = pageHinkley{} }

// alarms runs every baseline at every threshold on one gauge.
type alarms struct {
	n        float64
	mean, m2 float64
	learned  bool
	alarms   []alarm
}

// alarm is one baseline at one threshold.
type alarm struct {
	of        *baseline
	threshold float64
	chart     chart
	above     time.Duration // since when beyond, negative: not
	active    bool
	last      time.Duration // when it was last active
	ever      bool
	first     time.Duration // after onset, negative: never
	episodes  int           // in healthy time
}

func newAlarms() *alarms {
	a := &alarms{}
	for i := range baselines {
		for step := -1; step < steps; step++ {
			a.alarms = append(a.alarms, alarm{of: &baselines[i], threshold: baselines[i].threshold(step), above: -1, first: -1})
		}
	}
	return a
}

// add takes one scan.
func (a *alarms) add(at time.Duration, faulty bool, since time.Duration, m *gauge.Measurement) {
	g := &m.Gaps[gauge.FloatTransmitter]
	if !g.OK || m.Isolated {
		return
	}
	gap := g.Value.Millimetres()
	if at < learning {
		a.n++
		d := gap - a.mean
		a.mean += d / a.n
		a.m2 += d * (gap - a.mean)
		return
	}
	if !a.learned {
		a.learned = true
		sd := math.Sqrt(a.m2 / math.Max(1, a.n-1))
		for i := range a.alarms {
			a.alarms[i].chart = a.alarms[i].of.fresh(a.mean, sd)
		}
	}
	for i := range a.alarms {
		a.alarms[i].add(at, faulty, since, gap)
	}
}

func (a *alarm) add(at time.Duration, faulty bool, since time.Duration, gap float64) {
	score := a.chart.score(gap)
	switch {
	case score > a.threshold:
		if a.above < 0 {
			a.above = at
		}
	case score < a.threshold-a.of.band:
		a.above, a.active = -1, false
	case !a.active:
		a.above = -1
	}
	if a.above < 0 || at-a.above < a.of.delay {
		return
	}
	begins := !a.active && (!a.ever || at-a.last > mergeAfter)
	a.active, a.ever, a.last = true, true, at
	a.chart.reset()
	switch {
	case begins && !faulty:
		a.episodes++
	case begins && a.first < 0:
		a.first = since
	}
}

// settled reports whether waiting longer would be of little use for the
// baselines: every default has spoken, or a month is over.
func (a *alarms) settled(since time.Duration) bool {
	return since > 30*24*time.Hour || a.all()
}

func (a *alarms) all() bool {
	for i := range a.alarms {
		if a.alarms[i].first < 0 && i%(steps+1) == 0 {
			return false
		}
	}
	return true
}

func (a *alarms) results() (first []time.Duration, episodes []int) {
	for i := range a.alarms {
		first, episodes = append(first, a.alarms[i].first), append(episodes, a.alarms[i].episodes)
	}
	return first, episodes
}
