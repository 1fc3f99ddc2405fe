package fit

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"hackle/evidence"
	"hackle/hive"
	"hackle/logger"
	"hackle/season"
	"hackle/wall"
)

// Ranges of the factors before the measurements, as standard deviations of their
// logarithms.
const (
	// ShellRange: conductivities, moisture and workmanship put a shell 20 % off.
	// Judgement, no source.
	ShellRange = 0.2
	// LeakRange: the leakage of joints is an estimate, propolis and warping change it
	// by a factor of two and a half. Judgement, no source.
	LeakRange = 0.9
	// BeesRange: the range of the conductance of measured clusters, 0.10 to 0.25
	// about 0.15 W/(K·kg) (see colony.Parameters), read as 19 in 20.
	BeesRange = 0.25
)

// HiveOptions say how a hive is fitted. The zero value is good.
type HiveOptions struct {
	// HoldOut keeps every so-manieth week out of the fit, to see whether it predicts;
	// 0: every third. 1 keeps none out.
	HoldOut int
	// SensorError is the standard uncertainty of a thermometer's constant error; 0:
	// 0.3 K (common practice, no source). [K]
	SensorError float64
	// Settle is how many hours at the start are left out, in which the run still
	// remembers its own beginning; 0: 48. [h]
	Settle int
	// Joints remembers thermal bridges between runs; nil: none shared.
	Joints *wall.Cache
	// Progress, when not nil, is told how many runs are done.
	Progress func(runs int)
}

// Factor is one factor after the fit.
type Factor struct {
	Name     string
	Value    float64           // [-]
	Interval evidence.Interval // at 95 %
	Before   evidence.Interval // the same before the measurements
	Learnt   float64           // share of the prior variance of its logarithm that is gone [-]
	Told     bool              // the data tell it: at least half is learnt
}

// Held is one week that the fit did not see.
type Held struct {
	From   time.Time
	Before float64 // misfit over the scatter of the series, with all factors 1 [-]
	After  float64 // with the fitted factors [-]
}

// HiveFit is what a colony's loggers and scale tell of its hive.
type HiveFit struct {
	Factors   []Factor
	Posterior *Posterior
	Used      []string // names of the series fitted to
	Notes     []string
	Cannot    []string // what the data cannot tell, in words
	Held      []Held
	// HeldBefore and HeldAfter are the root mean squares over all held-out weeks. [-]
	HeldBefore, HeldAfter float64
	// Covered is the share of held-out hours inside the 95 % band of their series. [-]
	Covered  float64
	Predicts string // verdict on the held-out weeks, in words
	Before   *Comparison
	After    *Comparison
}

// At returns the fitted factors.
func (f *HiveFit) At() Factors {
	return Factors{f.Factors[0].Value, f.Factors[1].Value, f.Factors[2].Value}
}

// Measured returns what a hive file keeps of the fit: the factors that the data
// tell. The others stay as computed.
func (f *HiveFit) Measured(last time.Time, from string) hive.Measured {
	m := hive.Measured{On: hive.Day{Year: last.Year(), Month: last.Month(), Day: last.Day()}, From: from}
	for i, v := range []*float64{&m.Shell, &m.Leak, &m.Bees} {
		if f.Factors[i].Told {
			*v = math.Round(f.Factors[i].Value*1000) / 1000
		}
	}
	return m
}

// Hive estimates the factors of shell, leak and bees from series measured in and
// under a hive with its colony, in the hours of a run: the run is repeated with
// other factors (see Update), starting from ranges of the three, until it meets the
// series as well as it can. Measured factors that the plan carries are set aside.
// Some twenty runs are made; the context stops them.
//
// Every third week is left out of the fit and then predicted. Thermometers may be
// off by a constant, a scale's level is free in each piece. Humidity and CO2 are
// compared but not fitted to: the run knows them at two places only.
func Hive(ctx context.Context, in season.Input, series []Series, o HiveOptions) (*HiveFit, error) {
	if o.HoldOut == 0 {
		o.HoldOut = 3
	}
	if o.SensorError == 0 {
		o.SensorError = 0.3
	}
	if o.Settle == 0 {
		o.Settle = 48
	}
	if o.Joints == nil {
		o.Joints = &wall.Cache{}
	}
	in.Plan.Measured = hive.Measured{}
	in.Joints = o.Joints
	hours := len(in.Weather.Hours)
	out := &HiveFit{}
	var fitted []Series
	for _, s := range series {
		if len(s.Values) != hours {
			return nil, fmt.Errorf("%w: %s has %d hours, the weather %d", ErrData, s.Name, len(s.Values), hours)
		}
		switch {
		case s.Place == Inside && s.Quantity == logger.Temperature, s.Place == Scale && s.Quantity == logger.Weight:
			fitted = append(fitted, s)
			out.Used = append(out.Used, s.Name)
		}
	}
	if len(fitted) == 0 {
		return nil, fmt.Errorf("%w: no thermometer inside and no scale among the sensors", ErrData)
	}
	runAt := func(ctx context.Context, theta []float64) (*season.Trace, error) {
		f := Factors{math.Exp(theta[0]), math.Exp(theta[1]), math.Exp(theta[2])}
		trial := in
		trial.Plan = f.Plan(in.Plan)
		trial.Biology = f.Biology(in.Biology)
		return season.Run(ctx, trial, nil)
	}
	usual, err := runAt(ctx, []float64{0, 0, 0})
	if err != nil {
		return nil, err
	}
	if out.Before, err = Compare(usual, series); err != nil {
		return nil, err
	}
	out.Notes = append(out.Notes, out.Before.Notes...)

	held := func(t int) bool { return o.HoldOut > 1 && t/168%o.HoldOut == o.HoldOut-1 }
	model := func(ctx context.Context, theta []float64) ([][]float64, error) {
		tr, err := runAt(ctx, theta)
		if err != nil {
			return nil, err
		}
		all := make([][]float64, len(fitted))
		for i := range fitted {
			// Which hours count was settled by the usual run; where this one has the cluster
			// elsewhere its air is read all the same.
			if all[i], _, err = computedAt(tr, &fitted[i], false); err != nil {
				return nil, err
			}
		}
		return all, nil
	}
	var observed []Observed
	for i := range fitted {
		computed, _, err := ComputedAt(usual, &fitted[i])
		if err != nil {
			return nil, err
		}
		ob := Observed{Name: fitted[i].Name, Values: slices.Clone(fitted[i].Values), Offset: o.SensorError, Least: 0.02}
		if fitted[i].Place == Scale {
			ob.Offset, ob.Least, ob.Pieces = math.Inf(1), 0.005, fitted[i].Pieces
		}
		for t := range ob.Values {
			if t < o.Settle || held(t) || math.IsNaN(computed[t]) {
				ob.Values[t] = math.NaN()
			}
		}
		observed = append(observed, ob)
	}
	priors := []Prior{{"shell", 0, ShellRange}, {"leak", 0, LeakRange}, {"bees", 0, BeesRange}}
	post, err := Update(ctx, observed, priors, model, o.Progress)
	if err != nil {
		return nil, err
	}
	out.Posterior = post
	const enough = 0.5
	for i, p := range priors {
		out.Factors = append(out.Factors, Factor{
			Name: p.Name, Value: math.Exp(post.Mean[i]),
			Interval: evidence.Interval{Lo: math.Exp(post.Interval[i].Lo), Hi: math.Exp(post.Interval[i].Hi)},
			Before:   evidence.Interval{Lo: math.Exp(-1.96 * p.StdDev), Hi: math.Exp(1.96 * p.StdDev)},
			Learnt:   post.Learnt[i], Told: post.Learnt[i] >= enough,
		})
	}
	out.Cannot = cannot(post, fitted)
	after, err := runAt(ctx, post.Mean)
	if err != nil {
		return nil, err
	}
	if out.After, err = Compare(after, series); err != nil {
		return nil, err
	}
	out.predict(in.Weather.Start, fitted, usual, post, o.Settle, held)
	return out, nil
}

// cannot says what the data leave open.
func cannot(p *Posterior, fitted []Series) []string {
	var out []string
	words := map[string]string{"shell": "the conductance of the shell", "leak": "the leakage of the joints", "bees": "the heat of the bees"}
	for i, n := range p.Names {
		switch {
		case p.Learnt[i] < 0.1:
			out = append(out, fmt.Sprintf("Of %s the data say nothing: what stands here is the range before.", words[n]))
		case p.Learnt[i] < 0.5:
			out = append(out, fmt.Sprintf("Of %s the data say little; most of what stands here is the range before.", words[n]))
		}
	}
	for i := range p.Names {
		for j := range i {
			if r := p.Correlation[i][j]; math.Abs(r) > 0.9 {
				way := "both larger or both smaller would fit as well"
				if r < 0 {
					way = "one larger and the other smaller would fit as well"
				}
				out = append(out, fmt.Sprintf("The data can hardly separate %s from %s: %s (correlation %.2f). Take the two together, not one alone.", words[p.Names[j]], words[p.Names[i]], way, r))
			}
		}
	}
	if last := len(p.Sharpness) - 1; p.Sharpness[last] < 1 && p.Sharpness[0] > 1 {
		var parts []string
		for j, v := range p.Directions[last] {
			if math.Abs(v) > 0.3 {
				way := "up"
				if v*p.Directions[last][largest(p.Directions[last])] < 0 {
					way = "down"
				}
				parts = append(parts, p.Names[j]+" "+way)
			}
		}
		out = append(out, fmt.Sprintf("Of the combination %s the data say less than was known before.", strings.Join(parts, ", ")))
	}
	scale, warm := false, false
	for _, s := range fitted {
		scale = scale || s.Place == Scale
		warm = warm || s.Place == Inside
	}
	if !scale {
		out = append(out, "Without a scale the heat of the bees is known only through the temperatures it makes. A scale, or one heater test, would part it from the shell.")
	}
	if !warm {
		out = append(out, "Without a thermometer inside, what the shell lets through is known only through the honey it costs.")
	}
	if !p.Settled {
		out = append(out, "The search had not quite settled; the values may still move within their intervals.")
	}
	return out
}

func largest(v []float64) int {
	at := 0
	for i := range v {
		if math.Abs(v[i]) > math.Abs(v[at]) {
			at = i
		}
	}
	return at
}

// predict holds the held-out weeks against the run before and after. The level of a
// scale is free in each week: what counts is how it changes. Misfits are over the
// scatter of their series after the fit, so that kelvins and kilograms add.
func (f *HiveFit) predict(start time.Time, fitted []Series, usual *season.Trace, post *Posterior, settle int, held func(int) bool) {
	hours := len(fitted[0].Values)
	sumB, sumA, count, inside := 0.0, 0.0, 0.0, 0.0
	for week := 0; week*168 < hours; week++ {
		from, to := max(settle, week*168), min(hours, week*168+168)
		if from >= to || !held(from) || to-from < 72 {
			continue
		}
		weekB, weekA, n := 0.0, 0.0, 0.0
		for i := range fitted {
			s := &fitted[i]
			before, _, err := ComputedAt(usual, s)
			if err != nil {
				continue // it was read before
			}
			marginal := post.Series[i].Scatter / math.Sqrt(math.Max(1e-6, 1-post.Series[i].Memory*post.Series[i].Memory))
			marginal = math.Max(marginal, post.Series[i].RMSE)
			rb, ra := make([]float64, 0, 168), make([]float64, 0, 168)
			for t := from; t < to; t++ {
				if math.IsNaN(s.Values[t]) || math.IsNaN(before[t]) {
					continue
				}
				rb = append(rb, s.Values[t]-before[t])
				ra = append(ra, s.Values[t]-post.Computed[i][t])
			}
			if len(ra) < 24 {
				continue
			}
			if s.Place == Scale {
				mb, ma := mean(rb), mean(ra)
				for k := range ra {
					rb[k] -= mb
					ra[k] -= ma
				}
			} else if len(post.Offsets[i]) > 0 {
				for k := range ra {
					ra[k] -= post.Offsets[i][0]
				}
			}
			for k := range ra {
				weekB += rb[k] * rb[k] / (marginal * marginal)
				weekA += ra[k] * ra[k] / (marginal * marginal)
				n++
				if math.Abs(ra[k]) < 1.96*marginal {
					inside++
				}
			}
		}
		if n == 0 {
			continue
		}
		f.Held = append(f.Held, Held{start.Add(time.Duration(from) * time.Hour), math.Sqrt(weekB / n), math.Sqrt(weekA / n)})
		sumB += weekB
		sumA += weekA
		count += n
	}
	if count == 0 {
		f.Predicts = "No whole week was held out, so that nothing says whether the fit predicts. Measure for three weeks or more."
		return
	}
	f.HeldBefore, f.HeldAfter, f.Covered = math.Sqrt(sumB/count), math.Sqrt(sumA/count), inside/count
	ratio := f.HeldAfter / f.HeldBefore
	better := 0
	for _, h := range f.Held {
		if h.After < h.Before {
			better++
		}
	}
	weeks, often := fmt.Sprintf("%d held-out weeks", len(f.Held)), fmt.Sprintf(" (better in %d)", better)
	if len(f.Held) == 1 {
		weeks, often = "one held-out week", ""
	}
	switch {
	case ratio < 0.9 && 2*better > len(f.Held):
		f.Predicts = fmt.Sprintf("The fit predicts: in %s, which it did not see, the misfit falls to %.0f %%%s. %.0f %% of the hours lie in the 95 %% band.", weeks, 100*ratio, often, 100*f.Covered)
	case ratio < 1.1:
		f.Predicts = fmt.Sprintf("The fit hardly predicts better than the description alone: in %s the misfit is %.0f %% of that before%s.", weeks, 100*ratio, often)
	default:
		f.Predicts = fmt.Sprintf("The fit does not predict: in %s, which it did not see, the misfit grows to %.0f %%. Do not keep it; look for what changed between the weeks.", weeks, 100*ratio)
	}
}
