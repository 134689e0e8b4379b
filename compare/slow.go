package compare

import (
	"fmt"
	"math"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/symptom"
)

// Constants of what is looked at once an hour or once a day.
const (
	hour           = 3600
	day            = 86400
	flatMarks      = 96 // ten-minute marks that prove a channel flat, 16 hours
	flatWatchMarks = 48
	flatSpread     = 6.0 // mm between the quartiles of the other channel
	flatRange      = 2.5 // mm a flat transmitter keeps within
)

// Rest is a channel that stood still while another moved a little.
type Rest struct {
	At      int64
	Channel symptom.Channel
	Other   symptom.Channel
	Flat    symptom.Flat
}

// slowly looks, once an hour and once a day, for what minutes cannot show.
func (g *Gauge) slowly(at int64, st *State) {
	if at/hour != st.Hourly {
		st.Hourly = at / hour
		g.flat(at, st)
	}
	if at/day != st.Daily {
		st.Daily = at / day
		g.sizes(st)
		for _, p := range g.pairs {
			g.drift(at, p, st)
		}
	}
}

// flat looks for a channel that rests while the others do not.
func (g *Gauge) flat(at int64, st *State) {
	st.Flat = Rest{}
	if len(g.pairs) == 0 {
		return
	}
	st.marks = st.Hours.Since(at-day, st.marks)
	for c := symptom.FloatLevel; c <= symptom.SecondLevel; c++ {
		for o := range symptom.Channels {
			if c == o || !g.has(c) || !g.has(o) || st.blamed()&bit(o) != 0 || g.joined(at, st, c, o) {
				continue
			}
			f, ok := symptom.FlatIn(st.marks, c, o, st.sorted[:0])
			if ok && f.Marks >= flatWatchMarks && f.Spread >= math.Max(flatSpread, 1.3*st.variesOf(c, o)) && f.Range <= g.flatLimit(c) && f.Marks > st.Flat.Flat.Marks {
				st.Flat = Rest{At: at, Channel: c, Other: o, Flat: f}
			}
		}
	}
}

// variesOf is the largest change a healthy gap of two channels could make
// lately, mm: densities alone may move what one of them shows.
func (st *State) variesOf(a, b symptom.Channel) float64 {
	if p := pairOf(a, b); p != gauge.Pairs {
		return st.Varies[p]
	}
	return 0
}

// flatLimit is the range a channel at rest keeps within: noise, or one step
// of a reed chain.
func (g *Gauge) flatLimit(c symptom.Channel) float64 {
	if c == symptom.FloatLevel {
		return math.Max(flatRange, 1.1*g.pitch()+1)
	}
	return flatRange
}

// slowSigns says what the hourly and daily looks found.
func (g *Gauge) slowSigns(at int64, st *State, list []sign) []sign {
	if r := &st.Flat; r.At != 0 && at-r.At < 2*hour {
		s := sign{group: Levels, channels: bit(r.Channel), alert: r.Flat.Marks >= flatMarks}
		s.Symptom = symptom.Symptom{Kind: stillKind(r.Channel), Point: -1, Pair: pairOf(r.Channel, r.Other), Since: unix(r.Flat.From), Found: unix(at),
			Value: length(r.Flat.Spread), Nats: 10}
		list = append(list, s)
	}
	for _, p := range g.pairs {
		d := &st.Drifts[p]
		if d.Yes == 0 || at-d.At > 2*day {
			continue
		}
		a, b := symptom.Members(p)
		s := sign{group: Levels, channels: bit(a) | bit(b), alert: d.Yes >= driftTold}
		s.Symptom = symptom.Symptom{Kind: symptom.GapDrift, Pair: p, Point: -1, Since: unix(at - int64(math.Min(trendDays, math.Abs(d.Now/d.Rate))*day)), Found: unix(at),
			Value: length(d.Now), RatePerD: length(d.Rate), Nats: math.Abs(d.Score)}
		list = append(list, s)
	}
	return list
}

// burstWatch and burstAlert are how many bursts within about a week disturb a
// radar for good.
const (
	burstWatch = 3.5
	burstAlert = 5.5
)

// slowEvidence enters what the hourly and daily looks say about the causes.
func (g *Gauge) slowEvidence(at int64, st *State, e *Episode, l *cause.Ledger) {
	for _, p := range g.pairs {
		a, b := symptom.Members(p)
		if d := &st.Drifts[p]; d.Yes > 0 && e.concerns(p) {
			l.Add(cause.Evidence{From: unix(at - trendDays*day), To: unix(at), Numbers: map[string]float64{"mm_per_month": d.Rate * month, "low": d.Low * month, "high": d.High * month, "healthy_change_mm": d.Least},
				Sentence: fmt.Sprintf("%s and %s drift apart by %.1f mm a month.", g.name(a), lower(g.name(b)), abs(d.Rate)*month)},
				func(h *cause.Hypothesis) float64 {
					if h.Cause == cause.TimeSkew || h.Cause == cause.FloatStickSlip || h.Cause == cause.DisplacerDisturbed {
						return -refuted // they come and go with the movement
					}
					return 0
				})
		}
	}
	g.jumpEvidence(at, st, e, l)
	g.fineEvidence(at, st, l)
	g.repeatEvidence(at, st, l)
	if r := &st.Flat; r.At != 0 && at-r.At < 2*hour {
		l.Add(cause.Evidence{From: unix(r.Flat.From), To: unix(at), Sentence: g.flatSentence(r), Numbers: map[string]float64{"range_mm": r.Flat.Range, "spread_mm": r.Flat.Spread}},
			func(h *cause.Hypothesis) float64 {
				if h.Channel == r.Channel && g.rests(st, h) {
					return 8
				}
				return 0
			})
	}
}

// jumpEvidence enters that a gap went elsewhere within minutes: what is slow does
// not.
func (g *Gauge) jumpEvidence(at int64, st *State, e *Episode, l *cause.Ledger) {
	for _, p := range g.pairs {
		j := &st.Gaps[p].Jump
		if !j.Confirmed() || !e.concerns(p) {
			continue
		}
		a, b := symptom.Members(p)
		l.Add(cause.Evidence{From: unix(j.Since), To: unix(at), Numbers: map[string]float64{"from_mm": j.From, "by_mm": j.Size},
			Sentence: fmt.Sprintf("The gap of %s and %s went %.1f mm elsewhere within minutes and stayed; a liquid is not exchanged so soon.", g.tag(a), g.tag(b), abs(j.Size))},
			func(h *cause.Hypothesis) float64 {
				if h.Cause == cause.TransmitterDrift {
					return -refuted
				}
				return 0
			})
	}
}
