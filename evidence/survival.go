package evidence

import "slices"

// Lifetime is how long a colony was followed.
type Lifetime struct {
	Time float64 // any unit, the same for all
	Died bool    // false: alive, sold or lost from sight at Time
}

// SurvivalStep is the state of a survival curve at a time of death.
type SurvivalStep struct {
	Time     float64 // unit of the lifetimes
	AtRisk   int     // alive and in sight just before
	Deaths   int     // at Time
	Survival float64 // share alive just after [-]
}

// KaplanMeier returns the product-limit survival curve, one step for each time
// of death. Who leaves at a time of death counts as at risk in it.
//
// Source: Nonparametric estimation from incomplete observations, Journal of the
// American Statistical Association 53 (1958), 457-481; from memory.
func KaplanMeier(lives []Lifetime) []SurvivalStep {
	var steps []SurvivalStep
	share := 1.0
	for _, t := range deathTimes(lives) {
		n, d := riskAt(lives, t)
		share *= 1 - float64(d)/float64(n)
		steps = append(steps, SurvivalStep{t, n, d, share})
	}
	return steps
}

func deathTimes(groups ...[]Lifetime) []float64 {
	var times []float64
	for _, g := range groups {
		for _, l := range g {
			if l.Died {
				times = append(times, l.Time)
			}
		}
	}
	slices.Sort(times)
	return slices.Compact(times)
}

func riskAt(lives []Lifetime, t float64) (atRisk, deaths int) {
	for _, l := range lives {
		if l.Time >= t {
			atRisk++
		}
		if l.Died && l.Time == t {
			deaths++
		}
	}
	return atRisk, deaths
}

// LogRankResult compares the deaths of two groups over time.
type LogRankResult struct {
	Observed  float64 // deaths in the first group [-]
	Expected  float64 // deaths in the first group were both alike [-]
	Variance  float64 // of Observed, hypergeometric [-]
	ChiSquare float64 // one degree of freedom [-]
	P         float64 // two-sided [-]
}

// LogRank compares two groups of lifetimes. Without deaths at a time when both
// groups are in sight P is 1.
//
// Source: Evaluation of survival data and two new rank order statistics arising
// in its consideration, Cancer Chemotherapy Reports 50 (1966), 163-170; from
// memory.
func LogRank(first, second []Lifetime) LogRankResult {
	var r LogRankResult
	for _, t := range deathTimes(first, second) {
		n1, d1 := riskAt(first, t)
		n2, d2 := riskAt(second, t)
		n, d := float64(n1+n2), float64(d1+d2)
		share := float64(n1) / n
		r.Observed += float64(d1)
		r.Expected += d * share
		if n > 1 {
			r.Variance += d * share * (1 - share) * (n - d) / (n - 1)
		}
	}
	r.P = 1
	if r.Variance > 0 {
		gap := r.Observed - r.Expected
		r.ChiSquare = gap * gap / r.Variance
		r.P = chiSquareTail(r.ChiSquare)
	}
	return r
}
