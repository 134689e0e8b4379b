//go:build peers && linux

package main

import (
	"fmt"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// The service does nothing the unit of packaging forbids: it serves a simulated
// plant and tries a fault on its history under the unit's filter of system calls,
// where a call that is not allowed would kill it.
func TestServesUnderItsUnit(t *testing.T) {
	dir, err := os.MkdirTemp("", "unit") // nobody must reach it
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	if os.Getuid() == 0 {
		if err := os.Chown(dir, 65534, 65534); err != nil {
			t.Fatal(err)
		}
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	program := filepath.Join(t.TempDir(), "bridlewatch") // what TestMain runs main for
	if err := os.Symlink(self, program); err != nil {
		t.Fatal(err)
	}
	script, unit := absolute("../../testdata/peers/underunit.py"), absolute("packaging/bridlewatch.service")
	address := freeAddress(t)
	cmd := exec.Command("/usr/bin/python3", script, unit, program,
		"rehearse", "--for", "30s", "--speed", "600", "--listen", address, "--data", filepath.Join(dir, "data"))
	cmd.Dir = dir
	said := &strings.Builder{}
	cmd.Stdout, cmd.Stderr = said, said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()

	page := "http://" + address + "/gauge/LG-104/trial"
	tried := tryUntil(ended, time.Now().Add(20*time.Second), func() bool { return orderTrial(page) })
	err = <-ended
	if status, ok := cmd.ProcessState.Sys().(syscall.WaitStatus); ok && status.Signaled() && status.Signal() == syscall.SIGSYS {
		t.Fatalf("the unit does not allow a system call the service makes; find it with strace -f, then allow it or do without:\n%s", said)
	}
	if err != nil {
		t.Fatalf("%v\n%s", err, said)
	}
	if !tried {
		t.Errorf("no trial was begun:\n%s", said)
	}
}

// tryUntil repeats what may fail at first, until the process has ended or time
// is up.
func tryUntil(ended chan error, end time.Time, do func() bool) bool {
	for time.Now().Before(end) {
		if do() {
			return true
		}
		select {
		case err := <-ended:
			ended <- err
			return false
		case <-time.After(200 * time.Millisecond):
		}
	}
	return false
}

// orderTrial orders one fault and reports whether it was begun; how it ends does
// not matter here.
func orderTrial(page string) bool {
	today := time.Now()
	form := url.Values{"do": {"order"}, "fault": {"float-stuck"}, "times": {"1"}, "before": {"0.01"}, "watch": {"0.01"},
		"from": {today.AddDate(0, 0, -1).Format(time.DateOnly)}, "to": {today.AddDate(0, 0, 1).Format(time.DateOnly)}}
	client := http.Client{Timeout: 5 * time.Second, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	answer, err := client.PostForm(page, form)
	if err != nil {
		return false
	}
	answer.Body.Close()
	if answer.StatusCode != http.StatusSeeOther {
		fmt.Fprintln(os.Stderr, "order of a trial:", answer.Status)
		return false
	}
	return true
}
