package bench

import (
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strings"
	"text/tabwriter"
)

// WriteTable prints the report for people.
func (r *Report) WriteTable(w io.Writer) error {
	t := &table{tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)}
	t.line("Seeds %s, scans every %g s, %.0f s on %d workers", r.Set, r.Every, r.Seconds, r.Workers)
	t.healthy(r)
	t.faults(r)
	t.attribution(r)
	t.baselines(r)
	t.wells(r)
	t.goals(r)
	return t.w.Flush()
}

type table struct{ w *tabwriter.Writer }

// line prints one line; the writer keeps its error for Flush.
func (t *table) line(format string, args ...any) { _, _ = fmt.Fprintf(t.w, format+"\n", args...) }

func (t *table) healthy(r *Report) {
	if len(r.Healthy) == 0 {
		return
	}
	t.line("\nHealthy gauges\ngauge-years\talerts\tgauges\tper gauge-year (95 %%)\tat most (95 %%)\twatches/gy\tclass")
	for _, h := range r.Healthy {
		t.line("%.1f\t%d\t%d\t%.3f (%.3f to %.3f)\t%.3f\t%.2f\t%s", h.Years, h.Episodes, h.Gauges, h.Rate.Value, h.Rate.Low, h.Rate.High, h.Upper, h.Watches, h.Class)
		for _, kind := range slices.Sorted(maps.Keys(h.WatchKinds)) {
			t.line("\t\t\t\t\t%.2f\t  watch: %s", float64(h.WatchKinds[kind])/h.Years, kind)
		}
		for _, b := range h.Baselines {
			t.line("\t\t\t%.2f\t\t\t  %s, default", b.Rate.Value, b.Name)
		}
	}
}

func (t *table) faults(r *Report) {
	if len(r.Faults) == 0 {
		return
	}
	t.line("\nFaults; delays are medians and 90 %% points")
	t.line("found (95 %%)\twatch h\talert h\tmoves\tcrossings\tright/decided/covers at 3 d (set)\texact\twrong\tbest baseline, default\ttuned to %s\ttuned to %s\tfault", tunings[0], tunings[1])
	for _, f := range r.Faults {
		n := f.Named[len(f.Named)-1]
		t.line("%d/%d (%.2f to %.2f)\t%s\t%s\t%s\t%s\t%.2f/%.2f/%.2f (%.1f)\t%.2f\t%.2f\t%s\t%s\t%s\t%s%s",
			int(math.Round(f.Detected.Value*float64(f.Trials))), f.Trials, f.Detected.Low, f.Detected.High,
			f.Watch, f.Alert, f.Moves, f.Crossings, n.Right, n.Decided, n.Covers, n.Size, n.Exact, n.Wrong,
			best(f.Against, ""), best(f.Against, tunings[0]), best(f.Against, tunings[1]), f.Name, f.remark())
	}
}

func (f *Fault) remark() string {
	var out []string
	if f.Idle > 0 {
		out = append(out, fmt.Sprintf("%d more not exercised enough to tell", f.Idle))
	}
	if f.Warning != (Delay{}) {
		out = append(out, fmt.Sprintf("%s d before 25 mm", f.Warning))
	}
	if f.OverCusum != 0 {
		out = append(out, fmt.Sprintf("%s times the matched CUSUM's delay", f.OverCusum))
	}
	if len(out) == 0 {
		return ""
	}
	return " (" + strings.Join(out, "; ") + ")"
}

// best is the baseline tuned to a service that finds most, soonest.
func best(all []Against, tuned string) string {
	var b *Against
	for i := range all {
		a := &all[i]
		if a.TunedTo != tuned || a.Detected.Value == 0 {
			continue
		}
		if b == nil || a.Detected.Value > b.Detected.Value || a.Detected.Value == b.Detected.Value && float64(a.MedianH) < float64(b.MedianH) {
			b = a
		}
	}
	if b == nil {
		return "never"
	}
	return fmt.Sprintf("%.2f, %s h (%s)", b.Detected.Value, b.MedianH, b.Name)
}

func (t *table) attribution(r *Report) {
	if len(r.Faults) == 0 {
		return
	}
	t.line("\nAttribution\nof\tafter\tvessel level\tjudged\tdecided\tright when decided\tset covers\tset size\twrong name")
	for _, a := range r.Attribution {
		t.line("%s\t%s\t%t\t%d\t%.3f\t%.3f\t%.3f\t%.2f\t%.3f", a.Of, a.After, a.Vessel, a.Judged, a.Decided, a.Right, a.Covers, a.Size, a.Wrong)
	}
	head := "\nNamed at 3 d"
	for _, s := range r.Confusion.Named {
		head += "\t" + string(s)
	}
	t.line("%s", head)
	for i, s := range r.Confusion.Truth {
		row := string(s)
		for _, n := range r.Confusion.Count[i] {
			row += fmt.Sprintf("\t%d", n)
		}
		t.line("%s", row)
	}
}

func (t *table) baselines(r *Report) {
	if len(r.Faults) == 0 {
		return
	}
	t.line("\nBaselines tuned to %.2f false episodes per gauge-year \nthreshold default, tuned\trate\tkinds of fault we find sooner or more often\tbaseline\ttuned to\tnot beaten", tunedTo)
	for _, b := range r.Baselines {
		t.line("%g, %s\t%.3f\t%d of %d\t%s\t%s\t%s", b.Default, b.Tuned, b.TunedRate.Value, b.Beaten, b.Faults, b.Name, b.TunedTo, strings.Join(b.Not, ", "))
	}
}

func (t *table) goals(r *Report) {
	if len(r.Goals) == 0 {
		return
	}
	t.line("\nGoals\n\tfigure\tgoal\tcounted\twhat")
	for _, g := range r.Goals {
		met, side := "missed", "at most"
		if g.Met {
			met = "met"
		}
		if g.AtLeast {
			side = "at least"
		}
		what := g.What
		if g.On != "" {
			what += ", " + g.On
		}
		t.line("%s\t%s %s\t%s %g %s\t%.0f\t%s", met, g.Figure, g.Unit, side, g.Limit, g.Unit, g.Of, what)
	}
}

// String writes the median and the 90 % point.
func (d Delay) String() string { return fmt.Sprintf("%s, %s", d.Median, d.P90) }

// String writes a number shortly, or a dash.
func (n Number) String() string {
	v := float64(n)
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return "-"
	case math.Abs(v) >= 100:
		return fmt.Sprintf("%.0f", v)
	case math.Abs(v) >= 10:
		return fmt.Sprintf("%.1f", v)
	}
	return fmt.Sprintf("%.2f", v)
}
