package main

import (
	"os"
	"time"

	"github.com/spf13/cobra"

	"bridlewatch/cmd/bridlewatch/load"
)

// newLoad is for those who work on bridlewatch: how a large plant fares.
func newLoad() *cobra.Command {
	o := load.Options{Every: 30 * time.Second}
	c := &cobra.Command{
		Use:    "load",
		Short:  "Measure the service with a large simulated plant and open pages",
		Hidden: true,
		Args:   cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			var err error
			if o.Program, err = os.Executable(); err != nil {
				return err
			}
			dir, remove, err := dataDir(o.Dir)
			if err != nil {
				return err
			}
			defer remove()
			o.Dir, o.Out = dir, c.OutOrStdout()
			return load.Run(c.Context(), o)
		},
	}
	f := c.Flags()
	f.IntVar(&o.Gauges, "gauges", 1000, "gauges of six signals each, read every second")
	f.IntVar(&o.Readers, "readers", 10, "people with a page open")
	f.DurationVar(&o.For, "for", 20*time.Minute, "how long to measure")
	f.StringVar(&o.Dir, "dir", "", "directory for configuration, history and logs; empty: a temporary one")
	return c
}
