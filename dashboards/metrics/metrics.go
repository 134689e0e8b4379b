// Package metrics publishes what a monitoring system wants to know about the
// gauges and the service, in the text format of Prometheus. A gauge without
// fresh samples has no gap and no level here: a last value is never repeated
// for ever.
package metrics

import (
	"net/http"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"bridlewatch/compare"
	"bridlewatch/compare/gauge"
	"bridlewatch/dashboards/plant"
)

// Handler answers a scrape with the plant and whatever else is to be collected.
func Handler(p plant.Plant, more ...prometheus.Collector) http.Handler {
	r := prometheus.NewRegistry()
	r.MustRegister(&collector{p}, collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	r.MustRegister(more...)
	return promhttp.HandlerFor(r, promhttp.HandlerOpts{})
}

// collector reads the plant at each scrape.
type collector struct{ plant plant.Plant }

var _ prometheus.Collector = (*collector)(nil)

func desc(name, help string, labels ...string) *prometheus.Desc {
	return prometheus.NewDesc("bridlewatch_"+name, help, labels, nil)
}

var (
	assessed     = desc("assessed", "1 for the category a gauge is in, 0 for the others.", "gauge", "category")
	lastSample   = desc("last_sample_timestamp_seconds", "Newest usable sample of a level instrument.", "gauge")
	levelMetres  = desc("level_meters", "Level above the lower tap.", "gauge", "instrument")
	gapMetres    = desc("gap_meters", "Difference of two levels.", "gauge", "pair")
	budgetMetres = desc("gap_budget_meters", "What the difference may be.", "gauge", "pair")
	findings     = desc("findings", "Open findings.", "gauge", "tier")
	sourceUp     = desc("source_up", "1 when the last poll of the source succeeded.", "source")
	sourceReads  = desc("source_reads_total", "Polls of the source.", "source")
	sourceErrors = desc("source_errors_total", "Failed polls of the source.", "source")
	sourceTook   = desc("source_poll_duration_seconds", "Duration of the last poll.", "source")
	scans        = desc("scans_total", "Rounds of comparing.")
	skipped      = desc("scans_skipped_total", "Rounds left out because the one before had not ended.")
	scanTook     = desc("scan_duration_seconds", "Duration of the last round.")
	storeBytes   = desc("store_bytes", "Size of the history.")
	storeOK      = desc("store_writable", "1 when history is being recorded.")
	configOK     = desc("config_last_reload_successful", "0 when a new configuration was refused.")
	clockOffset  = desc("clock_offset_seconds", "Offset of the clock of the box, where it is known.")
	forwardLag   = desc("forward_lag_seconds", "Age of the oldest value the central store has not; absent when none is configured.")
	forwardOK    = desc("forward_up", "1 when the copy to the central store has no trouble.")
	info         = desc("build_info", "Version of the program and of its configuration.", "version", "config")
)

// Describe names every metric.
func (c *collector) Describe(ch chan<- *prometheus.Desc) { prometheus.DescribeByCollect(c, ch) }

// Collect reads the plant.
func (c *collector) Collect(ch chan<- prometheus.Metric) {
	now := c.plant.Now()
	for _, g := range c.plant.Gauges() {
		category := g.Category(now)
		for _, k := range []compare.Category{compare.Failure, compare.FunctionCheck, compare.OutOfSpec, compare.MaintenanceDue, compare.NotSeenCategory, compare.GoodCategory} {
			value(ch, assessed, one(k == category), g.Sheet.Tag, string(k))
		}
		if !g.LastSample.IsZero() {
			value(ch, lastSample, float64(g.LastSample.UnixMilli())/1e3, g.Sheet.Tag)
		}
		if category != compare.NotSeenCategory {
			collectGauge(ch, g)
		}
	}
	collectService(ch, c.plant.Health())
}

func collectGauge(ch chan<- prometheus.Metric, g plant.GaugeView) {
	tag, m := g.Sheet.Tag, &g.Result.Measurement
	if m.Float.OK() {
		value(ch, levelMetres, float64(m.Float.Value), tag, "float")
	}
	if m.Transmitter.OK() {
		value(ch, levelMetres, float64(m.Transmitter.Value), tag, "transmitter")
	}
	if m.Second.OK() {
		value(ch, levelMetres, float64(m.Second.Value), tag, "second")
	}
	for pair := range gauge.Pairs {
		if gap := m.Gaps[pair]; gap.OK {
			value(ch, gapMetres, float64(gap.Value), tag, pairName[pair])
			value(ch, budgetMetres, float64(gap.Budget), tag, pairName[pair])
		}
	}
	tiers := map[string]int{"watch": 0, "alert": 0}
	for _, f := range g.Result.Findings {
		tiers[string(f.Tier)]++
	}
	for tier, n := range tiers {
		value(ch, findings, float64(n), tag, tier)
	}
}

// pairName names pairs the way the stored series do.
var pairName = [gauge.Pairs]string{"float-transmitter", "vessel-transmitter", "vessel-float", "float-second", "transmitter-second", "vessel-second"}

func collectService(ch chan<- prometheus.Metric, h plant.Health) {
	for _, s := range h.Sources {
		value(ch, sourceUp, one(s.OK), s.Name)
		counter(ch, sourceReads, s.Reads, s.Name)
		counter(ch, sourceErrors, s.Errors, s.Name)
		value(ch, sourceTook, s.Took.Seconds(), s.Name)
	}
	counter(ch, scans, h.Scan.Scans)
	counter(ch, skipped, h.Scan.Skipped)
	value(ch, scanTook, h.Scan.Took.Seconds())
	value(ch, storeBytes, float64(h.Store.Bytes))
	value(ch, storeOK, one(h.Store.Error == ""))
	value(ch, configOK, one(h.ConfigError == ""))
	if h.Clock.Known {
		value(ch, clockOffset, h.Clock.Offset.Seconds())
	}
	if f := h.Forward; f != nil {
		value(ch, forwardLag, f.Behind.Seconds())
		value(ch, forwardOK, one(f.Trouble == ""))
	}
	value(ch, info, 1, h.Version, h.ConfigVersion)
}

func value(ch chan<- prometheus.Metric, d *prometheus.Desc, v float64, labels ...string) {
	ch <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, v, labels...)
}

func counter(ch chan<- prometheus.Metric, d *prometheus.Desc, v uint64, labels ...string) {
	ch <- prometheus.MustNewConstMetric(d, prometheus.CounterValue, float64(v), labels...)
}

func one(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}
