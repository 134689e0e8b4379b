package modbus

import (
	"encoding/binary"
	"math"
)

// Decode reads the field out of the bytes of its registers as they came from
// the line: two bytes for each register, 2, 4 or 8 in all. A bit gives 0 or
// 1. The result may be NaN or infinite where the device sent that. It panics
// when data is shorter than the type; a plan never asks for less.
func Decode(t Type, order Order, bit int, data []byte) float64 {
	word := ordered(order, data[:2*t.width()])
	switch t {
	case Uint16:
		return float64(uint16(word))
	case Int16:
		return float64(int16(word))
	case Uint32:
		return float64(uint32(word))
	case Int32:
		return float64(int32(word))
	case Uint64:
		return float64(word)
	case Int64:
		return float64(int64(word))
	case Float32:
		return float64(math.Float32frombits(uint32(word)))
	case Float64:
		return math.Float64frombits(word)
	case Bit:
		return float64(word >> bit & 1)
	}
	return math.NaN()
}

// ordered collects the bytes, most significant first.
func ordered(order Order, data []byte) uint64 {
	var word uint64
	n := len(data)
	for i := 0; i < n; i += 2 {
		at := i
		if order == CDAB || order == DCBA {
			at = n - 2 - i
		}
		pair := binary.BigEndian.Uint16(data[at:])
		if order == BADC || order == DCBA {
			pair = pair<<8 | pair>>8
		}
		word = word<<16 | uint64(pair)
	}
	return word
}

// decodeBit reads bit i of a coil or discrete answer: bit 0 of byte 0 is the
// first (Modbus Application Protocol Specification V1.1b3, clause 6.1).
func decodeBit(data []byte, i int) float64 { return float64(data[i/8] >> (i % 8) & 1) }
