package opcua

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"github.com/gopcua/opcua"
	"github.com/gopcua/opcua/ua"
)

// nodeRef is a node as written in a configuration.
type nodeRef struct {
	text string
	path []step // browse path below Objects; nil: an id
}

// step is one browse name; namespace by URI, by index, or that of the step before.
type step struct {
	uri   string
	index int // -1: not given
	name  string
}

// parseNode reads "nsu=URI;s=id", "ns=2;i=7" or "path:/2:Plant/LT-101" where a
// step may name its namespace by index ("2:") or in braces ("{URI}").
func parseNode(s string) (nodeRef, error) {
	if rest, ok := strings.CutPrefix(s, "path:"); ok {
		return parsePath(s, rest)
	}
	ns, id, ok := strings.Cut(s, ";")
	if !ok || len(id) < 3 || id[1] != '=' || !strings.ContainsAny(id[:1], "isgb") {
		return nodeRef{}, fmt.Errorf("node %q: want nsu=URI;s=name, ns=2;i=7 or path:/2:Plant/LT-101", s)
	}
	if !strings.HasPrefix(ns, "nsu=") && !strings.HasPrefix(ns, "ns=") {
		return nodeRef{}, fmt.Errorf("node %q: begins with neither nsu= nor ns=", s)
	}
	return nodeRef{text: s}, nil
}

func parsePath(text, rest string) (nodeRef, error) {
	ref := nodeRef{text: text}
	for _, part := range splitPath(strings.TrimPrefix(rest, "/")) {
		st := step{index: -1, name: part}
		if strings.HasPrefix(part, "{") {
			uri, name, ok := strings.Cut(part[1:], "}")
			if !ok {
				return nodeRef{}, fmt.Errorf("node %q: { without } in %q", text, part)
			}
			st.uri, st.name = uri, name
		} else if idx, name, ok := strings.Cut(part, ":"); ok {
			if n, err := strconv.ParseUint(idx, 10, 16); err == nil {
				st.index, st.name = int(n), name
			}
		}
		if st.name == "" {
			return nodeRef{}, fmt.Errorf("node %q: empty step", text)
		}
		ref.path = append(ref.path, st)
	}
	if len(ref.path) == 0 {
		return nodeRef{}, fmt.Errorf("node %q: empty path", text)
	}
	return ref, nil
}

// splitPath splits at slashes outside braces.
func splitPath(s string) []string {
	var out []string
	depth, start := 0, 0
	for i, r := range s {
		switch r {
		case '{':
			depth++
		case '}':
			depth--
		case '/':
			if depth == 0 {
				out = append(out, s[start:i])
				start = i + 1
			}
		}
	}
	return append(out, s[start:])
}

// resolve finds the node id on the server that has these namespaces.
func (r nodeRef) resolve(ctx context.Context, c *opcua.Client, namespaces []string) (*ua.NodeID, error) {
	if r.path == nil {
		id, err := ua.ParseExpandedNodeID(r.text, namespaces)
		if err != nil {
			return nil, fmt.Errorf("node %q: %w (the server has the namespaces %q)", r.text, err, namespaces)
		}
		return id.NodeID, nil
	}
	names := make([]*ua.QualifiedName, len(r.path))
	ns := 0
	for i, st := range r.path {
		switch {
		case st.uri != "":
			n, err := index(namespaces, st.uri)
			if err != nil {
				return nil, fmt.Errorf("node %q: %w", r.text, err)
			}
			ns = n
		case st.index >= 0:
			ns = st.index
		}
		names[i] = &ua.QualifiedName{NamespaceIndex: uint16(ns), Name: st.name}
	}
	id, err := c.Node(ua.NewNumericNodeID(0, 85)).TranslateBrowsePathsToNodeIDs(ctx, names) // i=85: Objects
	if err != nil {
		return nil, fmt.Errorf("node %q: browse path not found: %w", r.text, err)
	}
	return id, nil
}

func index(namespaces []string, uri string) (int, error) {
	for i, u := range namespaces {
		if u == uri {
			return i, nil
		}
	}
	return 0, fmt.Errorf("the server has no namespace %q, it has %q", uri, namespaces)
}
