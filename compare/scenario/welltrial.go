package scenario

import (
	"slices"
	"time"

	"bridlewatch/compare/datasheet"
)

// Streams of seeds of the wells, beside those of the library.
const (
	wellStream      = 3000
	wellFaultStream = 3500
)

// wellLength is how long a healthy record is.
const wellLength = 5 * time.Duration(secondsPerMonth) * time.Second

// WellFaults are the faults wells are tried with. New ones come last, so that
// the seeds of the others stay.
func WellFaults() []Cell {
	const encoder, radar, pressure = "ENC-901", "RAD-901", "PRS-901"
	var all []Cell
	add := func(part string, groups ...[]Cell) {
		for _, c := range slices.Concat(groups...) {
			c.Part = part
			all = append(all, c)
		}
	}
	mm := func(k Kind, days int, sizes ...float64) []Cell { return ladder(k, " mm", 1e-3, days, sizes) }
	minutes := func(k Kind, days int, sizes ...float64) []Cell { return ladder(k, " min", 60, days, sizes) }
	monthly := func(k Kind, size float64) []Cell {
		return ladder(k, " mm/month", 1e-3/secondsPerMonth, 90, []float64{size})
	}
	plain := func(k Kind, days int) []Cell { return []Cell{{Kind: k, Days: days}} }
	add(encoder,
		plain(FloatStuck, 20), plain(FloatPartlyStuck, 20), plain(FloatOneWay, 20), mm(FloatStickSlip, 30, 60, 150), plain(FloatSunk, 15),
		monthly(FloatHeavier, 40), plain(FollowerDecoupled, 20), mm(FollowerShifted, 30, 100, -300, 740), mm(FollowerNoisy, 20, 60), minutes(TimeSkew, 30, 60, -60),
		plain(SignalLost, 10))
	add(radar,
		mm(TransmitterZero, 30, 100, -250), plain(TransmitterFrozen, 20), mm(TransmitterNoisy, 20, 60), minutes(TimeSkew, 30, -60), plain(SignalLost, 10))
	add(pressure,
		mm(TransmitterZero, 30, -100, 250), monthly(TransmitterDrift, -40), plain(TransmitterFrozen, 20), ladder(TransmitterSpan, " %", 1e-2, 40, []float64{5}),
		mm(TransmitterNoisy, 20, 60), minutes(TimeSkew, 30, 60), plain(SignalLost, 10))
	return all
}

// WellTrials are healthy records of five months of one kind of well.
func WellTrials(set Set, which Well, n int) []Trial {
	kinds := Wells()
	stream := slices.IndexFunc(kinds, func(w Well) bool { return w.Name == which.Name })
	trials := make([]Trial, n)
	for i := range trials {
		seed := set.seed(wellStream+stream, i)
		s := newSource(seed, streamLibrary)
		w := drawWell(&kinds[stream], &s)
		if s.chance(0.3) { // two instruments only
			w.record.column(int(s.next() % uint64(len(recorded)))).Every = 0
		}
		trials[i] = w.trial(&kinds[stream], seed)
		trials[i].Length = wellLength
	}
	return trials
}

// wellsWithFaults is how many kinds of well, from the first on, the faults are
// tried in: later ones do not change their trials.
const wellsWithFaults = 13

// WellFaultTrials are records with one fault, of wells of every kind. The
// onset is after three to five weeks.
func WellFaultTrials(set Set, cell Cell, n int) []Trial {
	kinds := Wells()
	stream := slices.IndexFunc(WellFaults(), func(c Cell) bool { return c.Name() == cell.Name() })
	trials := make([]Trial, n)
	for i := range trials {
		seed := set.seed(wellFaultStream+stream, i)
		s := newSource(seed, streamLibrary)
		kind := &kinds[s.next()%wellsWithFaults]
		w := drawWell(kind, &s)
		faulty := findPart(WellSheet(), cell.Part).kind
		if s.chance(0.3) { // one of the others is not there
			other := int(s.next() % uint64(len(recorded)-1))
			if recorded[other] == faulty {
				other = len(recorded) - 1
			}
			w.record.column(other).Every = 0
		}
		onset := days(s.between(21, 35))
		f := Fault{Gauge: "LG-901", Kind: cell.Kind, Part: cell.Part, Size: cell.Size, Delay: onset}
		if f.Kind == FloatPartlyStuck { // between mean and high water
			f.Size = w.tide.Mean*8 + w.tide.Range*s.between(0, 0.25)
		}
		for j := range recorded { // a column that is missing shows no fault
			if c := w.record.column(j); recorded[j] == faulty {
				c.Absent = 0
			}
		}
		t := w.trial(kind, seed)
		if f.Kind == TimeSkew {
			t.Record.Faults = []Fault{f}
		} else {
			t.Options.Faults = []Fault{f}
		}
		t.Name, t.Onset, t.Length = cell.Name(), onset, onset+time.Duration(cell.Days)*24*time.Hour
		trials[i] = t
	}
	return trials
}

// trial makes the trial of a well as drawn.
func (w *wellDraw) trial(kind *Well, seed uint64) Trial {
	plant := WellSheet()
	for i, t := range []*datasheet.Transmitter{plant.Transmitter, plant.Second} {
		if w.outside[i] {
			t.Chamber = "vessel"
		}
	}
	lag := w.lag
	if lag == 0 {
		lag = 5 * time.Second
	}
	return Trial{
		Name: kind.Name, Make: kind.Name, Service: kind.Name, Sheet: WellSheet(), Plant: plant, Every: time.Minute, Record: &w.record,
		Options: Options{
			Process: Process{Motion: Tidal, Tide: w.tide, Lag: lag, PressureSwing: 0.01, PressureTime: 24 * time.Hour},
			Service: Service{
				Name: kind.Name, Composition: 0.002, CompositionEvery: 15 * 24 * time.Hour, Seasonal: 0.001, EchoJumps: 0.5, Vibration: w.noise,
			},
			Seed: seed, Start: Start,
		},
	}
}
