package ensemble

// Measure is what a keeper could do to know an input better.
type Measure string

// Measures.
const (
	WeighHive       Measure = "weigh your hive"
	CountBees       Measure = "count the frames of bees on a cold morning"
	SeeBrood        Measure = "note when brood begins and how many frames it fills"
	WeighFlow       Measure = "weigh a hive through the flow"
	WeighWinter     Measure = "weigh the hive every few weeks through winter, and fit the bees' heat to it"
	MeasureNest     Measure = "put a thermometer into the nest"
	TestShell       Measure = "do a heater test on the empty hive"
	MeasureLid      Measure = "measure the lid: thickness, gaps and whether its filling is dry"
	MeasureOpenings Measure = "measure the openings"
	SunRoof         Measure = "look at the roof: how dark it is and how clean"
	FeelWind        Measure = "measure the wind at the hive"
	WatchShade      Measure = "note the hours of shade on the hive"
	LoadComb        Measure = "load a spare comb in a warm room and see what it carries"
	WatchSummer     Measure = "watch the hive in the heat: fanning, bees outside, flights for water"
	WatchFlight     Measure = "note the temperature at which bees fly"
	MoreYears       Measure = "nothing to measure: winters differ; give more years of weather"
	Research        Measure = "nothing a keeper can measure: the science of bees has not settled it"
)

// measureOf tells what could be done about a number of the bees.
func measureOf(parameter string) Measure {
	switch parameter {
	case "cluster_conductance", "mass_exponent", "mantle_film", "mantle_floor", "resting_power", "resting_q10", "awake_factor",
		"loose_doubling", "loose_doubling_warm", "loose_knee", "contracted_at", "density_tight", "density_loose", "flight_extra":
		return WeighWinter
	case "core_broodless", "core_brood":
		return MeasureNest
	case "brood_heat", "brood_food", "brood_per_bee":
		return SeeBrood
	case "summer_death", "winter_death", "bee_mass":
		return CountBees
	case "flight_above":
		return WatchFlight
	case "fan_flow", "fan_warm", "fan_brood", "hang_out", "spray_above", "water_load", "water_share", "water_stop", "water_reach", "water_cap", "flight_speed", "fan_share", "fan_limit":
		return WatchSummer
	}
	return Research
}
