package climate

import (
	"bytes"
	"path/filepath"
)

// OpenStation reads a file of the station layouts, told apart by its content:
// the daily ones of [ReadGHCNDaily] and [ReadNetherlandsDaily], of which hours are
// made by [Daily.Hourly] over the longest unbroken stretch, and the hourly one of
// [ReadISDLite]. A zero Station is taken from the file where that has it. noSun
// serves the hourly layout, see there. Gzip and the size limit are as in [Open].
func OpenStation(path string, at Station, a Assumptions, noSun string) (*Series, error) {
	text, err := readFile(path)
	if err != nil {
		return nil, err
	}
	return readStation(filepath.Base(path), text, at, a, noSun)
}

func readStation(name string, text []byte, at Station, a Assumptions, noSun string) (*Series, error) {
	plain := bytes.TrimPrefix(text, []byte("\ufeff"))
	first, _ := cutLine(plain)
	var d *Daily
	var err error
	switch {
	case layoutOf(first) != layoutUnknown:
		d, err = readGHCNDaily(name, text, at)
	case bytes.Contains(plain, []byte(netherlandsHead)):
		d, err = readNetherlandsDaily(name, text, at)
	case isISDLite(first):
		return readISDLite(name, text, at, noSun)
	default:
		return nil, &FileError{File: name, Line: 1, Found: quote(first),
			Accepted: "a station record: GHCN-Daily (.dly or CSV), the daily layout of the Netherlands, or ISD-Lite"}
	}
	if err != nil {
		return nil, err
	}
	return d.Unbroken().Hourly(a)
}

// isISDLite tells whether a line is at least nine whole numbers that begin with a
// date.
func isISDLite(l []byte) bool {
	piece := bytes.Fields(l)
	if len(piece) < 4+isdWind+1 {
		return false
	}
	var v [3]int
	for i, b := range piece {
		n, ok := fixedInt(b)
		if !ok {
			return false
		}
		if i < len(v) {
			v[i] = n
		}
	}
	_, ok := dayOf(v[0], v[1], v[2])
	return ok
}
