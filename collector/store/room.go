package store

import (
	"errors"
	"syscall"
)

// NoRoom reports whether an error says that a disk, or the share of it that one
// may use, is full.
func NoRoom(err error) bool {
	return errors.Is(err, ErrFull) || errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)
}
