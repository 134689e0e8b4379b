package modbus

import (
	"errors"
	"fmt"
	"os"
	"syscall"
	"time"

	"github.com/goburrow/serial"
	"golang.org/x/sys/unix"
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
	p := &serialPort{File: file, settings: settings}
	if err := errors.Join(p.waitForBytes(), p.claim()); err != nil {
		return nil, errors.Join(fmt.Errorf("set up %s: %w", e.Address, err), p.Close())
	}
	return p, nil
}

// waitForBytes makes an empty line a reason to wait. The library leaves the
// minimum of a read at zero bytes, with which an empty line cannot be told
// from a hung-up one.
func (p *serialPort) waitForBytes() error {
	conn, err := p.SyscallConn()
	if err != nil {
		return err
	}
	var failure error
	err = conn.Control(func(fd uintptr) {
		var settings *unix.Termios
		if settings, failure = unix.IoctlGetTermios(int(fd), unix.TCGETS); failure == nil {
			settings.Cc[unix.VMIN], settings.Cc[unix.VTIME] = 1, 0
			failure = unix.IoctlSetTermios(int(fd), unix.TCSETS, settings)
		}
	})
	return errors.Join(err, failure)
}

// claim refuses the device to others: a line has one master.
func (p *serialPort) claim() error {
	conn, err := p.SyscallConn()
	if err != nil {
		return err
	}
	var failure error
	err = conn.Control(func(fd uintptr) { failure = unix.IoctlSetInt(int(fd), unix.TIOCEXCL, 0) })
	return errors.Join(err, failure)
}

// Close gives the device back as it was found.
func (p *serialPort) Close() error {
	return errors.Join(p.File.Close(), p.settings.Close())
}
