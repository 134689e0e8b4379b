package water

import (
	"fmt"
	"math"
	"strconv"
	"testing"

	"bridlewatch/testdata/vectors"
)

// published are the coefficients as typed from the releases, by equation.
func published(t testing.TB) map[string][]publishedTerm {
	t.Helper()
	terms := map[string][]publishedTerm{}
	for _, row := range vectors.Read(t, "if97_coefficients.csv") {
		terms[row["eq"]] = append(terms[row["eq"]], publishedTerm{row["I"], row["J"], row.Number(t, "n")})
	}
	return terms
}

type publishedTerm struct {
	i, j string // as written: some are no numbers
	n    float64
}

func (p publishedTerm) exponents() (i, j float64) {
	i, _ = strconv.ParseFloat(p.i, 64)
	j, _ = strconv.ParseFloat(p.j, 64)
	return i, j
}

func TestCoefficientsAreThePublishedOnes(t *testing.T) {
	terms := published(t)
	power := func(name string, got []term, all []publishedTerm) {
		var want []publishedTerm
		for _, p := range all {
			if p.i != "0" && p.i != "ln(delta)" {
				want = append(want, p)
			}
		}
		if len(got) != len(want) {
			t.Fatalf("%s has %d terms, want %d", name, len(got), len(want))
		}
		for k, g := range got {
			if w := want[k]; fmt.Sprint(g.i) != w.i || fmt.Sprint(g.j) != w.j || g.n != w.n {
				t.Errorf("%s term %d is %+v, want %+v", name, k, g, w)
			}
		}
	}
	plain := func(name string, got []float64, want []publishedTerm) {
		if len(got) != len(want) {
			t.Fatalf("%s has %d numbers, want %d", name, len(got), len(want))
		}
		for k := range got {
			if got[k] != want[k].n {
				t.Errorf("%s n%d is %v, want %v", name, k+1, got[k], want[k].n)
			}
		}
	}
	power("region 1", region1[:], terms["R1"])
	power("region 2", region2[:], terms["R2_resid"])
	power("region 3", region3[:], terms["R3"])
	plain("region 3 logarithm", []float64{region3Logarithm}, terms["R3"][:1])
	plain("region 4", region4[:], terms["R4"])
	plain("border 2-3", border23[:], terms["B23"])
	plain("R8-97", dielectric[:], terms["R8-97"])
}

// gibbs is the dimensionless free energy of region 1 or 2 and its
// derivatives, summed term by term from the published coefficients.
type gibbs struct{ g, p, pp, t, tt, pt float64 }

func (g *gibbs) add(n, i, j, x, dx, y float64) {
	power := func(base, e float64) float64 {
		if e == 0 {
			return 1
		}
		return math.Pow(base, e)
	}
	g.g += n * power(x, i) * power(y, j)
	g.t += n * power(x, i) * j * power(y, j-1)
	g.tt += n * power(x, i) * j * (j - 1) * power(y, j-2)
	if i != 0 {
		g.p += dx * n * i * power(x, i-1) * power(y, j)
		g.pp += n * i * (i - 1) * power(x, i-2) * power(y, j)
		g.pt += dx * n * i * power(x, i-1) * j * power(y, j-1)
	}
}

// properties are v, h, u, s, cp and w by Tables 3 and 12 of R7-97.
func (g gibbs) properties(T, pi, tau, P float64) [6]float64 {
	const R = gasConstant
	lambda := g.p - tau*g.pt
	return [6]float64{
		R * T / P * pi * g.p,
		R * T * tau * g.t / 1e3,
		R * T * (tau*g.t - pi*g.p) / 1e3,
		R * (tau*g.t - g.g) / 1e3,
		-R * tau * tau * g.tt / 1e3,
		math.Sqrt(R * T * g.p * g.p / (lambda*lambda/(tau*tau*g.tt) - g.pp)),
	}
}

var propertyNames = [6]string{"v", "h", "u", "s", "cp", "w"}

// Tables 5 and 15 give six properties at each state. Caloric properties are
// not part of the package; computed here from the published coefficients they
// prove those, and the volume proves the fast sums.
func TestVectorsCoefficients(t *testing.T) {
	report := vectors.NewReport(t, "IAPWS R7-97(2012), Tables 5 and 15, v h u s cp w from the published coefficients")
	terms := published(t)
	region1At := func(T, MPa float64) [6]float64 {
		var g gibbs
		pi, tau := MPa/16.53, 1386/T
		for _, p := range terms["R1"] {
			i, j := p.exponents()
			g.add(p.n, i, j, 7.1-pi, -1, tau-1.222)
		}
		return g.properties(T, pi, tau, MPa*1e6)
	}
	region2At := func(T, MPa float64) [6]float64 {
		pi, tau := MPa, 540/T
		g := gibbs{g: math.Log(pi), p: 1 / pi, pp: -1 / (pi * pi)}
		for _, p := range terms["R2_ideal"] {
			_, j := p.exponents()
			g.add(p.n, 0, j, 1, 1, tau)
		}
		for _, p := range terms["R2_resid"] {
			i, j := p.exponents()
			g.add(p.n, i, j, pi, 1, tau-0.5)
		}
		return g.properties(T, pi, tau, MPa*1e6)
	}
	tests := []struct {
		name   string
		at     func(T, MPa float64) [6]float64
		T, MPa float64
		want   [6]float64
	}{
		{"R7-97 table 5 column 1", region1At, 300, 3, [6]float64{0.100215168e-2, 0.115331273e3, 0.112324818e3, 0.392294792, 0.417301218e1, 0.150773921e4}},
		{"R7-97 table 5 column 2", region1At, 300, 80, [6]float64{0.971180894e-3, 0.184142828e3, 0.106448356e3, 0.368563852, 0.401008987e1, 0.163469054e4}},
		{"R7-97 table 5 column 3", region1At, 500, 3, [6]float64{0.120241800e-2, 0.975542239e3, 0.971934985e3, 0.258041912e1, 0.465580682e1, 0.124071337e4}},
		{"R7-97 table 15 column 1", region2At, 300, 0.0035, [6]float64{0.394913866e2, 0.254991145e4, 0.241169160e4, 0.852238967e1, 0.191300162e1, 0.427920172e3}},
		{"R7-97 table 15 column 2", region2At, 700, 0.0035, [6]float64{0.923015898e2, 0.333568375e4, 0.301262819e4, 0.101749996e2, 0.208141274e1, 0.644289068e3}},
		{"R7-97 table 15 column 3", region2At, 700, 30, [6]float64{0.542946619e-2, 0.263149474e4, 0.246861076e4, 0.517540298e1, 0.103505092e2, 0.480386523e3}},
	}
	for _, tt := range tests {
		got := tt.at(tt.T, tt.MPa)
		for k, name := range propertyNames {
			t.Run(tt.name+" "+name, func(t *testing.T) {
				if report.Relative(tt.name+" "+name, got[k], tt.want[k]) > 5.1e-9 {
					t.Errorf("%s = %.9g, want %.9g", name, got[k], tt.want[k])
				}
			})
		}
	}
}

// R7-97, Table 33: pressure of region 3, by the package's equation, and
// enthalpy from the published coefficients.
func TestVectorsRegion3(t *testing.T) {
	report := vectors.NewReport(t, "IAPWS R7-97(2012), Table 33, p and h of region 3")
	terms := published(t)["R3"]
	enthalpy := func(rho, T float64) float64 {
		delta, tau := rho/criticalDensity, criticalTemperature/T
		phiDelta, phiTau := terms[0].n/delta, 0.0
		for _, p := range terms[1:] {
			i, j := p.exponents()
			phiDelta += p.n * i * math.Pow(delta, i-1) * math.Pow(tau, j)
			phiTau += p.n * math.Pow(delta, i) * j * math.Pow(tau, j-1)
		}
		return gasConstant * T * (tau*phiTau + delta*phiDelta) / 1e3
	}
	tests := []struct {
		name                 string
		T, rho, MPa, kJPerKg float64
	}{
		{"R7-97 table 33 column 1", 650, 500, 0.255837018e2, 0.186343019e4},
		{"R7-97 table 33 column 2", 650, 200, 0.222930643e2, 0.237512401e4},
		{"R7-97 table 33 column 3", 750, 500, 0.783095639e2, 0.225868845e4},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p, _ := pressure3(tt.rho, tt.T)
			if got := p / 1e6; report.Relative(tt.name+" p", got, tt.MPa) > 5e-9 {
				t.Errorf("p = %.9g MPa, want %.9g", got, tt.MPa)
			}
			if h := enthalpy(tt.rho, tt.T); report.Relative(tt.name+" h", h, tt.kJPerKg) > 5e-9 {
				t.Errorf("h = %.9g kJ/kg, want %.9g", h, tt.kJPerKg)
			}
		})
	}
}

// R7-97, section 4: the border of regions 2 and 3 passes through 623.15 K,
// 16.5291643 MPa.
func TestVectorsBorder23(t *testing.T) {
	report := vectors.NewReport(t, "IAPWS R7-97(2012), section 4, border of regions 2 and 3")
	if p := border23Pressure(623.15) / 1e6; report.Relative("p(623.15 K)", p, 16.5291643) > 3e-9 {
		t.Errorf("p(623.15 K) = %.9g MPa, want 16.5291643", p)
	}
	if T := border23TemperatureAt(16.5291643e6); report.Relative("T(16.5291643 MPa)", T, 623.15) > 2e-9 {
		t.Errorf("T(16.5291643 MPa) = %.9g K, want 623.15", T)
	}
	for T := 623.15; T <= border23Temperature; T += 5 {
		if back := border23TemperatureAt(border23Pressure(T)); math.Abs(back-T) > 1e-8 {
			t.Errorf("border at %v K comes back as %v K", T, back)
		}
	}
}

// SR1-86(1992), Table 1, densities: the start of the solution in region 3.
func TestVectorsEquations1986(t *testing.T) {
	report := vectors.NewReport(t, "IAPWS SR1-86(1992), Table 1, by its own equations")
	tests := []struct {
		name                string
		T, liquid, vapour   float64
		tolLiquid, tolVapor float64
	}{
		{"SR1-86 table 1 row 1", 273.16, 999.789, 0.00485426, 6e-7, 1.1e-6},
		{"SR1-86 table 1 row 2", 373.1243, 958.365, 0.597586, 6e-7, 1e-6},
		{"SR1-86 table 1 row 3", 647.096, 322, 322, 1e-12, 1e-12},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := saturatedLiquid1986(tt.T); report.Relative(tt.name+" ρ'", got, tt.liquid) > tt.tolLiquid {
				t.Errorf("ρ' = %.7g, want %.7g", got, tt.liquid)
			}
			if got := saturatedVapour1986(tt.T); report.Relative(tt.name+" ρ''", got, tt.vapour) > tt.tolVapor {
				t.Errorf("ρ'' = %.7g, want %.7g", got, tt.vapour)
			}
		})
	}
}
