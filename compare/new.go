package compare

import (
	"fmt"
	"math"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/symptom"
)

// Gauge is what must be known to compare the instruments of one gauge: its
// data sheet turned into arithmetic. It is immutable and may be shared by
// goroutines; what changes lives in State.
type Gauge struct {
	sheet  datasheet.Sheet
	model  *gauge.Model
	top    quantity.Length
	scale  symptom.Scale
	trips  [datasheet.MaxPoints]symptom.Trip
	fitted [symptom.Signals]bool
	pairs  []gauge.Pair // that exist on this gauge
	bank   []cause.Hypothesis
	moves  uint16 // a witness makes before a still subject counts
	says   phrases
}

// New prepares a gauge. The error is that of gauge.New: a data sheet that
// cannot be turned into physics.
func New(sheet datasheet.Sheet) (*Gauge, error) {
	model, err := gauge.New(sheet)
	if err != nil {
		return nil, fmt.Errorf("prepare comparison: %w", err)
	}
	return prepare(model.Sheet(), model), nil
}

func prepare(sheet datasheet.Sheet, model *gauge.Model) *Gauge {
	g := &Gauge{sheet: sheet, model: model, top: sheet.Chamber.CentreToCentre, bank: cause.Bank(&sheet), moves: 3, says: newPhrases()}
	if sheet.Limits.StillMoves > 0 {
		g.moves = uint16(sheet.Limits.StillMoves)
	}
	g.fitted = fitted(&sheet)
	g.scale = scaleOf(&sheet)
	for p := range gauge.Pairs {
		a, b := symptom.Members(p)
		if g.has(a) && g.has(b) {
			g.pairs = append(g.pairs, p)
		}
	}
	for i, p := range sheet.Points {
		u := math.Hypot(mm(p.U), math.Hypot(mm(sheet.Budget.Follower), mm(sheet.Float.Pitch)/math.Sqrt(12)))
		g.trips[i] = symptom.Trip{Elevation: mm(p.Elevation), Differential: mm(p.Differential), U: math.Max(2, u), ByFloat: p.ByFloat()}
	}
	return g
}

func mm(l quantity.Length) float64 { return l.Millimetres() }

func fitted(s *datasheet.Sheet) (f [symptom.Signals]bool) {
	f[symptom.FloatSignal] = s.Float.Follower != datasheet.NoFollower
	f[symptom.TransmitterSignal] = s.Transmitter != nil
	f[symptom.SecondSignal] = s.Second != nil
	f[symptom.VesselSignal] = s.Vessel != nil
	f[symptom.PressureSignal] = s.Pressure != nil
	f[symptom.TemperatureSignal] = s.Temperature != nil
	f[symptom.ChamberTemperatureSignal] = s.ChamberTemperature != nil
	f[symptom.DensitySignal] = s.Densitometer != nil
	for i := range s.Points {
		f[symptom.PointSignal+symptom.Signal(i)] = true
	}
	return f
}

func (g *Gauge) has(c symptom.Channel) bool { return g.fitted[c] }

// scaleOf sets the size of a move: the user's or 20 mm, but never so small
// that the resolution of the float's follower could make or hide one.
func scaleOf(s *datasheet.Sheet) symptom.Scale {
	size, pitch := 20.0, 0.0
	if s.Limits.MoveSize > 0 {
		size = mm(s.Limits.MoveSize)
	}
	if s.Float.Follower == datasheet.ReedChain {
		pitch = mm(s.Float.Pitch)
	}
	scale := symptom.Scale{Size: math.Max(size, 2.5*pitch), Top: mm(s.Chamber.CentreToCentre)}
	for c := range scale.Tolerance {
		scale.Tolerance[c] = 3
	}
	scale.Tolerance[symptom.FloatLevel] = math.Max(6, 1.2*pitch)
	return scale
}

// pitch is the distance of the contacts of a reed chain, 0 for a follower
// without steps, mm.
func (g *Gauge) pitch() float64 {
	if g.sheet.Float.Follower == datasheet.ReedChain {
		return mm(g.sheet.Float.Pitch)
	}
	return 0
}

// pitchOf is the coarsest step in a pair, mm.
func (g *Gauge) pitchOf(p gauge.Pair) float64 {
	if a, b := symptom.Members(p); a == symptom.FloatLevel || b == symptom.FloatLevel {
		return g.pitch()
	}
	return 0
}

// tag returns the tag of the instrument behind a channel.
func (g *Gauge) tag(c symptom.Channel) string {
	switch c {
	case symptom.FloatLevel:
		return g.sheet.Float.Tag
	case symptom.TransmitterLevel:
		return g.sheet.Transmitter.Tag
	case symptom.SecondLevel:
		return g.sheet.Second.Tag
	case symptom.VesselLevel:
		return g.sheet.Vessel.Tag
	}
	return g.sheet.Tag
}

// tolerance is what a pair's gap may be: the budget of the instant, or, where
// a baseline makes that smaller, what the inputs that vary can change of it. A
// limit the user sets stands as it is, and with learn-baseline counts from the
// baseline.
func (g *Gauge) tolerance(p gauge.Pair, level float64, m *gauge.Measurement, st *State) symptom.Tolerance {
	a, b := symptom.Members(p)
	t := symptom.Tolerance{UD: mm(m.Gaps[p].Budget)}
	if !m.Gaps[p].OK {
		t.UD = 2 * mm(pairU(levelOf(m, a), levelOf(m, b)))
	}
	if a == symptom.VesselLevel {
		t.Floor = 2
	}
	base := &st.Base[p]
	if !base.Known {
		return t
	}
	t.Sigma = base.Sigma
	if g.sheet.Limits.Gap > 0 && a != symptom.VesselLevel {
		if g.sheet.Budget.LearnBaseline {
			t.Normal = base.Normal(level) // the user's limit, about what is normal
		}
		return t
	}
	if may := g.may(p, m, st); may < t.UD {
		t.Stated, t.Normal, t.UD = t.UD, base.Normal(level), may
	}
	return t
}

// may is how far the gap of a healthy pair may move from its baseline, mm.
func (g *Gauge) may(p gauge.Pair, m *gauge.Measurement, st *State) float64 {
	a, b := symptom.Members(p)
	return math.Hypot(changeable(levelOf(m, a), levelOf(m, b)), math.Max(0, 3*st.Base[p].Sigma-wanderFree))
}

// varying are the inputs that differ from one week to the next on a healthy
// gauge; all others are constant and part of the baseline.
var varying = [...]level.Input{level.LiquidDensity, level.ChamberTemperature, level.VapourDensity, level.VesselDensity, level.LegDensity, level.GasPermittivity}

// steadyRest is what remains of the constant inputs after a baseline: scale
// errors away from the level it was learned at, and backlash, mm.
const (
	steadyRest = 2.0
	wanderFree = 3.9 // mm, three times the scatter of a learned gap that counts as noise and not as wander
	sprawl     = 2.0
)

// changeable returns how far a healthy gap can move from its baseline. The
// varying inputs have a range of √3 standard uncertainties to either side
// (JCGM 100:2008, 4.3.7, rectangular); the baseline was learned somewhere in
// it, perhaps at one end, and the gap may now be at the other: sprawl times.
func changeable(a, b *level.Level) float64 {
	sum := 0.0
	for _, i := range varying {
		d := 1e3 * (a.Parts[i] - b.Parts[i])
		sum += d * d
	}
	return math.Sqrt(3*sprawl*sprawl*sum + steadyRest*steadyRest)
}

func levelOf(m *gauge.Measurement, c symptom.Channel) *level.Level {
	switch c {
	case symptom.FloatLevel:
		return &m.Float
	case symptom.TransmitterLevel:
		return &m.Transmitter
	case symptom.SecondLevel:
		return &m.Second
	}
	return &m.Vessel
}

func pairU(a, b *level.Level) quantity.Length {
	return quantity.Length(math.Hypot(float64(a.U()), float64(b.U())))
}
