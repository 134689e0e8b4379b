package config

import "strings"

// opcuaNode checks where a signal is in an OPC UA server and writes it with
// its namespace.
func (d *decoder) opcuaNode(s *Signal, f *signalForm, source *Source) {
	d.refuse(f, "is not used by an OPC UA source", "unit_id", "table", "address", "register", "type", "order", "bit", "every_scan", "topic", "path", "metric")
	at := f.node.find("node")
	switch node := f.Node; {
	case node == "":
		d.lacks(f, "node", "nsu=NAMESPACE-URI;s=NAME or path:/{NAMESPACE-URI}NAME/NAME")
	case strings.HasPrefix(node, "ns=0;i="):
	case strings.HasPrefix(node, "ns="):
		d.report(at, "a namespace index changes when the server restarts: write nsu=NAMESPACE-URI;... in place of ns=NUMBER;...")
	case strings.HasPrefix(node, "path:"):
		s.Node = d.browsePath(node, source.Namespace, at)
	case strings.HasPrefix(node, "nsu="):
		if _, id, found := strings.Cut(node, ";"); !found || !identifier(id) {
			d.report(at, "%q has no identifier after the namespace: nsu=NAMESPACE-URI;s=NAME or ;i=NUMBER", node)
		}
	case identifier(node):
		if source.Namespace == "" {
			d.report(at, "%q has no namespace: write nsu=NAMESPACE-URI;%[1]s, or give the source a namespace", node)
			return
		}
		s.Node = "nsu=" + source.Namespace + ";" + node
	default:
		d.report(at, "%q is no node: write nsu=NAMESPACE-URI;s=NAME (or ;i=NUMBER) or path:/{NAMESPACE-URI}NAME/NAME", node)
	}
}

// browsePath checks a path of browse names below the Objects folder. A
// namespace holds for the steps after it; the first step takes that of the
// source when it names none.
func (d *decoder) browsePath(node, namespace string, at Place) string {
	rest, found := strings.CutPrefix(node, "path:/")
	if !found || rest == "" {
		d.report(at, "%q is no path: write path:/{NAMESPACE-URI}NAME/NAME, beginning below the Objects folder", node)
		return node
	}
	for _, step := range steps(rest) {
		name := step
		if uri, after, braced := strings.Cut(step, "}"); strings.HasPrefix(step, "{") {
			if name = after; !braced || uri == "{" {
				d.report(at, "%q: a namespace stands in braces, {NAMESPACE-URI}NAME", step)
				return node
			}
		}
		if name == "" {
			d.report(at, "%q has an empty step", node)
			return node
		}
		if index, _, found := strings.Cut(name, ":"); found && strings.Trim(index, "0123456789") == "" && index != "" {
			d.report(at, "a namespace index changes when the server restarts: write {NAMESPACE-URI} in place of %s:", index)
			return node
		}
	}
	if namespace != "" && !strings.HasPrefix(rest, "{") {
		return "path:/{" + namespace + "}" + rest
	}
	return node
}

// steps splits a path at the slashes outside braces.
func steps(path string) []string {
	var out []string
	inside := false
	start := 0
	for i, r := range path {
		switch {
		case r == '{':
			inside = true
		case r == '}':
			inside = false
		case r == '/' && !inside:
			out = append(out, path[start:i])
			start = i + 1
		}
	}
	return append(out, path[start:])
}

// identifier reports whether s is the identifier part of a node (OPC 10000-6,
// 5.3.1.10).
func identifier(s string) bool {
	if len(s) < 3 || s[1] != '=' {
		return false
	}
	switch s[0] {
	case 'i':
		n, err := readInteger(s[2:])
		return err == nil && n >= 0 && n <= 1<<32-1
	case 's', 'g', 'b':
		return true
	}
	return false
}
