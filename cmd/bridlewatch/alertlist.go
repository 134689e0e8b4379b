package main

import (
	"encoding/json"
	"fmt"
	"io"
	"net/url"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bridlewatch/compare/alert"
	"bridlewatch/compare/cause"
	"bridlewatch/dashboards/api"
	"bridlewatch/dashboards/plant"
)

func newAlertList() *cobra.Command {
	var a ask
	var all, quiet bool
	c := &cobra.Command{Use: "list", Short: "Print what somebody must look at, most urgent first", Args: cobra.NoArgs, RunE: func(c *cobra.Command, _ []string) (err error) {
		var list []plant.Alert
		switch {
		case all:
			list, err = everyAlert(c.Context(), &a)
		case quiet:
			list, err = get[[]plant.Alert](c.Context(), &a, "/alerts/quiet")
		default:
			list, err = get[[]plant.Alert](c.Context(), &a, "/alerts")
		}
		if err != nil {
			return err
		}
		none := "No alert is open."
		if quiet {
			none = "Nothing is kept quiet."
		}
		return answer(c, &a, list, none, printAlert)
	}}
	a.flags(c, false)
	c.Flags().BoolVar(&quiet, "quiet", false, "list what is kept quiet instead")
	c.Flags().BoolVar(&all, "all", false, "list both")
	return c
}

func printAlert(w io.Writer, a plant.Alert) {
	fmt.Fprintf(w, "%-10s %-26s %-22s raised %s", a.Gauge, a.State, a.Cause, a.Raised.Format(minutes))
	if a.Raises > 1 {
		fmt.Fprintf(w, ", %d times", a.Raises)
	}
	fmt.Fprintf(w, "  [%s]\n    %s\n", a.ID, a.Sentence)
	if a.Next != "" {
		fmt.Fprintf(w, "    Next: %s\n", a.Next)
	}
	if a.By != "" {
		fmt.Fprintf(w, "    Acknowledged %s by %s\n", a.Acknowledged.Format(minutes), a.By)
	}
	if a.Assigned != "" {
		fmt.Fprintf(w, "    With %s\n", a.Assigned)
	}
	if a.Latched && !a.Returned.IsZero() {
		fmt.Fprintf(w, "    Its signs are over since %s; it waits for a visit\n", a.Returned.Format(minutes))
	}
	if a.Quiet != "" {
		fmt.Fprintf(w, "    Quiet: %s%s%s: %s\n", a.Quiet, untilWords(a.Until, a.UntilClear), byWords(a.QuietBy), a.Why)
	}
}

// minutes is how times are printed for people.
const minutes = "2006-01-02 15:04"

func untilWords(t time.Time, clear bool) string {
	switch {
	case t.IsZero():
		return ""
	case clear:
		return " until clear, at the latest " + t.Format(minutes)
	}
	return " until " + t.Format(minutes)
}

func byWords(name string) string {
	if name == "" {
		return ""
	}
	return " by " + name
}

func newAlertShow() *cobra.Command {
	var a ask
	c := &cobra.Command{Use: "show ALERT", Short: "Print one alert with its comments and its part of the journal", Args: cobra.ExactArgs(1), RunE: func(c *cobra.Command, args []string) error {
		id, err := alertNamed(c.Context(), &a, args[0])
		if err != nil {
			return err
		}
		x, err := get[api.AlertInFull](c.Context(), &a, "/alert?id="+url.QueryEscape(id))
		if err != nil {
			return err
		}
		if a.output == "json" {
			return json.NewEncoder(c.OutOrStdout()).Encode(x)
		}
		printAlert(c.OutOrStdout(), x.Alert)
		for _, k := range x.Comments {
			fmt.Fprintf(c.OutOrStdout(), "    %s  %s: %s\n", k.Time.Format(minutes), k.By, k.Text)
		}
		return nil
	}}
	a.flags(c, false)
	return c
}

func newAlertJournal() *cobra.Command {
	var a ask
	var days int
	c := &cobra.Command{Use: "journal", Short: "Print what happened to alerts, newest first", Args: cobra.NoArgs, RunE: func(c *cobra.Command, _ []string) error {
		now, err := plantTime(c.Context(), &a)
		if err != nil {
			return err
		}
		from := now.AddDate(0, 0, -days)
		lines, err := get[[]api.JournalLine](c.Context(), &a, "/alerts/journal?limit=10000&from="+url.QueryEscape(from.Format(time.RFC3339)))
		if err != nil {
			return err
		}
		return answer(c, &a, lines, "Nothing happened.", func(w io.Writer, l api.JournalLine) {
			fmt.Fprintf(w, "%s  %-10s %-24s%s  %s\n", l.Time.Format(minutes), l.Gauge, l.What, byWords(l.By), l.Sentence)
		})
	}}
	a.flags(c, false)
	c.Flags().IntVar(&days, "days", 30, "how far back")
	return c
}

func newAlertLoad() *cobra.Command {
	var a ask
	var days int
	c := &cobra.Command{Use: "load", Short: "Print how much the alerts ask of people", Args: cobra.NoArgs, RunE: func(c *cobra.Command, _ []string) error {
		l, err := get[alert.Load](c.Context(), &a, fmt.Sprintf("/alerts/load?days=%d", days))
		if err != nil {
			return err
		}
		if a.output == "json" {
			return json.NewEncoder(c.OutOrStdout()).Encode(l)
		}
		printLoad(c.OutOrStdout(), &l)
		return nil
	}}
	a.flags(c, false)
	c.Flags().IntVar(&days, "days", 14, "how far back")
	return c
}

func printLoad(w io.Writer, l *alert.Load) {
	fmt.Fprintf(w, "Raised per day            %.1f\nPer gauge and year        %.2f (we ask of ourselves at most %.1f)\n", l.PerDay, l.PerGaugeY, l.Goal)
	fmt.Fprintf(w, "Open                      %d, %d of them not acknowledged\nOpen for more than a day  %s\n", l.Open, l.Unseen, numbered(l.Stale))
	fmt.Fprintf(w, "Shelved now               %s\nRaised again and again    %s\n", numbered(l.Shelved), numbered(l.Chattering))
	if l.AckMedian > 0 {
		fmt.Fprintf(w, "Acknowledged after        %s (median)\n", (time.Duration(l.AckMedian) * time.Second).Round(time.Minute))
	}
	for _, x := range l.Worst {
		name := "cause open"
		if c := cause.Cause(x.Cause); c != cause.Unknown {
			name = cause.Phrase(c)
		}
		fmt.Fprintf(w, "%4d  %-10s %s\n", x.Raised, x.Gauge, name)
	}
}

func numbered(ids []string) string {
	if len(ids) == 0 {
		return "none"
	}
	return fmt.Sprintf("%d: %s", len(ids), strings.Join(ids, ", "))
}

func newAlertRoutes() *cobra.Command {
	var a ask
	c := &cobra.Command{Use: "routes", Short: "Print how the ways out are", Args: cobra.NoArgs, RunE: func(c *cobra.Command, _ []string) error {
		list, err := get[[]plant.RouteHealth](c.Context(), &a, "/routes")
		if err != nil {
			return err
		}
		return answer(c, &a, list, "No route is configured: alerts are on the pages only.", printRoute)
	}}
	a.flags(c, false)
	return c
}

func printRoute(w io.Writer, r plant.RouteHealth) {
	last := "never"
	if !r.Delivered.IsZero() {
		last = r.Delivered.Format(minutes)
	}
	fmt.Fprintf(w, "%-20s %-13s %s  last delivery %s, %d waiting\n", r.Name, r.Kind, r.To, last, r.Waiting)
	if r.Error != "" {
		fmt.Fprintf(w, "    failed %s: %s\n", r.Failed.Format(minutes), r.Error)
	}
}

func newAlertTest() *cobra.Command {
	var p person
	c := &cobra.Command{Use: "test ROUTE", Short: "Send a trial message over a route", Args: cobra.ExactArgs(1), RunE: func(c *cobra.Command, args []string) error {
		list, err := post[[]plant.RouteHealth](c.Context(), &p.ask, "/routes/trial", map[string]string{"route": args[0], "by": p.by})
		if err != nil {
			return err
		}
		for _, r := range list {
			if r.Name == args[0] {
				return answer(c, &p.ask, []plant.RouteHealth{r}, "", printRoute)
			}
		}
		return nil
	}}
	p.ask.flags(c, false)
	c.Flags().StringVar(&p.by, "by", login(), "who asks; of no effect where people log in")
	return c
}
