package certificate

import (
	"testing"
	"time"
)

// A box that is given no files makes a pair, keeps it over restarts and
// changes of address, and makes another when its name changes or it ends.
func TestSelfMade(t *testing.T) {
	dir := t.TempDir()
	now := time.Now()
	clock := func() time.Time { return now }
	open := func(names, addresses []string) *Keeper {
		t.Helper()
		k, err := selfMade(dir, names, addresses, nil, clock)
		if err != nil {
			t.Fatal(err)
		}
		return k
	}
	first := open([]string{"box.example"}, []string{"192.0.2.1"})
	c, err := first.certificate(nil)
	if err != nil || c.Leaf.VerifyHostname("box.example") != nil || c.Leaf.VerifyHostname("192.0.2.1") != nil || !first.IsSelfMade() {
		t.Fatalf("the pair does not serve the box: %v", err)
	}
	if again := open([]string{"box.example"}, []string{"192.0.2.7"}); again.Fingerprint() != first.Fingerprint() {
		t.Error("a restart at another address makes another certificate")
	}
	renamed := open([]string{"box.example", "level.example"}, nil)
	if renamed.Fingerprint() == first.Fingerprint() {
		t.Error("the certificate lacks the new name")
	}
	// Long before the end nothing happens; a month before it a new one is made
	// while the service runs.
	before := renamed.Fingerprint()
	now = now.Add(Lasting - renewBefore - 2*time.Hour)
	if _, err := renamed.certificate(nil); err != nil || renamed.Fingerprint() != before {
		t.Errorf("renewed too early: %v", err)
	}
	now = now.Add(4 * time.Hour)
	if _, err := renamed.certificate(nil); err != nil || renamed.Fingerprint() == before || renamed.Until().Before(now.Add(Lasting-2*time.Hour)) {
		t.Errorf("not renewed, until %v: %v", renamed.Until(), err)
	}
}

// TestTrustOutlivesAWrongClock: a clock that is years ahead for a while makes
// another certificate; the one people have trusted is back with the right time.
func TestTrustOutlivesAWrongClock(t *testing.T) {
	dir := t.TempDir()
	now := time.Now()
	open := func(at time.Time) *Keeper {
		t.Helper()
		k, err := selfMade(dir, []string{"box.example"}, nil, nil, func() time.Time { return at })
		if err != nil {
			t.Fatal(err)
		}
		return k
	}
	trusted := open(now).Fingerprint()
	if open(now.AddDate(5, 0, 0)).Fingerprint() == trusted {
		t.Fatal("a certificate that has ended is served")
	}
	if open(now.Add(time.Hour)).Fingerprint() != trusted {
		t.Error("the certificate people have trusted is not back")
	}
	early := t.TempDir()
	dir = early
	first := open(now.AddDate(3, 0, 0)).Fingerprint()
	if again := open(now); again.Fingerprint() == first || again.current.Leaf.NotBefore.After(now) {
		t.Error("a certificate that does not hold yet is served")
	}
}
