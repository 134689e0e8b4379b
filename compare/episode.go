package compare

import (
	"fmt"
	"math"
	"slices"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/symptom"
)

func unix(at int64) time.Time           { return time.Unix(at, 0).UTC() }
func length(mm float64) quantity.Length { return quantity.Length(mm) * quantity.Millimetre }
func abs(x float64) float64             { return math.Abs(x) }

// named reports whether the episode has one cause or one suspect.
func (e *Episode) named() bool {
	return e.Finding.Tier == cause.Alert && e.Finding.Suspect != cause.Undecided
}

// explains reports whether a sign belongs to the episode: the same point or
// signal, or levels that share a channel with what it blames.
func (e *Episode) explains(s *sign) bool {
	if e.Group != s.group {
		return false
	}
	if e.Group == Levels {
		return e.Channels&s.channels != 0 || slices.Contains(e.Keys, s.key())
	}
	return e.Index == s.index
}

// concerns reports whether a pair that drifts is part of what the episode is
// about: one of the two is blamed, or their drift was booked with it.
func (e *Episode) concerns(p gauge.Pair) bool {
	a, b := symptom.Members(p)
	return e.Channels&(bit(a)|bit(b)) != 0 || slices.ContainsFunc(e.Keys, func(k Key) bool { return k.Kind == symptom.GapDrift && k.Pair == p })
}

func (s *sign) key() Key { return Key{Kind: s.Kind, Pair: s.Pair, Channels: s.channels} }

// nameTells reports whether what a finding is called is worth an alert: a chamber,
// or a clock that is off by hours, whose gap comes and goes with every turn.
func (e *Episode) nameTells(at int64) bool {
	return e.Finding.Suspect == cause.Chamber && e.Active == at || e.Finding.Suspect == cause.Clock && e.Hours
}

// attend books the signs of this minute: each joins the episode that explains
// it or opens one; episodes are weighed, raised and ended.
func (g *Gauge) attend(at int64, st *State) {
	signs := g.signs(at, st)
	if len(signs) == 0 && len(st.Episodes) == 0 {
		return
	}
	for i := range signs {
		g.book(at, st, &signs[i])
	}
	for i := 0; i < len(st.Episodes); i++ {
		e := &st.Episodes[i]
		if e.nameTells(at) && e.Finding.Tier == cause.Watch && at-e.Finding.Raised.Unix() >= nameSure {
			e.Finding.Tier, e.Finding.Raised, e.Finding.Changed = cause.Alert, unix(at), unix(at)
			st.upgrade(e)
		}
		if (e.Active == at || st.goesOn(at, e)) && (at-e.Weighed >= e.every(at) || e.Weighed == 0) {
			g.weigh(at, st, e)
		}
		if g.over(at, st, e) {
			e.Finding.Cleared, e.Finding.Changed = unix(at), unix(at)
			st.closed = append(st.closed, e.Finding)
			st.Episodes = slices.Delete(st.Episodes, i, i+1)
			i--
		}
	}
	st.collect()
}

// goesOn reports whether the signs of an alert about levels are booked with
// another one that shares an instrument with it. What it says is weighed with
// that one: an old name would contradict the newer.
func (st *State) goesOn(at int64, e *Episode) bool {
	return e.Group == Levels && e.Finding.Tier == cause.Alert && slices.ContainsFunc(st.Episodes, func(o Episode) bool {
		return o.Group == Levels && o.Active == at && o.Channels&e.Channels != 0 && o.Finding.ID != e.Finding.ID
	})
}

// every is how often an episode is weighed: often while it is young, seldom
// once it is old and little changes.
func (e *Episode) every(at int64) int64 {
	switch age := at - e.Finding.Raised.Unix(); {
	case age < 3*3600:
		return weighSeconds
	case age < 3*86400:
		return 3600
	}
	return 6 * 3600
}

// book lets a sign join the episode that explains it, or opens one for it.
func (g *Gauge) book(at int64, st *State, s *sign) {
	var e *Episode
	for i := range st.Episodes {
		if st.Episodes[i].explains(s) {
			e = &st.Episodes[i]
			break
		}
	}
	if e == nil {
		if hidden(st, s) {
			return
		}
		e = g.open(at, st, s)
	}
	e.Active = at
	if k := s.key(); !slices.Contains(e.Keys, k) {
		e.Keys = append(e.Keys, k)
	}
	if !slices.Contains(e.Kinds, s.Kind) {
		e.Kinds = append(e.Kinds, s.Kind)
		e.Weighed = 0
	}
	f := &e.Finding
	if s.Kind == f.Symptom || gapKind(s.Kind) && gapKind(f.Symptom) {
		e.Shown = at
	} else if at-e.Shown > watchQuiet {
		f.Symptom, e.Weighed, e.Shown = s.Kind, 0, at
	}
	if rank(s.Kind) > rank(f.Symptom) && !(gapKind(s.Kind) && gapKind(f.Symptom)) {
		f.Symptom = s.Kind
		e.Weighed = 0
	}
	if s.Kind == f.Symptom || gapKind(s.Kind) && gapKind(f.Symptom) {
		f.Value, f.Budget = s.Value, s.Budget
		if s.Since.Before(f.Since) {
			f.Since = s.Since
		}
	}
	if s.alert && f.Tier != cause.Alert {
		f.Tier, f.Raised, f.Changed = cause.Alert, unix(at), unix(at)
		g.weigh(at, st, e)
		st.upgrade(e)
	}
}

// hidden reports whether a float that stands explains that a switch contradicts
// it: that says nothing new.
func hidden(st *State, s *sign) bool {
	if s.group != Contact {
		return false
	}
	for i := range st.Episodes {
		e := &st.Episodes[i]
		still := slices.Contains(e.Kinds, symptom.FloatStill) || slices.Contains(e.Kinds, symptom.FloatAtBottom)
		if e.Group == Levels && still && e.Channels&bit(symptom.FloatLevel) != 0 {
			if !slices.Contains(e.Finding.Hides, s.Kind) {
				e.Finding.Hides = append(e.Finding.Hides, s.Kind)
			}
			return true
		}
	}
	return false
}

// open starts an episode.
func (g *Gauge) open(at int64, st *State, s *sign) *Episode {
	st.Serial++
	e := Episode{Group: s.group, Index: s.index, Channels: s.channels, Active: at, Shown: at, Kinds: []symptom.Kind{s.Kind}, Keys: []Key{s.key()}}
	e.Finding = cause.Finding{
		ID:    fmt.Sprintf("%s-%s-%d", g.sheet.Tag, unix(at).Format("20060102T150405Z"), st.Serial),
		Gauge: g.sheet.Tag, Symptom: s.Kind, Cause: cause.Unknown, Suspect: cause.Undecided, Tier: cause.Watch,
		Since: s.Since, Raised: unix(at), Changed: unix(at), Value: s.Value, Budget: s.Budget, RatePerD: s.RatePerD,
	}
	if s.alert {
		e.Finding.Tier = cause.Alert
	}
	st.Episodes = append(st.Episodes, e)
	p := &st.Episodes[len(st.Episodes)-1]
	g.weigh(at, st, p)
	st.opened = append(st.opened, p.Finding)
	return p
}

// upgrade reports a changed finding once per evaluation.
func (st *State) upgrade(e *Episode) {
	for i := range st.opened {
		if st.opened[i].ID == e.Finding.ID {
			st.opened[i] = e.Finding
			return
		}
	}
	for i := range st.upgraded {
		if st.upgraded[i].ID == e.Finding.ID {
			st.upgraded[i] = e.Finding
			return
		}
	}
	st.upgraded = append(st.upgraded, e.Finding)
}

// over reports whether an episode has been without signs for long enough, and
// whether what it saw has been put right.
func (g *Gauge) over(at int64, st *State, e *Episode) bool {
	quiet := at - e.Active
	if e.Ended {
		return true
	}
	if e.Finding.Tier == cause.Watch {
		if e.Group == Levels {
			return quiet >= watchQuiet
		}
		return quiet >= weighSeconds
	}
	switch e.Group {
	case Absence, Service:
		return quiet >= weighSeconds
	case Contact:
		return quiet >= alertQuiet
	}
	return quiet >= alertQuiet && g.mended(st, e)
}

// mended reports whether the gaps of the blamed channels are within budget
// again and the movement that was missing is back.
func (g *Gauge) mended(st *State, e *Episode) bool {
	for _, p := range g.pairs {
		a, b := symptom.Members(p)
		if e.Channels&(bit(a)|bit(b)) != 0 && !st.Gaps[p].Gone() && st.Gaps[p].Seen != 0 {
			return false
		}
	}
	return true
}

// collect rebuilds the list of open findings, worst first.
func (st *State) collect() {
	st.open = st.open[:0]
	for i := range st.Episodes {
		st.open = append(st.open, st.Episodes[i].Finding)
	}
	slices.SortStableFunc(st.open, func(a, b cause.Finding) int {
		if a.Tier != b.Tier {
			return tierRank(b.Tier) - tierRank(a.Tier)
		}
		if r := rank(b.Symptom) - rank(a.Symptom); r != 0 {
			return r
		}
		return a.Since.Compare(b.Since)
	})
}

func tierRank(t cause.Tier) int {
	if t == cause.Alert {
		return 1
	}
	return 0
}

// rank orders symptoms by how directly they name a fault.
func rank(k symptom.Kind) int {
	switch k {
	case symptom.FloatAtBottom:
		return 9
	case symptom.FloatStill, symptom.TransmitterFrozen, symptom.ChamberDead:
		return 8
	case symptom.FloatPartial, symptom.FloatOneWay, symptom.TransmitterLimit:
		return 7
	case symptom.StickSlip, symptom.DensityFollows, symptom.SpanError, symptom.ChamberLag, symptom.ChamberGain, symptom.TimeSkew:
		return 6
	case symptom.GapDrift, symptom.GapStep:
		return 5
	case symptom.GapBeyondBudget, symptom.PointMissed, symptom.PointShifted, symptom.PointWidened:
		return 4
	case symptom.PointContradicts, symptom.PointChatter:
		return 3
	}
	return 1
}
