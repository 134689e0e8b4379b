package compare

import (
	"fmt"
	"math"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/symptom"
)

// An instrument that grew noisy alone is announced once a single reading scatters
// by half a move and more, for hours: less harms nobody. A level outside the
// chamber without another beside it may show waves that the chamber's connections
// keep from the others, and heating, filling and agitators come and go within a
// day (common practice, no source).
const (
	noisyShare  = 0.5 // of a move
	noisyLasts  = 3 * hour
	noisyApart  = day // of a level that none beside it sees
	noisyMoves  = 8.0 // standard deviations of a noisy reading that make a move
	noisyFoam   = 0.5 // standard deviations by which foam lifts an echo in the mean, at least
	noisyNoFoam = 0.25
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
			if o != c && g.has(o) && m.At[o] != 0 && b.At-m.At[o] <= symptom.HeldAfter && st.Loud&bit(o) == 0 {
				above, ok = b.Level[c]-m.Level[o], true
				break
			}
		}
		pitch := 0.0
		if c == symptom.FloatLevel {
			pitch = g.pitch()
		}
		st.Noisy[c].Add(b, c, above, ok, pitch)
	}
	loud := g.noisy(b.At, st)
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
// process does is in them all.
func (g *Gauge) noisy(at int64, st *State) (mask uint8) {
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
			if st.Noisy[o].Keeps(n.Size) {
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
		f.Symptom, f.Since, f.Value, f.Budget, f.RatePerD, f.More = symptom.NoiseGrown, unix(n.Since), length(n.Size), length(n.Usually()), 0, false
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
	if !g.has(o) || !st.Noisy[o].Judged(at) {
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

// noisySigns says who grew noisy alone.
func (g *Gauge) noisySigns(at int64, st *State, list []sign) []sign {
	for c := range symptom.Channels {
		if st.Loud&bit(c) == 0 {
			continue
		}
		n, lasts := &st.Noisy[c], int64(noisyLasts)
		if !g.beside(at, st, c) {
			lasts = noisyApart
		}
		s := sign{group: Scatter, index: int(c), alert: n.Size >= noisyShare*g.scale.Size && n.Sure(lasts)}
		s.Symptom = symptom.Symptom{Kind: symptom.NoiseGrown, Pair: gauge.Pairs, Point: -1, Since: unix(n.Since), Found: unix(at), Value: length(n.Size), Budget: length(n.Usually()), Nats: n.Louds}
		list = append(list, s)
	}
	return list
}

// suspectsOf is the bank a contradiction of levels is weighed with: an instrument
// that is noisy is one of its causes.
func (g *Gauge) suspectsOf(st *State) []cause.Hypothesis {
	bank := g.bank
	for c := range symptom.Channels {
		if st.Loud&bit(c) != 0 {
			bank = append(bank[:len(bank):len(bank)], cause.Noisy(&g.sheet, c))
		}
	}
	return bank
}

// noisyEvidence enters who is noisy into the ledger of a contradiction.
func (g *Gauge) noisyEvidence(at int64, st *State, l *cause.Ledger) {
	for c := range symptom.Channels {
		if st.Loud&bit(c) != 0 {
			l.Add(g.noisyLine(at, st, c), func(h *cause.Hypothesis) float64 {
				if h.Channel == c && (noisyCause(h.Cause) || h.Cause == cause.RadarDisturbed) {
					return noisyNats(&st.Noisy[c])
				}
				return 0
			})
			g.liftEvidence(at, st, l, c)
		}
	}
}

// noisyNats is what the noise itself weighs: as much as its blocks, to a bound.
func noisyNats(n *symptom.Noisy) float64 { return math.Min(n.Louds/2, 6) }

func noisyCause(c cause.Cause) bool {
	return c == cause.TransmitterNoisy || c == cause.FollowerNoisy || c == cause.VesselNoisy
}

// noisyLine says by how much a level goes to and fro, and since when.
func (g *Gauge) noisyLine(at int64, st *State, c symptom.Channel) cause.Evidence {
	n := &st.Noisy[c]
	return cause.Evidence{From: unix(n.Since), To: unix(at), Excitation: fmt.Sprintf("%.0f of %.0f blocks of readings", n.Louds, n.All),
		Sentence: fmt.Sprintf("Single readings of %s scatter by %.0f mm (standard deviation), they used to by %.1f mm.", g.named(c), n.Size, n.Usually()),
		Numbers:  map[string]float64{"scatter_mm": n.Size, "usual_mm": n.Usually(), "blocks": n.All, "loud": n.Louds}}
}

// named is how a sentence calls an instrument with its tag.
func (g *Gauge) named(c symptom.Channel) string {
	switch c {
	case symptom.FloatLevel:
		return "float " + g.tag(c)
	case symptom.VesselLevel:
		return "vessel level " + g.tag(c)
	}
	return "transmitter " + g.tag(c)
}

// blameNoisy weighs what makes one level go to and fro: the instrument, foam
// under a radar, or the liquid.
func (g *Gauge) blameNoisy(at int64, st *State, e *Episode) {
	f, c := &e.Finding, symptom.Channel(e.Index)
	n, l := &st.Noisy[c], cause.NewLedger(cause.Restless(&g.sheet, c))
	if n.Since != 0 {
		l.Add(g.noisyLine(at, st, c), func(h *cause.Hypothesis) float64 {
			if h.Cause == cause.Unknown {
				return 0
			}
			return noisyNats(n)
		})
		g.quietEvidence(at, st, l, c)
		g.liftEvidence(at, st, l, c)
	}
	if n := g.bursts(st, c); n >= burstWatch {
		l.Add(cause.Evidence{From: f.Since, To: unix(e.Active), Sentence: fmt.Sprintf("%s read high and came back %.0f times within about a week.", g.tag(c), n), Numbers: map[string]float64{"bursts": n}},
			func(h *cause.Hypothesis) float64 {
				if h.Cause == cause.RadarDisturbed {
					return 2 * n
				}
				return 0
			})
	}
	if len(l.Lines) == 0 {
		return // nothing new: what was said stays
	}
	ranked := l.Rank()
	f.Evidence, f.Set = l.Lines, cause.Remaining(ranked)
	f.Cause, f.Suspect, f.Tag = cause.Name(ranked)
}

// quietEvidence enters which other levels keep the scatter they always had. One
// that sees the same surface clears it; one beyond the connections hardly does.
func (g *Gauge) quietEvidence(at int64, st *State, l *cause.Ledger, c symptom.Channel) {
	n := &st.Noisy[c]
	for o := range symptom.Channels {
		if o == c || !g.witnessed(at, st, c, o) || !st.Noisy[o].Keeps(n.Size) {
			continue
		}
		w, where := 4.0, "on the same surface"
		if g.inChamber(o) != g.inChamber(c) {
			w, where = 0.5, "beyond the chamber's connections"
		}
		l.Add(cause.Evidence{From: unix(n.Since), To: unix(at), Numbers: map[string]float64{"scatter_mm": st.Noisy[o].Now, "usual_mm": st.Noisy[o].Usually()},
			Sentence: fmt.Sprintf("The %s, %s, stays as quiet as it was: %.1f mm.", g.named(o), where, st.Noisy[o].Now)},
			func(h *cause.Hypothesis) float64 {
				if h.Cause == cause.SurfaceUnquiet {
					return -w
				}
				return 0
			})
	}
}

// liftEvidence enters whether the readings of a radar stand higher since they
// scatter: foam only ever lifts an echo, noise goes both ways.
func (g *Gauge) liftEvidence(at int64, st *State, l *cause.Ledger, c symptom.Channel) {
	n := &st.Noisy[c]
	if !g.foams(c) || n.Lifts < noisySeen {
		return
	}
	w, sentence := 0.0, ""
	switch share := n.Lift / n.Size; {
	case share >= noisyFoam:
		w, sentence = 4, fmt.Sprintf("In the mean it stands %.0f mm higher since: an echo that is lifted.", n.Lift)
	case share <= noisyNoFoam:
		w, sentence = -4, fmt.Sprintf("In the mean it stands where it stood, within %.0f mm: foam would lift it.", math.Max(1, abs(n.Lift)))
	default:
		return
	}
	l.Add(cause.Evidence{From: unix(n.Since), To: unix(at), Sentence: sentence, Excitation: fmt.Sprintf("%.0f blocks of readings", n.Lifts), Numbers: map[string]float64{"lift_mm": n.Lift, "scatter_mm": n.Size}},
		func(h *cause.Hypothesis) float64 {
			switch {
			case h.Cause == cause.RadarDisturbed && h.Channel == c:
				return w
			case noisyCause(h.Cause) && h.Channel == c:
				return math.Min(0, -w/2) // noise goes both ways
			}
			return 0
		})
}

// noisySeen is how many blocks a mean must rest on to say whether an echo is lifted.
const noisySeen = 6
