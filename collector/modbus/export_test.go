package modbus

import "context"

// Port is what a dialler for tests returns.
type Port = port

// SetDial makes a source connect another way.
func (s *Source) SetDial(dial func(context.Context) (Port, error)) { s.link.dial = dial }

// SetTransaction sets the last transaction identifier sent.
func (s *Source) SetTransaction(id uint16) { s.link.ids = id }
