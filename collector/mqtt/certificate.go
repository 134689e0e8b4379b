package mqtt

import (
	"crypto/tls"
	"fmt"

	"bridlewatch/collector"
)

// certificate reads the certificate this box shows to the broker.
func (o Options) certificate() (*tls.Certificate, error) {
	pair, err := tls.LoadX509KeyPair(o.CertFile, o.KeyFile)
	if err != nil {
		return nil, fmt.Errorf("client certificate: %w", err)
	}
	return &pair, nil
}

// withCertificate shows it at each handshake as the files then are, so that a
// renewed one is taken up with the next connection.
func (o Options) withCertificate() *tls.Config {
	if o.CertFile == "" {
		return o.TLS
	}
	secure := &tls.Config{MinVersion: tls.VersionTLS12}
	if o.TLS != nil {
		secure = o.TLS.Clone()
	}
	secure.GetClientCertificate = func(*tls.CertificateRequestInfo) (*tls.Certificate, error) { return o.certificate() }
	return secure
}

var _ collector.Conditioned = (*Source)(nil)

// Condition warns of a client certificate that ends soon or cannot be read
// any more.
func (s *Source) Condition() collector.Condition {
	if s.opts.CertFile == "" {
		return collector.Condition{}
	}
	pair, err := s.opts.certificate()
	var what string
	if err != nil {
		what = err.Error()
	} else if what = collector.Expiry(pair.Leaf.NotAfter, s.clock.Now()); what != "" {
		what = "client certificate " + what
	}
	if what == "" {
		return collector.Condition{}
	}
	return collector.Condition{Remarks: []collector.Remark{{What: what}}}
}
