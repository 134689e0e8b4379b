package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/compare/record"
	"bridlewatch/config"
	"bridlewatch/dashboards/api"
	"bridlewatch/dashboards/records"
	"bridlewatch/dashboards/times"
	"bridlewatch/dashboards/units"
)

// ledger is the book of records, of a running service or of a data directory.
type ledger interface {
	list(ctx context.Context, f records.Filter) ([]api.RecordLine, error)
	get(ctx context.Context, number int) (records.Entry, error)
	add(ctx context.Context, r api.NewRecord) (records.Entry, error)
	due(ctx context.Context) ([]api.Due, error)
	verify(ctx context.Context) (api.Chain, error)
	close() error
}

// openLedger finds the book: with --data that of a directory no service has
// open, else that of the service.
func openLedger(ctx context.Context, a *ask) (ledger, error) {
	if a.data == "" {
		return servedBook{a}, nil
	}
	cfg, err := config.Load(config.LoadOptions{File: a.config, WithoutSecrets: true})
	if err != nil {
		return nil, err
	}
	w, err := watch.Revive(ctx, cfg, a.data)
	if err != nil {
		return nil, err
	}
	db, err := embedded.Open(ctx, embedded.Options{Dir: a.data, Upkeep: -1, Retain: retention(cfg)})
	if err != nil {
		return nil, fmt.Errorf("%w; while a service runs, ask it: leave out --data", err)
	}
	return localBook{db, records.NewBook(records.Options{Store: db, Plant: w, Location: cfg.Site.TimeZone, Software: programVersion()})}, nil
}

// localBook is the book of a data directory. The comparison hears of what is
// added when the service starts.
type localBook struct {
	db   *embedded.DB
	book *records.Book
}

func (l localBook) list(ctx context.Context, f records.Filter) ([]api.RecordLine, error) {
	list, err := l.book.List(ctx, f)
	lines := []api.RecordLine{}
	for _, e := range list {
		lines = append(lines, api.RecordLineOf(e))
	}
	return lines, err
}

func (l localBook) get(ctx context.Context, number int) (records.Entry, error) {
	return l.book.Get(ctx, number)
}

func (l localBook) add(ctx context.Context, r api.NewRecord) (records.Entry, error) {
	return l.book.Add(ctx, record.Record{Kind: record.Kind(r.Kind), Gauge: r.Gauge, Instrument: r.Instrument, At: r.At, By: r.By, Permit: r.Permit, Work: r.Work, Remarks: r.Remarks, Corrects: r.Corrects})
}

func (l localBook) verify(ctx context.Context) (api.Chain, error) {
	n, hash, err := l.book.Verify(ctx)
	c := api.Chain{Holds: err == nil, Records: n, SHA256: hash}
	if errors.Is(err, record.ErrChain) {
		c.Trouble, err = err.Error(), nil
	}
	return c, err
}

func (l localBook) due(ctx context.Context) ([]api.Due, error) {
	list, err := l.book.Due(ctx)
	return api.DueOf(list), err
}

func (l localBook) close() error { return l.db.Close() }

// servedBook is the book of a running service.
type servedBook struct{ ask *ask }

func (s servedBook) list(ctx context.Context, f records.Filter) ([]api.RecordLine, error) {
	q := url.Values{}
	set := func(name, value string) {
		if value != "" {
			q.Set(name, value)
		}
	}
	set("gauge", f.Gauge)
	set("kind", string(f.Kind))
	set("by", f.By)
	for name, t := range map[string]time.Time{"from": f.From, "to": f.To} {
		if !t.IsZero() {
			q.Set(name, t.Format(time.RFC3339))
		}
	}
	if f.Limit > 0 {
		q.Set("limit", strconv.Itoa(f.Limit))
	}
	return get[[]api.RecordLine](ctx, s.ask, "/records?"+q.Encode())
}

// sentRecord is a record as the interface sends it.
type sentRecord struct {
	SHA256 string          `json:"sha256"`
	Record json.RawMessage `json:"record"`
}

// entry reads what was sent and holds it against its hash.
func (s sentRecord) entry() (records.Entry, error) {
	if sum := record.Hash(s.Record); sum != s.SHA256 {
		return records.Entry{}, fmt.Errorf("the record was changed on its way: SHA-256 %s, not %s", sum, s.SHA256)
	}
	r, err := record.Parse(s.Record)
	return records.Entry{Record: r, Hash: s.SHA256, Body: s.Record}, err
}

func (s servedBook) get(ctx context.Context, number int) (records.Entry, error) {
	sent, err := get[sentRecord](ctx, s.ask, "/records/"+strconv.Itoa(number))
	if err != nil {
		return records.Entry{}, err
	}
	return sent.entry()
}

func (s servedBook) add(ctx context.Context, r api.NewRecord) (records.Entry, error) {
	sent, err := post[sentRecord](ctx, s.ask, "/records", r)
	if err != nil {
		return records.Entry{}, err
	}
	return sent.entry()
}

func (s servedBook) verify(ctx context.Context) (api.Chain, error) {
	return get[api.Chain](ctx, s.ask, "/records/verification")
}

func (s servedBook) due(ctx context.Context) ([]api.Due, error) {
	return get[[]api.Due](ctx, s.ask, "/records/due")
}

func (s servedBook) close() error { return nil }

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
		Short: "List when each gauge was last verified, longest ago first",
		Long:  "due lists ages only. How often a gauge must be verified is the user's decision; no interval is computed.",
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
	fmt.Fprintf(w, "%-10s %-40s %s\n", d.Gauge, last, d.Service)
}

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
