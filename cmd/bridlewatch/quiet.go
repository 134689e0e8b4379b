package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bridlewatch/dashboards/plant"
)

func newQuiet() *cobra.Command {
	c := &cobra.Command{
		Use:   "quiet",
		Short: "List, add and end quiet windows of a running service",
		Long: `quiet keeps the alerts of gauges, areas or causes from being sent for a stated
time and reason, for example during a turnaround. They are still found and
written down, and what is still there at the end is sent then, with who kept it
quiet and why.`,
		Args: cobra.NoArgs,
	}
	c.AddCommand(newQuietList(), newQuietAdd(), newQuietEnd())
	return c
}

func newQuietList() *cobra.Command {
	var a ask
	c := &cobra.Command{Use: "list", Short: "Print the quiet windows and what each keeps quiet now", Args: cobra.NoArgs, RunE: func(c *cobra.Command, _ []string) error {
		list, err := get[[]plant.Window](c.Context(), &a, "/quiet")
		if err != nil {
			return err
		}
		return answer(c, &a, list, "There is no quiet window.", printWindow)
	}}
	a.flags(c, false)
	return c
}

func printWindow(w io.Writer, q plant.Window) {
	state := "later"
	switch {
	case q.Active:
		state = "active"
	case !q.Ended.IsZero():
		state = "ended"
	}
	fmt.Fprintf(w, "%-20s %-6s %s to %s by %s: %s\n    about %s\n", q.ID, state, q.From.Format(minutes), q.Until.Format(minutes), q.By, q.Reason, q.Scope)
	if q.UntilClear {
		fmt.Fprintln(w, "    ends early once everything it kept quiet is over")
	}
	if len(q.Hides) > 0 {
		fmt.Fprintf(w, "    keeps quiet now: %s\n", strings.Join(q.Hides, "; "))
	}
}

func newQuietAdd() *cobra.Command {
	var p person
	var span end
	var name, from string
	var gauges, areas, causes []string
	c := &cobra.Command{Use: "add", Short: "Keep gauges, areas or causes quiet until an end, with a reason", Args: cobra.NoArgs, RunE: func(c *cobra.Command, _ []string) error {
		body := map[string]any{"name": name, "gauges": gauges, "areas": areas, "causes": causes, "until_clear": span.clear, "reason": p.why, "by": p.by}
		begin, err := plantTime(c.Context(), &p.ask)
		if err != nil {
			return err
		}
		if from != "" {
			t, err := time.Parse(time.RFC3339, from)
			if err != nil {
				return withCode(exitUsage, fmt.Errorf("--from %q: want a time such as 2026-03-02T18:00:00+01:00", from))
			}
			begin, body["from"] = t, t
		}
		until, err := span.at(begin)
		switch {
		case err != nil:
			return withCode(exitUsage, err)
		case until.IsZero():
			return withCode(exitUsage, fmt.Errorf("a quiet window needs an end even with --until-clear: give --for or --until"))
		}
		body["until"] = until
		w, err := post[plant.Window](c.Context(), &p.ask, "/quiet/add", body)
		if err != nil {
			return err
		}
		return answer(c, &p.ask, []plant.Window{w}, "", printWindow)
	}}
	p.flags(c, "reason", true)
	span.flags(c, "end early once everything it kept quiet is over")
	c.Flags().StringVar(&name, "name", "", "name of the window; numbered unless given")
	c.Flags().StringVar(&from, "from", "", "begin; now unless given")
	c.Flags().StringArrayVar(&gauges, "gauge", nil, "tag of a gauge, repeatable")
	c.Flags().StringArrayVar(&areas, "area", nil, "an area, repeatable")
	c.Flags().StringArrayVar(&causes, "cause", nil, "a cause such as float-stuck, repeatable")
	return c
}

func newQuietEnd() *cobra.Command {
	var p person
	c := &cobra.Command{Use: "end WINDOW", Short: "End a quiet window before its time", Args: cobra.ExactArgs(1), RunE: func(c *cobra.Command, args []string) error {
		list, err := post[[]plant.Window](c.Context(), &p.ask, "/quiet/end", map[string]string{"name": args[0], "by": p.by})
		if err != nil {
			return err
		}
		return answer(c, &p.ask, list, "There is no quiet window.", printWindow)
	}}
	p.ask.flags(c, false)
	c.Flags().StringVar(&p.by, "by", login(), "who ends it; of no effect where people log in")
	return c
}
