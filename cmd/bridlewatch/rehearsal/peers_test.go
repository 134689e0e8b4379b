//go:build peers

package rehearsal

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector/signal"
	"bridlewatch/compare/gauge"
	"bridlewatch/config"
)

// Readers that we did not write must see the plant as we believe it is:
// mbpoll (libmodbus), pymodbus and node-opcua.

const howToInstall = "install the peer programs with testdata/peers/install.sh"

const peersDir = "../../../testdata/peers"

// settled starts the plant and moves it to a time at which its registers are
// compared.
func settled(t *testing.T) *Plant {
	t.Helper()
	p := startPlant(t, Options{Seed: 17})
	if err := p.Advance(noon.Add(53 * time.Minute)); err != nil {
		t.Fatal(err)
	}
	return p
}

// run runs a peer and returns what it printed.
func runPeer(t *testing.T, environment []string, name string, args ...string) []byte {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Fatalf("%s is missing: %s", name, howToInstall)
	}
	cmd := exec.CommandContext(t.Context(), path, args...)
	cmd.Env = append(os.Environ(), environment...)
	var out, errOut bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errOut
	if err := cmd.Run(); err != nil {
		t.Fatalf("%s %s: %v\n%s%s%s", name, strings.Join(args, " "), err, out.String(), errOut.String(), howToInstall)
	}
	return out.Bytes()
}

// wanted is a signal with what the wire must carry for it.
type wanted struct {
	signal *config.Signal
	raw    float64
}

// signalsAt lists the signals of a source with their raw values.
func signalsAt(t *testing.T, p *Plant, source string) []wanted {
	t.Helper()
	var out []wanted
	for _, g := range p.gauges {
		for _, s := range g.signals {
			if s.Source != source {
				continue
			}
			raw, ok := rawValue(s.Spec, readingOf(&g.shows, s))
			if !ok {
				t.Fatalf("%s has no value", s.Tag)
			}
			out = append(out, wanted{s, raw})
		}
	}
	return out
}

func TestPymodbusReadsThePlant(t *testing.T) {
	p := settled(t)
	for _, name := range []string{"boiler-house", "tank-farm"} {
		host, port, err := net.SplitHostPort(source(t, p, name).Address)
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range signalsAt(t, p, name) {
			t.Run(w.signal.Tag, func(t *testing.T) {
				s := w.signal
				out := runPeer(t, nil, "/usr/bin/python3", filepath.Join(peersDir, "modbus_read.py"), host, port,
					strconv.Itoa(s.UnitID), s.Table, strconv.Itoa(s.Address), strconv.Itoa(width(s)))
				var answer struct{ Values []uint16 }
				if err := json.Unmarshal(out, &answer); err != nil {
					t.Fatalf("%v: %s", err, out)
				}
				want := registers(w.raw, s.Type, s.Order)
				if isBit(s) {
					want = []uint16{uint16(w.raw)}
					if s.Type == "bit" && s.Table == "holding" {
						answer.Values[0] = answer.Values[0] >> s.Bit & 1
					}
				}
				if fmt.Sprint(answer.Values) != fmt.Sprint(want) {
					t.Errorf("pymodbus reads %v, want %v", answer.Values, want)
				}
			})
		}
	}
}

// mbpoll decodes floats itself, so the byte order is checked by somebody
// else's arithmetic: its default order is CDAB.
func TestMbpollReadsFloats(t *testing.T) {
	p := settled(t)
	host, port, err := net.SplitHostPort(source(t, p, "boiler-house").Address)
	if err != nil {
		t.Fatal(err)
	}
	out := string(runPeer(t, nil, "mbpoll", "-m", "tcp", "-p", port, "-a", "2", "-t", "3:float", "-0", "-r", "0", "-c", "2", "-1", host))
	show := showing(t, p, "LG-102")
	for address, want := range map[int]float64{0: show.Float.Value * 1000, 2: show.Transmitter.Value * 1000} {
		got, ok := mbpollValue(out, address)
		if !ok || math.Abs(got-want) > 1e-2 {
			t.Errorf("mbpoll reads %g at %d, want %g, in\n%s", got, address, want, out)
		}
	}
}

// mbpollValue finds "[address]: value" in mbpoll's output.
func mbpollValue(out string, address int) (float64, bool) {
	for line := range strings.Lines(out) {
		text, found := strings.CutPrefix(line, fmt.Sprintf("[%d]:", address))
		if found {
			v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
			return v, err == nil
		}
	}
	return 0, false
}

func showing(t *testing.T, p *Plant, tag string) gauge.Snapshot {
	t.Helper()
	for _, g := range p.gauges {
		if g.unit.Sheet().Tag == tag {
			return g.shows
		}
	}
	t.Fatalf("no gauge %s", tag)
	return gauge.Snapshot{}
}

func TestMbpollCannotWrite(t *testing.T) {
	p := settled(t)
	host, port, err := net.SplitHostPort(source(t, p, "boiler-house").Address)
	if err != nil {
		t.Fatal(err)
	}
	path, err := exec.LookPath("mbpoll")
	if err != nil {
		t.Fatalf("mbpoll is missing: %s", howToInstall)
	}
	out, err := exec.CommandContext(t.Context(), path, "-m", "tcp", "-p", port, "-a", "1", "-t", "4", "-0", "-r", "0", "-1", host, "4321").CombinedOutput()
	if err == nil && !strings.Contains(string(out), "Illegal function") {
		t.Errorf("mbpoll wrote a register:\n%s", out)
	}
	if !strings.Contains(string(out), "Illegal function") {
		t.Errorf("mbpoll was not told that writing is an illegal function:\n%s", out)
	}
}

func TestNodeOPCUAReadsThePlant(t *testing.T) {
	p := settled(t)
	cache, err := os.UserCacheDir()
	if err != nil {
		t.Fatal(err)
	}
	modules := filepath.Join(cache, "bridlewatch-peers", "node_modules")
	if _, err := os.Stat(filepath.Join(modules, "node-opcua")); err != nil {
		t.Fatalf("node-opcua is missing in %s: %s", modules, howToInstall)
	}
	all := signalsAt(t, p, "gas-plant")
	args := []string{filepath.Join(peersDir, "opcua_read.js"), source(t, p, "gas-plant").Endpoint, "urn:rehearsal:gas-plant"}
	for _, w := range all {
		_, identifier, err := splitNode(w.signal.Node)
		if err != nil {
			t.Fatal(err)
		}
		args = append(args, identifier)
	}
	out := runPeer(t, []string{"NODE_PATH=" + modules, "XDG_CONFIG_HOME=" + t.TempDir()}, "node", args...)
	var answers map[string]struct {
		Value        any
		Type, Status string
		SourceTime   string
	}
	if at := bytes.LastIndexByte(bytes.TrimSpace(out), '\n'); at >= 0 { // it prints remarks of its own first
		out = out[at+1:]
	}
	if err := json.Unmarshal(out, &answers); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	for _, w := range all {
		t.Run(w.signal.Tag, func(t *testing.T) {
			_, identifier, _ := splitNode(w.signal.Node)
			a := answers[identifier]
			if a.Status != "Good" || a.SourceTime != noon.Add(53*time.Minute).Format("2006-01-02T15:04:05.000Z") {
				t.Errorf("status %s, source time %s", a.Status, a.SourceTime)
			}
			if w.signal.Spec.Kind == signal.Contact {
				if a.Type != "Boolean" || a.Value != (w.raw != 0) {
					t.Errorf("value %v of type %s, want %v", a.Value, a.Type, w.raw != 0)
				}
			} else if v, ok := a.Value.(float64); !ok || v != w.raw || a.Type != "Double" {
				t.Errorf("value %v of type %s, want %v", a.Value, a.Type, w.raw)
			}
		})
	}
}
