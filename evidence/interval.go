package evidence

import (
	"encoding/json"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Interval is a range of plausible values. An end may be infinite; in JSON an
// infinite end is null.
type Interval struct {
	Lo float64 // lower end, in the unit of the quantity
	Hi float64 // upper end, in the unit of the quantity
}

// Contains reports whether x lies in the interval, ends included.
func (v Interval) Contains(x float64) bool { return v.Lo <= x && x <= v.Hi }

// Width returns the length of the interval, in the unit of the quantity.
func (v Interval) Width() float64 { return v.Hi - v.Lo }

// MarshalJSON writes {"lo": …, "hi": …} with null for an infinite end.
func (v Interval) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		Lo *float64 `json:"lo"`
		Hi *float64 `json:"hi"`
	}{finite(v.Lo), finite(v.Hi)})
}

// UnmarshalJSON reads what MarshalJSON writes.
func (v *Interval) UnmarshalJSON(text []byte) error {
	var ends struct{ Lo, Hi *float64 }
	if err := json.Unmarshal(text, &ends); err != nil {
		return fmt.Errorf("evidence: interval: %w", err)
	}
	v.Lo, v.Hi = math.Inf(-1), math.Inf(1)
	if ends.Lo != nil {
		v.Lo = *ends.Lo
	}
	if ends.Hi != nil {
		v.Hi = *ends.Hi
	}
	return nil
}

// finite returns nil for a number that JSON cannot hold.
func finite(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	return &x
}

// normalQuantile returns the standard normal quantile of p.
func normalQuantile(p float64) float64 { return distuv.UnitNormal.Quantile(p) }

// normalCDF returns the standard normal probability below z.
func normalCDF(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// chiSquareTail returns the probability that a chi-square of one degree of
// freedom exceeds x; exact by the complementary error function.
func chiSquareTail(x float64) float64 { return math.Erfc(math.Sqrt(x / 2)) }

// upperZ returns the standard normal quantile that leaves half of 1-level
// above it.
func upperZ(level float64) float64 { return normalQuantile((1 + level) / 2) }

// bisect returns the root of f between lo and hi, where f changes sign, to the
// last bits. It is slow and sure.
func bisect(lo, hi float64, f func(float64) float64) float64 {
	rising := f(hi) > 0
	for range 200 {
		mid := lo + (hi-lo)/2
		if mid == lo || mid == hi {
			break
		}
		if (f(mid) > 0) == rising {
			hi = mid
		} else {
			lo = mid
		}
	}
	return lo + (hi-lo)/2
}

// logistic returns the probability of log odds x.
func logistic(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

// logit returns the log odds of probability p.
func logit(p float64) float64 { return math.Log(p) - math.Log1p(-p) }

// logOnePlusExp returns ln(1+eˣ) without overflow.
func logOnePlusExp(x float64) float64 {
	if x > 0 {
		return x + math.Log1p(math.Exp(-x))
	}
	return math.Log1p(math.Exp(x))
}

// clamp holds x between lo and hi.
func clamp(x, lo, hi float64) float64 { return math.Max(lo, math.Min(hi, x)) }
