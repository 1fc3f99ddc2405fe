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
	Hot      Section = "Summer"
	Hanging  Section = "Comb"
	Balance  Section = "Closure"
)

// Line is one entry of a ledger: what a number is, in which unit, and how it is
// shown. Entries without a number (names, dates, lists) describe the JSON only.
type Line struct {
	Key     string  // place in the JSON: "honey.burned_kg"; "[]" after a list
	Unit    string  // "kg", "W", "°C", "kWh", "L", "mm", "m", "%", "d", "h", "-"; "date", "time" or "text" when it is no number
	Section Section // empty: not in the text
	Label   string  // short name for people, inside its section
	Name    string  // name for people where it stands alone; empty: section and label
	Meaning string  // one line

	value   func(*Ledger) (v float64, ok bool)
	at      func(*Ledger) time.Time // when it was, nil: it has no moment
	daily   bool                    // the moment is a day, not an hour
	reading func(*Ledger, voice) string
	told    bool               // the reading stands in the text, below its section's numbers
	shown   func(*Ledger) bool // whether the text and a comparison have the line, nil: always
}

// Value returns the number of the line; ok is false when the line has none or
// the ledger lacks it.
func (n Line) Value(l *Ledger) (v float64, ok bool) {
	if n.value == nil {
		return 0, false
	}
	return n.value(l)
}

// Shown reports whether the line has something to tell people of the ledger, as
// lines of summer have not in a winter.
func (n Line) Shown(l *Ledger) bool { return n.shown == nil || n.shown(l) }

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
		text = voice{system}.difference(v)
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

// difference writes a difference of temperatures.
func (s voice) difference(v float64) string {
	return quantity.Format(v, quantity.TemperatureDifference, s.system)
}

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
	case "L":
		if math.Abs(v) < 0.005 { // a teaspoon
			v = 0
		}
		if v == 0 && s.system == quantity.Metric {
			return "0 L"
		}
		return quantity.Format(v/1000, quantity.Volume, s.system)
	case "m":
		return quantity.Format(v, quantity.Length, s.system)
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

// words writes temperatures in a label in the system of the text.
func (s voice) words(label string) string {
	if s.system == quantity.Metric {
		return label
	}
	for _, limit := range []float64{36, 37, 38} {
		label = strings.ReplaceAll(label, quantity.Format(limit, quantity.Temperature, quantity.Metric), s.temp(limit))
	}
	return label
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
		{Key: "honey.gained_kg", Unit: "kg", Section: Stores, Label: "gained from nectar", Meaning: "honey that the nectar carried in becomes", shown: gained,
			value: number(func(l *Ledger) float64 { return l.Honey.Gained }), reading: readGained, told: true},
		{Key: "nectar.carried_kg", Unit: "kg", Section: Stores, Label: "  nectar carried in", Name: "nectar carried in", Meaning: "nectar that the bees carried in", shown: gained,
			value: number(func(l *Ledger) float64 { return l.Nectar.Carried }), reading: readNectar},
		{Key: "nectar.dried_kg", Unit: "kg", Section: Stores, Label: "  water dried off it", Name: "nectar: water dried off", Meaning: "water that left nectar", shown: gained,
			value: number(func(l *Ledger) float64 { return l.Nectar.Dried }), reading: readNectarDried},
		{Key: "nectar.unripe_kg", Unit: "kg", Section: Stores, Label: "  water still to dry at the end", Name: "nectar: water still to dry", Meaning: "water still to leave nectar at the end", shown: gained,
			value: number(func(l *Ledger) float64 { return l.Nectar.Unripe }), reading: readUnripe},
		{Key: "nectar.unripe_most_kg", Unit: "kg", Section: Stores, Label: "  water to dry, most at once", Name: "nectar: water to dry, most at once", Meaning: "most water still to leave nectar at the end of an hour", shown: gained,
			value: number(func(l *Ledger) float64 { return l.Nectar.UnripeMost }), at: func(l *Ledger) time.Time { return l.Nectar.UnripeMostAt }, reading: readUnripeMost},
		{Key: "nectar.unripe_most_at", Unit: "time", Meaning: "beginning of that hour; absent when there was no nectar"},
		{Key: "honey.burned_kg", Unit: "kg", Section: Stores, Label: "burned", Meaning: "honey eaten, for all purposes",
			value: number(func(l *Ledger) float64 { return l.Honey.Burned }), reading: readBurned, told: true},
		{Key: "honey.for_heat_kg", Unit: "kg", Section: Stores, Label: "  for heat in the hive", Name: "honey: burned for heat in the hive", Meaning: "of that, the heat of bees and brood at 12.7 MJ/kg",
			value: number(func(l *Ledger) float64 { return l.Honey.ForHeat }), reading: readForHeat},
		{Key: "honey.other_kg", Unit: "kg", Section: Stores, Label: "  for flight and rearing", Name: "honey: burned for flight and rearing", Meaning: "of that, flight, and brood beyond its heat",
			value: number(func(l *Ledger) float64 { return l.Honey.ForOther }), reading: readForOther},
		{Key: "honey.left_kg", Unit: "kg", Section: Stores, Label: "left at the end", Meaning: "honey in the hive at the end",
			value: number(func(l *Ledger) float64 { return l.Honey.Left }), reading: readLeft},
		{Key: "honey.least_kg", Unit: "kg", Section: Stores, Label: "lowest", Name: "honey: lowest", Meaning: "lowest end of an hour while the colony lives", shown: refilled,
			value: number(func(l *Ledger) float64 { return l.Honey.Least }), at: func(l *Ledger) time.Time { return l.Honey.LeastAt }, reading: readLeast},
		{Key: "honey.least_at", Unit: "time", Meaning: "beginning of that hour"},
		{Key: "honey.open_water_most", Unit: "-", Meaning: "most water in the open honey of the outer combs, as a share of its mass"},
		{Key: "honey.open_water_most_at", Unit: "time", Meaning: "beginning of that hour"},
		{Key: "honey.ferment_hours", Unit: "h", Section: Stores, Label: "open honey could ferment", Meaning: "hours with the open honey of the outer combs above 20 % of water and 11 °C",
			shown: func(l *Ledger) bool { return !l.Honey.OpenWaterAt.IsZero() },
			value: number(func(l *Ledger) float64 { return l.Honey.FermentHours }), reading: readFerments, told: true},
		{Key: "winter.from", Unit: "date", Meaning: "first day of the longest winter in the run, 15 October to 15 April or in the south 15 April to 15 October; absent when the run is all winter or holds less than 30 days of one"},
		{Key: "winter.to", Unit: "date", Meaning: "last day of it"},
		{Key: "winter.honey_burned_kg", Unit: "kg", Section: Stores, Label: "burned in winter", Name: "winter: honey burned", Meaning: "honey eaten in it", daily: true,
			value: wintry(func(w *Winter) float64 { return w.Burned }), at: winterTo, reading: readWinter, told: true},
		{Key: "winter.honey_left_kg", Unit: "kg", Section: Stores, Label: "left after winter", Name: "winter: honey left", Meaning: "honey in the hive at its end", daily: true,
			value: wintry(func(w *Winter) float64 { return w.Left }), at: winterTo, reading: readWinterLeft},
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
		lines = append(lines, Line{Key: "loss_kWh." + way.key, Unit: "kWh", Section: HeatLost, Label: "  " + way.label, Meaning: "heat lost " + way.meaning + "; below 0 more came in than went",
			value: number(func(l *Ledger) float64 { return way.of(l.LossHeat) }), reading: way.reading})
	}
	for _, way := range ways() {
		lines = append(lines, Line{Key: "loss_honey_kg." + way.key, Unit: "kg", Label: way.label, Meaning: "the same as honey, at 12.7 MJ/kg: " + way.meaning + "; below 0 more came in than went, which saved no such honey",
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

		Line{Key: "water.produced_kg", Unit: "kg", Section: Wetness, Label: "given off inside the hive", Meaning: "vapour given off by the bees, and by nectar and the water that they spread",
			value: number(func(l *Ledger) float64 { return l.Water.Produced }), reading: readProduced, told: true},
		Line{Key: "water.from_honey_kg", Unit: "kg", Section: Wetness, Label: "  from honey eaten", Name: "water: from honey eaten", Meaning: "of that, set free by the honey eaten for heat, 0.66 of its mass less what bees hold back", shown: sources,
			value: number(func(l *Ledger) float64 { return l.Water.FromHoney }), reading: readFromHoney},
		Line{Key: "water.from_nectar_kg", Unit: "kg", Section: Wetness, Label: "  from nectar", Name: "water: from nectar", Meaning: "of that, dried off nectar", shown: wet(func(w *Water) float64 { return w.FromNectar }),
			value: number(func(l *Ledger) float64 { return l.Water.FromNectar }), reading: readFromNectar},
		Line{Key: "water.spread_kg", Unit: "kg", Section: Wetness, Label: "  spread for cooling", Name: "water: spread for cooling", Meaning: "of that, carried in and spread to cool the nest", shown: wet(func(w *Water) float64 { return w.Spread }),
			value: number(func(l *Ledger) float64 { return l.Water.Spread }), reading: readSpread},
		Line{Key: "water.drunk_kg", Unit: "kg", Section: Wetness, Label: "  drunk from wet faces", Name: "water: drunk from wet faces", Meaning: "of that, taken by bees from wet faces of the hive and breathed out", shown: wet(func(w *Water) float64 { return w.Drunk }),
			value: number(func(l *Ledger) float64 { return l.Water.Drunk }), reading: readDrunk},
		Line{Key: "water.vented_kg", Unit: "kg", Section: Wetness, Label: "carried out by air", Name: "water: carried out by air", Meaning: "vapour that left with air, less what came in with it",
			value: number(func(l *Ledger) float64 { return l.Water.Vented }), reading: readVented},
		Line{Key: "water.stored_kg", Unit: "kg", Section: Wetness, Label: "still in the hive", Meaning: "lying on faces at the end, and more in the hive's air than at the start",
			value: number(func(l *Ledger) float64 { return l.Water.Stored }), reading: readWaterStored},
		Line{Key: "water.drained_kg", Unit: "kg", Section: Wetness, Label: "ran out", Meaning: "left the hive as liquid",
			value: number(func(l *Ledger) float64 { return l.Water.Drained }), reading: readDrained},
		Line{Key: "water.inside_shell_most_kg", Unit: "kg", Section: Wetness, Label: "most condensed inside walls and lid", Meaning: "most free water and ice inside walls, boards, lid and floor, between their faces",
			shown: wet(func(w *Water) float64 { return w.InsideMost }),
			value: number(func(l *Ledger) float64 { return l.Water.InsideMost }), at: func(l *Ledger) time.Time { return l.Water.InsideMostAt },
			reading: func(l *Ledger, s voice) string {
				if l.Water.InsideFirst.IsZero() {
					return "No water condensed inside walls and lid."
				}
				return fmt.Sprintf("Inside walls and lid, between their faces, water condensed from %s on, at most %s, on %s.", dateIn(l.Water.InsideFirst), s.kg(l.Water.InsideMost), dateIn(l.Water.InsideMostAt))
			}, told: true},
		Line{Key: "water.inside_shell_most_at", Unit: "time", Meaning: "beginning of that hour"},
		Line{Key: "water.inside_shell_first_at", Unit: "time", Meaning: "first hour with more than 1 g of it; absent when there never was"},
		Line{Key: "water.in_stores_kg", Unit: "kg", Section: Wetness, Label: "taken up by open honey and pollen", Meaning: "more in open honey and pollen at the end than at the start", shown: wet(func(w *Water) float64 { return w.InStores }),
			value: number(func(l *Ledger) float64 { return l.Water.InStores }), reading: func(l *Ledger, s voice) string {
				if l.Water.InStores < 0 {
					return fmt.Sprintf("Open honey and pollen gave up %s of water.", s.kg(-l.Water.InStores))
				}
				return fmt.Sprintf("Open honey and pollen took up %s of water.", s.kg(l.Water.InStores))
			}},
		Line{Key: "water.in_shell_kg", Unit: "kg", Section: Wetness, Label: "taken up by walls and lid", Meaning: "more in walls, boards, lid and floor at the end than at the start", shown: wet(func(w *Water) float64 { return w.InShell }),
			value: number(func(l *Ledger) float64 { return l.Water.InShell }), reading: readInShell},
		Line{Key: "water.through_shell_kg", Unit: "kg", Section: Wetness, Label: "left through walls and lid", Meaning: "water that left through the material to outdoors, rain that dried off outside included", shown: wet(func(w *Water) float64 { return w.ThroughShell }),
			value: number(func(l *Ledger) float64 { return l.Water.ThroughShell }), reading: readThroughShell},
		Line{Key: "water.rain_soaked_kg", Unit: "kg", Section: Wetness, Label: "rain drawn in by bare wood", Meaning: "rain that unpainted outer faces drew in", shown: wet(func(w *Water) float64 { return w.Rain }),
			value: number(func(l *Ledger) float64 { return l.Water.Rain }), reading: readRain},
		Line{Key: "water.held_by_bees_kg", Unit: "kg", Section: Wetness, Label: "held back by the bees", Meaning: "metabolic water that never became vapour and leaves with cleansing flights",
			value: number(func(l *Ledger) float64 { return l.Water.HeldByBees }), reading: readHeld},
		Line{Key: "water.condensed_kg.lid", Unit: "kg", Section: Wetness, Label: "condensed on lid and top board", Meaning: "condensed on what closes the hive above, counted each time it settles, before any dried",
			value: number(func(l *Ledger) float64 { return l.Water.Condensed.Lid }), reading: condensed("overhead", func(s Surfaces) float64 { return s.Lid })},
		Line{Key: "water.condensed_kg.walls", Unit: "kg", Section: Wetness, Label: "condensed on walls", Meaning: "condensed on walls, counted each time it settles, before any dried",
			value: number(func(l *Ledger) float64 { return l.Water.Condensed.Walls }), reading: condensed("on the walls", func(s Surfaces) float64 { return s.Walls }), told: true},
		Line{Key: "water.condensed_kg.floor", Unit: "kg", Section: Wetness, Label: "condensed on the floor", Meaning: "condensed on the floor, counted each time it settles, before any dried",
			value: number(func(l *Ledger) float64 { return l.Water.Condensed.Floor }), reading: condensed("on the floor", func(s Surfaces) float64 { return s.Floor })},
		Line{Key: "water.condensed_kg.combs", Unit: "kg", Section: Wetness, Label: "condensed on combs", Meaning: "condensed on combs, counted each time it settles, before any dried",
			value: number(func(l *Ledger) float64 { return l.Water.Condensed.Combs }), reading: condensed("on the combs", func(s Surfaces) float64 { return s.Combs })},
		Line{Key: "water.ran_down_kg", Unit: "kg", Section: Wetness, Label: "ran down to the floor", Meaning: "ran from walls and combs to the floor", shown: wet(func(w *Water) float64 { return w.RanDown }),
			value: number(func(l *Ledger) float64 { return l.Water.RanDown }), reading: readRanDown},
		Line{Key: "water.lying_total_kg", Unit: "kg", Section: Wetness, Label: "lying on faces at the end", Meaning: "water and ice on lid, walls, floor and combs together at the end",
			value: number(func(l *Ledger) float64 { return l.Water.LyingTotal }), reading: readLying},
		Line{Key: "water.lying_kg.lid", Unit: "kg", Meaning: "water and ice on lid and top board at the end"},
		Line{Key: "water.lying_kg.walls", Unit: "kg", Meaning: "water and ice on walls at the end"},
		Line{Key: "water.lying_kg.floor", Unit: "kg", Meaning: "water and ice on the floor at the end"},
		Line{Key: "water.lying_kg.combs", Unit: "kg", Meaning: "water and ice on combs at the end"},
		Line{Key: "water.lying_most_kg.lid", Unit: "kg", Meaning: "most water and ice on lid and top board at the end of an hour"},
		Line{Key: "water.lying_most_kg.walls", Unit: "kg", Meaning: "most water and ice on walls at the end of an hour"},
		Line{Key: "water.lying_most_kg.floor", Unit: "kg", Meaning: "most water and ice on the floor at the end of an hour"},
		Line{Key: "water.lying_most_kg.combs", Unit: "kg", Meaning: "most water and ice on combs at the end of an hour"},
		Line{Key: "water.overhead_hours", Unit: "h", Section: Wetness, Label: "hours wet above the cluster", Meaning: "hours with more than 1 g of water or ice lying above the cluster",
			value: number(func(l *Ledger) float64 { return l.Water.OverheadHours }), reading: readOverhead, told: true},
		Line{Key: "water.overhead_most_kg", Unit: "kg", Section: Wetness, Label: "most water above the cluster", Meaning: "most water and ice above the cluster at the end of an hour",
			value: number(func(l *Ledger) float64 { return l.Water.OverheadMost }), at: func(l *Ledger) time.Time { return l.Water.OverheadAt }, reading: readOverheadMost},
		Line{Key: "water.overhead_most_at", Unit: "time", Meaning: "beginning of that hour; absent when there never was any"},
		Line{Key: "water.overhead_first_at", Unit: "time", Meaning: "first hour with overhead water; absent when there never was any"},
		Line{Key: "water.overhead_last_at", Unit: "time", Meaning: "last hour with overhead water"},
		Line{Key: "water.dripped_kg", Unit: "kg", Section: Wetness, Label: "dripped from overhead", Meaning: "fell from lid and top board",
			value: number(func(l *Ledger) float64 { return l.Water.Dripped }), reading: readDripped},
		Line{Key: "water.dripped_on_cluster_kg", Unit: "kg", Section: Wetness, Label: "  of that on the cluster", Name: "water: dripped on the cluster", Meaning: "of that from above the cluster",
			value: number(func(l *Ledger) float64 { return l.Water.DrippedBees }), reading: readDrippedBees},
		Line{Key: "water.first.at", Unit: "time", Meaning: "hour in which water first settled on a face; absent when it never did"},
		Line{Key: "water.first.face", Unit: "text", Meaning: "the face"},
		Line{Key: "water.first.height_m", Unit: "m", Meaning: "its middle above the floor"},
		Line{Key: "water.first.temp_C", Unit: "°C", Section: Wetness, Label: "first face to get wet, then at", Name: "water: first face to get wet, then at", Meaning: "its temperature then",
			value: func(l *Ledger) (float64, bool) {
				if l.Water.First == nil {
					return 0, false
				}
				return l.Water.First.Temp, true
			},
			at: func(l *Ledger) time.Time {
				if l.Water.First == nil {
					return time.Time{}
				}
				return l.Water.First.At
			},
			reading: readFirstWet, told: true, shown: func(l *Ledger) bool { return l.Water.First != nil }},
		Line{Key: "water.first.dew_point_C", Unit: "°C", Meaning: "dew point of the air before it, frost point below 0 °C"},
		Line{Key: "water.first.others[].face", Unit: "text", Meaning: "a face still dry then"},
		Line{Key: "water.first.others[].height_m", Unit: "m", Meaning: "its middle above the floor"},
		Line{Key: "water.first.others[].temp_C", Unit: "°C", Meaning: "its temperature then"},
		Line{Key: "water.first.others[].dew_point_C", Unit: "°C", Meaning: "dew point of the air before it"},
		Line{Key: "water.first_overhead.at", Unit: "time", Meaning: "beginning of the hour"},
		Line{Key: "water.first_overhead.face", Unit: "text", Meaning: "the face"},
		Line{Key: "water.first_overhead.height_m", Unit: "m", Meaning: "its middle above the floor"},
		Line{Key: "water.first_overhead.temp_C", Unit: "°C", Meaning: "its temperature then"},
		Line{Key: "water.first_overhead.dew_point_C", Unit: "°C", Meaning: "dew point of the air before it, frost point below 0 °C"},
		Line{Key: "water.first_overhead.others[].face", Unit: "text", Meaning: "a face still dry then"},
		Line{Key: "water.first_overhead.others[].height_m", Unit: "m", Meaning: "its middle above the floor"},
		Line{Key: "water.first_overhead.others[].temp_C", Unit: "°C", Meaning: "its temperature then"},
		Line{Key: "water.first_overhead.others[].dew_point_C", Unit: "°C", Meaning: "dew point of the air before it"},
		Line{Key: "water.spring.from", Unit: "date", Meaning: "first day of spring in the run: March to May, in the south September to November; absent without brood then"},
		Line{Key: "water.spring.to", Unit: "date", Meaning: "its last day"},
		Line{Key: "water.spring.wanted_kg", Unit: "kg", Section: Wetness, Label: "wanted by brood in spring", Meaning: "water that brood asked for in spring beyond what honey brings", shown: vernal,
			value: springly(func(s *Spring) float64 { return s.Wanted }), reading: readSpring, told: true},
		Line{Key: "water.spring.drunk_kg", Unit: "kg", Section: Wetness, Label: "  found on wet faces", Name: "water: found on wet faces in spring", Meaning: "of that, drunk from wet faces of the hive", shown: vernal,
			value: springly(func(s *Spring) float64 { return s.Drunk }), reading: func(l *Ledger, s voice) string {
				if l.Water.Spring == nil {
					return ""
				}
				return fmt.Sprintf("In spring bees drank %s from wet faces inside the hive.", s.some(l.Water.Spring.Drunk))
			}},
		Line{Key: "water.spring.days", Unit: "d", Meaning: "days of spring on which brood wanted water",
			value: springly(func(s *Spring) float64 { return float64(s.Days) })},
		Line{Key: "water.spring.dry_days", Unit: "d", Section: Wetness, Label: "  days too dry to drink from", Name: "water: spring days too dry to drink from", Meaning: "of those, days with less than half of it on the hive's faces", shown: vernal,
			value: springly(func(s *Spring) float64 { return float64(s.DryDays) }), reading: func(l *Ledger, _ voice) string {
				if l.Water.Spring == nil {
					return ""
				}
				return fmt.Sprintf("On %d of %d days of spring the hive was too dry to drink from.", l.Water.Spring.DryDays, l.Water.Spring.Days)
			}},
		Line{Key: "water.spring.dry_nest_hours", Unit: "h", Section: Wetness, Label: "  hours of dry nest air", Name: "water: hours of dry nest air in spring", Meaning: "hours with brood and nest air below 50 % humidity, in which eggs do not hatch", shown: vernal,
			value: springly(func(s *Spring) float64 { return s.DryNestHours }), reading: readDryNest},

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

		Line{Key: "summer.nest_above_36_hours", Unit: "h", Section: Hot, Label: "brood nest above 36 °C", Name: "summer: brood nest above 36 °C", Meaning: "hours in which the core of a nest with brood ends above 36 °C", shown: hot,
			value: brood(func(s *Summer) float64 { return s.Above36 }), reading: readNest, told: true},
		Line{Key: "summer.nest_above_37_hours", Unit: "h", Section: Hot, Label: "  above 37 °C", Name: "summer: brood nest above 37 °C", Meaning: "the same above 37 °C, of which some hours harm brood", shown: hot,
			value: brood(func(s *Summer) float64 { return s.Above37 }), reading: nestAbove(37, func(s *Summer) float64 { return s.Above37 })},
		Line{Key: "summer.nest_above_38_hours", Unit: "h", Section: Hot, Label: "  above 38 °C", Name: "summer: brood nest above 38 °C", Meaning: "the same above 38 °C", shown: hot,
			value: brood(func(s *Summer) float64 { return s.Above38 }), reading: nestAbove(38, func(s *Summer) float64 { return s.Above38 })},
		Line{Key: "summer.nest_max_C", Unit: "°C", Section: Hot, Label: "  hottest", Name: "summer: brood nest, hottest", Meaning: "highest end of an hour of the core of a nest with brood", shown: hot,
			value: brood(func(s *Summer) float64 { return s.NestMax }), at: func(l *Ledger) time.Time { return l.Summer.NestMaxAt }, reading: readNestMax},
		Line{Key: "summer.nest_max_at", Unit: "time", Meaning: "beginning of that hour; absent when there was no brood"},
		Line{Key: "summer.comb_max_C", Unit: "°C", Section: Hot, Label: "warmest comb", Meaning: "highest end of an hour of the warmest comb, brood or honey, while the colony lives", shown: hot,
			value: func(l *Ledger) (float64, bool) { return l.Summer.CombMax, !l.Summer.CombMaxAt.IsZero() }, at: func(l *Ledger) time.Time { return l.Summer.CombMaxAt }, reading: readCombMax, told: true},
		Line{Key: "summer.comb_max_at", Unit: "time", Meaning: "beginning of that hour"},
		Line{Key: "summer.outside_hours", Unit: "h", Section: Hot, Label: "bees hanging outside", Meaning: "hours that end with more than a hundredth of the bees hanging outside", shown: hot,
			value: number(func(l *Ledger) float64 { return l.Summer.Outside }), reading: readOutside, told: true},
		Line{Key: "summer.outside_most_share", Unit: "-", Section: Hot, Label: "  largest share of them", Name: "summer: share of the bees outside, largest", Meaning: "largest share of the bees hanging outside at the end of an hour", shown: hot,
			value: number(func(l *Ledger) float64 { return l.Summer.OutsideMost }), at: func(l *Ledger) time.Time { return l.Summer.OutsideAt }, reading: readOutsideMost},
		Line{Key: "summer.outside_most_at", Unit: "time", Meaning: "beginning of that hour; absent when none ever did"},
		Line{Key: "summer.fanning_bee_hours", Unit: "h", Section: Hot, Label: "fanning, hours of single bees", Name: "summer: fanning, hours of single bees", Meaning: "air fanned out of the entrance over what one bee fans (usually 0.08 L/s, from memory of an anemometer study of 1954), against heat, damp and stale air of the whole run", shown: hot,
			value: number(func(l *Ledger) float64 { return l.Summer.Fanning }), reading: readFanning, told: true},
		Line{Key: "summer.fanning_worst_day_bee_hours", Unit: "h", Section: Hot, Label: "  on the worst day", Name: "summer: fanning on the worst day", Meaning: "the same on the day with most of it", daily: true, shown: hot,
			value: number(func(l *Ledger) float64 { return l.Summer.FanningDay }), at: func(l *Ledger) time.Time { return l.Summer.FanningDayOn.Time }, reading: readFanningDay},
		Line{Key: "summer.fanning_worst_day", Unit: "date", Meaning: "that day; absent when none fanned"},
		Line{Key: "summer.fanning_for_damp_bee_hours", Unit: "h", Section: Hot, Label: "  to dry nectar and water", Name: "summer: fanning to dry nectar and water", Meaning: "of all fanning, while damp from nectar or spread water asked for it most", shown: hot,
			value: func(l *Ledger) (float64, bool) { return l.Summer.FanningDry, l.Summer.FanningDry > 0 }, reading: readFanningDry},
		Line{Key: "summer.water_hauled_L", Unit: "L", Section: Hot, Label: "water hauled", Meaning: "water that bees carried in and spread to cool the nest", shown: hot,
			value: number(func(l *Ledger) float64 { return l.Summer.Hauled }), reading: readHauled, told: true},
		Line{Key: "summer.water_worst_day_L", Unit: "L", Section: Hot, Label: "  on the worst day", Name: "summer: water hauled on the worst day", Meaning: "the same on the day with most of it", daily: true, shown: hot,
			value: number(func(l *Ledger) float64 { return l.Summer.HauledDay }), at: func(l *Ledger) time.Time { return l.Summer.HauledDayOn.Time }, reading: readHauledDay},
		Line{Key: "summer.water_worst_day", Unit: "date", Meaning: "that day; absent when none was hauled"},
		Line{Key: "summer.water_hauled_by_day[].date", Unit: "date", Meaning: "each of the days on which bees hauled more than 0.1 L"},
		Line{Key: "summer.water_hauled_by_day[].water_L", Unit: "L", Meaning: "water hauled on it"},
		Line{Key: "summer.water_hauled_days", Unit: "d", Section: Hot, Label: "  days with more than a cup", Name: "summer: days with water hauled", Meaning: "days on which bees hauled more than 0.1 L", shown: hot,
			value: number(func(l *Ledger) float64 { return l.Summer.HauledDays }), reading: readHauledDays},
		Line{Key: "summer.water_flights", Unit: "-", Section: Hot, Label: "  flights for it", Name: "summer: flights for water", Meaning: "water hauled over the load of a forager, usually 25 mg", shown: hot,
			value: number(func(l *Ledger) float64 { return l.Summer.Flights }), reading: readFlights},
		Line{Key: "summer.water_flight_hours", Unit: "h", Section: Hot, Label: "  foragers' hours for it", Name: "summer: foragers' hours for water", Meaning: "time of those flights there and back, at the water and at home, lost to nectar and pollen", shown: hot,
			value: number(func(l *Ledger) float64 { return l.Summer.FlightHours }), reading: readFlightHours, told: true},
		Line{Key: "summer.water_to_put_out_L", Unit: "L", Section: Hot, Label: "water to put out, a day", Meaning: "what the worst day takes, rounded up to half a litre; 0 when none was hauled", shown: hot,
			value: func(l *Ledger) (float64, bool) { return l.Summer.PutOut, l.Summer.PutOut > 0 }, reading: readPutOut, told: true},
		Line{Key: "summer.water_within_m", Unit: "m", Section: Hot, Label: "  within", Name: "summer: water to put out within", Meaning: "how near: as near as the hive file says, and never beyond 500 m", shown: hot,
			value: func(l *Ledger) (float64, bool) { return l.Summer.PutOutWithin, l.Summer.PutOut > 0 }, reading: readWithin},
		Line{Key: "summer.water_distance_m", Unit: "m", Meaning: "distance to water that the hive file says, 0 when it says none"},
		Line{Key: "summer.nectar_flows_in_file", Unit: "-", Meaning: "how many nectar flows the hive file names"},

		Line{Key: "comb.share_of_strength", Unit: "-", Section: Hanging, Label: "load over strength, highest", Meaning: "weight on the comb in most danger while the colony lives, over what it can carry for minutes, with wax of middle strength; absent when the hive has no comb", shown: hot,
			value: hung(func(c *Comb) float64 { return c.Share }), at: combAt, reading: readComb, told: true},
		Line{Key: "comb.share_of_strength_low", Unit: "-", Section: Hanging, Label: "  with strong wax", Name: "comb: load over strength of strong wax", Meaning: "the same with wax at the strong end of its range", shown: hot,
			value: hung(func(c *Comb) float64 { return c.ShareLow }), reading: combWith("strong", func(c *Comb) float64 { return c.ShareLow })},
		Line{Key: "comb.share_of_strength_high", Unit: "-", Section: Hanging, Label: "  with weak wax", Name: "comb: load over strength of weak wax", Meaning: "the same with wax at the weak end of its range", shown: hot,
			value: hung(func(c *Comb) float64 { return c.ShareHigh }), reading: combWith("weak", func(c *Comb) float64 { return c.ShareHigh })},
		Line{Key: "comb.comb_C", Unit: "°C", Section: Hanging, Label: "  its temperature then", Name: "comb: temperature then", Meaning: "temperature of that comb in that hour", shown: hot,
			value: hung(func(c *Comb) float64 { return c.Temperature }), reading: readCombTemp},
		Line{Key: "comb.honey_kg", Unit: "kg", Section: Hanging, Label: "  honey in it", Name: "comb: honey in it", Meaning: "ripe honey in one such comb then", shown: hot,
			value: hung(func(c *Comb) float64 { return c.Honey }), reading: readCombHoney},
		Line{Key: "comb.nectar_kg", Unit: "kg", Section: Hanging, Label: "  nectar in it", Name: "comb: nectar in it", Meaning: "nectar still to ripen in one such comb then", shown: hot,
			value: hung(func(c *Comb) float64 { return c.Nectar }), reading: readCombNectar},
		Line{Key: "comb.at", Unit: "time", Meaning: "beginning of that hour"},
		Line{Key: "comb.body", Unit: "-", Meaning: "body that the comb hangs in, the lowest is 1"},
		Line{Key: "comb.place", Unit: "text", Meaning: "core (over and in the nest), flank or beyond (the follower board)"},
		Line{Key: "comb.class", Unit: "text", Meaning: "holds, near (weak wax would not hold) or falls (wax of middle strength does not), over the whole run"},
		Line{Key: "comb.gives_way", Unit: "text", Meaning: "what would give way first"},
		Line{Key: "comb.frames", Unit: "-", Meaning: "how many frames of the body these combs are"},
		Line{Key: "comb.frames_in_body", Unit: "-", Meaning: "frames that the body has"},
		Line{Key: "comb.warmest_C", Unit: "°C", Meaning: "warmest hour of these combs"},
		Line{Key: "comb.warmest_at", Unit: "time", Meaning: "beginning of that hour"},
		Line{Key: "comb.warmest_honey_kg", Unit: "kg", Meaning: "ripe honey in one of them in that hour"},

		balance("heat", "heat", "bees' heat", func(c Closure) float64 { return c.Heat }),
		balance("vapour", "vapour", "vapour given off and brought in", func(c Closure) float64 { return c.Vapour }),
		balance("co2", "CO2", "CO2 given off and brought in", func(c Closure) float64 { return c.CO2 }),
		balance("air", "air", "air let in", func(c Closure) float64 { return c.Air }),
		balance("honey", "honey", "honey at the start, fed and gained", func(c Closure) float64 { return c.Honey }),

		Line{Key: "combs[].body", Unit: "-", Meaning: "the same as of comb for the combs of every body and column: its body"},
		Line{Key: "combs[].place", Unit: "text", Meaning: "its column"},
		Line{Key: "combs[].class", Unit: "text", Meaning: "its class"},
		Line{Key: "combs[].at", Unit: "time", Meaning: "beginning of its worst hour"},
		Line{Key: "combs[].share_of_strength", Unit: "-", Meaning: "its load over strength then, with wax of middle strength"},
		Line{Key: "combs[].share_of_strength_low", Unit: "-", Meaning: "with wax at the strong end of its range"},
		Line{Key: "combs[].share_of_strength_high", Unit: "-", Meaning: "with wax at the weak end of its range"},
		Line{Key: "combs[].comb_C", Unit: "°C", Meaning: "its temperature then"},
		Line{Key: "combs[].honey_kg", Unit: "kg", Meaning: "ripe honey in one of them then"},
		Line{Key: "combs[].nectar_kg", Unit: "kg", Meaning: "nectar still to ripen in one of them then"},
		Line{Key: "combs[].gives_way", Unit: "text", Meaning: "what would give way first"},
		Line{Key: "combs[].frames", Unit: "-", Meaning: "how many frames of the body these combs are, side by side: the middle ones for core, the outer ones for flank"},
		Line{Key: "combs[].frames_in_body", Unit: "-", Meaning: "frames that the body has"},
		Line{Key: "combs[].warmest_C", Unit: "°C", Meaning: "warmest hour of these combs, at the warmest of their heights"},
		Line{Key: "combs[].warmest_at", Unit: "time", Meaning: "beginning of that hour"},
		Line{Key: "combs[].warmest_honey_kg", Unit: "kg", Meaning: "ripe honey in one of them in that hour"},
		Line{Key: "events[].at", Unit: "time", Meaning: "when something happened"},
		Line{Key: "events[].what", Unit: "text", Meaning: "what happened"},
		Line{Key: "warnings[]", Unit: "text", Meaning: "what the run found doubtful"},
	)
}

// Whether lines are shown.
func hot(l *Ledger) bool      { return l.Hot() }
func gained(l *Ledger) bool   { return l.Honey.Gained > 0 }
func refilled(l *Ledger) bool { return l.Honey.Gained > 0 || l.Honey.Fed > 0 }
func sources(l *Ledger) bool {
	return !nothing(l.Water.FromNectar) || !nothing(l.Water.Spread) || !nothing(l.Water.Drunk)
}

// wet shows a line of water when there is any.
func wet(f func(*Water) float64) func(*Ledger) bool {
	return func(l *Ledger) bool { return !nothing(f(&l.Water)) }
}

// springly makes a value function of a field of the spring.
func springly(f func(*Spring) float64) func(*Ledger) (float64, bool) {
	return func(l *Ledger) (float64, bool) {
		if l.Water.Spring == nil {
			return 0, false
		}
		return f(l.Water.Spring), true
	}
}

// vernal reports whether there is a spring to tell of.
func vernal(l *Ledger) bool { return l.Water.Spring != nil }

// wintry makes a value function of a field of the winter in a longer run.
func wintry(f func(*Winter) float64) func(*Ledger) (float64, bool) {
	return func(l *Ledger) (float64, bool) {
		if l.Winter == nil {
			return 0, false
		}
		return f(l.Winter), true
	}
}

func winterTo(l *Ledger) time.Time {
	if l.Winter == nil {
		return time.Time{}
	}
	return l.Winter.To.Time
}

// brood makes a value function of the brood nest.
func brood(f func(*Summer) float64) func(*Ledger) (float64, bool) {
	return func(l *Ledger) (float64, bool) { return f(&l.Summer), !l.Summer.NestMaxAt.IsZero() }
}

// hung makes a value function of the comb in most danger.
func hung(f func(*Comb) float64) func(*Ledger) (float64, bool) {
	return func(l *Ledger) (float64, bool) {
		if l.Comb == nil {
			return 0, false
		}
		return f(l.Comb), true
	}
}

func combAt(l *Ledger) time.Time {
	if l.Comb == nil {
		return time.Time{}
	}
	return l.Comb.At
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
