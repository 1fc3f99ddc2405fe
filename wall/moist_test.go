package wall

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"hackle/air"
)

// Moisture of the layers that the chain tests use.
func moistPine() Moist {
	return Moist{MuDry: 50, MuWet: 20, Sorption: WoodIsotherm(500, 1), Free: 600, LiquidUptake: 0.003}
}
func moistFoam() Moist { return Moist{MuDry: 60, Free: 900} }
func moistPlywood() Moist {
	return Moist{MuDry: 200, MuWet: 70, Sorption: WoodIsotherm(550, 1), Free: 600}
}

func mustMoist(t testing.TB, layers []Layer, moist []Moist, grid Grid) *MoistChain {
	t.Helper()
	return mustSkin(t, layers, moist, grid, Skin{})
}

func mustSkin(t testing.TB, layers []Layer, moist []Moist, grid Grid, skin Skin) *MoistChain {
	t.Helper()
	m, err := NewSkinnedMoistChain(mustChain(t, layers, grid), layers, moist, skin)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func filled(n int, v float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = v
	}
	return x
}

func TestNewMoistChainErrors(t *testing.T) {
	heat := mustChain(t, []Layer{pine, gap, foam}, Grid{})
	layers := []Layer{pine, gap, foam}
	good := func() []Moist { return []Moist{moistPine(), {}, moistFoam()} }
	if _, err := NewMoistChain(heat, layers, good()); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name   string
		layers []Layer
		moist  func() []Moist
		want   string
	}{
		{"too few", layers, func() []Moist { return good()[:2] }, "3 layers and 2"},
		{"other layers", []Layer{pine, foam}, func() []Moist { return []Moist{moistPine(), moistFoam()} }, "do not make up"},
		{"negative", layers, func() []Moist { m := good(); m[0].MuDry = -1; return m }, "layer 1"},
		{"endless", layers, func() []Moist { m := good(); m[2].Sd = math.Inf(1); return m }, "layer 3"},
		{"not a number", layers, func() []Moist { m := good(); m[2].OuterFilm = math.NaN(); return m }, "layer 3"},
		{"no resistance", layers, func() []Moist { m := good(); m[2].MuDry = 0; return m }, "no vapour resistance"},
		{"uptake into nothing", layers, func() []Moist { m := good(); m[0].Free = 0; return m }, "free content"},
		{"impossible layer", []Layer{pine, {}, foam}, good, "layer 2"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := NewMoistChain(heat, tt.layers, tt.moist())
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want one with %q", err, tt.want)
			}
		})
	}
	for _, skin := range []Skin{{Inner: -1}, {Outer: 9}} {
		if _, err := NewSkinnedMoistChain(heat, layers, good(), skin); err == nil || !strings.Contains(err.Error(), "skin") {
			t.Errorf("%+v: error %v", skin, err)
		}
	}
	none := []Layer{gap}
	if _, err := NewMoistChain(mustChain(t, none, Grid{}), none, []Moist{{}}); err == nil {
		t.Error("a wall that lets all vapour through was accepted")
	}
}

// randomMoist draws properties for layers, some of which store nothing.
func randomMoist(rng *rand.Rand, layers []Layer) []Moist {
	moist := make([]Moist, len(layers))
	for i := range moist {
		dry := math.Exp(rng.Float64() * 6)
		moist[i] = Moist{MuDry: dry, MuWet: dry * (0.2 + 0.8*rng.Float64())}
		switch rng.IntN(6) {
		case 0:
			moist[i].Sorption = LinearIsotherm(1 + 200*rng.Float64())
		case 1, 2, 3:
			moist[i].Sorption = WoodIsotherm(30+600*rng.Float64(), 0.5+rng.Float64())
			moist[i].Free = 700
			moist[i].LiquidUptake = 0.02 * rng.Float64()
		}
		if rng.IntN(4) == 0 {
			moist[i].InnerFilm = 5 * rng.Float64()
		}
		if rng.IntN(4) == 0 {
			moist[i].OuterFilm = 5 * rng.Float64()
		}
		if layers[i].Thickness == 0 {
			moist[i].Sd = rng.Float64() + 0.01
		}
	}
	return moist
}

// Any wall, any state, any step: what enters less what leaves is what is
// stored, and no cell or pressure goes below nothing.
func TestMoistCloses(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 4))
	var work MoistWork
	wet := 0
	for trial := range 400 {
		layers := randomLayers(rng)
		moist := randomMoist(rng, layers)
		skin := Skin{Inner: max(0, rng.IntN(6)-3), Outer: max(0, rng.IntN(6)-3)}
		m := mustSkin(t, layers, moist, Grid{}, skin)
		n := m.Cells()
		content, temp := make([]float64, n), make([]float64, m.heated)
		for i := range temp {
			temp[i] = -20 + 50*rng.Float64()
		}
		m.FillHumidity(content, rng.Float64(), temp)
		for i := range content {
			if rng.IntN(4) == 0 {
				content[i] += math.Exp(12*rng.Float64() - 10)
			}
		}
		outer, pOuter := 2e-8*rng.Float64(), 2000*rng.Float64()
		film := 3e-8 * rng.Float64()
		for range 60 {
			dt := math.Exp(rng.Float64()*10 - 1) // up to two hours
			before := m.Water(content)
			var entered, left float64
			if trial%2 == 0 {
				g, s := m.Condense(dt, content, temp, outer, pOuter, &work)
				pAir := 4000 * rng.Float64()
				face := (film*pAir + s) / (film + g)
				if film == 0 && g == 0 {
					continue
				}
				entered = g*face - s
				left = m.Advance(content, face, &work)
			} else {
				gAA, gAB, gBB, sA, sB := m.CondenseBoth(dt, content, temp, &work)
				pA, pB := 3000*rng.Float64(), 3000*rng.Float64()
				entered = gAA*pA - gAB*pB - sA
				left = -(gBB*pB - gAB*pA - sB)
				m.AdvanceBoth(content, pA, pB, &work)
			}
			after := m.Water(content)
			scale := dt*(math.Abs(entered)+math.Abs(left)) + before
			if n == 0 {
				scale = dt * (math.Abs(entered) + math.Abs(left))
			}
			if d := dt*(entered-left) - (after - before); !(math.Abs(d) <= 1e-11*scale) {
				t.Fatalf("trial %d: %v kg/m² lost of %v", trial, d, scale)
			}
			for i, w := range content {
				if w < -1e-9*(1+scale/m.Thickness(i)) {
					t.Fatalf("trial %d: cell %d holds %v kg/m³", trial, i, w)
				}
			}
			for i, p := range work.pressure {
				if !(p >= 0) {
					t.Fatalf("trial %d: vapour pressure %v in cell %d", trial, p, i)
				}
				if content[i] > 0 && m.FreeWater(i, content[i], temp[m.HeatCell(i)]) > 0 {
					wet++
				}
			}
		}
	}
	if wet < 1000 {
		t.Errorf("only %d cells were wet: the draws do not test it", wet)
	}
}

// Wide of the wall, the steady flux is that of resistances in series.
func TestMoistSteady(t *testing.T) {
	layers := []Layer{plywood, gap, foam, pine}
	moist := []Moist{{MuDry: 200, Sorption: LinearIsotherm(100), InnerFilm: 0.5}, {Sd: 0.02}, {MuDry: 60, OuterFilm: 0.2}, {MuDry: 50, Sorption: LinearIsotherm(80)}}
	m := mustMoist(t, layers, moist, Grid{})
	dry, wet := m.Sd()
	sd := 0.5 + 200*0.009 + 0.02 + 60*0.04 + 0.2 + 50*0.022
	if math.Abs(dry-sd) > 1e-12 || math.Abs(wet-sd) > 1e-12 {
		t.Fatalf("sd %v and %v, want %v", dry, wet, sd)
	}
	temp := filled(m.Cells(), 20)
	content := make([]float64, m.Cells())
	m.FillHumidity(content, 0.5, temp)
	var work MoistWork
	const outer, pIn, pOut = 1e-8, 1500.0, 900.0
	var left, entered float64
	for range 4000 {
		g, s := m.Condense(86400, content, temp, outer, pOut, &work)
		entered = g*pIn - s
		left = m.Advance(content, pIn, &work)
	}
	want := (pIn - pOut) / (sd/AirPermeability + 1/outer)
	for _, got := range []float64{entered, left} {
		if math.Abs(got-want) > 1e-9*want {
			t.Errorf("flux %v, want %v", got, want)
		}
	}
}

// Both ways of closing the outer face must agree, whatever the wall.
func TestMoistBothAgreesWithOne(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	var one, two MoistWork
	for range 100 {
		layers := randomLayers(rng)
		moist := randomMoist(rng, layers)
		m := mustMoist(t, layers, moist, Grid{})
		temp := filled(m.Cells(), 5+20*rng.Float64())
		content := make([]float64, m.Cells())
		m.FillHumidity(content, 0.3+0.4*rng.Float64(), temp)
		again := append([]float64(nil), content...)
		const dt, pA, pB = 600.0, 600, 500
		g, s := m.Condense(dt, content, temp, math.Inf(1), pB, &one)
		left := m.Advance(content, pA, &one)
		gAA, gAB, gBB, sA, sB := m.CondenseBoth(dt, again, temp, &two)
		m.AdvanceBoth(again, pA, pB, &two)
		scale := math.Abs(g*pA) + math.Abs(s) + gBB*pB + sB
		if d := (g*pA - s) - (gAA*pA - gAB*pB - sA); math.Abs(d) > 1e-12*scale {
			t.Fatalf("inner fluxes differ by %v of %v", d, scale)
		}
		if d := left + (gBB*pB - gAB*pA - sB); math.Abs(d) > 1e-12*scale {
			t.Fatalf("outer fluxes differ by %v of %v", d, scale)
		}
		for i := range content {
			if math.Abs(content[i]-again[i]) > 1e-11*(1+content[i]) {
				t.Fatalf("cell %d: %v and %v", i, content[i], again[i])
			}
		}
	}
}

// Warm humid air inside, frost outside: water gathers between foam and a tight
// sheet at the rate that the resistances give, as ice, stays, and is gone again
// after warm weather.
func TestMoistCondensesAndDries(t *testing.T) {
	sheet := Layer{Thickness: 0.003, Conductivity: 0.13, Density: 500, SpecificHeat: 1600}
	layers := []Layer{foam, sheet}
	moist := []Moist{{MuDry: 5}, {MuDry: 100000}}
	m := mustMoist(t, layers, moist, Grid{MinCells: 4})
	heat := mustChain(t, layers, Grid{MinCells: 4})
	temp := make([]float64, m.Cells())
	content := make([]float64, m.Cells())
	heat.FillSteady(temp, 20, -10)
	var work MoistWork
	pIn, pOut := 0.6*air.SaturationPressure(20), 0.8*air.SaturationPressure(-10)
	flux := 0.0
	const day = 86400.0
	for k := 0.0; k < 20*day; k += 600 {
		g, s := m.Condense(600, content, temp, 1e-7, pOut, &work)
		flux = g*pIn - s
		m.Advance(content, pIn, &work)
	}
	// In the foam's last cell or the sheet's first; all that goes in stays but
	// for a thousandth.
	last := 3
	for i, w := range content {
		if i != last && w > 0.02*content[last] {
			t.Errorf("cell %d holds %v kg/m³, the foam's last %v", i, w, content[last])
		}
	}
	want := (pIn - air.SaturationPressure(temp[last])) / (5 * (heat.Depth(last)) / AirPermeability)
	if math.Abs(flux-want) > 1e-6*want {
		t.Errorf("flux %v, want %v", flux, want)
	}
	if got := m.Water(content); math.Abs(got-want*20*day) > 0.02*got {
		t.Errorf("%v kg/m² gathered, want %v", got, want*20*day)
	}
	if got := m.FreeWater(last, content[last], temp[last]); math.Abs(got-content[last]*m.Thickness(last)) > 0.01*got {
		t.Errorf("%v kg/m² free", got)
	}
	if p := work.Pressure(last); math.Abs(p-air.SaturationPressureFast(temp[last])) > 1e-9*p {
		t.Errorf("wet cell at %v Pa, saturation over ice is %v", p, air.SaturationPressureFast(temp[last]))
	}
	// Freezing or not, evaporation and sublimation differ by the heat of fusion.
	released := make([]float64, m.Cells())
	m.LatentHeat(temp, released, &work)
	if got := released[last] / (work.flux[last] - work.flux[last+1]); math.Abs(got-air.LatentSublimation(temp[last])) > 1 {
		t.Errorf("%v J/kg released, want sublimation", got)
	}

	gathered := m.Water(content)
	for i := range temp {
		temp[i] = 25
	}
	dryDays := 0.0
	for k := 0.0; k < 60*day; k += 600 {
		m.Condense(600, content, temp, 1e-7, 1000, &work)
		m.Advance(content, 1000, &work)
		free := 0.0
		for i, w := range content {
			free += m.FreeWater(i, w, temp[i])
		}
		if free > 1e-3*gathered {
			dryDays = k / day
		}
	}
	rate := (air.SaturationPressure(25) - 1000) / (5 * heat.Depth(last) / AirPermeability)
	if want := gathered / rate / day; math.Abs(dryDays-want) > 0.03*want+0.2 {
		t.Errorf("dry after %v days, want %v", dryDays, want)
	}
}

// A cloth that holds little takes a step of an hour without running below
// empty, and ends in balance with the air.
func TestMoistThinCloth(t *testing.T) {
	cloth := Layer{Thickness: 0.001, Conductivity: 0.05, Density: 250, SpecificHeat: 1400}
	m := mustMoist(t, []Layer{cloth}, []Moist{{MuDry: 3, Sorption: WoodIsotherm(250, 1)}}, Grid{})
	temp := filled(2, 20)
	ps := air.SaturationPressureFast(20)
	for _, dt := range []float64{60, 600, 3600, 86400} {
		content := make([]float64, 2)
		m.FillHumidity(content, 0.98, temp)
		var work MoistWork
		for _, phi := range []float64{0.3, 0.95, 0.05, 0.6} {
			for k := 0.0; k < max(2*86400, 20*dt); k += dt {
				m.Condense(dt, content, temp, 2e-8, phi*ps, &work)
				m.Advance(content, phi*ps, &work)
				if content[0] < 0 || content[1] < 0 {
					t.Fatalf("step %v s: contents %v", dt, content)
				}
			}
			for i, w := range content {
				if got := m.Humidity(i, w, 20); math.Abs(got-phi) > 1e-4 {
					t.Errorf("step %v s: humidity %v in air of %v", dt, got, phi)
				}
			}
		}
	}
}

// A wet cloth in humid air dries towards the air, not past it, in any step.
func TestMoistWetClothDries(t *testing.T) {
	cloth := Layer{Thickness: 0.001, Conductivity: 0.05, Density: 250, SpecificHeat: 1400}
	sorption := WoodIsotherm(250, 1)
	m := mustMoist(t, []Layer{cloth}, []Moist{{MuDry: 3, Sorption: sorption}}, Grid{})
	temp := filled(2, 20)
	ps := air.SaturationPressureFast(20)
	var work MoistWork
	for _, dt := range []float64{60, 600, 3600, 86400} {
		content := filled(2, sorption.Content(1, 20)+5)
		for range 6 {
			m.CondenseBoth(dt, content, temp, &work)
			m.AdvanceBoth(content, 0.8*ps, 0.8*ps, &work)
			for i, w := range content {
				if phi := m.Humidity(i, w, 20); phi < 0.79 {
					t.Errorf("step %v s: humidity %v in air of 0.8", dt, phi)
				}
			}
		}
		if w := content[0]; dt == 86400 && m.Humidity(0, w, 20) > 0.82 {
			t.Errorf("still at %v after six days", m.Humidity(0, w, 20))
		}
	}
}

// Liquid between two cells, by the implicit step in closed form.
func TestMoistSpread(t *testing.T) {
	for _, skin := range []Skin{{}, {Inner: 1}} {
		m := mustSkin(t, []Layer{pine}, []Moist{moistPine()}, Grid{}, skin)
		n := m.Cells()
		content := filled(n, 100)
		content[n-2] = 100
		content[n-1] = 550
		// Of more than two cells the first is kept out of it by frost.
		var work MoistWork
		work.fit(n)
		work.dt = 1e6
		for i := range work.saturation {
			work.saturation[i] = 1000
		}
		if n == 3 {
			work.saturation[0] = 600
		}
		a, b := m.Thickness(n-2), m.Thickness(n-1)
		e := LiquidDiffusivity(325, 600, 0.003) * work.dt / ((a + b) / 2)
		moved := e * 450 / (1 + e*(1/a+1/b))
		if n == 3 {
			content[0] = 550
		}
		m.spread(m.liquid[0], content, &work)
		if got := 550 - content[n-1]; math.Abs(got*b-moved) > 1e-12 || math.Abs((content[n-2]-100)*a-moved) > 1e-12 || !(moved > 0.01) {
			t.Errorf("skin %+v: %v and %v kg/m² moved, want %v", skin, got*b, (content[n-2]-100)*a, moved)
		}
		if n == 3 && content[0] != 550 {
			t.Errorf("liquid left a frozen cell: %v", content[0])
		}
	}
}

// Halving the step must bring the result nearer: implicit Euler is of first
// order on smooth data.
func TestMoistStepOrder(t *testing.T) {
	layers := []Layer{pine}
	m := mustMoist(t, layers, []Moist{moistPine()}, Grid{MinCells: 8})
	temp := filled(m.Cells(), 15)
	ps := air.SaturationPressureFast(15)
	run := func(dt float64) float64 {
		content := make([]float64, m.Cells())
		m.FillHumidity(content, 0.5, temp)
		var work MoistWork
		steps := int(4 * 86400 / dt)
		for k := range steps {
			at := float64(k+1) * dt
			p := ps * (0.6 + 0.25*math.Sin(2*math.Pi*at/86400))
			m.Condense(dt, content, temp, 0, 0, &work)
			m.Advance(content, p, &work)
		}
		return m.Water(content)
	}
	fine := run(15)
	coarse, half := run(3600)-fine, run(1800)-fine
	if r := coarse / half; r < 1.7 || r > 2.4 {
		t.Errorf("errors %v and %v, ratio %v, want near 2", coarse, half, r)
	}
}

// Water poured on the outer face soaks in, spreads and is conserved; a painted
// or a frozen wall keeps it where it is.
func TestMoistLiquid(t *testing.T) {
	layers := []Layer{pine}
	m := mustMoist(t, layers, []Moist{moistPine()}, Grid{MinCells: 6})
	temp := filled(6, 10)
	content := make([]float64, 6)
	m.FillHumidity(content, 0.8, temp)
	start := m.Water(content)
	took := 0.0
	for range 60 {
		took += m.Soak(60, content, true, 1)
	}
	// The law of the square root of time, from a dry start.
	if want := 0.003 * 60; math.Abs(took-want) > 0.02*want {
		t.Errorf("%v kg/m² in an hour, want %v", took, want)
	}
	if got := m.Water(content) - start; math.Abs(got-took) > 1e-14 {
		t.Errorf("%v kg/m² stored, %v taken", got, took)
	}
	if got := m.Soak(60, content, true, 1e-6); math.Abs(got-1e-6) > 1e-15 {
		t.Errorf("took %v of a little", got)
	}
	content[5] = 450
	frozen := append([]float64(nil), content...)
	cold := filled(6, -5)
	var work MoistWork
	before, inner := m.Water(content), content[4]
	for range 200 {
		m.CondenseBoth(600, content, temp, &work)
		m.AdvanceBoth(content, work.saturation[0]*0.8, work.saturation[0], &work)
		m.CondenseBoth(600, frozen, cold, &work)
		m.AdvanceBoth(frozen, work.saturation[0]*0.8, work.saturation[0], &work)
	}
	if d := m.Water(content) - before; d > 0.001 {
		t.Errorf("%v kg/m² came from nowhere", d)
	}
	// By a square root of D·t of a few millimetres against cells of 4 mm.
	if content[5] > frozen[5]-10 || content[4] < frozen[4]+8 || content[4] < inner {
		t.Errorf("liquid did not spread: %v, frozen %v", content, frozen)
	}
	painted := moistPine()
	painted.OuterFilm = 3
	p := mustMoist(t, layers, []Moist{painted}, Grid{MinCells: 6})
	if got := p.Soak(600, content, true, 1); got != 0 {
		t.Errorf("paint let %v kg/m² in", got)
	}
	content[5] = 800
	if got := m.Drain(content); math.Abs(got-200*pine.Thickness/6) > 1e-12 || content[5] != 600 {
		t.Errorf("drained %v, left %v", got, content[5])
	}
}

// A skin cuts the cells at the faces and nothing else; water that soaks in is
// the same.
func TestMoistSkin(t *testing.T) {
	layers := []Layer{pine, plywood}
	moist := []Moist{moistPine(), moistPlywood()}
	plain := mustMoist(t, layers, moist, Grid{})
	m := mustSkin(t, layers, moist, Grid{}, Skin{Inner: 2, Outer: 1})
	want := []float64{0.011 / 13, 0.011 * 3 / 13, 0.011 * 9 / 13, 0.011, 0.0045, 0.0045 * 3 / 4, 0.0045 / 4}
	if m.Cells() != len(want) {
		t.Fatalf("%d cells", m.Cells())
	}
	deep := 0.0
	for i, w := range want {
		if math.Abs(m.Thickness(i)-w) > 1e-15 || math.Abs(m.Depth(i)-deep-w/2) > 1e-15 {
			t.Errorf("cell %d: %v m at %v m, want %v m at %v m", i, m.Thickness(i), m.Depth(i), w, deep+w/2)
		}
		deep += w
	}
	for i, heat := range []int{0, 0, 0, 1, 2, 3, 3} {
		if m.HeatCell(i) != heat || m.Layer(i) != heat/2 {
			t.Errorf("cell %d lies in heat cell %d of layer %d", i, m.HeatCell(i), m.Layer(i))
		}
	}
	temp := filled(4, 10)
	thin, thick := make([]float64, 7), make([]float64, 4)
	m.FillHumidity(thin, 0.6, temp)
	plain.FillHumidity(thick, 0.6, temp)
	for range 60 {
		a, b := m.Soak(600, thin, false, 1), plain.Soak(600, thick, false, 1)
		if math.Abs(a-b) > 1e-12 {
			t.Errorf("a skin takes %v, a plain wall %v kg/m²", a, b)
		}
	}
	if thin[0] != 600 {
		t.Errorf("the outermost cell holds %v kg/m³", thin[0])
	}
	// Heat of what the parts took up goes to the heat cell as a whole.
	var work, other MoistWork
	ps := air.SaturationPressureFast(10)
	m.FillHumidity(thin, 0.6, temp)
	plain.FillHumidity(thick, 0.6, temp)
	before := m.Water(thin)
	m.CondenseBoth(600, thin, temp, &work)
	m.AdvanceBoth(thin, 0.9*ps, 0.6*ps, &work)
	plain.CondenseBoth(600, thick, temp, &other)
	plain.AdvanceBoth(thick, 0.9*ps, 0.6*ps, &other)
	heat := make([]float64, 4)
	m.LatentHeat(temp, heat, &work)
	sum := heat[0] + heat[1] + heat[2] + heat[3]
	if want := air.LatentEvaporation(10) * (m.Water(thin) - before) / 600; math.Abs(sum-want) > 1e-9*want {
		t.Errorf("%v W/m² released, want %v", sum, want)
	}
}

// A coat on the inner face keeps water out of the wood, at the ratio of the
// resistances.
func TestMoistPropolis(t *testing.T) {
	layers := []Layer{pine}
	uptake := func(film float64) float64 {
		p := moistPine()
		p.InnerFilm = film
		m := mustMoist(t, layers, []Moist{p}, Grid{})
		temp := filled(2, 20)
		content := make([]float64, 2)
		m.FillHumidity(content, 0.5, temp)
		start := m.Water(content)
		var work MoistWork
		for range 7 * 24 {
			m.Condense(3600, content, temp, 0, 0, &work)
			m.Advance(content, 0.85*air.SaturationPressureFast(20), &work)
		}
		return m.Water(content) - start
	}
	bare, coated := uptake(0), uptake(5)
	// Half a cell of wood has an sd of 0.011·mu/2 = 0.1 to 0.3 m.
	if !(coated > 0.02*bare && coated < 0.15*bare) {
		t.Errorf("bare wood takes %v kg/m² in a week, coated %v", bare, coated)
	}
}

// The heat of water moving in a wall is small beside the wall's heat loss.
func TestLatentHeatIsSmall(t *testing.T) {
	layers := []Layer{pine}
	m := mustMoist(t, layers, []Moist{moistPine()}, Grid{})
	temp := []float64{15, 3}
	content := make([]float64, 2)
	m.FillHumidity(content, 0.7, temp)
	released := make([]float64, 2)
	var work MoistWork
	// Air of 18 °C at 80 % inside, 0 °C at 80 % outside, right after a change.
	m.Condense(600, content, temp, 1e-7, 0.8*air.SaturationPressure(0), &work)
	m.Advance(content, 0.8*air.SaturationPressure(18), &work)
	m.LatentHeat(temp, released, &work)
	loss := 18 / (pine.resistance() + 0.2)
	sum := math.Abs(released[0]) + math.Abs(released[1])
	if !(sum > 0.005*loss && sum < 0.10*loss) {
		t.Errorf("latent heat %v W/m² beside a loss of %v W/m²", sum, loss)
	}
}

func TestMoistAllocatesNothing(t *testing.T) {
	layers := []Layer{pine, foam, plywood}
	m := mustMoist(t, layers, []Moist{moistPine(), moistFoam(), moistPlywood()}, Grid{})
	temp := []float64{15, 12, 8, 2, -3, -4}
	content := make([]float64, 6)
	m.FillHumidity(content, 0.7, temp)
	var work MoistWork
	m.Condense(600, content, temp, 1e-7, 400, &work)
	if n := testing.AllocsPerRun(100, func() {
		m.Condense(600, content, temp, 1e-7, 400, &work)
		m.Advance(content, 1500, &work)
		m.CondenseBoth(600, content, temp, &work)
		m.AdvanceBoth(content, 1500, 400, &work)
	}); n != 0 {
		t.Errorf("%v allocations a step", n)
	}
}

// A step that is no step must not pass for a number; a chain of resistances
// alone has no state.
func TestMoistEdges(t *testing.T) {
	layers := []Layer{pine}
	m := mustMoist(t, layers, []Moist{moistPine()}, Grid{})
	var work MoistWork
	if g, _ := m.Condense(0, []float64{60, 60}, []float64{10, 10}, 0, 0, &work); !math.IsNaN(g) {
		t.Errorf("a step of nothing gives %v", g)
	}
	none := []Layer{gap}
	r := mustMoist(t, none, []Moist{{Sd: 0.5}}, Grid{})
	g, s := r.Condense(600, nil, nil, math.Inf(1), 300, &work)
	if want := AirPermeability / 0.5; math.Abs(g-want) > 1e-12*want || math.Abs(s-300*want) > 1e-9*want {
		t.Errorf("law %v, %v", g, s)
	}
	if left := r.Advance(nil, 800, &work); math.Abs(left-500*g) > 1e-12*left {
		t.Errorf("flux %v", left)
	}
	defer func() {
		if recover() == nil {
			t.Error("no panic from Advance of another chain")
		}
	}()
	m.Advance([]float64{1, 1}, 500, &work)
}

func TestWoodConductivity(t *testing.T) {
	// White pine, redcedar and spruce at 12 %, computed with the handbook's
	// equation.
	for _, tt := range []struct{ gravity, want float64 }{{0.38, 0.111}, {0.32, 0.096}, {0.36, 0.106}} {
		if got := WoodConductivity(tt.gravity, 0.12); math.Abs(got-tt.want) > 6e-4 {
			t.Errorf("gravity %v: %v, want %v", tt.gravity, got, tt.want)
		}
	}
	// The coefficient by mass that the documentation gives for wood.
	got := math.Log(WoodConductivity(0.38, 0.13)/WoodConductivity(0.38, 0.11)) / 0.02
	if math.Abs(got-1.4) > 0.05 || math.Abs(MoistureConductivity(got, 0.11, 0.13)*WoodConductivity(0.38, 0.11)-WoodConductivity(0.38, 0.13)) > 1e-12 {
		t.Errorf("coefficient of wood %v", got)
	}
}

func TestLiquidDiffusivity(t *testing.T) {
	top := LiquidDiffusivity(600, 600, 0.003)
	if want := 3.8 * 0.003 * 0.003 / 360000; math.Abs(top-want) > 1e-12*want {
		t.Errorf("saturated %v, want %v", top, want)
	}
	for _, tt := range []struct{ content, share float64 }{{0, 1e-3}, {400, 0.1}, {700, 1}} {
		if got := LiquidDiffusivity(tt.content, 600, 0.003) / top; math.Abs(got-tt.share) > 1e-12 {
			t.Errorf("at %v: share %v, want %v", tt.content, got, tt.share)
		}
	}
}

func BenchmarkMoistStep(b *testing.B) {
	layers := []Layer{pine, foam, plywood}
	m := mustMoist(b, layers, []Moist{moistPine(), moistFoam(), moistPlywood()}, Grid{})
	temp := []float64{15, 12, 8, 2, -3, -4}
	content := make([]float64, 6)
	m.FillHumidity(content, 0.7, temp)
	var work MoistWork
	b.ReportAllocs()
	for b.Loop() {
		g, s := m.Condense(600, content, temp, 1e-7, 400, &work)
		m.Advance(content, (2e-8*1300+s)/(2e-8+g), &work)
	}
}

func BenchmarkMoistStepSkin(b *testing.B) {
	layers := []Layer{pine, foam, plywood}
	m := mustSkin(b, layers, []Moist{moistPine(), moistFoam(), moistPlywood()}, Grid{}, Skin{Inner: 2})
	temp := []float64{15, 12, 8, 2, -3, -4}
	content := make([]float64, 8)
	m.FillHumidity(content, 0.7, temp)
	var work MoistWork
	for b.Loop() {
		g, s := m.Condense(600, content, temp, 1e-7, 400, &work)
		m.Advance(content, (2e-8*1300+s)/(2e-8+g), &work)
	}
}

func BenchmarkMoistStepBoth(b *testing.B) {
	layers := []Layer{pine, foam, plywood}
	m := mustMoist(b, layers, []Moist{moistPine(), moistFoam(), moistPlywood()}, Grid{})
	temp := []float64{15, 12, 8, 2, -3, -4}
	content := make([]float64, 6)
	m.FillHumidity(content, 0.7, temp)
	var work MoistWork
	b.ReportAllocs()
	for b.Loop() {
		m.CondenseBoth(600, content, temp, &work)
		m.AdvanceBoth(content, 1300, 400, &work)
	}
}
