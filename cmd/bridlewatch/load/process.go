package load

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"golang.org/x/sys/unix"
)

// ticksASecond is what the kernel counts processor time in: USER_HZ, which is
// 100 on every Linux (proc(5)).
const ticksASecond = 100

// use is what a process has used of the machine.
type use struct {
	at      time.Time
	cpu     time.Duration
	rss     int64 // bytes
	rssPeak int64
	written int64 // bytes handed to the disk
	threads int
}

// usedBy reads the books the kernel keeps of a process.
func usedBy(pid int) (u use, err error) {
	dir := filepath.Join("/proc", strconv.Itoa(pid))
	stat, err := os.ReadFile(filepath.Join(dir, "stat"))
	if err != nil {
		return u, err
	}
	// The name stands in brackets and may hold anything; user and system time
	// are fields 14 and 15, of which 3 is the first behind the name (proc(5)).
	fields := strings.Fields(string(stat[bytes.LastIndexByte(stat, ')')+1:]))
	if len(fields) < 13 {
		return u, fmt.Errorf("process %d: %d fields in stat", pid, len(fields))
	}
	for _, f := range fields[11:13] {
		ticks, err := strconv.ParseInt(f, 10, 64)
		if err != nil {
			return u, fmt.Errorf("process %d: %w", pid, err)
		}
		u.cpu += time.Duration(ticks) * time.Second / ticksASecond
	}
	u.at = time.Now()
	status, err := os.ReadFile(filepath.Join(dir, "status"))
	if err != nil {
		return u, err
	}
	u.rss, u.rssPeak, u.threads = 1024*numberAfter(status, "VmRSS:"), 1024*numberAfter(status, "VmHWM:"), int(numberAfter(status, "Threads:"))
	io, err := os.ReadFile(filepath.Join(dir, "io"))
	if err != nil {
		return u, err
	}
	u.written = numberAfter(io, "write_bytes:")
	return u, nil
}

// numberAfter is the number behind a label, 0 when there is none.
func numberAfter(text []byte, label string) int64 {
	_, rest, found := strings.Cut(string(text), label)
	if !found {
		return 0
	}
	fields := strings.Fields(rest)
	if len(fields) == 0 {
		return 0
	}
	n, _ := strconv.ParseInt(fields[0], 10, 64)
	return n
}

// diskUse is the room a directory takes.
func diskUse(dir string) (n int64) {
	_ = filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		var st unix.Stat_t
		if err == nil && !e.IsDir() && unix.Lstat(path, &st) == nil {
			n += st.Blocks * 512
		}
		return nil // a file that goes away meanwhile takes no room
	})
	return n
}
