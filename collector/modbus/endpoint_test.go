package modbus_test

import (
	"strings"
	"testing"
	"time"

	"bridlewatch/collector/modbus"
	"bridlewatch/collector/poll"
)

func TestConflicts(t *testing.T) {
	a := modbus.Endpoint{Name: "a", Framing: modbus.TCP, Address: "192.0.2.1:502"}
	b := modbus.Endpoint{Name: "b", Framing: modbus.RTUOverTCP, Address: "192.0.2.1:502"}
	c := modbus.Endpoint{Name: "c", Framing: modbus.TCP, Address: "192.0.2.2:502"}
	again := modbus.Endpoint{Name: "again", Framing: modbus.TCP, Address: "192.0.2.1:502"}
	rows := []struct {
		name      string
		endpoints []modbus.Endpoint
		want      string
	}{
		{"apart", []modbus.Endpoint{a, c}, ""},
		{"two framings", []modbus.Endpoint{a, c, b}, "tcp in a and rtu-over-tcp in b"},
		{"twice", []modbus.Endpoint{c, a, again}, "a and again are the same endpoint"},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			errs := modbus.Conflicts(r.endpoints)
			if (r.want == "") != (len(errs) == 0) || len(errs) > 0 && !strings.Contains(errs[0].Error(), r.want) {
				t.Errorf("got %v, want %q", errs, r.want)
			}
		})
	}
}

func TestNewRefuses(t *testing.T) {
	tcp := modbus.Endpoint{Name: "device", Framing: modbus.TCP, Address: "192.0.2.1:502"}
	line := modbus.Endpoint{Name: "line", Framing: modbus.RTU, Address: "/dev/ttyS0"}
	good := register("LT-1", 1, 0)
	with := func(change func(*modbus.Field)) modbus.Field { f := good; change(&f); return f }
	change := func(e modbus.Endpoint, by func(*modbus.Endpoint)) modbus.Endpoint { by(&e); return e }
	rows := []struct {
		name     string
		endpoint modbus.Endpoint
		fields   []modbus.Field
		want     string
	}{
		{"no fields", tcp, nil, "no fields"},
		{"no name", change(tcp, func(e *modbus.Endpoint) { e.Name = "" }), []modbus.Field{good}, "needs a name"},
		{"no address", change(tcp, func(e *modbus.Endpoint) { e.Address = "" }), []modbus.Field{good}, "address is missing"},
		{"framing", change(tcp, func(e *modbus.Endpoint) { e.Framing = "ascii" }), []modbus.Field{good}, "framing \"ascii\""},
		{"parity", change(line, func(e *modbus.Endpoint) { e.Parity = "mark" }), []modbus.Field{good}, "parity \"mark\""},
		{"baud", change(line, func(e *modbus.Endpoint) { e.Baud = 7 }), []modbus.Field{good}, "baud rate 7"},
		{"stop bits", change(line, func(e *modbus.Endpoint) { e.StopBits = 3 }), []modbus.Field{good}, "3 stop bits"},
		{"identifiers of RTU", change(line, func(e *modbus.Endpoint) { e.IgnoreTransactionID = true }), []modbus.Field{good}, "transaction identifiers"},
		{"time-out", change(tcp, func(e *modbus.Endpoint) { e.Timeout = time.Hour }), []modbus.Field{good}, "timeout 1h0m0s"},
		{"pause", change(tcp, func(e *modbus.Endpoint) { e.PauseAfterConnect = -1 }), []modbus.Field{good}, "negative"},
		{"too many registers", change(tcp, func(e *modbus.Endpoint) { e.MaxRegisters = 126 }), []modbus.Field{good}, "max registers 126"},
		{"too many bits", change(tcp, func(e *modbus.Endpoint) { e.MaxBits = 2001 }), []modbus.Field{good}, "max bits 2001"},
		{"gap", change(tcp, func(e *modbus.Endpoint) { e.MaxGap = -2 }), []modbus.Field{good}, "max gap -2"},
		{"aim", change(tcp, func(e *modbus.Endpoint) { e.Aim = "luck" }), []modbus.Field{good}, "aim \"luck\""},
		{"tag twice", tcp, []modbus.Field{good, good}, "there twice"},
		{"no tag", tcp, []modbus.Field{with(func(f *modbus.Field) { f.Tag = "" })}, "needs a tag"},
		{"unit", tcp, []modbus.Field{with(func(f *modbus.Field) { f.UnitID = 256 })}, "unit id 256"},
		{"broadcast on a line", line, []modbus.Field{with(func(f *modbus.Field) { f.UnitID = 0 })}, "units 1 to 247"},
		{"table", tcp, []modbus.Field{with(func(f *modbus.Field) { f.Table = "file" })}, "table \"file\""},
		{"type", tcp, []modbus.Field{with(func(f *modbus.Field) { f.Type = "bcd" })}, "type \"bcd\""},
		{"a coil is a bit", tcp, []modbus.Field{with(func(f *modbus.Field) { f.Table = modbus.Coil })}, "a coil is a bit"},
		{"order", tcp, []modbus.Field{with(func(f *modbus.Field) { f.Order = "ACBD" })}, "order \"ACBD\""},
		{"bit 16", tcp, []modbus.Field{with(func(f *modbus.Field) { f.Type, f.Bit = modbus.Bit, 16 })}, "bit 16"},
		{"bit of a number", tcp, []modbus.Field{with(func(f *modbus.Field) { f.Bit = 1 })}, "belongs to a field of type bit"},
		{"past the last address", tcp, []modbus.Field{with(func(f *modbus.Field) { f.Address, f.Type = 65535, modbus.Float32 })}, "outside 0..65535"},
		{"one-based address 40001 is allowed, 400001 not", tcp, []modbus.Field{with(func(f *modbus.Field) { f.Address = 400001 })}, "count from zero"},
		{"wider than the endpoint allows", change(tcp, func(e *modbus.Endpoint) { e.MaxRegisters = 1 }), []modbus.Field{with(func(f *modbus.Field) { f.Type = modbus.Float32 })}, "allows 1 in one request"},
		{"cadence", tcp, []modbus.Field{with(func(f *modbus.Field) { f.EveryScan = -1 })}, "every -1 scans"},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			_, err := modbus.New(r.endpoint, r.fields, poll.System{})
			if err == nil || !strings.Contains(err.Error(), r.want) {
				t.Errorf("error %v, want %q", err, r.want)
			}
		})
	}
	if _, err := modbus.New(tcp, []modbus.Field{good}, poll.System{}); err != nil {
		t.Errorf("a sound one: %v", err)
	}
}
