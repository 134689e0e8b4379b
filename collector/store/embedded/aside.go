package embedded

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/replacement"
)

// asideDir holds damaged and unknown files; nothing in it is read.
const asideDir = "aside"

func (db *DB) moveAside(name string) {
	to := filepath.Join(db.dir, asideDir, strings.ReplaceAll(name, string(filepath.Separator), "_"))
	err := os.MkdirAll(filepath.Dir(to), 0o700)
	if err == nil {
		err = os.Rename(filepath.Join(db.dir, name), to)
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		db.log.Warn("file not set aside", "file", name, "err", err)
	}
}

// setAside takes damaged blocks out of the manifest.
func (db *DB) setAside(ctx context.Context) error {
	var damaged []*block
	for _, d := range db.sealed.days {
		for _, b := range d.blocks {
			if b.damaged.Load() {
				damaged = append(damaged, b)
			}
		}
	}
	for _, b := range damaged {
		if err := db.setBlockAside(ctx, b); err != nil {
			return fail("set "+b.file+" aside", err)
		}
	}
	return nil
}

func (db *DB) setBlockAside(ctx context.Context, b *block) error {
	db.sealed.gate.Lock()
	defer db.sealed.gate.Unlock()
	if err := db.execTx(ctx, `UPDATE block SET state = 'damaged', note = 'does not match its checksum' WHERE id = ?`, b.id); err != nil {
		return err
	}
	db.sealed.remove(b)
	db.moveAside(b.file)
	return nil
}

// recentDays is how many of the newest days are verified at the start; the
// others are when first read, and by VerifyArchive.
const recentDays = 3

// cleanArchive removes unfinished files, takes in or sets aside unknown ones,
// notices missing or resized ones and verifies the newest.
func (db *DB) cleanArchive(ctx context.Context) error {
	known, err := db.knownFiles(ctx)
	if err != nil {
		return err
	}
	var unknown []string
	root := filepath.Join(db.dir, "archive")
	err = filepath.WalkDir(root, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		name, err := filepath.Rel(db.dir, path)
		switch {
		case err != nil:
			return err
		case strings.HasSuffix(name, replacement.Suffix):
			return os.Remove(path)
		case !known[name]:
			unknown = append(unknown, name)
		}
		return nil
	})
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := db.adopt(ctx, unknown); err != nil {
		return err
	}
	return db.checkFiles(ctx)
}

func (db *DB) knownFiles(ctx context.Context) (map[string]bool, error) {
	rows, err := db.write.QueryContext(ctx, `SELECT file FROM block WHERE state <> 'damaged'`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	known := map[string]bool{}
	for rows.Next() {
		var file string
		if err := rows.Scan(&file); err != nil {
			return nil, err
		}
		known[file] = true
	}
	return known, rows.Err()
}

func (db *DB) checkFiles(ctx context.Context) error {
	order := db.sealed.order
	newest := order[max(0, len(order)-recentDays):]
	for _, day := range order {
		for _, b := range db.sealed.days[day].blocks {
			st, err := os.Stat(filepath.Join(db.dir, b.file))
			if err != nil || st.Size() != b.bytes || slices.Contains(newest, day) {
				db.verify(b)
			}
		}
	}
	return db.setAside(ctx)
}

// verify compares a file with its checksum and remembers damage.
func (db *DB) verify(b *block) {
	b.verified.Store(false)
	f, err := openBlock(filepath.Join(db.dir, b.file), b)
	if err == nil {
		_ = f.os.Close() // only read
		return
	}
	if errors.Is(err, store.ErrCorrupt) || errors.Is(err, fs.ErrNotExist) {
		b.damaged.Store(true)
		db.notice("archive file %s of %s is damaged and set aside: %v", b.file, dayName(b.day), err)
	} else {
		db.log.Warn("archive file not verified", "file", b.file, "err", err)
	}
}

// VerifyArchive compares every archive file with its checksum, calling
// progress after each, and sets damaged ones aside. It returns how many were
// damaged.
func (db *DB) VerifyArchive(ctx context.Context, progress func(done, total int)) (damaged int, err error) {
	db.keep.Lock()
	defer db.keep.Unlock()
	var blocks []*block
	for _, day := range db.sealed.order {
		blocks = append(blocks, db.sealed.days[day].blocks...)
	}
	for i, b := range blocks {
		if err := ctx.Err(); err != nil {
			return damaged, err
		}
		if db.verify(b); b.damaged.Load() {
			damaged++
		}
		if progress != nil {
			progress(i+1, len(blocks))
		}
	}
	return damaged, db.setAside(ctx)
}
