package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/config"
	"bridlewatch/dashboards/page"
)

// configured runs f with a loaded configuration; the data directory may be
// given by flag.
func configured(c *cobra.Command, withoutSecrets bool, f func(*config.Config) error) {
	var file string
	c.Flags().StringVar(&file, "config", "bridlewatch.yaml", "configuration file")
	c.Flags().String("data", "", "data directory, instead of the configured one")
	c.RunE = func(c *cobra.Command, _ []string) error {
		cfg, err := config.Load(config.LoadOptions{File: file, Flags: c.Flags(), WithoutSecrets: withoutSecrets})
		if err != nil {
			return err
		}
		return f(cfg)
	}
}

func newBackup() *cobra.Command {
	c := &cobra.Command{
		Use:   "backup",
		Short: "Write, check and bring back the history as one file",
	}
	create := &cobra.Command{Use: "create DIRECTORY FILE", Short: "Write the history of a data directory into one file; the service may run meanwhile", Args: cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			b, err := embedded.CreateBackup(c.Context(), args[0], args[1], nil)
			if err != nil {
				return err
			}
			return printBackup(c.OutOrStdout(), args[1], b)
		}}
	verify := &cobra.Command{Use: "verify FILE", Short: "Check that a backup is whole", Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			b, err := embedded.VerifyBackup(c.Context(), args[0])
			if err != nil {
				return err
			}
			return printBackup(c.OutOrStdout(), args[0], b)
		}}
	restore := &cobra.Command{Use: "restore FILE DIRECTORY", Short: "Bring a backup back into an empty data directory", Args: cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			b, err := embedded.RestoreBackup(c.Context(), args[0], args[1])
			if err != nil {
				return err
			}
			return printBackup(c.OutOrStdout(), args[0], b)
		}}
	c.AddCommand(create, verify, restore)
	return c
}

func printBackup(w io.Writer, file string, b embedded.Backup) error {
	_, err := fmt.Fprintf(w, "%s: made %s, %s, %.1f MB, checksums right\n", file, b.Made.Format(time.RFC3339), count(len(b.Members), "file", "files"), float64(b.Bytes())/1e6)
	return err
}

func newRecompute() *cobra.Command {
	c := &cobra.Command{
		Use:   "recompute",
		Short: "Compute levels again from the samples kept, after a data sheet was corrected",
		Long: `recompute reads raw samples and computes levels, gaps and budgets with the
configuration as it is now. Maintenance records are honoured, each at its time:
readings as left begin a new normal, an isolated gauge is not compared. The
earlier generation is kept beside the new one.
It may be stopped at any time and goes on where it stopped. The service must not
run on the same data directory meanwhile.`,
		Args: cobra.NoArgs,
	}
	var from, to string
	configured(c, true, func(cfg *config.Config) error {
		begin, err := time.Parse(time.DateOnly, from)
		if err != nil {
			return withCode(exitUsage, fmt.Errorf("--from %q: want a date such as 2026-03-01", from))
		}
		end := time.Now()
		if to != "" {
			if end, err = time.Parse(time.DateOnly, to); err != nil {
				return withCode(exitUsage, fmt.Errorf("--to %q: want a date such as 2026-03-01", to))
			}
		}
		return recompute(c.Context(), cfg, begin, end, c.ErrOrStderr())
	})
	c.Flags().StringVar(&from, "from", "", "first day (UTC)")
	c.Flags().StringVar(&to, "to", "", "day after the last one (UTC); empty: until now")
	return c
}

// warmUp lets filters and baselines settle before the first level is kept.
const warmUp = time.Hour

func recompute(ctx context.Context, cfg *config.Config, from, to time.Time, stderr io.Writer) error {
	db, err := openHistory(ctx, cfg)
	if err != nil {
		return err
	}
	defer db.Close() // everything is stored when Recompute returns
	computer, err := watch.NewComputer(ctx, cfg, db)
	if err != nil {
		return err
	}
	err = db.Recompute(ctx, embedded.Recomputation{
		Name: "levels " + cfg.Version, Inputs: computer.Inputs(), From: from, To: to, Warmup: warmUp, Compute: computer.Compute,
	}, func(p embedded.Progress) {
		fmt.Fprintf(stderr, "%s done, day %d of %d, %d scans\n", p.Day.Format(time.DateOnly), p.Done, p.Total, p.Scans)
	})
	if err != nil {
		return err
	}
	return noteRecomputed(ctx, db, page.Recomputed{From: from, To: to, Version: cfg.Version})
}

// noteRecomputed keeps that levels of a period are of another configuration
// than the one of their day, for the trends.
func noteRecomputed(ctx context.Context, db *embedded.DB, r page.Recomputed) error {
	body, err := json.Marshal(r)
	if err != nil {
		return fmt.Errorf("encode note of the recomputation: %w", err)
	}
	id := r.Version + " " + r.From.UTC().Format(time.RFC3339)
	if _, err := db.Put(ctx, store.Document{Kind: page.RecomputedKind, ID: id, Time: time.Now(), Body: body}); err != nil {
		return fmt.Errorf("note the recomputation: %w", err)
	}
	return nil
}
