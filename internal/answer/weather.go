package answer

import (
	"time"

	"hackle/climate"
)

// Weather is the document of a weather file.
type Weather struct {
	Name      string          `json:"name"`
	Source    string          `json:"source"`
	Latitude  float64         `json:"latitude_deg"`
	Longitude float64         `json:"longitude_deg"`
	Height    float64         `json:"height_m"`
	ZoneHours float64         `json:"zone_hours"` // local standard time ahead of UTC
	From      time.Time       `json:"from"`
	To        time.Time       `json:"to"` // end of the last hour
	Typical   bool            `json:"typical"`
	HasRain   bool            `json:"has_rain"`
	HasSnow   bool            `json:"has_snow"`
	Summary   climate.Outlook `json:"summary"`
	Repairs   []WeatherRepair `json:"repairs"`
}

// WeatherRepair is what was done to a field of a weather file.
type WeatherRepair struct {
	Line  int    `json:"line"`
	Field string `json:"field"`
	Found string `json:"found"`
	Done  string `json:"done"`
}

// Show summarises weather for bees that fly from an air temperature on [°C].
func Show(w *climate.Series, flight float64) Weather {
	s := Weather{Name: w.Name, Source: w.Source, Latitude: w.Latitude, Longitude: w.Longitude, Height: w.Height, ZoneHours: w.Zone.Hours(),
		From: w.Start, To: w.End(), Typical: w.Typical, HasRain: w.HasRain, HasSnow: w.HasSnow, Summary: w.Outlook(flight), Repairs: []WeatherRepair{}}
	if s.Summary.Months == nil {
		s.Summary.Months = []climate.MonthMeans{}
	}
	if s.Summary.Confinements == nil {
		s.Summary.Confinements = []climate.Spell{}
	}
	if s.Summary.Doubts == nil {
		s.Summary.Doubts = []climate.Doubt{}
	}
	for _, r := range w.Repairs {
		s.Repairs = append(s.Repairs, WeatherRepair(r))
	}
	return s
}

// Sites is the document of the built-in years.
type Sites struct {
	Sites  []Site `json:"sites"`
	Notice string `json:"notice"`
}

// Site is the document of a built-in year.
type Site struct {
	Name      string  `json:"name"`
	Place     string  `json:"place"`
	Climate   string  `json:"climate"`
	Latitude  float64 `json:"latitude_deg"`
	Longitude float64 `json:"longitude_deg"`
	Height    float64 `json:"height_m"`
	Basis     string  `json:"basis"`
	Source    string  `json:"source"`
	Note      string  `json:"note"`
}

// SiteOf makes the document of a built-in year.
func SiteOf(s climate.Site) Site {
	return Site{s.Name, s.Place, s.Climate, s.Latitude, s.Longitude, s.Height, string(s.Basis), s.FullSource(), s.Note}
}
