package modbus

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"syscall"

	"bridlewatch/compare/quantity"
)

// ErrNotARead is returned for every attempt to send anything but the reading
// function codes 1 to 4. Nothing has left when it is returned.
var ErrNotARead = errors.New("modbus: only function codes 1 to 4 are allowed; bridlewatch never writes to a device")

// ErrNoAnswer says that the answer did not come in time.
var ErrNoAnswer = errors.New("modbus: no answer in time; check power, unit id and the time-out")

// errOutOfTime says that the scan ended before the request had its time.
var errOutOfTime = errors.New("modbus: the scan was over; lengthen the interval or read less")

// errHangUp says that the other end closed, found before a request.
var errHangUp = fmt.Errorf("modbus: the other end hung up: %w", io.EOF)

// ExceptionError is an exception answer: the device refused the request.
type ExceptionError struct {
	UnitID   int
	Function int
	Code     int
}

// exceptionNames are those of the Modbus Application Protocol Specification
// V1.1b3, clause 7.
var exceptionNames = map[int]string{
	1: "illegal function", 2: "illegal data address", 3: "illegal data value", 4: "server device failure",
	5: "acknowledge", 6: "server device busy", 8: "memory parity error",
	10: "gateway path unavailable", 11: "gateway target device failed to respond",
}

func (e *ExceptionError) Error() string {
	name, ok := exceptionNames[e.Code]
	if !ok {
		name = "not in the specification"
	}
	return fmt.Sprintf("exception %d (%s)", e.Code, name)
}

// illegal says that the device objects to the addresses, not to the moment.
func (e *ExceptionError) illegal() bool { return e.Code == 2 || e.Code == 3 }

// gateway says that a gateway answered for a unit that did not.
func (e *ExceptionError) gateway() bool { return e.Code == 10 || e.Code == 11 }

// FrameError says that an answer was not the answer to the request.
type FrameError struct{ What string }

func (e *FrameError) Error() string { return "modbus: answer refused: " + e.What }

func frameErrorf(format string, args ...any) error {
	return &FrameError{What: fmt.Sprintf(format, args...)}
}

// ConnectError says that there is no connection.
type ConnectError struct {
	Address string
	Err     error
}

func (e *ConnectError) Error() string {
	return fmt.Sprintf("modbus: cannot reach %s: %v", e.Address, e.Err)
}
func (e *ConnectError) Unwrap() error { return e.Err }

// reasonOf says what an error means for the quality of a value.
func reasonOf(err error) quantity.Reason {
	var exception *ExceptionError
	var frame *FrameError
	var connect *ConnectError
	switch {
	case errors.As(err, &exception) && exception.gateway():
		return quantity.NoAnswer
	case errors.As(err, &exception):
		return quantity.Refused
	case errors.As(err, &frame):
		return quantity.BadShape
	case errors.As(err, &connect), isCut(err):
		return quantity.NotConnected
	}
	return quantity.NoAnswer
}

// unheard says that nothing usable came from the unit, which is what its
// breaker counts.
func unheard(err error) bool {
	var exception *ExceptionError
	return errors.Is(err, ErrNoAnswer) || damaged(err) || errors.As(err, &exception) && exception.gateway()
}

// damaged says that an answer came which may be right at the next attempt.
func damaged(err error) bool {
	var frame *FrameError
	return errors.As(err, &frame)
}

// isCut says that the other end or the port went away.
func isCut(err error) bool {
	return errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, net.ErrClosed) || errors.Is(err, os.ErrClosed) ||
		errors.Is(err, syscall.ECONNRESET) || errors.Is(err, syscall.EPIPE) || errors.Is(err, syscall.EIO) ||
		errors.Is(err, syscall.ENXIO) || errors.Is(err, syscall.ENODEV) || errors.Is(err, syscall.ETIMEDOUT) || errors.Is(err, io.ErrClosedPipe)
}

// isTimeout says that a deadline of ours passed.
func isTimeout(err error) bool {
	return errors.Is(err, os.ErrDeadlineExceeded) || errors.Is(err, context.DeadlineExceeded)
}
