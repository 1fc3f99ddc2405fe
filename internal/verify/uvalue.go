package verify

import (
	"context"
	"encoding/json"
	"fmt"

	"hackle/wall"
)

// thermalNumber reads a case's number, bare or as {"value": …, "unit": …}.
type thermalNumber float64

func (v *thermalNumber) UnmarshalJSON(text []byte) error {
	var bare float64
	if err := json.Unmarshal(text, &bare); err == nil {
		*v = thermalNumber(bare)
		return nil
	}
	var with struct {
		Value *float64 `json:"value"`
	}
	if err := json.Unmarshal(text, &with); err != nil {
		return err
	}
	if with.Value == nil {
		return fmt.Errorf("no value in %s", text)
	}
	*v = thermalNumber(*with.Value)
	return nil
}

// thermalTitle is how a case is presented.
type thermalTitle struct{ id, what, source string }

// thermalTopic computes the titled cases of one file; compute returns the rows
// of a case and what is left out of it.
func thermalTopic(ctx context.Context, file, topic string, titles []thermalTitle,
	compute func(openCase) ([]Row, string, error)) ([]Check, error) {
	cases, err := loadCases(file)
	if err != nil {
		return nil, err
	}
	if len(cases) != len(titles) {
		return nil, fmt.Errorf("verify: %s has %d cases, %d are computed", file, len(cases), len(titles))
	}
	var checks []Check
	for _, t := range titles {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		c, ok := cases[t.id]
		if !ok {
			return nil, fmt.Errorf("verify: %s has no case %s", file, t.id)
		}
		rows, left, err := compute(c)
		if err != nil {
			return nil, fmt.Errorf("verify: %s: %w", t.id, err)
		}
		checks = append(checks, Check{
			ID: t.id, Topic: topic, What: t.what, Source: t.source,
			FromMemory: c.FromMemory, Rows: rows, Left: left,
		})
	}
	return checks, nil
}

// thermalDecode reads several parts of a case.
func thermalDecode(parts ...any) error {
	for i := 0; i+1 < len(parts); i += 2 {
		text := parts[i].(json.RawMessage)
		if len(text) == 0 {
			return fmt.Errorf("part %d is missing", i/2+1)
		}
		if err := json.Unmarshal(text, parts[i+1]); err != nil {
			return err
		}
	}
	return nil
}

// thermalTable is a table of a case.
type thermalTable struct {
	Columns []string    `json:"columns"`
	Rows    [][]float64 `json:"rows"`
}

// thermalPrinted returns the printed figure if the case gives one.
func thermalPrinted(values map[string]float64, key string) *float64 {
	if v, ok := values[key]; ok {
		return &v
	}
	return nil
}

var uvalueTitles = [...]thermalTitle{
	{"U-01", "Timber-framed wall with bridged insulation, combined method", "Scottish Building Standards Technical Handbook, annex 6.B.2"},
	{"U-02", "Cavity wall with two bridged layers, combined method", "Scottish Building Standards Technical Handbook, annex 6.B.3"},
	{"U-03", "Solid brick wall, layers in series", "Public table of wall U-values (resistances rounded to 0.01 before the sum)"},
	{"U-04", "Concrete sandwich wall with its surface temperature factor", "TSG-1-004:2022 control example"},
	{"U-05", "Light roof of wood, wool and board", "TSG-1-004:2022, table 8.4"},
	{"U-06", "Unventilated air layers by thickness and direction of heat", "ISO 6946:2017, annex D and table 8"},
	{"U-07", "Outer surface resistance against wind", "ISO 6946:2017, annex C"},
	{"U-08", "Black-body radiative coefficient", "ISO 6946:2017, table of hr0"},
	{"U-09", "Tapered layers over rectangles and triangles", "ISO 6946:2017, annex E; confirmed by integration"},
	{"U-10", "Wall of 22 mm pine", "ISO 6946, layers in series"},
	{"U-11", "Wall of 35 mm expanded polystyrene", "ISO 6946, layers in series"},
	{"U-12", "Frame and infill between plywood, combined method", "ISO 6946, combined method"},
	{"U-13", "Metal fasteners through insulation", "ISO 6946:2017, annex F"},
}

// uvalueChecks computes the steady transmittances of plane components.
func uvalueChecks(ctx context.Context) ([]Check, error) {
	return thermalTopic(ctx, "02_iso6946_uvalue.json", "U-values", uvalueTitles[:], func(c openCase) ([]Row, string, error) {
		rows, err := uvalueRows(c)
		return rows, "", err
	})
}

func uvalueRows(c openCase) ([]Row, error) {
	switch c.ID {
	case "U-06":
		return airLayerRows(c)
	case "U-07":
		return windResistanceRows(c)
	case "U-08":
		return blackFilmRows(c)
	case "U-09":
		return taperedRows(c)
	case "U-13":
		return fastenerRows(c)
	default:
		return combinedRows(c)
	}
}

func combinedRows(c openCase) ([]Row, error) {
	var in struct {
		Layers []struct {
			D, Lambda, R float64
			Parts        []struct{ Fraction, Lambda float64 }
		} `json:"layers_outside_to_inside"`
		Rsi, Rse thermalNumber
	}
	var want map[string]thermalNumber
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want); err != nil {
		return nil, err
	}
	printed := map[string]float64{}
	if len(c.Published) > 0 {
		if err := thermalDecode(c.Published, &printed); err != nil {
			return nil, err
		}
	}
	var layers [][]wall.Part
	var plain []wall.Layer
	for _, l := range in.Layers {
		var parts []wall.Part
		for _, p := range l.Parts {
			parts = append(parts, wall.Part{Fraction: p.Fraction, Thickness: l.D, Conductivity: p.Lambda})
		}
		if len(parts) == 0 {
			parts = []wall.Part{{Fraction: 1, Thickness: l.D, Conductivity: l.Lambda, Resistance: l.R}}
			plain = append(plain, wall.Layer{Thickness: l.D, Conductivity: l.Lambda, Resistance: l.R})
		}
		layers = append(layers, parts)
	}
	got, err := wall.CombinedTransmittance(layers, float64(in.Rsi), float64(in.Rse))
	if err != nil {
		return nil, err
	}
	var rows []Row
	for _, q := range []struct {
		key, quantity, unit string
		value               float64
	}{
		{"R_upper", "upper limit of total resistance", "m²·K/W", got.Upper},
		{"R_lower", "lower limit of total resistance", "m²·K/W", got.Lower},
		{"R_T", "total resistance", "m²·K/W", got.Resistance},
		{"U", "thermal transmittance", "W/(m²·K)", got.U},
		{"e_pct", "largest error of the method", "%", 100 * got.LargestError},
	} {
		if v, ok := want[q.key]; ok {
			rows = append(rows, Row{Quantity: q.quantity, Unit: q.unit, Computed: q.value, Expected: float64(v),
				Tolerance: relative(1e-4, float64(v)), Published: thermalPrinted(printed, q.key)})
			delete(want, q.key)
		}
	}
	if len(want) > 0 {
		return nil, fmt.Errorf("not computed: %v", want)
	}
	if len(plain) == len(in.Layers) {
		u := wall.Transmittance(plain, float64(in.Rsi), float64(in.Rse))
		rows = append(rows, Row{Quantity: "thermal transmittance, layers in series", Unit: "W/(m²·K)", Computed: u,
			Expected: got.U, Tolerance: relative(1e-9, got.U), Note: "against the combined method"})
		// A chain of the same layers conducts the same.
		chain, err := wall.NewChain(plain, wall.Grid{})
		if err != nil {
			return nil, err
		}
		r := chain.Resistance() + float64(in.Rsi+in.Rse)
		rows = append(rows, Row{Quantity: "total resistance of the finite-volume chain", Unit: "m²·K/W", Computed: r,
			Expected: got.Resistance, Tolerance: relative(1e-9, r), Note: "against the combined method"})
	}
	if f, ok := printed["fRsi"]; ok {
		rows = append(rows, Row{Quantity: "surface temperature factor", Unit: "-", Computed: 1 - float64(in.Rsi)*got.U,
			Expected: f, Tolerance: 0.0005, Published: &f, Note: "printed to three digits"})
	}
	return rows, nil
}

func airLayerRows(c openCase) ([]Row, error) {
	var in struct {
		Eps  float64       `json:"eps"`
		Mean thermalNumber `json:"T_mean"`
	}
	var want, printed thermalTable
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want, c.Published, &printed); err != nil {
		return nil, err
	}
	var rows []Row
	names := [...]string{"up", "level", "down"}
	for i, line := range want.Rows {
		for k, direction := range []wall.HeatDirection{wall.Upward, wall.Horizontal, wall.Downward} {
			v := line[k+1]
			rows = append(rows, Row{
				Quantity: fmt.Sprintf("resistance of %g mm, heat %s", line[0]*1000, names[k]), Unit: "m²·K/W",
				Computed: wall.AirLayerResistance(line[0], direction, in.Eps, in.Eps, float64(in.Mean)),
				Expected: v, Tolerance: relative(2e-3, v), Published: &printed.Rows[i][k+1],
			})
		}
	}
	return rows, nil
}

func windResistanceRows(c openCase) ([]Row, error) {
	var want thermalTable
	var printed struct{ Rse []float64 }
	if err := thermalDecode(c.Expected, &want, c.Published, &printed); err != nil {
		return nil, err
	}
	var rows []Row
	for i, line := range want.Rows {
		at := fmt.Sprintf(" at %g m/s", line[0])
		rows = append(rows,
			Row{Quantity: "convective coefficient" + at, Unit: "W/(m²·K)", Computed: wall.WindFilmStandard(line[0]),
				Expected: line[1], Tolerance: relative(2e-3, line[1])},
			Row{Quantity: "outer surface resistance" + at, Unit: "m²·K/W", Computed: wall.OuterSurfaceResistance(line[0], 0.9, 0),
				Expected: line[2], Tolerance: relative(2e-3, line[2]), Published: &printed.Rse[i]})
	}
	return rows, nil
}

func blackFilmRows(c openCase) ([]Row, error) {
	var want thermalTable
	var printed struct{ Hr0 []float64 }
	if err := thermalDecode(c.Expected, &want, c.Published, &printed); err != nil {
		return nil, err
	}
	var rows []Row
	for i, line := range want.Rows {
		rows = append(rows, Row{Quantity: fmt.Sprintf("hr0 at %g °C", line[0]), Unit: "W/(m²·K)",
			Computed: wall.RadiativeFilm(1, line[0]), Expected: line[1], Tolerance: relative(1e-3, line[1]), Published: &printed.Hr0[i]})
	}
	return rows, nil
}

func taperedRows(c openCase) ([]Row, error) {
	var in struct{ R0, R1 thermalNumber }
	var want struct {
		Rectangular thermalNumber `json:"rectangular"`
		Thick       thermalNumber `json:"triangular_thick_apex"`
		Thin        thermalNumber `json:"triangular_thin_apex"`
	}
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want); err != nil {
		return nil, err
	}
	row := func(what string, got float64, v thermalNumber) Row {
		return Row{Quantity: "mean transmittance, " + what, Unit: "W/(m²·K)", Computed: got,
			Expected: float64(v), Tolerance: relative(1e-6, float64(v))}
	}
	r0, r1 := float64(in.R0), float64(in.R1)
	return []Row{
		row("rectangle", wall.TaperedRectangle(r0, r1), want.Rectangular),
		row("triangle thickest at the apex", wall.TaperedThickApex(r0, r1), want.Thick),
		row("triangle thinnest at the apex", wall.TaperedThinApex(r0, r1), want.Thin),
	}, nil
}

func fastenerRows(c openCase) ([]Row, error) {
	var in struct {
		Alpha float64       `json:"alpha"`
		L     thermalNumber `json:"lambda_f"`
		A     thermalNumber `json:"A_f"`
		N     thermalNumber `json:"n_f"`
		D0    thermalNumber `json:"d0"`
		R1    thermalNumber `json:"R1"`
		RT    thermalNumber `json:"R_T"`
	}
	var want struct {
		Correction thermalNumber `json:"dUf"`
		U          thermalNumber `json:"U_corrected"`
	}
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want); err != nil {
		return nil, err
	}
	d := wall.FastenerCorrection(wall.Fasteners{
		Share: in.Alpha / 0.8, Conductivity: float64(in.L), Section: float64(in.A), Number: float64(in.N),
		Thickness: float64(in.D0), Resistance: float64(in.R1),
	}, float64(in.RT))
	return []Row{
		{Quantity: "correction", Unit: "W/(m²·K)", Computed: d, Expected: float64(want.Correction), Tolerance: relative(1e-4, float64(want.Correction))},
		{Quantity: "corrected transmittance", Unit: "W/(m²·K)", Computed: 1/float64(in.RT) + d, Expected: float64(want.U), Tolerance: relative(1e-4, float64(want.U))},
	}, nil
}
