package structure_test

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"bridlewatch/compare/structure"
)

// unknowns of a gauge: vessel level, chamber level, float position, density.
const (
	lv uint64 = 1 << iota
	lc
	xf
	rho
)

var equation = map[string]uint64{
	"flows": lv, "vessel": lv, "chamber": lv | lc, "float": lc | xf | rho, "follower": xf, "radar": lc, "dp": lc | rho,
	"density": rho, "switch1": xf, "switch2": xf,
}

func system(names string) (s structure.System) {
	for _, n := range strings.Fields(names) {
		s = append(s, structure.Equation{Name: n, Unknowns: equation[n]})
	}
	return s
}

func names(s structure.System, idx []int) string {
	var list []string
	for _, i := range idx {
		list = append(list, s[i].Name)
	}
	slices.Sort(list)
	return strings.Join(list, " ")
}

// What eight sets of instruments can see: own computation, checked by hand
// for the first row. Switches are worked by the float.
func TestInstrumentSets(t *testing.T) {
	rows := []struct {
		name, equations string
		redundancy      int
		groups          []string
		blind           string
	}{
		{"A float and radar", "chamber float follower radar density", 1, []string{"density float follower radar"}, "chamber"},
		{"B and one switch", "chamber float follower radar density switch1", 2, []string{"density float radar"}, "chamber"},
		{"B and two switches", "chamber float follower radar density switch1 switch2", 3, []string{"density float radar"}, "chamber"},
		{"C0 float, radar, vessel level", "vessel chamber float follower radar density", 2, []string{"chamber vessel", "density float follower"}, ""},
		{"C switches and vessel level", "vessel chamber float follower radar density switch1 switch2", 4, []string{"chamber vessel", "density float"}, ""},
		{"I switches and flows", "flows chamber float follower radar density switch1 switch2", 4, []string{"chamber flows", "density float"}, ""},
		{"D switches, vessel level, flows", "flows vessel chamber float follower radar density switch1 switch2", 5, []string{"density float"}, ""},
		{"E float, dp, switches", "chamber float follower dp density switch1 switch2", 3, []string{"density dp float"}, "chamber"},
		{"F float, radar, dp, switches", "chamber float follower radar dp density switch1 switch2", 4, nil, "chamber"},
		{"G F and vessel level", "vessel chamber float follower radar dp density switch1 switch2", 5, []string{"chamber vessel"}, ""},
		{"H float and switches only", "chamber float follower density switch1 switch2", 2, nil, "chamber density float"},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			s := system(r.equations)
			if got := s.Redundancy(); got != r.redundancy {
				t.Errorf("redundancy %d, want %d", got, r.redundancy)
			}
			var groups []string
			for _, g := range s.Groups() {
				groups = append(groups, names(s, g))
			}
			slices.Sort(groups)
			if !slices.Equal(groups, r.groups) {
				t.Errorf("not isolable %q, want %q", groups, r.groups)
			}
			var blind []int
			for i, ok := range s.Detectable() {
				if !ok {
					blind = append(blind, i)
				}
			}
			if got := names(s, blind); got != r.blind {
				t.Errorf("not detectable %q, want %q", got, r.blind)
			}
		})
	}
}

// Two transmitters of different density dependence isolate the density; two
// of the same do not.
func TestTwoPrinciplesIsolateDensity(t *testing.T) {
	two := system("chamber float follower radar dp density")
	if !two.Isolable(5, 1) || !two.Isolable(5, 3) {
		t.Error("radar and dp do not isolate the density")
	}
	same := append(system("chamber float follower radar density"), structure.Equation{Name: "radar2", Unknowns: lc})
	if same.Isolable(4, 1) {
		t.Error("two radars isolate density and float")
	}
}

// Adding an instrument never shrinks what can be seen.
func TestMoreInstrumentsSeeMore(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	for range 300 {
		var s structure.System
		for range 3 + rng.IntN(7) {
			s = append(s, structure.Equation{Unknowns: 1 + rng.Uint64N(31)})
		}
		before := s.Detectable()
		after := append(slices.Clone(s), structure.Equation{Unknowns: 1 + rng.Uint64N(31)}).Detectable()
		for e, ok := range before {
			if ok && !after[e] {
				t.Fatalf("equation %d of %v no longer detectable", e, s)
			}
		}
	}
}
