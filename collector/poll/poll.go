// Package poll reads sources on time and puts their samples together.
//
// Each source has one worker. Its ticks are aligned to the wall clock, so
// that the readings of one chamber are of one instant even when they come
// through different sources; where there are very many, those of different
// chambers may be given phases, so that not all the work is due at once. A
// source that is still busy when its tick comes
// is skipped, never queued; one that cannot be reached is tried again after a
// growing, jittered pause. Every read ends with the interval at the latest.
//
// Ages are measured with the monotonic clock and from the time of receipt: a
// device keeps the source time of a value that does not change, and a wall
// clock may be set.
package poll

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"bridlewatch/collector"
	"bridlewatch/compare/quantity"
)

// Job is one source and how often it is read.
type Job struct {
	Source collector.Source
	Every  time.Duration // interval, and the deadline of one read
	MaxAge time.Duration // after which a sample is Stale; 0 means three intervals
	Phase  time.Duration // how long after its tick it is read, less than half the interval
}

// Poller reads the sources of its jobs.
type Poller struct {
	clock   collector.Clock
	every   time.Duration
	workers []*worker
	may     func() bool // nil: always

	byPhase   []*worker       // the same in the order of their phases
	intervals []time.Duration // of the workers, each once

	mu        sync.Mutex
	newest    []held // in the order of the jobs and their tags
	skipped   uint64 // snapshots nobody had time for
	steps     []ClockStep
	stepCount uint64
}

// held is the newest sample of a tag and when it counts as too old.
type held struct {
	sample collector.Sample
	origin time.Time // the time the source gave it, to know a repetition by
	maxAge time.Duration
}

// New makes a poller that gives a snapshot every scan interval; 0 means the
// shortest interval of the jobs. A tag may come from one source only.
func New(jobs []Job, scan time.Duration, clock collector.Clock) (*Poller, error) {
	p := &Poller{clock: clock, every: scan, newest: make([]held, 0, countTags(jobs))}
	seen := make(map[collector.Tag]bool, cap(p.newest))
	var errs []error
	for i, job := range jobs {
		if job.Every <= 0 {
			errs = append(errs, fmt.Errorf("poll: source %s: interval %v; give one above zero", job.Source.Name(), job.Every))
		}
		if job.Phase < 0 || job.Every > 0 && job.Phase >= job.Every/2 {
			errs = append(errs, fmt.Errorf("poll: source %s: phase %v of interval %v; give less than half", job.Source.Name(), job.Phase, job.Every))
		}
		if scan <= 0 && (p.every <= 0 || job.Every < p.every) {
			p.every = job.Every
		}
		if job.MaxAge <= 0 {
			job.MaxAge = 3 * job.Every
		}
		w := newWorker(job, uint64(i), len(p.newest))
		p.workers = append(p.workers, w)
		if !slices.Contains(p.intervals, job.Every) {
			p.intervals = append(p.intervals, job.Every)
		}
		for _, tag := range job.Source.Tags() {
			if seen[tag] {
				errs = append(errs, fmt.Errorf("poll: tag %s comes from two sources; remove it from %s", tag, job.Source.Name()))
			}
			seen[tag] = true
			p.newest = append(p.newest, held{maxAge: job.MaxAge, sample: collector.Sample{Tag: tag, Quality: quantity.Absent, Reason: quantity.NotRead}})
		}
	}
	if len(jobs) == 0 {
		errs = append(errs, errors.New("poll: no sources to read"))
	}
	p.byPhase = slices.SortedStableFunc(slices.Values(p.workers), func(a, b *worker) int { return cmp.Compare(a.job.Phase, b.job.Phase) })
	return p, errors.Join(errs...)
}

func countTags(jobs []Job) (n int) {
	for _, job := range jobs {
		n += len(job.Source.Tags())
	}
	return n
}

// Once reads every source in parallel and returns when all have answered or
// their deadlines have passed. The samples are given the time at, as if they
// had been received then: it serves a caller who drives the time himself,
// such as a rehearsal at speed. Run must not be running.
func (p *Poller) Once(ctx context.Context, at time.Time) collector.Snapshot {
	var all sync.WaitGroup
	for _, w := range p.workers {
		all.Go(func() { p.keep(w, w.read(ctx, p.clock), at) })
	}
	all.Wait()
	return p.snapshot(at, at)
}

// keep takes the samples of one read. A sample the source has given before
// keeps the time it had then.
func (p *Poller) keep(w *worker, samples []collector.Sample, at time.Time) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for i, sample := range samples {
		h := &p.newest[w.first+i]
		if h.sample.Quality != quantity.Absent && sample.Time.Equal(h.origin) {
			continue
		}
		h.origin = sample.Time
		if !at.IsZero() {
			sample.Time = at
		}
		h.sample = sample
	}
}

// snapshot puts the newest samples together; a usable one that is older than
// allowed at now becomes Stale.
func (p *Poller) snapshot(tick, now time.Time) collector.Snapshot {
	p.mu.Lock()
	defer p.mu.Unlock()
	shot := collector.Snapshot{Time: tick, Samples: make([]collector.Sample, len(p.newest))}
	for i, h := range p.newest {
		s := h.sample
		if s.Quality.Usable() && now.Sub(s.Time) > h.maxAge {
			s.Quality, s.Reason = quantity.Stale, quantity.TooOld
			s.Detail = fmt.Sprintf("last value %v old, %v allowed", now.Sub(s.Time).Round(time.Millisecond), h.maxAge)
		}
		shot.Samples[i] = s
	}
	return shot
}

// Ask makes Run ask before every read, after it and before every snapshot
// whether it may go on; what it may not is left out. It serves who must be able
// to stop at once, however late he learns of it. Run must not have begun.
func (p *Poller) Ask(may func() bool) { p.may = may }

func (p *Poller) allowed() bool { return p.may == nil || p.may() }

// Close closes every source.
func (p *Poller) Close() error {
	var errs []error
	for _, w := range p.workers {
		if err := w.job.Source.Close(); err != nil {
			errs = append(errs, fmt.Errorf("close %s: %w", w.job.Source.Name(), err))
		}
	}
	return errors.Join(errs...)
}
