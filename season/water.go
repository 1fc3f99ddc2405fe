package season

import (
	"cmp"
	"math"
	"slices"
	"time"

	"hackle/air"
	"hackle/climate"
	"hackle/wall"
)

// drinkPerCell is the water that rearing takes beyond what honey brings, per
// sealed cell. Advice speaks of 20 to 60 mL a day at 5,000 cells; the middle.
// [kg/d]
const drinkPerCell = 8e-6

// rainOn lets unpainted outer faces draw in rain over an hour. The roof gets the
// rain that falls; walls what the wind drives at them,
//
//	(2/9) v r^(8/9) cos(angle) [mm], v [m/s], r [mm/h],
//
// after EN ISO 15927-3 (from memory), v being the wind at the hive.
func (r *run) rainOn(h int) {
	w := &r.in.Weather.Hours[h]
	e := r.e
	rain := w.Rain * climate.RainShare(w.TempAir) // snow wets nothing before it melts
	if rain <= 0 || e.ideal.NoSorption {
		return
	}
	wind := w.WindSpeed * r.windShare
	for i := range e.faces {
		f := &e.faces[i]
		if f.far >= 0 || f.side == underSide {
			continue
		}
		offered := rain // kg/m²
		if f.side < roofSide {
			azimuth := r.in.Plan.Hive.FrontAzimuth + [...]float64{0, 180, -90, 90}[f.side]
			offered = splash(f, w.Rain, r.in.Plan.Hive.StandHeight) + 2.0/9*wind*math.Pow(rain, 8.0/9)*max(0, math.Cos((w.WindFrom-azimuth)*math.Pi/180))
		}
		took := f.moist.Soak(3600, e.wetOf(f), true, offered) * f.area
		r.tot.RainSoaked += took
		r.tot.WoodGain += took
		r.acc[r.ch.rain] += took
	}
}

// splashHeight is how far rain splashes up from the ground, and splashShare how much
// of it reaches a wall at the ground; less above, in proportion. Builders keep wood
// 300 mm off the ground for it (common practice, no source); the share is an estimate.
const (
	splashHeight = 0.3 // [m]
	splashShare  = 0.2 // [-]
)

// splash is the rain that bounces from the ground onto a wall. [mm = kg/m²]
func splash(f *surface, rain, stand float64) float64 {
	return splashShare * rain * clamp(1-(stand+f.level)/splashHeight, 0, 1)
}

// drink lets bees take water for brood from the wet faces of the hive, walls
// first, where it has not frozen. What they take they breathe out. It is called
// once an hour.
func (r *run) drink() {
	e := r.e
	r.thirsty, r.drunk = 0, 0
	if r.dead || r.strength.Sealed < 100 {
		return
	}
	need := drinkPerCell * r.strength.Sealed / 24
	r.thirsty = need
	for _, p := range []part{partWall, partFollower, partFloor, partLid, partBoard} {
		for i := range e.faces {
			if f := &e.faces[i]; f.part == p && e.face[i] > 0 && r.drunk < need {
				sip := min(e.water[i]-e.ice[i], need-r.drunk)
				e.water[i] -= sip
				r.drunk += sip
			}
		}
	}
	r.tot.Drunk += r.drunk
	r.acc[r.ch.drunk], r.acc[r.ch.thirst] = r.drunk, need
}

// mouldClass of the inner faces: sawn and planed softwood and glued board.
func mouldClass() wall.MouldClass { return wall.MouldSensitive() }

// grow moves the mould index of every inner face on by an hour.
func (r *run) grow(pressure float64) {
	e := r.e
	class := mouldClass()
	for i := range e.faces {
		f := &e.faces[i]
		p := e.pNear[i]
		if e.ideal.NoSorption {
			p = air.VapourPressure(e.ratio[f.cell], pressure)
		}
		phi := clamp(p/air.SaturationPressureFast(e.face[i]), 0, 1)
		e.mould[i].Advance(3600, e.face[i], phi, class)
		index := e.mould[i].Index
		var at int
		switch f.part {
		case partWall, partFollower, partRim:
			at = r.ch.mouldWalls
		case partFloor:
			at = r.ch.mouldFloor
		default:
			at = r.ch.mouldLid
		}
		r.acc[at] = max(r.acc[at], index)
	}
}

// inShell is the water in walls, boards, lid and floor, and the part of it that
// is free: condensate or ice inside. [kg]
func (e *engine) inShell() (all, free float64) {
	for i := range e.faces {
		f := &e.faces[i]
		in, st := e.wetOf(f), e.chain[f.offset:f.offset+f.chain.Cells()]
		all += f.area * f.moist.Water(in)
		for k := range in {
			free += f.area * f.moist.FreeWater(k, in[k], st[f.moist.HeatCell(k)])
		}
	}
	return
}

// drainShell lets surplus water run out of soaked layers to the floor, once a day. [kg]
func (e *engine) drainShell() float64 {
	sum := 0.0
	for i := range e.faces {
		f := &e.faces[i]
		sum += f.area * f.moist.Drain(e.wetOf(f))
	}
	return sum
}

// moisten gives walls, boards, lid and floor the conductivity that their water asks
// for, once a day: water in a shell changes over weeks.
func (e *engine) moisten() {
	if e.ideal.NoSorption {
		return
	}
	for i := range e.faces {
		f := &e.faces[i]
		if e.dryChain[i] == nil {
			e.dryChain[i] = f.chain
		}
		factor := e.conducts[:f.chain.Cells()]
		if f.moist.Conductivity(e.wetOf(f), factor) {
			f.chain = e.dryChain[i].Conducting(factor)
		}
	}
}

// FirstWet tells when and why water first settled on a face.
type FirstWet struct {
	At time.Time
	FaceAir
	// Others are the faces that were still dry then, from the one nearest to
	// getting wet; only the first face of all, and the first above the cluster, have
	// them.
	Others []FaceAir
}

// FaceAir is a face and the air before it.
type FaceAir struct {
	Face     string  // "left wall", "lid" and the like
	Height   float64 // of its middle above the floor [m]
	Temp     float64 // of the face [°C]
	DewPoint float64 // of the air before it, frost point below 0 °C [°C]
	Over     bool    // it hangs above the cluster
}

// faceTitle names a face for people.
func faceTitle(f *surface) string {
	switch f.part {
	case partWall:
		return f.name + " wall"
	case partBoard:
		return "top board"
	}
	return f.name
}

// noteWet records the first water of each face, by its name and whether it hangs
// over the cluster.
func (r *run) noteWet(pressure float64) {
	e := r.e
	for i := range e.faces {
		f := &e.faces[i]
		if e.water[i] < 1e-4*f.area {
			continue
		}
		key := wetKey(f)
		if r.wetSeen[key] {
			continue
		}
		first := len(r.trace.Wet) == 0
		firstOver := f.over
		for _, w := range r.trace.Wet {
			firstOver = firstOver && !w.Over
		}
		r.wetSeen[key] = true
		wet := FirstWet{At: r.now(), FaceAir: e.faceAir(i, pressure)}
		if first || firstOver {
			wet.Others = r.dryFaces(pressure)
		}
		r.trace.Wet = append(r.trace.Wet, wet)
	}
}

func wetKey(f *surface) string {
	if f.over {
		return faceTitle(f) + " over the cluster"
	}
	return faceTitle(f)
}

func (e *engine) faceAir(i int, pressure float64) FaceAir {
	f := &e.faces[i]
	return FaceAir{Face: wetKey(f), Height: f.level, Temp: e.face[i],
		DewPoint: air.DewPoint(air.VapourPressure(e.ratio[f.cell], pressure)), Over: f.over}
}

// dryFaces lists the faces that have not been wet yet, each name once where it is
// nearest to it.
func (r *run) dryFaces(pressure float64) []FaceAir {
	var out []FaceAir
	at := map[string]int{}
	for i := range r.e.faces {
		x := r.e.faceAir(i, pressure)
		if r.wetSeen[x.Face] {
			continue
		}
		k, ok := at[x.Face]
		if !ok {
			at[x.Face] = len(out)
			out = append(out, x)
		} else if x.Temp-x.DewPoint < out[k].Temp-out[k].DewPoint {
			out[k] = x
		}
	}
	slices.SortStableFunc(out, func(a, b FaceAir) int { return cmp.Compare(a.Temp-a.DewPoint, b.Temp-b.DewPoint) })
	return out
}

// honeyBalance is the relative humidity of air in balance with honey, by its
// water. Source: clover honey, Some physico-chemical properties of honey (1958),
// as a food science text has it (read second-hand).
var honeyBalance = [...][2]float64{{0.161, 0.52}, {0.174, 0.58}, {0.215, 0.66}, {0.289, 0.76}, {0.339, 0.81}}

// HoneyWater is the water share that open honey comes to in air of a relative
// humidity, linear between the published points and along the outer pairs
// beyond them. [-]
func HoneyWater(humidity float64) float64 {
	n := len(honeyBalance)
	k := 1
	for k < n-1 && humidity > honeyBalance[k][1] {
		k++
	}
	a, b := honeyBalance[k-1], honeyBalance[k]
	return max(0, a[0]+(b[0]-a[0])*(humidity-a[1])/(b[1]-a[1]))
}
