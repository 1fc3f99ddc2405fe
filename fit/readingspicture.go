package fit

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"hackle/logger"
	"hackle/quantity"
)

// Sensed is what one sensor read, by the hour, for a picture.
type Sensed struct {
	Name     string
	Quantity logger.Quantity
	Hours    []logger.Hour // rising in time
}

const (
	strip     = 92.0 // height of one sensor's panel
	stripStep = 128.0
)

// ReadingsPicture draws the readings of sensors from a day up to another as SVG: for
// each sensor the band between least and most and the line of the means, by the day,
// or by the hour for spans of up to two weeks. Days without readings stay empty. The
// result is the same for the same input, needs no other file and follows a reader's
// dark theme. ID begins the identifiers inside, "" for "readings".
func ReadingsPicture(w io.Writer, title string, from, to time.Time, sensors []Sensed, system quantity.System, id string) error {
	if id == "" {
		id = "readings"
	}
	every := int64(86400)
	const fine = 14 * 24 * time.Hour
	if to.Sub(from) <= fine {
		every = 3600
	}
	n := int((to.Unix() - from.Unix() + every - 1) / every)
	if n < 1 {
		return fmt.Errorf("%w: a picture of no days", ErrData)
	}
	var b bytes.Buffer
	height := 60 + stripStep*float64(len(sensors))
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %g %g" role="img" aria-labelledby="%s-title">`+"\n", panelWidth, height, id)
	fmt.Fprintf(&b, "<title id=\"%s-title\">%s</title>\n", id, escaped(title))
	fmt.Fprintf(&b, `<style>
.%[1]s-g{fill:#faf7ef}
.%[1]s-t{font:14px system-ui,"DejaVu Sans",sans-serif;fill:#2b2a27;font-variant-numeric:tabular-nums}
.%[1]s-s{font:11px system-ui,"DejaVu Sans",sans-serif;fill:#5c5950;font-variant-numeric:tabular-nums}
.%[1]s-a{fill:none;stroke:#b9b3a3;stroke-width:1}
.%[1]s-b{fill:#7d8f9c;fill-opacity:.45;stroke:none}
.%[1]s-m{fill:none;stroke:#2b2a27;stroke-width:1.3;stroke-linejoin:round}
@media (prefers-color-scheme:dark){.%[1]s-g{fill:#1d1c1a}.%[1]s-t{fill:#ece8dc}.%[1]s-s{fill:#b7b1a2}.%[1]s-a{stroke:#5a564c}.%[1]s-m{stroke:#ece8dc}}
</style>
`, id)
	fmt.Fprintf(&b, "<rect class=\"%s-g\" width=\"%g\" height=\"%g\"/>\n", id, panelWidth, height)
	text := func(x, y float64, class, anchor, s string) {
		if anchor != "" {
			anchor = ` text-anchor="` + anchor + `"`
		}
		fmt.Fprintf(&b, "<text class=\"%s-%s\" x=\"%.1f\" y=\"%.1f\"%s>%s</text>\n", id, class, x, y, anchor, escaped(s))
	}
	text(panelLeft, 28, "t", "", title)
	for i, s := range sensors {
		drawReadings(&b, id, from, n, every, &s, 66+stripStep*float64(i), system, text)
	}
	b.WriteString("</svg>\n")
	_, err := w.Write(b.Bytes())
	return err
}

func drawReadings(b *bytes.Buffer, id string, from time.Time, n int, every int64, s *Sensed, top float64, system quantity.System, text func(x, y float64, class, anchor, s string)) {
	least, most, mean, count := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	low, high := math.Inf(1), math.Inf(-1)
	for i := range least {
		least[i], most[i] = math.Inf(1), math.Inf(-1)
	}
	for _, h := range s.Hours {
		i := int((h.At - from.Unix()) / every)
		if h.At < from.Unix() || i >= n {
			continue
		}
		least[i], most[i] = math.Min(least[i], h.Least), math.Max(most[i], h.Most)
		mean[i] += h.Mean
		count[i]++
		low, high = math.Min(low, h.Least), math.Max(high, h.Most)
	}
	if high < low {
		text(panelLeft, top-6, "s", "", fmt.Sprintf("%s (%s): no readings in these days", s.Name, s.Quantity))
		return
	}
	text(panelLeft, top-6, "s", "", fmt.Sprintf("%s (%s): %s to %s", s.Name, s.Quantity, axisLabel(s.Quantity, low, system), axisLabel(s.Quantity, high, system)))
	if high-low < 1e-9 {
		high = low + 1
	}
	x := func(i float64) float64 { return panelLeft + (panelRight-panelLeft)*i/float64(n) }
	y := func(v float64) float64 { return top + strip*(high-v)/(high-low) }
	fmt.Fprintf(b, "<path class=\"%s-a\" d=\"M%.1f %.1fV%.1fH%.1f\"/>\n", id, panelLeft, top, top+strip, panelRight)
	text(panelLeft-6, top+10, "s", "end", axisLabel(s.Quantity, high, system))
	text(panelLeft-6, top+strip, "s", "end", axisLabel(s.Quantity, low, system))
	var band, line strings.Builder
	pen := "M"
	for i := range mean {
		if count[i] == 0 {
			pen = "M"
			continue
		}
		fmt.Fprintf(&band, "M%.1f %.1fH%.1fV%.1fH%.1fz", x(float64(i)), y(most[i]), x(float64(i+1)), y(least[i]), x(float64(i)))
		fmt.Fprintf(&line, "%s%.1f %.1f", pen, x(float64(i)+0.5), y(mean[i]/count[i]))
		pen = "L"
	}
	fmt.Fprintf(b, "<path class=\"%s-b\" d=\"%s\"/>\n<path class=\"%s-m\" d=\"%s\"/>\n", id, band.String(), id, line.String())
	// Dates: months in a long span, else about seven days.
	days := int(int64(n) * every / 86400)
	if days > 70 {
		for m := time.Date(from.Year(), from.Month(), 1, 0, 0, 0, 0, from.Location()); m.Before(from.AddDate(0, 0, days)); m = m.AddDate(0, 1, 0) {
			if at := x(float64(m.Unix()-from.Unix()) / float64(every)); at >= panelLeft {
				fmt.Fprintf(b, "<path class=\"%s-a\" d=\"M%.1f %.1fv5\"/>\n", id, at, top+strip)
				text(at, top+strip+16, "s", "", m.Format("Jan"))
			}
		}
		return
	}
	for day := 0; day < days; day += max(1, (days+6)/7) {
		at := x(float64(int64(day)*86400) / float64(every))
		fmt.Fprintf(b, "<path class=\"%s-a\" d=\"M%.1f %.1fv5\"/>\n", id, at, top+strip)
		text(at, top+strip+16, "s", "", from.AddDate(0, 0, day).Format("2 Jan"))
	}
}
