package trend

import (
	"encoding/json"
	"math"
	"strconv"
	"time"

	"bridlewatch/dashboards/units"
)

// Encode writes the chart for the browser in the units of the reader:
// {"from":…,"to":…,"step":…,"most":…,"time":[…],"lines":[{"key":…,"label":…,
// "kind":…,"unit":…,"min":[…],"max":[…],"mean":[…]}],"spans":[{"from":…,"to":…,
// "kind":…,"label":…}]}. Times are seconds since
// 1970. It is written by hand because it is the largest thing a page asks for.
func (c *Chart) Encode(set units.Set) []byte {
	b := make([]byte, 0, 256+len(c.Time)*(12+24*len(c.Columns)))
	b = append(b, `{"from":`...)
	b = appendTime(b, c.From)
	b = append(b, `,"to":`...)
	b = appendTime(b, c.To)
	b = append(b, `,"step":`...)
	b = strconv.AppendFloat(b, c.Step.Seconds(), 'f', -1, 64)
	b = append(b, `,"most":`...)
	b = strconv.AppendUint(b, uint64(c.Most), 10)
	b = append(b, `,"time":[`...)
	for i, t := range c.Time {
		if i > 0 {
			b = append(b, ',')
		}
		b = appendTime(b, t)
	}
	b = append(b, `],"lines":[`...)
	for i := range c.Columns {
		if i > 0 {
			b = append(b, ',')
		}
		b = c.Columns[i].encode(b, set)
	}
	b = append(b, `],"spans":[`...)
	for i, s := range c.Spans {
		if i > 0 {
			b = append(b, ',')
		}
		b = appendTime(append(b, `{"from":`...), s.From)
		to := s.To
		if to.IsZero() || to.After(c.To) {
			to = c.To
		}
		b = appendTime(append(b, `,"to":`...), to)
		b = appendString(append(b, `,"kind":`...), s.Kind)
		b = appendString(append(b, `,"label":`...), s.Label)
		b = append(b, '}')
	}
	return append(b, `]}`...)
}

func (c *Column) encode(b []byte, set units.Set) []byte {
	factor, unit, digits := shown(c.Kind, set)
	b = appendString(append(b, `{"key":`...), c.Key)
	b = appendString(append(b, `,"label":`...), c.Label)
	b = appendString(append(b, `,"kind":`...), string(c.Kind))
	b = appendString(append(b, `,"unit":`...), unit)
	for _, part := range []struct {
		name   string
		values []*float64
	}{{"min", c.Min}, {"max", c.Max}, {"mean", c.Mean}} {
		b = append(b, `,"`...)
		b = append(b, part.name...)
		b = append(b, `":[`...)
		for i, v := range part.values {
			if i > 0 {
				b = append(b, ',')
			}
			b = appendValue(b, v, factor, digits)
		}
		b = append(b, ']')
	}
	return append(b, '}')
}

// shown returns the SI amount of one unit, its symbol and the decimals kept.
func shown(k Kind, set units.Set) (factor float64, unit string, digits int) {
	switch k {
	case Point:
		return 1, "", 2
	case Density:
		return set.DensityFactor(), set.DensitySymbol(), 2
	}
	if set.LengthFactor() > 0.01 {
		return set.LengthFactor(), set.LengthSymbol(), 3
	}
	return set.LengthFactor(), set.LengthSymbol(), 2
}

func appendValue(b []byte, v *float64, factor float64, digits int) []byte {
	if v == nil || math.IsNaN(*v) || math.IsInf(*v, 0) {
		return append(b, "null"...)
	}
	scale := math.Pow10(digits)
	return strconv.AppendFloat(b, math.Round(*v/factor*scale)/scale, 'f', -1, 64)
}

func appendTime(b []byte, t time.Time) []byte {
	return strconv.AppendFloat(b, float64(t.UnixMilli())/1e3, 'f', -1, 64)
}

func appendString(b []byte, s string) []byte {
	text, err := json.Marshal(s)
	if err != nil {
		panic(err) // a string can always be marshalled
	}
	return append(b, text...)
}

// Write writes one value of the column for a table.
func (c *Column) Write(v float64, set units.Set) string {
	factor, unit, digits := shown(c.Kind, set)
	if c.Kind == Point {
		return map[bool]string{true: "wet", false: "dry"}[v > 0.5]
	}
	return units.Fixed(v/factor, digits-1) + units.NoBreak + unit
}

// Unit returns the unit the column is shown in; "" for points.
func (c *Column) Unit(set units.Set) string {
	_, unit, _ := shown(c.Kind, set)
	return unit
}

// Number writes one value of the column without its unit, with an ordinary
// minus sign for machines; "" where there is none.
func (c *Column) Number(v *float64, set units.Set) string {
	factor, _, digits := shown(c.Kind, set)
	if v == nil {
		return ""
	}
	return string(appendValue(nil, v, factor, digits))
}
