package sweep

import (
	"bytes"
	"compress/gzip"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"hackle/climate"
)

// Layout says what is to be swept.
type Layout struct {
	Sites []PlacedSite
	Hives []string // paths of hive files
	Days  Days
	Years int // of weather to make where there are few real ones; 0: the usual
	// PerUnit is how many years go into one unit; 0: all of a site.
	PerUnit int
	Draws   int // a year; 0: one run with everything at its usual value
	Seed    uint64
}

// PlacedSite is a row of the list of sites.
type PlacedSite struct {
	Site
	Weather string // a built-in year or the path of a file
}

// mostUnits bounds a sweep; beyond it the names of the files would not sort.
const mostUnits = 999_999

// headings of the list of sites; the first two are needed.
var headings = []string{"site", "weather", "latitude_deg", "longitude_deg", "height_m"}

// ReadSites reads the list of sites: CSV with a row of headings, site and weather,
// and if the place is not that of the weather latitude_deg, longitude_deg and
// height_m. Paths of weather files are taken from the folder of the list.
func ReadSites(name string, in io.Reader) ([]PlacedSite, error) {
	file := csv.NewReader(in)
	file.TrimLeadingSpace = true
	head, err := file.Read()
	if err != nil {
		return nil, fmt.Errorf("%s: headings: %w", name, err)
	}
	at := map[string]int{}
	for i, h := range head {
		h = strings.TrimPrefix(strings.TrimSpace(h), "\ufeff")
		if !slices.Contains(headings, h) {
			return nil, fmt.Errorf("%s:1: column %d is headed %q, accepted: %s", name, i+1, h, strings.Join(headings, ", "))
		}
		if _, twice := at[h]; twice {
			return nil, fmt.Errorf("%s:1: two columns are headed %q", name, h)
		}
		at[h] = i
	}
	for _, h := range headings[:2] {
		if _, ok := at[h]; !ok {
			return nil, fmt.Errorf("%s:1: no column is headed %q", name, h)
		}
	}
	var sites []PlacedSite
	seen := map[string]int{}
	for {
		cells, err := file.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		line, _ := file.FieldPos(0)
		cell := func(h string) string {
			if i, ok := at[h]; ok {
				return strings.TrimSpace(cells[i])
			}
			return ""
		}
		s := PlacedSite{Site: Site{Name: cell("site")}, Weather: cell("weather")}
		if s.Name == "" || s.Weather == "" {
			return nil, fmt.Errorf("%s:%d: a site needs a name and weather", name, line)
		}
		if before, twice := seen[s.Name]; twice {
			return nil, fmt.Errorf("%s:%d: site %q stands in line %d already", name, line, s.Name, before)
		}
		seen[s.Name] = line
		given := 0
		for _, v := range []struct {
			head      string
			to        *float64
			low, high float64
		}{{headings[2], &s.Latitude, -90, 90}, {headings[3], &s.Longitude, -180, 180}, {headings[4], &s.Height, -500, 9000}} {
			text := cell(v.head)
			if text == "" {
				continue
			}
			given++
			x, err := strconv.ParseFloat(text, 64)
			if err != nil || !(x >= v.low && x <= v.high) {
				return nil, fmt.Errorf("%s:%d: %s is %q, accepted: a number from %g to %g", name, line, v.head, text, v.low, v.high)
			}
			*v.to = x
		}
		if given != 0 && given != 3 {
			return nil, fmt.Errorf("%s:%d: a place needs latitude_deg, longitude_deg and height_m, or none of them", name, line)
		}
		s.HasPlace = given == 3
		sites = append(sites, s)
	}
	if len(sites) == 0 {
		return nil, fmt.Errorf("%s names no site", name)
	}
	return sites, nil
}

// pack puts weather into a unit: built-in weather by name, files whole.
func pack(folder, name string) (Weather, error) {
	path := name
	if !filepath.IsAbs(path) {
		path = filepath.Join(folder, path)
	}
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		if slices.Contains(climate.BuiltinNames(), name) {
			return Weather{Name: name}, nil
		}
		return Weather{}, fmt.Errorf("weather %q is no file in %s and no built-in year", name, folder)
	}
	if err != nil {
		return Weather{}, err
	}
	w := Weather{Name: filepath.Base(path)}
	if z, err := gzip.NewReader(bytes.NewReader(text)); err == nil {
		if text, err = io.ReadAll(z); err != nil {
			return w, fmt.Errorf("weather %s: %w", path, err)
		}
		w.Name = strings.TrimSuffix(w.Name, ".gz")
	}
	switch columns, err := os.ReadFile(strings.TrimSuffix(path, ".gz") + ".map.yaml"); {
	case err == nil:
		w.Map = string(columns)
	case !errors.Is(err, fs.ErrNotExist):
		return w, err
	}
	var packed bytes.Buffer
	z, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err != nil {
		return w, err
	}
	if _, err := z.Write(text); err != nil {
		return w, err
	}
	if err := z.Close(); err != nil {
		return w, err
	}
	w.File = packed.Bytes()
	return w, nil
}

// Lay writes the units of a sweep into a folder, which must not hold one already.
// Every unit is read as it will be worked, so that faults of hives, sites and weather
// are told now. It returns how many there are. Paths of weather are taken from base.
func (f Folder) Lay(l Layout, base string) (int, error) {
	if len(l.Sites) == 0 || len(l.Hives) == 0 {
		return 0, errors.New("a sweep needs sites and hives")
	}
	if l.PerUnit < 0 || l.Draws < 0 || l.Draws > 100_000 || l.Years < 0 {
		return 0, fmt.Errorf("%d years a unit, %d draws a year, %d years to make: none may be below 0, draws up to 100000", l.PerUnit, l.Draws, l.Years)
	}
	if _, err := os.Stat(f.unitPath(1)); err == nil {
		return 0, fmt.Errorf("%s holds a sweep already; give another folder", string(f))
	}
	type hiveText struct{ name, text string }
	var hives []hiveText
	for _, path := range l.Hives {
		text, err := os.ReadFile(path)
		if err != nil {
			return 0, fmt.Errorf("hive file: %w", err)
		}
		hives = append(hives, hiveText{filepath.Base(path), string(text)})
	}
	var units []Unit
	packed := map[string]Weather{}
	for _, s := range l.Sites {
		w, ok := packed[s.Weather]
		if !ok {
			var err error
			if w, err = pack(base, s.Weather); err != nil {
				return 0, fmt.Errorf("site %s: %w", s.Name, err)
			}
			packed = map[string]Weather{s.Weather: w} // the list has neighbours side by side
		}
		for _, h := range hives {
			u := Unit{Version: version, Site: s.Site, HiveName: h.name, HiveFile: h.text, Weather: w, Days: l.Days, Years: l.Years, Draws: l.Draws, Seed: l.Seed}
			q, _, err := u.question()
			if err != nil {
				return 0, fmt.Errorf("%s on site %s: %w", h.name, s.Name, err)
			}
			each := l.PerUnit
			if each == 0 {
				each = len(q.Design.Years)
			}
			for u.First = 0; u.First < len(q.Design.Years); u.First += each {
				u.Count = min(each, len(q.Design.Years)-u.First)
				units = append(units, u)
			}
		}
	}
	if len(units) > mostUnits {
		return 0, fmt.Errorf("%d units, at most %d: put more years into one", len(units), mostUnits)
	}
	// The first unit last: a folder counts as laid when it has that one.
	for i := len(units) - 1; i >= 0; i-- {
		u := &units[i]
		u.Number, u.Of = i+1, len(units)
		text, err := json.Marshal(u)
		if err != nil {
			return 0, err
		}
		if err := writeWhole(f.unitPath(u.Number), append(text, '\n')); err != nil {
			return 0, err
		}
	}
	return len(units), nil
}
