package cli

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
)

// newFile is a file in the making: it has its name only once it is whole.
type newFile struct {
	*os.File
	path string
	done bool
}

// create begins a file that is to stand at path. Nothing stands there, or what
// stood there before, until commit.
func create(path string) (*newFile, error) {
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		return nil, fmt.Errorf("cannot write %s: it is there and is no plain file", path)
	}
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real // a link stays a link
	}
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+"-*")
	if err != nil {
		return nil, fmt.Errorf("cannot write %s: %w", path, err)
	}
	return &newFile{File: f, path: path}, nil
}

// commit gives the file its name.
func (f *newFile) commit() error {
	mode := os.FileMode(0o644)
	if info, err := os.Stat(f.path); err == nil {
		mode = info.Mode().Perm()
	}
	for _, step := range []func() error{
		func() error { return f.Chmod(mode) },
		f.Sync,
		f.Close,
		func() error { return os.Rename(f.Name(), f.path) },
	} {
		if err := step(); err != nil {
			return fmt.Errorf("cannot write %s: %w", f.path, err)
		}
	}
	f.done = true
	return nil
}

// discard removes what was not committed. It may be called at any time.
func (f *newFile) discard() {
	if f == nil || f.done {
		return
	}
	f.Close()           // an error here loses nothing: the file goes
	os.Remove(f.Name()) // likewise
	f.done = true
}

// writeFile writes a file whole or not at all.
func writeFile(path string, write func(io.Writer) error) error {
	f, err := create(path)
	if err != nil {
		return err
	}
	defer f.discard()
	if err := write(f); err != nil {
		return fmt.Errorf("cannot write %s: %w", path, err)
	}
	return f.commit()
}

// sameFile reports whether two paths name one existing file.
func sameFile(a, b string) bool {
	x, errA := os.Stat(a)
	y, errB := os.Stat(b)
	return errA == nil && errB == nil && os.SameFile(x, y)
}
