package ensemble

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
)

// Journal keeps the rows of a batch in a file as they come, so that a stopped run
// goes on where it was. A row is one line, written at once; a line that a crash cut
// short is dropped. The first line names the question that the rows answer.
type Journal struct {
	path string
	file *os.File
	rows map[int][]float64
	size int // numbers a row
}

// ErrOtherQuestion tells that a journal belongs to another question.
var ErrOtherQuestion = errors.New("the file keeps the draws of another question")

type journalHead struct {
	Journal int    `json:"hackle_draws"`
	Key     string `json:"question"`
	Columns int    `json:"numbers"`
}

const journalVersion = 1

// OpenJournal opens a journal, or begins one when there is no file. The key says
// what question the rows answer, see [Key]; columns how many numbers a row has.
func OpenJournal(path, key string, columns int) (*Journal, error) {
	file, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, fmt.Errorf("file of draws: %w", err)
	}
	j := &Journal{path: path, file: file, rows: map[int][]float64{}, size: columns}
	if err := j.read(journalHead{journalVersion, key, columns}); err != nil {
		file.Close()
		return nil, fmt.Errorf("file of draws %s: %w", path, err)
	}
	return j, nil
}

func (j *Journal) read(want journalHead) error {
	whole := int64(0) // bytes of whole lines
	in := bufio.NewReaderSize(j.file, 1<<16)
	for number := 1; ; number++ {
		line, err := in.ReadBytes('\n')
		if errors.Is(err, io.EOF) {
			break // what is left was cut short
		}
		if err != nil {
			return err
		}
		whole += int64(len(line))
		if number == 1 {
			var head journalHead
			if err := json.Unmarshal(line, &head); err != nil || head.Journal == 0 {
				return fmt.Errorf("line 1: this is no file of draws; give another name")
			}
			if head != want {
				return fmt.Errorf("%w: hive, weather, seed or program differ; give another name, or remove it", ErrOtherQuestion)
			}
			continue
		}
		i, row, err := parseRow(line)
		if err != nil {
			return fmt.Errorf("line %d: %w", number, err)
		}
		if len(row) != j.size {
			return fmt.Errorf("line %d: %d numbers, expected %d", number, len(row), j.size)
		}
		j.rows[i] = row
	}
	if whole == 0 {
		// Nothing, or a first line that never was finished: it must be ours to be
		// written over.
		start := make([]byte, 16)
		n, _ := j.file.ReadAt(start, 0)
		if mark := []byte(`{"hackle_draws":`); !bytes.HasPrefix(mark, start[:n]) && !bytes.HasPrefix(start[:n], mark) {
			return fmt.Errorf("line 1: this is no file of draws; give another name")
		}
	}
	if err := j.file.Truncate(whole); err != nil {
		return err
	}
	if _, err := j.file.Seek(whole, io.SeekStart); err != nil {
		return err
	}
	if whole > 0 {
		return nil
	}
	text, err := json.Marshal(want)
	if err != nil {
		return err
	}
	_, err = j.file.Write(append(text, '\n'))
	return err
}

// Len is how many rows are kept.
func (j *Journal) Len() int { return len(j.rows) }

// add writes a row.
func (j *Journal) add(i int, row []float64) error {
	if _, err := j.file.Write(rowLine(i, row)); err != nil {
		return fmt.Errorf("file of draws %s: %w", j.path, err)
	}
	return nil
}

// rowLine writes a row as one line.
func rowLine(i int, row []float64) []byte {
	line := strconv.AppendInt([]byte(`{"draw":`), int64(i), 10)
	line = append(line, `,"row":[`...)
	for k, v := range row {
		if k > 0 {
			line = append(line, ',')
		}
		if math.IsNaN(v) || math.IsInf(v, 0) {
			line = append(line, "null"...)
			continue
		}
		line = strconv.AppendFloat(line, v, 'g', -1, 64)
	}
	return append(line, "]}\n"...)
}

// Book keeps rows outside of files, such as in a database. It is used by several
// goroutines.
type Book interface {
	Get(key string) (line []byte, ok bool)
	Put(key string, line []byte) error
}

// shelf is a book opened at one question.
type shelf struct {
	book Book
	key  string
	size int
}

func (s *shelf) at(i int) string { return s.key + "/" + strconv.Itoa(i) }

// get finds a row; one that cannot be read counts as none.
func (s *shelf) get(i int) ([]float64, bool) {
	line, ok := s.book.Get(s.at(i))
	if !ok {
		return nil, false
	}
	k, row, err := parseRow(line)
	return row, err == nil && k == i && len(row) == s.size
}

func (s *shelf) put(i int, row []float64) error { return s.book.Put(s.at(i), rowLine(i, row)) }

func parseRow(line []byte) (int, []float64, error) {
	var r struct {
		Draw *int       `json:"draw"`
		Row  []*float64 `json:"row"`
	}
	if err := json.Unmarshal(line, &r); err != nil {
		return 0, nil, fmt.Errorf("not a row of draws: %w", err)
	}
	if r.Draw == nil || *r.Draw < 0 || *r.Draw >= mostPoints {
		return 0, nil, errors.New("not a row of draws: no number of its draw")
	}
	row := make([]float64, len(r.Row))
	for k, v := range r.Row {
		row[k] = math.NaN()
		if v != nil {
			row[k] = *v
		}
	}
	return *r.Draw, row, nil
}

// Close closes the file.
func (j *Journal) Close() error {
	if j == nil {
		return nil
	}
	return j.file.Close()
}

// Key hashes everything that a question depends on: parts are written as JSON and
// must hold plain data.
func Key(parts ...any) (string, error) {
	h := sha256.New()
	out := json.NewEncoder(h)
	for _, p := range parts {
		if err := out.Encode(p); err != nil {
			return "", fmt.Errorf("ensemble: key of a question: %w", err)
		}
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// Key of the draws of a design for a plan and biology: two designs have one key only
// if all their draws agree. Extra parts say what else the rows depend on.
func (d *Design) Key(extra ...any) (string, error) {
	parts := []any{d.points(), extra}
	for _, in := range d.Inputs {
		parts = append(parts, []any{in.Name, in.Low, in.Usual, in.High, in.Shape})
	}
	for _, y := range d.Years {
		parts = append(parts, []any{y.Latitude, y.Longitude, y.Height, y.Zone, y.Start, y.MidOffset, y.HasRain, y.HasSnow, y.Hours})
	}
	if len(d.Correlations) > 0 {
		parts = append(parts, d.Correlations)
	}
	return Key(parts...)
}
