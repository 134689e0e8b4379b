package config

import (
	"strings"

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
	spared   []string // kinds of the group that can do without a required key
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

func (k key[T]) need() key[T]                        { k.required = true; return k }
func (k key[T]) otherwise(preset string) key[T]      { k.preset = preset; return k }
func (k key[T]) byFlag(name string) key[T]           { k.flag = name; return k }
func (k key[T]) notNeededFor(kinds ...string) key[T] { k.spared = kinds; return k }
func (k key[T]) onlyFor(kinds ...string) key[T]      { k.only = kinds; return k }

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
	d.here = n.place
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
