package water

// The equations of regions 1 and 2 are sums of some thirty terms n x^I y^J
// with few different exponents. Each power is computed once, by the shortest
// products, into a small array that the terms then index; nothing is looked
// up that does not come from the published coefficients in the same call.

// pressureTerm is one term of gamma_pi, prepared: c x^a y^b.
type pressureTerm struct {
	c    float64
	a, b uint8
}

// xPowers and yPowers hold powers by their exponent, shifted so that none is
// negative.
type (
	xPowers [32]float64
	yPowers [64]float64
)

func (x *xPowers) sum(terms []pressureTerm, y *yPowers) float64 {
	even, odd := 0.0, 0.0
	for len(terms) >= 2 {
		even += terms[0].c * x[terms[0].a&31] * y[terms[0].b&63]
		odd += terms[1].c * x[terms[1].a&31] * y[terms[1].b&63]
		terms = terms[2:]
	}
	if len(terms) == 1 {
		even += terms[0].c * x[terms[0].a&31] * y[terms[0].b&63]
	}
	return even + odd
}

// derivePressure turns terms n x^I y^J into their derivative by x, with sign
// -1 where x falls with pi, and exponents of y shifted by shift.
func derivePressure(terms []term, sign float64, shift int) []pressureTerm {
	derived := make([]pressureTerm, len(terms))
	for i, t := range terms {
		derived[i] = pressureTerm{sign * t.n * float64(t.i), uint8(t.i - 1), uint8(t.j + shift)}
	}
	return derived
}

// shift1 makes the exponents of region 1, -41 to 17, indices.
const shift1 = 41

var (
	gammaPiTerms1 = derivePressure(region1[:], -1, shift1) // Table 4 of R7-97
	gammaPiTerms2 = derivePressure(region2[:], 1, 0)       // Table 14
)

// gammaPi1 is gamma_pi of region 1 with x = 7.1 - pi and y = tau - 1.222,
// Table 4.
func gammaPi1(x, y float64) float64 {
	var p xPowers
	var q yPowers
	p[0] = 1
	p[1] = x
	p[2] = x * x
	p[3] = p[2] * x
	p[4] = p[2] * p[2]
	p[7] = p[4] * p[3]
	p8 := p[4] * p[4]
	p16 := p8 * p8
	p[20] = p16 * p[4]
	p[22] = p[20] * p[2]
	p[28] = p[20] * p8
	p[29] = p[28] * x
	p[30] = p[28] * p[2]
	p[31] = p[28] * p[3]

	y2, z := y*y, 1/y
	y4 := y2 * y2
	q[shift1] = 1
	q[shift1+1] = y
	q[shift1+3] = y2 * y
	q[shift1+6] = y4 * y2
	q[shift1+10] = q[shift1+6] * y4
	q[shift1+17] = q[shift1+10] * q[shift1+6] * y
	z2 := z * z
	z4 := z2 * z2
	z8 := z4 * z4
	z16 := z8 * z8
	z32 := z16 * z16
	q[shift1-1] = z
	q[shift1-2] = z2
	q[shift1-3] = z2 * z
	q[shift1-4] = z4
	q[shift1-5] = z4 * z
	q[shift1-6] = z4 * z2
	q[shift1-7] = z4 * q[shift1-3]
	q[shift1-8] = z8
	q[shift1-9] = z8 * z
	q[shift1-11] = z8 * q[shift1-3]
	q[shift1-29] = z16 * z8 * q[shift1-5]
	q[shift1-31] = q[shift1-29] * z2
	q[shift1-38] = z32 * q[shift1-6]
	q[shift1-39] = z32 * q[shift1-7]
	q[shift1-40] = z32 * z8
	q[shift1-41] = z32 * q[shift1-9]
	return p.sum(gammaPiTerms1, &q)
}

// gammaPi2 is the residual gamma_pi of region 2 with y = tau - 0.5, Table 14.
func gammaPi2(pi, y float64) float64 {
	var p xPowers
	var q yPowers
	p[0] = 1
	p[1] = pi
	p[2] = pi * pi
	p[3] = p[2] * pi
	p[4] = p[2] * p[2]
	p[5] = p[4] * pi
	p[6] = p[4] * p[2]
	p[7] = p[4] * p[3]
	p[8] = p[4] * p[4]
	p[9] = p[8] * pi
	p[15] = p[8] * p[7]
	p[17] = p[9] * p[8]
	p[19] = p[15] * p[4]
	p[20] = p[15] * p[5]
	p[21] = p[15] * p[6]
	p[22] = p[15] * p[7]
	p[23] = p[15] * p[8]

	q[0] = 1
	q[1] = y
	q[2] = y * y
	q[3] = q[2] * y
	q[4] = q[2] * q[2]
	q[6] = q[4] * q[2]
	q[7] = q[4] * q[3]
	q[8] = q[4] * q[4]
	q[10] = q[6] * q[4]
	q[11] = q[7] * q[4]
	q[13] = q[7] * q[6]
	q[14] = q[7] * q[7]
	q[16] = q[8] * q[8]
	q[20] = q[10] * q[10]
	q[21] = q[11] * q[10]
	q[25] = q[14] * q[11]
	q[26] = q[13] * q[13]
	q[29] = q[16] * q[13]
	q[35] = q[21] * q[14]
	q[36] = q[20] * q[16]
	q[39] = q[26] * q[13]
	q[40] = q[20] * q[20]
	q[48] = q[40] * q[8]
	q[50] = q[25] * q[25]
	q[53] = q[40] * q[13]
	q[57] = q[36] * q[21]
	q[58] = q[29] * q[29]
	return p.sum(gammaPiTerms2, &q)
}
