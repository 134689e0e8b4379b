//go:build peers

package replacement_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"testing"
)

// The kernel sees the file synced before it gets its name, and the directory
// after: in another order a loss of power could leave an empty file.
func TestOrderOfSyncs(t *testing.T) {
	file := place(t)
	trace := filepath.Join(t.TempDir(), "trace")
	child := exec.Command("strace", "-f", "-y", "-e", "trace=fsync,fdatasync,rename,renameat,renameat2", "-o", trace, os.Args[0], "once")
	child.Env = append(os.Environ(), childFile+"="+file)
	if out, err := child.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	text, err := os.ReadFile(trace)
	if err != nil {
		t.Fatal(err)
	}
	dir := regexp.QuoteMeta(filepath.Dir(file))
	steps := map[string]*regexp.Regexp{
		"file synced":      regexp.MustCompile(`sync\(\d+<` + dir + `/state\.json\.new>\) += 0`),
		"renamed":          regexp.MustCompile(`rename.*state\.json\.new", .*state\.json"\) += 0`),
		"directory synced": regexp.MustCompile(`fsync\(\d+<` + dir + `>\) += 0`),
	}
	var at []int
	for _, step := range []string{"file synced", "renamed", "directory synced"} {
		where := steps[step].FindIndex(text)
		if where == nil {
			t.Fatalf("not %s: %s", step, text)
		}
		at = append(at, where[0])
	}
	if !slices.IsSorted(at) {
		t.Errorf("in another order: %s", text)
	}
}
