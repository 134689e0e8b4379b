//go:build peers

package modbus_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector"
	"bridlewatch/collector/collectortest"
	"bridlewatch/collector/modbus"
	"bridlewatch/compare/quantity"
)

const peers = "../../testdata/peers/"

// need fails the test with what to install when a program is missing.
func need(t *testing.T, program, debianPackage string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil {
		t.Fatalf("%s is missing; install it: apt-get install %s", program, debianPackage)
	}
	return path
}

// start runs a peer until the end of the test and waits until it says ready.
func start(t *testing.T, name string, args ...string) {
	t.Helper()
	cmd := exec.Command(name, args...)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	var trouble strings.Builder
	cmd.Stderr = &trouble
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	ready := make(chan error, 1)
	go func() {
		_, err := bufio.NewReader(out).ReadString('\n')
		ready <- err
		io.Copy(io.Discard, out)
	}()
	select {
	case err := <-ready:
		if err != nil {
			cmd.Wait()
			t.Fatalf("%s ended: %s; see testdata/peers/install.sh", name, trouble.String())
		}
	case <-time.After(20 * time.Second):
		t.Fatalf("%s does not start", name)
	}
}

// freePort is a port nobody listens on.
func freePort(t *testing.T) int {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}

// await waits until something listens, or a file is there.
func await(t *testing.T, what string, there func() bool) {
	t.Helper()
	for range 400 {
		if there() {
			return
		}
		time.Sleep(25 * time.Millisecond)
	}
	t.Fatalf("%s does not come up", what)
}

func listens(address string) func() bool {
	return func() bool {
		c, err := net.Dial("tcp", address)
		if err == nil {
			c.Close()
		}
		return err == nil
	}
}

func pymodbus(t *testing.T, args ...string) {
	t.Helper()
	need(t, "/usr/bin/python3", "python3 python3-pymodbus python3-serial python3-serial-asyncio")
	start(t, "/usr/bin/python3", append([]string{peers + "modbus_server.py"}, args...)...)
}

// libmodbus builds and starts the C server.
func libmodbus(t *testing.T, args ...string) {
	t.Helper()
	gcc := need(t, "gcc", "gcc")
	flags, err := exec.Command(need(t, "pkg-config", "pkg-config"), "--cflags", "--libs", "libmodbus").Output()
	if err != nil {
		t.Fatal("libmodbus is missing; install it: apt-get install libmodbus-dev")
	}
	program := filepath.Join(t.TempDir(), "modbus_server")
	build := append([]string{"-O2", "-Wall", "-o", program, peers + "modbus_server.c"}, strings.Fields(string(flags))...)
	if out, err := exec.Command(gcc, build...).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	start(t, program, args...)
}

// cable makes a pair of pseudo terminals with socat and returns both ends.
func cable(t *testing.T) (near, far string) {
	t.Helper()
	dir := t.TempDir()
	near, far = filepath.Join(dir, "near"), filepath.Join(dir, "far")
	cmd := exec.Command(need(t, "socat", "socat"), "pty,raw,echo=0,link="+near, "pty,raw,echo=0,link="+far)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	await(t, "socat", func() bool {
		_, err1 := os.Stat(near)
		_, err2 := os.Stat(far)
		return err1 == nil && err2 == nil
	})
	return near, far
}

// peer is a server we did not write and how to reach it.
type peer struct {
	name  string
	units []int
	setUp func(t *testing.T) modbus.Endpoint
}

var allPeers = []peer{
	{"pymodbus TCP", []int{1, 2}, func(t *testing.T) modbus.Endpoint {
		address := fmt.Sprintf("127.0.0.1:%d", freePort(t))
		pymodbus(t, "tcp", address[strings.Index(address, ":")+1:])
		await(t, "pymodbus", listens(address))
		return modbus.Endpoint{Framing: modbus.TCP, Address: address}
	}},
	{"pymodbus RTU over TCP", []int{1, 2}, func(t *testing.T) modbus.Endpoint {
		address := fmt.Sprintf("127.0.0.1:%d", freePort(t))
		pymodbus(t, "rtutcp", address[strings.Index(address, ":")+1:])
		await(t, "pymodbus", listens(address))
		return modbus.Endpoint{Framing: modbus.RTUOverTCP, Address: address}
	}},
	{"pymodbus RTU", []int{1, 2}, func(t *testing.T) modbus.Endpoint {
		near, far := cable(t)
		pymodbus(t, "rtu", far, "19200")
		time.Sleep(500 * time.Millisecond) // it says ready before it has opened the line
		return modbus.Endpoint{Framing: modbus.RTU, Address: near, Baud: 19200, Parity: "none", StopBits: 1}
	}},
	{"libmodbus TCP", []int{1}, func(t *testing.T) modbus.Endpoint {
		port := strconv.Itoa(freePort(t))
		libmodbus(t, "tcp", port)
		return modbus.Endpoint{Framing: modbus.TCP, Address: "127.0.0.1:" + port}
	}},
	{"libmodbus RTU", []int{1}, func(t *testing.T) modbus.Endpoint {
		near, far := cable(t)
		libmodbus(t, "rtu", far, "19200", "1")
		return modbus.Endpoint{Framing: modbus.RTU, Address: near, Baud: 19200, Parity: "none", StopBits: 1}
	}},
}

// peerFields read everything the peers hold in one unit.
func peerFields(unit int) (fields []modbus.Field, want []float64) {
	add := func(value float64, f modbus.Field) {
		f.UnitID = unit
		f.Tag = collector.Tag(fmt.Sprintf("u%d %s %d %s %s", unit, f.Table, f.Address, f.Type, f.Order))
		fields, want = append(fields, f), append(want, value)
	}
	for _, a := range []int{0, 1, 9, 18, 150, 199} {
		add(float64(1000*unit+a), modbus.Field{Table: modbus.Holding, Address: a, Type: modbus.Uint16})
		add(float64(1000*unit+a), modbus.Field{Table: modbus.Input, Address: a, Type: modbus.Int16})
		bit := 0.0
		if a%3 == 0 {
			bit = 1
		}
		add(bit, modbus.Field{Table: modbus.Coil, Address: a, Type: modbus.Bit})
		add(bit, modbus.Field{Table: modbus.Discrete, Address: a, Type: modbus.Bit})
	}
	add(1234.5, modbus.Field{Table: modbus.Holding, Address: 10, Type: modbus.Float32, Order: modbus.ABCD})
	add(1234.5, modbus.Field{Table: modbus.Holding, Address: 12, Type: modbus.Float32, Order: modbus.CDAB})
	add(1234.5, modbus.Field{Table: modbus.Holding, Address: 14, Type: modbus.Float64, Order: modbus.ABCD})
	return fields, want
}

// TestPeers reads servers we did not write through every transport, with an
// address they refuse and a unit they do not have.
func TestPeers(t *testing.T) {
	for _, p := range allPeers {
		t.Run(p.name, func(t *testing.T) {
			e := p.setUp(t)
			e.Timeout = 400 * time.Millisecond
			var fields []modbus.Field
			var want []float64
			for _, unit := range p.units {
				f, w := peerFields(unit)
				fields, want = append(fields, f...), append(want, w...)
			}
			fields = append(fields, register("refused", 1, 300), register("absent", 77, 0))
			s := open(t, e, fields...)
			samples := read(t, s)
			for range 5 {
				samples = read(t, s)
			}
			for i := range want {
				expect(t, samples[i], want[i], 0)
			}
			expect(t, samples[len(want)], bad, quantity.Refused)
			if p.name == "libmodbus TCP" { // answers for every unit
				expect(t, samples[len(want)+1], 1000, 0)
			} else {
				expect(t, samples[len(want)+1], bad, quantity.NoAnswer)
			}
		})
	}
}

// TestAgreesWithMbpoll reads the same registers with mbpoll, a command line
// client we did not write, and compares.
func TestAgreesWithMbpoll(t *testing.T) {
	mbpoll := need(t, "mbpoll", "mbpoll")
	for _, p := range []peer{allPeers[0], allPeers[3]} {
		t.Run(p.name, func(t *testing.T) {
			e := p.setUp(t)
			host, port, _ := strings.Cut(e.Address, ":")
			rows := []struct {
				name    string
				kind    []string
				table   modbus.Table
				address int
				typ     modbus.Type
				order   modbus.Order
			}{
				{"holding", []string{"-t", "4"}, modbus.Holding, 42, modbus.Uint16, ""},
				{"input", []string{"-t", "3"}, modbus.Input, 199, modbus.Uint16, ""},
				{"coil set", []string{"-t", "0"}, modbus.Coil, 3, modbus.Bit, ""},
				{"coil clear", []string{"-t", "0"}, modbus.Coil, 4, modbus.Bit, ""},
				{"discrete", []string{"-t", "1"}, modbus.Discrete, 6, modbus.Bit, ""},
				{"float CDAB", []string{"-t", "4:float"}, modbus.Holding, 12, modbus.Float32, modbus.CDAB},
				{"float ABCD", []string{"-t", "4:float", "-B"}, modbus.Holding, 10, modbus.Float32, modbus.ABCD},
				{"int32 ABCD", []string{"-t", "4:int", "-B"}, modbus.Holding, 20, modbus.Int32, modbus.ABCD},
				{"int32 CDAB", []string{"-t", "4:int"}, modbus.Holding, 20, modbus.Int32, modbus.CDAB},
			}
			for _, r := range rows {
				t.Run(r.name, func(t *testing.T) {
					args := append([]string{"-m", "tcp", "-p", port, "-a", "1", "-0", "-r", strconv.Itoa(r.address), "-c", "1", "-1", "-q"}, r.kind...)
					out, err := exec.Command(mbpoll, append(args, host)...).CombinedOutput()
					if err != nil {
						t.Fatalf("mbpoll: %v: %s", err, out)
					}
					want, err := mbpollValue(string(out))
					if err != nil {
						t.Fatal(err)
					}
					s := open(t, e, modbus.Field{Tag: "x", UnitID: 1, Table: r.table, Address: r.address, Type: r.typ, Order: r.order})
					got := read(t, s)[0]
					if got.Quality != quantity.Good || math.Abs(got.Value-want) > 1e-5*math.Abs(want) { // it prints six digits
						t.Errorf("we read %v (%s), mbpoll %v", got.Value, got.Detail, want)
					}
				})
			}
		})
	}
}

// mbpollValue finds "[42]: value" in the output.
func mbpollValue(out string) (float64, error) {
	for line := range strings.Lines(out) {
		if _, value, ok := strings.Cut(line, "]:"); ok && strings.HasPrefix(line, "[") {
			fields := strings.Fields(value)
			if len(fields) > 0 {
				return strconv.ParseFloat(fields[0], 64)
			}
		}
	}
	return 0, errors.New("no value in: " + out)
}

// TestUnplugged pulls the cable out of a serial line that socat provides and
// puts it back.
func TestUnplugged(t *testing.T) {
	dir := t.TempDir()
	near, far := filepath.Join(dir, "near"), filepath.Join(dir, "far")
	plug := func() *exec.Cmd {
		cmd := exec.Command(need(t, "socat", "socat"), "pty,raw,echo=0,link="+near, "pty,raw,echo=0,link="+far)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		await(t, "socat", func() bool { _, err := os.Stat(far); return err == nil })
		return cmd
	}
	pull := func(cmd *exec.Cmd) { cmd.Process.Signal(os.Interrupt); cmd.Wait(); os.Remove(near); os.Remove(far) }

	cable := plug()
	s := open(t, modbus.Endpoint{Framing: modbus.RTU, Address: near, Baud: 19200, Parity: "none", StopBits: 1, Timeout: 300 * time.Millisecond}, register("a", 1, 42))
	t.Run("in", func(t *testing.T) {
		libmodbus(t, "rtu", far, "19200", "1")
		expect(t, read(t, s)[0], 1042, 0)
		pull(cable)
		for range 3 {
			before := time.Now()
			expect(t, read(t, s)[0], bad, quantity.NotConnected)
			if took := time.Since(before); took > 2*time.Second {
				t.Errorf("a read of a pulled line took %v", took)
			}
		}
	})
	t.Run("in again", func(t *testing.T) {
		cable := plug()
		defer pull(cable)
		libmodbus(t, "rtu", far, "19200", "1")
		expect(t, read(t, s)[0], 1042, 0)
	})
}

// TestFaultsBeforePeers puts the fault proxy between us and a server we did
// not write, on real sockets. It asks for no wrong value and for everything
// good in the end, not for any time.
func TestFaultsBeforePeers(t *testing.T) {
	const timeout = 250 * time.Millisecond
	for _, p := range allPeers[:2] { // the others serve one connection at a time
		t.Run(p.name, func(t *testing.T) {
			e := p.setUp(t)
			e.Timeout, e.ProbeEvery, e.MaxGap = timeout, 300*time.Millisecond, -1
			device := e.Address
			for _, fault := range collectortest.Faults() {
				t.Run(string(fault), func(t *testing.T) {
					t.Parallel()
					e := e
					proxy := collectortest.NewProxy(e.Framing != modbus.TCP, timeout, 11)
					l, err := net.Listen("tcp", "127.0.0.1:0")
					if err != nil {
						t.Fatal(err)
					}
					done := make(chan struct{})
					go func() { defer close(done); proxy.Serve(l, device) }()
					t.Cleanup(func() { l.Close(); <-done; proxy.Close() })
					e.Address = l.Addr().String()
					fields, want := peerFields(1)
					judgeFault(t, open(t, e, fields...), proxy, fault, want)
				})
			}
		})
	}
}

func judgeFault(t *testing.T, s *modbus.Source, proxy *collectortest.Proxy, fault collectortest.Fault, want []float64) {
	t.Helper()
	scan := func() (good int) {
		ctx, cancel := context.WithTimeout(t.Context(), 3*time.Second)
		defer cancel()
		samples, _ := s.Read(ctx)
		for i, sample := range samples {
			if sample.Quality != quantity.Good {
				continue
			}
			if good++; sample.Value != want[i] {
				t.Errorf("%s: %v delivered, want %v", sample.Tag, sample.Value, want[i])
			}
		}
		return good
	}
	proxy.Set(fault, 0.4)
	for range 4 {
		scan()
	}
	proxy.Set(collectortest.NoFault, 0)
	for range 60 {
		if scan() == len(want) {
			return
		}
		time.Sleep(100 * time.Millisecond)
	}
	t.Error("never all good again")
}
