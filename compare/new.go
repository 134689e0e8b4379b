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
	sheet   datasheet.Sheet
	model   *gauge.Model
	top     quantity.Length
	scale   symptom.Scale
	trips   [datasheet.MaxPoints]symptom.Trip
	fitted  [symptom.Signals]bool
	signals []symptom.Signal // that are fitted
	pairs   []gauge.Pair     // that exist on this gauge
	bank    []cause.Hypothesis
	moves   uint16 // a witness makes before a still subject counts
	says    phrases
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
	for s, is := range g.fitted {
		if is {
			g.signals = append(g.signals, symptom.Signal(s))
		}
	}
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

// inChamber reports whether a channel sees the vessel through the connections
// of a chamber.
func (g *Gauge) inChamber(c symptom.Channel) bool {
	switch {
	case !g.has(c) || c == symptom.VesselLevel:
		return false
	case c == symptom.TransmitterLevel:
		return g.sheet.Transmitter.Chamber != "vessel"
	case c == symptom.SecondLevel:
		return g.sheet.Second.Chamber != "vessel"
	}
	return true
}

// fineMove is the smallest move that is counted where a pair scatters little,
// mm: playTimes the play of a follower and its magnet.
const (
	fineMove  = 6.0
	playTimes = 4
)

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
	scale := symptom.Scale{Size: math.Max(size, 2.5*pitch), Fine: math.Max(fineMove, 2.5*pitch), Top: mm(s.Chamber.CentreToCentre)}
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

// pairU is what two levels are uncertain by together, as if read at one
// instant.
func pairU(a, b *level.Level) quantity.Length {
	x, y := a.Parts, b.Parts
	x[level.Skew], y[level.Skew] = 0, 0
	return quantity.Length(math.Hypot(float64(x.U()), float64(y.U())))
}
