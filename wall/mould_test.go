package wall

import (
	"math"
	"testing"
)

var mouldClasses = [...]struct {
	name  string
	class MouldClass
	most  float64 // at 100 % [-]
}{
	{"very sensitive", MouldVerySensitive(), 6},
	{"sensitive", MouldSensitive(), 5.3},
	{"medium", MouldMedium(), 3.5},
	{"resistant", MouldResistant(), 2},
}

func TestCriticalHumidity(t *testing.T) {
	pine := MouldVerySensitive()
	for _, tt := range []struct{ t, want float64 }{{-5, 1}, {0, 1}, {5, 0.880}, {10, 0.820}, {20, 0.800}, {35, 0.800}} {
		if got := pine.CriticalHumidity(tt.t); math.Abs(got-tt.want) > 5e-4 {
			t.Errorf("%v °C: %v, want %v", tt.t, got, tt.want)
		}
	}
	for _, tt := range []struct{ t, want float64 }{{5, 0.880}, {10, 0.85}, {25, 0.85}} {
		if got := MouldMedium().CriticalHumidity(tt.t); math.Abs(got-tt.want) > 5e-4 {
			t.Errorf("medium, %v °C: %v, want %v", tt.t, got, tt.want)
		}
	}
}

func TestMouldTimes(t *testing.T) {
	for _, tt := range []struct{ phi, weeks float64 }{{0.90, 4.2}, {0.97, 1.5}} {
		if got := MouldStart(20, tt.phi) / week; math.Abs(got-tt.weeks) > 0.05 {
			t.Errorf("%v: %v weeks, want %v", tt.phi, got, tt.weeks)
		}
	}
	// From index 1 on resawn pine grows 2/(visible/start − 1) times as fast as
	// before; the class of pine sapwood rounds that to 2.
	if got := 2 / (MouldVisible(20, 0.97)/MouldStart(20, 0.97) - 1); math.Abs(got-MouldVerySensitive().GrowFactor) > 0.05 {
		t.Errorf("growth from index 1 on: %v times", got)
	}
}

// Under constant conditions the index reaches 1 when MouldStart says, longer by
// the factor of the class, and ends at the class's greatest.
func TestMouldGrows(t *testing.T) {
	const temp, phi = 20, 0.97
	for _, c := range mouldClasses {
		var m Mould
		started := math.Inf(1)
		for k := 0; k < 40*365*24; k++ {
			m.Advance(hour, temp, phi, c.class)
			if m.Index >= 1 && math.IsInf(started, 1) {
				started = float64(k+1) * hour
			}
		}
		most := c.class.MostIndex(temp, phi)
		if math.Abs(m.Index-most) > 0.02*most {
			t.Errorf("%s: index %v in the end, want %v", c.name, m.Index, most)
		}
		// The nearer the end lies to 1 the more the growth slows on the way;
		// ∫ dM/(1 − exp(2.3(M − Mmax))) from 0 to 1.
		x0, x1 := math.Exp(2.3*most), math.Exp(2.3*(most-1))
		slowed := math.Log((x0-1)/(x1-1)) / 2.3
		want := MouldStart(temp, phi) / c.class.StartFactor * slowed
		if most > 1 && math.Abs(started-want) > 0.01*want+2*hour {
			t.Errorf("%s: index 1 after %.1f h, want %.1f", c.name, started/hour, want/hour)
		}
		if got := c.class.MostIndex(20, 1); math.Abs(got-c.most) > 1e-12 {
			t.Errorf("%s: index %v at saturation, want %v", c.name, got, c.most)
		}
	}
	// Seen by eye, index 3, when MouldVisible says, on pine.
	var m Mould
	at := 0.0
	for m.Index < 3 {
		m.Advance(hour, temp, phi, MouldVerySensitive())
		at += hour
	}
	if want := MouldVisible(temp, phi); math.Abs(at-want) > 0.08*want {
		t.Errorf("index 3 after %.2f weeks, want %.2f", at/week, want/week)
	}
}

func TestMouldDeclines(t *testing.T) {
	for _, c := range mouldClasses {
		for _, step := range []float64{hour, 600, 24 * hour} {
			m := Mould{Index: 2, Growing: 5}
			for at := 0.0; at < 48*hour; at += step {
				m.Advance(step, 20, 0.5, c.class)
			}
			want := 2 - c.class.DeclineShare*(6*0.00133+24*0.000667)
			if math.Abs(m.Index-want) > 1e-12 || m.Growing != 5 {
				t.Errorf("%s, steps of %v s: index %v after two dry days, want %v", c.name, step, m.Index, want)
			}
		}
	}
	// A humid hour ends the dry spell; frost grows nothing.
	m := Mould{Index: 1, Dry: 30 * hour}
	m.Advance(hour, 20, 0.95, MouldVerySensitive())
	if m.Dry != 0 || !(m.Index > 1) || m.Growing != hour {
		t.Errorf("after a humid hour: %+v", m)
	}
	index := m.Index
	m.Advance(hour, -2, 1, MouldVerySensitive())
	if !(m.Index < index) || m.Dry != hour {
		t.Errorf("after a frost: %+v", m)
	}
	clean := Mould{}
	clean.Advance(hour, 20, 0.3, MouldVerySensitive())
	if clean.Index != 0 {
		t.Errorf("a clean surface went to %v", clean.Index)
	}
}

func BenchmarkMould(b *testing.B) {
	var m Mould
	class := MouldSensitive()
	for b.Loop() {
		m.Advance(hour, 12, 0.9, class)
	}
}
