package modbus

import (
	"errors"
	"fmt"
	"os"
	"syscall"
	"time"

	"github.com/goburrow/serial"
)

// serialPort is a serial device. The library sets the line up and puts the
// old settings back at the end. The bytes go through a second descriptor of
// the same device that the Go run time polls: it has real deadlines, does
// not spin when the line is hung up and is not limited to descriptors below
// 1024.
type serialPort struct {
	*os.File
	settings serial.Port
}

func openSerial(e Endpoint) (port, error) {
	settings, err := serial.Open(&serial.Config{
		Address:  e.Address,
		BaudRate: e.Baud,
		DataBits: 8,
		StopBits: e.StopBits,
		Parity:   map[string]string{"none": "N", "even": "E", "odd": "O"}[e.Parity],
		Timeout:  time.Second,
	})
	if err != nil {
		return nil, fmt.Errorf("set up %s at %d baud: %w", e.Address, e.Baud, err)
	}
	file, err := os.OpenFile(e.Address, os.O_RDWR|syscall.O_NOCTTY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, errors.Join(err, settings.Close())
	}
	return &serialPort{File: file, settings: settings}, nil
}

// Close gives the device back as it was found.
func (p *serialPort) Close() error {
	return errors.Join(p.File.Close(), p.settings.Close())
}
