package main

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"

	"github.com/spf13/cobra"

	"bridlewatch/collector/signal"
	"bridlewatch/compare/fit"
	"bridlewatch/compare/gauge"
	"bridlewatch/config"
)

// loadGauge loads a configuration and finds one of its gauges.
func loadGauge(file, tag string) (*config.Gauge, error) {
	cfg, err := config.Load(config.LoadOptions{File: file, WithoutSecrets: true})
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(cfg.Gauges, func(g config.Gauge) bool { return g.Sheet.Tag == tag })
	if i < 0 {
		return nil, withCode(exitUsage, fmt.Errorf("no gauge %s in %s", tag, file))
	}
	return &cfg.Gauges[i], nil
}

// texter is a report that people can read.
type texter interface{ Text() string }

// printReport writes a report as text or JSON.
func printReport(c *cobra.Command, output string, report texter) error {
	if output == "json" {
		enc := json.NewEncoder(c.OutOrStdout())
		enc.SetIndent("", "  ")
		return enc.Encode(report)
	}
	_, err := fmt.Fprint(c.OutOrStdout(), report.Text())
	return err
}

func newBudget() *cobra.Command {
	var file, output string
	var level float64
	var trials int
	c := &cobra.Command{
		Use:   "budget TAG",
		Short: "Print what the levels and gaps of a gauge are uncertain by, and what dominates",
		Long: `budget follows the Guide to the expression of uncertainty in measurement
(JCGM 100). Terms that float and transmitter share cancel in their gap as far as
both depend on them the same way. --trials propagates the distributions instead
(JCGM 101) and says whether the linear budget may be trusted.`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			g, err := loadGauge(file, args[0])
			if err != nil {
				return err
			}
			model, err := gauge.New(g.Sheet)
			if err != nil {
				return err
			}
			if !(level > 0 && level < 100) {
				return withCode(exitUsage, fmt.Errorf("level %g %% is not between the taps; give --level more than 0 and less than 100", level))
			}
			at, err := model.Standing(level / 100)
			if err != nil {
				return err
			}
			budgets, err := model.Budget(&at)
			if err != nil {
				return err
			}
			report := budgetReport{Budgets: budgets}
			if trials > 0 {
				if report.Trials, err = trial(model, &at, trials); err != nil {
					return err
				}
			}
			return printReport(c, output, report)
		},
	}
	c.Flags().StringVar(&file, "config", "bridlewatch.yaml", "configuration file")
	outputFlag(c.Flags(), &output, "text or json")
	c.Flags().Float64Var(&level, "level", 50, "where the level stands, in % of the centre-to-centre distance")
	c.Flags().IntVar(&trials, "trials", 0, "check the gap budgets with this many Monte Carlo trials")
	return c
}

// budgetReport is the budget with what propagating the distributions said.
type budgetReport struct {
	gauge.Budgets
	Trials []trialReport `json:"trials,omitempty"`
}

type trialReport struct {
	Pair     string `json:"pair"`
	Trusted  bool   `json:"linear_budget_trusted"`
	Sentence string `json:"sentence"`
}

// Text is the report for people.
func (r budgetReport) Text() string {
	text := r.Budgets.Text()
	for _, t := range r.Trials {
		text += t.Pair + ": " + t.Sentence + "\n"
	}
	return text
}

// trial checks every gap budget that can be formed by propagating the
// distributions. The seed is fixed: the same question has the same answer.
func trial(model *gauge.Model, at *gauge.Snapshot, trials int) ([]trialReport, error) {
	var m gauge.Measurement
	model.Measure(at, &m)
	var out []trialReport
	for p := range gauge.Pairs {
		if !m.Gaps[p].OK {
			continue
		}
		check, err := model.CheckBudget(at, p, trials, rand.New(rand.NewPCG(1, 2)))
		if err != nil {
			return nil, err
		}
		out = append(out, trialReport{p.String(), check.Trusted, check.Sentence})
	}
	return out, nil
}

func newFit() *cobra.Command {
	var file, output string
	c := &cobra.Command{
		Use:   "fit TAG",
		Short: "Check a data sheet before a gauge is ordered or after a change of service",
		Long: `fit says whether the float suits the density range, how far the reading moves
over it, how much buoyancy is in reserve, and what the smallest gap is that means
something. Pressure figures are plausibility bounds of bare pipe and shell: the
manufacturer's rating and the code's calculation decide.`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			g, err := loadGauge(file, args[0])
			if err != nil {
				return err
			}
			return printReport(c, output, fit.Check(g.Sheet, rangesOf(g)...))
		},
	}
	c.Flags().StringVar(&file, "config", "bridlewatch.yaml", "configuration file")
	outputFlag(c.Flags(), &output, "text or json")
	return c
}

// rangesOf are the ends of the signals that have ends.
func rangesOf(g *config.Gauge) []fit.Range {
	var ranges []fit.Range
	for i := range g.Signals {
		switch s := &g.Signals[i]; s.Spec.Kind {
		case signal.Current, signal.Voltage, signal.Counts:
			ranges = append(ranges, fit.Range{Tag: s.Tag, Low: s.Spec.Range[0], High: s.Spec.Range[1]})
		}
	}
	return ranges
}
