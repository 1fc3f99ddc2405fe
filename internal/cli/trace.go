package cli

import (
	"bufio"
	"encoding/csv"
	"io"
	"strconv"
	"time"

	"hackle/season"
)

// writeTrace writes a trace as CSV: a row an hour, first the beginning of the hour
// in local standard time, then every channel under "name [unit]".
func writeTrace(w io.Writer, t *season.Trace) error {
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
