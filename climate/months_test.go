package climate

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestSmoothMonthsKeepsMeans(t *testing.T) {
	for name, means := range map[string][12]float64{
		"temperature": {-7, -5.5, 0, 8, 14, 19, 21, 20, 15, 8.6, 3, -4},
		"rain":        {0.1, 0.1, 5, 80, 200, 300, 280, 90, 20, 1, 0.1, 0.1},
		"level":       {3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3},
	} {
		positive := name != "temperature"
		days := smoothMonths(means, positive)
		largest := 0.0
		for d := range days {
			largest = max(largest, math.Abs(days[(d+1)%daysOfYear]-days[d]))
			if positive && days[d] < 0 {
				t.Errorf("%s: %.3g on day %d", name, days[d], d)
			}
		}
		for m := range 12 {
			sum := 0.0
			for _, v := range days[monthStart[m]:monthStart[m+1]] {
				sum += v
			}
			if mean := sum / float64(monthStart[m+1]-monthStart[m]); math.Abs(mean-means[m]) > 1e-9*(1+math.Abs(means[m])) {
				t.Errorf("%s: month %d: mean %.9g, want %.9g", name, m+1, mean, means[m])
			}
		}
		if name == "temperature" && largest > 0.5 { // 8 K from month to month are 0.27 K a day
			t.Errorf("temperature steps by %.2f K from day to day", largest)
		}
		if name == "level" && largest > 1e-12 {
			t.Errorf("a level year is not level: %g", largest)
		}
	}
}

func TestHistosplineKeepsDays(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	days := make([]float64, 200)
	for i := range days {
		days[i] = 10 * rng.NormFloat64()
	}
	for _, closed := range []bool{false, true} {
		hours := histospline(days, closed)
		step := 0.0
		for d, want := range days {
			sum := 0.0
			for h := range 24 {
				sum += hours[24*d+h] / 24
			}
			// The last hour's end counts wholly in a sum of 24 values: an error of a
			// 48th of the day's rise, up to 1 K here.
			if math.Abs(sum-want) > 1.2 {
				t.Errorf("closed %v: day %d: mean %.3f, want %.3f", closed, d, sum, want)
			}
			// By the rule of the trapezium it is nearly exact.
			first := hours[(24*d-1+len(hours))%len(hours)]
			if d > 0 || closed {
				if mean := sum + (first-hours[24*d+23])/48; math.Abs(mean-want) > 0.06 {
					t.Errorf("closed %v: day %d: mean %.4f by trapezia, want %.4f", closed, d, mean, want)
				}
			}
		}
		for i := 1; i < len(hours); i++ {
			step = max(step, math.Abs(hours[i]-hours[i-1]))
		}
		if step > 8 { // days of 10 K spread differ by up to 45 K
			t.Errorf("closed %v: a step of %.1f K in an hour", closed, step)
		}
		if closed && math.Abs(hours[0]-hours[len(hours)-1]) > step {
			t.Errorf("the ring is open by %.1f K", hours[0]-hours[len(hours)-1])
		}
	}
	if got := histospline([]float64{4}, false); math.Abs(got[11]-4) > 1e-12 || len(got) != 24 {
		t.Errorf("one day: %v", got)
	}
	if got := histospline(nil, true); len(got) != 0 {
		t.Errorf("no day: %v", got)
	}
}

func TestBetweenNoons(t *testing.T) {
	hours := betweenNoons([]float64{0, 24, 0}, true)
	for _, c := range []struct {
		i    int
		want float64
	}{{11, 0}, {12, 1}, {35, 24}, {23, 12}, {59, 0}, {71, 0}} {
		if math.Abs(hours[c.i]-c.want) > 1e-9 {
			t.Errorf("hour %d: %.3f, want %.3f", c.i, hours[c.i], c.want)
		}
	}
	if open := betweenNoons([]float64{5, 7}, false); open[0] != 5 || open[47] != 7 {
		t.Errorf("open ends: %.2f, %.2f", open[0], open[47])
	}
}

// TestScores maps many normal scores and looks at the means they are made for.
func TestScores(t *testing.T) {
	const n = 20000
	score := func(i int) float64 { return math.Sqrt2 * math.Erfinv(2*(float64(i)+0.5)/n-1) }
	for _, shape := range []float64{0.9, 1.5, 2, 3.6, 8} {
		sum, square := 0.0, 0.0
		for i := range n {
			v := weibullUnit(score(i), shape)
			sum += v / n
			square += v * v / n
		}
		if math.Abs(sum-1) > 2e-3 {
			t.Errorf("Weibull shape %g: mean %.4f", shape, sum)
		}
		// The approximation of the shape is good to 1 % from 1 to 10.
		if got := weibullShape(math.Sqrt(square-sum*sum) / sum); math.Abs(got/shape-1) > 0.03 {
			t.Errorf("shape %g comes back as %.3f", shape, got)
		}
	}
	for _, mean := range []float64{dullestMonth, 0.2, 0.341, 0.45, 0.6, 0.75, brightestMonth} {
		sum, last := 0.0, 0.0
		for i := range n {
			k := clearnessOf(score(i), mean)
			if k < dullestDay-1e-9 || k > 0.9 || k < last-1e-12 || math.IsNaN(k) {
				t.Fatalf("clearness %g after %g of mean %g", k, last, mean)
			}
			last = k
			sum += k / n
		}
		if math.Abs(sum-mean) > 1e-3 {
			t.Errorf("clearness: mean %.4f, want %.4f", sum, mean)
		}
	}
}
