// Package cause names what is wrong. It keeps a ledger of evidence, weighs a
// bank of hypotheses with it and answers with one name only when the odds are
// at least twenty to one, otherwise with the set of names that remain and the
// observation that would split them.
package cause

import (
	"cmp"
	"slices"
	"time"

	"bridlewatch/compare/quantity"
	"bridlewatch/compare/symptom"
)

// Cause names a fault. The strings are stored and published; never change one.
type Cause string

// Causes.
const (
	FloatStuck         Cause = "float-stuck"
	FloatPartlyStuck   Cause = "float-partly-stuck"
	FloatOneWay        Cause = "float-one-way"
	FloatStickSlip     Cause = "float-stick-slip"
	FloatSunk          Cause = "float-sunk"
	FloatHeavier       Cause = "float-heavier"       // deposit or slow leak
	DensityWrong       Cause = "density-wrong"       // wrong product or density input
	UpperDensityWrong  Cause = "upper-density-wrong" // interface service: of the lighter liquid
	Emulsion           Cause = "emulsion"            // interface service: no sharp interface
	FollowerDecoupled  Cause = "follower-decoupled"
	FollowerShifted    Cause = "follower-shifted"
	TransmitterZero    Cause = "transmitter-zero"
	TransmitterSpan    Cause = "transmitter-span"
	TransmitterDrift   Cause = "transmitter-drift"
	TransmitterFrozen  Cause = "transmitter-frozen"
	TransmitterLimit   Cause = "transmitter-saturated"
	TransmitterQuiet   Cause = "transmitter-noise-lost"
	TransmitterNoisy   Cause = "transmitter-noisy"
	FollowerNoisy      Cause = "follower-noisy"
	VesselNoisy        Cause = "vessel-instrument-noisy"
	SurfaceUnquiet     Cause = "surface-unquiet" // boiling, waves, agitation: the process, no instrument
	RadarDisturbed     Cause = "radar-disturbed" // foam or build-up
	LegEmpty           Cause = "dp-leg-empty"
	LegPartlyFilled    Cause = "dp-leg-partly-filled"
	LegPlugged         Cause = "dp-leg-plugged"
	DisplacerDisturbed Cause = "displacer-disturbed"
	PointFailed        Cause = "point-failed"
	PointShifted       Cause = "point-shifted"
	PointWorn          Cause = "point-differential-grown"
	LowerPlug          Cause = "lower-connection-plugged"
	UpperPlug          Cause = "upper-connection-plugged"
	ChamberIsolated    Cause = "chamber-isolated"
	VesselInstrument   Cause = "vessel-instrument" // the vessel-side level itself
	TimeSkew           Cause = "time-skew"
	NoSignal           Cause = "no-signal"
	OutsideDataSheet   Cause = "outside-data-sheet"
	TwoFaults          Cause = "two-faults" // no single one explains the evidence; the set holds both
	Unknown            Cause = "unknown"
)

// All lists every cause but the unknown one.
var All = []Cause{
	FloatStuck, FloatPartlyStuck, FloatOneWay, FloatStickSlip, FloatSunk, FloatHeavier, DensityWrong, UpperDensityWrong, Emulsion, FollowerDecoupled, FollowerShifted,
	TransmitterZero, TransmitterSpan, TransmitterDrift, TransmitterFrozen, TransmitterLimit, TransmitterQuiet, TransmitterNoisy, FollowerNoisy, VesselNoisy, SurfaceUnquiet, RadarDisturbed,
	LegEmpty, LegPartlyFilled, LegPlugged, DisplacerDisturbed, PointFailed, PointShifted, PointWorn, LowerPlug, UpperPlug, ChamberIsolated,
	VesselInstrument, TimeSkew, NoSignal, OutsideDataSheet, TwoFaults,
}

// Suspect says which instrument or part a cause blames.
type Suspect string

// Suspects.
const (
	Float       Suspect = "float"
	Follower    Suspect = "follower"
	Transmitter Suspect = "transmitter"
	Point       Suspect = "point"
	Chamber     Suspect = "chamber"
	Vessel      Suspect = "vessel instrument"
	Density     Suspect = "density"
	Clock       Suspect = "clock"
	Signal      Suspect = "signal"
	Service     Suspect = "service" // conditions outside the data sheet
	Undecided   Suspect = "undecided"

	EitherOfFloat Suspect = "float or follower" // said of an undecided finding, see Blamed
)

// Tier says how far a finding has come.
type Tier string

// Tiers.
const (
	Watch Tier = "watch" // shown, not announced
	Alert Tier = "alert" // somebody must look
)

// Ranked is one hypothesis with its odds.
type Ranked struct {
	Cause       Cause   `json:"cause"`
	Suspect     Suspect `json:"suspect"`
	Tag         string  `json:"tag,omitempty"` // of the instrument blamed
	Probability float64 `json:"probability"`   // of all causes; where two faults are told, that it is one of the two
	Nats        float64 `json:"nats"`          // log-odds against the best, 0 for the best
}

// Blames reports whether it is a cause of one instrument.
func (r Ranked) Blames(by Suspect, tag string) bool { return r.Suspect == by && r.Tag == tag }

// Likeliest returns a set with the likeliest first. The causes of two faults
// stand by couples in it, and each has a chance of its own.
func Likeliest(set []Ranked) []Ranked {
	set = slices.Clone(set)
	slices.SortStableFunc(set, func(a, b Ranked) int { return cmp.Compare(b.Probability, a.Probability) })
	return set
}

// Name is the cause as people call it, with the instrument it blames.
func (r Ranked) Name() string {
	if r.Tag == "" {
		return Phrase(r.Cause)
	}
	return Phrase(r.Cause) + " (" + r.Tag + ")"
}

// Evidence is one line of the ledger.
type Evidence struct {
	From       time.Time          `json:"from"`
	To         time.Time          `json:"to"`
	Sentence   string             `json:"sentence"`
	For        []Cause            `json:"for,omitempty"`
	Against    []Cause            `json:"against,omitempty"`
	Nats       float64            `json:"nats"`
	Excitation string             `json:"excitation,omitempty"` // what moved, e.g. "5 moves of 20 mm"
	Numbers    map[string]float64 `json:"numbers,omitempty"`
}

// Finding is a symptom with its attribution.
type Finding struct {
	ID         string          `json:"id"` // stable over the life of the episode
	Gauge      string          `json:"gauge"`
	Symptom    symptom.Kind    `json:"symptom"`
	Cause      Cause           `json:"cause"`   // Unknown while undecided
	Suspect    Suspect         `json:"suspect"` // Undecided while the set has more than one suspect
	Tag        string          `json:"tag,omitempty"`
	Tier       Tier            `json:"tier"`
	Since      time.Time       `json:"since"` // estimated onset
	Raised     time.Time       `json:"raised"`
	Changed    time.Time       `json:"changed"`
	Cleared    time.Time       `json:"cleared,omitzero"`
	Value      quantity.Length `json:"value_m"`
	Budget     quantity.Length `json:"budget_m"`
	RatePerD   quantity.Length `json:"rate_m_per_day,omitempty"`
	Set        []Ranked        `json:"set"`
	More       bool            `json:"more,omitempty"` // no single cause explains all that is seen: what has a name is there, and something else too
	Evidence   []Evidence      `json:"evidence"`
	Sentence   string          `json:"sentence"` // what was seen, what it means
	Next       string          `json:"next"`     // what to do, with minutes
	WouldProve string          `json:"would_prove,omitempty"`
	Hides      []symptom.Kind  `json:"hides,omitempty"` // symptoms this finding explains
}

// Own splits the set into the causes of the instrument that is named and those of
// others.
func (f *Finding) Own() (own, others []Ranked) {
	for _, r := range f.Set {
		if r.Blames(f.Suspect, f.Tag) {
			own = append(own, r)
		} else {
			others = append(others, r)
		}
	}
	return own, others
}

// Hold adds to the set the likeliest cause of the instrument that is named, where the
// newest weighing left none: the name stands, and what is said of it holds both.
func (f *Finding) Hold(ranked []Ranked) {
	if own, _ := f.Own(); f.Suspect == Undecided || len(own) > 0 {
		return
	}
	for _, r := range ranked {
		if r.Blames(f.Suspect, f.Tag) {
			f.Set = append(slices.Clone(f.Set), r)
			return
		}
	}
}

// Alone makes the cause that is named the only one.
func (f *Finding) Alone() {
	f.Set = []Ranked{{Cause: f.Cause, Suspect: f.Suspect, Tag: f.Tag, Probability: 1}}
}

// Leaves reports whether the finding leaves it open that a cause of its set is
// there. A finding that names one instrument leaves no other but one it is not sure
// enough about.
func (f *Finding) Leaves(r Ranked) bool {
	return f.Suspect == Undecided || f.More || r.Tag == f.Tag || r.Probability >= hardly
}

// FloatOrFollower reports whether it is open which of the two is wrong and
// nothing else remains: only a switch the float passes tells them apart.
func (f *Finding) FloatOrFollower() bool {
	for _, r := range f.Set {
		if r.Suspect != Float && r.Suspect != Follower {
			return false
		}
	}
	return f.Suspect == Undecided && len(f.Set) > 0
}

// Blamed is what is suspect, as far as that is known.
func (f *Finding) Blamed() Suspect {
	if f.FloatOrFollower() {
		return EitherOfFloat
	}
	return f.Suspect
}

// Distinct returns findings in their order without those that say once more
// which two faults there are: a second fault is found beside the first, and once
// both are known each of the two findings tells both, the one perhaps with one
// more that it hardly may be.
func Distinct(findings []Finding) []Finding {
	var out []Finding
	for i := range findings {
		f := &findings[i]
		if !slices.ContainsFunc(out, func(o Finding) bool {
			return o.Cause == TwoFaults && f.Cause == TwoFaults && amongThem(o.Set, f.Set) && amongThem(f.Set, o.Set)
		}) {
			out = append(out, *f)
		}
	}
	return out
}

// hardly is the chance below which one more instrument of a set makes it no other.
const hardly = 0.05

// amongThem reports whether all instruments of a that are no remote chance are
// among those of b.
func amongThem(a, b []Ranked) bool {
	return !slices.ContainsFunc(a, func(x Ranked) bool {
		return x.Probability >= hardly && !slices.ContainsFunc(b, func(y Ranked) bool { return x.Blames(y.Suspect, y.Tag) })
	})
}
