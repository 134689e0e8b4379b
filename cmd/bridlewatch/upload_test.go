package main

import (
	"bytes"
	"encoding/json"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bridlewatch/collector/store"
)

// uploader is an engineer at a page of a running service.
type uploader struct {
	t      *testing.T
	s      *station
	client *http.Client
}

func logIn(t *testing.T, s *station, dir, role string) *uploader {
	t.Helper()
	if _, err := managed(t, newUser, passphrase, "add", "--data", dir, "--role", role, role); err != nil {
		t.Fatal(err)
	}
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	u := &uploader{t, s, &http.Client{Jar: jar}}
	answer, err := u.client.PostForm(s.url()+"/login", url.Values{"name": {role}, "password": {passphrase}})
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	return u
}

// send sends a file by the form and returns the page that came of it.
func (u *uploader) send(name, file, text string) (int, string) {
	u.t.Helper()
	var b bytes.Buffer
	form := multipart.NewWriter(&b)
	if err := form.WriteField("name", name); err != nil {
		u.t.Fatal(err)
	}
	part, err := form.CreateFormFile("file", file)
	if err != nil {
		u.t.Fatal(err)
	}
	if _, err := io.WriteString(part, text); err != nil {
		u.t.Fatal(err)
	}
	form.Close()
	return u.read(u.client.Post(u.s.url()+"/imports", form.FormDataContentType(), &b))
}

func (u *uploader) act(do, name string) (int, string) {
	u.t.Helper()
	return u.read(u.client.PostForm(u.s.url()+"/imports/act", url.Values{"do": {do}, "name": {name}}))
}

func (u *uploader) read(answer *http.Response, err error) (int, string) {
	u.t.Helper()
	if err != nil {
		u.t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		u.t.Fatal(err)
	}
	return answer.StatusCode, string(body)
}

// sees waits for a text on the page of imports.
func (u *uploader) sees(want string) string {
	u.t.Helper()
	page := ""
	for end := time.Now().Add(30 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if _, page = u.read(u.client.Get(u.s.url() + "/imports")); strings.Contains(page, want) {
			return page
		}
	}
	u.t.Fatalf("the page does not say %q: %s", want, page)
	return ""
}

// stored counts the values of LT-102 in the week of the file.
func (u *uploader) stored() (n int) {
	u.t.Helper()
	known, err := u.s.store.Series(u.t.Context())
	if err != nil {
		u.t.Fatal(err)
	}
	for id, series := range known {
		if series.Name != "LT-102" || series.Class != store.Raw {
			continue
		}
		points, err := u.s.store.Points(u.t.Context(), id, time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC), time.Date(2026, 3, 8, 0, 0, 0, 0, time.UTC))
		if err != nil {
			u.t.Fatal(err)
		}
		n += len(points)
	}
	return n
}

// TestImportByPage hands in a file as an engineer without a shell would: it is
// tried, confirmed, repeated without effect and taken back, by the same inbox
// as the command line.
func TestImportByPage(t *testing.T) {
	dir, cfg := t.TempDir(), plantWithLogin(t)
	cfg.Service.ImportUpload = 1e6
	s := startStation(t, cfg, dir)
	u := logIn(t, s, dir, "engineer")

	if code, page := u.send("old", "values.xlsx", "x"); code != 422 || !strings.Contains(page, "neither .csv nor .parquet") {
		t.Errorf("a file of another kind: %d", code)
	}
	if code, page := u.send("old", "values.csv", strings.Repeat("0123456789", 300_000)); code != 413 || !strings.Contains(page, "larger than this service takes") {
		t.Errorf("a file of 3 MB: %d", code)
	}
	if code, _ := u.send("old", `C:\export\..\history.csv`, historianCSV+"2026-03-01T00:00:30Z,none,1\n"); code != 200 {
		t.Fatalf("handing in: %d", code)
	}
	page := u.sees("was tried; nothing is stored yet")
	for _, want := range []string{"history.csv", "engineer", "LT-102", "LI-102", "4 rows", "Times without a zone are taken as", "none"} {
		if !strings.Contains(page, want) {
			t.Errorf("the report of the trial lacks %q", want)
		}
	}
	if n := u.stored(); n != 0 {
		t.Fatalf("a trial stored %d values", n)
	}
	if code, page := u.send("other", "other.csv", historianCSV); code != 422 || !strings.Contains(page, "is in hand") {
		t.Errorf("a second file beside the one in hand: %d", code)
	}
	if code, _ := u.act("confirm", "other"); code != 422 {
		t.Errorf("confirming what was not tried: %d", code)
	}
	if code, _ := u.act("confirm", "old"); code != 200 {
		t.Fatalf("confirming: %d", code)
	}
	u.sees("old: imported")
	if n := u.stored(); n != 4 {
		t.Errorf("%d values stored, want 4", n)
	}
	if _, page := u.send("again", "history.csv", historianCSV); page == "" {
		t.Fatal("no answer")
	}
	u.sees("again was tried")
	u.act("discard", "again")
	u.sees("Hand in a file")
	u.act("undo", "old")
	u.sees("old: taken back")
	if n := u.stored(); n != 0 {
		t.Errorf("%d values after taking back, want none", n)
	}
	if left, err := os.ReadDir(filepath.Join(dir, inboxDir)); err != nil || len(left) != 0 {
		t.Errorf("%d folders left in the inbox, %v", len(left), err)
	}
	trail, err := managed(t, newAudit, "", "list", "--data", dir)
	for _, want := range []string{"handed in a file to import", "imported history", "discarded a file to import", "took back the import", "engineer"} {
		if err != nil || !strings.Contains(trail, want) {
			t.Errorf("the audit log lacks %q: %v", want, err)
		}
	}
}

// TestImportByInterface is the same for a program.
func TestImportByInterface(t *testing.T) {
	dir, cfg := t.TempDir(), plantWithLogin(t)
	cfg.Service.ImportUpload = 1e6
	s := startStation(t, cfg, dir)
	u := logIn(t, s, dir, "engineer")
	ask := func(method, path, kind, body string) (int, string) {
		t.Helper()
		r, err := http.NewRequestWithContext(t.Context(), method, s.url()+"/api/v1/imports"+path, strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", kind)
		return u.read(u.client.Do(r))
	}
	if code, body := ask("POST", "?name=by+program&file=history.csv", "application/octet-stream", historianCSV); code != 200 {
		t.Fatalf("handing in: %d %s", code, body)
	}
	await := func(state string) string {
		t.Helper()
		for end := time.Now().Add(30 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
			_, body := ask("GET", "", "", "")
			var all []struct{ Name, State string }
			if err := json.Unmarshal([]byte(body), &all); err != nil {
				t.Fatalf("%v: %s", err, body)
			}
			if len(all) > 0 && all[0].State == state {
				return body
			}
		}
		t.Fatalf("the import does not become %s", state)
		return ""
	}
	if body := await("tried"); !strings.Contains(body, `"column":"LT-102"`) || !strings.Contains(body, `"new":3`) {
		t.Errorf("the report is %s", body)
	}
	if code, body := ask("POST", "/act", "application/json", `{"name":"by program","do":"confirm"}`); code != 200 {
		t.Fatalf("confirming: %d %s", code, body)
	}
	await("imported")
	if n := u.stored(); n != 3 {
		t.Errorf("%d values stored, want 3", n)
	}
	if code, _ := ask("POST", "?name=large&file=large.csv", "application/octet-stream", strings.Repeat("x", 3_000_000)); code != 413 {
		t.Errorf("a file of 3 MB: %d, want 413", code)
	}
	if code, _ := ask("POST", "/act", "application/json", `{"name":"by program","do":"undo"}`); code != 200 {
		t.Errorf("taking back: %d", code)
	}
	await("undone")
}

// The door is shut unless the configuration opens it, and to whoever may not
// configure.
func TestImportDoorIsShut(t *testing.T) {
	dir, cfg := t.TempDir(), plantWithLogin(t)
	s := startStation(t, cfg, dir)
	u := logIn(t, s, dir, "engineer")
	if code, page := u.send("old", "history.csv", historianCSV); code != 422 || !strings.Contains(page, "service.import_upload") {
		t.Errorf("with the door shut: %d", code)
	}
	if code, _ := logIn(t, s, dir, "technician").send("old", "history.csv", historianCSV); code != 403 {
		t.Errorf("a technician gets %d, want 403", code)
	}
}
