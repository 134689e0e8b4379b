package config

import (
	"fmt"
	"slices"
	"strings"

	"bridlewatch/compare/quantity"

	"github.com/goccy/go-yaml"
)

// entry is what a key is called, what it means and what it takes. The strict
// reader, the printer, the JSON Schema and the check of the reference file all
// work from the same entries, so they cannot come to differ.
type entry struct {
	name     string
	doc      string         // one sentence
	takes    string         // what may be written
	types    []string       // JSON types
	hints    map[string]any // further JSON Schema keywords
	words    []string       // when it is one of a list
	preset   string         // default as it would be written; "" for none
	required bool
	only     []string // kinds of the group this key belongs to; empty: all
	flag     string   // command-line flag that overrides it
	group    *group   // keys below
	list     bool     // a list of groups or values
	inherent bool     // a group that is there, with its defaults, even when not written
}

// group is the untyped part of a shape.
type group struct {
	name    string
	decides string // the key that decides which others belong
	entries []entry
}

// key is an entry that knows where its value lives in T.
type key[T any] struct {
	entry
	read  func(d *decoder, n *node, into *T)
	write func(from *T) (value any, given bool)
}

// shape is the keys of one group.
type shape[T any] struct {
	name    string
	keys    []key[T]
	decides string          // name of the key that decides which others belong
	kind    func(*T) string // its value
	begin   func(*T, *node) // told where the group was written
}

func (s shape[T]) group() *group {
	g := &group{name: s.name, decides: s.decides}
	for _, k := range s.keys {
		g.entries = append(g.entries, k.entry)
	}
	return g
}

func (k key[T]) need() key[T]                   { k.required = true; return k }
func (k key[T]) otherwise(preset string) key[T] { k.preset = preset; return k }
func (k key[T]) byFlag(name string) key[T]      { k.flag = name; return k }
func (k key[T]) onlyFor(kinds ...string) key[T] { k.only = kinds; return k }

// value is a key with one value.
func value[T any, F comparable](name, doc string, f format[F], at func(*T) *F) key[T] {
	return key[T]{
		entry: entry{name: name, doc: doc, takes: f.name, types: f.types, hints: f.hints, words: wordsOf(f.name)},
		read: func(d *decoder, n *node, into *T) {
			if v, ok := readScalar(d, n, f); ok {
				*at(into) = v
			}
		},
		write: func(from *T) (any, bool) {
			var zero F
			v := *at(from)
			return f.print(v), v != zero
		},
	}
}

func wordsOf(takes string) []string {
	list, found := strings.CutPrefix(takes, "one of ")
	if !found {
		return nil
	}
	return strings.Split(list, ", ")
}

// maybe is a key with one value where leaving it out differs from zero.
func maybe[T any, F comparable](name, doc string, f format[F], at func(*T) **F) key[T] {
	return key[T]{
		entry: entry{name: name, doc: doc, takes: f.name, types: f.types, hints: f.hints},
		read: func(d *decoder, n *node, into *T) {
			if v, ok := readScalar(d, n, f); ok {
				*at(into) = &v
			}
		},
		write: func(from *T) (any, bool) {
			v := *at(from)
			if v == nil {
				return nil, false
			}
			return f.print(*v), true
		},
	}
}

// values is a key with a list of values; a single one may stand for itself.
func values[T any, F any](name, doc string, f format[F], at func(*T) *[]F) key[T] {
	return key[T]{
		entry: entry{name: name, doc: doc, takes: "list of " + f.name, types: f.types, hints: f.hints, list: true},
		read: func(d *decoder, n *node, into *T) {
			items := n.items
			if n.kind == scalar {
				items = []*node{n}
			} else if n.kind != sequence {
				d.report(n.place, "must be a list of %s, it is %s", f.name, n.kind)
				return
			}
			list := []F{}
			for _, item := range items {
				if v, ok := readScalar(d, item, f); ok {
					list = append(list, v)
				}
			}
			*at(into) = list
		},
		write: func(from *T) (any, bool) {
			list := []any{}
			for _, v := range *at(from) {
				list = append(list, f.print(v))
			}
			return list, len(list) > 0
		},
	}
}

func readScalar[F any](d *decoder, n *node, f format[F]) (v F, ok bool) {
	if n.kind != scalar {
		d.report(n.place, "must be %s; it is %s", f.name, n.kind)
		return v, false
	}
	v, err := f.read(d, n.text)
	if err != nil {
		d.report(n.place, "%v", err)
		return v, false
	}
	return v, true
}

// within is a key with a group of keys below that is always there.
func within[T, O any](name, doc string, s shape[O], at func(*T) *O) key[T] {
	return key[T]{
		entry: entry{name: name, doc: doc, takes: "group", types: []string{"object"}, group: s.group(), inherent: true},
		read:  func(d *decoder, n *node, into *T) { readShape(d, n, s, at(into)) },
		write: func(from *T) (any, bool) {
			out := writeShape(s, at(from))
			return out, len(out) > 0
		},
	}
}

// perhaps is a key with a group of keys below that may be left out.
func perhaps[T, O any](name, doc string, s shape[O], at func(*T) **O) key[T] {
	k := within(name, doc, s, func(t *T) *O {
		if *at(t) == nil {
			*at(t) = new(O)
		}
		return *at(t)
	})
	k.inherent = false
	write := k.write
	k.write = func(from *T) (any, bool) {
		if *at(from) == nil {
			return nil, false
		}
		return write(from)
	}
	return k
}

// several is a key with a list of groups.
func several[T, O any](name, doc string, s shape[O], at func(*T) *[]O) key[T] {
	return key[T]{
		entry: entry{name: name, doc: doc, takes: "list", types: []string{"array"}, group: s.group(), list: true},
		read: func(d *decoder, n *node, into *T) {
			if n.kind == null {
				return
			}
			if n.kind != sequence {
				d.report(n.place, "must be a list (lines beginning with -); it is %s", n.kind)
				return
			}
			list := make([]O, len(n.items))
			for i, item := range n.items {
				readShape(d, item, s, &list[i])
			}
			*at(into) = list
		},
		write: func(from *T) (any, bool) {
			list := []yaml.MapSlice{}
			for i := range *at(from) {
				list = append(list, writeShape(s, &(*at(from))[i]))
			}
			return list, len(list) > 0
		},
	}
}

// decoder reads nodes into values and collects everything that is wrong.
type decoder struct {
	problems   Errors
	advice     Errors
	atmosphere quantity.Pressure // of the site, for gauge pressures
	vault      vault
}

func (d *decoder) report(at Place, format string, args ...any) {
	d.problems = append(d.problems, Problem{at, fmt.Sprintf(format, args...)})
}

func (d *decoder) advise(at Place, format string, args ...any) {
	d.advice = append(d.advice, Problem{at, fmt.Sprintf(format, args...)})
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
	reportUnknown(d, n, s.group())
	for _, k := range s.keys {
		if given := n.field(k.name); given != nil && (given.kind != null || k.group != nil) {
			k.read(d, given, into)
		}
	}
	kind := ""
	if s.kind != nil {
		kind = s.kind(into)
		if kind == "" {
			kind = presetOf(s, into, d, n)
		}
	}
	for _, k := range s.keys {
		given := n.field(k.name)
		belongs := len(k.only) == 0 || slices.Contains(k.only, kind)
		switch {
		case given != nil && given.kind != null:
			if !belongs && kind != "" {
				d.report(keyPlace(n, k.name), "belongs to %s only; here %s is %s", orList(k.only), s.decides, kind)
			}
		case given != nil && k.group != nil:
		case !belongs:
		case k.required:
			d.report(n.place.below(k.name), "is missing: %s (%s)", strings.TrimSuffix(lowerFirst(k.doc), "."), k.takes)
		case k.preset != "":
			k.read(d, presetNode(k.entry, n), into)
		case k.inherent && given == nil && len(missing(k.group)) > 0:
			d.report(n.place.below(k.name), "is missing: %s, with at least %s", strings.TrimSuffix(lowerFirst(k.doc), "."), andList(missing(k.group)))
		case k.inherent:
			k.read(d, presetNode(k.entry, n), into)
		}
	}
}

// presetOf fills in the default of the key that decides the others, so that
// they can be judged by it.
func presetOf[T any](s shape[T], into *T, d *decoder, n *node) string {
	for _, k := range s.keys {
		if k.name == s.decides && k.preset != "" && n.field(k.name) == nil {
			k.read(d, presetNode(k.entry, n), into)
		}
	}
	return s.kind(into)
}

func reportUnknown(d *decoder, n *node, g *group) {
	names := make([]string, len(g.entries))
	for i, e := range g.entries {
		names[i] = e.name
	}
	for _, f := range n.fields {
		if !slices.Contains(names, f.name) {
			d.report(f.place, "unknown key %q%s", f.name, didYouMean(f.name, names))
		}
	}
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
		if v != nil && (given || k.preset != "" && v != "") {
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

func orList(words []string) string  { return listed(words, " or ") }
func andList(words []string) string { return listed(words, " and ") }

func listed(words []string, last string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + last + words[len(words)-1]
}

func lowerFirst(s string) string {
	if s == "" || len(s) > 1 && s[1] >= 'A' && s[1] <= 'Z' {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

// didYouMean returns `; did you mean "x"?` for the nearest of the names, or
// nothing when none is near.
func didYouMean(word string, names []string) string {
	best, least := "", len(word)/3+2
	for _, name := range names {
		if d := distance(word, name); d < least {
			best, least = name, d
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf("; did you mean %q?", best)
}

// distance is the number of letters to insert, remove or replace.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := 1
			if a[i] == b[j] {
				cost = 0
			}
			diagonal, row[j+1] = row[j+1], min(row[j]+1, row[j+1]+1, diagonal+cost)
		}
	}
	return row[len(b)]
}
