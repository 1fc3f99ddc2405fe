package climate

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"
)

// ReadEPWPeriods reads every data period of a file in the EPW layout, in file
// order. Periods that touch are one. A file with one period, or a typical year
// whose periods together hold all of it, gives one Series as [ReadEPW] does;
// the others are records of the years that their rows name, and carry the name
// of their period after the place. Errors and rules are those of [ReadEPW].
func ReadEPWPeriods(name string, r io.Reader) ([]*Series, error) {
	text, err := readAll(name, r)
	if err != nil {
		return nil, err
	}
	return readEPWPeriods(name, text)
}

func readEPWPeriods(name string, text []byte) ([]*Series, error) {
	if len(text) == 0 {
		return nil, &FileError{File: name, Found: "an empty file", Accepted: "weather in the EPW layout"}
	}
	t := &table{file: name}
	lines := &splitter{rest: bytes.TrimPrefix(text, []byte("\ufeff"))}
	h, err := t.epwHeader(lines)
	if err != nil {
		return nil, err
	}
	rows, err := t.epwRows(lines, h.perHour)
	if err != nil {
		return nil, err
	}
	if err := t.checkBadRows(); err != nil {
		return nil, err
	}
	if len(rows) == 0 {
		return nil, &FileError{File: name, Line: lines.line, Found: "no data row after the header", Accepted: "one row an hour"}
	}
	if h.perHour > 1 {
		if rows, err = t.hoursOf(rows, h.perHour); err != nil {
			return nil, err
		}
	}
	blocks := [][]epwRow{rows}
	typical := h.typical || !followCalendar(rows)
	if h.periods > 1 {
		if blocks = splitPeriods(rows); len(blocks) > 1 {
			typical = false
		}
		if len(blocks) > h.periods {
			// Not the header's periods but gaps; the one table refuses them.
			blocks = [][]epwRow{rows}
		}
	}
	if len(blocks) == 1 {
		if typical {
			err = t.layTypical(rows)
		} else {
			err = t.layRecord(rows)
		}
		if err != nil {
			return nil, err
		}
		if err := t.checkBadRows(); err != nil {
			return nil, err
		}
		t.checkHeader(&h, rows)
		s, err := t.finish()
		if err != nil {
			return nil, err
		}
		return []*Series{s}, nil
	}
	var series []*Series
	for i, block := range blocks {
		part := &table{file: name, series: t.series, rows: len(block)}
		part.series.Repairs = slices.Clone(t.series.Repairs)
		if len(blocks) == h.periods && i < len(h.periodNames) {
			part.series.Name = joinNonEmpty("; ", part.series.Name, h.periodNames[i])
		}
		if err := part.layRecord(block); err != nil {
			return nil, err
		}
		if err := part.checkBadRows(); err != nil {
			return nil, err
		}
		if len(blocks) < h.periods {
			part.repair(8, "DATA PERIODS", fmt.Sprintf("%d periods in the header, %d spans of rows that do not touch", h.periods, len(blocks)), "each span read as one")
		}
		if i == len(blocks)-1 {
			part.checkHeader(&h, block)
		}
		s, err := part.finish()
		if err != nil {
			return nil, err
		}
		series = append(series, s)
	}
	return series, nil
}

// checkHeader notes where the rows and the header disagree.
func (t *table) checkHeader(h *epwHead, rows []epwRow) {
	last := rows[len(rows)-1]
	if h.endMonth > 0 && (last.month != h.endMonth || last.day != h.endDay) {
		t.repair(last.line, "DATA PERIODS", fmt.Sprintf("the rows end on %d/%d, the header says %d/%d", last.month, last.day, h.endMonth, h.endDay),
			"doubtful: the file may be cut short; used as it is")
	}
	leapDay := slices.IndexFunc(rows, func(r epwRow) bool { return r.month == 2 && r.day == 29 })
	if leapDay >= 0 && h.leap == "NO" {
		t.repair(rows[leapDay].line, "LeapYear Observed", "29 February, though the header says that leap years are not observed", "the row counts, not the header")
	}
}

// splitPeriods cuts the rows where time jumps: back, or ahead by more than a gap
// that is bridged. 28 February and 1 March of a leap year touch.
func splitPeriods(rows []epwRow) [][]epwRow {
	stamp := func(r *epwRow) time.Time {
		return time.Date(r.year, time.Month(r.month), r.day, r.hour, 0, 0, 0, time.UTC)
	}
	var blocks [][]epwRow
	from := 0
	for i := 1; i < len(rows); i++ {
		step := stamp(&rows[i]).Sub(stamp(&rows[i-1]))
		leap := step == 25*time.Hour && rows[i].month == 3 && rows[i].day == 1
		if step < 0 || step > (longestGap+1)*time.Hour && !leap {
			blocks = append(blocks, rows[from:i:i])
			from = i
		}
	}
	return append(blocks, rows[from:])
}

// longestPeriod returns the longest series, with a note that names the others.
func longestPeriod(series []*Series) *Series {
	best := series[0]
	for _, s := range series[1:] {
		if len(s.Hours) > len(best.Hours) {
			best = s
		}
	}
	if len(series) == 1 {
		return best
	}
	var others []string
	for _, s := range series {
		if s != best {
			others = append(others, fmt.Sprintf("%s to %s", s.Start.Format("2006-01-02"), s.End().Add(-time.Hour).Format("2006-01-02")))
		}
	}
	best.Repairs = append(best.Repairs, Repair{Field: "DATA PERIODS", Found: fmt.Sprintf("%d periods that do not touch", len(series)),
		Done: fmt.Sprintf("the longest, from %s to %s, read; left out: %s", best.Start.Format("2006-01-02"), best.End().Add(-time.Hour).Format("2006-01-02"), strings.Join(others, ", "))})
	return best
}

// hoursOf joins the rows of each hour of a finer file. A file whose minutes
// begin at 0 writes minute 0 for the beginning of the hour, one whose minutes
// end at 60 for its end; either way the rows of an hour carry its number.
func (t *table) hoursOf(rows []epwRow, perHour int) ([]epwRow, error) {
	out := rows[:0]
	short, firstShort := 0, 0
	for i := 0; i < len(rows); {
		end := i + 1
		for end < len(rows) && rows[end].hour == rows[i].hour && rows[end].day == rows[i].day && rows[end].month == rows[i].month && rows[end].year == rows[i].year {
			if rows[end].minute <= rows[end-1].minute {
				return nil, &FileError{File: t.file, Line: rows[end].line, Field: "minute",
					Found: fmt.Sprintf("%d after %d", rows[end].minute, rows[end-1].minute), Accepted: "rows in the order of time, each once"}
			}
			end++
		}
		if end-i > perHour {
			return nil, &FileError{File: t.file, Line: rows[i+perHour].line, Field: "minute",
				Found: fmt.Sprintf("%d rows for an hour", end-i), Accepted: fmt.Sprintf("%d rows an hour, as the header says", perHour)}
		}
		if end-i < perHour {
			if short++; short == 1 {
				firstShort = rows[i].line
			}
		}
		joined := rows[i]
		for f := range joined.value {
			sum, sumSin, n := 0.0, 0.0, 0
			for _, r := range rows[i:end] {
				v := r.value[f]
				if math.IsNaN(v) {
					continue
				}
				n++
				if f == windFrom {
					sin, cos := math.Sincos(v * math.Pi / 180)
					sum += cos
					sumSin += sin
				} else {
					sum += v
				}
			}
			switch {
			case 2*n < perHour || n == 0:
				joined.value[f] = math.NaN()
			case f == windFrom:
				joined.value[f] = math.Mod(math.Atan2(sumSin, sum)*180/math.Pi+360, 360)
			case f == rain:
				joined.value[f] = sum * float64(perHour) / float64(n)
			default:
				joined.value[f] = sum / float64(n)
			}
		}
		out = append(out, joined)
		i = end
	}
	if float64(short) > mostMissing*float64(len(out)) {
		return nil, &FileError{File: t.file, Line: 8, Field: "rows an hour", Found: fmt.Sprintf("fewer than %d rows in %d of %d hours, first on line %d", perHour, short, len(out), firstShort),
			Accepted: fmt.Sprintf("as many rows an hour as the header says, in all but %g %% of the hours", 100*mostMissing)}
	}
	t.repair(8, "rows an hour", fmt.Sprint(perHour), "averaged to hours; the radiation taken as the mean power of each interval [W/m²]")
	if short > 0 {
		t.repair(firstShort, "rows an hour", fmt.Sprintf("fewer than %d rows in %d hours", perHour, short), "their rows used where there are half of them, else missing")
	}
	return out, nil
}
