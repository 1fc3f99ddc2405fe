package store

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"runtime"
)

// copyTo writes the file as it is at this moment to a new file, whole or not at
// all. Writers go on meanwhile.
func (s *Store) copyTo(ctx context.Context, path string) (err error) {
	dir, err := os.MkdirTemp(filepath.Dir(path), "."+filepath.Base(path)+"-*")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	fresh := filepath.Join(dir, "copy")
	if _, err := s.read.ExecContext(ctx, "VACUUM INTO ?", fresh); err != nil {
		return err
	}
	if err := os.Chmod(fresh, 0o600); err != nil {
		return err
	}
	if err := syncFile(fresh); err != nil {
		return err
	}
	// The name is taken first, so that no file that is there is written over.
	place, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		if errors.Is(err, os.ErrExist) {
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
