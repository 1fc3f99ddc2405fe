package almanac

import (
	"bytes"
	"fmt"
	"html"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"hackle/quantity"
)

// WriteStrip draws the twelve months as a strip to print and pin up: the usual
// course of the temperature above, every date below it with its range. It is an
// SVG of the shape of an A4 or Letter page laid sideways.
func (c Calendar) WriteStrip(w io.Writer) error {
	const (
		wide, left, right = 1100.0, 60.0, 24.0
		top, chart        = 64.0, 150.0
		row               = 21.0
	)
	var b bytes.Buffer
	days := c.To.Sub(c.From).Hours()/24 + 1
	x := func(t time.Time) float64 {
		return left + (wide-left-right)*min(1, max(0, t.Sub(c.From).Hours()/24/days))
	}
	n := func(v float64) string { return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64) }
	// Rows: each entry takes the first row in which its text has room.
	type placed struct {
		e      Entry
		row    int
		flip   bool
		x0, x1 float64
	}
	var list []placed
	var ends []float64
	for _, e := range c.Entries {
		text := 6.1*float64(len([]rune(e.Title))) + 70
		from := min(x(e.Date), x(orDate(e.Early, e.Date)))
		to := max(x(e.Date), x(orDate(e.Until, e.Date)), x(orDate(e.Late, e.Date)))
		flip := to+text > wide-right
		x0, x1 := from, to+text
		if flip {
			x0, x1 = from-text, to
		}
		r := 0
		for r < len(ends) && ends[r] > x0-8 {
			r++
		}
		if r == len(ends) {
			ends = append(ends, 0)
		}
		ends[r] = x1
		list = append(list, placed{e, r, flip, from, to})
	}
	tall := top + chart + 34 + row*float64(len(ends)) + 40
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %s %s" role="img" aria-label="%s" font-family="sans-serif">`+"\n", n(wide), n(tall), html.EscapeString("The year of "+c.Hive))
	fmt.Fprintf(&b, "<title>%s</title>\n<desc>%s</desc>\n", html.EscapeString("The year of "+c.Hive), html.EscapeString(c.describe()))
	fmt.Fprintf(&b, `<rect width="%s" height="%s" fill="#fffdf8"/>`+"\n", n(wide), n(tall))
	text := func(px, py, size float64, anchor, fill, weight, s string) {
		fmt.Fprintf(&b, `<text x="%s" y="%s" font-size="%s" text-anchor="%s" fill="%s" font-weight="%s">%s</text>`+"\n", n(px), n(py), n(size), anchor, fill, weight, html.EscapeString(s))
	}
	text(left, 30, 21, "start", "#1d1a14", "600", c.Hive)
	text(left, 50, 12.5, "start", "#5b5549", "400", fmt.Sprintf("%s, %s to %s. %s.", c.Site, c.From.Format("2 January 2006"), c.To.Format("2 January 2006"), c.Basis))

	low, high := math.Inf(1), math.Inf(-1)
	for _, d := range c.Days {
		low, high = min(low, d.Low), max(high, d.High)
	}
	low, high = math.Floor(low/5)*5, math.Ceil(high/5)*5
	y := func(v float64) float64 { return top + chart*(high-v)/max(high-low, 1) }
	// Months.
	for m := time.Date(c.From.Year(), c.From.Month(), 1, 0, 0, 0, 0, c.From.Location()); !m.After(c.To); m = m.AddDate(0, 1, 0) {
		a, z := x(m), x(m.AddDate(0, 1, 0))
		if m.Before(c.From) {
			a = left
		}
		fmt.Fprintf(&b, `<line x1="%s" y1="%s" x2="%s" y2="%s" stroke="#e4ddcd" stroke-width="1"/>`+"\n", n(a), n(top), n(a), n(tall-34))
		if z-a > 28 {
			text((a+z)/2, top+chart+18, 12.5, "middle", "#5b5549", "400", m.Format("Jan"))
		}
	}
	step := 10.0
	for v := low; v <= high; v += step {
		fmt.Fprintf(&b, `<line x1="%s" y1="%s" x2="%s" y2="%s" stroke="%s" stroke-width="0.8"/>`+"\n", n(left), n(y(v)), n(wide-right), n(y(v)), map[bool]string{true: "#9aa7b5", false: "#ece6d8"}[v == 0])
		text(left-8, y(v)+4, 11, "end", "#5b5549", "400", quantity.Format(v, quantity.Temperature, c.system))
	}
	if len(c.Days) > 1 {
		var band, mid strings.Builder
		for i, d := range c.Days {
			fmt.Fprintf(&band, "%s%s %s", map[bool]string{true: "M", false: "L"}[i == 0], n(x(d.Date)), n(y(d.High)))
			fmt.Fprintf(&mid, "%s%s %s", map[bool]string{true: "M", false: "L"}[i == 0], n(x(d.Date)), n(y(d.Mid)))
		}
		for i := len(c.Days) - 1; i >= 0; i-- {
			fmt.Fprintf(&band, "L%s %s", n(x(c.Days[i].Date)), n(y(c.Days[i].Low)))
		}
		fmt.Fprintf(&b, `<path d="%sZ" fill="#d9c9a3" fill-opacity="0.55"/>`+"\n", band.String())
		fmt.Fprintf(&b, `<path d="%s" fill="none" stroke="#8a6d2f" stroke-width="1.8"/>`+"\n", mid.String())
		text(wide-right-6, top+chart-8, 11, "end", "#5b5549", "400", "mean of the day: middle year, and eight years of ten")
	}
	base := top + chart + 34
	for _, p := range list {
		py := base + row*float64(p.row) + 12
		colour := map[Sort]string{Task: "#7a3e12", NotYet: "#3f5d7d", Watch: "#3d6b45", Window: "#5d4a7a", Warning: "#a32015"}[p.e.Sort]
		px := x(p.e.Date)
		if p.x1 > p.x0 {
			fmt.Fprintf(&b, `<line x1="%s" y1="%s" x2="%s" y2="%s" stroke="%s" stroke-width="%s" stroke-opacity="0.45"/>`+"\n", n(p.x0), n(py-4), n(p.x1), n(py-4), colour, map[bool]string{true: "7", false: "3"}[!p.e.Until.IsZero()])
		}
		// A shape for each sort, so that colour is not needed.
		switch p.e.Sort {
		case NotYet:
			fmt.Fprintf(&b, `<path d="M%s %sv10l7-5z" fill="%s"/>`+"\n", n(px), n(py-9), colour)
		case Watch:
			fmt.Fprintf(&b, `<circle cx="%s" cy="%s" r="4.2" fill="#fffdf8" stroke="%s" stroke-width="1.8"/>`+"\n", n(px), n(py-4), colour)
		case Window:
			fmt.Fprintf(&b, `<rect x="%s" y="%s" width="4" height="11" fill="%s"/>`+"\n", n(px-2), n(py-9.5), colour)
		case Warning:
			fmt.Fprintf(&b, `<path d="M%s %sl6 10h-12z" fill="%s"/>`+"\n", n(px), n(py-10), colour)
		default:
			fmt.Fprintf(&b, `<circle cx="%s" cy="%s" r="4.6" fill="%s"/>`+"\n", n(px), n(py-4), colour)
		}
		words := fmt.Sprintf("%s  %s", p.e.Date.Format("2 Jan"), p.e.Title)
		if p.flip {
			text(p.x0-9, py, 11.5, "end", "#1d1a14", "400", words)
		} else {
			text(max(p.x1, px)+9, py, 11.5, "start", "#1d1a14", "400", words)
		}
	}
	text(left, tall-14, 11, "start", "#5b5549", "400", "Dot: do it. Flag: not before. Ring: look out. Bar: days in which it can be done. Thin line: where the day falls in eight years of ten. Look at bees and forecast first.")
	b.WriteString("</svg>\n")
	_, err := w.Write(b.Bytes())
	return err
}

func orDate(t, other time.Time) time.Time {
	if t.IsZero() {
		return other
	}
	return t
}

// describe is the strip in words.
func (c Calendar) describe() string {
	var parts []string
	for _, e := range c.Entries {
		parts = append(parts, e.Date.Format("2 January 2006")+": "+e.Title)
	}
	return strings.Join(parts, "; ")
}
