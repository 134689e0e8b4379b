package rehearsal

import (
	"context"
	"fmt"

	"bridlewatch/compare/quantity"
	"bridlewatch/config"
)

// serve starts a server for each source and writes its address into the
// configuration. Serial sources are served as Modbus TCP, OPC UA without
// security, because the peers are on one machine and nothing is real.
func (p *Plant) serve(ctx context.Context) error {
	for i := range p.config.Sources {
		s := &p.config.Sources[i]
		signals := p.signalsOf(s.Name)
		switch {
		case s.Protocol.Modbus():
			m := newMemory()
			for _, sig := range signals {
				m.reserve(sig)
			}
			d, err := startModbus(m)
			if err != nil {
				return fmt.Errorf("source %s: %w", s.Name, err)
			}
			p.devices[s.Name] = d
			s.Protocol, s.Address = config.ModbusTCP, d.address
		case s.Protocol == config.OPCUA:
			for _, sig := range signals {
				sig.Node = servedNode(sig)
			}
			o, err := startOPCUA(ctx, signals)
			if err != nil {
				return fmt.Errorf("source %s: %w", s.Name, err)
			}
			p.servers[s.Name] = o
			s.Endpoint, s.SecurityPolicy, s.SecurityMode, s.AcceptNoSecurity = o.endpoint, "None", "None", true
			s.User, s.CertFile, s.KeyFile, s.ServerThumbprint, s.Subscribe = "", "", "", "", false
			s.Password = config.Secret{}
		default:
			return fmt.Errorf("source %s: the rehearsal cannot simulate %s; it serves Modbus and OPC UA", s.Name, s.Protocol)
		}
	}
	return nil
}

// servedNode is the node a signal is served at: its own where it names its
// namespace, otherwise one after its tag.
func servedNode(s *config.Signal) string {
	if _, _, err := splitNode(s.Node); err == nil {
		return s.Node
	}
	return "nsu=urn:rehearsal:" + s.Source + ";s=" + s.Tag
}

// signalsOf lists the signals of a source.
func (p *Plant) signalsOf(source string) []*config.Signal {
	var out []*config.Signal
	for _, g := range p.gauges {
		for _, s := range g.signals {
			if s.Source == source {
				out = append(out, s)
			}
		}
	}
	return out
}

// isBit reports whether a signal is one bit: of a bit table, or of a register.
func isBit(s *config.Signal) bool {
	return s.Table == "coil" || s.Table == "discrete" || s.Type == "bit"
}

// width is the number of cells a signal takes.
func width(s *config.Signal) int {
	if isBit(s) {
		return 1
	}
	return len(registers(0, s.Type, s.Order))
}

func (m *memory) reserve(s *config.Signal) {
	m.unit(uint8(s.UnitID)).table(s.Table).reserve(s.Address, width(s))
}

// put writes the reading of a signal the way its device keeps it. What the
// device has no sign for is refused.
func (m *memory) put(s *config.Signal, r quantity.Reading) {
	t := m.unit(uint8(s.UnitID)).table(s.Table)
	raw, ok := rawValue(s.Spec, r)
	switch {
	case !ok:
		t.silence(s.Address, width(s))
	case s.Table == "coil" || s.Table == "discrete":
		t.put(s.Address, []uint16{uint16(raw)})
	case s.Type == "bit":
		t.putBit(s.Address, s.Bit, raw != 0)
	default:
		t.put(s.Address, registers(raw, s.Type, s.Order))
	}
}
