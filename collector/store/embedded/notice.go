package embedded

import (
	"fmt"
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
