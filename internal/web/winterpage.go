package web

import (
	"html/template"

	"hackle/ledger"
	"hackle/quantity"
)

type answerPage struct {
	Sentence string
	More     []string // sentences after it
	Needs    []need
	Charts   []chartBox
	Tables   []tableBox
	How      template.HTML
	Basis    basis
}

type chartBox struct {
	Figure  template.HTML
	Caption string
}

type tableBox struct {
	Title string
	Lines []line
}

func showWinter(v *visit) (view, error) {
	a, r, err := v.answered()
	if err != nil {
		return view{}, err
	}
	l := &r.Ledger
	d := r.Daily
	temp, mass := scaleOf(quantity.Temperature, v.system), scaleOf(quantity.Mass, v.system)
	stores := chart{id: "stores", title: "Honey left, day by day", text: v.winterSentence(l), first: r.First, scale: mass, zero: true, height: 240,
		strokes: []stroke{{name: "Honey left", class: "warm", value: d["honey.left"].Last}}}
	if l.Winter != nil {
		stores.pins = append(stores.pins, pin{l.Winter.To.Time, "end of winter"})
	}
	if !l.Honey.LeastAt.IsZero() {
		stores.pins = append(stores.pins, pin{l.Honey.LeastAt, "least"})
	}
	warmth := chart{id: "warmth", title: "Air in the hive and outdoors, means of the days", first: r.First, scale: temp, height: 260,
		text: "The air under the lid, beside the cluster and outdoors.",
		strokes: []stroke{
			{name: "Outdoors, lowest to highest", class: "cold", low: d["outdoor.temp"].Low, value: d["outdoor.temp"].High},
			{name: "Under the lid", class: "warm", value: d["air.under_lid"].Mean},
			{name: "At the cluster's height", value: d["air.at_cluster"].Mean},
			{name: "At the floor", class: "second", value: d["air.at_floor"].Mean},
		}}
	if w := l.ColdestWeek; w != nil {
		warmth.pins = append(warmth.pins, pin{w.From.Time, "coldest week"})
	}
	heat := chart{id: "heat", title: "Heat of the bees, means of the days", first: r.First, scale: scaleOf(quantity.Power, v.system), zero: true, height: 180,
		text: "What the bees give off.", strokes: []stroke{{name: "Heat of the bees, mean to highest hour", low: d["bees.heat"].Mean, value: d["bees.heat"].High, quiet: true}, {name: "Mean of the day", value: d["bees.heat"].Mean}}}
	if !l.Bees.PeakDay.IsZero() {
		heat.pins = append(heat.pins, pin{l.Bees.PeakDay.Time, "hardest day"})
	}
	reach := chart{id: "reach", title: "Honey within reach, in days", first: r.First, scale: scale{"d", func(x float64) float64 { return min(x, 60) }, 0}, zero: true, height: 140,
		text:    "How long the honey in contact with the cluster lasts at that day's use, up to 60 days.",
		strokes: []stroke{{name: "Days of honey in contact, least of the day", class: "warm", value: d["honey.reach"].Low}, {name: "Hours too cold to move", class: "cold", bars: true, value: d["bees.confined"].sum()}}}
	p := answerPage{Sentence: v.winterSentence(l), Basis: basisOf(a, r)}
	p.More = v.readings(l, "coldest_week.outdoors_mean_C", "confinement.longest_hours", "bees.heat_peak_day_W")
	p.Charts = []chartBox{
		{stores.Figure(), "How the stores go. Where the line is flat the colony burns little."},
		{warmth.Figure(), "How warm it is, by height."},
		{heat.Figure(), "How hard the bees work."},
		{reach.Figure(), "Whether honey is within reach in the cold: the line should stay above the longest spell in which bees cannot move."},
	}
	p.Tables = []tableBox{
		{"Honey", v.linesOf(l, ledger.Stores)},
		{"Bees and cold", v.linesOf(l, ledger.Work, ledger.Cold, ledger.Reach)},
		{"Warmth and heat", v.linesOf(l, ledger.Warm, ledger.HeatLost)},
	}
	return view{Title: "Winter", Place: "yard", Hive: headOf(a), Body: p}, nil
}
