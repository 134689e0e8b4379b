package embedded

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"bridlewatch/collector/store"
	"bridlewatch/collector/store/archive"
)

const dayMicros = int64(24 * time.Hour / time.Microsecond)

// dayOf numbers UTC days since 1970.
func dayOf(at int64) int64 { return floorTo(at, dayMicros) / dayMicros }

func dayName(day int64) string { return time.UnixMicro(day * dayMicros).UTC().Format(time.DateOnly) }

// block is one live archive file.
type block struct {
	id         int64
	day        int64
	class      store.Class
	generation int
	file       string // below DIR
	bytes      int64
	sum        string
	samples    int64
	series     []store.ID // of the row groups

	verified atomic.Bool // sum compared since Open
	damaged  atomic.Bool // not read any more; upkeep sets it aside
}

// sealedDay is what the manifest knows of a day.
type sealedDay struct {
	through int64 // scans up to this seq are in blocks
	dropped int64 // scans up to this seq are gone
	blocks  []*block
}

// manifest is the table of sealed days in memory. Readers hold gate shared
// for a whole query; what moves data between hot rows and files holds it
// alone for that moment.
type manifest struct {
	gate  sync.RWMutex
	days  map[int64]*sealedDay
	order []int64 // days that have blocks, ascending
	files fileCache
}

// day returns what is known of a day, nothing for one that never was sealed.
func (m *manifest) day(day int64) sealedDay {
	if d := m.days[day]; d != nil {
		return *d
	}
	return sealedDay{}
}

// enter returns the entry of a day for changing it, made when new.
func (m *manifest) enter(day int64) *sealedDay {
	d := m.days[day]
	if d == nil {
		d = &sealedDay{}
		m.days[day] = d
	}
	return d
}

// through returns up to which seq the scans of the day of at are sealed.
func (m *manifest) through(at int64) int64 {
	return m.day(dayOf(at)).through
}

func (m *manifest) add(b *block) {
	d := m.enter(b.day)
	d.blocks = append(d.blocks, b)
	if i, found := slices.BinarySearch(m.order, b.day); !found {
		m.order = slices.Insert(m.order, i, b.day)
	}
}

func (m *manifest) remove(b *block) {
	d := m.enter(b.day)
	d.blocks = slices.DeleteFunc(d.blocks, func(o *block) bool { return o == b })
	if i, found := slices.BinarySearch(m.order, b.day); found && len(d.blocks) == 0 {
		m.order = slices.Delete(m.order, i, i+1)
	}
	m.files.drop(b.id)
}

// between returns the days with blocks in [from, to) microseconds.
func (m *manifest) between(from, to int64) []int64 {
	i, _ := slices.BinarySearch(m.order, dayOf(from))
	j, _ := slices.BinarySearch(m.order, dayOf(to-1)+1)
	return m.order[i:max(i, j)]
}

func (db *DB) loadManifest(ctx context.Context) error {
	m := &db.sealed
	m.days, m.files.dir = map[int64]*sealedDay{}, db.dir
	rows, err := db.write.QueryContext(ctx, `SELECT day, through, dropped FROM sealed`)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var day int64
		var d sealedDay
		if err := rows.Scan(&day, &d.through, &d.dropped); err != nil {
			return err
		}
		*m.enter(day) = d
	}
	if err := rows.Err(); err != nil {
		return err
	}
	return db.loadBlocks(ctx)
}

func (db *DB) loadBlocks(ctx context.Context) error {
	rows, err := db.write.QueryContext(ctx,
		`SELECT id, day, class, generation, file, bytes, sha256, samples, series FROM block WHERE state = 'live' ORDER BY day, id`)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		b, series := &block{}, []byte(nil)
		if err := rows.Scan(&b.id, &b.day, &b.class, &b.generation, &b.file, &b.bytes, &b.sum, &b.samples, &series); err != nil {
			return err
		}
		b.series = decodeIDs(series)
		db.sealed.add(b)
	}
	return rows.Err()
}

// readBlock appends the samples of row group i of b to into. Damage is
// remembered and reported, and reads as nothing: the rest opens.
func (db *DB) readBlock(b *block, i int, into []sample, context bool) ([]sample, error) {
	if b.damaged.Load() {
		return into, nil
	}
	f, err := db.sealed.files.open(b)
	if err == nil {
		defer db.sealed.files.release(f)
		into, err = f.Read(i, into, context)
	}
	if errors.Is(err, store.ErrCorrupt) || errors.Is(err, os.ErrNotExist) {
		if !b.damaged.Swap(true) {
			db.notice("archive file %s of %s is damaged and not read any more: %v", b.file, dayName(b.day), err)
		}
		return into, nil
	}
	return into, err
}

// fileCache keeps recently used archive files open.
type fileCache struct {
	dir  string
	mu   sync.Mutex
	held []*openFile
}

const maxOpenFiles = 48

type openFile struct {
	*archive.File
	os    *os.File
	block int64
	users int
	gone  bool // dropped from the cache, closed by the last user
}

func (c *fileCache) open(b *block) (*openFile, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for i, f := range c.held {
		if f.block == b.id {
			c.held = append(slices.Delete(c.held, i, i+1), f)
			f.users++
			return f, nil
		}
	}
	f, err := openBlock(filepath.Join(c.dir, b.file), b)
	if err != nil {
		return nil, err
	}
	f.users = 1
	c.held = append(c.held, f)
	if len(c.held) > maxOpenFiles {
		c.evict(0)
	}
	return f, nil
}

func openBlock(path string, b *block) (*openFile, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	st, err := file.Stat()
	if err == nil && st.Size() != b.bytes {
		err = fmt.Errorf("%w: %d bytes, was %d when written", store.ErrCorrupt, st.Size(), b.bytes)
	}
	if err == nil && !b.verified.Load() {
		err = archive.Verify(file, b.bytes, b.sum)
	}
	if err != nil {
		return nil, errors.Join(err, file.Close())
	}
	b.verified.Store(true)
	a, err := archive.Open(file, b.bytes)
	if err == nil && a.Len() != len(b.series) {
		err = fmt.Errorf("%w: %d series, manifest has %d", store.ErrCorrupt, a.Len(), len(b.series))
	}
	if err != nil {
		return nil, errors.Join(err, file.Close())
	}
	return &openFile{File: a, os: file, block: b.id}, nil
}

func (c *fileCache) release(f *openFile) {
	c.mu.Lock()
	defer c.mu.Unlock()
	f.users--
	if f.gone && f.users == 0 {
		_ = f.os.Close() // only read
	}
}

// evict drops file i; the caller holds mu.
func (c *fileCache) evict(i int) {
	f := c.held[i]
	c.held = slices.Delete(c.held, i, i+1)
	f.gone = true
	if f.users == 0 {
		_ = f.os.Close() // only read
	}
}

func (c *fileCache) drop(id int64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if i := slices.IndexFunc(c.held, func(f *openFile) bool { return f.block == id }); i >= 0 {
		c.evict(i)
	}
}

func (c *fileCache) dropAll() {
	c.mu.Lock()
	defer c.mu.Unlock()
	for len(c.held) > 0 {
		c.evict(0)
	}
}

func insertBlock(ctx context.Context, tx *sql.Tx, b *block, now time.Time) error {
	r, err := tx.ExecContext(ctx,
		`INSERT INTO block (day, class, generation, file, bytes, sha256, samples, series, state, sealed_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, 'live', ?)`,
		b.day, b.class, b.generation, b.file, b.bytes, b.sum, b.samples, encodeSeries(b.series), now.UnixMicro())
	if err != nil {
		return err
	}
	b.id, err = r.LastInsertId()
	return err
}
