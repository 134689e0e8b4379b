package compare

import (
	"slices"
	"strings"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/symptom"
)

// Belief is the level in the vessel that can be believed while an open alert puts
// in doubt the instrument Measurement.InVessel is made of. It takes the place of
// nothing: the measurement stays as it is.
type Belief struct {
	Doubted string      // the instrument in doubt, as a sentence calls it: "float LI-101"
	Alert   string      // ID of the finding
	Raised  time.Time   // when it became an alert
	By      string      // the instrument that gives Level: "radar LT-101"; empty: none can be believed
	Tag     string      // of that instrument
	Level   level.Level // in the vessel; it may be at or beyond a tap
	Without []string    // where none can be believed, what is the matter with each of the others
	Apart   []string    // others that are not in doubt and disagree with it just now
	Blames  string      // what the alert says of the one in doubt, with RaisedAt for its time
}

// RaisedAt stands in Belief.Blames for the time of the alert.
const RaisedAt = "{raised}"

// Why says which instrument is in doubt and by which alert. clock writes a time.
func (b *Belief) Why(clock func(time.Time) string) string {
	return strings.Replace(b.Blames, RaisedAt, clock(b.Raised), 1)
}

// Believe makes the level in the vessel of an instrument that no open alert puts
// in doubt: the first of float, transmitter, second transmitter and that of the
// vessel that has a good reading. It is nil where the level in the vessel is not in
// doubt. r is what the last evaluation of the snapshot said.
func (g *Gauge) Believe(in *gauge.Snapshot, st *State, r *Result) *Belief {
	place, of := r.Measurement.InChamber()
	used := symptom.Channel(place)
	if of.Bound == level.None || r.Measurement.Isolated {
		return nil
	}
	i := slices.IndexFunc(r.Findings, func(f cause.Finding) bool { return doubts(&g.sheet, &f, used) })
	if i < 0 {
		return nil
	}
	f := &r.Findings[i]
	b := &Belief{Doubted: g.instrument(used), Alert: f.ID, Raised: f.Raised, Blames: g.blame(f, used)}
	if open := anythingElse(f); open != "" {
		b.Without = []string{open}
		return b
	}
	doubted, by := Doubted(&g.sheet, r.Findings), used
	for c := range symptom.Channels {
		if c == used || !g.has(c) {
			continue
		}
		l := g.model.InVesselBy(int(c), in, &st.physics, &r.Measurement)
		switch {
		case doubted[c]:
			b.Without = append(b.Without, g.instrument(c)+" is in doubt too")
		case g.watched(c, r.Findings):
			b.Without = append(b.Without, "a finding about "+g.instrument(c)+" is being watched")
		case l.Bound == level.None:
			b.Without = append(b.Without, g.instrument(c)+" has no level: "+l.Reason.String())
		case l.Marked:
			b.Without = append(b.Without, g.instrument(c)+" has only an uncertain reading")
		case b.By == "":
			b.By, b.Tag, b.Level = g.instrument(c), g.tag(c), l
			by = c
		case disagree(r.Verdicts, by, c):
			b.Apart = append(b.Apart, g.instrument(c))
		}
	}
	if b.By != "" {
		b.Without = nil
	} else if len(b.Without) == 0 {
		b.Without = []string{"the gauge has no other instrument for a level"}
	}
	return b
}

// anythingElse says of an alert that leaves room for what it does not name that
// nothing is beyond doubt.
func anythingElse(f *cause.Finding) string {
	switch {
	case f.More:
		return "the alert says that something more is wrong"
	case f.Suspect == cause.Undecided && slices.ContainsFunc(f.Set, func(r cause.Ranked) bool { return r.Cause == cause.Unknown }):
		return "the alert leaves open what is wrong"
	}
	return ""
}

// blame says what an alert says of the level of a channel, with a place for the
// time of the alert.
func (g *Gauge) blame(f *cause.Finding, c symptom.Channel) string {
	switch {
	case f.Suspect == cause.Chamber:
		return "the chamber is blamed by the alert of " + RaisedAt
	case f.Suspect == cause.Density:
		return "the density is blamed by the alert of " + RaisedAt
	case f.Suspect != cause.Undecided && f.Tag == g.tag(c) || f.FloatOrFollower():
		return g.instrument(c) + " is blamed by the alert of " + RaisedAt
	}
	return "the alert of " + RaisedAt + " does not rule out that " + g.instrument(c) + " is wrong"
}

// watched reports whether a finding that is no alert yet names the instrument.
func (g *Gauge) watched(c symptom.Channel, findings []cause.Finding) bool {
	return slices.ContainsFunc(findings, func(f cause.Finding) bool {
		return f.Tier == cause.Watch && f.Suspect != cause.Undecided && f.Suspect != cause.Service && f.Tag == g.tag(c)
	})
}

// disagree reports whether the verdict of this scan parts two levels.
func disagree(verdicts []Verdict, a, z symptom.Channel) bool {
	return slices.ContainsFunc(verdicts, func(v Verdict) bool {
		if v.Point >= 0 || v.Outcome != Disagree {
			return false
		}
		first, second := symptom.Members(v.Pair)
		return first == a && second == z || first == z && second == a
	})
}

// instrument is what the trade calls the instrument of a level, with its tag.
func (g *Gauge) instrument(c symptom.Channel) string {
	switch c {
	case symptom.FloatLevel:
		return "float " + g.tag(c)
	case symptom.VesselLevel:
		return "vessel instrument " + g.tag(c)
	case symptom.SecondLevel:
		return principle(g.sheet.Second) + " " + g.tag(c)
	}
	return principle(g.sheet.Transmitter) + " " + g.tag(c)
}

func principle(t *datasheet.Transmitter) string {
	switch t.Principle {
	case datasheet.Radar:
		return "radar"
	case datasheet.DPWet, datasheet.DPDry, datasheet.DPSeals:
		return "dp transmitter"
	case datasheet.Displacer:
		return "displacer"
	case datasheet.FloatFollower:
		return "second float"
	}
	return "transmitter"
}

// Doubted says of each level whether what it says of the vessel is in doubt: an
// open alert blames its instrument, its chamber or the density it is found with, or
// does not rule that out.
func Doubted(s *datasheet.Sheet, findings []cause.Finding) (doubted [symptom.Channels]bool) {
	for c := range symptom.Channels {
		doubted[c] = slices.ContainsFunc(findings, func(f cause.Finding) bool { return doubts(s, &f, c) })
	}
	return doubted
}

// doubts reports whether an open alert puts the level of a channel in doubt.
func doubts(s *datasheet.Sheet, f *cause.Finding, c symptom.Channel) bool {
	tag, chamber, density := makes(s, c)
	return tag != "" && f.Tier == cause.Alert && slices.ContainsFunc(f.Set, func(r cause.Ranked) bool {
		if !f.Leaves(r) {
			return false
		}
		switch r.Suspect {
		case cause.Chamber:
			return chamber
		case cause.Density:
			return density
		case cause.Service:
			return false // conditions of the gauge, whose tag may be that of its float
		}
		return r.Tag == tag
	})
}

// makes says which instrument makes a level, empty where there is none, and whether
// the level hangs on the chamber and on the density of the liquid.
func makes(s *datasheet.Sheet, c symptom.Channel) (tag string, chamber, density bool) {
	t := s.Transmitter
	switch c {
	case symptom.FloatLevel:
		return s.Float.Tag, true, true
	case symptom.VesselLevel:
		if s.Vessel != nil {
			tag = s.Vessel.Tag
		}
		return tag, false, false
	case symptom.SecondLevel:
		t = s.Second
	}
	if t == nil {
		return "", false, false
	}
	return t.Tag, t.Chamber != "vessel", t.Principle != datasheet.Radar
}
