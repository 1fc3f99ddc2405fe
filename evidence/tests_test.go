package evidence

import (
	"math"
	"testing"
)

// TestFisherHoldsItsLevel adds up, without chance, how often Fisher's test is at
// or under 5 % when both kinds are alike.
func TestFisherHoldsItsLevel(t *testing.T) {
	for _, n := range [][2]int{{5, 5}, {8, 14}, {25, 25}} {
		for p := 0.05; p < 1; p += 0.1 {
			if size := FisherPower(n[0], n[1], p, p, 0.05); size > 0.05+1e-12 {
				t.Errorf("%v hives, p %.2f: false alarms in %.4f", n, p, size)
			}
		}
	}
}

func TestExactRelabelling(t *testing.T) {
	lot := newLot(11)
	for range 200 {
		var strata, columns, rows, shuffled []Table
		for range 1 + lot.below(4) {
			s := Table{lot.below(6), lot.below(6), lot.below(6), lot.below(6)}
			strata = append(strata, s)
			columns = append(columns, Table{s.B, s.A, s.D, s.C})
			rows = append(rows, Table{s.C, s.D, s.A, s.B})
		}
		shuffled = append(append(shuffled, strata[1:]...), strata[0])
		a := Condition(strata...).Test(0.95)
		b := Condition(columns...).Test(0.95)
		c := Condition(rows...).Test(0.95)
		d := Condition(shuffled...).Test(0.95)
		if Condition(strata...).Fixed() {
			if a.P != 1 || !math.IsNaN(a.OddsRatio) || !math.IsInf(a.Interval.Hi, 1) || a.Interval.Lo != 0 {
				t.Fatalf("%v without freedom: %+v", strata, a)
			}
			continue
		}
		near(t, "p, columns swapped", b.P, a.P, 1e-9)
		near(t, "p, rows swapped", c.P, a.P, 1e-9)
		near(t, "p, strata in another order", d.P, a.P, 1e-9)
		near(t, "tails", b.PLess, a.PGreater, 1e-9)
		inverse := func(name string, x, y float64) {
			if x == 0 || math.IsInf(x, 0) {
				if y != 1/x {
					t.Errorf("%s: %v and %v are not inverse", name, x, y)
				}
				return
			}
			near(t, name, x*y, 1, 1e-6)
		}
		inverse("odds ratio", a.OddsRatio, b.OddsRatio)
		inverse("ends", a.Interval.Lo, b.Interval.Hi)
		m, w := MantelHaenszel(strata, 0.95), MantelHaenszel(columns, 0.95)
		near(t, "chi-square", w.ChiSquare, m.ChiSquare, 1e-9)
		if a.OddsRatio != 0 && !math.IsInf(a.OddsRatio, 0) && m.OddsRatio > 0 && w.OddsRatio > 0 {
			near(t, "common odds ratio", m.OddsRatio*w.OddsRatio, 1, 1e-9)
		}
		if !math.IsNaN(a.OddsRatio) && !a.Interval.Contains(a.OddsRatio) {
			t.Errorf("%v: odds ratio %v outside %v", strata, a.OddsRatio, a.Interval)
		}
	}
}

// drawStrata deals blocks of two arms of 1 to 5 hives with a common odds ratio.
func drawStrata(l lot, blocks int, logOdds float64) []Table {
	var strata []Table
	for range blocks {
		level := -0.5 + 1.2*l.normal()
		var s Table
		for range 1 + l.below(5) {
			if l.share() < logistic(level+logOdds) {
				s.A++
			} else {
				s.C++
			}
		}
		for range 1 + l.below(5) {
			if l.share() < logistic(level) {
				s.B++
			} else {
				s.D++
			}
		}
		strata = append(strata, s)
	}
	return strata
}

// TestStratifiedCoverage: the exact interval of the common odds ratio holds the
// truth at least at its level and the test keeps its level, whatever the levels
// of the blocks.
func TestStratifiedCoverage(t *testing.T) {
	const repeats = 1500
	// Three standard errors of a share of 0.95 over the repeats.
	slack := 3 * math.Sqrt(0.95*0.05/repeats)
	lot := newLot(3)
	for _, d := range []float64{0, 0.7, -1.5} {
		held, alarms := 0, 0
		for range repeats {
			e := Condition(drawStrata(lot, 6, d)...).Test(0.95)
			if e.Interval.Contains(math.Exp(d)) {
				held++
			}
			if e.P <= 0.05 {
				alarms++
			}
		}
		if share := float64(held) / repeats; share < 0.95-slack {
			t.Errorf("log odds ratio %g: held in %.3f", d, share)
		}
		if share := float64(alarms) / repeats; d == 0 && share > 0.05+slack {
			t.Errorf("false alarms in %.3f", share)
		}
	}
}

func TestMeansHoldTheirLevel(t *testing.T) {
	const repeats = 4000
	slack := 3 * math.Sqrt(0.95*0.05/repeats)
	lot := newLot(8)
	sample := func(n int, mean, sd float64) []float64 {
		v := make([]float64, n)
		for i := range v {
			v[i] = mean + sd*lot.normal()
		}
		return v
	}
	var welch, pooled, paired, rank, signed int
	for range repeats {
		x, y := sample(8, 3, 1), sample(8, 1, 1)
		wide := sample(14, 1, 4)
		if r, err := Welch(x, wide, 0.95); err != nil || r.Interval.Contains(2) {
			welch++
		}
		if r, err := Pooled(x, y, 0.95); err != nil || r.Interval.Contains(2) {
			pooled++
		}
		if r, err := Paired(x, y, 0.95); err != nil || r.Interval.Contains(2) {
			paired++
		}
		same := sample(8, 3, 1)
		if MannWhitney(x, same).P <= 0.05 {
			rank++
		}
		d := make([]float64, len(x))
		for i := range d {
			d[i] = x[i] - same[i]
		}
		if SignedRank(d).P <= 0.05 {
			signed++
		}
	}
	near(t, "Welch", float64(welch)/repeats, 0.95, slack)
	near(t, "pooled", float64(pooled)/repeats, 0.95, slack)
	near(t, "paired", float64(paired)/repeats, 0.95, slack)
	for name, n := range map[string]int{"rank sum": rank, "signed rank": signed} {
		// Exact tests of few values stay under their level, by their steps.
		if share := float64(n) / repeats; share > 0.05+slack || share < 0.02 {
			t.Errorf("%s: false alarms in %.4f", name, share)
		}
	}
}

// TestRanksByCounting compares the rank tests with every way to deal, ties and
// zeros included.
func TestRanksByCounting(t *testing.T) {
	x, y := []float64{1, 2, 2, 5}, []float64{2, 3, 5, 7, 7}
	all := append(append([]float64{}, x...), y...)
	ranks := midranks(all)
	seen := 0
	for _, r := range ranks[:len(x)] {
		seen += r
	}
	less, ways := 0, 0
	for set := range 1 << len(all) {
		n, sum := 0, 0
		for i, r := range ranks {
			if set>>i&1 == 1 {
				n++
				sum += r
			}
		}
		if n == len(x) {
			ways++
			if sum <= seen {
				less++
			}
		}
	}
	near(t, "rank sum", MannWhitney(x, y).PLess, float64(less)/float64(ways), 1e-12)

	d := []float64{0, 1.5, -1.5, 2, 4, -3, 4}
	sizes := midranks([]float64{1.5, 1.5, 2, 4, 3, 4})
	up := []bool{true, false, true, true, false, true}
	v := 0
	for i, s := range sizes {
		if up[i] {
			v += s
		}
	}
	more := 0
	for set := range 1 << len(sizes) {
		sum := 0
		for i, s := range sizes {
			if set>>i&1 == 1 {
				sum += s
			}
		}
		if sum >= v {
			more++
		}
	}
	got := SignedRank(d)
	near(t, "signed rank", got.PGreater, float64(more)/64, 1e-12)
	near(t, "V", got.Statistic, float64(v)/2, 0)
	if r := SignedRank([]float64{0, 0}); r.P != 1 {
		t.Errorf("zeros alone: %+v", r)
	}
}

func TestMeansNeedValues(t *testing.T) {
	if _, err := Welch([]float64{1}, []float64{1, 2}, 0.95); err == nil {
		t.Error("Welch took one value")
	}
	if _, err := Pooled([]float64{1, 2}, nil, 0.95); err == nil {
		t.Error("pooled took none")
	}
	if _, err := Paired([]float64{1, 2}, []float64{1}, 0.95); err == nil {
		t.Error("unequal lengths were paired")
	}
	if r, err := Pooled([]float64{2, 2}, []float64{2, 2}, 0.95); err != nil || r.P != 1 {
		t.Errorf("all alike: %+v, %v", r, err)
	}
}

// TestSurvivalWithoutLosses: with nobody lost from sight the curve is the share
// alive.
func TestSurvivalWithoutLosses(t *testing.T) {
	lives := []Lifetime{{3, true}, {1, true}, {3, true}, {8, true}, {5, true}}
	want := []SurvivalStep{{1, 5, 1, 0.8}, {3, 4, 2, 0.4}, {5, 2, 1, 0.2}, {8, 1, 1, 0}}
	got := KaplanMeier(lives)
	if len(got) != len(want) {
		t.Fatalf("%v", got)
	}
	for i, w := range want {
		g := got[i]
		if g.Time != w.Time || g.AtRisk != w.AtRisk || g.Deaths != w.Deaths || math.Abs(g.Survival-w.Survival) > 1e-12 {
			t.Errorf("step %d: %+v, want %+v", i, g, w)
		}
	}
	if LogRank(lives, nil).P != 1 {
		t.Error("a difference from nobody")
	}
}

func TestLogRankHoldsItsLevel(t *testing.T) {
	const repeats = 2000
	slack := 3 * math.Sqrt(0.95*0.05/repeats)
	lot := newLot(21)
	draw := func(n int) []Lifetime {
		v := make([]Lifetime, n)
		for i := range v {
			died, gone := -math.Log(1-lot.share()), 2*lot.share()
			v[i] = Lifetime{math.Min(died, gone), died <= gone}
		}
		return v
	}
	alarms := 0
	for range repeats {
		a, b := draw(25), draw(35)
		r, s := LogRank(a, b), LogRank(b, a)
		near(t, "chi-square, groups swapped", s.ChiSquare, r.ChiSquare, 1e-9)
		if r.P <= 0.05 {
			alarms++
		}
	}
	// The chi-square is an approximation at these sizes.
	near(t, "false alarms", float64(alarms)/repeats, 0.05, slack+0.01)
}

func TestPowerBySimulation(t *testing.T) {
	const repeats = 4000
	slack := 3.5 * math.Sqrt(0.25/repeats)
	lot := newLot(5)
	fisher, student := 0, 0
	for range repeats {
		var s Table
		for range 15 {
			if lot.share() < 0.9 {
				s.A++
			} else {
				s.C++
			}
			if lot.share() < 0.45 {
				s.B++
			} else {
				s.D++
			}
		}
		if Condition(s).Test(0.95).P <= 0.05 {
			fisher++
		}
		x, y := make([]float64, 9), make([]float64, 9)
		for i := range x {
			x[i], y[i] = lot.normal(), 1.2+lot.normal()
		}
		if r, err := Pooled(x, y, 0.95); err == nil && r.P <= 0.05 {
			student++
		}
	}
	near(t, "Fisher", float64(fisher)/repeats, FisherPower(15, 15, 0.9, 0.45, 0.05), slack)
	near(t, "t", float64(student)/repeats, TTestPower(9, 1.2, 1, 0.05), slack)
}

func TestSizesAndPowersAgree(t *testing.T) {
	for _, power := range []float64{0.5, 0.8, 0.95} {
		for _, d := range []float64{0.2, 1, 3} {
			near(t, "t test", TTestPower(TTestSize(power, d, 1, 0.05), d, 1, 0.05), power, 1e-6)
		}
		near(t, "proportions", ProportionPower(ProportionSize(power, 0.7, 0.85, 0.05), 0.7, 0.85, 0.05), power, 1e-9)
	}
	if !math.IsInf(ProportionSize(0.8, 0.5, 0.5, 0.05), 1) {
		t.Error("no difference was found with finite numbers")
	}
	near(t, "no difference", TTestPower(10, 0, 1, 0.05), 0.05, 1e-12)
	near(t, "a great difference", TTestPower(400, 5, 1, 0.05), 1, 1e-12)
	near(t, "impossible against sure", FisherPower(8, 8, 0, 1, 0.05), 1, 1e-12)
	// Rising with numbers all the way through the switch of the formula.
	last := 0.0
	for n := 2.0; n < 3000; n *= 1.3 {
		p := TTestPower(n, 0.7, 1, 0.05)
		if p < last-1e-9 {
			t.Errorf("power falls from %g to %g at %g", last, p, n)
		}
		last = p
	}
}

// TestPublishedExamples holds a few printed figures here; all cases are in
// internal/verify. Penicillin and rabbits, remission of leukaemia (from memory).
func TestPublishedExamples(t *testing.T) {
	rabbits := []Table{{0, 6, 0, 5}, {3, 3, 0, 6}, {6, 0, 2, 4}, {5, 1, 6, 0}, {2, 0, 5, 0}}
	m := MantelHaenszel(rabbits, 0.95)
	near(t, "common odds ratio", m.OddsRatio, 7, 1e-9)
	near(t, "lower end", m.Interval.Lo, 1.026713, 5e-7)
	near(t, "upper end", m.Interval.Hi, 47.725133, 5e-7)
	near(t, "exact p", Condition(rabbits...).Test(0.95).P, 0.03994, 5e-6)
	var treated, control []Lifetime
	for _, w := range []float64{6, 6, 6, 7, 10, 13, 16, 22, 23} {
		treated = append(treated, Lifetime{w, true})
	}
	for _, w := range []float64{6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35} {
		treated = append(treated, Lifetime{w, false})
	}
	for _, w := range []float64{1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23} {
		control = append(control, Lifetime{w, true})
	}
	near(t, "log-rank chi-square", LogRank(treated, control).ChiSquare, 16.79, 0.005)
}

func TestMcNemar(t *testing.T) {
	if r := McNemar(0, 0); r.P != 1 || r.PExact != 1 {
		t.Errorf("no change: %+v", r)
	}
	if a, b := McNemar(3, 9), McNemar(9, 3); a != b {
		t.Errorf("%+v and %+v", a, b)
	}
	near(t, "3 and 9", McNemar(3, 9).PExact, 2*299.0/4096, 1e-12)
}
