package main

import (
	"encoding/json"
	"fmt"
	"io"
	"net/url"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"bridlewatch/compare"
	"bridlewatch/dashboards/api"
	"bridlewatch/dashboards/plant"
)

func newVisits() *cobra.Command {
	var a ask
	var failOn []string
	var all bool
	c := &cobra.Command{
		Use:   "visits",
		Short: "Print which gauges need a visit, worst first, and why",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			gauges, err := get[[]api.Summary](c.Context(), &a, "/gauges")
			if err != nil {
				return err
			}
			slices.SortStableFunc(gauges, func(x, y api.Summary) int {
				return plant.Worse(compare.Category(x.Category), compare.Category(y.Category))
			})
			if err := printVisits(c.OutOrStdout(), &a, gauges, all); err != nil {
				return err
			}
			for _, g := range gauges {
				if slices.Contains(failOn, g.Category) {
					return withCode(exitFinding, fmt.Errorf("%s: %s", g.Tag, g.Category))
				}
			}
			return nil
		},
	}
	a.flags(c, false)
	c.Flags().StringSliceVar(&failOn, "fail-on", nil, `categories that end with exit code 3, for example "failure,out of specification"`)
	c.Flags().BoolVar(&all, "all", false, "list the gauges that are all right as well")
	return c
}

func printVisits(w io.Writer, a *ask, gauges []api.Summary, all bool) error {
	if a.output == "json" {
		return json.NewEncoder(w).Encode(gauges)
	}
	good := 0
	for _, g := range gauges {
		if g.Category == string(compare.GoodCategory) {
			good++
			if !all {
				continue
			}
		}
		fmt.Fprintf(w, "%-10s %-22s %s\n", g.Tag, g.Category, g.Headline)
		if g.Next != "" {
			fmt.Fprintf(w, "%-33s Next: %s\n", "", strings.TrimPrefix(g.Next, "Next: "))
		}
	}
	if good == len(gauges) {
		fmt.Fprintln(w, "No gauge needs a visit.")
	}
	_, err := fmt.Fprintf(w, "%d of %d gauges are all right.\n", good, len(gauges))
	return err
}

func newReadings() *cobra.Command {
	var a ask
	var draw, ascii bool
	c := &cobra.Command{
		Use:   "readings TAG",
		Short: "Print what every instrument of a gauge says now",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if draw {
				d, err := get[api.Drawing](c.Context(), &a, fmt.Sprintf("/gauges/%s/drawing?ascii=%t", url.PathEscape(args[0]), ascii))
				if err != nil {
					return err
				}
				_, err = fmt.Fprint(c.OutOrStdout(), d.Text)
				return err
			}
			g, err := get[api.Gauge](c.Context(), &a, "/gauges/"+url.PathEscape(args[0]))
			if err != nil {
				return err
			}
			if a.output == "json" {
				return json.NewEncoder(c.OutOrStdout()).Encode(g)
			}
			printGauge(c.OutOrStdout(), g)
			return nil
		},
	}
	a.flags(c, false)
	c.Flags().BoolVar(&draw, "draw", false, "draw the chamber to scale")
	c.Flags().BoolVar(&ascii, "ascii", false, "draw with plain characters")
	return c
}

// levelNames say how a level was found, by its name in the interface.
var levelNames = map[string]string{
	"float": "by the float", "transmitter": "by the transmitter", "second": "by the second one",
	"vessel": "by the vessel's own", "in vessel": "in the vessel",
}

// levelRoles are the instruments that make a level.
var levelRoles = map[string]plant.Role{
	"float": plant.Float, "transmitter": plant.Transmitter, "second": plant.Second, "vessel": plant.Vessel,
}

// fitted reports whether the gauge has the instrument a level is found by.
func fitted(g api.Gauge, of string) bool {
	return slices.ContainsFunc(g.Readings, func(r api.Reading) bool { return r.Role == string(levelRoles[of]) })
}

// printBelieved says which level in the vessel can be believed while the one above
// is in doubt, and why.
func printBelieved(w io.Writer, b *api.Believed) {
	switch {
	case b.Tag == "":
		fmt.Fprintf(w, "  level in the vessel: none can be believed: %s; %s\n", b.Why, strings.Join(b.Without, ", "))
		return
	case b.Bound == "within":
		fmt.Fprintf(w, "  believe in the vessel        %8.1f mm ± %.1f mm (k = 2)  from %s: %s\n", b.M*1e3, 2*b.U*1e3, b.By, b.Why)
	default:
		fmt.Fprintf(w, "  believe in the vessel        %s  from %s: %s\n", b.Bound, b.By, b.Why)
	}
	if len(b.Apart) > 0 {
		fmt.Fprintf(w, "  %s, not in doubt either, reads otherwise just now\n", strings.Join(b.Apart, " and "))
	}
}

func printGauge(w io.Writer, g api.Gauge) {
	fmt.Fprintf(w, "%s  %s\n%s: %s\n", g.Tag, g.Service, g.Category, g.Headline)
	for _, l := range g.Levels {
		of := levelNames[l.Of]
		switch {
		case l.Bound == "within":
			basis := l.Basis
			if l.Doubt {
				basis += ", in doubt: an alert is open"
			}
			fmt.Fprintf(w, "  level %-22s %8.1f mm ± %.1f mm (k = 2)  %s\n", of, l.M*1e3, 2*l.U*1e3, basis)
		case fitted(g, l.Of):
			fmt.Fprintf(w, "  level %-22s %s\n", of, l.Bound)
		}
	}
	if g.Believed != nil {
		printBelieved(w, g.Believed)
	}
	for _, p := range g.Gaps {
		if p.OK {
			fmt.Fprintf(w, "  %-32s %+8.1f mm, allowed ± %.1f mm: %s\n", p.Pair, p.M*1e3, p.Budget*1e3, p.Verdict)
		}
	}
	for _, p := range g.Points {
		fmt.Fprintf(w, "  %-12s at %7.1f mm  %-7s %s %s\n", p.Tag, p.Elevation*1e3, p.State, p.Verdict, strings.Join(p.Reasons, "; "))
	}
	for _, r := range g.Readings {
		raw := strings.TrimSpace(fmt.Sprintf("%.6g %s", r.Raw, r.RawUnit))
		quality := strings.TrimSpace(r.Quality + " " + r.Reason)
		fmt.Fprintf(w, "  %-12s %-20s raw %s, %s, %.0f s old\n", r.Tag, r.Role, raw, quality, max(0, r.Age))
	}
}
