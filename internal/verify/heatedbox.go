package verify

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"time"

	"hackle/hive"
	"hackle/season"
	"hackle/wall"
)

// Share of the flow solver's figures within which the network must stay, set
// before it was first compared: the air under the lid within a fifth of its
// excess or 1.5 K, the flow and heat through a vent within three tenths. The
// slabs see means over a layer; the flow solver's own mesh error is near 5 %.
const (
	lidShare  = 0.2
	lidAbs    = 1.5 // K
	ventShare = 0.3
)

// heatedBox is one case of the flow solver as stored.
type heatedBox struct {
	Description string `json:"description"`
	Inputs      struct {
		Comb  bool     `json:"comb"`
		Vent  *float64 `json:"vent_centre_height_mm"`
		Walls float64  `json:"h_walls"`
		Floor float64  `json:"h_floor"`
		Lid   float64  `json:"h_lid"`
		Heat  float64  `json:"heat_W"`
	} `json:"inputs"`
	UnderLid  float64 `json:"ceiling10mm_layer_avg_dT_K"`
	Mean      float64 `json:"mean_air_dT_K"`
	WarmDepth float64 `json:"warm_depth_half_of_top_mm"`
	Openings  map[string]struct {
		In   float64 `json:"in_Lps"`
		Out  float64 `json:"out_Lps"`
		Heat float64 `json:"heat_out_W"`
	} `json:"openings"`
	Heights []float64 `json:"profile_heights_frac"`
	Profile []float64 `json:"profile_dT_K"`
}

// boxOutside is the outdoor temperature of all cases. [°C]
const boxOutside = -5

// heatedBoxPlan builds the box of the cases: 370 by 465 by 480 mm inside, walls
// that are conductances, with or without ten combs.
func heatedBoxPlan(c heatedBox) hive.Plan {
	// The cases give conductances from the inner face to the air outside; an
	// outer film of 25 W/(m²·K) is taken out of them and put back as boundary.
	layer := func(u float64) []hive.Layer {
		return []hive.Layer{{Thickness: 0.02, Resistance: 1/u - 1.0/outerFilmOfBox}}
	}
	b := hive.Body{Name: "box", Length: 0.465, Width: 0.370, Height: 0.480, TopSpace: 0.02}
	for i := range b.Walls {
		b.Walls[i] = layer(c.Inputs.Walls)
	}
	if c.Inputs.Comb {
		b.Frames = hive.Frames{Count: 10, Length: 0.430, Depth: 0.440, Pitch: 0.035, CombThickness: 0.025, DrawnShare: 1, HoneyPerFrame: 3}
	}
	var p hive.Plan
	p.Hive = hive.Hive{
		Name: "heated box", Bodies: []hive.Body{b},
		Floor: hive.Floor{Layers: layer(c.Inputs.Floor)}, Lid: hive.Lid{Layers: layer(c.Inputs.Lid)},
		Openings: []hive.Opening{{Name: "entrance", Face: hive.Front, Width: 0.150, Height: 0.015, Depth: 0.02, Count: 1, Shape: hive.Slot}},
	}
	if v := c.Inputs.Vent; v != nil {
		p.Hive.Openings = append(p.Hive.Openings, hive.Opening{Name: "vent", Face: hive.Front, Sill: *v/1000 - 0.01,
			Width: 0.025, Height: 0.020, Depth: 0.02, Count: 1, Shape: hive.Slot})
	}
	return p
}

const outerFilmOfBox = 25.0 // [W/(m²·K)]

// heatedBoxChecks computes the heated boxes of the flow solver with the hive
// network: radiation, edges and cracks off, combs conducting sideways only, as
// there.
func heatedBoxChecks(ctx context.Context) ([]Check, error) {
	text, err := caseFiles.ReadFile("cases/cfd.json")
	if err != nil {
		return nil, err
	}
	var set struct {
		Cases map[string]heatedBox `json:"cases"`
	}
	if err := json.Unmarshal(text, &set); err != nil {
		return nil, fmt.Errorf("cfd.json: %w", err)
	}
	const source = "flow and heat in the same box by a general-purpose finite-volume flow solver (three-dimensional, laminar, 70,000 cells), this project's own runs"
	var out []Check
	depth := map[string][2]float64{}
	ids := []string{"E1", "E2", "E3", "E4", "C1", "C2"}
	for _, id := range ids {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		c, ok := set.Cases[id]
		if !ok {
			return nil, fmt.Errorf("cfd.json: no case %s", id)
		}
		in := season.HeaterInput{
			Plan: heatedBoxPlan(c), Date: time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC),
			Watts: c.Inputs.Heat, Outside: boxOutside, Humidity: 0.5,
			Ideal: season.Ideal{NoRadiation: true, NoEdges: true, Tight: true, NoUpright: true, OuterFilm: outerFilmOfBox},
		}
		if c.Inputs.Comb {
			in.Height, in.Size = 0.200, 0.220
		}
		r, err := season.Heater(in, &wall.Cache{})
		if err != nil {
			return nil, fmt.Errorf("case %s: %w", id, err)
		}
		depth[id] = [2]float64{r.WarmDepth * 1000, c.WarmDepth}
		check := Check{ID: id, Topic: "Heated box", What: c.Description + ", 12 W, air flow, stratification and heat", Source: source}
		check.Rows = append(check.Rows, Row{Quantity: "air 10 mm under the lid over outdoors", Unit: "K", Computed: r.UnderLid - boxOutside,
			Expected: c.UnderLid, Tolerance: math.Max(lidAbs, lidShare*c.UnderLid)})
		for _, o := range r.Openings {
			want := c.Openings[o.Name]
			if o.Name == "vent" {
				check.Rows = append(check.Rows,
					Row{Quantity: "air out of the vent", Unit: "L/s", Computed: o.Out * 1000, Expected: want.Out, Tolerance: relative(ventShare, want.Out)},
					Row{Quantity: "heat out of the vent", Unit: "W", Computed: o.Heat, Expected: want.Heat, Tolerance: relative(ventShare, want.Heat)})
			} else if c.Inputs.Vent == nil {
				check.Rows = append(check.Rows, Row{Quantity: "air exchanged through the entrance", Unit: "L/s", Computed: o.Out * 1000, Expected: want.Out, Tolerance: 0.02,
					Note: "almost nothing, since the cold layer lies at it"})
			}
		}
		check.Rows = append(check.Rows, Row{Quantity: "heat put in less heat out", Unit: "W", Computed: r.Closure, Expected: 0, Tolerance: 1e-3})
		out = append(out, check, boxProfile(id, c, r, in.Plan.Hive.Height(), source))
	}
	// How deep the warm air reaches: the order of the six cases.
	order := Check{ID: "E1-C2", Topic: "Heated box", Source: source,
		What: "order of the warm depths: each case against the next shallower one of the flow solver"}
	deep := []string{"E3", "E4", "E1", "E2", "C1", "C2"} // as the flow solver has them
	for i := 1; i < len(deep); i++ {
		a, b := depth[deep[i-1]], depth[deep[i]]
		order.Rows = append(order.Rows, Row{Quantity: fmt.Sprintf("%s deeper than %s (1 yes)", deep[i-1], deep[i]), Unit: "-",
			Computed: indicator(a[0] > b[0]), Expected: indicator(a[1] > b[1]),
			Note: fmt.Sprintf("network %.0f and %.0f mm, flow solver %.0f and %.0f mm", a[0], b[0], a[1], b[1])})
	}
	return append(out, order), nil
}

func indicator(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

// boxProfile lays the whole profile beside that of the flow solver, as a report:
// slabs of mean temperature cannot follow a sharp front.
func boxProfile(id string, c heatedBox, r *season.HeaterResult, height float64, source string) Check {
	check := Check{ID: id + " profile", Topic: "Heated box", Source: source, Report: true,
		What: c.Description + ": layer means over the height, warm depth and mean"}
	at := func(z float64) float64 {
		l := r.Levels
		if z <= l[0].Height {
			return l[0].Mean - boxOutside
		}
		for i := 1; i < len(l); i++ {
			if z <= l[i].Height {
				return l[i-1].Mean + (l[i].Mean-l[i-1].Mean)*(z-l[i-1].Height)/(l[i].Height-l[i-1].Height) - boxOutside
			}
		}
		return l[len(l)-1].Mean - boxOutside
	}
	for i, f := range c.Heights {
		if n := math.Round(f * 100); math.Mod(n, 25) != 0 && n != 5 && n != 95 {
			continue
		}
		check.Rows = append(check.Rows, Row{Quantity: fmt.Sprintf("air at %.0f %% of the height over outdoors", f*100), Unit: "K",
			Computed: at(f * height), Expected: c.Profile[i], Tolerance: math.Max(lidAbs, lidShare*c.Profile[i])})
	}
	check.Rows = append(check.Rows,
		Row{Quantity: "mean air over outdoors", Unit: "K", Computed: r.MeanAir - boxOutside, Expected: c.Mean, Tolerance: math.Max(lidAbs, lidShare*c.Mean)},
		Row{Quantity: "warm depth", Unit: "mm", Computed: r.WarmDepth * 1000, Expected: c.WarmDepth, Tolerance: 0.2 * c.WarmDepth})
	return check
}
