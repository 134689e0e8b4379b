package modbus

// limit is how many registers, or bits, a unit gives in one request, found out
// by asking: a number between the most it gave and the fewest it refused
// although it gives all of them in two requests.
type limit struct {
	given, refused int // refused 0: nothing
}

// longest is what to ask for at most, of what the configuration allows: half
// way between what is known, until nothing lies between.
func (l limit) longest(configured int) int {
	if l.refused == 0 {
		return configured
	}
	return min(configured, max(1, (l.given+l.refused)/2, l.given))
}

// shown is the most a unit gives in one request; 0 while it refused nothing.
func (l limit) shown() int {
	if l.refused == 0 {
		return 0
	}
	return l.given
}

// give notes an answer; it says whether more may be asked for now.
func (l *limit) give(quantity int) (more bool) {
	if quantity <= l.given {
		return false
	}
	l.given = quantity
	return l.refused > 0
}

// refuse notes a request that was too long.
func (l *limit) refuse(quantity int) {
	if l.refused == 0 || quantity < l.refused {
		l.refused = quantity
	}
	l.given = min(l.given, l.refused-1)
}

// of is the limit of a table: registers and bits have one each.
func (k *knowledge) of(table Table) *limit {
	if table.bits() {
		return &k.bits
	}
	return &k.registers
}

// within is the endpoint as a unit with these fields allows it to be asked. A
// field is never cut.
func (k *knowledge) within(e Endpoint, fields []Field, which []int) Endpoint {
	registers := 1
	for _, i := range which {
		if !fields[i].Table.bits() {
			registers = max(registers, fields[i].span())
		}
	}
	e.MaxRegisters = max(registers, k.registers.longest(e.MaxRegisters))
	e.MaxBits = k.bits.longest(e.MaxBits)
	return e
}
