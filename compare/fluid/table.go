package fluid

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

// table is a density over temperature, on one or more isobars. Along an
// isobar it is the monotone piecewise cubic of Fritsch and Butland (SIAM J.
// Sci. Stat. Comput. 5 (1984) 300), which goes through every point and never
// beyond its neighbours; between isobars it is linear in pressure.
type table struct {
	model
	isobars []isobar // by rising pressure; one with pressure 0 holds at any
}

type isobar struct {
	pressure quantity.Pressure
	t, rho   []float64
	slope    []float64
}

func newTable(f datasheet.Fluid) (Liquid, error) {
	if len(f.Table) < 2 {
		return nil, errors.New("a table needs two densities or more; give one density as a constant")
	}
	points := slices.Clone(f.Table)
	slices.SortStableFunc(points, func(a, b datasheet.TablePoint) int {
		if a.Pressure != b.Pressure {
			return cmp.Compare(a.Pressure, b.Pressure)
		}
		return cmp.Compare(a.Temperature, b.Temperature)
	})
	l := &table{model: known(f, uTable, "table of densities")}
	for _, p := range points {
		if err := l.add(p); err != nil {
			return nil, err
		}
	}
	if len(l.isobars) > 1 && l.isobars[0].pressure == 0 {
		return nil, errors.New("a table has densities with and without a pressure; give all of them one, or none")
	}
	for i := range l.isobars {
		if err := l.isobars[i].finish(); err != nil {
			return nil, err
		}
	}
	return l, nil
}

func (l *table) add(p datasheet.TablePoint) error {
	if !positive(float64(p.Density)) || !positive(float64(p.Temperature)) || !(p.Pressure >= 0) {
		return fmt.Errorf("table point %.6g K, %.6g Pa, %.6g kg/m3 is not physical", float64(p.Temperature), float64(p.Pressure), float64(p.Density))
	}
	last := len(l.isobars) - 1
	if last < 0 || l.isobars[last].pressure != p.Pressure {
		l.isobars = append(l.isobars, isobar{pressure: p.Pressure})
		last++
	}
	row := &l.isobars[last]
	if n := len(row.t); n > 0 && row.t[n-1] == float64(p.Temperature) {
		return fmt.Errorf("table has two densities at %.2f °C", p.Temperature.Celsius())
	}
	row.t = append(row.t, float64(p.Temperature))
	row.rho = append(row.rho, float64(p.Density))
	return nil
}

// finish computes the slope at every point.
func (r *isobar) finish() error {
	n := len(r.t)
	if n < 2 {
		return fmt.Errorf("table has only one density at %.4g bar(a)", r.pressure.Bar())
	}
	r.slope = make([]float64, n)
	r.slope[0], r.slope[n-1] = r.endSlope(0, 1), r.endSlope(n-2, -1)
	for i := 1; i < n-1; i++ {
		before, after := r.secant(i-1), r.secant(i)
		if before*after <= 0 {
			continue // an extremum keeps a level tangent
		}
		h0, h1 := r.t[i]-r.t[i-1], r.t[i+1]-r.t[i]
		share := (h0 + 2*h1) / (3 * (h0 + h1))
		r.slope[i] = before * after / (share*after + (1-share)*before)
	}
	return nil
}

// endSlope is the slope of the parabola through the end and its two
// neighbours, kept from turning the curve within the interval.
func (r *isobar) endSlope(i, inwards int) float64 {
	near := r.secant(i)
	if len(r.t) == 2 {
		return near
	}
	next := r.secant(i + inwards)
	h0, h1 := r.t[i+1]-r.t[i], r.t[i+inwards+1]-r.t[i+inwards]
	slope := ((2*h0+h1)*near - h0*next) / (h0 + h1)
	switch {
	case slope*near <= 0:
		return 0
	case near*next <= 0 && math.Abs(slope) > 3*math.Abs(near):
		return 3 * near
	}
	return slope
}

func (r *isobar) secant(i int) float64 { return (r.rho[i+1] - r.rho[i]) / (r.t[i+1] - r.t[i]) }

func (l *table) Density(t quantity.Temperature, p quantity.Pressure) (quantity.Density, error) {
	if len(l.isobars) == 1 && l.isobars[0].pressure == 0 {
		return l.isobars[0].at(t)
	}
	low, high := l.isobars[0].pressure, l.isobars[len(l.isobars)-1].pressure
	if !(p >= low && p <= high) {
		return 0, &RangeError{Model: "density table", Quantity: "pressure", Value: p.Bar(), Low: low.Bar(), High: high.Bar(),
			Unit: "bar(a)", Remedy: "extend the table, or leave out its pressures to use it at any"}
	}
	i := 0
	for i < len(l.isobars)-2 && p > l.isobars[i+1].pressure {
		i++
	}
	below, err := l.isobars[i].at(t)
	if err != nil || p == low {
		return below, err
	}
	above, err := l.isobars[i+1].at(t)
	if err != nil {
		return 0, err
	}
	share := (p - l.isobars[i].pressure) / (l.isobars[i+1].pressure - l.isobars[i].pressure)
	return below + quantity.Density(share)*(above-below), nil
}

// at evaluates the cubic Hermite polynomial of the interval t lies in.
func (r *isobar) at(t quantity.Temperature) (quantity.Density, error) {
	const roundOff = 1e-6 // K, what conversion of units may add at an end
	T, n := float64(t), len(r.t)
	if !(T >= r.t[0]-roundOff && T <= r.t[n-1]+roundOff) {
		return 0, &RangeError{Model: "density table", Quantity: "temperature", Value: t.Celsius(),
			Low: quantity.Temperature(r.t[0]).Celsius(), High: quantity.Temperature(r.t[n-1]).Celsius(), Unit: "°C",
			Remedy: "extend the table to the temperatures in service"}
	}
	i, _ := slices.BinarySearch(r.t, T)
	i = min(max(i-1, 0), n-2)
	h := r.t[i+1] - r.t[i]
	s := (T - r.t[i]) / h
	return quantity.Density((1+2*s)*(1-s)*(1-s)*r.rho[i] + s*(1-s)*(1-s)*h*r.slope[i] +
		s*s*(3-2*s)*r.rho[i+1] + s*s*(s-1)*h*r.slope[i+1]), nil
}
