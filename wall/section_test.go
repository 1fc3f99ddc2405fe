package wall

import (
	"math"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"
)

func flat(x0, x1, y0, y1 float64) Extent { return Extent{X0: x0, X1: x1, Y0: y0, Y1: y1} }

// plateSection is a plane wall of two layers between two films, in two or three
// dimensions.
func plateSection(deep bool) Section {
	s := Section{
		Solids: []Solid{
			{flat(0, 0.022, 0, 0.2), 0.13},
			{flat(0.022, 0.062, 0, 0.2), 0.036},
		},
		Spaces: []Space{
			{flat(-0.01, 0, 0, 0.2), 0, 0.13, 0},
			{flat(0.062, 0.072, 0, 0.2), 1, 0.04, 0},
		},
		Temperatures: []float64{20, -10},
		Mesh:         Mesh{Finest: 0.002},
	}
	if deep {
		for i := range s.Solids {
			s.Solids[i].Z1 = 0.1
		}
		for i := range s.Spaces {
			s.Spaces[i].Z1 = 0.1
		}
	}
	return s
}

func TestSectionOfPlaneWallIsExact(t *testing.T) {
	u := 1 / (0.13 + 0.022/0.13 + 0.04/0.036 + 0.04)
	for _, deep := range []bool{false, true} {
		s := plateSection(deep)
		f, err := s.Solve()
		if err != nil {
			t.Fatal(err)
		}
		want := u * 30 * 0.2
		if deep {
			want *= 0.1
		}
		if math.Abs(f.Flow(0)-want) > 1e-8*want || math.Abs(f.Flow(1)+want) > 1e-8*want {
			t.Errorf("deep %v: flows %v and %v, want ±%v", deep, f.Flow(0), f.Flow(1), want)
		}
		for _, p := range []struct{ x, want float64 }{
			{0, 20 - u*30*0.13},
			{0.011, 20 - u*30*(0.13+0.011/0.13)},
			{0.022, 20 - u*30*(0.13+0.022/0.13)},
			{0.0421, 20 - u*30*(0.13+0.022/0.13+0.0201/0.036)},
			{0.062, -10 + u*30*0.04},
		} {
			if got := f.Temperature(p.x, 0.0777, 0.05); math.Abs(got-p.want) > 1e-7 {
				t.Errorf("deep %v, x = %v: %v, want %v °C", deep, p.x, got, p.want)
			}
		}
		if got := f.Temperature(-0.005, 0.1, 0.05); !math.IsNaN(got) {
			t.Errorf("in a space: %v, want NaN", got)
		}
		for _, x := range []float64{-0.011, 0.073} {
			if got := f.Temperature(x, 0.1, 0.05); !math.IsNaN(got) {
				t.Errorf("outside of the grid at %v: %v, want NaN", x, got)
			}
		}
		lo, hi := f.SurfaceRange(0)
		if want := 20 - u*30*0.13; math.Abs(lo-want) > 1e-7 || math.Abs(hi-want) > 1e-7 {
			t.Errorf("inner surface from %v to %v, want %v °C", lo, hi, want)
		}
	}
}

func TestSectionIsotherms(t *testing.T) {
	// Surfaces held at their temperatures: a bar of conductance λA/l.
	s := Section{
		Solids:       []Solid{{Extent{X1: 0.5, Y1: 0.2, Z1: 0.1}, 40}},
		Spaces:       []Space{{Extent{X0: -1, Y1: 0.2, Z1: 0.1}, 0, 0, 0}, {Extent{X0: 0.5, X1: 1, Y1: 0.2, Z1: 0.1}, 1, 0, 0}},
		Temperatures: []float64{100, 0},
		Mesh:         Mesh{Finest: 0.05},
	}
	f, err := s.Solve()
	if err != nil {
		t.Fatal(err)
	}
	if want := 40 * 0.02 / 0.5 * 100; math.Abs(f.Flow(0)-want) > 1e-8*want {
		t.Errorf("flow %v, want %v W", f.Flow(0), want)
	}
	l, err := s.Coupling(1, 0)
	if err != nil {
		t.Fatal(err)
	}
	if want := 40 * 0.02 / 0.5; math.Abs(l-want) > 1e-8*want {
		t.Errorf("coupling %v, want %v W/K", l, want)
	}
}

// Films by orientation: a bar between a space on a face normal to x and one on a
// face normal to y, along x or along y.
func TestSectionFilmsByOrientation(t *testing.T) {
	const length, r, rY = 0.1, 0.2, 0.5
	for _, tt := range []struct {
		name         string
		bar, in, out Extent
		film         float64
	}{
		{"along x", flat(0, length, 0, 1), flat(-1, 0, 0, 1), flat(length, 1, 0, 1), r},
		{"along y", flat(0, 1, 0, length), flat(0, 1, -1, 0), flat(0, 1, length, 1), rY},
	} {
		s := Section{
			Solids:       []Solid{{tt.bar, 1}},
			Spaces:       []Space{{tt.in, 0, r, rY}, {tt.out, 1, r, rY}},
			Temperatures: []float64{1, 0}, Mesh: Mesh{Finest: 0.05},
		}
		got, err := s.Coupling(0, 1)
		if err != nil {
			t.Fatal(err)
		}
		if want := 1 / (length + 2*tt.film); math.Abs(got-want) > 1e-8*want {
			t.Errorf("%s: %v, want %v W/(m·K)", tt.name, got, want)
		}
	}
}

// A body without symmetry conducts the same however it is turned.
func TestSectionTurned(t *testing.T) {
	turn := func(e Extent) Extent { return Extent{e.Y0, e.Y1, e.Z0, e.Z1, e.X0, e.X1} }
	s := Section{
		Solids: []Solid{{Extent{0, 0.5, 0, 0.3, 0, 0.2}, 0.1}, {Extent{0.1, 0.3, 0.05, 0.1, 0, 0.2}, 20}},
		Spaces: []Space{
			{Extent{-0.1, 0, 0, 0.3, 0, 0.2}, 0, 0.1, 0}, {Extent{0.1, 0.5, 0, 0.3, -0.1, 0}, 0, 0.3, 0},
			{Extent{0, 0.2, 0.3, 0.4, 0, 0.2}, 1, 0.05, 0}, {Extent{0.4, 0.5, 0.2, 0.3, 0.1, 0.2}, 1, 0, 0},
		},
		Temperatures: []float64{1, 0}, Mesh: Mesh{Finest: 0.03, Coarsest: 0.05},
	}
	want, err := s.Coupling(0, 1)
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		for i := range s.Solids {
			s.Solids[i].Extent = turn(s.Solids[i].Extent)
		}
		for i := range s.Spaces {
			s.Spaces[i].Extent = turn(s.Spaces[i].Extent)
		}
		got, err := s.Coupling(0, 1)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(got-want) > 1e-8*want {
			t.Errorf("turned: %v, want %v W/K", got, want)
		}
	}
}

// Random heaps of solids and spaces: flows sum to zero, temperatures lie
// between those of the environments, a second run equals the first, and
// coupling is the same in both directions.
func TestSectionConserves(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	for run := range 12 {
		deep := run%3 == 0
		edge := func(full bool) (lo, hi float64) {
			if full {
				return 0, 1
			}
			lo = rng.Float64() * 0.8
			return lo, lo + 0.1 + rng.Float64()*(0.9-lo)
		}
		extent := func(full bool) Extent {
			var e Extent
			e.X0, e.X1 = edge(full)
			e.Y0, e.Y1 = edge(full)
			if deep {
				e.Z0, e.Z1 = edge(full)
			}
			return e
		}
		s := Section{Temperatures: []float64{20, -5, 8}, Mesh: Mesh{Finest: 0.1, Growth: 1.5}}
		s.Solids = append(s.Solids, Solid{extent(true), 1})
		for range 4 {
			s.Solids = append(s.Solids, Solid{extent(false), math.Exp(8*rng.Float64() - 4)})
		}
		for e := range 3 {
			r := rng.Float64()
			if e == 2 && run%2 == 0 {
				r = 0
			}
			s.Spaces = append(s.Spaces, Space{extent(false), e, r, 0})
		}
		f, err := s.Solve()
		if err != nil {
			if strings.Contains(err.Error(), "borders on no environment") {
				continue
			}
			t.Fatal(err)
		}
		total, scale := 0.0, 0.0
		for e := range s.Temperatures {
			total += f.Flow(e)
			scale += math.Abs(f.Flow(e))
		}
		// 1e-7: the solver stops at a residual of 1e-10 of its right-hand side.
		if math.Abs(total) > 1e-7*(scale+1) {
			t.Fatalf("run %d: flows sum to %v of %v W", run, total, scale)
		}
		for _, v := range f.t {
			if v < -5-1e-6 || v > 20+1e-6 {
				t.Fatalf("run %d: %v °C", run, v)
			}
		}
		again, err := s.Solve()
		if err != nil {
			t.Fatal(err)
		}
		for e := range s.Temperatures {
			if again.Flow(e) != f.Flow(e) {
				t.Fatalf("run %d: %v and then %v W", run, f.Flow(e), again.Flow(e))
			}
		}
		ab, err := s.Coupling(0, 1)
		if err != nil {
			t.Fatal(err)
		}
		ba, err := s.Coupling(1, 0)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(ab-ba) > 1e-7*(math.Abs(ab)+1) {
			t.Fatalf("run %d: couplings %v and %v", run, ab, ba)
		}
	}
}

func TestSectionErrors(t *testing.T) {
	for _, tt := range []struct {
		name   string
		spoil  func(s *Section)
		expect string
	}{
		{"no solid", func(s *Section) { s.Solids = nil }, "needs a solid"},
		{"no space", func(s *Section) { s.Spaces = nil }, "needs a solid"},
		{"empty extent", func(s *Section) { s.Solids[1].X1 = s.Solids[1].X0 }, "solid 2"},
		{"mixed dimensions", func(s *Section) { s.Solids[0].Z1 = 1 }, "third dimension"},
		{"endless extent", func(s *Section) { s.Spaces[0].X0 = math.Inf(-1) }, "not finite"},
		{"no conductivity", func(s *Section) { s.Solids[0].Conductivity = 0 }, "conductivity"},
		{"negative film", func(s *Section) { s.Spaces[1].Resistance = -1 }, "space 2"},
		{"unknown environment", func(s *Section) { s.Spaces[1].Environment = 2 }, "environment 2 of 2"},
		{"temperature", func(s *Section) { s.Temperatures[1] = math.NaN() }, "temperature"},
		{"no mesh", func(s *Section) { s.Mesh.Finest = 0 }, "mesh"},
		{"growth", func(s *Section) { s.Mesh.Growth = 0.9 }, "mesh"},
		{"too fine", func(s *Section) { s.Mesh = Mesh{Finest: 1e-5, Coarsest: 1e-5} }, "nodes"},
		{"island", func(s *Section) { s.Solids = append(s.Solids, Solid{flat(1, 2, 0, 0.2), 1}) }, "borders on no environment"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := plateSection(false)
			tt.spoil(&s)
			if _, err := s.Solve(); err == nil || !strings.Contains(err.Error(), tt.expect) {
				t.Errorf("error %v, want one with %q", err, tt.expect)
			}
		})
	}
	s := plateSection(false)
	for _, pair := range [][2]int{{0, 0}, {-1, 0}, {0, 2}} {
		if _, err := s.Coupling(pair[0], pair[1]); err == nil {
			t.Errorf("coupling of %v: no error", pair)
		}
	}
}

func TestGridLines(t *testing.T) {
	lines := gridLines([]float64{0, 1, 0.1, 0.1 + 1e-12}, func(lo, hi float64) bool { return lo < 0.5 && hi > 0.05 }, Mesh{Finest: 0.01, Growth: 1.5, Coarsest: 0.1})
	if lines[0] != 0 || lines[len(lines)-1] != 1 {
		t.Errorf("lines from %v to %v", lines[0], lines[len(lines)-1])
	}
	for i := 1; i < len(lines); i++ {
		d := lines[i] - lines[i-1]
		if !(d > 1e-6) || d > 0.1+1e-12 {
			t.Errorf("cell of %v at %v", d, lines[i-1])
		}
		if i > 1 {
			if r := d / (lines[i-1] - lines[i-2]); r > 1.6 || r < 1/1.6 {
				t.Errorf("cells grow by %v at %v", r, lines[i-1])
			}
		}
	}
}

// joints of hives, with the films of still air inside and wind outside.
func hiveJoints(t testing.TB) map[string]Joint {
	t.Helper()
	thin := []Layer{pine}
	wrapped := []Layer{plywood, foam, plywood}
	skinned := []Layer{{Thickness: 0.0015, Conductivity: 0.2}, foam, {Thickness: 0.0006, Conductivity: 160}}
	joints := map[string]Joint{}
	add := func(name string, j Joint, err error) {
		t.Helper()
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		joints[name] = j
	}
	corner := func(name string, a, b []Layer) {
		j, err := CornerJoint(a, b, 4, 15)
		add(name, j, err)
	}
	corner("pine corner", thin, thin)
	corner("wrapped corner", wrapped, wrapped)
	corner("pine to wrapped corner", thin, wrapped)
	corner("metal-skinned corner", skinned, skinned)
	j, err := LidJoint(thin, wrapped, Rim{}, 4, 5, 15)
	add("lid", j, err)
	j, err = LidJoint(thin, thin, Rim{Depth: 0.05, Thickness: 0.01, Conductivity: 0.13}, 4, 5, 15)
	add("lid with a rim", j, err)
	j, err = LidJoint(thin, wrapped, Rim{Depth: 0.06, Thickness: 0.01, Conductivity: 0.13, Gap: 0.004, GapConductivity: 0.04}, 4, 5, 15)
	add("lid with a loose rim", j, err)
	j, err = FloorJoint(thin, thin, 0, 4, 2, 15)
	add("floor", j, err)
	j, err = FloorJoint(wrapped, thin, 0.05, 4, 2, 15)
	add("projecting floor", j, err)
	for name, width := range map[string]float64{"narrow rebate": 0.010, "wide rebate": 0.013} {
		j, err = RecessJoint([]Layer{{Thickness: 0.019, Conductivity: 0.13}}, Recess{Depth: width, Height: 0.016, Film: 3}, 4, 15)
		add(name, j, err)
	}
	j, err = RecessJoint(wrapped, Recess{Outside: true, Depth: 0.012, Height: 0.03, Film: 10}, 4, 15)
	add("hand-hold", j, err)
	return joints
}

// The mesh that joints use against one four times finer: the linear loss differs
// by less than 1 % of itself, or by 0.1 mW/(m·K) where gain and loss nearly
// cancel (0.2 mW/K over the 2 m around a hive that loses more than 1 W/K).
func TestJointMesh(t *testing.T) {
	for name, j := range hiveJoints(t) {
		got, err := j.Solve()
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		j.section.Mesh.Finest /= 4
		j.section.Mesh.Growth = 1.1
		want, err := j.Solve()
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		t.Logf("%-24s ψ %.5f (%.5f) W/(m·K), outer %.5f, fRsi %.3f (%.3f)", name, got.Psi, want.Psi, got.PsiExternal, got.TemperatureFactor, want.TemperatureFactor)
		if math.Abs(got.Psi-want.Psi) > math.Max(0.01*math.Abs(want.Psi), 1e-4) {
			t.Errorf("%s: ψ %v, finer %v W/(m·K)", name, got.Psi, want.Psi)
		}
		if math.Abs(got.TemperatureFactor-want.TemperatureFactor) > 0.01 {
			t.Errorf("%s: temperature factor %v, finer %v", name, got.TemperatureFactor, want.TemperatureFactor)
		}
	}
}

// Legs are long enough: twice as long changes nothing that matters.
func TestJointReach(t *testing.T) {
	for _, layers := range [][]Layer{{pine}, {plywood, foam, plywood}, {{Thickness: 0.0015, Conductivity: 0.2}, foam, {Thickness: 0.0006, Conductivity: 160}}} {
		p, err := newPlane("wall", layers, 4, 15)
		if err != nil {
			t.Fatal(err)
		}
		got, err := CornerPsi(layers, layers, 4, 15)
		if err != nil {
			t.Fatal(err)
		}
		// The same corner with legs twice as long, built by hand.
		j, err := CornerJoint(layers, layers, 4, 15)
		if err != nil {
			t.Fatal(err)
		}
		leg := p.reach
		for i := range j.section.Solids {
			stretch(&j.section.Solids[i].Extent, leg)
		}
		for i := range j.section.Spaces {
			stretch(&j.section.Spaces[i].Extent, leg)
		}
		j.inner *= 2
		long, err := j.Solve()
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(got-long.Psi) > 0.01*math.Abs(long.Psi) {
			t.Errorf("ψ %v, with twice the legs %v W/(m·K)", got, long.Psi)
		}
	}
}

// stretch moves the ends at leg out to twice that.
func stretch(e *Extent, leg float64) {
	if e.X1 == leg {
		e.X1 = 2 * leg
	}
	if e.Y1 == leg {
		e.Y1 = 2 * leg
	}
}

func TestCornerPsi(t *testing.T) {
	// Where films vanish ψ is λ times the shape factor of an edge, 0.559 (see
	// the verification cases), and the surfaces' resistances take from it.
	wall := []Layer{{Thickness: 0.05, Conductivity: 0.13}}
	psi, err := CornerPsi(wall, wall, 1e7, 1e7)
	if err != nil {
		t.Fatal(err)
	}
	if want := 0.13 * 0.5586; math.Abs(psi-want) > 0.01*want {
		t.Errorf("ψ %v, want %v W/(m·K)", psi, want)
	}
	// Cutting a layer into two changes nothing but the mesh, nor does exchanging
	// the walls.
	whole, err := CornerPsi([]Layer{pine}, []Layer{pine}, 4, 15)
	if err != nil {
		t.Fatal(err)
	}
	half := pine
	half.Thickness /= 2
	cut, err := CornerPsi([]Layer{half, half}, []Layer{half, half}, 4, 15)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(whole-cut) > 0.01*whole {
		t.Errorf("ψ %v whole, %v cut", whole, cut)
	}
	ab, err := CornerPsi([]Layer{pine}, []Layer{{Thickness: 0.035, Conductivity: 0.13}}, 4, 15)
	if err != nil {
		t.Fatal(err)
	}
	ba, err := CornerPsi([]Layer{{Thickness: 0.035, Conductivity: 0.13}}, []Layer{pine}, 4, 15)
	if err != nil {
		t.Fatal(err)
	}
	// Outer dimensions count each wall over the other's thickness as well.
	j, err := CornerJoint([]Layer{pine}, []Layer{{Thickness: 0.035, Conductivity: 0.13}}, 4, 15)
	if err != nil {
		t.Fatal(err)
	}
	loss, err := j.Solve()
	if err != nil {
		t.Fatal(err)
	}
	plane := func(d float64) float64 { return 1 / (1/4.0 + d/0.13 + 1/15.0) }
	if want := plane(0.022)*0.035 + plane(0.035)*0.022; math.Abs(loss.Psi-loss.PsiExternal-want) > 1e-9 {
		t.Errorf("inner and outer ψ %v and %v differ by something else than %v", loss.Psi, loss.PsiExternal, want)
	}
	if math.Abs(ab-ba) > 1e-6*ab {
		t.Errorf("ψ %v, exchanged %v", ab, ba)
	}
}

func TestJointsBehave(t *testing.T) {
	psi := func(j Joint, err error) float64 {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		loss, err := j.Solve()
		if err != nil {
			t.Fatal(err)
		}
		return loss.Psi
	}
	thin := []Layer{pine}
	bare := psi(LidJoint(thin, thin, Rim{}, 4, 4, 15))
	corner := psi(CornerJoint(thin, thin, 4, 15))
	if math.Abs(bare-corner) > 1e-3*corner {
		t.Errorf("a flush lid of the wall's make loses %v, a corner %v", bare, corner)
	}
	touching := psi(LidJoint(thin, thin, Rim{Depth: 0.05, Thickness: 0.01, Conductivity: 0.04}, 4, 4, 15))
	if !(touching < bare) {
		t.Errorf("an insulating rim does not save: %v and %v", touching, bare)
	}
	scrap := psi(LidJoint(thin, thin, Rim{Depth: 0.001, Thickness: 0.001, Conductivity: 0.13}, 4, 4, 15))
	if math.Abs(scrap-bare) > 0.1*bare {
		t.Errorf("a rim of a millimetre changes %v to %v", bare, scrap)
	}
	// Films that differ between wall and plate by little change the edge by
	// little: each plane has the film that its own transmittance was taken with.
	for name, mixed := range map[string]float64{
		"lid":   psi(LidJoint(thin, thin, Rim{}, 4, 4.4, 15)),
		"floor": psi(FloorJoint(thin, thin, 0, 4.4, 4, 15)),
	} {
		if math.Abs(mixed-bare) > 0.1*bare {
			t.Errorf("%s: a tenth more film changes %v to %v", name, bare, mixed)
		}
	}
	longer := psi(LidJoint(thin, thin, Rim{Depth: 0.1, Thickness: 0.01, Conductivity: 0.04}, 4, 4, 15))
	if !(longer < touching) {
		t.Errorf("a longer rim does not save more: %v and %v", longer, touching)
	}
	plain := func(depth, film float64) float64 {
		return psi(RecessJoint(thin, Recess{Depth: depth, Height: 0.016, Film: film}, 4, 15))
	}
	if !(plain(0.013, 4) > plain(0.010, 4) && plain(0.010, 4) > 0) {
		t.Errorf("deeper rebates do not lose more: %v and %v", plain(0.013, 4), plain(0.010, 4))
	}
	if !(plain(0.010, 1) < plain(0.010, 4)) {
		t.Errorf("still air in the rebate does not save: %v and %v", plain(0.010, 1), plain(0.010, 4))
	}
	// A shallow scratch is nothing.
	if got := plain(0.00002, 4); math.Abs(got) > 1e-4 {
		t.Errorf("a scratch loses %v W/(m·K)", got)
	}
	// Through a long recess heat passes as through the thinner wall.
	rest := pine
	rest.Thickness -= 0.010
	for _, out := range []bool{false, true} {
		film := 4.0
		if out {
			film = 15
		}
		a := psi(RecessJoint(thin, Recess{Outside: out, Depth: 0.010, Height: 0.5, Film: film}, 4, 15))
		b := psi(RecessJoint(thin, Recess{Outside: out, Depth: 0.010, Height: 0.7, Film: film}, 4, 15))
		want := 0.2 * (Transmittance([]Layer{rest}, 1/4.0, 1/15.0) - Transmittance(thin, 1/4.0, 1/15.0))
		if math.Abs(b-a-want) > 1e-3*want {
			t.Errorf("outside %v: 0.2 m more of recess add %v, want %v W/(m·K)", out, b-a, want)
		}
	}
}

func TestJointErrors(t *testing.T) {
	thin := []Layer{pine}
	for _, tt := range []struct {
		name string
		err  func() error
		want string
	}{
		{"no layer", func() error { _, err := CornerJoint(nil, thin, 4, 15); return err }, "wall a has no layer"},
		{"no thickness", func() error { _, err := CornerJoint(thin, []Layer{gap}, 4, 15); return err }, "no thickness"},
		{"bad layer", func() error { _, err := CornerJoint(thin, []Layer{{}}, 4, 15); return err }, "wall b: layer 1"},
		{"no film", func() error { _, err := CornerJoint(thin, thin, 0, 15); return err }, "film"},
		{"endless film", func() error { _, err := CornerJoint(thin, thin, 4, math.Inf(1)); return err }, "film"},
		{"rim", func() error { _, err := LidJoint(thin, thin, Rim{Depth: 0.1}, 4, 4, 15); return err }, "rim"},
		{"gap of a rim", func() error {
			_, err := LidJoint(thin, thin, Rim{Depth: 0.1, Thickness: 0.01, Conductivity: 1, Gap: 0.01}, 4, 4, 15)
			return err
		}, "rim"},
		{"projection", func() error { _, err := FloorJoint(thin, thin, -1, 4, 4, 15); return err }, "projects"},
		{"through the wall", func() error { _, err := RecessJoint(thin, Recess{Depth: 0.022, Height: 1, Film: 4}, 4, 15); return err }, "recess"},
		{"empty joint", func() error { _, err := new(Cache).Solve(Joint{}); return err }, "without a section"},
		{"psi", func() error { _, err := CornerPsi(nil, nil, 4, 15); return err }, "no layer"},
	} {
		if err := tt.err(); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: error %v, want one with %q", tt.name, err, tt.want)
		}
	}
}

func TestCache(t *testing.T) {
	joints := hiveJoints(t)
	// Joints that differ in nothing but an extent.
	for name, thickness := range map[string]float64{"thin rim": 0.01, "thick rim": 0.02} {
		j, err := LidJoint([]Layer{pine}, []Layer{pine}, Rim{Depth: 0.03, Thickness: thickness, Conductivity: 0.1}, 4, 4, 15)
		if err != nil {
			t.Fatal(err)
		}
		joints[name] = j
	}
	// (Powers of two: sums of the layers do not depend on their order.)
	skin, thick := Layer{Thickness: 1.0 / 128, Conductivity: 0.125}, Layer{Thickness: 1.0 / 64, Conductivity: 0.125}
	filling := Layer{Thickness: 1.0 / 32, Conductivity: 1.0 / 32}
	for name, layers := range map[string][]Layer{"thick inside": {thick, filling, skin}, "thick outside": {skin, filling, thick}} {
		j, err := CornerJoint(layers, layers, 4, 15)
		if err != nil {
			t.Fatal(err)
		}
		joints[name] = j
	}
	var cache Cache
	var group sync.WaitGroup
	for range 4 {
		group.Go(func() {
			for name, j := range joints {
				got, err := cache.Solve(j)
				if err != nil {
					t.Errorf("%s: %v", name, err)
					return
				}
				again, err := cache.Solve(j)
				if err != nil || again != got {
					t.Errorf("%s: %+v and then %+v, %v", name, got, again, err)
				}
			}
		})
	}
	group.Wait()
	if cache.Len() != len(joints) {
		t.Errorf("%d joints remembered, want %d", cache.Len(), len(joints))
	}
	for name, j := range joints {
		want, err := j.Solve()
		if err != nil {
			t.Fatal(err)
		}
		if got, _ := cache.Solve(j); got != want {
			t.Errorf("%s: cached %+v, solved %+v", name, got, want)
		}
	}
}

func BenchmarkCornerPsi(b *testing.B) {
	wall := []Layer{plywood, foam, plywood}
	for b.Loop() {
		if _, err := CornerPsi(wall, wall, 4, 15); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLidJoint(b *testing.B) {
	for b.Loop() {
		j, err := LidJoint([]Layer{pine}, []Layer{plywood, foam, plywood}, Rim{Depth: 0.06, Thickness: 0.01, Conductivity: 0.13, Gap: 0.004, GapConductivity: 0.04}, 4, 5, 15)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := j.Solve(); err != nil {
			b.Fatal(err)
		}
	}
}
