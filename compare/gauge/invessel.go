package gauge

import (
	"bridlewatch/compare/level"
	"bridlewatch/compare/quantity"
)

// vesselLevel carries the vessel-side instrument to the chamber.
func (m *Model) vesselLevel(in *Snapshot, c *conditions, filled bool, out *Measurement) {
	l := &out.Vessel
	m.vesselOwn(in, c, filled, l)
	if l.OK() {
		m.carry(c, l)
	} else if l.Bound != level.None {
		l.AtTap = c.balance.ChamberUnbounded(l.AtTap)
	}
}

// vesselOwn is the level in the vessel as the vessel-side instrument says.
func (m *Model) vesselOwn(in *Snapshot, c *conditions, filled bool, l *level.Level) {
	if m.sheet.Vessel == nil {
		l.Reason = quantity.NotRead
		return
	}
	if !usable(&in.Vessel, l) {
		return
	}
	if !filled {
		l.Reason = quantity.ConversionFailed
		return
	}
	l.Basis = level.ByVessel
	if !m.stand(quantity.Length(in.Vessel.Value)+m.sheet.Vessel.Offset, l) {
		return
	}
	l.Parts[level.VesselDevice] = m.u.vessel
	l.Parts[level.Skew] = c.skew(in, &in.Vessel)
}

// inVessel gives the level in the vessel by the level of the chamber.
func (m *Model) inVessel(c *conditions, filled bool, out *Measurement) {
	l := &out.InVessel
	if out.Isolated {
		l.Reason = quantity.Maintenance
		return
	}
	_, of := out.InChamber()
	m.toVessel(c, filled, of, l)
}

// toVessel takes a level of the chamber over the hydrostatic balance.
func (m *Model) toVessel(c *conditions, filled bool, of, l *level.Level) {
	if !of.OK() || !filled {
		*l = *of
		return
	}
	b := &c.balance
	hv, at := b.InVessel(of.Value)
	across(c, of, l, hv, at, b.OfVessel(of.Value, hv))
}

// InVesselBy is the level in the vessel by one instrument alone: that of place 0
// to 3, float, transmitter, second transmitter or the vessel's own. What hangs on
// the chamber is taken over the hydrostatic balance, what hangs on the vessel says
// it without. of is what was measured of the snapshot last.
func (m *Model) InVesselBy(place int, in *Snapshot, last *Memory, of *Measurement) (l level.Level) {
	r := m.recall(in, last)
	c := &r.conditions
	by, reading, inChamber := m.first, &in.Transmitter, &of.Transmitter
	switch place {
	case 0:
		inChamber = &of.Float
	case 2:
		by, reading, inChamber = m.second, &in.Second, &of.Second
	case 3:
		if m.vesselOwn(in, c, r.filled, &l); l.OK() {
			l.Basis = level.AsReported
		}
		return l
	}
	switch {
	case place != 0 && by != nil && by.onVessel:
		m.byTransmitter(by, reading, in, c, r.filled, &l)
	case of.Isolated:
		l.Reason = quantity.Maintenance
	default:
		m.toVessel(c, r.filled, inChamber, &l)
	}
	return l
}
