package main

import (
	"context"
	"io"
	"log"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

// A service whose certificate is unknown here answers all the same, and one
// that is asked without encryption says so in its own words.
func TestAskBehindCertificate(t *testing.T) {
	server := httptest.NewUnstartedServer(http.NotFoundHandler())
	server.Config.ErrorLog = log.New(io.Discard, "", 0)
	server.StartTLS()
	defer server.Close()

	for _, test := range []struct {
		address, want string
		code          int
	}{
		{server.URL, "is not trusted here (x509: certificate signed by unknown authority); name its file in $SSL_CERT_FILE", exitUnreachable},
		{strings.Replace(server.URL, "https:", "http:", 1), "answered 400 Bad Request: Client sent an HTTP request to an HTTPS server.", exitFailed},
	} {
		var said strings.Builder
		if code := run(context.Background(), []string{"visits", "--server", test.address}, io.Discard, &said); code != test.code {
			t.Errorf("%s: exit code %d, want %d", test.address, code, test.code)
		}
		if !strings.Contains(said.String(), test.want) || strings.Contains(said.String(), "no service answers") {
			t.Errorf("%s: %s, want %q", test.address, said.String(), test.want)
		}
	}
}
