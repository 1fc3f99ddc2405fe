package season

import (
	"context"
	"math"
	"testing"
	"time"

	"hackle/airflow"
	"hackle/climate"
	"hackle/colony"
	"hackle/hive"
	"hackle/sun"
	"hackle/wall"
)

// TestSnowPathsAgainstLaplace holds the paths of heat through snow against the
// finite differences of Laplace's equation in a layer with a wall at its end: ground
// and wall at 0, surface at 1, and the mirror of it.
func TestSnowPathsAgainstLaplace(t *testing.T) {
	const (
		n     = 80    // cells over the depth
		wide  = 3 * n // cells away from the wall
		depth = 0.4   // m
		k     = 0.15  // W/(m·K)
		d     = depth / n
	)
	u := make([][]float64, wide+1)
	for i := range u {
		u[i] = make([]float64, n+1)
		u[i][n] = 1
	}
	u[0][n] = 0
	const relax = 1.95
	for range 1200 {
		for i := 1; i < wide; i++ {
			for j := 1; j < n; j++ {
				u[i][j] += relax * ((u[i-1][j]+u[i+1][j]+u[i][j-1]+u[i][j+1])/4 - u[i][j])
			}
		}
		for j := 1; j < n; j++ { // far from the wall the field is that of a plain layer
			u[wide][j] = float64(j) / n
		}
	}
	for _, band := range [][2]int{{8, 24}, {30, 50}, {50, 72}} {
		flux := 0.0
		for j := band[0]; j < band[1]; j++ {
			// Half cells at the ends of the band.
			q := func(j int) float64 { return k * (2*u[1][j] - u[2][j]/2) / d }
			flux += (q(j) + q(j+1)) / 2 / float64(band[1]-band[0])
		}
		a, b := float64(band[0])*d, float64(band[1])*d
		surface, _ := snowPaths(k, depth, a, b, 0, 0)
		if math.Abs(surface/flux-1) > 0.01 {
			t.Errorf("from %.3f to %.3f m: to the surface %.4f W/(m²·K), Laplace %.4f", a, b, surface, flux)
		}
		_, ground := snowPaths(k, depth, depth-b, depth-a, 0, 0)
		if math.Abs(ground/surface-1) > 1e-9 {
			t.Errorf("the paths are no mirror images: %g and %g", ground, surface)
		}
	}
	// What is held holds: no more than the films pass, however near.
	surface, ground := snowPaths(k, depth, 0, depth, 0.05, 0.1)
	if surface > 20 || ground > 10 || surface < k/depth || ground < k/depth {
		t.Errorf("to the surface %g, to the ground %g W/(m²·K)", surface, ground)
	}
}

func TestLidUnderSnow(t *testing.T) {
	s := climate.Snow{Depth: 1, OnLid: 0.7, Density: 250, Conductivity: climate.SnowConductivity(250)}
	cold := lidUnderSnow(s, -20, -35, 15, 0)
	if r := 1 / cold.film; r < 0.7/s.Conductivity || r > 0.7/s.Conductivity+1.0/15 {
		t.Errorf("70 cm of snow hold %.2f m²·K/W, alone %.2f", r, 0.7/s.Conductivity)
	}
	if cold.feels > -20 || cold.feels < -35 {
		t.Errorf("the surface of snow at -20 °C under a clear sky is at %.1f °C", cold.feels)
	}
	if thaw := lidUnderSnow(s, 4, 4, 15, 300); thaw.feels != 0 || math.Abs(thaw.film-s.Conductivity/0.7) > 1e-12 {
		t.Errorf("thawing snow leads to %.1f °C by %.3f W/(m²·K)", thaw.feels, thaw.film)
	}
	thin := s
	thin.OnLid = 1e-6
	bare := radiated(hive.Finish{Emissivity: 0.98, SolarAbsorptance: 1 - climate.SnowAlbedo(250)}, -5, -5, -5, 15, 0)
	if got := lidUnderSnow(thin, -5, -5, 15, 0); math.Abs(got.film/bare.film-1) > 1e-3 {
		t.Errorf("a breath of snow: %.3f W/(m²·K), bare %.3f", got.film, bare.film)
	}
}

// TestThroughSnow goes to the limits: loose snow hinders nothing, tight snow passes
// what Darcy's law gives a line source.
func TestThroughSnow(t *testing.T) {
	law := airflow.Orifice(0.1*0.01, 0.62, 0.02, 0.01)
	if got := throughSnow(law, 1, 0.1, 0.2, 0.005, 1); math.Abs(got-1) > 1e-3 {
		t.Errorf("snow as open as air leaves %.4f of the flow", got)
	}
	const permeability = 1e-9
	got := throughSnow(law, 1, 0.1, 0.2, 0.005, permeability)
	open := law.Flow(snowPressure, airflow.ReferenceDensity, airflow.ReferenceViscosity)
	want := permeability * 0.1 * math.Pi * snowPressure / (airflow.ReferenceViscosity * math.Log(80))
	if math.Abs(got*open/want-1) > 0.01 {
		t.Errorf("tight snow passes %.3g m³/s, Darcy %.3g", got*open, want)
	}
	if got > 0.01 {
		t.Errorf("a snowed-in entrance keeps %.3f of its flow", got)
	}
}

// TestOppositeView: two equal squares as far apart as they are long, the cube of
// handbook tables, 0.1998; and endless strips, sqrt(1+H²)-H per distance.
func TestOppositeView(t *testing.T) {
	if f := oppositeView(1, 1, 1); math.Abs(f-0.1998) > 5e-5 {
		t.Errorf("cube: %.5f, want 0.1998", f)
	}
	if f, want := oppositeView(1e4, 1, 2), math.Sqrt(1+4)-2; math.Abs(f-want) > 1e-3 {
		t.Errorf("strips: %.4f, want %.4f", f, want)
	}
	if near, far := oppositeView(0.5, 0.5, 0.001), oppositeView(0.5, 0.5, 50); near < 0.99 || far > 1e-3 {
		t.Errorf("close by %.4f, far off %.6f", near, far)
	}
}

func TestShadowOfNeighbour(t *testing.T) {
	r := &run{}
	r.in.Plan.Hive.Bodies = []hive.Body{{Length: 0.5, Width: 0.4, Height: 0.5}}
	r.in.Plan.Site.Beside[hive.Right] = 0.2 // the right looks west when the front looks south
	r.in.Plan.Hive.FrontAzimuth = 180
	height := r.in.Plan.Hive.Height()
	for _, c := range []struct{ azimuth, elevation, want float64 }{
		{270, 0.001, 1}, // straight on and level: all in shadow
		{270, 45, 1 - 0.2/height},
		{270, 89, 0},
		{90, 30, 0}, // from behind: no beam there
		{270 + math.Atan(0.5/0.2)*180/math.Pi + 0.1, 1, 0},
	} {
		if got := r.shadowOf(int(hive.Right), sun.Pos{Azimuth: c.azimuth, Elevation: c.elevation}); math.Abs(got-c.want) > 1e-4 {
			t.Errorf("sun at %g°, %g° high: %.4f in shadow, want %.4f", c.azimuth, c.elevation, got, c.want)
		}
	}
}

// TestGroundResistance: the floor on the ground follows ISO 13370. At d_t = B' its
// two formulas for a slab on the ground meet; the one for well insulated floors is
// used here.
func TestGroundResistance(t *testing.T) {
	const length, width = 0.5, 0.4
	b := length * width / (0.5 * 2 * (length + width))
	floor := (b - soilK*(groundResistance(length, width)-0.457*b/soilK)) / soilK // so that d_t = B'
	u := 1 / (groundResistance(length, width) + floor)
	loose := 2 * soilK / (math.Pi*b + b) * math.Log(math.Pi*b/b+1)
	if math.Abs(u/loose-1) > 0.005 {
		t.Errorf("U %.3f W/(m²·K), by the other formula %.3f", u, loose)
	}
}

// snowy is a week in January with so much snow on the ground all the time.
func snowy(t testing.TB, depth, temp float64) *climate.Series {
	t.Helper()
	w := spellOf(t, "minneapolis-mn", time.January, 10, 7)
	for i := range w.Hours {
		w.Hours[i].SnowDepth = depth
		w.Hours[i].TempAir = temp
		w.Hours[i].RelHumidity = 0.7
	}
	w.HasSnow = depth > 0
	return w
}

func spellOf(t testing.TB, place string, month time.Month, day, days int) *climate.Series {
	t.Helper()
	s, err := climate.Builtin(place)
	if err != nil {
		t.Fatal(err)
	}
	from := time.Date(2026, month, day, 0, 0, 0, 0, s.Location())
	w, err := s.Window(from, from.AddDate(0, 0, days))
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func lived(t testing.TB, p hive.Plan, w *climate.Series) *Trace {
	t.Helper()
	tr, err := Run(context.Background(), Input{Plan: p, Weather: w, Biology: colony.DefaultBiology(), Joints: &wall.Cache{}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// TestSnowKeepsAHiveWarm buries a thin hive by steps in hard frost.
func TestSnowKeepsAHiveWarm(t *testing.T) {
	p := twoDeep(t)
	p.Hive.StandHeight = 0.1
	heat := func(tr *Trace) float64 { return total(tr.Get("bees.heat")) / float64(tr.Hours) }
	lower := func(tr *Trace) float64 { return total(tr.Get("loss.walls")) / float64(tr.Hours) }
	bare, half, deep := lived(t, p, snowy(t, 0, -20)), lived(t, p, snowy(t, 0.35, -20)), lived(t, p, snowy(t, 1.2, -20))
	t.Logf("bees give %.2f W bare, %.2f W in 35 cm, %.2f W under 120 cm of snow; walls lose %.2f, %.2f, %.2f W",
		heat(bare), heat(half), heat(deep), lower(bare), lower(half), lower(deep))
	if !(heat(half) < 0.97*heat(bare) && heat(deep) < 0.97*heat(half)) {
		t.Errorf("snow saves too little: %.2f W bare, %.2f W in 35 cm, %.2f W under 120 cm", heat(bare), heat(half), heat(deep))
	}
	// A hive deep in snow lives as in air of about the ground's 0 °C.
	mild := lived(t, p, snowy(t, 0, 0))
	if math.Abs(heat(deep)/heat(mild)-1) > 0.15 {
		t.Errorf("%.2f W under 120 cm of snow, %.2f W in air of 0 °C", heat(deep), heat(mild))
	}
	// Snow over the low entrance: much less air.
	air := func(tr *Trace) float64 { return total(tr.Get("air.out")) / float64(tr.Hours) }
	if !(air(half) < 0.8*air(bare)) {
		t.Errorf("air out %.3g m³/s bare, %.3g with the entrance in snow", air(bare), air(half))
	}
	for name, tr := range map[string]*Trace{"35 cm": half, "120 cm": deep} {
		c := tr.Totals.Closure()
		if worst := max(math.Abs(c.Heat), math.Abs(c.Vapour), math.Abs(c.CO2), math.Abs(c.Air)); worst > 0.001 {
			t.Errorf("%s: balances leave %.2g of what passed", name, worst)
		}
	}
}

// TestNeighbourShades: a hive close to the left keeps sun off that side and the
// wind, and changes nothing else by much.
func TestNeighbourShades(t *testing.T) {
	p := hotHive(t)
	w := spellOf(t, "phoenix-az", time.July, 10, 3)
	alone := lived(t, p, w)
	p.Site.Beside[hive.Left] = 0.1
	p.Site.Beside[hive.Right] = 0.1
	flanked := lived(t, p, w)
	gain := func(tr *Trace) float64 { return -(tr.Totals.Lost.Walls[hive.Left] + tr.Totals.Lost.Walls[hive.Right]) }
	t.Logf("the sides take in %.1f MJ alone, %.1f MJ between two hives", gain(alone)/1e6, gain(flanked)/1e6)
	if !(gain(flanked) < gain(alone)) {
		t.Errorf("a hive on either side does not shade: %.3g J against %.3g J", gain(flanked), gain(alone))
	}
}
