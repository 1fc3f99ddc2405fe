package season

// fusion is the heat of melting ice. [J/kg]
const fusion = latentIce - latentWater

// freeze follows the ice in what lies on a face through a step in which water came
// or went [kg] at the face's temperature t. What settles below 0 °C is frost. What
// lies as water freezes, and ice melts, no faster than the heat that brings the face
// to 0 °C allows, held being what holds its temperature [W/K]; the heat goes to the
// face in the next step.
func (r *run) freeze(water float64, ice *float64, came, t, held, dt float64, l *latentHeat) {
	if t < 0 {
		*ice = max(0, *ice+came)
	}
	*ice = min(*ice, water)
	if water == 0 {
		return
	}
	could := held * t * dt / fusion // kg that would melt, below zero freeze
	change := max(-*ice, min(water-*ice, -could))
	*ice += change
	l.debt += change * fusion
	r.tot.Latent += change * fusion
}

// holds is what holds the temperature of a near face: air, long wave and the wall
// behind it. [W/K]
func (e *engine) holds(i int) float64 {
	f, l := &e.faces[i], &e.law[i]
	if f.far >= 0 {
		return (e.film[i] + e.rad[i] + l.gAA) * f.area
	}
	return (e.film[i] + e.rad[i] + l.g) * f.area
}

// absorb lets cloth, straw and the like draw in what lies on them as water, once an
// hour.
func (r *run) absorb() {
	e := r.e
	if e.ideal.NoSorption {
		return
	}
	for i := range e.faces {
		f := &e.faces[i]
		liquid := e.water[i] - e.ice[i]
		if !f.drinks || liquid <= 0 {
			continue
		}
		took := f.moist.Soak(3600, e.wetOf(f), false, liquid/f.area) * f.area
		e.water[i] -= took
		r.tot.WoodGain += took
		r.tot.DrawnIn += took
	}
}
