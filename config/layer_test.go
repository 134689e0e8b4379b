package config_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"bridlewatch/config"

	"github.com/spf13/pflag"
)

// sources of one layered load; empty ones are left out.
type layers struct {
	main  string
	confd map[string]string
	env   []string
	flags []string
}

func (l layers) load(t *testing.T) (*config.Config, error) {
	t.Helper()
	root := fstest.MapFS{"etc/main.yaml": {Data: []byte(l.main)}}
	for name, text := range l.confd {
		root["etc/conf.d/"+name] = &fstest.MapFile{Data: []byte(text)}
	}
	flags := pflag.NewFlagSet("serve", pflag.ContinueOnError)
	flags.String("listen", "127.0.0.1:1", "default of the flag, never effective")
	flags.String("data", "", "")
	flags.Bool("read-only", false, "")
	flags.String("log-level", "debug", "")
	if err := flags.Parse(l.flags); err != nil {
		t.Fatal(err)
	}
	if l.env == nil {
		l.env = []string{}
	}
	return config.Load(config.LoadOptions{File: "etc/main.yaml", Root: root, Flags: flags, Env: l.env})
}

func TestLayers(t *testing.T) {
	for _, test := range []struct {
		name string
		layers
		want func(c *config.Config) bool
	}{
		{"default", layers{}, func(c *config.Config) bool {
			return c.Service.Listen == "127.0.0.1:8080" && c.Service.LogLevel == "info" && c.Store.Dir == "/var/lib/bridlewatch"
		}},
		{"file over default", layers{main: "service: {listen: ':9000'}"},
			func(c *config.Config) bool { return c.Service.Listen == ":9000" }},
		{"environment over file", layers{main: "service: {listen: ':9000'}", env: []string{"BRIDLEWATCH_SERVICE_LISTEN=:9001"}},
			func(c *config.Config) bool { return c.Service.Listen == ":9001" }},
		{"flag over environment", layers{main: "service: {listen: ':9000'}", env: []string{"BRIDLEWATCH_SERVICE_LISTEN=:9001"}, flags: []string{"--listen=:9002"}},
			func(c *config.Config) bool { return c.Service.Listen == ":9002" }},
		{"flag over default", layers{flags: []string{"--data=/data", "--read-only"}},
			func(c *config.Config) bool { return c.Store.Dir == "/data" && c.Service.ReadOnly }},
		{"flag that was not set", layers{main: "service: {log_level: warn}"},
			func(c *config.Config) bool { return c.Service.LogLevel == "warn" }},
		{"environment alone", layers{env: []string{"BRIDLEWATCH_STORE_KEEP_RAW=400 days"}},
			func(c *config.Config) bool { return c.Store.KeepRaw == 400*24*time.Hour }},
		{"environment makes a group", layers{env: []string{
			"BRIDLEWATCH_INFLUX_URL=https://influx.example", "BRIDLEWATCH_INFLUX_ORG=works", "BRIDLEWATCH_INFLUX_BUCKET=levels", "BRIDLEWATCH_INFLUX_TOKEN=env:T", "T=abc",
		}}, func(c *config.Config) bool { return c.Influx != nil && c.Influx.Token.Reveal() == "abc" }},
		{"environment moves a secret", layers{
			main: "influx: {url: 'https://influx.example', org: works, bucket: levels, token: 'env:OLD'}",
			env:  []string{"BRIDLEWATCH_INFLUX_TOKEN=env:NEW", "NEW=abc"},
		}, func(c *config.Config) bool { return c.Influx.Token.Reveal() == "abc" }},
		{"empty variable", layers{main: "service: {external_url: 'https://a.example'}", env: []string{"BRIDLEWATCH_SERVICE_EXTERNAL_URL="}},
			func(c *config.Config) bool { return c.Service.ExternalURL == "" }},
		{"conf.d adds to lists and groups", layers{
			main:  "site: {name: works}\nsources: [{name: a, protocol: history}]",
			confd: map[string]string{"20.yaml": "sources: [{name: c, protocol: history}]", "10.yml": "site: {box: b}\nsources: [{name: b, protocol: history}]", "note.txt": "not: read: at all"},
		}, func(c *config.Config) bool {
			return c.Site.Name == "works" && c.Site.Box == "b" && len(c.Sources) == 3 && c.Sources[1].Name == "b" && c.Sources[2].Name == "c"
		}},
		{"capitals and dots in names", layers{main: "sources: [{name: PLC-1.A, protocol: history}]"},
			func(c *config.Config) bool { return c.Sources[0].Name == "PLC-1.A" }},
	} {
		t.Run(test.name, func(t *testing.T) {
			c, err := test.load(t)
			if err != nil {
				t.Fatal(err)
			}
			if !test.want(c) {
				t.Errorf("not as wanted: %+v", c)
			}
		})
	}
}

func TestProblemsNameTheLayer(t *testing.T) {
	for _, test := range []struct {
		name string
		layers
		want string
	}{
		{"environment", layers{env: []string{"BRIDLEWATCH_SERVICE_SCAN_EVERY=5"}}, "$BRIDLEWATCH_SERVICE_SCAN_EVERY: service.scan_every: \"5\" is no duration"},
		{"flag", layers{flags: []string{"--log-level=loud"}}, `--log-level: service.log_level: "loud" is not one of`},
		{"secret in the environment", layers{
			main: "influx: {url: 'https://influx.example', org: works, bucket: levels}",
			env:  []string{"BRIDLEWATCH_INFLUX_TOKEN=nobody-may-see"},
		}, "$BRIDLEWATCH_INFLUX_TOKEN: influx.token: a secret is never written here"},
		{"two files", layers{main: "site: {box: a}", confd: map[string]string{"a.yaml": "site: {box: b}"}}, "etc/conf.d/a.yaml:1:8: site.box: is given in two files: the other is etc/main.yaml:1:13"},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := test.load(t)
			if err == nil || !strings.HasPrefix(err.Error(), test.want) {
				t.Errorf("error is %v, want %s ...", err, test.want)
			}
			if err != nil && strings.Contains(err.Error(), "nobody-may-see") {
				t.Error("a secret is shown")
			}
		})
	}
}

func TestUnknownVariableIsAdvice(t *testing.T) {
	c, err := layers{
		main: "tokens: [{name: t, value: 'env:BRIDLEWATCH_REPORTS_TOKEN'}]",
		env:  []string{"BRIDLEWATCH_SERVICE_LISEN=:9001", "BRIDLEWATCH_CONFIG=/etc/x", "BRIDLEWATCH_REPORTS_TOKEN=0123456789012345678901234567890123"},
	}.load(t)
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Advice) != 1 || !strings.Contains(c.Advice[0].String(), `did you mean "BRIDLEWATCH_SERVICE_LISTEN"`) {
		t.Errorf("advice is %v", c.Advice)
	}
}

func TestMissingFile(t *testing.T) {
	_, err := config.Load(config.LoadOptions{File: "nowhere.yaml", Root: fstest.MapFS{}})
	var problems config.Errors
	if !errors.As(err, &problems) || problems[0].Place.File != "nowhere.yaml" {
		t.Errorf("error is %v", err)
	}
}

// TestFilesOfTheBox reads from the real file system, as the service does.
func TestFilesOfTheBox(t *testing.T) {
	dir := t.TempDir()
	token := filepath.Join(dir, "token")
	for name, text := range map[string]string{
		"bridlewatch.yaml":   "site: {name: works}\ntokens: [{name: t, value: 'file:" + token + "'}]\n",
		"conf.d/more.yaml":   "sources: [{name: a, protocol: history}]\n",
		"conf.d/more.yaml~":  "not: read\n",
		"conf.d/ignored.txt": "not: read\n",
		"token":              strings.Repeat("t", 40) + "\n",
	} {
		file := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(file), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	t.Setenv("BRIDLEWATCH_SITE_BOX", "box-7")
	c, err := config.Load(config.LoadOptions{File: filepath.Join(dir, "bridlewatch.yaml")})
	if err != nil {
		t.Fatal(err)
	}
	if c.Site.Box != "box-7" || len(c.Sources) != 1 || c.Tokens[0].Value.Reveal() != strings.Repeat("t", 40) {
		t.Errorf("loaded %+v", c)
	}
	if want := filepath.Join(dir, "conf.d", "more.yaml") + ":1:11: sources[a]"; c.Sources[0].Place.String() != want {
		t.Errorf("the source is at %v, want %s", c.Sources[0].Place, want)
	}
}
