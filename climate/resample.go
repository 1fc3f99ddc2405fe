package climate

import (
	"fmt"
	"math"
	"time"
)

// longestHold is the longest time between two rows over which values are
// carried [s]. Common practice, no source.
const longestHold = 3 * 3600

// regular tells whether at least four fifths of the intervals between rows keep
// to a step or a whole number of steps, within a tenth of a step.
func regular(rows []csvRow, step int64) bool {
	if step <= 0 {
		return false
	}
	kept := 0
	for i := 1; i < len(rows); i++ {
		d := rows[i].at - rows[i-1].at
		off := d % step
		off = min(off, step-off)
		if 10*off <= step && d+off >= step {
			kept++
		}
	}
	return 5*kept >= 4*(len(rows)-1)
}

// resample lays rows at any intervals of at most longestHold on hours, by the
// rule that [ReadCSV] states.
func (p *csvPlan) resample(t *table, rows []csvRow, values []float64, step int64) error {
	zone := int64(p.siteZone / time.Second)
	first := floorDiv(rows[0].at+zone, 3600)
	last := floorDiv(rows[len(rows)-1].at+zone-1, 3600) // a row on the hour begins no hour of its own
	hours := last - first + 1
	if hours < 1 {
		return &FileError{File: t.file, Line: int(rows[0].line), Field: "time", Found: "rows within one instant", Accepted: "rows over at least an hour"}
	}
	if float64(hours) > float64(longestHold)/3600*float64(len(rows))+longestGap || hours > mostHours {
		return &FileError{File: t.file, Line: int(rows[len(rows)-1].line), Field: "time",
			Found: fmt.Sprintf("%d rows for %d hours", len(rows), hours), Accepted: "rows at most 3 h apart, with few gaps"}
	}
	t.series.Start = time.Unix(first*3600-zone, 0).In(fixedZone(p.siteZone))
	t.series.MidOffset = 30 * time.Minute
	t.grow(int(hours))
	for _, r := range rows {
		if h := floorDiv(r.at+zone, 3600) - first; h < hours && t.line[h] == 0 {
			t.line[h] = r.line
		}
	}
	how := "rows at irregular times"
	if step > 3600 {
		how = fmt.Sprintf("rows %v apart", time.Duration(step)*time.Second)
	}
	t.repair(int(rows[0].line), "time", how, "resampled to hours: "+p.stamp.held())

	origin := first*3600 - zone
	covered := make([]float64, hours) // [s]
	sum := make([]float64, hours)     // value times time
	sumSin := make([]float64, hours)
	for c := range p.columns {
		field := p.columns[c].field
		clear(covered)
		clear(sum)
		clear(sumSin)
		value := func(r csvRow) float64 { return values[int(r.row)*len(p.columns)+c] }
		before := -1
		for i := range rows {
			if math.IsNaN(value(rows[i])) {
				continue
			}
			if before < 0 {
				before = i
				continue
			}
			a, b := rows[before], rows[i]
			before = i
			from, to := a.at-origin, b.at-origin
			if to-from > longestHold {
				continue
			}
			va, vb := value(a), value(b)
			switch {
			case p.stamp == stampStart:
				vb = va
			case p.stamp == stampEnd, field == rain:
				va = vb
			}
			if field == rain {
				va /= float64(to - from)
				vb = va
			}
			spread(from, to, func(h int64, share0, share1, length float64) {
				covered[h] += length
				middle := (share0 + share1) / 2
				if field == windFrom {
					sinA, cosA := math.Sincos(va * math.Pi / 180)
					sinB, cosB := math.Sincos(vb * math.Pi / 180)
					sum[h] += (cosA + (cosB-cosA)*middle) * length
					sumSin[h] += (sinA + (sinB-sinA)*middle) * length
					return
				}
				sum[h] += (va + (vb-va)*middle) * length
			})
		}
		for h := range covered {
			if covered[h] < 1800 {
				continue
			}
			v := sum[h] / covered[h]
			switch field {
			case windFrom:
				v = math.Mod(math.Atan2(sumSin[h], sum[h])*180/math.Pi+360, 360)
			case rain:
				v *= 3600
			}
			t.column[field][h] = v
		}
	}
	return nil
}

// spread cuts the span from one second to another at the hours and calls f with
// each hour, where in the span its part begins and ends, 0 to 1, and its length
// [s].
func spread(from, to int64, f func(hour int64, share0, share1, length float64)) {
	whole := float64(to - from)
	for at := from; at < to; {
		h := floorDiv(at, 3600)
		end := min((h+1)*3600, to)
		f(h, float64(at-from)/whole, float64(end-from)/whole, float64(end-at))
		at = end
	}
}

// held says in a note how a value is carried to the next row.
func (k stampKind) held() string {
	switch k {
	case stampStart:
		return "each row holds until the next, at most 3 h"
	case stampEnd:
		return "each row holds since the one before, at most 3 h"
	}
	return "straight lines between rows at most 3 h apart"
}
