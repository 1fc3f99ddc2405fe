// Package store keeps a keeper's notebook and the state of the web pages in one
// SQLite file. It is the only package that knows of SQL.
//
// What was acknowledged is on the disk: every write is one transaction of a
// write-ahead log that is synced before the call returns. Nothing kept is rubbed
// out: each version of a thing stays, deleting is a mark, and undo is a new
// version. Errors are *Error, sorted by Problem, and name the file and the remedy.
//
// A Store may be used by many goroutines, and a file by several processes.
package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"modernc.org/sqlite" // the driver "sqlite", and its errors

	"hackle/yard"
)

// applicationID marks a SQLite file as a yard file; it reads "Hckl".
const applicationID = 0x48636b6c

// Options of a store. The zero value is good.
type Options struct {
	// Existing refuses to make a new file.
	Existing bool
	// Now is the clock, nil for that of the machine.
	Now func() time.Time
	// Wait is how long a write waits for another program to finish, 0 for 5 s.
	Wait time.Duration
	// CacheLimit bounds the cached results, 0 for 256 MiB. [bytes]
	CacheLimit int64
}

// Store is an open yard file.
type Store struct {
	Yards    *Collection[yard.Yard]
	Hives    *Collection[yard.Hive]
	Builds   *Collection[yard.Build]
	Colonies *Collection[yard.Colony]
	Plans    *Collection[yard.Plan]
	Records  *Collection[yard.Record]

	path       string
	write      *sql.DB // one connection
	read       *sql.DB
	now        func() time.Time
	cacheLimit int64
}

// DefaultPath returns the yard file of this user: hackle/yard.sqlite in the data
// folder of the XDG Base Directory Specification, or where the system keeps the
// data of programs.
func DefaultPath() (string, error) {
	dir := os.Getenv("XDG_DATA_HOME")
	if !filepath.IsAbs(dir) { // the specification says to ignore others
		switch runtime.GOOS {
		case "windows", "darwin":
			d, err := os.UserConfigDir()
			if err != nil {
				return "", fmt.Errorf("finding the data folder: %w; name the yard file with --yard", err)
			}
			dir = d
		default:
			home, err := os.UserHomeDir()
			if err != nil {
				return "", fmt.Errorf("finding the data folder: %w; name the yard file with --yard", err)
			}
			dir = filepath.Join(home, ".local", "share")
		}
	}
	return filepath.Join(dir, "hackle", "yard.sqlite"), nil
}

// Open opens the yard file at path, makes it and its folder when there is none, and
// brings a file of an older version up to date. Such a file is first copied to a
// file beside it, whose name tells its version.
func Open(ctx context.Context, path string, options Options) (*Store, error) {
	const doing = "opening the yard file"
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, fail(path, doing, err)
	}
	if err := ready(path, options.Existing); err != nil {
		return nil, fail(path, doing, err)
	}
	s := &Store{path: path, now: options.Now, cacheLimit: cmp.Or(options.CacheLimit, 256<<20)}
	if s.now == nil {
		s.now = time.Now
	}
	wait := cmp.Or(options.Wait, 5*time.Second)
	if s.write, err = connect(path, wait, "rw", "immediate", "synchronous(FULL)"); err != nil {
		return nil, fail(path, doing, err)
	}
	s.write.SetMaxOpenConns(1)
	if s.read, err = connect(path, wait, "rw", "deferred", "query_only(1)"); err != nil {
		s.write.Close()
		return nil, fail(path, doing, err)
	}
	s.read.SetMaxOpenConns(4)
	s.collections()
	if err := s.prepare(ctx); err != nil {
		s.Close()
		return nil, fail(path, doing, err)
	}
	return s, nil
}

// ready sees to it that a plain file stands at path.
func ready(path string, existing bool) error {
	info, err := os.Stat(path)
	switch {
	case err == nil && !info.Mode().IsRegular():
		return &Error{Problem: NotYard, File: path, Doing: "opening the yard file", Todo: "name a plain file"}
	case err == nil:
		return nil
	case !errors.Is(err, fs.ErrNotExist) || existing:
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	// What a keeper writes is nobody else's business on a shared machine.
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return err
	}
	return f.Close()
}

// connect makes a pool of connections to the file. mode is that of SQLite's URI,
// begin the way its transactions begin.
func connect(path string, wait time.Duration, mode, begin string, pragmas ...string) (*sql.DB, error) {
	q := url.Values{"mode": {mode}, "_txlock": {begin}}
	q.Add("_pragma", fmt.Sprintf("busy_timeout(%d)", wait.Milliseconds()))
	q.Add("_pragma", "foreign_keys(1)")
	q.Add("_pragma", "trusted_schema(0)")
	for _, p := range pragmas {
		q.Add("_pragma", p)
	}
	p := filepath.ToSlash(path)
	if !strings.HasPrefix(p, "/") {
		p = "/" + p // a drive letter
	}
	return sql.Open("sqlite", "file://"+(&url.URL{Path: p}).EscapedPath()+"?"+q.Encode())
}

// prepare looks whether the file is ours, before anything in it is touched, and
// migrates it.
func (s *Store) prepare(ctx context.Context) error {
	id, version, err := identity(ctx, s.write)
	if err != nil {
		return err
	}
	if err := s.ours(id, version); err != nil {
		return err
	}
	var mode string
	if err := s.write.QueryRowContext(ctx, "PRAGMA journal_mode = WAL").Scan(&mode); err != nil {
		return err
	}
	if mode != "wal" {
		return &Error{Problem: Faulty, File: s.path, Doing: "opening the yard file",
			Err: fmt.Errorf("its disk allows no write-ahead log (found %s)", mode), Todo: "keep the yard file on a local disk"}
	}
	return s.migrate(ctx)
}

// identity reads whose file it is: fresh for an empty one.
func identity(ctx context.Context, db *sql.DB) (id int64, version int, err error) {
	var tables int
	err = db.QueryRowContext(ctx, "SELECT (SELECT application_id FROM pragma_application_id), (SELECT user_version FROM pragma_user_version), (SELECT count(*) FROM sqlite_schema)").
		Scan(&id, &version, &tables)
	if err == nil && id == 0 && tables == 0 {
		id, version = applicationID, 0
	}
	return id, version, err
}

func (s *Store) ours(id int64, version int) error {
	switch {
	case id != applicationID:
		return &Error{Problem: NotYard, File: s.path, Doing: "opening the yard file",
			Err: errors.New("it is a database of another program"), Todo: "name another file with --yard"}
	case version > SchemaVersion():
		return &Error{Problem: TooNew, File: s.path, Doing: "opening the yard file",
			Err:  fmt.Errorf("its version is %d, this hackle knows up to %d", version, SchemaVersion()),
			Todo: "use a newer hackle; the file was not touched"}
	}
	return nil
}

// Path returns where the file is.
func (s *Store) Path() string { return s.path }

// Close releases the file.
func (s *Store) Close() error {
	return s.fail("closing the yard file", errors.Join(s.read.Close(), s.write.Close()))
}

// transact runs f in one transaction that is kept whole or not at all; when it
// returns nil it is on the disk.
func (s *Store) transact(ctx context.Context, doing string, f func(*sql.Tx) error) error {
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return s.fail(doing, err)
	}
	defer tx.Rollback() // after Commit it does nothing
	if err := f(tx); err != nil {
		return s.fail(doing, err)
	}
	return s.fail(doing, tx.Commit())
}

// stamp is the present as it is kept.
func (s *Store) stamp() time.Time { return s.now().UTC().Truncate(time.Millisecond) }

func timeText(t time.Time) string { return t.Format(time.RFC3339Nano) }

// code returns the extended result code of SQLite behind an error, 0 for none.
func code(err error) int {
	var e *sqlite.Error
	if errors.As(err, &e) {
		return e.Code()
	}
	return 0
}
