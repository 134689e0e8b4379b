package main

import (
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"bridlewatch/cmd/bridlewatch/bench"
	"bridlewatch/compare/scenario"
)

// wellRecords is how many there are of each kind where nobody said.
const wellRecords = 4

func newBench() *cobra.Command {
	o := bench.Options{Set: scenario.Tune}
	var set, output string
	var only []string
	c := &cobra.Command{
		Use:   "bench",
		Short: "Measure detection and attribution on simulated gauges",
		Long: `bench simulates gauges by forward physics, healthy and with every fault of the
library, runs the comparison over them and prints how often it cries wolf, how
fast it finds each fault, and how often it names the right instrument, beside
plain deviation alarms and control charts on the same data. The seeds are three
disjoint sets: tune, validate and sealed. With --only wells it does the same on
records of stilling wells as historians keep them, by the settings of the example.`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			o.Set = scenario.Set(set)
			if len(only) > 0 {
				o.Only = func(name string) bool {
					for _, part := range only {
						if strings.Contains(name, part) {
							return true
						}
					}
					return false
				}
				if o.Wells == 0 && slices.ContainsFunc(only, func(part string) bool { return strings.HasPrefix(part, "wells") }) {
					o.Wells = wellRecords
				}
			}
			o.Progress = benchProgress()
			report, err := bench.Run(c.Context(), o)
			if err != nil {
				return err
			}
			if output == "json" {
				enc := json.NewEncoder(c.OutOrStdout())
				enc.SetIndent("", "  ")
				return enc.Encode(report)
			}
			return report.WriteTable(c.OutOrStdout())
		},
	}
	f := c.Flags()
	f.StringVar(&set, "seeds", string(scenario.Tune), "tune, validate or sealed")
	f.Float64Var(&o.Years, "years", 10, "gauge-years for each class of healthy service; negative: none")
	f.Float64Var(&o.Benign, "benign", 0, "gauge-years of benign service; 0: as --years")
	f.IntVar(&o.Repeats, "repeats", 10, "trials for each fault and size; negative: none")
	f.IntVar(&o.Wells, "wells", 0, "records for each kind of stilling well and each of its faults; 0: none, 4 where --only names wells")
	f.DurationVar(&o.Every, "every", time.Minute, "time between two scans")
	f.IntVar(&o.Workers, "workers", 0, "processors used; 0: all")
	f.StringSliceVar(&only, "only", nil, "only cells whose name contains one of these")
	outputFlag(f, &output, "text or json")
	return c
}

// benchProgress draws progress on a terminal and is nil elsewhere.
func benchProgress() func(done, total int) {
	if !term.IsTerminal(int(os.Stderr.Fd())) {
		return nil
	}
	began := time.Now()
	return func(done, total int) {
		fmt.Fprintf(os.Stderr, "\r%d of %d trials, %s ", done, total, time.Since(began).Round(time.Second))
		if done == total {
			fmt.Fprintln(os.Stderr)
		}
	}
}
