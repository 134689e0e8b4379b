package compare

import (
	"math"

	"bridlewatch/compare/cause"
	"bridlewatch/compare/shape"
	"bridlewatch/compare/symptom"
)

// irregular is what a mechanical fault pays for behaving in no regular form, nats.
const irregular = 1.0

// suddenly is how much less likely a float gains weight at once, and stays
// afloat, than slowly, nats: one in twenty.
const suddenly = 3.0

// irregularly is the fit of an error of no regular form. Of two channels
// either could have it; where a regular form does it is the last to be thought
// of.
func irregularly(s *shape.Solution, f *[shape.Forms]shape.Fit) float64 {
	if !s.Strained() {
		return f[shape.Free].Nats - 4*irregular
	}
	return f[shape.Free].Nats - irregular
}

// plugged is the fit of a dp transmitter that shows the pressure instead of the
// level. Of two channels the other may well rest meanwhile, as the level does,
// and only seem to be what stands still.
func plugged(s *shape.Solution, c symptom.Channel) float64 {
	best := irregularly(s, &s.Fits[c])
	if s.Voices > 2 {
		return best
	}
	for o := range s.Fits {
		if f := &s.Fits[o]; symptom.Channel(o) != c && s.Took(symptom.Channel(o)) {
			best = math.Max(best, math.Max(f[shape.Still].Nats, math.Max(f[shape.Ceiling].Nats, f[shape.Floor].Nats))-irregular)
		}
	}
	return best
}

// atAnEnd reports whether a float's reading is an end of its travel.
func (g *Gauge) atAnEnd(size float64) bool { return size < 40 || size > g.scale.Top-40 }

// ended is the fit of a reading that stands, at its end where that holds.
func ended(f *[shape.Forms]shape.Fit, holds func(size float64) bool) float64 {
	return math.Max(atEnd(f[shape.Still], holds(f[shape.Still].Size)), atEnd(f[shape.Gone], holds(f[shape.Gone].Size)))
}

// score is how well a hypothesis explains the marks: the best of its forms.
func (g *Gauge) score(st *State, h *cause.Hypothesis, s *shape.Solution) float64 {
	bad := math.Inf(-1)
	switch h.Cause {
	case cause.TimeSkew:
		return math.Max(g.late(st, s), byHours(s))
	case cause.Unknown:
		return s.Unknown
	case cause.LowerPlug:
		return g.vesselFit(s, shape.Lagging)
	case cause.UpperPlug:
		// Trapped gas moves the chamber's level as it warms and cools: within the
		// chamber nothing tells that from a vessel instrument that is wrong.
		fit := math.Max(g.vesselFit(s, shape.Weak), vesselWrong(s))
		if g.condenses() { // it fills by itself and then stands full
			fit = math.Max(fit, math.Max(g.vesselFit(s, shape.Dead), irregularly(s, &s.Fits[symptom.VesselLevel])))
		}
		return fit
	case cause.ChamberIsolated:
		return g.vesselFit(s, shape.Dead)
	}
	f := &s.Fits[h.Channel]
	if !s.Took(h.Channel) {
		return bad
	}
	switch h.Cause {
	case cause.FloatStuck, cause.FollowerDecoupled, cause.TransmitterFrozen:
		return f[shape.Still].Nats
	case cause.FloatSunk:
		return ended(f, func(size float64) bool { return size < 40 })
	case cause.TransmitterLimit:
		return ended(f, func(float64) bool { return st.Presence.LimitSince[h.Channel] != 0 })
	case cause.FloatPartlyStuck:
		return math.Max(math.Max(f[shape.Ceiling].Nats, f[shape.Floor].Nats), irregularly(s, f))
	case cause.FloatOneWay:
		return math.Max(math.Max(f[shape.HangsUp].Nats, f[shape.HangsDown].Nats), irregularly(s, f))
	case cause.FloatStickSlip:
		if !g.smooth(st, symptom.FloatLevel) { // at one speed friction looks like being late
			return math.Max(f[shape.Deadband].Nats, g.late(st, s)-irregular)
		}
		return f[shape.Deadband].Nats
	case cause.FloatHeavier:
		step := seldom(atEnd(f[shape.Constant], f[shape.Constant].Size < 0), f[shape.Constant].Size, heavierUsual) - suddenly
		return math.Max(step, atEnd(f[shape.Ramp], f[shape.Ramp].Size < 0))
	case cause.DensityWrong:
		relative := f[shape.Density].Size * st.DensityU
		fit := f[shape.Density].Nats - offNats(relative, g.densityUsual())
		if g.sheet.Fluid.Upper != nil { // a float that the lower liquid no longer lifts, or the upper one does, goes to its end
			fit = math.Max(fit, ended(f, g.atAnEnd)-math.Ln2)
		}
		return fit
	case cause.UpperDensityWrong:
		relative := f[shape.Upper].Size * g.model.UpperU()
		fit := f[shape.Upper].Nats - offNats(relative, densityPrior)
		return math.Max(fit, ended(f, g.atAnEnd)-math.Ln2)
	case cause.Emulsion:
		return math.Max(f[shape.Foam].Nats, emulsified(f))
	case cause.FollowerShifted, cause.TransmitterZero:
		return seldom(f[shape.Constant].Nats, f[shape.Constant].Size, shiftUsual)
	case cause.TransmitterSpan:
		return f[shape.Span].Nats
	case cause.TransmitterDrift:
		return f[shape.Ramp].Nats
	case cause.RadarDisturbed:
		if s.Coarse {
			return math.Max(f[shape.Floor].Nats, irregularly(s, f))
		}
		return math.Max(math.Max(f[shape.Foam].Nats, f[shape.Floor].Nats), irregularly(s, f))
	case cause.LegPartlyFilled, cause.LegEmpty:
		return atEnd(f[shape.Constant], (f[shape.Constant].Size > 150) == (h.Cause == cause.LegEmpty))
	case cause.LegPlugged:
		return plugged(s, h.Channel)
	case cause.TransmitterNoisy, cause.FollowerNoisy, cause.VesselNoisy: // its noise is in the spread of its marks
		return s.Healthy
	case cause.DisplacerDisturbed:
		return math.Max(math.Max(f[shape.Deadband].Nats, f[shape.Still].Nats-1), irregularly(s, f))
	case cause.VesselInstrument:
		return vesselWrong(s)
	}
	return bad
}

// emulsified is the fit of an echo from the top of a layer that has grown to a
// thickness: it never reads low.
func emulsified(f *[shape.Forms]shape.Fit) float64 {
	thick := atEnd(f[shape.Constant], f[shape.Constant].Size > 0)
	return math.Max(seldom(thick, f[shape.Constant].Size, layerUsual), atEnd(f[shape.Ramp], f[shape.Ramp].Size > 0))
}

// vesselWrong is the fit of a vessel instrument that is shifted, drifts, has a
// wrong span or stands still.
func vesselWrong(s *shape.Solution) float64 {
	f := &s.Fits[symptom.VesselLevel]
	best := math.Max(f[shape.Constant].Nats, f[shape.Ramp].Nats)
	return math.Max(best, math.Max(f[shape.Span].Nats, f[shape.Still].Nats)) - math.Ln2
}

func (g *Gauge) vesselFit(s *shape.Solution, f shape.Form) float64 {
	return s.Fits[symptom.VesselLevel][f].Nats
}

// seldom discounts a fit by how unusual its size is, with a heavy tail.
func seldom(nats, size, usual float64) float64 { return nats - math.Log1p(size*size/(usual*usual)) }

// offNats is what a relative error costs by how large such errors usually are.
func offNats(relative, usual float64) float64 { return 0.5 * relative * relative / (usual * usual) }

// Usual sizes of errors, mm (common practice, no source).
const (
	heavierUsual = 25.0  // a float sinks before it is much deeper
	shiftUsual   = 200.0 // of a follower along its chamber or of a zero
	lateUsual    = 120.0 // s
	layerUsual   = 100.0 // of an emulsion
)

// refuted is what a hypothesis pays whose own test was made and is negative, nats.
const refuted = 4.0

// late is the fit of one signal that comes late. Of signals with minutes
// between their readings nothing is known about seconds: what they lag was
// there before the fault.
func (g *Gauge) late(st *State, s *shape.Solution) float64 {
	best := math.Inf(-1)
	for c := range symptom.VesselLevel {
		if g.sparse(st, c) {
			continue
		}
		best = math.Max(best, seldom(s.Fits[c][shape.Late].Nats, s.Fits[c][shape.Late].Size, lateUsual))
	}
	if g.timely(st) {
		best -= refuted
	}
	return best
}

// byHours is the fit of a signal whose clock is off by hours.
func byHours(s *shape.Solution) float64 {
	best := math.Inf(-1)
	for c := range symptom.VesselLevel {
		best = math.Max(best, s.Fits[c][shape.Hours].Nats)
	}
	return best
}

// sparse reports whether every pair of a channel has minutes between its values.
func (g *Gauge) sparse(st *State, c symptom.Channel) bool {
	for _, p := range g.pairs {
		if a, b := symptom.Members(p); (a == c || b == c) && !st.Gaps[p].Sparse {
			return false
		}
	}
	return true
}

// timely reports whether every pair of the chamber's instruments was put to the
// test by a level that moved and none is late.
func (g *Gauge) timely(st *State) bool {
	tested := false
	for _, p := range g.pairs {
		if a, _ := symptom.Members(p); a == symptom.VesselLevel {
			continue
		}
		s := &st.Sign[p]
		if !s.HasSkew || s.SkewU > 12 || abs(s.Skew-s.UsualSkew) > 4*s.SkewU {
			return false
		}
		tested = true
	}
	return tested
}

// atEnd keeps a fit only where its condition holds.
func atEnd(f shape.Fit, holds bool) float64 {
	if !holds {
		return f.Nats - 6
	}
	return f.Nats
}
