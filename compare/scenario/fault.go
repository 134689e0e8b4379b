package scenario

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

// Fault is one fault to be injected into one gauge.
type Fault struct {
	Gauge string // tag of the gauge
	Kind  Kind
	Part  string  // tag of the instrument or point it happens to; "": the first that can have it
	Size  float64 // SI units, see Description; 0: the default of the kind
	Delay time.Duration
	For   time.Duration // how long it lasts; 0: for good
}

// FaultError says why a fault cannot be injected.
type FaultError struct {
	Text   string // the fault as written
	Reason string // with the remedy
}

func (e *FaultError) Error() string { return fmt.Sprintf("fault %q: %s", e.Text, e.Reason) }

// ParseFault reads TAG:KIND[/PART][=SIZE][@DELAY], for example
// "LG-101:float-stuck", "LG-204:transmitter-zero=20mm@2h" or
// "LG-101:point-failed/LSH-101@30m". Sizes are lengths ("15mm", "0.5in"),
// percentages ("4%") or durations ("90s") as the kind demands; rates are the
// length per month. Delays are Go durations or days ("3d"). The error is a
// *FaultError.
func ParseFault(text string) (Fault, error) {
	refuse := func(format string, args ...any) (Fault, error) {
		return Fault{}, &FaultError{Text: text, Reason: fmt.Sprintf(format, args...)}
	}
	gauge, rest, found := strings.Cut(text, ":")
	if !found || gauge == "" {
		return refuse("want TAG:KIND[/PART][=SIZE][@DELAY], for example LG-101:float-stuck@10m")
	}
	rest, delay, delayed := strings.Cut(rest, "@")
	rest, size, sized := strings.Cut(rest, "=")
	kind, part, _ := strings.Cut(rest, "/")
	f := Fault{Gauge: gauge, Kind: Kind(kind), Part: part}
	d, ok := Describe(f.Kind)
	if !ok {
		return refuse("there is no kind %q; the kinds are %s", kind, kindNames())
	}
	if delayed {
		after, err := ParseSpan(delay)
		if err != nil || after < 0 {
			return refuse("delay %q is not a duration such as 90s, 10m, 2h or 3d", delay)
		}
		f.Delay = after
	}
	if sized {
		value, err := d.measure.parse(size)
		if err != nil {
			return refuse("size %q: %v", size, err)
		}
		f.Size = value
	}
	return f, nil
}

// String writes the fault the way ParseFault reads it, without its size.
func (f Fault) String() string {
	s := f.Gauge + ":" + string(f.Kind)
	if f.Part != "" {
		s += "/" + f.Part
	}
	if f.Delay > 0 {
		s += "@" + f.Delay.String()
	}
	return s
}

// Text writes the fault without gauge and delay, with the size where it has
// one, the way ParseFault reads it.
func (f Fault) Text() string {
	s := string(f.Kind)
	if f.Part != "" {
		s += "/" + f.Part
	}
	d, _ := Describe(f.Kind)
	if f.Size == 0 || d.measure == unsized {
		return s
	}
	return s + "=" + d.measure.write(f.Size)
}

func (m measure) write(size float64) string {
	number := func(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }
	switch m {
	case length:
		return number(size*1e3) + "mm"
	case speed:
		return number(size*secondsPerMonth*1e3) + "mm/month"
	case ratio:
		return number(size*100) + "%"
	}
	return time.Duration(size * float64(time.Second)).String()
}

func (m measure) parse(s string) (float64, error) {
	switch m {
	case length:
		v, err := quantity.ParseLength(s)
		return float64(v), err
	case speed:
		v, err := quantity.ParseLength(strings.TrimSuffix(s, "/month"))
		return float64(v) / secondsPerMonth, err
	case ratio:
		v, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(s, "%")), 64)
		if err != nil || !strings.HasSuffix(s, "%") || !(v > -100 && v < 100) {
			return 0, fmt.Errorf("want a percentage between -100%% and 100%%, for example 4%%")
		}
		return v / 100, nil
	case duration:
		v, err := ParseSpan(s)
		if err != nil || v <= 0 {
			return 0, fmt.Errorf("want a duration above zero, for example 60s")
		}
		return v.Seconds(), nil
	}
	return 0, fmt.Errorf("this kind has no size")
}

// ParseSpan reads a length of time: a Go duration or days, such as 3d.
func ParseSpan(s string) (time.Duration, error) {
	if days, found := strings.CutSuffix(s, "d"); found {
		v, err := strconv.ParseFloat(days, 64)
		if err != nil || !(v >= 0 && v < 3650) {
			return 0, fmt.Errorf("%q is not a number of days", s)
		}
		return time.Duration(v * float64(24*time.Hour)), nil
	}
	return time.ParseDuration(s)
}

func kindNames() string {
	var names []string
	for _, list := range [][]Description{catalogue[:], grafts[:]} {
		for _, d := range list {
			names = append(names, string(d.Kind))
		}
	}
	return strings.Join(names, ", ")
}

// partKind is what sort of instrument a part is.
type partKind uint8

const (
	partNone partKind = iota
	partFloat
	partTransmitter
	partSecond
	partPoint
	partPressure
	partTemperature
	partChamberTemperature
	partDensity
	partVessel
)

// part is one instrument of a gauge.
type part struct {
	kind  partKind
	point int // index of a point switch, -1 otherwise
}

func (p part) transmitter(sheet *datasheet.Sheet) *datasheet.Transmitter {
	switch p.kind {
	case partTransmitter:
		return sheet.Transmitter
	case partSecond:
		return sheet.Second
	}
	return nil
}

// findPart finds the instrument with a tag.
func findPart(sheet *datasheet.Sheet, tag string) part {
	for i := range sheet.Points {
		if sheet.Points[i].Tag == tag {
			return part{partPoint, i}
		}
	}
	simple := func(kind partKind, present bool, name string) (part, bool) {
		return part{kind, -1}, present && name == tag
	}
	instrument := func(kind partKind, i *datasheet.Instrument) (part, bool) {
		return part{kind, -1}, i != nil && i.Tag == tag
	}
	if p, ok := simple(partFloat, sheet.Float.Follower != datasheet.NoFollower, sheet.Float.Tag); ok {
		return p
	}
	if p, ok := simple(partTransmitter, sheet.Transmitter != nil, transmitterTag(sheet.Transmitter)); ok {
		return p
	}
	if p, ok := simple(partSecond, sheet.Second != nil, transmitterTag(sheet.Second)); ok {
		return p
	}
	if p, ok := instrument(partPressure, sheet.Pressure); ok {
		return p
	}
	if p, ok := instrument(partTemperature, sheet.Temperature); ok {
		return p
	}
	if p, ok := instrument(partChamberTemperature, sheet.ChamberTemperature); ok {
		return p
	}
	if p, ok := instrument(partDensity, sheet.Densitometer); ok {
		return p
	}
	if sheet.Vessel != nil && sheet.Vessel.Tag == tag {
		return part{partVessel, -1}
	}
	return part{partNone, -1}
}

// partTags lists the instruments a fault can happen to.
func partTags(sheet *datasheet.Sheet) (tags []string) {
	if sheet.Float.Follower != datasheet.NoFollower {
		tags = append(tags, sheet.Float.Tag)
	}
	for _, t := range []*datasheet.Transmitter{sheet.Transmitter, sheet.Second} {
		if t != nil {
			tags = append(tags, t.Tag)
		}
	}
	for i := range sheet.Points {
		tags = append(tags, sheet.Points[i].Tag)
	}
	return tags
}

func transmitterTag(t *datasheet.Transmitter) string {
	if t == nil {
		return ""
	}
	return t.Tag
}

// choosePart finds the part a fault happens to: the one named, or the first
// that can have it.
func choosePart(sheet *datasheet.Sheet, f Fault, n needs) (part, string) {
	if f.Part != "" {
		p := findPart(sheet, f.Part)
		if p.kind == partNone {
			return p, fmt.Sprintf("gauge %s has no instrument %q; it has %s", sheet.Tag, f.Part, strings.Join(partTags(sheet), ", "))
		}
		if reason := n.missing(sheet, p); reason != "" {
			return p, fmt.Sprintf("gauge %s cannot have it at %s: %s", sheet.Tag, f.Part, reason)
		}
		return p, ""
	}
	candidates := []part{{partNone, -1}}
	switch n {
	case needPoint:
		candidates = []part{{partPoint, min(len(sheet.Points), 1) - 1}}
	case needSignal, needLevel:
		candidates = []part{findPart(sheet, transmitterTag(sheet.Transmitter)), findPart(sheet, sheet.Float.Tag)}
	case needTransmitter, needRadar, needWetLeg, needLeg, needDisplacer:
		candidates = []part{{partTransmitter, -1}, {partSecond, -1}}
	case needVesselLevel:
		candidates = []part{{partVessel, -1}}
	case needFloat:
		candidates = []part{{partFloat, -1}}
	}
	first := ""
	for _, p := range candidates {
		reason := n.missing(sheet, p)
		if reason == "" {
			return p, ""
		}
		if first == "" {
			first = fmt.Sprintf("gauge %s cannot have it: %s", sheet.Tag, reason)
		}
	}
	return part{partNone, -1}, first
}
