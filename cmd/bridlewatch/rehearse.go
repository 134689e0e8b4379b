package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bridlewatch/cmd/bridlewatch/rehearsal"
	"bridlewatch/cmd/bridlewatch/watch"
	"bridlewatch/collector/store/replacement"
	"bridlewatch/compare/scenario"
	"bridlewatch/config"
	"bridlewatch/dashboards"
)

// rehearseFlags are the flags of the rehearse command.
type rehearseFlags struct {
	config string
	speed  float64
	faults []string
	span   time.Duration
	listen string
	data   string
	seed   uint64
	output string
	write  string
	gauges int  // of a large plant; 0: none
	bare   bool // the plant alone, for a service of its own
}

func newRehearse() *cobra.Command {
	var f rehearseFlags
	c := &cobra.Command{
		Use:   "rehearse",
		Short: "Run the whole service against a simulated plant",
		Long: `rehearse starts a simulated plant as real Modbus TCP and OPC UA servers on
loopback and runs the service against it: raw signals, levels, comparison,
findings, history and pages are those of a real plant. Nothing leaves the
machine.

Without --fault two faults develop by themselves. --fault list prints what can
be asked for.`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if len(f.faults) == 1 && f.faults[0] == "list" {
				return listFaults(c.OutOrStdout())
			}
			return rehearse(c.Context(), f, c.Flags().Changed("listen"), c.OutOrStdout(), c.ErrOrStderr())
		},
	}
	fl := c.Flags()
	fl.StringVar(&f.config, "config", "", "rehearse this configuration instead of the embedded plant")
	fl.Float64Var(&f.speed, "speed", rehearsal.DefaultSpeed, "simulated seconds per second")
	fl.StringArrayVar(&f.faults, "fault", nil, "fault as TAG:KIND[=SIZE][@DELAY], repeatable; list prints the kinds; none: a healthy plant")
	fl.DurationVar(&f.span, "for", 0, "stop after this time by the clock on the wall; 0: until interrupted")
	fl.StringVar(&f.listen, "listen", "127.0.0.1:8080", "address of the pages")
	fl.StringVar(&f.data, "data", "", "data directory, kept afterwards; empty: a temporary one")
	fl.Uint64Var(&f.seed, "seed", 1, "seed of everything random")
	outputFlag(fl, &f.output, "findings as text or json lines on standard output")
	fl.StringVar(&f.write, "write-config", "", "write the configuration with the servers' real addresses to this file, for other clients")
	fl.IntVar(&f.gauges, "gauges", 0, "rehearse a plant of so many gauges with six signals each, all healthy")
	fl.BoolVar(&f.bare, "plant-only", false, "run the simulated plant at the speed of time and no service")
	_, _ = fl.MarkHidden("gauges"), fl.MarkHidden("plant-only") // for measuring; both exist
	return c
}

func listFaults(w io.Writer) error {
	for _, k := range scenario.Kinds() {
		if _, err := fmt.Fprintf(w, "%-24s %s\n", k.Kind, k.Text); err != nil {
			return err
		}
	}
	return nil
}

// rehearse runs one rehearsal to its end.
func rehearse(ctx context.Context, f rehearseFlags, fixedPort bool, stdout, stderr io.Writer) (err error) {
	if f.span > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, f.span)
		defer cancel()
	}
	log := slog.New(slog.NewTextHandler(stderr, &slog.HandlerOptions{Level: slog.LevelWarn}))
	slog.SetDefault(log) // the protocol libraries write to the standard logger: below warn, not shown
	plant, err := startPlant(ctx, f)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, plant.Close()) }()
	if f.bare {
		return runPlant(ctx, plant, f.write)
	}

	dir, remove, err := dataDir(f.data)
	if err != nil {
		return err
	}
	defer remove()

	src, err := openFeed(plant.Config(), dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, src.poller.Close()) }()
	out := newFindingPrinter(f.output, stdout)
	s, err := openStation(ctx, plant.Config(), log, stationOptions{
		dir: dir, batch: f.speed > 5, rehearsal: plant.Text(), onChange: out.change, now: plant.Clock,
		health: withoutSkew(src.health(plant.Config(), rehearsedFile(f.config), time.Now(), nil)),
	})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.close()) }()
	if err := s.listen(f.listen, !fixedPort); err != nil {
		return err
	}

	if f.write != "" {
		if err := writeConfig(f.write, plant.Config()); err != nil {
			return err
		}
	}
	fmt.Fprintf(stderr, "REHEARSAL, not a plant. %s\n", plant.Text())
	for _, src := range plant.Config().Sources {
		fmt.Fprintf(stderr, "Simulated: %s, %s at %s%s\n", src.Name, src.Protocol, src.Address, src.Endpoint)
	}
	fmt.Fprintf(stderr, "Pages: %s   (stop with Ctrl-C)\n", s.url())
	pages := make(chan error, 1)
	go func() { pages <- s.run(ctx) }()
	runErr := drive(ctx, plant, src, s.watch, f.speed)
	if runErr == nil {
		runErr = <-pages
	}
	return errors.Join(runErr, out.finish(plant.Clock()))
}

// runPlant moves the simulated plant second by second with the clock on the
// wall, for a service in another process.
func runPlant(ctx context.Context, plant *rehearsal.Plant, write string) error {
	if write != "" {
		if err := writeConfig(write, plant.Config()); err != nil {
			return err
		}
	}
	tick := time.NewTicker(time.Second)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case now := <-tick.C:
			if err := plant.Advance(now.UTC()); err != nil {
				return fmt.Errorf("advance the simulated plant: %w", err)
			}
		}
	}
}

func startPlant(ctx context.Context, f rehearseFlags) (*rehearsal.Plant, error) {
	o := rehearsal.Options{Speed: f.speed, Seed: f.seed}
	if f.config != "" {
		cfg, err := config.Load(config.LoadOptions{File: f.config})
		if err != nil {
			return nil, err
		}
		o.Config = cfg
	}
	if f.gauges > 0 {
		cfg, err := rehearsal.Large(f.gauges)
		if err != nil {
			return nil, err
		}
		o.Config = cfg
	}
	switch {
	case len(f.faults) == 0 && f.config == "" && f.gauges == 0:
		o.Faults = rehearsal.DefaultFaults()
	case len(f.faults) == 1 && f.faults[0] == "none":
	default:
		for _, text := range f.faults {
			fault, err := scenario.ParseFault(text)
			if err != nil {
				return nil, withCode(exitUsage, err)
			}
			o.Faults = append(o.Faults, fault)
		}
	}
	p, err := rehearsal.Start(ctx, o)
	if err != nil {
		return nil, withCode(exitUsage, err)
	}
	return p, nil
}

// withoutSkew leaves out how far the clocks of the sources are off: they run at
// the speed of the rehearsal.
func withoutSkew(health func(*dashboards.Health)) func(*dashboards.Health) {
	return func(h *dashboards.Health) {
		health(h)
		for i := range h.Sources {
			h.Sources[i].SkewKnown = false
		}
	}
}

// rehearsedFile names where the configuration of the rehearsal is from.
func rehearsedFile(given string) string {
	if given == "" {
		return "the plant inside the program"
	}
	return absolute(given)
}

// writeConfig is for who waits for the file and then reads all of it.
func writeConfig(file string, cfg *config.Config) error {
	return replacement.Write(file, 0o644, func(w io.Writer) error { return config.Print(cfg, w) })
}

// dataDir returns the directory to use and what to do with it afterwards.
func dataDir(given string) (dir string, remove func(), err error) {
	if given != "" {
		return given, func() {}, os.MkdirAll(given, 0o700)
	}
	dir, err = os.MkdirTemp("", "bridlewatch-rehearsal-")
	if err != nil {
		return "", nil, fmt.Errorf("make temporary data directory: %w", err)
	}
	return dir, func() { _ = os.RemoveAll(dir) }, nil // temporary: nothing is lost
}

// Cycles per second aimed at, and the coarsest step: detectors want several
// samples in a minute of fast movement, but at an hour a second one must do.
const (
	cyclesPerSecond = 20
	coarsestStep    = time.Minute
)

// step chooses how much simulated time passes between two cycles.
func step(speed float64, scanEvery time.Duration) time.Duration {
	s := time.Duration(speed / cyclesPerSecond * float64(time.Second)).Round(time.Second)
	return min(max(s, scanEvery, time.Second), coarsestStep)
}

// drive moves the simulated plant, polls it over its real servers and has the
// watch look, in lock step, until ctx ends. A machine too slow for the speed
// makes simulated time run slower; no cycle is left out.
func drive(ctx context.Context, plant *rehearsal.Plant, src *feed, w *watch.Watch, speed float64) error {
	dt := step(speed, plant.Config().Service.ScanEvery)
	every := time.Duration(float64(dt) / speed)
	due := time.Now()
	for at := plant.Clock().Add(dt); ctx.Err() == nil; at = at.Add(dt) {
		if err := plant.Advance(at); err != nil {
			return fmt.Errorf("advance the simulated plant: %w", err)
		}
		snapshot := src.poller.Once(ctx, at)
		if ctx.Err() != nil {
			return nil
		}
		w.Cycle(ctx, src.arrange(snapshot))
		if due = due.Add(every); time.Until(due) > 0 {
			select {
			case <-ctx.Done():
				return nil
			case <-time.After(time.Until(due)):
			}
		} else if time.Since(due) > time.Second {
			due = time.Now() // behind: do not race to catch up
		}
	}
	return nil
}

// findingPrinter writes findings as they come and a summary at the end.
type findingPrinter struct {
	lines *watch.Lines // nil: text
	w     io.Writer
	count map[string]int
}

func newFindingPrinter(output string, w io.Writer) *findingPrinter {
	p := &findingPrinter{w: w, count: map[string]int{}}
	if output == "json" {
		p.lines = watch.NewLines(w)
	}
	return p
}

func (p *findingPrinter) change(c watch.Change) {
	p.count[c.What]++
	if p.lines != nil {
		p.lines.Write(watch.LineOf(c))
		return
	}
	fmt.Fprintln(p.w, textLine(c))
}

// textLine is one change for people.
func textLine(c watch.Change) string {
	f := c.Finding
	var b strings.Builder
	fmt.Fprintf(&b, "%s  %-8s %-5s %s: %s", c.Time.Format("2006-01-02 15:04:05"), c.What, f.Tier, f.Gauge, f.Sentence)
	if f.Next != "" && c.What != "closed" {
		b.WriteString(" " + f.Next)
	}
	return b.String()
}

func (p *findingPrinter) finish(at time.Time) error {
	if p.lines != nil {
		return p.lines.Err()
	}
	_, err := fmt.Fprintf(p.w, "Rehearsed until %s: %d findings opened, %d became alerts later, %d closed.\n",
		at.Format(time.RFC3339), p.count["opened"], p.count["upgraded"], p.count["closed"])
	return err
}
