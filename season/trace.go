package season

import (
	"time"

	"hackle/hive"
)

// Channel is one result by the hour.
type Channel struct {
	Name    string    // stable, for files: "bees.heat"
	Unit    string    // "W"
	Meaning string    //
	Values  []float64 // one an hour: means over the hour, or the state at its end where Meaning says so
}

// Trace is the hour-by-hour result of a run.
type Trace struct {
	Hive     hive.Hive
	Start    time.Time // beginning of the first hour
	Hours    int
	Slabs    []Slab
	Columns  []string // names of the air columns
	Height   float64  // floor to what closes the hive above [m]
	Channels []Channel
	Totals   Totals
	Combs    []CombPeak // of every body and column with comb
	Wet      []FirstWet // first water of each face, in order of time
	Events   []Event
	Warnings []string
	Stats    Stats

	index map[string]int
}

// Slab is one layer of the hive's inside.
type Slab struct {
	Bottom, Top float64 // [m]
	Comb        bool
}

// Event is something that happened at a time.
type Event struct {
	At   time.Time
	What string
}

// Stats tells how much work a run was.
type Stats struct {
	Steps   int64 // time steps
	Rounds  int64 // rounds of flow and heat
	Newton  int64 // linear solutions of the pressure network
	Unready int64 // steps that ended before the rounds agreed within tolerance
}

// Water splits an amount of water by where it is. [kg]
type Water struct {
	Lid   float64 // on what closes the hive above: lid or top board, and inside the lid
	Walls float64
	Floor float64
	Combs float64
}

// Sum of all parts. [kg]
func (w Water) Sum() float64 { return w.Lid + w.Walls + w.Floor + w.Combs }

// Totals are sums over all steps of a run.
type Totals struct {
	Seconds float64

	BeesHeat float64 // heat of bees and brood in the hive [J]
	Sensible float64 // the part that warms, the rest leaves with vapour [J]
	Latent   float64 // set free by water that settled, less taken by water that dried [J]
	Stored   float64 // gained by air, combs and shell [J]
	Lost     LossJ   // left the hive [J]; solar gain counts against it

	HoneyStart  float64 // [kg]
	HoneyFed    float64 // [kg]
	HoneyGained float64 // that nectar became [kg]
	HoneyEaten  float64 // [kg]
	HoneyEnd    float64 // [kg]

	Nectar      float64 // carried in [kg]
	NectarDried float64 // water that left it [kg]
	WaterHauled float64 // carried in and spread to cool the nest [kg]

	VapourMade  float64 // given off by the bees, nectar and spread water [kg]
	VapourIn    float64 // came with outdoor air [kg]
	VapourOut   float64 // left with air [kg]
	VapourGain  float64 // more in the hive's air at the end [kg]
	Settled     Water   // condensed, before anything dried [kg]
	Dried       Water   // evaporated again [kg]
	Lying       Water   // on the faces at the end [kg]
	Absorbed    float64 // vapour that walls, boards and lid took from the air inside, net [kg]
	Through     float64 // of that, left through the shell to outdoors, net [kg]
	RainSoaked  float64 // rain that unpainted outer faces drew in [kg]
	StoresTook  float64 // vapour that open honey and pollen took from the air, net [kg]
	DrawnIn     float64 // drawn in as water by cloth, straw and the like, part of WoodGain [kg]
	WoodGain    float64 // more water in the shell at the end [kg]
	ShellStart  float64 // water in the shell at the start [kg]
	ShellEnd    float64 // and at the end [kg]
	PartsWater  float64 // came with wraps and trays put on, less what left with those taken off [kg]
	PartsHeat   float64 // the same of heat above 0 °C; it counts in no loss [J]
	Drunk       float64 // by bees, from wet faces [kg]
	RanDown     float64 // from walls to the floor [kg]
	Dripped     float64 // from overhead [kg]
	DrippedCore float64 // of that above the cluster [kg]
	Drained     float64 // out of the hive as liquid [kg]
	WaterHeld   float64 // kept by the bees, leaves with cleansing flights [kg]

	CarbonMade float64 // [kg]
	CarbonIn   float64 // [kg]
	CarbonOut  float64 // [kg]
	CarbonGain float64 // [kg]

	AirIn, AirOut float64 // [kg]
}

// LossJ is heat by the way it left. [J]
type LossJ struct {
	Walls    [4]float64 // front, back, left, right
	Lid      float64
	Floor    float64
	Edges    float64
	Openings []float64 // by opening
	Cracks   float64
	Mesh     float64
}

// Sum of all ways. [J]
func (l LossJ) Sum() float64 {
	s := l.Lid + l.Floor + l.Edges + l.Cracks + l.Mesh
	for _, w := range l.Walls {
		s += w
	}
	for _, o := range l.Openings {
		s += o
	}
	return s
}

// Closure is how well each balance closes: the residual over the throughput. [-]
type Closure struct {
	Heat, Vapour, CO2, Air, Honey float64
}

// Closure returns the residual of every balance as a share of its throughput.
func (t Totals) Closure() Closure {
	share := func(residual, through float64) float64 {
		if through == 0 {
			return 0
		}
		return residual / through
	}
	settled := t.Settled.Sum() - t.Dried.Sum()
	return Closure{
		Heat:   share(t.Sensible+t.Latent-t.Lost.Sum()-t.Stored, t.BeesHeat),
		Vapour: share(t.VapourMade+t.VapourIn+t.RainSoaked-t.VapourOut-t.VapourGain-settled-t.Through-t.WoodGain-t.StoresTook+(settled-t.Lying.Sum()-t.Drained-t.Drunk), t.VapourMade+t.VapourIn),
		CO2:    share(t.CarbonMade+t.CarbonIn-t.CarbonOut-t.CarbonGain, t.CarbonMade+t.CarbonIn),
		Air:    share(t.AirIn-t.AirOut, t.AirIn),
		Honey:  share(t.HoneyStart+t.HoneyFed+t.HoneyGained-t.HoneyEaten-t.HoneyEnd, t.HoneyStart+t.HoneyFed+t.HoneyGained),
	}
}

// add registers a channel and returns its place.
func (t *Trace) add(name, unit, meaning string) int {
	if t.index == nil {
		t.index = map[string]int{}
	}
	t.index[name] = len(t.Channels)
	t.Channels = append(t.Channels, Channel{name, unit, meaning, make([]float64, t.Hours)})
	return len(t.Channels) - 1
}

// Get returns the hourly values of a channel, nil when the run has none of that name.
func (t *Trace) Get(name string) []float64 {
	i, ok := t.index[name]
	if !ok {
		return nil
	}
	return t.Channels[i].Values
}

// Time returns the beginning of an hour.
func (t *Trace) Time(hour int) time.Time { return t.Start.Add(time.Duration(hour) * time.Hour) }
