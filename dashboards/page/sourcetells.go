package page

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"bridlewatch/dashboards/plant"
	"bridlewatch/dashboards/times"
	"bridlewatch/dashboards/units"
)

// skewToSay is how far the clock of a source may be off before it is worth a
// word: times of samples are compared to the second.
const skewToSay = time.Second

// busyLine is the share of its time a line may be busy before a slower answer
// makes polls late.
const busyLine = 0.7

// sourceTells lists what a source says of itself beyond whether it answers:
// what is bad first.
func (p *Pages) sourceTells(s plant.SourceHealth, now time.Time) []sourceLine {
	var lines []sourceLine
	say := func(bad bool, format string, args ...any) {
		lines = append(lines, sourceLine{fmt.Sprintf(format, args...), bad})
	}
	for _, u := range s.Units {
		switch {
		case u.NotUntil.After(now):
			say(true, "Unit %d does not answer and is left alone until %s.", u.ID, p.Zone.Short(u.NotUntil, now))
		case u.Failures > 0:
			say(true, "Unit %d: %d requests in a row without a usable answer.", u.ID, u.Failures)
		}
		if len(u.Refused) > 0 {
			say(true, "Unit %d refuses the addresses of %s%s.", u.ID, strings.Join(u.Refused, ", "), p.retrial(u.Retrial, now))
		}
		if u.MaxRegisters > 0 {
			say(false, "Unit %d gives %d registers in one request and no more.", u.ID, u.MaxRegisters)
		}
	}
	if len(s.Units) == 0 {
		for _, r := range s.Remarks {
			say(true, "%s", r)
		}
	}
	if s.Bad > 0 && s.OK {
		say(true, "%d of %d signals of the last poll are not usable.", s.Bad, s.Bad+s.Good)
	}
	if s.SkewKnown && s.Skew.Abs() >= skewToSay {
		way := "behind"
		if s.Skew < 0 {
			way = "ahead of"
		}
		say(true, "Its clock is %s %s that of this box.", times.Span(s.Skew.Abs()), way)
	}
	if line := s.LineTime(); line > 0 && s.Every > 0 {
		share := line.Seconds() / s.Every.Seconds()
		say(share > busyLine, "The line is busy for %s of every %s, %s %%.", times.Span(line), times.Span(s.Every), units.Fixed(100*share, 0))
	}
	if s.Late > 0 {
		say(false, "%d polls began late, the latest by %s.", s.Late, times.Span(s.MaxLateness))
	}
	if text := counted(s); text != "" {
		say(false, "Since the start: %s.", text)
	}
	slices.SortStableFunc(lines, func(a, b sourceLine) int { return yesFirst(a.Bad, b.Bad) })
	return lines
}

// yesFirst compares for sorting: what is so stands before what is not.
func yesFirst(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return -1
	}
	return 1
}

func (p *Pages) retrial(at, now time.Time) string {
	if at.IsZero() {
		return ""
	}
	return "; they are tried again at " + p.Zone.Short(at, now)
}

// counted lists the counters that are not zero.
func counted(s plant.SourceHealth) string {
	var list []string
	for _, c := range []struct {
		n    uint64
		what string
	}{{s.Timeouts, "without an answer in time"}, {s.Refusals, "refused by the device"}, {s.BadFrames, "with a damaged answer"}, {s.Reconnects, "times connected again"}} {
		if c.n > 0 {
			list = append(list, fmt.Sprintf("%d %s", c.n, c.what))
		}
	}
	return strings.Join(list, ", ")
}
