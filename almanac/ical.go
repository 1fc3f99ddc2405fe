package almanac

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"
)

// sequenceEpoch is where revision numbers count from. RFC 5545 wants SEQUENCE to
// rise with every revision; counted in minutes it does so without a memory of
// what was exported before.
var sequenceEpoch = time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC)

// UID is the stable identifier of an entry: the same for the same hive, entry and
// season in every export, so that a new export updates the old entry.
func (c Calendar) UID(e Entry) string {
	// A season is told by the middle of the entry's range, so that a date that
	// moves over the turn of the year keeps its identifier.
	sum := sha256.Sum256([]byte(c.Hive + "\x00" + c.Site + "\x00" + e.Key))
	return fmt.Sprintf("%s-%s-%d@hackle.invalid", slug(e.Key), hex.EncodeToString(sum[:8]), seasonOf(e))
}

// seasonOf counts seasons from September to August for all that begins before or
// in winter, so that one winter has one number.
func seasonOf(e Entry) int {
	d := e.Date
	if d.Month() < time.July {
		return d.Year() - 1
	}
	return d.Year()
}

// WriteICS writes the calendar as an iCalendar file of RFC 5545. at is when it is
// exported; a later export has higher revision numbers and so replaces what an
// earlier one left in a calendar program.
func (c Calendar) WriteICS(w io.Writer, at time.Time) error {
	var b bytes.Buffer
	line := func(name, value string) { fold(&b, name+":"+value) }
	line("BEGIN", "VCALENDAR")
	line("VERSION", "2.0")
	line("PRODID", "-//hackle//calendar//EN")
	line("CALSCALE", "GREGORIAN")
	line("METHOD", "PUBLISH")
	line("X-WR-CALNAME", escape("Bees: "+c.Hive))
	stamp := at.UTC().Format("20060102T150405Z")
	sequence := max(0, int(at.Sub(sequenceEpoch).Minutes()))
	seen := map[string]int{}
	for _, e := range c.Entries {
		uid := c.UID(e)
		if seen[uid]++; seen[uid] > 1 { // two of one key in one season
			uid = fmt.Sprintf("%d-%s", seen[uid], uid)
		}
		line("BEGIN", "VEVENT")
		line("UID", uid)
		line("DTSTAMP", stamp)
		line("LAST-MODIFIED", stamp)
		line("SEQUENCE", fmt.Sprint(sequence))
		line("DTSTART;VALUE=DATE", e.Date.Format("20060102"))
		end := e.Date
		if e.Until.After(end) {
			end = e.Until
		}
		line("DTEND;VALUE=DATE", end.AddDate(0, 0, 1).Format("20060102")) // the day after, by the standard
		line("SUMMARY", escape(fmt.Sprintf("%s (%s)", e.Title, c.Hive)))
		line("DESCRIPTION", escape(e.Text()))
		line("CATEGORIES", escape("bees")+","+escape(string(e.Sort)))
		if c.Site != "" {
			line("LOCATION", escape(c.Site))
		}
		line("TRANSP", "TRANSPARENT")
		if e.Sort == Task {
			line("BEGIN", "VALARM")
			line("ACTION", "DISPLAY")
			line("DESCRIPTION", escape(e.Title))
			line("TRIGGER", "-P3D")
			line("END", "VALARM")
		}
		line("END", "VEVENT")
	}
	line("END", "VCALENDAR")
	_, err := w.Write(b.Bytes())
	return err
}

// Text is all that an entry says, in lines.
func (e Entry) Text() string {
	lines := []string{e.Reason}
	if r := e.Range(); r != "" {
		lines = append(lines, r)
	}
	for _, d := range e.Do {
		lines = append(lines, "- "+d)
	}
	for _, c := range e.Cautions {
		lines = append(lines, "! "+c)
	}
	if e.Source != "" {
		lines = append(lines, "Source of the rule: "+e.Source+".")
	}
	return strings.Join(lines, "\n")
}

// Range says how far the day moves, empty when it does not.
func (e Entry) Range() string {
	if e.Early.IsZero() || e.Late.IsZero() {
		return ""
	}
	if e.Early.Equal(e.Late) {
		return fmt.Sprintf("About %s in nearly every year.", e.Early.Format("2 January"))
	}
	return fmt.Sprintf("In eight years of ten between %s and %s.", e.Early.Format("2 January"), e.Late.Format("2 January"))
}

// escape is the escaping of RFC 5545, 3.3.11.
func escape(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < 32 && r != '\n' && r != '\t' || r == 127 {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
	return strings.NewReplacer("\\", "\\\\", ";", "\\;", ",", "\\,", "\n", "\\n").Replace(s)
}

// fold breaks a content line after 75 octets, not inside a character (RFC 5545,
// 3.1).
func fold(b *bytes.Buffer, line string) {
	const most = 75
	room := most
	for len(line) > room {
		cut := room
		for cut > 0 && !utf8.RuneStart(line[cut]) {
			cut--
		}
		b.WriteString(line[:cut])
		b.WriteString("\r\n ")
		line = line[cut:]
		room = most - 1
	}
	b.WriteString(line)
	b.WriteString("\r\n")
}
