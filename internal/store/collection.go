package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"time"

	sqlite3 "modernc.org/sqlite/lib"

	"hackle/yard"
)

// thing is a type that a collection keeps.
type thing interface{ Check() error }

// Collection keeps things of one type with all their versions.
type Collection[T thing] struct {
	store *Store
	table table[T]
}

// table says how a type stands in the database.
type table[T thing] struct {
	name    string   // of the table, and of the thing in messages
	columns []string // beside those of Meta
	order   string   // ORDER BY of a list
	meta    func(*T) *yard.Meta
	row     func(*T) ([]any, error)   // values of the columns
	into    func(*T) []any            // where they are scanned to
	done    func(*T) error            // after a scan, may be nil
	normal  func(*T)                  // brings what is said in several ways to one, may be nil
	same    func(fresh, kept *T) bool // fresh says what kept says
	// rules looks at the thing beside others, and may fill in what was left out. It
	// may be nil. old is nil for something new.
	rules func(ctx context.Context, tx *sql.Tx, old, fresh *T) error
}

// Version is one version of a thing.
type Version[T any] struct {
	Thing T
	// Content is the revision whose content this version carries: its own, unless
	// it came from an undo or redo.
	Content int
}

var metaColumns = []string{"id", "revision", "changed", "deleted"}

func (t *table[T]) selection() string {
	return strings.Join(append(append([]string{}, metaColumns...), t.columns...), ", ")
}

// scan reads one row of selection.
func (t *table[T]) scan(row interface{ Scan(...any) error }) (T, error) {
	var v T
	m := t.meta(&v)
	var changed string
	if err := row.Scan(append([]any{&m.ID, &m.Revision, &changed, &m.Deleted}, t.into(&v)...)...); err != nil {
		return v, err
	}
	var err error
	if m.Changed, err = time.Parse(time.RFC3339Nano, changed); err != nil {
		return v, fmt.Errorf("%s %s: %w", t.name, m.ID, err)
	}
	if t.done != nil {
		if err := t.done(&v); err != nil {
			return v, fmt.Errorf("%s %s: %w", t.name, m.ID, err)
		}
	}
	return v, nil
}

func (t *table[T]) get(ctx context.Context, db querier, id yard.ID) (T, error) {
	return t.scan(db.QueryRowContext(ctx, "SELECT "+t.selection()+" FROM "+t.name+" WHERE id = ?", string(id)))
}

func (t *table[T]) list(ctx context.Context, db querier, where string, args ...any) ([]T, error) {
	rows, err := db.QueryContext(ctx, "SELECT "+t.selection()+" FROM "+t.name+" "+where, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	all := []T{}
	for rows.Next() {
		v, err := t.scan(rows)
		if err != nil {
			return nil, err
		}
		all = append(all, v)
	}
	return all, rows.Err()
}

// write puts a version into its row and into the history.
func (t *table[T]) write(ctx context.Context, tx *sql.Tx, v *T, content, previous int) error {
	m := t.meta(v)
	values, err := t.row(v)
	if err != nil {
		return err
	}
	columns := append(append([]string{}, metaColumns...), t.columns...)
	args := append([]any{string(m.ID), m.Revision, timeText(m.Changed), m.Deleted}, values...)
	sets := make([]string, 0, len(columns))
	for _, c := range columns[1:] {
		sets = append(sets, c+" = excluded."+c)
	}
	if _, err := tx.ExecContext(ctx, "INSERT INTO "+t.name+" ("+strings.Join(columns, ", ")+") VALUES (?"+strings.Repeat(", ?", len(columns)-1)+
		") ON CONFLICT (id) DO UPDATE SET "+strings.Join(sets, ", "), args...); err != nil {
		return err
	}
	body, err := json.Marshal(v)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "INSERT INTO version (id, revision, of, changed, content, previous, body) VALUES (?, ?, ?, ?, ?, ?, ?)",
		string(m.ID), m.Revision, t.name, timeText(m.Changed), content, previous, string(body))
	return err
}

// version reads one version from the history.
func (t *table[T]) version(ctx context.Context, db querier, id yard.ID, revision int) (v T, content, previous int, err error) {
	var body string
	err = db.QueryRowContext(ctx, "SELECT content, previous, body FROM version WHERE id = ? AND revision = ? AND of = ?", string(id), revision, t.name).
		Scan(&content, &previous, &body)
	if err == nil {
		err = json.Unmarshal([]byte(body), &v)
	}
	return v, content, previous, err
}

// Get returns a thing, a deleted one too.
func (c *Collection[T]) Get(ctx context.Context, id yard.ID) (T, error) {
	v, err := c.table.get(ctx, c.store.read, id)
	return v, c.wrap("reading the "+c.table.name, id, err)
}

// wrap tells of a thing that is not there, or of a taken name, by its own words.
func (c *Collection[T]) wrap(doing string, id yard.ID, err error) error {
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return &Error{Problem: NotFound, File: c.store.path, Doing: doing, Err: fmt.Errorf("there is no %s %s", c.table.name, id)}
	case code(err) == sqlite3.SQLITE_CONSTRAINT_FOREIGNKEY:
		return &Error{Problem: NotFound, File: c.store.path, Doing: doing, Err: fmt.Errorf("%s %s refers to something that is not in the file", c.table.name, id),
			Todo: "keep first what it refers to"}
	case code(err) == sqlite3.SQLITE_CONSTRAINT_UNIQUE && strings.Contains(err.Error(), ".name"):
		return &Error{Problem: Conflict, File: c.store.path, Doing: doing, Err: &yard.Faults{Of: c.table.name, List: []yard.Fault{
			{Field: "name", Found: "a name that another " + c.table.name + " has", Wanted: "a name of its own"}}}}
	}
	return c.store.fail(doing, err)
}

// Put keeps a thing and returns it as it was kept. One that is new has revision 0;
// for an edit it carries the revision that was read, and when that is no longer the
// latest, the error is a Conflict. What is kept already is not kept twice: sending
// the same entry or the same edit again changes nothing and is no error. A thing
// that breaks the rules is Refused; yard.FaultsIn says why.
func (c *Collection[T]) Put(ctx context.Context, v T) (T, error) {
	doing := "keeping the " + c.table.name
	id := c.table.meta(&v).ID
	var kept T
	err := c.store.transact(ctx, doing, func(tx *sql.Tx) (err error) {
		kept, err = c.putIn(ctx, tx, v)
		return c.wrap(doing, id, err)
	})
	return kept, c.wrap(doing, id, err)
}

// PutAll keeps many things, all or none, as Put does.
func (c *Collection[T]) PutAll(ctx context.Context, all []T) ([]T, error) {
	doing := "keeping the " + c.table.name
	kept := make([]T, len(all))
	err := c.store.transact(ctx, doing, func(tx *sql.Tx) (err error) {
		for i, v := range all {
			if kept[i], err = c.putIn(ctx, tx, v); err != nil {
				return fmt.Errorf("number %d of %d: %w", i+1, len(all), c.wrap(doing, c.table.meta(&v).ID, err))
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return kept, nil
}

func (c *Collection[T]) putIn(ctx context.Context, tx *sql.Tx, v T) (kept T, err error) {
	if c.table.normal != nil {
		c.table.normal(&v)
	}
	m := c.table.meta(&v)
	old, err := c.table.get(ctx, tx, m.ID)
	if errors.Is(err, sql.ErrNoRows) {
		if m.Revision != 0 {
			return kept, sql.ErrNoRows
		}
		if err := c.allowed(ctx, tx, nil, &v); err != nil {
			return kept, err
		}
		m.Revision, m.Changed = 1, c.store.stamp()
		return v, c.table.write(ctx, tx, &v, 1, 0)
	} else if err != nil {
		return kept, err
	}
	now := c.table.meta(&old)
	if c.table.same(&v, &old) {
		return old, nil
	}
	if m.Revision != now.Revision {
		if m.Revision < now.Revision {
			sent, _, _, err := c.table.version(ctx, tx, m.ID, m.Revision+1)
			if err != nil {
				return kept, err
			}
			if c.table.same(&v, &sent) {
				return old, nil // it came before, and was edited since
			}
		}
		return kept, c.stale(m, now)
	}
	if err := c.allowed(ctx, tx, &old, &v); err != nil {
		return kept, err
	}
	_, content, _, err := c.table.version(ctx, tx, m.ID, now.Revision)
	if err != nil {
		return kept, err
	}
	m.Revision, m.Changed = now.Revision+1, c.store.stamp()
	return v, c.table.write(ctx, tx, &v, m.Revision, content)
}

func (c *Collection[T]) stale(sent, now *yard.Meta) error {
	return &Error{Problem: Conflict, File: c.store.path, Doing: "keeping the " + c.table.name,
		Err:  fmt.Errorf("%s %s was changed at %s: it has revision %d now, the edit was of %d", c.table.name, now.ID, timeText(now.Changed), now.Revision, sent.Revision),
		Todo: "read it again, and repeat the edit if it is still wanted"}
}

// allowed checks the thing by itself and beside others. What is being deleted need
// not be right any more, but what remains must be.
func (c *Collection[T]) allowed(ctx context.Context, tx *sql.Tx, old, fresh *T) error {
	var err error
	if !c.table.meta(fresh).Deleted {
		err = (*fresh).Check()
	}
	if err == nil && c.table.rules != nil {
		err = c.table.rules(ctx, tx, old, fresh)
	}
	if err != nil && yard.FaultsIn(err) != nil {
		return &Error{Problem: Refused, File: c.store.path, Doing: "keeping the " + c.table.name, Err: err}
	}
	return err
}

// Delete marks a thing as deleted; its versions stay, and Undo brings it back.
func (c *Collection[T]) Delete(ctx context.Context, id yard.ID, revision int) (T, error) {
	v, err := c.Get(ctx, id)
	if err != nil {
		return v, err
	}
	m := c.table.meta(&v)
	m.Deleted, m.Revision = true, revision
	return c.Put(ctx, v)
}

// History returns every version of a thing, the first one first.
func (c *Collection[T]) History(ctx context.Context, id yard.ID) ([]Version[T], error) {
	doing := "reading the history of the " + c.table.name
	rows, err := c.store.read.QueryContext(ctx, "SELECT content, body FROM version WHERE id = ? AND of = ? ORDER BY revision", string(id), c.table.name)
	if err != nil {
		return nil, c.store.fail(doing, err)
	}
	defer rows.Close()
	var all []Version[T]
	for rows.Next() {
		var v Version[T]
		var body string
		if err := rows.Scan(&v.Content, &body); err != nil {
			return nil, c.store.fail(doing, err)
		}
		if err := json.Unmarshal([]byte(body), &v.Thing); err != nil {
			return nil, c.store.fail(doing, err)
		}
		all = append(all, v)
	}
	if err := rows.Err(); err != nil {
		return nil, c.store.fail(doing, err)
	}
	if len(all) == 0 {
		return nil, c.wrap(doing, id, sql.ErrNoRows)
	}
	return all, nil
}

// Undo brings back the content that the present one took the place of, as a new
// version. The error is NotFound when there is nothing to undo.
func (c *Collection[T]) Undo(ctx context.Context, id yard.ID, revision int) (T, error) {
	return c.turn(ctx, id, revision, "undo", func(_ *sql.Tx, _, previous int) (int, error) { return previous, nil })
}

// Redo brings back the content that was last undone from the present one, as a new
// version. The error is NotFound when there is nothing to redo.
func (c *Collection[T]) Redo(ctx context.Context, id yard.ID, revision int) (T, error) {
	return c.turn(ctx, id, revision, "redo", func(tx *sql.Tx, content, _ int) (int, error) {
		var next sql.NullInt64
		err := tx.QueryRowContext(ctx, "SELECT max(content) FROM version WHERE id = ? AND of = ? AND previous = ? AND content = revision", string(id), c.table.name, content).Scan(&next)
		return int(next.Int64), err
	})
}

func (c *Collection[T]) turn(ctx context.Context, id yard.ID, revision int, word string, to func(tx *sql.Tx, content, previous int) (int, error)) (T, error) {
	doing := word + " of the " + c.table.name
	var kept T
	err := c.store.transact(ctx, doing, func(tx *sql.Tx) error {
		old, err := c.table.get(ctx, tx, id)
		if err != nil {
			return c.wrap(doing, id, err)
		}
		now := c.table.meta(&old)
		if now.Revision != revision {
			return c.stale(&yard.Meta{ID: id, Revision: revision}, now)
		}
		_, content, previous, err := c.table.version(ctx, tx, id, now.Revision)
		if err != nil {
			return err
		}
		target, err := to(tx, content, previous)
		if err != nil {
			return err
		}
		if target == 0 {
			return &Error{Problem: NotFound, File: c.store.path, Doing: doing, Err: fmt.Errorf("there is nothing to %s", word)}
		}
		v, _, before, err := c.table.version(ctx, tx, id, target)
		if err != nil {
			return err
		}
		m := c.table.meta(&v)
		m.Revision = now.Revision
		if err := c.allowed(ctx, tx, &old, &v); err != nil {
			return err
		}
		m.Revision, m.Changed = now.Revision+1, c.store.stamp()
		kept = v
		return c.wrap(doing, id, c.table.write(ctx, tx, &v, target, before))
	})
	return kept, err
}

// plainSame compares two things without their revision and time.
func plainSame[T any](meta func(*T) *yard.Meta) func(fresh, kept *T) bool {
	return func(fresh, kept *T) bool {
		a, b := *fresh, *kept
		ma, mb := meta(&a), meta(&b)
		ma.Revision, ma.Changed = mb.Revision, mb.Changed
		return reflect.DeepEqual(a, b)
	}
}
