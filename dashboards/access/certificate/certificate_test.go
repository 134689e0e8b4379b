package certificate

import (
	"crypto/tls"
	"crypto/x509"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func files(t *testing.T) (cert, key string) {
	dir := t.TempDir()
	return filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
}

// pair makes a pair of files and opens them with a clock.
func pair(t *testing.T, now *time.Time) (k *Keeper, cert, key string) {
	t.Helper()
	cert, key = files(t)
	if err := Make(cert, key, []string{"box.example", "192.0.2.1"}, *now); err != nil {
		t.Fatal(err)
	}
	k, err := Open(cert, key, nil)
	if err != nil {
		t.Fatal(err)
	}
	k.now = func() time.Time { return *now }
	k.looked = *now
	return k, cert, key
}

// TestMadeCertificateIsGoodForItsNames holds what was made against the checks
// of crypto/x509, which follow RFC 5280 and RFC 6125.
func TestMadeCertificateIsGoodForItsNames(t *testing.T) {
	now := time.Now()
	k, _, key := pair(t, &now)
	leaf, err := x509.ParseCertificate(k.current.Certificate[0])
	if err != nil {
		t.Fatal(err)
	}
	for name, good := range map[string]bool{"box.example": true, "192.0.2.1": true, "other.example": false, "192.0.2.2": false} {
		if err := leaf.VerifyHostname(name); (err == nil) != good {
			t.Errorf("%s: %v", name, err)
		}
	}
	roots := x509.NewCertPool()
	roots.AddCert(leaf)
	if _, err := leaf.Verify(x509.VerifyOptions{Roots: roots, DNSName: "box.example", CurrentTime: now}); err != nil {
		t.Error(err)
	}
	if _, err := leaf.Verify(x509.VerifyOptions{Roots: roots, CurrentTime: now.Add(Lasting + time.Hour)}); err == nil {
		t.Error("it never ends")
	}
	if info, err := os.Stat(key); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the key can be read by others: %v, %v", info.Mode(), err)
	}
	if err := Make(filepath.Join(t.TempDir(), "c"), key, []string{"x"}, now); err == nil {
		t.Error("a key was overwritten")
	}
	if err := Make("c", "k", nil, now); err == nil || !strings.Contains(err.Error(), "at least one name") {
		t.Errorf("a certificate for nobody: %v", err)
	}
}

func TestRenewedFilesAreTakenUp(t *testing.T) {
	now := time.Now()
	k, cert, key := pair(t, &now)
	before := k.Fingerprint()
	replace(t, cert, key, now)
	if got, _ := k.certificate(nil); got != k.current || k.Fingerprint() != before {
		t.Error("the files are looked at for every connection")
	}
	now = now.Add(lookEvery)
	if _, err := k.certificate(nil); err != nil || k.Fingerprint() == before {
		t.Errorf("the renewed certificate is not handed out: %v", err)
	}
}

// replace writes a new pair over the files, as a renewing program does.
func replace(t *testing.T, cert, key string, now time.Time) {
	t.Helper()
	newCert, newKey := files(t)
	if err := Make(newCert, newKey, []string{"box.example"}, now); err != nil {
		t.Fatal(err)
	}
	for from, to := range map[string]string{newCert: cert, newKey: key} {
		if err := os.Rename(from, to); err != nil {
			t.Fatal(err)
		}
	}
}

func TestFilesThatDoNotFitLeaveTheOldPair(t *testing.T) {
	now := time.Now()
	k, cert, key := pair(t, &now)
	before := k.Fingerprint()
	steps := []struct {
		name string
		do   func() error
	}{
		{"half written", func() error { return os.WriteFile(cert, []byte("-----BEGIN CERTIFICATE-----\nMII"), 0o600) }},
		{"gone", func() error { return os.Remove(cert) }},
	}
	for _, s := range steps {
		if err := s.do(); err != nil {
			t.Fatal(err)
		}
		now = now.Add(lookEvery)
		if c, err := k.certificate(nil); err != nil || c == nil || k.Fingerprint() != before {
			t.Errorf("%s: %v", s.name, err)
		}
	}
	replace(t, cert, key, now)
	now = now.Add(lookEvery)
	if _, err := k.certificate(nil); err != nil || k.Fingerprint() == before {
		t.Error("a good pair after a bad one is not taken up")
	}
}

func TestOpenRefuses(t *testing.T) {
	now := time.Now()
	_, cert, key := pair(t, &now)
	_, _, otherKey := pair(t, &now)
	for name, f := range map[string][2]string{"no file": {cert + "x", key}, "the key of another": {cert, otherKey}, "exchanged": {key, cert}} {
		if _, err := Open(f[0], f[1], nil); err == nil || !strings.Contains(err.Error(), "certificate of the pages") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestServed speaks TLS with the pages' configuration: 1.2 and 1.3 are
// answered, older versions are not (RFC 8996).
func TestServed(t *testing.T) {
	now := time.Now()
	k, _, _ := pair(t, &now)
	roots := x509.NewCertPool()
	leaf, err := x509.ParseCertificate(k.current.Certificate[0])
	if err != nil {
		t.Fatal(err)
	}
	roots.AddCert(leaf)
	for version, good := range map[uint16]bool{tls.VersionTLS11: false, tls.VersionTLS12: true, tls.VersionTLS13: true} {
		client, server := net.Pipe()
		done := make(chan error, 1)
		go func() { done <- tls.Server(server, k.Config()).Handshake() }()
		c := tls.Client(client, &tls.Config{RootCAs: roots, ServerName: "box.example", MinVersion: version, MaxVersion: version})
		err := c.Handshake()
		client.Close()
		server.Close()
		if serverErr := <-done; (err == nil && serverErr == nil) != good {
			t.Errorf("%s: client %v, server %v", tls.VersionName(version), err, serverErr)
		}
	}
}
