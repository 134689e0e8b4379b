package modbus

import "context"

// Port is what a dialler for tests returns.
type Port = port

// SetDial makes a source connect another way.
func (s *Source) SetDial(dial func(context.Context) (Port, error)) { s.link.dial = dial }
