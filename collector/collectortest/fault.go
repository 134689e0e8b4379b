package collectortest

import (
	"encoding/binary"
	"math/rand/v2"
	"time"
)

// Fault is one way an answer goes wrong between a device and its reader.
type Fault string

// The faults.
const (
	NoFault          Fault = "none"
	Delay            Fault = "delay"                // a little late, within the time-out
	Late             Fault = "late answer"          // after the time-out
	Stall            Fault = "stall"                // after the time-out, and holding up every later answer
	Drop             Fault = "drop"                 // never
	Cut              Fault = "cut"                  // connection closed in the middle of the frame
	Reset            Fault = "reset"                // connection reset instead of an answer
	HalfOpen         Fault = "half-open"            // this connection carries nothing any more, without being closed
	Truncate         Fault = "truncate"             // half a frame, then silence
	Drip             Fault = "slow drip"            // byte by byte, longer than the time-out in all
	Split            Fault = "split"                // in two parts within the time-out
	Garbage          Fault = "garbage"              // random bytes of the same length
	Noise            Fault = "noise"                // random bytes before the frame
	Chatter          Fault = "chatter"              // random bytes some time after the frame
	Duplicate        Fault = "duplicate"            // twice at once
	DuplicateLater   Fault = "duplicate, later"     // again after the next request may have been sent
	WrongTransaction Fault = "wrong transaction id" // the transaction identifier of another request
	OldTransaction   Fault = "old transaction id"
	WrongUnit        Fault = "wrong unit"
	WrongFunction    Fault = "wrong function"
	LongCount        Fault = "wrong byte count, long"  // one register more than asked for, frame consistent
	ShortCount       Fault = "wrong byte count, short" // one register less, frame consistent
	LyingCount       Fault = "wrong byte count, lying" // byte count does not fit the frame
	Exception        Fault = "exception 4"
)

// Faults are all faults in the order of a table.
func Faults() []Fault {
	return []Fault{Delay, Late, Stall, Drop, Cut, Reset, HalfOpen, Truncate, Drip, Split, Garbage, Noise, Chatter, Duplicate, DuplicateLater,
		WrongTransaction, OldTransaction, WrongUnit, WrongFunction, LongCount, ShortCount, LyingCount, Exception}
}

// piece is something to send after a pause.
type piece struct {
	after time.Duration
	bytes []byte
}

// damage turns an answer into what the fault makes of it. The frame is whole
// and starts with the header of its framing. Cut, Reset, HalfOpen
// and what comes later are done by the proxy.
func damage(f Fault, rtu bool, frame []byte, unit time.Duration, rng *rand.Rand) []piece {
	whole := func(b []byte) []piece { return []piece{{bytes: b}} }
	body := pdu{frame: append([]byte(nil), frame...), rtu: rtu}
	switch f {
	case Drop:
		return nil
	case Delay:
		return []piece{{after: unit / 4, bytes: frame}}
	case Truncate:
		return whole(frame[:len(frame)/2])
	case Drip:
		var drops []piece
		for i := range frame {
			drops = append(drops, piece{after: 2 * unit / time.Duration(len(frame)), bytes: frame[i : i+1]})
		}
		return drops
	case Split:
		return []piece{{bytes: frame[:4]}, {after: unit / 6, bytes: frame[4:]}}
	case Garbage:
		return whole(random(rng, len(frame)))
	case Noise:
		return whole(append(random(rng, 3), frame...))
	case Duplicate:
		return whole(append(append([]byte(nil), frame...), frame...))
	case DuplicateLater:
		return []piece{{bytes: frame}, {after: unit / 8, bytes: frame}}
	case WrongTransaction, OldTransaction:
		if !rtu {
			by := map[Fault]uint16{WrongTransaction: 7, OldTransaction: 0xFFFF}[f]
			binary.BigEndian.PutUint16(body.frame, binary.BigEndian.Uint16(frame)+by)
		}
		return whole(body.frame)
	case WrongUnit:
		body.bytes()[0]++
		return whole(body.seal())
	case WrongFunction:
		body.bytes()[1] ^= 7 // 3 and 4 change places
		return whole(body.seal())
	case LongCount:
		body.bytes()[2] += 2
		body.append(0xAB, 0xCD)
		return whole(body.seal())
	case ShortCount:
		if len(body.bytes()) >= 5 {
			body.bytes()[2] -= 2
			body.cut(2)
		}
		return whole(body.seal())
	case LyingCount:
		body.bytes()[2] += 4
		return whole(body.seal())
	case Exception:
		b := body.bytes()
		b[1] |= 0x80
		b[2] = 4
		body.cut(len(b) - 3)
		return whole(body.seal())
	}
	return whole(frame)
}

// pdu is a frame whose unit, function and data can be changed.
type pdu struct {
	frame []byte
	rtu   bool
}

// bytes are unit, function and data.
func (p *pdu) bytes() []byte {
	if p.rtu {
		return p.frame[:len(p.frame)-2]
	}
	return p.frame[6:]
}

func (p *pdu) append(b ...byte) {
	if p.rtu {
		n := len(p.frame) - 2
		p.frame = append(append(append([]byte(nil), p.frame[:n]...), b...), 0, 0)
		return
	}
	p.frame = append(p.frame, b...)
}

func (p *pdu) cut(n int) { p.frame = p.frame[:len(p.frame)-n] }

// seal makes length and checksum fit what is in the frame.
func (p *pdu) seal() []byte {
	if p.rtu {
		n := len(p.frame) - 2
		binary.LittleEndian.PutUint16(p.frame[n:], CRC(p.frame[:n]))
	} else {
		binary.BigEndian.PutUint16(p.frame[4:], uint16(len(p.frame)-6))
	}
	return p.frame
}

func random(rng *rand.Rand, n int) []byte {
	b := make([]byte, n)
	for i := range b {
		b[i] = byte(rng.Uint32())
	}
	return b
}
