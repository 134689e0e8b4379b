package main

import (
	"bytes"
	"context"
	"crypto/tls"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"

	"bridlewatch/cmd/bridlewatch/rehearsal"
	"bridlewatch/config"
	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/access/certificate"
)

const passphrase = "barge candle forty moss"

// plantWithLogin is the plant of the rehearsal as a live service would have it.
func plantWithLogin(t *testing.T) *config.Config {
	t.Helper()
	cfg, err := rehearsal.Embedded()
	if err != nil {
		t.Fatal(err)
	}
	cfg.Service.OpenAccess, cfg.Service.Listen = false, "127.0.0.1:0"
	return cfg
}

// startStation runs a service without its sources until the test ends.
func startStation(t *testing.T, cfg *config.Config, dir string) *station {
	t.Helper()
	s, err := openStation(context.Background(), cfg, slog.New(slog.DiscardHandler), stationOptions{dir: dir})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.listen(cfg.Service.Listen, false); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.run(ctx) }()
	t.Cleanup(func() {
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
		if err := s.close(); err != nil {
			t.Error(err)
		}
		if _, err := os.Stat(filepath.Join(dir, access.ConsoleFile)); !os.IsNotExist(err) {
			t.Error("the key of the command line outlives the service")
		}
	})
	return s
}

// managed runs a command in this process.
func managed(t *testing.T, make func() *cobra.Command, stdin string, args ...string) (string, error) {
	t.Helper()
	c, out := make(), &bytes.Buffer{}
	c.SilenceUsage, c.SilenceErrors = true, true
	c.SetArgs(args)
	c.SetIn(strings.NewReader(stdin))
	c.SetOut(out)
	c.SetErr(io.Discard)
	err := c.ExecuteContext(t.Context())
	return out.String(), err
}

// TestFirstAdminOfARunningService is the first start: the service runs, nobody
// can log in, the command line makes an admin, the admin logs in; in clear and
// with a certificate of the box's own.
func TestFirstAdminOfARunningService(t *testing.T) {
	for _, encrypted := range []bool{false, true} {
		dir, cfg := t.TempDir(), plantWithLogin(t)
		if encrypted {
			cfg.Service.TLSCert, cfg.Service.TLSKey = filepath.Join(t.TempDir(), "cert.pem"), filepath.Join(t.TempDir(), "key.pem")
			if err := certificate.Make(cfg.Service.TLSCert, cfg.Service.TLSKey, []string{"box.example"}, time.Now()); err != nil {
				t.Fatal(err)
			}
		}
		s := startStation(t, cfg, dir)
		if out, err := managed(t, newUser, "", "list", "--data", dir); err != nil || !strings.Contains(out, "Nobody may log in yet") {
			t.Fatalf("list: %q, %v", out, err)
		}
		if _, err := managed(t, newUser, passphrase, "add", "--data", dir, "--role", "admin", "ruiz"); err != nil {
			t.Fatal(err)
		}
		browser := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}} // what it shows is looked at, not whom it trusts
		browser.Jar, _ = cookiejar.New(nil)
		answer, err := browser.PostForm(s.url()+"/login", url.Values{"name": {"ruiz"}, "password": {passphrase}, "then": {"/users"}})
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(answer.Body)
		answer.Body.Close()
		if err != nil || answer.StatusCode != http.StatusOK || !strings.Contains(string(body), "ruiz (you)") {
			t.Errorf("encrypted %v: %d %.300s %v", encrypted, answer.StatusCode, body, err)
		}
		at, err := url.Parse(s.url())
		if err != nil {
			t.Fatal(err)
		}
		if n := len(browser.Jar.Cookies(at)); n != 1 || (at.Scheme == "https") != encrypted {
			t.Errorf("%s: %d cookies", at, n)
		}
		browser.CloseIdleConnections()
		out, err := managed(t, newAudit, "", "list", "--data", dir)
		if err != nil || !strings.Contains(out, "added the user ruiz") || !strings.Contains(out, "console (") {
			t.Errorf("audit: %q, %v", out, err)
		}
		if out, err = managed(t, newAudit, "", "verify", "--data", dir); err != nil || !strings.Contains(out, "Whole: 1 entries") {
			t.Errorf("verify: %q, %v", out, err)
		}
		text, err := managed(t, newToken, "", "add", "--data", dir, "--scope", "admin,read", "setup")
		if err != nil || !access.LooksLikeToken(strings.TrimSpace(text)) {
			t.Fatalf("token %q, %v", text, err)
		}
		if encrypted {
			continue // a certificate of its own is not trusted from elsewhere
		}
		file := filepath.Join(t.TempDir(), "token")
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if out, err := managed(t, newUser, "", "list", "--server", s.url(), "--token-file", file); err != nil || !strings.Contains(out, "ruiz") {
			t.Errorf("from elsewhere: %q, %v", out, err)
		}
		if _, err := managed(t, newUser, "", "remove", "--server", s.url(), "--token-file", file, "ruiz"); err == nil || !strings.Contains(err.Error(), "last admin") {
			t.Errorf("removing the last admin: %v", err)
		}
	}
}

// TestConsoleTrustsTheRightCertificateOnly: the key of the command line is not
// sent to somebody else on the port.
func TestConsoleTrustsTheRightCertificateOnly(t *testing.T) {
	dir, cfg := t.TempDir(), plantWithLogin(t)
	cfg.Service.TLSCert, cfg.Service.TLSKey = filepath.Join(t.TempDir(), "cert.pem"), filepath.Join(t.TempDir(), "key.pem")
	if err := certificate.Make(cfg.Service.TLSCert, cfg.Service.TLSKey, []string{"box.example"}, time.Now()); err != nil {
		t.Fatal(err)
	}
	startStation(t, cfg, dir)
	file := filepath.Join(dir, access.ConsoleFile)
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	at := strings.Index(string(text), `"certificate":"`) + len(`"certificate":"`)
	text[at] ^= 1
	if err := os.WriteFile(file, text, 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := managed(t, newUser, "", "list", "--data", dir); err == nil || !strings.Contains(err.Error(), "the certificate is not the one") {
		t.Errorf("%q, %v", out, err)
	}
}

// TestNoAdminNoNetwork: without an admin the pages are not opened to other
// machines; a rehearsal has nothing to hide.
func TestNoAdminNoNetwork(t *testing.T) {
	cfg := plantWithLogin(t)
	s, err := openStation(t.Context(), cfg, slog.New(slog.DiscardHandler), stationOptions{dir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	defer s.close() // nothing to lose
	for _, address := range []string{"0.0.0.0:0", ":0", "192.0.2.1:0", "box.example:0"} {
		if err := s.listen(address, false); err == nil || !strings.Contains(err.Error(), "bridlewatch user add --role admin NAME") {
			t.Errorf("%s: %v", address, err)
		}
	}
	for _, address := range []string{"127.0.0.1:0", "localhost:0", "[::1]:0"} {
		if err := s.mayListen(address); err != nil {
			t.Errorf("%s: %v", address, err)
		}
	}
	if err := s.access.AddUser(t.Context(), access.Actor{Name: "test"}, access.User{Name: "ruiz", Role: access.Admin}, passphrase); err != nil {
		t.Fatal(err)
	}
	if err := s.mayListen("0.0.0.0:0"); err != nil {
		t.Errorf("with an admin: %v", err)
	}
}
