package planttest

import (
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/coverage"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/symptom"
	"bridlewatch/dashboards/plant"
)

// Varied returns a plant with one gauge of every kind a page must be able to
// show.
func Varied() *Plant {
	p := New(Healthy("LG-101"), StuckFloat("LG-102"), Stale("LG-103"), NoTransmitter("LG-104"), AboveUpperTap("LG-105"),
		Isolated("LG-106"), Undecided("LG-107"), Drifting("LG-108"), NeverCompared("LG-109"), Healthy("LG-110"), Tall("LG-111"), Healthy("LG-112"))
	p.proven["LG-101"], p.proven["LG-102"] = proofs("LI-101"), proofs("LI-102")
	p.tests["LG-102"] = tests()
	p.blind["LG-101"], p.blind["LG-102"] = blindSpots(), blindSpots()
	return p
}

// Sheet is the data sheet of a condensate gauge with a float, a guided wave
// radar and two points.
func Sheet(tag string) *datasheet.Sheet {
	n := tag[3:]
	return &datasheet.Sheet{
		Tag: tag, Service: "Condensate receiver", Area: "Boiler house, level 1",
		MaxPressure: 25e5, MaxTemperature: quantity.FromCelsius(230), OperatingPressure: 9e5, OperatingTemp: quantity.FromCelsius(165),
		DesignSG: 0.9, SGMin: 0.85, SGMax: 1,
		Chamber: datasheet.Chamber{Material: "316L", PipeSize: "2-1/2", Schedule: "40", InnerDiameter: 0.0627, OuterDiameter: 0.0730,
			EndStyle: "flanged", ConnectionStyle: datasheet.SideSide, CentreToCentre: 1.0, LowerTapEL: 4.25, BelowLowerTap: 0.33, AboveUpperTap: 0.20},
		Fluid: datasheet.Fluid{Name: "water", Model: datasheet.Water},
		Float: datasheet.Float{Tag: "LI-" + n, Mass: 0.40, Diameter: 0.050, Length: 0.32, EndShape: datasheet.Hemispherical, MagnetAbove: 0.24,
			Follower: datasheet.Magnetostrictive, BuiltFor: 902},
		Transmitter: &datasheet.Transmitter{Tag: "LT-" + n, Principle: datasheet.Radar, Chamber: "same", ReferencePoint: 1.2, BlindTop: 0.23, BlindBottom: 0.05},
		Points: []datasheet.Point{
			{Tag: "LSL-" + n, Elevation: 0.22, Differential: 0.012, Operated: "float"},
			{Tag: "LSH-" + n, Elevation: 0.78, Differential: 0.012, Operated: "float"},
		},
		Pressure: &datasheet.Instrument{Tag: "PT-" + n}, Temperature: &datasheet.Instrument{Tag: "TT-" + n},
	}
}

// Level makes a level within the taps.
func Level(value, u quantity.Length, basis level.Basis, input level.Input) level.Level {
	l := level.Level{Value: value, Bound: level.Within, Basis: basis}
	l.Parts[input] = float64(u)
	return l
}

func measured(at time.Time, float, trans quantity.Length) gauge.Measurement {
	m := gauge.Measurement{
		Time:  at,
		Float: Level(float, 0.0045, level.ByBuoyancy, level.Follower), Transmitter: Level(trans, 0.006, level.ByTimeFlight, level.TransmitterDevice),
		InVessel: Level(trans+0.012, 0.009, level.ByVessel, level.VesselDensity),
		Magnet:   float - 0.003, MagnetOK: true,
		Liquid: 902.4, LiquidU: 1.6, Gas: 4.6, VesselLiquid: 897.1, VesselGas: 4.6, DensityOK: true, FloatReserve: 1.21,
		PressureUsed: 9.02e5, TemperatureUsed: quantity.FromCelsius(165.3), ChamberTempUsed: quantity.FromCelsius(161),
	}
	m.Gaps[gauge.FloatTransmitter] = gauge.Gap{Value: float - trans, U: 0.0075, Budget: 0.015, OK: true}
	for i := range m.Gaps {
		if i > 0 {
			m.Gaps[i].Reason = quantity.NotRead
		}
	}
	return m
}

func verdicts(pair compare.Outcome, points ...compare.Outcome) []compare.Verdict {
	vs := []compare.Verdict{{Pair: gauge.FloatTransmitter, Point: -1, Outcome: pair}}
	for i, o := range points {
		vs = append(vs, compare.Verdict{Pair: gauge.FloatTransmitter, Point: i, Outcome: o})
	}
	return vs
}

// Healthy is a gauge with nothing wrong.
func Healthy(tag string) plant.GaugeView {
	m := measured(Now, 0.612, 0.609)
	m.Points[0], m.Points[1] = gauge.Wet, gauge.Dry
	return plant.GaugeView{
		Sheet: Sheet(tag), LastSample: Now.Add(-400 * time.Millisecond), MaxAge: 5 * time.Second, Readings: readings(tag, quantity.Good),
		Result: compare.Result{Gauge: tag, Time: Now, Measurement: m, Verdicts: verdicts(compare.Agree, compare.Agree, compare.Agree), Category: compare.GoodCategory,
			Headline: "Float and transmitter agree within 3 mm, 0.2 of what is allowed; both points say the same."},
	}
}

// StuckFloat is a gauge whose float has stopped while everything else moves.
func StuckFloat(tag string) plant.GaugeView {
	g := Healthy(tag)
	n := tag[3:]
	m := measured(Now, 0.612, 0.796)
	m.Points[0], m.Points[1] = gauge.Wet, gauge.Dry
	g.Sheet.Service = "Boiler drum"
	g.Sheet.Points[1].Operated = "liquid"
	m.Points[1] = gauge.Wet
	m.Magnet = 0.609
	m.InVessel = Level(0.624, 0.009, level.ByBuoyancy, level.Follower)
	vs := verdicts(compare.Disagree, compare.Agree, compare.Disagree)
	vs[0].Reasons = []string{"the gap is 12.3 times the budget", "shared density and chamber are taken into account"}
	vs[2].Reasons = []string{"the float is 168 mm below the trip elevation, the switch is wet"}
	since := Now.Add(-190 * time.Minute)
	g.Result = compare.Result{Gauge: tag, Time: Now, Measurement: m, Verdicts: vs, Category: compare.Failure,
		Headline: "Float has not moved for 3 h 10 min. Transmitter moved 184 mm and LSH-" + n + " switched at 780 mm. Float is probably stuck.",
		Next:     "Drain test under the site’s permit, 10 min.",
		Findings: []cause.Finding{{
			ID: tag + "/1", Gauge: tag, Symptom: symptom.FloatStill, Cause: cause.FloatStuck, Suspect: cause.Float, Tag: "LI-" + n, Tier: cause.Alert,
			Since: since, Raised: since.Add(25 * time.Minute), Changed: Now.Add(-8 * time.Minute), Value: -0.184, Budget: 0.015,
			Set: []cause.Ranked{{Cause: cause.FloatStuck, Suspect: cause.Float, Tag: "LI-" + n, Probability: 0.962}, {Cause: cause.FollowerDecoupled, Suspect: cause.Follower, Tag: "LI-" + n, Probability: 0.031, Nats: -3.4}, {Cause: cause.TransmitterDrift, Suspect: cause.Transmitter, Tag: "LT-" + n, Probability: 0.007, Nats: -4.9}},
			Evidence: []cause.Evidence{
				{From: since, To: Now, Sentence: "Float stayed within 1 mm while the transmitter made 9 moves of 20 mm.", For: []cause.Cause{cause.FloatStuck, cause.FollowerDecoupled}, Against: []cause.Cause{cause.TransmitterDrift}, Nats: 6.2, Excitation: "9 moves of 20 mm"},
				{From: Now.Add(-52 * time.Minute), To: Now.Add(-52 * time.Minute), Sentence: "LSH-" + n + " became wet at 780 mm, where the transmitter said 779 mm and the float 612 mm.", For: []cause.Cause{cause.FloatStuck}, Nats: 3.1, Excitation: "1 crossing"},
				{From: since.Add(-26 * time.Hour), To: since, Sentence: "Before that, float and transmitter moved together for 26 h.", Against: []cause.Cause{cause.TransmitterSpan}, Nats: 1.4, Excitation: "41 moves of 20 mm"},
			},
			Sentence: "Float has not moved for 3 h 10 min while its witnesses moved. It is probably stuck.", Next: "Drain test under the site’s permit, 10 min.",
			WouldProve: "Drain the chamber by 200 mm: a stuck float stays, a free one follows the transmitter.", Hides: []symptom.Kind{symptom.GapBeyondBudget, symptom.PointContradicts},
		}},
	}
	g.Belief = &compare.Belief{Doubted: "float LI-" + n, Alert: tag + "/1", Raised: since.Add(25 * time.Minute), By: "radar LT-" + n, Tag: "LT-" + n,
		Level: Level(0.808, 0.009, level.ByTimeFlight, level.TransmitterDevice), Blames: "float LI-" + n + " is blamed by the alert of " + compare.RaisedAt}
	return g
}

// Stale is a gauge whose source went silent.
func Stale(tag string) plant.GaugeView {
	g := Healthy(tag)
	g.Sheet.Service = "Slop tank"
	g.Sheet.Area = "Tank farm"
	g.LastSample = Now.Add(-24 * time.Minute)
	g.Readings = readings(tag, quantity.Stale)
	g.Trouble = "opc-ua 10.1.2.9:4840: no answer within 2 s, 12 times"
	return g
}

// NoTransmitter is a gauge with a float and points only.
func NoTransmitter(tag string) plant.GaugeView {
	g := Healthy(tag)
	g.Sheet.Service = "Lube oil reservoir"
	g.Sheet.Transmitter = nil
	g.Result.Measurement.Transmitter = level.Level{}
	g.Result.Measurement.Gaps[gauge.FloatTransmitter] = gauge.Gap{Reason: quantity.NotRead}
	g.Result.Verdicts = verdicts(compare.CannotTell, compare.Agree, compare.Agree)
	g.Result.Verdicts[0].Reasons = []string{"this gauge has no transmitter"}
	g.Result.Headline = "Float and both points agree. There is no transmitter to compare with."
	return g
}

// AboveUpperTap is a gauge filled beyond its upper tap.
func AboveUpperTap(tag string) plant.GaugeView {
	g := Healthy(tag)
	g.Sheet.Service = "Flash drum"
	m := &g.Result.Measurement
	m.Float, m.Transmitter, m.InVessel = level.Level{Bound: level.AboveUpperTap}, level.Level{Bound: level.AboveUpperTap}, level.Level{}
	m.Magnet = 1.0
	m.Points[1] = gauge.Wet
	m.Gaps[gauge.FloatTransmitter] = gauge.Gap{Reason: quantity.OutOfRange}
	g.Result.Verdicts = verdicts(compare.CannotTell, compare.Agree, compare.Agree)
	g.Result.Verdicts[0].Reasons = []string{"both are at the upper tap, where no level can be given"}
	g.Result.Category = compare.OutOfSpec
	g.Result.Headline = "Level is at or above the upper tap: this gauge cannot say how far. Float, transmitter and points do not contradict each other."
	g.Result.Next = "Read the level of the vessel elsewhere."
	return g
}

// Isolated is a gauge somebody is working on.
func Isolated(tag string) plant.GaugeView {
	g := Healthy(tag)
	g.Sheet.Service = "Feed water tank"
	g.Result.Measurement.Isolated = true
	g.Result.Category = compare.FunctionCheck
	g.Result.Headline = "Chamber is isolated since 12:40 by maintenance record M-0042. Nothing is compared."
	g.Result.Next = "Close the record when the valves are open again."
	g.Result.Verdicts = verdicts(compare.CannotTell, compare.CannotTell, compare.CannotTell)
	return g
}

// Undecided is a gauge where two causes cannot be told apart yet.
func Undecided(tag string) plant.GaugeView {
	g := Healthy(tag)
	g.Sheet.Service = "Propane drum"
	g.Result.Measurement = measured(Now, 0.432, 0.461)
	g.Result.Measurement.Points[0] = gauge.Wet
	g.Result.Measurement.Points[1] = gauge.Unknown
	g.Result.Category = compare.OutOfSpec
	g.Result.Headline = "Gap of −29 mm is 1.9 times what is allowed since yesterday 16:20. The float is heavier or the transmitter has a zero error; the data cannot tell which."
	g.Result.Next = "Drain and fill over 300 mm, 20 min, splits the two."
	g.Result.Verdicts = verdicts(compare.Disagree, compare.Agree, compare.CannotTell)
	g.Result.Findings = []cause.Finding{{
		ID: tag + "/1", Gauge: tag, Symptom: symptom.GapBeyondBudget, Cause: cause.Unknown, Suspect: cause.Undecided, Tier: cause.Watch, Since: Now.Add(-22 * time.Hour),
		Value: -0.029, Budget: 0.015, Sentence: "The gap left its budget slowly. Two causes explain it equally well.", Next: "Drain and fill over 300 mm.",
		Set: []cause.Ranked{{Cause: cause.FloatHeavier, Suspect: cause.Float, Tag: g.Sheet.Float.Tag, Probability: 0.52}, {Cause: cause.TransmitterZero, Suspect: cause.Transmitter, Tag: g.Sheet.Transmitter.Tag, Probability: 0.44}},
	}}
	return g
}

// Drifting is a gauge that will leave its budget in a while.
func Drifting(tag string) plant.GaugeView {
	g := Healthy(tag)
	g.Sheet.Service = "Caustic day tank"
	g.Result.Measurement = measured(Now, 0.520, 0.509)
	g.Result.Category = compare.MaintenanceDue
	g.Result.Headline = "Gap grows by 0.4 mm a day and reaches what is allowed in about 10 days."
	g.Result.Next = "Plan a check of the transmitter within 10 days."
	g.Result.Findings = []cause.Finding{{ID: tag + "/1", Gauge: tag, Symptom: symptom.GapDrift, Cause: cause.TransmitterDrift, Suspect: cause.Transmitter, Tag: g.Sheet.Transmitter.Tag, Tier: cause.Watch,
		Since: Now.Add(-14 * 24 * time.Hour), Value: 0.011, Budget: 0.015, RatePerD: 0.0004, Sentence: "Gap grows by 0.4 ± 0.1 mm a day."}}
	return g
}

// NeverCompared is a gauge no sample ever came for.
func NeverCompared(tag string) plant.GaugeView {
	s := Sheet(tag)
	s.Service = "New knock-out drum"
	return plant.GaugeView{Sheet: s, Readings: readings(tag, quantity.Absent)}
}

// Tall is a long gauge with eight points and a second transmitter.
func Tall(tag string) plant.GaugeView {
	g := Healthy(tag)
	s := g.Sheet
	s.Service = "Interface separator with a long name that must wrap somewhere"
	s.Chamber.CentreToCentre, s.Chamber.LowerTapEL = 4.2, -1.5
	s.Transmitter.ReferencePoint = 4.4
	s.Second = &datasheet.Transmitter{Tag: "LT-111B", Principle: datasheet.DPWet, Chamber: "same"}
	s.Points = nil
	for i := range datasheet.MaxPoints {
		s.Points = append(s.Points, datasheet.Point{Tag: "LS-111" + string(rune('A'+i)), Elevation: quantity.Length(1.9 + 0.05*float64(i)), Differential: 0.015})
		g.Result.Measurement.Points[i] = gauge.Switch(1 + i%2)
	}
	g.Result.Measurement.Second = Level(0.615, 0.02, level.ByDP, level.SecondDevice)
	return g
}

func readings(tag string, q quantity.Quality) []plant.InstrumentReading {
	n, reason, age := tag[3:], quantity.NoReason, 400*time.Millisecond
	switch q {
	case quantity.Stale:
		reason, age = quantity.NoAnswer, 24*time.Minute
	case quantity.Absent:
		reason = quantity.NotRead
	}
	return []plant.InstrumentReading{
		{Tag: "LI-" + n, Role: plant.Float, Raw: 13.79, Unit: "mA", Value: 0.612, SI: "m", Quality: q, Reason: reason, Age: age},
		{Tag: "LT-" + n, Role: plant.Transmitter, Raw: 609, Unit: "mm", Value: 0.609, SI: "m", Quality: q, Reason: reason, Age: age},
		{Tag: "LSL-" + n, Role: plant.Point, Raw: 1, Value: 1, Quality: q, Reason: reason, Age: age},
		{Tag: "LSH-" + n, Role: plant.Point, Raw: 0, Value: 0, Quality: q, Reason: reason, Age: age},
		{Tag: "PT-" + n, Role: plant.Pressure, Raw: 8.02, Unit: "bar(g)", Value: 9.02e5, SI: "Pa", Quality: q, Reason: reason, Age: age},
		{Tag: "TT-" + n, Role: plant.Temperature, Raw: 165.3, Unit: "degC", Value: 438.45, SI: "K", Quality: q, Reason: reason, Age: age},
	}
}

func proofs(tag string) []coverage.Proof {
	var ps []coverage.Proof
	for i := range 20 {
		p := coverage.Proof{Tag: tag, Witness: "LT", From: quantity.Length(0.05 * float64(i)), To: quantity.Length(0.05 * float64(i+1))}
		switch {
		case i >= 6 && i < 14:
			p.At, p.Difference, p.U, p.Passes = Now.Add(-time.Duration(i)*24*time.Hour), 0.003, 0.0075, 12
		case i >= 3 && i < 16:
			p.At, p.Difference, p.U, p.Passes = Now.Add(-90*24*time.Hour), -0.004, 0.0075, 2
		}
		ps = append(ps, p)
	}
	n := tag[3:]
	return append(ps,
		coverage.Proof{Tag: "LSL-" + n, From: 0.22, To: 0.22, Witness: tag, At: Now.Add(-3 * 24 * time.Hour), Difference: 0.002, U: 0.004, Passes: 9},
		coverage.Proof{Tag: "LSL-" + n, From: 0.23, To: 0.23, Rising: true, Witness: tag, At: Now.Add(-2 * 24 * time.Hour), Difference: 0.001, U: 0.004, Passes: 9},
		coverage.Proof{Tag: "LSH-" + n, From: 0.78, To: 0.78, Rising: true},
		coverage.Proof{Tag: "LSH-" + n, From: 0.77, To: 0.77},
	)
}

func tests() []cause.Test {
	return []cause.Test{{
		Name: "Drain and watch", Minutes: 10, Tools: []string{"drain hose", "container, 5 l"}, Permit: "Permit to drain a hot condensate chamber",
		Steps:    []string{"Tell the control room that this gauge will move.", "Open the drain a quarter turn until the transmitter has fallen by 200 mm.", "Close the drain and watch float and transmitter for 3 min."},
		Cautions: []string{"Hot water and steam: stand aside of the drain, wear face and hand protection.", "The level points of this chamber will switch: have trips bypassed only by the site’s procedure."},
		Outcomes: []cause.Outcome{{Seen: "Transmitter falls, float stays", Means: []cause.Cause{cause.FloatStuck, cause.FollowerDecoupled}}, {Seen: "Both fall together", Means: []cause.Cause{cause.TransmitterDrift}}},
		Splits:   1.1,
	}}
}

func blindSpots() []coverage.BlindSpot {
	return []coverage.BlindSpot{
		{ID: "lower-connection", What: "A plugged lower connection", Why: "Float, transmitter and points hang on one chamber: all would agree, and all be wrong.", Structural: true, PossibleNow: true, Reveals: "A level measured on the vessel, or draining and refilling through each connection.", Excluded: Now.Add(-40 * 24 * time.Hour)},
		{ID: "below-lower-tap", What: "Anything below the lower tap", Why: "The chamber ends there.", Structural: true, Reveals: "An instrument on the vessel."},
		{ID: "lsh-crossing", What: "Whether LSH still switches", Why: "The level has not crossed 780 mm.", PossibleNow: true, NotSince: Now.Add(-122 * 24 * time.Hour), Reveals: "Filling past 780 mm, or a test of the switch."},
	}
}
