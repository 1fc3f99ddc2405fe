// Package report makes the page to pin up in the shed: of one hive or a yard, as
// PDF or HTML, the answer in a sentence, the hive cut open in its worst hours,
// the year in charts, what to do and cut and when, and what all of it rests on.
//
// Gather is plain data that a caller fills; the same content goes to both forms.
// In PDF text can be selected and its fonts are embedded; the library that writes
// it knows no tags, so that the HTML is the form for a screen reader.
package report

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"hackle/almanac"
	"hackle/change"
	"hackle/ensemble"
	"hackle/hive"
	"hackle/internal/answer"
	"hackle/internal/cutaway"
	"hackle/ledger"
	"hackle/price"
	"hackle/quantity"
	"hackle/workshop"
)

// Report is what is told of a yard.
type Report struct {
	Title   string // of the yard, or empty
	Weather string
	Source  string // of the weather
	Made    time.Time
	From    time.Time // first day of the runs
	To      time.Time // last day
	Hives   []Hive
	System  quantity.System
}

// Hive is what is told of one hive. Ledger and Plan are needed; the rest is left
// out when it is not there.
type Hive struct {
	Plan     hive.Plan
	Ledger   ledger.Ledger
	Year     *cutaway.Year       // for pictures and charts
	Months   []ledger.WaterMonth //
	Range    *ensemble.Range     // over many draws
	Change   *Change             // what is planned
	Work     *workshop.Work      // what has to be cut
	Calendar *almanac.Calendar   //
	Notes    []string
}

// Change is a planned set of changes with the run of the hive as it will be.
type Change struct {
	Set    change.Set
	Result change.Result
	After  ledger.Ledger
	Cost   change.Cost
	Prices *price.Table
}

// kind of a block.
type kind int

const (
	heading kind = iota // level 1 to 3
	lead                // the answer
	para
	small
	list
	table
	picture
	figure  // a chart
	drawing // of the workshop
	caution
	pageBreak
)

// block is a piece of the report, the same for both forms.
type block struct {
	kind    kind
	level   int
	text    string
	items   []string
	head    []string
	rows    [][]string
	widths  []float64 // of columns, as shares
	right   []bool    // columns of figures
	svgs    [][]byte  // pictures side by side
	alts    []string
	caption []string
	pixels  int // width of each picture when drawn in dots
	chart   *chart
	drawing workshop.Drawing
}

type content struct {
	blocks []block
	system quantity.System
}

func (c *content) add(b block)              { c.blocks = append(c.blocks, b) }
func (c *content) h(level int, text string) { c.add(block{kind: heading, level: level, text: text}) }
func (c *content) p(text string) {
	if text != "" {
		c.add(block{kind: para, text: text})
	}
}
func (c *content) list(items []string) {
	if len(items) > 0 {
		c.add(block{kind: list, items: items})
	}
}

func (c *content) mass(kg float64) string   { return quantity.Format(kg, quantity.Mass, c.system) }
func (c *content) length(m float64) string  { return quantity.Format(m, quantity.Length, c.system) }
func (c *content) measure(m float64) string { return workshop.Measure(m, c.system) }

// content is the whole report as blocks.
func (r Report) content() (content, error) {
	c := content{system: r.System}
	switch {
	case len(r.Hives) == 0:
		return c, fmt.Errorf("a report needs a hive")
	case len(r.Hives) == 1:
		if err := c.hive(r, r.Hives[0], 0); err != nil {
			return c, err
		}
	default:
		c.yard(r)
		for i, h := range r.Hives {
			c.add(block{kind: pageBreak})
			if err := c.hive(r, h, i); err != nil {
				return c, err
			}
		}
		for _, h := range r.Hives { // one calendar for the yard
			if h.Calendar != nil {
				c.add(block{kind: pageBreak})
				c.dates(h)
				c.p("Made for " + h.Plan.Hive.Name + "; the other hives of the yard have the same weather. hackle calendar makes one for each.")
				break
			}
		}
	}
	c.closing(r)
	return c, nil
}

// name of the report.
func (r Report) name() string {
	switch {
	case r.Title != "":
		return r.Title
	case len(r.Hives) > 0:
		return r.Hives[0].Plan.Hive.Name
	}
	return "hackle"
}

// yard is the first page of several hives.
func (c *content) yard(r Report) {
	c.h(1, r.name())
	through, short := 0, []string{}
	for _, h := range r.Hives {
		if h.Ledger.Verdict() == "yes" {
			through++
		} else {
			short = append(short, h.Plan.Hive.Name)
		}
	}
	text := fmt.Sprintf("%d of %d hives come through on their honey in this run.", through, len(r.Hives))
	if len(short) > 0 {
		text += " Look first at " + strings.Join(short, ", ") + "."
	}
	c.add(block{kind: lead, text: text})
	c.p(fmt.Sprintf("Weather of %s, %s.", r.Weather, answer.Period(r.From, r.To)))
	t := block{kind: table, head: []string{"Hive", "Comes through", "Burned", "Left", "Water overhead", "Longest shut in", "Combs"}, widths: []float64{0.26, 0.12, 0.12, 0.12, 0.14, 0.13, 0.11}, right: []bool{false, false, true, true, true, true, false}}
	for _, h := range r.Hives {
		l := h.Ledger
		comb := "none"
		if l.Comb != nil {
			comb = map[string]string{"holds": "hold", "near": "near the limit", "falls": "fall"}[l.Comb.Class]
		}
		t.rows = append(t.rows, []string{h.Plan.Hive.Name, l.Verdict(), c.mass(l.Honey.Burned), c.mass(l.Honey.Left), fmt.Sprintf("%.0f h", l.Water.OverheadHours), fmt.Sprintf("%.0f h", l.Confinement.Longest), comb})
	}
	c.add(t)
}

// keys of the ledger that the first table tells, in this order; those that do not
// apply are left out.
var keys = []string{
	"honey.start_kg", "honey.burned_kg", "honey.left_kg", "honey.least_kg", "winter.honey_burned_kg",
	"bees.heat_mean_W", "bees.peak_day_share_of_limit", "warmth.under_lid_mean_C", "water.overhead_hours", "water.overhead_peak_kg",
	"confinement.longest_hours", "confinement.isolation_hours", "reach_min_days", "co2_peak_percent",
	"summer.nest_max_C", "summer.comb_max_C", "summer.water_hauled_L", "summer.outside_hours", "comb.share_of_strength",
}

func (c *content) hive(r Report, h Hive, index int) error {
	l := h.Ledger
	c.h(1, h.Plan.Hive.Name)
	answered, more, _ := strings.Cut(l.Answer(r.System), "; ")
	c.add(block{kind: lead, text: strings.TrimSuffix(answered, ".") + "."})
	if more != "" {
		c.p(strings.ToUpper(more[:1]) + more[1:])
	}
	where := h.Plan.Site.Name
	if where != "" {
		where += ", "
	}
	c.p(fmt.Sprintf("%scomputed with the weather of %s, %s.", where, r.Weather, answer.Period(r.From, r.To)))
	if h.Range != nil {
		c.p("Over many draws: " + h.Range.Answer(r.System) + " " + ensemble.Caution)
	}
	c.p(ledger.OneRun)

	// Pictures of the worst hours.
	if h.Year != nil {
		c.pictures(r, h, index)
	}
	c.h(2, "The numbers")
	byKey := map[string]ledger.Line{}
	for _, n := range ledger.Lines() {
		byKey[n.Key] = n
	}
	t := block{kind: table, head: []string{"", "", "when", "what it is"}, widths: []float64{0.27, 0.14, 0.17, 0.42}, right: []bool{false, true, false, false}}
	for _, key := range keys {
		n, ok := byKey[key]
		if !ok {
			continue
		}
		v, ok := n.Value(&l)
		if !ok || !n.Shown(&l) {
			continue
		}
		label := n.Name
		if label == "" {
			label = strings.TrimSpace(string(n.Section) + ": " + strings.TrimSpace(n.Label))
		}
		label = strings.ToUpper(label[:1]) + label[1:]
		when := ""
		if at := n.At(&l); !at.IsZero() {
			when = at.Format("2 Jan 2006")
		}
		t.rows = append(t.rows, []string{label, n.Format(v, r.System), when, n.Meaning})
	}
	c.add(t)
	if h.Range != nil {
		c.ranges(h.Range)
	}
	if h.Year != nil {
		c.charts(h, len(r.Hives) > 1)
	}
	if len(r.Hives) == 1 {
		c.water(h)
	}
	c.plan(r, h)
	c.cut(h)
	if len(r.Hives) == 1 {
		c.dates(h)
	}
	c.assumptions(h)
	return nil
}

// pictures are the hive in its worst winter and summer hours.
func (c *content) pictures(r Report, h Hive, index int) {
	b := block{kind: picture, pixels: 760}
	if len(r.Hives) > 1 { // many pictures, in one file
		b.pixels = 480
	}
	add := func(id, title string, hour int) {
		svg, err := h.Year.Draw(hour, cutaway.Options{Section: cutaway.Along, Units: r.System, Alone: true, ID: fmt.Sprintf("cut%d%s", index, id)})
		if err != nil {
			return
		}
		b.svgs = append(b.svgs, svg)
		b.alts = append(b.alts, h.Year.Describe(hour, r.System))
		b.caption = append(b.caption, title+". "+h.Year.Sentence(hour, r.System))
	}
	if hour, why, ok := worstWinter(h); ok {
		add("w", why, hour)
	}
	if hour, why, ok := worstSummer(h); ok {
		add("s", why, hour)
	}
	if len(b.svgs) > 0 {
		if len(b.svgs) > 1 {
			c.h(2, "The worst hours")
		} else {
			c.h(2, "The worst hour")
		}
		c.add(b)
	}
}

// worstWinter is the hour with most water overhead where there is any to speak of,
// else the coldest hour of the coldest week.
func worstWinter(h Hive) (hour int, why string, ok bool) {
	l := h.Ledger
	most, at := 0.0, -1
	for i := range h.Year.Hours() {
		if v, ok := h.Year.Value("water.overhead", i); ok && v > most {
			most, at = v, i
		}
	}
	if at >= 0 && most > 0.05 {
		return at, "Most water above the bees, " + h.Year.Time(at).Format("2 January, 15:04"), true
	}
	if l.ColdestWeek == nil {
		return 0, "", false
	}
	zone := h.Year.Time(0).Location()
	from, to := h.Year.Hour(l.ColdestWeek.From.In(zone)), h.Year.Hour(l.ColdestWeek.To.In(zone).AddDate(0, 0, 1))
	coldest, at := math.Inf(1), -1
	for i := from; i < to; i++ {
		if v, ok := h.Year.Value("outdoor.temp", i); ok && v < coldest {
			coldest, at = v, i
		}
	}
	if at < 0 {
		return 0, "", false
	}
	return at, "The coldest hour, " + h.Year.Time(at).Format("2 January, 15:04"), true
}

func worstSummer(h Hive) (hour int, why string, ok bool) {
	s := h.Ledger.Summer
	if h.Ledger.Hot() && !s.CombMaxAt.IsZero() {
		return h.Year.Hour(s.CombMaxAt), "The hottest comb, " + s.CombMaxAt.Format("2 January, 15:04"), true
	}
	return 0, "", false
}

// charts are the year in lines; a brief one tells of honey and temperatures alone.
func (c *content) charts(h Hive, brief bool) {
	start := h.Year.Time(0)
	temp := func(v []float64) []float64 {
		if c.system != quantity.US {
			return v
		}
		out := make([]float64, len(v))
		for i, x := range v {
			out[i] = x*1.8 + 32
		}
		return out
	}
	unit, per := "kg", 1.0
	tempUnit := "°C"
	if c.system == quantity.US {
		unit, per, tempUnit = "lb", 1/0.45359237, "°F"
	}
	scaled := func(v []float64, f float64) []float64 {
		out := make([]float64, len(v))
		for i, x := range v {
			out[i] = f * x
		}
		return out
	}
	c.h(2, "The year")
	if honey := h.Year.Daily("honey.left"); honey != nil {
		c.add(block{kind: figure, chart: &chart{title: "Honey in the hive", unit: unit, start: start, zero: true, lines: []line{{"honey", scaled(honey, per), 0.5, nil, ink}}}})
	}
	out, air, lid := h.Year.Daily("outdoor.temp"), h.Year.Daily("bees.air"), h.Year.Daily("air.under_lid")
	if out != nil && lid != nil {
		lines := []line{{"outdoors", temp(out), 0.35, nil, blue}, {"under the lid", temp(lid), 0.35, []float64{2, 1}, brown}}
		if air != nil {
			lines = append(lines, line{"beside the bees", temp(air), 0.5, nil, ink})
		}
		c.add(block{kind: figure, chart: &chart{title: "Temperatures, means of the days", unit: tempUnit, start: start, lines: lines}})
	}
	if heat := h.Year.Daily("bees.heat"); heat != nil && !brief {
		c.add(block{kind: figure, chart: &chart{title: "Heat of the bees, means of the days", unit: "W", start: start, zero: true, lines: []line{{"heat", heat, 0.45, nil, brown}}}})
	}
}

func (c *content) ranges(g *ensemble.Range) {
	c.h(2, fmt.Sprintf("Between which numbers: %d draws", g.Draws))
	t := block{kind: table, head: []string{"", "one in ten below", "middle", "nine in ten below"}, widths: []float64{0.4, 0.2, 0.2, 0.2}, right: []bool{false, true, true, true}}
	byKey := map[string]ledger.Line{}
	for _, n := range ledger.Lines() {
		byKey[n.Key] = n
	}
	for _, key := range keys {
		for _, x := range g.Lines {
			n := byKey[key]
			if x.Key != key || x.Draws < g.Draws/2 {
				continue
			}
			t.rows = append(t.rows, []string{strings.ToUpper(x.Label[:1]) + x.Label[1:], n.Format(x.P10.Value, c.system), n.Format(x.P50.Value, c.system), n.Format(x.P90.Value, c.system)})
		}
	}
	c.add(t)
	c.p(fmt.Sprintf("Runs out of honey in %.0f of 100 draws; too much water above the cluster in %.0f; a comb falls in %.0f. %s", 100*g.Starve.Value, 100*g.Overhead.Beyond.Value, 100*g.CombFalls.Value, ensemble.Caution))
}

func (c *content) water(h Hive) {
	if len(h.Months) == 0 {
		return
	}
	c.h(2, "Water")
	var b bytes.Buffer
	if err := ledger.WaterPicture(&b, h.Plan.Hive.Name+": where the water went", h.Months, c.system); err == nil {
		c.add(block{kind: picture, svgs: [][]byte{b.Bytes()}, alts: []string{"Where the water of the run went, as bands as broad as the amounts"}, caption: []string{"Where the water went, over the whole run"}, pixels: 820})
	}
	byKey := map[string]string{}
	for _, x := range h.Ledger.Readings(c.system) {
		byKey[x.Key] = x.Text
	}
	var items []string
	for _, k := range []string{"water.overhead_hours", "water.overhead_peak_kg", "water.vented_kg", "water.mould_hours"} {
		if t := byKey[k]; t != "" {
			items = append(items, t)
		}
	}
	c.list(items)
}

// plan is what is planned and what it does.
func (c *content) plan(r Report, h Hive) {
	p := h.Change
	if p == nil {
		return
	}
	c.h(2, "The plan")
	var did []string
	for _, s := range p.Result.Steps {
		did = append(did, s.Effect.Did)
	}
	c.list(did)
	before, after := h.Ledger, p.After
	before.Hive, after.Hive = "the hive as it is", "the hive as planned"
	d := ledger.DifferenceIn(before, after, r.System)
	c.p(strings.TrimSpace(d.Honey + " " + d.Overhead + " " + d.Summer))
	t := block{kind: table, head: []string{"", "as it is", "as planned", "difference"}, widths: []float64{0.43, 0.19, 0.19, 0.19}, right: []bool{false, true, true, true}}
	byKey := map[string]ledger.Line{}
	for _, n := range ledger.Lines() {
		byKey[n.Key] = n
	}
	for _, row := range d.Rows {
		if !slices.Contains(keys, row.Key) {
			continue
		}
		n := byKey[row.Key]
		t.rows = append(t.rows, []string{strings.ToUpper(row.Name[:1]) + row.Name[1:], n.Format(row.A, r.System), n.Format(row.B, r.System), n.FormatDifference(row.Difference, r.System)})
	}
	c.add(t)
	if p.Prices != nil {
		once, yearly := p.Result.Hours()
		text := fmt.Sprintf("First cost %s, each year %s; %.1f hours of work at first, %.1f each year.", p.Prices.Money(p.Cost.First()), p.Prices.Money(p.Cost.EachYear()), once, yearly)
		if p.Prices.Invented {
			text += " The prices are invented examples: put your own in a price file."
		}
		c.p(text)
	}
	c.p("Both runs have the same weather and bees. A difference that is small beside what winters and colonies differ is no difference.")
}

// cut is the cut list.
func (c *content) cut(h Hive) {
	if h.Work == nil || len(h.Work.Jobs) == 0 {
		return
	}
	l := h.Work.List()
	c.h(2, "To cut and buy")
	for i, j := range h.Work.Jobs {
		c.h(3, strings.ToUpper(j.Title[:1])+j.Title[1:])
		c.p(j.Purpose)
		if d := workshop.DrawSection(j, c.system); len(d.Paths) > 0 {
			c.add(block{kind: drawing, drawing: d, text: strings.ToUpper(d.Title[:1]) + d.Title[1:] + ". " + d.Note})
		}
		t := block{kind: table, head: []string{"n", "part", "length", "width", "thick", "material, note"}, widths: []float64{0.05, 0.24, 0.13, 0.13, 0.11, 0.34}, right: []bool{true, false, true, true, true, false}}
		for _, p := range l.Jobs[i].Parts {
			note := p.Material
			if p.CutLength != p.Length {
				note += fmt.Sprintf("; cut %s × %s", c.measure(p.CutLength), c.measure(p.CutWidth))
			}
			if p.Drill {
				note += "; there already, drill only"
			}
			if p.Note != "" {
				note += "; " + p.Note
			}
			t.rows = append(t.rows, []string{fmt.Sprint(p.Count), p.Name, c.measure(p.Length), c.measure(p.Width), c.measure(p.Thickness), note})
		}
		c.add(t)
		steps := make([]string, len(j.Steps))
		for k, s := range j.Steps {
			steps[k] = fmt.Sprintf("%d. %s", k+1, s)
		}
		c.list(steps)
		var bad []string
		for _, x := range l.Jobs[i].Checks {
			if !x.Holds {
				bad = append(bad, fmt.Sprintf("Does not fit: %s, %s; wanted %s.", x.Name, x.Found, x.Wanted))
			}
		}
		if len(bad) > 0 {
			c.add(block{kind: caution, items: bad})
		} else {
			c.p(fmt.Sprintf("All %d checks of the fit hold.", len(j.Checks)))
		}
	}
	t := block{kind: table, head: []string{"to buy", "amount", "cost"}, widths: []float64{0.55, 0.25, 0.2}, right: []bool{false, true, true}}
	for _, s := range l.Stock {
		sizes := map[string]int{}
		var order []string
		for _, x := range s.Sheets {
			size := fmt.Sprintf("%s × %s", c.measure(x.Length), c.measure(x.Width))
			if sizes[size]++; sizes[size] == 1 {
				order = append(order, size)
			}
		}
		for k, size := range order {
			cost := ""
			if k == 0 {
				cost = fmt.Sprintf("%.2f %s", s.Cost, l.Currency)
			}
			t.rows = append(t.rows, []string{fmt.Sprintf("%s %s, %s", s.Material, c.measure(s.Thickness), size), fmt.Sprint(sizes[size]), cost})
		}
	}
	for _, i := range l.Buy {
		amount := fmt.Sprintf("%g", i.Amount)
		if i.Unit == "m³" {
			amount = quantity.Format(i.Amount, quantity.Volume, c.system)
		}
		name := i.Name
		if i.Length > 0 {
			name += " " + c.measure(i.Length)
		}
		cost := "no price"
		if i.Stock != "" {
			cost = fmt.Sprintf("%.2f %s", i.Cost, l.Currency)
		}
		t.rows = append(t.rows, []string{name, amount, cost})
	}
	t.rows = append(t.rows, []string{"together, whole sheets and packs", "", fmt.Sprintf("%.2f %s", l.Cost, l.Currency)})
	c.add(t)
	if l.Invented {
		c.p("The prices are invented examples: put your own in a price file.")
	}
	var loads []string
	for _, x := range l.Loads {
		if x.Heavy {
			loads = append(loads, fmt.Sprintf("%s: about %s", x.What, c.mass(x.Mass)))
		}
	}
	if len(loads) > 0 {
		c.p(fmt.Sprintf("Heavier than %s, the caution for one person: %s.", c.mass(workshop.LiftCaution), strings.Join(loads, "; ")))
	}
	c.add(block{kind: caution, items: l.Cautions()})
}

// dates is the calendar.
func (c *content) dates(h Hive) {
	cal := h.Calendar
	if cal == nil || len(cal.Entries) == 0 {
		return
	}
	c.h(2, "The calendar")
	var strip bytes.Buffer
	if cal.WriteStrip(&strip) == nil {
		c.add(block{kind: picture, svgs: [][]byte{strip.Bytes()}, alts: []string{"The year as a strip; the table below says the same"}, caption: []string{""}, pixels: 1100})
	}
	t := block{kind: table, head: []string{"day", "range", "what", "why"}, widths: []float64{0.13, 0.17, 0.26, 0.44}, right: []bool{false, false, false, false}}
	for _, e := range cal.Entries {
		day := e.Date.Format("2 Jan 2006")
		rang := ""
		switch {
		case !e.Until.IsZero() && e.Until.After(e.Date):
			rang = "until " + e.Until.Format("2 Jan")
		case !e.Early.IsZero() && !e.Early.Equal(e.Late):
			rang = e.Early.Format("2 Jan") + " to " + e.Late.Format("2 Jan")
		}
		why := e.Reason
		if len(e.Do) > 0 {
			why += " " + strings.Join(e.Do, " ")
		}
		t.rows = append(t.rows, []string{day, rang, e.Title, why})
	}
	c.add(t)
	c.p("Dates rest on " + cal.Basis + ". The range is that of eight years in ten.")
}

// assumptions say what the run rests on.
func (c *content) assumptions(h Hive) {
	c.h(2, "What it rests on")
	d := answer.Describe(h.Plan)
	var items []string
	for _, b := range d.Bodies {
		items = append(items, fmt.Sprintf("Body %s: inside %s × %s × %s high, %d frames.", b.Name, c.length(b.Length/1000), c.length(b.Width/1000), c.length(b.Height/1000), b.Frames))
	}
	for _, s := range d.Shell {
		items = append(items, fmt.Sprintf("%s: %s; U %s.", strings.ToUpper(s.Part[:1])+s.Part[1:], s.Layers, quantity.Format(s.Transmitted, quantity.Transmittance, c.system)))
	}
	for _, o := range d.Openings {
		items = append(items, fmt.Sprintf("%s: %s in the %s, %s above the floor.", strings.ToUpper(o.Name[:1])+o.Name[1:], quantity.Format(o.Area*1e-4, quantity.Area, c.system), o.Face, c.length(o.Sill/1000)))
	}
	if len(d.Openings) == 0 {
		items = append(items, "No openings.")
	}
	colony := "Colony: "
	if d.Bees > 0 {
		colony += fmt.Sprintf("%s of bees and %s of honey", c.mass(d.Bees), c.mass(d.Honey))
		if d.Date != "" {
			colony += " on " + d.Date
		}
	} else {
		colony += "the usual for the place"
	}
	items = append(items, colony+".")
	s := h.Plan.Site
	place := "Site: "
	if s.HasPlace {
		place += fmt.Sprintf("%.2f°, %.2f°, %s above the sea; ", s.Latitude, s.Longitude, c.length(s.Height))
	}
	if s.Exposure != "" {
		place += "wind " + string(s.Exposure) + "; "
	}
	items = append(items, fmt.Sprintf("%s%.0f %% shade.", place, 100*s.Shade))
	c.list(items)
	if len(h.Notes) > 0 {
		c.h(3, "Notes")
		c.list(h.Notes)
	}
	if len(h.Ledger.Warnings) > 0 {
		c.h(3, "Warnings of the run")
		c.list(h.Ledger.Warnings)
	}
}

// closing says how it is known, and cautions.
func (c *content) closing(r Report) {
	c.h(2, "How we know")
	worst := 0.0
	for _, h := range r.Hives {
		x := h.Ledger.Closure
		for _, v := range []float64{x.Heat, x.Vapour, x.CO2, x.Air, x.Honey} {
			worst = max(worst, math.Abs(v))
		}
	}
	c.p(fmt.Sprintf("Air flow, heat, vapour, water, carbon dioxide and honey are computed hour by hour from the hive as described; the balances close to %.2g %% of their throughput or better. Checks against published figures are in docs/verification.md, what is left out in docs/limits.md, numbers of bees and materials with their sources in docs/sources.md. Measured hives stand beside computed ones there, misses as they are.", 100*worst))
	c.p(fmt.Sprintf("Weather: %s. %s", r.Weather, r.Source))
	c.h(2, "Cautions")
	c.add(block{kind: caution, items: []string{
		"Local rules and licensed practice come first. This computes; it does not see your bees.",
		"Never close every opening of a living colony. Do not open a colony in the cold.",
		"Do not add, open or close vents because of one run. The computed honey is no feeding rule.",
		"Full boxes are too heavy for one: take frames out, or lift with two.",
		"Stings can kill: carry a phone, do not work alone, use prescribed medicine, call the emergency number.",
		"Medicines only as their label says. Register the apiary, and report notifiable diseases, where the law asks for it.",
	}})
	c.add(block{kind: small, text: "Made by hackle on " + r.Made.Format("2 January 2006") + "."})
}
