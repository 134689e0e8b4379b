package modbus

import (
	"encoding/binary"

	library "github.com/goburrow/modbus"
)

// packager wraps a packager of the library with what the library leaves
// open: it encodes nothing but reads, numbers the requests of a connection
// instead of those of a unit, and accepts an answer only if it has the unit,
// the function and exactly the quantity that was asked for.
type packager struct {
	library.Packager
	before, after int     // bytes around unit, function and data
	ids           *uint16 // last transaction identifier of the connection; nil for RTU
}

func newPackager(framing Framing, unit int, ids *uint16) packager {
	if framing == TCP {
		handler := library.NewTCPClientHandler("")
		handler.SlaveId = byte(unit)
		return packager{Packager: handler, before: 6, ids: ids}
	}
	handler := library.NewRTUClientHandler("")
	handler.SlaveId = byte(unit)
	return packager{Packager: handler, after: 2}
}

// Encode refuses everything that is not a read. This is the lowest place a
// request passes, below every method of the library's client.
func (p packager) Encode(pdu *library.ProtocolDataUnit) ([]byte, error) {
	if pdu.FunctionCode < library.FuncCodeReadCoils || pdu.FunctionCode > library.FuncCodeReadInputRegisters {
		return nil, ErrNotARead
	}
	adu, err := p.Packager.Encode(pdu)
	if err == nil && p.ids != nil {
		*p.ids++
		binary.BigEndian.PutUint16(adu, *p.ids)
	}
	return adu, err
}

// Verify compares an answer with its request before the library decodes it.
func (p packager) Verify(request, answer []byte) error {
	if err := p.Packager.Verify(request, answer); err != nil {
		return &FrameError{What: err.Error()}
	}
	return p.answers(request, answer)
}

// Decode takes the frame off. A checksum that does not fit is a FrameError.
func (p packager) Decode(adu []byte) (*library.ProtocolDataUnit, error) {
	pdu, err := p.Packager.Decode(adu)
	if err != nil {
		return nil, &FrameError{What: err.Error()}
	}
	return pdu, nil
}

// answers checks unit, function code and byte count.
func (p packager) answers(request, answer []byte) error {
	request, answer = request[p.before:], answer[p.before:len(answer)-p.after]
	switch {
	case len(answer) < 3:
		return frameErrorf("%d bytes are too few", len(answer))
	case answer[0] != request[0]:
		return frameErrorf("unit %d answered to unit %d", answer[0], request[0])
	case answer[1] == request[1]|0x80 && len(answer) == 3:
		return nil
	case answer[1] != request[1]:
		return frameErrorf("function code %d answered to %d", answer[1], request[1])
	}
	if want := answerBytes(request[1:]); int(answer[2]) != want || len(answer) != 3+want {
		return frameErrorf("%d bytes of data answered, %d asked for", answer[2], want)
	}
	return nil
}

// answerBytes is the byte count the answer to a read request must have. The
// request starts at the function code.
func answerBytes(request []byte) int {
	quantity := int(binary.BigEndian.Uint16(request[3:5]))
	if request[0] == library.FuncCodeReadCoils || request[0] == library.FuncCodeReadDiscreteInputs {
		return (quantity + 7) / 8
	}
	return 2 * quantity
}
