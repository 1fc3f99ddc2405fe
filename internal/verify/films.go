package verify

import (
	"context"
	"fmt"
	"math"

	"hackle/air"
	"hackle/wall"
)

const heatTransferText = "Fundamentals of Heat and Mass Transfer"

var filmsTitles = [...]thermalTitle{
	{"CV-01", "Natural convection from a hot vertical screen", heatTransferText + ", example 9.2"},
	{"CV-02", "Natural convection around a rectangular duct", heatTransferText + ", example 9.3"},
	{"CV-03", "Laminar flow along a flat plate", heatTransferText + ", example 7.1"},
	{"CV-04", "Radiation and convection of a bare pipe", heatTransferText + ", example 1.2"},
	{"CV-05", "Linearised against exact radiation", "Stefan-Boltzmann law"},
	{"CV-06", "Natural convection from plates in air", "Churchill-Chu and plate correlations; " + heatTransferText + ", chapter 9"},
	{"CV-07", "Transport properties of dry air", "Sutherland fit; " + heatTransferText + ", table A.4"},
	{"CV-08", "Tilted air gap heated from below", "Solar Engineering of Thermal Processes, example 3.11.1; Hollands et al."},
	{"CV-09", "Enclosure heated from below by Rayleigh number and tilt", "Free convective heat transfer across inclined air layers, Journal of Heat Transfer 98 (1976)"},
	{"CV-10", "Outer films against wind speed", heatTransferText + ", chapter 7; ISO 6946:2017; Solar Engineering of Thermal Processes, section 3.15"},
	{"CV-11", "Radiation of a body in a box", heatTransferText + ", chapter 13"},
	{"CV-12", "View factors of a rectangular box", heatTransferText + ", table 13.2; walls by two million random rays"},
}

// filmsChecks computes the convective and radiative films.
func filmsChecks(ctx context.Context) ([]Check, error) {
	compute := map[string]func(openCase) ([]Row, error){
		"CV-01": screenRows, "CV-02": ductRows, "CV-03": plateFlowRows, "CV-04": barePipeRows, "CV-05": linearRadiationRows,
		"CV-06": platesRows, "CV-07": dryAirRows, "CV-08": tiltedGapRows, "CV-09": enclosureRows, "CV-10": windRows,
		"CV-11": bodyInBoxRows, "CV-12": boxViewRows,
	}
	return thermalTopic(ctx, "08_convection_radiation.json", "Films", filmsTitles[:],
		func(c openCase) ([]Row, string, error) {
			rows, err := compute[c.ID](c)
			return rows, "", err
		})
}

// filmQuantity is one number of a case by its key.
type filmQuantity struct {
	key, quantity, unit string
	computed            float64
	printed             string // key of the printed figure, key when empty
}

// filmRows compares quantities with all the expected numbers of a case.
func filmRows(c openCase, share float64, quantities ...filmQuantity) ([]Row, error) {
	var want map[string]thermalNumber
	printed := map[string]float64{}
	if err := thermalDecode(c.Expected, &want); err != nil {
		return nil, err
	}
	if len(c.Published) > 0 {
		if err := thermalDecode(c.Published, &printed); err != nil {
			return nil, err
		}
	}
	if len(want) != len(quantities) {
		return nil, fmt.Errorf("%d numbers expected, %d computed", len(want), len(quantities))
	}
	var rows []Row
	for _, q := range quantities {
		v, ok := want[q.key]
		if !ok {
			return nil, fmt.Errorf("%s is not expected", q.key)
		}
		key := q.printed
		if key == "" {
			key = q.key
		}
		rows = append(rows, Row{Quantity: q.quantity, Unit: q.unit, Computed: q.computed, Expected: float64(v),
			Tolerance: relative(share, float64(v)), Published: thermalPrinted(printed, key)})
	}
	return rows, nil
}

// The figures of CV-01 to CV-04 and CV-08 stand in the cases' descriptions.

func screenRows(c openCase) ([]Row, error) {
	gas := wall.Gas{Conductivity: 0.0338, KinematicViscosity: 26.4e-6, Diffusivity: 38.3e-6, Expansion: 0.0025}
	const height, width, dt = 0.71, 1.02, 232 - 23
	ra := gas.Rayleigh(dt, height)
	nu := wall.NusseltVertical(ra, 0.690)
	h := gas.Film(nu, height)
	return filmRows(c, 0.005,
		filmQuantity{"Ra", "Rayleigh number", "-", ra, ""},
		filmQuantity{"Nu", "Nusselt number", "-", nu, ""},
		filmQuantity{"h", "film", "W/(m²·K)", h, ""},
		filmQuantity{"Q", "heat", "W", h * height * width * dt, ""})
}

func ductRows(c openCase) ([]Row, error) {
	gas := wall.Gas{Conductivity: 0.0265, KinematicViscosity: 16.2e-6, Diffusivity: 22.9e-6, Expansion: 0.0033}
	const width, height, dt, pr = 0.75, 0.3, 30, 0.71
	side, top := gas.Rayleigh(dt, height), gas.Rayleigh(dt, width/2)
	hSide := gas.Film(wall.NusseltVerticalLaminar(side, pr), height)
	hTop := gas.Film(wall.NusseltUnstable(top), width/2)
	hBottom := gas.Film(wall.NusseltStable(top), width/2)
	return filmRows(c, 0.005,
		filmQuantity{"Ra_side", "Rayleigh number of the sides", "-", side, ""},
		filmQuantity{"h_side", "film of the sides", "W/(m²·K)", hSide, ""},
		filmQuantity{"Ra_top", "Rayleigh number of the top", "-", top, ""},
		filmQuantity{"h_top", "film of the top", "W/(m²·K)", hTop, ""},
		filmQuantity{"h_bottom", "film of the bottom", "W/(m²·K)", hBottom, ""},
		filmQuantity{"q_per_m", "heat per metre", "W/m", (2*hSide*height + (hTop+hBottom)*width) * dt, ""})
}

func plateFlowRows(c openCase) ([]Row, error) {
	gas := wall.Gas{Conductivity: 0.0364, KinematicViscosity: 5.21e-4}
	const length, v, dt, pr = 0.5, 10, 300 - 27, 0.687
	re := gas.Reynolds(v, length)
	nu := wall.NusseltPlate(re, pr)
	h := gas.Film(nu, length)
	return filmRows(c, 0.003,
		filmQuantity{"Re", "Reynolds number", "-", re, ""},
		filmQuantity{"Nu", "Nusselt number", "-", nu, ""},
		filmQuantity{"h", "film", "W/(m²·K)", h, ""},
		filmQuantity{"q_per_m", "heat per metre", "W/m", h * length * dt, "q"})
}

func barePipeRows(c openCase) ([]Row, error) {
	// The text rounds the temperatures to 473 and 298 K.
	const eps, diameter, h, ts, ta = 0.8, 0.07, 15, 473 - 273.15, 298 - 273.15
	hr := wall.RadiativeFilmBetween(eps, ts, ta)
	return filmRows(c, 0.003,
		filmQuantity{"E", "emissive power", "W/m²", eps * wall.BlackEmission(ts), ""},
		filmQuantity{"G", "irradiation", "W/m²", wall.BlackEmission(ta), ""},
		filmQuantity{"hr", "radiative film", "W/(m²·K)", hr, ""},
		filmQuantity{"q_per_m", "loss per metre", "W/m", math.Pi * diameter * (h + hr) * (ts - ta), "q"})
}

func linearRadiationRows(c openCase) ([]Row, error) {
	var want thermalTable
	if err := thermalDecode(c.Expected, &want); err != nil {
		return nil, err
	}
	var rows []Row
	for _, line := range want.Rows {
		t1, t2, eps := line[0], line[1], line[2]
		exact := eps * (wall.BlackEmission(t1) - wall.BlackEmission(t2))
		hr := wall.RadiativeFilm(eps, (t1+t2)/2)
		linear := hr * (t1 - t2)
		at := fmt.Sprintf(", %g to %g °C", t1, t2)
		for i, q := range []struct {
			name, unit      string
			value, absolute float64
		}{
			{"exact flux", "W/m²", exact, 0}, {"linearised film", "W/(m²·K)", hr, 0},
			{"linearised flux", "W/m²", linear, 0}, {"error of the linearised flux", "-", linear/exact - 1, 1e-5},
		} {
			v := line[i+3]
			tolerance := relative(1e-3, v)
			if q.absolute > 0 {
				tolerance = q.absolute
			}
			rows = append(rows, Row{Quantity: q.name + at, Unit: q.unit, Computed: q.value, Expected: v, Tolerance: tolerance})
		}
		rows = append(rows, Row{Quantity: "flux by the secant film" + at, Unit: "W/m²", Computed: wall.RadiativeFilmBetween(eps, t1, t2) * (t1 - t2),
			Expected: line[3], Tolerance: relative(1e-6, line[3])})
	}
	return rows, nil
}

// dryAir returns the properties of dry air at t [°C] and one atmosphere.
func dryAir(t float64) wall.Gas {
	return wall.Gas{
		Conductivity:       air.Conductivity(t),
		KinematicViscosity: air.KinematicViscosity(t, air.StandardPressure),
		Diffusivity:        air.ThermalDiffusivity(t, air.StandardPressure),
		Expansion:          1 / (t + air.ZeroCelsius),
	}
}

func platesRows(c openCase) ([]Row, error) {
	var in struct {
		Rows [][]any `json:"rows"`
	}
	var want thermalTable
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want); err != nil {
		return nil, err
	}
	var rows []Row
	for i, line := range in.Rows {
		length, ts, ta := line[0].(float64), line[1].(float64), line[2].(float64)
		kind := line[3].(string)
		gas := dryAir((ts + ta) / 2)
		ra := gas.Rayleigh(ts-ta, length)
		var nu float64
		switch kind {
		case "vertical_CC_all":
			nu = wall.NusseltVertical(ra, gas.Prandtl())
		case "vertical_CC_laminar":
			nu = wall.NusseltVerticalLaminar(ra, gas.Prandtl())
		case "hot_up":
			nu = wall.NusseltUnstable(ra)
		case "hot_down":
			nu = wall.NusseltStable(ra)
		default:
			return nil, fmt.Errorf("unknown kind of plate %q", kind)
		}
		name := map[string]string{
			"vertical_CC_all": "upright", "vertical_CC_laminar": "upright, laminar form", "hot_up": "level, unstable", "hot_down": "level, stable",
		}[kind]
		at := fmt.Sprintf("%s, %g m, %g in %g °C: ", name, length, ts, ta)
		for k, q := range []struct {
			name, unit string
			value      float64
		}{{"Rayleigh number", "-", ra}, {"Nusselt number", "-", nu}, {"film", "W/(m²·K)", gas.Film(nu, length)}} {
			v := want.Rows[i][k]
			rows = append(rows, Row{Quantity: at + q.name, Unit: q.unit, Computed: q.value, Expected: v, Tolerance: relative(0.005, v)})
		}
	}
	return rows, nil
}

func dryAirRows(c openCase) ([]Row, error) {
	var want thermalTable
	var printed map[string]map[string]float64
	if err := thermalDecode(c.Expected, &want, c.Published, &printed); err != nil {
		return nil, err
	}
	var rows []Row
	for _, line := range want.Rows {
		t := line[0]
		gas := dryAir(t)
		for k, q := range []struct {
			name, unit string
			value      float64
		}{
			{"density", "kg/m³", air.Density(t, air.StandardPressure, 0)},
			{"viscosity", "Pa·s", air.Viscosity(t)},
			{"conductivity", "W/(m·K)", gas.Conductivity},
			{"kinematic viscosity", "m²/s", gas.KinematicViscosity},
			{"thermal diffusivity", "m²/s", gas.Diffusivity},
			{"Prandtl number", "-", gas.Prandtl()},
		} {
			v := line[k+1]
			rows = append(rows, Row{Quantity: fmt.Sprintf("%s at %g °C", q.name, t), Unit: q.unit, Computed: q.value, Expected: v, Tolerance: relative(0.002, v)})
		}
	}
	// The printed table holds for the density of 300 K and about 100 kPa.
	const t300, p = 300 - 273.15, 1e5
	table := printed["300K"]
	for _, q := range []struct {
		key, name, unit string
		value           float64
	}{
		{"k", "conductivity", "W/(m·K)", air.Conductivity(t300)},
		{"nu", "kinematic viscosity", "m²/s", air.KinematicViscosity(t300, p)},
		{"alpha", "thermal diffusivity", "m²/s", air.ThermalDiffusivity(t300, p)},
		{"Pr", "Prandtl number", "-", air.Prandtl(t300)},
	} {
		v, ok := table[q.key]
		if !ok {
			return nil, fmt.Errorf("%s at 300 K is not printed", q.key)
		}
		rows = append(rows, Row{Quantity: q.name + " at 300 K, 100 kPa", Unit: q.unit, Computed: q.value, Expected: v,
			Tolerance: relative(0.01, v), Published: &v, Note: "against the printed table"})
	}
	return rows, nil
}

func tiltedGapRows(c openCase) ([]Row, error) {
	gas := wall.Gas{Conductivity: 0.029, KinematicViscosity: 1.88e-5, Diffusivity: 2.69e-5, Expansion: 1 / 333.}
	const gap, tilt, dt = 0.025, 45, 20
	ra := gas.Rayleigh(dt, gap)
	nu := wall.NusseltEnclosure(ra, tilt)
	return filmRows(c, 0.01,
		filmQuantity{"Ra", "Rayleigh number", "-", ra, ""},
		filmQuantity{"Nu", "Nusselt number", "-", nu, ""},
		filmQuantity{"h", "film", "W/(m²·K)", gas.Film(nu, gap), ""})
}

func enclosureRows(c openCase) ([]Row, error) {
	var want thermalTable
	if err := thermalDecode(c.Expected, &want); err != nil {
		return nil, err
	}
	var rows []Row
	for _, line := range want.Rows {
		rows = append(rows, Row{Quantity: fmt.Sprintf("Nusselt number at Ra %g, %g°", line[0], line[1]), Unit: "-",
			Computed: wall.NusseltEnclosure(line[0], line[1]), Expected: line[2], Tolerance: relative(1e-3, line[2])})
	}
	return rows, nil
}

func windRows(c openCase) ([]Row, error) {
	var want thermalTable
	if err := thermalDecode(c.Expected, &want); err != nil {
		return nil, err
	}
	gas := dryAir(10)
	pr := gas.Prandtl()
	var rows []Row
	for _, line := range want.Rows {
		v, length := line[0], line[1]
		re := gas.Reynolds(v, length)
		for k, q := range []struct {
			name  string
			value float64
		}{
			{"Reynolds number", re},
			{"laminar plate", gas.Film(wall.NusseltPlateLaminar(re, pr), length)},
			{"turbulent plate", gas.Film(wall.NusseltPlateTurbulent(re, pr), length)},
			{"mixed plate", gas.Film(wall.NusseltPlate(re, pr), length)},
			{"standard, 4 + 4v", wall.WindFilmStandard(v)},
			{"plate in the open", wall.WindFilmMcAdams(v)},
			{"plate in the open, without radiation", wall.WindFilmPlateNet(v)},
			{"finite body", wall.WindFilmBody(v, length)},
		} {
			unit := "W/(m²·K)"
			if k == 0 {
				unit = "-"
			}
			rows = append(rows, Row{Quantity: fmt.Sprintf("%s at %g m/s, %g m", q.name, v, length), Unit: unit,
				Computed: q.value, Expected: line[k+2], Tolerance: relative(0.005, line[k+2])})
		}
	}
	return rows, nil
}

func bodyInBoxRows(c openCase) ([]Row, error) {
	var in struct {
		T1, T2, A1, A2 thermalNumber
		Eps1           float64 `json:"eps1"`
		Eps2           float64 `json:"eps2"`
	}
	if err := thermalDecode(c.Inputs, &in); err != nil {
		return nil, err
	}
	t1, t2, a1 := float64(in.T1), float64(in.T2), float64(in.A1)
	h := wall.RadiativeFilmBetween(wall.EffectiveEmissivity(in.Eps1, in.Eps2, float64(in.A1/in.A2)), t1, t2)
	return filmRows(c, 1e-3,
		filmQuantity{"q", "net exchange", "W", h * a1 * (t1 - t2), ""},
		filmQuantity{"h_equiv_on_A1", "radiative film on the body", "W/(m²·K)", h, ""})
}

func boxViewRows(c openCase) ([]Row, error) {
	var in struct{ X, Y, Z thermalNumber }
	var want struct {
		Roof  thermalNumber `json:"F_floor_roof"`
		WallX thermalNumber `json:"F_floor_wall_x"`
		WallY thermalNumber `json:"F_floor_wall_y"`
	}
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want); err != nil {
		return nil, err
	}
	f := wall.BoxViewFactors(float64(in.X), float64(in.Y), float64(in.Z))
	sum := 0.0
	for _, v := range f[wall.BoxFloor] {
		sum += v
	}
	floor := f[wall.BoxFloor]
	return []Row{
		{Quantity: "floor to roof", Unit: "-", Computed: floor[wall.BoxRoof], Expected: float64(want.Roof), Tolerance: relative(1e-4, float64(want.Roof))},
		{Quantity: "floor to a wall normal to x", Unit: "-", Computed: floor[wall.BoxWallX0], Expected: float64(want.WallX), Tolerance: 0.0015, Note: "expected by random rays"},
		{Quantity: "floor to a wall normal to y", Unit: "-", Computed: floor[wall.BoxWallY1], Expected: float64(want.WallY), Tolerance: 0.0015, Note: "expected by random rays"},
		{Quantity: "sum over the floor's view", Unit: "-", Computed: sum, Expected: 1, Tolerance: 1e-9},
	}, nil
}
