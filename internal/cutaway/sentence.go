package cutaway

import (
	"fmt"
	"math"

	"hackle/quantity"
)

// Sentence says in one sentence how it stands at an hour.
func (y *Year) Sentence(hour int, u quantity.System) string {
	if hour < 0 || hour >= y.hours {
		return ""
	}
	v := func(name string) float64 { return y.value(name, hour) }
	celsius := func(name string) string { return quantity.Format(v(name), quantity.Temperature, u) }
	text := fmt.Sprintf("%s outdoors, %s under the lid", celsius("outdoor.temp"), celsius("air.under_lid"))
	switch {
	case !y.has("bees.mass"):
		return text + "."
	case v("bees.mass") <= 0:
		return text + "; the bees are dead."
	case v("bees.isolated") > 0:
		return text + "; the bees hold " + celsius("bees.core") + " and cannot reach their honey."
	case v("bees.confined") > 0:
		return text + "; the bees hold " + celsius("bees.core") + " and sit tight."
	case v("bees.outside") >= 0.02:
		return text + fmt.Sprintf("; it is %s in the brood nest and %.0f %% of the bees hang outside.", celsius("bees.core"), math.Round(100*v("bees.outside")))
	case v("bees.fanned") >= 1e-4:
		return text + "; the bees hold " + celsius("bees.core") + " and fan."
	}
	return text + "; the bees hold " + celsius("bees.core") + "."
}

// Reading is a value of an hour with its name.
type Reading struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

// Readings are the values of an hour that a table beside the picture shows.
func (y *Year) Readings(hour int, u quantity.System) []Reading {
	if hour < 0 || hour >= y.hours {
		return nil
	}
	var out []Reading
	add := func(name, channel string, kind quantity.Kind) {
		if v, ok := y.Value(channel, hour); ok {
			system := u
			if kind == quantity.Power || kind == quantity.Flow {
				system = quantity.Metric
			}
			out = append(out, Reading{name, quantity.Format(v, kind, system)})
		}
	}
	add("Outdoors", "outdoor.temp", quantity.Temperature)
	add("Wind at the hive", "outdoor.wind", quantity.Speed)
	add("Under the lid", "air.under_lid", quantity.Temperature)
	add("At the cluster's height", "air.at_cluster", quantity.Temperature)
	add("At the floor", "air.at_floor", quantity.Temperature)
	add("Core of the cluster", "bees.core", quantity.Temperature)
	add("Its rim", "bees.mantle", quantity.Temperature)
	add("Warmest comb", "comb.warmest", quantity.Temperature)
	add("Humidity under the lid", "humidity.under_lid", quantity.Fraction)
	add("CO2 beside the cluster", "co2.at_cluster", quantity.Fraction)
	add("Bees' heat", "bees.heat", quantity.Power)
	add("Bees", "bees.mass", quantity.Mass)
	add("Honey left", "honey.left", quantity.Mass)
	add("Water under the lid", "water.lid", quantity.Mass)
	add("Water on the walls", "water.walls", quantity.Mass)
	add("Water on the floor", "water.floor", quantity.Mass)
	add("Air leaving", "air.out", quantity.Flow)
	return out
}
