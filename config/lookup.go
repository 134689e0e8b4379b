package config

import "bridlewatch/compare/quantity"

// SignalsOf returns what is read from a source, in the order of the
// configuration. A signal that several gauges share is there once.
func (c *Config) SignalsOf(source string) []Signal {
	var out []Signal
	for i := range c.Gauges {
		for _, s := range c.Gauges[i].Signals {
			if s.Source == source && !s.Shared {
				out = append(out, s)
			}
		}
	}
	return out
}

// Signal returns the signal of one instrument of the gauge, nil when it has
// none. point is the index of a point switch and ignored for other roles.
func (g *Gauge) Signal(role Role, point int) *Signal {
	for i := range g.Signals {
		if s := &g.Signals[i]; s.Role == role && (role != RolePoint || s.Point == point) {
			return s
		}
	}
	return nil
}

// Kind is what the signal of a role measures; NoKind for a contact.
func (g *Gauge) Kind(role Role) quantity.Kind {
	switch role {
	case RoleTransmitter:
		return transmitterKind(g.Sheet.Transmitter)
	case RoleSecond:
		return transmitterKind(g.Sheet.Second)
	case RolePoint:
		return quantity.NoKind
	case RolePressure:
		return quantity.KindPressure
	case RoleTemperature, RoleChamberTemperature:
		return quantity.KindTemperature
	case RoleDensity:
		return quantity.KindDensity
	}
	return quantity.KindLength
}

// signalOf finds the signal of a tag where it is defined.
func (c *Config) signalOf(tag string, kind quantity.Kind) (Signal, bool) {
	for i := range c.Gauges {
		g := &c.Gauges[i]
		for _, s := range g.Signals {
			if s.Tag == tag && !s.Shared && g.Kind(s.Role) == kind {
				return s, true
			}
		}
	}
	return Signal{}, false
}

// PlaceOf returns where a gauge, a signal, a source or a route is defined.
func (c *Config) PlaceOf(name string) (Place, bool) {
	for i := range c.Gauges {
		if c.Gauges[i].Sheet.Tag == name {
			return c.Gauges[i].Place, true
		}
		for _, s := range c.Gauges[i].Signals {
			if s.Tag == name {
				return s.Place, true
			}
		}
	}
	for _, s := range c.Sources {
		if s.Name == name {
			return s.Place, true
		}
	}
	for _, r := range c.Notify {
		if r.Name == name {
			return r.Place, true
		}
	}
	return Place{}, false
}
