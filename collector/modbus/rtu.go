package modbus

import "bytes"

// Sizes of RTU frames (Modbus over Serial Line Specification V1.02, clause
// 2.5.1): unit, function, data, checksum of two bytes.
const (
	rtuShortest = 5 // an exception, or an answer with its byte count and no data
	rtuAround   = 5 // unit, function, byte count and checksum around the data
	rtuRequest  = 8 // a read request
)

// receiveRTU reads frames until the answer to the request comes. A late
// answer that is owed is thrown away; any other doubt is an error, after
// which the line is listened to until it is quiet.
func (l *link) receiveRTU(request []byte) ([]byte, error) {
	if err := l.skipEcho(request); err != nil {
		return nil, err
	}
	for {
		answer, err := l.rtuFrame(request)
		if err != nil {
			return nil, err
		}
		if s := shapeOfAnswer(answer); s != shapeOf(request) && l.debts.paid(s) {
			l.counters.staleFrames.Add(1)
			continue
		}
		return answer, nil
	}
}

// rtuFrame reads one whole frame with a right checksum into the buffer.
func (l *link) rtuFrame(request []byte) ([]byte, error) {
	have, err := l.fill(0, rtuShortest, rtuShortest)
	if err != nil {
		return nil, partial(have, err)
	}
	length, err := rtuLength(l.buffer[:have], request)
	if err != nil {
		return nil, err
	}
	if have, err = l.fill(have, length, length); err != nil {
		l.suspectEcho(l.buffer[:have], request)
		return nil, partial(have, err)
	}
	frame := l.buffer[:length:length]
	if !l.soundRTU(frame) {
		l.suspectEcho(frame, request)
		return nil, frameErrorf("checksum does not fit; look for noise, a wrong baud rate or two devices with one unit id")
	}
	return frame, nil
}

// suspectEcho looks whether what came is the request itself: many converters
// for two-wire lines hear what they send. The next answer is read after the
// echo.
func (l *link) suspectEcho(got, request []byte) {
	n := min(len(got), len(request))
	l.echoes = l.endpoint.Framing == RTU && bytes.Equal(got[:n], request[:n])
}

// skipEcho reads the request back on a line that echoes.
func (l *link) skipEcho(request []byte) error {
	if !l.echoes {
		return nil
	}
	have, err := l.fill(0, len(request), len(request))
	if err == nil && bytes.Equal(l.buffer[:have], request) {
		return nil
	}
	l.echoes = false
	if err != nil {
		return partial(have, err)
	}
	return frameErrorf("the line no longer echoes")
}

// rtuLength is the length a frame must have by its first bytes. RTU has no
// length field, so a first byte that cannot belong to a read answer leaves
// nothing to go by.
func rtuLength(head, request []byte) (int, error) {
	switch function := head[1]; {
	case function&0x80 != 0:
		return rtuShortest, nil
	case function == 0 || function > 4:
		return 0, frameErrorf("function code %d answered to %d", function, request[1])
	}
	length := rtuAround + int(head[2])
	if length > maxADU {
		return 0, frameErrorf("byte count %d is impossible", head[2])
	}
	return length, nil
}

// soundRTU has the library check the checksum at the end of a frame.
func (l *link) soundRTU(frame []byte) bool {
	_, err := l.packager.Decode(frame)
	return err == nil
}
