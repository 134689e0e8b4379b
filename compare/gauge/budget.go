package gauge

import (
	"fmt"
	"math"
	"strings"

	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/uncertainty"
)

// Budgets is what every level and every gap of a gauge is uncertain by, in
// millimetres, at one instant.
type Budgets struct {
	Gauge  string               `json:"gauge"`
	Levels []uncertainty.Budget `json:"levels"`
	Gaps   []GapBudget          `json:"gaps"`
}

// GapBudget is the budget of one pair.
type GapBudget struct {
	uncertainty.Budget
	Pair     string  `json:"pair"`
	Allowed  float64 `json:"allowed_mm"` // the expanded uncertainty, or the user's limit
	ByUser   bool    `json:"by_user"`
	Apart    float64 `json:"u_if_independent_mm"` // what u would be if nothing were shared
	Sentence string  `json:"sentence"`
}

// Budget returns the budget tables of one instant. Levels and gaps that are no
// numbers are left out; when there is none the error says why.
func (m *Model) Budget(in *Snapshot) (Budgets, error) {
	var c conditions
	m.observe(in, &c.state)
	filled := m.fill(&c) == nil
	var out Measurement
	m.levels(in, &c, filled, &out)
	b := Budgets{Gauge: m.sheet.Tag}
	for _, l := range out.named() {
		if l.level.OK() {
			table, err := m.table(l.name, l.level.Value, &l.level.Parts, &c)
			if err != nil {
				return Budgets{}, err
			}
			b.Levels = append(b.Levels, table)
		}
	}
	for p := range Pairs {
		if !out.Gaps[p].OK {
			continue
		}
		g, err := m.gapBudget(p, &out, &c)
		if err != nil {
			return Budgets{}, err
		}
		b.Gaps = append(b.Gaps, g)
	}
	if len(b.Levels) == 0 {
		return Budgets{}, fmt.Errorf("gauge %q: no level, no budget: float %s, transmitter %s", m.sheet.Tag, why(&out.Float), why(&out.Transmitter))
	}
	return b, nil
}

func why(l *level.Level) string {
	if l.Bound == level.None {
		return l.Reason.String()
	}
	return l.Bound.String()
}

type namedLevel struct {
	name  string
	level *level.Level
}

func (out *Measurement) named() []namedLevel {
	return []namedLevel{
		{"level in the chamber by float", &out.Float}, {"level in the chamber by transmitter", &out.Transmitter},
		{"level in the chamber by second transmitter", &out.Second}, {"level in the chamber by vessel instrument", &out.Vessel},
		{"level in the vessel", &out.InVessel},
	}
}

func (m *Model) gapBudget(p Pair, out *Measurement, c *conditions) (GapBudget, error) {
	a, b := out.pair(p)
	var parts level.Contributions
	for i := range parts {
		parts[i] = a.Parts[i] - b.Parts[i]
	}
	table, err := m.table("gap "+p.String(), a.Value-b.Value, &parts, c)
	if err != nil {
		return GapBudget{}, err
	}
	g := GapBudget{
		Budget: table, Pair: p.String(),
		Allowed: out.Gaps[p].Budget.Millimetres(),
		ByUser:  out.Gaps[p].Budget != quantity.Length(m.coverage)*out.Gaps[p].U,
		Apart:   1e3 * math.Hypot(float64(a.U()), float64(b.U())),
	}
	g.Sentence = g.sentence()
	return g, nil
}

// sentence says what the gap may be and what rules it.
func (g *GapBudget) sentence() string {
	ranked := g.Ranked()
	says := fmt.Sprintf("A gap beyond %.1f mm means something (k = %.3g); %s dominates with %.0f %%", g.Allowed, g.Coverage, ranked[0].Name, 100*ranked[0].Share)
	if g.ByUser {
		says = fmt.Sprintf("The user allows %.1f mm; the instruments would support %.1f mm (k = %.3g). %s dominates with %.0f %%", g.Allowed, g.Expanded, g.Coverage, capital(ranked[0].Name), 100*ranked[0].Share)
	}
	if len(ranked) > 1 && ranked[1].Share >= 0.1 {
		says += fmt.Sprintf(", then %s with %.0f %%", ranked[1].Name, 100*ranked[1].Share)
	}
	return says + "."
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// negligible is a part of a budget that is rounding, in metres.
const negligible = 1e-12

// table turns contributions into a budget with the value and the standard
// uncertainty of each input.
func (m *Model) table(name string, value quantity.Length, parts *level.Contributions, c *conditions) (uncertainty.Budget, error) {
	b := uncertainty.Budget{Quantity: name, Value: value.Millimetres(), Unit: "mm"}
	for i, part := range parts {
		if math.Abs(part) < negligible {
			continue
		}
		t := m.input(level.Input(i), part, c)
		if t.Name == "" {
			t.Name = level.Input(i).String()
		}
		t.Sensitivity = 1e3 * part / t.U
		b.Terms = append(b.Terms, t)
	}
	return b, b.Combine(m.coverage)
}

// Text prints the tables.
func (b Budgets) Text() string {
	var w strings.Builder
	fmt.Fprintf(&w, "Uncertainty budget of %s by JCGM 100:2008. u: standard uncertainty; ν: degrees of freedom, ∞ for type B (G.4.3).\n", b.Gauge)
	for _, l := range b.Levels {
		fmt.Fprintf(&w, "\n%s: %.1f mm\n", capital(l.Quantity), l.Value)
		writeTable(&w, &l)
		fmt.Fprintf(&w, "  u = %.2f mm, ν = %s, U = %.2f mm (k = %.3g)\n", l.U, freedom(l.DoF), l.Expanded, l.Coverage)
	}
	for _, g := range b.Gaps {
		fmt.Fprintf(&w, "\n%s: %+.1f mm\n", capital(g.Quantity), g.Value)
		writeTable(&w, &g.Budget)
		fmt.Fprintf(&w, "  u = %.2f mm with the covariance of shared inputs (%.2f mm without), ν = %s, U = %.2f mm (k = %.3g)\n", g.U, g.Apart, freedom(g.DoF), g.Expanded, g.Coverage)
		fmt.Fprintf(&w, "  %s\n", g.Sentence)
	}
	return w.String()
}

func writeTable(w *strings.Builder, b *uncertainty.Budget) {
	fmt.Fprintf(w, "  %-30s %12s %10s  %-6s %-11s %5s %12s %9s %6s  %s\n", "input", "value", "u", "unit", "shape", "ν", "mm per unit", "part/mm", "share", "source")
	for _, t := range b.Ranked() {
		value := ""
		if t.Value != 0 {
			value = fmt.Sprintf("%.5g", t.Value)
		}
		fmt.Fprintf(w, "  %-30s %12s %10.4g  %-6s %-11s %5s %12.4g %+9.2f %5.1f%%  %s\n",
			t.Name, value, t.U, t.Unit, t.Distribution, freedom(t.DoF), t.Sensitivity, t.Contribution, 100*t.Share, t.Source)
	}
}

// freedom writes degrees of freedom; zero stands for infinitely many.
func freedom(dof float64) string {
	if dof == 0 {
		return "∞"
	}
	return fmt.Sprintf("%.3g", dof)
}

// Standing returns the snapshot of a sound gauge at the operating state of its data
// sheet with the vessel at a share of the distance between the taps, for a
// budget before there are readings.
func (m *Model) Standing(share float64) (Snapshot, error) {
	truth := Truth{VesselLevel: m.sheet.Chamber.CentreToCentre * quantity.Length(share)}
	var in Snapshot
	if err := m.Settle(&truth); err != nil {
		return in, err
	}
	err := m.Indicate(&truth, &in)
	return in, err
}
