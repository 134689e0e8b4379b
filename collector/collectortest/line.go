package collectortest

import (
	"fmt"
	"os"
	"syscall"
	"unsafe"
)

// Line is a serial line without wires: a pseudo terminal. What is written to
// it comes out of the device file Path, and the other way round. It has no
// baud rate. Closing it hangs the line up, as pulling out an adapter does.
type Line struct {
	*os.File
	Path  string
	other *os.File // holds the device file open, so that a reader may come and go
}

// NewLine opens a line.
func NewLine() (*Line, error) {
	file, err := os.OpenFile("/dev/ptmx", os.O_RDWR|syscall.O_NOCTTY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, fmt.Errorf("collectortest: no pseudo terminals: %w", err)
	}
	line := &Line{File: file}
	var number, unlock uint32
	if err = line.control(syscall.TIOCSPTLCK, &unlock); err == nil {
		err = line.control(syscall.TIOCGPTN, &number)
	}
	if err == nil {
		line.Path = fmt.Sprintf("/dev/pts/%d", number)
		line.other, err = os.OpenFile(line.Path, os.O_RDWR|syscall.O_NOCTTY|syscall.O_NONBLOCK, 0)
	}
	if err == nil {
		err = line.raw()
	}
	if err != nil {
		line.Close()
		return nil, err
	}
	return line, nil
}

// Close hangs the line up.
func (l *Line) Close() error {
	if l.other != nil {
		l.other.Close()
	}
	return l.File.Close()
}

// raw switches off echo and everything else that is for people, so that
// nothing comes back before a reader has set the line up.
func (l *Line) raw() error {
	t := syscall.Termios{Cflag: syscall.CS8 | syscall.CREAD | syscall.B19200}
	return l.ioctl(syscall.TCSETS, unsafe.Pointer(&t))
}

func (l *Line) control(request uintptr, value *uint32) error {
	return l.ioctl(request, unsafe.Pointer(value))
}

func (l *Line) ioctl(request uintptr, value unsafe.Pointer) error {
	conn, err := l.SyscallConn()
	if err != nil {
		return err
	}
	var errno syscall.Errno
	err = conn.Control(func(fd uintptr) {
		_, _, errno = syscall.Syscall(syscall.SYS_IOCTL, fd, request, uintptr(value))
	})
	if err == nil && errno != 0 {
		err = os.NewSyscallError("ioctl", errno)
	}
	return err
}
