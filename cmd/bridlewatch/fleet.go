package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"bridlewatch/collector/store/influx"
	"bridlewatch/compare"
	"bridlewatch/config"
	"bridlewatch/dashboards/plant"
)

func newFleet() *cobra.Command {
	c := &cobra.Command{
		Use:   "fleet",
		Short: "List the boxes that feed the central store: how far behind each is, and its worst gauge",
		Args:  cobra.NoArgs,
	}
	var age time.Duration
	configured(c, false, func(cfg *config.Config) error {
		if cfg.Influx == nil {
			return withCode(exitUsage, errors.New("the configuration names no central store; add the section influx"))
		}
		fleet, err := openFleet(cfg.Influx)
		if err != nil {
			return withCode(exitUsage, err)
		}
		defer fleet.close()
		boxes, err := fleet.Boxes(c.Context(), age)
		if err != nil {
			return withCode(exitUnreachable, err)
		}
		now := time.Now()
		for _, b := range boxes {
			fmt.Fprintf(c.OutOrStdout(), "%-20s %-12s %s\n", b.Site, b.Box, boxLine(b, now))
		}
		fmt.Fprintf(c.OutOrStdout(), "%d boxes within %s\n", len(boxes), age)
		return nil
	})
	c.Flags().DurationVar(&age, "age", 24*time.Hour, "how long ago a box may have been alive")
	return c
}

// boxLine is one box in a line.
func boxLine(b plant.BoxView, now time.Time) string {
	s := fmt.Sprintf("reported %s, behind %s, %d values refused", b.Reported.UTC().Format(time.RFC3339), b.Behind.Round(time.Second), b.Rejected)
	if b.Detailed {
		s += fmt.Sprintf(", %d gauges, worst: %s, %d alerts, %d not acknowledged", b.Gauges, b.Worst, b.Alerts, b.Unacknowledged)
	}
	if b.Silent(now) {
		s += fmt.Sprintf("; SILENT for %s, what it said is old", now.Sub(b.Reported).Round(time.Minute))
	}
	return s
}

// fleet reads what boxes report from the central store.
type fleet struct {
	central *influx.Central
	borrows bool // reads with the token that is meant for writing

	mu    sync.Mutex
	asked time.Time
	age   time.Duration
	boxes []plant.BoxView
}

var _ plant.Fleet = (*fleet)(nil)

func openFleet(c *config.Influx) (*fleet, error) {
	server, err := influxServer(c)
	if err != nil {
		return nil, err
	}
	own := c.ReadToken
	if !own.IsZero() {
		server.Token = own.Reveal()
	}
	return &fleet{central: influx.OpenCentral(server), borrows: own.IsZero()}, nil
}

// advice adds to a refusal what the configuration can do about it.
func (f *fleet) advice(err error) error {
	switch {
	case !errors.Is(err, influx.ErrMayNotRead):
		return err
	case f.borrows:
		return fmt.Errorf("%w; influx.read_token is not set, so the token for writing was used: give influx.read_token one that may read", err)
	default:
		return fmt.Errorf("%w; check the token that influx.read_token refers to", err)
	}
}

func (f *fleet) close() { f.central.Close() }

// remembered is how long an answer serves every page: boxes report once a
// minute, and the central store is asked no more often for many readers.
const remembered = 10 * time.Second

// Boxes returns every box that was heard within age, by site and box.
func (f *fleet) Boxes(ctx context.Context, age time.Duration) ([]plant.BoxView, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.age == age && time.Since(f.asked) < remembered {
		return slices.Clone(f.boxes), nil
	}
	found, err := f.central.Boxes(ctx, age)
	if err != nil {
		return nil, f.advice(err)
	}
	f.asked, f.age, f.boxes = time.Now(), age, nil
	for _, b := range found {
		v := plant.BoxView{Site: b.Site, Box: b.Box, Reported: b.Alive, Behind: b.Lag, Rejected: b.Rejected, Worst: plant.Numbered(0), Gauges: b.Gauges}
		if s := b.State; s != nil {
			v.Detailed, v.Worst, v.Alerts, v.Unacknowledged, v.Version, v.URL = true, plant.Numbered(s.Worst), s.Alerts, s.Unacknowledged, s.Version, s.URL
		}
		f.boxes = append(f.boxes, v)
	}
	return slices.Clone(f.boxes), nil
}

// BoxGauges returns what one box last said of each of its gauges, worst first.
func (f *fleet) BoxGauges(ctx context.Context, site, box string, age time.Duration) ([]plant.BoxGauge, error) {
	found, err := f.central.Gauges(ctx, influx.Origin{Site: site, Box: box}, age)
	if err != nil {
		return nil, f.advice(err)
	}
	out := make([]plant.BoxGauge, len(found))
	for i, g := range found {
		out[i] = plant.BoxGauge{Gauge: g.Gauge, Reported: g.Time, Category: plant.Numbered(g.Category), Alerts: g.Alerts, Headline: g.Headline}
	}
	slices.SortStableFunc(out, func(a, b plant.BoxGauge) int { return plant.Worse(a.Category, b.Category) })
	return out, nil
}

// fleetView is what the pages may ask; nil without a central store.
func (s *station) fleetView() plant.Fleet {
	if s.fleet == nil {
		return nil
	}
	return s.fleet
}

// state is what this box reports of its gauges.
func (s *station) state() influx.State {
	now, gauges := s.watch.Now(), s.watch.Gauges()
	open, err := s.desk.Open(context.Background())
	if err != nil {
		s.log.Warn("open alerts are not in the report to the central store", "error", err)
	}
	alerts := map[string]int{}
	out := influx.State{Alerts: len(open), Version: programVersion(), URL: s.config.Service.ExternalURL}
	for i := range open {
		alerts[open[i].Gauge]++
		if open[i].Acknowledged.IsZero() {
			out.Unacknowledged++
		}
	}
	worst := compare.GoodCategory
	for i := range gauges {
		g := &gauges[i]
		category := g.Category(now)
		report := influx.GaugeState{Gauge: g.Sheet.Tag, Category: plant.Number(category), Alerts: alerts[g.Sheet.Tag]}
		if category != compare.GoodCategory {
			report.Headline = g.Result.Headline
		}
		if plant.Worse(category, worst) < 0 {
			worst = category
		}
		out.Gauges = append(out.Gauges, report)
	}
	out.Worst = plant.Number(worst)
	return out
}
