package material

import (
	_ "embed"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"
	"unicode"

	"hackle/internal/spelling"
)

//go:embed materials.csv
var standardFile string

// Table holds materials and finishes. It never changes, so that it may be used
// by several goroutines at once.
type Table struct {
	materials []named[Material]
	finishes  []named[Finish]
	byName    map[string]int // index into materials by nameKey
	byFinish  map[string]int // index into finishes by nameKey
}

// named is an entry of the table with all its names, the chief one first.
type named[T any] struct {
	entry T
	names []string
}

// Standard returns the table that comes with the program. Reading it takes well
// under a millisecond; callers that look up many names should still keep it. It
// fails only when the embedded file is damaged.
func Standard() (*Table, error) {
	table, err := read(strings.NewReader(standardFile))
	if err != nil {
		return nil, fmt.Errorf("standard material table: %w", err)
	}
	return table, nil
}

// column is one column of the file: its heading and what a cell sets. Numbers
// may be left empty for 0.
type column struct {
	heading string
	number  func(*record) *float64
	text    func(*record) *string
}

// record is one row of the file before it becomes a Material or a Finish.
type record struct {
	Material
	kind, aliases, memory string
}

func columns() []column {
	number := func(heading string, field func(*record) *float64) column { return column{heading, field, nil} }
	text := func(heading string, field func(*record) *string) column { return column{heading, nil, field} }
	return []column{
		text("name", func(r *record) *string { return &r.Name }),
		text("aliases", func(r *record) *string { return &r.aliases }),
		text("kind", func(r *record) *string { return &r.kind }),
		number("conductivity [W/(m·K)]", func(r *record) *float64 { return &r.Conductivity }),
		number("density [kg/m³]", func(r *record) *float64 { return &r.Density }),
		number("specific heat [J/(kg·K)]", func(r *record) *float64 { return &r.SpecificHeat }),
		number("mu dry [-]", func(r *record) *float64 { return &r.MuDry }),
		number("mu wet [-]", func(r *record) *float64 { return &r.MuWet }),
		number("emissivity [-]", func(r *record) *float64 { return &r.Emissivity }),
		number("solar absorptance [-]", func(r *record) *float64 { return &r.SolarAbsorptance }),
		number("sorption [-]", func(r *record) *float64 { return &r.Sorption }),
		number("moisture exponent [-]", func(r *record) *float64 { return &r.MoistureExponent }),
		number("sheet thickness [m]", func(r *record) *float64 { return &r.SheetThickness }),
		number("sheet resistance [m²·K/W]", func(r *record) *float64 { return &r.SheetResistance }),
		text("from memory", func(r *record) *string { return &r.memory }),
		text("source", func(r *record) *string { return &r.Source }),
		text("note", func(r *record) *string { return &r.Note }),
	}
}

// read reads a table in the layout of materials.csv.
func read(from io.Reader) (*Table, error) {
	file := csv.NewReader(from)
	layout := columns()
	file.FieldsPerRecord = len(layout)
	headings, err := file.Read()
	if err != nil {
		return nil, fmt.Errorf("headings: %w", err)
	}
	for i, column := range layout {
		if headings[i] != column.heading {
			return nil, fmt.Errorf("column %d is headed %q, not %q", i+1, headings[i], column.heading)
		}
	}
	table := &Table{}
	for {
		cells, err := file.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		line, _ := file.FieldPos(0)
		var row record
		for i, column := range layout {
			if column.text != nil {
				*column.text(&row) = cells[i]
				continue
			}
			if cells[i] == "" {
				continue
			}
			value, err := strconv.ParseFloat(cells[i], 64)
			if err != nil {
				return nil, fmt.Errorf("line %d, %s: %w", line, column.heading, err)
			}
			*column.number(&row) = value
		}
		if row.memory != "yes" && row.memory != "no" {
			return nil, fmt.Errorf("line %d: from memory is %q, not yes or no", line, row.memory)
		}
		if row.Source == "" {
			return nil, fmt.Errorf("line %d: no source", line)
		}
		row.FromMemory = row.memory == "yes"
		names := []string{row.Name}
		if row.aliases != "" {
			names = append(names, strings.Split(row.aliases, "; ")...)
		}
		if row.kind == "finish" {
			table.finishes = append(table.finishes, named[Finish]{row.surface(), names})
			continue
		}
		row.Kind = Kind(row.kind)
		table.materials = append(table.materials, named[Material]{row.Material, names})
	}
	return table, table.index()
}

// surface returns the look of the material's own surface.
func (m Material) surface() Finish {
	return Finish{m.Name, m.SolarAbsorptance, m.Emissivity, m.Source, m.FromMemory, m.Note}
}

// index checks all entries and fills the maps. Names and aliases must be unique.
func (t *Table) index() error {
	t.byName = make(map[string]int)
	t.byFinish = make(map[string]int)
	enter := func(index map[string]int, what string, names []string, i int) error {
		for _, name := range names {
			key := nameKey(name)
			if key == "" {
				return fmt.Errorf("%s %q has an empty alias", what, names[0])
			}
			if _, taken := index[key]; taken {
				return fmt.Errorf("%s %q is there twice", what, name)
			}
			index[key] = i
		}
		return nil
	}
	for i, m := range t.materials {
		if err := m.entry.Validate(); err != nil {
			return err
		}
		if err := enter(t.byName, "material", m.names, i); err != nil {
			return err
		}
	}
	for i, f := range t.finishes {
		if err := f.entry.Validate(); err != nil {
			return err
		}
		if err := enter(t.byFinish, "finish", f.names, i); err != nil {
			return err
		}
	}
	return nil
}

// nameKey folds a name to its letters and digits in small letters, so that case,
// spaces, hyphens and the like do not matter. The colon stays: syrup 1:1 is not
// syrup 11.
func nameKey(name string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) || r == ':' {
			return unicode.ToLower(r)
		}
		return -1
	}, name)
}

// Find returns the material of a name or alias; case, spaces and hyphens do not
// matter. A name that is not in the table gives an [*UnknownError] with up to
// three names that may be meant.
func (t *Table) Find(name string) (Material, error) {
	if i, ok := t.byName[nameKey(name)]; ok {
		return t.materials[i].entry, nil
	}
	var groups [][]string
	for _, m := range t.materials {
		groups = append(groups, m.names)
	}
	return Material{}, &UnknownError{Name: name, Nearest: nearest(name, groups)}
}

// Finish returns the finish of a name or alias. A solid material that is not a
// finish gives the look of its own surface, so that a lid may be of
// "galvanised steel". An unknown name gives an [*UnknownError].
func (t *Table) Finish(name string) (Finish, error) {
	key := nameKey(name)
	if i, ok := t.byFinish[key]; ok {
		return t.finishes[i].entry, nil
	}
	if i, ok := t.byName[key]; ok && t.materials[i].entry.Kind == Solid {
		return t.materials[i].entry.surface(), nil
	}
	var groups [][]string
	for _, f := range t.finishes {
		groups = append(groups, f.names)
	}
	for _, m := range t.materials {
		if m.entry.Kind == Solid {
			groups = append(groups, m.names)
		}
	}
	return Finish{}, &UnknownError{Name: name, Nearest: nearest(name, groups), Finish: true}
}

// All returns every material in the order of the table, own ones last.
func (t *Table) All() []Material {
	all := make([]Material, len(t.materials))
	for i, m := range t.materials {
		all[i] = m.entry
	}
	return all
}

// Finishes returns every finish in the order of the table.
func (t *Table) Finishes() []Finish {
	all := make([]Finish, len(t.finishes))
	for i, f := range t.finishes {
		all[i] = f.entry
	}
	return all
}

// Aliases returns the further names of the material that has this name or
// alias, nil when there is none.
func (t *Table) Aliases(name string) []string {
	i, ok := t.byName[nameKey(name)]
	if !ok {
		return nil
	}
	return slices.Clone(t.materials[i].names[1:])
}

// With returns a table that has the user's own materials too. An own material
// replaces the one of the same name, whose aliases then lead to it; an own name
// also takes precedence over an alias of the table. Every own material must pass
// Validate, and no two may share a name. An empty Kind becomes Solid. The receiver
// stays as it is.
func (t *Table) With(own ...Material) (*Table, error) {
	table := &Table{finishes: t.finishes}
	aliases := map[string][]string{} // by key of the own material, of what it replaces
	taken := map[string]bool{}
	for _, m := range own {
		taken[nameKey(m.Name)] = true
	}
	for _, m := range t.materials {
		free := slices.DeleteFunc(slices.Clone(m.names[1:]), func(alias string) bool { return taken[nameKey(alias)] })
		if key := nameKey(m.entry.Name); taken[key] {
			aliases[key] = free
			continue
		}
		table.materials = append(table.materials, named[Material]{m.entry, append([]string{m.entry.Name}, free...)})
	}
	for _, m := range own {
		if m.Kind == "" {
			m.Kind = Solid
		}
		names := append([]string{m.Name}, aliases[nameKey(m.Name)]...)
		table.materials = append(table.materials, named[Material]{m, names})
	}
	if err := table.index(); err != nil {
		return nil, err
	}
	return table, nil
}

// Print writes the table for people, one line a material and a finish, with
// units in the headings; "*" marks values from memory and "-" unknown ones.
func (t *Table) Print(to io.Writer) error {
	lines := tabwriter.NewWriter(to, 0, 0, 2, ' ', 0)
	value := func(x float64) string {
		switch x {
		case 0:
			return "-"
		case Tight:
			return "tight"
		}
		return strconv.FormatFloat(x, 'g', -1, 64)
	}
	mark := func(fromMemory bool) string {
		if fromMemory {
			return "*"
		}
		return ""
	}
	var failed error
	line := func(cells ...string) {
		if _, err := fmt.Fprintln(lines, strings.Join(cells, "\t")); err != nil && failed == nil {
			failed = err
		}
	}
	line("material", "W/(m·K)", "kg/m³", "J/(kg·K)", "mu dry", "mu wet", "emissivity", "absorptance", "")
	for _, m := range t.All() {
		line(m.Name, value(m.Conductivity), value(m.Density), value(m.SpecificHeat), value(m.MuDry), value(m.MuWet),
			value(m.Emissivity), value(m.SolarAbsorptance), mark(m.FromMemory))
	}
	line("finish", "", "", "", "", "", "emissivity", "absorptance", "")
	for _, f := range t.Finishes() {
		line(f.Name, "", "", "", "", "", value(f.Emissivity), value(f.SolarAbsorptance), mark(f.FromMemory))
	}
	if err := lines.Flush(); err != nil {
		return err
	}
	return failed
}

// nearest returns up to three names close to the one given: of every group (a
// name with its aliases) the closest. First come names that end with it as a
// word ("wool": mineral wool), then those that have it as a part, then those that
// need few corrections.
func nearest(name string, groups [][]string) []string {
	key := nameKey(name)
	if key == "" {
		return nil
	}
	length := len([]rune(key))
	limit := min(max(1, length/3), 3)
	const ending, part, corrected, far = 0, 1, 2, 1000 // ranks; corrections add to corrected
	rank := func(candidate string) int {
		other := nameKey(candidate)
		words := strings.Fields(candidate)
		switch steps := spelling.Corrections(key, other); {
		case length >= 3 && nameKey(words[len(words)-1]) == key:
			return ending
		case length >= 3 && strings.Contains(other, key):
			return part
		case steps <= limit:
			return corrected + steps
		}
		return far
	}
	type near struct {
		name string
		rank int
	}
	var found []near
	for _, group := range groups {
		best := near{rank: far}
		for _, candidate := range group {
			if r := rank(candidate); r < best.rank {
				best = near{candidate, r}
			}
		}
		if best.rank < far {
			found = append(found, best)
		}
	}
	slices.SortStableFunc(found, func(a, b near) int { return a.rank - b.rank })
	var names []string
	for _, n := range found[:min(len(found), 3)] {
		names = append(names, n.name)
	}
	return names
}
