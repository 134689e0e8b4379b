// Package scenario is the other side of bridlewatch's eyes: simulated gauges
// by forward physics, healthy or with faults, for the rehearsal, for tests
// and for the benchmark.
//
// A Unit is one gauge on one vessel. The vessel's level moves as its Process
// says, the weather of its Service disturbs it, the chamber follows through
// its connections, every instrument indicates what physics and its own small
// errors make of that, and faults are injected where they happen in the real
// thing: at the float, at its follower, in a transmitter or its leg, at a
// point, in a connection of the chamber, in the data path. The same seed
// gives the same readings on every machine; a fault does not change the
// process or the noise it happens in.
package scenario

import (
	"fmt"
	"math"
	"slices"
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
)

// Options say how a unit is operated.
type Options struct {
	Process Process // zero: ControlProcess
	Service Service // zero: undisturbed
	Faults  []Fault // those of other gauges are ignored
	Seed    uint64
	Start   time.Time
}

// Truth is the state of the simulated world, which no instrument knows.
type Truth struct {
	Time               time.Time
	Vessel             quantity.Length // level in the vessel above the lower tap
	Chamber            quantity.Length // level in the chamber
	Float              quantity.Length // what a perfect follower would indicate of the float where it really is
	Pressure           quantity.Pressure
	Temperature        quantity.Temperature
	ChamberTemperature quantity.Temperature
	Composition        float64 // density over that of the data sheet's fluid at the same state
	Faults             []Fault // in force now
}

// Unit is one simulated gauge. It is not safe for concurrent use.
type Unit struct {
	sheet   datasheet.Sheet
	world   *world
	process Process
	start   time.Time
	now     float64 // seconds since start
	faults  []active

	noise     source
	faultRand source
	arrival   source
	character character
	wave      wander

	float        float64 // where the float is, metres of its follower's indication
	placed       bool
	backlash     float64 // where the follower's magnet coupling is
	contacts     [datasheet.MaxPoints]contact
	main, second probe
	links        [partVessel + 1]link
	cold         float64 // kelvin, chamber sensor's lagged reading minus truth
	last         gauge.Snapshot
}

// maxStep is the longest step the world is advanced by at once, seconds.
const maxStep = 60

// New makes a unit that stands at o.Start. It fails with a *FaultError when a
// fault cannot happen to this gauge, and with the error of package gauge when
// the data sheet is not usable.
func New(sheet *datasheet.Sheet, o Options) (*Unit, error) {
	if o.Process == (Process{}) {
		o.Process = ControlProcess()
	}
	u := &Unit{sheet: *sheet, process: o.Process, start: o.Start}
	character := newSource(o.Seed, streamCharacter)
	u.noise = newSource(o.Seed, streamNoise)
	u.faultRand = newSource(o.Seed, streamFault)
	u.arrival = newSource(o.Seed, streamArrival)
	u.character = newCharacter(sheet, &character)
	w, err := newWorld(&u.sheet, o, &character)
	if err != nil {
		return nil, err
	}
	u.world = w
	if err := u.newProbes(); err != nil {
		return nil, err
	}
	for _, f := range o.Faults {
		if f.Gauge == sheet.Tag || f.Gauge == "" {
			if err := u.Inject(f); err != nil {
				return nil, err
			}
		}
	}
	return u, u.observe(0)
}

// Inject adds a fault that begins f.Delay after the unit's present time.
func (u *Unit) Inject(f Fault) error {
	d, ok := Describe(f.Kind)
	if !ok {
		return &FaultError{Text: f.String(), Reason: "there is no such kind; the kinds are " + kindNames()}
	}
	if slices.Contains(grafts[:], d) {
		return &FaultError{Text: f.String(), Reason: "a simulated gauge has no such fault; it is for readings of a real one, see bridlewatch trial"}
	}
	a, err := u.activate(f, d, d.needs)
	if err != nil {
		return err
	}
	u.faults = append(u.faults, a)
	return nil
}

// activate finds the instrument of a fault and its size.
func (u *Unit) activate(f Fault, d Description, n needs) (active, error) {
	p, reason := choosePart(&u.sheet, f, n)
	if reason != "" {
		return active{}, &FaultError{Text: f.String(), Reason: reason}
	}
	a := active{fault: f, needs: d.needs, part: p, size: f.Size, start: u.now + f.Delay.Seconds(), end: math.Inf(1)}
	if a.size == 0 {
		a.size = d.size
	}
	if a.size == 0 && d.measure == length { // an elevation
		share := map[Kind]float64{FloatPartlyStuck: 0.55, RadarBuildUp: 0.60}[f.Kind]
		a.size = share * float64(u.sheet.Chamber.CentreToCentre)
	}
	if f.For > 0 {
		a.end = a.start + f.For.Seconds()
	}
	return a, nil
}

// Sheet returns the data sheet of the gauge.
func (u *Unit) Sheet() *datasheet.Sheet { return &u.sheet }

// Now returns the simulated time of the unit.
func (u *Unit) Now() time.Time {
	return u.start.Add(time.Duration(math.Round(u.now * float64(time.Second))))
}

// Step advances the unit to a later time, of any distance, and returns what
// its instruments say then. Time never goes back: an earlier time returns the
// present readings. The error is that of package gauge when the simulated
// state has left its range; the unit stays usable.
func (u *Unit) Step(to time.Time) (gauge.Snapshot, error) {
	goal := to.Sub(u.start).Seconds()
	for u.now < goal {
		dt := math.Min(goal-u.now, maxStep)
		if goal-u.now-dt < 1e-9 {
			u.now = goal
		} else {
			u.now += dt
		}
		u.updateFaults()
		if err := u.world.step(dt, u.faults); err != nil {
			return u.last, fmt.Errorf("simulate gauge %s: %w", u.sheet.Tag, err)
		}
		if err := u.observe(dt); err != nil {
			return u.last, err
		}
	}
	return u.last, nil
}

// Truth returns what no instrument knows.
func (u *Unit) Truth() Truth {
	t := u.world.truth
	out := Truth{
		Time: u.Now(), Vessel: quantity.Length(u.world.vessel), Chamber: t.ChamberLevel, Float: quantity.Length(u.float),
		Pressure: t.Pressure, Temperature: t.Temperature, ChamberTemperature: t.ChamberTemperature, Composition: t.Composition,
	}
	for i := range u.faults {
		if u.faults[i].on {
			out.Faults = append(out.Faults, u.faults[i].fault)
		}
	}
	return out
}

func (u *Unit) updateFaults() {
	for i := range u.faults {
		u.faults[i].update(u.now)
	}
}
