package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/collector/store/exchange"
	"bridlewatch/config"
)

// openHistory opens the configured data directory for a command.
func openHistory(ctx context.Context, cfg *config.Config) (*embedded.DB, error) {
	db, err := embedded.Open(ctx, embedded.Options{Dir: cfg.Store.Dir, Upkeep: -1, Retain: retention(cfg)})
	if err != nil {
		return nil, fmt.Errorf("open data directory %s: %w", cfg.Store.Dir, err)
	}
	return db, nil
}

func newExport() *cobra.Command {
	var tag, from, to, format, file string
	var quality bool
	c := &cobra.Command{
		Use:   "export --gauge TAG --from TIME --file FILE",
		Short: "Write history of a gauge as CSV, Parquet or a spreadsheet",
		Long: `export writes samples, levels and gaps of one gauge from a data directory; the
service may run meanwhile. Beside the file goes a description in JSON that names
units and zone.`,
		Args: cobra.NoArgs,
	}
	configured(c, true, func(cfg *config.Config) error {
		begin, err := readTime(from, cfg.Site.TimeZone)
		if err != nil {
			return withCode(exitUsage, err)
		}
		end := time.Now()
		if to != "" {
			if end, err = readTime(to, cfg.Site.TimeZone); err != nil {
				return withCode(exitUsage, err)
			}
		}
		db, err := embedded.OpenView(c.Context(), cfg.Store.Dir)
		if err != nil {
			return fmt.Errorf("open data directory %s: %w", cfg.Store.Dir, err)
		}
		defer db.Close() // only read
		table, err := tableOf(c.Context(), db, tag)
		if err != nil {
			return err
		}
		table.From, table.To, table.Zone, table.Quality = begin, end, cfg.Site.TimeZone, quality
		rows, err := writeTable(c.Context(), table, db, file, cmp.Or(format, strings.TrimPrefix(filepath.Ext(file), ".")))
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(c.OutOrStdout(), "%s: %d rows of %d columns\n", file, rows, len(table.Columns))
		return err
	})
	f := c.Flags()
	f.StringVar(&tag, "gauge", "", "tag of the gauge")
	f.StringVar(&from, "from", "", "begin: a date, or a time with its offset (RFC 3339)")
	f.StringVar(&to, "to", "", "end, exclusive; empty: now")
	f.StringVar(&file, "file", "", "file to write; must not exist")
	f.StringVar(&format, "format", "", "csv, parquet or xlsx; empty: as the file is named")
	f.BoolVar(&quality, "quality", false, "a column with the quality behind each value")
	return c
}

// readTime reads a date of the plant's zone, or a time with its offset.
func readTime(text string, zone *time.Location) (time.Time, error) {
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t, nil
	}
	t, err := time.ParseInLocation(time.DateOnly, text, zone)
	if err != nil {
		return t, fmt.Errorf("time %q: want a date such as 2026-03-01 or a time such as 2026-03-01T14:00:00+01:00", text)
	}
	return t, nil
}

// tableOf selects every series of a gauge: raw as it came, lengths in mm.
func tableOf(ctx context.Context, db *embedded.DB, tag string) (exchange.Table, error) {
	known, err := db.Series(ctx)
	if err != nil {
		return exchange.Table{}, err
	}
	var t exchange.Table
	for id, s := range known {
		if s.Gauge != tag {
			continue
		}
		col := exchange.Column{ID: id, Name: s.Gauge + "." + s.Name, Unit: s.Unit, Places: -1}
		if s.Class == store.Derived && s.Unit == "m" {
			col.Unit, col.Scale, col.Places = "mm", 1e3, 2
		}
		t.Columns = append(t.Columns, col)
	}
	if len(t.Columns) == 0 {
		return t, withCode(exitUsage, fmt.Errorf("history has nothing of a gauge %q", tag))
	}
	slices.SortFunc(t.Columns, func(a, b exchange.Column) int { return cmp.Compare(a.Name, b.Name) })
	return t, nil
}

func writeTable(ctx context.Context, t exchange.Table, src exchange.Source, file, format string) (rows int, err error) {
	about := t.Describe("bridlewatch "+programVersion(), time.Now())
	out, err := os.OpenFile(file, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return 0, fmt.Errorf("write export: %w", err)
	}
	defer func() { err = errors.Join(err, out.Close()) }()
	switch format {
	case "csv":
		rows, err = t.WriteCSV(ctx, src, out)
	case "parquet":
		rows, err = t.WriteParquet(ctx, src, out, about)
	case "xlsx":
		rows, err = t.WriteXLSX(ctx, src, out, about)
	default:
		return 0, withCode(exitUsage, fmt.Errorf("--format %q: want csv, parquet or xlsx", format))
	}
	if err != nil {
		return rows, err
	}
	return rows, describe(file+".json", about)
}

func describe(file string, about exchange.Sidecar) error {
	f, err := os.Create(file)
	if err != nil {
		return fmt.Errorf("write description: %w", err)
	}
	return errors.Join(about.Write(f), f.Close())
}
