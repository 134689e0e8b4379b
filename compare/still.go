package compare

import (
	"fmt"
	"math"
	"slices"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/symptom"
)

// chamberAgrees reports whether two instruments of the chamber agree, so that
// it is the chamber or the vessel's instrument that is apart. While a chamber
// fills again they are apart for some minutes.
func (g *Gauge) chamberAgrees(at int64, st *State) bool {
	for _, p := range [...]gauge.Pair{gauge.FloatTransmitter, gauge.FloatSecond, gauge.TransmitterSecond} {
		if slices.Contains(g.pairs, p) && st.Gaps[p].Plain < promptMinutes && !st.Gaps[p].IsGross(at) {
			return true
		}
	}
	return false
}

// witnesses summarises how the witnesses of one still subject moved.
type witnesses struct {
	moves       uint16 // of the busiest witness
	moved       symptom.Channel
	agreeing    int     // witnesses with enough moves
	voting      int     // witnesses with at most one move less
	odds        float64 // of their moves together, nats
	travel      float64
	over, under float64 // farthest that witness was above and below the subject, beyond what may be, mm
	start       int64
	rested      int64   // end of the first move it missed
	gap         float64 // subject minus busiest witness now, less what is normal, mm
	joined      bool    // another instrument stands where the subject does and not where that witness is
	unseconded  bool    // another instrument could have seen its moves and did not
}

// watchers sums up the witnesses of a subject. A witness blamed by an open
// alert is no witness, nor is one whose readings shake.
func (g *Gauge) watchers(at int64, st *State, subject symptom.Channel) (w witnesses) {
	blamed := st.blamed()
	for c := range symptom.Channels {
		f := &st.Movement.Follow[subject][c]
		if c == subject || !g.has(c) || blamed&bit(c) != 0 || st.shakes(c) || !f.Set || at-f.LastMove > 24*3600 {
			continue
		}
		if f.Still >= g.moves {
			w.agreeing++
		}
		if f.Still >= max(2, g.moves-1) {
			w.voting++
			w.odds += f.Odds()
		}
		if f.Still > w.moves {
			normal := st.normal(g, subject, c)
			w.moves, w.moved, w.travel, w.start, w.rested = f.Still, c, f.Travel, f.Start, f.Rested
			may := st.variesOf(subject, c)
			w.over, w.under = f.Over+normal-may, f.Under-normal-may
			w.gap = st.Movement.Level[subject] - st.Movement.Level[c] - normal
		}
	}
	if w.moves > 0 {
		w.joined = g.joined(at, st, subject, w.moved)
		w.unseconded = g.unseconded(at, st, subject, w.moved)
	}
	return w
}

// normal is the usual difference of two channels, first minus second, mm.
func (st *State) normal(g *Gauge, a, b symptom.Channel) float64 {
	p := pairOf(a, b)
	if p == gauge.Pairs {
		return 0
	}
	level := st.Movement.Level[b]/(g.scale.Top/2) - 1
	if first, _ := symptom.Members(p); first != a {
		return -st.Base[p].Normal(level)
	}
	return st.Base[p].Normal(level)
}

// foamRise is the largest rise of a radar echo that foam can feign, mm.
const foamRise = 80.0

// believable reports whether the moves of the witnesses prove that the
// subject is still: enough of them, ending away from where the subject is,
// and not only a rise that foam under one radar could feign. One move less is
// enough where two witnesses made them and the subject hardly ever missed one
// of either before. A witness that moves alone, while another instrument of the
// chamber stands with the subject, proves nothing about the subject.
func (g *Gauge) believable(w *witnesses) bool {
	outvoted := w.voting > 1 && w.odds >= symptom.AlertNats
	if w.moves < g.moves && !outvoted || abs(w.gap) < g.scale.Size || w.joined && w.agreeing < 2 || w.unseconded {
		return false
	}
	if limit := mm(g.sheet.Limits.Gap); limit > 0 && abs(w.gap) > w.travel+2*g.scale.Size+limit {
		return false // it did not stay behind, it went there: wild values in a burst
	}
	return w.agreeing > 1 || outvoted || !g.foams(w.moved) || w.under >= g.scale.Size || w.over >= foamRise
}

// foams reports whether foam can lift what a channel reads.
func (g *Gauge) foams(c symptom.Channel) bool {
	switch c {
	case symptom.TransmitterLevel:
		return g.sheet.Transmitter.Principle == datasheet.Radar
	case symptom.SecondLevel:
		return g.sheet.Second.Principle == datasheet.Radar
	}
	return false
}

// stillLeast is how long a subject must have been still, seconds, and
// stillReadings how many of its readings apart: a swing that is read seldom may
// be met at the same height three times.
const (
	stillLeast    = 600
	stillReadings = 4
)

// restsLeast is how long a channel must have been still, s.
func (st *State) restsLeast(c symptom.Channel) int64 {
	return max(stillLeast, int64(stillReadings*st.Movement.Every[c]))
}

// Fine moves are little more than scatter, so several are asked for in
// different hours, and they count by how seldom the subject missed one before.
const (
	fineLeast  = 3   // moves in a row, and hours they fall in
	fineFoam   = 5   // the same beside a radar, where a burst of foam makes several
	fineKnown  = 30  // moves followed before, so that what is usual is known
	fineSpread = 2.0 // sizes the witness must have gone to and fro in all
	fineBelow  = 0.5 // size a radar must have been below: foam never lowers it
)

// fineSigns says who stays behind while another moves a little, less than
// whole moves.
func (g *Gauge) fineSigns(at int64, st *State, list []sign) []sign {
	for c := symptom.FloatLevel; c <= symptom.SecondLevel; c++ {
		for o := range symptom.Channels {
			if !g.fineStill(at, st, c, o) {
				continue
			}
			f := &st.Movement.Fine[c][o]
			// A transmitter at rest while a density moves the other levels looks the
			// same: that is shown and not announced.
			s := sign{group: Levels, channels: bit(c), alert: c == symptom.FloatLevel && f.Odds() >= symptom.AlertNats && !g.joined(at, st, c, o) && !g.unseconded(at, st, c, o)}
			s.Symptom = symptom.Symptom{Kind: stillKind(c), Point: -1, Pair: pairOf(c, o), Since: unix(f.Start), Found: unix(at),
				Value: length(f.Spread()), Budget: length(g.fineSize(st, c, o)), Moves: int(f.Still), Nats: f.Odds()}
			list = append(list, s)
		}
	}
	return list
}

func (g *Gauge) fineSize(st *State, subject, witness symptom.Channel) float64 {
	return max(g.scale.Fine, st.Movement.Sizes[subject][witness])
}

// fineStill reports whether a subject stood still through enough fine moves of
// a witness that no open alert blames.
func (g *Gauge) fineStill(at int64, st *State, subject, witness symptom.Channel) bool {
	if subject == witness || !g.has(subject) || !g.has(witness) {
		return false
	}
	f := &st.Movement.Fine[subject][witness]
	size, least := g.fineSize(st, subject, witness), uint16(fineLeast)
	if g.foams(witness) {
		least = fineFoam
		if f.Under-st.normal(g, subject, witness) < fineBelow*size {
			return false
		}
	}
	return f.Set && f.Hours >= least && f.Total >= fineKnown && at-f.LastMove <= day && f.Spread() >= fineSpread*size &&
		st.Movement.Anchor[subject].Since <= f.Rested+judgeSlack && f.Odds() >= symptom.WatchNats &&
		st.blamed()&bit(witness) == 0 && !st.shakes(witness)
}

// fineEvidence enters who stayed behind in fine moves.
func (g *Gauge) fineEvidence(at int64, st *State, l *cause.Ledger) {
	for c := symptom.FloatLevel; c <= symptom.SecondLevel; c++ {
		for o := range symptom.Channels {
			if st.Movement.Follow[c][o].Still >= 2 || !g.fineStill(at, st, c, o) {
				continue
			}
			f := &st.Movement.Fine[c][o]
			l.Add(cause.Evidence{From: unix(f.Start), To: unix(at), Excitation: fmt.Sprintf("%d moves of %.0f mm", f.Still, g.fineSize(st, c, o)),
				Sentence: fmt.Sprintf("%s moved to and fro over %.0f mm while %s stood still.", g.name(o), f.Spread(), lower(g.name(c))),
				Numbers:  map[string]float64{"moves": float64(f.Still), "spread_mm": f.Spread()}},
				func(h *cause.Hypothesis) float64 {
					if h.Channel == c && g.rests(st, h) {
						return math.Min(f.Odds()/2, 8)
					}
					return 0
				})
		}
	}
}

// judgeSlack is how much later than the first move it missed a subject may have
// come to rest, s.
const judgeSlack = 1800

// stillKind is what standing still is called of a channel.
func stillKind(c symptom.Channel) symptom.Kind {
	if c == symptom.FloatLevel {
		return symptom.FloatStill
	}
	return symptom.TransmitterFrozen
}

// stillSigns says who does not move while the others do.
func (g *Gauge) stillSigns(at int64, st *State, list []sign) []sign {
	for c := symptom.FloatLevel; c <= symptom.SecondLevel; c++ {
		if !g.has(c) || !st.speaks(at, c) {
			continue
		}
		w := g.watchers(at, st, c)
		if w.moves < 2 || at-st.Movement.Anchor[c].Since < st.restsLeast(c) || at-w.start < stillLeast || abs(w.gap) < 0.75*g.scale.Size {
			continue
		}
		s := sign{group: Levels, channels: bit(c), alert: g.believable(&w) && (w.moved != symptom.VesselLevel || w.agreeing > 1 || at-w.rested >= blowDown)}
		kind := stillKind(c)
		if !s.alert && w.moves < g.moves || w.joined {
			s.channels |= bit(w.moved)
		}
		s.Symptom = symptom.Symptom{Kind: kind, Point: -1, Pair: pairOf(c, w.moved), Since: unix(w.start), Found: unix(at),
			Value: length(w.gap), Budget: length(g.scale.Size), Moves: int(w.moves), Nats: 2 * float64(w.moves)}
		list = append(list, s)
	}
	return g.fineSigns(at, st, list)
}

// liquidActs counts the switches that changed while the float stood still far
// from them: the liquid, or on a lone gauge the magnet, moved and the reading
// did not. It returns how many switches, their changes in all, and since when.
func (g *Gauge) liquidActs(st *State) (switches, changes int, since int64) {
	for i := range g.sheet.Points {
		if g.acted(st, i) {
			switches++
			changes += contradictions(&st.Points[i])
		}
	}
	return switches, changes, st.Movement.Anchor[symptom.FloatLevel].Since
}

// farFromTrip is how far a float must be from a switch not to have worked it
// or passed it unseen, mm.
const farFromTrip = 40.0

// liquidSigns says that the float stands still while the liquid passes
// switches: two switches, or one several times, prove it.
func (g *Gauge) liquidSigns(at int64, st *State, list []sign) []sign {
	switches, changes, since := g.liquidActs(st)
	if changes < 2 && !g.stays(at, st) || changes == 0 || at-since < stillLeast {
		return list
	}
	s := sign{group: Levels, channels: bit(symptom.FloatLevel), alert: switches >= 2 || changes >= 4}
	s.Symptom = symptom.Symptom{Kind: symptom.FloatStill, Point: -1, Pair: gauge.Pairs, Since: unix(since), Found: unix(at), Crossing: changes, Nats: 4 * float64(changes)}
	return append(list, s)
}

// pairOf returns the pair two channels make, gauge.Pairs for a channel with
// itself.
func pairOf(a, b symptom.Channel) gauge.Pair {
	for p := range gauge.Pairs {
		x, y := symptom.Members(p)
		if x == a && y == b || x == b && y == a {
			return p
		}
	}
	return gauge.Pairs
}
