//go:build peers

package mqtt

import (
	"bufio"
	"crypto/tls"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector"
	"bridlewatch/compare/quantity"
)

// startMosquitto starts a broker we did not write, with more in its
// configuration.
func startMosquitto(t *testing.T, more ...string) (address, port string) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address = l.Addr().String()
	l.Close()
	_, port, _ = net.SplitHostPort(address)
	file := filepath.Join(t.TempDir(), "mosquitto.conf")
	if err := os.WriteFile(file, []byte("listener "+port+" 127.0.0.1\nallow_anonymous true\n"+strings.Join(more, "\n")), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("/usr/sbin/mosquitto", "-c", file)
	if err := cmd.Start(); err != nil {
		t.Fatalf("%v: run testdata/peers/install.sh", err)
	}
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if c, err := net.Dial("tcp", address); err == nil {
			c.Close()
			return address, port
		}
	}
	t.Fatal("mosquitto does not listen")
	return "", ""
}

// TestMosquitto reads what mosquitto_pub publishes through mosquitto.
func TestMosquitto(t *testing.T) {
	address, port := startMosquitto(t)
	publish := func(args ...string) {
		if out, err := exec.Command("mosquitto_pub", append([]string{"-h", "127.0.0.1", "-p", port, "-q", "1"}, args...)...).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
	}
	publish("-t", "plant/level", "-m", `{"v": 0.5}`, "-r")
	s := newSource(t, Options{Broker: address}, Item{Tag: "A", Topic: "plant/level", Path: "v"})
	if got := until(t, s, "kept", quality(quantity.Uncertain)); got[0].Value != 0.5 {
		t.Errorf("kept by the broker: %+v", got[0])
	}
	publish("-t", "plant/level", "-m", `{"v": 0.6}`)
	if got := until(t, s, "live", quality(quantity.Good)); got[0].Value != 0.6 {
		t.Errorf("live: %+v", got[0])
	}
}

// TestMosquittoWantsACertificate reads through a broker that lets nobody in
// without a certificate of its authority.
func TestMosquittoWantsACertificate(t *testing.T) {
	a := newAuthority(t)
	a.issue(t, "broker", time.Now().Add(time.Hour))
	a.issue(t, "box", time.Now().Add(time.Hour))
	address, port := startMosquitto(t, "user root", "cafile "+a.file("ca.pem"), "certfile "+a.file("broker.pem"), "keyfile "+a.file("broker.key"), "require_certificate true")
	out, err := exec.Command("mosquitto_pub", "-h", "127.0.0.1", "-p", port, "-q", "1", "-t", "plant/level", "-m", "0.5", "-r",
		"--cafile", a.file("ca.pem"), "--cert", a.file("box.pem"), "--key", a.file("box.key")).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	source := func(o Options) *Source {
		o.Name, o.Broker, o.TLS = "t", "mqtts://"+address, &tls.Config{RootCAs: a.pool()}
		s, err := New(o, []Item{{Tag: "A", Topic: "plant/level"}}, machine{})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { s.Close() })
		s.Read(t.Context())
		return s
	}
	without, with := source(Options{}), source(Options{CertFile: a.file("box.pem"), KeyFile: a.file("box.key")})
	if got := until(t, with, "kept", quality(quantity.Uncertain)); got[0].Value != 0.5 {
		t.Errorf("with a certificate: %+v", got[0])
	}
	if got, err := without.Read(t.Context()); err == nil || got[0].Quality.Usable() {
		t.Errorf("without a certificate: %+v", got[0])
	}
}

// TestSparkplugNode reads a node made with another library, through its births
// and deaths.
func TestSparkplugNode(t *testing.T) {
	address, port := startMosquitto(t)
	s := newSource(t, Options{Broker: address, Sparkplug: true},
		Item{Tag: "node", Topic: "plant/edge", Metric: "level"}, Item{Tag: "level", Topic: "plant/edge/gauge", Metric: "level"},
		Item{Tag: "counts", Topic: "plant/edge/gauge", Metric: "counts"}, Item{Tag: "wet", Topic: "plant/edge/gauge", Metric: "wet"})
	cmd, in := startNode(t, port)
	values := func(want ...float64) func([]collector.Sample) bool {
		return func(g []collector.Sample) bool {
			for i, w := range want {
				if g[i].Quality != quantity.Good || g[i].Value != w || g[i].SourceTime.IsZero() {
					return false
				}
			}
			return true
		}
	}
	until(t, s, "born", values(0.5, 1.5, -7, 1))
	fmt.Fprintln(in, "node 0.75")
	fmt.Fprintln(in, "device 1.75")
	until(t, s, "changed", values(0.75, 1.75, -7, 1))
	fmt.Fprintln(in, "dead")
	got := until(t, s, "dead", func(g []collector.Sample) bool { return g[1].Quality == quantity.Stale })
	if got[0].Quality != quantity.Good || got[3].Quality != quantity.Stale {
		t.Errorf("after the death of the device: %+v", got)
	}
	cmd.Process.Kill() // the broker publishes its will
	until(t, s, "dead", quality(quantity.Stale))
	startNode(t, port)
	until(t, s, "born again", values(0.5, 1.5, -7, 1))
	if c := s.Counters(); c.BadFrames != 0 {
		t.Errorf("%d messages were not understood or lost", c.BadFrames)
	}
}

func startNode(t *testing.T, port string) (*exec.Cmd, io.Writer) {
	t.Helper()
	cache, err := os.UserCacheDir()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("node", "../../testdata/peers/sparkplug_node.js", port)
	cmd.Env = append(os.Environ(), "NODE_PATH="+filepath.Join(cache, "bridlewatch-peers", "node_modules"))
	cmd.Stderr = os.Stderr
	in, err1 := cmd.StdinPipe()
	out, err2 := cmd.StdoutPipe()
	if err1 != nil || err2 != nil {
		t.Fatal(err1, err2)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { in.Close(); cmd.Process.Kill(); cmd.Wait() })
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if lines.Text() == "born" {
			go io.Copy(io.Discard, out)
			return cmd, in
		}
	}
	t.Fatal("the node was not born: run testdata/peers/install.sh")
	return nil, nil
}
