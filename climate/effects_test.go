package climate

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"hackle/air"
	"hackle/sun"
)

func TestAtHeight(t *testing.T) {
	s, err := Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	up := s.AtHeight(s.Height + 400)
	checkComplete(t, up)
	sums := func(s *Series, month time.Month) (temp, pressure, vapour float64) {
		n := 0.0
		for i, h := range s.Hours {
			if s.Start.Add(time.Duration(i)*time.Hour).Month() == month {
				temp += h.TempAir
				pressure += h.Pressure
				vapour += h.RelHumidity * air.SaturationPressureLiquid(h.TempAir)
				n++
			}
		}
		return temp / n, pressure / n, vapour / n
	}
	// Table of 1989: 4.4 K/km in the middle of January, 8.1 of July; a month's mean
	// of the joined lines is a little off its middle.
	for _, c := range []struct {
		month time.Month
		lapse float64
	}{{time.January, 4.4}, {time.July, 8.1}, {time.October, 6.8}} {
		t0, p0, e0 := sums(s, c.month)
		t1, p1, e1 := sums(up, c.month)
		if got := (t0 - t1) / 0.4; math.Abs(got-c.lapse) > 0.25 {
			t.Errorf("%s: %.2f K/km, want %.1f", c.month, got, c.lapse)
		}
		// The standard atmosphere between the same heights, 1 % for the day's temperature.
		if want := StandardPressure(s.Height+400) / StandardPressure(s.Height); math.Abs(p1/p0/want-1) > 0.01 {
			t.Errorf("%s: pressure ratio %.4f, standard atmosphere %.4f", c.month, p1/p0, want)
		}
		// exp(-0.4·0.33) to exp(-0.4·0.42), less where it is held to saturation.
		if r := e1 / e0; r > 0.88 || r < 0.82 {
			t.Errorf("%s: vapour ratio %.3f", c.month, r)
		}
	}
	if !hasRepair(up, "height", "wanted at") || len(up.AtHeight(up.Height).Repairs) != len(up.Repairs) {
		t.Error("the note of the height")
	}
	// There and back.
	back := up.AtHeight(s.Height)
	for i := range back.Hours {
		if math.Abs(back.Hours[i].TempAir-s.Hours[i].TempAir) > 1e-9 || math.Abs(back.Hours[i].Pressure/s.Hours[i].Pressure-1) > 1e-3 {
			t.Fatalf("hour %d there and back: %+v, was %+v", i, back.Hours[i], s.Hours[i])
		}
	}
	january, _ := LapseRate(45, time.Date(2015, 1, 15, 12, 0, 0, 0, time.UTC))
	july, _ := LapseRate(-45, time.Date(2015, 7, 16, 12, 0, 0, 0, time.UTC))
	if tropic, _ := LapseRate(10, time.Date(2015, 1, 15, 0, 0, 0, 0, time.UTC)); math.Abs(january-july) > 1e-4 || tropic != 0.0065 {
		t.Errorf("lapse rates: January %.5f, southern July %.5f, tropics %.5f", january, july, tropic)
	}
}

func TestShelterFactor(t *testing.T) {
	// By hand with the stated coefficients, p = 0.5: a = 0.0051, b = 0.8735,
	// c = 7.5, d = 2.5.
	for _, c := range []struct{ heights, porosity, want float64 }{
		{5, 0.5, 0.286}, {15, 0.5, 0.683}, {0, 0.5, 0.550}, {-7.5, 0.5, 1}, {35, 0.5, 0.998}, {10, 0, 0.551},
	} {
		if got := ShelterFactor(c.heights, c.porosity); math.Abs(got-c.want) > 0.004 {
			t.Errorf("%g heights, porosity %g: %.3f, want %.3f", c.heights, c.porosity, got, c.want)
		}
	}
	r := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		x, p := r.Float64()*60-20, r.Float64()*1.2-0.1
		if f := ShelterFactor(x, p); !(f >= 0 && f <= 1) {
			t.Fatalf("ShelterFactor(%g, %g) = %g", x, p, f)
		}
	}
}

func TestWindbreak(t *testing.T) {
	b := Windbreak{From: 240, To: 300, Height: 4, Distance: 16, Porosity: 0.3, BarePorosity: 0.6}
	square := b.Factor(270, 1)
	if want := ShelterFactor(4, 0.3); math.Abs(square-want) > 1e-12 {
		t.Errorf("square: %.3f, want %.3f", square, want)
	}
	if bare := b.Factor(270, 0); bare <= square {
		t.Errorf("bare %.3f shelters better than in leaf %.3f", bare, square)
	}
	if side := b.Factor(0, 1); side != 1 {
		t.Errorf("wind along: %.3f", side)
	}
	if end := b.Factor(307, 1); !(end > square && end < 1) {
		t.Errorf("just past the end: %.3f", end)
	}
	if front := b.Factor(90, 1); math.Abs(front-ShelterFactor(-4, 0.3)) > 1e-12 || front < 0.8 {
		t.Errorf("in front: %.3f", front)
	}
	if all := (Windbreak{Height: 2, Distance: 4, Porosity: 0.3}).Factor(123, 1); all > 0.5 {
		t.Errorf("a ring of hedge: %.3f", all)
	}
	s, err := Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	w := s.Sheltered([]Windbreak{b}, LeavesAt(s.Latitude, s.Height))
	checkComplete(t, w)
	changed := 0
	for i := range w.Hours {
		if w.Hours[i].WindSpeed > s.Hours[i].WindSpeed+1e-12 {
			t.Fatalf("hour %d: windier behind a hedge", i)
		}
		if w.Hours[i].WindSpeed != s.Hours[i].WindSpeed {
			changed++
		}
	}
	if changed == 0 || !hasRepair(w, "wind speed", "1 windbreaks") {
		t.Errorf("%d hours changed", changed)
	}
}

func TestLeaves(t *testing.T) {
	l := LeavesAt(44.5, 100)
	at := func(month time.Month, day int) float64 {
		return l.Share(time.Date(2015, month, day, 0, 0, 0, 0, time.UTC))
	}
	if at(time.January, 15) != 0 || at(time.July, 1) != 1 || at(time.December, 20) != 0 {
		t.Errorf("leaves %v %v %v", at(time.January, 15), at(time.July, 1), at(time.December, 20))
	}
	south := LeavesAt(-44.5, 100)
	if south.Share(time.Date(2015, 1, 5, 0, 0, 0, 0, time.UTC)) != 1 || south.Share(time.Date(2015, 7, 5, 0, 0, 0, 0, time.UTC)) != 0 {
		t.Error("southern leaves")
	}
	if LeavesAt(10, 0).Share(time.Date(2015, 1, 5, 0, 0, 0, 0, time.UTC)) != 1 {
		t.Error("tropical leaves")
	}
	if lower, higher := LeavesAt(45, 0), LeavesAt(45, 122); higher.Out-lower.Out != 4 {
		t.Errorf("122 m higher: %d days later", higher.Out-lower.Out)
	}
}

func TestShade(t *testing.T) {
	january, july := time.Date(2015, 1, 10, 0, 0, 0, 0, time.UTC), time.Date(2015, 7, 10, 0, 0, 0, 0, time.UTC)
	sh := Shade{Lines: []TreeLine{{From: 135, To: 225, Elevation: 30, Kind: Deciduous}, {From: 300, To: 60, Elevation: 20, Kind: Solid}}, Leaves: Leaves{Out: 110, Fall: 305}}
	for _, c := range []struct {
		azimuth, elevation float64
		at                 time.Time
		want               float64
	}{
		{180, 20, january, throughBare}, {180, 20, july, throughLeaves}, {180, 40, january, 1}, {100, 5, july, 1}, {10, 10, july, 0}, {350, 25, july, 1},
	} {
		if got := sh.Direct(sun.Pos{Azimuth: c.azimuth, Elevation: c.elevation}, c.at); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("azimuth %g, elevation %g: %g, want %g", c.azimuth, c.elevation, got, c.want)
		}
	}
	// A wall all round up to e leaves cos² e of an even sky, in closed form.
	for _, e := range []float64{0, 10, 45, 80} {
		ring := Shade{Lines: []TreeLine{{Elevation: e, Kind: Solid}}}
		cos := math.Cos(e * math.Pi / 180)
		if got := ring.SkyView(july); math.Abs(got-cos*cos) > 1e-9 {
			t.Errorf("ring of %g deg: sky %g, want %g", e, got, cos*cos)
		}
	}
	if got := (Shade{}).SkyView(july); math.Abs(got-1) > 1e-12 {
		t.Errorf("open sky %g", got)
	}
	s, err := Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	w := s.Shaded(sh)
	checkComplete(t, w)
	// In a well only its mouth is left of the sky, and the sum follows its parts.
	well := s.Shaded(Shade{Lines: []TreeLine{{Elevation: 80, Kind: Solid}}})
	for i, h := range well.Hours {
		a := s.Hours[i]
		const mouth = 0.03015 // cos² 80°; files round global and diffuse apart from each other
		if low, high := min(a.DiffuseHorizontal, a.GlobalHorizontal)*mouth, a.GlobalHorizontal*mouth; h.DirectNormal != 0 || h.GlobalHorizontal < 0.99*low || h.GlobalHorizontal > 1.01*high {
			t.Fatalf("hour %d in a well: %+v of %+v", i, h, a)
		}
	}
	winter, summer := [2]float64{}, [2]float64{}
	for i := range w.Hours {
		a, b := s.Hours[i], w.Hours[i]
		if b.GlobalHorizontal > a.GlobalHorizontal+1e-9 || b.DirectNormal > a.DirectNormal+1e-9 || b.SkyLongWave < a.SkyLongWave*0.999 && a.SkyLongWave < sun.BlackBody(a.TempAir) {
			t.Fatalf("hour %d: %+v shaded to %+v", i, a, b)
		}
		switch s.Start.Add(time.Duration(i) * time.Hour).Month() {
		case time.December, time.January:
			winter[0] += a.DirectNormal
			winter[1] += b.DirectNormal
		case time.June, time.July:
			summer[0] += a.DirectNormal
			summer[1] += b.DirectNormal
		}
	}
	// At 44° the December sun stays below the trees, the June sun mostly above.
	if winter[1]/winter[0] > 0.75 || summer[1]/summer[0] < 0.7 {
		t.Errorf("kept in winter %.2f, in summer %.2f", winter[1]/winter[0], summer[1]/summer[0])
	}
}

func TestFrostHollow(t *testing.T) {
	s, err := Builtin("burlington-vt")
	if err != nil {
		t.Fatal(err)
	}
	w := s.InHollow(FrostHollow{Drop: 4})
	checkComplete(t, w)
	deepest := 0.0
	for i := range w.Hours {
		a, b := s.Hours[i], w.Hours[i]
		drop := a.TempAir - b.TempAir
		deepest = max(deepest, drop)
		if drop < 0 || drop > 4 || b.RelHumidity < a.RelHumidity-1e-12 {
			t.Fatalf("hour %d: drop %.2f K, humidity %.2f from %.2f", i, drop, b.RelHumidity, a.RelHumidity)
		}
		if noon := s.Start.Add(time.Duration(i) * time.Hour).Hour(); noon == 13 && drop > 0.1 {
			t.Fatalf("hour %d: %.2f K colder after noon", i, drop)
		}
	}
	if deepest < 2 {
		t.Errorf("deepest %.2f K of 4", deepest)
	}
}

func TestSnowCover(t *testing.T) {
	// Ten hours of 1 mm at -5 °C: new snow of 67.92 + 51.25 exp(-5/2.59) = 75.4
	// kg/m³ and so 13.3 cm, of which settling by 1 % an hour of the way to 300 takes
	// about a tenth; then 20 h at +6 °C melt
	// 3.5·6/24 = 0.875 mm an hour, 10 mm in 11.4 h.
	s := &Series{Name: "made", HasRain: true, Start: time.Date(2015, 1, 1, 0, 0, 0, 0, time.UTC)}
	for i := range 40 {
		h := Hour{TempAir: -5, RelHumidity: 0.9, Pressure: 1e5}
		switch {
		case i < 10:
			h.Rain = 1
		case i >= 20:
			h.TempAir = 6
		}
		s.Hours = append(s.Hours, h)
	}
	c := s.SnowCover()
	if math.Abs(c[9].Water-10) > 1e-9 || c[9].Depth < 0.115 || c[9].Depth > 0.1327 {
		t.Errorf("after the fall: %+v", c[9])
	}
	if c[19].Depth >= c[9].Depth || c[19].Density <= c[9].Density || c[19].Water != c[9].Water {
		t.Errorf("settled: %+v after %+v", c[19], c[9])
	}
	if math.Abs(c[24].Water-(10-5*0.875)) > 1e-9 || c[31].Water != 0 || c[30].Water <= 0 {
		t.Errorf("melting: %+v, %+v, %+v", c[24], c[30], c[31])
	}
	// Half of the water falls as snow at +1 °C.
	mixed := Snow{}
	warm := &Series{HasRain: true, Hours: []Hour{{TempAir: 1, Rain: 4}}}
	if mixed = warm.SnowCover()[0]; math.Abs(mixed.Water-(2-3.5/24)) > 1e-9 {
		t.Errorf("mixed: %+v", mixed)
	}
	w := s.WithSnow()
	if !w.HasSnow || w.Hours[15].SnowDepth != c[15].Depth || s.Hours[15].SnowDepth != 0 || !hasRepair(w, "snow depth", "unknown") {
		t.Errorf("with snow: %+v", w.Hours[15])
	}
	s.HasRain = false
	if s.WithSnow().HasSnow {
		t.Error("snow without rain")
	}
	// Water is kept: what fell as snow has melted or lies.
	r := rand.New(rand.NewPCG(3, 4))
	var n Snow
	fell, melted := 0.0, 0.0
	for range 5000 {
		fresh, temp := max(r.Float64()-0.7, 0), r.Float64()*20-13
		before := n.Water
		n.step(fresh, temp)
		fell += fresh
		melted += before + fresh - n.Water
		if n.Depth < 0 || n.Depth > 0 && (n.Density < 60 || n.Density > 301) {
			t.Fatalf("%+v", n)
		}
	}
	if math.Abs(fell-melted-n.Water) > 1e-6 {
		t.Errorf("fell %.3f mm, melted %.3f, lies %.3f", fell, melted, n.Water)
	}
	// Conductivity of settled snow about 0.27 W/(m·K) by the relation itself.
	if k := SnowConductivity(300); math.Abs(k-0.272) > 0.003 {
		t.Errorf("conductivity %.3f", k)
	}
}
