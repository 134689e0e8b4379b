package api

import (
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/dashboards/plant"
)

// Summary is one gauge in the list.
type Summary struct {
	Tag        string    `json:"tag" doc:"tag of the gauge" example:"LG-101"`
	Service    string    `json:"service"`
	Area       string    `json:"area,omitempty"`
	Category   string    `json:"category" enum:"failure,function check,out of specification,maintenance required,good,not seen" doc:"our assessment, after the ideas of NAMUR NE 107"`
	Headline   string    `json:"headline" doc:"one sentence"`
	Next       string    `json:"next,omitempty" doc:"what to do"`
	Compared   time.Time `json:"compared,omitzero" doc:"when it was compared last"`
	LastSample time.Time `json:"last_sample,omitzero" doc:"newest usable sample of a level instrument"`
	GapRatio   float64   `json:"gap_ratio" doc:"the greatest |gap| over its budget; 0 when nothing can be compared"`
}

// Gauge is one gauge in full.
type Gauge struct {
	Summary
	Trouble    string          `json:"trouble,omitempty" doc:"why there are no fresh samples"`
	Levels     []Level         `json:"levels"`
	Believed   *Believed       `json:"believed,omitempty" doc:"the level in the vessel to believe while an open alert puts the instrument in doubt that level in vessel is made of; that level stays as it is"`
	Gaps       []Gap           `json:"gaps"`
	Points     []PointState    `json:"points"`
	Conditions Conditions      `json:"conditions"`
	Findings   []cause.Finding `json:"findings"`
	Readings   []Reading       `json:"readings"`
}

// Level is one level above the lower tap.
type Level struct {
	Of    string  `json:"of" enum:"float,transmitter,second,vessel,in vessel" doc:"vessel: the vessel's own instrument carried to the chamber; in vessel: the chamber's level carried to the vessel"`
	Bound string  `json:"bound" doc:"within, or why there is no number"`
	M     float64 `json:"m" doc:"metres above the lower tap; 0 unless bound is within"`
	U     float64 `json:"u_m" doc:"standard uncertainty, m"`
	Basis string  `json:"basis" doc:"the physics it was found by"`
	Doubt bool    `json:"doubt,omitempty" doc:"an open alert blames the instrument, its chamber or the density it is found with, or leaves that open"`
}

// Believed is the level in the vessel by an instrument no open alert puts in doubt:
// of float, transmitter, second transmitter and that of the vessel the first with a
// good reading.
type Believed struct {
	Tag     string    `json:"tag,omitempty" doc:"the instrument it is made of; absent where none can be believed" example:"LT-101"`
	By      string    `json:"by,omitempty" doc:"that instrument in words" example:"radar LT-101"`
	Bound   string    `json:"bound" enum:"none,within,at or below lower tap,at or above upper tap" doc:"within, or why there is no number"`
	M       float64   `json:"m" doc:"metres above the lower tap; 0 unless bound is within"`
	U       float64   `json:"u_m" doc:"standard uncertainty, m"`
	Basis   string    `json:"basis" doc:"the physics it was found by"`
	Why     string    `json:"why" doc:"what the alert says of the instrument in doubt, time in UTC" example:"float LI-101 is blamed by the alert of 2026-03-02 14:02 UTC"`
	Doubted string    `json:"doubted" doc:"the instrument in doubt" example:"float LI-101"`
	Alert   string    `json:"alert" doc:"ID of the finding that puts it in doubt"`
	Raised  time.Time `json:"raised" doc:"when that became an alert"`
	Without []string  `json:"without,omitempty" doc:"where none can be believed: what is the matter with each of the others"`
	Apart   []string  `json:"apart,omitempty" doc:"instruments not in doubt that disagree with it just now"`
}

// Gap is the difference of two levels.
type Gap struct {
	Pair    string   `json:"pair" example:"float − transmitter"`
	OK      bool     `json:"ok" doc:"whether the two can be compared"`
	M       float64  `json:"m"`
	U       float64  `json:"u_m" doc:"standard uncertainty with the covariance of shared inputs, m"`
	Budget  float64  `json:"budget_m" doc:"what is allowed"`
	Verdict string   `json:"verdict,omitempty" enum:"agree,disagree,cannot tell"`
	Reasons []string `json:"reasons,omitempty"`
}

// PointState is one point switch compared with the float.
type PointState struct {
	Tag       string   `json:"tag"`
	Elevation float64  `json:"elevation_m"`
	State     string   `json:"state" enum:"unknown,dry,wet"`
	Verdict   string   `json:"verdict,omitempty" enum:"agree,disagree,cannot tell"`
	Reasons   []string `json:"reasons,omitempty"`
}

// Conditions are the process conditions the physics used.
type Conditions struct {
	Pressure           float64  `json:"pressure_pa"`
	Temperature        float64  `json:"temperature_k"`
	ChamberTemperature float64  `json:"chamber_temperature_k"`
	Assumed            bool     `json:"assumed" doc:"pressure or temperature is that of the data sheet"`
	Liquid             float64  `json:"liquid_kg_m3,omitempty"`
	LiquidU            float64  `json:"liquid_u_kg_m3,omitempty"`
	Gas                float64  `json:"gas_kg_m3,omitempty"`
	Isolated           bool     `json:"isolated"`
	OutsideDataSheet   []string `json:"outside_data_sheet,omitempty"`
}

// Reading is the newest sample of one instrument.
type Reading struct {
	Tag     string  `json:"tag"`
	Role    string  `json:"role"`
	Raw     float64 `json:"raw"`
	RawUnit string  `json:"raw_unit,omitempty"`
	Value   float64 `json:"value" doc:"in SI"`
	Unit    string  `json:"unit,omitempty"`
	Quality string  `json:"quality" enum:"absent,bad,stale,uncertain,good"`
	Reason  string  `json:"reason,omitempty"`
	Age     float64 `json:"age_s"`
}

func summaryOf(g plant.GaugeView, now time.Time) Summary {
	s := Summary{
		Tag: g.Sheet.Tag, Service: g.Sheet.Service, Area: g.Sheet.Area, Category: string(g.Category(now)),
		Headline: g.Result.Headline, Next: g.Result.Next, Compared: g.Result.Time, LastSample: g.LastSample,
	}
	for i := range g.Result.Measurement.Gaps {
		s.GapRatio = max(s.GapRatio, g.Result.Measurement.Gaps[i].Ratio())
	}
	return s
}

func gaugeOf(g plant.GaugeView, now time.Time) Gauge {
	m := &g.Result.Measurement
	out := Gauge{
		Summary: summaryOf(g, now), Trouble: g.Trouble, Gaps: gapsOf(&g.Result), Points: pointsOf(g), Conditions: conditionsOf(m),
		Levels: []Level{levelOf("float", &m.Float), levelOf("transmitter", &m.Transmitter), levelOf("second", &m.Second),
			levelOf("vessel", &m.Vessel), levelOf("in vessel", &m.InVessel)},
		Findings: append([]cause.Finding{}, g.Result.Findings...), Readings: []Reading{},
	}
	doubted := g.Doubted()
	place, _ := m.InChamber()
	for i, d := range append(doubted[:], doubted[place]) {
		out.Levels[i].Doubt = d
	}
	if g.Belief != nil {
		out.Believed = believed(g.Belief)
	}
	for _, r := range g.Readings {
		out.Readings = append(out.Readings, readingOf(r))
	}
	return out
}

func levelOf(of string, l *level.Level) Level {
	out := Level{Of: of, Bound: l.Bound.String(), Basis: l.Basis.String()}
	if l.OK() {
		out.M, out.U = float64(l.Value), float64(l.U())
	} else if l.Bound == level.None && l.Reason != 0 {
		out.Bound += ": " + l.Reason.String()
	}
	return out
}

func believed(b *compare.Belief) *Believed {
	l := levelOf("", &b.Level)
	return &Believed{
		Tag: b.Tag, By: b.By, Bound: b.Level.Bound.String(), M: l.M, U: l.U, Basis: l.Basis, Doubted: b.Doubted, Alert: b.Alert, Raised: b.Raised,
		Why:     b.Why(func(t time.Time) string { return t.UTC().Format("2006-01-02 15:04 UTC") }),
		Without: b.Without, Apart: b.Apart,
	}
}

func gapsOf(r *compare.Result) []Gap {
	gaps := []Gap{}
	for pair := range gauge.Pairs {
		g := r.Measurement.Gaps[pair]
		out := Gap{Pair: pair.String(), OK: g.OK, M: float64(g.Value), U: float64(g.U), Budget: float64(g.Budget)}
		for _, v := range r.Verdicts {
			if v.Point < 0 && v.Pair == pair {
				out.Verdict, out.Reasons = string(v.Outcome), v.Reasons
			}
		}
		if g.OK || out.Verdict != "" {
			gaps = append(gaps, out)
		}
	}
	return gaps
}

func pointsOf(g plant.GaugeView) []PointState {
	points := []PointState{}
	for i, p := range g.Sheet.Points {
		out := PointState{Tag: p.Tag, Elevation: float64(p.Elevation), State: g.Result.Measurement.Points[i].String()}
		for _, v := range g.Result.Verdicts {
			if v.Point == i {
				out.Verdict, out.Reasons = string(v.Outcome), v.Reasons
			}
		}
		points = append(points, out)
	}
	return points
}

func conditionsOf(m *gauge.Measurement) Conditions {
	c := Conditions{
		Pressure: float64(m.PressureUsed), Temperature: float64(m.TemperatureUsed), ChamberTemperature: float64(m.ChamberTempUsed),
		Assumed: m.Assumed, Isolated: m.Isolated,
	}
	if m.DensityOK {
		c.Liquid, c.LiquidU, c.Gas = float64(m.Liquid), float64(m.LiquidU), float64(m.Gas)
	}
	for _, l := range m.OutsideDataSheet {
		c.OutsideDataSheet = append(c.OutsideDataSheet, l.Sentence)
	}
	return c
}

func readingOf(r plant.InstrumentReading) Reading {
	out := Reading{Tag: r.Tag, Role: string(r.Role), RawUnit: r.Unit, Unit: r.SI, Quality: r.Quality.String(), Reason: r.Reason.String(), Age: r.Age.Seconds()}
	if r.Usable() {
		out.Raw, out.Value = r.Raw, r.Value
	}
	return out
}
