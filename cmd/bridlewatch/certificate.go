package main

import (
	"errors"
	"time"

	"github.com/spf13/cobra"

	"bridlewatch/dashboards/access/certificate"
)

func newCertificate() *cobra.Command {
	var hosts []string
	c := &cobra.Command{
		Use:   "certificate CERTIFICATE KEY",
		Short: "Make a certificate of one's own for the pages",
		Long: `certificate writes a certificate signed by itself, good for 397 days, and its key,
for a box that has none from an authority. Name both files in the configuration
(service: tls_certificate, tls_key). Browsers warn until the certificate is
trusted on each device: compare the fingerprint printed here with the one the
browser shows.

A running service takes up new files by itself. Nothing is overwritten: move the
old files away first.`,
		Args: cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			if len(hosts) == 0 {
				return withCode(exitUsage, errors.New("say by which names and addresses people reach the box: --host box.example --host 192.0.2.1"))
			}
			if err := certificate.Make(args[0], args[1], hosts, time.Now()); err != nil {
				return err
			}
			k, err := certificate.Open(args[0], args[1], nil)
			if err != nil {
				return err
			}
			return say(c, "SHA-256 fingerprint %s", k.Fingerprint())
		},
	}
	c.Flags().StringArrayVar(&hosts, "host", nil, "name or address people reach the box by; repeatable")
	return c
}
