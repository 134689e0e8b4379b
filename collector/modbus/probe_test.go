package modbus_test

import (
	"context"
	"errors"
	"fmt"
	"net"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector/collectortest"
	"bridlewatch/collector/modbus"
	"bridlewatch/collector/poll"
)

func TestProbeFindsTheDevice(t *testing.T) {
	for _, framing := range streams {
		t.Run(string(framing), func(t *testing.T) {
			d := collectortest.NewDevice()
			// 1234.5, 0.25, -42 and 20 in order CDAB.
			d.Add(3, &collectortest.Unit{Holding: map[int]uint16{0: 0x5000, 1: 0x449A, 2: 0, 3: 0x3E80, 4: 0, 5: 0xC228, 6: 0, 7: 0x41A0}})
			d.Add(5, &collectortest.Unit{Input: map[int]uint16{0: 7, 1: 8}})
			p := modbus.Probe{Address: serve(t, framing, d), Timeout: 40 * time.Millisecond, Pause: time.Millisecond, Units: []int{1, 2, 3, 4, 5}}
			found, err := p.Run(t.Context(), poll.System{})
			if err != nil {
				t.Fatal(err)
			}
			if found.Framing != framing || len(found.Units) != 2 || found.Units[0].UnitID != 3 || found.Units[0].Order != modbus.CDAB {
				t.Errorf("found %+v", found)
			}
			if u := found.Units[1]; u.UnitID != 5 || u.Table != modbus.Input || len(u.Registers) != 2 || u.Registers[1] != 8 {
				t.Errorf("unit 5: %+v", u)
			}
			for _, want := range []string{"framing " + string(framing), "1234.5", "order CDAB", "unit 5"} {
				if !strings.Contains(found.String(), want) {
					t.Errorf("the text does not say %q:\n%s", want, found)
				}
			}
			for _, r := range d.Requests() {
				if r.Function != 3 && r.Function != 4 {
					t.Errorf("function code %d sent", r.Function)
				}
			}
		})
	}
}

func TestProbeSerial(t *testing.T) {
	d := collectortest.NewDevice()
	d.Add(2, &collectortest.Unit{Holding: ramp(0, 8)})
	line, err := collectortest.NewLine()
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	go func() { defer close(done); d.ServeRTU(line) }()
	defer func() { line.Close(); <-done }()
	found, err := modbus.Probe{Address: line.Path, Timeout: 40 * time.Millisecond, Pause: time.Millisecond, Units: []int{1, 2}}.Run(t.Context(), poll.System{})
	if err != nil || found.Framing != modbus.RTU || found.Baud == 0 || len(found.Units) != 1 || found.Units[0].UnitID != 2 {
		t.Errorf("found %+v, %v", found, err)
	}
}

func TestProbeIsBounded(t *testing.T) {
	d := collectortest.NewDevice() // nobody at home
	address := serve(t, modbus.TCP, d)
	rows := []struct {
		name  string
		probe modbus.Probe
		most  int
		want  error
	}{
		{"limit", modbus.Probe{Limit: 5}, 5, modbus.ErrNothingFound},
		{"units asked for", modbus.Probe{Units: []int{1, 2}, Framings: []modbus.Framing{modbus.TCP}}, 2, modbus.ErrNothingFound},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			d.Forget()
			r.probe.Address, r.probe.Timeout, r.probe.Pause = address, 20*time.Millisecond, time.Millisecond
			found, err := r.probe.Run(t.Context(), poll.System{})
			if !errors.Is(err, r.want) || found.Requests > r.most || len(d.Requests()) > r.most {
				t.Errorf("%v after %d requests, %d seen; want %v and at most %d", err, found.Requests, len(d.Requests()), r.want, r.most)
			}
		})
	}
	t.Run("cancelled", func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
		defer cancel()
		if _, err := (modbus.Probe{Address: address, Timeout: time.Second}).Run(ctx, poll.System{}); !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("error %v", err)
		}
	})
	t.Run("nothing listens", func(t *testing.T) {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		l.Close()
		_, err = modbus.Probe{Address: l.Addr().String()}.Run(t.Context(), poll.System{})
		var connect *modbus.ConnectError
		if !errors.As(err, &connect) {
			t.Errorf("error %v, want a ConnectError", err)
		}
	})
}

func ExampleFound() {
	fmt.Print(modbus.Found{
		Address: "192.0.2.10:502", Framing: modbus.TCP, Requests: 3,
		Units: []modbus.FoundUnit{{UnitID: 1, Table: modbus.Holding, Registers: []uint16{0x449A, 0x5000, 0x000A}, Took: 12 * time.Millisecond, Order: modbus.ABCD}},
	})
	// Output:
	// 192.0.2.10:502 answers in framing tcp; 3 requests sent
	//
	// unit 1 answered in 12.0 ms
	//   holding  hex   uint16  int16  float32 ABCD  float32 CDAB  float32 BADC  float32 DCBA  int32 ABCD  int32 CDAB
	//   0        449A  17562   17562  1234.5        8.60792e+09   -4.05321e-23  7.40218e-39   1150963712  1342194842
	//   1        5000  20480   20480  8.58994e+09   9.47054e-40   7.35043e-39   6.16303e-33   1342177290  675840
	//   2        000A  10      10
	//   as 32-bit floating point numbers these registers look most like order ABCD; compare with the display of the device
}
