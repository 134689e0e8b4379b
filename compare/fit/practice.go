package fit

import (
	"fmt"
	"strings"

	"bridlewatch/compare/chamber"
	"bridlewatch/compare/datasheet"
	"bridlewatch/compare/gauge"
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
		c.separation()
	}
}

// separation says when the chamber of an interface service shows what, by the
// example of an interface at 40 % under a total level at 80 % of the range.
func (c *check) separation() {
	if c.model == nil {
		return
	}
	inChamber, inVessel, err := c.model.Columns(&gauge.Truth{})
	if err != nil {
		return
	}
	span := c.sheet.Chamber.CentreToCentre
	s := chamber.Separation{Span: span, Heavy: inVessel.Liquid, Light: inVessel.Gas, HeavyInChamber: inChamber.Liquid, LightInChamber: inChamber.Gas, Interface: 0.4 * span, Total: 0.8 * span}
	standing, err := s.Stand()
	if err != nil {
		return
	}
	c.report.advise(Warning, "interface", fmt.Sprintf("The chamber shows the interface only while both taps are covered. With the interface at %.0f mm and the total level at %.0f mm it would stand at %.0f mm. %s",
		s.Interface.Millimetres(), s.Total.Millimetres(), standing.Level.Millimetres(), standing.Sentence), Calculated)
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
	c.points()
	c.gravity()
	if s.Pressure == nil && s.Fluid.Vapour.Model == datasheet.Steam {
		c.unmeasuredPressure()
	}
}

// unmeasuredPressure warns where steam presses on the liquid and nobody knows
// how hard: boiling water follows the pressure, colder water hardly does.
func (c *check) unmeasuredPressure() {
	rest, weight := "the density of the steam", Note
	for _, t := range []*datasheet.Transmitter{c.sheet.Transmitter, c.sheet.Second} {
		if t != nil && t.Principle == datasheet.Radar {
			rest, weight = rest+", the gas correction of "+t.Tag, Warning
		}
	}
	if c.model != nil && c.model.Boils() {
		rest, weight = "boiling point and density of the water, "+rest, Warning
	}
	c.report.advise(weight, "pressure", "No pressure is measured, so what follows from it ("+rest+") is that of the operating pressure of the data sheet.", FromSheet)
}

// gravity says what a dp cell or a weighed displacer makes of a place whose
// gravity nobody stated.
func (c *check) gravity() {
	if c.sheet.Gravity != quantity.StandardGravity {
		return
	}
	for _, t := range []*datasheet.Transmitter{c.sheet.Transmitter, c.sheet.Second} {
		if t == nil || !t.Weighs() {
			continue
		}
		c.report.advise(Note, "gravity", fmt.Sprintf("%s turns a pressure or a force into a level with standard gravity. Gravity of the place lies between 9.78 m/s2 at the equator and 9.83 at the poles: up to 0.27 %% of the level, %.1f mm at the upper tap. Give it as gravity in the data sheet where it matters.",
			t.Tag, 0.0027*c.sheet.Chamber.CentreToCentre.Millimetres()), Calculated)
		return
	}
}

// points names the switches that are no witness of their own.
func (c *check) points() {
	var tags []string
	for _, p := range c.sheet.Points {
		if p.ByFloat() {
			tags = append(tags, p.Tag)
		}
	}
	switch len(tags) {
	case 0:
	case 1:
		c.report.advise(Note, "points", tags[0]+" is worked by the float's magnet and shares its faults.", Calculated)
	default:
		c.report.advise(Note, "points", strings.Join(tags, ", ")+" are worked by the float's magnet and share its faults.", Calculated)
	}
}

// capital makes a sentence of a message.
func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
