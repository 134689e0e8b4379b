package main

import (
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/config"
	"bridlewatch/dashboards/times"
)

func newLevel() *cobra.Command {
	var file, output string
	var raws, values []string
	c := &cobra.Command{
		Use:   "level TAG --raw SIGNAL=NUMBER...",
		Short: "Convert one reading to level by hand and print every step",
		Long: `level does what the service does with one scan and keeps every step with its
symbol, unit, equation and source. --raw takes what the device sends, --value an
engineering value with its unit. What is not given is taken from the data sheet,
and the output says so. With readings of two instruments it adds the density at
which they would agree.`,
		Example: `  bridlewatch level LG-104 --raw LI-104=12000 --raw PT-104=9800
  bridlewatch level LG-104 --value "LI-104=455 mm" --value "TT-104=118 degC"`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			cfg, err := config.Load(config.LoadOptions{File: file, WithoutSecrets: true})
			if err != nil {
				return err
			}
			if err := onlyGauges(cfg, args); err != nil {
				return withCode(exitUsage, err)
			}
			explanations, err := explainReadings(cfg, raws, values)
			if err != nil {
				return withCode(exitUsage, err)
			}
			if output == "json" {
				return json.NewEncoder(c.OutOrStdout()).Encode(explanations)
			}
			for _, e := range explanations {
				if _, err := fmt.Fprintln(c.OutOrStdout(), e.Text()); err != nil {
					return err
				}
			}
			return nil
		},
	}
	c.Flags().StringVar(&file, "config", "bridlewatch.yaml", "configuration file")
	outputFlag(c.Flags(), &output, "text or json")
	c.Flags().StringArrayVar(&raws, "raw", nil, "signal tag and raw value, as LT-101=12.4; repeatable")
	c.Flags().StringArrayVar(&values, "value", nil, "signal tag and value with its unit, as LI-101=455 mm; repeatable")
	return c
}

// explainReadings explains every level instrument that was given a reading.
func explainReadings(cfg *config.Config, raws, values []string) ([]gauge.Explanation, error) {
	g := &cfg.Gauges[0]
	model, err := gauge.New(g.Sheet)
	if err != nil {
		return nil, err
	}
	var in gauge.Snapshot
	var asked []gauge.Instrument
	var refused, delays []string
	for i, text := range slices.Concat(raws, values) {
		tag, value, ok := strings.Cut(text, "=")
		if !ok {
			return nil, fmt.Errorf("%q: want SIGNAL=VALUE", text)
		}
		k := slices.IndexFunc(g.Signals, func(s config.Signal) bool { return s.Tag == tag })
		if k < 0 {
			return nil, fmt.Errorf("gauge %s has no signal %q; it has %s", g.Sheet.Tag, tag, tagsOf(g))
		}
		sig := &g.Signals[k]
		read := readRaw
		if i >= len(raws) {
			read = readValue
		}
		r, err := read(cfg, sig, strings.TrimSpace(value))
		if err != nil {
			return nil, fmt.Errorf("%s: %w", tag, err)
		}
		*watch.ReadingOf(&in, sig) = r
		if sig.Delay > 0 {
			delays = append(delays, fmt.Sprintf("%s was true %s before its stamp: the service compares it with what the others read then, and allows for what the level moves meanwhile", tag, times.Span(sig.Delay)))
		}
		if of, err := gauge.ParseInstrument(string(sig.Role)); err == nil {
			asked = append(asked, of)
		} else if !r.Usable() {
			refused = append(refused, fmt.Sprintf("%s of %s is not used: %s.", strings.TrimSpace(value), tag, r.Reason))
		}
	}
	if len(asked) == 0 {
		return nil, fmt.Errorf("no level instrument was given a reading; use --raw or --value with one of %s", tagsOf(g))
	}
	var all []gauge.Explanation
	for _, of := range asked {
		e, err := model.Explain(&in, of)
		if err != nil {
			return nil, err
		}
		e.Notes = slices.Concat(refused, e.Notes, delays)
		all = append(all, e)
	}
	return all, nil
}

func readRaw(_ *config.Config, sig *config.Signal, text string) (quantity.Reading, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return quantity.Reading{}, fmt.Errorf("raw value %q is not a number; the signal sends %s", text, watch.RawUnit(sig))
	}
	return sig.Spec.Convert(quantity.Reading{Value: v, Quality: quantity.Good}), nil
}

func readValue(cfg *config.Config, sig *config.Signal, text string) (quantity.Reading, error) {
	r := quantity.Reading{Quality: quantity.Good}
	var err error
	switch unit := watch.Unit(&cfg.Gauges[0].Sheet, sig); unit {
	case "m":
		var v quantity.Length
		v, err = quantity.ParseLength(text)
		r.Value = float64(v)
	case "Pa":
		r.Value, err = readPressure(cfg, sig, text)
	case "K":
		var v quantity.Temperature
		v, err = quantity.ParseTemperature(text)
		r.Value = float64(v)
	case "kg/m3":
		var v quantity.Density
		v, err = quantity.ParseDensity(text)
		r.Value = float64(v)
	default:
		r.Value, err = strconv.ParseFloat(text, 64)
	}
	return r, err
}

func readPressure(cfg *config.Config, sig *config.Signal, text string) (float64, error) {
	if sig.Role == config.RolePressure {
		v, err := quantity.ParsePressure(text, cfg.Site.AtmosphericPressure)
		return float64(v), err
	}
	v, err := quantity.ParsePressureDifference(text)
	return float64(v), err
}

func tagsOf(g *config.Gauge) string {
	tags := make([]string, len(g.Signals))
	for i, s := range g.Signals {
		tags[i] = s.Tag
	}
	return strings.Join(tags, ", ")
}
