package cause

import (
	"math"
	"sort"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/symptom"
)

// Decisive is the lead in nats at which one name is given: odds of 20 to 1.
const Decisive = 3.0

// Hypothesis is one cause blamed on one instrument.
type Hypothesis struct {
	Cause   Cause
	Suspect Suspect
	Tag     string
	Channel symptom.Channel // level it disturbs; symptom.Channels for the chamber as a whole
	Point   int             // point it blames, -1 otherwise
	Prior   float64         // relative frequency before any evidence
}

// Bank lists the hypotheses about the levels of a gauge, with priors of
// common practice.
func Bank(s *datasheet.Sheet) []Hypothesis {
	var bank []Hypothesis
	add := func(c Cause, by Suspect, tag string, ch symptom.Channel, prior float64) {
		bank = append(bank, Hypothesis{Cause: c, Suspect: by, Tag: tag, Channel: ch, Point: -1, Prior: prior})
	}
	if s.Float.Follower != datasheet.NoFollower {
		tag := s.Float.Tag
		add(FloatStuck, Float, tag, symptom.FloatLevel, 3)
		add(FloatPartlyStuck, Float, tag, symptom.FloatLevel, 1)
		add(FloatOneWay, Float, tag, symptom.FloatLevel, 1)
		add(FloatStickSlip, Float, tag, symptom.FloatLevel, 1)
		add(FloatSunk, Float, tag, symptom.FloatLevel, 1)
		add(FloatHeavier, Float, tag, symptom.FloatLevel, 1)
		add(DensityWrong, Density, tag, symptom.FloatLevel, 3)
		if s.Fluid.Upper != nil {
			add(UpperDensityWrong, Density, tag, symptom.FloatLevel, 2)
		}
		add(FollowerDecoupled, Follower, tag, symptom.FloatLevel, 1)
		add(FollowerShifted, Follower, tag, symptom.FloatLevel, 1)
	}
	for i, t := range []*datasheet.Transmitter{s.Transmitter, s.Second} {
		if t == nil {
			continue
		}
		ch := symptom.TransmitterLevel + symptom.Channel(i)
		add(TransmitterZero, Transmitter, t.Tag, ch, 2)
		add(TransmitterSpan, Transmitter, t.Tag, ch, 1)
		add(TransmitterDrift, Transmitter, t.Tag, ch, 2)
		add(TransmitterFrozen, Transmitter, t.Tag, ch, 1)
		add(TransmitterLimit, Transmitter, t.Tag, ch, 0.5)
		switch t.Principle {
		case datasheet.Radar:
			add(RadarDisturbed, Transmitter, t.Tag, ch, 1)
			if s.Fluid.Upper != nil { // an echo comes from the top of an emulsion, float and dp feel its weight
				add(Emulsion, Service, s.Tag, ch, 2)
			}
		case datasheet.DPWet, datasheet.DPDry, datasheet.DPSeals:
			add(LegPartlyFilled, Transmitter, t.Tag, ch, 1)
			add(LegEmpty, Transmitter, t.Tag, ch, 0.5)
			add(LegPlugged, Transmitter, t.Tag, ch, 1)
		case datasheet.Displacer:
			add(DisplacerDisturbed, Transmitter, t.Tag, ch, 1)
		}
	}
	if s.Vessel != nil {
		add(LowerPlug, Chamber, s.Tag, symptom.Channels, 2)
		add(UpperPlug, Chamber, s.Tag, symptom.Channels, 1)
		add(ChamberIsolated, Chamber, s.Tag, symptom.Channels, 1)
		add(VesselInstrument, Vessel, s.Vessel.Tag, symptom.VesselLevel, 1)
	}
	if s.Transmitter == nil && s.Second == nil && s.Vessel == nil && s.Float.Follower != datasheet.NoFollower {
		for i, p := range s.Points { // the float has no other witnesses: any of them may be the one that is wrong
			bank = append(bank, Hypothesis{Cause: PointFailed, Suspect: Point, Tag: p.Tag, Channel: symptom.Channels, Point: i, Prior: 2 / float64(len(s.Points))})
		}
	}
	add(TimeSkew, Clock, "", symptom.Channels, 0.5)
	add(Unknown, Undecided, "", symptom.Channels, 0.3)
	return bank
}

// Ledger weighs a bank of hypotheses with evidence.
type Ledger struct {
	Bank  []Hypothesis
	Nats  []float64
	Lines []Evidence
	rows  [][]float64 // what each line weighs for each hypothesis
}

// NewLedger opens a ledger with the priors of the bank.
func NewLedger(bank []Hypothesis) *Ledger {
	l := &Ledger{Bank: bank, Nats: make([]float64, len(bank))}
	for i, h := range bank {
		l.Nats[i] = math.Log(h.Prior)
	}
	return l
}

// notable is the weight from which a line names a cause it speaks for or
// against.
const notable = 0.5

// Add enters one line. weigh gives the log-likelihood of the evidence under a
// hypothesis against its absence; a line that weighs nothing is not entered.
func (l *Ledger) Add(e Evidence, weigh func(h *Hypothesis) float64) {
	most, row := 0.0, make([]float64, len(l.Bank))
	for i := range l.Bank {
		w := weigh(&l.Bank[i])
		l.Nats[i] += w
		row[i] = w
		switch c := l.Bank[i].Cause; {
		case w >= notable:
			e.For = appendNew(e.For, c)
		case w <= -notable:
			e.Against = appendNew(e.Against, c)
		}
		if math.Abs(w) > math.Abs(most) {
			most = w
		}
	}
	if most == 0 {
		return
	}
	e.Nats = most
	l.Lines, l.rows = append(l.Lines, e), append(l.rows, row)
}

// Without returns the log-odds of a hypothesis without one line, -1 for none.
func (l *Ledger) Without(line, i int) float64 {
	if line < 0 || line >= len(l.rows) {
		return l.Nats[i]
	}
	return l.Nats[i] - l.rows[line][i]
}

// Both returns the log-odds of two hypotheses being true together, without one
// line, -1 for none: either explains what speaks for it, and what speaks
// against one of them still does. Two faults in one week are seldom.
func (l *Ledger) Both(line, i, j int) float64 {
	all := 0.0
	for k := range l.Bank {
		all += l.Bank[k].Prior
	}
	nats := math.Log(l.Bank[i].Prior) + math.Log(l.Bank[j].Prior/all) - seldomTwo
	for k, row := range l.rows {
		if k != line {
			nats += math.Max(0, math.Max(row[i], row[j])) + math.Min(0, row[i]) + math.Min(0, row[j])
		}
	}
	return nats
}

// seldomTwo is how much less likely two faults at once are than one, nats: one
// in fifty.
const seldomTwo = 3.9

func appendNew(list []Cause, c Cause) []Cause {
	for _, have := range list {
		if have == c {
			return list
		}
	}
	return append(list, c)
}

// Best is the index of the likeliest hypothesis.
func (l *Ledger) Best() (best int) {
	for i, n := range l.Nats {
		if n > l.Nats[best] {
			best = i
		}
	}
	return best
}

// Rank returns the hypotheses by odds, best first, with their probabilities.
func (l *Ledger) Rank() []Ranked { return l.RankWithout(-1) }

// RankWithout ranks them without one line, -1 for none.
func (l *Ledger) RankWithout(line int) []Ranked {
	nats, order := make([]float64, len(l.Bank)), make([]int, len(l.Bank))
	for i := range order {
		nats[i], order[i] = l.Without(line, i), i
	}
	sort.SliceStable(order, func(a, b int) bool { return nats[order[a]] > nats[order[b]] })
	total := 0.0
	for _, n := range nats {
		total += math.Exp(n - nats[order[0]])
	}
	ranked := make([]Ranked, len(order))
	for i, j := range order {
		h, n := &l.Bank[j], nats[j]-nats[order[0]]
		ranked[i] = Ranked{Cause: h.Cause, Suspect: h.Suspect, Tag: h.Tag, Probability: math.Exp(n) / total, Nats: n}
	}
	return ranked
}

// Remaining returns the hypotheses within Decisive nats of the best; one
// alone is a name.
func Remaining(ranked []Ranked) []Ranked {
	for i, r := range ranked {
		if r.Nats < -Decisive {
			return ranked[:i:i]
		}
	}
	return ranked
}

// Certain is the probability a name needs: odds of 20 to 1.
const Certain = 20.0 / 21

// Name returns what a ranking amounts to: the suspect when all that blame one
// instrument together have odds of 20 to 1, and the cause when it alone does,
// or leads every other by as much. Float and follower are two: one is inside
// the chamber and one outside, and a visit to the wrong one is in vain.
func Name(ranked []Ranked) (Cause, Suspect, string) {
	if len(ranked) == 0 {
		return Unknown, Undecided, ""
	}
	best := ranked[0]
	if best.Cause == Unknown || Share(ranked, best.Suspect, best.Tag) < Certain {
		return Unknown, Undecided, ""
	}
	c := Unknown
	if best.Probability >= Certain || len(Remaining(ranked)) == 1 {
		c = best.Cause
	}
	return c, best.Suspect, best.Tag
}

// Share returns the probability of all causes that blame one instrument.
func Share(ranked []Ranked, by Suspect, tag string) (p float64) {
	for _, x := range ranked {
		if x.Blames(by, tag) {
			p += x.Probability
		}
	}
	return p
}

// Stands reports whether a cause given before is still within 20 to 1 of the
// best.
func Stands(ranked []Ranked, c Cause, tag string) bool {
	for _, r := range ranked {
		if r.Cause == c && r.Tag == tag {
			return r.Nats > -Decisive
		}
	}
	return false
}

// Noisy is the hypothesis that one instrument of a gauge has grown noisy.
func Noisy(s *datasheet.Sheet, c symptom.Channel) Hypothesis {
	h := Hypothesis{Cause: TransmitterNoisy, Suspect: Transmitter, Channel: c, Point: -1, Prior: 2}
	switch c {
	case symptom.FloatLevel:
		h.Cause, h.Suspect, h.Tag = FollowerNoisy, Follower, s.Float.Tag
	case symptom.VesselLevel:
		h.Cause, h.Suspect, h.Tag = VesselNoisy, Vessel, s.Vessel.Tag
	case symptom.TransmitterLevel:
		h.Tag = s.Transmitter.Tag
	default:
		h.Tag = s.Second.Tag
	}
	return h
}

// Restless lists what can make one level of a gauge go to and fro: the instrument
// itself, foam under a radar, or the liquid, with priors of common practice.
func Restless(s *datasheet.Sheet, c symptom.Channel) []Hypothesis {
	bank := []Hypothesis{
		Noisy(s, c),
		{Cause: SurfaceUnquiet, Suspect: Service, Tag: s.Tag, Channel: symptom.Channels, Point: -1, Prior: 1},
		{Cause: Unknown, Suspect: Undecided, Channel: symptom.Channels, Point: -1, Prior: 0.1},
	}
	for i, t := range []*datasheet.Transmitter{s.Transmitter, s.Second} {
		if t != nil && t.Principle == datasheet.Radar && c == symptom.TransmitterLevel+symptom.Channel(i) {
			bank = append(bank, Hypothesis{Cause: RadarDisturbed, Suspect: Transmitter, Tag: t.Tag, Channel: c, Point: -1, Prior: 1})
		}
	}
	return bank
}
