package main

import (
	"fmt"
	"io"
	"time"

	"bridlewatch/collector"
	"bridlewatch/collector/opcua"
	"bridlewatch/config"
)

// adviseCertificates says which certificates of sources end soon. One that is
// not there is passed over: a configuration may be checked on another machine.
func adviseCertificates(cfg *config.Config, now time.Time, w io.Writer) {
	for i := range cfg.Sources {
		src := &cfg.Sources[i]
		c, err := opcua.ReadCertificate(src.CertFile)
		if err != nil {
			continue
		}
		if what := collector.Expiry(c.NotAfter, now); what != "" {
			fmt.Fprintf(w, "advice: %s: source %s: %s %s\n", src.Place, src.Name, src.CertFile, what)
		}
	}
}
