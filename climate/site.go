package climate

import (
	"fmt"
	"math"

	"hackle/air"
)

// StandardPressure returns the pressure of the standard atmosphere at a height
// above the sea [m], in pascals: 101,325 Pa at 0, falling by the law of the
// troposphere (see [air.PressureAtHeight]).
func StandardPressure(height float64) float64 { return air.PressureAtHeight(height) }

// WindProfile turns the wind of a weather station into the wind at a hive.
type WindProfile struct {
	// Roughness length of the country upwind, over a kilometre or so [m].
	Roughness float64
	// ShelterFactor is the share of the wind that hedges, walls or trees close to
	// the hive leave, as a mean over wind directions [-].
	ShelterFactor float64
}

const (
	// stationRoughness is that of the open grass around a weather station [m]:
	// class "open" of the Davenport-Wieringa classification, from memory; World Meteorological Organization guide no. 8, from memory.
	stationRoughness = 0.03
	// stationHeight is the height of its anemometer [m], the same guide.
	stationHeight = 10.0
	// blendingHeight is where the wind no longer feels the ground below it [m]:
	// "Roughness-dependent geographical interpolation of surface wind
	// speed averages", Quarterly Journal of the Royal Meteorological Society,
	// 1986; from memory.
	blendingHeight = 60.0
	// lowestWind is the height below which the profile is not followed [m]: the
	// logarithm means nothing among the blades of grass.
	lowestWind = 0.2
)

// ProfileFor returns the wind profile of an exposure by its name: "open",
// "hedged", "wood edge" or "sheltered". Another name is an error.
//
// The roughness lengths are those of the Davenport-Wieringa classification (open 0.03, roughly open 0.10, rough 0.25, very rough 0.5 m; from
// memory). The shelter factors lie within what windbreak studies report for the
// quiet zone of two to ten heights behind a belt of medium porosity, 0.3 to 0.7
// (from memory); which exposure takes which is common practice, no source.
func ProfileFor(name string) (WindProfile, error) {
	switch name {
	case "open":
		return WindProfile{Roughness: 0.03, ShelterFactor: 1}, nil
	case "hedged":
		return WindProfile{Roughness: 0.10, ShelterFactor: 0.6}, nil
	case "wood edge":
		return WindProfile{Roughness: 0.25, ShelterFactor: 0.45}, nil
	case "sheltered":
		return WindProfile{Roughness: 0.5, ShelterFactor: 0.3}, nil
	}
	return WindProfile{}, fmt.Errorf("exposure %q; accepted: open, hedged, wood edge, sheltered", name)
}

// Factor returns the wind at a height above the ground [m] as a share of the
// wind at 10 m at an open weather station; multiply [Hour.WindSpeed] by it.
//
// The station's wind is carried up to 60 m over its grass, down to 10 m over the
// roughness of the site's country, and from there down over the grass of the
// apiary, each by the logarithmic law for neutral air; then comes the shelter.
// So two open fields give ln(z/0.03)/ln(10/0.03): 0.48 at 0.5 m.
//
// Heights below 0.2 m count as 0.2 m, above 10 m as 10 m. A roughness outside
// 0.0002 m (open sea) to 2 m (city) counts as the nearer of the two; a shelter
// factor below 0 as 0. Still, stable nights have less wind near the ground than
// this and sunny noons more.
func (p WindProfile) Factor(height float64) float64 {
	z := min(max(height, lowestWind), stationHeight)
	rough := min(max(p.Roughness, 0.0002), 2)
	up := math.Log(blendingHeight/stationRoughness) / math.Log(stationHeight/stationRoughness)
	down := math.Log(stationHeight/rough) / math.Log(blendingHeight/rough)
	near := math.Log(z/stationRoughness) / math.Log(stationHeight/stationRoughness)
	return up * down * near * max(p.ShelterFactor, 0)
}
