package config

import (
	"fmt"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
)

// Change is one difference between two configurations.
type Change struct {
	Path          string // "gauges[LG-101].float.mass"
	Before, After string // as written in a configuration; "" where it was not or is no longer given
	Whole         bool   // a list entry or group came or went as a whole
	Secret        bool   // the reference is the same, what it refers to has changed
}

// String says in words what has changed.
func (c Change) String() string {
	switch {
	case c.Secret:
		return fmt.Sprintf("%s: the secret behind %s has changed", c.Path, c.After)
	case c.Whole && c.Before == "":
		return c.Path + ": is new"
	case c.Whole:
		return c.Path + ": is gone"
	case c.Before == "":
		return fmt.Sprintf("%s: is now %s, was not given", c.Path, c.After)
	case c.After == "":
		return fmt.Sprintf("%s: is no longer given, was %s", c.Path, c.Before)
	}
	return fmt.Sprintf("%s: is now %s, was %s", c.Path, c.After, c.Before)
}

// restarts are the keys that a running process cannot take up.
var restarts = []string{
	"service.listen", "service.metrics_listen", "service.verdict_listen", "service.base_path", "service.tls_certificate", "service.tls_key",
	"store.directory", "site.box",
}

// NeedsRestart reports whether a running process cannot take up the change.
func (c Change) NeedsRestart() bool { return slices.Contains(restarts, c.Path) }

// Diff lists what is different in the newer configuration, in the order of a
// file. List entries are matched by tag or name, so that moving one is no
// change.
func Diff(older, newer *Config) []Change {
	var changes []Change
	compareGroups("", writeShape(documentShape(), older.document()), writeShape(documentShape(), newer.document()), &changes)
	return changes
}

func compareGroups(path string, a, b yaml.MapSlice, changes *[]Change) {
	for _, item := range b {
		compareValues(join(path, fmt.Sprint(item.Key)), valueOf(a, item.Key), item.Value, changes)
	}
	for _, item := range a {
		if valueOf(b, item.Key) == nil {
			compareValues(join(path, fmt.Sprint(item.Key)), item.Value, nil, changes)
		}
	}
}

func valueOf(group yaml.MapSlice, key any) any {
	for _, item := range group {
		if item.Key == key {
			return item.Value
		}
	}
	return nil
}

// compareValues compares what stands behind one key; nil is nothing.
func compareValues(path string, a, b any, changes *[]Change) {
	groupA, isGroupA := a.(yaml.MapSlice)
	groupB, isGroupB := b.(yaml.MapSlice)
	listA, isListA := a.([]yaml.MapSlice)
	listB, isListB := b.([]yaml.MapSlice)
	switch {
	case isListA || isListB:
		compareLists(path, listA, listB, changes)
	case isGroupA && isGroupB:
		compareGroups(path, groupA, groupB, changes)
	case isGroupA:
		*changes = append(*changes, Change{Path: path, Before: "given", Whole: true})
	case isGroupB:
		*changes = append(*changes, Change{Path: path, After: "given", Whole: true})
	default:
		compareScalars(path, a, b, changes)
	}
}

func compareScalars(path string, a, b any, changes *[]Change) {
	before, after := text(a), text(b)
	if before != after {
		*changes = append(*changes, Change{Path: path, Before: before, After: after})
		return
	}
	secretA, isSecret := a.(writtenSecret)
	if secretB, ok := b.(writtenSecret); ok && isSecret && !Secret(secretA).Equal(Secret(secretB)) {
		*changes = append(*changes, Change{Path: path, Before: before, After: after, Secret: true})
	}
}

// text is a value as it would be written on one line.
func text(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case writtenSecret:
		return v.Reference
	case []any:
		parts := make([]string, len(v))
		for i, item := range v {
			parts[i] = text(item)
		}
		return "[" + strings.Join(parts, ", ") + "]"
	}
	return fmt.Sprint(v)
}

func compareLists(path string, a, b []yaml.MapSlice, changes *[]Change) {
	namesA, namesB := itemNames(a), itemNames(b)
	for i, item := range b {
		at := fmt.Sprintf("%s[%s]", path, namesB[i])
		if j := slices.Index(namesA, namesB[i]); j >= 0 {
			compareGroups(at, a[j], item, changes)
		} else {
			*changes = append(*changes, Change{Path: at, After: "given", Whole: true})
		}
	}
	for _, name := range namesA {
		if !slices.Contains(namesB, name) {
			*changes = append(*changes, Change{Path: fmt.Sprintf("%s[%s]", path, name), Before: "given", Whole: true})
		}
	}
}

// itemNames names the entries of a list by tag, name or position.
func itemNames(list []yaml.MapSlice) []string {
	names := make([]string, len(list))
	for i, item := range list {
		names[i] = fmt.Sprint(i)
		for _, key := range []string{"tag", "name"} {
			if v := valueOf(item, key); v != nil {
				names[i] = fmt.Sprint(v)
				break
			}
		}
	}
	return names
}
