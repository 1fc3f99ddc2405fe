package season

import (
	"hackle/air"
	"math"
	"time"

	"hackle/hive"
)

// Summer numbers of the whole colony. Those of single bees are in colony.
const (
	strongColony = 4.0  // bees that carry in a flow's full nectar; half of them half of it, common practice, no source [kg]
	flyingDay    = 8.0  // full hours of flight in a full flying day, common practice, no source [h]
	ripening     = 48.0 // time in which two thirds of the surplus water leave nectar in dry air; three weeks to the last, estimate [h]
	ripeSugar    = 0.82 // sugar in ripe honey by mass, Nectar concentration and water (J Exp Biol 212 (2009) 429) [-]
)

// hot is the state of the colony's summer work.
type hot struct {
	unripe  float64 // water still to be dried off nectar [kg]
	spray   float64 // water spread to cool the nest [kg/s]
	sprayed float64 // the same in the step before [kg/s]
	most    float64 // the most that can be spread in the step [kg/s]
	supply  float64 // water coming in during the step [kg/s]
	slope   float64 // of the water spread by the nest's temperature, in heat's last solution [kg/(s·K)]
	triedAt float64 // nest air of the last round [°C]
	tried   bool    // there was one in this step
	crops   float64 // water that bees hold ready in their crops [kg]
	drying  float64 // water leaving nectar, as heat's last solution took it [kg/s]
	debt    float64 // water evaporated that heat has not paid for yet [kg]
	bring   float64 // honey that the nectar of this hour becomes [kg/s]
	full    bool    // comb had no room for nectar
}

// during reports whether a day of the calendar lies from a to b, which may run
// over the end of the year.
func during(date time.Time, a, b hive.Day) bool {
	n := int(date.Month())*100 + date.Day()
	from, to := int(a.Month)*100+a.Day, int(b.Month)*100+b.Day
	if a.Year != 0 && a.Year != date.Year() && b.Year != date.Year() {
		return false
	}
	if from <= to {
		return n >= from && n <= to
	}
	return n >= from || n <= to
}

// forage finds what the flying bees of an hour bring: nectar by the calendar of
// flows, as the hour allows.
func (r *run) forage(h int) {
	r.hot.bring = 0
	if r.dead || r.flight == 0 {
		return
	}
	w := &r.in.Weather.Hours[h]
	// Work rises from the temperature of first flight to full six degrees above.
	share := clamp((w.TempAir-r.bio.FlightAbove)/6, 0.2, 1)
	strength := min(1, r.strength.Adults/strongColony)
	for _, f := range r.in.Plan.Colony.Flows {
		if !during(r.today, f.From, f.To) {
			continue
		}
		nectar := f.Nectar / flyingDay * share * strength // kg in the hour
		room := r.room()
		honey := nectar * f.Sugar / ripeSugar
		if honey > room {
			nectar *= room / honey
			honey = room
			if !r.hot.full {
				r.event(r.now(), "no empty comb left for nectar")
			}
			r.hot.full = true
		}
		r.hot.bring += honey / 3600
		r.hot.unripe += nectar - honey
		r.tot.Nectar += nectar
	}
}

// room is the honey that the combs can still take. [kg]
func (r *run) room() float64 {
	e := r.e
	free := 0.0
	for i := range e.combs {
		free += max(0, e.combs[i].capacity-e.honey[i])
	}
	return free
}

// storeHoney puts new honey into the highest empty comb, as bees do over the
// nest. [kg]
func (r *run) storeHoney(kg float64) {
	e := r.e
	for k := len(e.slabs) - 1; k >= 0 && kg > 0; k-- {
		for _, col := range []int{flank, core, beyond} {
			if col >= e.columns {
				continue
			}
			if j := e.cells[e.at(k, col)].comb; j >= 0 {
				put := min(kg, max(0, e.combs[j].capacity-e.honey[j]))
				e.honey[j] += put
				kg -= put
			}
		}
	}
	if kg > 0 && len(e.honey) > 0 {
		e.honey[len(e.honey)-1] += kg
	}
}

// waterLimit is the most water that foragers can carry in. It stops by night, in
// the cold, and when water is out of reach or its distance unknown. [kg/s]
//
// A forager's round takes the flight both ways and the time to fill up and give
// away; published loads are 25 mg and, in the desert, 44 mg.
func (r *run) waterLimit(h int) float64 {
	d := r.in.Plan.Colony.WaterNear
	b := r.bio
	w := &r.in.Weather.Hours[h]
	if d <= 0 || d > b.WaterReach || w.GlobalHorizontal < 20 || w.TempAir < b.FlightAbove {
		return 0
	}
	round := 2*d/b.FlightSpeed + b.WaterStop
	carriers := b.WaterShare * r.strength.Adults / b.BeeMass
	return min(b.WaterCap, carriers*b.WaterLoad/round)
}

// cool finds how much water bees can spread in the next step.
func (r *run) cool(h int, dt float64) {
	b := r.bio
	if r.dead {
		r.hot.spray, r.hot.most, r.hot.supply = 0, 0, 0
		return
	}
	// Bees hold water in their crops for the evening, when none is fetched.
	const holders, crop = 0.1, 0.00004 // share of the bees and kg each, estimate
	hold := holders * crop * r.strength.Adults / b.BeeMass
	if warm := r.e.besides(&r.ball) > b.SprayAbove-2; warm || r.hot.spray > 0 {
		r.hot.crops = clamp(r.hot.crops+(r.hot.supply-r.hot.spray)*dt, 0, hold)
	}
	r.hot.sprayed = r.hot.spray
	r.hot.supply = r.waterLimit(h)
	r.hot.most = min(b.WaterCap, r.hot.supply+r.hot.crops/dt)
}

// sprayAt is the water that bees spread in nest air of t [°C], on their way from
// what they spread before, and its slope. Heat's solution takes it along that
// slope, so that water and coolness are found together. [kg/s, kg/(s·K)]
func (r *run) sprayAt(t, dt float64) (spray, slope float64) {
	const span = 2.0 // K from the first droplet to all hands
	x := (t - r.bio.SprayAbove) / span
	share := towards(dt)
	if r.hot.most <= 0 {
		share = 1 // no water, no lag
	}
	spray = r.hot.sprayed + share*(r.hot.most*clamp(x, 0, 1)-r.hot.sprayed)
	if spray < 1e-9 {
		spray = 0
	}
	if x > 0 && x < 1 {
		slope = share * r.hot.most / span
	}
	// From the second round on the slope between the last two, which finds the way
	// over the bends, and not much less than before, so that rounds do not circle
	// about one.
	if r.hot.tried {
		if d := t - r.hot.triedAt; math.Abs(d) > 0.01 {
			slope = (spray - r.hot.spray) / d
		}
		slope = max(slope, 0.6*r.hot.slope)
	}
	return spray, slope
}

// ripen tells the engine how nectar gives off its water to the air of each cell:
// the faster the drier the air is, up to half as fast again as in air of half
// saturation. The vapour solution finds the drying together with the humidity.
func (r *run) ripen() {
	e := r.e
	full := r.hot.unripe / (ripening * 3600)
	for i, w := range r.loose {
		base := 2 * w * full
		saturated := air.HumidityRatio(min(saturation(e.temp[i]), 0.5*e.pressure), e.pressure)
		switch {
		case e.ratio[i] < 0.25*saturated:
			e.ripening[i], e.drying[i] = 0.75*base, 0
		case e.ratio[i] < saturated:
			e.ripening[i], e.drying[i] = base, base/saturated
		default: // nectar gives nothing to such air, and takes nothing from it
			e.ripening[i], e.drying[i] = 0, 0
		}
	}
	r.hot.drying = e.driedNow()
}

// driedNow is the water that leaves nectar in the air of the last solution. [kg/s]
func (e *engine) driedNow() float64 {
	sum := 0.0
	for i, base := range e.ripening {
		if base > 0 {
			sum += base - e.drying[i]*e.ratio[i]
		}
	}
	return sum
}

// thirst books the water of a step.
func (r *run) thirst(dt float64) {
	dried := r.e.driedNow() * dt
	r.hot.unripe = max(0, r.hot.unripe-dried)
	r.hot.debt = dried - r.hot.drying*dt - r.e.ripeSwing()*dt - r.hot.slope*(r.e.besides(&r.ball)-r.hot.triedAt)*dt
	r.hot.tried = false
	r.tot.NectarDried += dried
	r.tot.WaterHauled += r.hot.spray * dt
	r.acc[r.ch.hauled] += r.hot.spray * dt
	r.acc[r.ch.dried] += dried
	if r.hot.bring > 0 {
		honey := r.hot.bring * dt
		r.storeHoney(honey)
		r.tot.HoneyGained += honey
		r.acc[r.ch.gained] += honey
	}
}

// summerSources adds what cooling, ripening and the water drunk for brood take
// from the nest's air: the vapour they give, and its heat.
func (r *run) summerSources() {
	e := r.e
	beside := e.besides(&r.ball)
	r.hot.spray, r.hot.slope = r.sprayAt(beside, e.dt)
	r.hot.triedAt, r.hot.tried = beside, true
	water := r.hot.spray + r.drunk/3600
	for i, w := range r.ball.weight {
		if w == 0 {
			continue
		}
		e.moisture[i] += w * water
		swing := -w * r.hot.slope * latentWater
		e.swing[i] += swing
		e.source[i] -= w*water*latentWater + swing*(beside-e.temp[i])
	}
	clear(e.ripening)
	clear(e.drying)
	clear(e.ripeSlope)
	r.hot.drying = 0
	if r.hot.unripe > 0 {
		r.ripen()
	}
	// Each cell pays for what its own nectar gives off. Warmer air takes more: per
	// kelvin as much more as saturation rises, 6 %.
	const rise = 0.06 // of saturation near 25 °C, Magnus formula [1/K]
	for i, w := range r.loose {
		e.source[i] -= (e.ripening[i] - e.drying[i]*e.ratio[i] + w*r.hot.debt/e.dt) * latentWater
		e.ripeSlope[i] = rise * e.drying[i] * e.ratio[i]
		e.swing[i] -= e.ripeSlope[i] * latentWater
	}
}

// ripeSwing is the water whose heat the last solution took beyond hot.drying, as the
// air came out warmer than the round before had it. [kg/s]
func (e *engine) ripeSwing() float64 {
	sum := 0.0
	for i, slope := range e.ripeSlope {
		sum += slope * (e.temp[i] - e.last[i])
	}
	return sum
}
