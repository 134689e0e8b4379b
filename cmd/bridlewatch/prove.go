package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/url"
	"strings"

	"github.com/spf13/cobra"

	"bridlewatch/compare/quantity"
	"bridlewatch/compare/record"
	"bridlewatch/dashboards/api"
	"bridlewatch/dashboards/records"
	"bridlewatch/dashboards/units"
)

func newProve() *cobra.Command {
	p := &proving{}
	c := &cobra.Command{
		Use:   "prove TAG",
		Short: "Take a gauge through a drain or fill test",
		Long: `prove leads through a drain or fill test of a running service: it suggests
elevations, takes the readings of the instruments at the moment an elevation is
confirmed, judges each against the reference with a guard band, and makes a
record of it. It can be left at any prompt and resumed here or on the pages.

` + record.Caution,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			p.path, p.in, p.out = "/gauges/"+url.PathEscape(args[0])+"/test", bufio.NewScanner(c.InOrStdin()), c.OutOrStdout()
			err := p.run(c.Context())
			if errors.Is(err, errLeft) {
				_, err = fmt.Fprintln(p.out, "\nThe test is kept. Go on with: bridlewatch prove", args[0])
			}
			return err
		},
	}
	p.ask.flags(c, false)
	f := c.Flags()
	f.StringVar(&p.begin.By, "by", "", "your name; not needed with a token")
	f.StringVar(&p.begin.Permit, "permit", "", "number of the site's permit")
	f.StringVar(&p.begin.Method, "method", "", "how the level is set and read")
	f.StringVar(&p.begin.Serial, "serial", "", "serial number of the reference")
	f.StringVar(&p.begin.ReferenceDue, "reference-due", "", "when its calibration is due, yyyy-mm-dd")
	f.BoolVar(&p.begin.Filling, "filling", false, "go upwards, filling")
	f.BoolVar(&p.begin.Isolate, "isolate", false, "book the chamber as isolated at the beginning and back in service at the end")
	return c
}

// proving is one sitting at a guided test.
type proving struct {
	ask   ask
	path  string
	begin api.BeginTest
	in    *bufio.Scanner
	out   io.Writer
	test  guidedTest
}

// guidedTest is a test as the interface sends it.
type guidedTest struct {
	api.GuidedTest
	Record record.Record `json:"record"`
}

// errLeft says that somebody left the test to resume it later.
var errLeft = errors.New("left")

func (p *proving) run(ctx context.Context) (err error) {
	fmt.Fprintf(p.out, "CAUTION. %s\n\n", record.Caution)
	p.test, err = get[guidedTest](ctx, &p.ask, p.path)
	switch {
	case err == nil:
		fmt.Fprintf(p.out, "A test by %s is under way since %s.\n", p.test.Record.By, p.test.Began.Format("2006-01-02 15:04 -07:00"))
		p.begin.By = orElse(p.begin.By, p.test.Record.By)
	case strings.Contains(err.Error(), records.ErrNoDraft.Error()):
		if err := p.start(ctx); err != nil {
			return err
		}
	default:
		return err
	}
	if err := p.readings(ctx); err != nil {
		return err
	}
	if err := p.switches(ctx); err != nil {
		return err
	}
	return p.finish(ctx)
}

func orElse(a, b string) string {
	if a == "" {
		return b
	}
	return a
}

// prompt asks for a line. The end of input leaves the test.
func (p *proving) prompt(text string, args ...any) (string, error) {
	fmt.Fprintf(p.out, text+" ", args...)
	if !p.in.Scan() {
		return "", errors.Join(p.in.Err(), errLeft)
	}
	return strings.TrimSpace(p.in.Text()), nil
}

// length asks until a length is given; nothing ends it.
func (p *proving) length(text string, args ...any) (l quantity.Length, given bool, err error) {
	for {
		answer, err := p.prompt(text, args...)
		if err != nil || answer == "" {
			return 0, false, err
		}
		if l, err := quantity.ParseLength(answer); err == nil {
			return l, true, nil
		}
		l, err := quantity.ParseLength(answer + " mm")
		if err == nil {
			return l, true, nil
		}
		fmt.Fprintln(p.out, "  This is no length: write 612 for 612 mm, or a unit with it.")
	}
}

func (p *proving) start(ctx context.Context) (err error) {
	yes, err := p.prompt("Is the work permitted by the site, and are those who do it competent? Write yes to begin:")
	if err != nil {
		return err
	}
	if p.begin.Confirmed = yes == "yes"; !p.begin.Confirmed {
		return errors.New("nothing was begun")
	}
	if p.begin.By == "" && p.ask.tokenFile == "" {
		if p.begin.By, err = p.prompt("Your name:"); err != nil {
			return err
		}
	}
	if p.begin.Reference, err = p.prompt("Reference the instruments are held against:"); err != nil {
		return err
	}
	for _, ask := range []struct {
		text string
		to   *float64
	}{
		{"Its expanded uncertainty (k = 2), mm:", &p.begin.ReferenceU}, {"Allowed difference, mm (nothing: what each instrument's own budget says):", &p.begin.Allowed},
		{"A trip point may differ from its data sheet by, mm:", &p.begin.TripsMay},
	} {
		l, _, err := p.length(ask.text)
		if err != nil {
			return err
		}
		*ask.to = float64(l)
	}
	p.test, err = post[guidedTest](ctx, &p.ask, p.path, p.begin)
	return err
}

func (p *proving) readings(ctx context.Context) error {
	for {
		asked, why := p.next()
		if why == "" {
			fmt.Fprintln(p.out, "\nAll suggested elevations are done.")
		} else {
			fmt.Fprintf(p.out, "\nNext: %s, %s.\n", units.Metric.Length(quantity.Length(asked)), why)
		}
		l, given, err := p.length("The reference reads, mm above the lower tap (nothing: on to the switches):")
		if err != nil || !given {
			return err
		}
		phase, err := p.phase()
		if err != nil {
			return err
		}
		test, err := post[guidedTest](ctx, &p.ask, p.path+"/readings", api.TestStop{By: p.begin.By, Version: p.test.Version, Phase: phase, Asked: asked, Reference: float64(l)})
		if err != nil {
			fmt.Fprintln(p.out, "  Not taken:", err)
			continue
		}
		p.test = test
		rows := test.Record.Rows
		printRow(p.out, &rows[len(rows)-1])
	}
}

// next is the first suggested elevation that is not done; why is empty when
// there is none.
func (p *proving) next() (at float64, why string) {
	for _, e := range p.test.Elevations {
		if !e.Done {
			return e.M, e.Why
		}
	}
	return 0, ""
}

func (p *proving) phase() (string, error) {
	answer, err := p.prompt("As found, or as left after an adjustment? (f/l, nothing: as found)")
	if strings.HasPrefix(answer, "l") {
		return string(record.AsLeft), err
	}
	return string(record.AsFound), err
}

func printRow(w io.Writer, row *record.Row) {
	for _, r := range row.Readings {
		if r.Missing != "" {
			fmt.Fprintf(w, "  %-10s no reading: %s\n", r.Tag, r.Missing)
			continue
		}
		fmt.Fprintf(w, "  %-10s %8.1f mm, difference %+.1f mm, allowed ± %.1f mm: %s\n", r.Tag, r.Value.Millimetres(), r.Difference.Millimetres(), r.Allowed.Millimetres(), r.Finding)
		if r.Why != "" {
			fmt.Fprintf(w, "  %-10s %s\n", "", r.Why)
		}
	}
}

func (p *proving) switches(ctx context.Context) error {
	for {
		tag, err := p.prompt("\nTag of a switch that was exercised (nothing: to the end):")
		if err != nil || tag == "" {
			return err
		}
		s := api.TestSwitch{By: p.begin.By, Version: p.test.Version, Tag: tag}
		seen, err := p.prompt("Take the change the service saw? (y, or nothing to write the levels by the reference)")
		if err != nil {
			return err
		}
		if s.Seen = strings.HasPrefix(seen, "y"); !s.Seen {
			for _, ask := range []struct {
				text string
				to   **float64
			}{{"Changed on rising level at, mm (nothing: not exercised):", &s.Rising}, {"Changed on falling level at, mm (nothing: not exercised):", &s.Falling}} {
				l, given, err := p.length(ask.text)
				if err != nil {
					return err
				}
				if m := float64(l); given {
					*ask.to = &m
				}
			}
		}
		if s.Phase, err = p.phase(); err != nil {
			return err
		}
		test, err := post[guidedTest](ctx, &p.ask, p.path+"/switch", s)
		if err != nil {
			fmt.Fprintln(p.out, "  Not recorded:", err)
			continue
		}
		p.test = test
		printTrip(p.out, &test.Record.Trips[len(test.Record.Trips)-1])
	}
}

func printTrip(w io.Writer, t *record.Trip) {
	for _, c := range []struct {
		way    string
		change *record.Change
	}{{"rising", t.Rising}, {"falling", t.Falling}} {
		if c.change != nil {
			fmt.Fprintf(w, "  %s on %s level at %.1f mm by %s, difference %+.1f mm: %s\n", t.Tag, c.way, c.change.Level.Millimetres(), c.change.Witness, c.change.Difference.Millimetres(), c.change.Finding)
		}
	}
}

func (p *proving) finish(ctx context.Context) (err error) {
	fmt.Fprintln(p.out, "\nThe record says by itself that these were not tested:")
	for _, u := range p.test.Untested {
		fmt.Fprintln(p.out, "  -", u)
	}
	end := api.TestEnd{By: p.begin.By, Version: p.test.Version}
	for _, ask := range []struct {
		text string
		to   *string
	}{{"What was done (write discard to end without a record):", &end.Work}, {"Adjusted instrument, tag (nothing: none):", &end.Instrument}, {"Remarks:", &end.Remarks}, {"Witnessed by:", &end.Witness}} {
		if *ask.to, err = p.prompt(ask.text); err != nil {
			return err
		}
		if end.Discard = end.Work == "discard"; end.Discard {
			break
		}
	}
	if p.test.Isolated && !end.Discard {
		back, err := p.prompt("Is the chamber back in service, taps open, drain and vent shut? (yes/no)")
		if err != nil {
			return err
		}
		end.Return = back == "yes"
	}
	sent, err := post[sentRecord](ctx, &p.ask, p.path+"/end", end)
	if err != nil {
		return err
	}
	if end.Discard {
		_, err = fmt.Fprintln(p.out, "The test was discarded. No record was made.")
		return err
	}
	e, err := sent.entry()
	if err != nil {
		return err
	}
	if p.ask.output == "json" {
		return json.NewEncoder(p.out).Encode(api.RecordLineOf(e))
	}
	_, err = fmt.Fprintf(p.out, "Record %d is booked: %s. Print it with: bridlewatch record print %d\n", e.Number, e.Summary(), e.Number)
	return err
}
