package yard

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"hackle/internal/spelling"
	"hackle/quantity"
)

// Sheets returns the names of the tables that a notebook is written to and read
// from as CSV: one for each type of thing, and one for each kind of record.
func Sheets() []string {
	all := []string{"yards", "hives", "builds", "colonies", "plans"}
	for _, k := range Kinds() {
		all = append(all, string(k.Kind))
	}
	return all
}

// Column describes one column of a table.
type Column struct {
	Name    string `json:"name"`
	Meaning string `json:"meaning"`
}

// Columns describes the columns of a sheet, nil for an unknown one.
func Columns(sheet string) []Column {
	var all []Column
	n := new(Notebook)
	switch sheet {
	case "yards":
		all = describe(yardColumns())
	case "hives":
		all = describe(hiveColumns(names{n}))
	case "builds":
		all = describe(buildColumns(names{n}))
	case "colonies":
		all = describe(colonyColumns(names{n}))
	case "plans":
		all = describe(planColumns(names{n}))
	default:
		if k, ok := KindOf(Kind(sheet)); ok {
			all = describe(recordColumns(k, names{n}, time.UTC))
		}
	}
	return all
}

func describe[T any](columns []column[T]) []Column {
	all := make([]Column, len(columns))
	for i, c := range columns {
		all[i] = Column{c.name, c.meaning}
	}
	return all
}

// column is one column of a table of things.
type column[T any] struct {
	name    string
	meaning string
	write   func(*T) string
	read    func(*T, string, row) *Fault // not called for an empty cell
}

// row gives the cells of the row that is being read, by column.
type row func(column string) string

// WriteCSV writes one sheet of the notebook. Numbers are SI, times carry their
// offset; yards, hives and colonies stand by name, or by ID where the name would
// not lead back to them. Text that a spreadsheet would compute, because it begins
// with one of = + - @, gets a ' before it, which ReadCSV takes off.
func (n *Notebook) WriteCSV(w io.Writer, sheet string) error {
	l := names{n}
	switch sheet {
	case "yards":
		return writeSheet(w, yardColumns(), n.Yards)
	case "hives":
		return writeSheet(w, hiveColumns(l), n.Hives)
	case "builds":
		return writeSheet(w, buildColumns(l), n.Builds)
	case "colonies":
		return writeSheet(w, colonyColumns(l), n.Colonies)
	case "plans":
		return writeSheet(w, planColumns(l), n.Plans)
	}
	k, ok := KindOf(Kind(sheet))
	if !ok {
		return unknownSheet(sheet)
	}
	var own []Record
	for _, r := range n.Records {
		if r.Kind == k.Kind {
			own = append(own, r)
		}
	}
	return writeSheet(w, recordColumns(k, l, time.UTC), own)
}

func unknownSheet(sheet string) error {
	return fmt.Errorf("%q is no table of a notebook; there are %s", sheet, strings.Join(Sheets(), ", "))
}

func writeSheet[T any](w io.Writer, columns []column[T], things []T) error {
	out := csv.NewWriter(w)
	row := make([]string, len(columns))
	for i, c := range columns {
		row[i] = c.name
	}
	if err := out.Write(row); err != nil {
		return err
	}
	for i := range things {
		for j, c := range columns {
			row[j] = c.write(&things[i])
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// TableError is the error of a CSV file: everything wrong at once, by line.
type TableError struct {
	Name string
	List []TableFault
	More int // faults beyond the first hundred
}

// TableFault is one thing wrong in a CSV file.
type TableFault struct {
	Line int // 1-based; of the first line of a row
	Fault
}

// Error prints one fault a line, "name:line: column: found …, wanted …".
func (e *TableError) Error() string {
	var b strings.Builder
	for i, f := range e.List {
		if i > 0 {
			b.WriteByte('\n')
		}
		fmt.Fprintf(&b, "%s:%d: %s", e.Name, f.Line, f.Fault)
	}
	if e.More > 0 {
		fmt.Fprintf(&b, "\n%s: and %d faults more", e.Name, e.More)
	}
	return b.String()
}

const mostTableFaults = 100

func (e *TableError) add(line int, f Fault) {
	if len(e.List) == mostTableFaults {
		e.More++
		return
	}
	e.List = append(e.List, TableFault{line, f})
}

// Table is what was read from a CSV file.
type Table struct {
	Notebook
	// Lines are the lines that the things stand on, by ID.
	Lines map[ID]int
}

// longestTable bounds what is read from one file. [bytes]
const longestTable = 64 << 20

// ReadCSV reads one sheet. The first line names the columns, in any order; those
// that are not there count as empty. Yards, hives and colonies are looked up by
// name or ID in n. A row without an ID gets one that its content makes, so that a
// table read twice is kept once; rows that say the same twice in one file are two
// things. Times without an offset are in zone, a day alone is its noon. A number
// is in SI, or it carries its unit.
//
// The error is a *TableError with everything wrong at once, unless r fails. What is
// read is checked as far as one thing tells; see Check of each type.
func (n *Notebook) ReadCSV(name string, r io.Reader, sheet string, zone *time.Location) (Table, error) {
	l := names{n}
	t := Table{Lines: map[ID]int{}}
	var err error
	switch sheet {
	case "yards":
		t.Yards, err = readSheet(name, r, &t, yardColumns(), func(y *Yard) (*Meta, time.Time) { return &y.Meta, time.Time{} }, nil)
	case "hives":
		t.Hives, err = readSheet(name, r, &t, hiveColumns(l), func(h *Hive) (*Meta, time.Time) { return &h.Meta, time.Time{} }, nil)
	case "builds":
		t.Builds, err = readSheet(name, r, &t, buildColumns(l), func(b *Build) (*Meta, time.Time) {
			at, _ := time.Parse(time.DateOnly, b.From) // Check tells of a faulty one
			return &b.Meta, at
		}, nil)
	case "colonies":
		t.Colonies, err = readSheet(name, r, &t, colonyColumns(l), func(c *Colony) (*Meta, time.Time) { return &c.Meta, time.Time{} }, nil)
	case "plans":
		t.Plans, err = readSheet(name, r, &t, planColumns(l), func(p *Plan) (*Meta, time.Time) { return &p.Meta, time.Time{} }, nil)
	default:
		k, ok := KindOf(Kind(sheet))
		if !ok {
			return t, unknownSheet(sheet)
		}
		t.Records, err = readSheet(name, r, &t, recordColumns(k, l, zone), func(r *Record) (*Meta, time.Time) { return &r.Meta, r.At },
			func() Record { return Record{Kind: k.Kind, Values: map[string]any{}} })
	}
	return t, err
}

// checked is a thing that can be read from a sheet.
type checked interface{ Check() error }

func readSheet[T checked](name string, r io.Reader, t *Table, columns []column[T], meta func(*T) (*Meta, time.Time), fresh func() T) ([]T, error) {
	text, err := io.ReadAll(io.LimitReader(r, longestTable+1))
	if err != nil {
		return nil, fmt.Errorf("reading %s: %w", name, err)
	}
	faults := &TableError{Name: name}
	if len(text) > longestTable {
		faults.add(1, Fault{Field: "file", Found: "more than 64 MiB", Wanted: "less", Hint: "split it"})
		return nil, faults
	}
	in := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(text, []byte("\ufeff"))))
	in.FieldsPerRecord = -1
	in.Comma = separator(text)
	header, err := in.Read()
	if err != nil {
		faults.add(1, Fault{Field: "file", Found: csvTrouble(err), Wanted: "a first line that names the columns"})
		return nil, faults
	}
	order := headerOf(header, columns, faults)
	if len(faults.List) > 0 {
		return nil, faults
	}
	var all []T
	twins := map[ID]int{}
	for {
		fields, err := in.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			line := 1
			var pe *csv.ParseError
			if errors.As(err, &pe) {
				line = pe.StartLine
			}
			faults.add(line, Fault{Field: "row", Found: csvTrouble(err), Wanted: "a row of CSV (RFC 4180)"})
			break // where the next row begins cannot be known
		}
		line, _ := in.FieldPos(0)
		if len(fields) > len(order) {
			faults.add(line, Fault{Field: "row", Found: fmt.Sprintf("%d cells", len(fields)), Wanted: fmt.Sprintf("at most %d, as the first line has", len(order))})
			continue
		}
		if !slices.ContainsFunc(fields, func(c string) bool { return strings.TrimSpace(c) != "" }) {
			continue // a spreadsheet leaves empty rows
		}
		var v T
		if fresh != nil {
			v = fresh()
		}
		good := true
		cells := map[string]string{}
		for i, cell := range fields {
			cells[columns[order[i]].name] = cell
		}
		for _, c := range columns {
			cell := cells[c.name]
			if cell == "" {
				continue
			}
			if f := c.read(&v, cell, func(column string) string { return cells[column] }); f != nil {
				f.Field = cmp.Or(f.Field, c.name)
				faults.add(line, *f)
				good = false
			}
		}
		if !good {
			continue
		}
		m, at := meta(&v)
		if m.ID == "" {
			parts := make([]string, 0, len(columns))
			for _, c := range columns {
				parts = append(parts, c.write(&v))
			}
			m.ID = IDFrom(at, parts...)
			twins[m.ID]++
			if k := twins[m.ID]; k > 1 {
				m.ID = IDFrom(at, append(parts, strconv.Itoa(k))...)
			}
		}
		if before, ok := t.Lines[m.ID]; ok {
			faults.add(line, Fault{Field: "id", Found: string(m.ID), Wanted: fmt.Sprintf("an ID of its own; line %d has it", before)})
			continue
		}
		t.Lines[m.ID] = line
		if !m.Deleted {
			for _, f := range FaultsIn(v.Check()) {
				faults.add(line, f)
			}
		}
		all = append(all, v)
	}
	if len(faults.List) > 0 {
		return nil, faults
	}
	return all, nil
}

// separator is the one of comma, semicolon and tab that the first line has most of:
// spreadsheets write the semicolon where the comma stands in numbers.
func separator(text []byte) rune {
	line, _, _ := bytes.Cut(text, []byte("\n"))
	best := ','
	for _, c := range []rune{';', '\t'} {
		if bytes.Count(line, []byte(string(c))) > bytes.Count(line, []byte(string(best))) {
			best = c
		}
	}
	return best
}

// headerOf finds the column of every cell of the first line.
func headerOf[T any](header []string, columns []column[T], faults *TableError) []int {
	order := make([]int, len(header))
	seen := map[int]bool{}
	for i, cell := range header {
		cell = strings.TrimSpace(cell)
		at := slices.IndexFunc(columns, func(c column[T]) bool { return strings.EqualFold(c.name, cell) })
		switch {
		case at < 0:
			known := make([]string, len(columns))
			near, least := "", 4
			for j, c := range columns {
				known[j] = c.name
				if d := spelling.Corrections(strings.ToLower(cell), c.name); d < least {
					near, least = c.name, d
				}
			}
			hint := ""
			if near != "" {
				hint = "did you mean " + near + "?"
			}
			faults.add(1, Fault{Field: "column " + strconv.Itoa(i+1), Found: quote(cell), Wanted: "one of " + strings.Join(known, ", "), Hint: hint})
		case seen[at]:
			faults.add(1, Fault{Field: columns[at].name, Found: "the column twice", Wanted: "it once"})
		}
		seen[at] = true
		order[i] = at
	}
	return order
}

func csvTrouble(err error) string {
	if errors.Is(err, io.EOF) {
		return "an empty file"
	}
	var pe *csv.ParseError
	if errors.As(err, &pe) {
		return fmt.Sprintf("%v at column %d", pe.Err, pe.Column)
	}
	return err.Error()
}

// armed puts a ' before text that a spreadsheet would compute.
func armed(text string) string {
	if text != "" && strings.ContainsRune("=+-@'\t", rune(text[0])) {
		return "'" + text
	}
	return text
}

func disarmed(text string) string { return strings.TrimPrefix(text, "'") }

func textColumn[T any](name, meaning string, at func(*T) *string) column[T] {
	return column[T]{name, meaning,
		func(v *T) string { return armed(*at(v)) },
		func(v *T, cell string, _ row) *Fault {
			*at(v) = strings.ReplaceAll(disarmed(cell), "\r\n", "\n")
			return nil
		}}
}

func boolText(b bool) string {
	if b {
		return "true"
	}
	return ""
}

func boolOf(cell string) (bool, *Fault) {
	switch strings.ToLower(strings.TrimSpace(cell)) {
	case "true", "yes", "1":
		return true, nil
	case "false", "no", "0":
		return false, nil
	}
	return false, &Fault{Found: quote(cell), Wanted: "true or false"}
}

func numberText(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// numberOf reads a number in SI, or with its unit.
func numberOf(cell string, kind quantity.Kind) (float64, *Fault) {
	cell = strings.TrimSpace(cell)
	x, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		if x, err = quantity.Parse(cell, kind); err != nil {
			return 0, &Fault{Found: quote(cell), Wanted: "a number", Hint: err.Error()}
		}
	}
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return 0, &Fault{Found: quote(cell), Wanted: "a number"}
	}
	return x, nil
}

// metaColumns are the first and the last columns of every sheet.
func metaColumns[T any](at func(*T) *Meta, between ...column[T]) []column[T] {
	id := column[T]{"id", "a UUID of version 7; a new row may leave it empty",
		func(v *T) string { return string(at(v).ID) },
		func(v *T, cell string, _ row) *Fault {
			id, err := ParseID(strings.TrimSpace(cell))
			if err != nil {
				return &Fault{Found: quote(cell), Wanted: "an ID, or nothing for a new row"}
			}
			at(v).ID = id
			return nil
		}}
	revision := column[T]{"revision", "the version that the row shows; leave it as it is when you edit a row, empty for a new one",
		func(v *T) string {
			if at(v).Revision == 0 {
				return ""
			}
			return strconv.Itoa(at(v).Revision)
		},
		func(v *T, cell string, _ row) *Fault {
			n, err := strconv.Atoi(strings.TrimSpace(cell))
			if err != nil || n < 0 {
				return &Fault{Found: quote(cell), Wanted: "a whole number"}
			}
			at(v).Revision = n
			return nil
		}}
	deleted := column[T]{"deleted", "true when it was deleted, else empty",
		func(v *T) string { return boolText(at(v).Deleted) },
		func(v *T, cell string, _ row) (f *Fault) { at(v).Deleted, f = boolOf(cell); return f }}
	return slices.Concat([]column[T]{id}, between, []column[T]{deleted, revision})
}

// numberColumn is a number that counts only while known is true; to read it makes
// known true.
func numberColumn[T any](name, meaning string, kind quantity.Kind, known func(*T) *bool, at func(*T) *float64) column[T] {
	return column[T]{name, meaning,
		func(v *T) string {
			if !*known(v) {
				return ""
			}
			return numberText(*at(v))
		},
		func(v *T, cell string, _ row) *Fault {
			x, f := numberOf(cell, kind)
			if f == nil {
				*at(v), *known(v) = x, true
			}
			return f
		}}
}

func lookup[T any](name, meaning string, write func(*T) string, find func(*T, string) (ID, *Fault), at func(*T) *ID) column[T] {
	return column[T]{name, meaning,
		func(v *T) string { return armed(write(v)) },
		func(v *T, cell string, _ row) *Fault {
			id, f := find(v, strings.TrimSpace(disarmed(cell)))
			if f == nil {
				*at(v) = id
			}
			return f
		}}
}

func yardColumns() []column[Yard] {
	place := func(y *Yard) *bool { return &y.HasPlace }
	return metaColumns(func(y *Yard) *Meta { return &y.Meta },
		textColumn("name", "", func(y *Yard) *string { return &y.Name }),
		numberColumn("latitude_deg", "north positive", quantity.Angle, place, func(y *Yard) *float64 { return &y.Latitude }),
		numberColumn("longitude_deg", "east positive", quantity.Angle, place, func(y *Yard) *float64 { return &y.Longitude }),
		numberColumn("height_m", "above the sea", quantity.Length, place, func(y *Yard) *float64 { return &y.Height }),
		textColumn("weather", "name of a built-in series, or series: and the ID of a kept one", func(y *Yard) *string { return &y.Weather }),
		textColumn("note", "", func(y *Yard) *string { return &y.Note }))
}

func hiveColumns(l names) []column[Hive] {
	position := func(h *Hive) *bool { return &h.HasPosition }
	return metaColumns(func(h *Hive) *Meta { return &h.Meta },
		lookup("yard", "name or ID of its yard", func(h *Hive) string { return l.yardName(h.Yard) },
			func(_ *Hive, s string) (ID, *Fault) { return l.yardOf(s) }, func(h *Hive) *ID { return &h.Yard }),
		textColumn("name", "", func(h *Hive) *string { return &h.Name }),
		numberColumn("x_m", "metres east of a corner of the yard", quantity.Length, position, func(h *Hive) *float64 { return &h.X }),
		numberColumn("y_m", "metres north of it", quantity.Length, position, func(h *Hive) *float64 { return &h.Y }),
		textColumn("note", "", func(h *Hive) *string { return &h.Note }))
}

// hiveLookup makes the columns that name a hive and its yard, in which the name is
// looked up.
func hiveLookup[T any](l names, at func(*T) *ID, meaning string) []column[T] {
	return []column[T]{
		{"yard", "name or ID of the yard that the hive stands in; needed only where two hives have one name",
			func(v *T) string { return armed(l.yardOfHive(*at(v))) },
			func(_ *T, cell string, _ row) *Fault {
				_, f := l.yardOf(strings.TrimSpace(disarmed(cell)))
				return f
			}},
		{"hive", meaning,
			func(v *T) string {
				if *at(v) == "" {
					return ""
				}
				return armed(l.hiveName(*at(v)))
			},
			func(v *T, cell string, cells row) *Fault {
				id, f := l.hiveOf(strings.TrimSpace(disarmed(cell)), strings.TrimSpace(disarmed(cells("yard"))))
				if f == nil {
					*at(v) = id
				}
				return f
			}},
	}
}

func buildColumns(l names) []column[Build] {
	return metaColumns(func(b *Build) *Meta { return &b.Meta }, slices.Concat(
		hiveLookup(l, func(b *Build) *ID { return &b.Hive }, "name or ID of the hive"),
		[]column[Build]{
			textColumn("from", "first day it was built so", func(b *Build) *string { return &b.From }),
			textColumn("file", "the hive file, with its line breaks", func(b *Build) *string { return &b.File }),
			textColumn("note", "", func(b *Build) *string { return &b.Note }),
		})...)
}

func colonyColumns(l names) []column[Colony] {
	return metaColumns(func(c *Colony) *Meta { return &c.Meta },
		textColumn("name", "", func(c *Colony) *string { return &c.Name }),
		textColumn("origin", "one of "+strings.Join(Origins(), ", ")+", or empty", func(c *Colony) *string { return &c.Origin }),
		lookup("from", "name or ID of the colony it came from", func(c *Colony) string {
			if c.From == "" {
				return ""
			}
			return l.colonyName(c.From)
		}, func(_ *Colony, s string) (ID, *Fault) { return l.colonyOf(s) }, func(c *Colony) *ID { return &c.From }),
		textColumn("note", "", func(c *Colony) *string { return &c.Note }))
}

func planColumns(l names) []column[Plan] {
	return metaColumns(func(p *Plan) *Meta { return &p.Meta },
		lookup("yard", "name or ID of its yard", func(p *Plan) string { return l.yardName(p.Yard) },
			func(_ *Plan, s string) (ID, *Fault) { return l.yardOf(s) }, func(p *Plan) *ID { return &p.Yard }),
		lookup("hive", "name or ID of the hive it is for, empty for any", func(p *Plan) string {
			if p.Hive == "" {
				return ""
			}
			if got, f := l.hiveOf(l.hiveName(p.Hive), l.yardName(p.Yard)); f == nil && got == p.Hive {
				return l.hiveName(p.Hive)
			}
			return string(p.Hive)
		}, func(p *Plan, s string) (ID, *Fault) { return l.hiveOf(s, string(p.Yard)) }, func(p *Plan) *ID { return &p.Hive }),
		textColumn("name", "", func(p *Plan) *string { return &p.Name }),
		column[Plan]{"changes", "the changes, JSON",
			func(p *Plan) string { return string(p.Changes) },
			func(p *Plan, cell string, _ row) *Fault {
				if !json.Valid([]byte(cell)) {
					return &Fault{Found: quote(cell), Wanted: "a JSON value"}
				}
				p.Changes = json.RawMessage(cell)
				return nil
			}},
		textColumn("note", "", func(p *Plan) *string { return &p.Note }))
}

func recordColumns(k KindInfo, l names, zone *time.Location) []column[Record] {
	columns := []column[Record]{{"at", "when, as 2026-01-31T14:30:00+01:00; without an offset in the zone of this machine, a day alone is its noon",
		func(r *Record) string { return r.At.Format(time.RFC3339) },
		func(r *Record, cell string, _ row) *Fault {
			at, err := ParseTime(strings.TrimSpace(cell), zone)
			if err != nil {
				return &Fault{Found: quote(cell), Wanted: "a time such as 2026-01-31 14:30, or a day such as 2026-01-31"}
			}
			r.At = at
			return nil
		}}}
	columns = append(columns, hiveLookup(l, func(r *Record) *ID { return &r.Hive }, "name or ID of the hive")...)
	columns = append(columns, lookup("colony", "name or ID of the colony; empty means the one that lives in the hive then",
		func(r *Record) string {
			if r.Colony == "" {
				return ""
			}
			return l.colonyName(r.Colony)
		}, func(_ *Record, s string) (ID, *Fault) { return l.colonyOf(s) }, func(r *Record) *ID { return &r.Colony }))
	for _, f := range k.Fields {
		columns = append(columns, fieldColumn(f, l))
	}
	columns = append(columns, textColumn("note", "", func(r *Record) *string { return &r.Note }))
	return metaColumns(func(r *Record) *Meta { return &r.Meta }, columns...)
}

// fieldColumn is the column of one field of a record.
func fieldColumn(f Field, l names) column[Record] {
	meaning := f.Meaning
	if f.Type == Choice {
		meaning += ": " + strings.Join(f.Words, ", ")
	}
	return column[Record]{f.Name, meaning,
		func(r *Record) string {
			switch v := r.Values[f.Name].(type) {
			case float64:
				return numberText(v)
			case bool:
				return strconv.FormatBool(v)
			case string:
				switch f.Type {
				case AColony:
					return armed(l.colonyName(ID(v)))
				case AHive:
					return armed(l.hiveName(ID(v)))
				}
				return armed(v)
			}
			return ""
		},
		func(r *Record, cell string, _ row) *Fault {
			v, fault := f.parse(cell, l)
			if fault == nil {
				r.Values[f.Name] = v
			}
			return fault
		}}
}

// parse reads a value of the field as people write it.
func (f Field) parse(text string, l names) (any, *Fault) {
	switch f.Type {
	case Number:
		x, fault := numberOf(text, f.Quantity)
		return x, fault
	case YesNo:
		b, fault := boolOf(text)
		return b, fault
	case AColony:
		id, fault := l.colonyOf(strings.TrimSpace(disarmed(text)))
		return string(id), fault
	case AHive:
		id, fault := l.hiveOf(strings.TrimSpace(disarmed(text)), "")
		return string(id), fault
	case Choice:
		return strings.ToLower(strings.TrimSpace(disarmed(text))), nil
	}
	return strings.TrimSpace(disarmed(text)), nil
}

// ParseValue reads a value of the field as people write it: a number in SI or with
// its unit, a word, true or false, the name of a colony or hive in the notebook.
func (f Field) ParseValue(text string, n *Notebook) (any, error) {
	v, fault := f.parse(text, names{n})
	if fault != nil {
		return nil, fault.err("record", f.Name)
	}
	fs := &Faults{Of: "record"}
	f.check(fs, v)
	return v, fs.err()
}

// ParseTime reads a time as people write it: with an offset from UTC, without one
// in zone, or a day alone, which is its noon. It is cut to the second.
func ParseTime(text string, zone *time.Location) (time.Time, error) {
	for _, layout := range []string{time.RFC3339, "2006-01-02T15:04Z07:00", "2006-01-02 15:04:05Z07:00", "2006-01-02 15:04 -07:00"} {
		if t, err := time.Parse(layout, text); err == nil {
			return fixed(t), nil
		}
	}
	for _, layout := range []string{"2006-01-02 15:04", "2006-01-02T15:04", "2006-01-02 15:04:05", "2006-01-02T15:04:05"} {
		if t, err := time.ParseInLocation(layout, text, zone); err == nil {
			return fixed(t), nil
		}
	}
	if t, err := time.ParseInLocation(time.DateOnly, text, zone); err == nil {
		return fixed(time.Date(t.Year(), t.Month(), t.Day(), 12, 0, 0, 0, zone)), nil
	}
	return time.Time{}, fmt.Errorf("%q is no time; wanted one such as 2026-01-31 14:30, or a day such as 2026-01-31", text)
}

// fixed puts a time in a zone that is nothing but its offset, to the second.
func fixed(t time.Time) time.Time {
	return t.Truncate(time.Second).In(time.FixedZone("", offset(t)))
}
