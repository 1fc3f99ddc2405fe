package season

import (
	"hackle/air"
	"hackle/wall"
)

// Open honey and pollen stand in cells without a lid and exchange water with the
// air. How much of them a colony keeps is not measured for the hives here; the masses
// are estimates, and so is that they stay.
const (
	openHoney  = 0.5 // sugar and its water in uncapped cells when ripe [kg]
	pollenMass = 1.0 // dry [kg]
	// The face of a cell's content lies behind half a cell of still air.
	cellMouth = 0.0055 // [m]
	// Comb face under a kilogram of each: cells 11 mm deep full of honey of 1.4 kg/L;
	// pollen at 0.14 g a cell of 0.25 cm² (common practice, no source).
	honeyFace  = 0.065 // [m²/kg]
	pollenFace = 0.18  // [m²/kg]
	// pollenSorption is what pollen holds as a multiple of wood at the same humidity:
	// 13 % of dry mass at 60 %, 19 % at 75 % (food science texts on drying pollen,
	// from memory). [-]
	pollenSorption = 1.2
)

// Above this share of water yeasts ferment honey whatever their number, where it is
// warm enough for them. Both from memory of: Factors concerned with the fermentation
// of honey (1933).
const (
	Ferments     = 0.20 // [-]
	FermentsFrom = 11.0 // [°C]
)

// larder is what stands open in the combs of one node.
type larder struct {
	dry       float64 // sugar, or dry pollen [kg]
	water     float64 // [kg]
	face      float64 // [m²]
	passage   float64 // for vapour, what it takes up counted [kg/(s·Pa)]
	pressure  float64 // over it at the start of the step [Pa]
	honey     bool
	comb      int
	condition wall.Isotherm // of pollen, per kg dry
}

// stock puts open honey and pollen into the combs by their faces, in balance with a
// humidity. [-]
func (e *engine) stock(humidity float64) {
	e.larders = e.larders[:0]
	total := 0.0
	for i := range e.combs {
		total += e.combs[i].faceArea
	}
	if total == 0 || e.ideal.NoSorption {
		return
	}
	pollen := wall.WoodIsotherm(1, pollenSorption)
	for i := range e.combs {
		share := e.combs[i].faceArea / total
		water := HoneyWater(min(humidity, honeyBalance[1][1])) // bees close ripe honey
		e.larders = append(e.larders,
			larder{dry: share * openHoney * (1 - water), water: share * openHoney * water, face: share * openHoney * honeyFace, honey: true, comb: i},
			larder{dry: share * pollenMass, water: share * pollenMass * pollen.Content(humidity, e.comb[i]), face: share * pollenMass * pollenFace, comb: i, condition: pollen})
	}
}

// balance is the relative humidity of air in balance with what stands in a larder,
// and its slope by the water in it. [-, 1/kg]
func (l *larder) balance(t float64) (phi, slope float64) {
	if !l.honey {
		phi, slope = l.condition.Humidity(l.water/l.dry, t)
		return clamp(phi, 0, 1), slope / l.dry
	}
	whole := l.dry + l.water
	share := l.water / whole
	phi, slope = honeyHumidity(share)
	return clamp(phi, 0, 1), slope * l.dry / (whole * whole)
}

// honeyHumidity is the inverse of HoneyWater: the relative humidity over honey of a
// share of water, and its slope. [-]
func honeyHumidity(water float64) (phi, slope float64) {
	n := len(honeyBalance)
	k := 1
	for k < n-1 && water > honeyBalance[k][0] {
		k++
	}
	a, b := honeyBalance[k-1], honeyBalance[k]
	slope = (b[1] - a[1]) / (b[0] - a[0])
	return a[1] + slope*(water-a[0]), slope
}

// openLarders readies what stands open for a step of dt: implicit Euler with the
// balance taken along its slope.
func (e *engine) openLarders(dt float64) {
	for i := range e.larders {
		l := &e.larders[i]
		c := &e.combs[l.comb]
		t := e.comb[l.comb]
		phi, slope := l.balance(t)
		sat := saturation(t)
		film := air.LewisVapourCoefficient(e.seam[l.comb]/c.faceArea, t, e.pressure)
		b := l.face / (1/film + cellMouth/wall.AirPermeability)
		l.passage = b / (1 + b*dt*slope*sat)
		l.pressure = phi * sat
	}
}

// fillLarders carries what stands open through a step and books its water and heat.
func (r *run) fillLarders(dt float64) {
	e := r.e
	kappa := e.pressure / molarRatio
	for i := range e.larders {
		l := &e.larders[i]
		came := l.passage * (kappa*e.ratio[e.combs[l.comb].cell] - l.pressure) * dt
		l.water += came
		r.tot.StoresTook += came
		r.tot.Latent += came * latentWater
		e.onComb[l.comb].debt += came * latentWater
	}
}

// outerHoney is the share of water in the open honey of the outer combs [-], and
// whether it ferments where it stands.
func (r *run) outerHoney() (water float64, ferments bool) {
	e := r.e
	col := min(flank, e.columns-1)
	sugar, wet, warmth := 0.0, 0.0, 0.0
	for i := range e.larders {
		l := &e.larders[i]
		if l.honey && e.cells[e.combs[l.comb].cell].column == col {
			sugar += l.dry
			wet += l.water
			warmth += l.dry * e.comb[l.comb]
		}
	}
	if sugar == 0 {
		return 0, false
	}
	water = wet / (sugar + wet)
	return water, water > Ferments && warmth/sugar > FermentsFrom
}

// pollenWater is the water of all pollen over its dry mass. [-]
func (r *run) pollenWater() float64 {
	dry, wet := 0.0, 0.0
	for i := range r.e.larders {
		if l := &r.e.larders[i]; !l.honey {
			dry += l.dry
			wet += l.water
		}
	}
	if dry == 0 {
		return 0
	}
	return wet / dry
}
