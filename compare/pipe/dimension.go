// Package pipe is the chamber's pipe: its dimensions, and bounds of what
// pressure makes sense for a pipe wall and a float shell.
//
// Every pressure here is a plausibility bound. It is not a rating, and nothing
// may be built, ordered or operated by it: the maker's rating plates, the
// design code that applies at the site and the people licensed to work by it
// decide. Flanges, branches, welds, corrosion, fatigue and temperature usually
// allow less than the plain wall, and a float less than its ideal shell.
package pipe

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"bridlewatch/compare/quantity"
)

// Dimension is the size of a pipe.
type Dimension struct {
	Outer quantity.Length // outside diameter
	Wall  quantity.Length // nominal wall
}

// Bore returns the nominal inside diameter.
func (d Dimension) Bore() quantity.Length { return d.Outer - 2*d.Wall }

// BoreArea returns the cross-section of the nominal bore in m2.
func (d Dimension) BoreArea() float64 {
	b := float64(d.Bore())
	return math.Pi / 4 * b * b
}

// size holds one nominal pipe size: outside diameter and walls by schedule,
// in millimetres, after ASME B36.10M (welded and seamless wrought steel pipe)
// and B36.19M (stainless steel pipe, the schedules with an S). The values for
// 2, 2-1/2 and 3 were compared with a public table of the standard; the other
// sizes are from memory of it.
type size struct {
	nps   string
	outer float64
	walls map[string]float64
}

func sizes() []size {
	return []size{
		{"1-1/2", 48.3, map[string]float64{"5S": 1.65, "10S": 2.77, "40": 3.68, "80": 5.08, "160": 7.14}},
		{"2", 60.3, map[string]float64{"5S": 1.65, "10S": 2.77, "40": 3.91, "80": 5.54, "160": 8.74}},
		{"2-1/2", 73.0, map[string]float64{"5S": 2.11, "10S": 3.05, "40": 5.16, "80": 7.01, "160": 9.53}},
		{"3", 88.9, map[string]float64{"5S": 2.11, "10S": 3.05, "40": 5.49, "80": 7.62, "160": 11.13}},
		{"3-1/2", 101.6, map[string]float64{"5S": 2.11, "10S": 3.05, "40": 5.74, "80": 8.08}},
		{"4", 114.3, map[string]float64{"5S": 2.11, "10S": 3.05, "40": 6.02, "80": 8.56, "160": 13.49}},
		{"6", 168.3, map[string]float64{"5S": 2.77, "10S": 3.40, "40": 7.11, "80": 10.97, "160": 18.26}},
	}
}

// Lookup returns the dimension of a nominal size ("2", "2-1/2", "2.5", "DN
// 50") and a schedule ("40", "40S", "STD", "Sch 80", "10S"). In these sizes
// schedules 40 and 40S, 80 and 80S, STD and XS are the same walls. An unknown
// size or schedule is an error that lists the known ones.
func Lookup(nps, schedule string) (Dimension, error) {
	want := normalSize(nps)
	var known []string
	for _, s := range sizes() {
		if s.nps != want {
			known = append(known, s.nps)
			continue
		}
		wall, ok := s.walls[normalSchedule(schedule)]
		if !ok {
			return Dimension{}, fmt.Errorf("pipe: schedule %q of NPS %s is not one of %s; give the chamber's inner and outer diameter instead",
				schedule, s.nps, strings.Join(schedules(s), ", "))
		}
		return Dimension{quantity.Length(s.outer) * quantity.Millimetre, quantity.Length(wall) * quantity.Millimetre}, nil
	}
	return Dimension{}, fmt.Errorf("pipe: nominal size %q is not one of %s; give the chamber's inner and outer diameter instead",
		nps, strings.Join(known, ", "))
}

func schedules(s size) []string {
	var names []string
	for n := range s.walls {
		names = append(names, n)
	}
	sort.Slice(names, func(i, k int) bool { return s.walls[names[i]] < s.walls[names[k]] })
	return names
}

func normalSize(s string) string {
	s = strings.ToUpper(strings.TrimSpace(s))
	s = strings.TrimSpace(strings.TrimPrefix(s, "NPS"))
	s = strings.TrimSuffix(strings.TrimSuffix(s, `"`), " IN")
	s = strings.ReplaceAll(strings.ReplaceAll(s, " 1/2", "-1/2"), "½", "-1/2")
	if dn, ok := strings.CutPrefix(s, "DN"); ok {
		s = map[string]string{"40": "1-1/2", "50": "2", "65": "2-1/2", "80": "3", "90": "3-1/2", "100": "4", "150": "6"}[strings.TrimSpace(dn)]
	}
	return strings.ReplaceAll(s, ".5", "-1/2")
}

func normalSchedule(s string) string {
	s = strings.ToUpper(strings.TrimSpace(s))
	s = strings.TrimSpace(strings.TrimPrefix(strings.TrimPrefix(s, "SCHEDULE"), "SCH"))
	switch s {
	case "40S", "STD":
		return "40"
	case "80S", "XS":
		return "80"
	}
	return s
}
