package embedded

import (
	"context"
	"database/sql"
	"errors"
	"strings"

	"bridlewatch/collector/store"
)

// rowsAtOnce is how many scan rows one statement inserts at most: a minute of
// one scan a second, or a scan of some ten thousand values. Rows that are one
// statement need no BEGIN and COMMIT around them.
const rowsAtOnce = 64

// rowWriter inserts scan rows. It belongs to the writers, under DB.mu.
type rowWriter struct {
	insert [rowsAtOnce + 1]*sql.Stmt // by number of rows, made when first needed
	bodies []byte
	args   []any // five for each row
}

// prepare makes the statements that so many rows need: once a transaction has
// the connection it is too late.
func (w *rowWriter) prepare(ctx context.Context, db *sql.DB, rows int) (err error) {
	const row = `(?, ?, ?, ?, ?)`
	for rows > 0 && err == nil {
		n := min(rowsAtOnce, rows)
		if w.insert[n] == nil {
			w.insert[n], err = db.PrepareContext(ctx, `INSERT INTO scan (seq, t, config, layout, body) VALUES `+row+strings.Repeat(`, `+row, n-1))
		}
		rows -= n
	}
	return err
}

func (w *rowWriter) close() error {
	var errs []error
	for _, s := range w.insert {
		if s != nil {
			errs = append(errs, s.Close())
		}
	}
	return errors.Join(errs...)
}

// record inserts scans in one durable step. A few rows that make no summary
// stale are one statement, which is a transaction of its own.
func (w *rowWriter) record(ctx context.Context, db *DB, scans []store.Scan) error {
	w.encode(db, scans)
	n := len(w.args) / rowColumns
	if err := db.mayWrite(); err != nil {
		return err
	}
	if err := w.prepare(ctx, db.write, n); err != nil {
		return err
	}
	if n > 0 && n <= rowsAtOnce && !db.anyLate(scans) {
		return db.autocommit(func() error { return w.run(ctx, nil) })
	}
	return db.inTx(ctx, func(tx *sql.Tx) error {
		if err := w.run(ctx, tx); err != nil {
			return err
		}
		return db.markStale(ctx, tx, scans)
	})
}

const rowColumns = 5

// encode lays out the rows of scans as arguments.
func (w *rowWriter) encode(db *DB, scans []store.Scan) {
	w.bodies, w.args = w.bodies[:0], w.args[:0]
	for i := range scans {
		t := scans[i].Time.UnixMicro()
		for n, values := 0, scans[i].Values; len(values) > 0; n++ {
			part := values[:min(partValues, len(values))]
			values = values[len(part):]
			l, ok := db.layouts.find(n, part)
			begin := len(w.bodies)
			w.bodies = appendBody(w.bodies, t, part, !ok)
			db.seq++
			w.args = append(w.args, db.seq, t, scans[i].ConfigVersion, l.id, w.bodies[begin:len(w.bodies):len(w.bodies)])
		}
	}
}

// run inserts the encoded rows, within tx or each statement by itself.
func (w *rowWriter) run(ctx context.Context, tx *sql.Tx) error {
	for args := w.args; len(args) > 0; {
		n := min(rowsAtOnce, len(args)/rowColumns)
		insert := w.insert[n]
		if tx != nil {
			insert = tx.StmtContext(ctx, insert)
		}
		if _, err := insert.ExecContext(ctx, args[:n*rowColumns]...); err != nil {
			return err
		}
		args = args[n*rowColumns:]
	}
	return nil
}
