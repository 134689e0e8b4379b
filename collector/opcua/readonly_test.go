package opcua

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/gopcua/opcua"
)

// allowed are the methods of the library's client, nodes and subscriptions
// this package may call. None of them changes anything in a plant.
var allowed = map[string]bool{
	"Connect": true, "Close": true, "Read": true, "Browse": true, "BrowseNext": true, "NamespaceArray": true,
	"Node": true, "TranslateBrowsePathsToNodeIDs": true, "Subscribe": true, "Monitor": true, "GetEndpoints": true,
	// names the library shares with things of ours
	"Value": true, "String": true,
}

// TestOnlyReadingServicesAreCalled reads the source of the package and refuses
// every call of a library method that is not on the list: Write, Call,
// HistoryUpdate and all the others cannot be called from code that is not
// there.
func TestOnlyReadingServicesAreCalled(t *testing.T) {
	known := map[string]bool{}
	for _, v := range []any{&opcua.Client{}, &opcua.Node{}, &opcua.Subscription{}} {
		typ := reflect.TypeOf(v)
		for i := range typ.NumMethod() {
			known[typ.Method(i).Name] = true
		}
	}
	if !known["Write"] || !known["Call"] {
		t.Fatal("the library has no Write or no Call any more: this test guards nothing")
	}
	names, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	calls := 0
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok {
				return true
			}
			if sel, ok := call.Fun.(*ast.SelectorExpr); ok && known[sel.Sel.Name] {
				calls++
				if !allowed[sel.Sel.Name] {
					t.Errorf("calls %s, which is not among the reading services", sel.Sel.Name)
				}
			}
			return true
		})
	}
	if calls == 0 {
		t.Error("no call of the library was seen: this test guards nothing")
	}
}

func TestTrustFolder(t *testing.T) {
	now := time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC)
	dir := t.TempDir()
	id, err := LoadOrMakeIdentity(t.TempDir(), "server", now)
	if err != nil {
		t.Fatal(err)
	}
	thumb := Thumbprint(id.Certificate)
	folder := TrustFolder{Dir: dir, Now: func() time.Time { return now }}
	if err := folder.Judge("opc.tcp://h", id.Certificate); err == nil || !strings.Contains(err.Error(), "trust approve "+thumb) {
		t.Errorf("an unknown certificate: %v", err)
	}
	if _, err := folder.Approve("0000"); err == nil {
		t.Error("a thumbprint of four digits was accepted")
	}
	c, err := folder.Approve(thumb[:8])
	if err != nil || !c.Trusted || c.URI != id.URI {
		t.Fatalf("%+v, %v", c, err)
	}
	if err := folder.Judge("opc.tcp://h", id.Certificate); err != nil {
		t.Errorf("approved, and yet: %v", err)
	}
	late := TrustFolder{Dir: dir, Now: func() time.Time { return id.NotAfter.Add(time.Hour) }}
	if err := late.Judge("opc.tcp://h", id.Certificate); err == nil || !strings.Contains(err.Error(), "valid from") {
		t.Errorf("expired, and yet: %v", err)
	}
	if _, err := folder.Withdraw(thumb); err != nil {
		t.Fatal(err)
	}
	if err := folder.Judge("opc.tcp://h", id.Certificate); err == nil {
		t.Error("withdrawn, and yet trusted")
	}
	all, err := folder.List()
	if err != nil || len(all) != 1 || all[0].Trusted {
		t.Errorf("%+v, %v", all, err)
	}
}
