package mqtt

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/tidwall/gjson"

	"bridlewatch/collector"
	"bridlewatch/compare/quantity"
)

// takeJSON takes a payload for an item. One that is older than what is there
// already is dropped: brokers deliver again after a reconnection, and bridges
// in any order.
func (s *Source) takeJSON(i int, payload []byte, retained bool) {
	now := s.clock.Now()
	sample, err := s.opts.sample(s.items[i], payload)
	if err != nil {
		s.counters.bad.Add(1)
	}
	if at := sample.SourceTime; !at.IsZero() {
		if !at.After(s.seen[i]) {
			s.counters.late.Add(1)
			return
		}
		s.seen[i] = at
		if at.Sub(now) > ahead { // or every later one would be older
			s.seen[i] = now
			sample = suspect(sample, at.Sub(now))
		}
	}
	sample.Time = now
	if retained && sample.Quality.Usable() {
		sample = s.opts.remembered(sample, now)
	}
	s.newest[i] = sample
}

// ahead is how far the clock of a sender may run before ours.
const ahead = time.Minute

// suspect marks a value from the future.
func suspect(s collector.Sample, by time.Duration) collector.Sample {
	if s.Quality.Usable() {
		s.Quality, s.Reason = quantity.Uncertain, quantity.ClockSuspect
		s.Detail = fmt.Sprintf("its time is %v ahead of ours", by.Round(time.Second))
	}
	return s
}

// remembered marks a value the broker had kept: it is as old as its own time
// says, and of unknown age when it has none.
func (o Options) remembered(s collector.Sample, now time.Time) collector.Sample {
	age := now.Sub(s.SourceTime)
	switch {
	case s.SourceTime.IsZero():
		s.Quality, s.Reason, s.Detail = quantity.Uncertain, quantity.DeviceUncertain, "kept by the broker, of unknown age"
	case o.MaxAge > 0 && age > o.MaxAge:
		s.Quality, s.Reason = quantity.Stale, quantity.TooOld
		s.Detail = fmt.Sprintf("kept by the broker, %v old, %v allowed", age.Round(time.Second), o.MaxAge)
	}
	return s
}

// sample reads a payload. The error says that the sender should be looked at.
func (o Options) sample(it Item, payload []byte) (collector.Sample, error) {
	s := collector.Sample{Tag: it.Tag, Quality: quantity.Good}
	refuse := func(reason quantity.Reason, format string, args ...any) (collector.Sample, error) {
		err := fmt.Errorf(format, args...)
		s.Value, s.Quality, s.Reason, s.Detail = 0, quantity.Bad, reason, err.Error()
		return s, err
	}
	if !gjson.ValidBytes(payload) {
		return refuse(quantity.BadShape, "payload on %s is not JSON: %s", it.Topic, shown(payload))
	}
	if o.TimePath != "" {
		at, err := o.Times.Parse(gjson.GetBytes(payload, o.TimePath).String())
		if err != nil {
			return refuse(quantity.ClockSuspect, "%s: %w", o.TimePath, err)
		}
		s.SourceTime = at
	}
	if o.QualityPath != "" {
		q := gjson.GetBytes(payload, o.QualityPath)
		if !q.Exists() || !slices.ContainsFunc(o.Good, func(g string) bool { return strings.EqualFold(g, q.String()) }) {
			s.Quality, s.Reason, s.Detail = quantity.Bad, quantity.Refused, fmt.Sprintf("%s is %s", o.QualityPath, shown([]byte(q.Raw)))
			return s, nil
		}
	}
	v := gjson.ParseBytes(payload)
	if it.Path != "" {
		v = gjson.GetBytes(payload, it.Path)
	}
	value, err := number(v)
	if err != nil {
		return refuse(quantity.BadShape, "%s: %w", place(it.Path), err)
	}
	if math.IsNaN(value) || math.IsInf(value, 0) {
		return refuse(quantity.NotANumber, "%s is %v", place(it.Path), value)
	}
	s.Value = value
	return s, nil
}

func place(path string) string {
	if path == "" {
		return "payload"
	}
	return path
}

// number reads a number, a truth value, or a number written as text.
func number(v gjson.Result) (float64, error) {
	switch v.Type {
	case gjson.Number:
		return strconv.ParseFloat(v.Raw, 64)
	case gjson.True:
		return 1, nil
	case gjson.False:
		return 0, nil
	case gjson.String:
		if f, err := strconv.ParseFloat(strings.TrimSpace(v.Str), 64); err == nil {
			return f, nil
		}
	}
	if !v.Exists() {
		return 0, fmt.Errorf("is not in the payload")
	}
	return 0, fmt.Errorf("%s is not a number", shown([]byte(v.Raw)))
}

// shown is the beginning of a payload for a message.
func shown(payload []byte) string {
	const most = 40
	payload = bytes.ToValidUTF8(payload, []byte("?"))
	if len(payload) > most {
		return strconv.Quote(string(payload[:most])) + "..."
	}
	return strconv.Quote(string(payload))
}
