package wall

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"hackle/air"
)

// medium returns the functions of a layer, with permeability between dry and wet
// cup as MoistChain takes it, and no liquid.
func medium(l Layer, m Moist) *Medium {
	return &Medium{
		Content: func(phi, t float64) (content, slope float64) {
			content = m.Sorption.Content(phi, t)
			_, by := m.Sorption.Humidity(content, t)
			return content, 1 / by
		},
		Vapour: func(phi, _ float64) float64 {
			wet := max(0, min(1, (phi-dryCup)/(wetCup-dryCup)))
			return AirPermeability * ((1-wet)/m.MuDry + wet/m.MuWet)
		},
		Conductivity: func(float64) float64 { return l.Conductivity },
		HeatCapacity: l.Density * l.SpecificHeat,
	}
}

func sliced(l Layer, m Moist, n int) []CoupledCell {
	cells := make([]CoupledCell, n)
	medium := medium(l, m)
	for i := range cells {
		cells[i] = CoupledCell{Thickness: l.Thickness / float64(n), Medium: medium}
	}
	return cells
}

func TestNewCoupledErrors(t *testing.T) {
	good := sliced(pine, moistPine(), 2)
	lone := *good[0].Medium
	lone.Liquid = func(float64) float64 { return 0 }
	for name, tt := range map[string]struct {
		cells []CoupledCell
		phi   float64
	}{
		"no cell":      {nil, 0.5},
		"dry":          {good, 0},
		"saturated":    {good, 1},
		"no thickness": {[]CoupledCell{{Medium: good[0].Medium}}, 0.5},
		"no medium":    {[]CoupledCell{{Thickness: 1}}, 0.5},
		"half liquid":  {[]CoupledCell{{Thickness: 1, Medium: &lone}}, 0.5},
	} {
		if _, err := NewCoupled(tt.cells, tt.phi, 20); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	c, err := NewCoupled(good, 0.5, 20)
	if err != nil {
		t.Fatal(err)
	}
	before := append([]float64(nil), c.Phi...)
	if err := c.Step(3600, CoupledFace{T: math.NaN(), Phi: 0.5, Film: 4, Vapour: 1e-8}, CoupledFace{}); !errors.Is(err, errUnsettled) {
		t.Errorf("a face of no temperature: error %v", err)
	}
	for i := range before {
		if c.Phi[i] != before[i] || c.Temp[i] != 20 {
			t.Error("a failed step changed the state")
		}
	}
}

// Without moisture moving, heat must be that of the heat chain.
func TestCoupledHeat(t *testing.T) {
	m := moistPine()
	m.MuDry, m.MuWet = 1e9, 1e9
	c, err := NewCoupled(sliced(pine, m, 40), 0.01, 10)
	if err != nil {
		t.Fatal(err)
	}
	heat := mustChain(t, []Layer{pine}, Grid{MinCells: 40})
	state := filled(40, 10)
	var work Work
	start := make([]float64, 40)
	for range 60 {
		if err := c.Step(120, CoupledFace{T: 25, Phi: 0.5, Film: 8}, CoupledFace{T: -5, Phi: 0.5, Film: 20}); err != nil {
			t.Fatal(err)
		}
		copy(start, state)
		for k := range 2 {
			g, s := heat.Condense(120*StageFraction, state, 20, -5, &work)
			heat.Advance(state, (8*25+s)/(8+g), &work)
			if k == 0 {
				SecondStage(start, state)
			}
		}
	}
	for i := range state {
		// The water in the wood, 2 kg/m³ here, adds 1 % to its heat capacity.
		if math.Abs(state[i]-c.Temp[i]) > 0.05 {
			t.Fatalf("cell %d: %v °C, heat chain %v °C", i, c.Temp[i], state[i])
		}
	}
}

// aWinter is weather and hive climate of six months, by the hour.
type aWinter struct{ tIn, phiIn, tOut, phiOut []float64 }

func newWinter() aWinter {
	rng := rand.New(rand.NewPCG(10, 3))
	var w aWinter
	front, fog := 0.0, 0.0
	for k := range 182 * 24 {
		day := float64(k) / 24
		front = 0.985*front + 0.9*rng.NormFloat64() // spells of days, deviation 5 K
		fog = 0.98*fog + 0.02*rng.NormFloat64()
		tOut := 4 - 10*math.Sin(math.Pi*day/182) + 3*math.Sin(2*math.Pi*(day-0.4)) + front
		w.tOut = append(w.tOut, tOut)
		w.phiOut = append(w.phiOut, max(0.4, min(0.98, 0.84-0.08*math.Sin(2*math.Pi*(day-0.4))+fog)))
		w.tIn = append(w.tIn, tOut+8-0.2*front)
		w.phiIn = append(w.phiIn, max(0.30, min(0.70, 0.53+0.1*math.Sin(2*math.Pi*day/9)-2*fog)))
	}
	return w
}

// The quick chain, two cells a layer and steps of ten minutes, against the
// coupled equations, with latent heat and sixteen to forty cells a layer, for
// walls of wood through a winter. A skin brings the surface near.
func TestMoistChainAgreesWithCoupled(t *testing.T) {
	weather := newWinter()
	fibre := Layer{Thickness: 0.04, Conductivity: 0.04, Density: 110, SpecificHeat: 2000}
	moistFibre := Moist{MuDry: 5, MuWet: 5, Sorption: WoodIsotherm(110, 1)}
	const (
		hIn, hOut       = 5.0, 15.0
		betaIn, betaOut = 3e-8, 1e-7
	)
	for _, tt := range []struct {
		name   string
		layers []Layer
		moist  []Moist
		fine   int
		skins  []Skin
		limit  []float64 // of relative humidity in the cells, RMS [-]
		face   []float64 // at the inner surface, RMS [-]
	}{
		{"pine", []Layer{pine}, []Moist{moistPine()}, 40,
			[]Skin{{}, {2, 0}, {2, 2}}, []float64{0.022, 0.010, 0.005}, []float64{0.032, 0.005, 0.005}},
		{"plywood, wood fibre, pine", []Layer{plywood, fibre, pine}, []Moist{moistPlywood(), moistFibre, moistPine()}, 16,
			[]Skin{{}, {2, 0}}, []float64{0.013, 0.007}, []float64{0.012, 0.003}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var cells []CoupledCell
			for i, l := range tt.layers {
				cells = append(cells, sliced(l, tt.moist[i], tt.fine)...)
			}
			fine, err := NewCoupled(cells, 0.7, 8)
			if err != nil {
				t.Fatal(err)
			}
			type quick struct {
				heat          *Chain
				chain         *MoistChain
				temp, content []float64
				latent        []float64
				heatWork      Work
				work          MoistWork
				tFace, face   float64
				cells, faces  float64 // sums of squares
				mean          float64
			}
			runs := make([]*quick, len(tt.skins))
			for i, skin := range tt.skins {
				q := &quick{heat: mustChain(t, tt.layers, Grid{}), chain: mustSkin(t, tt.layers, tt.moist, Grid{}, skin)}
				q.temp, q.latent, q.content = filled(q.heat.Cells(), 8), make([]float64, q.heat.Cells()), make([]float64, q.chain.Cells())
				q.chain.FillHumidity(q.content, 0.7, q.temp)
				runs[i] = q
			}
			count, wettest := 0.0, 0.0
			for k := range weather.tIn {
				in := CoupledFace{T: weather.tIn[k], Phi: weather.phiIn[k], Film: hIn, Vapour: betaIn}
				out := CoupledFace{T: weather.tOut[k], Phi: weather.phiOut[k], Film: hOut, Vapour: betaOut}
				if err := fine.Step(3600, in, out); err != nil {
					t.Fatal(err)
				}
				pIn, pOut := in.Phi*air.SaturationPressureFast(in.T), out.Phi*air.SaturationPressureFast(out.T)
				for _, q := range runs {
					for range 6 {
						g, s := q.heat.Condense(600, q.temp, hOut, out.T, &q.heatWork)
						q.tFace = (hIn*in.T + s) / (hIn + g)
						q.heat.Advance(q.temp, q.tFace, &q.heatWork)
						g, s = q.chain.Condense(600, q.content, q.temp, betaOut, pOut, &q.work)
						q.face = (betaIn*pIn + s) / (betaIn + g)
						q.chain.Advance(q.content, q.face, &q.work)
						q.chain.LatentHeat(q.temp, q.latent, &q.work)
						for i, heat := range q.latent {
							q.temp[i] += 600 * heat / q.heat.capacity[i]
						}
					}
				}
				if k < 24*14 {
					continue // all start from the same state: let them part first
				}
				count++
				// Humidity at the inner surface, which mould and films see.
				half := cells[0].Thickness / 2
				link := cells[0].Medium.Vapour(fine.Phi[0], fine.Temp[0]) / half
				p := (betaIn*pIn + link*fine.Phi[0]*air.SaturationPressureFast(fine.Temp[0])) / (betaIn + link)
				conduct := tt.layers[0].Conductivity / half
				surface := p / air.SaturationPressureFast((hIn*in.T+conduct*fine.Temp[0])/(hIn+conduct))
				wettest = max(wettest, surface)
				for _, q := range runs {
					// The fine cells that lie in each heat cell, by their mean
					// content, and those of the quick chain.
					n := q.heat.Cells()
					each := len(cells) / n
					for i := range n {
						phi, share := 0.0, 0.0
						for j := range q.content {
							if q.chain.HeatCell(j) == i {
								phi += q.chain.Humidity(j, q.content[j], q.temp[i]) * q.chain.Thickness(j)
								share += q.chain.Thickness(j)
							}
						}
						d := phi / share
						for j := i * each; j < (i+1)*each; j++ {
							d -= fine.Phi[j] / float64(each)
						}
						q.cells += d * d / float64(n)
					}
					d := q.face/air.SaturationPressureFast(q.tFace) - surface
					q.faces += d * d
					q.mean += d
				}
			}
			if wettest >= 1 {
				t.Errorf("surface at %v: the coupled equations do not condense", wettest)
			}
			for i, q := range runs {
				rms, faceRMS := math.Sqrt(q.cells/count), math.Sqrt(q.faces/count)
				t.Logf("skin %v: RMS of humidity in the cells %.4f, at the inner surface %.4f (mean %+.4f); water now %.4f and %.4f kg/m²",
					tt.skins[i], rms, faceRMS, q.mean/count, q.chain.Water(q.content), fine.Water())
				if rms > tt.limit[i] || faceRMS > tt.face[i] {
					t.Errorf("skin %v: RMS of humidity %v in the cells, %v at the surface", tt.skins[i], rms, faceRMS)
				}
				if a, b := q.chain.Water(q.content), fine.Water(); math.Abs(a-b) > 0.02*b {
					t.Errorf("skin %v: %v kg/m² in the wall at the end, coupled %v", tt.skins[i], a, b)
				}
			}
		})
	}
}

// What enters less what leaves is stored, liquid and all.
func TestCoupledCloses(t *testing.T) {
	m := medium(pine, moistPine())
	m.Suction = func(phi float64) (float64, float64) { return KelvinSuction(phi, 20) }
	m.Liquid = func(phi float64) float64 { return 1e-15 * math.Exp(8*(phi-1)) }
	cells := make([]CoupledCell, 20)
	for i := range cells {
		cells[i] = CoupledCell{Thickness: 0.001, Medium: m}
	}
	c, err := NewCoupled(cells, 0.5, 10)
	if err != nil {
		t.Fatal(err)
	}
	start := c.Water()
	if _, err := c.Run(5*86400, 10, 0.02, CoupledFace{T: 20, Phi: 0.97, Film: math.Inf(1), Vapour: math.Inf(1)},
		CoupledFace{T: 0, Phi: 0.7, Film: 15, Vapour: 1e-7}); err != nil {
		t.Fatal(err)
	}
	if d := c.Entered - c.Left - (c.Water() - start); math.Abs(d) > 1e-6*c.Entered || !(c.Entered > 0.1) {
		t.Errorf("%v kg/m² lost of %v", d, c.Entered)
	}
	if !(c.Phi[0] > c.Phi[10] && c.Phi[0] < 0.97) {
		t.Errorf("profile %v", c.Phi)
	}
}

func TestKelvinSuction(t *testing.T) {
	s, slope := KelvinSuction(0.5, 20)
	if want := 1000 * 8.314 / 0.018 * 293.15 * math.Ln2; math.Abs(s-want) > 1e-9*want {
		t.Errorf("suction %v, want %v", s, want)
	}
	s1, _ := KelvinSuction(0.5+1e-6, 20)
	if d := (s1 - s) / 1e-6; math.Abs(d-slope) > 1e-5*math.Abs(slope) {
		t.Errorf("slope %v, want %v", slope, d)
	}
}
