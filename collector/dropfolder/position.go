package dropfolder

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"time"

	"bridlewatch/collector/store/replacement"
)

// mark is how far a file has been read.
type mark struct {
	File    string    `json:"file"`
	Size    int64     `json:"size"`    // when it was opened
	Written time.Time `json:"written"` // likewise
	Time    time.Time `json:"time"`    // of the last row given
	Line    int       `json:"line"`    // likewise
	Done    bool      `json:"done"`    // to the end
}

// position is what is remembered of a folder.
type position struct {
	Newest time.Time       `json:"newest"` // row given
	Files  map[string]mark `json:"files"`  // those still in the folder
}

// load reads the position; there is none at the first start.
func (s *Source) load() error {
	if s.known {
		return nil
	}
	s.position = position{Files: map[string]mark{}}
	text, err := os.ReadFile(s.opts.Position)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return fmt.Errorf("read the position: %w", err)
	default:
		if err := json.Unmarshal(text, &s.position); err != nil {
			return fmt.Errorf("position file %s: %w; remove it to read the folder from the beginning", s.opts.Position, err)
		}
	}
	s.known = true
	return nil
}

// remember notes the marks of rows that were given, but for the last few.
func (s *Source) remember(but int) error {
	if err := s.load(); err != nil {
		return err
	}
	n := len(s.handed) - but
	if n <= 0 {
		return nil
	}
	for _, m := range s.handed[:n] {
		s.position.Files[m.File] = m
		if m.Time.After(s.position.Newest) {
			s.position.Newest = m.Time
		}
	}
	s.handed = slices.Delete(s.handed, 0, n)
	return s.save()
}

// save remembers how far this source is.
func (s *Source) save() error {
	text, err := json.MarshalIndent(s.position, "", "\t")
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(s.opts.Position), 0o750); err != nil {
		return fmt.Errorf("remember the position: %w", err)
	}
	if err := replacement.WriteBytes(s.opts.Position, 0o640, text); err != nil {
		return fmt.Errorf("remember the position: %w", err)
	}
	return nil
}

// reached is how far a file has been read, whether remembered or not.
func (s *Source) reached(file string) (mark, bool) {
	for _, m := range slices.Backward(s.handed) {
		if m.File == file {
			return m, true
		}
	}
	m, ok := s.position.Files[file]
	return m, ok
}

// newest is the newest row given.
func (s *Source) newest() time.Time {
	t := s.position.Newest
	for _, m := range s.handed {
		if m.Time.After(t) {
			t = m.Time
		}
	}
	return t
}

// sight is a file as it was first seen with this size and time.
type sight struct {
	size    int64
	written time.Time
	since   time.Time
}

// settled says that nobody has written to a file for a while, by its own time
// or, where the clock that stamps it runs ahead, by what we saw.
func (s *Source) settled(m mark, now time.Time) bool {
	if now.Sub(m.Written) >= s.opts.Settled {
		return true
	}
	have, ok := s.seen[m.File]
	if !ok || have.size != m.Size || !have.written.Equal(m.Written) {
		s.seen[m.File] = sight{m.Size, m.Written, now}
		return false
	}
	return now.Sub(have.since) >= s.opts.Settled
}

// openNext opens the oldest complete file that has not been read to its end.
func (s *Source) openNext() (found bool, err error) {
	entries, err := os.ReadDir(s.opts.Dir)
	if err != nil {
		return false, err
	}
	now := s.clock.Now()
	var candidates []mark
	there := map[string]bool{}
	for _, e := range entries {
		match, _ := filepath.Match(s.opts.Pattern, e.Name())
		info, err := e.Info()
		if !match || err != nil || !info.Mode().IsRegular() {
			continue
		}
		there[e.Name()] = true
		m := mark{File: e.Name(), Size: info.Size(), Written: info.ModTime()}
		if !s.settled(m, now) {
			continue
		}
		if have, ok := s.reached(m.File); ok && have.Done && have.Size == m.Size && have.Written.Equal(m.Written) {
			continue
		}
		candidates = append(candidates, m)
	}
	maps.DeleteFunc(s.position.Files, func(name string, _ mark) bool { return !there[name] })
	maps.DeleteFunc(s.seen, func(name string, _ sight) bool { return !there[name] })
	slices.SortFunc(candidates, func(a, b mark) int { return cmp.Or(a.Written.Compare(b.Written), cmp.Compare(a.File, b.File)) })
	for _, m := range candidates {
		if s.open, err = s.openTable(m); err == nil {
			return true, nil
		}
		s.trouble(m.File, 0, "%v", err)
		m.Done = true // until it changes
		s.handed = append(s.handed, m)
	}
	return false, nil
}
