package ensemble

import (
	"math"
	"slices"
	"sort"
	"strings"
	"sync"
	"testing"

	"hackle/climate"
)

func ranksOf(values []float64) []float64 {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(a, b int) bool { return values[order[a]] < values[order[b]] })
	out := make([]float64, len(values))
	for r, i := range order {
		out[i] = float64(r)
	}
	return out
}

// spearman is the product-moment correlation of ranks (the definition).
func spearman(a, b []float64) float64 {
	x, y := ranksOf(a), ranksOf(b)
	mean := float64(len(x)-1) / 2
	var xy, xx, yy float64
	for i := range x {
		xy += (x[i] - mean) * (y[i] - mean)
		xx += (x[i] - mean) * (x[i] - mean)
		yy += (y[i] - mean) * (y[i] - mean)
	}
	return xy / math.Sqrt(xx*yy)
}

func correlated(method Method, list ...Correlation) *Design {
	in := func(name string, low, usual, high float64, s Shape) Input {
		return Input{Name: name, Low: low, Usual: usual, High: high, Shape: s}
	}
	return &Design{Method: method, Seed: 5, Count: 4096, Correlations: list, Years: []*climate.Series{{Hours: make([]climate.Hour, 24)}},
		Inputs: []Input{in("bees", 0.7, 1, 1.3, Triangular), in("honey", 0.8, 1, 1.2, Triangular), in("leak", 0.3, 1, 3, LogTriangular), in("free", 0, 0.5, 1, Uniform)}}
}

// TestRankCorrelations: drawn inputs have the rank correlations that were asked for,
// within what 4,096 draws scatter (standard error of Spearman's coefficient of
// independent samples 1/√(n-1): 0.016), those not named have none, and each keeps
// its own distribution.
func TestRankCorrelations(t *testing.T) {
	for _, method := range Methods() {
		d := correlated(method, Correlation{"honey", "bees", 0.7}, Correlation{"bees", "leak", -0.4})
		if err := d.Check(); err != nil {
			t.Fatal(err)
		}
		free := correlated(method)
		var with, without [4][]float64
		for i := range d.Count {
			for j, v := range d.Draw(i).Values {
				with[j] = append(with[j], v)
			}
			for j, v := range free.Draw(i).Values {
				without[j] = append(without[j], v)
			}
		}
		for _, c := range []struct {
			a, b int
			want float64
		}{{0, 1, 0.7}, {0, 2, -0.4}, {0, 3, 0}, {1, 3, 0}} {
			if got := spearman(with[c.a], with[c.b]); math.Abs(got-c.want) > 0.05 {
				t.Errorf("%s: rank correlation of %s and %s is %.3f, asked for %g", method, d.Inputs[c.a].Name, d.Inputs[c.b].Name, got, c.want)
			}
		}
		for j := range with {
			slices.Sort(with[j])
			slices.Sort(without[j])
			for _, p := range []int{410, 2048, 3686} {
				if a, b := with[j][p], without[j][p]; math.Abs(a-b) > 0.05*(d.Inputs[j].High-d.Inputs[j].Low) {
					t.Errorf("%s: quantile %d of %s moved from %.3f to %.3f", method, p, d.Inputs[j].Name, b, a)
				}
			}
		}
		a, _ := d.Key()
		b, _ := free.Key()
		if a == b {
			t.Error("a design with correlations has the key of one without")
		}
	}
}

// TestCorrelationsThatCannotBe are refused with a reason.
func TestCorrelationsThatCannotBe(t *testing.T) {
	for want, list := range map[string][]Correlation{
		"no input":      {{"honey", "queens", 0.5}},
		"accepted":      {{"honey", "bees", 1.2}},
		"with itself":   {{"honey", "honey", 0.5}},
		"given twice":   {{"honey", "bees", 0.5}, {"bees", "honey", 0.5}},
		"contradict":    {{"honey", "bees", 0.95}, {"bees", "leak", 0.95}, {"honey", "leak", -0.9}},
		"is NaN, accep": {{"honey", "bees", math.NaN()}},
	} {
		if err := correlated(Sobol, list...).Check(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v: %v, wanted %q", list, err, want)
		}
	}
}

// mapBook keeps lines in memory.
type mapBook struct {
	mu    sync.Mutex
	lines map[string][]byte
}

func (b *mapBook) Get(key string) ([]byte, bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	line, ok := b.lines[key]
	return line, ok
}

func (b *mapBook) Put(key string, line []byte) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.lines[key] = line
	return nil
}

// TestShelf: a row comes back from a book as it was put, one of another size or a
// broken one does not.
func TestShelf(t *testing.T) {
	b := &mapBook{lines: map[string][]byte{}}
	s := &shelf{b, "question", 3}
	if err := s.put(4, []float64{1, math.NaN(), 0.1}); err != nil {
		t.Fatal(err)
	}
	row, ok := s.get(4)
	if !ok || row[0] != 1 || !math.IsNaN(row[1]) || row[2] != 0.1 {
		t.Errorf("%v, %v", row, ok)
	}
	if _, ok := s.get(5); ok {
		t.Error("a row that was never put")
	}
	if _, ok := (&shelf{b, "question", 2}).get(4); ok {
		t.Error("a row of another size")
	}
	b.lines["question/5"] = []byte(`{"draw":5,"row":[1,2`)
	if _, ok := s.get(5); ok {
		t.Error("a broken row")
	}
}
