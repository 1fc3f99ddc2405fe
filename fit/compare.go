package fit

import (
	"fmt"
	"math"
	"strings"
	"time"

	"hackle/air"
	"hackle/evidence"
	"hackle/logger"
	"hackle/season"
)

// Places of a measured series.
const (
	Inside   = "inside"
	Outdoors = "outdoors"
	Scale    = "scale"
)

// Series is what one sensor measured, hour by hour of a run.
type Series struct {
	Name     string
	Quantity logger.Quantity
	Place    string    // inside, outdoors or scale
	Height   float64   // above the hive's floor, inside only [m]
	Column   string    // core, flank or beyond, inside only
	Values   []float64 // means of the hours of the run; NaN where missing
	Pieces   []int     // of a scale: hours from which on its level is another, steps taken off or not
}

// Align brings hours of a logger to the hours of a run that begins at start; hours
// without a reading are NaN.
func Align(start time.Time, hours int, measured []logger.Hour) []float64 {
	out := make([]float64, hours)
	for i := range out {
		out[i] = math.NaN()
	}
	begin := start.Unix()
	for _, h := range measured {
		// A run that begins on the half hour takes the logger's hour that it overlaps
		// most; of two that overlap alike the earlier.
		i := (h.At - begin + 1799) / 3600
		if h.At < begin-1800 || i < 0 || i >= int64(hours) {
			continue
		}
		out[i] = h.Mean
	}
	return out
}

// ComputedAt reads a run where a sensor hangs, as means over its hours, and says
// what stands in the way. Hours without an answer are NaN: a sensor between the
// combs where the cluster sits measures bees, not air.
func ComputedAt(tr *season.Trace, s *Series) ([]float64, []string, error) {
	return computedAt(tr, s, true)
}

// computedAt is ComputedAt; without masked the air is given also where the cluster
// sits.
func computedAt(tr *season.Trace, s *Series, masked bool) ([]float64, []string, error) {
	switch {
	case s.Place == Outdoors && s.Quantity == logger.Temperature:
		return overHours(tr.Get("outdoor.temp")), nil, nil
	case s.Place == Outdoors && s.Quantity == logger.Humidity:
		return overHours(tr.Get("outdoor.humidity")), nil, nil
	case s.Place == Scale && s.Quantity == logger.Weight:
		v, err := computedWeight(tr)
		return v, nil, err
	case s.Place == Inside && s.Quantity == logger.Temperature:
		return computedAir(tr, s, masked)
	case s.Place == Inside && s.Quantity == logger.Humidity:
		return computedHumidity(tr, s)
	case s.Place == Inside && s.Quantity == logger.CO2:
		v := tr.Get("co2.at_cluster")
		if v == nil {
			break
		}
		return overHours(v), []string{s.Name + ": CO2 is computed beside the cluster, wherever the sensor hangs"}, nil
	}
	return nil, nil, fmt.Errorf("%w: %s: the run has no %s for a sensor %s", ErrData, s.Name, s.Quantity, s.Place)
}

// overHours turns values at the ends of hours into means of the hours.
func overHours(v []float64) []float64 {
	if v == nil {
		return nil
	}
	out := make([]float64, len(v))
	for i := range v {
		out[i] = v[i]
		if i > 0 {
			out[i] = (v[i-1] + v[i]) / 2
		}
	}
	return out
}

// computedWeight sums what stands on a scale and changes: bees, honey, nectar's
// water, water on faces and in wood.
func computedWeight(tr *season.Trace) ([]float64, error) {
	out := make([]float64, tr.Hours)
	for _, name := range []string{"honey.left", "nectar.unripe", "bees.mass", "water.lid", "water.walls", "water.floor", "water.combs", "water.shell"} {
		v := tr.Get(name)
		if v == nil {
			return nil, fmt.Errorf("%w: the run has no %s", ErrData, name)
		}
		for i := range out {
			out[i] += v[i]
		}
	}
	// A sealed cell weighs about 0.15 g more than an empty one: common practice, no
	// source.
	if v := tr.Get("bees.sealed"); v != nil {
		for i := range out {
			out[i] += 0.15e-3 * v[i]
		}
	}
	return overHours(out), nil
}

func computedAir(tr *season.Trace, s *Series, masked bool) ([]float64, []string, error) {
	column := s.Column
	known := false
	for _, c := range tr.Columns {
		known = known || c == column
	}
	var notes []string
	if !known {
		if len(tr.Columns) == 0 {
			return nil, nil, fmt.Errorf("%w: the run has no air columns", ErrData)
		}
		notes = append(notes, fmt.Sprintf("%s: this hive has no column %q; %q is read", s.Name, column, tr.Columns[0]))
		column = tr.Columns[0]
	}
	middle := func(k int) float64 { return (tr.Slabs[k].Bottom + tr.Slabs[k].Top) / 2 }
	below := 0
	for k := range tr.Slabs {
		if middle(k) <= s.Height {
			below = k
		}
	}
	above, share := below, 0.0
	if below+1 < len(tr.Slabs) && s.Height > middle(below) {
		above = below + 1
		share = (s.Height - middle(below)) / (middle(above) - middle(below))
	}
	a, b := tr.Get(fmt.Sprintf("air.%s.%d", column, below+1)), tr.Get(fmt.Sprintf("air.%s.%d", column, above+1))
	if a == nil || b == nil {
		return nil, nil, fmt.Errorf("%w: the run has no air of the %s at %.0f mm", ErrData, column, s.Height*1000)
	}
	out := make([]float64, len(a))
	for i := range out {
		out[i] = a[i] + share*(b[i]-a[i])
	}
	out = overHours(out)
	if column == "core" && masked {
		middle, radius := tr.Get("bees.height"), tr.Get("bees.radius")
		in := 0
		for i := range out {
			if middle != nil && radius != nil && math.Abs(s.Height-middle[i]) < radius[i] {
				out[i] = math.NaN()
				in++
			}
		}
		if in > 0 {
			notes = append(notes, fmt.Sprintf("%s: for %d of %d hours the computed cluster sits round the sensor, which then measures bees and not air; they are left out", s.Name, in, len(out)))
		}
	}
	return out, notes, nil
}

func computedHumidity(tr *season.Trace, s *Series) ([]float64, []string, error) {
	name := "humidity.at_cluster"
	if s.Height > 0.75*tr.Height {
		name = "humidity.under_lid"
	}
	v := tr.Get(name)
	at := tr.Get("air.at_cluster")
	if name == "humidity.under_lid" {
		at = tr.Get("air.under_lid")
	}
	if v == nil || at == nil {
		return nil, nil, fmt.Errorf("%w: the run has no %s", ErrData, name)
	}
	// A hygrometer reads over liquid water, the run over ice in frost.
	out := make([]float64, len(v))
	for i := range v {
		out[i] = v[i] * air.SaturationPressure(at[i]) / air.SaturationPressureLiquid(at[i])
	}
	note := fmt.Sprintf("%s: humidity is computed beside the cluster and under the lid only; the nearer of the two is read", s.Name)
	return overHours(out), []string{note}, nil
}

// Match holds one measured series against the run. Differences are measured less
// computed, in the unit of the series.
type Match struct {
	Series   *Series
	Computed []float64 // by hour; of a scale brought to the mean level of each piece
	Residual []float64 // by hour, NaN where either is missing
	Hours    int       // with both
	Bias     float64
	RMSE     float64
	// Swing is the daily swing measured over that computed: the root mean square about
	// the mean of the day. NaN without whole days. [-]
	Swing float64
	// Slope of the difference with the air outdoors, per kelvin; a scale's change in a
	// day instead of its level.
	Slope Estimate
	// Lag is by how many hours the measured series seems late: the shift with which
	// it follows the computed best within six hours, 0 when none is clearly better.
	Lag   int
	Notes []string
}

// Comparison holds all measured series against a run.
type Comparison struct {
	Start   time.Time
	Matches []Match
	Notes   []string
	Hints   []string // what the misfit suggests, in words
}

// Compare reads a run where the sensors hang and holds the series against it.
func Compare(tr *season.Trace, series []Series) (*Comparison, error) {
	c := &Comparison{Start: tr.Start}
	outdoors := overHours(tr.Get("outdoor.temp"))
	for i := range series {
		s := &series[i]
		if len(s.Values) != tr.Hours {
			return nil, fmt.Errorf("%w: %s has %d hours, the run %d", ErrData, s.Name, len(s.Values), tr.Hours)
		}
		computed, notes, err := ComputedAt(tr, s)
		if err != nil {
			return nil, err
		}
		m := matchOf(s, computed, outdoors)
		m.Notes = notes
		c.Notes = append(c.Notes, notes...)
		if m.Hours < 24 {
			c.Notes = append(c.Notes, fmt.Sprintf("%s: only %d hours have both a measured and a computed value; it is left out", s.Name, m.Hours))
			continue
		}
		c.Matches = append(c.Matches, m)
	}
	if len(c.Matches) == 0 {
		return nil, fmt.Errorf("%w: no sensor has readings in the days of the run", ErrData)
	}
	c.Hints = hints(c)
	return c, nil
}

func matchOf(s *Series, computed, outdoors []float64) Match {
	m := Match{Series: s, Computed: append([]float64(nil), computed...), Residual: make([]float64, len(computed))}
	if s.Place == Scale { // its level is the keeper's stand and boxes
		bounds := append(append([]int{0}, s.Pieces...), len(computed))
		for p := 0; p+1 < len(bounds); p++ {
			sum, n := 0.0, 0.0
			for t := bounds[p]; t < bounds[p+1]; t++ {
				if d := s.Values[t] - computed[t]; !math.IsNaN(d) {
					sum += d
					n++
				}
			}
			for t := bounds[p]; t < bounds[p+1]; t++ {
				if n > 0 {
					m.Computed[t] += sum / n
				} else {
					m.Computed[t] = math.NaN()
				}
			}
		}
	}
	sum, square := 0.0, 0.0
	for t := range m.Residual {
		d := s.Values[t] - m.Computed[t]
		m.Residual[t] = d
		if !math.IsNaN(d) {
			m.Hours++
			sum += d
			square += d * d
		}
	}
	n := float64(max(1, m.Hours))
	m.Bias, m.RMSE = sum/n, math.Sqrt(square/n)
	m.Swing = swing(s.Values, m.Computed)
	m.Slope = slopeWith(s, m.Residual, outdoors)
	if s.Quantity == logger.Temperature {
		m.Lag = lag(s.Values, m.Computed)
	}
	return m
}

// swing compares the scatter within whole days.
func swing(measured, computed []float64) float64 {
	a, b := 0.0, 0.0
	for day := 0; day+24 <= len(measured); day += 24 {
		ma, mb, whole := 0.0, 0.0, true
		for t := day; t < day+24; t++ {
			whole = whole && !math.IsNaN(measured[t]+computed[t])
			ma += measured[t] / 24
			mb += computed[t] / 24
		}
		if !whole {
			continue
		}
		for t := day; t < day+24; t++ {
			a += (measured[t] - ma) * (measured[t] - ma)
			b += (computed[t] - mb) * (computed[t] - mb)
		}
	}
	if b == 0 {
		return math.NaN()
	}
	return math.Sqrt(a / b)
}

// slopeWith regresses daily means of the difference, of a scale its change from day
// to day, on the daily mean outdoors.
func slopeWith(s *Series, residual, outdoors []float64) Estimate {
	none := Estimate{math.NaN(), math.NaN(), evidence.Interval{Lo: math.Inf(-1), Hi: math.Inf(1)}}
	if outdoors == nil {
		return none
	}
	var x [][]float64
	var y []float64
	before := math.NaN()
	for day := 0; day+24 <= len(residual); day += 24 {
		r, o, n := 0.0, 0.0, 0.0
		for t := day; t < day+24; t++ {
			if !math.IsNaN(residual[t]) {
				r += residual[t]
				n++
			}
			o += outdoors[t] / 24
		}
		value := math.NaN()
		if n >= 12 {
			value = r / n
		}
		v := value
		if s.Place == Scale {
			v = value - before
			for _, p := range s.Pieces {
				if p > day-24 && p < day+24 {
					v = math.NaN()
				}
			}
		}
		before = value
		if !math.IsNaN(v) {
			x = append(x, []float64{1, o})
			y = append(y, v)
		}
	}
	const fewest = 10
	if len(y) < fewest {
		return none
	}
	r, err := Linear(x, y)
	if err != nil {
		return none
	}
	cov, df := r.Robust()
	u := math.Sqrt(cov.At(1, 1))
	k := studentQuantile(level, df)
	return Estimate{r.Coefficients[1], u, evidence.Interval{Lo: r.Coefficients[1] - k*u, Hi: r.Coefficients[1] + k*u}}
}

// lag finds the shift in hours with which changes of the measured series follow the
// computed ones best.
func lag(measured, computed []float64) int {
	const widest = 6
	like := func(by int) float64 {
		ab, aa, bb := 0.0, 0.0, 0.0
		for t := 1; t < len(measured); t++ {
			u := t - by
			if u < 1 || u >= len(computed) {
				continue
			}
			a, b := measured[t]-measured[t-1], computed[u]-computed[u-1]
			if math.IsNaN(a + b) {
				continue
			}
			ab += a * b
			aa += a * a
			bb += b * b
		}
		if aa == 0 || bb == 0 {
			return 0
		}
		return ab / math.Sqrt(aa*bb)
	}
	best, at, here := math.Inf(-1), 0, like(0)
	for by := -widest; by <= widest; by++ {
		if v := like(by); v > best {
			best, at = v, by
		}
	}
	const clear = 0.1 // of likeness; below it the shape decides nothing
	if best < 0.3 || best-here < clear {
		return 0
	}
	return at
}

// hints say what a misfit suggests. They point, they do not prove.
func hints(c *Comparison) []string {
	var out []string
	var warm, low, top []Match
	for _, m := range c.Matches {
		if m.Series.Place == Inside && m.Series.Quantity == logger.Temperature {
			warm = append(warm, m)
		}
	}
	late := 0
	for _, m := range c.Matches {
		if m.Lag != 0 {
			late++
			when := "late"
			if m.Lag < 0 {
				when = "early"
			}
			hours := m.Lag
			if hours < 0 {
				hours = -hours
			}
			out = append(out, fmt.Sprintf("%s follows the run best when taken as %d h %s: look at the clock of its logger, and whether it follows summer time.", m.Series.Name, hours, when))
		}
	}
	for _, m := range c.Matches {
		s := m.Series
		switch {
		case s.Place == Outdoors && s.Quantity == logger.Temperature && m.Hours > 72:
			if math.Abs(m.Bias) > 1 {
				out = append(out, fmt.Sprintf("%s reads %+.1f K against the weather of the run: the weather is not that of this stand, or the sensor sees sun or sky. Everything inside carries that error; better run with the measured outdoor air.", s.Name, m.Bias))
			}
		case s.Place == Scale && m.Hours > 168:
			days := float64(len(m.Residual)) / 24
			drift := trend(m.Residual, s.Pieces) * 24
			if math.Abs(drift)*days > 0.5 {
				word, cause := "less", "the colony is smaller or quieter, or the hive holds heat better, than computed"
				if drift < 0 {
					word, cause = "more", "the colony is larger, has more brood, or the hive loses more heat, than computed"
				}
				out = append(out, fmt.Sprintf("On %s the hive lost %.0f g a day %s than computed: %s. Snow, rain and wet wood move a scale too.", s.Name, math.Abs(drift)*1000, word, cause))
			}
		case s.Place == Inside && s.Quantity == logger.Humidity && m.Bias > 0.1:
			out = append(out, fmt.Sprintf("%s is %.0f points wetter than computed: less air passes the hive than described, or the sensor is wet.", s.Name, 100*m.Bias))
		case s.Place == Inside && s.Quantity == logger.Humidity && m.Bias < -0.1:
			out = append(out, fmt.Sprintf("%s is %.0f points drier than computed: more air passes the hive than described, or the sensor hangs in a draught.", s.Name, -100*m.Bias))
		}
	}
	if len(warm) == 0 || late == len(c.Matches) {
		return out
	}
	bias := 0.0
	height := 0.0
	for _, m := range warm {
		bias += m.Bias / float64(len(warm))
		height = math.Max(height, m.Series.Height)
	}
	for _, m := range warm {
		if m.Series.Height < height/2 {
			low = append(low, m)
		} else {
			top = append(top, m)
		}
	}
	mean := func(list []Match) float64 {
		s := 0.0
		for _, m := range list {
			s += m.Bias / float64(len(list))
		}
		return s
	}
	const notable = 0.7 // K; thermometers of one kind differ by half of that
	switch {
	case len(low) > 0 && len(top) > 0 && mean(top)-mean(low) > 1.5:
		out = append(out, fmt.Sprintf("The air is warmer above and colder below than computed (%+.1f and %+.1f K): more air comes in below than described, or the cluster sits higher.", mean(top), mean(low)))
	case len(low) > 0 && len(top) > 0 && mean(low)-mean(top) > 1.5:
		out = append(out, fmt.Sprintf("The air is warmer below and colder above than computed (%+.1f and %+.1f K): warm air escapes above, through a gap under the lid or a vent wider than described, or the cluster sits lower.", mean(low), mean(top)))
	case bias > notable:
		out = append(out, fmt.Sprintf("The air inside is %.1f K warmer than computed at all heights: the shell holds more heat, joints are tighter, or the colony makes more heat. Only a scale or a heater test tells which.", bias))
	case bias < -notable:
		out = append(out, fmt.Sprintf("The air inside is %.1f K colder than computed at all heights: the shell lets more through, joints leak, or the colony makes less heat. Only a scale or a heater test tells which.", -bias))
	default:
		out = append(out, fmt.Sprintf("The air inside is as warm as computed (%+.1f K on the mean of %d sensors).", bias, len(warm)))
	}
	var wide, slim []string
	for _, m := range warm {
		switch {
		case m.Swing > 1.3:
			wide = append(wide, m.Series.Name)
		case m.Swing < 0.7:
			slim = append(slim, m.Series.Name)
		}
	}
	if len(wide) > 0 {
		out = append(out, fmt.Sprintf("%s swings more from day to night than computed: sun on the wall it hangs near, more air passing, or less comb and honey beside it than described.", strings.Join(wide, ", ")))
	}
	if len(slim) > 0 {
		out = append(out, fmt.Sprintf("%s swings less from day to night than computed: bees sit round it, it hangs among full combs, or less air passes.", strings.Join(slim, ", ")))
	}
	return out
}

// trend is the slope of a series by least squares, per step, its level free in each
// piece.
func trend(v []float64, pieces []int) float64 {
	num, den := 0.0, 0.0
	bounds := append(append([]int{0}, pieces...), len(v))
	for p := 0; p+1 < len(bounds); p++ {
		n, st, sv := 0.0, 0.0, 0.0
		for t := bounds[p]; t < bounds[p+1]; t++ {
			if !math.IsNaN(v[t]) {
				n++
				st += float64(t)
				sv += v[t]
			}
		}
		for t := bounds[p]; n > 0 && t < bounds[p+1]; t++ {
			if !math.IsNaN(v[t]) {
				num += (float64(t) - st/n) * (v[t] - sv/n)
				den += (float64(t) - st/n) * (float64(t) - st/n)
			}
		}
	}
	if den == 0 {
		return 0
	}
	return num / den
}
