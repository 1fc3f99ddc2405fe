package evidence

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

func near(t *testing.T, name string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.12g, want %.12g ± %.2g", name, got, want, tolerance)
	}
}

// TestProportionCoverage adds up, without chance, how often an interval holds the
// true proportion.
func TestProportionCoverage(t *testing.T) {
	const level = 0.95
	for _, n := range []int{5, 20, 60} {
		var exact, score, points float64
		for p := 0.005; p < 1; p += 0.01 {
			var cp, w float64
			for x, q := range binomialProbs(n, p) {
				if ClopperPearson(x, n, level).Contains(p) {
					cp += q
				}
				if Wilson(float64(x), float64(n), level).Contains(p) {
					w += q
				}
			}
			// The exact interval keeps its promise everywhere.
			if cp < level-1e-9 {
				t.Errorf("n %d, p %.3f: the exact interval holds it in %.4f", n, p, cp)
			}
			exact, score, points = exact+cp, score+w, points+1
		}
		// The score interval keeps it on average.
		near(t, "mean coverage of the score interval", score/points, level, 0.012)
		if exact < score {
			t.Errorf("n %d: the exact interval holds less often than the score interval", n)
		}
	}
}

// TestUniformPosteriorIsCalibrated: when proportions come from the prior, the
// posterior interval holds them exactly at its level.
func TestUniformPosteriorIsCalibrated(t *testing.T) {
	const n = 12
	held := 0.0
	for x := range n + 1 {
		// Every x is as likely under the uniform prior.
		post := BetaPosterior(UniformPrior(), float64(x), n)
		v := quantileInterval(post.Quantile, 0.9)
		held += (post.CDF(v.Hi) - post.CDF(v.Lo)) / (n + 1)
	}
	near(t, "coverage", held, 0.9, 1e-8)
}

func TestNewcombeCoverage(t *testing.T) {
	for _, c := range []struct {
		n1, n2 int
		p1, p2 float64
	}{{20, 20, 0.8, 0.6}, {15, 30, 0.3, 0.3}, {40, 10, 0.9, 0.5}} {
		a, b := binomialProbs(c.n1, c.p1), binomialProbs(c.n2, c.p2)
		held := 0.0
		for x, p := range a {
			for y, q := range b {
				v := Newcombe(float64(x), float64(c.n1), float64(y), float64(c.n2), 0.95)
				if v.Contains(c.p1 - c.p2) {
					held += p * q
				}
				mirror := Newcombe(float64(y), float64(c.n2), float64(x), float64(c.n1), 0.95)
				if math.Abs(mirror.Lo+v.Hi) > 1e-12 || math.Abs(mirror.Hi+v.Lo) > 1e-12 {
					t.Fatalf("%d of %d and %d of %d: %v, swapped %v", x, c.n1, y, c.n2, v, mirror)
				}
			}
		}
		// The paper of the method reports a mean near 0.95, down to 0.93 or so.
		if held < 0.93 || held > 0.985 {
			t.Errorf("%+v: the interval holds the difference in %.4f", c, held)
		}
	}
}

// TestBinomialTestCountsTails compares with the sum written out for 7 of 10
// against a half: both tails of 7 or more, 352/1024.
func TestBinomialTestCountsTails(t *testing.T) {
	near(t, "7 of 10 against a half", BinomialTest(7, 10, 0.5), 352.0/1024, 1e-12)
	near(t, "5 of 10 against a half", BinomialTest(5, 10, 0.5), 1, 1e-12)
}

func TestIntervalJSON(t *testing.T) {
	for _, v := range []Interval{{-1, 2}, {0, math.Inf(1)}, {math.Inf(-1), math.Inf(1)}} {
		text, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		var back Interval
		if err := json.Unmarshal(text, &back); err != nil || back != v {
			t.Errorf("%v became %s and then %v, %v", v, text, back, err)
		}
	}
	var v Interval
	if err := json.Unmarshal([]byte(`{"lo":"x"}`), &v); err == nil {
		t.Error("an interval was read from words")
	}
}

// TestProbDifference compares with closed forms: for a uniform and a Beta(k,1)
// variable, P(B > A) = k/(k+1).
func TestProbDifference(t *testing.T) {
	for _, k := range []float64{0.5, 1, 3, 40} {
		near(t, "closed form", ProbDifference(distuv.Beta{Alpha: k, Beta: 1}, UniformPrior(), 0), k/(k+1), 1e-9)
	}
	a, b := distuv.Beta{Alpha: 9, Beta: 7}, distuv.Beta{Alpha: 13, Beta: 3}
	near(t, "both ways", ProbDifference(a, b, 0)+ProbDifference(b, a, 0), 1, 1e-9)
	near(t, "beyond all", ProbDifference(b, a, 1), 0, 1e-12)
	v := DifferenceInterval(b, a, 0.9)
	near(t, "lower end", ProbDifference(b, a, v.Lo), 0.95, 1e-9)
	near(t, "upper end", ProbDifference(b, a, v.Hi), 0.05, 1e-9)
}

// winterLosses reads the extract of the survey.
func winterLosses(t *testing.T) [][]float64 {
	t.Helper()
	file, err := os.Open("testdata/winter_losses.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	reader := csv.NewReader(file)
	reader.Comment = '#'
	lines, err := reader.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows [][]float64
	for _, line := range lines[1:] {
		var row []float64
		for _, field := range line[1:] {
			v, err := strconv.ParseFloat(field, 64)
			if err != nil {
				t.Fatal(err)
			}
			row = append(row, v)
		}
		rows = append(rows, row)
	}
	if len(rows) != 4 {
		t.Fatalf("%d winters", len(rows))
	}
	return rows
}

// TestWinterLosses reproduces the printed rates and intervals of a survey. The
// intervals are those of a logistic regression whose spread is widened because
// colonies of one operation share their fate: the design effect that this takes,
// and the likeness of colonies it stands for, are what DefaultMethod and the
// prior of the spread between blocks rest on.
func TestWinterLosses(t *testing.T) {
	var likeness []float64
	for i, r := range winterLosses(t) {
		operations, n, alive := r[0], r[1], r[2]
		lost := n - alive
		// Rate of the totals, printed to a tenth.
		near(t, "rate of the totals", 100*lost/n, r[3], 0.05+1e-9)
		// Binomial intervals are far too narrow for these data.
		plain := Wilson(lost, n, 0.95)
		printed := Interval{r[5] / 100, r[6] / 100}
		if plain.Width() > 0.65*printed.Width() {
			t.Errorf("winter %d: colonies taken one by one give %v, printed %v", i, plain, printed)
		}
		// The printed interval is symmetric in log odds about the printed rate.
		near(t, "middle of the interval", 100*logistic((logit(printed.Lo)+logit(printed.Hi))/2), r[4], 0.1)
		half := (logit(printed.Hi) - logit(printed.Lo)) / 2
		p := r[4] / 100
		effect := math.Pow(half/upperZ(0.95), 2) * n * p * (1 - p)
		icc := IntraclassFromDesign(effect, n/operations)
		likeness = append(likeness, icc)
		if icc < 0.15 || icc > 0.29 {
			t.Errorf("winter %d: design effect %.2f, likeness %.3f", i, effect, icc)
		}
		// With it the interval comes out as printed, to the rounding of its ends.
		got := LogitInterval(p*n/effect, n/effect, 0.95)
		near(t, "lower end", 100*got.Lo, r[5], 0.11)
		near(t, "upper end", 100*got.Hi, r[6], 0.11)
		// Spread of log odds between operations that this likeness means.
		if spread := math.Sqrt(icc / (p * (1 - p))); spread < 0.9 || spread > 1.6 {
			t.Errorf("winter %d: log odds spread by %.2f between operations", i, spread)
		}
	}
	// Foretell each winter's interval from the likeness of the other three.
	for i, r := range winterLosses(t) {
		others := 0.0
		for j, v := range likeness {
			if j != i {
				others += v / 3
			}
		}
		n, p := r[1], r[4]/100
		effect := DesignEffect(n/r[0], others)
		got := LogitInterval(p*n/effect, n/effect, 0.95)
		// The likeness differs between winters by up to half: the ends are met to
		// 0.35 points, where colonies one by one miss them by up to 0.9.
		near(t, "foretold lower end", 100*got.Lo, r[5], 0.35)
		near(t, "foretold upper end", 100*got.Hi, r[6], 0.35)
	}
}
