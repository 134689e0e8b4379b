package trials

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"text/tabwriter"
	"time"
)

// few is how many trials are told one by one.
const few = 3

// WriteText writes the report for people.
func (r *Report) WriteText(w io.Writer) error {
	out := &writer{to: w}
	out.line("Trials on %s, history from %s to %s, %d snapshots", r.Gauge, r.From.UTC().Format(time.RFC3339), r.To.UTC().Format(time.RFC3339), r.Snapshots)
	r.writeOwn(out)
	out.line("")
	out.line("Faults put in at %s.", strings.Join(r.Times, ", "))
	out.line("Sizes stand around the gap that is allowed between two level instruments, %.0f mm. Named: three days after the alert.", r.LimitMM)
	out.line("")
	r.writeTable(out)
	if len(r.Trials) <= few {
		r.writeCourse(out)
	}
	out.line("")
	for _, s := range slices.Concat(r.Sentences, r.again(), []string{""}, r.Cautions) {
		out.line("%s", s)
	}
	return out.err
}

// writeOwn says what the history raises without a fault put in.
func (r *Report) writeOwn(out *writer) {
	if len(r.Own) == 0 {
		out.line("%s.", r.OwnText())
		return
	}
	out.line("%s:", r.OwnText())
	const shown = 12
	for _, e := range r.Own[:min(len(r.Own), shown)] {
		closed := "open to the end"
		if !e.Closed.IsZero() {
			closed = "for " + Days(e.Closed.Sub(e.Alert))
		}
		out.line("  %s  %s, %s: %s", e.Alert.UTC().Format(time.RFC3339), e.Blamed, closed, e.Sentence)
	}
	if more := len(r.Own) - shown; more > 0 {
		out.line("  and %d more; --output json lists all", more)
	}
}

// OwnText says what the history raises without a fault put in, in one sentence
// without its stop.
func (r *Report) OwnText() string {
	if len(r.Own) == 0 {
		return "The history itself raises no alert"
	}
	return fmt.Sprintf("The history itself raises these alerts, %.1f a year; trials begin where it is quiet and end before the next", r.OwnPer)
}

func (r *Report) writeTable(out *writer) {
	t := tabwriter.NewWriter(out, 0, 8, 2, ' ', 0)
	fmt.Fprintln(t, "fault\tfound\twatch: median\tworst\talert: median\tworst\tright\tin the set\tnot in set\twrong")
	for i := range r.Rows {
		row := &r.Rows[i]
		fmt.Fprintf(t, "%s\t%d of %d\t%s\t%s\t%d\t%d\t%d\t%s\n", row.Fault, row.Found, row.Trials, delayText(row.Watch), delayText(row.Alert),
			row.Right, row.InSet, row.Outside, wrongText(row))
	}
	if err := t.Flush(); err != nil && out.err == nil {
		out.err = err
	}
}

func delayText(d *Delay) string {
	if d == nil {
		return "-\t-"
	}
	return Hours(d.Median) + "\t" + Hours(d.Worst)
}

func wrongText(row *Row) string {
	if row.Wrong == 0 {
		return "0"
	}
	return fmt.Sprintf("%d: %s", row.Wrong, strings.Join(slices.Sorted(maps.Keys(row.Blamed)), ", "))
}

// writeCourse tells trials one by one.
func (r *Report) writeCourse(out *writer) {
	for i := range r.Trials {
		t := &r.Trials[i]
		out.line("")
		out.line("%s from %s on, watched for %s", t.Fault, t.At.UTC().Format(time.RFC3339), Hours(t.Watched))
		for _, e := range t.Events {
			out.line("  after %-8s %-8s %-5s  %s: %s", Hours(e.After), e.What, e.Tier, e.Blamed, e.Sentence)
		}
		if len(t.Events) == 0 {
			out.line("  nothing was said")
		}
	}
}

// writer keeps the first error.
type writer struct {
	to  io.Writer
	err error
}

func (w *writer) line(format string, args ...any) {
	fmt.Fprintln(w, strings.TrimRight(fmt.Sprintf(format, args...), " "))
}

func (w *writer) Write(p []byte) (int, error) {
	if w.err != nil {
		return 0, w.err
	}
	n, err := w.to.Write(p)
	w.err = err
	return n, err
}

// again says how to run the trials alone in which another instrument was blamed.
func (r *Report) again() (all []string) {
	for i := range r.Trials {
		if t := &r.Trials[i]; t.blamesWrongly() {
			all = append(all, fmt.Sprintf("Run it again: --gauge %s --fault %s --at %s --seed %d --watch %gh", r.Gauge, t.Fault, t.At.UTC().Format(time.RFC3339), r.Seed, r.Watch))
		}
	}
	return all
}
