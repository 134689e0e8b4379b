package fit

import (
	"fmt"
	"math"
	"strings"
)

// Text prints the report.
func (r Report) Text() string {
	var w strings.Builder
	fmt.Fprintf(&w, "Does %s fit its service?\n%s\n", title(r), r.Verdict)
	r.writeRange(&w)
	r.writeGaps(&w)
	r.writeCold(&w)
	r.writeSpans(&w)
	r.writeBounds(&w)
	for _, weight := range []Weight{Problem, Warning, Note} {
		if r.count(weight) == 0 {
			continue
		}
		fmt.Fprintf(&w, "\n%ss\n", capital(string(weight)))
		for _, a := range r.Advice {
			if a.Weight == weight {
				fmt.Fprintf(&w, "  %s: %s [%s]\n", a.Topic, a.Sentence, a.Basis)
			}
		}
	}
	return w.String()
}

func title(r Report) string {
	if r.Service == "" {
		return r.Gauge
	}
	return fmt.Sprintf("%s (%s)", r.Gauge, r.Service)
}

func (r *Report) writeRange(w *strings.Builder) {
	if len(r.Range) == 0 {
		return
	}
	fmt.Fprintf(w, "\nFloat over the range in service\n  %-24s %7s %9s %11s %10s %8s %9s %9s %9s\n",
		"", "SG", "kg/m³", "immersed/mm", "off/mm", "reserve", "spare/g", "mm/10 g", "mm/0.1 N")
	for _, d := range r.Range {
		if !d.Swims {
			fmt.Fprintf(w, "  %-24s %7.3f %9.1f  %s\n", d.What, d.SG, d.Density, d.Why)
			continue
		}
		fmt.Fprintf(w, "  %-24s %7.3f %9.1f %11.1f %+10.1f %8.2f %9.0f %9.2f %9.2f\n",
			d.What, d.SG, d.Density, d.Immersion, tenths(d.Shift), d.Reserve, d.Spare, d.PerTenG, d.DeadBand)
	}
	reserve := "lift over weight"
	if r.between {
		reserve = "volume of the float over that in the heavier liquid"
	}
	fmt.Fprintf(w, "  off: an uncorrected reading less the surface; reserve: %s, lost at 1; spare: mass it can still take on;\n  mm/10 g: how far a deposit of 10 g lowers the reading; mm/0.1 N: how far a friction of 0.1 N holds the float off. (package buoyancy eq. (1))\n", reserve)
	fmt.Fprintf(w, "  An uncorrected reading moves by %.1f mm over the range in service.\n", r.Movement)
}

func (r *Report) writeGaps(w *strings.Builder) {
	fmt.Fprintf(w, "\nSmallest gap that means something\n")
	if len(r.Gaps) == 0 {
		fmt.Fprintf(w, "  None: no two instruments of this gauge measure the level, or it has no operating state to find it at.\n")
		return
	}
	fmt.Fprintf(w, "  %-34s %9s %11s %8s  %s\n", "", "level/mm", "allowed/mm", "u/mm", "dominates")
	for _, g := range r.Gaps {
		fmt.Fprintf(w, "  %-34s %9.0f %11.1f %8.2f  %s\n", g.Pair, g.Level, g.Allowed, g.U, g.Dominates)
	}
}

func (r *Report) writeCold(w *strings.Builder) {
	if len(r.Cold) == 0 {
		return
	}
	fmt.Fprintf(w, "\nChamber against vessel at the operating state (package vessel eq. (1))\n  %10s %11s %8s\n", "vessel/mm", "chamber/mm", "off/mm")
	for _, c := range r.Cold {
		fmt.Fprintf(w, "  %10.1f %11.1f %+8.1f\n", c.Vessel, c.Chamber, c.Chamber-c.Vessel)
	}
}

func (r *Report) writeSpans(w *strings.Builder) {
	if len(r.Spans) == 0 {
		return
	}
	fmt.Fprintf(w, "\nWhat the transmitter feels at the operating state (package dpcell eq. (1), package displacer eq. (1))\n")
	for _, s := range r.Spans {
		set := "its signal's range is not known here"
		if s.Set != nil {
			set = fmt.Sprintf("its signal spans %.4g to %.4g %s", s.Set[0], s.Set[1], s.Unit)
		}
		fmt.Fprintf(w, "  %s: %.4g %s at the lower tap, %.4g %s at the upper tap; %s\n", s.Tag, s.Lower, s.Unit, s.Upper, s.Unit, set)
	}
}

func (r *Report) writeBounds(w *strings.Builder) {
	if len(r.Bounds) == 0 {
		return
	}
	fmt.Fprintf(w, "\nPressure, for plausibility only\n")
	for _, b := range r.Bounds {
		stated := ""
		if b.Stated > 0 {
			stated = fmt.Sprintf(", the maker states %.1f bar(g)", b.Stated)
		}
		fmt.Fprintf(w, "  %s: bound %.1f bar(g), asked %.1f bar(g)%s (%s)\n", b.What, b.Bar, b.Demand, stated, b.By)
	}
	fmt.Fprintf(w, "  %s\n", r.Bounds[0].Caution)
}

// tenths rounds to one decimal, so that nothing is printed as minus zero.
func tenths(v float64) float64 { return math.Round(10*v)/10 + 0 }
