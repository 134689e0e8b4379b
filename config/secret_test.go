package config_test

import (
	"bytes"
	"encoding/gob"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io/fs"
	"log/slog"
	"strings"
	"testing"
	"testing/fstest"

	"bridlewatch/config"

	"github.com/goccy/go-yaml"
)

const hidden = "nobody-may-see-this-value-in-print"

// withSecrets is a configuration that holds the value in every place there is.
func withSecrets(t *testing.T) *config.Config {
	t.Helper()
	const text = `
influx: {url: "https://influx.example", org: works, bucket: levels, token: "env:S"}
sources:
  - {name: dcs, protocol: opc-ua, endpoint: "opc.tcp://192.0.2.20:4840", user: me, password: "file:secrets/dcs"}
notify:
  - {name: a, kind: webhook, url: "https://desk.example", secret: "credential:hook", user: me, password: "env:S", token: "env:S"}
users:
  - {name: me, role: admin, password_hash: "env:H"}
tokens:
  - {name: t, value: "env:S"}
`
	c, err := config.Load(config.LoadOptions{
		File: "main.yaml",
		Root: fstest.MapFS{
			"main.yaml":      {Data: []byte(text)},
			"secrets/dcs":    {Data: []byte(hidden + "\n")},
			"run/creds/hook": {Data: []byte(hidden)},
		},
		Env: []string{"S=" + hidden, "H=$argon2id$" + hidden, "CREDENTIALS_DIRECTORY=run/creds"},
	})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestSecretsAreRead(t *testing.T) {
	c := withSecrets(t)
	for _, s := range []config.Secret{c.Influx.Token, c.Sources[0].Password, c.Notify[0].Secret, c.Notify[0].Token, c.Tokens[0].Value} {
		if s.Reveal() != hidden {
			t.Errorf("%s is %q", s.Reference, s.Reveal())
		}
	}
}

// wrapped holds a secret where no printer can call its methods.
type wrapped struct {
	inner struct{ secret config.Secret }
}

func TestNoPrinterShowsASecret(t *testing.T) {
	c := withSecrets(t)
	var w wrapped
	w.inner.secret = c.Influx.Token
	logged := func(handler func(*bytes.Buffer) slog.Handler) func(any) string {
		return func(v any) string {
			var out bytes.Buffer
			slog.New(handler(&out)).Info("secret", "value", v)
			return out.String()
		}
	}
	printers := map[string]func(any) string{
		"%v":        func(v any) string { return fmt.Sprintf("%v", v) },
		"%+v":       func(v any) string { return fmt.Sprintf("%+v", v) },
		"%#v":       func(v any) string { return fmt.Sprintf("%#v", v) },
		"%s":        func(v any) string { return fmt.Sprintf("%s", v) },
		"%q":        func(v any) string { return fmt.Sprintf("%q", v) },
		"%x":        func(v any) string { return fmt.Sprintf("%x", v) },
		"Println":   func(v any) string { return fmt.Sprintln(v) },
		"json":      func(v any) string { b, _ := json.Marshal(v); return string(b) },
		"xml":       func(v any) string { b, _ := xml.Marshal(v); return string(b) },
		"yaml":      func(v any) string { b, _ := yaml.Marshal(v); return string(b) },
		"gob":       func(v any) string { var b bytes.Buffer; _ = gob.NewEncoder(&b).Encode(v); return b.String() },
		"slog text": logged(func(b *bytes.Buffer) slog.Handler { return slog.NewTextHandler(b, nil) }),
		"slog json": logged(func(b *bytes.Buffer) slog.Handler { return slog.NewJSONHandler(b, nil) }),
		"Print": func(v any) string {
			var b bytes.Buffer
			if c, ok := v.(*config.Config); ok {
				if err := config.Print(c, &b); err != nil {
					t.Error(err)
				}
			}
			return b.String()
		},
	}
	values := map[string]any{
		"secret": c.Influx.Token, "pointer": &c.Influx.Token, "influx": c.Influx, "source": c.Sources[0], "list": c.Notify,
		"config": c, "config value": *c, "unexported": w, "map": map[string]config.Secret{"a": c.Influx.Token},
	}
	for printer, show := range printers {
		for name, v := range values {
			text := show(v)
			if strings.Contains(text, hidden) || strings.Contains(text, fmt.Sprintf("%x", hidden)) {
				t.Errorf("%s of %s shows the secret: %s", printer, name, text)
			}
		}
	}
	if text := fmt.Sprint(c.Influx.Token); text != "<secret from env:S>" {
		t.Errorf("a secret prints as %q", text)
	}
}

func TestSecretEqual(t *testing.T) {
	a, b := withSecrets(t).Influx.Token, withSecrets(t).Influx.Token
	if !a.Equal(b) || a.IsZero() || !(config.Secret{}).IsZero() || a.Equal(config.Secret{Reference: "env:S"}) {
		t.Error("secrets are compared wrongly")
	}
}

func TestWithoutSecretsOnlyReferencesAreChecked(t *testing.T) {
	load := func(token string) error {
		_, err := config.Load(config.LoadOptions{
			File:           "main.yaml",
			Root:           fstest.MapFS{"main.yaml": {Data: []byte("tokens: [{name: t, value: '" + token + "'}]")}},
			Env:            []string{},
			WithoutSecrets: true,
		})
		return err
	}
	if err := load("env:ABSENT"); err != nil {
		t.Error(err)
	}
	if err := load("literal"); err == nil {
		t.Error("a literal secret was accepted")
	}
}

func TestExposedSecretFileIsAdvice(t *testing.T) {
	load := func(mode fs.FileMode) []config.Problem {
		c, err := config.Load(config.LoadOptions{
			File: "main.yaml",
			Root: fstest.MapFS{
				"main.yaml": {Data: []byte("tokens: [{name: t, value: 'file:token'}]")},
				"token":     {Data: []byte(hidden), Mode: mode},
			},
			Env: []string{},
		})
		if err != nil {
			t.Fatal(err)
		}
		return c.Advice
	}
	if advice := load(0o640); len(advice) != 0 {
		t.Errorf("mode 0640: %v", advice)
	}
	want := "main.yaml:1:27: tokens[t].value: token can be read by everybody on this box (mode 0644): chmod o-r"
	if advice := load(0o644); len(advice) != 1 || advice[0].String() != want {
		t.Errorf("mode 0644: %v, want %s", advice, want)
	}
}
