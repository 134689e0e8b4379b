package main

import (
	"fmt"
	"io"
	"net/url"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/compare/cause"
	"bridlewatch/dashboards/api"
	"bridlewatch/dashboards/units"
)

func newExplain() *cobra.Command {
	var a ask
	c := &cobra.Command{
		Use:   "explain TAG",
		Short: "Print the evidence for and against each cause",
		Long: `explain prints what is open on a gauge, how likely each cause is, and below it
the ledger of evidence, oldest first. A line of evidence carries its weight in
nats: +3 makes a cause twenty times likelier than those it speaks against.`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			tag := args[0]
			rows, err := question(c.Context(), &a, tag, "/evidence", (*watch.Watch).Explain)
			if err != nil {
				return err
			}
			if a.output != "json" && a.data == "" {
				g, err := get[api.Gauge](c.Context(), &a, "/gauges/"+url.PathEscape(tag))
				if err != nil {
					return err
				}
				for _, f := range cause.Distinct(g.Findings) {
					printFinding(c.OutOrStdout(), f)
				}
			}
			return answer(c, &a, rows, "No evidence: nothing on "+tag+" has been out of the ordinary.", printEvidence)
		},
	}
	a.flags(c, true)
	return c
}

// printFinding prints what is open, why and what to do next.
func printFinding(w io.Writer, f cause.Finding) {
	fmt.Fprintf(w, "%s since %s  %s\n", f.Tier, f.Since.Format("2006-01-02 15:04"), f.Sentence)
	fmt.Fprintf(w, "    causes   %s\n", likely(f.Set))
	if f.Next != "" {
		fmt.Fprintf(w, "    next     %s\n", f.Next)
	}
	if f.WouldProve != "" {
		fmt.Fprintf(w, "    proof    %s\n", f.WouldProve)
	}
	fmt.Fprintln(w)
}

// likely lists causes with their probability, the likeliest first.
func likely(set []cause.Ranked) string {
	words := make([]string, len(set))
	for i, r := range cause.Likeliest(set) {
		words[i] = r.Name() + " " + units.Chance(r.Probability)
	}
	return strings.Join(words, ", ")
}

func printEvidence(w io.Writer, e cause.Evidence) {
	end := "15:04"
	if e.From.Format(time.DateOnly) != e.To.Format(time.DateOnly) {
		end = "2006-01-02 15:04"
	}
	fmt.Fprintf(w, "%s to %s  %+5.1f nats  %s\n", e.From.Format("2006-01-02 15:04"), e.To.Format(end), e.Nats, e.Sentence)
	if len(e.For) > 0 {
		fmt.Fprintf(w, "    for      %s\n", joinCauses(e.For))
	}
	if len(e.Against) > 0 {
		fmt.Fprintf(w, "    against  %s\n", joinCauses(e.Against))
	}
	if e.Excitation != "" {
		fmt.Fprintf(w, "    moved    %s\n", e.Excitation)
	}
}
