package config

import (
	"errors"
	"slices"
	"testing"
)

// loadTree decodes a tree as if it had been read from a file.
func loadTree(root *node) Errors {
	l := newLoader(LoadOptions{Env: []string{}, WithoutSecrets: true})
	l.root = root
	_, err := l.finish()
	var problems Errors
	errors.As(err, &problems)
	return problems
}

// TestNonsenseIsRefusedWhereItStands replaces every value of the reference, one
// at a time, and expects the complaint at its very place. Text is the only
// thing that may say anything.
func TestNonsenseIsRefusedWhereItStands(t *testing.T) {
	root, problems := parseYAML("reference.yaml", Reference())
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	replaced := 0
	walk(root, documentShape().group(), func(e entry, path string, n *node) {
		if n.kind != scalar || e.takes == "text" || e.takes == asName().name {
			return
		}
		replaced++
		nonsense := node{kind: scalar, text: "no such thing", place: n.place}
		if replaced%5 == 0 {
			nonsense = node{kind: mapping, fields: []field{{name: "a", value: &node{kind: scalar, text: "b"}}}, place: n.place}
		}
		kept := *n
		*n = nonsense
		found := loadTree(root)
		*n = kept
		if !slices.ContainsFunc(found, func(p Problem) bool { return p.Place == kept.place }) {
			t.Errorf("%v: %s instead of %q is not refused there: %v", kept.place, nonsense.kind, kept.text, found)
		}
	})
	if replaced < 200 {
		t.Errorf("only %d values were replaced", replaced)
	}
}

// TestLeftOutKeysAreMissed takes every key of the reference out,
// one at a time. What is needed is missed by name, never by a panic.
func TestLeftOutKeysAreMissed(t *testing.T) {
	root, _ := parseYAML("reference.yaml", Reference())
	var leaveOut func(n *node, g *group)
	leaveOut = func(n *node, g *group) {
		for _, e := range g.entries {
			i := indexOf(n.fields, e.name)
			if i < 0 {
				continue
			}
			kept := n.fields
			n.fields = slices.Delete(slices.Clone(kept), i, i+1)
			found := loadTree(root)
			n.fields = kept
			if e.required && len(e.only) == 0 && !slices.ContainsFunc(found, func(p Problem) bool { return p.Place.Path == n.place.below(e.name).Path }) {
				t.Errorf("%v: %s was left out and is not missed: %v", n.place, e.name, found)
			}
			child := kept[i].value
			switch {
			case e.group == nil:
			case e.list:
				for _, item := range child.items {
					leaveOut(item, e.group)
				}
			default:
				leaveOut(child, e.group)
			}
		}
	}
	leaveOut(root, documentShape().group())
}
