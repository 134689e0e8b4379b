package embedded

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"bridlewatch/collector/store"
)

// checkpointKind is the kind of the documents that vouch for pruned ones. Only
// this package puts them.
const checkpointKind = "pruned"

// pruneAtOnce is how many documents, with all their versions, go in one
// transaction.
const pruneAtOnce = 1000

// checkpoint says what was pruned: how many documents, up to which one, and
// SHA-256 over the first and last number and the last hash of every run.
type checkpoint struct {
	Kind     string    `json:"kind"`
	Before   time.Time `json:"before"`
	Count    int64     `json:"count"`
	Last     int64     `json:"last"`
	LastHash string    `json:"last_hash"`
	SHA256   string    `json:"sha256"`
}

// prunedRun is consecutive documents that are gone.
type prunedRun struct {
	first, last int64
	hash        []byte // of the last
	checkpoint  int64
}

// PruneDocuments drops the documents of a kind whose newest version is older
// than before, with all their versions, unless spare holds for the newest. The
// chain of all documents can still be verified: what stands in place of the
// dropped ones is vouched for by a document of its own. It returns how many
// versions went.
func (db *DB) PruneDocuments(ctx context.Context, kind string, before time.Time, spare func(store.Document) bool) (n int, err error) {
	if kind == "" || kind == checkpointKind {
		return 0, fmt.Errorf("%w: documents of kind %q are never pruned", store.ErrInvalid, kind)
	}
	for after := int64(0); ; {
		var ids []string
		if ids, after, err = db.spentDocuments(ctx, kind, before, after, spare); err != nil {
			return n, fail("prune documents", err)
		}
		if len(ids) == 0 {
			return n, nil
		}
		gone, err := db.pruneIDs(ctx, kind, before, ids)
		if n += gone; err != nil {
			return n, fail("prune documents", err)
		}
	}
}

// spentDocuments returns the names of documents to prune, and where to look on.
func (db *DB) spentDocuments(ctx context.Context, kind string, before time.Time, after int64, spare func(store.Document) bool) ([]string, int64, error) {
	rows, err := db.read.QueryContext(ctx,
		`SELECT `+documentColumns+` FROM document WHERE kind = ? AND newest = 1 AND t < ? AND seq > ? ORDER BY seq`, kind, before.UnixMicro(), after)
	if err != nil {
		return nil, after, err
	}
	defer rows.Close()
	var ids []string
	for len(ids) < pruneAtOnce && rows.Next() {
		d, err := scanDocument(rows)
		if err != nil {
			return nil, after, err
		}
		if after = d.Seq; !spare(d) {
			ids = append(ids, d.ID)
		}
	}
	return ids, after, rows.Err()
}

func (db *DB) pruneIDs(ctx context.Context, kind string, before time.Time, ids []string) (n int, err error) {
	db.mu.Lock()
	defer db.mu.Unlock()
	err = db.inTx(ctx, func(tx *sql.Tx) error {
		runs, err := runsOf(ctx, tx, kind, before, ids)
		if err != nil || len(runs) == 0 {
			return err
		}
		c := vouch(runs)
		c.Kind, c.Before = kind, before.UTC()
		body, err := json.Marshal(c)
		if err != nil {
			return err
		}
		// It is put first: it is the newest document, so numbers go on and are
		// never used twice.
		seq, err := put(ctx, tx, store.Document{Kind: checkpointKind, ID: kind, Time: db.now(), Body: body})
		if err != nil {
			return err
		}
		n = int(c.Count)
		return dropRuns(ctx, tx, runs, seq)
	})
	if err != nil {
		return 0, err
	}
	return n, nil
}

// runsOf joins the versions of documents to runs. A document that has become
// newer since it was chosen stays.
func runsOf(ctx context.Context, tx *sql.Tx, kind string, before time.Time, ids []string) ([]prunedRun, error) {
	var all []prunedRun
	for _, id := range ids {
		rows, err := tx.QueryContext(ctx, `SELECT seq, hash FROM document WHERE kind = ?1 AND id = ?2
			AND EXISTS (SELECT 1 FROM document WHERE kind = ?1 AND id = ?2 AND newest = 1 AND t < ?3)`, kind, id, before.UnixMicro())
		if err != nil {
			return nil, err
		}
		for rows.Next() {
			var r prunedRun
			if err := rows.Scan(&r.first, &r.hash); err != nil {
				return nil, err
			}
			r.last = r.first
			all = append(all, r)
		}
		if err := rows.Close(); err != nil {
			return nil, err
		}
	}
	slices.SortFunc(all, func(a, b prunedRun) int { return int(a.first - b.first) })
	var runs []prunedRun
	for _, r := range all {
		if n := len(runs) - 1; n >= 0 && runs[n].last+1 == r.first {
			runs[n].last, runs[n].hash = r.last, r.hash
			continue
		}
		runs = append(runs, r)
	}
	return runs, nil
}

func vouch(runs []prunedRun) (c checkpoint) {
	h := sha256.New()
	for _, r := range runs {
		c.Count += r.last - r.first + 1
		c.Last, c.LastHash = r.last, hex.EncodeToString(r.hash)
		h.Write(binary.BigEndian.AppendUint64(binary.BigEndian.AppendUint64(nil, uint64(r.first)), uint64(r.last)))
		h.Write(r.hash)
	}
	c.SHA256 = hex.EncodeToString(h.Sum(nil))
	return c
}

func dropRuns(ctx context.Context, tx *sql.Tx, runs []prunedRun, checkpoint int64) error {
	// Versions of one document refer to each other and may lie in several runs.
	if _, err := tx.ExecContext(ctx, `PRAGMA defer_foreign_keys = ON`); err != nil {
		return err
	}
	for _, r := range runs {
		if _, err := tx.ExecContext(ctx, `DELETE FROM document WHERE seq BETWEEN ? AND ?`, r.first, r.last); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `INSERT INTO pruned (first, last, hash, checkpoint) VALUES (?, ?, ?, ?)`, r.first, r.last, r.hash, checkpoint); err != nil {
			return err
		}
	}
	return nil
}
