package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	attempts "bridlewatch/cmd/bridlewatch/trial"
	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/compare/scenario"
	"bridlewatch/config"
	"bridlewatch/dashboards/trials"
)

// trialFlags are the words of the command line.
type trialFlags struct {
	config, book, output string
	gauges, faults, at   []string
	before, watch        string
	history              pastFlags
	options              attempts.Options
}

func newTrial() *cobra.Command {
	var f trialFlags
	c := &cobra.Command{
		Use:   "trial --config FILE [--fault FAULT] [--at TIME] {DATA.csv... | --data DIR}",
		Short: "Put faults into history and see what the watch would have made of them",
		Long: `trial reads historian files as replay does, or with --data DIR what a service
kept, puts faults into the readings of one instrument and says whether each
would have been found, after how long, and whether the right instrument would
have been named. Nothing is stored and no device is asked.

What the history raises by itself is said first; faults begin where it is
quiet, and a trial ends before the next alert of its own. Without --fault every
kind is tried that the gauge's instruments can have, in sizes around the gap
that is allowed between them. --fault list prints the kinds. A fault is written
as for rehearse: KIND[/PART][=SIZE], with TAG: before it where there are several
gauges. Sizes have their unit: 15mm, 4%, 90s, 12mm/month.

The name is judged three days after the alert. A fault is put into the reading
after the conversion of its signal and made a raw value again, in the steps the
historian writes, so that the comparison converts it as it does live.

A history that hides a fault takes it for normal, and a fault put in is cleaner
than a real one.

Exit codes: 0 the trials were run, whatever they found; 1 the history cannot be
read or has no place for a trial; 2 wrong words or a configuration with errors.`,
		Example: `  bridlewatch trial --config plant.yaml --gauge LG-101 year.csv
  bridlewatch trial --config plant.yaml --gauge LG-101 --data /var/lib/bridlewatch --from 2026-03-01
  bridlewatch trial --config plant.yaml --gauge LG-101 --fault transmitter-zero/LT-101=15mm --times 20 year.csv
  bridlewatch trial --config plant.yaml --fault LG-101:float-stuck --at 2026-03-02T06:00:00Z year.csv`,
		RunE: func(c *cobra.Command, args []string) error {
			if len(f.faults) == 1 && f.faults[0] == "list" {
				return listTrialFaults(c.OutOrStdout())
			}
			if err := f.history.check(c, args); err != nil {
				return err
			}
			return tryAll(c.Context(), &f, args, c.OutOrStdout(), c.ErrOrStderr())
		},
	}
	fl := c.Flags()
	fl.StringVar(&f.config, "config", "bridlewatch.yaml", "configuration file")
	fl.StringArrayVar(&f.gauges, "gauge", nil, "tag of a gauge to try, repeatable; none: all")
	fl.StringArrayVar(&f.faults, "fault", nil, "fault as [TAG:]KIND[/PART][=SIZE], repeatable; list prints the kinds; none: every kind")
	fl.StringArrayVar(&f.at, "at", nil, "when the faults begin (RFC 3339), repeatable; none: --times, by chance")
	fl.IntVar(&f.options.Times, "times", attempts.DefaultTimes, "at how many times each fault begins")
	fl.StringVar(&f.before, "before", "14d", "history before a fault begins, in which normal is learned")
	fl.StringVar(&f.watch, "watch", "30d", "how long a fault is watched; a trial needs a third of it")
	fl.Uint64Var(&f.options.Seed, "seed", 1, "of chance; the same seed gives the same report")
	fl.IntVar(&f.options.Workers, "workers", 0, "processors used; 0: all")
	fl.StringVar(&f.book, "records", "", "data directory whose records of what people did count; none unless given")
	f.history.add(fl)
	outputFlag(fl, &f.output, "report as text, or json with every trial")
	return c
}

func listTrialFaults(w io.Writer) error {
	for _, k := range scenario.GraftKinds() {
		text := k.Text
		if k.Size != "" {
			text += " (size: " + k.Size + ")"
		}
		if _, err := fmt.Fprintf(w, "%-24s %s\n", k.Kind, text); err != nil {
			return err
		}
	}
	return nil
}

// tryAll tries one gauge after the other.
func tryAll(ctx context.Context, f *trialFlags, files []string, stdout, stderr io.Writer) error {
	cfg, err := config.Load(config.LoadOptions{File: f.config, WithoutSecrets: true})
	if err != nil {
		return err
	}
	if err := f.read(cfg); err != nil {
		return withCode(exitUsage, err)
	}
	works, err := recorded(ctx, cfg, f.config, f.book)
	if err != nil {
		return err
	}
	faults, err := f.faultsOf(cfg)
	if err != nil {
		return withCode(exitUsage, err)
	}
	from, err := f.history.opener(ctx, cfg, files)
	if err != nil {
		return err
	}
	defer from.close() // only read
	var reports []*trials.Report
	for i := range cfg.Gauges {
		tag := cfg.Gauges[i].Sheet.Tag
		if len(f.faults) > 0 && len(faults[tag]) == 0 {
			continue
		}
		o := f.options
		o.Gauge, o.Faults, o.Works = cfg.Gauges[i], faults[tag], works[tag]
		report, err := tryOne(ctx, cfg, o, from, stderr)
		if err != nil {
			return err
		}
		if reports = append(reports, report); f.output == "text" {
			if len(reports) > 1 {
				fmt.Fprintln(stdout)
			}
			if err := report.WriteText(stdout); err != nil {
				return err
			}
		}
	}
	if f.output == "json" {
		enc := json.NewEncoder(stdout)
		enc.SetIndent("", "  ")
		enc.SetEscapeHTML(false)
		return enc.Encode(map[string]any{"gauges": reports})
	}
	return nil
}

// tryOne opens the files as often as they are read, and shows how far.
func tryOne(ctx context.Context, cfg *config.Config, o attempts.Options, from *opener, stderr io.Writer) (*trials.Report, error) {
	one := *cfg
	one.Gauges = []config.Gauge{o.Gauge}
	var open []past
	bar := &progress{}
	o.Open = func() (watch.History, error) {
		h, err := from.open(&one)
		if err != nil {
			return nil, err
		}
		open = append(open, h)
		bar = newProgress(stderr, h)
		return h, nil
	}
	o.Say = func(text string) {
		bar.clear()
		fmt.Fprintln(stderr, text)
	}
	o.Step = func(watch.History) { bar.show() }
	report, err := attempts.Run(ctx, o)
	bar.clear()
	for _, h := range open {
		h.Close() // only read
	}
	var nowhere *attempts.NoPlaceError
	if errors.As(err, &nowhere) {
		return nil, fmt.Errorf("%w; give a longer history, less with --before or --watch, or a time with --at", err)
	}
	if err != nil {
		return nil, err
	}
	reportTroubles(stderr, open[0])
	return report, nil
}

// read makes options of the words and leaves the gauges asked for.
func (f *trialFlags) read(cfg *config.Config) (err error) {
	if err := onlyGauges(cfg, f.gauges); err != nil {
		return fmt.Errorf("%w; it has %s", err, strings.Join(gaugeTags(cfg), ", "))
	}
	if f.options.Times < 1 || f.options.Times > attempts.MostTimes {
		return fmt.Errorf("--times %d: want 1 to %d", f.options.Times, attempts.MostTimes)
	}
	if f.options.Workers < 0 {
		return fmt.Errorf("--workers %d: want 1 or more, or 0 for all", f.options.Workers)
	}
	for _, text := range f.at {
		at, err := time.Parse(time.RFC3339, text)
		if err != nil {
			return fmt.Errorf("--at %q is not a time such as 2026-03-02T06:00:00Z", text)
		}
		f.options.At = append(f.options.At, at)
	}
	if f.options.Before, err = span("--before", f.before); err != nil {
		return err
	}
	f.options.Watch, err = span("--watch", f.watch)
	return err
}

// span reads a length of time above zero.
func span(flag, text string) (time.Duration, error) {
	d, err := scenario.ParseSpan(text)
	if err != nil || d <= 0 {
		return 0, fmt.Errorf("%s %q is not a length of time above zero such as 12h or 14d", flag, text)
	}
	return d, nil
}

// faultsOf reads the faults, by gauge.
func (f *trialFlags) faultsOf(cfg *config.Config) (map[string][]scenario.Fault, error) {
	faults := map[string][]scenario.Fault{}
	for _, text := range f.faults {
		if !strings.Contains(text, ":") {
			if len(cfg.Gauges) != 1 {
				return nil, fmt.Errorf("fault %q names no gauge and there are several: write TAG:%s or give --gauge; the gauges are %s", text, text, strings.Join(gaugeTags(cfg), ", "))
			}
			text = cfg.Gauges[0].Sheet.Tag + ":" + text
		}
		fault, err := scenario.ParseFault(text)
		if err != nil {
			return nil, err
		}
		if fault.Delay > 0 {
			return nil, fmt.Errorf("fault %q: a delay is for rehearse; here --at says when it begins", text)
		}
		i := slices.Index(gaugeTags(cfg), fault.Gauge)
		if i < 0 {
			return nil, fmt.Errorf("fault %q: no gauge %s; the gauges are %s", text, fault.Gauge, strings.Join(gaugeTags(cfg), ", "))
		}
		if _, err := scenario.NewGraft(&cfg.Gauges[i].Sheet, fault, time.Time{}, 0); err != nil {
			return nil, err
		}
		faults[fault.Gauge] = append(faults[fault.Gauge], fault)
	}
	return faults, nil
}

func gaugeTags(cfg *config.Config) []string {
	var tags []string
	for i := range cfg.Gauges {
		tags = append(tags, cfg.Gauges[i].Sheet.Tag)
	}
	return tags
}
