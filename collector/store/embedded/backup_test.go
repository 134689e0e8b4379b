package embedded

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/storetest"
)

func TestBackupWhileRecording(t *testing.T) {
	p := newPlant(t, 4, Options{})
	p.run(60*time.Hour, 10*time.Minute)
	p.upkeep()
	if _, err := p.Put(t.Context(), store.Document{Kind: "record", ID: "R-1", Time: p.now, Body: []byte(`{"a":1}`)}); err != nil {
		t.Fatal(err)
	}
	want := p.all(p.ids[2])
	file := filepath.Join(t.TempDir(), "history.backup")
	stop, done := make(chan struct{}), make(chan error, 1)
	go func() { // recording goes on
		var err error
		for n := 0; err == nil; n++ {
			select {
			case <-stop:
				done <- nil
				return
			default:
				err = p.Append(t.Context(), storetest.ScanAt(farFuture.Add(time.Duration(n)*time.Second), p.ids, 1))
			}
		}
		done <- err
	}()
	calls := 0
	made, err := CreateBackup(t.Context(), p.dir, file, func(done, total int64) { calls++ })
	close(stop)
	if err := errors.Join(err, <-done); err != nil {
		t.Fatal(err)
	}
	if len(made.Members) < 4 || calls != len(made.Members) {
		t.Errorf("%d members and %d calls, want the database and some archive files", len(made.Members), calls)
	}
	checked, err := VerifyBackup(t.Context(), file)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(made, checked); diff != "" {
		t.Errorf("verified (-made +verified):\n%s", diff)
	}
	dir := filepath.Join(t.TempDir(), "restored")
	if _, err := RestoreBackup(t.Context(), file, dir); err != nil {
		t.Fatal(err)
	}
	again := &plant{t: t, dir: dir, now: p.now}
	again.reopen()
	if diff := cmp.Diff(want, again.all(p.ids[2])); diff != "" {
		t.Errorf("points (-backed up +restored):\n%s", diff)
	}
	if docs, err := again.Documents(t.Context(), store.Query{}); err != nil || len(docs) != 1 {
		t.Errorf("%d documents, error %v; want one", len(docs), err)
	}
	if _, err := RestoreBackup(t.Context(), file, dir); err == nil || !strings.Contains(err.Error(), "not empty") {
		t.Errorf("restoring over history: %v, want a refusal", err)
	}
	if _, err := CreateBackup(t.Context(), p.dir, file, nil); err == nil || !strings.Contains(err.Error(), "exists") {
		t.Errorf("overwriting a backup: %v, want a refusal", err)
	}
}

func TestDamagedBackupIsRefused(t *testing.T) {
	p := newPlant(t, 3, Options{})
	p.run(30*time.Hour, 30*time.Minute)
	p.upkeep()
	file := filepath.Join(t.TempDir(), "history.backup")
	if _, err := CreateBackup(t.Context(), p.dir, file, nil); err != nil {
		t.Fatal(err)
	}
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name   string
		damage func([]byte) []byte
	}{
		{"flipped bit", func(b []byte) []byte { b[len(b)/2] ^= 4; return b }},
		{"cut", func(b []byte) []byte { return b[:len(b)*2/3] }},
		{"another file", func([]byte) []byte { return []byte("not a backup") }},
	} {
		t.Run(c.name, func(t *testing.T) {
			bad := filepath.Join(t.TempDir(), "bad")
			if err := os.WriteFile(bad, c.damage(append([]byte(nil), raw...)), 0o600); err != nil {
				t.Fatal(err)
			}
			if _, err := VerifyBackup(t.Context(), bad); !errors.Is(err, store.ErrCorrupt) {
				t.Errorf("verify: %v, want ErrCorrupt", err)
			}
			dir := filepath.Join(t.TempDir(), "restored")
			if _, err := RestoreBackup(t.Context(), bad, dir); !errors.Is(err, store.ErrCorrupt) {
				t.Errorf("restore: %v, want ErrCorrupt", err)
			}
			if _, err := os.Stat(dir); !errors.Is(err, os.ErrNotExist) {
				t.Error("half a restored directory stayed")
			}
		})
	}
}
