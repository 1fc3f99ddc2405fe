package season

import (
	"fmt"

	"hackle/air"
)

// channels are the places of the channels in a trace.
type channels struct {
	hour int

	outTemp, outHumidity, outWind, outSun, outSnow                       int
	fanDry                                                               int
	heat, share, core, mantle, beside, mass, sealed, radius, height, out int
	honeyUse, honeyLeft, reach, confined, isolated, flight, fan          int
	underLid, atFloor, atCluster, mean, depth                            int
	humidityLid, humidityCluster                                         int
	co2, vapour                                                          int
	hauled, dried, gained, unripe, combWarm                              int
	vented, through, drained, rain                                       int
	openWater, ferments, pollenWater, waterStores                        int
	wood, inside, drunk, thirst, mouldLid, mouldWalls, mouldFloor        int
	lossWalls, lossLid, lossFloor, lossEdges, lossOpenings, lossCracks   int
	airOut                                                               int
	waterLid, waterWalls, waterFloor, waterCombs, waterOver, wallsFaceLo int
	lidFace                                                              int
	inLid                                                                int
	slabCore, slabFlank, slabBeyond                                      []int
	combWarmth                                                           []int // of every comb node
	openIn, openOut, openHeat                                            []int
}

// newTrace lays out the channels.
func (r *run) newTrace() {
	t := &Trace{Hive: r.in.Plan.Hive, Start: r.in.Weather.Start, Hours: len(r.in.Weather.Hours), Height: r.e.height}
	c := &r.ch
	c.outTemp = t.add("outdoor.temp", "°C", "air outdoors, end of the hour")
	c.outHumidity = t.add("outdoor.humidity", "-", "relative humidity outdoors over water, end of the hour")
	c.outWind = t.add("outdoor.wind", "m/s", "wind at the hive, end of the hour")
	c.outSun = t.add("outdoor.sun", "W/m²", "global radiation on the level")
	c.outSnow = t.add("outdoor.snow", "m", "snow lying on the ground")
	c.heat = t.add("bees.heat", "W", "heat of bees and brood in the hive")
	c.share = t.add("bees.limit_share", "-", "that heat over what the colony can sustain")
	c.core = t.add("bees.core", "°C", "core of the cluster, end of the hour")
	c.mantle = t.add("bees.mantle", "°C", "mantle of the cluster, end of the hour")
	c.beside = t.add("bees.air", "°C", "air beside the cluster, end of the hour")
	c.mass = t.add("bees.mass", "kg", "adult bees")
	c.sealed = t.add("bees.sealed", "-", "sealed brood cells")
	c.radius = t.add("bees.radius", "m", "radius of the nest sphere, end of the hour")
	c.height = t.add("bees.height", "m", "middle of the cluster above the floor, end of the hour")
	c.fan = t.add("bees.fanned", "m³/s", "air fanned out of the entrance, end of the hour")
	c.fanDry = t.add("bees.fanned_for_damp", "m³/s", "that air while damp asks for it most, to dry nectar or spread water; else 0, end of the hour")
	c.out = t.add("bees.outside", "-", "share of the bees hanging outside, end of the hour")
	c.honeyUse = t.add("honey.eaten", "kg", "honey eaten in the hour")
	c.honeyLeft = t.add("honey.left", "kg", "honey in the hive, end of the hour")
	c.flight = t.add("bees.flight", "W", "extra use of flying bees")
	c.reach = t.add("honey.reach", "d", "days of honey in contact with the cluster at the present use, end of the hour")
	c.confined = t.add("bees.confined", "-", "1 while it is too cold round the cluster for bees to move")
	c.isolated = t.add("bees.isolated", "-", "1 while confined with no honey left in contact")
	c.underLid = t.add("air.under_lid", "°C", "air 10 mm under what closes the hive above, end of the hour")
	c.atCluster = t.add("air.at_cluster", "°C", "air of all columns at the cluster's height, end of the hour")
	c.atFloor = t.add("air.at_floor", "°C", "air of the lowest layer, end of the hour")
	c.mean = t.add("air.mean", "°C", "air of the hive by volume, end of the hour")
	c.depth = t.add("air.warm_depth", "m", "depth from under the lid to half the excess there, end of the hour")
	c.humidityLid = t.add("humidity.under_lid", "-", "relative humidity of the uppermost air over the core, over ice in frost, end of the hour")
	c.humidityCluster = t.add("humidity.at_cluster", "-", "relative humidity beside the cluster, over ice in frost, end of the hour")
	c.co2 = t.add("co2.at_cluster", "-", "volume fraction of CO2 beside the cluster, end of the hour")
	c.hauled = t.add("water.hauled", "kg", "water carried in and spread to cool the nest in the hour")
	c.dried = t.add("nectar.dried", "kg", "water that left nectar in the hour")
	c.gained = t.add("honey.gained", "kg", "honey that nectar carried in during the hour becomes")
	c.unripe = t.add("nectar.unripe", "kg", "water still to leave nectar, end of the hour")
	c.combWarm = t.add("comb.warmest", "°C", "warmest comb of all columns and heights, end of the hour")
	c.vapour = t.add("water.produced", "kg", "vapour given off by the bees in the hour")
	c.waterLid = t.add("water.lid", "kg", "water and ice on lid and top board, end of the hour")
	c.waterOver = t.add("water.overhead", "kg", "the part of it above the cluster's combs, end of the hour")
	c.waterWalls = t.add("water.walls", "kg", "water and ice on walls, end of the hour")
	c.waterFloor = t.add("water.floor", "kg", "water and ice on the floor, end of the hour")
	c.waterCombs = t.add("water.combs", "kg", "water and ice on combs, end of the hour")
	c.vented = t.add("water.vented", "kg", "water that air carried out in the hour, less what it brought in")
	c.through = t.add("water.through_shell", "kg", "water that left through walls, lid and floor as vapour in the hour, net")
	c.drained = t.add("water.drained", "kg", "water that ran out of the hive in the hour")
	c.waterStores = t.add("water.stores", "kg", "water in open honey and pollen, end of the hour")
	c.rain = t.add("water.rain", "kg", "rain that unpainted outer faces drew in in the hour")
	c.wood = t.add("water.shell", "kg", "water in walls, boards, lid and floor, bound and free, end of the hour")
	c.inside = t.add("water.inside_shell", "kg", "free water and ice inside walls, boards, lid and floor, end of the hour")
	c.openWater = t.add("honey.open_water", "-", "water share of open honey in the outer combs, end of the hour")
	c.ferments = t.add("honey.ferments", "-", "1 while that honey is wet and warm enough to ferment")
	c.pollenWater = t.add("pollen.water", "-", "water of pollen over its dry mass, end of the hour")
	c.drunk = t.add("water.drunk", "kg", "water that bees took from wet faces for brood in the hour")
	c.thirst = t.add("water.wanted", "kg", "water that brood asked for beyond what honey brings in the hour")
	c.mouldLid = t.add("mould.lid", "-", "highest mould index of lid and top board, 0 none, 3 seen by eye, 6 all over")
	c.mouldWalls = t.add("mould.walls", "-", "highest mould index of the walls")
	c.mouldFloor = t.add("mould.floor", "-", "highest mould index of the floor")
	c.lidFace = t.add("face.lid", "°C", "inner face above the core, end of the hour")
	c.wallsFaceLo = t.add("face.wall_coldest", "°C", "coldest inner wall face, end of the hour")
	c.lossWalls = t.add("loss.walls", "W", "heat out of the walls")
	c.lossLid = t.add("loss.lid", "W", "heat out of lid and lid vents")
	c.lossFloor = t.add("loss.floor", "W", "heat out of the floor")
	c.lossEdges = t.add("loss.edges", "W", "heat out of edges and corners beyond the plane faces")
	c.lossOpenings = t.add("loss.openings", "W", "heat carried out of openings and mesh by air")
	c.lossCracks = t.add("loss.cracks", "W", "heat carried out of cracks by air")
	c.airOut = t.add("air.out", "m³/s", "air leaving the hive by all ways")
	for k, s := range r.e.slabs {
		t.Slabs = append(t.Slabs, Slab{s.bottom, s.top, s.comb})
		at := fmt.Sprintf("%.0f to %.0f mm above the floor, end of the hour", s.bottom*1000, s.top*1000)
		c.slabCore = append(c.slabCore, t.add(fmt.Sprintf("air.core.%d", k+1), "°C", "air of the core, "+at))
		if r.e.columns > 1 {
			c.slabFlank = append(c.slabFlank, t.add(fmt.Sprintf("air.flank.%d", k+1), "°C", "air of the flank, "+at))
		}
		if r.e.columns > 2 {
			c.slabBeyond = append(c.slabBeyond, t.add(fmt.Sprintf("air.beyond.%d", k+1), "°C", "air past the follower board, "+at))
		}
	}
	t.Columns = []string{"core", "flank", "beyond"}[:r.e.columns]
	for i := range r.e.combs {
		cl := r.e.cells[r.e.combs[i].cell]
		s := r.e.slabs[cl.slab]
		c.combWarmth = append(c.combWarmth, t.add(fmt.Sprintf("comb.%s.%d", t.Columns[cl.column], cl.slab+1), "°C",
			fmt.Sprintf("combs of the %s, %.0f to %.0f mm above the floor, end of the hour", t.Columns[cl.column], s.bottom*1000, s.top*1000)))
	}
	if r.e.lidCell >= 0 {
		c.inLid = t.add("air.in_lid", "°C", "air space inside the lid, above the top board, end of the hour")
	}
	for i := range r.in.Plan.Hive.Openings {
		name := r.in.Plan.Hive.Openings[i].Name
		c.openIn = append(c.openIn, t.add(fmt.Sprintf("opening.%d.in", i+1), "m³/s", "air in through "+name))
		c.openOut = append(c.openOut, t.add(fmt.Sprintf("opening.%d.out", i+1), "m³/s", "air out through "+name))
		c.openHeat = append(c.openHeat, t.add(fmt.Sprintf("opening.%d.heat", i+1), "W", "heat carried out through "+name))
	}
	r.acc = make([]float64, len(t.Channels))
	r.trace = t
}

// beginHour finds whether bees fly.
func (r *run) beginHour(h int) {
	r.ch.hour = h
	r.flight = 0
	w := &r.in.Weather.Hours[h]
	const calm, sunny = 6, 100 // m/s and W/m², common practice, no source
	if !r.dead && w.TempAir >= r.bio.FlightAbove && w.GlobalHorizontal >= sunny && w.WindSpeed <= calm {
		r.flight = r.bio.FlightExtra * r.demand.Power
		r.flown++
	}
}

// endHour writes the hour into the trace.
func (r *run) endHour(h int) {
	e, c, a := r.e, &r.ch, r.acc
	w := &r.in.Weather.Hours[h]
	for _, i := range []int{c.heat, c.lossWalls, c.lossLid, c.lossFloor, c.lossEdges, c.lossOpenings, c.lossCracks} {
		a[i] /= 3600
	}
	o := r.outdoors(h, 1)
	a[c.outTemp], a[c.outHumidity], a[c.outWind], a[c.outSun] = o.temp, w.RelHumidity, o.wind, w.GlobalHorizontal
	a[c.outSnow] = r.snowNow(h).Depth
	d := r.demand
	if r.strength.Adults > 0 {
		a[c.share] = a[c.heat] / (r.bio.SustainedPower * r.strength.Adults)
	}
	beside := e.besides(&r.ball)
	a[c.core], a[c.mantle], a[c.beside] = d.Core, d.Mantle, beside
	if r.dead {
		a[c.core], a[c.mantle] = beside, beside
	}
	a[c.mass], a[c.sealed] = r.strength.Adults, r.strength.Sealed
	a[c.radius], a[c.height], a[c.fan], a[c.out] = r.ball.radius, r.ball.centre, r.fan, r.outside
	if r.isFanDry {
		a[c.fanDry] = r.fan
	}
	a[c.unripe] = r.hot.unripe
	a[c.combWarm] = o.temp
	for i, t := range e.comb {
		if i == 0 || t > a[c.combWarm] {
			a[c.combWarm] = t
		}
	}
	for i, at := range c.combWarmth {
		a[at] = e.comb[i]
	}
	if e.lidCell >= 0 {
		a[c.inLid] = e.temp[e.lidCell]
	}
	a[c.flight], a[c.honeyLeft] = r.flight, r.honey()
	a[c.wood], a[c.inside] = e.inShell()
	r.grow(o.pressure)
	r.noteWet(o.pressure)
	water, ferments := r.outerHoney()
	a[c.openWater], a[c.pollenWater] = water, r.pollenWater()
	if ferments {
		a[c.ferments] = 1
	}
	levels := e.profile()
	a[c.underLid] = airAt(levels, e.height-underLidDepth)
	a[c.atFloor] = levels[0].Mean
	a[c.atCluster] = airAt(levels, r.ball.centre)
	a[c.depth] = warmDepth(levels, e.height, o.temp)
	sum, volume := 0.0, 0.0
	for i, cl := range e.cells {
		if i != e.lidCell {
			sum += e.temp[i] * cl.volume
			volume += cl.volume
		}
	}
	a[c.mean] = sum / volume
	top := e.at(len(e.slabs)-1, core)
	a[c.humidityLid] = humidity(e.temp[top], e.ratio[top], o.pressure)
	ratio := 0.0
	for i, x := range r.ball.weight {
		ratio += x * e.ratio[i]
	}
	a[c.humidityCluster] = humidity(beside, ratio, o.pressure)
	a[c.co2] = r.carbonAtCluster()
	for i := range e.larders {
		a[c.waterStores] += e.larders[i].water
	}
	lying, over := e.lying()
	a[c.waterLid], a[c.waterWalls], a[c.waterFloor], a[c.waterCombs], a[c.waterOver] = lying.Lid, lying.Walls, lying.Floor, lying.Combs, over
	cold := e.temp[0]
	for i := range e.faces {
		f := &e.faces[i]
		if f.over && f.kind == filmAbove {
			a[c.lidFace] = e.face[i]
		}
		if f.part == partWall && e.face[i] < cold {
			cold = e.face[i]
		}
	}
	a[c.wallsFaceLo] = cold
	for k := range e.slabs {
		a[c.slabCore[k]] = e.temp[e.at(k, core)]
		if e.columns > 1 {
			a[c.slabFlank[k]] = e.temp[e.at(k, flank)]
		}
		if e.columns > 2 {
			a[c.slabBeyond[k]] = e.temp[e.at(k, beyond)]
		}
	}
	for i := range a {
		r.trace.Channels[i].Values[h] = a[i]
	}
}

func humidity(t, ratio, pressure float64) float64 {
	return air.VapourPressure(ratio, pressure) / saturation(t)
}
