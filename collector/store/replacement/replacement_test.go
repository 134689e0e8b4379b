package replacement_test

import (
	"bufio"
	"errors"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"bridlewatch/collector/store/replacement"
)

// childFile names the file a process of these tests is to replace.
const childFile = "REPLACEMENT_TEST_FILE"

// TestMain is also the process that is killed half-way.
func TestMain(m *testing.M) {
	file := os.Getenv(childFile)
	if file == "" {
		os.Exit(m.Run())
	}
	err := replacement.Write(file, 0o600, func(w io.Writer) error {
		if _, err := io.WriteString(w, "the first half of"); err != nil || os.Args[len(os.Args)-1] != "wait" {
			return err
		}
		os.Stdout.WriteString("half\n")
		_, err := io.ReadAll(os.Stdin) // ends when it is killed
		return err
	})
	if err != nil {
		os.Stderr.WriteString(err.Error())
		os.Exit(1)
	}
}

// place is a file with an earlier content.
func place(t *testing.T) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "state.json")
	if err := replacement.WriteBytes(file, 0o600, []byte("old")); err != nil {
		t.Fatal(err)
	}
	return file
}

// holds checks what is in the directory of file: its content and nothing else.
func holds(t *testing.T, file, want string) {
	t.Helper()
	got, err := os.ReadFile(file)
	if err != nil || string(got) != want {
		t.Errorf("the file holds %q, %v; want %q", got, err, want)
	}
	names, err := os.ReadDir(filepath.Dir(file))
	if err != nil || len(names) != 1 {
		t.Errorf("%d files in the directory, %v; want one", len(names), err)
	}
}

func TestWriteReplaces(t *testing.T) {
	file := place(t)
	holds(t, file, "old")
	if err := replacement.WriteBytes(file, 0o640, []byte("new")); err != nil {
		t.Fatal(err)
	}
	holds(t, file, "new")
	if st, err := os.Stat(file); err != nil || st.Mode().Perm() != 0o640 {
		t.Errorf("mode %v, %v; want that of the new file", st.Mode(), err)
	}
}

func TestAFailureHalfWayLeavesTheOldFile(t *testing.T) {
	file := place(t)
	err := replacement.Write(file, 0o600, func(w io.Writer) error {
		if _, err := io.WriteString(w, "half"); err != nil {
			return err
		}
		return syscall.ENOSPC
	})
	if !errors.Is(err, syscall.ENOSPC) {
		t.Errorf("error %v, want that of the writer", err)
	}
	holds(t, file, "old")
}

func TestAWriterThatCannotBeSyncedLeavesTheOldFile(t *testing.T) {
	file := place(t)
	f, err := replacement.Create(file, 0o600)
	if err != nil {
		t.Fatal(err)
	}
	if err := f.File.Close(); err != nil { // a sync of it fails from here on
		t.Fatal(err)
	}
	if err := f.Commit(); !errors.Is(err, fs.ErrClosed) || !strings.Contains(err.Error(), file) {
		t.Errorf("error %v, want one that names the file", err)
	}
	holds(t, file, "old")
}

func TestARefusedNameLeavesNothingBeside(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "taken")
	if err := os.MkdirAll(filepath.Join(name, "full"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := replacement.WriteBytes(name, 0o600, []byte("new")); err == nil {
		t.Error("a directory was replaced by a file")
	}
	if left, err := filepath.Glob(filepath.Join(dir, "*"+replacement.Suffix)); err != nil || len(left) != 0 {
		t.Errorf("%q left behind, %v", left, err)
	}
}

// A process killed while it writes leaves the old file, and what lies beside
// is no obstacle to the next replacement, whatever its mode.
func TestAKillHalfWayLeavesTheOldFile(t *testing.T) {
	file := place(t)
	child := exec.Command(os.Args[0], "wait")
	child.Env = append(os.Environ(), childFile+"="+file)
	in, err := child.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	out, err := child.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := child.Start(); err != nil {
		t.Fatal(err)
	}
	if line, err := bufio.NewReader(out).ReadString('\n'); err != nil || line != "half\n" {
		t.Fatalf("the process said %q, %v", line, err)
	}
	if err := child.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = child.Wait() // it was killed
	if beside, err := os.ReadFile(file + replacement.Suffix); err != nil || string(beside) != "the first half of" {
		t.Errorf("beside lies %q, %v; the process was not half-way", beside, err)
	}
	if got, err := os.ReadFile(file); err != nil || string(got) != "old" {
		t.Errorf("the file holds %q, %v; want the old content", got, err)
	}
	if err := os.Chmod(file+replacement.Suffix, 0o444); err != nil {
		t.Fatal(err)
	}
	if err := replacement.WriteBytes(file, 0o600, []byte("new")); err != nil {
		t.Fatal(err)
	}
	holds(t, file, "new")
}
