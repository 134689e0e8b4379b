package main

import (
	"encoding/pem"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bridlewatch/config"
)

// central is a central store that lets one token read and another write, and
// whose certificate only its own authority vouches for.
func central(t *testing.T) (address, authority string) {
	t.Helper()
	server := httptest.NewTLSServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Header.Get("Authorization") != "Token reader" {
			w.Header().Set("Content-Type", "application/json")
			w.WriteHeader(http.StatusForbidden)
			_, _ = w.Write([]byte(`{"code":"forbidden","message":"insufficient permissions"}`))
			return
		}
		w.Header().Set("Content-Type", "text/csv")
	}))
	t.Cleanup(server.Close)
	authority = filepath.Join(t.TempDir(), "ca.pem")
	block := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: server.Certificate().Raw})
	if err := os.WriteFile(authority, block, 0o600); err != nil {
		t.Fatal(err)
	}
	return server.URL, authority
}

func TestFleetReadsWithItsOwnToken(t *testing.T) {
	address, authority := central(t)
	for name, c := range map[string]struct{ keys, want string }{
		"own token":              {"token: env:WRITES, read_token: env:READS, ca_file: " + authority, ""},
		"writing token":          {"token: env:WRITES, ca_file: " + authority, "influx.read_token is not set"},
		"writing token reads":    {"token: env:READS, ca_file: " + authority, ""},
		"own token may not":      {"token: env:READS, read_token: env:WRITES, ca_file: " + authority, "check the token that influx.read_token refers to"},
		"stranger as the server": {"token: env:READS", "certificate"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Setenv("WRITES", "writer")
			t.Setenv("READS", "reader")
			file := filepath.Join(t.TempDir(), "bridlewatch.yaml")
			text := "site: {name: works}\ninflux: {url: '" + address + "', bucket: levels, " + c.keys + "}\n"
			if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
			cfg, err := config.Load(config.LoadOptions{File: file})
			if err != nil {
				t.Fatal(err)
			}
			f, err := openFleet(cfg.Influx)
			if err != nil {
				t.Fatal(err)
			}
			defer f.close()
			_, err = f.Boxes(t.Context(), time.Hour)
			if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
				t.Errorf("asked for the boxes: %v, want an error that says %q", err, c.want)
			}
		})
	}
}
