package embedded

import (
	"context"
	"database/sql"
	"fmt"
	"maps"
	"math"
	"strings"

	"bridlewatch/collector/store"
)

// seriesTable is the registry in memory. Entries are only ever added.
type seriesTable struct {
	byID  map[store.ID]store.Series
	byKey map[store.Series]store.ID
}

func loadSeries(ctx context.Context, q *sql.DB) (seriesTable, error) {
	t := seriesTable{byID: map[store.ID]store.Series{}, byKey: map[store.Series]store.ID{}}
	rows, err := q.QueryContext(ctx, `SELECT id, gauge, name, class, unit FROM series`)
	if err != nil {
		return t, err
	}
	defer rows.Close()
	for rows.Next() {
		var id store.ID
		var s store.Series
		if err := rows.Scan(&id, &s.Gauge, &s.Name, &s.Class, &s.Unit); err != nil {
			return t, err
		}
		t.add(id, s)
	}
	return t, rows.Err()
}

func (t *seriesTable) add(id store.ID, s store.Series) {
	t.byID[id], t.byKey[s] = s, id
}

// Register returns the IDs of series, making those it does not know. The same
// name in another unit is another series. A series without a name is
// store.ErrInvalid.
func (db *DB) Register(ctx context.Context, series []store.Series) ([]store.ID, error) {
	for i, s := range series {
		if s.Name == "" || strings.ContainsRune(s.Name+s.Gauge+s.Unit, 0) || s.Class > store.Derived {
			return nil, fmt.Errorf("%w: series %d %+v needs a name, a known class and no NUL characters", store.ErrInvalid, i, s)
		}
	}
	db.mu.Lock()
	defer db.mu.Unlock()
	ids := make([]store.ID, len(series))
	if db.known(series, ids) {
		return ids, nil
	}
	fresh := map[store.Series]store.ID{}
	err := db.inTx(ctx, func(tx *sql.Tx) error {
		for i, s := range series {
			id, ok := db.series.byKey[s]
			if !ok {
				id, ok = fresh[s]
			}
			if !ok {
				var err error
				if id, err = insertSeries(ctx, tx, s); err != nil {
					return err
				}
				fresh[s] = id
			}
			ids[i] = id
		}
		return nil
	})
	if err != nil {
		return nil, fail("register series", err)
	}
	for s, id := range fresh {
		db.series.add(id, s)
	}
	return ids, nil
}

func (db *DB) known(series []store.Series, ids []store.ID) bool {
	for i, s := range series {
		id, ok := db.series.byKey[s]
		if !ok {
			return false
		}
		ids[i] = id
	}
	return !db.closed
}

func insertSeries(ctx context.Context, tx *sql.Tx, s store.Series) (store.ID, error) {
	r, err := tx.ExecContext(ctx, `INSERT INTO series (gauge, name, class, unit) VALUES (?, ?, ?, ?)`,
		s.Gauge, s.Name, s.Class, s.Unit)
	if err != nil {
		return 0, err
	}
	n, err := r.LastInsertId()
	if err == nil && n > math.MaxUint32 {
		err = fmt.Errorf("%w: more than %d series", store.ErrInvalid, uint32(math.MaxUint32))
	}
	return store.ID(n), err
}

// Series lists all known series by ID.
func (db *DB) Series(context.Context) (map[store.ID]store.Series, error) {
	db.mu.Lock()
	defer db.mu.Unlock()
	if db.closed {
		return nil, store.ErrClosed
	}
	return maps.Clone(db.series.byID), nil
}
