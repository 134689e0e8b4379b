package compare

import (
	"math"
	"slices"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/symptom"
	"bridlewatch/compare/trendline"
)

// When a trend is a drift.
const (
	trendDays     = 16   // window the alerting trend is judged on
	trendScore    = 1.8  // Mann–Kendall score with the variance of correlated days
	trendPlain    = 3.5  // the same without the correction
	trendShare    = 1.3  // of what a healthy gap may change, over the window
	straightScore = 4.0  // score of a trend so straight that few changes of product could feign it
	straightShare = 1.15 // trendShare for it
	trendLeast    = 5.0  // mm over the window
	trendStale    = 2    // days without values after which a trend says nothing about now
	trendSure     = 0.35 // of the slope that the near end of its interval must reach
	backShare     = 0.5  // of a trend, a step back that ends it
	backSpreads   = 8.0  // of what the days scatter about it, which that must exceed
	newestDays    = 2    // that must be back
	driftTold     = 2    // days in a row that announce a drift
	trendKept     = 0.5  // of change and score below which an announced drift has ended
	wanderDays    = 24   // second differences that tell how far a healthy pair wanders
	wanderSure    = 1.5  // of their median size that a trend must pass
	guessedLeast  = 720  // minutes with an assumed condition that a trend's days no longer bear
	creepShare    = 0.6  // of what a healthy gap may change, over months
	creepDays     = 45   // shortest window for a slower drift
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

// between is the interval of the rate in its own direction, mm per day: one that
// may be none, as after a cleaning, begins at zero.
func (d *Drift) between() (low, high float64) {
	sign := math.Copysign(1, d.Rate)
	low, high = math.Min(sign*d.Low, sign*d.High), math.Max(sign*d.Low, sign*d.High)
	return math.Max(0, low), high
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
	d.Now = t.At(x[len(x)-1])
	if putRight(x[recent:], y[recent:], t.Slope) {
		d.Yes = 0
		return
	}
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

// putRight reports whether a trend ended in a step back of half of what it had
// come to, as after a cleaning or with a new reference: what it says is of before.
// A day by itself may be one of weather, and so may a step within what the days
// scatter.
func putRight(x, y []float64, slope float64) bool {
	if at, height := trendline.Step(x, y); at >= trendDays/2 && height*slope < 0 && math.Abs(height) >= stepBack(x[:at], y[:at], slope) {
		return true
	}
	n := len(x) - newestDays
	if n < trendDays/2 {
		return false
	}
	t := trendline.Fit(x[:n], y[:n], 1.96)
	least := stepBack(x[:n], y[:n], t.Slope)
	for i := n; i < len(x); i++ {
		if off := y[i] - t.At(x[i]); off*t.Slope > 0 || math.Abs(off) < least {
			return false
		}
	}
	return true
}

// stepBack is how far a step behind days of a trend must go to end it.
func stepBack(x, y []float64, slope float64) float64 {
	t := trendline.Fit(x, y, 1.96)
	return math.Max(trendLeast, math.Max(backShare*math.Abs(slope)*(x[len(x)-1]-x[0]), backSpreads*t.Scatter(x, y)))
}

// againSince reports whether what was put right drifts on as before, by the days
// since the step.
func againSince(x, y []float64, slope float64) bool {
	at, _ := trendline.Step(x, y)
	if at == 0 || len(x)-at < trendDays {
		return false
	}
	since := trendline.Fit(x[at:], y[at:], 1.96)
	return since.Slope*slope > 0 && math.Abs(since.Slope) >= backShare*math.Abs(slope)
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
	if !g.overMonths(&t, x, ease, varies) || t.Slope*all.Slope < 0 || putRight(x, y, t.Slope) && !againSince(x, y, t.Slope) {
		return false
	}
	change := t.Slope * (x[len(x)-1] - x[0])
	d.Rate, d.Low, d.High, d.Score, d.Change = t.Slope, t.Low, t.High, t.Corrected, change
	d.Now = t.At(x[len(x)-1])
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
