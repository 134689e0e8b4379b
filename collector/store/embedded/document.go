package embedded

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"bridlewatch/collector/store"
)

// Put stores a new version of a document and returns its sequence number. It
// is store.ErrInvalid without a kind, an ID or a JSON body.
func (db *DB) Put(ctx context.Context, d store.Document) (int64, error) {
	if err := checkDocument(d); err != nil {
		return 0, err
	}
	db.mu.Lock()
	defer db.mu.Unlock()
	var seq int64
	err := db.inTx(ctx, func(tx *sql.Tx) (err error) {
		seq, err = put(ctx, tx, d)
		return err
	})
	return seq, fail("put document", err)
}

func checkDocument(d store.Document) error {
	if d.Kind == checkpointKind {
		return fmt.Errorf("%w: documents of kind %q are made by the store itself", store.ErrInvalid, d.Kind)
	}
	if d.Kind == "" || d.ID == "" || !json.Valid(d.Body) {
		return fmt.Errorf("%w: document %q %q needs a kind, an ID and a JSON body", store.ErrInvalid, d.Kind, d.ID)
	}
	return nil
}

func put(ctx context.Context, tx *sql.Tx, d store.Document) (int64, error) {
	newest, err := newestVersion(ctx, tx, d.Kind, d.ID)
	if err != nil {
		return 0, err
	}
	if d.Replaces != 0 && d.Replaces != newest {
		return 0, fmt.Errorf("%w: %s %s is at version %d, not %d; read it again", store.ErrConflict, d.Kind, d.ID, newest, d.Replaces)
	}
	d.Replaces = newest
	var before []byte
	err = tx.QueryRowContext(ctx, `SELECT seq, hash FROM document ORDER BY seq DESC LIMIT 1`).Scan(&d.Seq, &before)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return 0, err
	}
	d.Seq++
	if _, err := tx.ExecContext(ctx, `UPDATE document SET newest = 0 WHERE seq = ?`, newest); err != nil {
		return 0, err
	}
	_, err = tx.ExecContext(ctx,
		`INSERT INTO document (seq, kind, id, gauge, t, replaces, body, hash) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
		d.Seq, d.Kind, d.ID, d.Gauge, d.Time.UnixMicro(), sql.NullInt64{Int64: newest, Valid: newest != 0}, d.Body, chain(before, d))
	return d.Seq, err
}

func newestVersion(ctx context.Context, tx *sql.Tx, kind, id string) (seq int64, err error) {
	err = tx.QueryRowContext(ctx, `SELECT seq FROM document WHERE kind = ? AND id = ? AND newest = 1`, kind, id).Scan(&seq)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, nil
	}
	return seq, err
}

// chain is SHA-256 over the hash of the document before and every field of
// this one, each with its length.
func chain(before []byte, d store.Document) []byte {
	h := sha256.New()
	field := func(b []byte) {
		h.Write(binary.BigEndian.AppendUint64(nil, uint64(len(b))))
		h.Write(b)
	}
	field(before)
	for _, n := range []int64{d.Seq, d.Time.UnixMicro(), d.Replaces} {
		field(binary.BigEndian.AppendUint64(nil, uint64(n)))
	}
	for _, s := range []string{d.Kind, d.ID, d.Gauge} {
		field([]byte(s))
	}
	field(d.Body)
	return h.Sum(nil)
}

// Documents returns what matches q, oldest first unless q.Newest is set.
func (db *DB) Documents(ctx context.Context, q store.Query) ([]store.Document, error) {
	if err := db.checkIDs(); err != nil {
		return nil, err
	}
	where, args := conditions(q)
	order := "ASC"
	if q.Newest {
		order = "DESC"
	}
	limit := -1
	if q.Limit > 0 {
		limit = q.Limit
	}
	rows, err := db.read.QueryContext(ctx,
		`SELECT `+documentColumns+` FROM document WHERE `+where+` ORDER BY seq `+order+` LIMIT ?`, append(args, limit)...)
	if err != nil {
		return nil, fail("read documents", err)
	}
	defer rows.Close()
	var out []store.Document
	for rows.Next() {
		d, err := scanDocument(rows)
		if err != nil {
			return nil, fail("read documents", err)
		}
		out = append(out, d)
	}
	return out, fail("read documents", rows.Err())
}

func conditions(q store.Query) (where string, args []any) {
	all := []string{"seq > ?"}
	args = []any{q.After}
	only := func(cond string, set bool, arg any) {
		if set {
			all, args = append(all, cond), append(args, arg)
		}
	}
	only("kind = ?", q.Kind != "", q.Kind)
	only("id = ?", q.ID != "", q.ID)
	only("gauge = ?", q.Gauge != "", q.Gauge)
	only("t >= ?", !q.From.IsZero(), q.From.UnixMicro())
	only("t < ?", !q.To.IsZero(), q.To.UnixMicro())
	if q.Latest {
		all = append(all, "newest = 1")
	}
	return strings.Join(all, " AND "), args
}

const documentColumns = `seq, kind, id, gauge, t, coalesce(replaces, 0), body`

func scanDocument(rows *sql.Rows, more ...any) (store.Document, error) {
	var d store.Document
	var t int64
	err := rows.Scan(append([]any{&d.Seq, &d.Kind, &d.ID, &d.Gauge, &t, &d.Replaces, &d.Body}, more...)...)
	d.Time = time.UnixMicro(t).UTC()
	return d, err
}
