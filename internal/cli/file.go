package cli

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"hackle/internal/raster"
)

// pngWidth is how many pixels a picture written as PNG is wide: fine enough for a
// printed page.
const pngWidth = 1600

// isPNG reports whether the name asks for pixels.
func isPNG(path string) bool { return strings.EqualFold(filepath.Ext(path), ".png") }

// pictureName is the error of a picture's name whose ending is that of another
// kind of picture. "" is fine.
func pictureName(flag, path string) error {
	switch ext := strings.ToLower(filepath.Ext(path)); ext {
	case ".jpg", ".jpeg", ".gif", ".webp", ".pdf", ".bmp", ".tif", ".tiff":
		return fmt.Errorf("%s %s: pictures are written as .svg or .png, not as %s", flag, path, ext)
	}
	return nil
}

// inFormatOf turns a picture of ours into what the ending of its file's name asks
// for: pixels for .png, else SVG as it is.
func inFormatOf(path string, svg []byte) ([]byte, error) {
	if !isPNG(path) {
		return svg, nil
	}
	var b bytes.Buffer
	if err := raster.PNG(&b, svg, pngWidth); err != nil {
		return nil, fmt.Errorf("cannot draw %s: %w", path, err)
	}
	return b.Bytes(), nil
}

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
