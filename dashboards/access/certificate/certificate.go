// Package certificate keeps the certificate of the pages: it takes up renewed
// files while the service runs, and makes a certificate of one's own for a box
// that has none from an authority.
package certificate

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"fmt"
	"log/slog"
	"math/big"
	"net"
	"os"
	"sync"
	"time"
)

// lookEvery is how often the files are looked at, at most.
const lookEvery = 10 * time.Second

// Keeper hands out the certificate of two files. It may be used by several
// goroutines.
type Keeper struct {
	certFile, keyFile string
	log               *slog.Logger
	now               func() time.Time
	remake            func() error // makes new files; nil: they come from elsewhere

	mu      sync.Mutex
	current *tls.Certificate
	stamp   [2]fileStamp // of what is current, or was refused
	looked  time.Time
}

// fileStamp tells a file that was replaced from the one before.
type fileStamp struct {
	changed time.Time
	size    int64
}

// Open reads certificate and key (PEM) and refuses a pair that does not fit.
func Open(certFile, keyFile string, log *slog.Logger) (*Keeper, error) {
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	k := &Keeper{certFile: certFile, keyFile: keyFile, log: log, now: time.Now}
	stamp, err := k.stamps()
	if err != nil {
		return nil, fmt.Errorf("certificate of the pages: %w", err)
	}
	c, err := tls.LoadX509KeyPair(certFile, keyFile)
	if err != nil {
		return nil, fmt.Errorf("certificate of the pages, %s with %s: %w", certFile, keyFile, err)
	}
	k.current, k.stamp, k.looked = &c, stamp, k.now()
	return k, nil
}

// Config returns the configuration of a server with this certificate.
func (k *Keeper) Config() *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: k.certificate, NextProtos: []string{"h2", "http/1.1"}}
}

// Fingerprint returns the SHA-256 of the certificate in hex.
func (k *Keeper) Fingerprint() string {
	k.mu.Lock()
	defer k.mu.Unlock()
	sum := sha256.Sum256(k.current.Certificate[0])
	return hex.EncodeToString(sum[:])
}

// certificate looks whether the files have changed. Files that do not fit, as
// between the writing of the one and the other, leave the old pair in force.
func (k *Keeper) certificate(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if now := k.now(); now.Sub(k.looked) >= lookEvery {
		k.looked = now
		if k.remake != nil && ends(k.current, now) {
			k.stamp = [2]fileStamp{} // to be read again, whatever the clock of the files says
			if err := k.remake(); err != nil {
				k.log.Warn("no new certificate of the pages could be made; the one before stays until it ends", "error", err)
			}
		}
		k.renew()
	}
	return k.current, nil
}

func (k *Keeper) renew() {
	stamp, err := k.stamps()
	if err == nil && stamp == k.stamp {
		return
	}
	var c tls.Certificate
	if err == nil {
		c, err = tls.LoadX509KeyPair(k.certFile, k.keyFile)
	}
	if err != nil {
		k.log.Warn("the renewed certificate of the pages cannot be used; the one before stays", "error", err)
		return
	}
	k.current, k.stamp = &c, stamp
	k.log.Info("the certificate of the pages was renewed", "file", k.certFile, "until", c.Leaf.NotAfter)
}

func (k *Keeper) stamps() (s [2]fileStamp, err error) {
	for i, name := range []string{k.certFile, k.keyFile} {
		info, err := os.Stat(name)
		if err != nil {
			return s, err
		}
		s[i] = fileStamp{info.ModTime(), info.Size()}
	}
	return s, nil
}

// Lasting is how long a certificate made here is good for. Browsers and
// handheld devices refuse much longer ones even when told to trust them.
const Lasting = 397 * 24 * time.Hour

// Make writes a certificate signed by itself, for the given names and
// addresses, and its key. It never overwrites a file.
func Make(certFile, keyFile string, hosts []string, now time.Time) error {
	cert, key, err := issue(hosts, now)
	if err != nil {
		return err
	}
	if err := writeFirst(keyFile, key, keyMode); err != nil {
		return err
	}
	return writeFirst(certFile, cert, certMode)
}

// Modes of the files.
const (
	certMode = 0o644
	keyMode  = 0o600
)

// issue makes a certificate and its key, as PEM.
func issue(hosts []string, now time.Time) (cert, key []byte, err error) {
	if len(hosts) == 0 {
		return nil, nil, errors.New("a certificate needs at least one name or address people reach the box by")
	}
	secret, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, nil, fmt.Errorf("make key: %w", err)
	}
	serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127)) // RFC 5280, 4.1.2.2: at most 20 octets
	if err != nil {
		return nil, nil, fmt.Errorf("make serial number: %w", err)
	}
	form := x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: hosts[0], Organization: []string{"bridlewatch"}},
		NotBefore: now.Add(-time.Hour), NotAfter: now.Add(Lasting), BasicConstraintsValid: true,
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	for _, h := range hosts {
		if ip := net.ParseIP(h); ip != nil {
			form.IPAddresses = append(form.IPAddresses, ip)
		} else {
			form.DNSNames = append(form.DNSNames, h)
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, &form, &form, &secret.PublicKey, secret)
	if err != nil {
		return nil, nil, fmt.Errorf("sign certificate: %w", err)
	}
	pkcs8, err := x509.MarshalPKCS8PrivateKey(secret)
	if err != nil {
		return nil, nil, fmt.Errorf("encode key: %w", err)
	}
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: pkcs8}), nil
}

func writeFirst(file string, text []byte, mode os.FileMode) error {
	f, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if err != nil {
		return fmt.Errorf("write %s: %w", file, err)
	}
	_, err = f.Write(text)
	return errors.Join(err, f.Close())
}
