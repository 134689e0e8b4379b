package opcua

import (
	"context"
	"fmt"
	"math"
	"net"
	"strings"
	"testing"
	"time"

	"github.com/gopcua/opcua/server"
	"github.com/gopcua/opcua/ua"

	"bridlewatch/collector"
	"bridlewatch/compare/quantity"
)

const testSpace = "urn:bridlewatch:test"

// startServer starts a server on loopback with the given values as string
// nodes and returns its endpoint.
func startServer(t *testing.T, values map[string]func() *ua.DataValue) string {
	t.Helper()
	endpoint, stop, err := serve(values)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(stop)
	return endpoint
}

// serve starts a server on a free port of loopback.
func serve(values map[string]func() *ua.DataValue) (endpoint string, stop func(), err error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return "", nil, err
	}
	port := l.Addr().(*net.TCPAddr).Port
	l.Close()
	s := server.New(
		server.EnableSecurity("None", ua.MessageSecurityModeNone),
		server.EnableAuthMode(ua.UserTokenTypeAnonymous),
		server.EndPoint("127.0.0.1", port),
	)
	ns := server.NewNodeNameSpace(s, testSpace)
	for name, f := range values {
		n := server.NewVariableNode(ua.NewStringNodeID(ns.ID(), name), name, f)
		ns.AddNode(n)
		ns.Objects().AddRef(n, server.RefType(47), true)
	}
	root, err := s.Namespace(0)
	if err != nil {
		return "", nil, err
	}
	root.Objects().AddRef(ns.Objects(), server.RefType(47), true)
	if err := s.Start(context.Background()); err != nil {
		return "", nil, err
	}
	return fmt.Sprintf("opc.tcp://127.0.0.1:%d", port), func() { s.Close() }, nil
}

// machine is the clock of the machine.
type machine struct{}

func (machine) Now() time.Time { return time.Now() }

func (machine) Sleep(ctx context.Context, d time.Duration) error {
	time.Sleep(d)
	return ctx.Err()
}

func fixed(v any) func() *ua.DataValue {
	return func() *ua.DataValue { return server.DataValueFromValue(v) }
}

func withStatus(v any, c ua.StatusCode) func() *ua.DataValue {
	return func() *ua.DataValue {
		dv := server.DataValueFromValue(v)
		dv.Status = c
		dv.EncodingMask |= ua.DataValueStatusCode
		return dv
	}
}

func clear() Security { return Security{Policy: "None", Mode: "None", Allowed: true} }

func TestReadGivesEverySampleItsOwnQuality(t *testing.T) {
	endpoint := startServer(t, map[string]func() *ua.DataValue{
		"level":     fixed(0.612),
		"contact":   fixed(true),
		"counts":    fixed(uint16(27648)),
		"text":      fixed("twelve"),
		"nan":       fixed(math.NaN()),
		"bad":       withStatus(1.0, ua.StatusBadSensorFailure),
		"uncertain": withStatus(2.5, ua.StatusUncertainLastUsableValue),
	})
	node := func(id string) string { return "nsu=" + testSpace + ";s=" + id }
	rows := []struct {
		name, node string
		quality    quantity.Quality
		reason     quantity.Reason
		value      float64
	}{
		{"double", node("level"), quantity.Good, quantity.NoReason, 0.612},
		{"boolean", node("contact"), quantity.Good, quantity.NoReason, 1},
		{"unsigned", node("counts"), quantity.Good, quantity.NoReason, 27648},
		{"text is no number", node("text"), quantity.Bad, quantity.BadShape, 0},
		{"not a number", node("nan"), quantity.Bad, quantity.NotANumber, 0},
		{"bad status", node("bad"), quantity.Bad, quantity.Refused, 0},
		{"uncertain status", node("uncertain"), quantity.Uncertain, quantity.DeviceUncertain, 2.5},
		{"unknown node", node("nothing"), quantity.Bad, quantity.Refused, 0},
		{"unknown namespace", "nsu=urn:elsewhere;s=level", quantity.Bad, quantity.Refused, 0},
	}
	var items []Item
	for _, r := range rows {
		items = append(items, Item{Tag: collector.Tag(r.name), Node: r.node})
	}
	src, err := New(Options{Name: "test", Endpoint: endpoint, Timeout: 5 * time.Second, Security: clear(), MaxNodesPerRead: 3}, items, machine{})
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	got, err := src.Read(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if c := src.Condition(); c.Refused != 1 || c.Remarks[0].Tags[0] != "unknown namespace" || !strings.Contains(c.Remarks[0].What, testSpace) {
		t.Errorf("condition %+v", c)
	}
	for i, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			s := got[i]
			if s.Time.IsZero() || s.Tag != items[i].Tag || s.Quality != r.quality || s.Reason != r.reason || s.Value != r.value {
				t.Errorf("got %+v, want %v (%v) %v", s, r.quality, r.reason, r.value)
			}
		})
	}
}

func TestServerComingAndGoing(t *testing.T) {
	src, err := New(Options{Name: "gone", Endpoint: "opc.tcp://127.0.0.1:1", Timeout: time.Second, Security: clear()}, []Item{{Tag: "A", Node: "ns=2;s=a"}}, machine{})
	if err != nil {
		t.Fatal(err)
	}
	got, err := src.Read(t.Context())
	if err == nil {
		t.Fatal("read from nobody gave no error")
	}
	if len(got) != 1 || got[0].Quality != quantity.Bad || got[0].Reason != quantity.NotConnected {
		t.Errorf("got %+v, want one bad sample, not connected", got)
	}
}

func TestUnsafeSecurityIsRefused(t *testing.T) {
	id := &Identity{}
	rows := []struct {
		name string
		s    Security
		want string
	}{
		{"none without saying so", Security{Policy: "None", Mode: "None"}, "accept_no_security"},
		{"password in clear", Security{Policy: "None", Mode: "None", Allowed: true, User: "reader"}, "in clear"},
		{"password only signed", Security{Policy: "Basic256Sha256", Mode: "Sign", User: "reader", Identity: id}, "SignAndEncrypt"},
		{"obsolete policy", Security{Policy: "Basic128Rsa15", Mode: "Sign"}, "want None, Basic256Sha256"},
		{"mode missing", Security{Policy: "Basic256Sha256", Identity: id}, "want Sign or SignAndEncrypt"},
		{"no identity", Security{Policy: "Basic256Sha256", Mode: "Sign"}, "application certificate"},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			_, err := New(Options{Name: "x", Endpoint: "opc.tcp://h:1", Security: r.s}, nil, machine{})
			if err == nil || !strings.Contains(err.Error(), r.want) {
				t.Errorf("got %v, want an error with %q", err, r.want)
			}
		})
	}
}

func TestNodesAsWritten(t *testing.T) {
	rows := []struct {
		text string
		ok   bool
	}{
		{"nsu=http://example.invalid/a;b;s=x", false}, // a semicolon in the URI hides the identifier
		{"nsu=urn:plant;s=LT-101", true},
		{"ns=2;i=7", true},
		{"path:/2:Plant/LT-101", true},
		{"path:/{urn:plant/a}Plant/LT-101", true},
		{"path:/", false},
		{"LT-101", false},
		{"s=LT-101", false},
		{"ns=2;x=7", false},
		{"path:/{urn:plant", false},
	}
	for _, r := range rows {
		if _, err := parseNode(r.text); (err == nil) != r.ok {
			t.Errorf("parseNode(%q): %v, want ok %v", r.text, err, r.ok)
		}
	}
}

// A certificate made while the clock said 1970 is made anew once it is set, one
// that has ended is not: servers have approved it.
func TestIdentityOfAClockThatWasNotSet(t *testing.T) {
	today := time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC)
	for made, want := range map[time.Time]bool{time.Unix(60, 0): true, today.AddDate(-1, 0, 0): false} {
		dir := t.TempDir()
		first, err := LoadOrMakeIdentity(dir, "edge-1", made)
		if err != nil {
			t.Fatal(err)
		}
		second, err := LoadOrMakeIdentity(dir, "edge-1", today.AddDate(11, 0, 0))
		if err != nil {
			t.Fatal(err)
		}
		if anew := Thumbprint(first.Certificate) != Thumbprint(second.Certificate); anew != want {
			t.Errorf("made at %s: made anew %v, want %v", made, anew, want)
		}
	}
}

func TestIdentityIsMadeOnceAndReadAgain(t *testing.T) {
	dir := t.TempDir()
	now := time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC)
	first, err := LoadOrMakeIdentity(dir, "edge-1", now)
	if err != nil {
		t.Fatal(err)
	}
	second, err := LoadOrMakeIdentity(dir, "edge-1", now)
	if err != nil {
		t.Fatal(err)
	}
	if Thumbprint(first.Certificate) != Thumbprint(second.Certificate) || !first.Key.Equal(second.Key) || second.URI != "urn:edge-1:bridlewatch" {
		t.Errorf("identity changed between loads: %s and %s", first.URI, second.URI)
	}
	if err := Pinned(Thumbprint(first.Certificate))("opc.tcp://h", first.Certificate); err != nil {
		t.Error(err)
	}
	if err := Pinned("00")("opc.tcp://h", first.Certificate); err == nil {
		t.Error("a stranger's certificate was trusted")
	}
}
