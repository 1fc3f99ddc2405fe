// Package climate holds hourly weather and reads it from open file layouts.
package climate

import "time"

// Hour is the weather of one hour: the state at, and for sums the hour that
// ends at, its time. Missing values never reach here; readers refuse or fill
// them by stated rule and tell so in Series.Repairs.
type Hour struct {
	TempAir           float64 // dry bulb at 2 m [°C]
	RelHumidity       float64 // over liquid water, 0 to 1 [-]
	Pressure          float64 // station pressure [Pa]
	WindSpeed         float64 // at 10 m in the open [m/s]
	WindFrom          float64 // direction the wind comes from, clockwise from north [deg]
	GlobalHorizontal  float64 // mean over the hour [W/m²]
	DirectNormal      float64 // mean over the hour [W/m²]
	DiffuseHorizontal float64 // mean over the hour [W/m²]
	SkyLongWave       float64 // downwelling long wave on the horizontal [W/m²]
	Rain              float64 // depth over the hour, 0 when unknown [mm]
	SnowDepth         float64 // 0 when unknown [m]
}

// Series is weather at equal steps of one hour.
type Series struct {
	Name      string
	Latitude  float64       // north positive [deg]
	Longitude float64       // east positive [deg]
	Height    float64       // above sea level [m]
	Zone      time.Duration // local standard time ahead of UTC
	// Start is the beginning of the first hour; Hours[i] covers
	// [Start+i·1h, Start+(i+1)·1h). Its zone is fixed and equals Zone.
	Start   time.Time
	Hours   []Hour
	Typical bool     // a made or typical year that may repeat
	Repairs []Repair // what was filled or doubtful, in file order
	Source  string   // where the data come from, for the report
}

// Repair tells what a reader did to a faulty value.
type Repair struct {
	Line  int // 1-based line in the file, 0 when it concerns the whole file
	Field string
	Found string
	Done  string
}
