package embedded

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"

	"bridlewatch/collector/store"
)

var _ store.Outbox = (*DB)(nil)

// PutAll stores documents and parcels in one transaction: a record is never
// there without the message that tells of it, nor the other way round.
func (db *DB) PutAll(ctx context.Context, docs []store.Document, parcels []store.Parcel) ([]int64, error) {
	for _, d := range docs {
		if err := checkDocument(d); err != nil {
			return nil, err
		}
	}
	for _, p := range parcels {
		if p.Kind == "" || !json.Valid(p.Body) {
			return nil, fmt.Errorf("%w: parcel %q needs a kind and a JSON body", store.ErrInvalid, p.Kind)
		}
	}
	db.mu.Lock()
	defer db.mu.Unlock()
	seqs := make([]int64, len(docs))
	err := db.inTx(ctx, func(tx *sql.Tx) (err error) {
		for i, d := range docs {
			if seqs[i], err = put(ctx, tx, d); err != nil {
				return err
			}
		}
		for _, p := range parcels {
			if _, err := tx.ExecContext(ctx, `INSERT INTO outbox (kind, body, due) VALUES (?, ?, ?)`, p.Kind, p.Body, p.Due.UnixMicro()); err != nil {
				return err
			}
		}
		return nil
	})
	return seqs, fail("put", err)
}

// Due returns parcels of a kind whose time has come, the longest due first.
func (db *DB) Due(ctx context.Context, kind string, now time.Time, limit int) ([]store.Parcel, error) {
	if err := db.checkIDs(); err != nil {
		return nil, err
	}
	rows, err := db.read.QueryContext(ctx,
		`SELECT id, kind, body, due, tries, error FROM outbox WHERE kind = ? AND due <= ? ORDER BY due, id LIMIT ?`, kind, now.UnixMicro(), limit)
	if err != nil {
		return nil, fail("read outbox", err)
	}
	defer rows.Close()
	var out []store.Parcel
	for rows.Next() {
		var p store.Parcel
		var due int64
		if err := rows.Scan(&p.ID, &p.Kind, &p.Body, &due, &p.Tries, &p.Error); err != nil {
			return nil, fail("read outbox", err)
		}
		p.Due = time.UnixMicro(due).UTC()
		out = append(out, p)
	}
	return out, fail("read outbox", rows.Err())
}

// Delivered removes a parcel.
func (db *DB) Delivered(ctx context.Context, id int64) error {
	return fail("outbox", db.execTx(ctx, `DELETE FROM outbox WHERE id = ?`, id))
}

// Failed notes an unsuccessful try and when to try again.
func (db *DB) Failed(ctx context.Context, id int64, again time.Time, reason string) error {
	return fail("outbox", db.execTx(ctx, `UPDATE outbox SET tries = tries + 1, due = ?, error = ? WHERE id = ?`, again.UnixMicro(), reason, id))
}
