package verify

import (
	"context"
	"fmt"

	"hackle/wall"
)

var conduction2dTitles = [...]thermalTitle{
	{"TB-01", "Half of a square column between isothermal faces", "ISO 10211:2017, annex C, case 1"},
	{"TB-02", "Section of aluminium, wood, concrete and insulation", "ISO 10211:2017, annex C, case 2"},
	{"TB-03", "Iron bar through an insulation slab, three-dimensional", "ISO 10211:2017, annex C, case 4 (geometry confirmed by its printed results)"},
	{"TB-04", "Edge of two equal walls with isothermal faces", "Flow of heat through furnace walls: the shape factor, Transactions of the American Electrochemical Society 24 (1913); exact value by conformal mapping"},
	{"TB-05", "Corner of a homogeneous box wall", "ISO 10211 and ISO 14683, definitions; separate finite-volume solution"},
}

// conduction2dChecks computes the steady two- and three-dimensional cases.
func conduction2dChecks(ctx context.Context) ([]Check, error) {
	compute := map[string]func(openCase) ([]Row, error){
		"TB-01": columnRows, "TB-02": aluminiumRows, "TB-03": ironBarRows, "TB-04": edgeRows, "TB-05": cornerRows,
	}
	return thermalTopic(ctx, "03_iso10211_conduction2d.json", "Thermal bridges", conduction2dTitles[:],
		func(c openCase) ([]Row, string, error) {
			rows, err := compute[c.ID](c)
			return rows, "", err
		})
}

// flatExtent returns a two-dimensional extent.
func flatExtent(x0, x1, y0, y1 float64) wall.Extent {
	return wall.Extent{X0: x0, X1: x1, Y0: y0, Y1: y1}
}

func columnRows(c openCase) ([]Row, error) {
	var in struct {
		W, H float64
		Hot  thermalNumber `json:"T_hot"`
		Cold thermalNumber `json:"T_cold"`
	}
	var want, printed struct {
		Rows [][]float64 `json:"rows_top_to_bottom"`
	}
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want, c.Published, &printed); err != nil {
		return nil, err
	}
	w, h := in.W, in.H
	s := wall.Section{
		Solids: []wall.Solid{{Extent: flatExtent(0, w, 0, h), Conductivity: 1}},
		Spaces: []wall.Space{
			{Extent: flatExtent(0, w, h, h+1), Environment: 0},
			{Extent: flatExtent(-1, 0, -1, h), Environment: 1},
			{Extent: flatExtent(-1, w, -1, 0), Environment: 1},
		},
		Temperatures: []float64{float64(in.Hot), float64(in.Cold)},
		Mesh:         wall.Mesh{Finest: w / 100, Growth: 1.1, Coarsest: w / 50},
	}
	f, err := s.Solve()
	if err != nil {
		return nil, err
	}
	var rows []Row
	for i, line := range want.Rows {
		for k, v := range line {
			x, y := w*float64(k+1)/4, h*(1-float64(i+1)/8)
			rows = append(rows, Row{Quantity: fmt.Sprintf("temperature at x = %g W, y = %g H", x/w, y/h), Unit: "°C",
				Computed: f.Temperature(x, y, 0), Expected: v, Tolerance: 0.02, Published: &printed.Rows[i][k],
				Note: "the standard asks for 0.1 K"})
		}
	}
	return rows, nil
}

func aluminiumRows(c openCase) ([]Row, error) {
	var in struct {
		Points map[string][2]float64 `json:"points_mm"`
		Lambda struct{ Concrete, Wood, Insulation, Aluminium float64 }
		Rsi    float64
		Rse    float64
		Ti, Te float64
	}
	type outcome struct {
		T map[string]float64 `json:"T_C"`
		Q thermalNumber      `json:"Q_W_per_m"`
	}
	var want, printed outcome
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want, c.Published, &printed); err != nil {
		return nil, err
	}
	mm := func(x0, x1, y0, y1, lambda float64) wall.Solid {
		return wall.Solid{Extent: flatExtent(x0/1000, x1/1000, y0/1000, y1/1000), Conductivity: lambda}
	}
	s := wall.Section{
		Solids: []wall.Solid{
			mm(0, 500, 1.5, 41.5, in.Lambda.Insulation),
			mm(0, 500, 41.5, 47.5, in.Lambda.Concrete),
			mm(0, 15, 36.5, 41.5, in.Lambda.Wood),
			mm(0, 500, 0, 1.5, in.Lambda.Aluminium),
			mm(0, 1.5, 0, 36.5, in.Lambda.Aluminium),
			mm(0, 15, 35, 36.5, in.Lambda.Aluminium),
		},
		Spaces: []wall.Space{
			{Extent: flatExtent(0, 0.5, -0.01, 0), Environment: 0, Resistance: in.Rsi},
			{Extent: flatExtent(0, 0.5, 0.0475, 0.0575), Environment: 1, Resistance: in.Rse},
		},
		Temperatures: []float64{in.Ti, in.Te},
		Mesh:         wall.Mesh{Finest: 0.0003, Growth: 1.15, Coarsest: 0.01},
	}
	f, err := s.Solve()
	if err != nil {
		return nil, err
	}
	var rows []Row
	for _, p := range []string{"A", "B", "C", "D", "E", "F", "G", "H", "I"} {
		at := in.Points[p]
		v, ok := printed.T[p]
		if !ok {
			return nil, fmt.Errorf("point %s is not printed", p)
		}
		rows = append(rows, Row{Quantity: "temperature at " + p, Unit: "°C", Computed: f.Temperature(at[0]/1000, at[1]/1000, 0),
			Expected: want.T[p], Tolerance: 0.1, Published: &v})
	}
	q := float64(printed.Q)
	return append(rows, Row{Quantity: "heat flow", Unit: "W/m", Computed: f.Flow(0), Expected: float64(want.Q), Tolerance: 0.1, Published: &q}), nil
}

func ironBarRows(c openCase) ([]Row, error) {
	var want struct {
		Q thermalNumber
		T thermalNumber `json:"T_ext_max"`
	}
	var printed map[string]float64
	if err := thermalDecode(c.Expected, &want, c.Published, &printed); err != nil {
		return nil, err
	}
	// A quarter of it; z runs from the outer face of the slab inward.
	box := func(x, y, z0, z1 float64) wall.Extent { return wall.Extent{X1: x, Y1: y, Z0: z0, Z1: z1} }
	s := wall.Section{
		Solids: []wall.Solid{
			{Extent: box(0.5, 0.5, 0, 0.2), Conductivity: 0.1},
			{Extent: box(0.05, 0.025, 0, 0.6), Conductivity: 50},
		},
		Spaces: []wall.Space{
			{Extent: wall.Extent{X0: 0.05, X1: 0.5, Y1: 0.5, Z0: 0.2, Z1: 0.7}, Environment: 0, Resistance: 0.1},
			{Extent: wall.Extent{X1: 0.5, Y0: 0.025, Y1: 0.5, Z0: 0.2, Z1: 0.7}, Environment: 0, Resistance: 0.1},
			{Extent: box(0.05, 0.025, 0.6, 0.7), Environment: 0, Resistance: 0.1},
			{Extent: box(0.5, 0.5, -0.1, 0), Environment: 1, Resistance: 0.1},
		},
		Temperatures: []float64{1, 0},
		Mesh:         wall.Mesh{Finest: 0.003, Growth: 1.3},
	}
	f, err := s.Solve()
	if err != nil {
		return nil, err
	}
	_, warmest := f.SurfaceRange(1)
	note := fmt.Sprintf("a quarter, %d nodes", f.Nodes())
	return []Row{
		{Quantity: "heat flow", Unit: "W", Computed: 4 * f.Flow(0), Expected: float64(want.Q), Tolerance: relative(0.01, float64(want.Q)),
			Published: thermalPrinted(printed, "Q_W"), Note: note},
		{Quantity: "highest outer surface temperature", Unit: "°C", Computed: warmest, Expected: float64(want.T), Tolerance: 0.005,
			Published: thermalPrinted(printed, "T_C"), Note: note},
	}, nil
}

// cornerSection is a homogeneous corner of thickness t with inner legs of
// length leg between two environments.
func cornerSection(t, leg, lambda, ri, re float64, mesh wall.Mesh) wall.Section {
	return wall.Section{
		Solids: []wall.Solid{{Extent: flatExtent(-t, leg, -t, leg), Conductivity: lambda}},
		Spaces: []wall.Space{
			{Extent: flatExtent(0, leg, 0, leg), Environment: 0, Resistance: ri},
			{Extent: flatExtent(-2*t, leg, -2*t, -t), Environment: 1, Resistance: re},
			{Extent: flatExtent(-2*t, -t, -2*t, leg), Environment: 1, Resistance: re},
		},
		Temperatures: []float64{1, 0},
		Mesh:         mesh,
	}
}

func edgeRows(c openCase) ([]Row, error) {
	var want struct {
		S thermalNumber `json:"S_edge_per_length"`
	}
	var printed map[string]float64
	if err := thermalDecode(c.Expected, &want, c.Published, &printed); err != nil {
		return nil, err
	}
	const t, leg = 1, 6
	s := cornerSection(t, leg, 1, 0, 0, wall.Mesh{Finest: t / 100., Growth: 1.15})
	l2d, err := s.Coupling(0, 1)
	if err != nil {
		return nil, err
	}
	return []Row{{Quantity: "excess shape factor per length", Unit: "-", Computed: l2d - 2*leg/t, Expected: float64(want.S), Tolerance: 0.02,
		Published: thermalPrinted(printed, "S")}}, nil
}

func cornerRows(c openCase) ([]Row, error) {
	var in struct {
		T      thermalNumber `json:"t"`
		Lambda thermalNumber `json:"lambda"`
		Hi     thermalNumber `json:"hi"`
		He     thermalNumber `json:"he"`
		L      thermalNumber `json:"L_inner"`
	}
	var want struct {
		L2D      thermalNumber
		Internal thermalNumber `json:"psi_internal"`
		External thermalNumber `json:"psi_external"`
		Factor   thermalNumber `json:"f_Rsi_corner"`
	}
	if err := thermalDecode(c.Inputs, &in, c.Expected, &want); err != nil {
		return nil, err
	}
	t, leg, hi, he := float64(in.T), float64(in.L), float64(in.Hi), float64(in.He)
	layers := []wall.Layer{{Thickness: t, Conductivity: float64(in.Lambda)}}
	s := cornerSection(t, leg, float64(in.Lambda), 1/hi, 1/he, wall.Mesh{Finest: t / 60, Growth: 1.2})
	f, err := s.Solve()
	if err != nil {
		return nil, err
	}
	u := wall.Transmittance(layers, 1/hi, 1/he)
	joint, err := wall.CornerJoint(layers, layers, hi, he)
	if err != nil {
		return nil, err
	}
	loss, err := joint.Solve()
	if err != nil {
		return nil, err
	}
	l2d := f.Flow(0)
	const psi = 0.0007
	note := "the joint as the engine computes it, its legs as long as it chooses"
	return []Row{
		{Quantity: "thermal coupling coefficient", Unit: "W/(m·K)", Computed: l2d, Expected: float64(want.L2D), Tolerance: relative(2e-3, float64(want.L2D))},
		{Quantity: "linear transmittance, inner dimensions", Unit: "W/(m·K)", Computed: l2d - 2*u*leg, Expected: float64(want.Internal), Tolerance: psi},
		{Quantity: "linear transmittance, outer dimensions", Unit: "W/(m·K)", Computed: l2d - 2*u*(leg+t), Expected: float64(want.External), Tolerance: psi},
		{Quantity: "temperature factor at the inner corner", Unit: "-", Computed: f.Temperature(0, 0, 0), Expected: float64(want.Factor), Tolerance: 0.01},
		{Quantity: "linear transmittance of the joint, inner dimensions", Unit: "W/(m·K)", Computed: loss.Psi, Expected: float64(want.Internal), Tolerance: psi, Note: note},
		{Quantity: "linear transmittance of the joint, outer dimensions", Unit: "W/(m·K)", Computed: loss.PsiExternal, Expected: float64(want.External), Tolerance: psi, Note: note},
		{Quantity: "temperature factor of the joint", Unit: "-", Computed: loss.TemperatureFactor, Expected: float64(want.Factor), Tolerance: 0.01, Note: note},
	}, nil
}
