package opcua

import (
	"crypto/sha1" // of certificates, to be compared by eye
	"crypto/x509"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// TrustFolder decides about server certificates by two folders, trusted and
// rejected, that hold certificates in DER form named by their thumbprint. A
// certificate nobody has judged goes to rejected and waits there until
// somebody approves it.
type TrustFolder struct {
	Dir string
	Now func() time.Time
}

// Certificate is one certificate of a trust folder.
type Certificate struct {
	Thumbprint string // SHA-256, the name of its file
	SHA1       string // the thumbprint of OPC 10000-6, 6.2.2 (from memory), which most tools of servers show
	Subject    string
	URI        string // application URI
	NotBefore  time.Time
	NotAfter   time.Time
	Trusted    bool
	Problem    string // why it cannot be read; its DER is kept
}

const (
	trusted  = "trusted"
	rejected = "rejected"
)

func (t TrustFolder) file(folder, thumb string) string {
	return filepath.Join(t.Dir, folder, thumb+".der")
}

// Judge returns nil for a trusted certificate that is in its time of validity.
func (t TrustFolder) Judge(endpoint string, der []byte) error {
	thumb := Thumbprint(der)
	if _, err := os.Stat(t.file(trusted, thumb)); errors.Is(err, fs.ErrNotExist) {
		if err := t.keep(rejected, thumb, der); err != nil {
			return err
		}
		return fmt.Errorf("%s shows the certificate %s (%s), which nobody has approved; compare the thumbprint with the server's and run: bridlewatch trust approve %s",
			endpoint, thumb, subject(der), thumb)
	} else if err != nil {
		return fmt.Errorf("read trust folder: %w", err)
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		return nil // approved as it is, by its thumbprint; see Certificate.Problem
	}
	now := t.Now()
	if now.Before(cert.NotBefore) || now.After(cert.NotAfter) {
		return fmt.Errorf("%s: its approved certificate %s is valid from %s to %s; renew it at the server, or set this box's clock",
			endpoint, thumb, cert.NotBefore.Format(time.DateOnly), cert.NotAfter.Format(time.DateOnly))
	}
	return nil
}

func (t TrustFolder) keep(folder, thumb string, der []byte) error {
	if err := os.MkdirAll(filepath.Join(t.Dir, folder), 0o700); err != nil {
		return fmt.Errorf("make trust folder: %w", err)
	}
	if err := os.WriteFile(t.file(folder, thumb), der, 0o600); err != nil {
		return fmt.Errorf("keep certificate: %w", err)
	}
	return nil
}

// Approve moves a certificate from rejected to trusted. A beginning of the
// thumbprint of at least eight digits is enough when it fits only one.
func (t TrustFolder) Approve(thumb string) (Certificate, error) {
	return t.move(thumb, rejected, trusted)
}

// Withdraw moves a certificate from trusted to rejected.
func (t TrustFolder) Withdraw(thumb string) (Certificate, error) {
	return t.move(thumb, trusted, rejected)
}

func (t TrustFolder) move(thumb, from, to string) (Certificate, error) {
	full, err := t.find(thumb, from)
	if err != nil {
		return Certificate{}, err
	}
	if err := os.MkdirAll(filepath.Join(t.Dir, to), 0o700); err != nil {
		return Certificate{}, fmt.Errorf("make trust folder: %w", err)
	}
	if err := os.Rename(t.file(from, full), t.file(to, full)); err != nil {
		return Certificate{}, fmt.Errorf("move certificate: %w", err)
	}
	return t.read(to, full)
}

func (t TrustFolder) find(thumb, folder string) (string, error) {
	thumb = strings.ToLower(strings.ReplaceAll(thumb, ":", ""))
	if _, err := hex.DecodeString(thumb); err != nil && len(thumb)%2 == 0 || len(thumb) < 8 {
		return "", fmt.Errorf("%q is not a thumbprint; give at least its first 8 hexadecimal digits", thumb)
	}
	names, err := t.names(folder)
	if err != nil {
		return "", err
	}
	var fit []string
	for _, n := range names {
		if strings.HasPrefix(n, thumb) {
			fit = append(fit, n)
		}
	}
	switch len(fit) {
	case 1:
		return fit[0], nil
	case 0:
		return "", fmt.Errorf("no certificate %s in %s", thumb, filepath.Join(t.Dir, folder))
	}
	return "", fmt.Errorf("%s fits %d certificates; give more digits", thumb, len(fit))
}

func (t TrustFolder) names(folder string) ([]string, error) {
	entries, err := os.ReadDir(filepath.Join(t.Dir, folder))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("read trust folder: %w", err)
	}
	var names []string
	for _, e := range entries {
		if n, ok := strings.CutSuffix(e.Name(), ".der"); ok {
			names = append(names, n)
		}
	}
	return names, nil
}

// List returns every certificate, trusted first.
func (t TrustFolder) List() ([]Certificate, error) {
	var all []Certificate
	for _, folder := range []string{trusted, rejected} {
		names, err := t.names(folder)
		if err != nil {
			return nil, err
		}
		for _, n := range names {
			c, err := t.read(folder, n)
			if err != nil {
				return nil, err
			}
			all = append(all, c)
		}
	}
	return all, nil
}

func (t TrustFolder) read(folder, thumb string) (Certificate, error) {
	c := Certificate{Thumbprint: thumb, Trusted: folder == trusted}
	der, err := os.ReadFile(t.file(folder, thumb))
	if err != nil {
		return c, fmt.Errorf("read certificate: %w", err)
	}
	c.SHA1 = fmt.Sprintf("%x", sha1.Sum(der))
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		c.Problem = err.Error()
		return c, nil
	}
	c.Subject, c.NotBefore, c.NotAfter = cert.Subject.String(), cert.NotBefore, cert.NotAfter
	if len(cert.URIs) > 0 {
		c.URI = cert.URIs[0].String()
	}
	return c, nil
}

func subject(der []byte) string {
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		return "it cannot be read: " + err.Error()
	}
	return cert.Subject.String()
}
