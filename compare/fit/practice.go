package fit

import (
	"fmt"
	"strings"

	"bridlewatch/compare/chamber"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/quantity"
)

// practice compares with what the trade usually does. It advises and never
// refuses.
func (c *check) practice() {
	c.usualRange()
	c.usualPipe()
	c.connections()
	c.instruments()
	c.report.advise(Note, "design code", "Chambers are usually designed to the guidelines of ASME B31.1 or B31.3; the code of the site decides which, and by whom.", CommonPractice)
	if c.sheet.Float.Mass > 0 {
		c.report.advise(Note, "float", fmt.Sprintf("A float is picked for each application; confirm that its %.0f g include the magnet.", 1e3*float64(c.sheet.Float.Mass)), CommonPractice)
	}
}

func (c *check) usualRange() {
	const shortest, longest = 6 * quantity.Inch, 20 * quantity.Foot
	span := c.sheet.Chamber.CentreToCentre
	if span > 0 && (span < shortest || span > longest) {
		c.report.advise(Note, "measured range", fmt.Sprintf("A measured range of %.0f mm is outside the usual 6 in to 20 ft (%.0f to %.0f mm) of visual indicators; others are made on request.",
			span.Millimetres(), shortest.Millimetres(), longest.Millimetres()), CommonPractice)
	}
}

func (c *check) usualPipe() {
	ch := &c.sheet.Chamber
	schedule := strings.TrimSuffix(strings.ToUpper(ch.Schedule), "S")
	if (ch.Schedule != "" && schedule != "40" && schedule != "STD") || !strings.HasPrefix(ch.Material, "316") {
		c.report.advise(Note, "chamber", fmt.Sprintf("Schedule 40 pipe of 316 is the standard chamber; this one is schedule %s of %s, which is usual too where pressure, temperature or the liquid ask for it.", ch.Schedule, ch.Material), CommonPractice)
	}
}

func (c *check) connections() {
	style, err := chamber.StyleOf(string(c.sheet.Chamber.ConnectionStyle))
	if err != nil {
		return // reported as a problem already
	}
	c.report.advise(Note, "connections", fmt.Sprintf("%s: the measured range is %s. %s.", capital(style.Name), style.Range, capital(style.Watch)), CommonPractice)
	if c.sheet.Fluid.Upper != nil {
		c.report.advise(Warning, "interface", "The chamber shows the interface only while both taps are covered. With the upper tap in the gas only the heavier liquid gets in, "+
			"and its level is neither the interface nor the total level; nothing on this chamber can tell.", Calculated)
	}
}

// instruments says what this set of instruments leaves open.
func (c *check) instruments() {
	s := c.sheet
	if s.Transmitter == nil && len(s.Points) == 0 && s.Vessel == nil {
		c.report.advise(Warning, "instruments", "Nothing on this gauge can contradict the float: add a transmitter of another principle or point switches.", Calculated)
	}
	if s.Transmitter != nil && s.Transmitter.Principle == datasheet.FloatFollower && s.Transmitter.Chamber == "same" {
		c.report.advise(Warning, "instruments", "The transmitter follows the same float: a stuck or sunk float misleads both.", Calculated)
	}
	if s.Vessel == nil && (s.Transmitter == nil || s.Transmitter.Chamber != "vessel") {
		c.report.advise(Note, "instruments", "Everything hangs on one pair of connections: a plugged connection leaves all of it in agreement and wrong. A level on the vessel would show it.", Calculated)
	}
	for _, p := range s.Points {
		if p.ByFloat() {
			c.report.advise(Note, "points", fmt.Sprintf("%s is worked by the float's magnet and shares its faults.", p.Tag), Calculated)
		}
	}
	if s.Pressure == nil && s.Fluid.Vapour.Model == datasheet.Steam {
		c.report.advise(Warning, "pressure", "Steam above the liquid and no pressure measured: densities and the radar's gas correction rest on the operating pressure of the data sheet.", FromSheet)
	}
}

// capital makes a sentence of a message.
func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
