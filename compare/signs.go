package compare

import (
	"math"
	"slices"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/symptom"
)

// sign is a symptom that is present now, with what it takes to attend to it.
type sign struct {
	symptom.Symptom
	group    Group
	index    int
	channels uint8 // that could be to blame
	alert    bool  // somebody must look
}

func bit(c symptom.Channel) uint8 { return 1 << c }

const chamberBit = 1 << symptom.Channels

// signs gathers every symptom present at time at.
func (g *Gauge) signs(at int64, st *State) []sign {
	list := st.notes[:0]
	if !st.Isolated {
		list = g.stillSigns(at, st, list)
		list = g.liquidSigns(at, st, list)
		list = g.limitSigns(at, st, list)
		list = g.gapSigns(at, st, list)
		list = g.signatureSigns(at, st, list)
		list = g.slowSigns(at, st, list)
		list = g.noiseSigns(at, st, list)
		list = g.burstSigns(at, st, list)
		list = g.pointSigns(at, st, list)
	}
	list = g.presenceSigns(at, st, list)
	st.notes = list
	return list
}

func (g *Gauge) gapSigns(at int64, st *State, list []sign) []sign {
	for _, p := range g.pairs {
		gap := &st.Gaps[p]
		if at-gap.Median.At > gapInData || !gap.Watched(at) && !g.plain(st, p) {
			continue
		}
		nats, _, onset := gap.Evidence()
		if gap.IsGross(at) {
			onset = gap.GrossSince
		} else if g.plain(st, p) && gap.PlainSince > onset {
			onset = gap.PlainSince
		}
		a, b := symptom.Members(p)
		s := sign{group: Levels, channels: bit(a) | bit(b), alert: g.confirmed(at, st, p)}
		if a == symptom.VesselLevel {
			s.channels |= chamberBit
		}
		s.Symptom = symptom.Symptom{Kind: symptom.GapBeyondBudget, Pair: p, Point: -1, Since: unix(onset), Found: unix(at),
			Value: length(gap.Median.V[2]), Budget: length(gap.Allowed), Nats: nats}
		list = append(list, s)
	}
	return list
}

// confirmed reports whether a gap is an alert: after three hours, or sooner
// when it is plain. A gap between the chamber and the vessel while everything
// on the chamber agrees may be a blow-down nobody recorded and is given time.
func (g *Gauge) confirmed(at int64, st *State, p gauge.Pair) bool {
	gap := &st.Gaps[p]
	if a, _ := symptom.Members(p); a == symptom.VesselLevel && gap.IsGross(at) && g.chamberAgrees(st) {
		return at-gap.GrossSince >= blowDown
	}
	return gap.Confirmed(at) || g.plain(st, p)
}

// chamberAgrees reports whether two instruments of the chamber agree, so that
// it is the chamber or the vessel's instrument that is apart.
func (g *Gauge) chamberAgrees(st *State) bool {
	for _, p := range [...]gauge.Pair{gauge.FloatTransmitter, gauge.FloatSecond, gauge.TransmitterSecond} {
		if slices.Contains(g.pairs, p) && st.Gaps[p].Plain == 0 && st.Gaps[p].Gross == 0 {
			return true
		}
	}
	return false
}

const (
	vesselPlain  = 150  // minutes: a chamber just blown down is hot and reads apart until it has cooled
	blowDown     = 3600 // s, longest draining of a chamber in service
	plainMinutes = 10   // a gap plainly beyond what is allowed is an alert after so long
	foamMinutes  = 30   // the same where foam could feign it
	foamMemory   = 10 * day
)

// plain reports a gap so far beyond what is allowed, for so long, that it
// need not be confirmed for hours. Foam lifts a radar's echo for a quarter of
// an hour and more: where the radar reads high, a gauge must have been without
// bursts for ten days, and the gap must last longer.
func (g *Gauge) plain(st *State, p gauge.Pair) bool {
	gap := &st.Gaps[p]
	if gap.Sparse || gap.Plain < plainMinutes {
		return false
	}
	a, b := symptom.Members(p)
	if a == symptom.VesselLevel {
		return gap.Plain >= vesselPlain
	}
	lifted := gap.PlainSign < 0 && g.foams(b) || gap.PlainSign > 0 && g.foams(a)
	if !lifted {
		return true
	}
	return gap.Plain >= foamMinutes && gap.LastAt-max(gap.BurstAt, st.Began) >= foamMemory
}

// signatureSigns says where a gap goes with the rate of change (clocks,
// filters, or a chamber that follows late) or with the direction (friction).
func (g *Gauge) signatureSigns(at int64, st *State, list []sign) []sign {
	for _, p := range g.pairs {
		s := &st.Sign[p]
		a, b := symptom.Members(p)
		if st.Gaps[p].Sparse {
			continue // readings farther apart than the skew that is looked for
		}
		if s.Skewed >= skewWatch && (s.UsualKnown || a == symptom.VesselLevel) && at-s.At < gapInData {
			x := sign{group: Levels, channels: bit(a) | bit(b), alert: s.Skewed >= skewAlert}
			x.Symptom = symptom.Symptom{Kind: symptom.TimeSkew, Pair: p, Point: -1, Since: unix(at - int64(s.Skewed)*3600), Found: unix(at), Nats: math.Min(16, abs(s.Skew)/s.SkewU)}
			if a == symptom.VesselLevel {
				if !g.allLate(st) {
					continue // one instrument is late, not the chamber: its other pair says so
				}
				x.Kind, x.channels = symptom.ChamberLag, bit(a)|chamberBit
			}
			list = append(list, x)
		}
		if s.Rubbed >= skewWatch && a == symptom.FloatLevel && at-s.At < gapInData {
			who := bit(a)
			if g.smooth(st, a) {
				who = bit(b)
			}
			x := sign{group: Levels, channels: who, alert: s.Rubbed >= skewAlert}
			x.Symptom = symptom.Symptom{Kind: symptom.StickSlip, Pair: p, Point: -1, Since: unix(at - int64(s.Rubbed)*3600), Found: unix(at),
				Value: length(2 * abs(s.Friction)), Nats: math.Min(16, abs(s.Friction)/s.FrictionU)}
			list = append(list, x)
		}
	}
	return list
}

// witnesses summarises how the witnesses of one still subject moved.
type witnesses struct {
	moves       uint16 // of the busiest witness
	moved       symptom.Channel
	agreeing    int // witnesses with enough moves
	travel      float64
	over, under float64 // farthest that witness was above and below the subject, beyond what may be, mm
	start       int64
	gap         float64 // subject minus busiest witness now, less what is normal, mm
}

// watchers sums up the witnesses of a subject. A witness blamed by an open
// alert is no witness.
func (g *Gauge) watchers(at int64, st *State, subject symptom.Channel) (w witnesses) {
	blamed := st.blamed()
	for c := range symptom.Channels {
		f := &st.Movement.Follow[subject][c]
		if c == subject || !g.has(c) || blamed&bit(c) != 0 || !f.Set || at-f.LastMove > 24*3600 {
			continue
		}
		if f.Still >= g.moves {
			w.agreeing++
		}
		if f.Still > w.moves {
			normal := st.normal(g, subject, c)
			w.moves, w.moved, w.travel, w.start = f.Still, c, f.Travel, f.Start
			may := st.variesOf(subject, c)
			w.over, w.under = f.Over+normal-may, f.Under-normal-may
			w.gap = st.Movement.Level[subject] - st.Movement.Level[c] - normal
		}
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

// blamed returns the channels that open alerts with a name blame.
func (st *State) blamed() (mask uint8) {
	for i := range st.Episodes {
		e := &st.Episodes[i]
		if e.Group == Levels && e.named() {
			mask |= e.Channels
		}
	}
	return mask
}

// foamRise is the largest rise of a radar echo that foam can feign, mm.
const foamRise = 80.0

// believable reports whether the moves of the witnesses prove that the
// subject is still: enough of them, ending away from where the subject is,
// and not only a rise that foam under one radar could feign.
func (g *Gauge) believable(w *witnesses) bool {
	if w.moves < g.moves || abs(w.gap) < g.scale.Size {
		return false
	}
	return w.agreeing > 1 || !g.foams(w.moved) || w.under >= g.scale.Size || w.over >= foamRise
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

// stillLeast is how long a subject must have been still, seconds.
const stillLeast = 600

// stillSigns says who does not move while the others do.
func (g *Gauge) stillSigns(at int64, st *State, list []sign) []sign {
	for c := symptom.FloatLevel; c <= symptom.SecondLevel; c++ {
		if !g.has(c) || st.Movement.At[c] == 0 || at-st.Movement.At[c] > gapInData {
			continue
		}
		w := g.watchers(at, st, c)
		if w.moves < 2 || at-st.Movement.Anchor[c].Since < stillLeast || at-w.start < stillLeast || abs(w.gap) < 0.75*g.scale.Size {
			continue
		}
		s := sign{group: Levels, channels: bit(c), alert: g.believable(&w) && (w.moved != symptom.VesselLevel || at-w.start >= blowDown || !g.chamberAgrees(st))}
		kind := symptom.TransmitterFrozen
		if c == symptom.FloatLevel {
			kind = symptom.FloatStill
		}
		if !s.alert && w.moves < g.moves {
			s.channels |= bit(w.moved)
		}
		s.Symptom = symptom.Symptom{Kind: kind, Point: -1, Pair: pairOf(c, w.moved), Since: unix(w.start), Found: unix(at),
			Value: length(w.gap), Budget: length(g.scale.Size), Moves: int(w.moves), Nats: 2 * float64(w.moves)}
		list = append(list, s)
	}
	return list
}

// liquidActs counts the switches with an element of their own that changed
// while the float stood still far from them: the liquid moved and the float
// did not. It returns how many switches, their changes in all, and since when.
func (g *Gauge) liquidActs(st *State) (switches, changes int, since int64) {
	a := &st.Movement.Anchor[symptom.FloatLevel]
	if !g.has(symptom.FloatLevel) || a.Since == 0 {
		return 0, 0, 0
	}
	for i := range g.sheet.Points {
		p, t := &st.Points[i], &g.trips[i]
		if !t.ByFloat && p.Far > 0 && p.LastFar >= a.Since+60 && abs(st.Movement.Level[symptom.FloatLevel]-t.Elevation) > farFromTrip {
			switches++
			changes += int(p.Far)
		}
	}
	return switches, changes, a.Since
}

// farFromTrip is how far a float must be from a switch not to have worked it
// or passed it unseen, mm.
const farFromTrip = 40.0

// liquidSigns says that the float stands still while the liquid passes
// switches: two switches, or one several times, prove it.
func (g *Gauge) liquidSigns(at int64, st *State, list []sign) []sign {
	switches, changes, since := g.liquidActs(st)
	if changes < 2 || at-since < stillLeast {
		return list
	}
	s := sign{group: Levels, channels: bit(symptom.FloatLevel), alert: switches >= 2 || changes >= 4}
	s.Symptom = symptom.Symptom{Kind: symptom.FloatStill, Point: -1, Pair: gauge.Pairs, Since: unix(since), Found: unix(at), Crossing: changes, Nats: 4 * float64(changes)}
	return append(list, s)
}

// pairOf returns the pair two channels make; a second transmitter and the
// vessel make none and count as the pair of the first of them with the float.
func pairOf(a, b symptom.Channel) gauge.Pair {
	for p := range gauge.Pairs {
		x, y := symptom.Members(p)
		if x == a && y == b || x == b && y == a {
			return p
		}
	}
	return gauge.Pairs
}

func (g *Gauge) limitSigns(at int64, st *State, list []sign) []sign {
	for c := symptom.FloatLevel; c <= symptom.SecondLevel; c++ {
		since := st.Presence.LimitSince[c]
		if !st.Presence.AtLimit(c, at, limitWatch) {
			continue
		}
		kind := symptom.TransmitterLimit
		if c == symptom.FloatLevel {
			kind = symptom.FloatAtBottom
			if st.Movement.Level[c] > g.scale.Top/2 {
				continue
			}
		}
		s := sign{group: Levels, channels: bit(c), alert: at-since >= limitAlert}
		s.Symptom = symptom.Symptom{Kind: kind, Point: -1, Pair: gauge.FloatTransmitter, Since: unix(since), Found: unix(at), Nats: 8}
		list = append(list, s)
	}
	return list
}

// pointSigns says which switches contradict what works them. A missed
// crossing alone is a watch, two are an alert.
func (g *Gauge) pointSigns(at int64, st *State, list []sign) []sign {
	common, n, together := g.commonShift(st)
	if together {
		s := sign{group: Levels, channels: bit(symptom.FloatLevel), alert: n >= 2}
		s.Symptom = symptom.Symptom{Kind: symptom.PointShifted, Point: -1, Pair: gauge.FloatTransmitter, Since: unix(at), Found: unix(at), Value: length(common), Crossing: n, Nats: symptom.AlertNats}
		list = append(list, s)
	}
	for i := range g.sheet.Points {
		p, t := &st.Points[i], &g.trips[i]
		s := sign{group: Contact, index: i}
		s.Symptom = symptom.Symptom{Point: i, Pair: gauge.Pairs, Found: unix(at)}
		switch shifted, mmShift, n := g.shifted(p); {
		case p.MissNats >= symptom.WatchNats && p.Misses > 0:
			s.Kind, s.Since, s.Nats, s.Crossing = symptom.PointMissed, unix(p.LastMiss), p.MissNats, int(p.Misses)
			s.Value, s.alert = length(p.Position-t.Elevation), p.Misses >= 2
		case shifted && !together:
			s.Kind, s.Since, s.Nats, s.Crossing = symptom.PointShifted, unix(at), symptom.AlertNats, n
			s.Value, s.Budget, s.alert = length(mmShift), length(6), true
		case p.Far >= 2:
			s.Kind, s.Since, s.Nats, s.Crossing = symptom.PointContradicts, unix(p.LastFar), 4, int(p.Far)
			s.Value, s.alert = length(p.FarFrom-t.Elevation), p.Far >= 3
		case p.WrongSince != 0 && at-p.WrongSince >= contradictWatch:
			s.Kind, s.Since, s.Nats = symptom.PointContradicts, unix(p.WrongSince), 2
			s.Value = length(p.Position - t.Elevation)
		case p.LastChat != 0 && at-p.LastChat < 3600 && p.Chatters >= 3:
			s.Kind, s.Since, s.Nats, s.Crossing = symptom.PointChatter, unix(p.LastChat), 4, int(p.Chatters)
			s.alert = p.Chatters >= 10
		default:
			continue
		}
		list = append(list, s)
	}
	return list
}

// shifted reports whether a switch trips somewhere else than it did, in the
// direction with more evidence.
func (g *Gauge) shifted(p *symptom.Point) (yes bool, mm float64, n int) {
	best := 0.0
	for d := symptom.Rising; d <= symptom.Falling; d++ {
		if nats, _, _ := p.Cusum[d].Max(); nats >= symptom.AlertNats && nats > best {
			best, yes = nats, true
			mm, n = p.Shift(d)
		}
	}
	return yes, mm, n
}

func (g *Gauge) presenceSigns(at int64, st *State, list []sign) []sign {
	pr := &st.Presence
	for s := range symptom.Signals {
		since := pr.LostSince[s]
		if !g.fitted[s] || since == 0 || at-since < lostWatch {
			continue
		}
		x := sign{group: Absence, index: int(s), alert: at-since >= lostAlert}
		x.Symptom = symptom.Symptom{Kind: symptom.NoReading, Point: -1, Pair: gauge.Pairs, Since: unix(since), Found: unix(at)}
		list = append(list, x)
	}
	if since := pr.OutsideSince; since != 0 && at-since >= outsideWatch && !st.Isolated {
		x := sign{group: Service, alert: pr.Grave && at-since >= outsideAlert}
		x.Symptom = symptom.Symptom{Kind: symptom.OutsideDataSheet, Point: -1, Pair: gauge.Pairs, Since: unix(since), Found: unix(at)}
		list = append(list, x)
	}
	return list
}
