package compare

import (
	"time"

	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/symptom"
)

// Evaluate folds one scan into st and says what the instruments of the gauge
// say now. It is deterministic and does not allocate while nothing changes;
// sentences are written when something changed, and once a minute. The slices
// of the result belong to st and are valid until its next evaluation.
func (g *Gauge) Evaluate(now time.Time, in *gauge.Snapshot, st *State) Result {
	var r Result
	g.model.Measure(in, &r.Measurement)
	g.fold(now, in, st, &r)
	return r
}

// fold is Evaluate after the physics.
func (g *Gauge) fold(now time.Time, in *gauge.Snapshot, st *State, r *Result) {
	m, at := &r.Measurement, now.Unix()
	r.Gauge, r.Time = g.sheet.Tag, now
	st.opened, st.upgraded, st.closed = st.opened[:0], st.upgraded[:0], st.closed[:0]
	if st.Began == 0 {
		st.Began = at
	}
	if at >= st.Last {
		g.scan(at, in, m, st)
	}
	g.judgePairs(st, m)
	st.write(g, now)
	r.Verdicts, r.Findings, r.Category = st.verdicts, st.open, st.category
	r.Headline, r.Next = st.headline, st.next
	r.Opened, r.Upgraded, r.Closed = st.opened, st.upgraded, st.closed
	r.Changed = len(st.opened)+len(st.upgraded)+len(st.closed) > 0
}

// scan feeds the detectors. A scan older than the last one is not folded: the
// clock of the source went back, and time must not run twice.
func (g *Gauge) scan(at int64, in *gauge.Snapshot, m *gauge.Measurement, st *State) {
	st.isolation(at, m.Isolated || st.ByRecord)
	st.Last = at
	st.Presence.Add(at, &g.fitted, in, m)
	if st.Isolated {
		return
	}
	g.switches(at, m, st)
	var b symptom.Block
	if !st.Minute.Add(at, in, m, g.top, &b) {
		return
	}
	st.Movement.Add(&g.scale, &b)
	g.prove(m, st)
	speed := st.Movement.Speed(b.At)
	for _, p := range g.pairs {
		if b.HasGap[p] {
			st.Gaps[p].Add(g.tolerance(p, m), b.At, b.Gap[p], speed, b.Skew[p])
		}
	}
	g.attend(at, st)
}

// prove books the moves two instruments made together.
func (g *Gauge) prove(m *gauge.Measurement, st *State) {
	moves := st.Movement.Moves()
	for i := range moves {
		if v := &moves[i]; v.Followed() {
			st.Proofs.Add(v, g.scale.Top, mm(pairU(levelOf(m, v.SubjectIs), levelOf(m, v.WitnessIs))))
		}
	}
}

// switches feeds the points with the position that works them: the magnet for
// those of the float, the surface for those with an element of their own.
func (g *Gauge) switches(at int64, m *gauge.Measurement, st *State) {
	for i := range g.sheet.Points {
		t := &g.trips[i]
		position, ok := mm(m.Magnet), m.MagnetOK
		if !t.ByFloat || !g.has(symptom.FloatLevel) {
			l := surface(m)
			position, ok = mm(l.Value), l.OK()
		}
		st.Points[i].Add(t, at, m.Points[i], position, ok)
	}
}

// surface is the level a switch with an element of its own is compared with.
func surface(m *gauge.Measurement) *level.Level {
	if m.Float.OK() {
		return &m.Float
	}
	return &m.Transmitter
}

// isolation stops every test while the chamber is isolated and starts them
// afresh when it comes back.
func (st *State) isolation(at int64, isolated bool) {
	if st.Isolated && !isolated {
		st.Returned = at
		st.forget()
	}
	st.Isolated = isolated
}

// forget drops what was only evidence in the making: running sums and moves.
// Baselines, proofs and open episodes stay.
func (st *State) forget() {
	for p := range st.Gaps {
		st.Gaps[p].Reset()
	}
	for s := range st.Movement.Follow {
		for w := range st.Movement.Follow[s] {
			st.Movement.Follow[s][w] = symptom.Follow{}
		}
	}
	st.Minute = symptom.Compressor{}
}
