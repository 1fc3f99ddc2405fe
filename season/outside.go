package season

import (
	"hackle/airflow"
	"hackle/climate"
	"hackle/hive"
	"hackle/sun"
	"hackle/wall"
)

// Reflectance of ground for sunlight: grass or bare soil, and fresh to old snow.
// Common values, from memory. [-]
const (
	albedoGround = 0.2
	albedoSnow   = 0.6
)

// shell fills in what the outer faces feel in an hour: wind, sky, ground, sun.
func (r *run) shell(o *outdoors, h int, wind float64) {
	w := &r.in.Weather.Hours[h]
	plan := &r.in.Plan
	o.wind = wind * r.windShare
	rho := moistDensity(o.temp, o.ratio, o.pressure)
	cp := airflow.SurfaceCoefficients(r.exposure, w.WindFrom-plan.Hive.FrontAzimuth)
	for i, c := range cp {
		o.push[i] = airflow.WindPressure(c, rho, o.wind)
	}
	if h != r.lightOf || r.light == nil {
		r.light = r.sunOn(h)
		r.lightOf = h
	}
	convection, sheltered := outerConvection(o.wind, r.edge), outerConvection(0.3*o.wind, r.edge)
	sky := o.temp
	if w.SkyLongWave > 0 {
		sky = sun.SkyTemperature(w.SkyLongWave)
	}
	for i := range sides {
		if f := r.in.Ideal.OuterFilm; f > 0 {
			o.film[i], o.blown[i], o.feels[i] = f, f, o.temp
			continue
		}
		finish := r.finish(i)
		t := r.outerMean(i)
		radiant := wall.RadiativeFilm(finish.Emissivity, (t+o.temp)/2)
		view := 0.5
		switch i {
		case roofSide:
			view = 1
		case underSide:
			view = 0
		}
		// The ground beside a hive is as warm as the air, in first approximation.
		around := o.temp + view*(sky-o.temp)
		conv := convection
		if i == underSide {
			conv = sheltered
		}
		o.film[i], o.blown[i] = conv+radiant, conv
		o.feels[i] = (conv*o.temp + radiant*around + finish.SolarAbsorptance*r.light[i]) / o.film[i]
	}
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
	if w.SnowDepth > 0.02 {
		sky.Albedo = albedoSnow
	}
	front := r.in.Plan.Hive.FrontAzimuth
	shade := r.in.Plan.Site.Shade
	for i := range sides {
		p := sun.Plane{Tilt: 90, Azimuth: front}
		switch i {
		case int(hive.Back):
			p.Azimuth = front + 180
		case int(hive.Left):
			p.Azimuth = front - 90
		case int(hive.Right):
			p.Azimuth = front + 90
		case roofSide:
			p.Tilt = r.in.Plan.Hive.Tilt
		case underSide:
			continue
		}
		t := sun.Perez1990.OnPlane(p, pos, sky)
		out[i] = max(0, t.Beam*(1-shade)+t.Diffuse+t.Ground)
	}
	return out
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
