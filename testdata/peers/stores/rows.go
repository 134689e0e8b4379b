package main

import (
	"database/sql"
	"path/filepath"
	"time"

	_ "modernc.org/sqlite"
)

// rows is SQLite with a row for each value.
type rows struct{ db *sql.DB }

func (r *rows) name() string { return "SQLite rows" }

func (r *rows) process() int { return 0 }

func (r *rows) open(dir string, _ time.Time) (err error) {
	if r.db, err = sql.Open("sqlite", "file:"+filepath.Join(dir, "rows.db")+"?_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)"); err != nil {
		return err
	}
	r.db.SetMaxOpenConns(1)
	_, err = r.db.Exec(`CREATE TABLE sample (id INTEGER, t INTEGER, value REAL, quality INTEGER, PRIMARY KEY (id, t)) WITHOUT ROWID`)
	return err
}

func (r *rows) write(day time.Time, columns [][]float64) error {
	for tick := 0; tick < aDay; tick += commit {
		tx, err := r.db.Begin()
		if err != nil {
			return err
		}
		insert, err := tx.Prepare(`INSERT OR REPLACE INTO sample VALUES (?, ?, ?, 4)`)
		if err != nil {
			return err
		}
		for k := tick; k < tick+commit; k++ {
			at := day.Add(time.Duration(k) * every).UnixMicro()
			for i := range columns {
				if _, err := insert.Exec(i, at, columns[i][k]); err != nil {
					return err
				}
			}
		}
		if err := tx.Commit(); err != nil {
			return err
		}
	}
	return nil
}

func (r *rows) settle() error {
	_, err := r.db.Exec(`PRAGMA wal_checkpoint(TRUNCATE)`)
	return err
}

func (r *rows) trend(from, to time.Time) (n int, err error) {
	step := to.Sub(from).Microseconds() / width
	for i := range signals {
		buckets, err := r.db.Query(`SELECT min(value), max(value), avg(value), count(*) FROM sample WHERE id = ? AND t >= ? AND t < ? GROUP BY t / ?`,
			i, from.UnixMicro(), to.UnixMicro(), step)
		if err != nil {
			return n, err
		}
		for buckets.Next() {
			var low, high, mean float64
			var count int
			if err := buckets.Scan(&low, &high, &mean, &count); err != nil {
				return n, err
			}
			n += count
		}
		if err := buckets.Close(); err != nil {
			return n, err
		}
	}
	return n, nil
}

func (r *rows) close() error { return r.db.Close() }
