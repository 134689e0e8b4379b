package embedded

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"sync"
	"time"
)

// Notice is something a person should know about the history.
type Notice struct {
	Time time.Time
	Text string
}

const maxNotices = 200

type noticeBoard struct {
	mu   sync.Mutex
	list []Notice
	bad  map[int64]bool // scans that cannot be decoded
}

// notice logs and keeps a message; a repeated one is kept once.
func (db *DB) notice(format string, args ...any) {
	n := Notice{db.now().UTC(), fmt.Sprintf(format, args...)}
	b := &db.notices
	b.mu.Lock()
	defer b.mu.Unlock()
	if slices.ContainsFunc(b.list, func(o Notice) bool { return o.Text == n.Text }) {
		return
	}
	db.log.Error(n.Text)
	b.list = append(b.list, n)
	b.list = b.list[max(0, len(b.list)-maxNotices):]
}

// Notices returns what went wrong since the start, oldest first: damaged
// files set aside, scans that could not be read.
func (db *DB) Notices() []Notice {
	db.notices.mu.Lock()
	defer db.notices.mu.Unlock()
	return slices.Clone(db.notices.list)
}

// skip notices a scan that cannot be decoded.
func (db *DB) skip(seq int64, err error) {
	db.notice("scan %d is damaged and skipped: %v", seq, err)
	db.notices.mu.Lock()
	defer db.notices.mu.Unlock()
	if db.notices.bad == nil {
		db.notices.bad = map[int64]bool{}
	}
	db.notices.bad[seq] = true
}

// keepDamaged copies the damaged scans met so far to where they are not
// dropped.
func (db *DB) keepDamaged(ctx context.Context) error {
	db.notices.mu.Lock()
	seqs := slices.Collect(maps.Keys(db.notices.bad))
	db.notices.mu.Unlock()
	for _, seq := range seqs {
		err := db.execTx(ctx, `INSERT OR IGNORE INTO damaged_scan SELECT seq, t, config, layout, body FROM scan WHERE seq = ?`, seq)
		if err != nil {
			return fail("keep a damaged scan", err)
		}
		db.notices.mu.Lock()
		delete(db.notices.bad, seq)
		db.notices.mu.Unlock()
	}
	return nil
}
