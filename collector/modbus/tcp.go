package modbus

import "encoding/binary"

// Layout of the header of Modbus TCP (Modbus Messaging on TCP/IP
// Implementation Guide V1.0b, clause 3.1.3): transaction 2, protocol 2,
// length 2, unit 1.
const (
	tcpHeader    = 7
	tcpMinLength = 3   // unit, function, one byte
	tcpMaxLength = 254 // unit and the longest PDU
)

// receiveTCP reads frames until the answer to the request comes. Frames of
// earlier requests are thrown away; any other doubt is an error, after which
// the connection is closed.
func (l *link) receiveTCP(request []byte) ([]byte, error) {
	for {
		frame, err := l.tcpFrame()
		if err != nil {
			return nil, err
		}
		if l.endpoint.IgnoreTransactionID {
			copy(frame[:2], request[:2])
			if s := shapeOfAnswer(frame[6:]); s != shapeOf(request[6:]) && l.debts.paid(s) {
				l.counters.staleFrames.Add(1)
				continue
			}
			return frame, nil
		}
		sent, got := binary.BigEndian.Uint16(request), binary.BigEndian.Uint16(frame)
		switch age := int16(sent - got); {
		case age > 0:
			l.counters.staleFrames.Add(1)
		case age < 0:
			return nil, frameErrorf("transaction %d was never sent, the last was %d", got, sent)
		default:
			return frame, nil
		}
	}
}

// tcpFrame gives one whole frame, which is valid until the next. What comes
// with it stays in the buffer: it is the beginning of another frame.
func (l *link) tcpFrame() ([]byte, error) {
	l.consume()
	if err := l.need(tcpHeader); err != nil {
		return nil, err
	}
	if protocol := binary.BigEndian.Uint16(l.buffer[2:]); protocol != 0 {
		return nil, frameErrorf("protocol identifier %d is not Modbus", protocol)
	}
	length := int(binary.BigEndian.Uint16(l.buffer[4:]))
	if length < tcpMinLength || length > tcpMaxLength {
		return nil, frameErrorf("length %d in the header is impossible", length)
	}
	l.used = tcpHeader - 1 + length
	if err := l.need(l.used); err != nil {
		l.used = 0
		return nil, err
	}
	return l.buffer[:l.used:l.used], nil
}

// consume drops the frame given last from the buffer.
func (l *link) consume() {
	l.held = copy(l.buffer[:], l.buffer[l.used:l.held])
	l.used = 0
}

// need reads until the buffer holds n bytes, and whatever comes with them.
// A gateway without transaction identifiers is read frame by frame, so that
// drain sees what it sends too much.
func (l *link) need(n int) (err error) {
	most := len(l.buffer)
	if l.endpoint.IgnoreTransactionID {
		most = n
	}
	if l.held < n {
		l.held, err = l.fill(l.held, n, most)
	}
	if err != nil {
		return partial(l.held, err)
	}
	return nil
}

// partial marks an error in the middle of a frame.
func partial(have int, err error) error {
	if have > 0 {
		return &partialError{err: err}
	}
	return err
}
