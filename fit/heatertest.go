package fit

import (
	"fmt"
	"math"
	"slices"
	"time"

	"hackle/evidence"
)

// HeaterOptions say how well the instruments are known. The zero value takes the
// stated defaults.
type HeaterOptions struct {
	// Height of the hive inside, floor to what closes it above; 0: the height of
	// the topmost thermometer. The thermometers count by the height they stand for. [m]
	Height float64
	// SensorError is the standard uncertainty of the difference between two
	// thermometers after they were read side by side; 0: 0.2 K (common practice,
	// no source). [K]
	SensorError float64
	// PowerError is the standard uncertainty of the power as a share; 0: 0.02
	// (common practice, no source). [-]
	PowerError float64
}

// level of all intervals.
const level = 0.95

// Estimate is a number with what is known of it.
type Estimate struct {
	Value    float64
	StdError float64           // standard uncertainty, statistical and systematic joined, in the unit of Value
	Interval evidence.Interval // at 95 %
}

// Criterion is one condition that a method asks of a test.
type Criterion struct {
	Name  string
	Found float64 // in the unit that Name says
	Limit float64
	Met   bool
}

// HeaterAnswer is what a heater test tells.
type HeaterAnswer struct {
	Phases []PhaseAnswer
	// Changes hold every later phase against the first.
	Changes []PhaseChange
}

// PhaseAnswer is what one phase of a heater test tells.
type PhaseAnswer struct {
	Name     string
	From, To time.Time
	Hours    float64 // [h]
	Step     time.Duration
	// Settled is when the part began that the averages are taken over.
	Settled time.Time
	Watts   float64 // mean over the settled part [W]
	Outside float64 // likewise [°C]
	Excess  float64 // of the mean air over outdoors, likewise [K]
	Sensors []SensorAnswer
	// Average is the conductance by the average method [W/K].
	Average  Estimate
	Criteria []Criterion // of the average method
	// Dynamic is the conductance by the dynamic method [W/K].
	Dynamic       Estimate
	Capacity      float64   // heat that the hive takes up per kelvin, as the dynamic method sees it [J/K]
	TimeConstants []float64 // of the dynamic method beside the air's own [s]
	Condition     float64   // of the dynamic regression [-]
	Misfit        float64   // residual of the dynamic regression over the mean power [-]
	// Best is the answer to go by, Method the one it is from, Why the reason.
	Best   Estimate
	Method string
	Why    string
	Notes  []string
}

// SensorAnswer is what one thermometer says by itself.
type SensorAnswer struct {
	Height float64 // [m]
	Weight float64 // share of the hive's height it stands for [-]
	Mean   float64 // [°C]
	Excess float64 // over outdoors [K]
	// Alone is the conductance that would be concluded from it alone [W/K].
	Alone Estimate
}

// PhaseChange holds a phase against the first.
type PhaseChange struct {
	From, To string
	// All is the change of conductance by all thermometers [W/K].
	All Estimate
	// Alone are the changes that single thermometers would have shown, by height [W/K].
	Alone []Estimate
	Text  string
}

// Tells reports whether an estimate of a change stands clear of zero.
func (e Estimate) Tells() bool { return e.Interval.Lo > 0 || e.Interval.Hi < 0 }

// AnalyseHeater finds the conductance of a hive from a heater test: heat over the
// excess of the air inside, the thermometers weighted by the height they stand
// for. Each phase of the log is a test by itself. Two methods:
//
//   - the average method: heat put in less heat stored, over the sum of the excess,
//     once warming is past; with the conditions that ISO 9869-1, 7.1, asks for,
//   - the dynamic method of ISO 9869-1, annex B: linear regression of the power on
//     the excess, on the slopes of both temperatures and on their fading memory,
//     with time constants that fit best.
//
// ISO 9869-1:2014 "In-situ measurement of thermal resistance and thermal
// transmittance, part 1: heat flow meter method" is taken from memory; here the
// whole box stands in for the heat flow meter, as in tests of whole buildings
// ("Estimation of the heat loss coefficient ... through an average method",
// Energies 13 (2020) 5724, DOI 10.3390/en13215724; "Data-based RC dynamic
// modelling ...", Energies 13 (2020) 4800, DOI 10.3390/en13184800).
func AnalyseHeater(log *HeaterLog, o HeaterOptions) (*HeaterAnswer, error) {
	if o.SensorError == 0 {
		o.SensorError = 0.2
	}
	if o.PowerError == 0 {
		o.PowerError = 0.02
	}
	top := log.Heights[len(log.Heights)-1]
	if o.Height == 0 {
		o.Height = top
	}
	if o.Height < top-1e-9 {
		return nil, fmt.Errorf("%w: a thermometer at %.0f mm in a hive %.0f mm high inside", ErrData, top*1000, o.Height*1000)
	}
	a := &HeaterAnswer{}
	for from := 0; from < len(log.Rows); {
		to := from + 1
		for to < len(log.Rows) && log.Rows[to].Phase == log.Rows[from].Phase {
			to++
		}
		for _, p := range a.Phases {
			if p.Name == log.Rows[from].Phase {
				return nil, fmt.Errorf("%w: phase %q comes twice; give the second a name of its own", ErrData, p.Name)
			}
		}
		p, err := analysePhase(log.Heights, log.Rows[from:to], o)
		if err != nil {
			if log.Rows[from].Phase != "" {
				err = fmt.Errorf("phase %q: %w", log.Rows[from].Phase, err)
			}
			return nil, err
		}
		a.Phases = append(a.Phases, *p)
		from = to
	}
	for i := 1; i < len(a.Phases); i++ {
		a.Changes = append(a.Changes, changeOf(&a.Phases[0], &a.Phases[i], o))
	}
	return a, nil
}

// weights of thermometers by the share of the height each stands for.
func weights(heights []float64, height float64) []float64 {
	w := make([]float64, len(heights))
	for i, z := range heights {
		low, high := 0.0, height
		if i > 0 {
			low = (heights[i-1] + z) / 2
		}
		if i < len(heights)-1 {
			high = (heights[i+1] + z) / 2
		}
		w[i] = (high - low) / height
	}
	return w
}

// phaseData is a phase brought to even steps.
type phaseData struct {
	step    float64 // [s]
	start   time.Time
	watts   []float64
	outside []float64
	mean    []float64   // of the air, thermometers weighted
	inside  [][]float64 // by thermometer
	cold    bool        // at the start the hive was nearly as cold as outdoors
}

const (
	leastPhaseRows  = 24
	leastPhaseHours = 6
	longestBridge   = 1.0 // gap that is bridged [h]
)

// even brings rows to equal steps by means over each; gaps up to an hour are
// bridged by straight lines.
func even(heights []float64, rows []HeaterRow, weight []float64) (*phaseData, []string, error) {
	span := rows[len(rows)-1].At.Sub(rows[0].At).Hours()
	if len(rows) < leastPhaseRows || span < leastPhaseHours {
		return nil, nil, fmt.Errorf("%w: %d readings over %.1f h, wanted at least %d over %d h", ErrData, len(rows), span, leastPhaseRows, leastPhaseHours)
	}
	var steps []float64
	for i := 1; i < len(rows); i++ {
		steps = append(steps, rows[i].At.Sub(rows[i-1].At).Seconds())
	}
	slices.Sort(steps)
	step := steps[len(steps)/2]
	if step > 3600 {
		return nil, nil, fmt.Errorf("%w: readings %.0f min apart, wanted at most an hour", ErrData, step/60)
	}
	// Finer than ten minutes is noise; a slope wants steps.
	step = math.Max(step, 600)
	if n := span * 3600 / step; n < leastPhaseRows {
		step = span * 3600 / leastPhaseRows
	}
	n := int(span*3600/step) + 1
	columns := 2 + len(heights)
	sum, count := make([][]float64, columns), make([][]float64, columns)
	for c := range sum {
		sum[c], count[c] = make([]float64, n), make([]float64, n)
	}
	for _, r := range rows {
		k := min(n-1, int(r.At.Sub(rows[0].At).Seconds()/step))
		for c := range columns {
			v := r.Watts
			if c == 1 {
				v = r.Outside
			} else if c > 1 {
				v = r.Inside[c-2]
			}
			if !math.IsNaN(v) {
				sum[c][k] += v
				count[c][k]++
			}
		}
	}
	d := &phaseData{step: step, start: rows[0].At}
	var notes []string
	series := make([][]float64, columns)
	for c := range series {
		series[c] = make([]float64, n)
		bridged := 0
		last := -1
		for k := range n {
			if count[c][k] == 0 {
				continue
			}
			series[c][k] = sum[c][k] / count[c][k]
			if last < 0 && k > 0 || last >= 0 && float64(k-last-1)*step > longestBridge*3600 {
				return nil, nil, fmt.Errorf("%w: no reading of %s for %.1f h from %s", ErrData, columnName(c, heights), float64(k-last-1)*step/3600,
					d.start.Add(time.Duration(float64(last+1)*step)*time.Second).Format("2 Jan 15:04"))
			}
			for j := last + 1; last >= 0 && j < k; j++ {
				f := float64(j-last) / float64(k-last)
				series[c][j] = series[c][last] + f*(series[c][k]-series[c][last])
				bridged++
			}
			last = k
		}
		if last < n-1 {
			if last < n-2 {
				return nil, nil, fmt.Errorf("%w: readings of %s end before the others", ErrData, columnName(c, heights))
			}
			series[c][n-1] = series[c][last]
		}
		if bridged > 0 {
			notes = append(notes, fmt.Sprintf("%d of %d steps of %s bridged", bridged, n, columnName(c, heights)))
		}
	}
	d.watts, d.outside, d.inside = series[0], series[1], series[2:]
	d.mean = make([]float64, n)
	first := -rows[0].Outside
	for i, w := range weight {
		first += w * rows[0].Inside[i]
	}
	for k := range n {
		for i, w := range weight {
			d.mean[k] += w * d.inside[i][k]
		}
	}
	d.cold = math.Abs(first) < 0.3*(mean(d.mean[n/2:])-mean(d.outside[n/2:])) // false for a missing value
	return d, notes, nil
}

func columnName(c int, heights []float64) string {
	switch c {
	case 0:
		return "the heater"
	case 1:
		return "the thermometer outside"
	}
	return fmt.Sprintf("the thermometer at %.0f mm", heights[c-2]*1000)
}

func analysePhase(heights []float64, rows []HeaterRow, o HeaterOptions) (*PhaseAnswer, error) {
	weight := weights(heights, o.Height)
	d, notes, err := even(heights, rows, weight)
	if err != nil {
		return nil, err
	}
	n := len(d.mean)
	p := &PhaseAnswer{
		Name: rows[0].Phase, From: rows[0].At, To: rows[len(rows)-1].At, Hours: float64(n) * d.step / 3600,
		Step: time.Duration(d.step * float64(time.Second)), Notes: notes,
	}
	dyn, err := dynamic(d)
	if err != nil {
		return nil, err
	}
	p.Capacity, p.TimeConstants, p.Condition = dyn.capacity, dyn.taus, dyn.fit.Condition

	// The averages begin when what was there before has faded to a twentieth.
	slowest := p.Capacity / math.Max(dyn.conductance, 1e-6)
	for _, tau := range dyn.taus {
		slowest = math.Max(slowest, tau)
	}
	skip := min(int(3*slowest/d.step), n/2)
	if day := int(86400 / d.step); n-skip > 2*day { // whole days
		skip = n - (n-skip)/day*day
	}
	p.Settled = d.start.Add(time.Duration(float64(skip) * d.step * float64(time.Second)))
	if 3*slowest > float64(n/2)*d.step {
		p.Notes = append(p.Notes, fmt.Sprintf("the hive takes about %.0f h to settle, longer than this phase leaves; heat still going into wood and comb is allowed for by the dynamic method alone", 3*slowest/3600))
	}
	p.Watts, p.Outside = mean(d.watts[skip:]), mean(d.outside[skip:])
	p.Excess = mean(d.mean[skip:]) - p.Outside
	if !(p.Excess > 1) || !(p.Watts > 0) {
		return nil, fmt.Errorf("%w: the air is %.1f K above outdoors at %.1f W; wanted is a heater that is on and more than 1 K", ErrData, p.Excess, p.Watts)
	}
	p.Average = average(d, d.mean, skip, p.Capacity, o)
	p.Criteria = criteria(d, skip, p.Capacity)
	p.Misfit = dyn.fit.ResidualSD / p.Watts

	cov, df := dyn.fit.Robust()
	p.Dynamic = joined(dyn.conductance, math.Sqrt(cov.At(0, 0)), df, systematic(p.Excess, o))
	for i, z := range heights {
		s := SensorAnswer{Height: z, Weight: weight[i], Mean: mean(d.inside[i][skip:])}
		s.Excess = s.Mean - p.Outside
		if s.Excess > 0.5 {
			s.Alone = average(d, d.inside[i], skip, p.Capacity, o)
		} else {
			s.Alone = Estimate{math.NaN(), math.NaN(), evidence.Interval{Lo: 0, Hi: math.Inf(1)}}
		}
		p.Sensors = append(p.Sensors, s)
	}
	if p.Excess < 5 {
		p.Notes = append(p.Notes, fmt.Sprintf("the air is only %.1f K above outdoors; with 10 K and more the thermometers' errors weigh less", p.Excess))
	}
	p.choose()
	return p, nil
}

// choose settles which method to go by.
func (p *PhaseAnswer) choose() {
	met := true
	for _, c := range p.Criteria {
		met = met && c.Met
	}
	apart := math.Abs(p.Average.Value-p.Dynamic.Value) / math.Hypot(p.Average.StdError, p.Dynamic.StdError)
	switch {
	case met:
		p.Best, p.Method, p.Why = p.Average, "average", "all its conditions are met"
	case p.Misfit < 0.25 && p.Condition < 1e6:
		p.Best, p.Method, p.Why = p.Dynamic, "dynamic", "the average method's conditions are not all met"
	default:
		p.Best, p.Method, p.Why = p.Average, "average", "its conditions are not all met, but the dynamic method fits badly too"
		p.Notes = append(p.Notes, "take the result as a rough figure and test longer")
	}
	if apart > 2.5 {
		p.Notes = append(p.Notes, fmt.Sprintf("the two methods disagree: %.2f and %.2f W/K; the interval is the wider for it", p.Average.Value, p.Dynamic.Value))
		lo := math.Min(p.Average.Interval.Lo, p.Dynamic.Interval.Lo)
		hi := math.Max(p.Average.Interval.Hi, p.Dynamic.Interval.Hi)
		p.Best.Interval = evidence.Interval{Lo: lo, Hi: hi}
		p.Best.StdError = (hi - lo) / 2 / studentQuantile(level, 1e6)
	}
}

// systematic is the share by which instruments alone can put the conductance
// off: power, and the difference of thermometers. [-]
func systematic(excess float64, o HeaterOptions) float64 {
	return math.Hypot(o.PowerError, o.SensorError/excess)
}

// joined adds the systematic share to a statistical standard error.
func joined(value, statistical, df, share float64) Estimate {
	u := math.Hypot(statistical, share*value)
	// Effective degrees of freedom by Welch and Satterthwaite; the systematic part
	// has none to lose (Guide to the expression of uncertainty in measurement, G.4).
	k := studentQuantile(level, 1e6)
	if statistical > 0 {
		if eff := df * math.Pow(u/statistical, 4); eff < 1e6 {
			k = studentQuantile(level, math.Max(1, eff))
		}
	}
	return Estimate{value, u, evidence.Interval{Lo: value - k*u, Hi: value + k*u}}
}

// conductanceOver is heat put in less heat stored, over the sum of the excess, of
// the steps from a to b. [W/K]
func (d *phaseData) conductanceOver(air []float64, a, b int, capacity float64) float64 {
	heat, excess := 0.0, 0.0
	for k := a; k < b; k++ {
		heat += d.watts[k] * d.step
		excess += (air[k] - d.outside[k]) * d.step
	}
	// The levels at the ends, each over a few steps so that noise counts less.
	edge := max(1, min(3, (b-a)/4))
	rise := mean(d.mean[b-edge:b]) - mean(d.mean[a:a+edge])
	rise *= float64(b-a) / math.Max(1, float64(b-a-edge))
	return (heat - capacity*rise) / excess
}

// average is the average method over the settled part, its scatter from as many
// pieces as it holds.
func average(d *phaseData, air []float64, skip int, capacity float64, o HeaterOptions) Estimate {
	n := len(air)
	value := d.conductanceOver(air, skip, n, capacity)
	excess := mean(air[skip:]) - mean(d.outside[skip:])
	// Scatter: the residual heat of every step, alike in time as it is.
	x := make([][]float64, n-skip)
	y := make([]float64, n-skip)
	for i := range x {
		k := skip + i
		x[i] = []float64{air[k] - d.outside[k]}
		slope := 0.0
		if k > 0 && k < n-1 {
			slope = (d.mean[k+1] - d.mean[k-1]) / (2 * d.step)
		}
		y[i] = d.watts[k] - capacity*slope
	}
	r, err := Linear(x, y)
	if err != nil {
		return joined(value, 0, 1, systematic(excess, o))
	}
	cov, df := r.Robust()
	return joined(value, math.Sqrt(cov.At(0, 0)), df, systematic(excess, o))
}

// criteria of the average method, ISO 9869-1:2014, 7.1 (from memory): at least
// three days; the result no more than 5 % from that of a day before; the first and
// the last two thirds no more than 5 % apart; and the heat stored no more than 5 %
// of the heat that passed (the standard's own condition for heavy walls).
func criteria(d *phaseData, skip int, capacity float64) []Criterion {
	const share = 0.05
	n := len(d.mean)
	hours := float64(n-skip) * d.step / 3600
	all := d.conductanceOver(d.mean, skip, n, capacity)
	out := []Criterion{{"settled length [h]", hours, 72, hours >= 72-1e-6}}
	ratio := func(name string, a, b int) {
		if b-a < 6 {
			out = append(out, Criterion{name, math.Inf(1), share, false})
			return
		}
		v := math.Abs(d.conductanceOver(d.mean, a, b, capacity)/all - 1)
		out = append(out, Criterion{name, v, share, v <= share})
	}
	day := int(86400 / d.step)
	if n-skip > day {
		ratio("change over the last day [-]", skip, n-day)
	} else {
		out = append(out, Criterion{"change over the last day [-]", math.Inf(1), share, false})
	}
	part := (n - skip) * 2 / 3
	if whole := part / day * day; whole > 0 {
		part = whole
	}
	first := d.conductanceOver(d.mean, skip, skip+part, capacity)
	last := d.conductanceOver(d.mean, n-part, n, capacity)
	v := math.Abs(first/last - 1)
	out = append(out, Criterion{"first against last two thirds [-]", v, share, v <= share})
	heat := 0.0
	for k := skip; k < n; k++ {
		heat += d.watts[k] * d.step
	}
	v = math.Abs(capacity*(d.mean[n-1]-d.mean[skip])) / heat
	return append(out, Criterion{"heat stored over heat passed [-]", v, share, v <= share})
}

// dynamicFit is the dynamic regression with the time constants that fit best.
type dynamicFit struct {
	fit         *Regression
	conductance float64
	capacity    float64
	taus        []float64
}

// dynamic fits
//
//	P = H (Ti − Te) + K1 dTi/dt − K2 dTe/dt + Σn [Pn Σj dTi/dt(j) (1−βn) βn^(i−j) + Qn Σj dTe/dt(j) (1−βn) βn^(i−j)]
//	βn = exp(−Δt/τn)
//
// for no, one and two time constants τ and takes the number with the lowest
// information criterion (BIC). Two constants stand at a fixed ratio of 5, as the
// annex allows.
func dynamic(d *phaseData) (*dynamicFit, error) {
	n := len(d.mean)
	slope := func(v []float64) []float64 {
		s := make([]float64, n)
		for k := 1; k < n; k++ {
			s[k] = (v[k] - v[k-1]) / d.step
		}
		return s
	}
	inner, outer := slope(d.mean), slope(d.outside)
	memory := func(s []float64, tau float64) []float64 {
		beta := math.Exp(-d.step / tau)
		m := make([]float64, n)
		for k := 1; k < n; k++ {
			m[k] = beta * (m[k-1] + (1-beta)*s[k-1])
		}
		return m
	}
	// A hive that starts as cold as outdoors has no memory of before, and its warming
	// tells best what it stores; else the first tenth only fills the memory.
	skip := max(1, n/10)
	if d.cold {
		skip = 1
	}
	y := d.watts[skip:]
	try := func(taus []float64) (*dynamicFit, float64) {
		columns := [][]float64{nil, inner}
		if varies(outer) {
			columns = append(columns, outer)
		}
		for _, tau := range taus {
			columns = append(columns, memory(inner, tau))
			if varies(outer) {
				columns = append(columns, memory(outer, tau))
			}
		}
		x := make([][]float64, n-skip)
		for i := range x {
			k := skip + i
			x[i] = make([]float64, len(columns))
			// The slope stands for the middle of its step, and so must the excess.
			x[i][0] = (d.mean[k]+d.mean[k-1])/2 - (d.outside[k]+d.outside[k-1])/2
			for j := 1; j < len(columns); j++ {
				x[i][j] = columns[j][k]
			}
		}
		middle := make([]float64, len(y))
		for i := range y {
			middle[i] = (d.watts[skip+i] + d.watts[skip+i-1]) / 2
		}
		r, err := Linear(x, middle)
		if err != nil || r.DF < 8 {
			return nil, math.Inf(1)
		}
		sum := r.ResidualSD * r.ResidualSD * float64(r.DF)
		f := &dynamicFit{fit: r, conductance: r.Coefficients[0], taus: taus, capacity: r.Coefficients[1]}
		// In the long run all memory of the inner slope counts as storage.
		at, each := 2, 1 // where the first memory stands, and columns a constant
		if varies(outer) {
			at, each = 3, 2
		}
		for t := range taus {
			f.capacity += r.Coefficients[at+t*each] * math.Exp(-d.step/taus[t])
		}
		return f, sum
	}
	var best *dynamicFit
	bestScore := math.Inf(1)
	for m := range 3 {
		var found *dynamicFit
		least := math.Inf(1)
		if m == 0 {
			found, least = try(nil)
		} else {
			const ratio = 5
			longest := float64(n) * d.step / 4
			for tau := 2 * d.step; tau <= longest; tau *= 1.25 {
				taus := []float64{tau}
				if m == 2 {
					taus = append(taus, tau/ratio)
					if tau/ratio < d.step {
						continue
					}
				}
				// A constant whose storage comes out negative describes no hive.
				if f, sum := try(taus); f != nil && f.conductance > 0 && f.capacity > 0 && sum < least {
					found, least = f, sum
				}
			}
		}
		if found == nil {
			continue
		}
		rows := float64(len(found.fit.Residuals))
		free := float64(len(found.fit.Coefficients) + m)
		score := rows*math.Log(math.Max(least, 1e-300)/rows) + free*math.Log(rows)
		if score < bestScore {
			best, bestScore = found, score
		}
	}
	if best == nil || !(best.conductance > 0) {
		return nil, fmt.Errorf("%w: the temperatures do not follow the heater; was it on, and the log of this test?", ErrData)
	}
	best.capacity = math.Max(0, best.capacity)
	return best, nil
}

func varies(v []float64) bool {
	for _, x := range v {
		if x != v[0] {
			return true
		}
	}
	return false
}

func mean(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s / float64(len(v))
}

// changeOf holds phase b against a. Errors that thermometers and meter carry
// through both phases cancel but for a share of the change itself.
func changeOf(a, b *PhaseAnswer, o HeaterOptions) PhaseChange {
	difference := func(x, y Estimate, excessX, excessY float64) Estimate {
		// What is systematic moves both results by nearly one factor.
		common := func(e Estimate, excess float64) float64 { return systematic(excess, o) * e.Value }
		own := func(e Estimate, excess float64) float64 {
			s := common(e, excess)
			return math.Sqrt(math.Max(0, e.StdError*e.StdError-s*s))
		}
		v := y.Value - x.Value
		u := math.Hypot(own(x, excessX), own(y, excessY))
		left := math.Abs(common(y, excessY) - common(x, excessX))
		u = math.Hypot(u, left)
		k := studentQuantile(level, 30)
		return Estimate{v, u, evidence.Interval{Lo: v - k*u, Hi: v + k*u}}
	}
	c := PhaseChange{From: a.Name, To: b.Name}
	c.All = difference(a.Average, b.Average, a.Excess, b.Excess)
	for i := range a.Sensors {
		c.Alone = append(c.Alone, difference(a.Sensors[i].Alone, b.Sensors[i].Alone, a.Sensors[i].Excess, b.Sensors[i].Excess))
	}
	say := func(e Estimate) string {
		s := fmt.Sprintf("%+.2f W/K (%+.2f to %+.2f)", e.Value, e.Interval.Lo, e.Interval.Hi)
		if !e.Tells() {
			s += ", which cannot tell it from none"
		}
		return s
	}
	top := c.Alone[len(c.Alone)-1]
	c.Text = fmt.Sprintf("From %q to %q the conductance changes by %s by all thermometers.", a.Name, b.Name, say(c.All))
	if len(c.Alone) > 1 {
		c.Text += fmt.Sprintf(" The topmost alone would have said %s.", say(top))
		switch {
		case c.All.Tells() && !top.Tells():
			c.Text += " One thermometer at the top would have missed it."
		case c.All.Tells() && top.Value < c.All.Value/2:
			c.Text += " One thermometer at the top would have shown less than half of it."
		case !c.All.Tells() && top.Tells():
			c.Text += " One thermometer at the top would have shown a change that the others do not bear out."
		}
	} else {
		c.Text += " There is one thermometer only: what happens at other heights is not seen."
	}
	return c
}
