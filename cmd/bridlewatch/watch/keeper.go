package watch

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"bridlewatch/compare"
	"bridlewatch/config"
)

// keepEvery is how often, by the machine's clock, detector state is saved.
const keepEvery = time.Minute

// keeper saves the state of the detectors, so that a restart neither forgets
// an episode nor announces it again.
type keeper struct {
	file string
	last time.Time
}

// kept is the form of the file.
type kept struct {
	Saved  time.Time                 `json:"saved"`
	States map[string]*compare.State `json:"states"`
}

func newKeeper(dir string) *keeper {
	return &keeper{file: filepath.Join(dir, "detectors.json"), last: time.Now()}
}

// restore reads the states of the gauges that still exist. A damaged file is
// set aside: detectors then begin anew, which is said.
func (k *keeper) restore(units []*unit, log *slog.Logger) error {
	text, err := os.ReadFile(k.file)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("read detector state: %w", err)
	}
	var all kept
	if err := json.NewDecoder(bytes.NewReader(text)).Decode(&all); err != nil {
		aside := k.file + ".damaged"
		log.Error("detector state is damaged and was set aside; detectors begin anew", "file", aside, "error", err)
		return os.Rename(k.file, aside)
	}
	for _, u := range units {
		if st, ok := all.States[u.config.Sheet.Tag]; ok && st != nil {
			u.state = *st
		}
	}
	return nil
}

func (k *keeper) keep(_ time.Time, units []*unit) error {
	if time.Since(k.last) < keepEvery {
		return nil
	}
	return k.save(units)
}

// save writes beside, syncs and renames, so that a kill leaves the old file.
func (k *keeper) save(units []*unit) error {
	k.last = time.Now()
	all := kept{Saved: k.last, States: make(map[string]*compare.State, len(units))}
	for _, u := range units {
		all.States[u.config.Sheet.Tag] = &u.state
	}
	text, err := json.Marshal(all)
	if err != nil {
		return fmt.Errorf("encode detector state: %w", err)
	}
	beside := k.file + ".new"
	if err := writeSynced(beside, text); err != nil {
		return err
	}
	return os.Rename(beside, k.file)
}

func writeSynced(name string, text []byte) error {
	f, err := os.OpenFile(name, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return fmt.Errorf("save detector state: %w", err)
	}
	_, err = f.Write(text)
	return errors.Join(err, f.Sync(), f.Close())
}

// Revive makes a watch of what a service left in its data directory, to be
// asked and not to be run.
func Revive(ctx context.Context, cfg *config.Config, dataDir string) (*Watch, error) {
	return New(ctx, cfg, Options{StateDir: StateDir(dataDir)})
}

// StateFile is the file detector state is kept in below a data directory.
func StateFile(dataDir string) string { return newKeeper(StateDir(dataDir)).file }

// Adopt puts detector state another box has left in place of that of a data
// directory, when it is newer.
func Adopt(dataDir string, state []byte) (adopted bool, err error) {
	var theirs, ours kept
	if err := json.Unmarshal(state, &theirs); err != nil {
		return false, fmt.Errorf("detector state of the other box: %w", err)
	}
	file := StateFile(dataDir)
	text, err := os.ReadFile(file)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return false, fmt.Errorf("read detector state: %w", err)
	case json.Unmarshal(text, &ours) == nil && !theirs.Saved.After(ours.Saved):
		return false, nil
	}
	if err := os.MkdirAll(StateDir(dataDir), 0o700); err != nil {
		return false, fmt.Errorf("make state directory: %w", err)
	}
	if err := writeSynced(file+".new", state); err != nil {
		return false, err
	}
	return true, os.Rename(file+".new", file)
}

// StateDir is where detector state is kept below a data directory.
func StateDir(dataDir string) string { return filepath.Join(dataDir, "state") }
