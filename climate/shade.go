package climate

import (
	"fmt"
	"math"
	"slices"
	"time"

	"hackle/air"
	"hackle/sun"
)

// Leaves says when deciduous trees carry leaves, in days of the year of the
// northern half of the world or, with South, of the southern. The zero value
// stands for leaves all year.
type Leaves struct {
	Out   int  // half of the leaves are out, 1 for 1 January [d]
	Fall  int  // half of the leaves are down [d]
	South bool // the days count from 2 July
}

// leafRamp is how long leaves take to come out, and to fall [d]. Common
// practice, no source.
const leafRamp = 30

// LeavesAt returns the usual dates at a latitude [deg] and a height [m]: out on
// 20 April at 40° and sea level, four days later by each degree towards the pole
// and each 122 m (the rule of spring of "Bioclimatics: a science of life and
// climate relations", United States Department of Agriculture, 1938, from memory;
// the date itself common practice, no source), and down on 5 November there, two
// days earlier by each of both (common practice, no source). Within 25° of the
// equator leaves stay all year.
func LeavesAt(latitude, height float64) Leaves {
	north := math.Abs(latitude)
	if north < 25 {
		return Leaves{}
	}
	late := min(max(north-40+max(height, 0)/122, -15), 20)
	return Leaves{Out: int(math.Round(110 + 4*late)), Fall: int(math.Round(309 - 2*late)), South: latitude < 0}
}

// Share returns the share of the leaves that the trees carry at a time [-].
func (l Leaves) Share(t time.Time) float64 {
	if l.Out == 0 && l.Fall == 0 {
		return 1
	}
	day := float64(t.YearDay())
	if l.South {
		day = math.Mod(day+183, 365)
	}
	out := min(max((day-float64(l.Out))/leafRamp+0.5, 0), 1)
	fallen := min(max((day-float64(l.Fall))/leafRamp+0.5, 0), 1)
	return max(out-fallen, 0)
}

// Canopy is what shades.
type Canopy int

// The kinds of a [TreeLine].
const (
	Evergreen Canopy = iota
	Deciduous
	Solid // a hill, wall or house
)

// Transmittances of the sun through a tree line [-]: crowns in leaf let 5 to 25 %
// through, bare ones 40 to 80 %, as measured on single street trees ("Energy
// savings with trees", Journal of Arboriculture 12, 1986, from memory). Which
// value in the range is common practice, no source.
const (
	throughEvergreen = 0.10
	throughLeaves    = 0.15
	throughBare      = 0.60
)

// through returns the share of the sun that gets through [-].
func (c Canopy) through(leaves float64) float64 {
	switch c {
	case Solid:
		return 0
	case Deciduous:
		return throughBare + (throughLeaves-throughBare)*leaves
	}
	return throughEvergreen
}

// TreeLine is one stretch of what stands round the hive.
type TreeLine struct {
	From, To  float64 // bearings of its ends, clockwise from north; equal for all round [deg]
	Elevation float64 // of its top seen from the hive, above the level [deg]
	Kind      Canopy
}

// Shade is all that stands round the hive. Its zero value is an open site.
type Shade struct {
	Lines  []TreeLine
	Leaves Leaves
}

func (l TreeLine) covers(bearing float64) bool {
	return math.Mod(math.Mod(bearing-l.From, 360)+360, 360) <= clockwise(l.From, l.To)
}

// Direct returns the share of the direct sun that reaches the hive [-] from a
// position of the sun at a time of the year. Lines behind each other take each
// their share.
func (sh Shade) Direct(pos sun.Pos, t time.Time) float64 {
	return sh.direct(pos, sh.Leaves.Share(t))
}

func (sh Shade) direct(pos sun.Pos, leaves float64) float64 {
	share := 1.0
	for _, l := range sh.Lines {
		if pos.Elevation < l.Elevation && l.covers(pos.Azimuth) {
			share *= l.Kind.through(leaves)
		}
	}
	return share
}

// SkyView returns the share of the light of an even sky that reaches a level
// plane at the hive at a time of the year [-]: the sum over bearings of
// transmittance times the step of sin² of the elevation.
func (sh Shade) SkyView(t time.Time) float64 { return sh.skyView(sh.Leaves.Share(t)) }

func (sh Shade) skyView(leaves float64) float64 {
	const step = 5 // [deg]
	tops := make([]float64, 0, len(sh.Lines)+2)
	tops = append(tops, 0, 90)
	for _, l := range sh.Lines {
		tops = append(tops, min(max(l.Elevation, 0), 90))
	}
	slices.Sort(tops)
	sum, n := 0.0, 0
	for bearing := step / 2.0; bearing < 360; bearing += step {
		n++
		for i := 1; i < len(tops); i++ {
			if tops[i] == tops[i-1] {
				continue
			}
			low, high := math.Sin(tops[i-1]*math.Pi/180), math.Sin(tops[i]*math.Pi/180)
			sum += (high*high - low*low) * sh.direct(sun.Pos{Azimuth: bearing, Elevation: (tops[i-1] + tops[i]) / 2}, leaves)
		}
	}
	return sum / float64(n)
}

// Shaded returns the weather with the sun and sky that reach the hive, in a new
// Series: the direct sun as a mean over four instants of each hour, the diffuse
// by the sky view, and in place of the hidden sky the long wave of trees at air
// temperature. Light that leaves throw back is left out.
func (s *Series) Shaded(sh Shade) *Series {
	w := s.altered()
	if len(sh.Lines) == 0 || len(w.Hours) == 0 {
		return w
	}
	const instants = 4
	before, after := 0.0, 0.0
	leaves, view := 0.0, 0.0
	for i := range w.Hours {
		h := &w.Hours[i]
		if i%24 == 0 {
			leaves = sh.Leaves.Share(s.Start.Add(time.Duration(i) * time.Hour))
			view = sh.skyView(leaves)
		}
		before += h.GlobalHorizontal
		if h.DirectNormal > 0 {
			share, up, weight := 0.0, 0.0, 0.0
			for k := range instants {
				at := s.MidHour(i).Add(time.Duration((float64(k) + 0.5 - instants/2.0) * float64(time.Hour) / instants))
				pos := sun.Position(at, s.Latitude, s.Longitude)
				if pos.Elevation <= 0 {
					continue
				}
				share += sh.direct(pos, leaves)
				up += math.Sin(pos.Elevation * math.Pi / 180)
				weight++
			}
			if weight > 0 {
				share /= weight
				up /= weight
				h.GlobalHorizontal = min(h.DiffuseHorizontal, h.GlobalHorizontal)*view + max(h.GlobalHorizontal-h.DiffuseHorizontal, 0)*share
				h.DirectNormal *= share
			} else { // the sun grazes the horizon
				h.GlobalHorizontal *= view
				h.DirectNormal = 0
			}
		} else {
			h.GlobalHorizontal *= view
		}
		h.DiffuseHorizontal *= view
		h.SkyLongWave = h.SkyLongWave*view + sun.BlackBody(h.TempAir)*(1-view)
		after += h.GlobalHorizontal
	}
	if before > 0 {
		w.Repairs = append(w.Repairs, Repair{Field: fields[globalHorizontal].name, Found: fmt.Sprintf("%d lines of trees, hills or walls at the site", len(sh.Lines)),
			Done: fmt.Sprintf("sun on the level cut to %.0f %% of the open over the whole", 100*after/before)})
	}
	return w
}

// FrostHollow is a place where cold air gathers on still, clear nights.
type FrostHollow struct {
	// Drop is how much colder than the station it gets by the end of a long clear
	// and still night: 2 to 4 K in a slight dip, up to 10 K in a closed hollow
	// (common practice, no source) [K].
	Drop float64
}

const (
	// Wind at the station up to which the air lies still in a hollow, and from
	// which it is stirred through, and how fast the pool forms and goes: common
	// practice, no source.
	stillWind    = 1.5 // [m/s]
	stirringWind = 4.0 // [m/s]
	poolForms    = 3.0 // time constant [h]
	poolGoes     = 1.0 // time constant by day or wind [h]
)

// InHollow returns the weather of a frost hollow near the station, in a new
// Series. After sunset the air cools towards Drop below the station's, times how
// clear the sky is (its long wave between that of a clear and a covered one) and
// how still (all below 1.5 m/s, nothing above 4 m/s), with a time constant of 3 h;
// sun and wind undo it within an hour or so. Vapour pressure stays until dew
// falls. The wind stays as it was.
func (s *Series) InHollow(f FrostHollow) *Series {
	w := s.altered()
	if !(f.Drop > 0) || len(w.Hours) == 0 {
		return w
	}
	depth, nights, deepest := 0.0, 0, 0.0
	counted := false
	for i := range w.Hours {
		h := &w.Hours[i]
		pv := h.RelHumidity * air.SaturationPressureLiquid(h.TempAir)
		dew := air.DewPoint(pv)
		clear, covered := sun.SkyLongWave(h.TempAir, dew, 0), sun.SkyLongWave(h.TempAir, dew, 1)
		open := min(max((covered-h.SkyLongWave)/(covered-clear), 0), 1)
		still := min(max((stirringWind-h.WindSpeed)/(stirringWind-stillWind), 0), 1)
		target, lag := 0.0, poolGoes
		if sun.Position(s.MidHour(i), s.Latitude, s.Longitude).Elevation < 0 {
			target = f.Drop * open * still
			if target > depth {
				lag = poolForms
			}
			counted = counted && depth > f.Drop/2
		} else {
			counted = false
		}
		depth += (target - depth) * (1 - math.Exp(-1/lag))
		if depth > f.Drop/2 && !counted {
			counted = true
			nights++
		}
		deepest = max(deepest, depth)
		h.TempAir -= depth
		h.RelHumidity = min(pv/air.SaturationPressureLiquid(h.TempAir), 1)
	}
	w.Repairs = append(w.Repairs, Repair{Field: fields[tempAir].name, Found: "a frost hollow at the site",
		Done: fmt.Sprintf("colder by more than %.1f K in %d nights, by up to %.1f K", f.Drop/2, nights, deepest)})
	return w
}
