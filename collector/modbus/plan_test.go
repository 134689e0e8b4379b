package modbus

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector"
)

// bruteForce tries every way to share the items out among requests, in any
// grouping, and returns the best effort.
func bruteForce(items []item, lim limits) effort {
	var bestEffort effort
	found := false
	var groups [][]item
	var try func(i int)
	try = func(i int) {
		if i == len(items) {
			total := effort{}
			for _, g := range groups {
				c, ok := lim.check(g)
				if !ok {
					return
				}
				total = total.plus(c)
			}
			if !found || lim.less(total, bestEffort) {
				found, bestEffort = true, total
			}
			return
		}
		for g := range groups {
			groups[g] = append(groups[g], items[i])
			try(i + 1)
			groups[g] = groups[g][:len(groups[g])-1]
		}
		groups = append(groups, []item{items[i]})
		try(i + 1)
		groups = groups[:len(groups)-1]
	}
	try(0)
	return bestEffort
}

// check judges one request by the addresses it covers, written apart from
// the planner.
func (lim limits) check(g []item) (effort, bool) {
	from, to := 1<<30, 0
	covered := map[int]bool{}
	for _, it := range g {
		from, to = min(from, it.from), max(to, it.to)
		for a := it.from; a < it.to; a++ {
			covered[a] = true
		}
	}
	idle := 0
	for a := from; a < to; a++ {
		if idle++; covered[a] {
			idle = 0
		}
		if len(g) > 1 && idle > lim.gap {
			return effort{}, false
		}
	}
	if len(g) > 1 && (to-from > lim.longest || lim.bar(from, to)) {
		return effort{}, false
	}
	return effort{1, lim.time(to - from)}, true
}

// TestPlanIsTheBest compares the planner with every possible plan on random
// maps, for both aims, with gaps, limits and forbidden ranges.
func TestPlanIsTheBest(t *testing.T) {
	const seed, maps = 20260102, 2000
	rng := rand.New(rand.NewPCG(seed, seed))
	differ := 0
	for trial := range maps {
		items := make([]item, 1+rng.IntN(7))
		for i := range items {
			from := rng.IntN(40)
			items[i] = item{from, from + []int{1, 2, 4}[rng.IntN(3)], i}
		}
		lim := limits{longest: 4 + rng.IntN(20), gap: rng.IntN(12)}
		for range rng.IntN(3) {
			from := rng.IntN(44)
			lim.barred = append(lim.barred, Span{From: from, To: from + rng.IntN(3)})
		}
		fixed, each := time.Duration(rng.IntN(30)), time.Duration(1+rng.IntN(3))
		lim.time = func(n int) time.Duration { return fixed + each*time.Duration(n) }
		var efforts []effort
		for _, aim := range []Aim{FewestRequests, LeastTime} {
			lim.aim = aim
			want := bruteForce(items, lim)
			var got effort
			for _, b := range best(slices.Clone(items), lim) {
				var g []item
				for _, i := range b.fields {
					g = append(g, items[i])
				}
				c, ok := lim.check(g)
				if !ok {
					t.Fatalf("seed %d, map %d: request %+v breaks the limits %+v", seed, trial, b, lim)
				}
				got = got.plus(c)
			}
			if got != want {
				t.Fatalf("seed %d, map %d, %s: got %+v, best is %+v for %v under %+v", seed, trial, aim, got, want, items, lim)
			}
			efforts = append(efforts, want)
		}
		if efforts[0] != efforts[1] {
			differ++
		}
	}
	t.Logf("equal to every other plan on %d maps; the aims differ on %d", maps, differ)
}

// TestPlanExample: a map of eight fields over addresses 0 to 541. On a slow
// line the plan with the fewest requests takes three times as long as the
// best. Shared out by hand.
func TestPlanExample(t *testing.T) {
	var fields []Field
	for i, address := range []int{0, 60, 120, 240, 300, 420, 480, 540} {
		fields = append(fields, Field{Tag: collector.Tag(fmt.Sprint("LT-", i)), UnitID: 1, Table: Holding, Address: address, Type: Float32})
	}
	rows := []struct {
		name                string
		endpoint            Endpoint
		requests, registers int
	}{
		{"9600 baud, fewest requests", Endpoint{Framing: RTU, Baud: 9600, Aim: FewestRequests}, 3, 306},
		{"9600 baud, least time", Endpoint{Framing: RTU, Baud: 9600}, 8, 16},
		{"TCP", Endpoint{Framing: TCP}, 3, 306},
		{"gaps forbidden", Endpoint{Framing: TCP, MaxGap: -1}, 8, 16},
		{"no more than 64 registers", Endpoint{Framing: TCP, MaxRegisters: 64}, 5, 190},
		{"a forbidden range", Endpoint{Framing: TCP, Forbidden: []Span{{UnitID: 1, Table: Holding, From: 10, To: 12}}}, 4, 248},
		{"a forbidden range of another unit", Endpoint{Framing: TCP, Forbidden: []Span{{UnitID: 2, Table: Holding, From: 10, To: 12}}}, 3, 306},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			r.endpoint.Name, r.endpoint.Address = "x", "y"
			p, err := NewPlan(r.endpoint, fields)
			if err != nil {
				t.Fatal(err)
			}
			registers := 0
			for _, request := range p.Requests {
				registers += request.Quantity
			}
			if len(p.Requests) != r.requests || r.registers != 0 && registers != r.registers {
				t.Errorf("%d requests of %d registers, want %d of %d\n%v", len(p.Requests), registers, r.requests, r.registers, p)
			}
			if p.LeastTime > p.LineTime || p.FewestRequests > len(p.Requests) || p.Floor > p.LeastTime {
				t.Errorf("the minimum is above the plan\n%v", p)
			}
		})
	}
}

// TestLineTime: time on the line of a request for 20 registers, 8N1, wire
// only: 13 + 40 characters and twice 3.5 characters (Modbus over Serial Line
// Specification V1.02, clause 2.5.1; by hand).
func TestLineTime(t *testing.T) {
	rows := []struct {
		baud int
		want time.Duration
	}{
		{9600, 62500 * time.Microsecond},  // 60 characters of 10 bits
		{19200, 31250 * time.Microsecond}, // likewise
		{115200, 8101 * time.Microsecond}, // 53 characters and twice 1.75 ms
	}
	for _, r := range rows {
		t.Run(fmt.Sprint(r.baud), func(t *testing.T) {
			e := Endpoint{Framing: RTU, Baud: r.baud, Parity: "none", StopBits: 1}.withDefaults()
			e.Turnaround = 0
			if got := e.requestTime(Holding, 20); got.Round(time.Microsecond) != r.want {
				t.Errorf("%v, want %v", got, r.want)
			}
		})
	}
}

func TestPlanText(t *testing.T) {
	fields := []Field{
		{Tag: "LT-101", UnitID: 2, Table: Holding, Address: 0, Type: Float32},
		{Tag: "LT-102", UnitID: 2, Table: Holding, Address: 4, Type: Float32},
		{Tag: "TT-101", UnitID: 1, Table: Input, Address: 0, Type: Int16, EveryScan: 10},
		{Tag: "LSH-101", UnitID: 1, Table: Discrete, Address: 3, Type: Bit},
	}
	p, err := NewPlan(Endpoint{Name: "skid", Framing: RTU, Address: "/dev/ttyS0", Baud: 9600, Parity: "none", StopBits: 1, Turnaround: 10 * time.Millisecond}, fields)
	if err != nil {
		t.Fatal(err)
	}
	const want = `skid, planned for least line time
  unit  table     address  quantity  in vain  scans    time     tags
  1     discrete  3        1         0        each     31.9 ms  LSH-101
  1     input     0        1         0        1 in 10  32.9 ms  TT-101
  2     holding   0        6         2        each     43.3 ms  LT-101, LT-102
  requests per scan  3, the fewest possible are 3
  line time per scan 108.1 ms, the least possible is 108.1 ms (104.0 ms if the fields lay side by side)
`
	if got := p.String(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	if _, err := NewPlan(Endpoint{}, fields); err == nil || !strings.Contains(err.Error(), "address") {
		t.Errorf("an empty endpoint: %v", err)
	}
}

func BenchmarkPlan(b *testing.B) {
	var fields []Field
	var which []int
	for i := range 1000 {
		fields = append(fields, Field{Table: Holding, Address: 7 * i, Type: Float32})
		which = append(which, i)
	}
	e := Endpoint{Framing: TCP}.withDefaults()
	b.ReportAllocs()
	for b.Loop() {
		plan(e, fields, which, nil)
	}
}
