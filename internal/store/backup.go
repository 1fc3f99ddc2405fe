package store

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"time"

	"hackle/yard"
)

// Backup writes a copy of the notebook to a new file, while others go on writing,
// and proves it before it gets its name. Cached results and sessions are left out.
func (s *Store) Backup(ctx context.Context, path string) (Report, error) {
	const doing = "writing the backup"
	path, err := filepath.Abs(path)
	if err != nil {
		return Report{}, fail(path, doing, err)
	}
	var report Report
	err = s.copyTo(ctx, path, func(fresh string) error {
		db, err := connect(fresh, time.Second, "rw", "immediate")
		if err != nil {
			return err
		}
		defer db.Close()
		for _, q := range []string{"DELETE FROM cached", "DELETE FROM session", "VACUUM"} {
			if _, err := db.ExecContext(ctx, q); err != nil {
				return err
			}
		}
		if err := db.Close(); err != nil {
			return err
		}
		report, err = Check(ctx, fresh)
		report.File = path
		return err
	})
	return report, fail(path, doing, err)
}

// copyTo writes the file as it is at this moment to a new file, whole or not at
// all; finish works on it before it gets its name. Writers go on meanwhile.
func (s *Store) copyTo(ctx context.Context, path string, finish func(fresh string) error) (err error) {
	dir, err := os.MkdirTemp(filepath.Dir(path), "."+filepath.Base(path)+"-*")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	fresh := filepath.Join(dir, "copy")
	db, err := connect(s.path, 5*time.Second, "rw", "deferred") // apart from the one writer, which goes on
	if err != nil {
		return err
	}
	defer db.Close()
	if _, err := db.ExecContext(ctx, "VACUUM INTO ?", fresh); err != nil {
		return err
	}
	if err := db.Close(); err != nil {
		return err
	}
	if err := os.Chmod(fresh, 0o600); err != nil {
		return err
	}
	if finish != nil {
		if err := finish(fresh); err != nil {
			return err
		}
	}
	if err := syncFile(fresh); err != nil {
		return err
	}
	// The name is taken first, so that no file that is there is written over.
	place, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		if errors.Is(err, fs.ErrExist) {
			return &Error{Problem: Conflict, File: path, Doing: "writing the copy", Err: errors.New("a file is there already"), Todo: "name a new one"}
		}
		return err
	}
	if err := errors.Join(place.Close(), os.Rename(fresh, path)); err != nil {
		return errors.Join(err, os.Remove(path))
	}
	return syncFolder(filepath.Dir(path))
}

// syncFolder makes the names in a folder last, where the system can.
func syncFolder(path string) error {
	if runtime.GOOS == "windows" {
		return nil // it has no such call
	}
	return syncFile(path)
}

func syncFile(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// Report is what a check of a yard file found.
type Report struct {
	File   string         `json:"file"`
	Schema int            `json:"schema_version"`
	Things map[string]int `json:"things"` // rows by table, deleted ones too
	Bytes  int64          `json:"bytes"`
}

// Check reads a yard file from end to end: whether it is one, of a version that is
// known, whether its pages and indexes are sound, every reference leads somewhere,
// every thing keeps the rules and has its history. The file is not changed. A nil
// error says that all is well.
func Check(ctx context.Context, path string) (Report, error) {
	const doing = "checking the yard file"
	path, err := filepath.Abs(path)
	if err != nil {
		return Report{}, fail(path, doing, err)
	}
	report := Report{File: path, Things: map[string]int{}}
	info, err := os.Stat(path)
	if err == nil && info.Size() == 0 {
		err = &Error{Problem: NotYard, File: path, Doing: doing, Err: errors.New("it is empty")}
	}
	if err != nil {
		return report, fail(path, doing, err)
	}
	report.Bytes = info.Size()
	db, err := connect(path, 5*time.Second, "rw", "deferred", "query_only(1)")
	if err != nil {
		return report, fail(path, doing, err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	s := &Store{path: path, write: db, read: db, now: time.Now}
	s.collections()
	id, version, err := identity(ctx, db)
	if err == nil {
		err = s.ours(id, version)
	}
	report.Schema = version
	if err == nil && version == 0 {
		err = &Error{Problem: NotYard, File: path, Doing: doing, Err: errors.New("it is empty")}
	}
	if err != nil {
		return report, fail(path, doing, err)
	}
	if err := sound(ctx, db); err != nil {
		return report, &Error{Problem: Corrupt, File: path, Doing: doing, Err: err, Todo: repair}
	}
	if version < SchemaVersion() {
		return report, nil // its things are read once it was brought up to date
	}
	n, err := s.Notebook(ctx, true)
	if err != nil {
		return report, fail(path, doing, err)
	}
	for t, k := range map[string]int{"yards": len(n.Yards), "hives": len(n.Hives), "builds": len(n.Builds), "colonies": len(n.Colonies), "plans": len(n.Plans), "records": len(n.Records)} {
		report.Things[t] = k
	}
	if err := orderly(n); err != nil {
		return report, &Error{Problem: Refused, File: path, Doing: doing, Err: err}
	}
	for _, c := range []interface {
		verify(ctx context.Context, db querier) error
	}{s.Yards, s.Hives, s.Builds, s.Colonies, s.Plans, s.Records} {
		if err := c.verify(ctx, db); err != nil {
			return report, &Error{Problem: Corrupt, File: path, Doing: doing, Err: err, Todo: repair}
		}
	}
	return report, nil
}

// verify holds every thing against its history.
func (c *Collection[T]) verify(ctx context.Context, db querier) error {
	rows, err := db.QueryContext(ctx, "SELECT id, count(*), max(revision), max(content <= revision AND previous < content) FROM version WHERE of = ? GROUP BY id", c.table.name)
	if err != nil {
		return err
	}
	defer rows.Close()
	type lineage struct{ count, last int }
	told := map[yard.ID]lineage{}
	for rows.Next() {
		var id yard.ID
		var l lineage
		var whole bool
		if err := rows.Scan(&id, &l.count, &l.last, &whole); err != nil {
			return err
		}
		if l.count != l.last || !whole {
			return fmt.Errorf("the history of %s %s has gaps", c.table.name, id)
		}
		told[id] = l
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return err
	}
	all, err := c.table.list(ctx, db, "")
	if err != nil {
		return err
	}
	if len(all) != len(told) {
		return fmt.Errorf("%d things of kind %s have a history, %d are there", len(told), c.table.name, len(all))
	}
	for i := range all {
		m := c.table.meta(&all[i])
		if told[m.ID].last != m.Revision {
			return fmt.Errorf("%s %s has revision %d, its history goes to %d", c.table.name, m.ID, m.Revision, told[m.ID].last)
		}
		last, _, _, err := c.table.version(ctx, db, m.ID, m.Revision)
		if err != nil {
			return fmt.Errorf("the history of %s %s: %w", c.table.name, m.ID, err)
		}
		if c.table.normal != nil {
			c.table.normal(&last)
		}
		if !c.table.same(&last, &all[i]) {
			return fmt.Errorf("%s %s differs from the last version of its history", c.table.name, m.ID)
		}
	}
	return nil
}

// sound asks the database whether its file is.
func sound(ctx context.Context, db querier) error {
	rows, err := db.QueryContext(ctx, "PRAGMA integrity_check(20)")
	if err != nil {
		return err
	}
	defer rows.Close()
	var found []error
	for rows.Next() {
		var line string
		if err := rows.Scan(&line); err != nil {
			return err
		}
		if line != "ok" {
			found = append(found, errors.New(line))
		}
	}
	if err := errors.Join(append(found, rows.Err())...); err != nil {
		return err
	}
	return danglers(ctx, db)
}

// orderly holds every thing that is not deleted against the rules.
func orderly(n *yard.Notebook) error {
	var faults []error
	check := func(m yard.Meta, of string, err error) {
		if err != nil && !m.Deleted && len(faults) < 20 {
			faults = append(faults, fmt.Errorf("%s %s: %w", of, m.ID, err))
		}
	}
	for _, v := range n.Yards {
		check(v.Meta, "yard", v.Check())
	}
	for _, v := range n.Hives {
		check(v.Meta, "hive", v.Check())
	}
	for _, v := range n.Builds {
		check(v.Meta, "build", v.Check())
	}
	for _, v := range n.Colonies {
		check(v.Meta, "colony", v.Check())
	}
	for _, v := range n.Plans {
		check(v.Meta, "plan", v.Check())
	}
	own := map[yard.ID][]yard.Record{}
	for _, v := range n.Records {
		check(v.Meta, "record", v.Check())
		own[v.Colony] = append(own[v.Colony], v)
	}
	lives := make([]yard.Life, 0, len(n.Colonies))
	for _, c := range n.Colonies {
		if c.Deleted {
			continue
		}
		life, err := yard.LifeOf(c.ID, own[c.ID])
		check(c.Meta, "colony", err)
		lives = append(lives, life)
	}
	return errors.Join(append(faults, yard.CheckRoom(lives))...)
}

// Restored tells what Restore did.
type Restored struct {
	Report
	Kept string `json:"kept"` // where the file that stood there before lies now, empty when there was none
}

// Restore puts a backup in the place of the yard file at path. The backup is copied
// beside it, brought up to date and proven first; the backup itself is not changed.
// What stood at path is kept beside it under another name. When anything fails, what
// stood at path still stands there.
func Restore(ctx context.Context, backup, path string) (done Restored, err error) {
	const doing = "restoring the backup"
	path, err = filepath.Abs(path)
	if err != nil {
		return done, fail(path, doing, err)
	}
	if same, err := os.Stat(path); err == nil {
		if other, err := os.Stat(backup); err == nil && os.SameFile(same, other) {
			return done, &Error{Problem: Conflict, File: path, Doing: doing, Err: errors.New("the backup is the yard file itself"), Todo: "name another file"}
		}
	}
	if _, err := os.Stat(backup); errors.Is(err, fs.ErrNotExist) {
		return done, &Error{Problem: NotFound, File: backup, Doing: "reading the backup", Todo: "look at the path"}
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return done, fail(path, doing, err)
	}
	dir, err := os.MkdirTemp(filepath.Dir(path), "."+filepath.Base(path)+"-*")
	if err != nil {
		return done, fail(path, doing, err)
	}
	defer os.RemoveAll(dir) // what is left over harms nobody
	fresh := filepath.Join(dir, "restored")
	if done.Report, err = proven(ctx, backup, fresh); err != nil {
		return done, fail(backup, doing, err)
	}
	done.File = path

	if _, err := os.Stat(path); err == nil {
		if err := quiet(ctx, path); err != nil {
			return done, fail(path, doing, err)
		}
		done.Kept = fmt.Sprintf("%s.before-restore-%s", path, time.Now().UTC().Format("20060102T150405.000"))
		if err := keepBeside(path, done.Kept); err != nil {
			return done, fail(path, doing, err)
		}
	} else if !errors.Is(err, fs.ErrNotExist) {
		return done, fail(path, doing, err)
	}
	if err := os.Rename(fresh, path); err != nil {
		return done, fail(path, doing, err)
	}
	return done, fail(path, doing, syncFolder(filepath.Dir(path)))
}

// proven copies a backup to a fresh file, brings that up to date and checks it.
func proven(ctx context.Context, backup, fresh string) (Report, error) {
	if _, err := Check(ctx, backup); err != nil && !errors.Is(err, ReadOnly) {
		return Report{}, err
	}
	if err := copyFile(backup, fresh); err != nil {
		return Report{}, err
	}
	// A file that was copied while it was in use has its latest writes here.
	if err := copyFile(backup+"-wal", fresh+"-wal"); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return Report{}, err
	}
	s, err := Open(ctx, fresh, Options{Existing: true})
	if err != nil {
		return Report{}, err
	}
	err = single(ctx, s)
	if err := errors.Join(err, s.Close()); err != nil {
		return Report{}, err
	}
	report, err := Check(ctx, fresh)
	if err != nil {
		return report, err
	}
	return report, syncFile(fresh)
}

// single brings everything of a store into its one file. It fails when another
// program has the file open.
func single(ctx context.Context, s *Store) error {
	if err := s.read.Close(); err != nil {
		return err
	}
	var mode string
	if err := s.write.QueryRowContext(ctx, "PRAGMA journal_mode = DELETE").Scan(&mode); err != nil {
		return err
	}
	if mode != "delete" {
		return &Error{Problem: Busy, File: s.path, Doing: "closing the yard file", Todo: "close the other program that uses it, and try again; nothing was changed"}
	}
	return nil
}

// quiet sees to it that nobody has the present file open and that it stands alone.
// One that cannot be read any more is let be: it is kept with what lies beside it.
func quiet(ctx context.Context, path string) error {
	db, err := connect(path, 2*time.Second, "rw", "immediate")
	if err != nil {
		return err
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	var mode string
	err = db.QueryRowContext(ctx, "PRAGMA journal_mode = DELETE").Scan(&mode)
	if err == nil && mode != "delete" {
		return &Error{Problem: Busy, File: path, Doing: "restoring the backup", Todo: "close the other program that uses it, and try again; nothing was changed"}
	}
	if p, _ := diagnose(err); err != nil && (p == Busy || ctx.Err() != nil) {
		return err
	}
	return nil
}

// keepBeside gives a file, and what SQLite keeps beside it, a second name.
func keepBeside(path, kept string) error {
	for _, end := range []string{"", "-wal"} {
		if _, err := os.Stat(path + end); errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if os.Link(path+end, kept+end) == nil {
			continue
		}
		if err := copyFile(path+end, kept+end); err != nil { // a disk without links
			return err
		}
	}
	if err := syncFolder(filepath.Dir(path)); err != nil {
		return err
	}
	// These belong to the file that was there, and would spoil the one that comes.
	for _, end := range []string{"-wal", "-shm"} {
		if err := os.Remove(path + end); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}

// copyFile copies a file to a new one and syncs it.
func copyFile(from, to string) (err error) {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Sync(), out.Close())
}
