// Package structure says which faults a set of equations can see at all and
// which it can tell apart, before any number is measured.
//
// Every equation relates unknown quantities and carries one fault: it fails
// when that fault is present. A fault is detectable when its equation is in
// the overdetermined part of the system, and one fault is isolable from
// another when it stays detectable without the other's equation. The
// overdetermined part is found from a maximum matching of equations and
// unknowns: it holds the unmatched equations and all equations that an
// alternating path from them reaches (Dulmage & Mendelsohn 1958; Krysander,
// Åslund & Nyberg 2008).
//
// The answer is about structure only: a fault that can be seen here may still
// need movement of the level before it is.
package structure

// MaxUnknowns is the largest number of unknowns of a System.
const MaxUnknowns = 64

// Equation relates the unknowns whose bits are set and fails with its fault.
type Equation struct {
	Name     string
	Unknowns uint64
}

// System is a set of equations.
type System []Equation

// matching returns for every equation the unknown it is matched with, -1 for
// none, leaving out equation without (-1: none).
func (s System) matching(without int) (unknownOf []int, equationOf [MaxUnknowns]int) {
	unknownOf = make([]int, len(s))
	for i := range unknownOf {
		unknownOf[i] = -1
	}
	for u := range equationOf {
		equationOf[u] = -1
	}
	for e := range s {
		if e != without {
			var tried uint64
			s.augment(e, &tried, unknownOf, &equationOf)
		}
	}
	return unknownOf, equationOf
}

// augment looks for an alternating path from equation e to a free unknown.
func (s System) augment(e int, tried *uint64, unknownOf []int, equationOf *[MaxUnknowns]int) bool {
	for u := range MaxUnknowns {
		bit := uint64(1) << u
		if s[e].Unknowns&bit == 0 || *tried&bit != 0 {
			continue
		}
		*tried |= bit
		if equationOf[u] < 0 || s.augment(equationOf[u], tried, unknownOf, equationOf) {
			unknownOf[e], equationOf[u] = u, e
			return true
		}
	}
	return false
}

// Overdetermined reports for every equation whether it is in the
// overdetermined part of the system without one equation (-1: of the whole).
func (s System) Overdetermined(without int) []bool {
	unknownOf, equationOf := s.matching(without)
	in := make([]bool, len(s))
	var visit func(e int)
	visit = func(e int) {
		if in[e] {
			return
		}
		in[e] = true
		for u := range MaxUnknowns {
			if s[e].Unknowns&(1<<u) != 0 && equationOf[u] >= 0 {
				visit(equationOf[u])
			}
		}
	}
	for e := range s {
		if e != without && unknownOf[e] < 0 {
			visit(e)
		}
	}
	return in
}

// Detectable reports for every equation whether its fault can be seen.
func (s System) Detectable() []bool { return s.Overdetermined(-1) }

// Isolable reports whether the fault of equation e can be seen while that of
// equation other is allowed for.
func (s System) Isolable(e, other int) bool {
	return e != other && s.Overdetermined(other)[e]
}

// Redundancy returns the number of equations more than unknowns in the
// overdetermined part.
func (s System) Redundancy() int {
	in, unknowns, n := s.Detectable(), uint64(0), 0
	for e, ok := range in {
		if ok {
			n++
			unknowns |= s[e].Unknowns
		}
	}
	for ; unknowns != 0; unknowns &= unknowns - 1 {
		n--
	}
	return n
}

// Groups returns the sets of detectable faults that cannot be told apart from
// each other, as indices of equations; faults that stand alone are left out.
func (s System) Groups() [][]int {
	detectable := s.Detectable()
	done := make([]bool, len(s))
	var groups [][]int
	for e := range s {
		if !detectable[e] || done[e] {
			continue
		}
		group, left := []int{e}, s.Overdetermined(e)
		for o := e + 1; o < len(s); o++ {
			if detectable[o] && !done[o] && !left[o] {
				group, done[o] = append(group, o), true
			}
		}
		if len(group) > 1 {
			groups = append(groups, group)
		}
	}
	return groups
}
