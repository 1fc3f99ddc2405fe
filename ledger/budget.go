package ledger

import (
	"bufio"
	"fmt"
	"html"
	"io"
	"math"
	"time"

	"hackle/quantity"
	"hackle/season"
)

// WaterMonth is the water of one calendar month: what came in, where it went and
// what stayed: Produced + Rain = Vented + Through + Drained + Drunk + Faces +
// Shell + Stores, but for the vapour in the hive's air, some grams.
type WaterMonth struct {
	Month string `json:"month"` // "2026-01"

	Produced float64 `json:"produced_kg"` // vapour of bees, nectar and spread water
	Rain     float64 `json:"rain_kg"`     // drawn in by unpainted outer faces
	Vented   float64 `json:"vented_kg"`   // carried out by air, less what air brought in
	Through  float64 `json:"through_shell_kg"`
	Drained  float64 `json:"drained_kg"` // ran out
	Drunk    float64 `json:"drunk_kg"`   // by bees, from wet faces; they breathe it out again
	Faces    float64 `json:"faces_kg"`   // more water and ice on inner faces at the end
	Shell    float64 `json:"shell_kg"`   // more water in wood and insulation at the end

	Stores float64 `json:"stores_kg"` // more water in open honey and pollen at the end

	Wanted        float64 `json:"brood_wanted_kg"` // by brood beyond what honey brings
	OverheadHours float64 `json:"overhead_hours"`
}

// WaterMonths returns the water budget of a run by calendar month.
func WaterMonths(tr *season.Trace) []WaterMonth {
	hourly := func(name string) []float64 {
		if values := tr.Get(name); values != nil {
			return values
		}
		return make([]float64, tr.Hours) // a run without it has none of it
	}
	produced, rain, wanted := hourly("water.produced"), hourly("water.rain"), hourly("water.wanted")
	vented, through := hourly("water.vented"), hourly("water.through_shell")
	drained, drunk := hourly("water.drained"), hourly("water.drunk")
	overhead, shell, stores := hourly("water.overhead"), hourly("water.shell"), hourly("water.stores")
	faces := make([]float64, tr.Hours)
	for _, name := range []string{"water.lid", "water.walls", "water.floor", "water.combs"} {
		for h, kg := range hourly(name) {
			faces[h] += kg
		}
	}
	var out []WaterMonth
	for h := range tr.Hours {
		month := tr.Time(h).Format("2006-01")
		if len(out) == 0 || out[len(out)-1].Month != month {
			out = append(out, WaterMonth{Month: month})
		}
		m := &out[len(out)-1]
		m.Produced += produced[h]
		m.Rain += rain[h]
		m.Vented += vented[h]
		m.Through += through[h]
		m.Drained += drained[h]
		m.Drunk += drunk[h]
		m.Wanted += wanted[h]
		if overhead[h] > OverheadLeast {
			m.OverheadHours++
		}
		if h == 0 { // the shell's water at the start is not in the trace
			m.Faces += faces[0]
			continue
		}
		m.Faces += faces[h] - faces[h-1]
		m.Shell += shell[h] - shell[h-1]
		m.Stores += stores[h] - stores[h-1]
	}
	return out
}

// massUnit is the unit that tables and pictures of a system show, and its size [kg].
func massUnit(system quantity.System) (symbol string, kg float64) {
	if system == quantity.US {
		return "lb", 0.45359237 // the avoirdupois pound, exact by definition
	}
	return "kg", 1
}

// WriteWaterTable prints the budget, 80 columns wide, in kilograms or pounds.
func WriteWaterTable(w io.Writer, months []WaterMonth, system quantity.System) error {
	b := bufio.NewWriter(w)
	unit, per := massUnit(system)
	fmt.Fprintf(b, "%-9s %6s %6s %7s %7s %7s %7s %6s %7s %7s\n", unit, "given", "", "", "", "", "", "on", "in", "in")
	fmt.Fprintf(b, "%-9s %6s %6s %7s %7s %7s %7s %6s %7s %7s\n", "", "off", "rain", "vented", "through", "ran out", "drunk", "faces", "wood", "stores")
	var sum WaterMonth
	row := func(name string, m WaterMonth) {
		fmt.Fprintf(b, "%-9s %6.2f %6.2f %7.2f %7.2f %7.2f %7.2f %+6.2f %+7.2f %+7.2f\n", name, m.Produced/per, m.Rain/per, m.Vented/per, m.Through/per, m.Drained/per, m.Drunk/per, m.Faces/per, m.Shell/per, m.Stores/per)
	}
	for _, m := range months {
		name := m.Month
		if t, err := time.Parse("2006-01", m.Month); err == nil {
			name = t.Format("Jan 2006")
		}
		row(name, m)
		sum.Produced += m.Produced
		sum.Rain += m.Rain
		sum.Vented += m.Vented
		sum.Through += m.Through
		sum.Drained += m.Drained
		sum.Drunk += m.Drunk
		sum.Faces += m.Faces
		sum.Shell += m.Shell
		sum.Stores += m.Stores
	}
	row("in all", sum)
	return b.Flush()
}

// WaterPicture draws where a run's water went, as bands as broad as the amounts:
// from what was given off on the left to the ways out and the stores on the
// right. It is an SVG that reads in light and dark and carries a description.
func WaterPicture(w io.Writer, title string, months []WaterMonth, system quantity.System) error {
	unit, per := massUnit(system)
	var produced, drunk, rain float64
	amounts := map[string]float64{}
	order := []string{"carried out by air", "through the shell", "ran out", "left on faces", "taken up by wood", "taken up by stores"}
	reverse := []string{"brought in by air", "in through the shell", "run in", "from wet faces", "given up by wood", "given up by stores"}
	for _, m := range months {
		produced += m.Produced
		drunk += m.Drunk
		rain += m.Rain
		amounts[order[0]] += m.Vented
		amounts[order[1]] += m.Through
		amounts[order[2]] += m.Drained
		amounts[order[3]] += m.Faces
		amounts[order[4]] += m.Shell
		amounts[order[5]] += m.Stores
	}
	// Water that was there at the start and left counts as coming in; what bees
	// drank they breathe out again and it is in what was given off already.
	type band struct {
		name string
		kg   float64
	}
	var in, out []band
	in = append(in, band{"given off inside", produced - drunk})
	if rain > 0.005 {
		in = append(in, band{"rain into bare wood", rain})
	}
	for i, name := range order {
		switch kg := amounts[name]; {
		case kg > 0.005:
			out = append(out, band{name, kg})
		case kg < -0.005:
			in = append(in, band{reverse[i], -kg})
		}
	}
	total := 0.0
	for _, x := range in {
		total += x.kg
	}
	if !(total > 0) || math.IsInf(total, 0) {
		return fmt.Errorf("ledger: no water to draw")
	}
	const (
		width, left, right = 640.0, 190.0, 450.0
		top, span, gap     = 56.0, 240.0, 14.0
	)
	scale := span / total
	// A thin band stands in a slot that leaves room for its two lines of text.
	slot := func(kg float64) float64 { return max(kg*scale, 36) }
	side := func(bands []band) float64 {
		sum := gap * float64(len(bands)-1)
		for _, x := range bands {
			sum += slot(x.kg)
		}
		return sum
	}
	tall := max(side(in), side(out), span)
	height := top + tall + 30
	b := bufio.NewWriter(w)
	fmt.Fprintf(b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.0f %.0f" role="img" aria-labelledby="t d">`+"\n", width, height)
	fmt.Fprintf(b, "<title id=\"t\">%s</title>\n<desc id=\"d\">Water:", html.EscapeString(title))
	for _, x := range in {
		fmt.Fprintf(b, " %.2f %s %s;", x.kg/per, unit, x.name)
	}
	fmt.Fprint(b, " of this")
	for _, x := range out {
		fmt.Fprintf(b, " %.2f %s %s;", x.kg/per, unit, x.name)
	}
	fmt.Fprint(b, "</desc>\n")
	fmt.Fprint(b, `<style>text{font:14px Georgia,serif;fill:#2b2620}.n{font-size:13px;font-variant-numeric:tabular-nums}.b{fill:#7f9fb5;fill-opacity:.55;stroke:#3d5566;stroke-width:.8}.p{fill:#faf7f0}@media(prefers-color-scheme:dark){text{fill:#e8e2d6}.p{fill:#201d19}.b{fill:#6d8ea6;stroke:#b7cbd9}}</style>`+"\n")
	fmt.Fprintf(b, `<rect class="p" width="%.0f" height="%.0f"/>`+"\n", width, height)
	// Long titles of hives shrink to the width instead of running over it.
	fit := ""
	if len([]rune(title)) > 78 {
		fit = fmt.Sprintf(` textLength="%.0f" lengthAdjust="spacingAndGlyphs"`, width-40)
	}
	fmt.Fprintf(b, `<text x="20" y="30"%s>%s</text>`+"\n", fit, html.EscapeString(title))
	// Stack both sides; the left edge of the flow is one body.
	body := top + (tall-span)/2
	next, cursor := top+(tall-side(in))/2, body
	for _, x := range in {
		h := x.kg * scale
		y := next + (slot(x.kg)-h)/2
		next += slot(x.kg) + gap
		fmt.Fprintf(b, `<path class="b" d="M%.1f %.1fC%.1f %.1f %.1f %.1f %.1f %.1fV%.1fC%.1f %.1f %.1f %.1f %.1f %.1fZ"/>`+"\n",
			left, y, left+60, y, left+70, cursor, left+130, cursor, cursor+h, left+70, cursor+h, left+60, y+h, left, y+h)
		fmt.Fprintf(b, `<text x="%.0f" y="%.1f" text-anchor="end">%s</text><text class="n" x="%.0f" y="%.1f" text-anchor="end">%.2f %s</text>`+"\n",
			left-10, y+h/2-2, x.name, left-10, y+h/2+15, x.kg/per, unit)
		cursor += h
	}
	next, cursor = top+(tall-side(out))/2, body
	for _, x := range out {
		h := x.kg * scale
		y := next + (slot(x.kg)-h)/2
		next += slot(x.kg) + gap
		fmt.Fprintf(b, `<path class="b" d="M%.1f %.1fC%.1f %.1f %.1f %.1f %.1f %.1fV%.1fC%.1f %.1f %.1f %.1f %.1f %.1fZ"/>`+"\n",
			left+130, cursor, right-60, cursor, right-70, y, right, y, y+h, right-70, y+h, right-60, cursor+h, left+130, cursor+h)
		fmt.Fprintf(b, `<text x="%.0f" y="%.1f">%s</text><text class="n" x="%.0f" y="%.1f">%.2f %s</text>`+"\n",
			right+10, y+h/2-2, x.name, right+10, y+h/2+15, x.kg/per, unit)
		cursor += h
	}
	fmt.Fprint(b, "</svg>\n")
	return b.Flush()
}
