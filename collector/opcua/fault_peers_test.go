//go:build peers

package opcua

import (
	"testing"
	"time"

	"bridlewatch/collector"
)

var peerWays = []way{
	plainRead,
	{"subscribe", "None", "None", 250 * time.Millisecond},
	{"read signed", "Basic256Sha256", "Sign", 0},
	{"read encrypted", "Aes256_Sha256_RsaPss", "SignAndEncrypt", 0},
}

// TestPeerFaultTable damages the connection to a server we did not write, under
// every kind of security and with a subscription. Its value "moving" grows with
// every read, so that a repeated answer is seen.
func TestPeerFaultTable(t *testing.T) {
	peer := startPeer(t, 0, t.TempDir())
	id, err := LoadOrMakeIdentity(t.TempDir(), "test", time.Now())
	if err != nil {
		t.Fatal(err)
	}
	table := newFaultTable(t)
	for _, w := range peerWays {
		for _, d := range w.faults() {
			t.Run(w.name+"/"+string(d), func(t *testing.T) {
				t.Parallel()
				table.add(peerRig(t, peer, w, id).suffer(t, w, d))
			})
		}
	}
}

func peerRig(t *testing.T, peer *peer, w way, id *Identity) *rig {
	p, through := startProxy(t, peer.endpoint, faultTimeout*3/2)
	security := clear()
	if w.policy != "None" {
		security = Security{Policy: w.policy, Mode: w.mode, Identity: id, Trusted: Pinned(peer.thumbprint)}
	}
	src, err := New(Options{Name: "test", Endpoint: through + "/plant", Timeout: faultTimeout, Security: security, SubscribeEvery: w.subscribe},
		[]Item{{"moving", "nsu=urn:peer:plant;s=moving"}, {"level", "nsu=urn:peer:plant;s=level"}}, machine{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { src.Close() })
	last := -1.0
	return &rig{p, src, func() {}, func(s collector.Sample) bool {
		if s.Tag == "level" {
			return s.Value == 0.6125
		}
		newer := s.Value > last || w.subscribe > 0 && s.Value == last
		last = s.Value
		return newer
	}}
}
