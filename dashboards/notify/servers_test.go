package notify

import (
	"bufio"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"fmt"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// authority makes a certificate for 127.0.0.1 that signs itself, and the file
// a route trusts it by.
func authority(t *testing.T) (server tls.Certificate, caFile string) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "test"}, NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	caFile = filepath.Join(t.TempDir(), "ca.pem")
	if err := os.WriteFile(caFile, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600); err != nil {
		t.Fatal(err)
	}
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, caFile
}

func listen(t *testing.T) net.Listener {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	return l
}

// postOffice is a small SMTP server (RFC 5321) with STARTTLS (RFC 3207) and
// AUTH PLAIN (RFC 4954).
type postOffice struct {
	cert    tls.Certificate
	address string
	refuse  string // answer to RCPT TO, "" takes everybody
	plain   bool   // offers no encryption
	abrupt  bool   // hangs up instead of answering QUIT

	mu      sync.Mutex
	letters []string
	steps   []string // commands, with "tls" where encryption began
}

func openPostOffice(t *testing.T, p *postOffice) {
	l := listen(t)
	p.address = l.Addr().String()
	go func() {
		for {
			conn, err := l.Accept()
			if err != nil {
				return
			}
			go p.serve(conn)
		}
	}()
}

func (p *postOffice) note(step string) {
	p.mu.Lock()
	p.steps = append(p.steps, step)
	p.mu.Unlock()
}

func (p *postOffice) serve(conn net.Conn) {
	defer conn.Close()
	in := bufio.NewReader(conn)
	say := func(lines ...string) { fmt.Fprint(conn, strings.Join(lines, "\r\n")+"\r\n") }
	encrypted := false
	say("220 post office")
	for {
		line, err := in.ReadString('\n')
		if err != nil {
			return
		}
		line = strings.TrimSpace(line)
		word, _, _ := strings.Cut(strings.ToUpper(line), " ")
		p.note(word)
		switch word {
		case "EHLO":
			switch {
			case encrypted:
				say("250-post office", "250-AUTH PLAIN", "250 8BITMIME")
			case p.plain:
				say("250-post office", "250-AUTH PLAIN", "250 8BITMIME")
			default:
				say("250-post office", "250 STARTTLS")
			}
		case "STARTTLS":
			say("220 go on")
			secure := tls.Server(conn, &tls.Config{Certificates: []tls.Certificate{p.cert}})
			if secure.Handshake() != nil {
				return
			}
			conn, in, encrypted = secure, bufio.NewReader(secure), true
			p.note("tls")
		case "AUTH":
			say("235 welcome")
		case "RCPT":
			if p.refuse != "" {
				say(p.refuse)
				continue
			}
			say("250 ok")
		case "DATA":
			say("354 go on")
			var b strings.Builder
			for {
				text, err := in.ReadString('\n')
				if err != nil {
					return
				}
				if text == ".\r\n" {
					break
				}
				b.WriteString(text)
			}
			p.mu.Lock()
			p.letters = append(p.letters, b.String())
			p.mu.Unlock()
			say("250 taken")
		case "QUIT":
			if p.abrupt {
				return
			}
			say("221 bye")
			return
		default:
			say("250 ok")
		}
	}
}
