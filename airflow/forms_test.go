package airflow

import (
	"math"
	"testing"
)

func near(t *testing.T, what string, got, want, share float64) {
	t.Helper()
	if !(math.Abs(got-want) <= share*math.Abs(want)) {
		t.Errorf("%s: %g, want %g", what, got, want)
	}
}

// Strips must add up to the opening they are cut from.
func TestStripsAddUp(t *testing.T) {
	for _, shape := range []Shape{Slot, Round} {
		whole := 0.03 * 0.03
		if shape == Round {
			whole *= math.Pi / 4
		}
		for n := 1; n <= 7; n++ {
			strips := OpeningStrips(shape, 0.1, 0.03, 0.03, 0.02, 0.6, n)
			area, moment, flow := 0.0, 0.0, 0.0
			for _, b := range strips {
				area += b.Area
				moment += b.Area * b.Height
				flow += b.Law.Flow(0.05, 1.2, 1.8e-5)
			}
			near(t, "area", area, whole, 1e-12)
			near(t, "centre", moment/area, 0.115, 1e-12)
			gap := RoundGap(0.03)
			if shape == Slot {
				gap = SlotGap(0.03, 0.03)
			}
			near(t, "flow one way", flow, Orifice(whole, 0.6, 0.02, gap).Flow(0.05, 1.2, 1.8e-5), 1e-12)
		}
	}
}

// The error of two-way exchange by the number of strips, as the doc comment of
// OpeningStrips states it.
func TestStripsExchange(t *testing.T) {
	for n, stated := range map[int]float64{2: 0.060, 3: -0.166, 4: 0.024, 8: 0.009, 20: 0.002} {
		links := Links(OpeningStrips(Slot, 0, 0.3, 0.5, 0, 0.6, n), Outside, 0, -1, 0, "door")
		net := mustNetwork(t, []Node{{}}, links)
		s := net.NewState()
		c := conditionsAt(0, 25)
		mustSolve(t, net, c, s)
		in := 0.0
		for _, m := range s.MassFlow {
			in += math.Max(0, m)
		}
		want, _ := DoorwayMassFlow(0.3, 0.5, 0.6, c.Density[0], c.OutdoorDensity)
		if math.Abs(in/want-1-stated) > 0.001 {
			t.Errorf("%d strips: exchange off by %g, stated %g", n, in/want-1, stated)
		}
	}
}

// The mass form of the doorway tends to the Boussinesq form for small differences.
func TestDoorwayForms(t *testing.T) {
	const warm, cold = 1.2, 1.2012
	m, h := DoorwayMassFlow(0.8, 2, 0.6, warm, cold)
	near(t, "flow", m/1.2006, DoorwayExchange(0.8, 2, 0.6, ReducedGravity(warm, cold)), 1e-6)
	near(t, "neutral plane", h, 1, 1e-3)
	if m, h := DoorwayMassFlow(1, 2, 0.6, 1.2, 1.2); m != 0 || h != 1 {
		t.Errorf("no difference: flow %g, neutral plane %g", m, h)
	}
}

func TestHorizontalExchange(t *testing.T) {
	for _, join := range []float64{0.15, 0.4, 3.25} {
		a, b := HorizontalFroude(join), HorizontalFroude(join*(1+1e-12))
		near(t, "join", b, a, 0.036)
	}
	if q := HorizontalExchange(0.03, 0.02, 1.25, 1.2); q != 0 {
		t.Errorf("light air above: %g, want 0", q)
	}
	if a, b := HorizontalExchange(0.03, 0.02, 1.2, 1.25), HorizontalExchange(0.06, 0.04, 1.2, 1.25); math.Abs(b/a-math.Pow(2, 2.5)) > 1e-9 {
		t.Errorf("twice the size: factor %g, want 2^2.5", b/a)
	}
}

func TestSingleSided(t *testing.T) {
	// 1 m², 1.2 m high, 2 m/s, 10 K: sqrt(0.01 + 0.004 + 0.042)/2.
	near(t, "whole", SingleSided(1, 1.2, 2, -10), math.Sqrt(0.056)/2, 1e-12)
	near(t, "wind part", SingleSidedWind(1, 2), math.Sqrt(0.004)/2, 1e-12)
	if SingleSidedWind(1, 0) != 0 {
		t.Error("wind part in still air")
	}
}

func TestStackDirection(t *testing.T) {
	up := TwoOpeningStack(1e-3, 2e-3, 0.5, 1.1, 1.3)
	down := TwoOpeningStack(2e-3, 1e-3, 0.5, 1.3, 1.1)
	// Colder indoors, indoor air leaves below and outdoor air enters above.
	near(t, "downwards", -down, math.Sqrt(2*Gravity*0.5*0.2/(1/(1.3*4e-6)+1/(1.1*1e-6))), 1e-12)
	near(t, "upwards", up, math.Sqrt(2*Gravity*0.5*0.2/(1/(1.3*1e-6)+1/(1.1*4e-6))), 1e-12)
	near(t, "gain of the inverse", UnequalOpeningGain(0.5), UnequalOpeningGain(2), 1e-12)
}

func TestHeatedBox(t *testing.T) {
	const rho, cp = 1.27, 1006.0
	temp, m := HeatedBox(20, 0.5, 9e-4, 3e-4, 0.5, 5, rho, cp)
	near(t, "balance", (0.5+cp*m)*(temp-5), 20, 1e-9)
	if temp, m := HeatedBox(0, 0.5, 1e-3, 1e-3, 0.5, 5, rho, cp); temp != 5 || m != 0 {
		t.Errorf("no heat: %g °C, %g kg/s", temp, m)
	}
	if temp, _ := HeatedBox(10, 0.5, 0, 1e-3, 0.5, 5, rho, cp); math.Abs(temp-25) > 1e-9 {
		t.Errorf("one opening closed: %g °C, want 25", temp)
	}
	if temp, _ := HeatedBox(10, 0, 0, 0, 0.5, 5, rho, cp); !math.IsInf(temp, 1) {
		t.Errorf("no loss: %g °C, want +Inf", temp)
	}
}

// Integrating the plume's own equations (volume, momentum, buoyancy of a top-hat
// plume) must give the constant of its closed form.
func TestPlumeConstantByIntegration(t *testing.T) {
	const alpha, buoyancy = 0.1, 1.0
	// dQ/dz = 2 alpha sqrt(pi M), dM/dz = B Q/M, started on the closed form of M
	// near the source: M = (9 alpha B/10)^(2/3) pi^(1/3) z^(4/3).
	z := 1e-3
	q := PlumeFlow(buoyancy, z, alpha)
	m := math.Pow(9*alpha*buoyancy/10, 2.0/3) * math.Cbrt(math.Pi) * math.Pow(z, 4.0/3)
	f := func(q, m float64) (float64, float64) {
		return 2 * alpha * math.Sqrt(math.Pi*m), buoyancy * q / m
	}
	const steps = 200000
	h := (1 - z) / steps
	for range steps {
		a, b := f(q, m)
		c, d := f(q+h/2*a, m+h/2*b)
		q, m = q+h*c, m+h*d
	}
	near(t, "flow at 1 m", q, PlumeFlow(buoyancy, 1, alpha), 1e-4)
	// The virtual origin puts the cone's radius b = Q/sqrt(pi M) at the source.
	near(t, "virtual origin", VirtualOrigin(q/math.Sqrt(math.Pi*m), alpha), 1, 1e-4)
}

func TestPlumeLimits(t *testing.T) {
	if PlumeFlow(1, -1, 0.1) != 0 || PlumeFlow(0, 1, 0.1) != 0 || LinePlumeFlow(1, 0, 0.1) != 0 || PlumeGravity(0, 1, 0.1) != 0 {
		t.Error("flow below the source or without buoyancy")
	}
	near(t, "buoyancy is carried", PlumeFlow(2e-4, 0.3, 0.1)*PlumeGravity(2e-4, 0.3, 0.1), 2e-4, 1e-12)
	near(t, "buoyancy is carried, line", LinePlumeFlow(2e-4, 0.3, 0.1)*LinePlumeGravity(2e-4, 0.3, 0.1), 2e-4, 1e-12)
}

func TestInterfaceInverse(t *testing.T) {
	for xi := 0.01; xi < 1; xi += 0.01 {
		near(t, "point", InterfaceHeight(InterfaceArea(xi, 0.1), 0.1), xi, 1e-10)
		near(t, "line", LineInterfaceHeight(LineInterfaceArea(xi, 0.11), 0.11), xi, 1e-10)
	}
	if InterfaceHeight(0, 0.1) != 0 || InterfaceArea(0, 0.1) != 0 || !math.IsInf(InterfaceArea(1, 0.1), 1) {
		t.Error("ends of the range")
	}
}

func TestTwoLayer(t *testing.T) {
	box := TwoLayer{ReducedArea: 0.002, Height: 0.5, Floor: 0.2, Buoyancy: 5e-4, Alpha: 0.1}
	for range 20 {
		if err := box.Advance(200); err != nil {
			t.Fatal(err)
		}
	}
	want := Displace(0.002, 0.5, 5e-4, 1, 0.1)
	near(t, "steady interface", box.Interface(), want.Interface, 1e-6)
	near(t, "steady gravity", box.Gravity(), want.Gravity, 1e-6)

	// Sealed, the layer keeps all its buoyancy and reaches the floor.
	sealed := TwoLayer{Height: 0.5, Floor: 0.2, Buoyancy: 5e-4, Alpha: 0.1}
	if err := sealed.Advance(30); err != nil {
		t.Fatal(err)
	}
	near(t, "content", sealed.Content, 5e-4*30/0.2, 1e-9)
	// d(H-d)/dt = -C B^(1/3) (H-d)^(5/3)/S in closed form.
	k := 2.0 / 3 * PlumeConstant(0.1) * math.Cbrt(5e-4) / 0.2 * 30
	near(t, "first front", sealed.Interface(), math.Pow(math.Pow(0.5, -2.0/3)+k, -1.5), 1e-6)

	still := TwoLayer{ReducedArea: 0.002, Height: 0.5, Floor: 0.2, Alpha: 0.1}
	if err := still.Advance(1e6); err != nil || still.Depth != 0 {
		t.Errorf("no source, no layer: depth %g, error %v", still.Depth, err)
	}
	for _, bad := range []TwoLayer{{}, {Height: 1, Floor: 1, Alpha: 0.1, Buoyancy: -1}, {Height: 1, Floor: 1, Alpha: 0.1, Depth: math.NaN()}} {
		if bad.Advance(1) == nil {
			t.Errorf("%+v accepted", bad)
		}
	}
	if still.Advance(-1) == nil || still.Advance(math.Inf(1)) == nil {
		t.Error("backward or endless duration accepted")
	}
}

func TestMixedConcentration(t *testing.T) {
	near(t, "start", MixedConcentration(0.004, 0.0004, 0.06, 2e-4, 1e-6, 0), 0.004, 1e-12)
	near(t, "no flow", MixedConcentration(0.004, 0.0004, 0.06, 0, 1e-6, 600), 0.014, 1e-12)
}

func TestSurfaceCoefficients(t *testing.T) {
	for _, e := range []Exposure{Exposed, SemiExposed, Sheltered} {
		for angle := -720.0; angle <= 720; angle += 7.5 {
			a := SurfaceCoefficients(e, angle)
			mirror := SurfaceCoefficients(e, -angle)
			quarter := SurfaceCoefficients(e, angle+90)
			if a[FaceFront] != mirror[FaceFront] || a[FaceLeft] != mirror[FaceRight] {
				t.Errorf("exposure %d, %g°: not symmetric", e, angle)
			}
			// A square box turned by a quarter: front takes the place of right.
			if math.Abs(a[FaceFront]-quarter[FaceRight]) > 1e-12 || math.Abs(a[FaceLeft]-quarter[FaceFront]) > 1e-12 ||
				math.Abs(a[FaceBack]-quarter[FaceLeft]) > 1e-12 {
				t.Errorf("exposure %d, %g°: not the same box after a quarter turn: %v %v", e, angle, a, quarter)
			}
		}
	}
	a := SurfaceCoefficients(Exposed, 90)
	if a[FaceRight] != 0.7 || a[FaceLeft] != -0.2 || a[FaceFront] != -0.5 || a[FaceTop] != -0.6 {
		t.Errorf("wind on the right: %v", a)
	}
	near(t, "between steps", SurfaceCoefficients(SemiExposed, 22.5)[FaceFront], 0.25, 1e-12)
	if a := SurfaceCoefficients(Exposed, math.NaN()); !math.IsNaN(a[FaceFront]) {
		t.Errorf("angle not a number: %v", a)
	}
	near(t, "pressure", WindPressure(-0.5, 1.2, 3), -2.7, 1e-12)
}
