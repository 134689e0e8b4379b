package scenario

import (
	"math"
	"slices"
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

// Set is one of three disjoint sets of seeds. Detectors are tuned on the
// first, checked on the second, and judged once on the third, which is never
// looked at while tuning.
type Set string

// Sets.
const (
	Tune     Set = "tune"
	Validate Set = "validate"
	Sealed   Set = "sealed"
)

// Sets are all sets.
func Sets() []Set { return []Set{Tune, Validate, Sealed} }

// seed returns the seed of a trial: set, stream and index side by side, so
// that no two trials of any set share one.
func (s Set) seed(stream, index int) uint64 {
	set := map[Set]uint64{Tune: 1, Validate: 2, Sealed: 3}[s]
	return set<<56 | uint64(stream)<<32 | uint64(uint32(index))
}

// Trial is one simulated gauge over a stretch of time.
type Trial struct {
	Name    string
	Make    string // of the gauge, see Makes
	Service string
	Sheet   *datasheet.Sheet
	Options Options
	Every   time.Duration // between scans
	Length  time.Duration
	Onset   time.Duration // of the fault; 0: healthy

	Plant  *datasheet.Sheet // what is really there, where that is not as Sheet says; nil: it is
	Record *Record          // how it is recorded; nil: every scan sees every instrument
}

// Unit makes the unit of a trial.
func (t Trial) Unit() (*Unit, error) {
	if t.Plant != nil {
		return New(t.Plant, t.Options)
	}
	return New(t.Sheet, t.Options)
}

// Faults are what is wrong in a trial, at the gauge or on the way of its
// readings.
func (t Trial) Faults() []Fault {
	if t.Record == nil {
		return t.Options.Faults
	}
	return slices.Concat(t.Options.Faults, t.Record.Faults)
}

// Years is the length of the trial in years.
func (t Trial) Years() float64 { return t.Length.Hours() / 24 / 365.25 }

// Start is when every trial begins.
var Start = time.Date(2024, 1, 8, 0, 0, 0, 0, time.UTC)

// Cell is one fault of one size in the benchmark.
type Cell struct {
	Kind  Kind
	Size  float64 // SI, 0: the kind's default
	Label string  // the size as people write it
	Days  int     // watched after onset
	On    string  // the further make it is tried on; "": Makes in turn
	With  *Cell   // a second fault, which begins within a day of the first; nil: none
	Part  string  // tag of the instrument it happens to; "": the first that can have it
}

// Ladder is the catalogue of faults with the sizes they are tried in.
func Ladder() []Cell {
	mm := func(k Kind, days int, sizes ...float64) []Cell { return ladder(k, " mm", 1e-3, days, sizes) }
	percent := func(k Kind, days int, sizes ...float64) []Cell { return ladder(k, " %", 1e-2, days, sizes) }
	rate := func(k Kind, sizes ...float64) []Cell { return ladder(k, " mm/month", 1e-3/secondsPerMonth, 120, sizes) }
	seconds := func(k Kind, days int, sizes ...float64) []Cell { return ladder(k, " s", 1, days, sizes) }
	plain := func(k Kind, days int) []Cell { return []Cell{{Kind: k, Days: days}} }
	var all []Cell
	for _, group := range [][]Cell{
		plain(FloatStuck, 30), plain(FloatPartlyStuck, 30), plain(FloatOneWay, 30), mm(FloatStickSlip, 40, 8, 15, 30),
		plain(FloatSunk, 20), rate(FloatHeavier, 6, 12, 30), percent(DensityWrong, 40, -3, -6, -12, 6),
		plain(FollowerDecoupled, 30), mm(FollowerShifted, 40, 10, 20),
		mm(TransmitterZero, 40, 5, 10, 15, 20, 40), percent(TransmitterSpan, 40, 1, 2, 4, 8), rate(TransmitterDrift, 6, 12, 30),
		plain(TransmitterFrozen, 30), plain(TransmitterSaturated, 20), plain(TransmitterNoiseLost, 40),
		plain(RadarFoam, 40), plain(RadarBuildUp, 40), plain(LegEmpty, 20), percent(LegPartlyFilled, 40, 2, 5, 10), plain(LegPlugged, 30),
		mm(DisplacerStuck, 40, 50, 400), plain(PointFailed, 40), mm(PointShifted, 60, 10, 15, 20, 30),
		seconds(LowerPlugged, 40, 180, 900), plain(UpperPlugged, 30), plain(ChamberIsolated, 30),
		seconds(TimeSkew, 60, 20, 60), plain(SignalLost, 20),
		mm(PointWidened, 60, 10, 20),
		on(EveryWitness, plain(FloatStuck, 30), rate(FloatHeavier, 12), percent(DensityWrong, 40, -6), mm(FollowerShifted, 40, 20), mm(TransmitterZero, 40, 15),
			percent(LegPartlyFilled, 40, 5), seconds(LowerPlugged, 40, 900)),
		on(LiquidPoints, plain(FloatStuck, 30), plain(FollowerDecoupled, 30), plain(PointFailed, 40)),
		both(plain(FloatStuck, 30), mm(TransmitterZero, 30, 20)), both(mm(FollowerShifted, 30, 20), mm(TransmitterZero, 30, 40)),
		both(mm(FollowerShifted, 30, 20), percent(TransmitterSpan, 30, 8)), both(mm(FollowerShifted, 30, 20), plain(TransmitterFrozen, 30)),
		both(percent(DensityWrong, 30, -12), mm(TransmitterZero, 30, 40)), both(seconds(LowerPlugged, 30, 900), mm(TransmitterZero, 30, 40)),
		both(plain(FloatStuck, 30), plain(PointFailed, 30)),
		on(Interface, plain(FloatStuck, 30), plain(FloatSunk, 20), rate(FloatHeavier, 12), percent(DensityWrong, 40, -3, 2), mm(FollowerShifted, 40, 20),
			mm(TransmitterZero, 40, 20), plain(TransmitterFrozen, 30), mm(PointShifted, 60, 20)),
		mm(TransmitterNoisy, 20, 15, 25, 60), mm(FollowerNoisy, 20, 15, 25, 60), mm(VesselNoisy, 20, 25, 60), on(EveryWitness, mm(TransmitterNoisy, 20, 25)),
	} { // what is new comes last, so that the seeds of the others stay
		all = append(all, group...)
	}
	return all
}

// both are cells of two faults.
func both(first, second []Cell) []Cell {
	c := first[0]
	c.With = &second[0]
	return []Cell{c}
}

// on are cells tried on a further make.
func on(make string, groups ...[]Cell) []Cell {
	var cells []Cell
	for _, c := range slices.Concat(groups...) {
		c.On = make
		cells = append(cells, c)
	}
	return cells
}

func ladder(k Kind, unit string, scale float64, days int, sizes []float64) []Cell {
	cells := make([]Cell, len(sizes))
	for i, v := range sizes {
		cells[i] = Cell{Kind: k, Size: v * scale, Label: trimmed(v) + unit, Days: days}
	}
	return cells
}

// Name is the kind with its size.
func (c Cell) Name() string {
	name := string(c.Kind)
	if c.Label != "" {
		name += " " + c.Label
	}
	if c.Part != "" {
		name += " at " + c.Part
	}
	if c.With != nil {
		name += " + " + c.With.Name()
	}
	if c.On != "" {
		name += " on " + c.On
	}
	return name
}

// makes are the gauges a cell is tried on: those that can have its faults and
// could show them.
func (c Cell) makes() (list []Make) {
	of := Makes()
	if c.On != "" || c.With != nil && c.With.Kind == PointFailed {
		of = Further()
	}
	for _, m := range of {
		if c.On != "" && c.On != m.Name {
			continue
		}
		can := true
		for f := &c; f != nil; f = f.With {
			d, _ := Describe(f.Kind)
			sheet := m.Sheet()
			_, refused := choosePart(sheet, Fault{Gauge: sheet.Tag, Kind: f.Kind}, d.needs)
			can = can && refused == "" && m.visible(f.Kind)
		}
		can = can && (c.With == nil || m.visibleBoth(c.Kind, c.With.Kind))
		if can {
			list = append(list, m)
		}
	}
	return list
}

// Make is one way gauges of the benchmark are made.
type Make struct {
	Name  string
	Sheet func() *datasheet.Sheet
}

// processes are the ways the vessels of the benchmark are operated.
func processes(sheet *datasheet.Sheet) []Process {
	if sheet.Fluid.Vapour.Model == datasheet.Steam {
		return []Process{DrumProcess(), ControlProcess()}
	}
	return []Process{ControlProcess(), BatchProcess(), ControlProcess(), BatchProcess(), QuietProcess()}
}

// HealthyTrials are trials without a fault: gauges of every make, one after
// the other, each for a year at most, until there are enough gauge-years.
func HealthyTrials(set Set, service Service, years float64, every time.Duration) []Trial {
	const longest = 365.25 * 24 * time.Hour
	var trials []Trial
	class := 0
	for i, s := range Services() {
		if s.Name == service.Name {
			class = i
		}
	}
	makes := Makes()
	for i := 0; years > 1e-9; i++ {
		length := longest
		if years < 1 {
			length = time.Duration(years * float64(longest))
		}
		years -= 1
		m := makes[i%len(makes)]
		t := newTrial(set, 1000+class, i, m, service, every)
		t.Name, t.Length = service.Name, length
		trials = append(trials, t)
	}
	return trials
}

// FaultTrials are trials of one cell in benign service, spread over the makes
// that can have the fault. The onset is after two to three weeks.
func FaultTrials(set Set, cell Cell, repeats int, every time.Duration) []Trial {
	stream := 2000
	for i, c := range Ladder() {
		if c.Name() == cell.Name() {
			stream += i
		}
	}
	d, _ := Describe(cell.Kind)
	makes := cell.makes()
	var trials []Trial
	for i := range repeats {
		t := newTrial(set, stream, i, makes[i%len(makes)], Benign(), every)
		s := newSource(t.Options.Seed, streamFault)
		t.Onset = time.Duration(s.between(14, 21) * float64(24*time.Hour)).Truncate(time.Minute)
		t.Length = t.Onset + time.Duration(cell.Days)*24*time.Hour
		t.Name = cell.Name()
		f := Fault{Gauge: t.Sheet.Tag, Kind: cell.Kind, Size: cell.Size, Delay: t.Onset}
		if d.needs == needPoint {
			f.Part = t.Sheet.Points[s.next()%uint64(len(t.Sheet.Points))].Tag
		}
		t.Options.Faults = []Fault{f}
		if w := cell.With; w != nil {
			also := time.Duration(s.between(0, 24) * float64(time.Hour)).Truncate(time.Minute)
			t.Options.Faults = append(t.Options.Faults, Fault{Gauge: t.Sheet.Tag, Kind: w.Kind, Size: w.Size, Delay: t.Onset + also})
		}
		trials = append(trials, t)
	}
	return trials
}

// visible reports whether any set of instruments could see the fault on this
// make. A fault of the chamber cannot be seen from inside the chamber: every
// report says so, and a benchmark of it without a vessel level would measure
// nothing.
func (m Make) visible(k Kind) bool {
	sheet := m.Sheet()
	switch k {
	case LowerPlugged, UpperPlugged, ChamberIsolated:
		return sheet.Vessel != nil
	case FloatStuck, FloatPartlyStuck, FloatOneWay, FloatStickSlip, FloatSunk, FloatHeavier, DensityWrong, FollowerNoisy:
		return sheet.Transmitter != nil || k == FloatStuck && !slices.ContainsFunc(sheet.Points, datasheet.Point.ByFloat)
	}
	return true
}

// visibleBoth reports whether two faults at once could both be seen. Of two
// levels that part, one that stands or swims in another density hides how far
// the other is off; and a float that stands passes no point it works.
func (m Make) visibleBoth(a, b Kind) bool {
	sheet := m.Sheet()
	levels := 1
	for _, there := range []bool{sheet.Transmitter != nil, sheet.Second != nil, sheet.Vessel != nil} {
		if there {
			levels++
		}
	}
	switch {
	case a == FloatStuck && b == PointFailed:
		return !slices.ContainsFunc(sheet.Points, datasheet.Point.ByFloat)
	case a == FloatStuck || a == DensityWrong:
		return levels > 2
	case a == FollowerShifted:
		return levels > 2 || len(sheet.Points) > 1
	}
	return true
}

func newTrial(set Set, stream, index int, m Make, service Service, every time.Duration) Trial {
	sheet := m.Sheet()
	// What nobody is told of belongs in the budget: a rectangle has the standard
	// uncertainty of its half width over the root of three.
	sheet.Budget.Density = variety(&sheet.Fluid) * (service.Composition/math.Sqrt(3) + service.Seasonal/math.Sqrt2)
	seed := set.seed(stream, index)
	of, draw := processes(sheet), newSource(seed, streamLibrary)
	return Trial{
		Make: m.Name, Service: service.Name, Sheet: sheet, Every: every,
		Options: Options{Process: of[draw.next()%uint64(len(of))], Service: service, Seed: seed, Start: Start},
	}
}

func kelvin(k float64) *quantity.TemperatureDifference {
	d := quantity.TemperatureDifference(k)
	return &d
}
