package certificate

import (
	"crypto/x509"
	"fmt"
	"os"
)

// Roots reads the certificates (PEM) that those of a server are checked
// against, instead of those of the system.
func Roots(file string) (*x509.CertPool, error) {
	text, err := os.ReadFile(file)
	if err != nil {
		return nil, fmt.Errorf("read certificate authority: %w", err)
	}
	pool := x509.NewCertPool()
	if !pool.AppendCertsFromPEM(text) {
		return nil, fmt.Errorf("%s holds no certificate in PEM form", file)
	}
	return pool, nil
}
