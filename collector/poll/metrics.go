package poll

import (
	"github.com/prometheus/client_golang/prometheus"
)

// metric is one number of the books of a source.
type metric struct {
	desc *prometheus.Desc
	kind prometheus.ValueType
	read func(Stats) float64
}

func counterOf(name, help string, read func(Stats) uint64) metric {
	return metric{describe(name+"_total", help), prometheus.CounterValue, func(s Stats) float64 { return float64(read(s)) }}
}

func gaugeOf(name, help string, read func(Stats) float64) metric {
	return metric{describe(name, help), prometheus.GaugeValue, read}
}

func describe(name, help string, labels ...string) *prometheus.Desc {
	return prometheus.NewDesc("bridlewatch_poll_"+name, help, append(labels, "source"), nil)
}

// metrics are published for every source.
var metrics = []metric{
	counterOf("scans", "Reads done.", func(s Stats) uint64 { return s.Scans }),
	counterOf("failures", "Reads that brought nothing at all.", func(s Stats) uint64 { return s.Failures }),
	counterOf("skipped", "Ticks the source was still busy at.", func(s Stats) uint64 { return s.Skipped }),
	counterOf("rested", "Ticks the source was left alone at after failures.", func(s Stats) uint64 { return s.Rested }),
	counterOf("late", "Reads that began more than a tenth of the interval late.", func(s Stats) uint64 { return s.Late }),
	counterOf("renewed", "Times the source was made to connect anew because nothing usable came.", func(s Stats) uint64 { return s.Renewed }),
	gaugeOf("duration_seconds", "Duration of the last read.", func(s Stats) float64 { return s.LastDuration.Seconds() }),
	gaugeOf("lateness_seconds", "How long after its tick the last read began.", func(s Stats) float64 { return s.Lateness.Seconds() }),
	gaugeOf("usable_samples", "Samples of the last read that may be used.", func(s Stats) float64 { return float64(s.Good) }),
	gaugeOf("bad_samples", "Samples of the last read that may not be used.", func(s Stats) float64 { return float64(s.Bad) }),
	counterOf("requests", "Requests sent to devices.", func(s Stats) uint64 { return s.Requests }),
	counterOf("timeouts", "Requests without an answer in time.", func(s Stats) uint64 { return s.Timeouts }),
	counterOf("exceptions", "Requests devices refused.", func(s Stats) uint64 { return s.Exceptions }),
	counterOf("bad_frames", "Answers that were not what was asked.", func(s Stats) uint64 { return s.BadFrames }),
	counterOf("stale_frames", "Late or repeated answers thrown away.", func(s Stats) uint64 { return s.StaleFrames }),
	counterOf("reconnects", "Connections made after the first.", func(s Stats) uint64 { return s.Reconnects }),
	counterOf("sent_bytes", "Bytes sent.", func(s Stats) uint64 { return s.BytesSent }),
	counterOf("received_bytes", "Bytes received.", func(s Stats) uint64 { return s.BytesReceived }),
	gaugeOf("refused_signals", "Signals the other end refuses.", func(s Stats) float64 { return float64(s.Refused) }),
	gaugeOf("breakers_open", "Units left alone because they do not answer.", func(s Stats) float64 { return float64(s.BreakersOpen) }),
}

var (
	ageMetric     = gaugeOf("age_seconds", "Time since the last read that brought something; absent before the first.", func(s Stats) float64 { return s.Age.Seconds() })
	skewMetric    = gaugeOf("clock_behind_seconds", "How far the clock of the source is behind ours; absent when it gives no times.", func(s Stats) float64 { return s.Skew.Seconds() })
	lineMetric    = gaugeOf("line_seconds", "Time the requests of one scan take on the line; absent where it is not known.", func(s Stats) float64 { return s.LineTime.Seconds() })
	skippedMetric = prometheus.NewDesc("bridlewatch_poll_snapshots_skipped_total", "Scan ticks at which the receiver was still busy.", nil, nil)
	stepsMetric   = prometheus.NewDesc("bridlewatch_poll_clock_steps_total", "Jumps of the wall clock noticed.", nil, nil)
)

var _ prometheus.Collector = (*Poller)(nil)

// Describe names every metric of the poller.
func (p *Poller) Describe(ch chan<- *prometheus.Desc) {
	for _, m := range metrics {
		ch <- m.desc
	}
	ch <- ageMetric.desc
	ch <- skewMetric.desc
	ch <- lineMetric.desc
	ch <- skippedMetric
	ch <- stepsMetric
}

// Collect publishes the books of every source.
func (p *Poller) Collect(ch chan<- prometheus.Metric) {
	for _, s := range p.Stats() {
		for _, m := range metrics {
			m.publish(ch, s)
		}
		if !s.LastSuccess.IsZero() {
			ageMetric.publish(ch, s)
		}
		if s.LineTime > 0 {
			lineMetric.publish(ch, s)
		}
		if s.SkewKnown {
			skewMetric.publish(ch, s)
		}
	}
	p.mu.Lock()
	skipped, steps := p.skipped, p.stepCount
	p.mu.Unlock()
	ch <- prometheus.MustNewConstMetric(skippedMetric, prometheus.CounterValue, float64(skipped))
	ch <- prometheus.MustNewConstMetric(stepsMetric, prometheus.CounterValue, float64(steps))
}

func (m metric) publish(ch chan<- prometheus.Metric, s Stats) {
	ch <- prometheus.MustNewConstMetric(m.desc, m.kind, m.read(s), s.Source)
}
