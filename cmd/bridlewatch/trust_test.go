package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"math/big"
	"testing"
	"time"

	"bridlewatch/config"
)

// A certificate the source refused is approved by the page's way and trusted
// by the source from then on; a source without certificates has no part in it.
func TestApprovedOnThePage(t *testing.T) {
	dir := t.TempDir()
	cfg := &config.Config{Sources: []config.Source{
		{Name: "gas-plant", Protocol: config.OPCUA, SecurityPolicy: "Basic256Sha256"},
		{Name: "boiler-house", Protocol: config.ModbusTCP},
		{Name: "utilities", Protocol: config.OPCUA, SecurityPolicy: "None"},
	}}
	page := trustOf(cfg, dir)
	if page == nil {
		t.Fatal("nothing to approve")
	}
	folder := trustFolder(&cfg.Sources[0], dir)
	der := selfMade(t)
	if err := folder.Judge("opc.tcp://gas-plant", der); err == nil {
		t.Fatal("trusted before anybody approved it")
	}
	waiting, err := page.Certificates()
	if err != nil || len(waiting) != 1 || waiting[0].Trusted || waiting[0].Source != "gas-plant" || len(waiting[0].SHA1) != 40 || waiting[0].Warning == "" {
		t.Fatalf("waiting: %+v, %v", waiting, err)
	}
	if _, err := page.Approve("boiler-house", waiting[0].Thumbprint); err == nil {
		t.Error("approved for a source that shows none")
	}
	if c, err := page.Approve("gas-plant", waiting[0].Thumbprint); err != nil || !c.Trusted {
		t.Fatalf("approved: %+v, %v", c, err)
	}
	if err := folder.Judge("opc.tcp://gas-plant", der); err != nil {
		t.Errorf("approved and refused: %v", err)
	}
	if c, err := page.Withdraw("gas-plant", waiting[0].Thumbprint); err != nil || c.Trusted {
		t.Errorf("withdrawn: %+v, %v", c, err)
	}
	if trustOf(&config.Config{Sources: cfg.Sources[1:]}, dir) != nil {
		t.Error("sources without certificates have something to approve")
	}
}

// selfMade is a certificate that ends in a month.
func selfMade(t *testing.T) []byte {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "level server"}, NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().AddDate(0, 1, 0)}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	return der
}
