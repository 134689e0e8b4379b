package ui

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"strings"
	"testing"
)

// TestThirdPartyFilesAreThoseRecorded recomputes every hash of vendor.sum and
// sees to it that no script or style sheet is missing from the list.
func TestThirdPartyFilesAreThoseRecorded(t *testing.T) {
	list, err := fs.ReadFile(Static(), "thirdparty/vendor.sum")
	if err != nil {
		t.Fatal(err)
	}
	recorded := map[string]string{}
	for lines := bufio.NewScanner(bytes.NewReader(list)); lines.Scan(); {
		sum, name, ok := strings.Cut(lines.Text(), "  ")
		if !ok {
			t.Fatalf("line %q is not a hash and a name", lines.Text())
		}
		recorded[name] = sum
	}
	entries, err := fs.ReadDir(Static(), "thirdparty")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !strings.HasSuffix(e.Name(), ".js") && !strings.HasSuffix(e.Name(), ".css") {
			continue
		}
		body, err := fs.ReadFile(Static(), "thirdparty/"+e.Name())
		if err != nil {
			t.Fatal(err)
		}
		sum := sha256.Sum256(body)
		if got := hex.EncodeToString(sum[:]); got != recorded[e.Name()] {
			t.Errorf("%s has SHA-256 %s, recorded is %q", e.Name(), got, recorded[e.Name()])
		}
		delete(recorded, e.Name())
	}
	for name := range recorded {
		t.Errorf("%s is recorded but not there", name)
	}
}

// TestNothingIsFetchedFromElsewhere keeps the pages usable without a network
// beyond the plant: no file of ours names another host.
func TestNothingIsFetchedFromElsewhere(t *testing.T) {
	for _, tree := range []fs.FS{Templates(), Static()} {
		err := fs.WalkDir(tree, ".", func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || strings.HasPrefix(path, "thirdparty") {
				return err
			}
			body, err := fs.ReadFile(tree, path)
			text := strings.ReplaceAll(string(body), "http://www.w3.org/2000/svg", "")
			for _, scheme := range []string{"http://", "https://", "src=\"//", "url(//"} {
				if strings.Contains(text, scheme) {
					t.Errorf("%s contains %q", path, scheme)
				}
			}
			return err
		})
		if err != nil {
			t.Error(err)
		}
	}
}
