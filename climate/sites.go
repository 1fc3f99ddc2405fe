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
	// PartlyReadNormals are monthly normals of which some quantities, the daily low
	// and high always, were read in published tables and others written down from
	// memory; see [Site.Recalled]. The hours are made from them. Put the normals of
	// the own weather service in their place where the answer matters.
	PartlyReadNormals Basis = "partly read"
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
	Source    string // where the figures come from that are not Recalled; see FullSource
	Note      string // what else to know, "" when nothing
	// Recalled names the quantities whose normals were written down from memory,
	// such as "relative humidity", in the order of the table of normals.
	Recalled []string

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
	normals, err := normalRows()
	if err != nil {
		return nil, err
	}
	for i := range sites {
		for _, n := range normals {
			if n.site == sites[i].Name && n.origin == originMemory {
				sites[i].Recalled = append(sites[i].Recalled, n.quantity)
			}
		}
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

// Where the twelve figures of a row in the table of normals come from.
const (
	originRead     = "read"     // in a published table or a copy of one
	originComputed = "computed" // from a record
	originMemory   = "from memory"
)

// normalRow is a row of the table of normals.
type normalRow struct {
	site, quantity, origin string
	months                 siteMonths
}

// normalRows reads the table of normals.
func normalRows() ([]normalRow, error) {
	const file = weatherDir + "normals.csv"
	table, err := builtinTable(file, "site", "quantity", "unit", "origin", "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
	if err != nil {
		return nil, err
	}
	units := map[string]string{
		normalLow: "°C", normalHigh: "°C", normalHumidity: "%", normalWind: "m/s", normalSunHours: "h/d",
		normalRadiation: "kWh/(m²·d)", normalRainDays: "d", normalSpread: "K", normalPersistence: "1",
	}
	rows := make([]normalRow, 0, len(table))
	for i, cells := range table {
		r := normalRow{site: cells[0], quantity: cells[1], origin: cells[3]}
		if unit, ok := units[r.quantity]; !ok || unit != cells[2] {
			return nil, fmt.Errorf("%s: row %d: %s in %s", file, i+2, r.quantity, cells[2])
		}
		if r.origin != originRead && r.origin != originComputed && r.origin != originMemory {
			return nil, fmt.Errorf("%s: row %d: origin %q", file, i+2, r.origin)
		}
		for m := range r.months {
			if r.months[m], err = strconv.ParseFloat(cells[4+m], 64); err != nil {
				return nil, fmt.Errorf("%s: row %d: %w", file, i+2, err)
			}
		}
		rows = append(rows, r)
	}
	return rows, nil
}

// siteNormals returns the rows of a site in the table of normals by quantity.
func siteNormals(name string) (map[string]siteMonths, error) {
	rows, err := normalRows()
	if err != nil {
		return nil, err
	}
	found := map[string]siteMonths{}
	for _, r := range rows {
		if r.site == name {
			found[r.quantity] = r.months
		}
	}
	if len(found) == 0 {
		return nil, fmt.Errorf("table of normals: no site %q", name)
	}
	return found, nil
}

// FullSource is the source of the site's figures with what is from memory.
func (s Site) FullSource() string {
	if len(s.Recalled) > 0 {
		return s.Source + "; from memory and rounded: " + listed(s.Recalled)
	}
	return s.Source
}

// listed joins words as in a sentence: "a, b and c".
func listed(words []string) string {
	if n := len(words); n > 1 {
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
	return strings.Join(words, "")
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
	n := Normals{Name: s.Place, Source: s.FullSource(), HasRain: true}
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
	year.Source = "hours made from monthly normals: " + s.FullSource()
	if len(s.Recalled) > 0 {
		year.Repairs = append([]Repair{{Field: "normals", Found: "of the monthly means of " + s.Place + " these were written down from memory: " + listed(s.Recalled),
			Done: "used as they are; put the normals of the yard's own weather service in their place"}}, year.Repairs...)
	}
	return year, nil
}
