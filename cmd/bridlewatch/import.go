package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/collector/store/exchange"
	"bridlewatch/config"
	"bridlewatch/dashboards/access"
)

func newImport() *cobra.Command {
	var o order
	c := &cobra.Command{
		Use:   "import --file FILE --name NAME",
		Short: "Read a historian's CSV or Parquet file into history as raw samples",
		Long: `import reads the columns of the configured signals; the section history says how
times are written. Values already there are never changed, so repeating an import
does nothing. --dry-run only reports. --undo NAME takes an import back.

While the service runs, it reads the file itself: the command hands it in through
the data directory and waits for the answer.`,
		Args: cobra.NoArgs,
	}
	configured(c, true, func(cfg *config.Config) error {
		if (o.Undo == "") == (o.File == "") {
			return withCode(exitUsage, errors.New("want either --file FILE with --name NAME, or --undo NAME"))
		}
		db, err := openHistory(c.Context(), cfg)
		if errors.Is(err, store.ErrLocked) { // the service runs: it does it
			r, err := handIn(c.Context(), cfg.Store.Dir, o, err)
			if err != nil {
				return err
			}
			return printReply(c.OutOrStdout(), o, r)
		}
		if err != nil {
			return err
		}
		return errors.Join(printReply(c.OutOrStdout(), o, o.carryOut(c.Context(), cfg, db, nil)), db.Close())
	})
	c.Flags().StringVar(&o.File, "file", "", "file to read: .csv or .parquet")
	c.Flags().StringVar(&o.Name, "name", "", "names the import, for repeating and undoing")
	c.Flags().StringVar(&o.Undo, "undo", "", "take back the import of this name")
	c.Flags().BoolVar(&o.DryRun, "dry-run", false, "report only; nothing is stored")
	return c
}

// order is what an import is asked to do.
type order struct {
	File   string `json:"file,omitempty"`
	Name   string `json:"name,omitempty"`
	Undo   string `json:"undo,omitempty"`
	DryRun bool   `json:"dry_run,omitempty"`
	By     string `json:"by,omitempty"` // account of the operating system
	// Person is who handed it in by page or interface; nil: the command line.
	Person *access.Actor `json:"person,omitempty"`
}

// reply is what came of it.
type reply struct {
	Report *exchange.Report `json:"report,omitempty"`
	Undone int              `json:"undone,omitempty"`
	Error  string           `json:"error,omitempty"`
	Code   int              `json:"code,omitempty"` // exit code that goes with the error
}

// carryOut does what was ordered. progress may be nil.
func (o order) carryOut(ctx context.Context, cfg *config.Config, db *embedded.DB, progress func(rows int)) (r reply) {
	var err error
	if o.Undo != "" {
		r.Undone, err = exchange.Undo(ctx, db, o.Undo)
	} else {
		var report exchange.Report
		report, err = importFile(ctx, cfg, db, o, progress)
		r.Report = &report
	}
	if err != nil {
		r.Report, r.Error, r.Code = nil, err.Error(), exitFailed
		if coded := (codedError{}); errors.As(err, &coded) {
			r.Code = coded.code
		}
	}
	return r
}

func printReply(w io.Writer, o order, r reply) error {
	switch {
	case r.Error != "":
		return withCode(r.Code, errors.New(r.Error))
	case o.Undo != "":
		_, err := fmt.Fprintf(w, "import %s: %d values taken back\n", o.Undo, r.Undone)
		return err
	}
	return printImport(w, *r.Report)
}

func importFile(ctx context.Context, cfg *config.Config, db *embedded.DB, o order, progress func(rows int)) (exchange.Report, error) {
	in, err := os.Open(o.File)
	if err != nil {
		return exchange.Report{}, fmt.Errorf("import: %w", err)
	}
	defer in.Close() // only read
	rows, err := rowsOf(in, cfg)
	if err != nil {
		return exchange.Report{}, err
	}
	layouts := map[string]string{"epoch": "epoch_s", "epoch-ms": "epoch_ms"}
	im := exchange.Import{
		ID: o.Name, Rows: rows, DryRun: o.DryRun,
		Clock: exchange.Clock{Column: cfg.History.TimeColumn, Layout: cmp.Or(layouts[cfg.History.TimeFormat], cfg.History.TimeFormat), Zone: cfg.History.Zone},
	}
	for _, g := range cfg.Gauges {
		for i := range g.Signals {
			sig := &g.Signals[i]
			if slices.Contains(rows.Columns(), sig.Column) {
				im.Columns = append(im.Columns, exchange.Mapping{Column: sig.Column,
					Series: store.Series{Gauge: g.Sheet.Tag, Name: sig.Tag, Class: store.Raw, Unit: watch.RawUnit(sig)}})
			}
		}
	}
	if len(im.Columns) == 0 {
		return exchange.Report{}, withCode(exitUsage, fmt.Errorf("%s has the columns %q and none of them is the column of a signal", filepath.Base(o.File), rows.Columns()))
	}
	return im.Run(ctx, db, progress)
}

func rowsOf(in *os.File, cfg *config.Config) (exchange.Rows, error) {
	if filepath.Ext(in.Name()) == ".parquet" {
		st, err := in.Stat()
		if err != nil {
			return nil, fmt.Errorf("import: %w", err)
		}
		return exchange.ReadParquet(in, st.Size())
	}
	comma := historyOptions(cfg).Comma
	if comma == 0 {
		comma = ','
	}
	return exchange.ReadCSV(in, comma)
}

func printImport(w io.Writer, r exchange.Report) error {
	what := "stored"
	if r.DryRun {
		what = "would be stored"
	}
	fmt.Fprintf(w, "%d rows from %s to %s; %d out of order, %d repeated, %d of an hour the clock showed twice\n",
		r.Rows, r.From.Format(time.RFC3339), r.To.Format(time.RFC3339), r.OutOfOrder, r.Repeated, r.Ambiguous)
	for _, c := range r.Columns {
		fmt.Fprintf(w, "%-20s %d %s as %s, %d there already, %d differ and stay as they are, %d no number, %d empty, %d gaps\n",
			c.Column, c.New, what, c.Series.Name, c.Same, c.Conflicting, c.Bad, c.Empty, c.GapCount)
	}
	for _, p := range r.Problems {
		fmt.Fprintf(w, "line %d, %s: %q: %s\n", p.Line, p.Column, p.Text, p.Why)
	}
	if more := r.ProblemCount - len(r.Problems); more > 0 {
		fmt.Fprintf(w, "and %d more\n", more)
	}
	return nil
}
