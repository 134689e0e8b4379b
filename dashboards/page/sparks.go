package page

import (
	"context"
	"fmt"
	"html/template"
	"math"
	"strings"
	"sync"
	"time"

	"bridlewatch/dashboards/trend"
)

// sparks keeps the small plots of the list: the gap as a fraction of its
// budget over the last day, for all gauges at once. They are read again in the
// background while somebody looks, never more often than their reading takes
// twenty times over, so the list itself never waits for history.
type sparks struct {
	trends *trend.Reader

	mu      sync.Mutex
	ratios  map[string][]float64
	next    time.Time
	reading bool
}

const (
	sparkSpan    = 24 * time.Hour
	sparkBuckets = 48
	sparkPatient = 60 * time.Millisecond // how long the first reader waits
)

func newSparks(r *trend.Reader) *sparks { return &sparks{trends: r} }

// of returns what is known now for the gauges.
func (s *sparks) of(gauges []string, now time.Time) map[string][]float64 {
	s.mu.Lock()
	known, due := s.ratios, !s.reading && time.Now().After(s.next)
	s.reading = s.reading || due
	s.mu.Unlock()
	if !due {
		return known
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		s.read(gauges, now)
	}()
	if known == nil {
		select {
		case <-done:
		case <-time.After(sparkPatient):
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.ratios
}

func (s *sparks) read(gauges []string, now time.Time) {
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	start := time.Now()
	ratios, err := s.trends.Ratios(ctx, gauges, now.Add(-sparkSpan), now, sparkBuckets)
	s.mu.Lock()
	defer s.mu.Unlock()
	if err == nil {
		s.ratios = ratios
	}
	s.reading = false
	s.next = time.Now().Add(max(5*time.Second, 20*time.Since(start)))
}

// spark draws the ratios: a line, the budget as a dashed line at 1, and the
// part beyond it filled.
func spark(ratios []float64) template.HTML {
	const width, height, most = 96.0, 24.0, 3.0
	if len(ratios) == 0 {
		return ""
	}
	y := func(r float64) float64 { return height - 1 - min(r, most)/most*(height-2) }
	step := width / float64(len(ratios))
	var line, bars strings.Builder
	pen := "M"
	for i, r := range ratios {
		if math.IsNaN(r) {
			pen = "M"
			continue
		}
		x := (float64(i) + 0.5) * step
		fmt.Fprintf(&line, "%s%.1f %.1f", pen, x, y(r))
		if r > 1 {
			fmt.Fprintf(&bars, "M%.1f %.1fV%.1f", x, y(1), y(r))
		}
		pen = "L"
	}
	return template.HTML(fmt.Sprintf(`<svg class="spark" viewBox="0 0 %.0f %.0f" width="%.0f" height="%.0f" aria-hidden="true"><path class="over" d="%s"/><path class="allowed" d="M0 %.1fH%.0f"/><path class="ratio" d="%s"/></svg>`,
		width, height, width, height, bars.String(), y(1), width, line.String()))
}
