package main

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bridlewatch/collector/modbus"
	"bridlewatch/config"
)

func newPlan() *cobra.Command {
	var file, output string
	c := &cobra.Command{
		Use:   "plan [SOURCE...]",
		Short: "Show the Modbus requests of one scan and the time they take on the line",
		Long: `plan touches no device. It prints which registers are read together, how long
that occupies the line, and how that compares with the fewest requests and the
least time any plan could have within the same limits.`,
		RunE: func(c *cobra.Command, names []string) error {
			cfg, err := config.Load(config.LoadOptions{File: file, WithoutSecrets: true})
			if err != nil {
				return err
			}
			plans, err := plansOf(cfg, names)
			if err != nil {
				return err
			}
			if output == "json" {
				return json.NewEncoder(c.OutOrStdout()).Encode(plans)
			}
			for _, p := range plans {
				if _, err := p.WriteTo(c.OutOrStdout()); err != nil {
					return err
				}
				every := intervalOf(cfg, p.Endpoint)
				fmt.Fprintf(c.OutOrStdout(), "  of the interval    %.0f %% of %v\n", 100*float64(p.LineTime)/float64(every), every)
			}
			return nil
		},
	}
	c.Flags().StringVar(&file, "config", "bridlewatch.yaml", "configuration file")
	outputFlag(c.Flags(), &output, "text or json")
	return c
}

// intervalOf is the poll interval of a source.
func intervalOf(cfg *config.Config, source string) time.Duration {
	i := slices.IndexFunc(cfg.Sources, func(s config.Source) bool { return s.Name == source })
	return cfg.Sources[i].Every
}

// plansOf plans the named Modbus sources; without names all of them.
func plansOf(cfg *config.Config, names []string) ([]modbus.Plan, error) {
	wanted := map[string]bool{}
	for _, n := range names {
		wanted[n] = true
	}
	var plans []modbus.Plan
	for i := range cfg.Sources {
		src := &cfg.Sources[i]
		if !src.Protocol.Modbus() || len(names) > 0 && !wanted[src.Name] {
			continue
		}
		delete(wanted, src.Name)
		p, err := modbus.NewPlan(endpointOf(src), fieldsOf(cfg.SignalsOf(src.Name)))
		if err != nil {
			return nil, err
		}
		plans = append(plans, p)
	}
	for n := range wanted {
		var have []string
		for i := range cfg.Sources {
			if cfg.Sources[i].Protocol.Modbus() {
				have = append(have, cfg.Sources[i].Name)
			}
		}
		return nil, withCode(exitUsage, fmt.Errorf("no modbus source %q in the configuration; it has %s", n, cmp.Or(strings.Join(have, ", "), "none")))
	}
	return plans, nil
}
