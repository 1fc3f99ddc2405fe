package climate

import (
	"fmt"
	"math"
)

const (
	// farKilometres is the distance from which a site's weather is doubtful
	// [km]. Common practice, no source: lows and fronts are some hundreds of
	// kilometres wide, and the mean temperature changes by about 1 K over 150 km
	// from south to north.
	farKilometres = 150.0
	// farMetres is the difference of height from which it is [m]: about 2 K by the
	// standard atmosphere's 6.5 K/km. Common practice, no source.
	farMetres = 300.0
	// kilometresPerMetre is how many kilometres of way a metre of height counts as
	// [km/m]. Temperature is corrected for height, and mean lapse rates scatter by
	// about 1 K/km round the mean, which leaves 0.001 K a metre; a kilometre of way
	// from south to north makes 0.007 K. Common practice, no source.
	kilometresPerMetre = 0.15
	// hereKilometres is the distance below which the site is taken to be the yard's
	// own neighbourhood [km]. Common practice, no source.
	hereKilometres = 10.0
	// earthRadius is the mean radius of the earth [km]: International Union of
	// Geodesy and Geophysics, from memory.
	earthRadius = 6371.0
)

// Match is the built-in site nearest to a yard.
type Match struct {
	Site       Site
	Kilometres float64 // along the great circle from the yard to the site [km]
	HeightStep float64 // height of the yard above the site, negative when below [m]
	// Warnings tell what is doubtful in taking the site's weather for the yard's,
	// one sentence each; none when the site is within 10 km, near in height, and
	// its weather is a record's.
	Warnings []string
	Height   float64 // of the yard above sea level [m]
}

// Nearest returns the built-in site that is nearest to a yard at a latitude and
// a longitude [deg, north and east positive] and a height above the sea [m].
// 100 m of height count as 15 km of way. Coordinates outside -90
// to 90 and -180 to 180 degrees, and heights outside -450 to 9000 m, are errors.
//
// A site that is far (150 km) or much higher or lower (300 m) is still
// returned, with a warning. What lies between, a coast, a lake or a mountain, is
// not known here and can matter more than the distance.
func Nearest(latitude, longitude, height float64) (Match, error) {
	switch {
	case !(latitude >= -90 && latitude <= 90):
		return Match{}, fmt.Errorf("latitude %g, accepted: -90 to 90 degrees, north positive", latitude)
	case !(longitude >= -180 && longitude <= 180):
		return Match{}, fmt.Errorf("longitude %g, accepted: -180 to 180 degrees, east positive", longitude)
	case !(height >= -450 && height <= 9000):
		return Match{}, fmt.Errorf("height %g m, accepted: -450 to 9000 m above the sea", height)
	}
	sites, err := Sites()
	if err != nil {
		return Match{}, err
	}
	best, bestWay := Match{}, math.Inf(1)
	for _, s := range sites {
		km := greatCircle(latitude, longitude, s.Latitude, s.Longitude)
		step := height - s.Height
		if way := math.Hypot(km, kilometresPerMetre*step); way < bestWay {
			best, bestWay = Match{Site: s, Kilometres: km, HeightStep: step, Height: height}, way
		}
	}
	best.warn()
	return best, nil
}

// warn fills in what is doubtful.
func (m *Match) warn() {
	if m.Kilometres > farKilometres {
		m.Warnings = append(m.Warnings, fmt.Sprintf("The nearest built-in weather is %.0f km away, in %s: take it as an example of a climate, not as this yard's weather.", m.Kilometres, m.Site.Place))
	}
	if math.Abs(m.HeightStep) > farMetres {
		side := "above"
		if m.HeightStep < 0 {
			side = "below"
		}
		m.Warnings = append(m.Warnings, fmt.Sprintf("The yard lies %.0f m %s %s: temperature and pressure are moved to its height by a mean lapse rate, but valleys hold cold air and heights catch wind in ways no rule of thumb knows.", math.Abs(m.HeightStep), side, m.Site.Place))
	}
	if len(m.Site.Recalled) > 0 {
		m.Warnings = append(m.Warnings, fmt.Sprintf("The hours of %s are made from monthly means, of which these were written down from memory: %s. Put the normals of the yard's own weather service in their place.", m.Site.Place, listed(m.Site.Recalled)))
	}
	if m.Kilometres > hereKilometres {
		m.Warnings = append(m.Warnings, "Whether a coast, a lake or a mountain lies between the yard and that place is not known here; either side of one can have another climate.")
	}
}

// Series returns the built-in weather of the site, moved to the height of the
// yard; see [Series.AtHeight]. The warnings of the match stand in its Repairs.
// The place stays the site's, for its sun and its clock go together.
func (m Match) Series() (*Series, error) {
	s, err := Builtin(m.Site.Name)
	if err != nil {
		return nil, err
	}
	s = s.AtHeight(m.Height)
	for _, w := range m.Warnings {
		s.Repairs = append(s.Repairs, Repair{Field: "site", Found: w, Done: "used as it is"})
	}
	return s, nil
}

// Unlike tells whether the site is so far, or so much higher or lower, that its
// weather is an example rather than the yard's.
func (m Match) Unlike() bool {
	return m.Kilometres > farKilometres || math.Abs(m.HeightStep) > farMetres
}

// greatCircle returns the distance between two places on the ground [km], by the
// haversine formula, which stays exact for near places.
func greatCircle(latitude1, longitude1, latitude2, longitude2 float64) float64 {
	const rad = math.Pi / 180
	sinLat := math.Sin((latitude2 - latitude1) * rad / 2)
	sinLon := math.Sin((longitude2 - longitude1) * rad / 2)
	h := sinLat*sinLat + math.Cos(latitude1*rad)*math.Cos(latitude2*rad)*sinLon*sinLon
	return 2 * earthRadius * math.Asin(math.Sqrt(min(h, 1)))
}
