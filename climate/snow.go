package climate

import (
	"fmt"
	"math"
)

// Snow is the snow on the ground at the end of an hour.
type Snow struct {
	Water   float64 // what it would melt to [mm]
	Depth   float64 // [m]
	Density float64 // [kg/m³]
	// OnLid is the depth on the hive's lid where wind blows some of it off [m].
	OnLid float64
	// Conductivity of the snow [W/(m·K)].
	Conductivity float64
}

const (
	// All falls as snow at and below snowBelow, as rain at and above rainAbove
	// [°C]: "Snow Hydrology" (United States Army Corps of Engineers, 1956), from
	// memory.
	snowBelow = 0.0
	rainAbove = 2.0
	// meltFactor is the water that melts by degree above 0 °C and day
	// [mm/(K·d)]: "Temperature index melt modelling in mountain areas" (Journal of
	// Hydrology 282, 2003, DOI 10.1016/S0022-1694(03)00257-9) lists 2.5 to 5.5 off
	// glaciers; from memory, the value in it common practice.
	meltFactor = 3.5
	// settled is the density that snow settles to [kg/m³], and settling how fast
	// [1/h]: "CLASS - a Canadian land surface scheme for GCMs. I. Soil model"
	// (International Journal of Climatology 11, 1991, DOI 10.1002/joc.3370110202),
	// from memory.
	settled  = 300.0
	settling = 0.01
	// lidCatch is the share of the ground's snow that lies on a lid [-]. Common
	// practice, no source.
	lidCatch = 0.7
)

// freshDensity returns the density of new snow [kg/m³] at an air temperature
// [°C]: "Measurements and modelling of snow interception in the boreal forest"
// (Hydrological Processes 12, 1998), from memory. Above 0 °C it stays.
func freshDensity(temp float64) float64 { return 67.92 + 51.25*math.Exp(min(temp, 0)/2.59) }

// SnowConductivity returns the thermal conductivity of snow [W/(m·K)] of a density
// [kg/m³]: 2.22 (density/917)^1.88, "Review of thermal properties of snow, ice
// and sea ice" (Cold Regions Research and Engineering Laboratory, report 81-10,
// 1981), from memory; 50 to 600 kg/m³.
func SnowConductivity(density float64) float64 {
	return 2.22 * math.Pow(max(density, 0)/917, 1.88)
}

// SnowCover computes the snow hour by hour from rain (which counts snow as water)
// and air temperature by the degree-day method: it falls below 0 °C, mixed up to
// 2 °C, melts by 3.5 mm a degree and day above 0 °C, and settles towards 300
// kg/m³. A typical year begins with the snow that it ends with. Drift, rain on
// snow and the hive's own warmth are left out. Without known rain there is none.
func (s *Series) SnowCover() []Snow {
	cover := make([]Snow, len(s.Hours))
	if !s.HasRain {
		return cover
	}
	var now Snow
	rounds := 1
	if s.Typical {
		rounds = 2
	}
	for range rounds {
		for i, h := range s.Hours {
			fresh := h.Rain * (1 - RainShare(h.TempAir))
			now.step(fresh, h.TempAir)
			cover[i] = now
		}
	}
	return cover
}

// step moves the snow on by an hour with fresh snow [mm of water] at an air
// temperature [°C].
func (n *Snow) step(fresh, temp float64) {
	if n.Depth > 0 {
		if n.Density < settled {
			n.Density = settled + (n.Density-settled)*math.Exp(-settling)
		}
		n.Depth = n.Water / n.Density
	}
	n.Water += fresh
	n.Depth += fresh / freshDensity(temp)
	if melt := min(meltFactor/24*max(temp, 0), n.Water); melt > 0 {
		n.Depth *= 1 - melt/n.Water
		n.Water -= melt
	}
	if n.Water < 1e-3 {
		*n = Snow{}
		return
	}
	n.Density = n.Water / n.Depth
	n.OnLid = lidCatch * n.Depth
	n.Conductivity = SnowConductivity(n.Density)
}

// SnowPermeability returns the permeability of dry snow to air [m²] by density
// [kg/m³]: 1.096e-8 exp(-0.00957 density), "Permeability measurements on new and
// equitemperature snow" (Water Resources Research 29, 1993, 2485), measured from 134
// to 367 kg/m³ with a standard deviation of 2.8e-10 m² (abstract read).
func SnowPermeability(density float64) float64 {
	return 1.096e-8 * math.Exp(-0.00957*max(density, 0))
}

// SnowAlbedo returns the share of the sun that lying snow throws back [-] by its
// density [kg/m³], which stands for its age here: 0.84 when fresh, to 100 kg/m³, and
// 0.5 when old and melting, from 300 kg/m³: the ends from the land surface scheme
// named at settled, from memory; that density tells age is an estimate.
func SnowAlbedo(density float64) float64 {
	return 0.84 - 0.34*min(max((density-100)/200, 0), 1)
}

// RainShare returns the share of what falls that falls as rain [-] at an air
// temperature [°C]; the rest is snow.
func RainShare(temp float64) float64 {
	return min(max((temp-snowBelow)/(rainAbove-snowBelow), 0), 1)
}

// Lying returns the snow that lies at the end of each hour by the snow depths of
// the series, nil when there are none: as deep as they say, with a density that
// comes from how the depth grew and shrank. What is added is as dense as new snow
// at that air temperature; what lies settles towards 300 kg/m³ as in
// [Series.SnowCover]. Snow that lies when the series begins counts as half
// settled, 200 kg/m³ (estimate).
func (s *Series) Lying() []Snow {
	const begins = 200.0 // [kg/m³]
	cover := make([]Snow, len(s.Hours))
	any := false
	var now Snow
	for i, h := range s.Hours {
		depth := h.SnowDepth
		if !(depth > 0) {
			now = Snow{}
			continue
		}
		any = true
		switch {
		case now.Depth == 0 && i == 0:
			now.Density = begins
		case now.Depth == 0:
			now.Density = freshDensity(h.TempAir)
		default:
			if now.Density < settled {
				now.Density = settled + (now.Density-settled)*math.Exp(-settling)
			}
			if fresh := depth - now.Depth; fresh > 0 {
				now.Density = (now.Density*now.Depth + freshDensity(h.TempAir)*fresh) / depth
			}
		}
		now.Depth = depth
		now.Water = now.Density * depth
		now.OnLid = lidCatch * depth
		now.Conductivity = SnowConductivity(now.Density)
		cover[i] = now
	}
	if !any {
		return nil
	}
	return cover
}

// WithSnow returns the weather with the snow depth of [Series.SnowCover] where
// the file knows rain but no snow depth, in a new Series; else a copy.
func (s *Series) WithSnow() *Series {
	w := s.altered()
	if s.HasSnow || !s.HasRain || len(w.Hours) == 0 {
		return w
	}
	deepest, days := 0.0, 0.0
	for i, c := range s.SnowCover() {
		w.Hours[i].SnowDepth = c.Depth
		deepest = max(deepest, c.Depth)
		if c.Depth > 0.02 {
			days += 1.0 / 24
		}
	}
	w.HasSnow = true
	w.Repairs = append(w.Repairs, Repair{Field: fields[snowDepth].name, Found: "unknown",
		Done: fmt.Sprintf("computed from rain and temperature by the degree-day method: %.0f days above 2 cm, at most %.0f cm; drifts are unknown", days, 100*deepest)})
	return w
}
