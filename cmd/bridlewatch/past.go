package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector/replay"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/config"
)

// pastFlags say which history is read: files of a historian, or what a service
// kept in its data directory.
type pastFlags struct{ data, from, to string }

func (p *pastFlags) add(fl *pflag.FlagSet) {
	fl.StringVar(&p.data, "data", "", "data directory of a service whose own history is read instead of files; the service may run meanwhile")
	fl.StringVar(&p.from, "from", "", "with --data, begin: a date, or a time with its offset (RFC 3339); empty: from its begin")
	fl.StringVar(&p.to, "to", "", "with --data, end, exclusive; empty: to its end")
}

// check refuses words that do not go together.
func (p *pastFlags) check(c *cobra.Command, files []string) error {
	switch {
	case p.data == "" && len(files) == 0:
		return withCode(exitUsage, fmt.Errorf("no history given: name files of a historian, or the data directory of a service with --data; see %s --help", c.CommandPath()))
	case p.data != "" && len(files) > 0:
		return withCode(exitUsage, fmt.Errorf("--data %s and files were given; history is read from one of them", p.data))
	case p.data == "" && p.from+p.to != "":
		return withCode(exitUsage, errors.New("--from and --to need --data; files are read whole"))
	}
	return nil
}

// past is one pass through history.
type past interface {
	watch.History
	Progress() (done, total int64)
	Troubles() []string // what could not be used
	Close() error
}

// opener opens history as often as it is read.
type opener struct {
	open  func(cfg *config.Config) (past, error)
	close func() error
}

// opener finds the history once; what it says of a gauge is asked for later.
func (p *pastFlags) opener(ctx context.Context, cfg *config.Config, files []string) (*opener, error) {
	if p.data == "" {
		return &opener{func(cfg *config.Config) (past, error) {
			h, err := replay.Open(files, historyOptions(cfg), historySignals(cfg))
			return filesPast{h}, err
		}, func() error { return nil }}, nil
	}
	db, err := embedded.OpenView(ctx, p.data)
	if err != nil {
		return nil, fmt.Errorf("--data: %w", err)
	}
	from, to, err := p.between(ctx, db, cfg.Site.TimeZone)
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return &opener{func(cfg *config.Config) (past, error) {
		h, err := watch.OpenKept(ctx, db, cfg, from, to)
		return keptPast{h}, err
	}, db.Close}, nil
}

// between reads the begin and the end of what is asked for: all there is where
// nothing is said.
func (p *pastFlags) between(ctx context.Context, db *embedded.DB, zone *time.Location) (from, to time.Time, err error) {
	if from, to, err = db.Extent(ctx); err == nil && from.IsZero() {
		err = fmt.Errorf("history in %s is empty", p.data)
	}
	if p.from != "" && err == nil {
		if from, err = readTime(p.from, zone); err != nil {
			err = withCode(exitUsage, fmt.Errorf("--from: %w", err))
		}
	}
	if p.to != "" && err == nil {
		if to, err = readTime(p.to, zone); err != nil {
			err = withCode(exitUsage, fmt.Errorf("--to: %w", err))
		}
	}
	return from, to, err
}

// filesPast is history in files.
type filesPast struct{ *replay.Reader }

// Troubles are the first cells and rows that could not be used, and how many more.
func (f filesPast) Troubles() (list []string) {
	t := f.Reader.Troubles()
	for _, x := range t.First {
		list = append(list, x.String())
	}
	if more := t.Count - len(t.First); more > 0 {
		list = append(list, fmt.Sprintf("and %d more cells or rows that could not be used", more))
	}
	return list
}

// keptPast is history a service kept.
type keptPast struct{ *watch.Kept }

func (k keptPast) Troubles() []string { return k.Missing }
func (k keptPast) Close() error       { return nil }

func reportTroubles(w io.Writer, p past) {
	for _, x := range p.Troubles() {
		fmt.Fprintln(w, x)
	}
}
