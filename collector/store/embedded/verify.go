package embedded

import (
	"context"
	"encoding/json"
	"fmt"

	"bridlewatch/collector/store"
)

// VerifyDocuments walks the hash chain of all documents. It is
// store.ErrCorrupt, naming the first document that does not fit, when one was
// changed or removed outside the program. Where documents were pruned, the
// chain goes on from the hash that was kept of the last of them, and a document
// further on in the chain must vouch for exactly that.
func (db *DB) VerifyDocuments(ctx context.Context) (store.Chain, error) {
	runs, err := db.prunedRuns(ctx)
	if err != nil {
		return store.Chain{}, fail("verify documents", err)
	}
	w := chainWalk{runs: runs, next: 1, checkpoints: map[int64]checkpoint{}}
	rows, err := db.read.QueryContext(ctx, `SELECT `+documentColumns+`, hash FROM document ORDER BY seq`)
	if err != nil {
		return store.Chain{}, fail("verify documents", err)
	}
	defer rows.Close()
	for rows.Next() {
		var stored []byte
		d, err := scanDocument(rows, &stored)
		if err != nil {
			return w.found, fail("verify documents", err)
		}
		if err := w.step(d, stored); err != nil {
			return w.found, err
		}
	}
	if err := rows.Err(); err != nil {
		return w.found, fail("verify documents", err)
	}
	return w.found, w.vouched(runs)
}

// prunedRuns reads what stands in place of pruned documents. A copy made
// before there were any has no table of them.
func (db *DB) prunedRuns(ctx context.Context) (runs []prunedRun, err error) {
	var known int
	if err := db.read.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_master WHERE type = 'table' AND name = 'pruned'`).Scan(&known); err != nil || known == 0 {
		return nil, err
	}
	rows, err := db.read.QueryContext(ctx, `SELECT first, last, hash, checkpoint FROM pruned ORDER BY first`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var r prunedRun
		if err := rows.Scan(&r.first, &r.last, &r.hash, &r.checkpoint); err != nil {
			return nil, err
		}
		runs = append(runs, r)
	}
	return runs, rows.Err()
}

// chainWalk is how far a verification has come.
type chainWalk struct {
	found       store.Chain
	runs        []prunedRun // still ahead
	next        int64       // number that must come
	checkpoints map[int64]checkpoint
}

// step takes the next document that is there.
func (w *chainWalk) step(d store.Document, stored []byte) error {
	for len(w.runs) > 0 && w.runs[0].first == w.next && w.runs[0].last >= w.next {
		r := w.runs[0]
		w.found.Pruned += int(r.last - r.first + 1)
		w.found.Hash, w.next, w.runs = r.hash, r.last+1, w.runs[1:]
	}
	if d.Seq != w.next || string(chain(w.found.Hash, d)) != string(stored) {
		return fmt.Errorf("%w: document %d (%s %s) does not follow from the one before: it, or one before it, was changed or removed",
			store.ErrCorrupt, d.Seq, d.Kind, d.ID)
	}
	w.found.Documents, w.found.Hash, w.next = w.found.Documents+1, stored, w.next+1
	if d.Kind != checkpointKind {
		return nil
	}
	var c checkpoint
	if err := json.Unmarshal(d.Body, &c); err != nil {
		return fmt.Errorf("%w: document %d, which vouches for pruned ones, cannot be read: %w", store.ErrCorrupt, d.Seq, err)
	}
	w.checkpoints[d.Seq] = c
	return nil
}

// vouched holds all runs against the documents that vouch for them.
func (w *chainWalk) vouched(runs []prunedRun) error {
	if len(w.runs) > 0 {
		return fmt.Errorf("%w: documents %d to %d are entered as pruned, which does not fit what is there", store.ErrCorrupt, w.runs[0].first, w.runs[0].last)
	}
	of := map[int64][]prunedRun{}
	for _, r := range runs {
		of[r.checkpoint] = append(of[r.checkpoint], r)
		if c, ok := w.checkpoints[r.checkpoint]; !ok || r.last > c.Last || c.Last >= r.checkpoint {
			return fmt.Errorf("%w: documents %d to %d are missing, and no document says that they were pruned", store.ErrCorrupt, r.first, r.last)
		}
	}
	for seq, c := range w.checkpoints {
		if is := vouch(of[seq]); is.Count != c.Count || is.SHA256 != c.SHA256 || is.LastHash != c.LastHash {
			return fmt.Errorf("%w: document %d says that %d documents up to %d were pruned; what stands in their place was changed",
				store.ErrCorrupt, seq, c.Count, c.Last)
		}
	}
	return nil
}
