package answer

import (
	"hackle/fit"
	"hackle/hive"
	"hackle/ledger"
	"hackle/season"
	"hackle/wall"
)

// Heated is the document of a heated hive. The parts of loss_W sum to the watts, but
// for closure_W.
type Heated struct {
	File        string          `json:"file"`
	Hive        string          `json:"hive"`
	Date        ledger.Date     `json:"date"`
	Watts       float64         `json:"watts_W"`
	Outside     float64         `json:"outside_C"`
	Wind        float64         `json:"wind_m_s"`
	Levels      []HeatedLevel   `json:"levels"`
	UnderLid    float64         `json:"under_lid_C"`
	Mean        float64         `json:"mean_C"`
	WarmDepth   float64         `json:"warm_depth_mm"`
	Openings    []HeatedOpening `json:"openings"`
	Loss        HeatedLoss      `json:"loss_W"`
	Walls       HeatedWalls     `json:"walls_W"`
	Conductance float64         `json:"conductance_W_per_K"`
	Closure     float64         `json:"closure_W"`
	Notes       []string        `json:"notes"`
}

// HeatedLevel is the air at a height above the floor.
type HeatedLevel struct {
	Height float64 `json:"height_mm"`
	Core   float64 `json:"core_C"`
	Flank  float64 `json:"flank_C"`
	Mean   float64 `json:"mean_C"`
}

// HeatedOpening is what passes an opening.
type HeatedOpening struct {
	Name string  `json:"name"`
	In   float64 `json:"in_L_per_s"`
	Out  float64 `json:"out_L_per_s"`
	Heat float64 `json:"heat_W"`
}

// HeatedLoss is the heat lost by each way.
type HeatedLoss struct {
	Walls    float64 `json:"walls"`
	Lid      float64 `json:"lid"`
	Floor    float64 `json:"floor"`
	Edges    float64 `json:"edges"`
	Openings float64 `json:"openings"`
	Mesh     float64 `json:"mesh"`
	Cracks   float64 `json:"cracks"`
}

// HeatedWalls splits HeatedLoss.Walls.
type HeatedWalls struct {
	Front float64 `json:"front"`
	Back  float64 `json:"back"`
	Left  float64 `json:"left"`
	Right float64 `json:"right"`
}

// Heat finds the steady state of a heated hive. Warnings of the result follow the
// notes. Errors are those of the input or a *[Fault].
func Heat(file string, in season.HeaterInput, notes []string) (Heated, error) {
	in.Plan, _ = fit.Own(in.Plan)
	r, err := season.Heater(in, &wall.Cache{})
	if err != nil {
		return Heated{}, sorted(err)
	}
	return heatedOf(file, in, r, append(append([]string{}, notes...), r.Warnings...)), nil
}

func heatedOf(file string, in season.HeaterInput, r *season.HeaterResult, notes []string) Heated {
	const litre = 1e-3
	h := Heated{
		File: file, Hive: in.Plan.Hive.Name, Date: ledger.Date{Time: in.Date}, Watts: in.Watts, Outside: in.Outside, Wind: in.Wind,
		UnderLid: r.UnderLid, Mean: r.MeanAir, WarmDepth: r.WarmDepth * 1000, Conductance: r.Conductance, Closure: r.Closure,
		Walls:  HeatedWalls{r.Loss.Walls[hive.Front], r.Loss.Walls[hive.Back], r.Loss.Walls[hive.Left], r.Loss.Walls[hive.Right]},
		Levels: []HeatedLevel{}, Openings: []HeatedOpening{}, Notes: append([]string{}, notes...),
	}
	h.Loss = HeatedLoss{Walls: h.Walls.Front + h.Walls.Back + h.Walls.Left + h.Walls.Right, Lid: r.Loss.Lid, Floor: r.Loss.Floor, Edges: r.Loss.Edges, Openings: r.Loss.Openings, Mesh: r.Loss.Mesh, Cracks: r.Loss.Cracks}
	for _, l := range r.Levels {
		h.Levels = append(h.Levels, HeatedLevel{l.Height * 1000, l.Core, l.Flank, l.Mean})
	}
	for _, o := range r.Openings {
		h.Openings = append(h.Openings, HeatedOpening{o.Name, o.In / litre, o.Out / litre, o.Heat})
	}
	return h
}
