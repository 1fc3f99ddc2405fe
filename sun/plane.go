package sun

import (
	"fmt"
	"math"
	"strings"
)

// Plane is the way a surface faces.
type Plane struct {
	Tilt    float64 // from level, face up 0, upright 90, face down 180 [deg]
	Azimuth float64 // that the plane faces, clockwise from north [deg]
}

// CosIncidence returns the cosine of the angle between the plane's normal and
// the sun [-], negative when the sun is behind the plane.
func (p Plane) CosIncidence(pos Pos) float64 {
	sinTilt, cosTilt := math.Sincos(p.Tilt * degree)
	sinZenith, cosZenith := math.Sincos(pos.Zenith * degree)
	return cosTilt*cosZenith + sinTilt*sinZenith*cosDeg(pos.Azimuth-p.Azimuth)
}

// Incidence returns the angle between the plane's normal and the sun, 0 to 180
// [deg].
func (p Plane) Incidence(pos Pos) float64 {
	return acosDeg(p.CosIncidence(pos))
}

// SkyView returns the share of what the plane sees that is sky over a level
// horizon [-].
func (p Plane) SkyView() float64 { return (1 + cosDeg(p.Tilt)) / 2 }

// GroundView returns the share of what the plane sees that is level ground [-].
func (p Plane) GroundView() float64 { return (1 - cosDeg(p.Tilt)) / 2 }

// Sky is what comes from the sun and sky at one moment. Energies over a short
// time do as well as irradiances, all for the same time.
type Sky struct {
	Global           float64 // on the level [W/m²]
	Beam             float64 // on a plane that faces the sun [W/m²]
	Diffuse          float64 // on the level [W/m²]
	Extraterrestrial float64 // on a plane that faces the sun, above the air [W/m²]
	Albedo           float64 // reflectance of the ground for sunlight [-]
	AirMass          float64 // relative optical, 0 means AirMass of the elevation [-]
}

// Tilted is what a plane receives, by where it comes from.
type Tilted struct {
	Beam    float64 // straight from the sun [W/m²]
	Diffuse float64 // from the sky, the glow around the sun included [W/m²]
	Ground  float64 // reflected by the ground [W/m²]
}

// Total returns the sum of the parts [W/m²].
func (t Tilted) Total() float64 { return t.Beam + t.Diffuse + t.Ground }

// Model names a way to spread diffuse light over the sky.
type Model uint8

const (
	// Isotropic is a sky that is equally bright all over.
	Isotropic Model = iota
	// HayDavies adds a glow around the sun, in the share of the beam that
	// passes the air: "Calculation of the solar radiation incident on an
	// inclined surface" (First Canadian Solar Radiation Data Workshop, 1980),
	// from memory.
	HayDavies
	// HDKR adds a brighter horizon to HayDavies: "Evaluation of hourly tilted
	// surface radiation models" (Solar Energy 45, 1990, DOI
	// 10.1016/0038-092X(90)90055-G), from memory.
	HDKR
	// Perez1990 adds glow and horizon by the clearness and brightness of the
	// sky: "Modeling daylight availability and irradiance components from direct
	// and global irradiance" (Solar Energy 44, 1990, DOI
	// 10.1016/0038-092X(90)90055-H), table 6 for irradiance.
	Perez1990
)

func (m Model) name() (string, bool) {
	switch m {
	case Isotropic:
		return "isotropic", true
	case HayDavies:
		return "hay-davies", true
	case HDKR:
		return "hdkr", true
	case Perez1990:
		return "perez-1990", true
	}
	return "", false
}

// String returns the name that [ParseModel] reads.
func (m Model) String() string {
	if name, ok := m.name(); ok {
		return name
	}
	return fmt.Sprintf("sky model %d", uint8(m))
}

// ParseModel returns the model called name, in any case.
func ParseModel(name string) (Model, error) {
	var known []string
	for m := Isotropic; ; m++ {
		have, ok := m.name()
		if !ok {
			return 0, fmt.Errorf("sun: unknown sky model %q, known are %s", name, strings.Join(known, ", "))
		}
		if strings.EqualFold(have, name) {
			return m, nil
		}
		known = append(known, have)
	}
}

// OnPlane returns what plane receives under sky with the sun at pos. The beam
// counts while the sun is before the plane and above the level horizon; ground
// and diffuse count always. Negative parts of sky are taken as they are.
//
// The glow around the sun is held to that of a sun at least 1° (HayDavies,
// HDKR) or 5° (Perez1990, as published) above the horizon. An unknown model is
// taken as Isotropic.
func (m Model) OnPlane(plane Plane, pos Pos, sky Sky) Tilted {
	facing := math.Max(0, plane.CosIncidence(pos)) // cosine of incidence, before the plane
	out := Tilted{
		Diffuse: sky.Diffuse * plane.SkyView(),
		Ground:  sky.Global * sky.Albedo * plane.GroundView(),
	}
	if pos.Zenith >= 90 {
		return out
	}
	out.Beam = sky.Beam * facing
	if sky.Diffuse <= 0 {
		return out
	}
	cosZenith := cosDeg(pos.Zenith)
	switch m {
	case HayDavies, HDKR:
		const cosLowest = 0.01745240643728351 // of 89° zenith
		if sky.Extraterrestrial <= 0 {
			return out
		}
		glow := sky.Beam / sky.Extraterrestrial // anisotropy index [-]
		dome := sky.Diffuse * (1 - glow) * plane.SkyView()
		if m == HDKR && sky.Global > 0 {
			half := sinDeg(plane.Tilt / 2)
			dome *= 1 + math.Sqrt(math.Max(0, sky.Beam*cosZenith/sky.Global))*half*half*half
		}
		out.Diffuse = dome + sky.Diffuse*glow*facing/math.Max(cosLowest, cosZenith)
	case Perez1990:
		const cosLowest = 0.08715574274765817 // of 85° zenith
		brightness := PerezSky(pos, sky)
		out.Diffuse = sky.Diffuse * math.Max(0, (1-brightness.Glow)*plane.SkyView()+
			brightness.Glow*facing/math.Max(cosLowest, cosZenith)+
			brightness.Horizon*sinDeg(plane.Tilt))
	}
	return out
}

// Brightness is how the Perez model sees a sky.
type Brightness struct {
	Clearness float64 // epsilon, from 1 under a closed cover [-]
	Delta     float64 // brightness of the diffuse light [-]
	Glow      float64 // F1, weight of the glow around the sun [-]
	Horizon   float64 // F2, weight of the horizon, negative when it is darker [-]
}

// PerezSky returns the sky's brightness by the model [Perez1990]: equations 1
// and 2 and table 6 of its paper. Sky.Diffuse must be above zero.
func PerezSky(pos Pos, sky Sky) Brightness {
	z := pos.Zenith * degree
	airMass := sky.AirMass
	if airMass == 0 {
		airMass = AirMass(pos.Elevation)
	}
	var b Brightness
	cube := 1.041 * z * z * z
	b.Clearness = ((sky.Diffuse+sky.Beam)/sky.Diffuse + cube) / (1 + cube)
	if sky.Extraterrestrial > 0 {
		b.Delta = sky.Diffuse * airMass / sky.Extraterrestrial
	}
	f := perezFactors(b.Clearness)
	b.Glow = math.Max(0, f[0]+f[1]*b.Delta+f[2]*z)
	b.Horizon = f[3] + f[4]*b.Delta + f[5]*z
	return b
}

// perezFactors returns F11, F12, F13, F21, F22 and F23 for a clearness.
func perezFactors(clearness float64) [6]float64 {
	switch {
	case clearness < 1.065:
		return [6]float64{-0.008, 0.588, -0.062, -0.060, 0.072, -0.022}
	case clearness < 1.23:
		return [6]float64{0.130, 0.683, -0.151, -0.019, 0.066, -0.029}
	case clearness < 1.5:
		return [6]float64{0.330, 0.487, -0.221, 0.055, -0.064, -0.026}
	case clearness < 1.95:
		return [6]float64{0.568, 0.187, -0.295, 0.109, -0.152, -0.014}
	case clearness < 2.8:
		return [6]float64{0.873, -0.392, -0.362, 0.226, -0.462, 0.001}
	case clearness < 4.5:
		return [6]float64{1.132, -1.237, -0.412, 0.288, -0.823, 0.056}
	case clearness < 6.2:
		return [6]float64{1.060, -1.600, -0.359, 0.264, -1.127, 0.131}
	}
	return [6]float64{0.678, -0.327, -0.250, 0.156, -1.377, 0.251}
}
