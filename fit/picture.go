package fit

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"hackle/logger"
	"hackle/quantity"
)

const (
	panelWidth  = 960.0
	panelLeft   = 64.0
	panelRight  = 944.0
	panelHeight = 150.0
	panelStep   = 196.0
	panelTop    = 84.0
)

// Picture draws a comparison as SVG: a panel for each series, measured as a dark
// line, computed as a light one, and under them the difference. Spans of over a
// month are drawn by the day. The result is the same for the same input, needs no
// other file, has a title and a description, and follows a reader's dark theme. ID
// begins the identifiers inside, "" for "measured".
func Picture(w io.Writer, title string, c *Comparison, system quantity.System, id string) error {
	if id == "" {
		id = "measured"
	}
	var b bytes.Buffer
	height := panelTop + panelStep*float64(len(c.Matches))
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %g %g" role="img" aria-labelledby="%s-title %s-desc">`+"\n", panelWidth, height, id, id)
	fmt.Fprintf(&b, "<title id=\"%s-title\">%s</title>\n", id, escaped(title))
	var words []string
	for _, m := range c.Matches {
		mean := shown(m.Series.Quantity, m.Bias, system, true) + " on the mean, "
		if m.Series.Place == Scale {
			mean = ""
		}
		words = append(words, fmt.Sprintf("%s: measured less computed %sroot mean square %s over %d hours", m.Series.Name, mean, shown(m.Series.Quantity, m.RMSE, system, false), m.Hours))
	}
	fmt.Fprintf(&b, "<desc id=\"%s-desc\">%s.</desc>\n", id, escaped(strings.Join(words, "; ")))
	fmt.Fprintf(&b, `<style>
.%[1]s-g{fill:#faf7ef}
.%[1]s-t{font:14px system-ui,"DejaVu Sans",sans-serif;fill:#2b2a27;font-variant-numeric:tabular-nums}
.%[1]s-s{font:11px system-ui,"DejaVu Sans",sans-serif;fill:#5c5950;font-variant-numeric:tabular-nums}
.%[1]s-a{fill:none;stroke:#b9b3a3;stroke-width:1}
.%[1]s-m{fill:none;stroke:#2b2a27;stroke-width:1.6;stroke-linejoin:round}
.%[1]s-c{fill:none;stroke:#b4541a;stroke-width:1.6;stroke-linejoin:round;stroke-dasharray:5 3}
.%[1]s-d{fill:#7d8f9c;fill-opacity:.55;stroke:none}
@media (prefers-color-scheme:dark){.%[1]s-g{fill:#1d1c1a}.%[1]s-t{fill:#ece8dc}.%[1]s-s{fill:#b7b1a2}.%[1]s-a{stroke:#5a564c}.%[1]s-m{stroke:#ece8dc}.%[1]s-c{stroke:#e88b4d}}
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
	fmt.Fprintf(&b, "<path class=\"%s-m\" d=\"M%g 48h36\"/>\n", id, panelLeft)
	text(panelLeft+42, 52, "s", "", "measured")
	fmt.Fprintf(&b, "<path class=\"%s-c\" d=\"M%g 48h36\"/>\n", id, panelLeft+120)
	text(panelLeft+162, 52, "s", "", "computed")
	fmt.Fprintf(&b, "<rect class=\"%s-d\" x=\"%g\" y=\"43\" width=\"36\" height=\"10\"/>\n", id, panelLeft+240)
	text(panelLeft+282, 52, "s", "", "measured less computed")
	for i, m := range c.Matches {
		drawPanel(&b, id, c.Start, &m, panelTop+panelStep*float64(i), system, text)
	}
	b.WriteString("</svg>\n")
	_, err := w.Write(b.Bytes())
	return err
}

func escaped(s string) string {
	var b bytes.Buffer
	if err := xml.EscapeText(&b, []byte(strings.ToValidUTF8(s, "?"))); err != nil {
		return "" // a bytes.Buffer does not fail
	}
	return b.String()
}

// shown writes a value of a quantity, with a sign where it is a difference.
func shown(q logger.Quantity, v float64, system quantity.System, signed bool) string {
	if math.IsNaN(v) {
		return "unknown"
	}
	sign := ""
	if signed && v > 0 {
		sign = "+"
	}
	switch q {
	case logger.Temperature:
		return sign + quantity.Format(math.Round(v*100)/100, quantity.TemperatureDifference, system)
	case logger.Humidity:
		return fmt.Sprintf("%s%.0f points", sign, 100*v)
	case logger.CO2:
		return fmt.Sprintf("%s%.0f ppm", sign, 1e6*v)
	}
	return sign + quantity.Format(v, q.Kind(), system)
}

// axisLabel writes a value of a quantity at an axis.
func axisLabel(q logger.Quantity, v float64, system quantity.System) string {
	switch q {
	case logger.Humidity:
		return fmt.Sprintf("%.0f %%", 100*v)
	case logger.CO2:
		return fmt.Sprintf("%.0f ppm", 1e6*v)
	case logger.Temperature:
		if system == quantity.US {
			return fmt.Sprintf("%.0f °F", v*1.8+32)
		}
		return fmt.Sprintf("%.0f °C", v)
	}
	return quantity.Format(v, q.Kind(), system)
}

func drawPanel(b *bytes.Buffer, id string, start time.Time, m *Match, top float64, system quantity.System, text func(x, y float64, class, anchor, s string)) {
	every := 1
	if len(m.Residual) > 31*24 {
		every = 24
	}
	measured, computed := means(m.Series.Values, every), means(m.Computed, every)
	low, high := math.Inf(1), math.Inf(-1)
	for i := range measured {
		for _, v := range []float64{measured[i], computed[i]} {
			if !math.IsNaN(v) {
				low, high = math.Min(low, v), math.Max(high, v)
			}
		}
	}
	if !(high > low) {
		high = low + 1
	}
	pad := 0.06 * (high - low)
	low, high = low-pad, high+pad
	x := func(i float64) float64 {
		return panelLeft + (panelRight-panelLeft)*i/math.Max(1, float64(len(measured)-1))
	}
	y := func(v float64) float64 { return top + panelHeight*(high-v)/(high-low) }
	place := m.Series.Place
	if place == Inside {
		place = fmt.Sprintf("inside, %s above the floor, %s", quantity.Format(m.Series.Height, quantity.Length, system), m.Series.Column)
	}
	differs := "difference " + shown(m.Series.Quantity, m.Bias, system, true) + ", "
	if m.Series.Place == Scale { // its level is free
		differs = ""
	}
	text(panelLeft, top-8, "s", "", fmt.Sprintf("%s (%s, %s): %sscatter %s", m.Series.Name, m.Series.Quantity, place, differs, shown(m.Series.Quantity, m.RMSE, system, false)))
	fmt.Fprintf(b, "<path class=\"%s-a\" d=\"M%.1f %.1fV%.1fH%.1f\"/>\n", id, panelLeft, top, top+panelHeight, panelRight)
	text(panelLeft-6, top+10, "s", "end", axisLabel(m.Series.Quantity, high-pad, system))
	text(panelLeft-6, top+panelHeight, "s", "end", axisLabel(m.Series.Quantity, low+pad, system))
	// The difference hangs from or stands on the middle of the panel, at the scale of
	// the panel.
	middle := top + panelHeight/2
	var d strings.Builder
	for i := range measured {
		r := measured[i] - computed[i]
		if math.IsNaN(r) {
			continue
		}
		h := math.Max(-panelHeight/2, math.Min(panelHeight/2, panelHeight*r/(high-low)))
		wide := math.Max(0.6, (panelRight-panelLeft)/float64(len(measured))-0.2)
		fmt.Fprintf(&d, "M%.1f %.1fv%.1fh%.1fv%.1fz", x(float64(i)), middle, -h, wide, h)
	}
	fmt.Fprintf(b, "<path class=\"%s-d\" d=\"%s\"/>\n", id, d.String())
	for _, l := range []struct {
		class string
		v     []float64
	}{{"m", measured}, {"c", computed}} {
		var path strings.Builder
		pen := "M"
		for i, v := range l.v {
			if math.IsNaN(v) {
				pen = "M"
				continue
			}
			fmt.Fprintf(&path, "%s%.1f %.1f", pen, x(float64(i)), y(v))
			pen = "L"
		}
		fmt.Fprintf(b, "<path class=\"%s-%s\" d=\"%s\"/>\n", id, l.class, path.String())
	}
	// Dates: about six, each at its midnight.
	days := len(m.Residual) / 24
	each := max(1, (days+5)/6)
	for day := 0; day < days; day += each {
		at := x(float64(day*24) / float64(every))
		fmt.Fprintf(b, "<path class=\"%s-a\" d=\"M%.1f %.1fv5\"/>\n", id, at, top+panelHeight)
		text(at, top+panelHeight+17, "s", "", start.Add(time.Duration(day*24)*time.Hour).Format("2 Jan"))
	}
}

// means of every so many values that are there.
func means(v []float64, every int) []float64 {
	if every == 1 {
		return v
	}
	var out []float64
	for i := 0; i < len(v); i += every {
		sum, n := 0.0, 0.0
		for _, x := range v[i:min(len(v), i+every)] {
			if !math.IsNaN(x) {
				sum += x
				n++
			}
		}
		if n == 0 {
			out = append(out, math.NaN())
		} else {
			out = append(out, sum/n)
		}
	}
	return out
}
