package compare

import (
	"fmt"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/coverage"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/structure"
	"bridlewatch/compare/symptom"
)

// Settle returns the tests that would split the causes of the worst open
// finding, the one that tells most for its effort first; with no finding
// open, nothing needs settling and the list is empty.
func (g *Gauge) Settle(st *State) []cause.Test {
	for i := range st.open {
		if f := &st.open[i]; len(f.Set) > 0 {
			if f.Cause == cause.TwoFaults || f.More {
				return cause.SettleBoth(f.Set)
			}
			return cause.Settle(f.Set)
		}
	}
	return nil
}

// Proven returns, for every instrument and elevation bin, the newest pass
// together with an independent witness; a bin never passed has a zero time.
// Each switch follows with its newest actuation in each direction.
func (g *Gauge) Proven(st *State) []coverage.Proof {
	var list []coverage.Proof
	for c := range symptom.Channels {
		if !g.has(c) {
			continue
		}
		for b := range coverage.Bins {
			list = append(list, g.proof(st, c, b))
		}
	}
	for i := range g.sheet.Points {
		for d := symptom.Rising; d <= symptom.Falling; d++ {
			list = append(list, g.switchProof(st, i, d))
		}
	}
	return list
}

func (g *Gauge) proof(st *State, c symptom.Channel, bin int) coverage.Proof {
	from, to := coverage.BinEdges(bin, g.top)
	pass := &st.Proofs[c][bin]
	proof := coverage.Proof{Tag: g.tag(c), From: from, To: to, Passes: int(pass.Count)}
	if pass.At != 0 {
		proof.Witness, proof.At, proof.Rising = g.tag(pass.Witness), unix(pass.At), pass.Rising
		proof.Difference, proof.U = length(float64(pass.Difference)), length(float64(pass.U))
	}
	return proof
}

// switchProof is the newest actuation of a switch in one direction. Its
// witness is the instrument that gave the elevation it changed at: the float
// for a switch worked by the float's magnet, and then it proves the switch and
// its magnet, not that the float follows the liquid.
func (g *Gauge) switchProof(st *State, i int, d symptom.Direction) coverage.Proof {
	p, t, pt := &st.Points[i], &g.trips[i], &g.sheet.Points[i]
	z := length(t.At(d))
	proof := coverage.Proof{Tag: pt.Tag, From: z, To: z, Rising: d == symptom.Rising, Passes: int(p.Acts[d]), U: length(t.U)}
	if p.LastAct[d] != 0 {
		mmError, _ := p.Shift(d)
		proof.At, proof.Difference, proof.Witness = unix(p.LastAct[d]), length(mmError), g.sheet.Float.Tag
		if !t.ByFloat && !g.has(symptom.FloatLevel) && g.sheet.Transmitter != nil {
			proof.Witness = g.sheet.Transmitter.Tag
		}
	}
	return proof
}

// Exercise describes the newest actuation of a switch for a user who wants to
// consider it as evidence. It states what was seen and what it does not show;
// it computes no interval and gives no credit.
func (g *Gauge) Exercise(st *State, point int) []string {
	var lines []string
	p, pt := &st.Points[point], &g.sheet.Points[point]
	for d := symptom.Rising; d <= symptom.Falling; d++ {
		if p.LastAct[d] == 0 {
			lines = append(lines, fmt.Sprintf("%s has not been seen to change on %s level. Float visited %.0f to %.0f mm since %s.", pt.Tag, d, p.Low, p.High, clock(unix(p.LowSince))))
			continue
		}
		e, n := p.Shift(d)
		lines = append(lines, fmt.Sprintf("On %s switch %s changed state at an indicated level of %.0f ± %.0f mm on %s level (process demand or deliberate filling; %d actuations, newest %d compared).",
			unix(p.LastAct[d]).Format(time.RFC3339), pt.Tag, g.trips[point].At(d)+e, 2*g.trips[point].U, d, p.Acts[d], n))
	}
	return append(lines,
		"This may be considered by the user as evidence for part of a proof test: the sensor element up to the signal received here.",
		"It does not test the logic solver, the final element, failure modes that were not exercised, nor the other direction. For a switch worked by the float's magnet it does not show that the float follows the liquid.",
		"Coverage and credit must be justified in the user's own safety requirements and test procedure.")
}

// unknowns of the equation graph.
const (
	vesselLevel uint64 = 1 << iota
	chamberLevel
	secondChamber
	floatPosition
	liquidDensity
)

// equations builds the structure of a gauge: what relates which unknown and
// fails with which fault.
func equations(s *datasheet.Sheet) structure.System {
	sys := structure.System{{Name: "chamber", Unknowns: vesselLevel | chamberLevel}, {Name: "density", Unknowns: liquidDensity}}
	add := func(name string, unknowns uint64) {
		sys = append(sys, structure.Equation{Name: name, Unknowns: unknowns})
	}
	if s.Float.Follower != datasheet.NoFollower {
		add("follower", floatPosition)
	}
	if s.Float.Follower != datasheet.NoFollower || len(s.Points) > 0 {
		add("float", chamberLevel|floatPosition|liquidDensity)
	}
	for _, t := range []*datasheet.Transmitter{s.Transmitter, s.Second} {
		if t != nil {
			add(t.Tag, sees(t))
		}
	}
	if secondary(s.Transmitter) || secondary(s.Second) {
		add("second chamber", chamberLevel|secondChamber) // both hang on the same connections
	}
	for _, p := range s.Points {
		if p.ByFloat() {
			add(p.Tag, floatPosition)
		} else {
			add(p.Tag, chamberLevel)
		}
	}
	if s.Vessel != nil {
		add(s.Vessel.Tag, vesselLevel)
	}
	return sys
}

func secondary(t *datasheet.Transmitter) bool { return t != nil && t.Chamber == "secondary" }

// sees returns the unknowns a transmitter's reading depends on.
func sees(t *datasheet.Transmitter) uint64 {
	where := chamberLevel
	switch t.Chamber {
	case "secondary":
		where = secondChamber
	case "vessel":
		where = vesselLevel
	}
	if t.Principle == datasheet.Radar {
		return where
	}
	return where | liquidDensity
}

// Blind says what this set of instruments cannot see: what follows from the
// set itself, what all instruments of a chamber share, and what has not been
// exercised since when.
func (g *Gauge) Blind(now time.Time, st *State) []coverage.BlindSpot {
	list := coverage.Structural(equations(&g.sheet))
	list = append(list, coverage.Shared(&g.sheet)...)
	for i := range list {
		g.exclude(st, &list[i])
	}
	list = append(list, g.ends(st)...)
	list = append(list, g.delays(st)...)
	list = append(list, g.noises(st)...)
	list = append(list, g.smallErrors(st)...)
	return append(list, g.untested(now.Unix(), st)...)
}

// exclude says when a shared fault was last shown to be absent: when the
// chamber last moved with the vessel.
func (g *Gauge) exclude(st *State, b *coverage.BlindSpot) {
	switch b.ID {
	case "lower-connection", "upper-connection", "isolation":
		for c := symptom.FloatLevel; c <= symptom.SecondLevel; c++ {
			if at := st.Movement.Follow[c][symptom.VesselLevel].LastFollows; g.has(c) && at != 0 && unix(at).After(b.Excluded) {
				b.Excluded = unix(at)
			}
		}
	case "baseline":
		b.PossibleNow = st.Rebased == 0
		if st.Rebased != 0 {
			b.Excluded = unix(st.Rebased)
		}
	}
}

// ends lists the parts of the height nothing can see, and whether the level
// is there now.
func (g *Gauge) ends(st *State) []coverage.BlindSpot {
	level, known := g.bestLevel(st)
	spot := func(id, what, why string, here bool) coverage.BlindSpot {
		return coverage.BlindSpot{ID: id, What: what, Why: why, Structural: true, PossibleNow: known && here, Reveals: "a level back between the taps"}
	}
	list := []coverage.BlindSpot{
		spot("below-lower-tap", "any level at or below the lower tap", "the chamber holds no liquid from the vessel there", level <= 10),
		spot("above-upper-tap", "any level at or above the upper tap", "the chamber is full and shows the upper tap", level >= g.scale.Top-10),
	}
	for _, t := range []*datasheet.Transmitter{g.sheet.Transmitter, g.sheet.Second} {
		if t == nil || t.Principle != datasheet.Radar {
			continue
		}
		if top := mm(t.ReferencePoint - t.BlindTop); t.BlindTop > 0 && top < g.scale.Top {
			list = append(list, spot("dead-zone-"+t.Tag, fmt.Sprintf("a level above %.0f mm by radar %s", top, t.Tag), "it is inside the dead zone below the reference point", level >= top))
		}
	}
	return list
}

// bestLevel is the newest level of the chamber, mm.
func (g *Gauge) bestLevel(st *State) (level float64, ok bool) {
	for c := range symptom.Channels {
		if g.has(c) && st.Movement.At[c] != 0 {
			return st.Movement.Level[c], true
		}
	}
	return 0, false
}

// shortDelay is the delay every gauge should show, s; where less shows nothing
// is said of it.
const shortDelay = 20.0

// delays lists which delays between two instruments the level moved too little
// to show: what they differ by is the delay times the speed.
func (g *Gauge) delays(st *State) (list []coverage.BlindSpot) {
	for _, p := range g.pairs {
		a, b := symptom.Members(p)
		if a == symptom.VesselLevel {
			continue
		}
		spot := coverage.BlindSpot{ID: fmt.Sprintf("delay-%s-%s", g.tag(a), g.tag(b)), PossibleNow: true,
			Why: "the level moved too little lately to show it", Reveals: "faster or more frequent moves of the level"}
		pair := fmt.Sprintf("%s and %s", g.tag(a), g.tag(b))
		switch least, ok := st.Sign[p].Shows(); {
		case st.Gaps[p].Sparse:
			spot.What = "clocks or filters of " + pair + " apart by seconds"
			spot.Why, spot.Reveals = "their values are minutes apart", "readings once a minute or more often"
		case !ok:
			spot.What = "clocks or filters of " + pair + " apart"
		case least > shortDelay:
			spot.What = fmt.Sprintf("clocks or filters of %s apart by less than about %.0f s", pair, least)
		default:
			continue
		}
		list = append(list, spot)
	}
	return list
}

// noises lists the transmitters whose loss of noise would not show, because the
// level itself is as rough.
func (g *Gauge) noises(st *State) (list []coverage.BlindSpot) {
	for c := symptom.TransmitterLevel; c <= symptom.SecondLevel; c++ {
		if shows, known := st.Calm[c].Shows(); g.has(c) && known && !shows && !st.Exception[c].Known() {
			list = append(list, coverage.BlindSpot{ID: "noise-" + g.tag(c), What: "damping or a blocked cell of " + g.tag(c) + " by its noise", PossibleNow: true,
				Why: "the level itself is as rough as its reading", Reveals: "a calmer level for some days"})
		}
	}
	return list
}

// untested lists what the instruments could see but recent movement has not
// tested.
func (g *Gauge) untested(now int64, st *State) []coverage.BlindSpot {
	days := int64(180)
	if g.sheet.Limits.ProvenDays > 0 {
		days = int64(g.sheet.Limits.ProvenDays)
	}
	old := func(at int64) bool { return now-at > days*86400 }
	var list []coverage.BlindSpot
	for c := range symptom.Channels {
		if at := st.Proofs.Newest(c); g.has(c) && len(g.pairs) > 0 && now-at > 86400 {
			b := coverage.BlindSpot{ID: "still-" + g.tag(c), What: fmt.Sprintf("%s standing still", g.tag(c)), Why: "it has not moved together with a witness lately; a flat line proves nothing",
				PossibleNow: true, Reveals: "a move of the level of " + fmt.Sprintf("%.0f mm", g.scale.Size)}
			list = append(list, since(b, at, st.Began))
		}
	}
	for i, pt := range g.sheet.Points {
		p := &st.Points[i]
		for d := symptom.Rising; d <= symptom.Falling; d++ {
			if !old(p.LastAct[d]) {
				continue
			}
			b := coverage.BlindSpot{ID: fmt.Sprintf("switch-%s-%s", pt.Tag, d), What: fmt.Sprintf("%s failed on %s level", pt.Tag, d), PossibleNow: true,
				Why: fmt.Sprintf("not exercised; float visited %.0f to %.0f mm", p.Low, p.High), Reveals: fmt.Sprintf("the level passing %.0f mm, %s", g.trips[i].At(d), d)}
			list = append(list, since(b, p.LastAct[d], st.Began))
		}
	}
	return list
}

func since(b coverage.BlindSpot, at, began int64) coverage.BlindSpot {
	if at != 0 {
		b.NotSince, b.Excluded = unix(at), unix(at)
	} else if began != 0 {
		b.NotSince = unix(began)
	}
	return b
}
