package sweep

import (
	"bufio"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/parquet-go/parquet-go"
)

// Table is the shape of gathered results: what names a run, then its numbers.
var named = []string{"unit", "site", "latitude_deg", "longitude_deg", "height_m", "hive_file", "year", "first_day", "draw"}

// ErrMissing lists the units that have no result.
type ErrMissing struct{ Units []int }

func (e *ErrMissing) Error() string {
	return fmt.Sprintf("units without a result: %s; work them, or gather what there is with --partial", Ranges(e.Units))
}

// Gathered tells what was gathered.
type Gathered struct {
	Units   int      `json:"units"`
	Rows    int      `json:"rows"`
	Faults  int      `json:"runs_not_computed"`
	Missing []int    `json:"missing_units"`
	Columns []string `json:"columns"`
}

// Gather writes the results of all units, in their order, as Parquet and as CSV;
// either writer may be nil. Units without a result are an *ErrMissing unless partial.
// One unit at a time is in memory. The same results give the same bytes.
func (f Folder) Gather(parquetTo, csvTo io.Writer, partial bool) (Gathered, error) {
	var g Gathered
	count, err := f.Count()
	if err != nil {
		return g, err
	}
	missing, err := f.Missing()
	if err != nil {
		return g, err
	}
	g.Missing = append([]int{}, missing...)
	if len(missing) > 0 && (!partial || len(missing) == count) {
		return g, &ErrMissing{missing}
	}
	var columns []string
	var program string
	var table *parquetTable
	var sheet *csv.Writer
	if csvTo != nil {
		buffered := bufio.NewWriter(csvTo)
		defer buffered.Flush()
		sheet = csv.NewWriter(buffered)
	}
	for n := 1; n <= count; n++ {
		u, key, err := f.unit(n)
		if err != nil {
			return g, err
		}
		r, err := f.result(n, key)
		if err != nil {
			return g, err
		}
		if r == nil {
			continue
		}
		if columns == nil {
			columns, program = r.Columns, r.Program
			for _, name := range append(append([]string{}, named...), columns...) {
				g.Columns = append(g.Columns, columnName(name))
			}
			if parquetTo != nil {
				table = newParquet(parquetTo, columns)
			}
			if sheet != nil {
				if err := sheet.Write(g.Columns); err != nil {
					return g, err
				}
			}
		}
		if !slices.Equal(columns, r.Columns) || r.Program != program {
			return g, fmt.Errorf("unit %d was worked by another version of the program (%q, not %q): work it again with the same one", n, r.Program, program)
		}
		g.Units++
		for _, row := range r.Rows {
			g.Rows++
			if v := row.Values[0]; v != nil && *v != 0 {
				g.Faults++
			}
			if table != nil {
				if err := table.add(u, row); err != nil {
					return g, err
				}
			}
			if sheet != nil {
				if err := sheet.Write(cells(u, row)); err != nil {
					return g, err
				}
			}
		}
	}
	if table != nil {
		if err := table.writer.Close(); err != nil {
			return g, err
		}
	}
	if sheet != nil {
		sheet.Flush()
		return g, sheet.Error()
	}
	return g, nil
}

// columnName is the key of a number as a name that every reader of tables takes.
func columnName(key string) string { return strings.ReplaceAll(key, ".", "_") }

func cells(u *Unit, row Row) []string {
	number := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
	out := []string{strconv.Itoa(u.Number), u.Site.Name, "", "", "", u.HiveName, strconv.Itoa(row.Year + 1), row.From, strconv.Itoa(row.Draw)}
	if u.Site.HasPlace {
		out[2], out[3], out[4] = number(u.Site.Latitude), number(u.Site.Longitude), number(u.Site.Height)
	}
	for _, v := range row.Values {
		if v == nil {
			out = append(out, "")
		} else {
			out = append(out, number(*v))
		}
	}
	return out
}

// parquetTable writes rows as Parquet. Its columns stand in the order of their names.
type parquetTable struct {
	writer *parquet.GenericWriter[any]
	place  []int // of each of ours among the file's columns
}

func newParquet(w io.Writer, columns []string) *parquetTable {
	group := parquet.Group{}
	for i, name := range named {
		switch i {
		case 0, 6, 8:
			group[name] = parquet.Int(64)
		case 1, 5, 7:
			group[name] = parquet.String()
		default:
			group[name] = parquet.Optional(parquet.Leaf(parquet.DoubleType))
		}
	}
	for _, name := range columns {
		group[columnName(name)] = parquet.Optional(parquet.Leaf(parquet.DoubleType))
	}
	schema := parquet.NewSchema("hackle_sweep", group)
	order := map[string]int{}
	for i, path := range schema.Columns() {
		order[path[0]] = i
	}
	t := &parquetTable{writer: parquet.NewGenericWriter[any](w, schema, parquet.Compression(&parquet.Zstd), parquet.CreatedBy("hackle", "1", ""))}
	for _, name := range named {
		t.place = append(t.place, order[name])
	}
	for _, name := range columns {
		t.place = append(t.place, order[columnName(name)])
	}
	return t
}

func (t *parquetTable) add(u *Unit, row Row) error {
	out := make(parquet.Row, len(t.place))
	set := func(i int, v parquet.Value, definition int) { out[t.place[i]] = v.Level(0, definition, t.place[i]) }
	optional := func(i int, v *float64) {
		if v == nil {
			set(i, parquet.NullValue(), 0)
			return
		}
		set(i, parquet.DoubleValue(*v), 1)
	}
	set(0, parquet.Int64Value(int64(u.Number)), 0)
	set(1, parquet.ByteArrayValue([]byte(u.Site.Name)), 0)
	for k, v := range []*float64{&u.Site.Latitude, &u.Site.Longitude, &u.Site.Height} {
		if !u.Site.HasPlace {
			v = nil
		}
		optional(2+k, v)
	}
	set(5, parquet.ByteArrayValue([]byte(u.HiveName)), 0)
	set(6, parquet.Int64Value(int64(row.Year+1)), 0)
	set(7, parquet.ByteArrayValue([]byte(row.From)), 0)
	set(8, parquet.Int64Value(int64(row.Draw)), 0)
	for k, v := range row.Values {
		optional(len(named)+k, v)
	}
	_, err := t.writer.WriteRows([]parquet.Row{out})
	return err
}
