package drift

import (
	"math"

	"bridlewatch/compare/trendline"
)

// estimate renews what is known of the drift, with a day just finished.
func (s *State) estimate(limit float64) {
	e := Estimate{Days: len(s.Days), Limit: limit}
	if !s.Referred || len(s.Days) < leastDays {
		s.Estimate = e
		return
	}
	scatter, memory := s.habits()
	e.OK, e.Drift = true, s.newestDays(newest)-s.Reference
	e.U = z95 * medianFactor * scatter * math.Sqrt(meanVariance(newest, memory)+meanVariance(week, memory))
	reference := z95 * medianFactor * scatter * math.Sqrt(meanVariance(week, memory))
	best := 0.0
	for _, n := range spans {
		t, last := s.fit(n)
		u := slopeU(min(n, len(s.Days)), scatter, memory)
		if score := math.Abs(t.Slope) / u; score > best {
			best = score
			t.Low, t.High = t.Slope-z95*u, t.Slope+z95*u
			end := math.Hypot(z95*u*float64(min(n, len(s.Days)))/math.Sqrt(3), reference) // of the line at its end
			e.rate(&t, score > significant, t.Intercept+t.Slope*last, end, limit)
		}
		if n >= len(s.Days) {
			break
		}
	}
	s.Estimate = e
}

// rate books a line that is at level now, give or take u, and says when it
// reaches the limit.
func (e *Estimate) rate(t *trendline.Trend, significant bool, level, u, limit float64) {
	e.Rate, e.Low, e.High, e.Significant = t.Slope, t.Low, t.High, significant
	e.ToLimit, e.Earliest, e.Latest = 0, 0, 0
	if !significant {
		return
	}
	way := math.Copysign(1, t.Slope)
	left, fast, slow := limit-way*level, math.Max(way*t.Low, way*t.High), math.Min(way*t.Low, way*t.High)
	e.ToLimit = math.Max(0, left/(way*t.Slope))
	e.Earliest = math.Max(0, (left-u)/fast)
	if slow > 0 {
		e.Latest = math.Max(0, (left+u)/slow)
	}
}

// habits returns the scatter of a day and its memory: what was learned, or
// until then what the differences of neighbouring days say.
func (s *State) habits() (scatter, memory float64) {
	if s.Scatter > 0 {
		return s.Scatter, s.Memory
	}
	steps := make([]float64, 0, len(s.Days))
	for i := 1; i < len(s.Days); i++ {
		steps = append(steps, s.Days[i].Gap-s.Days[i-1].Gap)
	}
	usual := middle(steps)
	for i := range steps {
		steps[i] = math.Abs(steps[i] - usual)
	}
	return math.Max(flooredMM, madFactor*middle(steps)/math.Sqrt(2*(1-usualMemory))), usualMemory
}

// learn books the habits of the first weeks.
func (s *State) learn() {
	t, _ := s.fit(learning)
	rest := make([]float64, len(s.Days))
	for i, d := range s.Days {
		rest[i] = math.Abs(d.Gap - s.Reference - t.Intercept - t.Slope*float64(d.Day-s.Days[0].Day))
	}
	s.Scatter = math.Max(flooredMM, madFactor*middle(rest))
	s.Memory = math.Max(leastMemory, math.Min(mostMemory, t.Phi))
}

// meanVariance is the variance of the mean of n days over that of one, when
// each remembers phi of the day before.
func meanVariance(n int, phi float64) float64 {
	sum, power := float64(n), 1.0
	for k := 1; k < n; k++ {
		power *= phi
		sum += 2 * float64(n-k) * power
	}
	return sum / float64(n*n)
}

// slopeU is the standard uncertainty of a slope over n days.
func slopeU(n int, scatter, memory float64) float64 {
	x := float64(n)
	return scatter * math.Sqrt(12/(x*(x*x-1))*(1+memory)/(1-memory))
}

// fit fits the newest n days, against the reference. It returns the newest
// day as the fit counts them.
func (s *State) fit(n int) (t trendline.Trend, last float64) {
	days := s.Days[max(0, len(s.Days)-n):]
	x, y := make([]float64, len(days)), make([]float64, len(days))
	for i, d := range days {
		x[i], y[i] = float64(d.Day-days[0].Day), d.Gap-s.Reference
	}
	return trendline.Fit(x, y, z95), x[len(x)-1]
}
