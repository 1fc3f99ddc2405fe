package ensemble

import (
	"encoding/json"
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"

	"hackle/evidence"
)

// Estimate is a number with the interval in which more draws would leave it.
type Estimate struct {
	Value float64
	Low   float64 // infinite: too few draws to tell
	High  float64
}

// MarshalJSON writes {"value", "low", "high"} with null for an end that is not known.
func (e Estimate) MarshalJSON() ([]byte, error) {
	end := func(v float64) *float64 {
		if math.IsInf(v, 0) || math.IsNaN(v) {
			return nil
		}
		return &v
	}
	return json.Marshal(struct {
		Value *float64 `json:"value"`
		Low   *float64 `json:"low"`
		High  *float64 `json:"high"`
	}{end(e.Value), end(e.Low), end(e.High)})
}

// UnmarshalJSON reads what MarshalJSON writes.
func (e *Estimate) UnmarshalJSON(text []byte) error {
	var v struct{ Value, Low, High *float64 }
	if err := json.Unmarshal(text, &v); err != nil {
		return err
	}
	*e = Estimate{math.NaN(), math.Inf(-1), math.Inf(1)}
	for _, x := range []struct {
		from *float64
		to   *float64
	}{{v.Value, &e.Value}, {v.Low, &e.Low}, {v.High, &e.High}} {
		if x.from != nil {
			*x.to = *x.from
		}
	}
	return nil
}

// Width of the interval.
func (e Estimate) Width() float64 { return e.High - e.Low }

// Level is the probability with which intervals are to hold the truth.
const Level = 0.95

// Quantile estimates the value that a share p of all draws stays below, from sorted
// values, with the interval between two order statistics that holds it with at least
// the level, whatever the distribution: the numbers of draws below the quantile are
// binomial (Order Statistics, Wiley, third edition 2003, section 7.1; from memory).
// The estimate is the median-unbiased one, definition 8 of "Sample quantiles in
// statistical packages", American Statistician 50 (1996) 361, doi:10.2307/2684934
// (from memory).
//
// The interval takes draws as independent. Those of a design that fills the cube
// evenly lie closer to the truth, so that it is on the wide side.
func Quantile(sorted []float64, p, level float64) Estimate {
	n := len(sorted)
	if n == 0 {
		return Estimate{math.NaN(), math.Inf(-1), math.Inf(1)}
	}
	e := Estimate{Low: math.Inf(-1), High: math.Inf(1)}
	h := (float64(n)+1.0/3)*p + 1.0/3 // counted from one
	k := int(math.Floor(h))
	switch {
	case k < 1:
		e.Value = sorted[0]
	case k >= n:
		e.Value = sorted[n-1]
	case sorted[k] == sorted[k-1]: // also where both are infinite
		e.Value = sorted[k]
	default:
		e.Value = sorted[k-1] + (h-float64(k))*(sorted[k]-sorted[k-1])
	}
	below := distuv.Binomial{N: float64(n), P: p}
	tail := (1 - level) / 2
	// The largest l with P(at most l-1 below) <= tail, the smallest u with
	// P(u or more below) <= tail: both tails fall or rise with the rank.
	l := sort.Search(n, func(l int) bool { return below.CDF(float64(l)) > tail })
	if l >= 1 {
		e.Low = sorted[l-1]
	}
	u := 1 + sort.Search(n, func(k int) bool { return 1-below.CDF(float64(k)) <= tail })
	if u <= n {
		e.High = sorted[u-1]
	}
	return e
}

// Chance is a probability counted from draws, with its interval.
func Chance(events, n int) Estimate {
	if n == 0 {
		return Estimate{math.NaN(), 0, 1}
	}
	v := evidence.ClopperPearson(events, n, Level)
	return Estimate{float64(events) / float64(n), v.Lo, v.Hi}
}

// known returns the values that are numbers, sorted.
func known(values []float64) []float64 {
	out := make([]float64, 0, len(values))
	for _, v := range values {
		if !math.IsNaN(v) {
			out = append(out, v)
		}
	}
	slices.Sort(out)
	return out
}
