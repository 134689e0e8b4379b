//go:build peers

package opcua

import (
	"bufio"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"bridlewatch/collector"
	"bridlewatch/compare/quantity"
)

// peer is a node-opcua server in a process of its own.
type peer struct {
	endpoint   string
	thumbprint string
	cmd        *exec.Cmd
}

// startPeer starts the server on a port; 0 chooses one.
func startPeer(t *testing.T, port int, dir string, more ...string) *peer {
	t.Helper()
	cache, err := os.UserCacheDir()
	if err != nil {
		t.Fatal(err)
	}
	modules := filepath.Join(cache, "bridlewatch-peers", "node_modules")
	if _, err := os.Stat(filepath.Join(modules, "node-opcua")); err != nil {
		t.Fatalf("node-opcua is missing (%v): run testdata/peers/install.sh", err)
	}
	if port == 0 {
		port = freePort(t)
	}
	script, err := filepath.Abs("../../testdata/peers/opcua_server.js")
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("node", append([]string{script, fmt.Sprint(port), dir}, more...)...)
	cmd.Env = append(os.Environ(), "NODE_PATH="+modules)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	p := &peer{endpoint: fmt.Sprintf("opc.tcp://127.0.0.1:%d/plant", port), cmd: cmd}
	t.Cleanup(p.stop)
	for lines := bufio.NewScanner(out); lines.Scan(); {
		if thumb, ok := strings.CutPrefix(lines.Text(), "ready "); ok {
			p.thumbprint = thumb
			go func() { // keep the pipe empty
				for lines.Scan() {
				}
			}()
			return p
		}
	}
	t.Fatal("the peer ended before it was ready")
	return nil
}

func (p *peer) stop() {
	_ = p.cmd.Process.Kill()
	_, _ = p.cmd.Process.Wait()
}

func freePort(t *testing.T) int {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}

func peerNode(name string) string { return "nsu=urn:peer:plant;s=" + name }

func peerItems(names ...string) []Item {
	var items []Item
	for _, n := range names {
		items = append(items, Item{Tag: collector.Tag(n), Node: peerNode(n)})
	}
	return items
}

// TestPeerValues reads a server this project did not write: every type, every
// severity, more nodes than it takes in one request.
func TestPeerValues(t *testing.T) {
	p := startPeer(t, 0, t.TempDir())
	rows := []struct {
		name    string
		value   float64
		quality quantity.Quality
	}{
		{"level", 0.6125, quantity.Good},
		{"float32", 1.5, quantity.Good},
		{"counts", 27648, quantity.Good},
		{"signed", -7, quantity.Good},
		{"contact", 1, quantity.Good},
		{"text", 0, quantity.Bad},
		{"uncertain", 2.5, quantity.Uncertain},
		{"bad", 0, quantity.Bad},
		{"missing", 0, quantity.Bad},
	}
	var items []Item
	for _, r := range rows {
		items = append(items, peerItems(r.name)...)
	}
	items = append(items, Item{Tag: "by path", Node: "path:/{urn:peer:plant}Unit/level"})
	src, err := New(Options{Name: "peer", Endpoint: p.endpoint, Timeout: 20 * time.Second, Security: clear()}, items, machine{})
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	got, err := src.Read(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			if got[i].Value != r.value || got[i].Quality != r.quality {
				t.Errorf("%+v, want %v %v", got[i], r.value, r.quality)
			}
			if r.quality == quantity.Good && !got[i].SourceTime.Equal(time.Date(2026, 5, 1, 12, 0, 0, 0, time.UTC)) {
				t.Errorf("source time %v", got[i].SourceTime)
			}
		})
	}
	if last := got[len(got)-1]; last.Value != 0.6125 {
		t.Errorf("by browse path: %+v", last)
	}
}

// TestPeerSecurity goes through policies, modes and users.
func TestPeerSecurity(t *testing.T) {
	p := startPeer(t, 0, t.TempDir())
	id, err := LoadOrMakeIdentity(t.TempDir(), "edge", time.Now())
	if err != nil {
		t.Fatal(err)
	}
	person, err := LoadOrMakeIdentity(t.TempDir(), "person", time.Now())
	if err != nil {
		t.Fatal(err)
	}
	rows := []struct {
		name           string
		policy, mode   string
		user, password string
		trust          func(string, []byte) error
		want           string // part of the error; empty: reads
	}{
		{"signed", "Basic256Sha256", "Sign", "", "", Pinned(p.thumbprint), ""},
		{"encrypted", "Basic256Sha256", "SignAndEncrypt", "", "", Pinned(p.thumbprint), ""},
		{"aes128", "Aes128_Sha256_RsaOaep", "SignAndEncrypt", "", "", Pinned(p.thumbprint), ""},
		{"aes256", "Aes256_Sha256_RsaPss", "SignAndEncrypt", "", "", Pinned(p.thumbprint), ""},
		{"user", "Basic256Sha256", "SignAndEncrypt", "reader", "level", Pinned(p.thumbprint), ""},
		{"user, aes256", "Aes256_Sha256_RsaPss", "SignAndEncrypt", "reader", "level", Pinned(p.thumbprint), ""},
		{"user certificate", "Basic256Sha256", "SignAndEncrypt", "", "", Pinned(p.thumbprint), ""},
		{"key of another", "Basic256Sha256", "SignAndEncrypt", "", "", Pinned(p.thumbprint), "signature"},
		{"wrong password", "Basic256Sha256", "SignAndEncrypt", "reader", "wrong", Pinned(p.thumbprint), "denied"},
		{"stranger", "Basic256Sha256", "SignAndEncrypt", "", "", Pinned("00"), "trusted is 00"},
		{"nobody trusted", "Basic256Sha256", "SignAndEncrypt", "", "", nil, "approve it first"},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			security := Security{Policy: r.policy, Mode: r.mode, User: r.user, Password: r.password, Identity: id, Trusted: r.trust}
			switch r.name {
			case "user certificate":
				security.UserCertificate, security.UserKey = person.Certificate, person.Key
			case "key of another":
				security.UserCertificate, security.UserKey = person.Certificate, id.Key
			}
			src, err := New(Options{Name: "peer", Endpoint: p.endpoint, Timeout: 20 * time.Second, Security: security}, peerItems("level"), machine{})
			if err != nil {
				t.Fatal(err)
			}
			defer src.Close()
			got, err := src.Read(t.Context())
			switch {
			case r.want == "" && (err != nil || got[0].Value != 0.6125):
				t.Errorf("%+v, %v", got, err)
			case r.want != "" && (err == nil || !strings.Contains(strings.ToLower(err.Error()), r.want)):
				t.Errorf("error %v, want %q in it", err, r.want)
			}
		})
	}
}

// TestPeerComesBackWithOtherNamespaces kills the server and starts it with its
// namespace at another index: the next session resolves the nodes anew.
func TestPeerComesBackWithOtherNamespaces(t *testing.T) {
	for _, every := range []time.Duration{0, 200 * time.Millisecond} {
		name := "read"
		if every > 0 {
			name = "subscribed"
		}
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			p := startPeer(t, 0, dir)
			var port int
			if _, err := fmt.Sscanf(p.endpoint, "opc.tcp://127.0.0.1:%d/plant", &port); err != nil {
				t.Fatal(err)
			}
			src, err := New(Options{Name: "peer", Endpoint: p.endpoint, Timeout: 20 * time.Second, Security: clear(), SubscribeEvery: every}, peerItems("level", "moving"), machine{})
			if err != nil {
				t.Fatal(err)
			}
			defer src.Close()
			readUntilGood(t, src, every)
			p.stop()
			dark := false
			for range 40 {
				if _, err := src.Read(t.Context()); err != nil {
					dark = true
					break
				}
				time.Sleep(200 * time.Millisecond)
			}
			if !dark {
				t.Fatal("a dead server was not noticed")
			}
			startPeer(t, port, dir, "shifted")
			got := readUntilGood(t, src, every)
			if got[0].Value != 0.6125 {
				t.Errorf("after the restart: %+v", got)
			}
			if n := src.Counters().Reconnects; n != 1 {
				t.Errorf("%d sessions after one restart, want 1", n)
			}
		})
	}
}

// readUntilGood reads until every item is good: a subscription needs a moment
// for its first values.
func readUntilGood(t *testing.T, src *Source, every time.Duration) []collector.Sample {
	t.Helper()
	var got []collector.Sample
	var err error
	for range 100 {
		got, err = src.Read(t.Context())
		good := err == nil
		for _, s := range got {
			good = good && s.Quality == quantity.Good
		}
		if good {
			return got
		}
		time.Sleep(max(every, 100*time.Millisecond))
	}
	t.Fatalf("never all good: %+v, %v", got, err)
	return nil
}

// TestPeerSubscription follows a moving value and shows what the server made
// of our wishes.
func TestPeerSubscription(t *testing.T) {
	p := startPeer(t, 0, t.TempDir())
	src, err := New(Options{Name: "peer", Endpoint: p.endpoint, Timeout: 20 * time.Second, Security: clear(), SubscribeEvery: 200 * time.Millisecond}, peerItems("level", "moving", "missing"), machine{})
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	var first, last collector.Sample
	for range 100 {
		got, err := src.Read(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if got[1].Quality == quantity.Good {
			if first.Quality != quantity.Good {
				first = got[1]
			}
			last = got[1]
			if last.Value > first.Value && got[0].Value == 0.6125 && got[2].Quality == quantity.Bad {
				break
			}
		}
		time.Sleep(100 * time.Millisecond)
	}
	if last.Value <= first.Value {
		t.Errorf("the value did not move: %v then %v", first, last)
	}
	revised := src.Revised()
	if len(revised) != 3 || revised[0].Publishing <= 0 || revised[0].QueueSize == 0 || revised[2].Refused == "" {
		t.Errorf("revised %+v", revised)
	}
}

// TestPeerBrowse finds the variables and writes their nodes so that they can
// be configured.
func TestPeerBrowse(t *testing.T) {
	p := startPeer(t, 0, t.TempDir())
	entries, cut, err := Browse(t.Context(), Options{Name: "peer", Endpoint: p.endpoint, Timeout: 20 * time.Second, Security: clear()}, "path:/{urn:peer:plant}Unit", 2, 100)
	if err != nil || cut {
		t.Fatal(cut, err)
	}
	for _, e := range entries {
		if e.Name == "level" {
			if e.Node != peerNode("level") || e.Value.Value != 0.6125 || e.Type != "float64" {
				t.Errorf("%+v", e)
			}
			return
		}
	}
	t.Errorf("level is not among %+v", entries)
}

// A full disk keeps nobody from reading: the identity is that of this run, and
// half of one is not left behind.
func TestIdentityOnAFullDisk(t *testing.T) {
	disk := t.TempDir()
	if err := unix.Mount("tmpfs", disk, "tmpfs", 0, "size=64k"); err != nil {
		t.Fatalf("mount a small tmpfs: %v (run the tests as root)", err)
	}
	t.Cleanup(func() {
		if err := unix.Unmount(disk, unix.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	ballast, dir := filepath.Join(disk, "ballast"), filepath.Join(disk, "pki")
	if err := os.WriteFile(ballast, make([]byte, 1<<20), 0o600); err == nil {
		t.Fatal("the disk is not full")
	}
	if _, err := LoadOrMakeIdentity(dir, "edge-1", time.Now()); err != nil {
		t.Fatalf("on a full disk: %v", err)
	}
	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	first, err := LoadOrMakeIdentity(dir, "edge-1", time.Now())
	if err != nil {
		t.Fatal(err)
	}
	if second, err := LoadOrMakeIdentity(dir, "edge-1", time.Now()); err != nil || Thumbprint(second.Certificate) != Thumbprint(first.Certificate) {
		t.Errorf("the identity made with room is not kept: %v", err)
	}
}
