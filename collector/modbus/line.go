package modbus

import (
	"bytes"
	"encoding/binary"
	"errors"
	"syscall"
	"time"
)

// bitsPerCharacter is 11 with parity or a second stop bit, else 10.
func (e Endpoint) bitsPerCharacter() int {
	bits := 1 + 8 + e.StopBits
	if e.Parity != "none" {
		bits++
	}
	return bits
}

// characters is the time n characters take on the line; 0 without a serial
// line of ours.
func (e Endpoint) characters(n float64) time.Duration {
	if e.Framing != RTU {
		return 0
	}
	return time.Duration(n * float64(e.bitsPerCharacter()) / float64(e.Baud) * float64(time.Second))
}

// silentInterval is what must be between two frames: 3.5 characters, and
// 1.75 ms above 19200 baud (Modbus over Serial Line Specification V1.02,
// clause 2.5.1.1).
func (e Endpoint) silentInterval() time.Duration {
	if e.Framing == RTU && e.Baud > 19200 {
		return 1750 * time.Microsecond
	}
	return e.characters(3.5)
}

// lineTime is how long a request and its answer take on the wire.
func (e Endpoint) lineTime(request []byte) time.Duration {
	if e.Framing != RTU {
		return 0
	}
	return e.characters(float64(rtuRequest + rtuAround + answerBytes(request[1:])))
}

// prepare makes the line ready for a request: pauses, silence, and nothing
// left in it that an earlier request brought.
func (l *link) prepare() error {
	pause := max(l.endpoint.PauseBetweenRequests, l.endpoint.silentInterval()) - l.clock.Now().Sub(l.lastByte)
	if pause > 0 && !l.lastByte.IsZero() {
		if err := l.clock.Sleep(l.ctx, pause); err != nil {
			return err
		}
	}
	if !l.endpoint.stream() {
		return nil
	}
	if l.quiet {
		if err := l.listen(l.endpoint.Timeout); err != nil {
			return err
		}
		l.quiet = false
	}
	return l.drain()
}

// listen waits until the line has been quiet for d, or until everything that
// was owed has come.
func (l *link) listen(d time.Duration) error {
	for range 4 { // a line that never falls silent must not hold the scan
		if err := l.arm(d); err != nil {
			return err
		}
		have, err := l.fill(0, rtuShortest, rtuShortest)
		if err == nil {
			have, err = l.fillSilence(have)
		}
		if have > 0 && l.strange(l.buffer[:have]) && len(l.debts) == 0 {
			return nil
		}
		if isTimeout(err) && have == 0 {
			if l.ctx.Err() == nil {
				l.debts.silence()
			}
			return l.ctx.Err()
		}
		if err != nil && !isTimeout(err) {
			l.Close()
			return err
		}
	}
	return frameErrorf("the line does not fall silent")
}

// fillSilence collects what follows without a pause.
func (l *link) fillSilence(have int) (int, error) {
	if err := l.arm(max(4*l.endpoint.silentInterval(), 5*time.Millisecond)); err != nil {
		return have, err
	}
	return l.fill(have, len(l.buffer), len(l.buffer))
}

// drain throws away what the line holds, without waiting.
func (l *link) drain() error {
	if err := l.arm(l.endpoint.Timeout); err != nil {
		return err
	}
	for {
		n, err := readNow(l.current(), l.buffer[:])
		if n > 0 {
			l.counters.received.Add(uint64(n))
			l.strange(l.buffer[:n])
		}
		if err != nil || n == 0 {
			return err
		}
	}
}

// strange judges bytes nobody asked for. A repetition of the last answer and
// an answer that was owed do no harm; anything else throws doubt on answers
// of this scan. It says whether the bytes were an owed answer.
func (l *link) strange(data []byte) bool {
	l.counters.staleFrames.Add(1)
	frame := l.unframedOrNil(data)
	switch {
	case bytes.Equal(data, l.last):
		return false
	case frame != nil && l.debts.paid(shapeOfAnswer(frame)):
		return true
	}
	l.doubt(frame)
	return false
}

// unframedOrNil is the frame from its unit on, or nil when the bytes are no
// whole frame.
func (l *link) unframedOrNil(data []byte) []byte {
	if l.endpoint.Framing == TCP {
		if len(data) < tcpHeader+2 || int(binary.BigEndian.Uint16(data[4:])) != len(data)-6 {
			return nil
		}
		return data[6:]
	}
	if len(data) < rtuShortest || !l.soundRTU(data) {
		return nil
	}
	return data
}

// immediate is a port that can be read without waiting.
type immediate interface{ ReadNow([]byte) (int, error) }

// readNow reads what is there without waiting.
func readNow(p port, buffer []byte) (int, error) {
	if now, ok := p.(immediate); ok {
		return now.ReadNow(buffer)
	}
	raw, ok := p.(syscall.Conn)
	if !ok {
		return 0, nil // a port without a descriptor holds nothing back
	}
	conn, err := raw.SyscallConn()
	if err != nil {
		return 0, err
	}
	var n int
	var readErr error
	err = conn.Read(func(fd uintptr) bool {
		n, readErr = syscall.Read(int(fd), buffer)
		return true
	})
	switch {
	case err != nil:
		return 0, err
	case errors.Is(readErr, syscall.EAGAIN), errors.Is(readErr, syscall.EINTR):
		return 0, nil
	case readErr != nil:
		return 0, readErr
	case n == 0:
		return 0, errHangUp
	}
	return n, nil
}
