package modbus

import (
	"errors"
	"testing"

	library "github.com/goburrow/modbus"
)

// recorder is a transport that notes whether anything reached it.
type recorder struct{ sent int }

func (r *recorder) Send([]byte) ([]byte, error) { r.sent++; return nil, errors.New("recorded") }

// TestWritesAreRefused tries every method of the library's client that is no
// read, and every function code, in both packagings.
func TestWritesAreRefused(t *testing.T) {
	for _, framing := range []Framing{TCP, RTU, RTUOverTCP} {
		t.Run(string(framing), func(t *testing.T) {
			var line recorder
			var ids uint16
			p := newPackager(framing, 1, &ids)
			client := library.NewClient2(p, &line)
			writes := map[string]func() ([]byte, error){
				"WriteSingleCoil":            func() ([]byte, error) { return client.WriteSingleCoil(1, 0xFF00) },
				"WriteMultipleCoils":         func() ([]byte, error) { return client.WriteMultipleCoils(1, 8, []byte{1}) },
				"WriteSingleRegister":        func() ([]byte, error) { return client.WriteSingleRegister(1, 1) },
				"WriteMultipleRegisters":     func() ([]byte, error) { return client.WriteMultipleRegisters(1, 1, []byte{0, 1}) },
				"MaskWriteRegister":          func() ([]byte, error) { return client.MaskWriteRegister(1, 1, 1) },
				"ReadWriteMultipleRegisters": func() ([]byte, error) { return client.ReadWriteMultipleRegisters(1, 1, 1, 1, []byte{0, 1}) },
				"ReadFIFOQueue":              func() ([]byte, error) { return client.ReadFIFOQueue(1) },
			}
			for name, write := range writes {
				if _, err := write(); !errors.Is(err, ErrNotARead) {
					t.Errorf("%s: error %v, want ErrNotARead", name, err)
				}
			}
			for code := range 256 {
				_, err := p.Encode(&library.ProtocolDataUnit{FunctionCode: byte(code), Data: []byte{0, 1, 0, 1}})
				if allowed := code >= 1 && code <= 4; allowed != (err == nil) {
					t.Errorf("function code %d: error %v", code, err)
				}
			}
			if line.sent != 0 {
				t.Errorf("%d frames reached the line", line.sent)
			}
		})
	}
}
