package rehearsal

import (
	"context"
	"encoding/binary"
	"io"
	"math"
	"net"
	"testing"
	"time"

	"github.com/gopcua/opcua"
	"github.com/gopcua/opcua/ua"

	"bridlewatch/collector/signal"
	"bridlewatch/compare/gauge"
	"bridlewatch/compare/quantity"
	"bridlewatch/compare/scenario"
	"bridlewatch/config"
)

var noon = time.Date(2026, 4, 1, 12, 0, 0, 0, time.UTC)

func startPlant(t testing.TB, o Options) *Plant {
	t.Helper()
	o.Start = noon
	p, err := Start(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := p.Close(); err != nil {
			t.Error(err)
		}
	})
	return p
}

func source(t testing.TB, p *Plant, name string) config.Source {
	t.Helper()
	for _, s := range p.Config().Sources {
		if s.Name == name {
			return s
		}
	}
	t.Fatalf("no source %q", name)
	return config.Source{}
}

// ask sends one Modbus request as bytes and returns the bytes of the answer's
// PDU: written here by hand after the Modbus Messaging on TCP/IP guide V1.0b,
// so that the server is not tested with its own library.
func ask(t *testing.T, address string, unit byte, pdu ...byte) []byte {
	t.Helper()
	c, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = c.Close() }()
	_ = c.SetDeadline(time.Now().Add(3 * time.Second))
	frame := append([]byte{0x12, 0x34, 0, 0, 0, byte(len(pdu) + 1), unit}, pdu...)
	if _, err := c.Write(frame); err != nil {
		t.Fatal(err)
	}
	var head [7]byte
	if _, err := io.ReadFull(c, head[:]); err != nil {
		t.Fatalf("no answer to % x: %v", pdu, err)
	}
	if head[0] != 0x12 || head[1] != 0x34 || head[6] != unit {
		t.Fatalf("answer header % x", head)
	}
	body := make([]byte, binary.BigEndian.Uint16(head[4:])-1)
	if _, err := io.ReadFull(c, body); err != nil {
		t.Fatal(err)
	}
	return body
}

func TestEmbeddedPlantIsOfManyKinds(t *testing.T) {
	c, err := Embedded()
	if err != nil {
		t.Fatal(err)
	}
	if n := len(c.Gauges); n < 12 {
		t.Errorf("%d gauges, want at least 12", n)
	}
	principles, fluids := map[string]bool{}, map[string]bool{}
	for _, g := range c.Gauges {
		fluids[string(g.Sheet.Fluid.Model)] = true
		if g.Sheet.Transmitter == nil {
			principles["none"] = true
			continue
		}
		principles[string(g.Sheet.Transmitter.Principle)] = true
	}
	for _, want := range []string{"radar", "dp-wet-leg", "dp-remote-seals", "displacer", "none"} {
		if !principles[want] {
			t.Errorf("no gauge with transmitter %s", want)
		}
	}
	for _, want := range []string{"water", "petroleum", "lpg", "pure", "table", "coefficient", "measured"} {
		if !fluids[want] {
			t.Errorf("no gauge with fluid model %s", want)
		}
	}
}

// The chamber of the boiler drum is much colder than the drum, so that a gauge
// glass beside it shows the level far too low: that is what it is there for.
func TestDrumGaugeStandsBelowTheDrum(t *testing.T) {
	c, err := Embedded()
	if err != nil {
		t.Fatal(err)
	}
	m, err := gauge.New(c.Gauges[0].Sheet)
	if err != nil {
		t.Fatal(err)
	}
	in, err := m.Standing(0.5)
	if err != nil {
		t.Fatal(err)
	}
	var out gauge.Measurement
	m.Measure(&in, &out)
	drum, glass := out.InVessel.Value.Millimetres(), out.Float.Value.Millimetres()
	if math.Abs(drum-400) > 0.1 || glass > 370 || glass < 360 {
		t.Errorf("drum %.1f mm, gauge glass %.1f mm; want 400 and about 366", drum, glass)
	}
}

func TestEverySignalCanBeReadBack(t *testing.T) {
	p := startPlant(t, Options{Seed: 4})
	for _, g := range p.gauges {
		for _, s := range g.signals {
			r := readingOf(&g.shows, s)
			raw, ok := rawValue(s.Spec, r)
			if !ok {
				t.Errorf("%s: the healthy plant has no value for it: %+v", s.Tag, r)
				continue
			}
			back := s.Spec.Convert(quantity.Reading{Value: raw, Time: r.Time, Quality: quantity.Good})
			if back.Quality != quantity.Good || math.Abs(back.Value-r.Value) > 1e-6*math.Max(1, math.Abs(r.Value)) {
				t.Errorf("%s: %g went out as %g and came back as %+v", s.Tag, r.Value, raw, back)
			}
		}
	}
}

func TestModbusRegistersHoldWhatTheGaugeShows(t *testing.T) {
	p := startPlant(t, Options{Seed: 4})
	if err := p.Advance(noon.Add(37 * time.Minute)); err != nil {
		t.Fatal(err)
	}
	shows := p.gauges[1].shows // LG-102: float32 CDAB in input registers of unit 2
	answer := ask(t, source(t, p, "boiler-house").Address, 2, 4, 0, 0, 0, 2)
	if len(answer) != 6 || answer[0] != 4 || answer[1] != 4 {
		t.Fatalf("answer % x", answer)
	}
	bits := uint32(binary.BigEndian.Uint16(answer[4:]))<<16 | uint32(binary.BigEndian.Uint16(answer[2:]))
	if got, want := float64(math.Float32frombits(bits)), shows.Float.Value*1000; math.Abs(got-want) > 1e-3 {
		t.Errorf("LI-102 reads %.4f mm on the wire, the gauge shows %.4f mm", got, want)
	}
	shows = p.gauges[0].shows // LG-101: 0.001 mA in a holding register of unit 1
	answer = ask(t, source(t, p, "boiler-house").Address, 1, 3, 0, 0, 0, 1)
	want := 4000 + 16000*shows.Float.Value/0.8
	if got := float64(binary.BigEndian.Uint16(answer[2:])); math.Abs(got-want) > 0.5001 {
		t.Errorf("LI-101 is %g microamperes on the wire, want %.1f rounded", got, want)
	}
}

func TestModbusServerOnlyReads(t *testing.T) {
	p := startPlant(t, Options{Seed: 4})
	address := source(t, p, "boiler-house").Address
	before := ask(t, address, 1, 3, 0, 0, 0, 4)
	rows := map[string][]byte{
		"write single coil":        {5, 0, 0, 0xFF, 0},
		"write single register":    {6, 0, 0, 0x12, 0x34},
		"write multiple coils":     {15, 0, 0, 0, 1, 1, 1},
		"write multiple registers": {16, 0, 0, 0, 1, 2, 0x12, 0x34},
		"mask write register":      {22, 0, 0, 0, 0, 0, 0},
		"read write registers":     {23, 0, 0, 0, 1, 0, 0, 0, 1, 2, 0, 0},
		"diagnostics":              {8, 0, 0, 0, 0},
		"device identification":    {43, 14, 1, 0},
	}
	for name, pdu := range rows {
		t.Run(name, func(t *testing.T) {
			answer := ask(t, address, 1, pdu...)
			if len(answer) != 2 || answer[0] != pdu[0]|0x80 || answer[1] != 1 {
				t.Errorf("answer % x, want exception 1 (illegal function)", answer)
			}
		})
	}
	if after := ask(t, address, 1, 3, 0, 0, 0, 4); string(after) != string(before) {
		t.Errorf("registers changed from % x to % x", before, after)
	}
}

func TestModbusAddressesThatAreNotThere(t *testing.T) {
	p := startPlant(t, Options{Seed: 4})
	address := source(t, p, "boiler-house").Address
	rows := map[string]struct {
		unit byte
		pdu  []byte
		code byte
	}{
		"beyond the last register": {1, []byte{3, 0, 200, 0, 1}, 2},
		"run over the end":         {1, []byte{3, 0, 0, 0, 100}, 2},
		"table the unit has not":   {1, []byte{1, 0, 0, 0, 1}, 2},
		"unit that is not there":   {99, []byte{3, 0, 0, 0, 1}, 11},
	}
	for name, row := range rows {
		t.Run(name, func(t *testing.T) {
			if answer := ask(t, address, row.unit, row.pdu...); len(answer) != 2 || answer[1] != row.code {
				t.Errorf("answer % x, want exception %d", answer, row.code)
			}
		})
	}
}

func TestServersListenOnLoopbackOnly(t *testing.T) {
	p := startPlant(t, Options{Seed: 4})
	for _, s := range p.Config().Sources {
		where := s.Address
		if s.Protocol == config.OPCUA {
			where = s.Endpoint[len("opc.tcp://"):]
		}
		host, _, err := net.SplitHostPort(where)
		if err != nil || host != "127.0.0.1" {
			t.Errorf("source %s listens on %q", s.Name, where)
		}
	}
}

func dial(t testing.TB, endpoint string) *opcua.Client {
	t.Helper()
	c, err := opcua.NewClient(endpoint, opcua.SecurityMode(ua.MessageSecurityModeNone), opcua.AutoReconnect(false))
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Connect(context.Background()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		ctx, cancel := context.WithTimeout(context.Background(), 200*time.Millisecond)
		defer cancel()
		_ = c.Close(ctx) // the server may be gone already
	})
	return c
}

// node resolves a node of the configuration at a server.
func node(t testing.TB, c *opcua.Client, text string) *ua.NodeID {
	t.Helper()
	uri, identifier, err := splitNode(text)
	if err != nil {
		t.Fatal(err)
	}
	index, err := c.FindNamespace(context.Background(), uri)
	if err != nil {
		t.Fatal(err)
	}
	return nodeID(index, identifier)
}

func TestOPCUAVariablesHoldWhatTheGaugeShows(t *testing.T) {
	fault, _ := scenario.ParseFault("LG-201:signal-lost/TT-201@10m")
	p := startPlant(t, Options{Seed: 4, Faults: []scenario.Fault{fault}})
	at := noon.Add(20 * time.Minute)
	if err := p.Advance(at); err != nil {
		t.Fatal(err)
	}
	c := dial(t, source(t, p, "gas-plant").Endpoint)
	for _, g := range p.gauges {
		for _, s := range g.signals {
			if s.Source != "gas-plant" {
				continue
			}
			answer, err := c.Read(context.Background(), &ua.ReadRequest{NodesToRead: []*ua.ReadValueID{{NodeID: node(t, c, s.Node), AttributeID: ua.AttributeIDValue}}})
			if err != nil {
				t.Fatal(err)
			}
			got := answer.Results[0]
			if !got.SourceTimestamp.Equal(at) {
				t.Errorf("%s: source time %v, want the simulated %v", s.Tag, got.SourceTimestamp, at)
			}
			if s.Tag == "TT-201" {
				if got.Status != ua.StatusBadNoCommunication || got.Value != nil && got.Value.Value() != nil {
					t.Errorf("lost signal: status %v value %v", got.Status, got.Value)
				}
				continue
			}
			want, _ := rawValue(s.Spec, readingOf(&g.shows, s))
			if s.Spec.Kind == signal.Contact {
				if v, ok := got.Value.Value().(bool); !ok || v != (want != 0) {
					t.Errorf("%s is %v, want %v", s.Tag, got.Value.Value(), want)
				}
			} else if v, ok := got.Value.Value().(float64); !ok || v != want {
				t.Errorf("%s is %v, want %v", s.Tag, got.Value.Value(), want)
			}
		}
	}
}

func TestOPCUAServerRefusesWrites(t *testing.T) {
	p := startPlant(t, Options{Seed: 4})
	c := dial(t, source(t, p, "gas-plant").Endpoint)
	id := node(t, c, "nsu=urn:rehearsal:gas-plant;s=V201.LI201.PV")
	answer, err := c.Write(context.Background(), &ua.WriteRequest{NodesToWrite: []*ua.WriteValue{{
		NodeID: id, AttributeID: ua.AttributeIDValue,
		Value: &ua.DataValue{EncodingMask: ua.DataValueValue, Value: ua.MustVariant(1.0)},
	}}})
	if err != nil {
		t.Fatal(err)
	}
	if answer.Results[0] != ua.StatusBadUserAccessDenied {
		t.Errorf("write answered with %v", answer.Results[0])
	}
}

func TestStuckFloatOnTheWire(t *testing.T) {
	p := startPlant(t, Options{Seed: 4, Faults: DefaultFaults()})
	var seen []float64
	for at := time.Duration(0); at <= 2*time.Hour; at += time.Minute {
		if err := p.Advance(noon.Add(at)); err != nil {
			t.Fatal(err)
		}
		if at > 6*time.Minute {
			answer := ask(t, source(t, p, "boiler-house").Address, 4, 3, 0, 0, 0, 2)
			seen = append(seen, float64(binary.BigEndian.Uint16(answer[2:])), float64(binary.BigEndian.Uint16(answer[4:])))
		}
	}
	float, radar := spread(seen, 0), spread(seen, 1)
	if float > 60 || radar < 4000 { // microamperes: 16 are 1 mm
		t.Errorf("the stuck float's current moved %g, the radar's %g microamperes", float, radar)
	}
}

func spread(pairs []float64, which int) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for i := which; i < len(pairs); i += 2 {
		low, high = math.Min(low, pairs[i]), math.Max(high, pairs[i])
	}
	return high - low
}

func TestFaultWithoutItsGaugeIsRefused(t *testing.T) {
	for name, text := range map[string]string{"no such gauge": "LG-999:float-stuck", "no such instrument": "LG-303:transmitter-zero"} {
		t.Run(name, func(t *testing.T) {
			f, err := scenario.ParseFault(text)
			if err != nil {
				t.Fatal(err)
			}
			if p, err := Start(context.Background(), Options{Faults: []scenario.Fault{f}}); err == nil {
				_ = p.Close()
				t.Error("the rehearsal started")
			}
		})
	}
}

// A healthy plant must run for days without leaving the range of any model or
// signal.
func TestHealthyPlantStaysInRange(t *testing.T) {
	p := startPlant(t, Options{Seed: 9})
	for at := time.Duration(0); at <= 3*24*time.Hour; at += time.Minute {
		if err := p.Advance(noon.Add(at)); err != nil {
			t.Fatal(err)
		}
		for _, g := range p.gauges {
			for _, s := range g.signals {
				if r := readingOf(&g.shows, s); r.Quality != quantity.Good {
					t.Fatalf("after %v %s says %v (%v)", at, s.Tag, r.Quality, r.Reason)
				}
				if raw, ok := rawValue(s.Spec, readingOf(&g.shows, s)); !ok || s.Spec.Convert(quantity.Reading{Value: raw, Quality: quantity.Good}).Reason != quantity.NoReason {
					t.Fatalf("after %v %s is outside its signal: %g", at, s.Tag, readingOf(&g.shows, s).Value)
				}
			}
		}
	}
}

// BenchmarkAdvance is one tick of the whole plant, registers and variables
// refreshed.
func BenchmarkAdvance(b *testing.B) {
	p := startPlant(b, Options{Seed: 4})
	at := noon
	b.ReportAllocs()
	for b.Loop() {
		at = at.Add(time.Minute)
		if err := p.Advance(at); err != nil {
			b.Fatal(err)
		}
	}
}

// A person with a browsing client must find the variables below Objects.
func TestOPCUAVariablesAreFoundByBrowsing(t *testing.T) {
	p := startPlant(t, Options{Seed: 4})
	c := dial(t, source(t, p, "gas-plant").Endpoint)
	found := map[string]bool{}
	visit := map[string]bool{}
	var walk func(n *opcua.Node, depth int)
	walk = func(n *opcua.Node, depth int) {
		if depth > 4 || visit[n.ID.String()] {
			return
		}
		visit[n.ID.String()] = true
		children, err := n.ReferencedNodes(context.Background(), 33, ua.BrowseDirectionForward, ua.NodeClassAll, true) // 33: hierarchical references
		if err != nil {
			t.Fatal(err)
		}
		for _, child := range children {
			if child.ID.Namespace() == 0 {
				continue
			}
			name, err := child.BrowseName(context.Background())
			if err != nil {
				t.Fatalf("browse name of %s: %v", child.ID, err)
			}
			found[name.Name] = true
			walk(child, depth+1)
		}
	}
	walk(c.Node(ua.NewNumericNodeID(0, 85)), 0) // 85: the Objects folder
	for _, g := range p.gauges {
		for _, s := range g.signals {
			if s.Source == "gas-plant" && !found[s.Tag] {
				t.Errorf("%s is not found by browsing", s.Tag)
			}
		}
	}
}
