package load

import (
	"context"
	"fmt"
	"slices"
	"time"
)

// book is what was noted of one moment.
type book struct {
	use
	health
	disk int64
}

func (o Options) note(ctx context.Context, base, data string, pid int) (b book, err error) {
	if b.use, err = usedBy(pid); err != nil {
		return b, err
	}
	b.disk = diskUse(data)
	b.health, err = healthOf(ctx, base)
	return b, err
}

// errors counts the reads that brought nothing.
func (b book) errors() (n uint64) {
	for _, s := range b.Sources {
		n += s.Errors
	}
	return n
}

// watch keeps the books until the time is over.
func watch(ctx context.Context, o Options, base, data string, pid int, got *said) error {
	if err := pause(ctx, warmUp); err != nil {
		return err
	}
	first, err := o.note(ctx, base, data, pid)
	if err != nil {
		return err
	}
	fmt.Fprintf(o.Out, "%8s %7s %8s %8s %9s %9s %8s %7s\n", "after", "CPU %", "RSS MB", "disk MB", "age p50", "age max", "scans", "skipped")
	var ages []time.Duration
	last := first
	for end := first.at.Add(o.For); time.Now().Before(end); {
		var fresh []time.Duration
		for next := last.at.Add(o.Every); time.Now().Before(next); {
			if err := pause(ctx, 470*time.Millisecond); err != nil { // in step with nothing
				return err
			}
			if h, err := healthOf(ctx, base); err == nil {
				fresh = append(fresh, time.Since(h.Now))
			}
		}
		now, err := o.note(ctx, base, data, pid)
		if err != nil {
			return err
		}
		line(o, first, last, now, fresh)
		ages, last = append(ages, fresh...), now
	}
	return verdict(o, first, last, ages, got)
}

func pause(ctx context.Context, d time.Duration) error {
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(d):
		return nil
	}
}

func line(o Options, first, last, now book, ages []time.Duration) {
	fmt.Fprintf(o.Out, "%8s %7.1f %8.0f %8.1f %9s %9s %8d %7d\n", now.at.Sub(first.at).Round(time.Second), percent(last, now),
		float64(now.rss)/1e6, float64(now.disk)/1e6, of(ages, 50), of(ages, 100), now.Scans-first.Scans, now.Skipped-first.Skipped)
}

// percent is the processor time between two books, of one core.
func percent(a, b book) float64 { return 100 * (b.cpu - a.cpu).Seconds() / b.at.Sub(a.at).Seconds() }

// of is a percentile.
func of(all []time.Duration, percent int) time.Duration {
	if len(all) == 0 {
		return 0
	}
	s := slices.Sorted(slices.Values(all))
	return s[(len(s)-1)*percent/100].Round(time.Millisecond)
}

// verdict sums up, and is an error when the service did not keep up: scans
// were left out, reads failed, history stopped or pages were refused.
func verdict(o Options, first, last book, ages []time.Duration, got *said) error {
	span := last.at.Sub(first.at)
	scans, skipped, failed := last.Scans-first.Scans, last.Skipped-first.Skipped, last.errors()-first.errors()
	samples := float64(scans) * float64(o.Gauges)
	median, slow := got.slow()
	fmt.Fprintf(o.Out, `
%d gauges of six signals every second, %d readers, %s
processor      %.1f %% of one core, %.1f µs for each gauge and scan
memory         %.0f MB at the end, %.0f MB at most
disk           %.1f MB more, %.1f MB handed to the disk, %.1f GB a day before sealing
age of views   median %s, 99 %% within %s, at most %s
scans          %d, expected %d; %d left out; %d reads failed
pages          %d, median %s, 99 %% within %s; %d live events; %d failed
`, o.Gauges, o.Readers, span.Round(time.Second), percent(first, last), (last.cpu-first.cpu).Seconds()*1e6/max(1, samples),
		float64(last.rss)/1e6, float64(last.rssPeak)/1e6,
		float64(last.disk-first.disk)/1e6, float64(last.written-first.written)/1e6, float64(last.disk-first.disk)/1e9*float64(24*time.Hour)/float64(span),
		of(ages, 50), of(ages, 99), of(ages, 100), scans, int(span.Seconds()), skipped, failed,
		len(got.pages), median.Round(time.Millisecond), slow.Round(time.Millisecond), got.events, len(got.failed))
	for what, n := range got.failed {
		fmt.Fprintf(o.Out, "  %d times: %s\n", n, what)
	}
	if last.Stored != "" {
		return fmt.Errorf("history has stopped: %s", last.Stored)
	}
	if float64(skipped) > 0.001*float64(scans) || len(got.failed) > 0 {
		return fmt.Errorf("the service did not keep up: %d of %d scans left out, %d kinds of page failures", skipped, scans, len(got.failed))
	}
	return nil
}
