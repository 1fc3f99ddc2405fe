package season

import (
	"math"

	"hackle/airflow"
	"hackle/climate"
	"hackle/hive"
	"hackle/wall"
)

// leastSnow is the depth from which snow lies everywhere and counts. [m]
const leastSnow = 0.02

// Ground under snow: as warm as melting ice behind a resistance, ten centimetres of
// frozen soil. An estimate: deep snow keeps ground near 0 °C (common practice, no
// source), thin snow in hard frost does not.
const (
	snowGround     = 0.0 // [°C]
	snowGroundHeld = 0.1 // [m²·K/W]
)

// bank is the snow round the hive in one step.
type bank struct {
	top    float64   // height of its surface above the inner face of the floor [m]
	share  []float64 // of the height of each slab, then the lid's rim, that lies in it [-]
	bounds []bound   // what a wall meets there
}

// bound is what an outer face meets.
type bound struct {
	film  float64 // conductance, radiation included [W/(m²·K)]
	blown float64 // the part of it that carries vapour as well [W/(m²·K)]
	feels float64 // temperature it leads to [°C]
}

// beside joins two bounds that share a face.
func (b bound) beside(other bound, share float64) bound {
	film := (1-share)*b.film + share*other.film
	return bound{film: film, blown: (1-share)*b.blown + share*other.blown,
		feels: ((1-share)*b.film*b.feels + share*other.film*other.feels) / film}
}

// snowPaths are the conductances from an upright wall in a layer of snow to its
// surface and to the ground below it, mean over the heights from a to b above
// ground. [W/(m²·K)]
//
// The snow is half of an endless strip 0 < y < depth with the wall at its end, the
// ground at y = 0 and the surface at y = depth. The complex map cosh(pi z/depth)
// turns it into a half plane, and gives exactly, per area at y,
//
//	to the surface k/depth tan(pi y/(2 depth)), to the ground k/depth cot(pi y/(2 depth)).
//
// Both grow without bound at the corners; there a film at the surface and the held
// ground stand before them.
func snowPaths(k, depth, a, b, surfaceHeld, groundHeld float64) (surface, ground float64) {
	const points = 12
	for i := range points {
		y := a + (b-a)*(float64(i)+0.5)/points
		slope := math.Tan(math.Pi * y / (2 * depth))
		surface += 1 / (surfaceHeld + depth/(k*slope)) / points
		ground += 1 / (groundHeld + slope*depth/k) / points
	}
	return
}

// snowSurface is how warm the surface of lying snow would be from air, sky and sun
// alone, and the conductance that holds it there. Melting snow stays at 0 °C,
// whatever comes.
func snowSurface(air, sky, convection, sun, density float64) (temp, held float64) {
	const emissivity = 0.98 // of snow to long wave, from memory
	radiant := wall.RadiativeFilm(emissivity, (air+sky)/2)
	film := convection + radiant
	temp = (convection*air + radiant*sky + (1-climate.SnowAlbedo(density))*sun) / film
	if temp >= 0 {
		return 0, 0
	}
	return temp, 1 / film
}

// floorThickness is from the inner face of the floor to its underside. [m]
func (b *box) floorThickness() float64 {
	sum := 0.0
	for _, l := range b.plan.Hive.Floor.Layers {
		sum += l.Thickness
	}
	return sum
}

// span is the height from which to which an upright face of a slab, or of the lid's
// rim, reaches above the inner face of the floor. [m]
func (b *box) span(slab int) (low, high float64) {
	if slab < len(b.slabs) {
		return b.slabs[slab].bottom, b.slabs[slab].top
	}
	return b.height, b.height + b.plan.Hive.Lid.Space
}

// snowRound works out what the walls meet in the snow of an hour. surface is the
// snow's own temperature above, held what holds it there.
func (e *engine) snowRound(s climate.Snow, surface, held float64) *bank {
	below := e.plan.Hive.StandHeight + e.floorThickness() // of the floor's inner face above ground
	n := len(e.slabs) + 1
	k := &bank{top: s.Depth - below, share: make([]float64, n), bounds: make([]bound, n)}
	for i := range n {
		low, high := e.span(i)
		if high <= low {
			continue
		}
		b := min(high, k.top)
		if b <= low {
			break
		}
		k.share[i] = (b - low) / (high - low)
		up, down := snowPaths(s.Conductivity, s.Depth, low+below, b+below, held, snowGroundHeld)
		film := up + down
		// Vapour leaves through the pores as heat would through still air in them.
		k.bounds[i] = bound{film: film, blown: film * stillK / s.Conductivity, feels: (up*surface + down*snowGround) / film}
	}
	return k
}

// boundOf is what an outer face meets: open air, or snow as far as it reaches.
func (e *engine) boundOf(f *surface, o *outdoors) bound {
	open := bound{o.film[f.side], o.blown[f.side], o.feels[f.side]}
	if o.bank == nil || f.side >= roofSide {
		return open
	}
	slab := len(e.slabs)
	if f.cell != e.lidCell {
		slab = e.cells[f.cell].slab
	}
	share := o.bank.share[slab]
	if share == 0 {
		return open
	}
	return open.beside(o.bank.bounds[slab], share)
}

// snowPressure is the usual draught that pushes air through snow: a hive 20 K warmer
// than outdoors over half its height. It turns the snow's resistance into a share of
// the opening. [Pa]
const snowPressure = 0.3

// throughSnow is the share of its flow that an opening keeps when a slit of a length
// lies under snow, at the usual draught. depth is that of snow over it, reach half
// the slit's breadth. Air leaves the slit through the snow to its surface as from a
// line source beside a wall under a surface of even pressure:
//
//	Q = K length pi dp/(mu ln(2 depth/reach)),   K the permeability,
//
// in series with the slit's own law. A tunnel that bees keep open, or melt, is not
// there: an estimate on the tight side.
func throughSnow(law airflow.Law, scale, length, depth, reach, permeability float64) float64 {
	if scale <= 0 {
		return 1
	}
	// Flow per pressure of the snow [m³/(s·Pa)].
	g := permeability * length * math.Pi / (airflow.ReferenceViscosity * max(math.Log(2*max(depth, reach)/reach), 0.1))
	open := scale * law.Flow(snowPressure, airflow.ReferenceDensity, airflow.ReferenceViscosity)
	if open <= 0 {
		return 1
	}
	low, high := 0.0, open
	for range 50 {
		q := (low + high) / 2
		if law.Drop(q/scale, airflow.ReferenceDensity, airflow.ReferenceViscosity)+q/g < snowPressure {
			low = q
		} else {
			high = q
		}
	}
	return low / open
}

// snowIn narrows all ways to outdoors that lie in the snow of an hour, from what
// they are without it.
func (e *engine) snowIn(s climate.Snow, k *bank) {
	e.snowOff()
	h := &e.plan.Hive
	permeability := climate.SnowPermeability(s.Density)
	for i := range e.links {
		l, f := &e.links[i], &e.flows[i]
		if l.To != outOfDoors {
			continue
		}
		length, reach, height := 0.0, 0.0, l.Height // of the slit, half its breadth
		switch f.kind {
		case flowOpening:
			o := &h.Openings[f.opening]
			switch o.Face {
			case hive.Top: // stands above the snow that lies on the lid
				continue
			case hive.Bottom:
				length, reach, height = math.Sqrt(e.areas[i]), math.Sqrt(e.areas[i])/4, -e.floorThickness()
			default: // a strip has its part of the length
				length, reach = o.Width*float64(max(1, o.Count))/strips, o.Height/2
			}
		case flowCrack:
			length, reach = e.areas[i]/h.LeakArea, 0.002
		case flowMesh: // air comes in round the stand
			low := &h.Bodies[0]
			reach = max(h.StandHeight/2, 0.005)
			length, height = 2*(low.Length+low.Width)*e.areas[i]/h.Floor.MeshArea, -e.floorThickness()-h.StandHeight/2
		case flowLidVent:
			length, reach = h.Bodies[len(h.Bodies)-1].Width, 0.005
		default:
			continue
		}
		if over := k.top - height; over > reach && length > 0 {
			if e.openWays == nil {
				e.openWays = append(e.openWays, e.cond.Scale...)
			}
			e.cond.Scale[i] *= throughSnow(l.Law, e.openWays[i], length, over, reach, permeability)
		}
	}
}

// snowOff opens what snow had narrowed.
func (e *engine) snowOff() {
	if e.openWays == nil {
		return
	}
	for i, l := range e.links {
		if l.To == outOfDoors {
			e.cond.Scale[i] = e.openWays[i]
		}
	}
	e.openWays = nil
}
