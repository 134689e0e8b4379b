package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"strconv"

	"github.com/spf13/cobra"

	"bridlewatch/compare/record"
	"bridlewatch/dashboards/records"
	"bridlewatch/dashboards/times"
	"bridlewatch/dashboards/units"
)

func newRecordShow() *cobra.Command {
	var a ask
	var set string
	c := &cobra.Command{
		Use:   "show NUMBER",
		Short: "Print one record",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return withRecord(c, &a, args[0], func(e records.Entry) error {
				if a.output == "json" {
					_, err := fmt.Fprintf(c.OutOrStdout(), "%s\n", e.Body)
					return err
				}
				u, err := unitsNamed(set)
				if err != nil {
					return err
				}
				printRecord(c.OutOrStdout(), records.SheetOf(e, u))
				return nil
			})
		},
	}
	a.flags(c, true)
	c.Flags().StringVar(&set, "units", "metric", "metric, si or us")
	return c
}

func withRecord(c *cobra.Command, a *ask, text string, do func(records.Entry) error) error {
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 {
		return withCode(exitUsage, fmt.Errorf("%q is no number of a record; they count from 1", text))
	}
	return withLedger(c, a, func(ctx context.Context, l ledger) error {
		e, err := l.get(ctx, n)
		if err != nil {
			return err
		}
		return do(e)
	})
}

func unitsNamed(name string) (units.Set, error) {
	set, ok := units.Named(name)
	if !ok {
		return set, withCode(exitUsage, fmt.Errorf("--units %q is none of metric, si, us", name))
	}
	return set, nil
}

func printRecord(w io.Writer, s records.Sheet) {
	fmt.Fprintf(w, "%s  %s\n%s\n", s.Gauge, s.Heading, s.Summary())
	printFacts(w, "", s.Facts)
	printFacts(w, "Conditions", s.Conditions)
	fmt.Fprintf(w, "\nWhat was done\n  %s\n", s.Work)
	printLines(w, "Readings", s.Readings)
	printLines(w, "Trip points of the switches", s.Trips)
	printFacts(w, "Hysteresis", s.Hysteresis)
	printList(w, "What the switches did", s.Exercise)
	if len(s.Exercise) > 0 {
		fmt.Fprintf(w, "  %s\n", record.Evidence)
	}
	printList(w, "Not tested", s.NotTested)
	if s.Remarks != "" {
		fmt.Fprintf(w, "\nRemarks\n  %s\n", s.Remarks)
	}
	printFacts(w, "Chain of records", s.Chain)
}

func printFacts(w io.Writer, title string, facts []records.Fact) {
	if len(facts) == 0 {
		return
	}
	if title != "" {
		fmt.Fprintf(w, "\n%s\n", title)
	}
	for _, f := range facts {
		fmt.Fprintf(w, "  %-28s %s\n", f.Name, f.Value)
	}
}

func printList(w io.Writer, title string, items []string) {
	if len(items) == 0 {
		return
	}
	fmt.Fprintf(w, "\n%s\n", title)
	for _, item := range items {
		fmt.Fprintf(w, "  - %s\n", item)
	}
}

func printLines(w io.Writer, title string, lines []records.Line) {
	phase := record.Phase("")
	for _, l := range lines {
		if l.Phase != phase {
			phase = l.Phase
			fmt.Fprintf(w, "\n%s, %s\n", title, phase)
		}
		fmt.Fprintf(w, "  %-12s %-12s %-22s %12s  difference %11s  U %8s  allowed %10s  %s\n", l.Elevation, l.Instrument, l.Role, l.Reading, l.Difference, l.U, l.Allowed, l.Finding)
		if l.Why != "" {
			fmt.Fprintf(w, "  %-12s %s\n", "", l.Why)
		}
	}
}

func newRecordPrint() *cobra.Command {
	var a ask
	var set, out string
	c := &cobra.Command{
		Use:   "print NUMBER",
		Short: "Write a record as a PDF file to be signed",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			u, err := unitsNamed(set)
			if err != nil {
				return err
			}
			return withRecord(c, &a, args[0], func(e records.Entry) error {
				body, err := records.PDF(e, u)
				if err != nil {
					return err
				}
				if out == "" {
					out = fmt.Sprintf("record-%d.pdf", e.Number)
				}
				if out == "-" {
					_, err = c.OutOrStdout().Write(body)
					return err
				}
				if err := os.WriteFile(out, body, 0o644); err != nil {
					return fmt.Errorf("write record: %w", err)
				}
				_, err = fmt.Fprintf(c.OutOrStdout(), "%s: record %d of %s, %s\n", out, e.Number, e.Gauge, times.Zone{Location: e.At.Location()}.Full(e.At))
				return err
			})
		},
	}
	a.flags(c, true)
	c.Flags().StringVar(&set, "units", "metric", "metric, si or us")
	c.Flags().StringVar(&out, "out", "", `file to write, "-" for standard output; record-NUMBER.pdf unless given`)
	return c
}
