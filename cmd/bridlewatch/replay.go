package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector"
	"bridlewatch/collector/replay"
	"bridlewatch/compare"
	"bridlewatch/config"
	"bridlewatch/dashboards/times"
)

func newReplay() *cobra.Command {
	var file, output, book string
	var gauges []string
	var history pastFlags
	c := &cobra.Command{
		Use:   "replay --config FILE {DATA.csv... | --data DIR}",
		Short: "Run history through the same comparison as a live plant",
		Long: `replay reads historian files and says what would have been found and when.
Each signal is a column, named by its column or its tag; the section history of
the configuration says how times are written. Several files are merged by time.
With --data DIR it reads what a service kept in that data directory instead.
With --records DIR the records in that data directory take effect at the time
the work was done: an isolated chamber is not compared, a repair ends findings,
a recalibration begins a new normal.`,
		RunE: func(c *cobra.Command, args []string) error {
			if err := history.check(c, args); err != nil {
				return err
			}
			cfg, err := config.Load(config.LoadOptions{File: file, WithoutSecrets: true})
			if err != nil {
				return err
			}
			if err := onlyGauges(cfg, gauges); err != nil {
				return withCode(exitUsage, err)
			}
			works, err := recorded(c.Context(), cfg, file, book)
			if err != nil {
				return err
			}
			from, err := history.opener(c.Context(), cfg, args)
			if err != nil {
				return err
			}
			defer from.close() // only read
			return replayPast(c.Context(), cfg, from, works, output, c.OutOrStdout(), c.ErrOrStderr())
		},
	}
	c.Flags().StringVar(&file, "config", "bridlewatch.yaml", "configuration file")
	c.Flags().StringArrayVar(&gauges, "gauge", nil, "tag of a gauge to replay, repeatable; none: all")
	history.add(c.Flags())
	c.Flags().StringVar(&book, "records", "", "data directory whose records of what people did count; none unless given")
	outputFlag(c.Flags(), &output, "findings as text or json lines on standard output")
	return c
}

// onlyGauges leaves the named gauges in the configuration; no name leaves all.
func onlyGauges(cfg *config.Config, tags []string) error {
	if len(tags) == 0 {
		return nil
	}
	var kept []config.Gauge
	for _, tag := range tags {
		i := slices.IndexFunc(cfg.Gauges, func(g config.Gauge) bool { return g.Sheet.Tag == tag })
		if i < 0 {
			return fmt.Errorf("no gauge %s in the configuration", tag)
		}
		kept = append(kept, cfg.Gauges[i])
	}
	cfg.Gauges = kept
	return nil
}

// recorded reads what people did at the gauges from a data directory no service
// has open; nothing where no directory is named.
func recorded(ctx context.Context, cfg *config.Config, file, dir string) (works map[string][]compare.Work, err error) {
	if dir == "" {
		return nil, nil
	}
	if _, err := os.Stat(dir); err != nil {
		return nil, fmt.Errorf("--records: %w", err)
	}
	l, err := openLocalBook(ctx, file, dir)
	if err != nil {
		return nil, fmt.Errorf("%w; while a service runs, name a copy of its directory", err)
	}
	defer func() { err = errors.Join(err, l.close()) }()
	works = map[string][]compare.Work{}
	for i := range cfg.Gauges {
		tag := cfg.Gauges[i].Sheet.Tag
		if works[tag], err = l.book.Works(ctx, tag); err != nil {
			return nil, err
		}
	}
	return works, nil
}

func replayPast(ctx context.Context, cfg *config.Config, from *opener, works map[string][]compare.Work, output string, stdout, stderr io.Writer) error {
	h, err := from.open(cfg)
	if err != nil {
		return err
	}
	defer h.Close() // only read
	printer := newFindingPrinter(output, stdout)
	bar := newProgress(stderr, h)
	sum, err := watch.Replay(ctx, cfg, h, works, printer.change, bar.show)
	bar.clear()
	if err != nil {
		return err
	}
	reportTroubles(stderr, h)
	if sum.Snapshots == 0 {
		return errors.New("nothing was replayed: no row of the history could be used")
	}
	if output == "json" {
		return json.NewEncoder(stdout).Encode(map[string]watch.Summary{"summary": sum})
	}
	return printSummary(stdout, sum)
}

func historyOptions(cfg *config.Config) replay.Options {
	o := replay.Options{TimeColumn: cfg.History.TimeColumn, TimeFormat: cfg.History.TimeFormat, Zone: cfg.History.Zone, Missing: cfg.History.Missing, DecimalComma: cfg.History.DecimalComma}
	switch cfg.History.Separator {
	case "tab":
		o.Comma = '\t'
	case ";":
		o.Comma = ';'
	}
	return o
}

func historySignals(cfg *config.Config) []replay.Signal {
	ages := map[string]time.Duration{}
	for _, s := range cfg.Sources {
		ages[s.Name] = s.MaxAge
	}
	var out []replay.Signal
	for _, g := range cfg.Gauges {
		for _, s := range g.Signals {
			out = append(out, replay.Signal{Tag: collector.Tag(s.Tag), Column: s.Column, MaxAge: ages[s.Source]})
		}
	}
	return out
}

func printSummary(w io.Writer, s watch.Summary) error {
	fmt.Fprintf(w, "\n%d snapshots from %s to %s\n", s.Snapshots, s.From.Format(time.RFC3339), s.To.Format(time.RFC3339))
	for _, g := range s.Gauges {
		if _, err := fmt.Fprintf(w, "%-12s %d alerts, %d watched only, %d open at the end. %s\n", g.Gauge, g.Alerts, g.Watches, g.Open, g.Headline); err != nil {
			return err
		}
		for _, t := range g.Told {
			lasted := "open at the end"
			if !t.Closed.IsZero() {
				lasted = "for " + times.Span(t.Closed.Sub(t.Raised))
			}
			fmt.Fprintf(w, "  %s  %-15s  %s\n", t.Raised.Format("2006-01-02 15:04"), lasted, t.Sentence)
		}
		for _, x := range g.Silent {
			announced := ""
			if x.Alerts > 0 {
				announced = fmt.Sprintf(", %d of them announced", x.Alerts)
			}
			fmt.Fprintf(w, "  no usable reading of %s %d times, %s at the longest%s\n", x.Tag, x.Times, times.Span(x.Longest), announced)
		}
	}
	return nil
}

// progress draws how much of the files was read, on a terminal only.
type progress struct {
	w     io.Writer
	h     past
	began time.Time
	last  time.Time
}

func newProgress(w io.Writer, h past) *progress {
	if f, ok := w.(*os.File); !ok || !term.IsTerminal(int(f.Fd())) {
		return &progress{}
	}
	return &progress{w: w, h: h, began: time.Now()}
}

const barWidth = 40

func (p *progress) show() {
	if p.w == nil || time.Since(p.last) < 100*time.Millisecond {
		return
	}
	p.last = time.Now()
	done, total := p.h.Progress()
	if total == 0 {
		return
	}
	full := int(done * barWidth / total)
	fmt.Fprintf(p.w, "\r[%s%s] %3d %%  %s", strings.Repeat("#", full), strings.Repeat(".", barWidth-full),
		done*100/total, time.Since(p.began).Round(time.Second))
}

func (p *progress) clear() {
	if p.w != nil {
		fmt.Fprintf(p.w, "\r%s\r", strings.Repeat(" ", barWidth+20))
	}
}
