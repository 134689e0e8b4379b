package compare_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

// plant drives one gauge with invented instruments: a level in millimetres
// and hooks that disturb single instruments.
type plant struct {
	t     *testing.T
	g     *compare.Gauge
	sheet datasheet.Sheet
	st    compare.State
	now   time.Time
	step  time.Duration
	rng   *rand.Rand
	level func(s float64) float64 // mm, of seconds since start
	start time.Time

	float, transmitter, second, vessel func(s, level float64) float64 // mm; nil: faithful
	indicated                          func(s, float float64) float64 // what the follower makes of the float; nil: faithful
	cut                                func(s float64, in *gauge.Snapshot)
	point                              func(s float64, i int, wet bool) bool
	wet                                [datasheet.MaxPoints]bool
	magnet                             float64

	opened, upgraded, closed []cause.Finding
	last                     compare.Result
	seen                     gauge.Snapshot // of the last scan
}

var began = time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)

// baseSheet is a plain water gauge: radar, reed chain and two points.
func baseSheet() datasheet.Sheet {
	return datasheet.Sheet{
		Tag: "LG-101", Service: "test vessel", MaxPressure: 10e5, MaxTemperature: 400, OperatingPressure: 2e5, OperatingTemp: 300,
		DesignSG: 0.9, SGMin: 0.8, SGMax: 1,
		Chamber: datasheet.Chamber{Material: "316", PipeSize: "2-1/2", Schedule: "40", InnerDiameter: .06268, OuterDiameter: .073,
			ConnectionStyle: datasheet.SideSide, CentreToCentre: 1, BelowLowerTap: .3, AboveUpperTap: .2},
		Fluid: datasheet.Fluid{Name: "oil", Model: datasheet.Constant, BaseDensity: 900, BaseTemperature: 300, RelativeU: .002},
		Float: datasheet.Float{Tag: "LI-101", Mass: .229, Diameter: .05, Length: .25, EndShape: datasheet.Hemispherical, MagnetAbove: .15,
			Follower: datasheet.ReedChain, Pitch: .005, BuiltFor: 900},
		Transmitter: &datasheet.Transmitter{Tag: "LT-101", Principle: datasheet.Radar, Chamber: "same", U: .002, ReferencePoint: 1.2},
		Points: []datasheet.Point{
			{Tag: "LSL-101", Elevation: .3, Differential: .01, Operated: "float", U: .002},
			{Tag: "LSH-101", Elevation: .7, Differential: .01, Operated: "float", U: .002},
		},
	}
}

func newPlant(t *testing.T, sheet datasheet.Sheet, seed uint64) *plant {
	t.Helper()
	g, err := compare.New(sheet)
	if err != nil {
		t.Fatal(err)
	}
	p := &plant{t: t, g: g, sheet: sheet, now: began, start: began, step: 20 * time.Second, rng: rand.New(rand.NewPCG(seed, 1))}
	p.level = wander(seed)
	return p
}

// wander is a level between the points and beyond: two slow waves.
func wander(seed uint64) func(float64) float64 {
	a := float64(seed%7) + 1
	return func(s float64) float64 {
		return 500 + 230*math.Sin(2*math.Pi*s/14400+a) + 60*math.Sin(2*math.Pi*s/3100+2*a)
	}
}

func good(v float64, at time.Time) quantity.Reading {
	return quantity.Reading{Value: v, Time: at, Quality: quantity.Good}
}

func hooked(f func(s, level float64) float64, s, level float64) float64 {
	if f == nil {
		return level
	}
	return f(s, level)
}

// run lets the plant run for a while.
func (p *plant) run(d time.Duration) {
	for end := p.now.Add(d); p.now.Before(end); {
		p.now = p.now.Add(p.step)
		p.scan()
	}
}

func (p *plant) scan() {
	s := p.now.Sub(p.start).Seconds()
	level := p.level(s)
	in := gauge.Snapshot{Time: p.now}
	if p.sheet.Float.Follower != datasheet.NoFollower {
		x := hooked(p.float, s, level) + .3*p.rng.NormFloat64()
		p.magnet = x
		x = hooked(p.indicated, s, x)
		if q := p.sheet.Float.Pitch.Millimetres(); q > 0 {
			x = math.Round(x/q) * q
		}
		in.Float = good(x/1e3, p.now)
	}
	if p.sheet.Transmitter != nil {
		in.Transmitter = good((hooked(p.transmitter, s, level)+1.5*p.rng.NormFloat64())/1e3, p.now)
	}
	if p.sheet.Second != nil {
		in.Second = good((hooked(p.second, s, level)+1.5*p.rng.NormFloat64())/1e3, p.now)
	}
	if p.sheet.Vessel != nil {
		in.Vessel = good((hooked(p.vessel, s, level)+2*p.rng.NormFloat64())/1e3, p.now)
	}
	for i, pt := range p.sheet.Points {
		x, z, d := p.magnet, pt.Elevation.Millimetres(), pt.Differential.Millimetres()/2
		if !pt.ByFloat() {
			x = level
		}
		if x > z+d {
			p.wet[i] = true
		} else if x < z-d {
			p.wet[i] = false
		}
		wet := p.wet[i]
		if p.point != nil {
			wet = p.point(s, i, wet)
		}
		v := 0.0
		if wet {
			v = 1
		}
		in.Points[i] = good(v, p.now)
	}
	if p.sheet.Temperature != nil {
		in.Temperature = good(float64(p.sheet.OperatingTemp), p.now)
	}
	if p.cut != nil {
		p.cut(s, &in)
	}
	p.last, p.seen = p.g.Evaluate(p.now, &in, &p.st), in
	p.opened = append(p.opened, p.last.Opened...)
	p.upgraded = append(p.upgraded, p.last.Upgraded...)
	p.closed = append(p.closed, p.last.Closed...)
}

// alerts returns every finding that was ever announced, newest version.
func (p *plant) alerts() (list []cause.Finding) {
	for _, f := range append(append([]cause.Finding{}, p.opened...), p.upgraded...) {
		if f.Tier == cause.Alert {
			list = append(list, f)
		}
	}
	return list
}

func (p *plant) top() *cause.Finding {
	if len(p.last.Findings) == 0 {
		return nil
	}
	return &p.last.Findings[0]
}
