package modbus

import (
	"cmp"
	"slices"
	"time"
)

// Aim is what the request planner saves first; the other comes second.
type Aim string

// Aims.
const (
	FewestRequests Aim = "fewest requests"
	LeastTime      Aim = "least line time"
)

// block is one request and the fields it serves, in the order of their
// addresses.
type block struct {
	table    Table
	address  int
	quantity int
	fields   []int
	scans    int // read at every n-th scan
}

func (b block) end() int { return b.address + b.quantity }

// item is a field on the way through the planner.
type item struct {
	from, to int
	field    int
}

// group is what can share a request: fields of one table read at the same
// scans.
type group struct {
	table Table
	scans int
}

// limits are what every request of a group must keep.
type limits struct {
	longest int
	gap     int // addresses that may be read in vain in one place
	barred  []Span
	time    func(quantity int) time.Duration
	aim     Aim
}

// plan makes the requests for some fields of one unit. Among all ways to
// share the fields out it takes the best by the aim of the endpoint.
func plan(e Endpoint, fields []Field, which []int, barred []Span) []block {
	groups := map[group][]item{}
	for _, i := range which {
		f := fields[i]
		key := group{f.Table, max(1, f.EveryScan)}
		groups[key] = append(groups[key], item{f.Address, f.Address + f.span(), i})
	}
	var blocks []block
	for key, items := range groups {
		for _, b := range best(items, e.limits(key.table, barred)) {
			b.table, b.scans = key.table, key.scans
			blocks = append(blocks, b)
		}
	}
	slices.SortFunc(blocks, func(a, b block) int {
		return cmp.Or(cmp.Compare(a.table, b.table), cmp.Compare(a.address, b.address), cmp.Compare(a.scans, b.scans))
	})
	return blocks
}

// limits are those of the endpoint for one table.
func (e Endpoint) limits(table Table, barred []Span) limits {
	lim := limits{longest: e.longest(table), gap: e.MaxGap, aim: e.Aim}
	lim.time = func(quantity int) time.Duration { return e.requestTime(table, quantity) }
	if table.bits() {
		lim.gap = 16 * e.MaxGap
	}
	switch {
	case e.MaxGap == 0:
		lim.gap = lim.longest
	case e.MaxGap < 0:
		lim.gap = 0
	}
	for _, s := range barred {
		if s.Table == table {
			lim.barred = append(lim.barred, s)
		}
	}
	return lim
}

// longest is what one request may ask of a table.
func (e Endpoint) longest(table Table) int {
	if table.bits() {
		return e.MaxBits
	}
	return e.MaxRegisters
}

// effort is what a share of the fields costs.
type effort struct {
	requests int
	time     time.Duration
}

func (a effort) plus(b effort) effort { return effort{a.requests + b.requests, a.time + b.time} }

// less compares by the aim first.
func (lim limits) less(a, b effort) bool {
	byRequests, byTime := cmp.Compare(a.requests, b.requests), cmp.Compare(a.time, b.time)
	if lim.aim == LeastTime {
		return cmp.Or(byTime, byRequests) < 0
	}
	return cmp.Or(byRequests, byTime) < 0
}

// best shares the items out. One that runs into a barred place by itself can
// share with none.
func best(items []item, lim limits) []block {
	var blocks []block
	free := slices.DeleteFunc(items, func(it item) bool {
		alone := lim.bar(it.from, it.to)
		if alone {
			blocks = append(blocks, blockOf([]item{it}))
		}
		return alone
	})
	return append(blocks, shared(free, lim)...)
}

// shared is a dynamic programme over the fields sorted by address: the best
// way to read the fields from one on is a first request, up to some field,
// and the best way to read the rest. A field belongs to one request whole.
func shared(items []item, lim limits) []block {
	slices.SortFunc(items, func(a, b item) int { return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.to, b.to)) })
	n := len(items)
	cost := make([]effort, n+1) // of reading items[i:]
	next := make([]int, n)      // where the request after the first one starts
	for first := n - 1; first >= 0; first-- {
		for last, end := range lim.reaches(items[first:]) {
			after := first + last + 1
			c := cost[after].plus(effort{1, lim.time(end - items[first].from)})
			if last == 0 || lim.less(c, cost[first]) {
				cost[first], next[first] = c, after
			}
		}
	}
	var blocks []block
	for i := 0; i < n; i = next[i] {
		blocks = append(blocks, blockOf(items[i:next[i]]))
	}
	return blocks
}

// reaches yields, for each item the request that starts with the first one
// may take in, where the request would end.
func (lim limits) reaches(items []item) func(yield func(int, int) bool) {
	return func(yield func(int, int) bool) {
		start, end := items[0].from, items[0].to
		for i, it := range items {
			gap := it.from - end
			end = max(end, it.to)
			if i > 0 && (gap > lim.gap || end-start > lim.longest || lim.bar(start, end)) {
				return
			}
			if !yield(i, end) {
				return
			}
		}
	}
}

func (lim limits) bar(from, to int) bool {
	return slices.ContainsFunc(lim.barred, func(s Span) bool { return s.bars(from, to) })
}

func blockOf(items []item) block {
	b := block{address: items[0].from}
	for _, it := range items {
		b.quantity = max(b.quantity, it.to-b.address)
		b.fields = append(b.fields, it.field)
	}
	return b
}

// bars says whether a request for [from, to) runs into the span. An empty
// span is a place no request may reach across.
func (s Span) bars(from, to int) bool {
	if s.From == s.To {
		return from < s.From && s.From < to
	}
	return from < s.To && s.From < to
}

// requestTime is how long a request and its answer occupy the endpoint.
//
// On a serial line: eight characters of request, five around the answer, two
// for each register or one for eight bits, twice the silent interval, and
// the turnaround of the device (Modbus over Serial Line Specification V1.02,
// clause 2.5.1). Through TCP: the turnaround, and a register at 100 Mbit/s.
func (e Endpoint) requestTime(table Table, quantity int) time.Duration {
	bytes := 2 * quantity
	if table.bits() {
		bytes = (quantity + 7) / 8
	}
	wire := time.Duration(bytes) * 80 * time.Nanosecond
	if e.Framing == RTU {
		wire = e.characters(float64(rtuRequest+rtuAround+bytes)) + 2*e.silentInterval()
	}
	return wire + e.Turnaround + e.PauseBetweenRequests
}
