package embedded

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

//go:embed migrations/*.sql
var migrationFiles embed.FS

// migration is one numbered step of the schema.
type migration struct {
	version int
	name    string
	sql     string
}

// schema lists the migrations in order; they are numbered 1, 2, 3, ...
var schema = mustMigrations(migrationFiles)

func mustMigrations(fsys fs.FS) []migration {
	names, err := fs.Glob(fsys, "migrations/*.sql")
	if err != nil {
		panic(err)
	}
	out := make([]migration, 0, len(names))
	for i, name := range names {
		body, err := fs.ReadFile(fsys, name)
		if err != nil {
			panic(err)
		}
		number, _, _ := strings.Cut(filepath.Base(name), "_")
		if v, err := strconv.Atoi(number); err != nil || v != i+1 {
			panic(fmt.Sprintf("migration %s: want number %d", name, i+1))
		}
		out = append(out, migration{version: i + 1, name: filepath.Base(name), sql: string(body)})
	}
	return out
}

// migrate brings the file to the newest schema, one transaction per step,
// after copying it to DIR/backup when there is anything to lose.
func (db *DB) migrate(ctx context.Context, steps []migration) error {
	var have int
	if err := db.write.QueryRowContext(ctx, `PRAGMA user_version`).Scan(&have); err != nil {
		return fail("read schema version", err)
	}
	if have > len(steps) {
		return fmt.Errorf("history is of schema %d, this program knows up to %d: use a newer program, or restore a copy from %s",
			have, len(steps), filepath.Join(db.dir, "backup"))
	}
	if have > 0 && have < len(steps) {
		if err := db.copyBeforeMigration(ctx, have); err != nil {
			return err
		}
	}
	for _, m := range steps[have:] {
		if err := db.step(ctx, m); err != nil {
			return fail("migration "+m.name, err)
		}
		if have > 0 {
			db.log.Info("history migrated", "schema", m.version, "step", m.name)
		}
	}
	return nil
}

func (db *DB) step(ctx context.Context, m migration) error {
	tx, err := db.write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, m.sql); err != nil {
		return errors.Join(err, rollback(tx))
	}
	if _, err := tx.ExecContext(ctx, fmt.Sprintf(`PRAGMA user_version = %d`, m.version)); err != nil {
		return errors.Join(err, rollback(tx))
	}
	if err := tx.Commit(); err != nil {
		return err
	}
	return db.onDisk.sync()
}

func (db *DB) copyBeforeMigration(ctx context.Context, have int) error {
	dir := filepath.Join(db.dir, "backup")
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fmt.Errorf("copy before migration: %w", err)
	}
	name := fmt.Sprintf("history-schema%d-%s.db", have, db.now().UTC().Format("20060102T150405.000000Z"))
	if err := copyDatabase(ctx, db.write, filepath.Join(dir, name)); err != nil {
		return fail("copy before migration", err)
	}
	db.log.Info("history copied before migration", "file", filepath.Join(dir, name))
	return nil
}

// copyDatabase writes a consistent, compact copy while others read and write.
func copyDatabase(ctx context.Context, from *sql.DB, file string) error {
	if _, err := from.ExecContext(ctx, `VACUUM INTO ?`, file); err != nil {
		return err
	}
	return os.Chmod(file, 0o600)
}
