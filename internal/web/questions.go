package web

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"hackle/comb"
	"hackle/ledger"
	"hackle/quantity"
)

// answerPage is a page that answers one question: a sentence, the picture, the
// numbers, and how they came about.
type answerPage struct {
	Sentence string
	More     []string // sentences after it
	Needs    []need   // of this question
	Charts   []chartBox
	Tables   []tableBox
	Grids    []gridBox
	How      []string // paragraphs on how it is computed
	Cautions []string
	Basis    basis
}

type chartBox struct {
	Chart   chart
	Caption string
}

type tableBox struct {
	Title string
	Lines []line
}

// gridBox is a table with several columns. The first column names the row.
type gridBox struct {
	Title, Note string
	Head        []string
	Rows        [][]string
}

// needsFor picks the needs of one page.
func (v *visit) needsFor(l *ledger.Ledger, tab string) (some []need) {
	for _, n := range v.needsOf(l) {
		if n.Tab == tab {
			some = append(some, n)
		}
	}
	return some
}

// question frames the answer to a question about the hive of the page.
func (v *visit) question(title, tab string, fill func(a *asked, r *result, p *answerPage)) (view, error) {
	a, r, err := v.answered()
	if err != nil {
		return view{}, err
	}
	p := answerPage{Basis: basisOf(a, r), Needs: v.needsFor(&r.Ledger, tab)}
	fill(a, r, &p)
	return view{Title: title, Place: "yard", Hive: headOf(a), Body: p}, nil
}

func showWinter(v *visit) (view, error) {
	return v.question("Winter", "winter", func(_ *asked, r *result, p *answerPage) {
		l, d := &r.Ledger, r.Daily
		p.Sentence = v.winterSentence(l)
		p.More = v.readings(l, "coldest_week.outdoors_mean_C", "confinement.longest_hours", "bees.heat_peak_day_W")
		stores := chart{id: "stores", title: "Honey left, day by day", text: p.Sentence, first: r.First, scale: scaleOf(quantity.Mass, v.system), zero: true, height: 240,
			strokes: []stroke{{name: "Honey left", class: "warm", value: d["honey.left"].Last}}}
		if l.Winter != nil {
			stores.pins = append(stores.pins, pin{l.Winter.To.Time, "end of winter"})
		}
		if !l.Honey.LeastAt.IsZero() && !l.Died() {
			stores.pins = append(stores.pins, pin{l.Honey.LeastAt, "least"})
		}
		if l.Starved() {
			stores.pins = append(stores.pins, pin{l.Honey.StarvedAt, "the last is eaten"})
		}
		heat := chart{id: "heat", title: "Heat of the bees", first: r.First, scale: scaleOf(quantity.Power, v.system), zero: true, height: 170,
			text:    "What the bees give off: the mean of each day, and up to its highest hour.",
			strokes: []stroke{{name: "Up to the highest hour", class: "warm", low: d["bees.heat"].Mean, value: d["bees.heat"].High, quiet: true}, {name: "Mean of the day", value: d["bees.heat"].Mean}}}
		if !l.Bees.PeakDay.IsZero() {
			heat.pins = []pin{{l.Bees.PeakDay.Time, "hardest day"}}
		}
		reach := chart{id: "reach", title: "Honey within reach", first: r.First, scale: scale{"d", func(x float64) float64 { return min(x, 60) }, 0}, zero: true, height: 150,
			text:    "How many days the honey in contact with the cluster lasts at that day's use, up to 60.",
			strokes: []stroke{{name: "Days that honey in contact lasts, up to 60", class: "warm", value: d["honey.reach"].Low}}}
		if !l.Confinement.From.IsZero() && l.Confinement.Longest >= 24 {
			reach.pins = []pin{{l.Confinement.From, fmt.Sprintf("too cold to move for %.0f days", l.Confinement.Longest/24)}}
		}
		p.Charts = []chartBox{
			{stores, "Where the line is flat the colony burns little."},
			{v.warmthChart(r), "The warm air lies on top; how far it reaches down depends on the shell and on the openings."},
			{heat, "Bees burn honey for heat; what they can keep up depends on their number."},
			{reach, "A cluster that is too cold to move lives on the honey that it touches."},
		}
		p.Tables = []tableBox{{"Honey", v.linesOf(l, ledger.Stores)}, {"Bees, cold and reach", v.linesOf(l, ledger.Work, ledger.Cold, ledger.Reach)}, {"Warmth, and where heat went", v.linesOf(l, ledger.Warm, ledger.HeatLost)}}
		p.How = []string{
			"The cluster must give off what it loses to the air and the walls around it: never less than bees at rest, never more than they can keep up. The honey that pays for it follows from the energy of its sugars. The cluster moves through its stores as it empties them, when the air around it is warm enough.",
			"How bees hold together in the cold, what they burn at rest and when they rear brood is known less well than the box. Heft the hive, and trust the scale over the computation.",
		}
		p.Cautions = []string{"Do not open a colony in the cold to look. Heft it, or look at the tops of the combs on a day when bees fly."}
	})
}

// warmthChart draws the air of the hive by height.
func (v *visit) warmthChart(r *result) chart {
	d := r.Daily
	c := chart{id: "warmth", title: "Air in the hive and outdoors", first: r.First, scale: scaleOf(quantity.Temperature, v.system), height: 260,
		text: "Means of each day under the lid, at the height of the cluster and at the floor, over the band from the lowest to the highest hour outdoors.",
		strokes: []stroke{
			{name: "Outdoors, lowest to highest", class: "cold", low: d["outdoor.temp"].Low, value: d["outdoor.temp"].High},
			{name: "At the floor", class: "cold second", value: d["air.at_floor"].Mean},
			{name: "At the cluster's height", value: d["air.at_cluster"].Mean},
			{name: "Under the lid", class: "warm", value: d["air.under_lid"].Mean},
		}}
	if w := r.Ledger.ColdestWeek; w != nil {
		c.pins = []pin{{w.From.Time, "coldest week"}}
	}
	return c
}

func showSummer(v *visit) (view, error) {
	return v.question("Summer", "summer", func(a *asked, r *result, p *answerPage) {
		l, d, s := &r.Ledger, r.Daily, say{v.system}
		p.Sentence = v.summerSentence(l)
		p.More = v.readings(l, "comb.share_of_strength", "summer.outside_hours", "summer.water_hauled_L", "summer.water_to_put_out_L", "summer.fanning_bee_hours")
		nest := chart{id: "nest", title: "Brood nest and warmest comb", first: r.First, scale: scaleOf(quantity.Temperature, v.system), height: 240,
			text: "The warmest hour of each day, in the brood nest and in the warmest comb, over the band of the day's temperatures outdoors.",
			strokes: []stroke{
				{name: "Outdoors, lowest to highest", class: "cold", low: d["outdoor.temp"].Low, value: d["outdoor.temp"].High},
				{name: "Core of the cluster or brood nest, highest", value: d["bees.core"].High},
				{name: "Warmest comb, highest", class: "warm", value: d["comb.warmest"].High},
			}}
		limit := 37.0
		nest.limit, nest.limitName = &limit, "brood is harmed above "+s.Temp(limit)
		if !l.Summer.NestMaxAt.IsZero() {
			nest.pins = append(nest.pins, pin{l.Summer.NestMaxAt, "hottest nest"})
		}
		if c := l.Comb; c != nil && !c.At.IsZero() {
			nest.pins = append(nest.pins, pin{c.At, "comb in most danger"})
		}
		outside := chart{id: "outside", title: "Bees hanging outside", first: r.First, scale: scaleOf(quantity.Fraction, v.system), zero: true, height: 130,
			text: "The largest share of the bees that hang outside in an hour of each day.", strokes: []stroke{{name: "Share of the bees, most of the day", bars: true, class: "warm", value: d["bees.outside"].High}}}
		hauled := chart{id: "hauled", title: "Water hauled", first: r.First, scale: grams(v.system), zero: true, height: 130,
			text: "Water carried in each day to cool the nest.", strokes: []stroke{{name: "Water hauled in the day", bars: true, class: "wet", value: d["water.hauled"].sum()}}}
		stores := chart{id: "flow", title: "Honey and unripe nectar", first: r.First, scale: scaleOf(quantity.Mass, v.system), zero: true, height: 180,
			text: "Honey left, and the water still to leave the nectar.", strokes: []stroke{{name: "Honey", class: "warm", value: d["honey.left"].Last}, {name: "Water still in nectar", class: "wet", value: d["nectar.unripe"].Last}}}
		p.Charts = []chartBox{
			{nest, "A brood nest is held near " + s.Temp(34.5) + ". When it gets warmer, bees spread, fan, spread water and hang out, in this order."},
			{outside, "A beard on a hot evening is room and air for those inside."},
			{hauled, "Water near the hive spares the foragers their way."},
			{stores, "Fresh comb full of nectar is heavy and warm at once: that is when it falls."},
		}
		p.Tables = []tableBox{{"Heat", v.linesOf(l, ledger.Hot)}, {"Combs", v.linesOf(l, ledger.Hanging)}}
		grid := gridBox{Title: "Combs, body by body", Head: []string{"Combs", "In the worst hour", "Warm", "Weight over strength", ""},
			Note: "The strength of warm wax is uncertain: the range is from strong to weak wax."}
		for _, c := range l.Combs {
			word := map[string]string{string(comb.Holds): "holds", string(comb.Near): "may give way", string(comb.Falls): "gives way"}[c.Class]
			when := "never loaded"
			if !c.At.IsZero() {
				when = c.At.Format("2 Jan 2006, 15:04")
			}
			grid.Rows = append(grid.Rows, []string{fmt.Sprintf("body %d, %s", c.Body, map[string]string{"core": "middle", "flank": "outer", "beyond": "beyond the board"}[c.Place]), when, s.Temp(c.Temperature),
				fmt.Sprintf("%s (%s to %s)", s.Percent(c.Share), s.Percent(c.ShareLow), s.Percent(c.ShareHigh)), word})
		}
		if len(grid.Rows) > 0 {
			p.Grids = append(p.Grids, grid)
		}
		p.How = []string{
			"Sun on roof and walls, the warmth of the air and the heat of the bees warm the hive; air through the openings, fanning and water that dries off cool it. The comb's load follows from its honey and nectar, its strength from the temperature and age of its wax and from what supports it.",
			"The warmth that bees allow and the strength of old comb differ between colonies; the limits here are those of the literature, with their range.",
		}
		p.Cautions = []string{"Never close every opening of a live colony.", "Full combs in heat break in the hand: leave them until evening, and bees sting more on such days."}
	})
}

// summerSentence says how a hive stands the heat.
func (v *visit) summerSentence(l *ledger.Ledger) string {
	s := say{v.system}
	h := &l.Summer
	if !l.Year() && !l.Hot() {
		return "The weather holds no summer, so that this run cannot tell."
	}
	var parts []string
	switch {
	case h.NestMaxAt.IsZero():
		parts = append(parts, "there is no brood to keep cool")
	case l.Overheated():
		parts = append(parts, fmt.Sprintf("the brood nest overheats, %s on %s", s.Temp(h.NestMax), s.Day(h.NestMaxAt)))
	case h.Above37 > 0:
		parts = append(parts, fmt.Sprintf("the brood nest is strained, %s on %s", s.Temp(h.NestMax), s.Day(h.NestMaxAt)))
	default:
		parts = append(parts, fmt.Sprintf("the brood nest holds, at most %s", s.Temp(h.NestMax)))
	}
	if c := l.Comb; c != nil {
		switch c.Class {
		case string(comb.Falls):
			parts = append(parts, fmt.Sprintf("combs give way on %s at %s", s.Day(c.At), s.Temp(c.Temperature)))
		case string(comb.Near):
			parts = append(parts, fmt.Sprintf("combs may give way on %s at %s", s.Day(c.At), s.Temp(c.Temperature)))
		default:
			parts = append(parts, "the combs hold")
		}
	}
	if h.Outside > 0 {
		parts = append(parts, "bees hang outside for "+s.Hours(h.Outside))
	}
	text := strings.Join(parts, ", ")
	if n := len(parts); n > 1 {
		text = strings.Join(parts[:n-1], ", ") + " and " + parts[n-1]
	}
	return "In the heat " + text + "."
}

func showWater(v *visit) (view, error) {
	return v.question("Water", "water", func(a *asked, r *result, p *answerPage) {
		l, d, s := &r.Ledger, r.Daily, say{v.system}
		w := &l.Water
		p.Sentence = v.waterSentence(l)
		p.More = v.readings(l, "water.produced_kg", "water.lying_most_kg.walls", "water.overhead_hours", "water.drunk_kg")
		lies := chart{id: "lies", title: "Water on the inner faces", first: r.First, scale: grams(v.system), zero: true, height: 240,
			text: "The most that lies in an hour of each day on lid or top board, walls, floor and combs.",
			strokes: []stroke{
				{name: "Walls", class: "cold", value: d["water.walls"].High},
				{name: "Combs", class: "warm", value: d["water.combs"].High},
				{name: "Floor", class: "second", value: d["water.floor"].High},
				{name: "Lid and top board", class: "wet", value: d["water.lid"].High},
			}}
		over := chart{id: "over", title: "Water above the cluster", first: r.First, scale: grams(v.system), zero: true, height: 130,
			text: "The most that hangs above the cluster in an hour of each day.", strokes: []stroke{{name: "Above the cluster, most of the day", bars: true, class: "wet", value: d["water.overhead"].High}}}
		if !w.OverheadAt.IsZero() {
			over.pins = []pin{{w.OverheadAt, "most"}}
		}
		humid := chart{id: "humid", title: "Humidity beside the cluster", first: r.First, scale: scaleOf(quantity.Fraction, v.system), height: 130,
			text:    "Relative humidity beside the cluster, lowest to highest hour of each day.",
			strokes: []stroke{{name: "Lowest to highest of the day", class: "wet", low: d["humidity.at_cluster"].Low, value: d["humidity.at_cluster"].High}}}
		p.Charts = []chartBox{
			{lies, "Water settles first on the coldest face: where that is, insulation decides."},
			{over, "Water over the bees chills them when it drips; water on the walls does not, and in spring they drink it."},
			{humid, ""},
		}
		grid := gridBox{Title: "Where it came from and went, month by month", Note: "Carried out is by air, less what air brought in; kept is what lies on faces or is bound in wood and insulation at the end, less what was there before. What bees drink they give off again.",
			Head: []string{"Month", "Given off", "Rain drawn in", "Carried out", "Through the shell", "Ran out", "Drunk", "Kept", "Wet above"}}
		for _, m := range r.Water {
			grid.Rows = append(grid.Rows, []string{monthIn(m.Month), s.Mass(m.Produced), s.Mass(m.Rain), s.Mass(m.Vented), s.Mass(m.Through), s.Mass(m.Drained), s.Mass(m.Drunk), s.Mass(m.Faces + m.Shell), fmt.Sprintf("%.0f h", m.OverheadHours)})
		}
		p.Grids = []gridBox{grid}
		p.Tables = []tableBox{{"Water", v.linesOf(l, ledger.Wetness)}}
		p.How = []string{
			"Bees give off the water of the honey they burn. It rides on the air that flows through the hive, settles where a face is colder than the air's dew point, runs down or drips, freezes, dries again, and moves in and out of wood and porous lids. What enters and what leaves is summed and closes.",
			"How much hangs before it drips, and how much wood takes up through wax and propolis, are estimates.",
		}
		p.Cautions = []string{"Mineral wool and sawdust: keep dust out of lungs and eyes, and out of the hive."}
	})
}

// waterSentence says where the water is.
func (v *visit) waterSentence(l *ledger.Ledger) string {
	s := say{v.system}
	w := &l.Water
	type place struct {
		name string
		most float64
	}
	places := []place{{"the walls", w.LyingMost.Walls}, {"the floor", w.LyingMost.Floor}, {"the lid", w.LyingMost.Lid}, {"the combs", w.LyingMost.Combs}}
	slices.SortStableFunc(places, func(a, b place) int {
		switch {
		case a.most > b.most:
			return -1
		case a.most < b.most:
			return 1
		}
		return 0
	})
	text := "It stays dry above the bees"
	switch {
	case w.DrippedBees > 0.001:
		text = fmt.Sprintf("It drips on the bees, %s in all", s.Mass(w.DrippedBees))
	case l.Wet():
		text = fmt.Sprintf("Water hangs above the bees for %s, %s at most", s.Hours(w.OverheadHours), s.Mass(w.OverheadMost))
	}
	if places[0].most < 0.001 {
		return text + ", and next to nothing settles anywhere."
	}
	return text + fmt.Sprintf("; most settles on %s, %s at once.", places[0].name, s.Mass(places[0].most))
}

func showVents(v *visit) (view, error) {
	return v.question("Vents", "vents", func(a *asked, r *result, p *answerPage) {
		l, d, s := &r.Ledger, r.Daily, say{v.system}
		sum := math.Abs(l.LossHeat.Sum())
		p.Sentence = v.ventsSentence(a, l)
		p.More = v.readings(l, "co2_peak_percent", "loss_kWh.openings", "warmth.under_lid_mean_C")
		out := gridBox{Title: "Each opening", Head: []string{"Opening", "Where", "Area", "Heat it carries out", "In honey", "Share of all heat lost"},
			Note: "Over the whole run. Heat that the air carries out is paid for in honey."}
		for i, o := range l.Openings {
			where, area := "", ""
			if i < len(a.Plan.Hive.Openings) && a.Plan.Hive.Openings[i].Name == o.Name {
				h := a.Plan.Hive.Openings[i]
				where = fmt.Sprintf("%s, %s above the floor", h.Face, s.Length(h.Sill))
				area = s.Area(h.Area())
			}
			share := ""
			if sum > 0 {
				share = s.Percent(o.LossHeat / sum)
			}
			out.Rows = append(out.Rows, []string{o.Name, where, area, fmt.Sprintf("%.1f kWh", o.LossHeat), s.Mass(o.LossHoney), share})
		}
		p.Grids = []gridBox{out}
		var in, heat []stroke
		for i, o := range l.Openings {
			class := []string{"", "warm", "cold", "wet"}[i%4]
			if i >= 4 {
				class += " second"
			}
			if x, ok := d[fmt.Sprintf("opening.%d.out", i+1)]; ok {
				in = append(in, stroke{name: "Out of " + o.Name, class: class, value: x.Mean})
			}
			if x, ok := d[fmt.Sprintf("opening.%d.heat", i+1)]; ok {
				heat = append(heat, stroke{name: "By " + o.Name, class: class, value: x.Mean})
			}
		}
		p.Charts = []chartBox{
			{chart{id: "out", title: "Air that leaves by each opening", first: r.First, scale: scaleOf(quantity.Flow, v.system), zero: true, height: 200, text: "Means of each day. Air enters and leaves by one opening at the same time.", strokes: in}, "Warm and damp air is light: it leaves high and is drawn in low. Where there is one opening, it does both."},
			{chart{id: "heatout", title: "Heat that leaves by each opening", first: r.First, scale: scaleOf(quantity.Power, v.system), zero: true, height: 180, text: "Means of each day.", strokes: heat}, "In a thin hive a vent is a small part of the loss; in a well insulated one it is a large part."},
			{chart{id: "depth", title: "How deep the warm air reaches below the lid", first: r.First, scale: lengths(v.system), zero: true, height: 150, text: "Warm depth, the distance below the lid at which the air's excess over outdoors has fallen to half, mean of each day.", strokes: []stroke{{name: "Warm depth", class: "warm", value: d["air.warm_depth"].Mean}}}, "A thermometer under the lid cannot show this: look lower down."},
			{chart{id: "co2", title: "CO2 beside the cluster", first: r.First, scale: scaleOf(quantity.Fraction, v.system).fine(), zero: true, height: 130, text: "Highest hour of each day.", strokes: []stroke{{name: "CO2, highest of the day", value: d["co2.at_cluster"].High}}}, ""},
		}
		p.Tables = []tableBox{{"Air", v.linesOf(l, ledger.Gas)}, {"Where heat went", v.linesOf(l, ledger.HeatLost)}, {"Warmth", v.linesOf(l, ledger.Warm)}}
		p.How = []string{
			"Every opening, crack and seam between combs is a resistance in a network of air, driven by the weight of warm and damp air and by wind on the faces. Air passes one opening both ways at once.",
			"Flows through vents agree within about a sixth with a flow solver on the same box; wind round a real hive is the least known part.",
		}
		p.Cautions = []string{"Never close every opening of a live colony.", "A low entrance wants a guard against mice in winter, a narrow one against robbing."}
	})
}

// ventsSentence says what the openings do.
func (v *visit) ventsSentence(a *asked, l *ledger.Ledger) string {
	s := say{v.system}
	total, lost := 0.0, math.Abs(l.LossHeat.Sum())
	for _, o := range l.Openings {
		total += o.LossHoney
	}
	if len(l.Openings) == 0 {
		if l.LossHeat.Mesh != 0 {
			return fmt.Sprintf("Air comes and goes by the mesh floor, which costs %s of honey.", s.Mass(l.LossHoney.Mesh))
		}
		return "The hive has no opening at all: a live colony cannot be kept in it."
	}
	what := "Its one opening carries"
	if n := len(l.Openings); n > 1 {
		what = fmt.Sprintf("Its %s openings carry", []string{"", "", "two", "three", "four", "five", "six", "seven", "eight"}[min(n, 8)])
	}
	text := fmt.Sprintf("%s out heat worth %s of honey", what, s.Mass(total))
	if lost > 0 {
		text += ", " + s.Percent(l.LossHeat.Openings/lost) + " of all that the hive loses"
	}
	if l.CO2Peak > 0 {
		text += fmt.Sprintf("; CO2 beside the bees stays below %.2g %%", l.CO2Peak+0.05)
	}
	return text + "."
}

func lengths(system quantity.System) scale {
	if system == quantity.US {
		return scale{"in", func(m float64) float64 { return m / 0.0254 }, 1}
	}
	return scale{"mm", func(m float64) float64 { return m * 1000 }, 0}
}

// fine reads values out with two digits.
func (s scale) fine() scale { s.digits = 2; return s }

// monthIn writes "2026-01" as January 2026.
func monthIn(text string) string {
	var y, m int
	if _, err := fmt.Sscanf(text, "%d-%d", &y, &m); err != nil || m < 1 || m > 12 {
		return text
	}
	return fmt.Sprintf("%s %d", [...]string{"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"}[m-1], y)
}
