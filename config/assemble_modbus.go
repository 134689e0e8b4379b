package config

import (
	"fmt"
	"strconv"
	"time"
)

// modbusAddress fills in where a signal is in a Modbus device.
func (d *decoder) modbusAddress(s *Signal, f *signalForm, source *Source) {
	d.refuse(f, "is not used by a Modbus source", "node", "topic", "path", "metric")
	s.UnitID, s.Table, s.Type, s.Order = 1, f.Table, f.Type, f.Order
	s.EveryScan = max(1, f.EveryScan)
	if slow := time.Duration(s.EveryScan) * source.Every; source.MaxAge > 0 && slow > source.MaxAge {
		d.report(f.node.find("every_scan"), "reads every %s, but values of source %s are stale after %s: give the source a longer max_age", printDuration(slow), source.Name, printDuration(source.MaxAge))
	}
	if f.UnitID != nil {
		s.UnitID = *f.UnitID
	}
	if f.Register != "" {
		d.refuse(f, "is given beside register, which says both", "table", "address")
		table, address, err := readRegister(f.Register)
		if err != nil {
			d.report(f.node.find("register"), "%v", err)
			return
		}
		f.Table, f.Address, s.Table = table, &address, table
	}
	if f.Address == nil {
		d.lacks(f, "address", "the first register or bit, counted from 0")
		return
	}
	s.Address = *f.Address
	if s.Table == "" {
		s.Table = "holding"
		if s.Role == RolePoint && f.Bit == nil && f.Type == "" {
			s.Table = "discrete"
		}
	}
	bits := s.Table == "coil" || s.Table == "discrete"
	if s.Type == "" && (bits || f.Bit != nil) {
		s.Type = "bit"
	}
	if f.Bit != nil {
		s.Bit = *f.Bit
	}
	d.checkModbus(s, f, source, bits)
	if s.Order == "" {
		s.Order = "ABCD"
	}
	if first := map[string]int{"holding": 40001, "input": 30001}[s.Table]; first > 0 && s.Address >= first && s.Address < first+9999 {
		d.advise(f.node.find("address"), "%d looks like the number of a register list: address counts from 0, so that this is number %d of the table; if %[1]d is what the list says, write register: %[1]d in place of table and address", s.Address, s.Address+1)
	}
}

// readRegister reads the number of a register list: the first digit is the
// table, the rest counts from 1 (the data model of MODBUS Application Protocol
// V1.1b3, 4.3, with the leading digit of common practice).
func readRegister(s string) (table string, address int, err error) {
	tables := map[byte]string{'0': "coil", '1': "discrete", '3': "input", '4': "holding"}
	n, err := strconv.Atoi("1" + s) // digits only
	if err != nil || len(s) != 5 && len(s) != 6 || tables[s[0]] == "" {
		return "", 0, fmt.Errorf("%q is not a register number of 5 or 6 digits beginning with 0 (coil), 1 (discrete), 3 (input) or 4 (holding), such as 40101", s)
	}
	if n %= power10(len(s) - 1); n < 1 || n > 65536 {
		return "", 0, fmt.Errorf("%q: the number after the first digit counts from 1 to 65536", s)
	}
	return tables[s[0]], n - 1, nil
}

func power10(n int) int {
	p := 1
	for range n {
		p *= 10
	}
	return p
}

// registers is how many registers a type takes.
func registers(t string) int {
	switch t {
	case "uint32", "int32", "float32":
		return 2
	case "uint64", "int64", "float64":
		return 4
	}
	return 1
}

func (d *decoder) checkModbus(s *Signal, f *signalForm, source *Source, bits bool) {
	at := f.node.find
	switch {
	case s.Type == "":
		d.lacks(f, "type", "how the registers make a number, for example uint16 or float32")
	case bits && s.Type != "bit":
		d.report(at("type"), "the table %s holds single bits, not %s", s.Table, s.Type)
	case bits && f.Bit != nil:
		d.report(at("bit"), "the table %s holds single bits already", s.Table)
	case !bits && s.Type == "bit" && f.Bit == nil:
		d.lacks(f, "bit", "which bit of the register, 0 the least significant")
	case f.Bit != nil && s.Type != "bit":
		d.report(at("bit"), "is used with type bit only, not with %s", s.Type)
	case s.Role == RolePoint && s.Type != "bit" && registers(s.Type) > 1:
		d.report(at("type"), "a contact is a bit or one register that is 0 or 1, not %s", s.Type)
	case f.Order != "" && registers(s.Type) == 1 && f.Order != "ABCD" && f.Order != "BADC":
		d.report(at("order"), "one register has two bytes: ABCD, or BADC when they are swapped")
	}
	if last := s.Address + registers(s.Type) - 1; last > 65535 {
		d.report(at("address"), "a %s at %d would end at %d; the last register is 65535", s.Type, s.Address, last)
	}
	if n := registers(s.Type); source.MaxRegisters > 0 && n > source.MaxRegisters {
		d.report(at("type"), "%s takes %d registers, but source %s gives %d in one request", s.Type, n, source.Name, source.MaxRegisters)
	}
	if source.Protocol != ModbusTCP && (s.UnitID < 1 || s.UnitID > 247) {
		d.report(at("unit_id"), "%d is outside 1 to 247, the addresses of a serial line", s.UnitID)
	}
}
