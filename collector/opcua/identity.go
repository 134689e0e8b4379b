package opcua

import (
	"crypto/rand"
	"crypto/rsa"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net/url"
	"os"
	"path/filepath"
	"time"

	"bridlewatch/collector"
	"bridlewatch/collector/store"
	"bridlewatch/collector/store/replacement"
)

// Identity is our application certificate with its key.
type Identity struct {
	URI         string // ApplicationURI, equal to the certificate's URI name
	Certificate []byte // DER
	Key         *rsa.PrivateKey
	NotAfter    time.Time
}

// validity is long because renewing means approving the new certificate at
// every server.
const validity = 10 * 365 * 24 * time.Hour

// LoadOrMakeIdentity reads the application certificate below dir, or makes a
// self-signed one there (RSA 2048, OPC 10000-6, 6.2.2) when there is none. On a
// full disk the one it makes is not kept, and the next start makes another.
func LoadOrMakeIdentity(dir, host string, now time.Time) (*Identity, error) {
	certFile, keyFile := filepath.Join(dir, "application.der"), filepath.Join(dir, "application.key")
	der, err := os.ReadFile(certFile)
	if errors.Is(err, fs.ErrNotExist) {
		return makeIdentity(dir, certFile, keyFile, host, now)
	}
	if err != nil {
		return nil, fmt.Errorf("read application certificate: %w", err)
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, fmt.Errorf("application certificate %s: %w", certFile, err)
	}
	if len(cert.URIs) == 0 {
		return nil, fmt.Errorf("application certificate %s has no URI name; remove it and its key to have a new one made", certFile)
	}
	if cert.NotBefore.Before(collector.ClockSet) && cert.NotAfter.Before(now) { // made before the clock was set; no server takes it
		return makeIdentity(dir, certFile, keyFile, host, now)
	}
	key, err := readKey(keyFile)
	if err != nil {
		return nil, err
	}
	return &Identity{URI: cert.URIs[0].String(), Certificate: der, Key: key, NotAfter: cert.NotAfter}, nil
}

func readKey(file string) (*rsa.PrivateKey, error) {
	text, err := os.ReadFile(file)
	if err != nil {
		return nil, fmt.Errorf("read key: %w", err)
	}
	block, _ := pem.Decode(text)
	if block == nil {
		return nil, fmt.Errorf("key %s is not PEM", file)
	}
	if block.Type == "RSA PRIVATE KEY" {
		return x509.ParsePKCS1PrivateKey(block.Bytes)
	}
	key, err := x509.ParsePKCS8PrivateKey(block.Bytes)
	if err != nil {
		return nil, fmt.Errorf("key %s: %w", file, err)
	}
	rsaKey, ok := key.(*rsa.PrivateKey)
	if !ok {
		return nil, fmt.Errorf("key %s is a %T, want RSA", file, key)
	}
	return rsaKey, nil
}

// LoadUser reads the certificate (PEM or DER) and the key (PEM, PKCS #8 or
// PKCS #1) of a user.
func LoadUser(certFile, keyFile string) (der []byte, key *rsa.PrivateKey, err error) {
	cert, err := ReadCertificate(certFile)
	if err != nil {
		return nil, nil, fmt.Errorf("user certificate %s: %w", certFile, err)
	}
	key, err = readKey(keyFile)
	return cert.Raw, key, err
}

// ReadCertificate reads the first certificate of a file, PEM or DER.
func ReadCertificate(file string) (*x509.Certificate, error) {
	der, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	if block, _ := pem.Decode(der); block != nil {
		der = block.Bytes
	}
	return x509.ParseCertificate(der)
}

func makeIdentity(dir, certFile, keyFile, host string, now time.Time) (*Identity, error) {
	key, err := rsa.GenerateKey(rand.Reader, 2048)
	if err != nil {
		return nil, fmt.Errorf("make application key: %w", err)
	}
	serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 120))
	if err != nil {
		return nil, fmt.Errorf("make serial number: %w", err)
	}
	uri := &url.URL{Scheme: "urn", Opaque: host + ":bridlewatch"}
	tmpl := &x509.Certificate{
		SerialNumber: serial,
		Subject:      pkix.Name{CommonName: "bridlewatch on " + host},
		NotBefore:    now.Add(-time.Hour),
		NotAfter:     now.Add(validity),
		KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageContentCommitment | x509.KeyUsageKeyEncipherment |
			x509.KeyUsageDataEncipherment | x509.KeyUsageCertSign,
		ExtKeyUsage:           []x509.ExtKeyUsage{x509.ExtKeyUsageClientAuth, x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true,
		URIs:                  []*url.URL{uri},
		DNSNames:              []string{host},
	}
	der, err := x509.CreateCertificate(rand.Reader, tmpl, tmpl, &key.PublicKey, key)
	if err != nil {
		return nil, fmt.Errorf("make application certificate: %w", err)
	}
	pkcs8, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, fmt.Errorf("encode application key: %w", err)
	}
	id := &Identity{URI: uri.String(), Certificate: der, Key: key, NotAfter: tmpl.NotAfter}
	err = keepIdentity(dir, certFile, der, keyFile, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: pkcs8}))
	if store.NoRoom(err) {
		return id, nil // of this run: servers that ask for no certificate of ours are read all the same
	}
	return id, err
}

// keepIdentity writes key and certificate, the certificate last: it is what says
// that both are there.
func keepIdentity(dir, certFile string, der []byte, keyFile string, key []byte) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fmt.Errorf("make certificate directory: %w", err)
	}
	if err := replacement.WriteBytes(keyFile, 0o600, key); err != nil {
		return fmt.Errorf("write application key: %w", err)
	}
	if err := replacement.WriteBytes(certFile, 0o644, der); err != nil {
		return fmt.Errorf("write application certificate: %w", err)
	}
	return nil
}
