package store

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"slices"
	"strconv"
	"strings"
)

// migrations are the steps from one version of the schema to the next, in files
// NNNN_name.sql numbered from 1 without a gap. A step that was once published is
// never changed.
//
//go:embed migrations/*.sql
var migrations embed.FS

// step is one migration.
type step struct {
	version int
	name    string
	sql     string
}

// steps reads the migrations in order.
func steps() ([]step, error) {
	names, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil {
		return nil, err
	}
	slices.Sort(names)
	all := make([]step, len(names))
	for i, n := range names {
		text, err := migrations.ReadFile(n)
		if err != nil {
			return nil, err
		}
		number, _, _ := strings.Cut(path.Base(n), "_")
		v, err := strconv.Atoi(number)
		if err != nil || v != i+1 {
			return nil, fmt.Errorf("migration %s: wanted number %04d", n, i+1)
		}
		all[i] = step{version: v, name: path.Base(n), sql: string(text)}
	}
	return all, nil
}

// SchemaVersion is the version of the schema that this program writes.
func SchemaVersion() int {
	all, err := steps()
	if err != nil {
		return 0 // a test holds the migrations in order
	}
	return len(all)
}

// migrate brings the schema up to date, all steps in one transaction.
func (s *Store) migrate(ctx context.Context) error {
	all, err := steps()
	if err != nil {
		return err
	}
	_, version, err := identity(ctx, s.write)
	if err != nil || version == len(all) {
		return err
	}
	if version > 0 {
		if err := s.keepOlder(ctx, version); err != nil {
			return err
		}
	}
	return s.transact(ctx, "bringing the yard file up to date", func(tx *sql.Tx) error {
		return applySteps(ctx, tx, all)
	})
}

// applySteps runs the steps that the file has not seen. Another process may have
// been faster, so the version is read again inside the transaction.
func applySteps(ctx context.Context, tx *sql.Tx, all []step) error {
	var version int
	if err := tx.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version); err != nil {
		return err
	}
	if version >= len(all) {
		return nil
	}
	if _, err := tx.ExecContext(ctx, "PRAGMA defer_foreign_keys = 1"); err != nil {
		return err
	}
	for _, st := range all[version:] {
		if _, err := tx.ExecContext(ctx, st.sql); err != nil {
			return fmt.Errorf("migration %s: %w", st.name, err)
		}
	}
	if err := danglers(ctx, tx); err != nil {
		return err
	}
	for _, p := range []string{
		fmt.Sprintf("PRAGMA application_id = %d", applicationID),
		fmt.Sprintf("PRAGMA user_version = %d", len(all)),
	} {
		if _, err := tx.ExecContext(ctx, p); err != nil {
			return err
		}
	}
	return nil
}

// querier is a database or a transaction.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// danglers returns an error when a row refers to one that is not there.
func danglers(ctx context.Context, db querier) error {
	rows, err := db.QueryContext(ctx, `SELECT "table", "parent", count(*) FROM pragma_foreign_key_check GROUP BY 1, 2`)
	if err != nil {
		return err
	}
	defer rows.Close()
	var found []error
	for rows.Next() {
		var table, parent string
		var n int
		if err := rows.Scan(&table, &parent, &n); err != nil {
			return err
		}
		found = append(found, fmt.Errorf("%d of table %s refer to a %s that is not there", n, table, parent))
	}
	return errors.Join(append(found, rows.Err())...)
}

// keepOlder copies the file as it is before a migration, unless that was done.
func (s *Store) keepOlder(ctx context.Context, version int) error {
	kept := fmt.Sprintf("%s.version-%d", s.path, version)
	if _, err := os.Stat(kept); err == nil {
		return nil
	}
	return s.copyTo(ctx, kept, nil)
}
