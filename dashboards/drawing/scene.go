package drawing

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"bridlewatch/compare"
	"bridlewatch/compare/cause"
	"bridlewatch/compare/coverage"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
	"bridlewatch/dashboards/units"
)

// Scene is everything a drawing shows.
type Scene struct {
	Sheet  *datasheet.Sheet
	Result compare.Result
	Stale  bool   // nothing fresh: outline only, never a lively picture of the past
	Note   string // below the drawing when stale, e.g. "Last sample 08:02:11, 14 min ago"
	Proven []coverage.Proof
	Now    time.Time
	Units  units.Set
	Float  *Float // nil: the float is not drawn
}

// Float is where the float swims, in metres.
type Float struct {
	Bottom    quantity.Length // of the float above the lower tap
	Immersion quantity.Length // at the live density
	BuiltFor  quantity.Length // at the density the float was made for
}

// source tells the lanes apart.
type source uint8

const (
	floatLane source = iota
	transLane
	secondLane
	pointLane
)

// mark is one indication beside the chamber.
type mark struct {
	source source
	at     quantity.Length // elevation of the marker
	u      quantity.Length // expanded uncertainty, 0: no band
	span   quantity.Length // of a point: differential below at
	bound  level.Bound
	state  gauge.Switch // of a point
	wrong  bool
	value  string // first line of the label
	name   string // second line of the label
}

// marks lists the indications in ascending elevation.
func (s Scene) marks() []mark {
	m := &s.Result.Measurement
	var all []mark
	if s.Sheet.Float.Follower != datasheet.NoFollower {
		all = append(all, s.levelMark(floatLane, s.Sheet.Float.Tag, "float", &m.Float, cause.Float, cause.Follower))
	}
	if t := s.Sheet.Transmitter; t != nil {
		all = append(all, s.levelMark(transLane, t.Tag, string(t.Principle), &m.Transmitter, cause.Transmitter))
	}
	if t := s.Sheet.Second; t != nil {
		all = append(all, s.levelMark(secondLane, t.Tag, string(t.Principle), &m.Second, cause.Transmitter))
	}
	for i, p := range s.Sheet.Points {
		all = append(all, s.pointMark(i, p))
	}
	slices.SortStableFunc(all, func(a, b mark) int {
		switch {
		case a.at < b.at:
			return -1
		case a.at > b.at:
			return 1
		}
		return 0
	})
	return all
}

func (s Scene) levelMark(from source, tag, kind string, l *level.Level, blamed ...cause.Suspect) mark {
	k := mark{source: from, bound: l.Bound, name: join(tag, kindWords(kind)), wrong: s.blames(tag, blamed...)}
	if s.Stale {
		k.bound = level.None
	}
	top := s.Sheet.Chamber.CentreToCentre
	switch k.bound {
	case level.Within:
		k.at, k.u, k.value = l.Value, 2*l.U(), s.Units.LengthWith(l.Value, l.U())
	case level.AboveUpperTap:
		k.at, k.value = top, "at or above upper tap"
	case level.BelowLowerTap:
		k.at, k.value = 0, "at or below lower tap"
	default:
		k.at, k.value = top/2, "no reading"
		if l.Reason != quantity.NoReason && !s.Stale {
			k.value = "no reading: " + l.Reason.String()
		}
	}
	return k
}

func (s Scene) pointMark(i int, p datasheet.Point) mark {
	k := mark{source: pointLane, at: p.Elevation, span: p.Differential, bound: level.Within, name: join(p.Tag, s.Units.Length(p.Elevation))}
	if !s.Stale && i < len(s.Result.Measurement.Points) {
		k.state = s.Result.Measurement.Points[i]
	}
	k.value = k.state.String()
	if k.state == gauge.Unknown {
		k.value = "no reading"
	}
	if s.Stale {
		return k
	}
	for _, v := range s.Result.Verdicts {
		if v.Point != i || v.Outcome != compare.Disagree {
			continue
		}
		if k.wrong = s.blames(p.Tag, cause.Point) || len(s.Result.Findings) == 0; k.wrong {
			k.value = k.state.String() + ", expected " + opposite(k.state)
		} else {
			k.value = k.state.String() + ", float says " + opposite(k.state)
		}
	}
	return k
}

// blames reports whether the worst finding blames the instrument.
func (s Scene) blames(tag string, suspects ...cause.Suspect) bool {
	if s.Stale || len(s.Result.Findings) == 0 {
		return false
	}
	f := s.Result.Findings[0]
	if f.Suspect == cause.Undecided {
		return allBlame(f.Set, tag)
	}
	if f.Tag != "" {
		return f.Tag == tag && slices.Contains(suspects, f.Suspect)
	}
	return slices.Contains(suspects, f.Suspect)
}

// allBlame reports whether every cause that remains blames the same
// instrument: which of them it is may be open, who it is not.
func allBlame(set []cause.Ranked, tag string) bool {
	return len(set) > 0 && !slices.ContainsFunc(set, func(r cause.Ranked) bool { return r.Tag != tag })
}

// extent returns how far the instruments agree that there is liquid, and how
// far one of them says so: solid below low, striped between low and high.
func extent(marks []mark, top quantity.Length) (low, high quantity.Length, ok bool) {
	for _, k := range marks {
		if k.source == pointLane || k.bound == level.None {
			continue
		}
		from, to := k.at-k.u, k.at+k.u
		if k.bound == level.AboveUpperTap {
			from, to = top, top
		}
		if !ok {
			low, high, ok = from, to, true
			continue
		}
		low, high = min(low, from), max(high, to)
	}
	return low, high, ok
}

// Title names the drawing.
func (s Scene) Title() string {
	return fmt.Sprintf("%s, to scale", join(s.Sheet.Tag, s.Sheet.Service))
}

// Description says in words what the drawing shows, from the same marks.
func (s Scene) Description() string {
	var b strings.Builder
	fmt.Fprintf(&b, "Chamber with its lower tap at %s and its upper tap at %s.", s.Units.Length(0), s.Units.Length(s.Sheet.Chamber.CentreToCentre))
	if s.Stale {
		b.WriteString(" No fresh samples. " + s.Note)
		return strings.TrimSpace(b.String())
	}
	marks := s.marks()
	for _, k := range slices.Backward(marks) {
		fmt.Fprintf(&b, " %s: %s%s.", k.name, k.value, map[bool]string{true: " (disagrees)"}[k.wrong])
	}
	if words := s.floatWords(); words != "" {
		b.WriteString(" " + upper(words) + ".")
	}
	if low, high, ok := extent(marks, s.Sheet.Chamber.CentreToCentre); ok && high > low {
		fmt.Fprintf(&b, " Liquid is certain up to %s; above it up to %s the readings leave it open.", s.Units.Length(low), s.Units.Length(high))
	}
	return b.String()
}

// floatWords says how deep the float swims and how deep it was built to swim:
// the difference is what a density other than the float's makes of its reading.
func (s Scene) floatWords() string {
	if s.Float == nil || s.Stale {
		return ""
	}
	return fmt.Sprintf("float swims %s deep, built for %s", s.Units.Length(s.Float.Immersion), s.Units.Length(s.Float.BuiltFor))
}

func upper(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

var kinds = map[string]string{
	string(datasheet.DPWet):         "dp, wet leg",
	string(datasheet.DPDry):         "dp, dry leg",
	string(datasheet.DPSeals):       "dp, remote seals",
	string(datasheet.FloatFollower): "float follower",
}

// kindWords writes the principle of a transmitter in words.
func kindWords(kind string) string {
	if words, ok := kinds[kind]; ok {
		return words
	}
	return kind
}

func opposite(s gauge.Switch) string {
	if s == gauge.Wet {
		return gauge.Dry.String()
	}
	return gauge.Wet.String()
}

func join(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + " · " + b
}
