package climate

import (
	"fmt"
	"math"
	"strings"
	"time"
	_ "time/tzdata" // the rules of daylight saving time, wherever the program runs
)

// clock turns the times that a clock on a wall shows into instants.
type clock struct {
	offset int64          // ahead of UTC where place is nil [s]
	place  *time.Location // whose rules the clock follows, or nil

	// The span of Unix time around the last reading that has one offset [s].
	from, to int64
	within   int64 // that offset [s]
}

// instant returns the Unix time [s] at which the clock shows a time, given as
// if it were UTC. A time shown twice gives the first, and again says how much
// later the second is [s]. A time that the clock skips gives the instant at
// which it would have been shown had the clock not been put forward.
func (c *clock) instant(shown int64) (at int64, again int32, skipped bool) {
	if c.place == nil {
		return shown - c.offset, 0, false
	}
	const margin = 86400 // more than any offset from UTC
	if shown-margin >= c.from && shown+margin < c.to {
		return shown - c.within, 0, false
	}
	before, after := c.offsetAt(shown-margin), c.offsetAt(shown+margin)
	if before == after {
		at = shown - before
		start, end := time.Unix(at, 0).In(c.place).ZoneBounds()
		c.from, c.to, c.within = math.MinInt64, math.MaxInt64, before
		if !start.IsZero() {
			c.from = start.Unix()
		}
		if !end.IsZero() {
			c.to = end.Unix()
		}
		return at, 0, false
	}
	early, late := shown-before, shown-after
	okEarly, okLate := c.offsetAt(early) == before, c.offsetAt(late) == after
	switch {
	case okEarly && okLate:
		return early, int32(late - early), false
	case okLate:
		return late, 0, false
	}
	return early, 0, !okEarly
}

func (c *clock) offsetAt(unix int64) int64 {
	_, offset := time.Unix(unix, 0).In(c.place).Zone()
	return int64(offset)
}

// clockReport gathers the rows of times that a clock skips, one note a change.
type clockReport struct {
	changes []clockChange
}

type clockChange struct {
	line, rows int
	shown      string
}

func (r *clockReport) add(line int, shown []byte) {
	if n := len(r.changes); n > 0 && line-r.changes[n-1].line <= 2*r.changes[n-1].rows {
		r.changes[n-1].rows++
		return
	}
	r.changes = append(r.changes, clockChange{line: line, rows: 1, shown: quote(shown)})
}

func (r *clockReport) tell(t *table) {
	for _, c := range r.changes {
		t.repair(c.line, "time", fmt.Sprintf("%s, a time that the clock skips in spring; %d such rows", c.shown, c.rows),
			"read as if the clock had not yet been put forward")
	}
}

// secondPass moves rows of an hour that the clock shows twice to its second
// pass where their order says so, and tells whether there were any such rows.
// The rows run forward as a whole.
func (t *table) secondPass(rows []csvRow) bool {
	found := false
	step := int64(0)
	type change struct{ line, first, second int }
	var c change
	tell := func() {
		switch {
		case c.line == 0:
		case c.second == 0:
			t.repair(c.line, "time", fmt.Sprintf("%d rows of an hour that the clock shows twice, but only one pass of it", c.first),
				"taken for the first pass, in summer time")
		default:
			t.repair(c.line, "time", fmt.Sprintf("%d rows of an hour that the clock shows twice", c.first+c.second),
				fmt.Sprintf("by their order %d taken for the first pass, in summer time, %d for the second", c.first, c.second))
		}
		c = change{}
	}
	shownBefore := int64(math.MinInt64)
	for i := range rows {
		r := &rows[i]
		shown := r.at
		if r.again == 0 {
			tell()
			shownBefore = shown
			continue
		}
		if !found {
			found = true
			step = commonStep(rows)
		}
		if c.line == 0 {
			c.line = int(r.line)
		}
		again := int64(r.again)
		second := i > 0 && r.at <= rows[i-1].at && r.at+again > rows[i-1].at
		if second && shown == shownBefore && step < again {
			second = false // of rows finer than the hour: the same row again
		}
		if second {
			r.at += again
			c.second++
		} else {
			c.first++
		}
		shownBefore = shown
	}
	tell()
	return found
}

// Clock turns the times that a clock on a wall or in a logger shows into instants.
// It remembers the last change of the clock and must not be used by two goroutines
// at once.
type Clock struct{ c clock }

// NewClock returns the clock of a zone: UTC, an offset such as +01:00, or a place of
// the IANA time zone database such as Europe/Berlin, whose daylight saving time it
// then follows.
func NewClock(zone string) (*Clock, error) {
	if offset, err := parseZone(zone); err == nil {
		return &Clock{clock{offset: int64(offset / time.Second)}}, nil
	}
	if !strings.Contains(zone, "/") {
		return nil, fmt.Errorf("zone %q, accepted: UTC, an offset such as +01:00, or a place such as Europe/Berlin", zone)
	}
	place, err := time.LoadLocation(zone)
	if err != nil {
		return nil, fmt.Errorf("zone %q, accepted: a place of the IANA time zone database such as America/New_York", zone)
	}
	return &Clock{clock{place: place}}, nil
}

// Instant returns the Unix time [s] at which the clock shows a time, given as if it
// were UTC. A time shown twice gives the first, and again says how much later the
// second is [s]. A time that the clock skips gives the instant at which it would
// have been shown had the clock not been put forward.
func (c *Clock) Instant(shown int64) (at, again int64, skipped bool) {
	at, later, skipped := c.c.instant(shown)
	return at, int64(later), skipped
}
