package scenario

import (
	"time"

	"bridlewatch/compare/datasheet"
)

// WellSheet is a float, a radar and a pressure sensor on one stilling well, as
// testdata/config/good/stilling-well.yaml describes them, every default
// filled in. Records of every kind of water are compared with it.
func WellSheet() *datasheet.Sheet {
	return &datasheet.Sheet{
		Tag: "LG-901", Service: "stilling well, sea water", Area: "quay",
		MaxPressure: 2.01e5, MaxTemperature: 318.15, OperatingPressure: 1.01e5, OperatingTemp: 301.15, Gravity: 9.80665,
		DesignSG: 1.023, SGMin: 1.015, SGMax: 1.028,
		Chamber: datasheet.Chamber{
			Material: "PVC", PipeSize: "2-1/2", Schedule: "40", InnerDiameter: 0.3, OuterDiameter: 0.315, EndStyle: "open",
			ConnectionStyle: datasheet.SideBottom, CentreToCentre: 8, BelowLowerTap: 0.5, AboveUpperTap: 0.5, Insulation: "bare",
		},
		Fluid: datasheet.Fluid{Name: "sea water", Model: datasheet.Constant, BaseDensity: 1022, BaseTemperature: 301.15, RelativeU: 0.003, Vapour: datasheet.Vapour{Model: datasheet.NoVapour}},
		Float: datasheet.Float{
			Tag: "ENC-901", Mass: 1.5, Diameter: 0.2, Length: 0.22, Material: "titanium", EndShape: datasheet.Flat,
			MagnetAbove: 0.11, Follower: datasheet.Magnetostrictive, BuiltFor: 1.023 * datasheet.WaterReferenceDensity,
		},
		Transmitter: &datasheet.Transmitter{Tag: "RAD-901", Principle: datasheet.Radar, Chamber: "same", U: 0.01, ReferencePoint: 10, ConfiguredEps: 1},
		Second:      &datasheet.Transmitter{Tag: "PRS-901", Principle: datasheet.DPDry, Chamber: "same", U: 0.01, Compensated: true, CalibratedFor: 1022},
		Limits:      datasheet.Limits{Gap: 0.16, Drift: 0.025, StillMoves: 3, MoveSize: 0.04, ProvenDays: 180},
		Budget:      datasheet.Budget{Follower: 0.01, TapElevation: 0.005, Coverage: 2, LearnBaseline: true},
	}
}

// Settings of the record in the same file.
const (
	wellMaxAge = 15 * time.Minute
	wellLow    = -0.1 // metres above the lower tap
	wellHigh   = 8.1
)

// Well is one kind of water with the record that is kept of it.
type Well struct {
	Name string
	draw func(w *wellDraw, s *source)
}

// wellDraw is one well as drawn.
type wellDraw struct {
	tide    Tide
	noise   float64       // metres, of every instrument
	lag     time.Duration // of the well behind the sea
	outside [2]bool       // radar and pressure sensor look at the sea, not into the well
	dry     float64       // metres by which a spring tide falls below the lower tap; 0: it does not
	record  Record
}

// Wells are the kinds of record the benchmark has. New ones come last, so that
// the seeds of the others stay.
func Wells() []Well {
	several := Well{"several at once", func(w *wellDraw, s *source) {
		kinds := plainWells()
		for range 3 {
			kinds[s.next()%uint64(len(kinds))].draw(w, s)
		}
	}}
	dry := Well{"low water below the tap", func(w *wellDraw, s *source) {
		w.tide.Range, w.dry = s.between(2, 6), s.between(0, 0.35)
	}}
	return append(plainWells(), several, dry)
}

func plainWells() []Well {
	return []Well{
		{"small tide", func(w *wellDraw, s *source) { w.tide.Range = s.between(0.2, 0.5) }},
		{"middle tide", func(w *wellDraw, s *source) { w.tide.Range = s.between(1, 3) }},
		{"large tide", func(w *wellDraw, s *source) { w.tide.Range = s.between(4, 6.5) }},
		{"seiches", func(w *wellDraw, s *source) {
			w.tide.Seiche, w.tide.SeicheRest = s.between(0.06, 0.3), s.between(0.005, 0.04)
			w.tide.SeichePeriod, w.tide.Seiches = minutes(s.between(6, 60)), s.between(2, 8)
		}},
		{"storms", func(w *wellDraw, s *source) {
			w.tide.Storms, w.tide.StormHeight, w.tide.StormWaves = s.between(1, 4), s.between(0.4, 1.2), s.between(5, 20)
			w.tide.Seiche, w.tide.SeichePeriod = s.between(0.02, 0.12), minutes(s.between(8, 40))
		}},
		{"a well that lags", func(w *wellDraw, s *source) {
			w.lag = time.Duration(s.between(60, 400)) * time.Second
			w.outside = [2]bool{true, s.chance(0.5)}
			if s.chance(0.5) {
				w.tide.Seiche, w.tide.SeicheRest, w.tide.SeichePeriod, w.tide.Seiches = s.between(0.03, 0.15), s.between(0, 0.02), minutes(s.between(8, 40)), 3
			}
		}},
		{"coarse record", func(w *wellDraw, s *source) {
			every, step := [...]time.Duration{15 * time.Minute, 60 * time.Minute}[s.next()%2], [...]float64{0.001, 0.01}[s.next()%2]
			for i := range recorded {
				c := w.record.column(i)
				c.Every, c.Step = every, step
			}
		}},
		{"mixed grids", func(w *wellDraw, s *source) {
			for i := range recorded {
				c := w.record.column(i)
				c.Every = minutes(float64([...]int{1, 2, 3, 6, 15}[s.next()%5]))
				c.Late = minutes(float64(s.next() % 4))
			}
		}},
		{"bad telemetry", func(w *wellDraw, s *source) {
			r := &w.record
			r.Missing, r.Outages, r.Outage = s.between(0.01, 0.1), s.between(2, 8), 48*time.Hour
			r.Stalls, r.Bursts, r.Nights = s.between(0, 6), s.between(1, 10), s.chance(0.5)
		}},
		{"telemetry that holds", func(w *wellDraw, s *source) {
			w.record.Holds, w.record.Hold = s.between(2, 8), 12*time.Hour
		}},
		{"months without one", func(w *wellDraw, s *source) {
			c := w.record.column(int(s.next() % uint64(len(recorded))))
			c.From, c.Absent = days(s.between(10, 80)), days(s.between(20, 60))
		}},
		{"noisy water", func(w *wellDraw, s *source) {
			w.noise = s.between(4e-3, 15e-3)
			for i := range recorded {
				w.record.column(i).Noise = s.between(2e-3, 12e-3)
			}
		}},
	}
}

func minutes(v float64) time.Duration { return time.Duration(v) * time.Minute }
func days(v float64) time.Duration    { return time.Duration(v*24*60) * time.Minute }

// drawWell draws a well of a kind: what the kind leaves open is that of an
// ordinary harbour.
func drawWell(kind *Well, s *source) *wellDraw {
	w := &wellDraw{noise: s.between(0.5e-3, 3e-3)}
	w.tide = Tide{
		Range: s.between(0.6, 3), Diurnal: [...]float64{0.1, 0.3, 1, 4}[s.next()%4], Surge: s.between(0.01, 0.08),
		Storms: 0.3, StormHeight: 0.3, StormWaves: 4, SeicheRest: s.between(0, 0.012), SeichePeriod: minutes(s.between(8, 45)),
	}
	every := [...]time.Duration{time.Minute, 6 * time.Minute, 6 * time.Minute, 15 * time.Minute}[s.next()%4]
	w.record = Record{MaxAge: wellMaxAge, Low: wellLow, High: wellHigh, Outages: 0.5, Outage: 12 * time.Hour, Stalls: 0.3, Bursts: 0.3, Missing: 0.002}
	for i := range recorded {
		*w.record.column(i) = Column{Every: every, Step: 1e-3, Noise: s.between(0.5e-3, 3e-3)}
	}
	kind.draw(w, s)
	// The mean lies where spring tide and storm stay between the taps.
	half := w.tide.Range/2*1.25 + 3*w.tide.Surge + w.tide.Seiche + 0.25
	w.tide.Mean = s.between(half, max(half+0.01, 8-half-w.tide.StormHeight)) / 8
	if w.dry > 0 {
		w.tide.Mean = (w.tide.Range/2 - w.dry) / 8
	}
	return w
}
