package verdicts

import (
	"fmt"
	"io"
	"log"
	"sync"
	"time"

	"github.com/simonvetter/modbus"

	"bridlewatch/dashboards/plant"
)

// Server answers reads of the register map.
type Server struct {
	plant  plant.Plant
	server *modbus.ModbusServer

	mu   sync.Mutex
	beat uint16
	regs []uint16
}

// Listen starts a server at address, "host:port".
func Listen(address string, p plant.Plant) (*Server, error) {
	s := &Server{plant: p}
	s.Refresh()
	server, err := modbus.NewServer(&modbus.ServerConfiguration{
		URL: "tcp://" + address, Timeout: time.Minute, MaxClients: 16, Logger: log.New(io.Discard, "", 0),
	}, s)
	if err != nil {
		return nil, fmt.Errorf("verdicts for the control system at %s: %w", address, err)
	}
	if err := server.Start(); err != nil {
		return nil, fmt.Errorf("verdicts for the control system at %s: %w", address, err)
	}
	s.server = server
	return s, nil
}

// Refresh takes the verdicts of the last scan.
func (s *Server) Refresh() {
	gauges, now := s.plant.Gauges(), s.plant.Now()
	s.mu.Lock()
	defer s.mu.Unlock()
	s.beat++
	s.regs = image(s.beat, now, gauges)
}

// Close stops answering.
func (s *Server) Close() error { return s.server.Stop() }

// HandleInputRegisters answers function code 4.
func (s *Server) HandleInputRegisters(r *modbus.InputRegistersRequest) ([]uint16, error) {
	if r.UnitId != UnitID {
		return nil, modbus.ErrGWTargetFailedToRespond
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	from, to := int(r.Addr), int(r.Addr)+int(r.Quantity)
	if to > len(s.regs) {
		return nil, modbus.ErrIllegalDataAddress
	}
	return append([]uint16(nil), s.regs[from:to]...), nil
}

// The other tables do not exist, and nothing can be written.

// HandleHoldingRegisters refuses function codes 3, 6 and 16.
func (s *Server) HandleHoldingRegisters(*modbus.HoldingRegistersRequest) ([]uint16, error) {
	return nil, modbus.ErrIllegalFunction
}

// HandleCoils refuses function codes 1, 5 and 15.
func (s *Server) HandleCoils(*modbus.CoilsRequest) ([]bool, error) {
	return nil, modbus.ErrIllegalFunction
}

// HandleDiscreteInputs refuses function code 2.
func (s *Server) HandleDiscreteInputs(*modbus.DiscreteInputsRequest) ([]bool, error) {
	return nil, modbus.ErrIllegalFunction
}
