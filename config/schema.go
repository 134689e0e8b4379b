package config

import (
	"bytes"
	"encoding/json"
	"maps"
	"slices"
	"strings"
)

// Schema returns the JSON Schema (draft 2020-12) of a configuration file, for
// editors. It is made of the same table of keys as the reader. It says which
// keys there are and what may stand behind them; units, references and
// physics are judged by Load alone.
func Schema() []byte {
	w := schemaWriter{defs: map[string]any{}}
	root := w.group(documentShape().group())
	root["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	root["title"] = "bridlewatch configuration"
	root["$defs"] = w.defs
	var out bytes.Buffer
	enc := json.NewEncoder(&out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(root); err != nil {
		panic(err) // maps of strings always encode
	}
	return out.Bytes()
}

// schemaWriter keeps every kind of group once, under its name.
type schemaWriter struct{ defs map[string]any }

func (w schemaWriter) group(g *group) map[string]any {
	properties := map[string]any{}
	var required []string
	for _, e := range g.entries {
		properties[e.name] = w.entry(e)
		if e.required && len(e.only) == 0 || e.inherent && len(missing(e.group)) > 0 {
			required = append(required, e.name)
		}
	}
	s := map[string]any{"type": "object", "additionalProperties": false, "properties": properties}
	if len(required) > 0 {
		s["required"] = required
	}
	if rules := conditions(g); len(rules) > 0 {
		s["allOf"] = rules
	}
	return s
}

// reference returns where the schema of a group is kept. A group that is
// nothing but optional keys may also be left empty.
func (w schemaWriter) reference(g *group) map[string]any {
	name := strings.ReplaceAll(g.name, " ", "-")
	if _, written := w.defs[name]; !written {
		w.defs[name] = w.group(g)
	}
	return map[string]any{"$ref": "#/$defs/" + name}
}

func (w schemaWriter) entry(e entry) map[string]any {
	var s map[string]any
	switch {
	case e.group != nil && e.list:
		s = map[string]any{"type": []string{"array", "null"}, "items": w.reference(e.group)}
	case e.group != nil && len(missing(e.group)) > 0:
		s = w.reference(e.group)
	case e.group != nil:
		s = map[string]any{"anyOf": []any{w.reference(e.group), map[string]any{"type": "null"}}}
	case e.list:
		item := map[string]any{"type": only(e.types)}
		maps.Copy(item, e.hints)
		s = map[string]any{"anyOf": []any{item, map[string]any{"type": "array", "items": item}}}
	case e.words != nil:
		s = map[string]any{"enum": e.words}
	default:
		s = map[string]any{"type": only(e.types)}
		maps.Copy(s, e.hints)
	}
	s["description"] = describe(e)
	if e.preset != "" && !e.list {
		s["default"] = e.preset
	}
	return s
}

// only is the type itself where there is one.
func only(types []string) any {
	if len(types) == 1 {
		return types[0]
	}
	return types
}

func describe(e entry) string {
	text := e.doc
	if e.group == nil && e.words == nil {
		text += " Takes: " + e.takes + "."
	}
	if len(e.only) > 0 {
		text += " Only for " + orList(e.only) + "."
	}
	if e.preset != "" {
		text += " Default: " + e.preset + "."
	}
	return text
}

// conditions forbid and demand keys by the key that decides: a radar has no
// leg density.
func conditions(g *group) []any {
	var rules []any
	for _, kind := range kindsOf(g) {
		then := map[string]any{}
		var required []string
		forbidden := map[string]any{}
		for _, e := range g.entries {
			switch belongs := slices.Contains(e.only, kind); {
			case len(e.only) == 0:
			case !belongs:
				forbidden[e.name] = false
			case e.required && !slices.Contains(e.spared, kind):
				required = append(required, e.name)
			}
		}
		if len(forbidden) > 0 {
			then["properties"] = forbidden
		}
		if len(required) > 0 {
			then["required"] = required
		}
		if len(then) > 0 {
			rules = append(rules, map[string]any{
				"if": map[string]any{
					"properties": map[string]any{g.decides: map[string]any{"const": kind}},
					"required":   []string{g.decides},
				},
				"then": then,
			})
		}
	}
	return rules
}

func kindsOf(g *group) []string {
	for _, e := range g.entries {
		if e.name == g.decides {
			return e.words
		}
	}
	return nil
}
