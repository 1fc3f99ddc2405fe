package climate

import (
	"fmt"
	"io"
	"time"

	"go.yaml.in/yaml/v3"

	"hackle/quantity"
)

// Write writes the map in the form that [ParseColumnMap] reads, so that a map
// made once serves for every later file of the same logger. A map that could not
// be read with is refused.
func (m ColumnMap) Write(w io.Writer) error {
	if _, err := m.compile(); err != nil {
		return fmt.Errorf("column map: %w", err)
	}
	f := mapFile{
		Version: 1, Name: m.Name, Source: m.Source, Latitude: &m.Latitude, Longitude: &m.Longitude,
		Height: quantity.FormatExact(m.Height, quantity.Length), Zone: writtenZone(m.Zone),
		SkipLines: m.SkipLines, Typical: m.Typical, Missing: m.Missing, NoSun: m.NoSun,
	}
	if f.Missing == nil {
		f.Missing = defaultMissing()
	}
	switch m.Separator {
	case 0:
	case '\t':
		f.Separator = "tab"
	default:
		f.Separator = string(rune(m.Separator))
	}
	if m.Decimal != 0 {
		f.Decimal = string(rune(m.Decimal))
	}
	if len(m.Time.Columns) == 1 {
		f.Time.Column = m.Time.Columns[0]
	} else {
		f.Time.Columns = m.Time.Columns
	}
	f.Time.Layout, f.Time.Stamp, f.Time.Zone = m.Time.Layout, m.Time.Stamp, m.Time.Place
	if m.Time.Zone != nil {
		f.Time.Zone = writtenZone(*m.Time.Zone)
	}
	f.Columns = make(map[string]mapColumn, len(m.Columns))
	for name, c := range m.Columns {
		f.Columns[name] = mapColumn{Column: c.Name, Unit: c.Unit, Constant: c.Constant}
	}
	enc := yaml.NewEncoder(w)
	enc.SetIndent(2)
	if err := enc.Encode(f); err != nil {
		return fmt.Errorf("writing the column map: %w", err)
	}
	return enc.Close()
}

// writtenZone writes an offset so that parseZone reads it back.
func writtenZone(offset time.Duration) string {
	return zoneName(offset)[len("UTC"):]
}
