package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"hackle/climate"
)

const (
	csvTail = ".csv"
	epwTail = ".epw"
	mapTail = ".map.yaml" // as climate.Open finds it
)

// openWeather loads weather by the name of a file or a built-in year. What looks
// like a file and is not there is told without the list of all built-in years.
func openWeather(nameOrPath string) (*climate.Series, error) {
	if _, err := os.Stat(nameOrPath); errors.Is(err, fs.ErrNotExist) && strings.ContainsAny(nameOrPath, "./"+string(filepath.Separator)) {
		return nil, fmt.Errorf("no file %q", nameOrPath)
	}
	return climate.Load(nameOrPath)
}

// weatherOut is where a command writes the weather that it made.
type weatherOut struct {
	path  string
	force bool
}

func (o *weatherOut) flags(c *cobra.Command) {
	c.Flags().StringVar(&o.path, "out", "", "write the weather to this `file`, .epw or .csv")
	c.Flags().BoolVar(&o.force, "force", false, "replace files that are there")
}

// check refuses early what write would refuse late: a name of no known form, a
// file that is there, and one that the weather comes from.
func (o *weatherOut) check(from ...string) error {
	if o.path == "" {
		return nil
	}
	files, err := weatherFilesOf(o.path)
	if err != nil {
		return err
	}
	for _, f := range files {
		for _, source := range from {
			if sameFile(f, source) || sameFile(f, source+mapTail) {
				return fmt.Errorf("--out %s is the file that the weather comes from; give another name", o.path)
			}
		}
		if err := free(f, o.force); err != nil {
			return err
		}
	}
	return nil
}

// weatherFilesOf names the files that weather of a name is written to.
func weatherFilesOf(path string) ([]string, error) {
	switch strings.ToLower(filepath.Ext(path)) {
	case csvTail:
		return []string{path, path + mapTail}, nil
	case epwTail:
		return []string{path}, nil
	}
	return nil, fmt.Errorf("%s: a name that ends in .epw or .csv is wanted", path)
}

// free tells whether a file may be written: it is not there, or force.
func free(path string, force bool) error {
	if force {
		return nil
	}
	switch _, err := os.Lstat(path); {
	case err == nil:
		return fmt.Errorf("%s is there already; --force replaces it", path)
	case !errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("cannot write %s: %w", path, err)
	}
	return nil
}

// write writes weather, nothing when no file was named.
func (o *weatherOut) write(s *climate.Series) (weatherMade, error) {
	made := weatherMade{shown(s), []string{}, []string{}}
	if o.path == "" {
		return made, nil
	}
	var err error
	if made.Files, err = writeWeather(o.path, s); err != nil {
		return made, err
	}
	if minute := s.MidOffset.Minutes(); minute != 30 && (minute != 0 || len(made.Files) == 1) {
		kept := "the middle"
		if len(made.Files) > 1 && minute < 15 {
			kept = "the beginning"
		}
		made.Notes = append(made.Notes, fmt.Sprintf("The sun of this weather stands for %.0f min after the beginning of each hour; the file says %s of it.", minute, kept))
	}
	return made, nil
}

// writeWeather writes weather under a name that ends in .csv or .epw and returns
// the files written: all of them or none.
func writeWeather(path string, s *climate.Series) ([]string, error) {
	files, err := weatherFilesOf(path)
	if err != nil {
		return nil, err
	}
	if len(files) == 1 {
		return files, writeFile(path, func(w io.Writer) error { return climate.WriteEPW(w, s) })
	}
	f, err := create(path)
	if err != nil {
		return nil, err
	}
	defer f.discard()
	m, err := climate.WriteCSV(f, s)
	if err != nil {
		return nil, fmt.Errorf("cannot write %s: %w", path, err)
	}
	mapPath := files[1]
	g, err := create(mapPath)
	if err != nil {
		return nil, err
	}
	defer g.discard()
	var b bytes.Buffer
	if err := m.Write(&b); err != nil {
		return nil, fmt.Errorf("cannot write %s: %w", mapPath, err)
	}
	noted(&b, s)
	if _, err := g.Write(b.Bytes()); err != nil {
		return nil, fmt.Errorf("cannot write %s: %w", mapPath, err)
	}
	_, before := os.Stat(mapPath)
	if err := g.commit(); err != nil {
		return nil, err
	}
	if err := f.commit(); err != nil {
		if errors.Is(before, fs.ErrNotExist) {
			os.Remove(mapPath) // a map alone is of no use; what goes wrong here is told by the error
		}
		return nil, err
	}
	return files, nil
}

// noted adds to a column map, as comments, what was filled or assumed in the
// weather as a whole.
func noted(b *bytes.Buffer, s *climate.Series) {
	for _, r := range s.Repairs {
		if r.Line == 0 {
			fmt.Fprintf(b, "# %s\n", strings.Join(strings.Fields(r.Field+": "+r.Found+": "+r.Done), " "))
		}
	}
}

// writeBytes writes a file whole or not at all.
func writeBytes(path string, text []byte) error {
	return writeFile(path, func(w io.Writer) error {
		_, err := w.Write(text)
		return err
	})
}

// madeWeather writes weather where it is wanted and prints its summary.
func (p *program) madeWeather(o *weatherOut, s *climate.Series) error {
	made, err := o.write(s)
	if err != nil {
		return err
	}
	return p.write(made, func(b *bytes.Buffer) error {
		made.text(b, p.system())
		made.kept(b)
		return nil
	})
}

// kept tells what was written, or that nothing was.
func (m weatherMade) kept(b *bytes.Buffer) {
	if len(m.Files) == 0 {
		b.WriteString("\nNothing was written; --out yard.epw keeps the weather.\n")
		return
	}
	m.written(b)
}
