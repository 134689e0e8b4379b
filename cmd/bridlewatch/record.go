package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"bridlewatch/compare/record"
	"bridlewatch/dashboards/api"
	"bridlewatch/dashboards/records"
)

func newRecord() *cobra.Command {
	c := &cobra.Command{
		Use:   "record",
		Short: "List, show, add, print and verify records of what people did",
		Long: `record keeps the book of what people found, did and left at the gauges. Records
are numbered without gaps and chained by SHA-256; none is ever changed, and a
correction is a record of its own. With --data it works on the data directory
of a service that does not run.`,
	}
	c.AddCommand(newRecordList(), newRecordDue(), newRecordShow(), newRecordAdd(), newRecordPrint(), newRecordVerify())
	return c
}

// withLedger opens the book for one command.
func withLedger(c *cobra.Command, a *ask, do func(context.Context, ledger) error) error {
	l, err := openLedger(c.Context(), a)
	if err != nil {
		return err
	}
	return errors.Join(do(c.Context(), l), l.close())
}

func newRecordList() *cobra.Command {
	var a ask
	var f records.Filter
	var kind, from, to string
	c := &cobra.Command{
		Use:   "list",
		Short: "List records, newest first",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) (err error) {
			f.Kind = record.Kind(kind)
			if f.From, err = parseTime("from", from); err != nil {
				return err
			}
			if f.To, err = parseTime("to", to); err != nil {
				return err
			}
			return withLedger(c, &a, func(ctx context.Context, l ledger) error {
				lines, err := l.list(ctx, f)
				if err != nil {
					return err
				}
				return answer(c, &a, lines, "No record matches.", printRecordLine)
			})
		},
	}
	a.flags(c, true)
	c.Flags().StringVar(&f.Gauge, "gauge", "", "of this gauge only")
	c.Flags().StringVar(&kind, "kind", "", `of this kind only, e.g. "drain test"`)
	c.Flags().StringVar(&f.By, "by", "", "by somebody whose name has this part")
	c.Flags().StringVar(&from, "from", "", "done at or after; a date or RFC 3339")
	c.Flags().StringVar(&to, "to", "", "done before; a date or RFC 3339")
	c.Flags().IntVar(&f.Limit, "limit", 0, "no more than this")
	return c
}

// parseTime reads a date, taken as UTC, or a time with offset; nothing is no
// time.
func parseTime(flag, text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	for _, layout := range []string{time.RFC3339, time.DateOnly} {
		if t, err := time.Parse(layout, text); err == nil {
			return t, nil
		}
	}
	return time.Time{}, withCode(exitUsage, fmt.Errorf("--%s %q is no time; write it like 2026-11-25 or 2026-11-25T08:05:00-06:00", flag, text))
}

func printRecordLine(w io.Writer, l api.RecordLine) {
	fmt.Fprintf(w, "%5d  %s  %-10s %-16s %-10s %s  (%s)\n", l.Number, l.At.Format("2006-01-02 15:04 -07:00"), l.Gauge, l.Kind, l.Instrument, l.Summary, l.By)
}

func newRecordDue() *cobra.Command {
	var a ask
	c := &cobra.Command{
		Use:   "due",
		Short: "List when each gauge was last verified and is due",
		Long:  "How often a gauge must be verified is the user's decision: verify_every of the site or of a gauge in the configuration. No interval is computed.",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return withLedger(c, &a, func(ctx context.Context, l ledger) error {
				list, err := l.due(ctx)
				if err != nil {
					return err
				}
				return answer(c, &a, list, "No gauge is configured.", printDue)
			})
		},
	}
	a.flags(c, true)
	return c
}

func printDue(w io.Writer, d api.Due) {
	last := "never, as far as these records go back"
	if !d.Last.IsZero() {
		last = fmt.Sprintf("%s, record %d", d.Last.Format("2006-01-02 15:04 -07:00"), d.Record)
	}
	due := ""
	switch {
	case d.Every > 0 && d.Next.IsZero():
		due = fmt.Sprintf("due now, every %d days", d.Every)
	case d.Every > 0:
		due = fmt.Sprintf("due %s, every %d days", d.Next.Format(time.DateOnly), d.Every)
	}
	fmt.Fprintf(w, "%-10s %-40s %-30s %s\n", d.Gauge, last, due, d.Service)
}

func newRecordAdd() *cobra.Command {
	var a ask
	var r api.NewRecord
	var at string
	c := &cobra.Command{
		Use:   "add GAUGE",
		Short: "Book a record without readings: cleaned, repaired, isolated, back in service, ...",
		Long: `add books what was done. It cannot be changed afterwards. "float cleaned",
"repaired" and "replaced" end open findings about the instrument; "set point
changed" and "recalibrated" begin a new normal; "isolated" stops comparing until
"back in service". A drain or fill test with readings is taken with prove.

` + record.Caution,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) (err error) {
			r.Gauge = args[0]
			if r.At, err = parseTime("at", at); err != nil {
				return err
			}
			return withLedger(c, &a, func(ctx context.Context, l ledger) error {
				e, err := l.add(ctx, r)
				if err != nil {
					return err
				}
				if a.output == "json" {
					return json.NewEncoder(c.OutOrStdout()).Encode(api.RecordLineOf(e))
				}
				_, err = fmt.Fprintf(c.OutOrStdout(), "Record %d is booked, SHA-256 %s.\n", e.Number, e.Hash)
				return err
			})
		},
	}
	a.flags(c, true)
	f := c.Flags()
	f.StringVar(&r.Kind, "kind", string(record.Note), "what it is")
	f.StringVar(&r.Instrument, "instrument", "", "tag of what was worked on; the whole gauge unless given")
	f.StringVar(&r.Work, "work", "", "what was done")
	f.StringVar(&r.By, "by", "", "who did it; not needed with a token")
	f.StringVar(&r.Permit, "permit", "", "number of the site's permit")
	f.StringVar(&r.Remarks, "remarks", "", "anything else")
	f.StringVar(&at, "at", "", "when it was done, RFC 3339; now unless given")
	f.IntVar(&r.Corrects, "corrects", 0, "number of the record this one puts right")
	return c
}

func newRecordVerify() *cobra.Command {
	var a ask
	var expect string
	c := &cobra.Command{
		Use:   "verify",
		Short: "Verify that no record was changed, removed or put in",
		Long: `verify walks the chain of all records. It prints how many hold and the SHA-256
of the newest; noted elsewhere and given with --expect, that hash also finds a
chain whose end was cut off and written anew.`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return withLedger(c, &a, func(ctx context.Context, l ledger) error { return verifyRecords(ctx, c, &a, l, expect) })
		},
	}
	a.flags(c, true)
	c.Flags().StringVar(&expect, "expect", "", "SHA-256 that one of the records must have")
	return c
}

func verifyRecords(ctx context.Context, c *cobra.Command, a *ask, l ledger, expect string) error {
	chain, err := l.verify(ctx)
	if err != nil {
		return err
	}
	if expect != "" && chain.Holds {
		lines, err := l.list(ctx, records.Filter{})
		if err != nil {
			return err
		}
		if !hasHash(lines, expect) {
			chain.Holds, chain.Trouble = false, "no record has SHA-256 "+expect+": the chain was cut and written anew after it was noted"
		}
	}
	if a.output == "json" {
		err = json.NewEncoder(c.OutOrStdout()).Encode(chain)
	} else {
		_, err = fmt.Fprintf(c.OutOrStdout(), "%d records hold, SHA-256 of the newest of them %s\n", chain.Records, chain.SHA256)
	}
	if err == nil && !chain.Holds {
		err = errors.New(chain.Trouble)
	}
	return err
}

func hasHash(lines []api.RecordLine, hash string) bool {
	for _, l := range lines {
		if l.SHA256 == hash {
			return true
		}
	}
	return false
}
