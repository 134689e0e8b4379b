package config

import (
	"slices"
	"strings"

	"bridlewatch/compare/quantity"

	"github.com/goccy/go-yaml"
)

// decoder reads nodes into values and collects everything that is wrong.
type decoder struct {
	problems   Errors
	advice     Errors
	atmosphere quantity.Pressure // of the site, for gauge pressures
	vault      vault
	here       Place // of the value being read
}

func (d *decoder) report(at Place, format string, args ...any) {
	d.problems = append(d.problems, problem(at, format, args...))
}

func (d *decoder) advise(at Place, format string, args ...any) {
	d.advice = append(d.advice, problem(at, format, args...))
}

// measure reads a value with its unit.
func (d *decoder) measure(kind quantity.Kind, s string) (float64, error) {
	switch kind {
	case quantity.KindPressure:
		p, err := quantity.ParsePressure(s, d.atmosphere)
		return float64(p), err
	case quantity.KindLength:
		l, err := quantity.ParseLength(s)
		return float64(l), err
	}
	return quantity.Parse(kind, s)
}

// readShape reads a group: unknown keys, missing keys and keys of another kind
// are reported, defaults are filled in.
func readShape[T any](d *decoder, n *node, s shape[T], into *T) {
	if s.begin != nil {
		s.begin(into, n)
	}
	if n.kind == null {
		n = &node{kind: mapping, place: n.place}
	}
	if n.kind != mapping {
		d.report(n.place, "must be a group of keys; it is %s", n.kind)
		return
	}
	reportUnknown(d, n, s.keys)
	for _, k := range s.keys {
		if given := n.field(k.name); given != nil && (given.kind != null || k.group != nil) {
			k.read(d, given, into)
		}
	}
	kind := decided(d, n, s, into)
	for _, k := range s.keys {
		belongs := len(k.only) == 0 || slices.Contains(k.only, kind)
		switch given := n.field(k.name); {
		case given != nil && given.kind != null:
			judge(d, k.entry, given)
			if !belongs && kind != "" {
				d.report(keyPlace(n, k.name), "belongs to %s only; here %s is %s", orList(k.only), s.decides, kind)
			}
		case belongs && (given == nil || k.group == nil):
			fillIn(d, n, k, kind, into)
		}
	}
}

// decided returns the kind of a group, by its default where it is not given.
func decided[T any](d *decoder, n *node, s shape[T], into *T) string {
	if s.kind == nil {
		return ""
	}
	for _, k := range s.keys {
		if k.name == s.decides && k.preset != "" && n.field(k.name) == nil {
			k.read(d, presetNode(k.entry, n), into)
		}
	}
	return s.kind(into)
}

// judge refuses an empty text where one is needed.
func judge(d *decoder, e entry, given *node) {
	if e.required && given.kind == scalar && given.text == "" {
		d.report(given.place, "must not be empty: %s", e.inShort())
	}
}

// fillIn gives a key that was not written its default, or reports that it has
// none.
func fillIn[T any](d *decoder, n *node, k key[T], kind string, into *T) {
	at := n.place.below(k.name)
	switch {
	case k.required && !slices.Contains(k.spared, kind):
		d.report(at, "is missing: %s (%s)", k.inShort(), k.takes)
	case k.inherent && len(missing(k.group)) > 0:
		d.report(at, "is missing: %s, with at least %s", k.inShort(), andList(missing(k.group)))
	case k.preset != "", k.inherent:
		k.read(d, presetNode(k.entry, n), into)
	}
}

// inShort is the sentence of a key as part of another one.
func (e entry) inShort() string { return strings.TrimSuffix(lowerFirst(e.doc), ".") }

func reportUnknown[T any](d *decoder, n *node, keys []key[T]) {
	for _, f := range n.fields {
		if slices.ContainsFunc(keys, func(k key[T]) bool { return k.name == f.name }) {
			continue
		}
		names := make([]string, len(keys))
		for i := range keys {
			names[i] = keys[i].name
		}
		hint := didYouMean(f.name, names)
		if groups := groupsWith(f.name, keys); len(groups) > 0 {
			hint = "; it belongs under " + orList(groups)
		}
		if strings.Trim(f.name, "0123456789") == "" {
			hint = "; a number is written with a decimal point"
		}
		d.report(f.place, "unknown key %q%s", f.name, hint)
	}
}

// groupsWith lists the groups of a group in which a key stands: one level too
// high is the usual slip.
func groupsWith[T any](name string, keys []key[T]) (groups []string) {
	for _, k := range keys {
		if k.group != nil && slices.ContainsFunc(k.group.entries, func(e entry) bool { return e.name == name }) {
			groups = append(groups, k.name)
		}
	}
	return groups
}

func keyPlace(n *node, name string) Place {
	if i := indexOf(n.fields, name); i >= 0 {
		return n.fields[i].place
	}
	return n.place
}

// presetNode is a default as if it had been written in the group.
func presetNode(e entry, in *node) *node {
	at := in.place.below(e.name)
	switch {
	case e.group != nil:
		return &node{kind: mapping, place: at}
	case e.list:
		out := &node{kind: sequence, place: at}
		for _, item := range strings.Split(e.preset, ", ") {
			out.items = append(out.items, &node{kind: scalar, text: item, place: at})
		}
		return out
	}
	return &node{kind: scalar, text: e.preset, place: at}
}

// writeShape prints a group: every key that is set or has a default.
func writeShape[T any](s shape[T], from *T) yaml.MapSlice {
	out := yaml.MapSlice{}
	kind := ""
	if s.kind != nil {
		kind = s.kind(from)
	}
	for _, k := range s.keys {
		if len(k.only) > 0 && !slices.Contains(k.only, kind) {
			continue
		}
		v, given := k.write(from)
		required := k.required && !slices.Contains(k.spared, kind)
		if v != nil && (given || required || k.preset != "" && v != "") {
			out = append(out, yaml.MapItem{Key: k.name, Value: v})
		}
	}
	return out
}

// missing lists the keys a group cannot do without.
func missing(g *group) []string {
	var names []string
	for _, e := range g.entries {
		if e.required && len(e.only) == 0 {
			names = append(names, e.name)
		}
	}
	return names
}
