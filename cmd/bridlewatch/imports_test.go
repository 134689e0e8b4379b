package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"os/exec"
	"strings"
	"testing"
)

// rule allows packages whose path begins with one of From to import only those
// whose path begins with one of Allow. Paths are below the module.
type rule struct {
	name   string
	from   string
	except []string // packages below from that another rule covers
	allow  []string // packages of ours
	deny   []string // packages of others, and of the standard library
	why    string
}

var engines = []string{"modernc.org/", "github.com/parquet-go/", "github.com/influxdata/"}

var rules = []rule{
	{
		name: "compare", from: "compare", allow: []string{"compare"},
		deny: append([]string{"os", "net", "log", "log/slog", "sync", "math/rand", "math/rand/v2", "os/exec", "io/ioutil", "database/sql", "github.com/goburrow/", "github.com/gopcua/"}, engines...),
		why:  "physics and detection are pure: no I/O, no log, no clock, no chance, one goroutine",
	},
	{
		name: "quantity", from: "compare/quantity", allow: []string{"compare/quantity"},
		why: "everything rests on it",
	},
	{
		name: "collector vocabulary", from: "collector", except: []string{"collector/modbus", "collector/opcua", "collector/mqtt", "collector/dropfolder", "collector/store"},
		allow: []string{"collector", "compare/quantity"},
		deny:  append([]string{"github.com/goburrow/", "github.com/gopcua/", "github.com/eclipse/"}, engines...),
		why:   "protocol libraries stay in their own packages",
	},
	{
		name: "modbus", from: "collector/modbus", allow: []string{"collector", "compare/quantity"},
		deny: append([]string{"github.com/gopcua/"}, engines...), why: "one protocol, one package",
	},
	{
		name: "opc ua", from: "collector/opcua", allow: []string{"collector", "compare/quantity"},
		deny: append([]string{"github.com/goburrow/"}, engines...), why: "one protocol, one package",
	},
	{
		name: "mqtt", from: "collector/mqtt", allow: []string{"collector", "compare/quantity"},
		deny: append([]string{"github.com/goburrow/", "github.com/gopcua/"}, engines...), why: "one protocol, one package",
	},
	{
		name: "drop folder", from: "collector/dropfolder", allow: []string{"collector", "compare/quantity"},
		deny: append([]string{"net", "github.com/goburrow/", "github.com/gopcua/", "github.com/eclipse/"}, engines...), why: "a folder is no network",
	},
	{
		name: "store", from: "collector/store", allow: []string{"collector/store"},
		deny: []string{"github.com/goburrow/", "github.com/gopcua/"}, why: "the store knows neither gauges nor protocols",
	},
	{
		name: "config", from: "config", allow: []string{"config", "compare/quantity", "compare/datasheet", "compare/pipe", "collector/signal"},
		deny: append([]string{"net/http", "github.com/goburrow/", "github.com/gopcua/"}, engines...), why: "a configuration is values, it opens nothing",
	},
	{
		name: "dashboards", from: "dashboards", allow: []string{"dashboards", "compare", "collector/store"},
		deny: append([]string{"github.com/goburrow/", "github.com/gopcua/"}, engines...), why: "pages see vocabulary and history, not protocols",
	},
	{
		name: "commands", from: "cmd", except: []string{"cmd/bridlewatch/rehearsal"}, allow: []string{"cmd", "collector", "compare", "config", "dashboards"},
		deny: append([]string{"github.com/goburrow/", "github.com/gopcua/"}, engines...), why: "only the rehearsal plant speaks the protocols from the other side",
	},
}

type listed struct {
	ImportPath string
	Imports    []string
}

// TestImportsFollowTheMap reads what every package imports and holds it
// against the rules, so that the direction in DEVELOPERS.md stays true.
func TestImportsFollowTheMap(t *testing.T) {
	packages := listPackages(t)
	for _, r := range rules {
		t.Run(r.name, func(t *testing.T) {
			seen := 0
			for _, p := range packages {
				if !below(p.ImportPath, r.from) || anyBelow(p.ImportPath, r.except) {
					continue
				}
				seen++
				for _, bad := range r.violations(p) {
					t.Errorf("%s imports %s: %s", p.ImportPath, bad, r.why)
				}
			}
			if seen == 0 {
				t.Errorf("no package below %q: the rule guards nothing", r.from)
			}
		})
	}
}

func TestAViolationIsSeen(t *testing.T) {
	p := listed{ImportPath: "bridlewatch/compare/symptom", Imports: []string{"time", "os", "bridlewatch/collector", "bridlewatch/compare/gauge"}}
	got := rules[0].violations(p)
	if len(got) != 2 || got[0] != "os" || got[1] != "bridlewatch/collector" {
		t.Errorf("violations %q, want os and bridlewatch/collector", got)
	}
}

func (r rule) violations(p listed) []string {
	var bad []string
	for _, imp := range p.Imports {
		switch {
		case strings.HasPrefix(imp, "bridlewatch/"):
			if !anyBelow(imp, r.allow) {
				bad = append(bad, imp)
			}
		case denied(imp, r.deny):
			bad = append(bad, imp)
		}
	}
	return bad
}

func denied(imp string, deny []string) bool {
	for _, d := range deny {
		if imp == d || strings.HasSuffix(d, "/") && strings.HasPrefix(imp, d) {
			return true
		}
	}
	return false
}

func below(path, dir string) bool {
	full := "bridlewatch/" + dir
	return path == full || strings.HasPrefix(path, full+"/")
}

func anyBelow(path string, dirs []string) bool {
	for _, d := range dirs {
		if below(path, d) {
			return true
		}
	}
	return false
}

func listPackages(t *testing.T) []listed {
	t.Helper()
	out, err := exec.Command("go", "list", "-pgo=off", "-json=ImportPath,Imports", "bridlewatch/...").Output()
	if err != nil {
		var exit *exec.ExitError
		if errors.As(err, &exit) {
			t.Fatalf("go list: %v\n%s", err, exit.Stderr)
		}
		t.Fatal(err)
	}
	var packages []listed
	for dec := json.NewDecoder(bytes.NewReader(out)); ; {
		var p listed
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			return packages
		} else if err != nil {
			t.Fatal(err)
		}
		packages = append(packages, p)
	}
}
