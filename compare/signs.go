package compare

import (
	"math"
	"slices"

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
		list = g.repeatSigns(at, st, list)
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
		if gap.Median.Lost(at) || !gap.Watched(at) && !g.plain(st, p) {
			continue
		}
		nats, _, onset := gap.Evidence()
		if gap.IsGross(at) {
			onset = gap.GrossSince
		} else if g.plain(st, p) && gap.Prompt.Since > onset {
			onset = gap.Prompt.Since
		}
		a, b := symptom.Members(p)
		s := sign{group: Levels, channels: bit(a) | bit(b), alert: g.confirmed(at, st, p)}
		if a == symptom.VesselLevel {
			s.channels |= chamberBit
		}
		s.Symptom = symptom.Symptom{Kind: symptom.GapBeyondBudget, Pair: p, Point: -1, Since: unix(onset), Found: unix(at),
			Value: length(gap.Median.V[2]), Budget: length(gap.Allowed), Nats: nats}
		if gap.Jump.Confirmed() && abs(gap.Last) < gap.Allowed {
			s.Kind = symptom.GapStep // within all that weeks can do, but not in minutes
		}
		list = append(list, s)
	}
	return list
}

// confirmed reports whether a gap is an alert: after three hours, or sooner
// when it is plain. A gap between the chamber and the vessel while everything
// on the chamber agrees may be a blow-down nobody recorded and is given time.
// One whose readings shake tells nothing within minutes.
func (g *Gauge) confirmed(at int64, st *State, p gauge.Pair) bool {
	gap := &st.Gaps[p]
	if st.shaken(p) {
		return gap.Settled(at)
	}
	if a, _ := symptom.Members(p); a == symptom.VesselLevel && gap.IsGross(at) && g.chamberAgrees(at, st) {
		return at-gap.GrossSince >= blowDown
	}
	return gap.Confirmed(at) || g.plain(st, p)
}

const (
	vesselPlain   = 150  // minutes: a chamber just blown down is hot and reads apart until it has cooled
	blowDown      = 3600 // s, longest draining of a chamber in service
	promptMinutes = 4    // a gap beyond what is allowed by a margin is an alert after so long: one more than a wild echo lasts
	promptNoEcho  = 3    // the same where there is no echo
	foamMinutes   = 30   // the same where foam could feign it
	foamMemory    = 10 * day
)

// plain reports a gap so far beyond what is allowed, for so long, that it
// need not be confirmed for hours. Foam lifts a radar's echo for a quarter of
// an hour and more: where the radar reads high and no other level says so, a
// gauge must have been without bursts for ten days, and the gap must last
// longer.
func (g *Gauge) plain(st *State, p gauge.Pair) bool {
	gap := &st.Gaps[p]
	if gap.Sparse {
		return false
	}
	if a, _ := symptom.Members(p); a == symptom.VesselLevel {
		return gap.Plain >= vesselPlain
	}
	low, high := ordered(p, gap.Prompt.Sign)
	if g.prompt(st, p) && (!g.foams(high) || g.seconded(st, low, high)) {
		return true
	}
	return gap.Plain >= foamMinutes && st.unfoamed(p)
}

// ordered are the channels of a pair by what they read when its gap has a sign.
func ordered(p gauge.Pair, sign float64) (low, high symptom.Channel) {
	first, second := symptom.Members(p)
	if sign > 0 {
		return second, first
	}
	return first, second
}

// unfoamed reports whether the gap of a pair came and went no more for long
// enough that no foam is about.
func (st *State) unfoamed(p gauge.Pair) bool {
	gap := &st.Gaps[p]
	return gap.LastAt-max(gap.BurstAt, st.Began) >= foamMemory
}

// prompt reports a gap beyond what is allowed for minutes.
func (g *Gauge) prompt(st *State, p gauge.Pair) bool {
	a, b := symptom.Members(p)
	least := uint16(promptNoEcho)
	if g.foams(a) || g.foams(b) {
		least = promptMinutes
	}
	return st.Gaps[p].Lasts(least)
}

// seconded reports whether another level than the higher of two, and no radar,
// is above the lower as well while it agrees with the higher.
func (g *Gauge) seconded(st *State, low, high symptom.Channel) bool {
	for o := range symptom.Channels {
		if o == low || o == high || !g.has(o) || g.foams(o) {
			continue
		}
		apart, agree := pairOf(o, low), pairOf(o, high)
		sign := st.Gaps[apart].Prompt.Sign
		if first, _ := symptom.Members(apart); first == low {
			sign = -sign
		}
		if sign > 0 && g.prompt(st, apart) && !st.Gaps[apart].Sparse && st.Gaps[agree].Prompt.Minutes == 0 {
			return true
		}
	}
	return false
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
			x := sign{group: Levels, channels: bit(a) | bit(b), alert: s.Skewed >= skewAlert && at-st.Began >= lateLeast}
			x.Symptom = symptom.Symptom{Kind: symptom.TimeSkew, Pair: p, Point: -1, Since: unix(at - int64(s.Skewed)*3600), Found: unix(at), Nats: math.Min(16, abs(s.Skew)/s.SkewU)}
			if a == symptom.VesselLevel {
				if !g.allLate(st) {
					continue // one instrument is late, not the chamber: its other pair says so
				}
				x.Kind, x.channels = symptom.ChamberLag, bit(a)|chamberBit
			}
			list = append(list, x)
		}
		if (s.Rubbed >= skewWatch || g.jerks(st, p)) && s.UsualKnown && a == symptom.FloatLevel && at-s.At < gapInData {
			who := bit(a)
			if g.smooth(st, a) {
				who = bit(b)
			}
			least := rubAlert
			if s.Steps {
				least = rubAlertSteps
			}
			x := sign{group: Levels, channels: who, alert: int(s.Rubbed)+rubPlainMore*int(s.Plainly) >= least}
			x.Symptom = symptom.Symptom{Kind: symptom.StickSlip, Pair: p, Point: -1, Since: unix(at - int64(max(s.Rubbed, s.Trails))*3600), Found: unix(at),
				Value: length(2 * abs(s.Friction)), Nats: math.Min(16, abs(s.Friction)/s.FrictionU)}
			list = append(list, x)
		}
	}
	return list
}

// jerks reports a float that stays behind and then jumps: the gap scatters more
// from scan to scan than it did, and the float is surely behind at the turns.
// No sound gauge has both; which cause it is takes more to tell, so it is shown
// and not announced.
func (g *Gauge) jerks(st *State, p gauge.Pair) bool {
	s := &st.Sign[p]
	return s.Trails >= skewWatch && !s.Steps && st.Noise[p].IsGrown() && g.pitchOf(p) <= finePitch
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
		if n >= 2 && g.followerAlone(st) {
			s.group, s.index = Contact, everyPoint
		}
		s.Symptom = symptom.Symptom{Kind: symptom.PointShifted, Point: -1, Pair: gauge.FloatTransmitter, Since: unix(at), Found: unix(at), Value: length(common), Crossing: n, Nats: symptom.AlertNats}
		list = append(list, s)
	}
	for i := range g.sheet.Points {
		p, t := &st.Points[i], &g.trips[i]
		if g.lone() && g.acted(st, i) {
			continue // the float or the switch: the levels' finding weighs it
		}
		s := sign{group: Contact, index: i}
		s.Symptom = symptom.Symptom{Point: i, Pair: gauge.Pairs, Found: unix(at)}
		switch shifted, mmShift, n := g.shifted(p); {
		case p.MissNats >= symptom.WatchNats && p.Misses > 0:
			s.Kind, s.Since, s.Nats, s.Crossing = symptom.PointMissed, unix(p.LastMiss), p.MissNats, int(p.Misses)
			s.Value, s.alert = length(p.Position-t.Elevation), p.Misses >= 2
		case shifted && (!together || st.told(i)):
			s.Kind, s.Since, s.Nats, s.Crossing = symptom.PointShifted, unix(at), symptom.AlertNats, n
			s.Value, s.Budget, s.alert = length(mmShift), length(6), true
		case p.Wider >= symptom.AlertNats && !together:
			s.Kind, s.Since, s.Nats, s.Crossing = symptom.PointWidened, unix(p.Fresh), p.Wider, int(min(p.Acts[0], p.Acts[1]))
			s.Value, s.Budget, s.alert = length(t.Differential+p.Widened()), length(t.Differential), true
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

// told reports whether a switch was already said to have shifted: others that
// follow it show whether it was the follower.
func (st *State) told(i int) bool {
	return slices.ContainsFunc(st.Episodes, func(e Episode) bool {
		return e.Group == Contact && e.Index == i && e.Finding.Symptom == symptom.PointShifted
	})
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
	list = g.absenceSigns(at, st, list)
	if since := pr.OutsideSince; since != 0 && at-since >= outsideWatch && !st.Isolated {
		x := sign{group: Service, alert: pr.Grave && at-since >= outsideAlert}
		x.Symptom = symptom.Symptom{Kind: symptom.OutsideDataSheet, Point: -1, Pair: gauge.Pairs, Since: unix(since), Found: unix(at)}
		list = append(list, x)
	}
	return list
}
