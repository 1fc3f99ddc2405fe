package season

import (
	"math"

	"hackle/airflow"
	"hackle/climate"
	"hackle/hive"
	"hackle/sun"
	"hackle/wall"
)

// albedoGround is the reflectance of grass or bare soil for sunlight. A common value,
// from memory. [-]
const albedoGround = 0.2

// shelteredWind is the share of the wind that blows under a hive on its stand, or
// between two hives that stand close. An estimate. [-]
const shelteredWind = 0.3

// snowNow is the snow that lies in an hour; its depth is 0 when none does.
func (r *run) snowNow(h int) climate.Snow {
	if r.snow == nil || r.snow[h].Depth < leastSnow {
		return climate.Snow{}
	}
	return r.snow[h]
}

// hourMean is a way to read means over hours at a moment: on the straight line
// between those of two hours, each taken to hold in its middle. Over the year it
// keeps the sum, and it has no jumps at the hours.
type hourMean struct {
	a, b  int     // the hours
	share float64 // of the second
}

// meansAt finds the hours for a moment of hour h, by the share of it that has
// passed.
func (r *run) meansAt(h int, passed float64) hourMean {
	m := hourMean{h, h, passed - 0.5}
	if m.share < 0 {
		m.a, m.share = max(0, h-1), m.share+1
	} else {
		m.b = min(len(r.in.Weather.Hours)-1, h+1)
	}
	return m
}

func (m hourMean) of(a, b float64) float64 { return a + m.share*(b-a) }

// light is the sun on each side in an hour, kept while it is used. [W/m²]
func (r *run) light(h int) []float64 {
	at := h % len(r.lights)
	if r.lights[at].sides == nil || r.lights[at].hour != h {
		r.lights[at] = lightOf{h, r.sunOn(h)}
	}
	return r.lights[at].sides
}

// lightOf is the sun on each side in an hour. [W/m²]
type lightOf struct {
	hour  int
	sides []float64
}

// shell fills in what the outer faces feel at a moment of an hour: wind, sky,
// ground, sun, snow.
func (r *run) shell(o *outdoors, h int, passed, wind float64) {
	w := &r.in.Weather.Hours[h]
	between := r.meansAt(h, passed)
	var light [sides]float64
	for i, first := range r.light(between.a) {
		light[i] = between.of(first, r.light(between.b)[i])
	}
	plan := &r.in.Plan
	o.wind = wind * r.windShare
	rho := moistDensity(o.temp, o.ratio, o.pressure)
	cp := airflow.SurfaceCoefficients(r.exposure, w.WindFrom-plan.Hive.FrontAzimuth)
	for i, c := range cp {
		o.push[i] = airflow.WindPressure(c, rho, o.wind)
	}
	if f := r.in.Ideal.OuterFilm; f > 0 {
		for i := range sides {
			o.film[i], o.blown[i], o.feels[i] = f, f, o.temp
		}
		return
	}
	convection := outerConvection(o.wind, r.edge)
	sky := o.temp
	if a, b := r.in.Weather.Hours[between.a].SkyLongWave, r.in.Weather.Hours[between.b].SkyLongWave; a > 0 && b > 0 {
		sky = sun.SkyTemperature(between.of(a, b))
	}
	// The ground beside a hive is as warm as the air, in first approximation; snow
	// has its own surface.
	ground := o.temp
	snow := r.snowNow(h)
	held := 0.0
	if snow.Depth > 0 {
		ground, held = snowSurface(o.temp, sky, convection, between.of(r.in.Weather.Hours[between.a].GlobalHorizontal, r.in.Weather.Hours[between.b].GlobalHorizontal), snow.Density)
		o.bank = r.e.snowRound(snow, ground, held)
	}
	for i := range sides {
		finish := r.finish(i)
		t := r.outerMean(i)
		var b bound
		switch i {
		case roofSide:
			b = radiated(finish, o.temp, sky, t, convection, light[i])
			if snow.OnLid > 0 {
				b = lidUnderSnow(snow, o.temp, sky, convection, light[i])
			}
		case underSide:
			b = r.underFloor(o, finish, t, snow)
		default:
			// Half of what a wall sees is sky, half ground; a hive beside it hides
			// its share of both, is as warm as this one, and takes the wind.
			hidden := r.hidden[i]
			conv := convection
			if hidden > 0 {
				conv = outerConvection(o.wind*(1-(1-shelteredWind)*hidden), r.edge)
			}
			f := finish
			f.Emissivity *= 1 - hidden
			b = radiated(f, o.temp, (sky+ground)/2, t, conv, light[i])
		}
		o.film[i], o.blown[i], o.feels[i] = b.film, b.blown, b.feels
	}
}

// radiated is what a face meets in open air: air, the mean of what it sees, and sun
// on it [W/m²]. t is about its own temperature.
func radiated(finish hive.Finish, air, around, t, convection, light float64) bound {
	radiant := wall.RadiativeFilm(finish.Emissivity, (t+air)/2)
	film := convection + radiant
	return bound{film: film, blown: convection, feels: (convection*air + radiant*around + finish.SolarAbsorptance*light) / film}
}

// lidUnderSnow is what the lid meets under lying snow: its conduction to the snow's
// surface, which has its own balance and melts at 0 °C.
func lidUnderSnow(s climate.Snow, air, sky, convection, light float64) bound {
	surface, held := snowSurface(air, sky, convection, light, s.Density)
	film := 1 / (held + s.OnLid/s.Conductivity)
	return bound{film: film, blown: film * stillK / s.Conductivity, feels: surface}
}

// onGround is the height of a stand up to which a floor lies on the ground. [m]
const onGround = 0.02

// Soil under a floor that lies on the ground.
const (
	soilK     = 2.0  // ISO 13370 where nothing is known, from memory [W/(m·K)]
	soilDelay = 72.0 // how slowly the soil there follows the air, estimate [h]
)

// groundResistance is that of the soil under a small floor that lies on it, of a
// length and width, between its underside and the air beside it [m²·K/W]:
// 0.457 B'/λ with B' = area over half the perimeter, ISO 13370 for a well insulated
// floor (from memory), and 0.04 for the film over the soil.
func groundResistance(length, width float64) float64 {
	return 0.457*(length*width/(length+width))/soilK + 0.04
}

// underFloor is what the underside meets. On a stand: the air under it, with less
// wind, and the ground; on the ground: soil that follows the air slowly. Snow that
// closes the stand leaves still air over ground of 0 °C.
func (r *run) underFloor(o *outdoors, finish hive.Finish, t float64, snow climate.Snow) bound {
	h := &r.in.Plan.Hive
	closed := bound{}
	if snow.Depth > 0 {
		still := outerConvection(0, r.edge) + wall.RadiativeFilm(finish.Emissivity, (t+snowGround)/2)
		closed.film = 1 / (1/still + snowGroundHeld)
		closed.blown, closed.feels = stillK/max(h.StandHeight, 0.05), snowGround
	}
	if h.StandHeight < onGround {
		if snow.Depth > 0 {
			return closed
		}
		low := &h.Bodies[0]
		// Soil is as damp as it is close: vapour passes as through a film of still air.
		return bound{film: 1 / groundResistance(low.Length, low.Width), blown: stillK / 0.05, feels: r.soil}
	}
	open := radiated(finish, o.temp, o.temp, t, outerConvection(shelteredWind*o.wind, r.edge), 0)
	if snow.Depth > 0 {
		return open.beside(closed, min(1, snow.Depth/h.StandHeight))
	}
	return open
}

// feelSoil lets the soil under the hive follow the air for an hour.
func (r *run) feelSoil(h int) {
	r.soil += (r.in.Weather.Hours[h].TempAir - r.soil) * (1 - math.Exp(-1/soilDelay))
}

// sunOn is the irradiance of each side in an hour. [W/m²]
func (r *run) sunOn(h int) []float64 {
	out := make([]float64, sides)
	s := r.in.Weather
	w := &s.Hours[h]
	if w.GlobalHorizontal <= 0 && w.DiffuseHorizontal <= 0 {
		return out
	}
	eph := sun.At(s.MidHour(h))
	lat, lon := s.Latitude, s.Longitude
	if p := r.in.Plan.Site; p.HasPlace {
		lat, lon = p.Latitude, p.Longitude
	}
	pos := eph.Position(lat, lon)
	sky := sun.Sky{Global: w.GlobalHorizontal, Beam: w.DirectNormal, Diffuse: max(w.DiffuseHorizontal, 1e-3), Extraterrestrial: eph.Extraterrestrial(), Albedo: albedoGround}
	if snow := r.snowNow(h); snow.Depth > 0 {
		sky.Albedo = climate.SnowAlbedo(snow.Density)
	}
	shade := r.in.Plan.Site.Shade
	for i := range sides {
		p := sun.Plane{Tilt: 90, Azimuth: r.azimuth(i)}
		switch i {
		case roofSide:
			p.Tilt = r.in.Plan.Hive.Tilt
		case underSide:
			continue
		}
		t := sun.Perez1990.OnPlane(p, pos, sky)
		beam, diffuse := 1-shade, 1.0
		if i < roofSide && r.hidden[i] > 0 {
			beam *= 1 - r.shadowOf(i, pos)
			diffuse = 1 - r.hidden[i]
		}
		out[i] = max(0, t.Beam*beam+(t.Diffuse+t.Ground)*diffuse)
	}
	return out
}

// azimuth is the direction that a side looks to; that of the roof is the front's,
// to which the hive leans. [deg]
func (r *run) azimuth(side int) float64 {
	front := r.in.Plan.Hive.FrontAzimuth
	switch side {
	case int(hive.Back):
		return front + 180
	case int(hive.Left):
		return front - 90
	case int(hive.Right):
		return front + 90
	}
	return front
}

// finish of a side: a wrap's while it is on, the lid's own, else the hive's.
func (r *run) finish(side int) hive.Finish {
	h := &r.in.Plan.Hive
	f := h.Finish
	face := hive.Face(side)
	switch side {
	case roofSide:
		face = hive.Top
		if h.Lid.Finish != nil {
			f = *h.Lid.Finish
		}
	case underSide:
		face = hive.Bottom
	}
	for i := range h.Wraps {
		w := &h.Wraps[i]
		if w.Finish == nil || !w.OnAt(r.today) {
			continue
		}
		for _, x := range w.Faces {
			if x == face {
				f = *w.Finish
			}
		}
	}
	if f.Emissivity == 0 && f.SolarAbsorptance == 0 {
		f = hive.Finish{SolarAbsorptance: 0.65, Emissivity: 0.9} // planed softwood
	}
	return f
}

// outerMean is the mean outer temperature of a side at the last step. [°C]
func (r *run) outerMean(side int) float64 {
	e := r.e
	sum, area := 0.0, 0.0
	for i := range e.faces {
		if f := &e.faces[i]; f.side == side && f.far < 0 {
			sum += e.outer[i] * f.area
			area += f.area
		}
	}
	if area == 0 {
		return r.in.Weather.Hours[0].TempAir
	}
	return sum / area
}

// readSite takes the wind profile of the stand.
func (r *run) readSite() error {
	name := string(r.in.Plan.Site.Exposure)
	if name == "" {
		name = string(hive.Hedged)
	}
	profile, err := climate.ProfileFor(name)
	if err != nil {
		return err
	}
	h := r.in.Plan.Hive
	r.windShare = profile.Factor(max(0.2, h.StandHeight+r.in.Plan.Hive.Height()/2))
	switch hive.Exposure(name) {
	case hive.Open:
		r.exposure = airflow.Exposed
	case hive.Sheltered:
		r.exposure = airflow.Sheltered
	default:
		r.exposure = airflow.SemiExposed
	}
	return nil
}
