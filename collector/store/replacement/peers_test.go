//go:build peers

package replacement_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
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
	lines, err := os.ReadFile(trace)
	if err != nil {
		t.Fatal(err)
	}
	text := whole(string(lines))
	dir := regexp.QuoteMeta(filepath.Dir(file))
	steps := map[string]*regexp.Regexp{
		"file synced":      regexp.MustCompile(`sync\(\d+<` + dir + `/state\.json\.new>\) += 0`),
		"renamed":          regexp.MustCompile(`rename.*state\.json\.new", .*state\.json"\) += 0`),
		"directory synced": regexp.MustCompile(`fsync\(\d+<` + dir + `>\) += 0`),
	}
	var at []int
	for _, step := range []string{"file synced", "renamed", "directory synced"} {
		where := steps[step].FindStringIndex(text)
		if where == nil {
			t.Fatalf("not %s: %s", step, text)
		}
		at = append(at, where[0])
	}
	if !slices.IsSorted(at) {
		t.Errorf("in another order: %s", text)
	}
}

// whole puts the calls together that the trace shows in two pieces because
// another thread did something meanwhile, each where it ended.
func whole(trace string) string {
	resumed := regexp.MustCompile(`<\.\.\. \w+ resumed>`)
	begun, calls := map[string]string{}, []string{}
	for line := range strings.Lines(trace) {
		thread, call, _ := strings.Cut(line, " ")
		if start, unfinished := strings.CutSuffix(strings.TrimSpace(call), "<unfinished ...>"); unfinished {
			begun[thread] = start
			continue
		}
		if end := resumed.FindStringIndex(call); end != nil {
			call = strings.TrimSpace(begun[thread]) + call[end[1]:]
		}
		calls = append(calls, thread+" "+strings.TrimSpace(call))
	}
	return strings.Join(calls, "\n")
}

// A call that another thread interrupts is one call.
func TestTraceInPieces(t *testing.T) {
	got := whole("7  fsync(5</d/state.json.new>) = 0\n8  renameat(AT, \"state.json.new\", AT, \"state.json\" <unfinished ...>\n7  --- SIGURG ---\n8  <... renameat resumed>)           = 0\n")
	if !regexp.MustCompile(`rename.*state\.json\.new", .*state\.json"\) += 0$`).MatchString(got) {
		t.Errorf("%s", got)
	}
}
