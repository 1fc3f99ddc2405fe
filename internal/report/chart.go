package report

import (
	"fmt"
	"html"
	"math"
	"strconv"
	"strings"
	"time"
)

// colour of ink on paper.
type colour [3]int

var (
	ink    = colour{34, 30, 24}
	brown  = colour{150, 84, 28}
	blue   = colour{46, 92, 130}
	faint  = colour{222, 215, 200}
	soft   = colour{95, 88, 76}
	accent = colour{138, 59, 18}
)

func (c colour) hex() string { return fmt.Sprintf("#%02x%02x%02x", c[0], c[1], c[2]) }

// line is the values of a chart, one a day.
type line struct {
	name   string
	values []float64
	width  float64   // [mm]
	dashes []float64 // [mm]
	colour colour
}

// chart is values of days over a year.
type chart struct {
	title, unit string
	start       time.Time
	zero        bool // the scale begins at 0
	lines       []line
}

// Sizes of a chart. [mm]
const (
	chartWide = 174.0
	chartHigh = 44.0
	chartLeft = 14.0
	chartHead = 6.0
	chartFoot = 6.0
)

// pen is a line to draw, word a text, in millimetres from the upper left corner.
type pen struct {
	x, y   []float64
	width  float64
	dashes []float64
	colour colour
}

type word struct {
	x, y  float64
	text  string
	size  float64 // [pt]
	align int     // -1 begins, 0 middle, 1 ends
	bold  bool
}

// draw lays the chart out.
func (c chart) draw() (pens []pen, words []word) {
	low, high := math.Inf(1), math.Inf(-1)
	days := 0
	for _, l := range c.lines {
		for _, v := range l.values {
			if !math.IsNaN(v) {
				low, high = min(low, v), max(high, v)
			}
		}
		days = max(days, len(l.values))
	}
	if days < 2 || math.IsInf(low, 1) {
		return nil, nil
	}
	if c.zero {
		low = min(low, 0)
	}
	step := niceStep((high - low) / 4)
	low, high = math.Floor(low/step)*step, math.Ceil(high/step)*step
	if high == low {
		high = low + step
	}
	x := func(day float64) float64 { return chartLeft + (chartWide-chartLeft)*day/float64(days-1) }
	y := func(v float64) float64 { return chartHead + (chartHigh-chartHead-chartFoot)*(high-v)/(high-low) }
	for v := low; v <= high+step/2; v += step {
		col := faint
		if math.Abs(v) < step/1e6 {
			v, col = 0, soft
		}
		pens = append(pens, pen{[]float64{chartLeft, chartWide}, []float64{y(v), y(v)}, 0.12, nil, col})
		words = append(words, word{chartLeft - 1.5, y(v) + 1, strconv.FormatFloat(v, 'f', -1, 64), 7, 1, false})
	}
	end := c.start.AddDate(0, 0, days-1)
	for m := time.Date(c.start.Year(), c.start.Month(), 1, 0, 0, 0, 0, c.start.Location()); m.Before(end); m = m.AddDate(0, 1, 0) {
		from, to := m.Sub(c.start).Hours()/24, m.AddDate(0, 1, 0).Sub(c.start).Hours()/24
		if from > 0 {
			pens = append(pens, pen{[]float64{x(from), x(from)}, []float64{chartHead, chartHigh - chartFoot}, 0.1, nil, faint})
		}
		from, to = max(0, from), min(float64(days-1), to)
		if x(to)-x(from) > 7 {
			words = append(words, word{(x(from) + x(to)) / 2, chartHigh - 1.5, m.Format("Jan"), 7, 0, false})
		}
	}
	at := chartWide
	for i := len(c.lines) - 1; i >= 0; i-- {
		l := c.lines[i]
		p := pen{width: l.width, dashes: l.dashes, colour: l.colour}
		for k, v := range l.values {
			if !math.IsNaN(v) {
				p.x, p.y = append(p.x, x(float64(k))), append(p.y, y(v))
			}
		}
		pens = append(pens, p)
		if len(c.lines) > 1 { // a key above
			w := 1.55*float64(len([]rune(l.name))) + 2
			words = append(words, word{at, 3.6, l.name, 7.5, 1, false})
			pens = append(pens, pen{[]float64{at - w - 8, at - w - 1}, []float64{2.7, 2.7}, max(l.width, 0.4), l.dashes, l.colour})
			at -= w + 12
		}
	}
	words = append(words, word{0, 3.6, c.title + " [" + c.unit + "]", 8.5, -1, true})
	return pens, words
}

// niceStep is 1, 2 or 5 times a power of ten, at least v.
func niceStep(v float64) float64 {
	if !(v > 0) {
		return 1
	}
	p := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 2, 5} {
		if m*p >= v*0.999 {
			return m * p
		}
	}
	return 10 * p
}

// describe is the chart in words: ends and extremes of each line.
func (c chart) describe() string {
	var parts []string
	for _, l := range c.lines {
		low, high, lowAt, highAt := math.Inf(1), math.Inf(-1), 0, 0
		for i, v := range l.values {
			if v < low {
				low, lowAt = v, i
			}
			if v > high {
				high, highAt = v, i
			}
		}
		if len(l.values) == 0 {
			continue
		}
		parts = append(parts, fmt.Sprintf("%s: from %.3g %s at the beginning to %.3g at the end, lowest %.3g on %s, highest %.3g on %s", l.name, l.values[0], c.unit, l.values[len(l.values)-1],
			low, c.start.AddDate(0, 0, lowAt).Format("2 January"), high, c.start.AddDate(0, 0, highAt).Format("2 January")))
	}
	return c.title + ". " + strings.Join(parts, "; ") + "."
}

// svg of the chart, for HTML.
func (c chart) svg() string {
	pens, words := c.draw()
	n := func(v float64) string { return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64) }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="chart" viewBox="0 0 %s %s" role="img" aria-label="%s">`, n(chartWide), n(chartHigh), html.EscapeString(c.describe()))
	for _, p := range pens {
		b.WriteString(`<path d="`)
		for i := range p.x {
			b.WriteString(map[bool]string{true: "M", false: "L"}[i == 0] + n(p.x[i]) + " " + n(p.y[i]))
		}
		dash := ""
		if len(p.dashes) > 0 {
			var d []string
			for _, x := range p.dashes {
				d = append(d, n(x))
			}
			dash = ` stroke-dasharray="` + strings.Join(d, " ") + `"`
		}
		fmt.Fprintf(&b, `" fill="none" stroke="%s" stroke-width="%s"%s/>`, p.colour.hex(), n(p.width), dash)
	}
	for _, w := range words {
		weight := ""
		if w.bold {
			weight = ` font-weight="600"`
		}
		fmt.Fprintf(&b, `<text x="%s" y="%s" font-size="%s" text-anchor="%s" fill="%s"%s>%s</text>`, n(w.x), n(w.y), n(w.size*25.4/72), map[int]string{-1: "start", 0: "middle", 1: "end"}[w.align], ink.hex(), weight, html.EscapeString(w.text))
	}
	b.WriteString("</svg>")
	return b.String()
}
