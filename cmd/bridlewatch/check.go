package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/spf13/cobra"

	"bridlewatch/cmd/bridlewatch/rehearsal"
	"bridlewatch/collector/modbus"
	"bridlewatch/compare"
	"bridlewatch/compare/fit"
	"bridlewatch/config"
)

func newCheck() *cobra.Command {
	var file string
	var show, withoutSecrets bool
	c := &cobra.Command{
		Use:   "check [FILE]",
		Short: "Check a configuration and print every error with its place",
		Args:  cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 1 {
				file = args[0]
			}
			cfg, err := config.Load(config.LoadOptions{File: file, WithoutSecrets: withoutSecrets})
			if err != nil {
				return err
			}
			for i := range cfg.Gauges {
				if _, err := compare.New(cfg.Gauges[i].Sheet); err != nil {
					return withCode(exitUsage, fmt.Errorf("%s: %w", cfg.Gauges[i].Place, err))
				}
			}
			if err := conflicts(cfg); err != nil {
				return withCode(exitUsage, err)
			}
			if err := adviseLines(cfg, c.ErrOrStderr()); err != nil {
				return withCode(exitUsage, err)
			}
			adviseSheets(cfg, c.ErrOrStderr())
			adviseFiles(cfg, c.ErrOrStderr())
			adviseCertificates(cfg, time.Now(), c.ErrOrStderr())
			for _, a := range cfg.Advice {
				fmt.Fprintln(c.ErrOrStderr(), "advice:", a)
			}
			if len(cfg.Gauges) == 0 {
				fmt.Fprintf(c.ErrOrStderr(), "advice: %s: no gauge is configured, so nothing would be watched; `bridlewatch reference` shows how one is written\n", file)
			}
			if show {
				return config.Print(cfg, c.OutOrStdout())
			}
			signals := 0
			for _, g := range cfg.Gauges {
				signals += len(g.Signals)
			}
			fmt.Fprintf(c.OutOrStdout(), "%s: %s, %s, %s, no errors (version %s)\n", file,
				count(len(cfg.Gauges), "gauge", "gauges"), count(signals, "signal", "signals"), count(len(cfg.Sources), "source", "sources"), cfg.Version)
			return nil
		},
	}
	c.Flags().StringVar(&file, "config", "bridlewatch.yaml", "configuration file")
	c.Flags().BoolVar(&show, "show", false, "print the effective configuration; secrets appear as references only")
	c.Flags().BoolVar(&withoutSecrets, "without-secrets", false, "check references of secrets but do not read them")
	return c
}

// crowded is the share of the poll interval a line may be busy without advice.
const crowded = 0.8

// adviseLines says which Modbus sources leave their line too little time.
func adviseLines(cfg *config.Config, w io.Writer) error {
	for i := range cfg.Sources {
		src := &cfg.Sources[i]
		if !src.Protocol.Modbus() || len(cfg.SignalsOf(src.Name)) == 0 {
			continue
		}
		p, err := modbus.NewPlan(endpointOf(src), fieldsOf(cfg.SignalsOf(src.Name)))
		if err != nil {
			return err
		}
		if share := float64(p.LineTime) / float64(src.Every); share > crowded {
			fmt.Fprintf(w, "advice: %s: source %s: the requests of a poll take %v on the line, %.0f %% of the interval of %v; see `bridlewatch plan %s`\n",
				src.Place, src.Name, p.LineTime.Round(time.Millisecond), 100*share, src.Every, src.Name)
		}
	}
	return nil
}

// adviseSheets says which data sheets have a problem, or a liquid they
// contradict; fit says the rest.
func adviseSheets(cfg *config.Config, w io.Writer) {
	for i := range cfg.Gauges {
		g := &cfg.Gauges[i]
		for _, a := range fit.Check(g.Sheet, rangesOf(g)...).Advice {
			if a.Weight == fit.Problem || a.Weight == fit.Warning && a.Topic == fit.FluidTopic {
				fmt.Fprintf(w, "advice: %s: %s See `bridlewatch fit %s`.\n", g.Place, a.Sentence, g.Sheet.Tag)
			}
		}
	}
}

// adviseFiles says which certificates and keys cannot be read here. That is no
// error: a configuration may be checked on another machine.
func adviseFiles(cfg *config.Config, w io.Writer) {
	absent := func(key, file string) {
		if file == "" {
			return
		}
		f, err := os.Open(file)
		if err != nil {
			fmt.Fprintf(w, "advice: %s: %v: on this machine the service would not start or not connect\n", key, err)
			return
		}
		f.Close()
	}
	absent("service.tls_certificate", cfg.Service.TLSCert)
	absent("service.tls_key", cfg.Service.TLSKey)
	for i := range cfg.Sources {
		s := &cfg.Sources[i]
		at := "sources[" + s.Name + "]."
		absent(at+"ca_file", s.CAFile)
		absent(at+"user_certificate", s.CertFile)
		absent(at+"user_key", s.KeyFile)
	}
	for i := range cfg.Notify {
		r := &cfg.Notify[i]
		at := "notify[" + r.Name + "]."
		absent(at+"ca_file", r.CAFile)
		absent(at+"certificate", r.CertFile)
		absent(at+"key", r.KeyFile)
	}
	if cfg.Influx != nil {
		absent("influx.ca_file", cfg.Influx.CAFile)
	}
	if cfg.Pair != nil {
		absent("pair.credentials", cfg.Pair.Credentials)
	}
}

// conflicts finds sources that cannot be read side by side.
func conflicts(cfg *config.Config) error {
	var endpoints []modbus.Endpoint
	for i := range cfg.Sources {
		if cfg.Sources[i].Protocol.Modbus() {
			endpoints = append(endpoints, endpointOf(&cfg.Sources[i]))
		}
	}
	return errors.Join(modbus.Conflicts(endpoints)...)
}

func newSchema() *cobra.Command {
	return &cobra.Command{
		Use:   "schema",
		Short: "Print the JSON Schema of the configuration, for editors",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			_, err := c.OutOrStdout().Write(config.Schema())
			return err
		},
	}
}

func newReference() *cobra.Command {
	var plant bool
	c := &cobra.Command{
		Use:   "reference",
		Short: "Print the commented reference configuration",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			text := config.Reference()
			if plant {
				text = rehearsal.PlantYAML()
			}
			_, err := c.OutOrStdout().Write(text)
			return err
		},
	}
	c.Flags().BoolVar(&plant, "plant", false, "print the configuration of the rehearsal plant instead: fourteen gauges of different make-up")
	return c
}
