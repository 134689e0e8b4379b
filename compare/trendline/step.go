package trendline

import (
	"math"
	"slices"
)

const (
	stepNear  = 5    // values on either side whose medians tell how high a step is
	stepAfter = 3    // values after a step at least
	stepView  = 10   // values on either side it is judged among
	stepShare = 0.65 // of what a line leaves there: a step that leaves less is better
	stepsMost = 4
)

// WithoutSteps returns the values with their largest steps taken out: of a new
// reference, a repair, a fault that came and went. Median slopes and Mann–Kendall
// find a trend in any step. A step explains the values around it better than the
// line fitted to them; a slope or a bend does not. The newest values keep their
// height.
func WithoutSteps(x, y []float64) []float64 {
	for range stepsMost {
		at, height := Step(x, y)
		if at == 0 {
			break
		}
		y = slices.Clone(y)
		for i := range at {
			y[i] += height
		}
	}
	return y
}

// Step returns where the largest step of the values is, and how high, where it
// explains the values around it better than a line; else a place of 0.
func Step(x, y []float64) (place int, height float64) {
	if place, height = step(y); place == 0 || !better(x, y, place) {
		return 0, 0
	}
	return place, height
}

// step finds the place where two medians instead of one bring the most, among
// the values around it, and how high it is.
func step(y []float64) (place int, height float64) {
	most := 0.0
	for i := 1; i+stepAfter <= len(y); i++ {
		from, to := around(y, i)
		_, whole := spread(y[from:to])
		_, before := spread(y[from:i])
		_, after := spread(y[i:to])
		if gain := whole - before - after; gain > most {
			place, most = i, gain
		}
	}
	if place == 0 {
		return 0, 0
	}
	before, _ := spread(y[max(0, place-stepNear):place])
	after, _ := spread(y[place:min(len(y), place+stepNear)])
	return place, after - before
}

// better reports whether a step at a place explains the values around it better
// than the line fitted to them.
func better(x, y []float64, at int) bool {
	from, to := around(y, at)
	_, before := spread(y[from:at])
	_, after := spread(y[at:to])
	line := 0.0
	t := Fit(x[from:to], y[from:to], 0)
	for i := from; i < to; i++ {
		line += math.Abs(y[i] - t.Intercept - t.Slope*x[i])
	}
	return before+after < stepShare*line
}

func around(y []float64, at int) (from, to int) {
	return max(0, at-stepView), min(len(y), at+stepView)
}

// spread returns the median of values and the sum of distances from it.
func spread(y []float64) (middle, sum float64) {
	sorted := slices.Clone(y)
	slices.Sort(sorted)
	middle = median(sorted)
	for _, v := range y {
		sum += math.Abs(v - middle)
	}
	return middle, sum
}
