package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"bridlewatch/cmd/bridlewatch/verdicts"
	"bridlewatch/config"
)

func newRegisters() *cobra.Command {
	var file string
	c := &cobra.Command{
		Use:   "registers",
		Short: "Print the registers a control system may read the verdicts from",
		Long: `The server is off unless service.verdict_listen names an address. It answers
function code 4 and refuses everything else: nothing can be written. What is read
is information for people; no trip or interlock may rest on it.`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			cfg, err := config.Load(config.LoadOptions{File: file, WithoutSecrets: true})
			if err != nil {
				return err
			}
			w := c.OutOrStdout()
			fmt.Fprintf(w, "input registers, unit id %d, counted from zero, float32 ABCD, map version %d\n", verdicts.UnitID, verdicts.Version)
			fmt.Fprintf(w, "%5d  version of the map\n%5d  heartbeat\n%5d  number of gauges\n", 0, 1, 2)
			for n, g := range cfg.Gauges {
				for _, f := range verdicts.Fields() {
					fmt.Fprintf(w, "%5d  %s: %s\n", verdicts.Address(n)+f.Offset, g.Sheet.Tag, f.Meaning)
				}
			}
			return nil
		},
	}
	c.Flags().StringVar(&file, "config", "bridlewatch.yaml", "configuration file")
	return c
}
