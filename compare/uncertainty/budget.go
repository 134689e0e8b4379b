package uncertainty

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Term is one line of a budget.
type Term struct {
	Name         string       `json:"name"`
	Symbol       string       `json:"symbol,omitempty"`
	Value        float64      `json:"value"`
	Unit         string       `json:"unit"`
	U            float64      `json:"u"` // standard uncertainty, in Unit
	Distribution Distribution `json:"distribution"`
	Sensitivity  float64      `json:"sensitivity"`   // unit of the result per Unit
	Contribution float64      `json:"contribution"`  // Sensitivity times U, with its sign, in the unit of the result
	DoF          float64      `json:"dof,omitempty"` // 0: infinite
	Share        float64      `json:"share"`         // of the combined variance; with correlation they need not add to 1
	Source       string       `json:"source,omitempty"`
}

// Correlation says that two terms of a budget are not independent.
type Correlation struct {
	A, B int     // indices of the terms
	R    float64 // correlation coefficient, -1 to 1
}

// Budget is a result with everything its uncertainty is made of.
type Budget struct {
	Quantity     string        `json:"quantity"`
	Value        float64       `json:"value"`
	Unit         string        `json:"unit"`
	Terms        []Term        `json:"terms"`
	Correlations []Correlation `json:"correlations,omitempty"`

	U           float64 `json:"u"`             // combined standard uncertainty
	DoF         float64 `json:"dof,omitempty"` // effective degrees of freedom, 0: infinite
	Coverage    float64 `json:"k"`
	Expanded    float64 `json:"expanded"` // Coverage times U
	Probability float64 `json:"probability,omitempty"`
}

// Combine fills in contributions, shares, combined uncertainty and effective
// degrees of freedom, and expands with a given coverage factor. It fails on a
// term that is no number and on a correlation that cannot be.
func (b *Budget) Combine(coverage float64) error {
	if err := b.check(); err != nil {
		return err
	}
	for i := range b.Terms {
		b.Terms[i].Contribution = b.Terms[i].Sensitivity * b.Terms[i].U
	}
	variance := b.variance()
	if variance < 0 {
		return fmt.Errorf("uncertainty: budget of %s: its correlations give a negative variance; they contradict each other", b.Quantity)
	}
	b.U = math.Sqrt(variance)
	for i := range b.Terms {
		if variance > 0 {
			b.Terms[i].Share = b.Terms[i].Contribution * b.Terms[i].Contribution / variance
		}
	}
	b.DoF = b.effective()
	b.Coverage, b.Expanded, b.Probability = coverage, coverage*b.U, 0
	return nil
}

// CombineFor is Combine with the coverage factor of Student's t for a coverage
// probability and the effective degrees of freedom (JCGM 100:2008, G.4).
func (b *Budget) CombineFor(probability float64) error {
	if err := b.Combine(1); err != nil {
		return err
	}
	k, err := CoverageFactor(probability, b.DoF)
	if err != nil {
		return fmt.Errorf("budget of %s: %w", b.Quantity, err)
	}
	b.Coverage, b.Expanded, b.Probability = k, k*b.U, probability
	return nil
}

func (b *Budget) check() error {
	for _, t := range b.Terms {
		if !(t.U >= 0) || math.IsInf(t.U, 0) || math.IsNaN(t.Sensitivity) || math.IsInf(t.Sensitivity, 0) {
			return fmt.Errorf("uncertainty: budget of %s, %s: standard uncertainty %g with sensitivity %g", b.Quantity, t.Name, t.U, t.Sensitivity)
		}
	}
	for _, c := range b.Correlations {
		if c.A < 0 || c.B < 0 || c.A >= len(b.Terms) || c.B >= len(b.Terms) || c.A == c.B || !(c.R >= -1 && c.R <= 1) {
			return fmt.Errorf("uncertainty: budget of %s: correlation %g between terms %d and %d of %d", b.Quantity, c.R, c.A, c.B, len(b.Terms))
		}
	}
	return nil
}

// variance is the law of propagation, JCGM 100:2008, eq. (16).
func (b *Budget) variance() float64 {
	sum := 0.0
	for _, t := range b.Terms {
		sum += t.Contribution * t.Contribution
	}
	for _, c := range b.Correlations {
		sum += 2 * c.R * b.Terms[c.A].Contribution * b.Terms[c.B].Contribution
	}
	return sum
}

// effective is the Welch-Satterthwaite formula, JCGM 100:2008, eq. (G.2b). It
// is defined for independent terms; with correlations the result is infinite
// unless a term has finite degrees of freedom, and then a guide only.
func (b *Budget) effective() float64 {
	sum := 0.0
	for _, t := range b.Terms {
		if t.DoF > 0 && !math.IsInf(t.DoF, 1) {
			sum += math.Pow(t.Contribution, 4) / t.DoF
		}
	}
	if sum == 0 {
		return 0
	}
	return math.Pow(b.U, 4) / sum
}

// Ranked returns the terms, the largest contribution first.
func (b *Budget) Ranked() []Term {
	ranked := slices.Clone(b.Terms)
	slices.SortStableFunc(ranked, func(x, y Term) int {
		return cmp.Compare(math.Abs(y.Contribution), math.Abs(x.Contribution))
	})
	return ranked
}

// Difference returns the budget of a − b. Terms of the same name are the same
// physical quantity and enter once, with the difference of their
// contributions (JCGM 102:2011, 6.2): what both depend on the same way
// cancels.
func Difference(quantity string, a, b Budget) Budget {
	d := Budget{Quantity: quantity, Value: a.Value - b.Value, Unit: a.Unit, Terms: slices.Clone(a.Terms)}
	for _, t := range b.Terms {
		t.Sensitivity = -t.Sensitivity
		i := slices.IndexFunc(d.Terms, func(o Term) bool { return o.Name == t.Name })
		if i < 0 {
			d.Terms = append(d.Terms, t)
			continue
		}
		if o := &d.Terms[i]; o.U > 0 {
			o.Sensitivity += t.Sensitivity * t.U / o.U
		} else {
			*o = t
		}
	}
	return d
}
