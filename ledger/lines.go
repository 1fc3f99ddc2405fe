package ledger

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"hackle/quantity"
)

// Section groups the lines of a ledger for people.
type Section string

// The sections, in the order of the text.
const (
	Stores   Section = "Honey"
	Work     Section = "Bees"
	HeatLost Section = "Heat"
	Warm     Section = "Warmth"
	Wetness  Section = "Water"
	Gas      Section = "Air"
	Reach    Section = "Reach"
	Cold     Section = "Coldest week"
	Balance  Section = "Closure"
)

// Line is one entry of a ledger: what a number is, in which unit, and how it is
// shown. Entries without a number (names, dates, lists) describe the JSON only.
type Line struct {
	Key     string  // place in the JSON: "honey.burned_kg"; "[]" after a list
	Unit    string  // "kg", "W", "°C", "kWh", "mm", "%", "d", "h", "-"; "date", "time" or "text" when it is no number
	Section Section // empty: not in the text
	Label   string  // short name for people, inside its section
	Name    string  // name for people where it stands alone; empty: section and label
	Meaning string  // one line

	value   func(*Ledger) (v float64, ok bool)
	at      func(*Ledger) time.Time // when it was, nil: it has no moment
	daily   bool                    // the moment is a day, not an hour
	reading func(*Ledger, voice) string
	told    bool // the reading stands in the text, below its section's numbers
}

// Value returns the number of the line; ok is false when the line has none or
// the ledger lacks it.
func (n Line) Value(l *Ledger) (v float64, ok bool) {
	if n.value == nil {
		return 0, false
	}
	return n.value(l)
}

// At returns the moment of a worst value, zero when the line has none.
func (n Line) At(l *Ledger) time.Time {
	if n.at == nil {
		return time.Time{}
	}
	return n.at(l)
}

// Reading says the line as a keeper would say it to another, empty when there is
// nothing to say.
func (n Line) Reading(l *Ledger, system quantity.System) string {
	if n.reading == nil {
		return ""
	}
	return n.reading(l, voice{system})
}

// Format writes a value of the line for people.
func (n Line) Format(v float64, system quantity.System) string {
	switch n.Unit {
	case "°C":
		return quantity.Format(v, quantity.Temperature, system)
	}
	return voice{system}.amount(v, n.Unit)
}

// FormatDifference writes a difference of two values of the line, with its sign.
func (n Line) FormatDifference(v float64, system quantity.System) string {
	text := ""
	if n.Unit == "°C" {
		text = quantity.Format(v, quantity.TemperatureDifference, system)
	} else {
		text = voice{system}.amount(v, n.Unit)
	}
	number, _, _ := strings.Cut(text, " ")
	if v > 0 && strings.Trim(number, "0.") != "" {
		return "+" + text
	}
	return text
}

// voice writes values for people in one system of units.
type voice struct{ system quantity.System }

// amount writes a value that is no temperature.
func (s voice) amount(v float64, unit string) string {
	switch unit {
	case "kg":
		if math.Abs(v) < 0.0005 { // finer than anybody weighs
			v = 0
		}
		if v == 0 && s.system == quantity.Metric {
			return "0 kg"
		}
		return quantity.Format(v, quantity.Mass, s.system)
	case "W":
		if v == 0 {
			return "0 W"
		}
		return quantity.Format(v, quantity.Power, s.system)
	case "°C":
		return quantity.Format(v, quantity.Temperature, s.system)
	case "mm":
		return quantity.Format(v/1000, quantity.Length, s.system)
	case "%":
		return quantity.Format(v/100, quantity.Fraction, s.system)
	case "kWh": // the same in both systems, and in one unit all down a column
		return fixed(v, 1) + " kWh"
	case "d":
		return short(v) + " d"
	case "h":
		return fixed(v, 0) + " h"
	}
	if math.Abs(v) < 1e-4 { // of a share, and what rounding leaves of a difference
		return "0"
	}
	return short(v)
}

// fixed writes v with a number of decimals and without a negative zero.
func fixed(v float64, decimals int) string {
	text := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	return text
}

// short writes v with two digits, three from 100 on.
func short(v float64) string {
	switch size := math.Abs(v); {
	case size == 0:
		return "0"
	case size >= 10:
		return fixed(v, 0)
	case size >= 1:
		return strings.TrimSuffix(fixed(v, 1), ".0")
	}
	return strconv.FormatFloat(v, 'g', 2, 64)
}

// number makes a value function of a plain field.
func number(f func(*Ledger) float64) func(*Ledger) (float64, bool) {
	return func(l *Ledger) (float64, bool) { return f(l), true }
}

// weekly makes a value function of a field of the coldest week.
func weekly(f func(*Week) float64) func(*Ledger) (float64, bool) {
	return func(l *Ledger) (float64, bool) {
		if l.ColdestWeek == nil {
			return 0, false
		}
		return f(l.ColdestWeek), true
	}
}

// Lines returns every entry of a ledger in the order of the text. The table is
// made anew at each call and may be changed by the caller.
func Lines() []Line {
	lines := []Line{
		{Key: "hive", Unit: "text", Meaning: "name of the hive"},
		{Key: "from", Unit: "date", Meaning: "first day of the run"},
		{Key: "to", Unit: "date", Meaning: "last day of the run"},
		{Key: "hours", Unit: "h", Meaning: "length of the run"},

		{Key: "honey.start_kg", Unit: "kg", Section: Stores, Label: "at the start", Meaning: "honey in the hive at the start",
			value: number(func(l *Ledger) float64 { return l.Honey.Start }), reading: readStart},
		{Key: "honey.fed_kg", Unit: "kg", Section: Stores, Label: "fed", Meaning: "stores made of food given in the run",
			value: number(func(l *Ledger) float64 { return l.Honey.Fed }), reading: readFed},
		{Key: "honey.burned_kg", Unit: "kg", Section: Stores, Label: "burned", Meaning: "honey eaten, for all purposes",
			value: number(func(l *Ledger) float64 { return l.Honey.Burned }), reading: readBurned, told: true},
		{Key: "honey.for_heat_kg", Unit: "kg", Section: Stores, Label: "  for heat in the hive", Name: "honey: burned for heat in the hive", Meaning: "of that, the heat of bees and brood at 12.7 MJ/kg",
			value: number(func(l *Ledger) float64 { return l.Honey.ForHeat }), reading: readForHeat},
		{Key: "honey.other_kg", Unit: "kg", Section: Stores, Label: "  for flight and rearing", Name: "honey: burned for flight and rearing", Meaning: "of that, flight, and brood beyond its heat",
			value: number(func(l *Ledger) float64 { return l.Honey.ForOther }), reading: readForOther},
		{Key: "honey.left_kg", Unit: "kg", Section: Stores, Label: "left at the end", Meaning: "honey in the hive at the end",
			value: number(func(l *Ledger) float64 { return l.Honey.Left }), reading: readLeft},
		{Key: "honey.starved_at", Unit: "time", Meaning: "hour in which the last honey was eaten; absent when there was some to the end"},
		{Key: "honey.by_month[].month", Unit: "text", Meaning: "calendar month, as 2026-01"},
		{Key: "honey.by_month[].kg", Unit: "kg", Meaning: "honey burned in the hours of that month that lie in the run"},

		{Key: "bees.heat_mean_W", Unit: "W", Section: Work, Label: "heat, mean", Meaning: "mean heat of bees and brood while the colony lives",
			value: number(func(l *Ledger) float64 { return l.Bees.HeatMean }), reading: readHeatMean},
		{Key: "bees.heat_peak_W", Unit: "W", Section: Work, Label: "heat, highest hour", Meaning: "highest mean of an hour",
			value: number(func(l *Ledger) float64 { return l.Bees.HeatPeak }), at: func(l *Ledger) time.Time { return l.Bees.PeakAt }, reading: readHeatPeak},
		{Key: "bees.peak_at", Unit: "time", Meaning: "beginning of that hour"},
		{Key: "bees.peak_share_of_limit", Unit: "-", Section: Work, Label: "  share of what they can keep up", Name: "bees: share of their limit, that hour", Meaning: "heat of that hour over what the colony can sustain for days",
			value: number(func(l *Ledger) float64 { return l.Bees.PeakShare }), reading: readPeakShare},
		{Key: "bees.heat_peak_day_W", Unit: "W", Section: Work, Label: "heat, highest day", Meaning: "highest mean of a whole day", daily: true,
			value: func(l *Ledger) (float64, bool) { return l.Bees.HeatPeakDay, !l.Bees.PeakDay.IsZero() }, at: func(l *Ledger) time.Time { return l.Bees.PeakDay.Time }, reading: readPeakDay, told: true},
		{Key: "bees.peak_day", Unit: "date", Meaning: "that day"},
		{Key: "bees.peak_day_share_of_limit", Unit: "-", Section: Work, Label: "  share of what they can keep up", Name: "bees: share of their limit, that day", Meaning: "mean share on that day",
			value: func(l *Ledger) (float64, bool) { return l.Bees.PeakDayShare, !l.Bees.PeakDay.IsZero() }, reading: readPeakDayShare},
		{Key: "bees.hardest_share_of_limit", Unit: "-", Section: Work, Label: "hardest hour, share", Name: "bees: share of their limit, hardest hour", Meaning: "highest hourly share of what the colony can sustain, which falls as bees die",
			value: number(func(l *Ledger) float64 { return l.Bees.HardestShare }), at: func(l *Ledger) time.Time { return l.Bees.HardestAt }, reading: readHardest},
		{Key: "bees.hardest_at", Unit: "time", Meaning: "beginning of that hour"},
		{Key: "bees.mass_start_kg", Unit: "kg", Section: Work, Label: "adult bees at the start", Meaning: "mass of adult bees after the first hour",
			value: number(func(l *Ledger) float64 { return l.Bees.MassStart }), reading: readMassStart},
		{Key: "bees.mass_end_kg", Unit: "kg", Section: Work, Label: "adult bees at the end", Meaning: "mass of adult bees after the last hour",
			value: number(func(l *Ledger) float64 { return l.Bees.MassEnd }), reading: readMassEnd},
		{Key: "bees.died_at", Unit: "time", Meaning: "hour in which the colony died; absent when it lived"},

		{Key: "heat.bees_kWh", Unit: "kWh", Section: HeatLost, Label: "given by bees and brood", Meaning: "heat of bees and brood in the hive",
			value: number(func(l *Ledger) float64 { return l.Heat.Bees }), reading: readHeatGiven},
		{Key: "heat.with_vapour_kWh", Unit: "kWh", Section: HeatLost, Label: "bound in vapour", Meaning: "part of it that left bound in vapour; what settled has given its heat back",
			value: number(func(l *Ledger) float64 { return l.Heat.WithVapour }), reading: readWithVapour},
		{Key: "heat.stored_kWh", Unit: "kWh", Section: HeatLost, Label: "stored", Meaning: "gained by air, combs and shell from start to end",
			value: number(func(l *Ledger) float64 { return l.Heat.Stored }), reading: readStored},
		{Key: "heat.lost_kWh", Unit: "kWh", Section: HeatLost, Label: "lost, less the sun's gain", Meaning: "through shell and openings, less what the sun gave",
			value: number(func(l *Ledger) float64 { return l.Heat.Lost }), reading: readLost, told: true},
	}
	for _, way := range ways() {
		lines = append(lines, Line{Key: "loss_kWh." + way.key, Unit: "kWh", Section: HeatLost, Label: "  " + way.label, Meaning: "heat lost " + way.meaning,
			value: number(func(l *Ledger) float64 { return way.of(l.LossHeat) }), reading: way.reading})
	}
	for _, way := range ways() {
		lines = append(lines, Line{Key: "loss_honey_kg." + way.key, Unit: "kg", Label: way.label, Meaning: "the same as honey, at 12.7 MJ/kg: " + way.meaning,
			value: number(func(l *Ledger) float64 { return way.of(l.LossHoney) })})
	}
	return append(lines,
		Line{Key: "openings[].name", Unit: "text", Meaning: "name of an opening in the hive file"},
		Line{Key: "openings[].loss_kWh", Unit: "kWh", Meaning: "heat carried out of it by air"},
		Line{Key: "openings[].loss_honey_kg", Unit: "kg", Meaning: "the same as honey, at 12.7 MJ/kg"},

		Line{Key: "warmth.outdoors_mean_C", Unit: "°C", Section: Warm, Label: "outdoors, mean", Meaning: "mean air temperature outdoors while the colony lives",
			value: number(func(l *Ledger) float64 { return l.Warmth.Outdoors }), reading: readOutdoors},
		Line{Key: "warmth.under_lid_mean_C", Unit: "°C", Section: Warm, Label: "under the lid, mean", Meaning: "mean of the air 10 mm under what closes the hive above",
			value: number(func(l *Ledger) float64 { return l.Warmth.UnderLid }), reading: readUnderLid, told: true},
		Line{Key: "warmth.cluster_air_mean_C", Unit: "°C", Section: Warm, Label: "at the cluster's height, mean", Name: "warmth: at the cluster, mean", Meaning: "mean of the air at the height of the cluster, over the whole breadth of the hive",
			value: number(func(l *Ledger) float64 { return l.Warmth.Cluster }), reading: readCluster},
		Line{Key: "warmth.floor_mean_C", Unit: "°C", Section: Warm, Label: "at the floor, mean", Meaning: "mean of the air of the lowest layer",
			value: number(func(l *Ledger) float64 { return l.Warmth.Floor }), reading: readFloor},
		Line{Key: "warmth.warm_depth_mean_mm", Unit: "mm", Section: Warm, Label: "warm depth, mean", Meaning: "mean distance from under the lid down to where the air's excess over outdoors is half of that there",
			value: number(func(l *Ledger) float64 { return l.Warmth.WarmDepth }), reading: readWarmDepth},
		Line{Key: "warmth.under_lid_min_C", Unit: "°C", Section: Warm, Label: "under the lid, lowest", Meaning: "lowest end of an hour there while the colony lives",
			value: number(func(l *Ledger) float64 { return l.Warmth.UnderLidMin }), at: func(l *Ledger) time.Time { return l.Warmth.UnderLidAt }, reading: readUnderLidMin},
		Line{Key: "warmth.under_lid_min_at", Unit: "time", Meaning: "beginning of that hour"},
		Line{Key: "warmth.cluster_air_min_C", Unit: "°C", Section: Warm, Label: "at the cluster's height, lowest", Name: "warmth: at the cluster, lowest", Meaning: "lowest end of an hour there while the colony lives",
			value: number(func(l *Ledger) float64 { return l.Warmth.ClusterMin }), at: func(l *Ledger) time.Time { return l.Warmth.ClusterAt }, reading: readClusterMin},
		Line{Key: "warmth.cluster_air_min_at", Unit: "time", Meaning: "beginning of that hour"},

		Line{Key: "water.produced_kg", Unit: "kg", Section: Wetness, Label: "given off by the bees", Meaning: "vapour given off by the bees",
			value: number(func(l *Ledger) float64 { return l.Water.Produced }), reading: readProduced, told: true},
		Line{Key: "water.vented_kg", Unit: "kg", Section: Wetness, Label: "  carried out by air", Name: "water: carried out by air", Meaning: "vapour that left with air, less what came in with it",
			value: number(func(l *Ledger) float64 { return l.Water.Vented }), reading: readVented},
		Line{Key: "water.stored_kg", Unit: "kg", Section: Wetness, Label: "  still in the hive", Meaning: "lying on faces at the end, and more in the hive's air than at the start",
			value: number(func(l *Ledger) float64 { return l.Water.Stored }), reading: readWaterStored},
		Line{Key: "water.drained_kg", Unit: "kg", Section: Wetness, Label: "  ran out", Meaning: "left the hive as liquid",
			value: number(func(l *Ledger) float64 { return l.Water.Drained }), reading: readDrained},
		Line{Key: "water.held_by_bees_kg", Unit: "kg", Section: Wetness, Label: "held back by the bees", Meaning: "metabolic water that never became vapour and leaves with cleansing flights",
			value: number(func(l *Ledger) float64 { return l.Water.HeldByBees }), reading: readHeld},
		Line{Key: "water.condensed_kg.lid", Unit: "kg", Section: Wetness, Label: "condensed on lid and top board", Meaning: "condensed on what closes the hive above, before any dried",
			value: number(func(l *Ledger) float64 { return l.Water.Condensed.Lid }), reading: condensed("overhead", func(s Surfaces) float64 { return s.Lid })},
		Line{Key: "water.condensed_kg.walls", Unit: "kg", Section: Wetness, Label: "condensed on walls", Meaning: "condensed on walls, before any dried",
			value: number(func(l *Ledger) float64 { return l.Water.Condensed.Walls }), reading: condensed("on the walls", func(s Surfaces) float64 { return s.Walls })},
		Line{Key: "water.condensed_kg.floor", Unit: "kg", Section: Wetness, Label: "condensed on the floor", Meaning: "condensed on the floor, before any dried",
			value: number(func(l *Ledger) float64 { return l.Water.Condensed.Floor }), reading: condensed("on the floor", func(s Surfaces) float64 { return s.Floor })},
		Line{Key: "water.condensed_kg.combs", Unit: "kg", Section: Wetness, Label: "condensed on combs", Meaning: "condensed on combs, before any dried",
			value: number(func(l *Ledger) float64 { return l.Water.Condensed.Combs }), reading: condensed("on the combs", func(s Surfaces) float64 { return s.Combs })},
		Line{Key: "water.lying_kg.lid", Unit: "kg", Meaning: "water and ice on lid and top board at the end"},
		Line{Key: "water.lying_kg.walls", Unit: "kg", Meaning: "water and ice on walls at the end"},
		Line{Key: "water.lying_kg.floor", Unit: "kg", Meaning: "water and ice on the floor at the end"},
		Line{Key: "water.lying_kg.combs", Unit: "kg", Meaning: "water and ice on combs at the end"},
		Line{Key: "water.overhead_hours", Unit: "h", Section: Wetness, Label: "hours wet above the cluster", Meaning: "hours with more than 1 g of water or ice lying above the cluster",
			value: number(func(l *Ledger) float64 { return l.Water.OverheadHours }), reading: readOverhead, told: true},
		Line{Key: "water.overhead_most_kg", Unit: "kg", Section: Wetness, Label: "most water above the cluster", Meaning: "most water and ice above the cluster at the end of an hour",
			value: number(func(l *Ledger) float64 { return l.Water.OverheadMost }), at: func(l *Ledger) time.Time { return l.Water.OverheadAt }, reading: readOverheadMost},
		Line{Key: "water.overhead_most_at", Unit: "time", Meaning: "beginning of that hour; absent when there never was any"},
		Line{Key: "water.dripped_kg", Unit: "kg", Section: Wetness, Label: "dripped from overhead", Meaning: "fell from lid and top board",
			value: number(func(l *Ledger) float64 { return l.Water.Dripped }), reading: readDripped},
		Line{Key: "water.dripped_on_cluster_kg", Unit: "kg", Section: Wetness, Label: "  of that on the cluster", Name: "water: dripped on the cluster", Meaning: "of that from above the cluster",
			value: number(func(l *Ledger) float64 { return l.Water.DrippedBees }), reading: readDrippedBees},

		Line{Key: "co2_peak_percent", Unit: "%", Section: Gas, Label: "CO2 beside the cluster, highest", Name: "CO2 beside the cluster, highest", Meaning: "highest volume share of CO2 in the air that the bees breathe",
			value: number(func(l *Ledger) float64 { return l.CO2Peak }), at: func(l *Ledger) time.Time { return l.CO2PeakAt }, reading: readCO2, told: true},
		Line{Key: "co2_peak_at", Unit: "time", Meaning: "beginning of that hour"},

		Line{Key: "reach_min_days", Unit: "d", Section: Reach, Label: "reach, least", Name: "reach, least", Meaning: "least honey in contact with the cluster over its use, while the colony lives",
			value: number(func(l *Ledger) float64 { return l.ReachMin }), at: func(l *Ledger) time.Time { return l.ReachMinAt }, reading: readReach, told: true},
		Line{Key: "reach_min_at", Unit: "time", Meaning: "beginning of that hour"},
		Line{Key: "confinement.longest_hours", Unit: "h", Section: Reach, Label: "confined, longest", Name: "confined, longest", Meaning: "longest run of hours too cold beside the cluster for bees to move",
			value: number(func(l *Ledger) float64 { return l.Confinement.Longest }), at: func(l *Ledger) time.Time { return l.Confinement.From }, reading: readConfined, told: true},
		Line{Key: "confinement.from", Unit: "time", Meaning: "beginning of its first hour; absent when bees could always move"},
		Line{Key: "confinement.to", Unit: "time", Meaning: "end of its last hour"},
		Line{Key: "confinement.reach_at_start_days", Unit: "d", Section: Reach, Label: "  reach when it began", Name: "reach when that began", Meaning: "honey in contact over use in its first hour",
			value: func(l *Ledger) (float64, bool) { return l.Confinement.ReachAtStart, l.Confinement.Longest > 0 }, reading: readReachAtStart},
		Line{Key: "confinement.isolation_hours", Unit: "h", Section: Reach, Label: "cut off from honey", Name: "cut off from honey", Meaning: "hours confined with no honey in contact",
			value: number(func(l *Ledger) float64 { return l.Confinement.Isolation }), reading: readIsolation},

		Line{Key: "coldest_week.from", Unit: "date", Meaning: "first of the seven days with the lowest mean outdoor temperature; the week is absent when the run is shorter"},
		Line{Key: "coldest_week.to", Unit: "date", Meaning: "last of them"},
		Line{Key: "coldest_week.outdoors_mean_C", Unit: "°C", Section: Cold, Label: "outdoors, mean", Meaning: "mean air temperature outdoors in the coldest week",
			value: weekly(func(w *Week) float64 { return w.Outdoors }), at: weekFrom, daily: true, reading: readWeek, told: true},
		Line{Key: "coldest_week.outdoors_lowest_C", Unit: "°C", Section: Cold, Label: "outdoors, lowest", Meaning: "lowest hour of the coldest week",
			value: weekly(func(w *Week) float64 { return w.Lowest }), reading: readWeekLowest},
		Line{Key: "coldest_week.heat_mean_W", Unit: "W", Section: Cold, Label: "bees' heat, mean", Meaning: "mean heat of bees and brood in it",
			value: weekly(func(w *Week) float64 { return w.Heat }), reading: readWeekHeat},
		Line{Key: "coldest_week.share_of_limit", Unit: "-", Section: Cold, Label: "  share of what they can keep up", Name: "coldest week: share of their limit", Meaning: "mean share of what the colony can sustain",
			value: weekly(func(w *Week) float64 { return w.Share }), reading: readWeekShare},
		Line{Key: "coldest_week.honey_kg", Unit: "kg", Section: Cold, Label: "honey burned", Meaning: "honey burned in it",
			value: weekly(func(w *Week) float64 { return w.Honey }), reading: readWeekHoney},
		Line{Key: "coldest_week.under_lid_mean_C", Unit: "°C", Section: Cold, Label: "under the lid, mean", Meaning: "mean air temperature under the lid in it",
			value: weekly(func(w *Week) float64 { return w.UnderLid }), reading: readWeekAir},
		Line{Key: "coldest_week.cluster_air_mean_C", Unit: "°C", Section: Cold, Label: "at the cluster's height, mean", Name: "coldest week: at the cluster, mean", Meaning: "mean air temperature at the cluster's height in it",
			value: weekly(func(w *Week) float64 { return w.Cluster }), reading: readWeekCluster},
		Line{Key: "coldest_week.floor_mean_C", Unit: "°C", Section: Cold, Label: "at the floor, mean", Meaning: "mean air temperature at the floor in it",
			value: weekly(func(w *Week) float64 { return w.Floor }), reading: readWeekFloor},
		Line{Key: "coldest_week.warm_depth_mean_mm", Unit: "mm", Section: Cold, Label: "warm depth, mean", Meaning: "mean warm depth in it",
			value: weekly(func(w *Week) float64 { return w.WarmDepth }), reading: readWeekDepth},
		Line{Key: "coldest_week.confined_hours", Unit: "h", Section: Cold, Label: "hours confined", Meaning: "hours of it too cold beside the cluster for bees to move",
			value: weekly(func(w *Week) float64 { return w.Confined }), reading: readWeekConfined},
		Line{Key: "coldest_week.overhead_hours", Unit: "h", Section: Cold, Label: "hours wet above the cluster", Name: "coldest week: hours wet over the cluster", Meaning: "hours of it with more than 1 g of water or ice above the cluster",
			value: weekly(func(w *Week) float64 { return w.Overhead }), reading: readWeekOverhead},

		balance("heat", "heat", "bees' heat", func(c Closure) float64 { return c.Heat }),
		balance("vapour", "vapour", "vapour given off and brought in", func(c Closure) float64 { return c.Vapour }),
		balance("co2", "CO2", "CO2 given off and brought in", func(c Closure) float64 { return c.CO2 }),
		balance("air", "air", "air let in", func(c Closure) float64 { return c.Air }),
		balance("honey", "honey", "honey at the start and fed", func(c Closure) float64 { return c.Honey }),

		Line{Key: "events[].at", Unit: "time", Meaning: "when something happened"},
		Line{Key: "events[].what", Unit: "text", Meaning: "what happened"},
		Line{Key: "warnings[]", Unit: "text", Meaning: "what the run found doubtful"},
	)
}

func weekFrom(l *Ledger) time.Time {
	if l.ColdestWeek == nil {
		return time.Time{}
	}
	return l.ColdestWeek.From.Time
}

// way is one path of heat out of the hive.
type way struct {
	key, label, meaning string
	of                  func(Losses) float64
}

// ways lists the paths in the order of the text.
func ways() []way {
	return []way{
		{"front", "front wall", "through the front wall, less the sun's gain", func(l Losses) float64 { return l.Front }},
		{"back", "back wall", "through the back wall, less the sun's gain", func(l Losses) float64 { return l.Back }},
		{"left", "left wall", "through the left wall, less the sun's gain", func(l Losses) float64 { return l.Left }},
		{"right", "right wall", "through the right wall, less the sun's gain", func(l Losses) float64 { return l.Right }},
		{"lid", "lid and its vents", "through lid, top board and the vents of the lid, less the sun's gain", func(l Losses) float64 { return l.Lid }},
		{"floor", "floor", "through the floor", func(l Losses) float64 { return l.Floor }},
		{"edges", "edges and corners", "through edges and corners, beyond the plane faces", func(l Losses) float64 { return l.Edges }},
		{"openings", "openings", "with air out of all openings", func(l Losses) float64 { return l.Openings }},
		{"mesh", "mesh floor", "with air through a mesh floor", func(l Losses) float64 { return l.Mesh }},
		{"cracks", "cracks", "with air through cracks and porous boards", func(l Losses) float64 { return l.Cracks }},
	}
}

func balance(key, label, through string, of func(Closure) float64) Line {
	return Line{Key: "closure." + key, Unit: "-", Section: Balance, Label: label, Meaning: "what this balance leaves over, as a share of " + through,
		value: number(func(l *Ledger) float64 { return of(l.Closure) }),
		reading: func(l *Ledger, _ voice) string {
			return fmt.Sprintf("The balance of %s closes to %s of %s.", label, percent(math.Abs(of(l.Closure))), through)
		}}
}

// percent writes a small share.
func percent(share float64) string {
	switch {
	case share == 0:
		return "0 %"
	case share < 1e-7:
		return "less than 0.00001 %"
	}
	return strconv.FormatFloat(100*share, 'g', 2, 64) + " %"
}
