package comb

import (
	"math"
	"strings"
	"testing"
)

// TestTableIsAnchored: the ends and the ranges of the table that comes with the
// program are those published or stated as estimates: room temperature 0.578 and
// 0.472 MPa, nothing left at 62 °C, 0.3 to 0.7, 0.2 to 0.55 and 0.1 to 0.45 of
// the strength at 35, 40 and 45 °C for fresh comb.
func TestTableIsAnchored(t *testing.T) {
	wax := table(t)
	for _, c := range []struct{ temperature, low, high float64 }{
		{20, 0.472 / 0.578, 1}, {23, 0.472 / 0.578, 1}, {35, 0.3, 0.7}, {40, 0.2, 0.55}, {45, 0.1, 0.45}, {62, 0, 0},
	} {
		r := wax.Ratio(Fresh, c.temperature)
		if !near(r.Low, c.low, 0.005) || !near(r.High, c.high, 0.005) {
			t.Errorf("fresh comb at %g °C: %v, not %.2f to %.2f", c.temperature, r, c.low, c.high)
		}
	}
	// The high end is the straight line from room temperature to melting.
	for _, temperature := range []float64{35, 40, 45} {
		line := (62 - temperature) / (62 - 23)
		if r := wax.Ratio(Fresh, temperature); !near(r.High, line, 0.015) {
			t.Errorf("%g °C: high end %.3f, line %.3f", temperature, r.High, line)
		}
	}
	// Comb that has held brood is never weaker than fresh comb; nothing gets
	// stronger as it warms; silk keeps its strength to 45 °C at the high end.
	before := [2]Range{wax.Ratio(Fresh, 0), wax.Ratio(Brood, 0)}
	for temperature := 0.0; temperature <= 70; temperature += 0.25 {
		f, b := wax.Ratio(Fresh, temperature), wax.Ratio(Brood, temperature)
		if b.Low < f.Low || b.Mid < f.Mid || b.High < f.High {
			t.Errorf("%g °C: brood comb %v, fresh %v", temperature, b, f)
		}
		for i, r := range [2]Range{f, b} {
			if r.Low > before[i].Low || r.Mid > before[i].Mid || r.High > before[i].High {
				t.Errorf("%g °C: %v after %v", temperature, r, before[i])
			}
			before[i] = r
		}
		if temperature <= 45 && b.High != 1 {
			t.Errorf("%g °C: silk keeps %.2f", temperature, b.High)
		}
	}
	if r := wax.Ratio(Fresh, math.NaN()); !math.IsNaN(r.Mid) {
		t.Errorf("not a number: %v", r)
	}
	if a, b := wax.Ratio("unheard of", 40), wax.Ratio(Fresh, 40); a != b {
		t.Errorf("unknown age: %v, not %v", a, b)
	}
	rows := 0
	wax.Rows(func(temperature float64, fresh, brood Range, basis string) {
		rows++
		f, b := wax.Ratio(Fresh, temperature), wax.Ratio(Brood, temperature)
		if !near(fresh.Mid, f.Mid, 1e-12) || !near(brood.Mid, b.Mid, 1e-12) || basis == "" {
			t.Errorf("row of %g °C: %v, %v, %q", temperature, fresh, brood, basis)
		}
	})
	if rows != 5 {
		t.Errorf("%d rows", rows)
	}
}

const head = "temperature [°C],fresh low [-],fresh mid [-],fresh high [-],brood low [-],brood mid [-],brood high [-],basis\n"

// TestParseTable: a keeper's own table takes the place of the estimate.
func TestParseTable(t *testing.T) {
	own, err := ParseTable(strings.NewReader(head + "20,1,1.2,1.5,2,2,2,own tests\n40,0.4,0.5,0.6,1,1,1,own tests\n60,0,0,0,0,0,0,melting\n"))
	if err != nil {
		t.Fatal(err)
	}
	if r, want := own.Ratio(Fresh, 50), (Range{0.2, 0.25, 0.3}); !near(r.Low, want.Low, 1e-12) || !near(r.Mid, want.Mid, 1e-12) || !near(r.High, want.High, 1e-12) {
		t.Errorf("50 °C: %v, not %v", r, want)
	}
	p, err := New(hung(0.4, 0.2), own, StandardCreep())
	if err != nil {
		t.Fatal(err)
	}
	l := under(t, p, Load{Honey: 2})
	if u, want := l.Utilisation(40).Mid, l.TopLoad()/SolidWaxThickness(WaxMass)/(0.5*RoomStrength); !near(u, want, 1e-12) {
		t.Errorf("own table: utilisation %.5f, not %.5f", u, want)
	}
	for _, c := range []struct{ file, want string }{
		{"", "headings"},
		{"temperature,fresh low [-],fresh mid [-],fresh high [-],brood low [-],brood mid [-],brood high [-],basis\n", "column 1"},
		{head, "0 rows"},
		{head + "20,1,1,1,1,1,1,x\n", "1 rows"},
		{head + "20,1,1,1,1,1,1,x\n20,0,0,0,0,0,0,x\n", "line 3"},
		{head + "20,1,1,1,1,1,1,x\n60,0,0,0.1,0,0,0,x\n", "strength is not 0"},
		{head + "20,1,0.9,1,1,1,1,x\n60,0,0,0,0,0,0,x\n", "do not rise"},
		{head + "20,1,1,1,1,1,9,x\n60,0,0,0,0,0,0,x\n", "brood high"},
		{head + "20,-1,1,1,1,1,1,x\n60,0,0,0,0,0,0,x\n", "fresh low"},
		{head + "20,NaN,1,1,1,1,1,x\n60,0,0,0,0,0,0,x\n", "fresh low"},
		{head + "hot,1,1,1,1,1,1,x\n60,0,0,0,0,0,0,x\n", "line 2"},
		{head + "400,1,1,1,1,1,1,x\n", "between -50 and 100"},
		{head + "20,1,1,1,1,1,1,\n60,0,0,0,0,0,0,x\n", "no basis"},
		{head + "20,1,1,1,1,1,x\n", "wrong number of fields"},
		{head + "20,0,0,0,1,1,1,x\n60,0,0,0,0,0,0,x\n", "no row with any strength"},
	} {
		if _, err := ParseTable(strings.NewReader(c.file)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: error %v, not about %s", c.file, err, c.want)
		}
	}
}

// FuzzParseTable: any file gives an error or a table that answers in order.
func FuzzParseTable(f *testing.F) {
	f.Add(standardFile)
	f.Add(head + "20,1,1,1,1,1,1,x\n60,0,0,0,0,0,0,x\n")
	f.Add(head + "20,1,1\n")
	f.Fuzz(func(t *testing.T, file string) {
		own, err := ParseTable(strings.NewReader(file))
		if err != nil {
			return
		}
		for _, age := range []Age{Fresh, Brood} {
			for _, temperature := range []float64{-40, 20, 35.5, 61, 200} {
				r := own.Ratio(age, temperature)
				// Rounding may turn the order by a hair.
				if !(r.Low <= r.Mid+1e-12 && r.Mid <= r.High+1e-12 && r.Low >= -1e-12 && r.High <= mostRatio+1e-12) {
					t.Errorf("%g °C: %v", temperature, r)
				}
			}
		}
	})
}

// TestCreep: at constant load strain grows with the cube root of time and the
// comb tears at the strain that the law says, after the time it says.
func TestCreep(t *testing.T) {
	c := StandardCreep()
	if got := c.TimeToTear(1); !near(got, 600, 1e-9) {
		t.Errorf("full load: %g s, not the 600 s of the test", got)
	}
	if got := c.TimeToTear(0.5); !near(got, 600*512, 1e-6) {
		t.Errorf("half load: %g s, not 600·2⁹", got)
	}
	if !math.IsInf(c.TimeToTear(0), 1) {
		t.Error("no load tears")
	}
	p := panel(t, hung(0.4, 0.35))
	l := under(t, p, Load{Honey: p.Stores(1, 1, honeyDensity)})
	u := l.Utilisation(42).Mid
	var s State
	one := s.Advance(&l, 3600, 42)
	if want := c.Ductility * u * u * u * math.Cbrt(3600/600.); !near(one.Strain.Mid, want, 1e-12) {
		t.Errorf("an hour: strain %.6f, by hand %.6f", one.Strain.Mid, want)
	}
	eight := s.Advance(&l, 7*3600, 42)
	if !near(eight.Strain.Mid, 2*one.Strain.Mid, 1e-12) {
		t.Errorf("eight hours: strain %.6f, twice that of one is %.6f", eight.Strain.Mid, 2*one.Strain.Mid)
	}
	// Step length does not matter, nor does the order of warm and hot.
	var fine, turned, straight State
	for range 60 * 8 {
		fine.Advance(&l, 60, 42)
	}
	if !near(fine.Life().Mid, s.Life().Mid, 1e-9*s.Life().Mid) {
		t.Errorf("by the minute %.9g, by the hour %.9g", fine.Life().Mid, s.Life().Mid)
	}
	straight.Advance(&l, 3600, 38)
	straight.Advance(&l, 3600, 41)
	turned.Advance(&l, 3600, 41)
	turned.Advance(&l, 3600, 38)
	if !near(straight.Life().Mid, turned.Life().Mid, 1e-12) {
		t.Errorf("order matters: %g, %g", straight.Life().Mid, turned.Life().Mid)
	}
	// Tears just after TimeToTear, at the strain of the law, and stays torn.
	var tear State
	time := c.TimeToTear(u)
	if r := tear.Advance(&l, 0.999*time, 42); r.Class == Falls {
		t.Errorf("fell before its time: %s", r.Sentence())
	}
	r := tear.Advance(&l, 0.002*time, 42)
	if r.Class != Falls || !near(r.Strain.Mid, c.Ductility, 1e-12) {
		t.Errorf("did not fall at its time: %s", r.Sentence())
	}
	if r := tear.Advance(&l, 3600, 20); r.Class != Falls {
		t.Errorf("mended in the cold: %s", r.Sentence())
	}
	before := tear
	tear.Advance(&l, math.NaN(), 20)
	tear.Advance(&l, -5, 20)
	if tear != before {
		t.Error("time that is none changed the comb")
	}
}

// TestClasses: the three words follow the range, and the sentence says them.
func TestClasses(t *testing.T) {
	p := panel(t, Frame{Width: 0.28, Height: 0.405, Age: Fresh, Support: Upright})
	l := under(t, p, Load{Honey: p.Stores(1, 1, honeyDensity)})
	for _, c := range []struct {
		temperature float64
		class       Class
		say         string
	}{
		{25, Holds, "The comb holds"},
		{45, Near, "may fall"},
		{55, Falls, "the top attachment gives way"},
	} {
		var s State
		r := s.Advance(&l, 1, c.temperature) // a second: creep takes no part
		if r.Class != c.class || !strings.Contains(r.Sentence(), c.say) {
			t.Errorf("%g °C: %s, %q", c.temperature, r.Class, r.Sentence())
		}
	}
	var s State
	if r := s.Advance(&l, 3600, 70); !strings.Contains(r.Sentence(), "far more than all") {
		t.Errorf("molten: %q", r.Sentence())
	}
}

func TestCreepErrors(t *testing.T) {
	for _, change := range []func(*Creep){
		func(c *Creep) { c.StressExponent = 0 },
		func(c *Creep) { c.TimeExponent = math.NaN() },
		func(c *Creep) { c.TestTime = -1 },
		func(c *Creep) { c.Ductility = 2 },
	} {
		c := StandardCreep()
		if err := c.Validate(); err != nil {
			t.Fatal(err)
		}
		change(&c)
		if c.Validate() == nil {
			t.Errorf("%+v: no error", c)
		}
	}
}
