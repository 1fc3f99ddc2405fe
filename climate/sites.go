package climate

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"hackle/internal/spelling"
)

// Basis says what the built-in weather of a site rests on.
type Basis string

const (
	// TypicalYear is a typical year of hours from a public data base.
	TypicalYear Basis = "typical year"
	// ComputedNormals are monthly normals computed from a record of days; the
	// hours are made from them.
	ComputedNormals Basis = "computed"
	// RecalledNormals are monthly normals written down from memory, rounded: good
	// enough to try things out. The hours are made from them. Put the normals of
	// the own weather service in their place where the answer matters.
	RecalledNormals Basis = "from memory"
)

// Site is a place whose weather is built in.
type Site struct {
	Name      string        // such as "burlington-vt", as [Load] and [Builtin] take it
	Place     string        // town, region, country
	Climate   string        // in a few words
	Latitude  float64       // north positive [deg]
	Longitude float64       // east positive [deg]
	Height    float64       // above sea level [m]
	Zone      time.Duration // local standard time ahead of UTC
	Basis     Basis
	Source    string // where the figures come from; of RecalledNormals, where they are believed to come from
	Note      string // what else to know, "" when nothing

	midOffset time.Duration // see Series.MidOffset
}

// Sites returns the built-in sites in the order of their names. It fails only
// when the program itself is damaged.
func Sites() ([]Site, error) {
	const file = weatherDir + "sites.csv"
	rows, err := builtinTable(file, "name", "place", "climate", "latitude_deg", "longitude_deg", "height_m", "zone_h", "basis", "radiation_min", "source", "note")
	if err != nil {
		return nil, err
	}
	sites := make([]Site, 0, len(rows))
	for i, row := range rows {
		s := Site{Name: row[0], Place: row[1], Climate: row[2], Basis: Basis(row[7]), Source: row[9], Note: row[10]}
		var number [5]float64
		for k, column := range [...]int{3, 4, 5, 6, 8} {
			if number[k], err = strconv.ParseFloat(row[column], 64); err != nil {
				return nil, fmt.Errorf("%s: row %d: %w", file, i+2, err)
			}
		}
		s.Latitude, s.Longitude, s.Height = number[0], number[1], number[2]
		s.Zone = time.Duration(number[3] * float64(time.Hour))
		s.midOffset = time.Duration(number[4] * float64(time.Minute)).Round(time.Second)
		sites = append(sites, s)
	}
	slices.SortFunc(sites, func(a, b Site) int { return strings.Compare(a.Name, b.Name) })
	return sites, nil
}

// siteNamed finds a built-in site.
func siteNamed(name string) (Site, error) {
	sites, err := Sites()
	if err != nil {
		return Site{}, err
	}
	for _, s := range sites {
		if s.Name == name {
			return s, nil
		}
	}
	hint := ""
	if near := likeNames(name, sites); len(near) > 0 {
		hint = "; did you mean " + strings.Join(near, " or ") + "?"
	}
	return Site{}, fmt.Errorf("no built-in weather %q%s (hackle weather list names all %d)", name, hint, len(sites))
}

// likeNames finds the sites whose name, place or climate is nearest to a word, at
// most three, the nearest first; none when no name is near.
func likeNames(word string, sites []Site) []string {
	word = strings.ToLower(strings.TrimSpace(word))
	if word == "" {
		return nil
	}
	type like struct {
		name string
		off  float64
	}
	var near []like
	for _, s := range sites {
		town, _, _ := strings.Cut(s.Place, ",")
		town = strings.ToLower(town)
		best := math.Inf(1)
		// The last part of a name is the state or country, which many leave out.
		short := s.Name
		if i := strings.LastIndexByte(s.Name, '-'); i > 0 {
			short = s.Name[:i]
		}
		for _, as := range []string{s.Name, short, town} {
			off := float64(spelling.Corrections(word, as))
			if len(word) >= 3 && (strings.HasPrefix(as, word) || strings.Contains(word, as)) {
				off = min(off, 0.5)
			}
			if off <= max(1, float64(len(word))/3) {
				best = min(best, off)
			}
		}
		if !math.IsInf(best, 1) {
			near = append(near, like{s.Name, best})
		}
	}
	slices.SortStableFunc(near, func(a, b like) int { return cmp.Compare(a.off, b.off) })
	names := make([]string, 0, 3)
	for _, l := range near[:min(len(near), 3)] {
		names = append(names, l.name)
	}
	return names
}

// builtinTable reads a table of the program with the columns named.
func builtinTable(file string, columns ...string) ([][]string, error) {
	text, err := weatherFiles.ReadFile(file)
	if err != nil {
		return nil, err
	}
	r := csv.NewReader(bytes.NewReader(text))
	r.FieldsPerRecord = len(columns)
	rows, err := r.ReadAll()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	if len(rows) == 0 || !slices.Equal(rows[0], columns) {
		return nil, fmt.Errorf("%s: column names other than %s", file, strings.Join(columns, ", "))
	}
	return rows[1:], nil
}

// siteMonths are the monthly figures of one quantity, January first.
type siteMonths [12]float64

// quantities of the table of normals, with the unit they are written in.
const (
	normalLow         = "daily low"           // [°C]
	normalHigh        = "daily high"          // [°C]
	normalHumidity    = "relative humidity"   // [%]
	normalWind        = "wind speed"          // [m/s]
	normalSunHours    = "sun hours"           // a day [h/d]
	normalRadiation   = "radiation"           // global, on the horizontal [kWh/(m²·d)]
	normalRainDays    = "rain days"           // of at least 1 mm, in the month [d]
	normalSpread      = "spread between days" // standard deviation of the days' means about the season's course [K]
	normalPersistence = "persistence"         // correlation of a day's mean with that of the day before [-]
)

// siteNormals returns the rows of a site in the table of normals by quantity.
func siteNormals(name string) (map[string]siteMonths, error) {
	const file = weatherDir + "normals.csv"
	rows, err := builtinTable(file, "site", "quantity", "unit", "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
	if err != nil {
		return nil, err
	}
	units := map[string]string{
		normalLow: "°C", normalHigh: "°C", normalHumidity: "%", normalWind: "m/s", normalSunHours: "h/d",
		normalRadiation: "kWh/(m²·d)", normalRainDays: "d", normalSpread: "K", normalPersistence: "1",
	}
	found := map[string]siteMonths{}
	for i, row := range rows {
		if row[0] != name {
			continue
		}
		if unit, ok := units[row[1]]; !ok || unit != row[2] {
			return nil, fmt.Errorf("%s: row %d: %s in %s", file, i+2, row[1], row[2])
		}
		var months siteMonths
		for m := range months {
			if months[m], err = strconv.ParseFloat(row[3+m], 64); err != nil {
				return nil, fmt.Errorf("%s: row %d: %w", file, i+2, err)
			}
		}
		found[row[1]] = months
	}
	if len(found) == 0 {
		return nil, fmt.Errorf("%s: no site %q", file, name)
	}
	return found, nil
}

// Normals returns the monthly normals of a site whose hours are made from them.
// A site with a typical year has none, which is an error; compute them from its
// hours.
func (s Site) Normals() (Normals, error) {
	if s.Basis == TypicalYear {
		return Normals{}, fmt.Errorf("%s has a typical year of hours, no normals", s.Name)
	}
	table, err := siteNormals(s.Name)
	if err != nil {
		return Normals{}, err
	}
	n := Normals{Name: s.Place, Source: s.Source, HasRain: true}
	for m := range n.Months {
		n.Months[m] = MonthNormals{
			Low:         table[normalLow][m],
			High:        table[normalHigh][m],
			RelHumidity: table[normalHumidity][m] / 100,
			Wind:        table[normalWind][m],
			Sun:         1000 * table[normalRadiation][m],
			SunHours:    table[normalSunHours][m],
			RainDays:    table[normalRainDays][m],
			Spread:      table[normalSpread][m],
			Persistence: table[normalPersistence][m],
		}
	}
	return n, nil
}

// siteSeed begins the chance of the years made for sites: a site's weather is
// always the same.
const siteSeed = 1

// made makes the typical year of a site from its normals.
func (s Site) made() (*Series, error) {
	n, err := s.Normals()
	if err != nil {
		return nil, err
	}
	year, err := MakeTypical(n, s.Latitude, s.Longitude, s.Height, s.Zone, siteSeed)
	if err != nil {
		return nil, fmt.Errorf("built-in weather %s: %w", s.Name, err)
	}
	year.Name = s.Place
	year.Source = "hours made from monthly normals: " + s.Source
	if s.Basis == RecalledNormals {
		year.Source += ", from memory and rounded"
		year.Repairs = append([]Repair{{Field: "normals", Found: "monthly means of " + s.Place + " written down from memory",
			Done: "used as they are; put the normals of the yard's own weather service in their place"}}, year.Repairs...)
	}
	return year, nil
}
