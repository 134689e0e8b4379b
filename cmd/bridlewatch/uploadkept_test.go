package main

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bridlewatch/cmd/bridlewatch/rehearsal"
	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/intake"
)

// box is the service as a process of its own.
type box struct {
	t         *testing.T
	dir, file string
	process   *exec.Cmd
	url       string
}

// newBox writes the configuration of a plant whose service takes files.
func newBox(t *testing.T) *box {
	t.Helper()
	b := &box{t: t, dir: t.TempDir(), file: filepath.Join(t.TempDir(), "plant.yaml")}
	text := strings.Replace(string(rehearsal.PlantYAML()), "service:\n", "service:\n  import_upload: 100 MB\n", 1)
	if err := os.WriteFile(b.file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(b.kill)
	return b
}

// start starts the service and waits until its pages answer.
func (b *box) start() {
	b.t.Helper()
	out, err := os.Create(filepath.Join(b.t.TempDir(), "log"))
	if err != nil {
		b.t.Fatal(err)
	}
	b.process = exec.Command("bridlewatch", "serve", "--config", b.file, "--data", b.dir, "--listen", "127.0.0.1:0")
	b.process.Stderr = out
	if err := b.process.Start(); err != nil {
		b.t.Fatal(err)
	}
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		text, _ := os.ReadFile(out.Name())
		for line := range strings.Lines(string(text)) {
			var said struct{ Pages string }
			if json.Unmarshal([]byte(line), &said) == nil && said.Pages != "" {
				b.url = said.Pages
				return
			}
		}
	}
	text, _ := os.ReadFile(out.Name())
	b.t.Fatalf("the service does not start: %s", text)
}

// kill ends it as a loss of power would.
func (b *box) kill() {
	if b.process == nil {
		return
	}
	_ = b.process.Process.Kill() // it may have ended
	_ = b.process.Wait()
	b.process = nil
}

func (b *box) ask(method, path, kind, body string) string {
	b.t.Helper()
	r, err := http.NewRequestWithContext(b.t.Context(), method, b.url+"/api/v1/imports"+path, strings.NewReader(body))
	if err != nil {
		b.t.Fatal(err)
	}
	r.Header.Set("Content-Type", kind)
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		b.t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil || answer.StatusCode != http.StatusOK {
		b.t.Fatalf("%s %s: %s %v: %s", method, path, answer.Status, err, text)
	}
	return string(text)
}

// known is what the service says of an import.
type known struct {
	Name, State, File, By string
	At                    time.Time
	Rows                  int
}

// becomes waits for an import to be first in the list and in one of states.
func (b *box) becomes(states ...intake.State) known {
	b.t.Helper()
	var all []known
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if err := json.Unmarshal([]byte(b.ask("GET", "", "", "")), &all); err != nil {
			b.t.Fatal(err)
		}
		for _, s := range states {
			if len(all) > 0 && all[0].State == string(s) {
				return all[0]
			}
		}
	}
	b.t.Fatalf("the imports are %+v, want the first %q", all, states)
	return known{}
}

func (b *box) confirm(name string) {
	b.t.Helper()
	b.ask("POST", "/act", "application/json", `{"do":"confirm","name":"`+name+`"}`)
}

// TestAnUploadOutlivesTheProcess hands in a file, kills the service, starts it
// again and confirms: the file still waits, with its name, owner and time.
func TestAnUploadOutlivesTheProcess(t *testing.T) {
	b := newBox(t)
	b.start()
	b.ask("POST", "?name=old&file=history.csv", "application/octet-stream", historianCSV)
	before := b.becomes(intake.Tried)
	for range 2 {
		b.kill()
		b.start()
		if after := b.becomes(intake.Tried); after.Name != "old" || after.File != "history.csv" || after.By != before.By || !after.At.Equal(before.At) || after.Rows != 3 {
			t.Fatalf("after the restart it is %+v, before %+v", after, before)
		}
	}
	b.confirm("old")
	b.becomes(intake.Done)
	b.kill()
	b.start()
	if after := b.becomes(intake.Done); after.Rows != 3 {
		t.Errorf("after it was imported it is %+v", after)
	}
	if _, err := os.Stat(filepath.Join(b.dir, uploadDir)); !os.IsNotExist(err) {
		t.Errorf("the file is still there: %v", err)
	}
}

// A service killed while it imports has the file in hand when it is started
// again, or has imported all of it; confirmed again nothing is missing.
func TestAnImportGoesOnAfterAKill(t *testing.T) {
	b := newBox(t)
	b.start()
	var text strings.Builder
	text.WriteString("time,LT-102\n")
	const rows = 60_000
	begin := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	for i := range rows {
		fmt.Fprintf(&text, "%s,%d.25\n", begin.Add(time.Duration(i)*10*time.Second).Format(time.RFC3339), 500+i%100)
	}
	b.ask("POST", "?name=long&file=history.csv", "application/octet-stream", text.String())
	b.becomes(intake.Tried)
	b.confirm("long")
	b.kill()
	b.start()
	if b.becomes(intake.Tried, intake.Done).State == string(intake.Tried) {
		b.confirm("long")
	}
	if done := b.becomes(intake.Done); done.Rows != rows {
		t.Errorf("%d rows imported, want %d", done.Rows, rows)
	}
}

// What nobody can confirm any more is removed at the start.
func TestAnOrphanedUploadIsRemoved(t *testing.T) {
	whole := func(x upload) func(dir string) error {
		return func(dir string) error {
			x.Name, x.File, x.Kept, x.By, x.Step = "old", "history.csv", "data.csv", access.Actor{Name: "engineer"}, intake.Trying
			if err := os.WriteFile(filepath.Join(dir, x.Kept), []byte(historianCSV), 0o600); err != nil {
				return err
			}
			return x.keep(dir)
		}
	}
	now := time.Now()
	for _, c := range []struct {
		name  string
		most  int64
		leave func(dir string) error
		kept  bool
	}{
		{"waiting", 1e6, whole(upload{At: now.Add(-keepUpload + time.Hour)}), true},
		{"too old", 1e6, whole(upload{At: now.Add(-keepUpload - time.Hour)}), false},
		{"larger than allowed now", 10, whole(upload{At: now}), false},
		{"the door is shut", 0, whole(upload{At: now}), false},
		{"cut off while it came in", 1e6, func(dir string) error { return os.WriteFile(filepath.Join(dir, "data.csv"), []byte("time"), 0o600) }, false},
		{"not readable", 1e6, func(dir string) error { return os.WriteFile(filepath.Join(dir, uploadFile), []byte("{"), 0o600) }, false},
		{"its file is gone", 1e6, func(dir string) error { return (&upload{Name: "old", Kept: "data.csv", At: now}).keep(dir) }, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir, cfg := t.TempDir(), plantWithLogin(t)
			cfg.Service.ImportUpload = c.most
			left := filepath.Join(dir, uploadDir)
			if err := os.Mkdir(left, 0o700); err != nil {
				t.Fatal(err)
			}
			if err := c.leave(left); err != nil {
				t.Fatal(err)
			}
			s := startStation(t, cfg, dir)
			if _, err := os.Stat(left); (err == nil) != c.kept {
				t.Errorf("kept %v, %v; want %v", err == nil, err, c.kept)
			}
			u := logIn(t, s, dir, "engineer")
			if c.kept {
				u.sees("was tried; nothing is stored yet")
				return
			}
			if _, page := u.read(u.client.Get(u.s.url() + "/imports")); strings.Contains(page, "history.csv") {
				t.Error("the page shows it")
			}
		})
	}
}
