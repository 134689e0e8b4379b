package poll_test

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/testutil"

	"bridlewatch/collector"
	"bridlewatch/collector/collectortest"
	"bridlewatch/collector/poll"
)

// counted is a source that counts.
type counted struct{ *collectortest.Source }

func (counted) Counters() collector.Counters {
	return collector.Counters{Requests: 7, Timeouts: 1, StaleFrames: 2, Reconnects: 3, BreakersOpen: 1}
}

func TestMetrics(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := collectortest.NewSource(poll.System{}, "skid", "LT-1", "LT-2")
		s.Set("LT-1", 1)
		p := newPoller(t, 0, poll.Job{Source: counted{s}, Every: time.Second})
		run(t, p, 5*time.Second+time.Millisecond, nil)
		s.SetSample(collector.Sample{Tag: "LT-1", Quality: 4, SourceTime: time.Now().Add(-2 * time.Second)})
		run(t, p, time.Second, nil)
		const want = `
# HELP bridlewatch_poll_bad_samples Samples of the last read that may not be used.
# TYPE bridlewatch_poll_bad_samples gauge
bridlewatch_poll_bad_samples{source="skid"} 1
# HELP bridlewatch_poll_breakers_open Units left alone because they do not answer.
# TYPE bridlewatch_poll_breakers_open gauge
bridlewatch_poll_breakers_open{source="skid"} 1
# HELP bridlewatch_poll_scans_total Reads done.
# TYPE bridlewatch_poll_scans_total counter
bridlewatch_poll_scans_total{source="skid"} 6
# HELP bridlewatch_poll_stale_frames_total Late or repeated answers thrown away.
# TYPE bridlewatch_poll_stale_frames_total counter
bridlewatch_poll_stale_frames_total{source="skid"} 2
# HELP bridlewatch_poll_clock_behind_seconds How far the clock of the source is behind ours; absent when it gives no times.
# TYPE bridlewatch_poll_clock_behind_seconds gauge
bridlewatch_poll_clock_behind_seconds{source="skid"} 2.999
# HELP bridlewatch_poll_clock_steps_total Jumps of the wall clock noticed.
# TYPE bridlewatch_poll_clock_steps_total counter
bridlewatch_poll_clock_steps_total 0
`
		err := testutil.CollectAndCompare(p, strings.NewReader(want), "bridlewatch_poll_bad_samples", "bridlewatch_poll_breakers_open",
			"bridlewatch_poll_scans_total", "bridlewatch_poll_stale_frames_total", "bridlewatch_poll_clock_behind_seconds", "bridlewatch_poll_clock_steps_total")
		if err != nil {
			t.Error(err)
		}
		if problems, err := testutil.CollectAndLint(p); err != nil || len(problems) > 0 {
			t.Errorf("%v %v", problems, err)
		}
		if err := prometheus.NewRegistry().Register(p); err != nil {
			t.Error(err)
		}
	})
}
