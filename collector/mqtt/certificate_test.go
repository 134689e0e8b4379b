package mqtt

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/mochi-mqtt/server/v2/listeners"

	"bridlewatch/compare/quantity"
)

// authority signs the certificates of a test.
type authority struct {
	dir  string
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
	n    int64
}

func newAuthority(t *testing.T) *authority {
	t.Helper()
	a := &authority{dir: t.TempDir()}
	a.issue(t, "ca", time.Now().Add(time.Hour))
	return a
}

func (a *authority) file(name string) string { return filepath.Join(a.dir, name) }

func (a *authority) pool() *x509.CertPool {
	p := x509.NewCertPool()
	p.AddCert(a.cert)
	return p
}

// issue writes name.pem and name.key; the first is the authority itself.
func (a *authority) issue(t *testing.T, name string, until time.Time) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	a.n++
	c := &x509.Certificate{
		SerialNumber: big.NewInt(a.n), Subject: pkix.Name{CommonName: name}, NotBefore: time.Now().Add(-time.Hour), NotAfter: until,
		KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign, BasicConstraintsValid: true, IsCA: a.cert == nil,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageClientAuth, x509.ExtKeyUsageServerAuth}, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
	}
	parent, signer := c, key
	if a.cert != nil {
		parent, signer = a.cert, a.key
	}
	der, err1 := x509.CreateCertificate(rand.Reader, c, parent, &key.PublicKey, signer)
	pkcs8, err2 := x509.MarshalPKCS8PrivateKey(key)
	if err1 != nil || err2 != nil {
		t.Fatal(err1, err2)
	}
	for suffix, block := range map[string]*pem.Block{".pem": {Type: "CERTIFICATE", Bytes: der}, ".key": {Type: "PRIVATE KEY", Bytes: pkcs8}} {
		if err := os.WriteFile(a.file(name+suffix), pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if a.cert == nil {
		if a.cert, err = x509.ParseCertificate(der); err != nil {
			t.Fatal(err)
		}
		a.key = key
	}
}

// TestClientCertificate reads from a broker that lets nobody in without one,
// and takes up a renewed one with the next connection.
func TestClientCertificate(t *testing.T) {
	a := newAuthority(t)
	a.issue(t, "broker", time.Now().Add(time.Hour))
	a.issue(t, "box", time.Now().Add(time.Hour))
	stranger := newAuthority(t)
	stranger.issue(t, "box", time.Now().Add(time.Hour))
	pair, err := tls.LoadX509KeyPair(a.file("broker.pem"), a.file("broker.key"))
	if err != nil {
		t.Fatal(err)
	}
	b, _, _ := startBroker(t, "")
	l := listeners.NewTCP(listeners.Config{ID: "tls", Address: "127.0.0.1:0", TLSConfig: &tls.Config{
		Certificates: []tls.Certificate{pair}, ClientAuth: tls.RequireAndVerifyClientCert, ClientCAs: a.pool(),
	}})
	if err := b.AddListener(l); err != nil {
		t.Fatal(err)
	}
	go l.Serve(b.EstablishConnection)
	address := "mqtts://" + l.Address()
	if err := b.Publish("plant/level", []byte("0.5"), true, 1); err != nil {
		t.Fatal(err)
	}
	o := Options{Name: "t", Broker: address, TLS: &tls.Config{RootCAs: a.pool()}, Timeout: 5 * time.Second}
	item := Item{Tag: "A", Topic: "plant/level"}
	without, err := New(o, []Item{item}, machine{})
	if err != nil {
		t.Fatal(err)
	}
	defer without.Close()
	for end := time.Now().Add(time.Minute); ; time.Sleep(20 * time.Millisecond) {
		_, err := without.Read(t.Context())
		if err != nil && strings.Contains(err.Error(), "connect to") {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("without a certificate: %v", err)
		}
	}
	if err := os.Rename(stranger.file("box.pem"), a.file("s.pem")); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(stranger.file("box.key"), a.file("s.key")); err != nil {
		t.Fatal(err)
	}
	o.CertFile, o.KeyFile = a.file("s.pem"), a.file("s.key")
	s, err := New(o, []Item{item}, machine{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if got, err := s.Read(t.Context()); err == nil || got[0].Quality.Usable() {
		t.Errorf("with the certificate of a stranger: %+v", got[0])
	}
	for from, to := range map[string]string{"box.pem": "s.pem", "box.key": "s.key"} { // renewed while it runs
		if err := os.Rename(a.file(from), a.file(to)); err != nil {
			t.Fatal(err)
		}
	}
	if got := until(t, s, "renewed", quality(quantity.Uncertain)); got[0].Value != 0.5 {
		t.Errorf("with a certificate: %+v", got[0])
	}
}

func TestClientCertificateThatEnds(t *testing.T) {
	a := newAuthority(t)
	a.issue(t, "soon", time.Now().Add(5*24*time.Hour))
	a.issue(t, "late", time.Now().Add(300*24*time.Hour))
	for name, want := range map[string]string{"soon": "renew it now", "late": ""} {
		s, err := New(Options{Name: "t", Broker: "mqtts://127.0.0.1", CertFile: a.file(name + ".pem"), KeyFile: a.file(name + ".key")}, []Item{{Tag: "A", Topic: "t"}}, machine{})
		if err != nil {
			t.Fatal(err)
		}
		var said string
		for _, r := range s.Condition().Remarks {
			said += r.What
		}
		if !strings.Contains(said, want) || want == "" && said != "" {
			t.Errorf("%s: said %q, want %q", name, said, want)
		}
	}
	for _, o := range []Options{
		{Broker: "mqtt://127.0.0.1", CertFile: a.file("late.pem"), KeyFile: a.file("late.key")},
		{Broker: "mqtts://127.0.0.1", CertFile: a.file("late.pem"), KeyFile: a.file("soon.key")},
		{Broker: "mqtts://127.0.0.1", CertFile: a.file("none.pem"), KeyFile: a.file("none.key")},
	} {
		if _, err := New(o, []Item{{Tag: "A", Topic: "t"}}, machine{}); err == nil || !strings.Contains(err.Error(), "certificate") {
			t.Errorf("%+v: error %v", o, err)
		}
	}
}
