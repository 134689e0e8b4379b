package main

import (
	"context"
	"fmt"
	"sync/atomic"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/embedded"
	"bridlewatch/dashboards"
)

// A service starts on a full disk as well: it compares and tells from live
// values, and does without what it cannot write. Once there is room it opens its
// data directory again, as after a restart, by itself.

// lookForRoom is how often it is looked for room, and mostPatience how seldom
// at most while opening again was in vain, as before a migration that needs more.
const (
	lookForRoom  = 5 * time.Second
	mostPatience = 5 * time.Minute
)

// shortage is what a station does without because its disk was full.
type shortage struct {
	text atomic.Pointer[string] // nil: nothing
	room atomic.Bool            // there is room again
}

// without passes every error on but that of a full disk, which it books.
func (s *station) without(what string, err error) error {
	if err == nil || s.turn != nil || !store.NoRoom(err) {
		return err
	}
	s.log.Error("no space left on the disk: the service goes on without "+what+" until there is room", "dir", s.dir, "error", err)
	s.short("The service goes on without " + what + ".")
	return nil
}

// short books what a full disk took from the start.
func (s *station) short(lacking string) {
	text := fmt.Sprintf("No space left on the disk of %s. %s Make room: the rest then begins by itself.", s.dir, lacking)
	s.shortage.text.CompareAndSwap(nil, &text)
}

// tell completes the health of the service.
func (x *shortage) tell(h *dashboards.Health, historyStopped bool) {
	text := x.text.Load()
	if text == nil {
		return
	}
	h.Notices = append(h.Notices, *text)
	if historyStopped && h.Store.Error == "" {
		h.Store.Error = *text
	}
}

// awaitRoom calls found once a station that began on a full disk has room. In
// vain is how often opening again has not helped in a row.
func (s *station) awaitRoom(ctx context.Context, inVain int, found func()) {
	if s.shortage.text.Load() == nil {
		return
	}
	tick := time.NewTicker(min(lookForRoom<<min(inVain, 10), mostPatience))
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		if embedded.HasRoom(s.dir) {
			s.log.Info("there is room on the disk again; the data directory is opened again", "dir", s.dir)
			s.shortage.room.Store(true)
			found()
			return
		}
	}
}

// takeOver records what an earlier station kept in memory.
func (s *station) takeOver(ctx context.Context, memory *embedded.DB) error {
	if memory == nil {
		return nil
	}
	scans, documents, err := memory.PourInto(ctx, s.store)
	if err != nil {
		s.log.Error("what was kept in memory while the disk was full is not all in history", "error", err)
	} else {
		s.log.Info("what was kept in memory while the disk was full is in history", "scans", scans, "documents", documents)
	}
	return closeMemory(memory)
}

// leavesMemory reports whether the store stays open for the next station.
func (s *station) leavesMemory() bool {
	return s.store != nil && s.store.InMemory() && s.shortage.room.Load()
}

func closeMemory(memory *embedded.DB) error {
	if memory == nil {
		return nil
	}
	return memory.Close()
}
