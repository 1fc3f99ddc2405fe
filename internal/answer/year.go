package answer

import (
	"bufio"
	"encoding/csv"
	"io"
	"strconv"
	"time"

	"hackle/climate"
	"hackle/ledger"
	"hackle/quantity"
	"hackle/season"
)

// WeatherUsed names the weather of a run.
type WeatherUsed struct {
	Name      string  `json:"name"`
	Source    string  `json:"source"`
	Latitude  float64 `json:"latitude_deg"`
	Longitude float64 `json:"longitude_deg"`
}

// Used names weather.
func Used(w *climate.Series) WeatherUsed {
	return WeatherUsed{w.Name, w.Source, w.Latitude, w.Longitude}
}

// Year is the document of one hive's run. Its numbers are SI and their names say
// the unit; Answer and Readings speak in the user's units.
type Year struct {
	File    string      `json:"file"`
	Weather WeatherUsed `json:"weather"`
	Answer  string      `json:"answer"`
	ledger.Ledger
	Readings    []ledger.Reading    `json:"readings"`
	WaterMonths []ledger.WaterMonth `json:"water_months,omitempty"`
	Notes       []string            `json:"notes"`
	Uncertainty string              `json:"uncertainty"`
}

// NewYear makes the document of a ledger. File names the hive file. The months of
// the water may be added.
func NewYear(file string, w *climate.Series, l ledger.Ledger, notes []string, system quantity.System) Year {
	return Year{File: file, Weather: Used(w), Answer: l.Answer(system), Ledger: l, Readings: l.Readings(system), Notes: append([]string{}, notes...), Uncertainty: ledger.OneRun}
}

// Comparison is the document of several hives in one weather.
type Comparison struct {
	Weather     WeatherUsed         `json:"weather"`
	From        ledger.Date         `json:"from"`
	To          ledger.Date         `json:"to"`
	Hives       []Year              `json:"hives"`
	Differences []ledger.Comparison `json:"differences"` // each against the first
	Notes       []string            `json:"notes"`
	Uncertainty string              `json:"uncertainty"`
}

// Compare makes the document of what a setting computed, each hive against the
// first, and returns the ledgers too. Files name the hive files in order; the
// notes precede those of the setting.
func (s Setting) Compare(files []string, traces []*season.Trace, notes []string, system quantity.System) (Comparison, []ledger.Ledger) {
	c := Comparison{Weather: Used(s.Weather), From: ledger.Date{Time: s.First}, To: ledger.Date{Time: s.Last}, Differences: []ledger.Comparison{},
		Notes: append(append([]string{}, notes...), s.Notes...), Uncertainty: ledger.OneRun}
	var ledgers []ledger.Ledger
	for i, tr := range traces {
		l := s.Ledger(i, tr)
		ledgers = append(ledgers, l)
		c.Hives = append(c.Hives, NewYear(files[i], s.Weather, l, nil, system))
		if i > 0 {
			c.Differences = append(c.Differences, ledger.DifferenceIn(ledgers[0], l, system))
		}
	}
	return c, ledgers
}

// WriteTrace writes a trace as CSV: a row an hour, first the beginning of the hour
// in local standard time, then every channel under "name [unit]".
func WriteTrace(w io.Writer, t *season.Trace) error {
	b := bufio.NewWriter(w)
	out := csv.NewWriter(b)
	row := make([]string, 1+len(t.Channels))
	row[0] = "time"
	for i, c := range t.Channels {
		row[i+1] = c.Name + " [" + c.Unit + "]"
	}
	if err := out.Write(row); err != nil {
		return err
	}
	for h := range t.Hours {
		row[0] = t.Time(h).Format(time.RFC3339)
		for i, c := range t.Channels {
			row[i+1] = strconv.FormatFloat(c.Values[h], 'g', 6, 64)
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return err
	}
	return b.Flush()
}
