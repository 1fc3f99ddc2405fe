package web

import (
	"encoding/json"
	"fmt"
	"html"
	"html/template"
	"math"
	"slices"
	"strings"
	"time"

	"hackle/quantity"
)

// A scale says in what a chart counts.
type scale struct {
	unit string
	// of turns an SI value into the unit.
	of     func(float64) float64
	digits int // of values read out
}

func same(v float64) float64 { return v }

// scaleOf a kind of quantity in the reader's units.
func scaleOf(kind quantity.Kind, system quantity.System) scale {
	us := system == quantity.US
	switch kind {
	case quantity.Temperature:
		if us {
			return scale{"°F", func(c float64) float64 { return c*9/5 + 32 }, 1}
		}
		return scale{"°C", same, 1}
	case quantity.Mass:
		if us {
			return scale{"lb", func(kg float64) float64 { return kg / 0.45359237 }, 1}
		}
		return scale{"kg", same, 1}
	case quantity.Power:
		return scale{"W", same, 1}
	case quantity.Fraction:
		return scale{"%", func(v float64) float64 { return 100 * v }, 0}
	case quantity.Volume: // of m³
		if us {
			return scale{"gal", func(v float64) float64 { return v / 3.785411784e-3 }, 2}
		}
		return scale{"L", func(v float64) float64 { return v * 1000 }, 2}
	case quantity.Flow: // of m³/s
		if us {
			return scale{"cfm", func(v float64) float64 { return v * 2118.880003 }, 2}
		}
		return scale{"L/s", func(v float64) float64 { return v * 1000 }, 2}
	}
	return scale{"", same, 1}
}

// grams counts small masses of water [kg].
func grams(system quantity.System) scale {
	if system == quantity.US {
		return scale{"oz", func(kg float64) float64 { return kg / 0.028349523125 }, 1}
	}
	return scale{"g", func(kg float64) float64 { return kg * 1000 }, 0}
}

// A stroke is one line, band or row of bars of a chart, a value a day.
type stroke struct {
	name  string
	class string    // as the style sheet knows it: "", "cold", "warm", "wet", "second"
	low   []float64 // lower edge of a band; nil: a line or bars
	value []float64 // line, top of bars, or upper edge of a band
	bars  bool
	quiet bool // not read out
}

// A pin marks a moment.
type pin struct {
	at   time.Time
	text string
}

// chart draws values of days. It is as wide as its place: only heights are fixed,
// so that its letters stay readable on a phone.
type chart struct {
	id, title, text string // the text says what there is to see
	first           time.Time
	scale           scale
	strokes         []stroke
	pins            []pin
	limit           *float64 // a level not to be passed
	limitName       string
	zero            bool // the scale includes 0
	height          float64
}

// ticks are round numbers that span low to high, at most about n.
func ticks(low, high float64, n int) []float64 {
	if !(high > low) {
		high = low + 1
	}
	step := math.Pow(10, math.Floor(math.Log10((high-low)/float64(n))))
	for _, m := range []float64{1, 2, 5, 10} {
		if (high-low)/(step*m) <= float64(n) {
			step *= m
			break
		}
	}
	var all []float64
	for i := math.Floor(low/step + 1e-9); ; i++ {
		all = append(all, i*step)
		if i*step >= high-1e-9*step {
			return all
		}
	}
}

// number without needless zeros.
func number(v float64) string {
	text := fmt.Sprintf("%.3f", v)
	text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	if text == "-0" {
		return "0"
	}
	return strings.Replace(text, "-", "−", 1)
}

const (
	above     = 24.0 // room over the plot, with one row of words [px]
	below     = 30.0 // and under it [px]
	pinRow    = 17.0 // height of a row of words over the plot [px]
	gutter    = 5.0  // room for the numbers at the left [% of the width]
	pinsApart = 30.0 // pins that are nearer write their words in other rows [% of the width]
)

// Figure is the chart with its legend and a line for reading values.
func (c chart) Figure() template.HTML {
	days := 0
	low, high := math.Inf(1), math.Inf(-1)
	reach := func(v float64) {
		if v = c.scale.of(v); !math.IsNaN(v) && !math.IsInf(v, 0) {
			low, high = min(low, v), max(high, v)
		}
	}
	for _, s := range c.strokes {
		days = max(days, len(s.value))
		for _, v := range s.value {
			reach(v)
		}
		for _, v := range s.low {
			reach(v)
		}
	}
	if days == 0 || math.IsInf(low, 0) {
		return ""
	}
	if c.limit != nil {
		reach(*c.limit)
	}
	if c.zero {
		low, high = min(low, 0), max(high, 0)
	}
	if c.height == 0 {
		c.height = 220
	}
	at := func(t time.Time) float64 { return gutter + (100-gutter)*t.Sub(c.first).Hours()/24/float64(days) }
	slices.SortStableFunc(c.pins, func(a, b pin) int { return a.at.Compare(b.at) })
	rows := make([]int, len(c.pins)) // of the words of each pin, the lowest is 0
	most := 0
	for i := 1; i < len(c.pins); i++ {
		if at(c.pins[i].at)-at(c.pins[i-1].at) < pinsApart {
			rows[i] = rows[i-1] + 1
			most = max(most, rows[i])
		}
	}
	top := above + pinRow*float64(most)
	steps := ticks(low, high, 5)
	low, high = steps[0], steps[len(steps)-1]
	y := func(v float64) float64 { return top + c.height*(high-v)/(high-low) }

	var b strings.Builder
	fmt.Fprintf(&b, `<figure data-chart id="%s" tabindex="0" role="group" aria-label="%s. Arrow keys read it day by day.">`, c.id, html.EscapeString(c.title))
	b.WriteString(c.legend())
	fmt.Fprintf(&b, `<svg class="chart" width="100%%" height="%.0f" role="img" aria-labelledby="%s-t %s-d">`, top+c.height+below, c.id, c.id)
	fmt.Fprintf(&b, `<title id="%s-t">%s</title><desc id="%s-d">%s</desc>`, c.id, html.EscapeString(c.title), c.id, html.EscapeString(c.text))
	var labels strings.Builder // over the lines
	for i, v := range steps {
		class := "grid"
		if v == 0 && low < 0 {
			class = "zero"
		}
		fmt.Fprintf(&b, `<line class="%s" x1="%.0f%%" x2="100%%" y1="%.1f" y2="%.1f"/>`, class, gutter, y(v), y(v))
		label := number(v)
		if i == len(steps)-1 {
			label += " " + c.scale.unit
		}
		fmt.Fprintf(&labels, `<text x="0" y="%.1f">%s</text>`, y(v)+4, label)
	}
	// Months: a tick at each first, its name in the middle of what is shown of it.
	last := c.first.AddDate(0, 0, days)
	base := top + c.height
	for m := time.Date(c.first.Year(), c.first.Month(), 1, 0, 0, 0, 0, c.first.Location()); m.Before(last); m = m.AddDate(0, 1, 0) {
		from, to := max(gutter, at(m)), min(100, at(m.AddDate(0, 1, 0)))
		if from > gutter {
			fmt.Fprintf(&b, `<line class="axis" x1="%.2f%%" x2="%.2f%%" y1="%.1f" y2="%.1f"/>`, from, from, base, base+6)
		}
		if to-from > 5.5 || days < 100 && to-from > 4 {
			fmt.Fprintf(&b, `<text x="%.2f%%" y="%.1f" text-anchor="middle">%s</text>`, (from+to)/2, base+19, m.Format("Jan"))
		}
	}
	fmt.Fprintf(&b, `<line class="axis" x1="%.0f%%" x2="100%%" y1="%.1f" y2="%.1f"/>`, gutter, base, base)
	fmt.Fprintf(&b, `<svg x="0" y="%.0f" width="100%%" height="%.0f" viewBox="%.2f 0 %.2f %.0f" preserveAspectRatio="none">`, top, c.height, -float64(days)*gutter/(100-gutter), float64(days)*100/(100-gutter), c.height)
	for _, s := range c.strokes {
		c.draw(&b, s, func(v float64) float64 { return y(c.scale.of(v)) - top })
	}
	if c.limit != nil {
		v := y(c.scale.of(*c.limit)) - top
		fmt.Fprintf(&b, `<line class="limit" x1="0" x2="%d" y1="%.1f" y2="%.1f" vector-effect="non-scaling-stroke"/>`, days, v, v)
	}
	b.WriteString(`</svg>` + labels.String())
	if c.limit != nil {
		fmt.Fprintf(&b, `<text class="note" x="100%%" y="%.1f" text-anchor="end">%s</text>`, y(c.scale.of(*c.limit))-5, html.EscapeString(c.limitName))
	}
	for i, p := range c.pins {
		x := at(p.at)
		if x < gutter || x > 100 {
			continue
		}
		fmt.Fprintf(&b, `<line class="tick" x1="%.2f%%" x2="%.2f%%" y1="%.1f" y2="%.1f"/>`, x, x, top-8-pinRow*float64(rows[i]), base)
		anchor := "start"
		switch {
		case x > 70:
			anchor = "end"
		case x > 30:
			anchor = "middle"
		}
		fmt.Fprintf(&b, `<text class="note" x="%.2f%%" y="%.1f" text-anchor="%s">%s</text>`, x, top-12-pinRow*float64(rows[i]), anchor, html.EscapeString(p.text))
	}
	fmt.Fprintf(&b, `<line class="hover" visibility="hidden" x1="0" x2="0" y1="%.0f" y2="%.1f"/>`, top, base)
	b.WriteString(`</svg><p class="readout" aria-live="polite"></p>`)
	b.WriteString(c.readout(days))
	b.WriteString(`</figure>`)
	return template.HTML(b.String())
}

// draw one stroke in the plot, a day wide each value.
func (c chart) draw(b *strings.Builder, s stroke, y func(float64) float64) {
	class := strings.TrimSpace("line " + s.class)
	switch {
	case s.low != nil:
		class = strings.TrimSpace("band " + s.class)
		fmt.Fprintf(b, `<path class="%s" d="`, class)
		for i, v := range s.value {
			fmt.Fprintf(b, "%s%.1f %.1f", moveOr(i), float64(i)+.5, y(v))
		}
		for i := len(s.low) - 1; i >= 0; i-- {
			fmt.Fprintf(b, "L%.1f %.1f", float64(i)+.5, y(s.low[i]))
		}
		b.WriteString(`Z"/>`)
	case s.bars:
		class = strings.TrimSpace("bar " + s.class)
		fmt.Fprintf(b, `<path class="%s" d="`, class)
		for i, v := range s.value {
			if v != 0 {
				fmt.Fprintf(b, "M%d %.1fV%.1fh1V%.1fz", i, y(0), y(v), y(0))
			}
		}
		b.WriteString(`"/>`)
	default:
		fmt.Fprintf(b, `<path class="%s" vector-effect="non-scaling-stroke" d="`, class)
		for i, v := range s.value {
			fmt.Fprintf(b, "%s%.1f %.1f", moveOr(i), float64(i)+.5, y(v))
		}
		b.WriteString(`"/>`)
	}
}

func moveOr(i int) string {
	if i == 0 {
		return "M"
	}
	return "L"
}

func (c chart) legend() string {
	var b strings.Builder
	b.WriteString(`<ul class="legend">`)
	for _, s := range c.strokes {
		if s.name == "" {
			continue
		}
		b.WriteString(`<li><svg class="chart" width="26" height="12" aria-hidden="true">`)
		switch {
		case s.low != nil:
			fmt.Fprintf(&b, `<rect class="band %s" width="26" height="12"/>`, s.class)
		case s.bars:
			fmt.Fprintf(&b, `<rect class="bar %s" width="26" height="12"/>`, s.class)
		default:
			fmt.Fprintf(&b, `<line class="line %s" x1="0" x2="26" y1="6" y2="6"/>`, s.class)
		}
		fmt.Fprintf(&b, `</svg>%s</li>`, html.EscapeString(s.name))
	}
	b.WriteString(`</ul>`)
	return b.String()
}

// readout is what the script reads values from.
func (c chart) readout(days int) string {
	type line struct {
		Name   string   `json:"name"`
		Values []string `json:"values"`
	}
	data := struct {
		Gutter float64  `json:"gutter"` // share of the width
		Labels []string `json:"labels"`
		Series []line   `json:"series"`
	}{Gutter: gutter / 100}
	for i := range days {
		data.Labels = append(data.Labels, c.first.AddDate(0, 0, i).Format("2 January"))
	}
	for _, s := range c.strokes {
		if s.quiet || s.name == "" || len(s.value) < days {
			continue
		}
		l := line{Name: strings.ToLower(s.name[:1]) + s.name[1:]}
		if strings.HasPrefix(s.name, "CO2") {
			l.Name = s.name
		}
		for i, v := range s.value {
			text := fmt.Sprintf("%.*f", c.scale.digits, c.scale.of(v))
			if s.low != nil {
				text = fmt.Sprintf("%.*f to %s", c.scale.digits, c.scale.of(s.low[i]), text)
			}
			l.Values = append(l.Values, strings.ReplaceAll(text, "-", "−")+" "+c.scale.unit)
		}
		data.Series = append(data.Series, l)
	}
	text, err := json.Marshal(data)
	if err != nil { // strings alone cannot fail
		return ""
	}
	return `<template>` + html.EscapeString(string(text)) + `</template>`
}
