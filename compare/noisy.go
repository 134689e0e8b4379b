package compare

import (
	"math"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/symptom"
)

// An instrument that grew noisy alone is announced once a single reading scatters
// by half a move and more, for hours: less harms nobody. A level outside the
// chamber without another beside it may show waves that the chamber's connections
// keep from the others, and heating, filling and agitators come and go within a
// day (common practice, no source).
const (
	noisyShare = 0.5 // of a move
	noisyLasts = 3 * hour
	noisyApart = day // of a level that none beside it sees
	noisyMoves = 8.0 // standard deviations of a noisy reading that make a move
)

// listenNoisy feeds what finds noise, and takes back what was counted with an
// instrument that turns out to be noisy.
func (g *Gauge) listenNoisy(b *symptom.Block, st *State) {
	m := &st.Movement
	for c := range symptom.Channels {
		if !b.Has[c] || b.Bound[c] {
			continue
		}
		above, ok := 0.0, false
		for o := range symptom.Channels {
			if o != c && g.has(o) && m.Knows(o, b.At) && st.Loud&bit(o) == 0 {
				beside := m.Level[o]
				if b.Has[o] {
					beside = b.Level[o]
				}
				above, ok = b.Level[c]-beside, true
				break
			}
		}
		pitch := 0.0
		if c == symptom.FloatLevel {
			pitch = g.pitch()
		}
		st.Noisy[c].Allowed = g.allowedNoise(b.At, st, c)
		st.Noisy[c].Add(b, c, above, ok, pitch)
		m.Shake[c] = st.Noisy[c].Shaking(minuteSeconds)
	}
	loud := g.noisy(b.At, st)
	for c := range symptom.Channels {
		st.Noisy[c].Quiet(b.At, loud&bit(c) != 0)
	}
	if loud == st.Loud {
		return
	}
	begun := loud &^ st.Loud
	st.Loud = loud
	g.sizes(st)
	for c := range symptom.Channels {
		if begun&bit(c) != 0 {
			m.Doubt(b.At, c)
			g.turn(b.At, st, c)
		}
	}
	for _, p := range g.pairs {
		if x, y := symptom.Members(p); begun&(bit(x)|bit(y)) != 0 {
			st.Gaps[p].Doubt()
		}
	}
}

// noisy returns the channels that go to and fro as they never did while every
// other level of the liquid that is judged keeps its own: what unrest of the
// process does is in them all, also where one is read too seldom to show it.
func (g *Gauge) noisy(at int64, st *State) (mask uint8) {
	m := &st.Movement
	for c := range symptom.Channels {
		n := &st.Noisy[c]
		if !g.has(c) || n.Since == 0 || at-n.Newest > day {
			continue
		}
		keep, others := 0, 0
		for o := range symptom.Channels {
			if o == c || !g.witnessed(at, st, c, o) {
				continue
			}
			others++
			if st.Noisy[o].Keeps(n.Size) && !st.Noisy[o].Swings(m.Swell[c].Mean[o], n.Size) {
				keep++
			}
		}
		if keep > 0 && keep == others {
			mask |= bit(c)
		}
	}
	return mask
}

// shakes reports whether the readings of a channel go to and fro now, or lately.
func (st *State) shakes(c symptom.Channel) bool {
	return st.Loud&bit(c) != 0 || st.Noisy[c].Shakes()
}

// shaken reports whether one of a pair shakes and the other does not.
func (st *State) shaken(p gauge.Pair) bool {
	a, b := symptom.Members(p)
	return st.shakes(a) != st.shakes(b)
}

// turn gives a finding about levels that only began with the noise of one of them
// its real name: what it saw was that noise. A second one has nothing left to say.
func (g *Gauge) turn(at int64, st *State, c symptom.Channel) {
	n, told := &st.Noisy[c], st.about(Scatter, int(c)) != nil
	for i := range st.Episodes {
		e := &st.Episodes[i]
		if e.Group != Levels || e.Finding.Raised.Unix() < n.Since || !e.saw(c) {
			continue
		}
		if told {
			e.Ended = true
			continue
		}
		told = true
		e.Group, e.Index, e.Channels, e.Keys, e.Kinds = Scatter, int(c), 0, nil, []symptom.Kind{symptom.NoiseGrown}
		f := &e.Finding
		f.Symptom, f.Since, f.Value, f.Budget, f.RatePerD, f.More = symptom.NoiseGrown, unix(n.Since), length(n.Size), length(g.usualNoise(st, c)), 0, false
		e.Shown, e.Active = at, at
		g.weigh(at, st, e)
	}
}

// saw reports whether a sign of the episode is about a channel.
func (e *Episode) saw(c symptom.Channel) bool {
	for _, k := range e.Keys {
		if k.Channels&bit(c) != 0 {
			return true
		}
		if k.Pair < gauge.Pairs {
			if a, b := symptom.Members(k.Pair); a == c || b == c {
				return true
			}
		}
	}
	return false
}

// witnessed reports whether a level shows by its own readings how the liquid is
// while another is noisy: one that was blamed before the noise began does not.
func (g *Gauge) witnessed(at int64, st *State, noisy, o symptom.Channel) bool {
	n := &st.Noisy[o]
	if !g.has(o) || !n.Judged(at) && (st.Noisy[noisy].Known() || !n.Heard(at)) {
		return false
	}
	for i := range st.Episodes {
		if e := &st.Episodes[i]; e.Group == Levels && e.named() && e.Channels&bit(o) != 0 && e.Finding.Raised.Unix() < st.Noisy[noisy].Since {
			return false
		}
	}
	return true
}

// beside reports whether another level stands on the same side of the chamber's
// connections as one that is noisy, and so sees the same surface.
func (g *Gauge) beside(at int64, st *State, c symptom.Channel) bool {
	for o := range symptom.Channels {
		if o != c && g.inChamber(o) == g.inChamber(c) && g.witnessed(at, st, c, o) {
			return true
		}
	}
	return false
}

// viewed is how long the levels that keep their own noise take to show another, s:
// one that is read seldom knows little of the last hours.
func (g *Gauge) viewed(at int64, st *State, c symptom.Channel) (seconds int64) {
	for o := range symptom.Channels {
		if o != c && g.witnessed(at, st, c, o) {
			seconds = max(seconds, int64(st.Noisy[o].View()))
		}
	}
	return seconds
}

// loudness is what noisy instruments add to the gap of a pair.
func (st *State) loudness(p gauge.Pair) (l symptom.Loudness) {
	a, b := symptom.Members(p)
	for _, c := range [...]symptom.Channel{a, b} {
		if n := &st.Noisy[c]; st.Loud&bit(c) != 0 {
			l.Minute, l.Ten, l.Four = math.Hypot(l.Minute, n.Of(minuteSeconds)), math.Hypot(l.Ten, n.Of(600)), math.Hypot(l.Four, n.Of(4*hour))
		}
	}
	return l
}

// unrest is what the readings of a pair scatter by now, in a mean of ten minutes,
// mm: waves shake both, and a mean of few readings hides little of them.
func (st *State) unrest(p gauge.Pair) float64 {
	a, b := symptom.Members(p)
	return math.Hypot(st.Noisy[a].Shaking(600), st.Noisy[b].Shaking(600))
}

// noisySigns says who grew noisy alone.
func (g *Gauge) noisySigns(at int64, st *State, list []sign) []sign {
	for c := range symptom.Channels {
		if st.Loud&bit(c) == 0 {
			continue
		}
		n, lasts := &st.Noisy[c], max(noisyLasts, g.viewed(at, st, c))
		if g.sheet.Limits.Gap > 0 || !g.beside(at, st, c) {
			lasts = noisyApart
		}
		s := sign{group: Scatter, index: int(c), alert: n.Size >= noisyShare*g.scale.Size && n.Sure(lasts)}
		s.Symptom = symptom.Symptom{Kind: symptom.NoiseGrown, Pair: gauge.Pairs, Point: -1, Since: unix(n.Since), Found: unix(at), Value: length(n.Size), Budget: length(g.usualNoise(st, c)), Nats: n.Louds}
		list = append(list, s)
	}
	return list
}
