package rehearsal

import "sync"

// memory is what the devices behind one Modbus endpoint hold: four tables for
// each unit id. It is safe for concurrent use; a whole tick is written under
// one lock, so a reader never sees half of it.
type memory struct {
	mu    sync.RWMutex
	units map[uint8]*unitMemory
}

type unitMemory struct {
	holding, input, coils, discrete table
}

// table is a run of registers or bits without gaps: a device answers for
// what lies between its own addresses, and for nothing outside them.
type table struct {
	first  int
	cells  []uint16
	silent []bool // the device refuses this one
}

func newMemory() *memory { return &memory{units: make(map[uint8]*unitMemory)} }

func (m *memory) unit(id uint8) *unitMemory {
	u := m.units[id]
	if u == nil {
		u = &unitMemory{}
		m.units[id] = u
	}
	return u
}

func (u *unitMemory) table(name string) *table {
	switch name {
	case "input":
		return &u.input
	case "coil":
		return &u.coils
	case "discrete":
		return &u.discrete
	}
	return &u.holding
}

// reserve makes room for width cells at an address.
func (t *table) reserve(address, width int) {
	if len(t.cells) == 0 {
		t.first = address
	}
	if address < t.first {
		grown := make([]uint16, t.first-address+len(t.cells))
		copy(grown[t.first-address:], t.cells)
		t.first, t.cells = address, grown
	}
	if more := address + width - t.first - len(t.cells); more > 0 {
		t.cells = append(t.cells, make([]uint16, more)...)
	}
	t.silent = make([]bool, len(t.cells))
}

// put writes words at an address that was reserved.
func (t *table) put(address int, words []uint16) {
	at := address - t.first
	copy(t.cells[at:], words)
	for i := range words {
		t.silent[at+i] = false
	}
}

// putBit writes one bit of a register that was reserved.
func (t *table) putBit(address, bit int, set bool) {
	at := address - t.first
	t.cells[at] &^= 1 << bit
	if set {
		t.cells[at] |= 1 << bit
	}
	t.silent[at] = false
}

// silence makes the device refuse width cells at an address.
func (t *table) silence(address, width int) {
	for i := range width {
		t.silent[address-t.first+i] = true
	}
}

// read copies a run, or reports that the device has no such addresses.
func (t *table) read(address, quantity int) ([]uint16, bool) {
	at := address - t.first
	if len(t.cells) == 0 || at < 0 || at+quantity > len(t.cells) {
		return nil, false
	}
	for i := at; i < at+quantity; i++ {
		if t.silent[i] {
			return nil, false
		}
	}
	return append([]uint16(nil), t.cells[at:at+quantity]...), true
}
