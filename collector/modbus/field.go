package modbus

import (
	"errors"
	"fmt"
	"slices"

	"bridlewatch/collector"
)

// Table is one of the four data tables of a Modbus device.
type Table string

// The tables, with the only function codes this package can send.
const (
	Holding  Table = "holding"  // function code 3
	Input    Table = "input"    // function code 4
	Coil     Table = "coil"     // function code 1
	Discrete Table = "discrete" // function code 2
)

// bits says that the table holds bits, not registers.
func (t Table) bits() bool { return t == Coil || t == Discrete }

// longest is what the protocol allows in one request.
func (t Table) longest() int {
	if t.bits() {
		return MaxBits
	}
	return MaxRegisters
}

func (t Table) known() bool {
	return t == Holding || t == Input || t == Coil || t == Discrete
}

// Type is how registers are read as a number.
type Type string

// The types.
const (
	Uint16  Type = "uint16"
	Int16   Type = "int16"
	Uint32  Type = "uint32"
	Int32   Type = "int32"
	Uint64  Type = "uint64" // exact up to 2^53
	Int64   Type = "int64"  // exact up to 2^53
	Float32 Type = "float32"
	Float64 Type = "float64"
	Bit     Type = "bit" // one coil or discrete input, or one bit of a register
)

// width is the number of registers a type takes; 0 for an unknown type.
func (t Type) width() int {
	switch t {
	case Uint16, Int16, Bit:
		return 1
	case Uint32, Int32, Float32:
		return 2
	case Uint64, Int64, Float64:
		return 4
	}
	return 0
}

// Order is the order in which a device sends the bytes of a number whose
// bytes, most significant first, are A B C D.
type Order string

// The orders. Eight-byte numbers follow the same rule: CDAB reverses the
// registers, BADC swaps the bytes within each, DCBA does both.
const (
	ABCD Order = "ABCD"
	CDAB Order = "CDAB"
	BADC Order = "BADC"
	DCBA Order = "DCBA"
)

// Orders are all orders, in the order they are shown.
func Orders() []Order { return []Order{ABCD, CDAB, BADC, DCBA} }

// Field is one signal: where it is in which unit and how to read it.
type Field struct {
	Tag       collector.Tag
	UnitID    int
	Table     Table
	Address   int // zero-based
	Type      Type
	Order     Order // empty means ABCD
	Bit       int   // of a register: 0 is the least significant
	Sentinels []float64
	EveryScan int // read at every n-th scan; 0 and 1 mean at each
}

// span is the number of registers or bits the field takes.
func (f Field) span() int { return f.Type.width() }

// Validate reports everything that is wrong with the field.
func (f Field) Validate() error {
	var errs []error
	complain := func(wrong bool, format string, args ...any) {
		if wrong {
			errs = append(errs, fmt.Errorf("modbus field %s: "+format, append([]any{f.Tag}, args...)...))
		}
	}
	complain(f.Tag == "", "a field needs a tag")
	complain(f.UnitID < 0 || f.UnitID > 255, "unit id %d; use 1 to 247, or 0 or 255 for a device that is its own gateway", f.UnitID)
	complain(!f.Table.known(), "table %q is unknown; use holding, input, coil or discrete", f.Table)
	complain(f.Type.width() == 0, "type %q is unknown", f.Type)
	complain(f.Table.bits() && f.Type != Bit, "a %s is a bit, not a %s", f.Table, f.Type)
	complain(f.Address < 0 || f.Address+f.span() > 65536, "address %d is outside 0..65535 (addresses count from zero)", f.Address)
	complain(f.Bit < 0 || f.Bit > 15, "bit %d; a register has bits 0 to 15", f.Bit)
	complain(f.Bit != 0 && (f.Table.bits() || f.Type != Bit), "a bit number belongs to a field of type bit in a register")
	complain(f.Order != "" && !slices.Contains(Orders(), f.Order), "order %q is unknown; use ABCD, CDAB, BADC or DCBA", f.Order)
	complain(f.EveryScan < 0, "every %d scans; use 1 or more", f.EveryScan)
	return errors.Join(errs...)
}
