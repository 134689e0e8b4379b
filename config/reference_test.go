package config

import (
	"slices"
	"strings"
	"testing"
	"testing/fstest"
)

func loadReference(t *testing.T) *Config {
	t.Helper()
	c, err := Load(LoadOptions{
		File:           "reference.yaml",
		Root:           fstest.MapFS{"reference.yaml": {Data: Reference()}},
		Env:            []string{},
		WithoutSecrets: true,
	})
	if err != nil {
		t.Fatalf("the reference does not load:\n%v", err)
	}
	return c
}

func TestReferenceLoads(t *testing.T) {
	c := loadReference(t)
	if len(c.Gauges) < 5 || len(c.Sources) < 5 {
		t.Errorf("the reference has %d gauges and %d sources", len(c.Gauges), len(c.Sources))
	}
	for _, advice := range c.Advice {
		if strings.Contains(advice.Message, "no signal") || strings.Contains(advice.Message, "one level signal") {
			continue // some gauges stand there for their fluid alone
		}
		t.Errorf("the reference is unusual: %v", advice)
	}
}

// TestReferenceMentionsEveryKey walks the reference beside the table of keys:
// every key stands in it, and what is marked as a default is the default.
func TestReferenceMentionsEveryKey(t *testing.T) {
	root, problems := parseYAML("reference.yaml", Reference())
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	lines := strings.Split(string(Reference()), "\n")
	var seen, stated []string
	walk(root, documentShape().group(), func(e entry, path string, n *node) {
		seen = append(seen, path)
		_, comment, _ := strings.Cut(lines[n.place.Line-1], "# ")
		if e.preset != "" && strings.Contains(comment, e.preset+" unless given") {
			stated = append(stated, path)
		}
		if !strings.HasPrefix(comment, "default") {
			return
		}
		stated = append(stated, path)
		got := n.text
		if n.kind == sequence {
			var items []string
			for _, item := range n.items {
				items = append(items, item.text)
			}
			got = strings.Join(items, ", ")
		}
		if got != e.preset {
			t.Errorf("%v: stated as the default is %q, it is %q", n.place, got, e.preset)
		}
	})
	keys(documentShape().group(), "", func(e entry, path string) {
		if !slices.Contains(seen, path) {
			t.Errorf("%s is not in the reference", path)
		}
		if e.preset != "" && !slices.Contains(stated, path) {
			t.Errorf("%s: the default %q is not stated in the reference", path, e.preset)
		}
	})
}

// walk visits every key of the tree that the table knows. Paths have no list
// indices, and what may stand in several places counts once.
func walk(n *node, g *group, visit func(e entry, path string, n *node)) {
	walkAt(n, g, "", visit)
}

func walkAt(n *node, g *group, path string, visit func(e entry, path string, n *node)) {
	for _, e := range g.entries {
		child := n.field(e.name)
		if child == nil {
			continue
		}
		at := join(path, e.name)
		visit(e, canonical(at), child)
		switch {
		case e.group == nil:
		case e.list:
			for _, item := range child.items {
				walkAt(item, e.group, at, visit)
			}
		default:
			walkAt(child, e.group, at, visit)
		}
	}
}

func keys(g *group, path string, visit func(e entry, path string)) {
	for _, e := range g.entries {
		at := join(path, e.name)
		visit(e, canonical(at))
		if e.group != nil {
			keys(e.group, at, visit)
		}
	}
}

// canonical joins the paths of groups that are alike wherever they stand.
func canonical(path string) string {
	if i := strings.LastIndex(path, ".signal."); i >= 0 {
		return "signal." + path[i+len(".signal."):]
	}
	path = strings.Replace(path, ".upper.", ".", 1)
	path = strings.Replace(path, ".parts.fluid.", ".", 1)
	return strings.Replace(path, "gauges.second_transmitter.", "gauges.transmitter.", 1)
}
