package compare

import (
	"fmt"
	"math"
	"slices"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/symptom"
	"bridlewatch/compare/trendline"
)

// Constants of what is looked at once an hour or once a day.
const (
	hour           = 3600
	day            = 86400
	trendDays      = 16   // window the alerting trend is judged on
	trendScore     = 1.8  // Mann–Kendall score with the variance of correlated days
	trendPlain     = 3.5  // the same without the correction
	trendShare     = 1.3  // of what a healthy gap may change, over the window
	straightScore  = 4.0  // score of a trend so straight that few changes of product could feign it
	straightShare  = 1.15 // trendShare for it
	trendLeast     = 5.0  // mm over the window
	trendStale     = 2    // days without values after which a trend says nothing about now
	trendSure      = 0.35 // of the slope that the near end of its interval must reach
	driftTold      = 2    // days in a row that announce a drift
	trendKept      = 0.5  // of change and score below which an announced drift has ended
	wanderDays     = 24   // second differences that tell how far a healthy pair wanders
	wanderSure     = 1.5  // of their median size that a trend must pass
	guessedLeast   = 720  // minutes with an assumed condition that a trend's days no longer bear
	creepShare     = 0.6  // of what a healthy gap may change, over months
	creepDays      = 45   // shortest window for a slower drift
	flatMarks      = 96   // ten-minute marks that prove a channel flat, 16 hours
	flatWatchMarks = 48
	flatSpread     = 6.0 // mm between the quartiles of the other channel
	flatRange      = 2.5 // mm a flat transmitter keeps within
)

// Drift is the trend of one pair over the last weeks.
type Drift struct {
	At        int64
	Rate      float64 // mm per day
	Low, High float64 // 95 % interval of it
	Score     float64 // corrected Mann–Kendall score
	Change    float64 // mm over the window
	Least     float64 // mm, change over the window a healthy pair could show
	Now       float64 // mm, fitted change at the end of it
	Days      int
	Yes       uint8 // days in a row it was a drift
}

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
			if c == o || !g.has(c) || !g.has(o) || st.blamed()&bit(o) != 0 || g.joined(at, st, c, o, st.blamed()) {
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

// drift fits the trend of the daily medians of a pair's change.
func (g *Gauge) drift(at int64, p gauge.Pair, st *State) {
	d := &st.Drifts[p]
	x, y := g.days(at, p, st, 5*trendDays)
	d.At, d.Days = at, len(x)
	recent := len(x)
	for recent > 0 && x[len(x)-1]-x[recent-1] <= trendDays {
		recent--
	}
	n := len(x) - recent
	if n < trendDays*3/4 || x[len(x)-1] < -trendStale {
		d.Yes = 0
		return
	}
	t, before := trendline.Fit(x[recent:], y[recent:], 1.96), d.Rate
	d.Rate, d.Low, d.High, d.Score = t.Slope, t.Low, t.High, t.Corrected
	d.Change = t.Slope * (x[len(x)-1] - x[recent])
	d.Now = t.Intercept + t.Slope*x[len(x)-1]
	share := trendShare
	if math.Abs(t.Corrected) >= straightScore {
		share = straightShare
	}
	d.Least = math.Max(trendLeast, share*st.inWeeks(p, g.usually(at, p, st)))
	if math.Abs(d.Change) >= d.Least && math.Abs(t.Corrected) >= trendScore && math.Abs(t.Z) >= trendPlain &&
		t.Low*t.High > 0 && math.Min(math.Abs(t.Low), math.Abs(t.High)) >= trendSure*math.Abs(t.Slope) &&
		math.Abs(d.Change) >= wanders(x[:recent], y[:recent]) {
		d.Yes = min(d.Yes+1, 250)
		return
	}
	if g.creepsFor(d, x, y, st.Varies[p]) {
		d.Yes = min(d.Yes+1, 250)
		return
	}
	if d.Yes < driftTold || !d.goesOn(before) {
		d.Yes = 0
	}
}

// goesOn reports whether a drift that was announced is still likely: it does
// not come and go with single days.
func (d *Drift) goesOn(before float64) bool {
	return d.Rate*before > 0 && math.Abs(d.Change) >= trendKept*d.Least && math.Abs(d.Score) >= trendKept*trendScore
}

// wanders is how far the daily values of a pair went up and down within the
// trend's window in the weeks before it, mm, as a change that would stand out:
// weather, campaigns and products nobody told us of. It is taken from second
// differences over half a window, which a drift leaves at zero; zero where there
// are too few weeks to know.
func wanders(x, y []float64) float64 {
	const half = trendDays / 2
	y = trendline.WithoutSteps(x, y)
	at := make(map[float64]float64, len(x))
	for i := range x {
		at[x[i]] = y[i]
	}
	var bends []float64
	for i := range x {
		before, ok := at[x[i]-half]
		after, yes := at[x[i]+half]
		if ok && yes {
			bends = append(bends, math.Abs(before-2*y[i]+after))
		}
	}
	if len(bends) < wanderDays {
		return 0
	}
	slices.Sort(bends)
	return wanderSure * bends[len(bends)/2]
}

// usually is what one standard uncertainty of the density did to a pair at the
// levels of the trend's window, root mean square, mm.
func (g *Gauge) usually(at int64, p gauge.Pair, st *State) float64 {
	a, b := symptom.Members(p)
	n, sum := 0.0, 0.0
	for i := range st.marks {
		if k := &st.marks[i]; k.At >= at-trendDays*day && !math.IsNaN(float64(k.Level[a]-k.Level[b])) {
			d := float64(k.Density[a] - k.Density[b])
			n, sum = n+1, sum+d*d
		}
	}
	return math.Sqrt(sum / math.Max(n, 1))
}

// inWeeks is how far the daily values of a healthy pair can go within weeks, mm,
// when one standard uncertainty of the density does so much to it at the levels
// of these weeks. The weather of a single day is not in the value of the day.
func (st *State) inWeeks(p gauge.Pair, density float64) float64 {
	base, now := &st.Base[p], st.Allow[p].Parts
	learned := base.Parts()
	scale(&now, &learned, chamberTemperaturePart, dailyVaries)
	if here := math.Abs(now[liquidPart]); here > 0.1 { // both act through the liquid of the chamber
		now[chamberTemperaturePart] *= density / here
	}
	now[liquidPart] = density
	scale(&now, &learned, legPart, legInWeeks)
	if st.Guessed > guessedLeast {
		for i := range now {
			now[i] *= assumedMore
		}
	}
	return math.Hypot(changeable(&now, &learned), math.Max(0, 3*base.Sigma-wanderFree))
}

// creepsFor looks for a drift too slow for the short window: over one and a
// half to three months it must have passed the drift limit. It must be one with
// its steps, which products in turn make, and without its largest, as after a
// reference was entered anew; its rate is that without.
func (g *Gauge) creepsFor(d *Drift, x, y []float64, varies float64) bool {
	if len(x) < creepDays/2 || x[len(x)-1]-x[0] < creepDays {
		return false
	}
	all := trendline.Fit(x, y, 1.96)
	ease := 1.0
	if d.Yes >= driftTold {
		ease = trendKept
	}
	if !g.overMonths(&all, x, ease, varies) {
		return false
	}
	t := trendline.Fit(x, trendline.WithoutSteps(x, y), 1.96)
	if !g.overMonths(&t, x, ease, varies) || t.Slope*all.Slope < 0 {
		return false
	}
	change := t.Slope * (x[len(x)-1] - x[0])
	d.Rate, d.Low, d.High, d.Score, d.Change = t.Slope, t.Low, t.High, t.Corrected, change
	d.Now = t.Intercept + t.Slope*x[len(x)-1]
	return true
}

// overMonths reports whether a trend of months is a drift and, but for a share
// of what it takes, too much.
func (g *Gauge) overMonths(t *trendline.Trend, x []float64, ease, varies float64) bool {
	change := math.Abs(t.Slope) * (x[len(x)-1] - x[0])
	return change >= ease*math.Max(g.driftLimit(), creepShare*varies) && math.Abs(t.Corrected) >= ease*trendScore && math.Abs(t.Z) >= ease*trendPlain
}

// driftLimit is the drift that is too much, mm.
func (g *Gauge) driftLimit() float64 {
	if g.sheet.Limits.Drift > 0 {
		return mm(g.sheet.Limits.Drift)
	}
	return 25
}

// days returns the daily medians of a pair's gap less what is normal, mm, over
// days before now.
func (g *Gauge) days(at int64, p gauge.Pair, st *State, days int64) (x, y []float64) {
	a, b := symptom.Members(p)
	st.marks = st.Months.Since(at-days*day, st.marks)
	var today []float64
	flush := func(d int64) {
		if len(today) >= 2 {
			slices.Sort(today)
			x, y = append(x, float64(d-at/day)), append(y, today[len(today)/2])
		}
		today = today[:0]
	}
	current := int64(0)
	for i := range st.marks {
		k := &st.marks[i]
		if d := k.At / day; d != current {
			flush(current)
			current = d
		}
		gap, level := float64(k.Level[a]-k.Level[b]), float64(k.Level[b])/(g.scale.Top/2)-1
		if !math.IsNaN(gap) {
			today = append(today, gap-st.Base[p].Normal(level))
		}
	}
	flush(current)
	return x, y
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
