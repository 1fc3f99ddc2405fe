package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"syscall"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// Problem sorts the errors of this package: errors.Is(err, store.Busy).
type Problem string

// Error is the problem in a few words.
func (p Problem) Error() string { return string(p) }

// Problems.
const (
	NotFound Problem = "not found"
	Conflict Problem = "conflict"               // somebody else changed it, or a name is taken
	Refused  Problem = "against the rules"      // see yard.FaultsIn
	Busy     Problem = "in use"                 // another program holds the file
	ReadOnly Problem = "cannot be written to"   //
	Full     Problem = "no room left"           //
	Corrupt  Problem = "damaged"                //
	NotYard  Problem = "no yard file"           // another kind of file
	TooNew   Problem = "made by a newer hackle" //
	Faulty   Problem = "cannot be read or written"
)

// Error tells what went wrong with a yard file and what to do about it.
type Error struct {
	Problem Problem
	File    string // path of the yard file
	Doing   string // what was tried: "keeping the record"
	Todo    string // what the keeper can do, may be empty
	Err     error  // what lies behind it, may be nil
}

// Error gives file, attempt, problem and remedy in one line, and the faults of
// what was refused each on its own.
func (e *Error) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s: %s", e.File, e.Doing, e.Problem)
	if e.Err != nil {
		sep := ": "
		if e.Problem == Refused {
			sep = "\n"
		}
		b.WriteString(sep + e.Err.Error())
	}
	if e.Todo != "" {
		b.WriteString("; " + e.Todo)
	}
	return b.String()
}

// Unwrap gives the problem and what lies behind it.
func (e *Error) Unwrap() []error {
	if e.Err == nil {
		return []error{e.Problem}
	}
	return []error{e.Problem, e.Err}
}

// fail wraps an error of the database or the file system for the user of the file.
// A nil error and an *Error stay as they are, a cancelled context too.
func (s *Store) fail(doing string, err error) error { return fail(s.path, doing, err) }

func fail(path, doing string, err error) error {
	var known *Error
	switch {
	case err == nil:
		return nil
	case errors.As(err, &known):
		return err
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return fmt.Errorf("%s: %s: %w", path, doing, err)
	}
	problem, todo := diagnose(err)
	if errors.Is(err, fs.ErrNotExist) {
		err = nil // it says the same again
	}
	return &Error{Problem: problem, File: path, Doing: doing, Todo: todo, Err: err}
}

// repair is the remedy for a damaged file.
const repair = "leave the file as it is, and restore the latest backup: hackle yard restore keeps the damaged one beside it"

// diagnose names the problem behind an error and the remedy.
func diagnose(err error) (Problem, string) {
	const (
		onlyRead = "allow writing to the file and its folder (both are written to), or name another with --yard"
		room     = "make room on its disk and try again; nothing kept before is lost"
	)
	var db *sqlite.Error
	if errors.As(err, &db) {
		switch db.Code() {
		case sqlite3.SQLITE_IOERR_NOMEM:
			return Faulty, ""
		case sqlite3.SQLITE_CANTOPEN_ISDIR:
			return NotYard, "name a file, not a folder"
		}
		switch db.Code() & 0xff {
		case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_PROTOCOL:
			return Busy, "close the other program that uses it, or wait, and try again; nothing was changed"
		case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM:
			return ReadOnly, onlyRead
		case sqlite3.SQLITE_CANTOPEN:
			return ReadOnly, onlyRead
		case sqlite3.SQLITE_FULL:
			return Full, room
		case sqlite3.SQLITE_IOERR:
			return Faulty, "look whether its disk is full or failing, and try again; nothing kept before is lost"
		case sqlite3.SQLITE_CORRUPT:
			return Corrupt, repair
		case sqlite3.SQLITE_NOTADB:
			return NotYard, "it is another kind of file, or damaged at its beginning; name another with --yard, or restore a backup: hackle yard restore"
		case sqlite3.SQLITE_CONSTRAINT:
			return Conflict, ""
		}
		return Faulty, ""
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return NotFound, "look at the path; hackle yard add yard NAME makes a new one"
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return ReadOnly, onlyRead
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EFBIG):
		return Full, room
	}
	return Faulty, ""
}
