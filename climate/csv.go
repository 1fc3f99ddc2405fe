package climate

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"sort"
	"strings"
	"time"
	"unicode/utf8"
)

// ReadCSV reads weather from a file of separated columns with a column map that
// says what stands where: rows hourly or finer, up to three hours apart, or at
// irregular times. name stands in messages.
//
// The first line after m.SkipLines names the columns. A field may be quoted
// with double quotes; it must not contain a line break. Rows finer than an hour
// are averaged to hours: arithmetic means, the mean vector for wind direction,
// sums for rain. An hour that has less than half of its rows counts as missing.
//
// Rows more than an hour apart, and rows of which less than four fifths keep to
// one interval (within a tenth of it, or a whole number of them), are
// resampled: between rows at most three hours apart an instant reading runs
// straight to the next, a mean holds over the interval that its stamp begins or
// ends, and rain falls evenly in it; the hour takes the mean over its time, the
// sum for rain. An hour covered by less than half counts as missing.
//
// Rules for faulty rows, each reported with its line:
//   - a row whose time is not understood, or with too few fields: left out;
//   - a value that is no number and none of m.Missing: treated as missing;
//   - a second row of the same time: left out;
//   - a row earlier than the one before it: sorted into its place. A file that
//     runs backwards as a whole is turned round, which is no fault.
//
// With m.Typical the rows are laid on the days of a year of 365 whatever their
// own years are.
//
// A file with more than 2 % of such rows is refused. The rules for missing and
// impossible values are in the package comment.
//
// A file without any radiation is refused unless m.NoSun says what to assume;
// then the assumption stands in the Repairs. The error is a *[FileError] unless
// r fails or m itself is faulty.
func ReadCSV(name string, r io.Reader, m ColumnMap) (*Series, error) {
	text, err := readAll(name, r)
	if err != nil {
		return nil, err
	}
	return readCSV(name, text, m)
}

// csvRow is one row before averaging.
type csvRow struct {
	at   int64 // Unix time of the stamp [s]
	line int32
	row  int32 // index into the values
	// again is how much later the clock showed the same time again, 0 when it
	// did not [s].
	again int32
}

func readCSV(name string, text []byte, m ColumnMap) (*Series, error) {
	plan, err := m.compile()
	if err != nil {
		return nil, fmt.Errorf("column map for %s: %w", name, err)
	}
	if len(text) == 0 {
		return nil, &FileError{File: name, Found: "an empty file", Accepted: "a line of column names and one row a time step"}
	}
	t := &table{file: name, noSun: plan.noSun}
	t.series = Series{
		Name: m.Name, Latitude: m.Latitude, Longitude: m.Longitude, Height: m.Height,
		Zone: plan.siteZone, Source: m.Source, Typical: m.Typical,
	}
	if t.series.Name == "" {
		t.series.Name = name
	}
	if t.series.Source == "" {
		t.series.Source = name
	}

	lines := &splitter{rest: bytes.TrimPrefix(text, []byte("\ufeff"))}
	if err := plan.readHeader(t, lines); err != nil {
		return nil, err
	}
	rows, values, err := plan.readRows(t, lines)
	if err != nil {
		return nil, err
	}
	if len(rows) == 0 {
		if err := t.checkBadRows(); err != nil {
			return nil, err
		}
		return nil, &FileError{File: name, Line: lines.line, Found: "no data row after the column names", Accepted: "one row a time step"}
	}
	rows = t.order(rows)
	if err := t.checkBadRows(); err != nil {
		return nil, err
	}
	if err := plan.toHours(t, rows, values); err != nil {
		return nil, err
	}
	if plan.typical {
		if err := t.wholeTypicalYear(int(rows[len(rows)-1].line)); err != nil {
			return nil, err
		}
	}
	for f, v := range plan.constant {
		if plan.isConstant[f] {
			for i := range t.column[f] {
				t.column[f][i] = v
			}
			t.repair(0, fields[f].name, "no column", fmt.Sprintf("%.4g %s throughout, as the column map says", v*fields[f].shown, fields[f].unit))
		}
	}
	return t.finish()
}

// readHeader finds the columns of the plan by name.
func (p *csvPlan) readHeader(t *table, lines *splitter) error {
	for range p.skipLines {
		lines.next()
	}
	l, ok := lines.next()
	if !ok {
		return &FileError{File: t.file, Line: lines.line, Found: "the end of the file", Accepted: fmt.Sprintf("column names on line %d", p.skipLines+1)}
	}
	if !utf8.Valid(l) {
		return &FileError{File: t.file, Line: lines.line, Field: "column names", Found: quote(bytes.ToValidUTF8(l, []byte("?"))) + ", not UTF-8", Accepted: "UTF-8 text; save the file with that encoding"}
	}
	names, err := p.split(l, nil)
	if err != nil {
		return &FileError{File: t.file, Line: lines.line, Field: "column names", Found: quote(l), Err: err}
	}
	find := func(name string) (int, error) {
		found := -1
		for i, n := range names {
			if string(n) == name {
				if found >= 0 {
					return 0, &FileError{File: t.file, Line: lines.line, Field: "column names", Found: fmt.Sprintf("%q twice", name), Accepted: "each mapped column once"}
				}
				found = i
			}
		}
		if found < 0 {
			have := make([]string, len(names))
			for i, n := range names {
				have[i] = fmt.Sprintf("%q", n)
			}
			shown := strings.Join(have, ", ")
			if len(shown) > 200 {
				shown = strings.ToValidUTF8(shown[:200], "") + "..."
			}
			return 0, &FileError{File: t.file, Line: lines.line, Field: "column names", Found: shown, Accepted: fmt.Sprintf("a column %q, as the map says (separator %q)", name, p.separator)}
		}
		return found, nil
	}
	p.width = 0
	for i, name := range p.timeNames {
		at, err := find(name)
		if err != nil {
			return err
		}
		p.timeIndex[i] = at
		p.width = max(p.width, at+1)
	}
	for i := range p.columns {
		at, err := find(p.columns[i].name)
		if err != nil {
			return err
		}
		p.columns[i].index = at
		p.width = max(p.width, at+1)
	}
	return nil
}

// inTypicalYear moves a time to the year of typical hours, at its month, day and
// hour in the site's standard time, and tells the year that it had. There is no
// 29 February.
func (p *csvPlan) inTypicalYear(at int64) (moved int64, year int, month time.Month, isLeapDay bool) {
	before := int64(0)
	if p.stamp == stampEnd {
		before = 1 // midnight ends the day before
	}
	d := time.Unix(at-before, 0).In(fixedZone(p.siteZone))
	if d.Month() == time.February && d.Day() == 29 {
		return 0, 0, 0, true
	}
	m := time.Date(typicalYear, d.Month(), d.Day(), d.Hour(), d.Minute(), d.Second(), 0, fixedZone(p.siteZone))
	return m.Unix() + before, d.Year(), d.Month(), false
}

// wholeTypicalYear lays the hours read on 1 January to 31 December; up to the
// longest gap may be missing at either end.
func (t *table) wholeTypicalYear(line int) error {
	start := time.Date(typicalYear, 1, 1, 0, 0, 0, 0, fixedZone(t.series.Zone))
	n := len(t.line)
	lead := int(t.series.Start.Sub(start) / time.Hour)
	if lead < 0 || lead > longestGap || lead+n > 8760 || lead+n < 8760-longestGap {
		return &FileError{File: t.file, Line: line, Field: "time",
			Found:    fmt.Sprintf("%d hours of a typical year, from %s", n, t.series.Start.Format("2 January 15:04")),
			Accepted: "all hours of 1 January to 31 December, as the column map says typical: true"}
	}
	lines, columns := t.line, t.column
	t.line, t.column, t.n = nil, [fieldCount][]float64{}, 0
	t.grow(8760)
	copy(t.line[lead:], lines)
	for f := range columns {
		copy(t.column[f][lead:], columns[f])
	}
	t.series.Start = start
	return nil
}

// readRows parses the rows; values holds len(p.columns) numbers a row.
func (p *csvPlan) readRows(t *table, lines *splitter) ([]csvRow, []float64, error) {
	k := len(p.columns)
	guess := 1 + len(lines.rest)/30 // a short row
	rows := make([]csvRow, 0, guess)
	values := make([]float64, 0, guess*k)
	var pieces [][]byte
	var stamp, number []byte
	var skipped clockReport
	defer func() { skipped.tell(t) }()
	leapDays := 0
	for {
		l, ok := lines.next()
		if !ok {
			break
		}
		if len(trim(l)) == 0 {
			continue
		}
		t.rows++
		var err error
		pieces, err = p.split(l, pieces[:0])
		if err != nil {
			t.badRow(lines.line, "row", quote(l), "left out: "+err.Error())
			continue
		}
		if len(pieces) < p.width {
			t.badRow(lines.line, "row", fmt.Sprintf("%d fields in %s", len(pieces), quote(l)), fmt.Sprintf("left out: the mapped columns need %d", p.width))
			continue
		}
		stamp = stamp[:0]
		for i := range p.timeNames {
			if i > 0 {
				stamp = append(stamp, ' ')
			}
			stamp = append(stamp, pieces[p.timeIndex[i]]...)
		}
		at, again, skips, ok := p.parseTime(stamp)
		if !ok {
			t.badRow(lines.line, "time", quote(stamp), fmt.Sprintf("left out: not of the form %s", p.layoutShown))
			continue
		}
		if skips {
			skipped.add(lines.line, stamp)
		}
		if p.typical {
			moved, year, month, isLeapDay := p.inTypicalYear(at)
			if isLeapDay {
				if leapDays == 0 {
					t.repair(lines.line, "time", "29 February", "left out: a typical year has 365 days here")
				}
				leapDays++
				continue
			}
			at = moved
			t.years[month] = year
		}
		rows = append(rows, csvRow{at: at, line: int32(lines.line), row: int32(len(rows)), again: again})
		faulty := false
		for i := range p.columns {
			c := &p.columns[i]
			b := pieces[c.index]
			v := math.NaN()
			if !p.isMissing(b) {
				if p.decimalComma {
					number = append(number[:0], b...)
					if at := bytes.IndexByte(number, ','); at >= 0 {
						number[at] = '.'
					}
					b = number
				}
				x, ok := parseFloat(b)
				switch {
				case ok:
					v = x*c.factor + c.offset
				case !faulty:
					faulty = true
					t.badRow(lines.line, fields[c.field].name, quote(b), "no number, treated as missing")
				}
			}
			values = append(values, v)
		}
	}
	return rows, values, nil
}

// order brings the rows into the order of time and drops second rows of the
// same time.
func (t *table) order(rows []csvRow) []csvRow {
	backwards, forwards := 0, 0
	for i := 1; i < len(rows); i++ {
		switch {
		case rows[i].at < rows[i-1].at:
			backwards++
		case rows[i].at > rows[i-1].at:
			forwards++
		}
	}
	if backwards > forwards {
		slices.Reverse(rows)
		backwards = forwards
		t.repair(int(rows[len(rows)-1].line), "time", "newest rows first", "turned round")
	}
	if t.secondPass(rows) {
		backwards = 0
		for i := 1; i < len(rows); i++ {
			if rows[i].at < rows[i-1].at {
				backwards++
			}
		}
	}
	if backwards > 0 {
		latest := rows[0].at
		for i := 1; i < len(rows); i++ {
			if rows[i].at < latest {
				t.badRow(int(rows[i].line), "time", time.Unix(rows[i].at, 0).UTC().Format("2006-01-02 15:04:05 UTC")+" after a later row", "sorted into its place")
			}
			latest = max(latest, rows[i].at)
		}
		sort.SliceStable(rows, func(i, j int) bool { return rows[i].at < rows[j].at })
	}
	kept := rows[:1]
	for _, r := range rows[1:] {
		if r.at == kept[len(kept)-1].at {
			t.badRow(int(r.line), "time", time.Unix(r.at, 0).UTC().Format("2006-01-02 15:04:05 UTC")+" for the second time", "left out")
			continue
		}
		kept = append(kept, r)
	}
	return kept
}

// commonStep returns the most frequent difference between rows [s].
func commonStep(rows []csvRow) int64 {
	if len(rows) < 2 {
		return 3600
	}
	count := map[int64]int{}
	best := int64(0)
	for i := 1; i < min(len(rows), 2000); i++ { // enough to see the rule
		d := rows[i].at - rows[i-1].at
		count[d]++
		if c, b := count[d], count[best]; c > b || c == b && d < best {
			best = d
		}
	}
	return best
}

// toHours brings the rows to hours by the rule that fits their intervals.
func (p *csvPlan) toHours(t *table, rows []csvRow, values []float64) error {
	step := commonStep(rows)
	if step > longestHold {
		return &FileError{File: t.file, Line: int(rows[0].line), Field: "time",
			Found: fmt.Sprintf("rows %v apart", time.Duration(step)*time.Second), Accepted: "rows at most 3 h apart"}
	}
	if step > 3600 || !regular(rows, step) {
		return p.resample(t, rows, values, step)
	}
	return p.average(t, rows, values, step)
}

// average lays the rows on hours.
func (p *csvPlan) average(t *table, rows []csvRow, values []float64, step int64) error {
	// A stamp at the end of its interval belongs to what lies before it.
	shift := int64(0)
	if p.stamp == stampEnd {
		shift = -step
	}
	switch p.stamp {
	case stampInstant:
		// Readings at 0, step, 2 step ... of the hour stand for their mean instant.
		t.series.MidOffset = time.Duration(3600-step) * time.Second / 2
	default:
		t.series.MidOffset = 30 * time.Minute
	}
	zone := int64(p.siteZone / time.Second)
	hourOf := func(r csvRow) int64 { return floorDiv(r.at+shift+zone, 3600) }

	first := hourOf(rows[0])
	t.series.Start = time.Unix(first*3600-zone, 0).In(fixedZone(p.siteZone))
	last := hourOf(rows[len(rows)-1])
	if hours := last - first + 1; float64(hours) > 2*float64(len(rows))+longestGap || hours > mostHours {
		return &FileError{File: t.file, Line: int(rows[len(rows)-1].line), Field: "time",
			Found: fmt.Sprintf("%d rows for %d hours", len(rows), hours), Accepted: "rows at most 3 h apart, with few gaps"}
	}
	t.grow(int(last - first + 1))

	k := len(p.columns)
	sum := make([]float64, k)
	sumSin := make([]float64, k)
	count := make([]int, k)
	need := max(int(3600/max(step, 1)), 1)
	flush := func(hour int64) {
		for i := range p.columns {
			c := &p.columns[i]
			if 2*count[i] >= need {
				v := sum[i] / float64(count[i])
				switch {
				case c.field == windFrom:
					v = math.Mod(math.Atan2(sumSin[i], sum[i])*180/math.Pi+360, 360)
				case c.field == rain:
					v *= float64(need) // the sum, had every row been there
				}
				t.column[c.field][hour-first] = v
			}
			sum[i], sumSin[i], count[i] = 0, 0, 0
		}
	}
	current := first
	gap := int64(0)
	for _, r := range rows {
		h := hourOf(r)
		if h != current {
			flush(current)
			if gap = h - current - 1; gap > 0 {
				t.repair(int(r.line), "time", fmt.Sprintf("no row for %d h from %s", gap, t.at(int(current+1-first))), "values bridged if the rules allow")
			}
			current = h
		}
		if t.line[h-first] == 0 {
			t.line[h-first] = r.line
		}
		at := int(r.row) * k
		for i, v := range values[at : at+k] {
			if math.IsNaN(v) {
				continue
			}
			count[i]++
			if p.columns[i].field == windFrom {
				sin, cos := math.Sincos(v * math.Pi / 180)
				sum[i] += cos
				sumSin[i] += sin
			} else {
				sum[i] += v
			}
		}
	}
	flush(current)
	return nil
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

var errOpenQuote = fmt.Errorf("a quote without its end on the same line")

// split cuts a row at the separator; a quoted field loses its quotes, any field
// the blanks around it.
func (p *csvPlan) split(l []byte, into [][]byte) ([][]byte, error) {
	for {
		if p.separator != '\t' {
			l = trim(l)
		} else {
			l = bytes.TrimLeft(l, " ")
		}
		if len(l) > 0 && l[0] == '"' {
			end := 1
			doubled := false
			for end < len(l) {
				if l[end] == '"' {
					if end+1 < len(l) && l[end+1] == '"' {
						doubled = true
						end += 2
						continue
					}
					break
				}
				end++
			}
			if end >= len(l) {
				return into, errOpenQuote
			}
			piece := l[1:end]
			if doubled {
				piece = bytes.ReplaceAll(piece, []byte(`""`), []byte(`"`))
			}
			into = append(into, trim(piece))
			l = l[end+1:]
			i := bytes.IndexByte(l, p.separator)
			if i < 0 {
				return into, nil
			}
			l = l[i+1:]
			continue
		}
		i := bytes.IndexByte(l, p.separator)
		if i < 0 {
			return append(into, trim(l)), nil
		}
		into = append(into, trim(l[:i]))
		l = l[i+1:]
	}
}

func (p *csvPlan) isMissing(b []byte) bool {
	for _, m := range p.missing {
		if string(b) == m {
			return true
		}
	}
	return false
}
