package water

// The equations of regions 1 and 2 are sums of some thirty terms n x^I y^J
// with few different exponents. Each power is computed once, by the shortest
// products, and the terms stand written out in the order of the published
// tables, those of one I together. Nothing is looked up that does not come
// from the published coefficients in the same call.

// Factors of the derivatives, in the order of the terms.
var (
	gammaPi1N    = gammaPiFactors(region1[:], -1) // -n I, Table 4 of R7-97: x = 7.1 - pi falls with pi
	gammaPiTau1N = timesJ(region1[:], gammaPi1N)  // -n I J, Table 4
	gammaPi2N    = gammaPiFactors(region2[:], 1)  // n I, Table 14
)

// gammaPiFactors derives the terms n x^I y^J by pi; sign is that of dx/dpi.
func gammaPiFactors(terms []term, sign float64) []float64 {
	n := make([]float64, len(terms))
	for i, t := range terms {
		n[i] = sign * t.n * float64(t.i)
	}
	return n
}

// timesJ derives factors further by y, y^J left as it is.
func timesJ(terms []term, n []float64) []float64 {
	derived := make([]float64, len(n))
	for i, t := range terms {
		derived[i] = n[i] * float64(t.j)
	}
	return derived
}

// gammaPi1 is gamma_pi of region 1 and its derivative by tau, with
// x = 7.1 - pi and y = tau - 1.222, Table 4.
func gammaPi1(x, y float64) (gammaPi, gammaPiTau float64) {
	n, d := gammaPi1N, gammaPiTau1N
	_, _ = n[25], d[25]
	x2 := x * x
	x3 := x2 * x
	x4 := x2 * x2
	x6 := x3 * x3
	x7 := x4 * x3
	x8 := x4 * x4
	x20 := x8 * x8 * x4

	y2, z := y*y, 1/y
	y3 := y2 * y
	y6 := y3 * y3
	y10 := y6 * y2 * y2
	y17 := y10 * y6 * y
	z2 := z * z
	z3 := z2 * z
	z4 := z2 * z2
	z5 := z4 * z
	z6 := z4 * z2
	z7 := z4 * z3
	z8 := z4 * z4
	z9 := z8 * z
	z11 := z8 * z3
	z29 := z8 * z8 * z8 * z5

	s1 := n[0]*z9 + n[1]*z7 + n[2]*z + n[3] + n[4]*y + n[5]*y3
	d1 := d[0]*z9 + d[1]*z7 + d[2]*z + d[4]*y + d[5]*y3
	s2 := n[6]*z3 + n[7] + n[8]*y + n[9]*y3 + n[10]*y17
	d2 := d[6]*z3 + d[8]*y + d[9]*y3 + d[10]*y17
	s3 := n[11]*z4 + n[12] + n[13]*y6
	d3 := d[11]*z4 + d[13]*y6
	s4 := n[14]*z5 + n[15]*z2 + n[16]*y10
	d4 := d[14]*z5 + d[15]*z2 + d[16]*y10
	s5, d5 := n[17]*z8, d[17]*z8
	s8 := n[18]*z11 + n[19]*z6
	d8 := d[18]*z11 + d[19]*z6
	w, u, v, far := x*z, x2*z2, x6*z7, x20*z29
	s21 := n[20] + u*(n[21]+v*(n[22]+w*(n[23]+w*(n[24]+w*n[25]))))
	d21 := d[20] + u*(d[21]+v*(d[22]+w*(d[23]+w*(d[24]+w*d[25]))))
	gammaPi = s1 + x*s2 + x2*s3 + x3*s4 + x4*s5 + x7*s8 + far*s21
	gammaPiTau = z * (d1 + x*d2 + x2*d3 + x3*d4 + x4*d5 + x7*d8 + far*d21)
	return gammaPi, gammaPiTau
}

// gammaPi2 is the residual gamma_pi of region 2 with y = tau - 0.5, Table 14.
func gammaPi2(pi, y float64) float64 {
	n := gammaPi2N
	_ = n[42]
	p2 := pi * pi
	p3 := p2 * pi
	p4 := p2 * p2
	p5 := p4 * pi
	p6 := p4 * p2
	p7 := p4 * p3
	p8 := p4 * p4
	p9 := p8 * pi
	p15 := p8 * p7

	y2 := y * y
	y3 := y2 * y
	y4 := y2 * y2
	y6 := y4 * y2
	y7 := y4 * y3
	y8 := y4 * y4
	y10 := y6 * y4
	y11 := y7 * y4
	y13 := y7 * y6
	y14 := y7 * y7
	y16 := y8 * y8
	y20 := y10 * y10
	y21 := y11 * y10
	y25 := y14 * y11
	y26 := y13 * y13
	y29 := y16 * y13
	y35 := y21 * y14
	y36 := y20 * y16
	y39 := y26 * y13
	y40 := y20 * y20

	s1 := n[0] + n[1]*y + n[2]*y2 + n[3]*y3 + n[4]*y6
	s2 := n[5]*y + n[6]*y2 + n[7]*y4 + n[8]*y7 + n[9]*y36
	s3 := n[10] + n[11]*y + n[12]*y3 + n[13]*y6 + n[14]*y35
	s4 := n[15]*y + n[16]*y2 + n[17]*y3
	s5 := n[18] * y7
	s6 := n[19]*y3 + n[20]*y16 + n[21]*y35
	s7 := n[22] + n[23]*y11 + n[24]*y25
	s8 := n[25]*y8 + n[26]*y36
	s9 := n[27] * y13
	s10 := n[28]*y4 + n[29]*y10 + n[30]*y14
	s16 := n[31]*y29 + n[32]*y25*y25
	s18 := n[33] * y36 * y21
	s20 := n[34]*y20 + n[35]*y35 + n[36]*y40*y8
	s21 := n[37] * y21
	s22 := n[38] * y40 * y13
	s23 := n[39] * y39
	s24 := n[40]*y26 + n[41]*y40 + n[42]*y29*y29
	low := s1 + pi*s2 + p2*s3 + p3*s4 + p4*s5 + p5*s6 + p6*s7 + p7*s8 + p8*s9 + p9*s10
	return low + p15*(s16+p2*s18+p4*(s20+pi*(s21+pi*(s22+pi*(s23+pi*s24)))))
}
