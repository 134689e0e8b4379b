package watch

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"sync"
	"time"

	"bridlewatch/collector/store/replacement"
	"bridlewatch/compare"
	"bridlewatch/config"
)

// keepEvery is how often, by the machine's clock, detector state is saved.
const keepEvery = time.Minute

// keeper saves the state of the detectors, so that a restart neither forgets
// an episode nor announces it again.
type keeper struct {
	file string
	log  *slog.Logger
	last time.Time
	busy sync.Mutex // held while a state is written
}

// kept is the form of the file.
type kept struct {
	Saved  time.Time                 `json:"saved"`
	States map[string]*compare.State `json:"states"`
}

func newKeeper(dir string, log *slog.Logger) *keeper {
	return &keeper{file: stateFile(dir), log: log, last: time.Now()}
}

func stateFile(dir string) string { return filepath.Join(dir, "detectors.json") }

// restore reads the states of the gauges that still exist. A damaged file is
// set aside: detectors then begin anew, which is said.
func (k *keeper) restore(units []*unit) error {
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
		k.log.Error("detector state is damaged and was set aside; detectors begin anew", "file", aside, "error", err)
		return os.Rename(k.file, aside)
	}
	for _, u := range units {
		if st, ok := all.States[u.config.Sheet.Tag]; ok && st != nil {
			u.state = *st
		}
	}
	return nil
}

// keep saves now and then, beside the scans: the state of a thousand gauges
// takes longer to write than a scan may.
func (k *keeper) keep(units []*unit) {
	if time.Since(k.last) < keepEvery || !k.busy.TryLock() {
		return
	}
	k.last = time.Now()
	go func() {
		defer k.busy.Unlock()
		if err := k.write(units); err != nil {
			k.log.Warn("detector state was not saved", "error", err)
		}
	}()
}

// save returns when the state as it is now is on disk.
func (k *keeper) save(units []*unit) error {
	k.busy.Lock()
	defer k.busy.Unlock()
	return k.write(units)
}

// write holds up one gauge at a time.
func (k *keeper) write(units []*unit) error {
	err := replacement.Write(k.file, 0o600, func(w io.Writer) error {
		out := bufio.NewWriterSize(w, 1<<16)
		return errors.Join(encodeStates(out, units), out.Flush())
	})
	if err != nil {
		return fmt.Errorf("save detector state: %w", err)
	}
	return nil
}

// encodeStates writes what kept describes, one gauge after another.
func encodeStates(out *bufio.Writer, units []*unit) error {
	head, err := json.Marshal(time.Now())
	if err != nil {
		return err
	}
	fmt.Fprintf(out, `{"saved":%s,"states":{`, head)
	for i, u := range units {
		tag, err := json.Marshal(u.config.Sheet.Tag)
		if err != nil {
			return err
		}
		u.mu.Lock()
		state, err := json.Marshal(&u.state)
		u.mu.Unlock()
		if err != nil {
			return err
		}
		if i > 0 {
			out.WriteByte(',')
		}
		fmt.Fprintf(out, "%s:%s", tag, state)
	}
	_, err = out.WriteString("}}\n") // an error stays with the writer
	return err
}

// Revive makes a watch of what a service left in its data directory, to be
// asked and not to be run.
func Revive(ctx context.Context, cfg *config.Config, dataDir string) (*Watch, error) {
	return New(ctx, cfg, Options{StateDir: StateDir(dataDir)})
}

// StateFile is the file detector state is kept in below a data directory.
func StateFile(dataDir string) string { return stateFile(StateDir(dataDir)) }

// SaveState returns when the state of the detectors as it is now is in the
// state file.
func (w *Watch) SaveState() error {
	if w.keeper == nil {
		return nil
	}
	return w.keeper.save(w.units)
}

// Adopt puts detector state that was handed over in place of that of a data
// directory: that of another box always, our own when it is newer.
func Adopt(dataDir string, state []byte, others bool) (adopted bool, err error) {
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
	case !others && json.Unmarshal(text, &ours) == nil && !theirs.Saved.After(ours.Saved):
		return false, nil
	}
	if err := os.MkdirAll(StateDir(dataDir), 0o700); err != nil {
		return false, fmt.Errorf("make state directory: %w", err)
	}
	if err := replacement.WriteBytes(file, 0o600, state); err != nil {
		return false, fmt.Errorf("adopt detector state: %w", err)
	}
	return true, nil
}

// StateDir is where detector state is kept below a data directory.
func StateDir(dataDir string) string { return filepath.Join(dataDir, "state") }
