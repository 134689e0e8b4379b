package store

import (
	"math"
	"testing"
)

func TestResolved(t *testing.T) {
	for _, c := range []struct {
		unit string
		v    float64
		want float64
	}{
		{"m", 0.612345678, 0.61235},
		{"m", -0.000004, 0},
		{"kg/m3", 712.34567, 712.346},
		{"mA", 12.3456789, 12.3456789},
		{"", 1, 1},
	} {
		if got := Resolved(c.unit, c.v); got != c.want {
			t.Errorf("%v %s became %v, want %v", c.v, c.unit, got, c.want)
		}
	}
	if !math.IsNaN(Resolved("m", math.NaN())) {
		t.Error("not-a-number became a number")
	}
}
