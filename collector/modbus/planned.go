package modbus

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"bridlewatch/collector"
)

// Plan is how an endpoint is read: what people look at to see whether a scan
// fits into its interval.
type Plan struct {
	Endpoint string
	Aim      Aim
	Requests []Request // of one scan in which everything is due

	LineTime       time.Duration // of all requests
	FewestRequests int           // no plan that keeps the limits has fewer
	LeastTime      time.Duration // no plan that keeps the limits takes less
	Floor          time.Duration // what the bytes of the fields alone would take, in requests as long as the protocol allows
}

// Request is one request of a plan.
type Request struct {
	UnitID            int
	Table             Table
	Address, Quantity int
	Tags              []collector.Tag
	InVain            int // registers or bits no field needs
	EveryScan         int
	Time              time.Duration
}

// NewPlan plans without touching a device.
func NewPlan(e Endpoint, fields []Field) (Plan, error) {
	if err := validate(e, fields); err != nil {
		return Plan{}, err
	}
	e = e.withDefaults()
	p := Plan{Endpoint: e.Name, Aim: e.Aim}
	byUnit := map[int][]int{}
	for i, f := range fields {
		byUnit[f.UnitID] = append(byUnit[f.UnitID], i)
	}
	for _, id := range sortedKeys(byUnit) {
		which, barred := byUnit[id], e.barred(byte(id))
		for _, b := range plan(e, fields, which, barred) {
			r := b.request(e, id, fields)
			p.Requests = append(p.Requests, r)
			p.LineTime += r.Time
		}
		p.FewestRequests += len(plan(e.aiming(FewestRequests), fields, which, barred))
		for _, b := range plan(e.aiming(LeastTime), fields, which, barred) {
			p.LeastTime += e.requestTime(b.table, b.quantity)
		}
		p.Floor += e.floor(fields, which)
	}
	return p, nil
}

func sortedKeys(m map[int][]int) []int {
	var keys []int
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

func (e Endpoint) aiming(a Aim) Endpoint {
	e.Aim = a
	return e
}

// floor is the time the addresses of the fields would take if they lay side
// by side.
func (e Endpoint) floor(fields []Field, which []int) time.Duration {
	needed := map[Table]map[int]bool{}
	for _, i := range which {
		f := fields[i]
		if needed[f.Table] == nil {
			needed[f.Table] = map[int]bool{}
		}
		for a := range f.span() {
			needed[f.Table][f.Address+a] = true
		}
	}
	var total time.Duration
	for table, addresses := range needed {
		longest := e.longest(table)
		for n := len(addresses); n > 0; n -= longest {
			total += e.requestTime(table, min(n, longest))
		}
	}
	return total
}

func (b block) request(e Endpoint, unit int, fields []Field) Request {
	r := Request{UnitID: unit, Table: b.table, Address: b.address, Quantity: b.quantity, EveryScan: b.scans, Time: e.requestTime(b.table, b.quantity)}
	needed := map[int]bool{}
	for _, i := range b.fields {
		r.Tags = append(r.Tags, fields[i].Tag)
		for a := range fields[i].span() {
			needed[fields[i].Address+a] = true
		}
	}
	r.InVain = b.quantity - len(needed)
	return r
}

// WriteTo prints the plan as a table for people.
func (p Plan) WriteTo(w io.Writer) (int64, error) {
	var text strings.Builder
	fmt.Fprintf(&text, "%s, planned for %s\n", p.Endpoint, p.Aim)
	table := tabwriter.NewWriter(&text, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "  unit\ttable\taddress\tquantity\tin vain\tscans\ttime\ttags")
	for _, r := range p.Requests {
		fmt.Fprintf(table, "  %d\t%s\t%d\t%d\t%d\t%s\t%s\t%s\n", r.UnitID, r.Table, r.Address, r.Quantity, r.InVain, every(r.EveryScan), milliseconds(r.Time), tagList(r.Tags))
	}
	table.Flush()
	fmt.Fprintf(&text, "  requests per scan  %d, the fewest possible are %d\n", len(p.Requests), p.FewestRequests)
	fmt.Fprintf(&text, "  line time per scan %s, the least possible is %s", milliseconds(p.LineTime), milliseconds(p.LeastTime))
	fmt.Fprintf(&text, " (%s if the fields lay side by side)\n", milliseconds(p.Floor))
	n, err := io.WriteString(w, text.String())
	return int64(n), err
}

// String is the plan as WriteTo prints it.
func (p Plan) String() string {
	var text strings.Builder
	p.WriteTo(&text)
	return text.String()
}

func every(scans int) string {
	if scans <= 1 {
		return "each"
	}
	return fmt.Sprintf("1 in %d", scans)
}

func milliseconds(d time.Duration) string {
	return fmt.Sprintf("%.1f ms", float64(d)/float64(time.Millisecond))
}

// tagList shows the first tags and how many more there are.
func tagList(tags []collector.Tag) string {
	const shown = 4
	var names []string
	for _, tag := range tags[:min(shown, len(tags))] {
		names = append(names, string(tag))
	}
	if more := len(tags) - shown; more > 0 {
		names = append(names, fmt.Sprintf("and %d more", more))
	}
	return strings.Join(names, ", ")
}
