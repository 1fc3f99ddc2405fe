package wall

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// roomAir is air at 20 °C and one atmosphere (handbook values, from memory).
var roomAir = Gas{Conductivity: 0.0259, KinematicViscosity: 1.51e-5, Diffusivity: 2.14e-5, Expansion: 1 / 293.15}

// Films rise with the Rayleigh number and have no jump that a solver could
// stumble over.
func TestNusseltContinuousAndRising(t *testing.T) {
	for _, tt := range []struct {
		name string
		f    func(ra float64) float64
		from float64
	}{
		{"vertical", func(ra float64) float64 { return NusseltVertical(ra, 0.71) }, 0},
		{"vertical laminar", func(ra float64) float64 { return NusseltVerticalLaminar(ra, 0.71) }, 0},
		{"unstable", NusseltUnstable, 1},
		{"stable", NusseltStable, 1},
		{"enclosure level", func(ra float64) float64 { return NusseltEnclosure(ra, 0) }, 1},
		{"enclosure 60°", func(ra float64) float64 { return NusseltEnclosure(ra, 60) }, 1},
		{"vertical gap", func(ra float64) float64 { return NusseltVerticalGap(ra, 10) }, 1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			before := tt.f(0)
			if !(before >= tt.from) {
				t.Errorf("Nu %v at Ra 0, want at least %v", before, tt.from)
			}
			if first := tt.f(0.01); first < before || first > before+0.3 {
				t.Errorf("Nu goes from %v to %v at Ra 0.01", before, first)
			}
			before = tt.f(0.01)
			for ra := 0.01; ra < 1e11; ra *= 1.001 {
				nu := tt.f(ra)
				if nu < before || nu > before*1.006+0.005 {
					t.Fatalf("Nu goes from %v to %v at Ra %g", before, nu, ra)
				}
				before = nu
			}
		})
	}
}

func TestPrintedRanges(t *testing.T) {
	for _, ra := range []float64{1e4, 1e6, 4e6} {
		if got, want := NusseltUnstable(ra), 0.54*math.Pow(ra, 0.25); math.Abs(got-want) > 1e-12*want {
			t.Errorf("Ra %g: %v, want %v", ra, got, want)
		}
	}
	// Between 4.7e6 and 1e7 the film lies above the printed one, by at most 6.5 %.
	for ra := 4.7e6; ra < 1e7; ra *= 1.1 {
		if share := NusseltUnstable(ra)/(0.54*math.Pow(ra, 0.25)) - 1; share < 0 || share > 0.065 {
			t.Errorf("Ra %g: %v above the printed form", ra, share)
		}
	}
	if got := NusseltEnclosure(1e5, 80); got != NusseltEnclosure(1e5, 75) {
		t.Errorf("80°: %v, want that of 75°", got)
	}
	if got := NusseltEnclosure(1707, 0); got != 1 {
		t.Errorf("below the onset: %v, want 1", got)
	}
	// A vertical gap of conduction only.
	if got := NusseltVerticalGap(100, 40); math.Abs(got-1) > 0.01 {
		t.Errorf("small gap: %v, want 1", got)
	}
	if got := NusseltVerticalGap(0, 40); got != 1 {
		t.Errorf("no difference: %v, want 1", got)
	}
}

func TestPlateFlow(t *testing.T) {
	if a, b := NusseltPlate(5e5, 0.71), NusseltPlate(5e5*(1+1e-9), 0.71); math.Abs(a-b) > 1e-6*a {
		t.Errorf("jump at the transition: %v to %v", a, b)
	}
	// The constant that the texts print as 871.
	pr := 1.0
	if got := 0.037*math.Pow(1e6, 0.8) - NusseltPlate(1e6, pr); math.Abs(got-871) > 1.5 {
		t.Errorf("constant %v, want 871", got)
	}
}

func TestConvector(t *testing.T) {
	const length = 0.25
	for _, tt := range []struct {
		name    string
		facing  Facing
		excess  float64
		nusselt func(ra float64) float64
	}{
		{"warm wall", Upright, 8, func(ra float64) float64 { return NusseltVertical(ra, roomAir.Prandtl()) }},
		{"cold wall", Upright, -8, func(ra float64) float64 { return NusseltVertical(ra, roomAir.Prandtl()) }},
		{"warm floor", FacingUp, 8, NusseltUnstable},
		{"cold floor", FacingUp, -8, NusseltStable},
		{"warm lid", FacingDown, 8, NusseltStable},
		{"cold lid", FacingDown, -8, NusseltUnstable},
		{"no difference", FacingUp, 0, func(float64) float64 { return 1 }},
	} {
		want := roomAir.Film(tt.nusselt(roomAir.Rayleigh(tt.excess, length)), length)
		if got := NewConvector(roomAir, tt.facing, length).Film(tt.excess); math.Abs(got-want) > 1e-12*want {
			t.Errorf("%s: %v, want %v W/(m²·K)", tt.name, got, want)
		}
	}
}

func BenchmarkConvector(b *testing.B) {
	c := NewConvector(roomAir, Upright, 0.25)
	excess, sum := 0.0, 0.0
	for b.Loop() {
		excess += 1e-6
		sum += c.Film(excess)
	}
	if !(sum > 0) {
		b.Fatal(sum)
	}
}

func TestChannelFilm(t *testing.T) {
	// 7.54·0.0259/(2·0.009)
	if got := ChannelFilm(NusseltChannelBoth, roomAir.Conductivity, 0.009); math.Abs(got-10.849) > 0.001 {
		t.Errorf("%v W/(m²·K), want 10.849", got)
	}
}

func TestMixedFilm(t *testing.T) {
	for _, tt := range []struct{ natural, forced, want float64 }{
		{3, 0, 3}, {0, 4, 4}, {3, 4, math.Cbrt(91)},
	} {
		if got := MixedFilm(tt.natural, tt.forced); math.Abs(got-tt.want) > 1e-12 {
			t.Errorf("%v and %v: %v, want %v", tt.natural, tt.forced, got, tt.want)
		}
	}
}

func TestRayleighIgnoresSign(t *testing.T) {
	if a, b := roomAir.Rayleigh(5, 0.2), roomAir.Rayleigh(-5, 0.2); a != b || !(a > 0) {
		t.Errorf("%v and %v", a, b)
	}
}

func TestViewFactorsOfBoxes(t *testing.T) {
	// A cube: opposite faces 0.1998, others 0.2000 (closed forms, as printed in
	// view factor tables to four digits; from memory).
	f := BoxViewFactors(1, 1, 1)
	if math.Abs(f[0][1]-0.1998) > 5e-5 || math.Abs(f[0][2]-0.2000) > 1e-4 {
		t.Errorf("cube: %v and %v", f[0][1], f[0][2])
	}
	for _, box := range [][3]float64{{1, 1, 1}, {0.45, 0.4, 0.3}, {0.37, 0.46, 0.23}, {2, 0.1, 0.05}, {0.01, 1, 1}} {
		f, area := BoxViewFactors(box[0], box[1], box[2]), BoxAreas(box[0], box[1], box[2])
		for i := range f {
			sum := 0.0
			for j := range f {
				sum += f[i][j]
				if math.Abs(area[i]*f[i][j]-area[j]*f[j][i]) > 1e-10*area[i] {
					t.Errorf("box %v: no reciprocity between %d and %d", box, i, j)
				}
				if f[i][j] < -1e-12 {
					t.Errorf("box %v: view factor %v", box, f[i][j])
				}
			}
			if math.Abs(sum-1) > 1e-9 {
				t.Errorf("box %v: face %d sees %v", box, i, sum)
			}
			if f[i][i] != 0 {
				t.Errorf("box %v: face %d sees itself", box, i)
			}
		}
	}
}

// The closed form of parallel rectangles against the double area integral.
func TestViewParallelAgainstIntegration(t *testing.T) {
	const x, y, d = 0.45, 0.4, 0.3
	midpoint := func(n int) float64 {
		sum, step := 0.0, 1/float64(n)
		for i := range n {
			for j := range n {
				for k := range n {
					for l := range n {
						dx, dy := float64(i-k)*x*step, float64(j-l)*y*step
						r2 := dx*dx + dy*dy + d*d
						sum += d * d / (math.Pi * r2 * r2)
					}
				}
			}
		}
		return sum * x * y * step * step * step * step
	}
	want := (4*midpoint(24) - midpoint(12)) / 3
	// What is left of the midpoint rule's error after one extrapolation.
	if got := ViewParallel(x, y, d); math.Abs(got-want) > 1e-5*want {
		t.Errorf("%v, want %v", got, want)
	}
}

// exactExchange returns the heat [W per W/(m²·K) of black film] that each face
// of a box gives off at temperatures t, by the radiosities.
func exactExchange(t testing.TB, f [6][6]float64, area [6]float64, eps []float64, temps []float64) []float64 {
	t.Helper()
	a, b, j := mat.NewDense(6, 6, nil), mat.NewVecDense(6, nil), mat.NewVecDense(6, nil)
	for i := range 6 {
		for k := range 6 {
			a.Set(i, k, -(1-eps[i])*f[i][k])
		}
		a.Set(i, i, 1)
		b.SetVec(i, eps[i]*temps[i])
	}
	if err := j.SolveVec(a, b); err != nil {
		t.Fatal(err)
	}
	q := make([]float64, 6)
	for i := range q {
		q[i] = area[i] * j.AtVec(i)
		for k := range 6 {
			q[i] -= area[i] * f[i][k] * j.AtVec(k)
		}
	}
	return q
}

// The star of mean radiant temperature against the exact exchange in boxes of
// the size of a hive body: warming one face by a kelvin, how far are the heat
// that it gives off and the largest error of what another face receives?
func TestMeanRadiantFactorsAgainstExact(t *testing.T) {
	for _, tt := range []struct {
		name         string
		box          [3]float64
		eps          []float64
		own, largest float64 // allowed shares of the warm face's heat [-]
	}{
		{"cube", [3]float64{0.4, 0.4, 0.4}, []float64{0.9, 0.9, 0.9, 0.9, 0.9, 0.9}, 0.001, 0.001},
		{"body", [3]float64{0.45, 0.4, 0.3}, []float64{0.9, 0.9, 0.9, 0.9, 0.9, 0.9}, 0.002, 0.025},
		{"shallow body", [3]float64{0.47, 0.37, 0.15}, []float64{0.9, 0.9, 0.9, 0.9, 0.9, 0.9}, 0.002, 0.04},
		{"body under a bright lid", [3]float64{0.45, 0.4, 0.3}, []float64{0.9, 0.1, 0.9, 0.9, 0.9, 0.9}, 0.015, 0.025},
		{"two bodies", [3]float64{0.45, 0.4, 0.5}, []float64{0.9, 0.9, 0.9, 0.9, 0.9, 0.9}, 0.002, 0.02},
	} {
		t.Run(tt.name, func(t *testing.T) {
			f, area := BoxViewFactors(tt.box[0], tt.box[1], tt.box[2]), BoxAreas(tt.box[0], tt.box[1], tt.box[2])
			factors, err := MeanRadiantFactors(area[:], tt.eps)
			if err != nil {
				t.Fatal(err)
			}
			own, largest := 0.0, 0.0
			for warm := range 6 {
				temps := make([]float64, 6)
				temps[warm] = 1
				exact := exactExchange(t, f, area, tt.eps, temps)
				sum := 0.0
				for i := range factors {
					sum += area[i] * factors[i]
				}
				mean := area[warm] * factors[warm] / sum
				for i := range 6 {
					off := math.Abs(area[i]*factors[i]*(temps[i]-mean)-exact[i]) / exact[warm]
					if i == warm {
						own = math.Max(own, off)
					} else {
						largest = math.Max(largest, off)
					}
				}
			}
			t.Logf("heat of the warm face within %.2f %%, of another within %.2f %% of it", 100*own, 100*largest)
			if own > tt.own || largest > tt.largest {
				t.Errorf("errors %v and %v, want at most %v and %v", own, largest, tt.own, tt.largest)
			}
		})
	}
}

// Two equal planes exchange by the effective emissivity exactly.
func TestMeanRadiantFactorsOfTwoPlanes(t *testing.T) {
	f, err := MeanRadiantFactors([]float64{0.2, 0.2}, []float64{0.9, 0.3})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := 1/(1/f[0]+1/f[1]), EffectiveEmissivity(0.9, 0.3, 1); math.Abs(got-want) > 1e-12 {
		t.Errorf("%v, want %v", got, want)
	}
}

func TestMeanRadiantFactorsErrors(t *testing.T) {
	for _, tt := range []struct {
		name        string
		areas, emis []float64
	}{
		{"one surface", []float64{1}, []float64{0.9}},
		{"lengths", []float64{1, 1}, []float64{0.9}},
		{"no area", []float64{1, 0, 1}, []float64{0.9, 0.9, 0.9}},
		{"no emissivity", []float64{1, 1, 1}, []float64{0.9, 0, 0.9}},
		{"too bright", []float64{1, 1, 1}, []float64{0.9, 1.1, 0.9}},
		{"one as large as the rest", []float64{2, 1, 1}, []float64{0.9, 0.9, 0.9}},
		{"one larger than the rest", []float64{5, 1, 1}, []float64{0.9, 0.9, 0.9}},
	} {
		if got, err := MeanRadiantFactors(tt.areas, tt.emis); err == nil {
			t.Errorf("%s: %v, want an error", tt.name, got)
		}
	}
}

func TestRadiativeFilms(t *testing.T) {
	if a, b := RadiativeFilmBetween(0.9, 30, -10), RadiativeFilmBetween(0.9, -10, 30); a != b {
		t.Errorf("not symmetric: %v and %v", a, b)
	}
	if a, b := RadiativeFilmBetween(0.9, 20, 20), RadiativeFilm(0.9, 20); math.Abs(a-b) > 1e-12 {
		t.Errorf("at one temperature: %v and %v", a, b)
	}
	// A small body in a large room.
	if got := EffectiveEmissivity(0.8, 0.5, 0); math.Abs(got-0.8) > 1e-15 {
		t.Errorf("small body: %v, want its own 0.8", got)
	}
}
