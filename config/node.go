package config

import (
	"bytes"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// kind of a node.
type kind int

const (
	null kind = iota
	scalar
	mapping
	sequence
)

func (k kind) String() string {
	return [...]string{"nothing", "a single value", "a group of keys", "a list"}[k]
}

// node is one value of a YAML source with the place it was written at.
type node struct {
	kind   kind
	text   string // of a scalar, as written
	place  Place
	fields []field // of a mapping, in order
	items  []*node // of a sequence
}

// field is one key of a mapping.
type field struct {
	name  string
	place Place
	value *node
}

// field returns the value of a key, nil when the mapping does not have it.
func (n *node) field(name string) *node {
	if n == nil {
		return nil
	}
	for _, f := range n.fields {
		if f.name == name {
			return f.value
		}
	}
	return nil
}

// find follows a dotted path as far as it exists, so that a message about a
// value that came from a default still points at the nearest thing written.
func (n *node) find(names ...string) Place {
	if n == nil {
		return Place{Path: strings.Join(names, ".")}
	}
	at := n
	path := n.place.Path
	for _, name := range names {
		path = join(path, name)
		if next := at.field(name); next != nil {
			at = next
		}
	}
	p := at.place
	p.Path = path
	return p
}

// set replaces or adds a key.
func (n *node) set(f field) {
	n.kind = mapping
	if i := indexOf(n.fields, f.name); i >= 0 {
		n.fields[i] = f
		return
	}
	n.fields = append(n.fields, f)
}

func join(path, name string) string {
	if path == "" {
		return name
	}
	return path + "." + name
}

// maxNodes bounds the size of a configuration, so that aliases of aliases
// cannot grow without limit.
const maxNodes = 1_000_000

// reader turns the syntax tree of one file into nodes.
type reader struct {
	file     string
	anchors  map[string]ast.Node
	open     map[string]bool // anchors being expanded, to refuse a loop
	left     int
	problems Errors
}

// parseYAML reads one YAML document. The node is nil when the file is empty
// or cannot be read as YAML.
func parseYAML(file string, data []byte) (*node, Errors) {
	data = bytes.TrimPrefix(data, []byte("\ufeff")) // some editors mark UTF-8 so
	if at := firstInvalid(data); at >= 0 {
		return nil, Errors{notText(file, data, at)}
	}
	tree, err := parseSource(data)
	if err != nil {
		return nil, Errors{syntaxProblem(file, err)}
	}
	r := &reader{file: file, anchors: map[string]ast.Node{}, open: map[string]bool{}, left: maxNodes}
	var root *node
	for _, doc := range tree.Docs {
		if doc.Body == nil || doc.Body.Type() == ast.CommentType || doc.Body.Type() == ast.DirectiveType {
			continue
		}
		if root != nil {
			r.report(r.place(doc.Body, ""), "a file holds one document; put the second one (after ---) into a file of its own")
			break
		}
		root = r.convert(doc.Body, "")
	}
	return root, r.problems
}

// parseSource never panics, whatever the source is.
func parseSource(data []byte) (tree *ast.File, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = errors.New("cannot be read as YAML")
		}
	}()
	return parser.ParseBytes(data, 0, parser.AllowDuplicateMapKey())
}

func syntaxProblem(file string, err error) Problem {
	p := Problem{Place: Place{File: file}, Message: err.Error()}
	var syntax *yaml.SyntaxError
	if errors.As(err, &syntax) && syntax.Token != nil {
		p.Place.Line, p.Place.Column = syntax.Token.Position.Line, syntax.Token.Position.Column
		p.Message = syntax.Message
	}
	p.Message, _, _ = strings.Cut(p.Message, "\n")
	for _, r := range remedies {
		if strings.Contains(p.Message, r.sign) {
			p.Message += "; " + r.remedy
			break
		}
	}
	return p
}

// remedies for what people write most often that is no YAML.
var remedies = []struct{ sign, remedy string }{
	{"'\t' that cannot start", "indent with spaces, tabs are not allowed"},
	{"mapping value is not allowed", "indent keys of one group alike, and put a value with a colon and a space in it in quotes"},
	{"value is not allowed", "indent keys of one group alike"},
	{"non-map value", "every line of a group is a key, a colon, a space and its value"},
	{"end token '}'", "a group that begins with { ends with }"},
	{"end token ']'", "a list that begins with [ ends with ]"},
	{"'}' must be specified", "a group that begins with { ends with }, with commas between its keys"},
	{"']' must be specified", "a list that begins with [ ends with ], with commas between its values"},
	{"is a reserved character", "put the value in quotes"},
	{"unknown escape character", "in double quotes a backslash is written twice; single quotes take it as it is"},
}

// firstInvalid returns where the text stops being UTF-8, -1 when it is.
func firstInvalid(data []byte) int {
	for i := 0; i < len(data); {
		r, size := utf8.DecodeRune(data[i:])
		if r == utf8.RuneError && size == 1 {
			return i
		}
		i += size
	}
	return -1
}

func notText(file string, data []byte, at int) Problem {
	line := 1 + bytes.Count(data[:at], []byte("\n"))
	column := at - bytes.LastIndexByte(data[:at], '\n')
	return Problem{Place{File: file, Line: line, Column: column}, "is no UTF-8 text from here on; save the file as UTF-8"}
}

func (r *reader) report(at Place, format string, args ...any) {
	r.problems = append(r.problems, problem(at, format, args...))
}

func (r *reader) place(n ast.Node, path string) Place {
	p := Place{File: r.file, Path: path}
	if token := n.GetToken(); token != nil && token.Position != nil {
		p.Line, p.Column = token.Position.Line, token.Position.Column
	}
	return p
}

func (r *reader) convert(n ast.Node, path string) *node {
	out := &node{place: r.place(n, path)}
	if r.left--; r.left < 0 {
		if r.left == -1 {
			r.report(out.place, "more than %d values; is an alias repeated without end?", maxNodes)
		}
		return out
	}
	switch n := n.(type) {
	case *ast.NullNode:
	case *ast.MappingNode:
		r.mapping(out, n.Values)
		if !n.IsFlowStyle && len(out.fields) > 0 {
			out.place = out.fields[0].place
			out.place.Path = path
		}
	case *ast.MappingValueNode:
		r.mapping(out, []*ast.MappingValueNode{n})
	case *ast.SequenceNode:
		r.sequence(out, n.Values)
	case *ast.StringNode:
		out.kind, out.text = scalar, n.Value
	case *ast.LiteralNode:
		out.kind, out.text = scalar, strings.TrimRight(n.Value.Value, "\n")
	case *ast.AnchorNode:
		name := n.Name.GetToken().Value
		r.anchors[name] = n.Value
		r.open[name] = true
		defer delete(r.open, name)
		return r.convert(n.Value, path)
	case *ast.AliasNode:
		return r.alias(n, out)
	case *ast.TagNode:
		r.report(out.place, "the YAML tag %s is not used here", n.Start.Value)
	case ast.ScalarNode:
		out.kind, out.text = scalar, n.GetToken().Value
	default:
		r.report(out.place, "%s is not used here", n.Type())
	}
	return out
}

func (r *reader) alias(n *ast.AliasNode, out *node) *node {
	name := n.Value.GetToken().Value
	target, known := r.anchors[name]
	switch {
	case !known:
		r.report(out.place, "alias *%s has no anchor &%s above it", name, name)
		return out
	case r.open[name]:
		r.report(out.place, "alias *%s contains itself", name)
		return out
	}
	r.open[name] = true
	defer delete(r.open, name)
	return r.convert(target, out.place.Path)
}

func (r *reader) mapping(out *node, values []*ast.MappingValueNode) {
	out.kind = mapping
	for _, v := range values {
		name := keyText(v.Key)
		at := r.place(v.Key, join(out.place.Path, onOneLine(name)))
		if v.Key.IsMergeKey() {
			r.report(at, "merge keys (<<) are not used here; write the keys out or alias a whole group")
			continue
		}
		if i := indexOf(out.fields, name); i >= 0 {
			r.report(at, "%q is given twice, first at line %d", name, out.fields[i].place.Line)
			continue
		}
		out.fields = append(out.fields, field{name, at, r.convert(v.Value, at.Path)})
	}
}

func keyText(k ast.MapKeyNode) string {
	if s, ok := k.(*ast.StringNode); ok {
		return s.Value
	}
	if t := k.GetToken(); t != nil {
		return t.Value
	}
	return ""
}

func indexOf(fields []field, name string) int {
	for i, f := range fields {
		if f.name == name {
			return i
		}
	}
	return -1
}

func (r *reader) sequence(out *node, values []ast.Node) {
	out.kind = sequence
	for i, v := range values {
		out.items = append(out.items, r.convert(v, fmt.Sprintf("%s[%s]", out.place.Path, onOneLine(itemName(v, i)))))
	}
}

// onOneLine is a name as it may stand in a message: printed problems take one
// line each, whatever somebody wrote as a key or tag.
func onOneLine(name string) string {
	if quoted := strconv.Quote(name); quoted[1:len(quoted)-1] != name {
		name = quoted
	}
	if runes := []rune(name); len(runes) > 64 {
		name = string(runes[:61]) + "..."
	}
	return name
}

// itemName names a list item by its tag or name, which people know, and by
// its index otherwise.
func itemName(n ast.Node, index int) string {
	if m, ok := n.(*ast.MappingNode); ok {
		for _, v := range m.Values {
			if name := keyText(v.Key); name == "tag" || name == "name" {
				if s, ok := v.Value.(ast.ScalarNode); ok && v.Value.Type() != ast.NullType && s.GetToken() != nil && s.GetToken().Value != "" {
					return s.GetToken().Value
				}
			}
		}
	}
	return fmt.Sprint(index)
}
