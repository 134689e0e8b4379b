package modbus

import (
	"cmp"
	"slices"
)

// Aim is what a request planner saves.
type Aim string

// Aims.
const (
	FewestRequests Aim = "fewest requests"
	LeastTime      Aim = "least line time"
)

// block is one request and the fields it serves.
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

// limits are what a block must keep.
type limits struct {
	longest int
	gap     int // addresses that may be read in vain in one place; negative: any number
	barred  []Span
}

// plan makes the blocks for some fields of one unit.
func plan(e Endpoint, fields []Field, which []int, barred []Span) []block {
	type group struct {
		table Table
		scans int
	}
	groups := map[group][]item{}
	for _, i := range which {
		f := fields[i]
		key := group{f.Table, max(1, f.EveryScan)}
		groups[key] = append(groups[key], item{f.Address, f.Address + f.span(), i})
	}
	var blocks []block
	for key, items := range groups {
		lim := limits{longest: e.MaxRegisters, gap: e.MaxGap}
		if key.table.bits() {
			lim = limits{longest: e.MaxBits, gap: 16 * e.MaxGap}
		}
		switch {
		case e.MaxGap == 0:
			lim.gap = lim.longest
		case e.MaxGap < 0:
			lim.gap = 0
		}
		for _, s := range barred {
			if s.Table == key.table {
				lim.barred = append(lim.barred, s)
			}
		}
		for _, b := range fewest(items, lim) {
			b.table, b.scans = key.table, key.scans
			blocks = append(blocks, b)
		}
	}
	slices.SortFunc(blocks, func(a, b block) int {
		return cmp.Or(cmp.Compare(a.table, b.table), cmp.Compare(a.address, b.address), cmp.Compare(a.scans, b.scans))
	})
	return blocks
}

// fewest takes fields from the left into a block for as long as they fit.
func fewest(items []item, lim limits) []block {
	slices.SortFunc(items, func(a, b item) int { return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.to, b.to)) })
	var blocks []block
	for _, it := range items {
		if n := len(blocks); n > 0 && lim.allow(blocks[n-1], it) {
			b := &blocks[n-1]
			b.quantity = max(b.end(), it.to) - b.address
			b.fields = append(b.fields, it.field)
			continue
		}
		blocks = append(blocks, block{address: it.from, quantity: it.to - it.from, fields: []int{it.field}})
	}
	return blocks
}

// allow says whether a block may be stretched to take in an item.
func (lim limits) allow(b block, it item) bool {
	end := max(b.end(), it.to)
	if end-b.address > lim.longest || it.from-b.end() > lim.gap {
		return false
	}
	return !slices.ContainsFunc(lim.barred, func(s Span) bool { return s.bars(b.address, end) })
}

// bars says whether a request for [from, to) runs into the span. An empty
// span is a place no request may reach across.
func (s Span) bars(from, to int) bool {
	if s.From == s.To {
		return from < s.From && s.From < to
	}
	return from < s.To && s.From < to
}
