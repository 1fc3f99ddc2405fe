package yard

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"hackle/hive"
)

// Longest texts that are kept [bytes].
const (
	longestName = 200
	longestNote = 20_000
	longestFile = 1 << 20
)

// Meta is what everything kept carries.
type Meta struct {
	ID ID `json:"id"`
	// Revision counts the versions from 1; 0 means it was not kept yet. Whoever
	// edits sends the revision that was read, so that two who edit at once do not
	// overwrite each other.
	Revision int       `json:"revision"`
	Changed  time.Time `json:"changed"` // when this version was kept
	Deleted  bool      `json:"deleted,omitempty"`
}

// Yard is a place where hives stand.
type Yard struct {
	Meta
	Name      string  `json:"name"`
	HasPlace  bool    `json:"has_place"`     // the next three are known
	Latitude  float64 `json:"latitude_deg"`  // north positive [deg]
	Longitude float64 `json:"longitude_deg"` // east positive [deg]
	Height    float64 `json:"height_m"`      // above sea level [m]
	// Weather is the choice of weather for the yard: the name of a built-in series,
	// or "series:" and the ID of one that is kept, empty for none yet.
	Weather string `json:"weather"`
	Note    string `json:"note"`
}

// Hive is one place of a colony in a yard. How it is built is told by its Builds.
type Hive struct {
	Meta
	Yard ID     `json:"yard"`
	Name string `json:"name"`
	// HasPosition is true when X and Y are known: metres east and north of a corner
	// of the yard that the keeper chose.
	HasPosition bool    `json:"has_position"`
	X           float64 `json:"x_m"` // [m]
	Y           float64 `json:"y_m"` // [m]
	Note        string  `json:"note"`
}

// Build is how a hive was built from a day on: a whole hive file.
type Build struct {
	Meta
	Hive ID     `json:"hive"`
	From string `json:"from"` // first day it held, as 2006-01-02
	File string `json:"file"` // the hive file, YAML
	Note string `json:"note"` // why it was changed
}

// Plan reads the hive file of the build.
func (b Build) Plan() (hive.Plan, error) {
	return hive.Decode("hive file from "+b.From, strings.NewReader(b.File))
}

// BuildOn returns the build that held on a day, that of the latest day not after
// it. Of two that begin on one day the one that was made later holds. Before the
// first build ok is false. Deleted builds do not count.
func BuildOn(builds []Build, day string) (b Build, ok bool) {
	for _, c := range builds {
		if c.Deleted || c.From > day {
			continue
		}
		if !ok || c.From > b.From || c.From == b.From && c.ID > b.ID {
			b, ok = c, true
		}
	}
	return b, ok
}

// Colony is a family of bees. Where it lives and how it ends is told by its
// records; see LifeOf.
type Colony struct {
	Meta
	Name   string `json:"name"`
	Origin string `json:"origin"` // one of Origins, empty when unknown
	From   ID     `json:"from"`   // colony it came from, empty when none is known
	Note   string `json:"note"`
}

// Origins are the ways a colony begins.
func Origins() []string {
	return []string{"overwintered", "swarm", "package", "nucleus", "split", "cut out"}
}

// Plan is a named list of changes that the keeper wants to keep.
type Plan struct {
	Meta
	Yard    ID              `json:"yard"`
	Hive    ID              `json:"hive"` // hive it is for, empty for any
	Name    string          `json:"name"`
	Changes json.RawMessage `json:"changes"` // a JSON value that the plan's maker understands
	Note    string          `json:"note"`
}

// Check returns the faults of the yard as *Faults, nil when all is well.
func (y Yard) Check() error {
	fs := &Faults{Of: "yard"}
	y.Meta.check(fs)
	checkName(fs, "name", y.Name)
	checkText(fs, "note", y.Note, longestNote)
	checkText(fs, "weather", y.Weather, longestName)
	if id, ok := strings.CutPrefix(y.Weather, "series:"); ok && !ID(id).Valid() {
		fs.add("weather", quote(y.Weather), "series: and the ID of a kept series", "")
	}
	if y.HasPlace {
		checkRange(fs, "latitude_deg", y.Latitude, -90, 90, "degrees")
		checkRange(fs, "longitude_deg", y.Longitude, -180, 180, "degrees")
		checkRange(fs, "height_m", y.Height, -450, 6000, "m above the sea")
	} else if y.Latitude != 0 || y.Longitude != 0 || y.Height != 0 {
		fs.add("has_place", "false", "true where a place is given", "")
	}
	return fs.err()
}

// Check returns the faults of the hive as *Faults, nil when all is well.
func (h Hive) Check() error {
	fs := &Faults{Of: "hive"}
	h.Meta.check(fs)
	checkRef(fs, "yard", h.Yard, true)
	checkName(fs, "name", h.Name)
	checkText(fs, "note", h.Note, longestNote)
	if h.HasPosition {
		checkRange(fs, "x_m", h.X, -10_000, 10_000, "m")
		checkRange(fs, "y_m", h.Y, -10_000, 10_000, "m")
	} else if h.X != 0 || h.Y != 0 {
		fs.add("has_position", "false", "true where x_m and y_m are given", "")
	}
	return fs.err()
}

// Check returns the faults of the build as *Faults, nil when all is well. The
// hive file must read without a fault; warnings are let pass.
func (b Build) Check() error {
	fs := &Faults{Of: "build"}
	b.Meta.check(fs)
	checkRef(fs, "hive", b.Hive, true)
	checkDay(fs, "from", b.From)
	checkText(fs, "note", b.Note, longestNote)
	if len(b.File) > longestFile {
		fs.add("file", fmt.Sprintf("%d bytes", len(b.File)), fmt.Sprintf("a hive file of at most %d bytes", longestFile), "")
	} else if _, err := b.Plan(); err != nil {
		var bad *hive.Faults
		if errors.As(err, &bad) {
			for _, f := range bad.Wrong() {
				fs.add(fmt.Sprintf("file:%d:%d: %s", f.Line, f.Column, f.Field), f.Found, f.Wanted, f.Hint)
			}
		} else {
			fs.add("file", quote(err.Error()), "a hive file", "")
		}
	}
	return fs.err()
}

// Check returns the faults of the colony as *Faults, nil when all is well.
func (c Colony) Check() error {
	fs := &Faults{Of: "colony"}
	c.Meta.check(fs)
	checkName(fs, "name", c.Name)
	checkText(fs, "note", c.Note, longestNote)
	checkRef(fs, "from", c.From, false)
	if c.From != "" && c.From == c.ID {
		fs.add("from", string(c.From), "another colony than itself", "")
	}
	if c.Origin != "" {
		checkWord(fs, "origin", c.Origin, Origins())
	}
	return fs.err()
}

// Check returns the faults of the plan as *Faults, nil when all is well.
func (p Plan) Check() error {
	fs := &Faults{Of: "plan"}
	p.Meta.check(fs)
	checkRef(fs, "yard", p.Yard, true)
	checkRef(fs, "hive", p.Hive, false)
	checkName(fs, "name", p.Name)
	checkText(fs, "note", p.Note, longestNote)
	if len(p.Changes) > longestFile || !json.Valid(p.Changes) {
		fs.add("changes", fmt.Sprintf("%d bytes", len(p.Changes)), fmt.Sprintf("a JSON value of at most %d bytes", longestFile), "")
	}
	return fs.err()
}

func (m Meta) check(fs *Faults) {
	checkRef(fs, "id", m.ID, true)
	if m.Revision < 0 {
		fs.add("revision", fmt.Sprint(m.Revision), "the revision that was read, 0 for something new", "")
	}
}

func checkRef(fs *Faults, field string, id ID, needed bool) {
	if id == "" && !needed {
		return
	}
	if !id.Valid() {
		fs.add(field, quote(string(id)), "an ID: a UUID of version 7 in lower case", "")
	}
}

func checkName(fs *Faults, field, name string) {
	if strings.TrimSpace(name) == "" || name != strings.TrimSpace(name) {
		fs.add(field, quote(name), "a name without blanks round it", "")
		return
	}
	if strings.ContainsFunc(name, unicode.IsControl) {
		fs.add(field, quote(name), "a name on one line", "")
	}
	checkText(fs, field, name, longestName)
}

func checkText(fs *Faults, field, text string, longest int) {
	switch {
	case len(text) > longest:
		fs.add(field, fmt.Sprintf("%d bytes", len(text)), fmt.Sprintf("at most %d", longest), "")
	case !utf8.ValidString(text) || strings.ContainsRune(text, 0):
		fs.add(field, quote(text), "text in UTF-8", "")
	case strings.ContainsRune(text, '\r'):
		fs.add(field, quote(text), `lines that end in \n`, "")
	}
}

func checkRange(fs *Faults, field string, value, low, high float64, unit string) {
	if math.IsNaN(value) || value < low || value > high {
		fs.add(field, fmt.Sprint(value), fmt.Sprintf("%v to %v %s", low, high, unit), "")
	}
}

func checkWord(fs *Faults, field, word string, known []string) {
	for _, k := range known {
		if k == word {
			return
		}
	}
	fs.add(field, quote(word), "one of "+strings.Join(known, ", "), "")
}

func checkDay(fs *Faults, field, day string) {
	t, err := time.Parse(time.DateOnly, day)
	if err != nil || t.Year() < firstYear {
		fs.add(field, quote(day), "a day such as 2026-10-15", "")
	}
}

// quote shows a found text, shortened.
func quote(text string) string {
	if text == "" {
		return ""
	}
	if len(text) > 60 {
		text = strings.ToValidUTF8(text[:57], "") + "…"
	}
	return fmt.Sprintf("%q", text)
}
