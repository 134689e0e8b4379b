package rehearsal

import (
	"fmt"
	"io"
	"log"
	"net"
	"time"

	"github.com/simonvetter/modbus"
)

// modbusServer answers for the devices of one endpoint on loopback. It reads
// only: every function code but 1 to 4 is answered with exception 1.
type modbusServer struct {
	memory  *memory
	server  *modbus.ModbusServer
	address string
}

func startModbus(m *memory) (*modbusServer, error) {
	s := &modbusServer{memory: m}
	err := onFreePort(func(host string, port int) error {
		address := fmt.Sprintf("%s:%d", host, port)
		server, err := modbus.NewServer(&modbus.ServerConfiguration{
			URL: "tcp://" + address, Timeout: time.Hour, MaxClients: 64, Logger: log.New(io.Discard, "", 0),
		}, s)
		if err != nil {
			return err
		}
		s.server, s.address = server, address
		return server.Start()
	})
	if err != nil {
		return nil, fmt.Errorf("start the simulated Modbus TCP devices: %w", err)
	}
	return s, nil
}

func (s *modbusServer) close() error { return s.server.Stop() }

// onFreePort calls start with a port of loopback that was free a moment ago,
// and again with another when somebody was faster.
func onFreePort(start func(host string, port int) error) error {
	const host = "127.0.0.1"
	var last error
	for range 8 {
		l, err := net.Listen("tcp", host+":0")
		if err != nil {
			return err
		}
		port := l.Addr().(*net.TCPAddr).Port
		if err := l.Close(); err != nil {
			return err
		}
		if last = start(host, port); last == nil {
			return nil
		}
	}
	return last
}

// HandleCoils answers function code 1 and refuses 5 and 15.
func (s *modbusServer) HandleCoils(r *modbus.CoilsRequest) ([]bool, error) {
	if r.IsWrite {
		return nil, modbus.ErrIllegalFunction
	}
	return s.bits(r.UnitId, "coil", r.Addr, r.Quantity)
}

// HandleDiscreteInputs answers function code 2.
func (s *modbusServer) HandleDiscreteInputs(r *modbus.DiscreteInputsRequest) ([]bool, error) {
	return s.bits(r.UnitId, "discrete", r.Addr, r.Quantity)
}

// HandleHoldingRegisters answers function code 3 and refuses 6 and 16.
func (s *modbusServer) HandleHoldingRegisters(r *modbus.HoldingRegistersRequest) ([]uint16, error) {
	if r.IsWrite {
		return nil, modbus.ErrIllegalFunction
	}
	return s.cells(r.UnitId, "holding", r.Addr, r.Quantity)
}

// HandleInputRegisters answers function code 4.
func (s *modbusServer) HandleInputRegisters(r *modbus.InputRegistersRequest) ([]uint16, error) {
	return s.cells(r.UnitId, "input", r.Addr, r.Quantity)
}

func (s *modbusServer) cells(unit uint8, name string, address, quantity uint16) ([]uint16, error) {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	u := s.memory.units[unit]
	if u == nil {
		return nil, modbus.ErrGWTargetFailedToRespond
	}
	words, ok := u.table(name).read(int(address), int(quantity))
	if !ok {
		return nil, modbus.ErrIllegalDataAddress
	}
	return words, nil
}

func (s *modbusServer) bits(unit uint8, name string, address, quantity uint16) ([]bool, error) {
	words, err := s.cells(unit, name, address, quantity)
	if err != nil {
		return nil, err
	}
	bits := make([]bool, len(words))
	for i, w := range words {
		bits[i] = w != 0
	}
	return bits, nil
}
