// Package sweep spreads the runs of a region over many machines: it lays out work
// units, works one, and gathers their results. A unit is one file that holds all it
// needs; its result is one file whose bytes depend on the unit and the program alone.
// Working a unit twice, or killing it half-way, harms nothing. Any engine that can
// run a program with a number can run a sweep.
package sweep

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"

	"hackle/climate"
	"hackle/ensemble"
	"hackle/hive"
	"hackle/internal/answer"
	"hackle/quantity"
	"hackle/wall"
)

// version of the files of units and results.
const version = 1

// Unit is a piece of work: one hive on one site through some of its years.
type Unit struct {
	Version  int     `json:"hackle_unit"`
	Number   int     `json:"unit"` // from 1
	Of       int     `json:"of"`
	Site     Site    `json:"site"`
	HiveName string  `json:"hive_file_name"`
	HiveFile string  `json:"hive_file"` // its text
	Weather  Weather `json:"weather"`
	Days     Days    `json:"days"`
	Years    int     `json:"years"`      // of weather to make where there are few; 0: the usual
	First    int     `json:"first_year"` // index of the first of the years that are the unit's
	Count    int     `json:"year_count"`
	Draws    int     `json:"draws"` // a year; 0: one run with everything at its usual value
	Seed     uint64  `json:"seed"`
}

// Site is a place with its weather.
type Site struct {
	Name      string  `json:"name"`
	HasPlace  bool    `json:"has_place"` // else that of the weather holds
	Latitude  float64 `json:"latitude_deg"`
	Longitude float64 `json:"longitude_deg"`
	Height    float64 `json:"height_m"`
}

// Weather is a built-in year by name, or a file whole.
type Weather struct {
	Name string `json:"name"`           // built-in, or the name of the file
	File []byte `json:"file,omitempty"` // its text, gzip; base64 in JSON
	Map  string `json:"column_map,omitempty"`
}

// Days of the runs, as for hackle year.
type Days struct {
	From   string `json:"from,omitempty"`
	To     string `json:"to,omitempty"`
	Winter bool   `json:"winter,omitempty"`
}

// Result is what a unit came to.
type Result struct {
	Version int      `json:"hackle_result"`
	Unit    int      `json:"unit"`
	Key     string   `json:"unit_sha256"` // of the unit's file
	Program string   `json:"program"`
	Columns []string `json:"columns"`
	Rows    []Row    `json:"rows"`
	Notes   []string `json:"notes"`
}

// Row is one run.
type Row struct {
	Year   int        `json:"year"` // index of the year's weather
	From   string     `json:"from"` // first day
	Draw   int        `json:"draw"` // from 1, 0: everything usual
	Values []*float64 `json:"values"`
}

// read returns the weather of a unit.
func (w Weather) read() (*climate.Series, error) {
	if len(w.File) == 0 {
		return climate.Builtin(w.Name)
	}
	z, err := gzip.NewReader(bytes.NewReader(w.File))
	if err != nil {
		return nil, fmt.Errorf("weather %s: %w", w.Name, err)
	}
	if w.Map == "" {
		return climate.ReadEPW(w.Name, z)
	}
	m, err := climate.ParseColumnMap([]byte(w.Map))
	if err != nil {
		return nil, fmt.Errorf("column map of %s: %w", w.Name, err)
	}
	return climate.ReadCSV(w.Name, z, m)
}

// days as the runs take them.
func (d Days) days() (answer.Days, error) {
	out := answer.Days{Winter: d.Winter}
	for _, v := range []struct {
		text string
		to   *hive.Day
	}{{d.From, &out.From}, {d.To, &out.To}} {
		if v.text == "" {
			continue
		}
		day, err := hive.ParseDay(v.text)
		if err != nil {
			return out, err
		}
		*v.to = day
	}
	return out, nil
}

// question sets the unit's hive into its years.
func (u *Unit) question() (ensemble.Question, []string, error) {
	var q ensemble.Question
	plan, notes, err := answer.ReadHive(u.HiveName, strings.NewReader(u.HiveFile))
	if err != nil {
		return q, nil, err
	}
	w, err := u.Weather.read()
	if err != nil {
		return q, nil, err
	}
	if s := u.Site; s.HasPlace {
		plan.Site.Name, plan.Site.HasPlace = s.Name, true
		plan.Site.Latitude, plan.Site.Longitude, plan.Site.Height = s.Latitude, s.Longitude, s.Height
	} else {
		plan.Site.HasPlace = false // the file's own place is another
	}
	days, err := u.Days.days()
	if err != nil {
		return q, nil, err
	}
	q, more, err := answer.Ranging{Draws: max(1, u.Draws), Seed: u.Seed, Years: u.Years}.Range(plan, []*climate.Series{w}, days, quantity.Metric)
	return q, append(notes, more...), err
}

// Work computes the unit and returns its result. Key is the hash of the unit's file,
// program the version of the program.
func (u *Unit) Work(ctx context.Context, key, program string, workers int, progress func(done, total int)) (*Result, error) {
	q, notes, err := u.question()
	if err != nil {
		return nil, fmt.Errorf("unit %d, %s on %s: %w", u.Number, u.HiveName, u.Site.Name, err)
	}
	if u.First < 0 || u.Count < 1 || u.First+u.Count > len(q.Design.Years) {
		return nil, fmt.Errorf("unit %d asks for years %d to %d of %d", u.Number, u.First+1, u.First+u.Count, len(q.Design.Years))
	}
	each := max(1, u.Draws)
	r := &Result{Version: version, Unit: u.Number, Key: key, Program: program, Notes: notes}
	for _, c := range ensemble.ColumnList() {
		r.Columns = append(r.Columns, c.Name)
	}
	joints := &wall.Cache{}
	b := ensemble.Batch{Count: u.Count * each, Columns: q.Columns(), Workers: workers, Progress: progress,
		Evaluate: func(ctx context.Context, i int) ([]float64, error) {
			year := u.First + i/each
			draw := q.Design.Usual(year)
			if u.Draws > 0 {
				draw = q.Design.Draw(i % each)
				draw.Year = year // every year meets the same bees
			}
			return q.Row(ctx, draw, joints)
		}}
	rows, err := b.Run(ctx)
	if err != nil {
		return nil, fmt.Errorf("unit %d, %s on %s: %w", u.Number, u.HiveName, u.Site.Name, err)
	}
	for i, values := range rows {
		row := Row{Year: u.First + i/each, Values: make([]*float64, len(values))}
		row.From = q.Design.Years[row.Year].Start.Format("2006-01-02")
		if u.Draws > 0 {
			row.Draw = i%each + 1
		}
		for k, v := range values {
			if !math.IsNaN(v) && !math.IsInf(v, 0) {
				row.Values[k] = &values[k]
			}
		}
		r.Rows = append(r.Rows, row)
	}
	return r, nil
}

// Folder holds the files of a sweep: units/ and results/.
type Folder string

func (f Folder) unitPath(n int) string {
	return filepath.Join(string(f), "units", fmt.Sprintf("unit-%06d.json", n))
}

func (f Folder) resultPath(n int) string {
	return filepath.Join(string(f), "results", fmt.Sprintf("unit-%06d.json", n))
}

// Count is how many units the folder holds.
func (f Folder) Count() (int, error) {
	u, _, err := f.unit(1)
	if err != nil {
		return 0, err
	}
	return u.Of, nil
}

// unit reads a unit and the hash of its file.
func (f Folder) unit(n int) (*Unit, string, error) {
	text, err := os.ReadFile(f.unitPath(n))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, "", fmt.Errorf("%s holds no unit %d: hackle sweep lay makes units", string(f), n)
	}
	if err != nil {
		return nil, "", err
	}
	var u Unit
	if err := json.Unmarshal(text, &u); err != nil {
		return nil, "", fmt.Errorf("%s: %w", f.unitPath(n), err)
	}
	if u.Version != version || u.Number != n || u.Of < n {
		return nil, "", fmt.Errorf("%s: unit %d of %d in layout %d, expected unit %d in layout %d", f.unitPath(n), u.Number, u.Of, u.Version, n, version)
	}
	sum := sha256.Sum256(text)
	return &u, hex.EncodeToString(sum[:]), nil
}

// result reads the result of a unit whose hash is key; nil when it is not there, or
// is that of another unit or not whole.
func (f Folder) result(n int, key string) (*Result, error) {
	text, err := os.ReadFile(f.resultPath(n))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var r Result
	if json.Unmarshal(text, &r) != nil || r.Version != version || r.Key != key || r.Unit != n || len(r.Rows) == 0 {
		return nil, nil
	}
	for _, row := range r.Rows {
		if len(row.Values) != len(r.Columns) {
			return nil, nil
		}
	}
	return &r, nil
}

// Work computes unit n unless its result is there already, and reports whether it
// had to. The result stands under its name only once it is whole.
func (f Folder) Work(ctx context.Context, n int, program string, workers int, progress func(done, total int)) (worked bool, err error) {
	u, key, err := f.unit(n)
	if err != nil {
		return false, err
	}
	if r, err := f.result(n, key); err != nil || r != nil && r.Program == program {
		return false, err
	}
	r, err := u.Work(ctx, key, program, workers, progress)
	if err != nil {
		return false, err
	}
	text, err := json.Marshal(r)
	if err != nil {
		return false, err
	}
	return true, writeWhole(f.resultPath(n), append(text, '\n'))
}

// Missing lists the units without a result.
func (f Folder) Missing() ([]int, error) {
	count, err := f.Count()
	if err != nil {
		return nil, err
	}
	var out []int
	for n := 1; n <= count; n++ {
		_, key, err := f.unit(n)
		if err != nil {
			return nil, err
		}
		r, err := f.result(n, key)
		if err != nil {
			return nil, err
		}
		if r == nil {
			out = append(out, n)
		}
	}
	return out, nil
}

// Ranges writes numbers as array jobs take them: "1-3,7".
func Ranges(numbers []int) string {
	var parts []string
	for i := 0; i < len(numbers); {
		j := i
		for j+1 < len(numbers) && numbers[j+1] == numbers[j]+1 {
			j++
		}
		if j == i {
			parts = append(parts, fmt.Sprint(numbers[i]))
		} else {
			parts = append(parts, fmt.Sprintf("%d-%d", numbers[i], numbers[j]))
		}
		i = j + 1
	}
	return strings.Join(parts, ",")
}

// writeWhole writes a file under its name only when it is whole and on the disk.
func writeWhole(path string, text []byte) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".making-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // gone already when all went well
	_, err = f.Write(text)
	if err := errors.Join(err, f.Chmod(0o644), f.Sync(), f.Close()); err != nil {
		return fmt.Errorf("cannot write %s: %w", path, err)
	}
	return os.Rename(f.Name(), path)
}
