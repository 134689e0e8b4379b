package uncertainty_test

import (
	"math"
	"testing"

	"bridlewatch/compare/uncertainty"
	"bridlewatch/testdata/vectors"
)

// JCGM 100:2008, H.1, end-gauge calibration, in nanometres:
// l = ls + d − ls (δα θ + αs δθ). Inputs and printed results as repeated by
// two public uncertainty programs; the printed U99 = 93 nm from memory.
func TestVectorsGUMH1EndGauge(t *testing.T) {
	report := vectors.NewReport(t, "JCGM 100:2008 H.1 (printed to 2 digits)")
	const ls = 50_000_623.0
	d := uncertainty.Budget{Quantity: "d", Value: 215, Unit: "nm", Terms: []uncertainty.Term{
		{Name: "repeated observations", Unit: "nm", U: 5.8, DoF: 24, Sensitivity: 1},
		{Name: "random effects of comparator", Unit: "nm", U: 3.9, DoF: 5, Sensitivity: 1},
		{Name: "systematic effects of comparator", Unit: "nm", U: 6.7, DoF: 8, Sensitivity: 1},
	}}
	if err := d.Combine(1); err != nil {
		t.Fatal(err)
	}
	report.Within(t, "u(d), printed 9.7", d.U, 9.6819, 5e-5)
	report.Within(t, "degrees of freedom of d, 25.6 from the rounded 9.7", d.DoF, 25.447, 5e-4)

	theta := math.Hypot(0.2, uncertainty.FromHalfWidth(uncertainty.Arcsine, 0.5))
	const alpha = 11.5e-6
	uDelta := uncertainty.FromHalfWidth(uncertainty.Rectangular, 1e-6)
	uTheta := uncertainty.FromHalfWidth(uncertainty.Rectangular, 0.05)
	l := uncertainty.Budget{Quantity: "length of the end gauge", Value: ls + 215 - ls*(0*-0.1+alpha*0), Unit: "nm", Terms: []uncertainty.Term{
		{Name: "ls", Unit: "nm", Value: ls, U: 25, DoF: 18, Sensitivity: 1},
		{Name: "d", Unit: "nm", Value: 215, U: d.U, DoF: d.DoF, Sensitivity: 1},
		{Name: "αs", Unit: "1/°C", U: uncertainty.FromHalfWidth(uncertainty.Rectangular, 2e-6), Sensitivity: 0},
		{Name: "θ", Unit: "°C", U: theta, Sensitivity: 0},
		{Name: "δα", Unit: "1/°C", U: uDelta, DoF: 50, Sensitivity: -ls * -0.1},
		{Name: "δθ", Unit: "°C", U: uTheta, DoF: 2, Sensitivity: -ls * alpha},
	}}
	if err := l.CombineFor(0.99); err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		name string
		got  float64
		want float64
		tol  float64
	}{
		{"value, printed 50 000 838 nm", l.Value, 50_000_838, 0},
		{"part of δα, printed 2.9 nm", math.Abs(l.Terms[4].Contribution), 2.88679, 1e-4},
		{"part of δθ, printed 16.6 nm", math.Abs(l.Terms[5].Contribution), 16.599, 5e-4},
		{"u(l), printed 32 nm", l.U, 31.66, 5e-3},
		{"effective degrees of freedom, printed 16", l.DoF, 16.75, 1e-2},
		{"t99(16), printed 2.92", l.Coverage, 2.9208, 5e-5},
		{"U99, printed 93 nm", math.Ceil(l.Expanded), 93, 0},
	} {
		t.Run(row.name, func(t *testing.T) { report.Within(t, row.name, row.got, row.want, row.tol) })
	}
	t.Run("with second-order terms 11.7 and 1.7 nm, printed 34 nm", func(t *testing.T) {
		second := math.Hypot(ls*uDelta*theta, ls*uncertainty.FromHalfWidth(uncertainty.Rectangular, 2e-6)*uTheta)
		report.Within(t, "δα with θ", ls*uDelta*theta, 11.7, 0.05)
		report.Within(t, "u(l)", math.Hypot(l.U, second), 34, 0.5)
	})
}

// JCGM 100:2008, H.2, resistance and reactance: five simultaneous readings.
// The asserted digits are those of a public program; the GUM's 0.070 for u(R)
// comes from its rounded inputs.
func TestVectorsGUMH2Impedance(t *testing.T) {
	report := vectors.NewReport(t, "JCGM 100:2008 H.2")
	s, err := uncertainty.Readings(
		[]float64{5.007, 4.994, 5.005, 4.990, 4.999},
		[]float64{19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3},
		[]float64{1.0456, 1.0438, 1.0468, 1.0428, 1.0433},
	)
	if err != nil {
		t.Fatal(err)
	}
	v, i, f := s.Mean[0], s.Mean[1], s.Mean[2]
	c, sin := math.Cos(f), math.Sin(f)
	joint := s.Joint([][]float64{
		{c / i, -v * c / (i * i), -v * sin / i},
		{sin / i, -v * sin / (i * i), v * c / i},
		{1 / i, -v / (i * i), 0},
	})
	u := func(k int) float64 { return math.Sqrt(joint[k][k]) }
	r := func(a, b int) float64 { return joint[a][b] / (u(a) * u(b)) }
	for _, row := range []struct {
		name           string
		got, want, tol float64
	}{
		{"V", v, 4.9990, 5e-7}, {"I", i, 19.6610e-3, 5e-9}, {"φ", f, 1.04446, 5e-7},
		{"s(V)", s.U[0], 3.20936e-3, 5e-9}, {"s(I)", s.U[1], 9.47101e-6, 5e-12}, {"s(φ)", s.U[2], 7.52064e-4, 5e-10},
		{"r(V,I)", s.Correlation[0][1], -0.35531, 5e-6}, {"r(V,φ)", s.Correlation[0][2], 0.85762, 5e-6}, {"r(I,φ)", s.Correlation[1][2], -0.64511, 5e-6},
		{"R", v / i * c, 127.732170, 5e-7}, {"X", v / i * sin, 219.846512, 5e-7}, {"Z", v / i, 254.259702, 5e-7},
		{"u(R)", u(0), 0.071071, 5e-7}, {"u(X)", u(1), 0.295582, 5e-7}, {"u(Z)", u(2), 0.236336, 5e-7},
		{"r(R,X)", r(0, 1), -0.58843, 5e-6}, {"r(R,Z)", r(0, 2), -0.48526, 5e-6}, {"r(X,Z)", r(1, 2), 0.99251, 5e-6},
	} {
		t.Run(row.name, func(t *testing.T) { report.Within(t, row.name, row.got, row.want, row.tol) })
	}
}

// The same through a Budget with correlations.
func TestGUMH2AsBudget(t *testing.T) {
	const v, i, f = 4.9990, 19.6610e-3, 1.04446
	b := uncertainty.Budget{
		Quantity: "R", Value: v / i * math.Cos(f), Unit: "Ω",
		Terms: []uncertainty.Term{
			{Name: "V", U: 3.20936e-3, Sensitivity: math.Cos(f) / i},
			{Name: "I", U: 9.47101e-6, Sensitivity: -v * math.Cos(f) / (i * i)},
			{Name: "φ", U: 7.52064e-4, Sensitivity: -v * math.Sin(f) / i},
		},
		Correlations: []uncertainty.Correlation{{A: 0, B: 1, R: -0.35531}, {A: 0, B: 2, R: 0.85762}, {A: 1, B: 2, R: -0.64511}},
	}
	if err := b.Combine(2); err != nil {
		t.Fatal(err)
	}
	vectors.Within(t, "u(R)", b.U, 0.071071, 2e-6)
	vectors.Within(t, "U(R)", b.Expanded, 2*0.071071, 4e-6)
}

// JCGM 100:2008, H.3, calibration of a thermometer.
func TestVectorsGUMH3Thermometer(t *testing.T) {
	report := vectors.NewReport(t, "JCGM 100:2008 H.3")
	l, err := uncertainty.Fit(
		[]float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511},
		[]float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160}, 20)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		name           string
		got, want, tol float64
	}{
		{"intercept", l.Intercept, -0.171203790, 5e-10}, {"its u", l.UIntercept, 0.002877598, 5e-10},
		{"slope", l.Slope, 0.002182697740, 5e-13}, {"its u, in exact fractions", l.USlope, 0.00066793877323, 5e-15},
		{"correlation", l.Correlation, -0.930430, 5e-7}, {"residual", l.Residual, 0.003497564, 5e-10},
		{"b(30 °C)", l.At(30), -0.149376813, 5e-10}, {"its u", l.UAt(30), 0.004138596, 5e-10},
	} {
		t.Run(row.name, func(t *testing.T) { report.Within(t, row.name, row.got, row.want, row.tol) })
	}
}

// JCGM 100:2008, table G.2, by the closed forms of two and more degrees of
// freedom, and the normal limit.
func TestCoverageFactor(t *testing.T) {
	for _, c := range []struct {
		name   string
		p, dof float64
		want   float64
	}{
		{"95 %, 1", 0.95, 1, 12.7062}, {"95 %, 2", 0.95, 2, 4.3027}, {"95 %, 10", 0.95, 10, 2.2281},
		{"95.45 %, 50", 0.9545, 50, 2.0513}, {"99 %, 16", 0.99, 16, 2.9208}, {"99 %, 16.75 rounded down", 0.99, 16.75, 2.9208},
		{"95 %, infinite", 0.95, 0, 1.9600}, {"95.45 %, infinite", 0.9545, math.Inf(1), 2.0000}, {"99.73 %, infinite", 0.9973, 0, 3.0000},
	} {
		t.Run(c.name, func(t *testing.T) {
			k, err := uncertainty.CoverageFactor(c.p, c.dof)
			if err != nil {
				t.Fatal(err)
			}
			vectors.Within(t, "k", k, c.want, 8e-5)
		})
	}
	for _, c := range [][2]float64{{0, 5}, {1, 5}, {0.95, 0.5}, {0.95, -1}, {math.NaN(), 5}} {
		if k, err := uncertainty.CoverageFactor(c[0], c[1]); err == nil {
			t.Errorf("%v: k = %v, want an error", c, k)
		}
	}
}

// Degrees of freedom of a published uncertainty program's check: u 0.57 (9)
// and 0.25 (infinite) give 12.8.
func TestWelchSatterthwaite(t *testing.T) {
	b := uncertainty.Budget{Terms: []uncertainty.Term{{U: 0.57, DoF: 9, Sensitivity: 1}, {U: 0.25, Sensitivity: 1}}}
	if err := b.Combine(2); err != nil {
		t.Fatal(err)
	}
	vectors.Within(t, "degrees of freedom", b.DoF, 12.8, 0.05)
}

func TestBudgetRefusals(t *testing.T) {
	for name, b := range map[string]uncertainty.Budget{
		"negative u":           {Terms: []uncertainty.Term{{U: -1, Sensitivity: 1}}},
		"no number":            {Terms: []uncertainty.Term{{U: math.NaN()}}},
		"term that is not":     {Terms: []uncertainty.Term{{U: 1}}, Correlations: []uncertainty.Correlation{{A: 0, B: 1, R: 0.5}}},
		"r of 2":               {Terms: []uncertainty.Term{{U: 1}, {U: 1}}, Correlations: []uncertainty.Correlation{{A: 0, B: 1, R: 2}}},
		"contradicting r":      {Terms: []uncertainty.Term{{U: 1, Sensitivity: 1}, {U: 1, Sensitivity: 1}, {U: 1, Sensitivity: 1}}, Correlations: []uncertainty.Correlation{{0, 1, -1}, {0, 2, -1}, {1, 2, -1}}},
		"correlated to itself": {Terms: []uncertainty.Term{{U: 1}}, Correlations: []uncertainty.Correlation{{A: 0, B: 0, R: 0.5}}},
	} {
		if err := b.Combine(2); err == nil {
			t.Errorf("%s: no error, u = %v", name, b.U)
		}
	}
}

// What two results depend on the same way cancels in their difference.
func TestDifference(t *testing.T) {
	a := uncertainty.Budget{Value: 812, Unit: "mm", Terms: []uncertainty.Term{
		{Name: "density", U: 4, Sensitivity: -0.5}, {Name: "float", U: 1.5, Sensitivity: 1}}}
	b := uncertainty.Budget{Value: 800, Unit: "mm", Terms: []uncertainty.Term{
		{Name: "density", U: 4, Sensitivity: -0.5}, {Name: "cell", U: 2, Sensitivity: 1}}}
	d := uncertainty.Difference("gap", a, b)
	if err := d.Combine(2); err != nil {
		t.Fatal(err)
	}
	vectors.Within(t, "gap", d.Value, 12, 0)
	vectors.Within(t, "u, the density cancelled", d.U, 2.5, 1e-15)
	if len(d.Terms) != 3 {
		t.Errorf("%d terms, want 3", len(d.Terms))
	}
}

func TestRanked(t *testing.T) {
	b := uncertainty.Budget{Terms: []uncertainty.Term{{Name: "small", U: 1, Sensitivity: 1}, {Name: "large", U: 3, Sensitivity: -1}}}
	if err := b.Combine(2); err != nil {
		t.Fatal(err)
	}
	if r := b.Ranked(); r[0].Name != "large" || math.Abs(r[0].Share-0.9) > 1e-15 {
		t.Errorf("ranked %+v", r)
	}
}
