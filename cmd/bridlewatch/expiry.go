package main

import (
	"crypto/x509"
	"encoding/pem"
	"fmt"
	"io"
	"os"
	"time"

	"bridlewatch/collector"
	"bridlewatch/config"
)

// adviseCertificates says which certificates of sources end soon. One that is
// not there is passed over: a configuration may be checked on another machine.
func adviseCertificates(cfg *config.Config, now time.Time, w io.Writer) {
	for i := range cfg.Sources {
		src := &cfg.Sources[i]
		c, err := certificateIn(src.CertFile)
		if err != nil {
			continue
		}
		if what := collector.Expiry(c.NotAfter, now); what != "" {
			fmt.Fprintf(w, "advice: %s: source %s: %s %s\n", src.Place, src.Name, src.CertFile, what)
		}
	}
}

// certificateIn reads the first certificate of a file, PEM or DER.
func certificateIn(file string) (*x509.Certificate, error) {
	der, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	if block, _ := pem.Decode(der); block != nil {
		der = block.Bytes
	}
	return x509.ParseCertificate(der)
}
