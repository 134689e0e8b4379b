package compare

import (
	"fmt"
	"strings"
	"time"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/symptom"
)

// name is how a sentence calls a channel.
func (g *Gauge) name(c symptom.Channel) string {
	switch c {
	case symptom.FloatLevel:
		return "Float"
	case symptom.TransmitterLevel:
		if g.sheet.Second != nil {
			return "Transmitter " + g.tag(c)
		}
		return "Transmitter"
	case symptom.SecondLevel:
		return "Transmitter " + g.tag(c)
	case symptom.VesselLevel:
		return "Vessel level"
	}
	return "Chamber"
}

// describe writes what was seen, what it means and what to do.
func (g *Gauge) describe(at int64, st *State, e *Episode) {
	f := &e.Finding
	f.Sentence = g.seen(at, st, e) + " " + g.means(f)
	f.Next = cause.Next(f.Cause, f.Suspect, f.Set)
	f.WouldProve = cause.WouldProve(f.Cause, f.Set)
	if f.More {
		f.WouldProve = cause.WouldProve(cause.TwoFaults, f.Set)
	}
	if e.Group == Absence && e.Index == int(everySignal) {
		f.Next, f.WouldProve = "Check what its signals share: supply, input card, network, 15 min.", "measure any of the loops at the input card"
	}
}

// and continues a sentence with more.
func and(parts []string) string {
	if len(parts) == 0 {
		return ""
	}
	return "; " + join(parts)
}

// means says which cause it points to, or which remain.
func (g *Gauge) means(f *cause.Finding) string {
	if f.Cause == cause.TwoFaults {
		return cause.Together(f.Set)
	}
	if f.More {
		return g.meansMore(f)
	}
	if f.Cause != cause.Unknown {
		return cause.Meaning(f.Cause, f.Tag)
	}
	own, others := f.Set, []cause.Ranked(nil)
	if f.Suspect != cause.Undecided {
		own, others = f.Own()
	}
	names := g.remaining(own)
	switch {
	case len(names) == 0:
		return "The cause is open."
	case len(names) == 1:
		names = append(names, "something else")
	}
	switch {
	case f.Suspect == cause.Transmitter && f.Tag != "":
		return fmt.Sprintf("Transmitter %s is suspect: %s.", f.Tag, or(names)) + g.notRuledOut(others)
	case f.Suspect != cause.Undecided:
		return fmt.Sprintf("The %s is suspect: %s.", f.Suspect, or(names)) + g.notRuledOut(others)
	case f.FloatOrFollower():
		return fmt.Sprintf("The float or its follower is suspect: %s.", or(names))
	}
	return fmt.Sprintf("Not decided yet: %s.", or(names))
}

// notRuledOut says which causes of other instruments remain beside a name.
func (g *Gauge) notRuledOut(others []cause.Ranked) string {
	names := g.remaining(others)
	if len(names) == 0 {
		return ""
	}
	return fmt.Sprintf(" Not ruled out: %s.", or(names))
}

// meansMore says what is known where no single cause explains all: the one that
// is there, or those that may be.
func (g *Gauge) meansMore(f *cause.Finding) string {
	mine, others := f.Own()
	switch {
	case f.Suspect == cause.Undecided && len(others) == 0:
		return "No single fault explains this; the causes are open."
	case f.Suspect == cause.Undecided:
		return fmt.Sprintf("No single fault explains this, and which two do is not decided yet: %s.", or(append(g.remaining(others), "something else")))
	}
	text := "Something more does not fit."
	if len(others) > 0 {
		text = fmt.Sprintf("Something more does not fit: perhaps %s.", or(g.remaining(others)))
	}
	named := *f
	named.Set, named.More = mine, false
	return g.means(&named) + " " + text
}

// causesListed is how many causes a sentence lists before it counts the others.
const causesListed = 4

// remaining lists causes that are not ruled out. Where a gauge has two
// transmitters a cause says which of them it blames.
func (g *Gauge) remaining(set []cause.Ranked) []string {
	var names []string
	for _, r := range set {
		switch {
		case r.Cause == cause.Unknown:
		case g.sheet.Second != nil && r.Suspect == cause.Transmitter:
			names = append(names, r.Name())
		default:
			names = append(names, cause.Phrase(r.Cause))
		}
	}
	if others := len(names) - causesListed; others > 1 {
		names = append(names[:causesListed], fmt.Sprintf("%d others", others))
	}
	return names
}

// still is the channel an episode about stillness is about.
func (e *Episode) still() symptom.Channel {
	if e.Finding.Symptom == symptom.FloatStill {
		return symptom.FloatLevel
	}
	for _, k := range e.Keys {
		if k.Kind == symptom.TransmitterFrozen {
			return channelOf(k.Channels &^ bit(symptom.FloatLevel))
		}
	}
	return channelOf(e.Channels)
}

// limited is the channel of an episode that is at the end of its range.
func (st *State) limited(e *Episode) symptom.Channel {
	for _, k := range e.Keys {
		if c := channelOf(k.Channels); k.Kind == symptom.TransmitterLimit && st.Presence.LimitSince[c] != 0 {
			return c
		}
	}
	return channelOf(e.Channels)
}

func channelOf(mask uint8) symptom.Channel {
	for c := range symptom.Channels {
		if mask&bit(c) != 0 {
			return c
		}
	}
	return symptom.FloatLevel
}

func clock(t time.Time) string { return t.Format("2 Jan 15:04") }

// span writes a duration the way people say it.
func span(seconds int64) string {
	d := time.Duration(seconds) * time.Second
	days, hours, minutes := int(d.Hours())/24, int(d.Hours()), int(d.Minutes())%60
	switch {
	case days >= 3:
		return fmt.Sprintf("%d days", days)
	case hours >= 1:
		return fmt.Sprintf("%d h %d min", hours, minutes)
	}
	return fmt.Sprintf("%d min", minutes)
}

func times(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return fmt.Sprintf("%d times", n)
}

func lower(s string) string { return strings.ToLower(s[:1]) + s[1:] }

func join(parts []string) string { return list(parts, "and") }
func or(parts []string) string   { return list(parts, "or") }

func list(parts []string, last string) string {
	if len(parts) == 1 {
		return parts[0]
	}
	return strings.Join(parts[:len(parts)-1], ", ") + " " + last + " " + parts[len(parts)-1]
}
