package compare

import (
	"time"
	"unsafe"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/symptom"
)

// Detect is Evaluate after the physics, for measuring how long it takes.
func (g *Gauge) Detect(now time.Time, in *gauge.Snapshot, st *State, r *Result) {
	g.fold(now, in, st, r)
}

// Between is the interval of a drift's rate as it is told.
func (d *Drift) Between() (low, high float64) { return d.between() }

// HotBytes is what every scan of a gauge with one pair and two points touches
// of its state: the running minute, the presence of the signals, the first part
// of the points, the conditions the levels were last found with, the verdicts, where the float
// last stood, and the marks of time. The rest is touched once a minute.
func HotBytes() uintptr {
	const points, pairs = 2, 1
	var st State
	times := unsafe.Sizeof(st.Began) + unsafe.Sizeof(st.Last) + unsafe.Sizeof(st.written)
	return unsafe.Sizeof(st.Minute) + unsafe.Sizeof(st.Presence) + unsafe.Sizeof(st.physics) +
		points*unsafe.Offsetof(st.Points[0].Acts) + (points+pairs)*unsafe.Sizeof(Verdict{}) +
		unsafe.Sizeof(st.Movement.Anchor[0]) + times
}

// Remaining is how a sentence lists causes that are not ruled out.
func (g *Gauge) Remaining(set []cause.Ranked) []string { return g.remaining(set) }

// Reassumed tells tests whether a condition came or went just now.
func (g *Gauge) Reassumed(at int64, st *State) bool { return g.reassumed(at, st) }

// Means says what a finding means.
func (g *Gauge) Means(f *cause.Finding) string { return g.means(f) }

// WithRange is withRange.
var WithRange = withRange

// AtOnce is atOnce.
var AtOnce = atOnce

// ChamberAgrees is chamberAgrees.
func (g *Gauge) ChamberAgrees(at int64, st *State) bool { return g.chamberAgrees(at, st) }

// LeftAlone is leftAlone.
func (g *Gauge) LeftAlone(at int64, st *State, subject, witness symptom.Channel, mm float64) bool {
	return g.leftAlone(at, st, subject, witness, mm)
}

// Rename is rename of an alert about levels.
func (g *Gauge) Rename(at int64, e *Episode, wish Name, ranked []cause.Ranked) {
	g.rename(at, e, wish, ranked)
}

// TwoAt wishes for two faults and reports whether the name there is gives way.
func (g *Gauge) TwoAt(at int64, e *Episode) bool {
	e.wish(at, Name{Cause: cause.TwoFaults})
	return g.givesWay(at, e)
}
