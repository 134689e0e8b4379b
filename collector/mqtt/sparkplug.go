package mqtt

import (
	"fmt"
	"math"
	"strings"
	"time"

	"bridlewatch/collector"
	"bridlewatch/compare/quantity"
)

// root is the first level of every topic of Sparkplug B.
const root = "spBv1.0"

// bdSeq ties a death certificate to the birth it ends (Eclipse Sparkplug
// 3.0.0, 6.4.19, from memory): the death of an earlier session may come after
// the birth of the next.
const bdSeq = "bdSeq"

// node is an edge node whose birth certificate has been seen.
type node struct {
	alive   bool
	bdSeq   float64
	seq     int
	died    time.Time
	devices map[string]bool // alive
	names   map[where]uint64
	aliases map[uint64]where
}

// where is a metric: the node's own when device is empty.
type where struct{ device, name string }

// address is a metric of a node, GROUP/NODE.
type address struct {
	node string
	where
}

func sparkplugFilters(topic string) []string {
	levels := strings.Split(topic, "/")
	return []string{strings.Join([]string{root, levels[0], "+", levels[1], "#"}, "/")}
}

// address splits the topic of an item.
func (it Item) address() address {
	levels := strings.SplitN(it.Topic, "/", 3)
	p := address{node: levels[0] + "/" + levels[1], where: where{name: it.Metric}}
	if len(levels) == 3 {
		p.device = levels[2]
	}
	return p
}

// takeSparkplug takes a message of a node: spBv1.0/GROUP/TYPE/NODE[/DEVICE].
// Commands pass by unread.
func (s *Source) takeSparkplug(topic string, body []byte) {
	levels := strings.Split(topic, "/")
	if len(levels) < 4 || len(levels) > 5 || levels[0] != root || strings.HasSuffix(levels[2], "CMD") {
		return
	}
	p, err := decode(body)
	if err != nil {
		s.counters.bad.Add(1)
		return
	}
	key, device := levels[1]+"/"+levels[3], ""
	if len(levels) == 5 {
		device = levels[4]
	}
	switch levels[2] {
	case "NBIRTH":
		s.nodes[key] = &node{alive: true, bdSeq: p.bdSeq(), seq: p.seq, devices: map[string]bool{}, names: map[where]uint64{}, aliases: map[uint64]where{}}
		s.spoil(key, nil, quantity.Bad, quantity.NotRead, "")
		s.born(key, "", p)
	case "DBIRTH":
		if n := s.nodes[key]; n != nil && n.alive {
			s.follow(key, n, p)
			n.devices[device] = true
			s.born(key, device, p)
		}
	case "NDATA", "DDATA":
		if n := s.nodes[key]; n != nil && n.alive {
			s.follow(key, n, p)
		}
		s.values(key, device, p)
	case "DDEATH":
		if n := s.nodes[key]; n != nil && n.alive {
			s.follow(key, n, p)
			n.devices[device] = false
			s.spoil(key, &device, quantity.Stale, quantity.TooOld, "the device "+key+"/"+device+" has died")
		}
	case "NDEATH":
		n := s.nodes[key]
		if n != nil && (!n.alive || n.bdSeq != p.bdSeq()) {
			s.counters.late.Add(1) // of an earlier session
			return
		}
		s.nodes[key] = &node{died: s.clock.Now()}
		s.spoil(key, nil, quantity.Stale, quantity.TooOld, "the node "+key+" has died")
	}
}

// bdSeq of a certificate; -1 when it has none.
func (p payload) bdSeq() float64 {
	for _, m := range p.metrics {
		if m.name == bdSeq && m.form == formWhole {
			return float64(m.whole)
		}
	}
	return -1
}

// follow checks the sequence of a node's messages. After a gap a value that
// was not sent again may have changed in what was lost.
func (s *Source) follow(key string, n *node, p payload) {
	if p.seq < 0 {
		return
	}
	want := (n.seq + 1) % 256
	n.seq = p.seq
	if p.seq == want {
		return
	}
	s.counters.bad.Add(1)
	for i := range s.addresses {
		if s.addresses[i].node == key && s.newest[i].Quality == quantity.Good {
			s.newest[i].Quality, s.newest[i].Reason = quantity.Uncertain, quantity.DeviceUncertain
			s.newest[i].Detail = fmt.Sprintf("message %d of the node was lost, %d came", want, p.seq)
		}
	}
}

// born takes a birth certificate: which metrics there are, their types, their
// aliases and their values.
func (s *Source) born(key, device string, p payload) {
	n := s.nodes[key]
	for _, m := range p.metrics {
		if m.name == "" {
			continue
		}
		w := where{device, m.name}
		n.names[w] = m.datatype
		if m.aliased {
			n.aliases[m.alias] = w
		}
	}
	s.values(key, device, p)
}

// values takes the values of a message.
func (s *Source) values(key, device string, p payload) {
	n := s.nodes[key]
	for _, m := range p.metrics {
		w := where{device, m.name}
		if m.name == "" && m.aliased && n != nil {
			w = n.aliases[m.alias]
		}
		if w.name == "" {
			continue // an alias from before our time
		}
		var datatype uint64
		if n != nil {
			datatype = n.names[w]
		}
		for _, i := range s.wanted[address{key, w}] {
			s.value(i, m, datatype, p.time)
		}
	}
}

// value takes one value. One of the past is for a historian.
func (s *Source) value(i int, m metric, datatype uint64, at time.Time) {
	if !m.time.IsZero() {
		at = m.time
	}
	if m.historical || !at.IsZero() && at.Before(s.seen[i]) {
		s.counters.late.Add(1)
		return
	}
	now := s.clock.Now()
	sample := collector.Sample{Tag: s.tags[i], Time: now, SourceTime: at, Quality: quantity.Good}
	v, err := m.number(datatype)
	switch {
	case m.rated && m.quality == qualityStale:
		sample.Quality, sample.Reason, sample.Detail = quantity.Stale, quantity.TooOld, "the node says stale"
	case m.rated && m.quality != qualityGood:
		sample.Quality, sample.Reason, sample.Detail = quantity.Bad, quantity.Refused, fmt.Sprintf("the node says quality %d", m.quality)
	case m.null:
		sample.Quality, sample.Reason, sample.Detail = quantity.Bad, quantity.Sentinel, "null"
	case err != nil:
		s.counters.bad.Add(1)
		sample.Quality, sample.Reason, sample.Detail = quantity.Bad, quantity.BadShape, err.Error()
	case math.IsNaN(v) || math.IsInf(v, 0):
		sample.Quality, sample.Reason, sample.Detail = quantity.Bad, quantity.NotANumber, fmt.Sprint(v)
	default:
		sample.Value = v
	}
	s.seen[i] = at
	if at.Sub(now) > ahead {
		s.seen[i] = now
		sample = suspect(sample, at.Sub(now))
	}
	s.newest[i] = sample
}

// spoil gives every item of a node, or of one of its devices, a quality
// without a value.
func (s *Source) spoil(key string, device *string, q quantity.Quality, r quantity.Reason, why string) {
	for i, at := range s.addresses {
		if at.node == key && (device == nil || at.device == *device) {
			s.newest[i] = collector.Sample{Tag: s.tags[i], Time: s.clock.Now(), Quality: q, Reason: r, Detail: why}
			s.seen[i] = time.Time{}
		}
	}
}

// vouched is the sample of an item at an instant.
func (s *Source) vouched(i int, now time.Time) collector.Sample {
	sample := s.newest[i]
	key, w := s.addresses[i].node, s.addresses[i].where
	n := s.nodes[key]
	missing := func(r quantity.Reason, format string, args ...any) collector.Sample {
		return collector.Sample{Tag: s.tags[i], Time: now, Quality: quantity.Bad, Reason: r, Detail: fmt.Sprintf(format, args...)}
	}
	switch {
	case !s.up:
		return missing(quantity.NotConnected, "%s", said(s.why))
	case n != nil && !n.alive:
		return sample
	case n == nil && sample.Quality.Usable():
		return sample // sent with its name; nobody vouches for it
	case n == nil:
		return missing(quantity.NotRead, "waiting for the birth certificate of %s, which this box never asks for: restart the node's connection, or have its host ask for a rebirth", key)
	}
	if _, known := n.names[w]; !known {
		switch alive, seen := n.devices[w.device]; {
		case w.device == "" || alive:
			return missing(quantity.Refused, "the birth certificate of %s has no metric %q", s.items[i].Topic, w.name)
		case !seen:
			return missing(quantity.NotRead, "waiting for the birth certificate of the device %s", s.items[i].Topic)
		}
	}
	if sample.Quality == quantity.Stale && sample.Reason == quantity.TooOld {
		return sample
	}
	sample.Time = now
	return sample
}
