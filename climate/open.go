package climate

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"
)

// largestFile is the largest uncompressed weather file that is read [byte]:
// about a hundred years of hours in the EPW layout.
const largestFile = 200 << 20

// readAll reads r up to the size limit.
func readAll(name string, r io.Reader) ([]byte, error) {
	text, err := io.ReadAll(io.LimitReader(r, largestFile+1))
	if err != nil {
		return nil, fmt.Errorf("reading %s: %w", name, err)
	}
	if len(text) > largestFile {
		return nil, &FileError{File: name, Found: "more than 200 MB", Accepted: "weather files of at most 200 MB uncompressed"}
	}
	return text, nil
}

// Open reads the weather file at path, by its content: the EPW layout (see
// [ReadEPW]), or a CSV file that has its column map (see [ColumnMap]) beside it,
// named like the file with ".map.yaml" added: yard.csv and yard.csv.map.yaml.
// Either may be compressed with gzip; a last ".gz" does not count in the name of
// the map. At most 200 MB uncompressed are read. A refusal is a *[FileError].
func Open(path string) (*Series, error) {
	text, err := readFile(path)
	if err != nil {
		return nil, err
	}
	name := filepath.Base(path)
	if isEPW(text) {
		return readEPW(name, text)
	}
	mapPath := strings.TrimSuffix(path, ".gz") + ".map.yaml"
	written, err := os.ReadFile(mapPath)
	if errors.Is(err, fs.ErrNotExist) {
		line, _ := cutLine(text)
		return nil, &FileError{File: name, Line: 1, Found: quote(line),
			Accepted: fmt.Sprintf("the EPW layout, which starts with LOCATION, or a CSV file with a column map %s beside it", filepath.Base(mapPath))}
	}
	if err != nil {
		return nil, fmt.Errorf("column map of %s: %w", name, err)
	}
	m, err := ParseColumnMap(written)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", filepath.Base(mapPath), err)
	}
	return readCSV(name, text, m)
}

// Load returns the weather of a file or, when no file of that name exists, the
// built-in weather of that name. See [Open] and [Builtin].
func Load(nameOrPath string) (*Series, error) {
	if _, err := os.Stat(nameOrPath); errors.Is(err, fs.ErrNotExist) {
		s, errBuiltin := Builtin(nameOrPath)
		if errBuiltin == nil {
			return s, nil
		}
		return nil, fmt.Errorf("no file %q, and %w", nameOrPath, errBuiltin)
	}
	return Open(nameOrPath)
}

// isEPW tells whether a text starts like the EPW layout.
func isEPW(text []byte) bool {
	text = bytes.TrimPrefix(text, []byte("\ufeff"))
	const start = "LOCATION"
	return len(text) >= len(start) && strings.EqualFold(string(text[:len(start)]), start)
}

// readFile reads a file of text, uncompressed, and refuses what is none.
func readFile(path string) (text []byte, err error) {
	name := filepath.Base(path)
	file, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, &FileError{File: path, Found: "no such file", Accepted: "a weather file in the EPW layout or CSV", Err: err}
	}
	if err != nil {
		return nil, fmt.Errorf("weather file: %w", err)
	}
	defer file.Close() // only read from
	info, err := file.Stat()
	if err != nil {
		return nil, fmt.Errorf("weather file: %w", err)
	}
	if info.IsDir() {
		return nil, &FileError{File: path, Found: "a directory", Accepted: "a weather file"}
	}
	text, err = readAll(name, file)
	if err != nil {
		return nil, err
	}
	return plainText(name, text)
}

// plainText uncompresses gzip and refuses what is no text in UTF-8. The header
// of an EPW file may be in Latin-1, see [ReadEPW].
func plainText(name string, text []byte) ([]byte, error) {
	if bytes.HasPrefix(text, []byte{0x1f, 0x8b}) {
		z, err := gzip.NewReader(bytes.NewReader(text))
		if err == nil {
			text, err = readAll(name, z)
		}
		var refused *FileError
		switch {
		case errors.As(err, &refused):
			return nil, err
		case errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF):
			return nil, &FileError{File: name, Found: "a gzip file that is cut short", Accepted: "a whole gzip file; fetch it again", Err: err}
		case err != nil:
			return nil, &FileError{File: name, Found: "a damaged gzip file", Accepted: "a sound gzip file; fetch it again", Err: err}
		}
	}
	switch {
	case len(text) == 0:
		return nil, &FileError{File: name, Found: "an empty file", Accepted: "a weather file in the EPW layout or CSV"}
	case bytes.HasPrefix(text, []byte("PK\x03\x04")):
		return nil, &FileError{File: name, Found: "a zip archive", Accepted: "the weather file inside it; unpack it first"}
	case bytes.HasPrefix(text, []byte{0xff, 0xfe}) || bytes.HasPrefix(text, []byte{0xfe, 0xff}):
		return nil, &FileError{File: name, Line: 1, Found: "UTF-16 text", Accepted: "UTF-8 text; save the file with that encoding"}
	}
	if at := bytes.IndexByte(text, 0); at >= 0 {
		return nil, &FileError{File: name, Line: 1 + bytes.Count(text[:at], []byte("\n")), Found: "a zero byte: a binary file", Accepted: "text in UTF-8, plain or in gzip"}
	}
	if !utf8.Valid(text) {
		lines := splitter{rest: text}
		for l, ok := lines.next(); ok; l, ok = lines.next() {
			if !utf8.Valid(l) && !(isEPW(text) && lines.line <= 8) {
				return nil, &FileError{File: name, Line: lines.line, Found: quote(bytes.ToValidUTF8(l, []byte("?"))) + ", not UTF-8", Accepted: "UTF-8 text; save the file with that encoding"}
			}
		}
	}
	return text, nil
}
