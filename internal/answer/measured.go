package answer

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"hackle/fit"
	"hackle/hive"
	"hackle/ledger"
	"hackle/logger"
	"hackle/quantity"
	"hackle/season"
	"hackle/wall"
)

// Bounds is a number with its 95 % interval.
type Bounds struct {
	Value float64  `json:"value"`
	Low   *float64 `json:"low"` // nil where there is none
	High  *float64 `json:"high"`
	Error *float64 `json:"standard_uncertainty,omitempty"`
}

func finite(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// boundsOf an estimate; nil where it is no number.
func boundsOf(e fit.Estimate) *Bounds {
	if math.IsNaN(e.Value) || math.IsInf(e.Value, 0) {
		return nil
	}
	return &Bounds{e.Value, finite(e.Interval.Lo), finite(e.Interval.Hi), finite(e.StdError)}
}

// HeaterTest is the document of a heater test.
type HeaterTest struct {
	File    string        `json:"file"`
	Log     string        `json:"log"`
	Hive    string        `json:"hive"`
	Phases  []TestPhase   `json:"phases"`
	Changes []PhaseChange `json:"changes"`
	Notes   []string      `json:"notes"`
}

// TestPhase is one phase of a heater test.
type TestPhase struct {
	Name        string       `json:"name"`
	From        time.Time    `json:"from"`
	To          time.Time    `json:"to"`
	Settled     time.Time    `json:"settled"`
	Hours       float64      `json:"hours"`
	Watts       float64      `json:"watts_W"`
	Outside     float64      `json:"outside_C"`
	Excess      float64      `json:"excess_K"`
	Conductance *Bounds      `json:"conductance_W_per_K"` // to go by
	Method      string       `json:"method"`
	Why         string       `json:"why"`
	Average     *Bounds      `json:"average_W_per_K"`
	Dynamic     *Bounds      `json:"dynamic_W_per_K"`
	Criteria    []TestCheck  `json:"criteria"`
	Capacity    float64      `json:"capacity_J_per_K"`
	Sensors     []TestSensor `json:"sensors"`
	Computed    float64      `json:"computed_W_per_K"` // for the same thermometers
	Ratio       *Bounds      `json:"measured_over_computed"`
	Shell       *Bounds      `json:"shell"` // factor that would explain it, null without
	Text        string       `json:"text"`
	Notes       []string     `json:"notes"`
}

// TestCheck is a condition of the average method.
type TestCheck struct {
	Name  string   `json:"name"`
	Found *float64 `json:"found"`
	Limit float64  `json:"limit"`
	Met   bool     `json:"met"`
}

// TestSensor is one thermometer of a test.
type TestSensor struct {
	Height   float64 `json:"height_mm"`
	Mean     float64 `json:"mean_C"`
	Excess   float64 `json:"excess_K"`
	Computed float64 `json:"computed_excess_K"`
	Alone    *Bounds `json:"alone_W_per_K"` // conductance concluded from it alone
}

// PhaseChange holds a phase against the first.
type PhaseChange struct {
	From string  `json:"from"`
	To   string  `json:"to"`
	All  *Bounds `json:"all_W_per_K"`
	Top  *Bounds `json:"topmost_alone_W_per_K"`
	Text string  `json:"text"`
}

// TestHeater analyses the log of a heater test and holds it against the computed
// hive. The date of in decides wraps and openings; its watts and outdoor air come
// from the log.
func TestHeater(ctx context.Context, file string, log *fit.HeaterLog, logName string, in season.HeaterInput, o fit.HeaterOptions, notes []string) (HeaterTest, error) {
	o.Height = in.Plan.Hive.Height()
	in.Plan.Measured = hive.Measured{} // the description is what is put to the test
	a, err := fit.AnalyseHeater(log, o)
	if err != nil {
		return HeaterTest{}, fmt.Errorf("%s: %w", logName, err)
	}
	doc := HeaterTest{File: file, Log: logName, Hive: in.Plan.Hive.Name, Phases: []TestPhase{}, Changes: []PhaseChange{}, Notes: append([]string{}, notes...)}
	joints := &wall.Cache{}
	for i := range a.Phases {
		p := &a.Phases[i]
		c, err := fit.CompareHeater(ctx, p, in, joints)
		if err != nil {
			return HeaterTest{}, sorted(err)
		}
		t := TestPhase{Name: p.Name, From: p.From, To: p.To, Settled: p.Settled, Hours: p.Hours, Watts: p.Watts, Outside: p.Outside, Excess: p.Excess,
			Conductance: boundsOf(p.Best), Method: p.Method, Why: p.Why, Average: boundsOf(p.Average), Dynamic: boundsOf(p.Dynamic), Capacity: p.Capacity,
			Computed: c.Computed, Ratio: boundsOf(c.Ratio), Shell: boundsOf(c.Shell), Text: c.Text, Notes: append([]string{}, p.Notes...), Criteria: []TestCheck{}, Sensors: []TestSensor{}}
		for _, k := range p.Criteria {
			t.Criteria = append(t.Criteria, TestCheck{k.Name, finite(k.Found), k.Limit, k.Met})
		}
		for j, s := range p.Sensors {
			t.Sensors = append(t.Sensors, TestSensor{s.Height * 1000, s.Mean, s.Excess, c.Levels[j], boundsOf(s.Alone)})
		}
		doc.Phases = append(doc.Phases, t)
	}
	if len(a.Phases) > 1 {
		doc.Notes = append(doc.Notes, "computed is the hive as its file has it on the day of the run, in every phase; where a phase changed something, hold that phase against a file with the change in it")
	}
	for _, c := range a.Changes {
		doc.Changes = append(doc.Changes, PhaseChange{c.From, c.To, boundsOf(c.All), boundsOf(c.Alone[len(c.Alone)-1]), c.Text})
	}
	return doc, nil
}

// Sensed is the record of one sensor in the days of a run.
type Sensed struct {
	Name     string
	Quantity logger.Quantity
	Place    string // inside, outdoors or scale
	Height   float64
	Column   string
	Readings []logger.Reading // rising in time
}

// ScaleStep is a step of a scale that was split off.
type ScaleStep struct {
	Sensor string      `json:"sensor"`
	At     ledger.Date `json:"at"`
	Change float64     `json:"change_kg"`
	Guess  string      `json:"guess"`
}

// Prepared are series ready to compare, with what was done to them.
type Prepared struct {
	Series []fit.Series
	Steps  []ScaleStep
	Notes  []string
}

// Prepare brings readings to the hours of a run: faults left out, the steps of
// scales split off.
func Prepare(sensed []Sensed, start time.Time, hours int) Prepared {
	var out Prepared
	zone := start.Location()
	for _, s := range sensed {
		if len(s.Readings) == 0 {
			out.Notes = append(out.Notes, s.Name+": no readings in these days")
			continue
		}
		clean, doubts := logger.Clean(s.Quantity, s.Readings)
		for _, d := range doubts {
			done := "kept"
			if d.LeftOut {
				done = "left out"
			}
			out.Notes = append(out.Notes, fmt.Sprintf("%s: %d readings from %s to %s, %s; %s", s.Name, d.Readings,
				time.Unix(d.From, 0).In(zone).Format("2 Jan 2006"), time.Unix(d.To, 0).In(zone).Format("2 Jan 2006"), d.What, done))
		}
		series := fit.Series{Name: s.Name, Quantity: s.Quantity, Place: s.Place, Height: s.Height, Column: s.Column}
		if s.Place == fit.Scale && s.Quantity == logger.Weight {
			steps, net := logger.Steps(clean, logger.StepOptions{})
			clean = net
			for _, st := range steps {
				at := time.Unix(st.To, 0).In(zone)
				out.Steps = append(out.Steps, ScaleStep{s.Name, ledger.Date{Time: at}, st.Delta, st.Guess()})
				if h := int((st.To - start.Unix() + 3599) / 3600); h > 0 && h < hours && (len(series.Pieces) == 0 || h > series.Pieces[len(series.Pieces)-1]) {
					series.Pieces = append(series.Pieces, h)
				}
			}
		}
		series.Values = fit.Align(start, hours, logger.Hours(clean))
		out.Series = append(out.Series, series)
	}
	return out
}

// MeasuredHive is the document of a comparison of a hive's sensors with its run,
// and of a fit when one was made.
type MeasuredHive struct {
	File     string          `json:"file"`
	Hive     string          `json:"hive"`
	Weather  WeatherUsed     `json:"weather"`
	From     ledger.Date     `json:"from"`
	To       ledger.Date     `json:"to"`
	Sensors  []MatchedSensor `json:"sensors"`
	Hints    []string        `json:"hints"`
	Steps    []ScaleStep     `json:"steps"`
	Fit      *Fitted         `json:"fit,omitempty"`
	Notes    []string        `json:"notes"`
	Compared *fit.Comparison `json:"-"` // what Sensors came from, for a picture
}

// MatchedSensor is one sensor against the run. Differences are measured less
// computed, in Unit.
type MatchedSensor struct {
	Name     string   `json:"name"`
	Quantity string   `json:"quantity"`
	Unit     string   `json:"unit"`
	Place    string   `json:"place"`
	Height   float64  `json:"height_mm"`
	Column   string   `json:"column"`
	Hours    int      `json:"hours"`
	Bias     float64  `json:"bias"`
	RMSE     float64  `json:"rmse"`
	Swing    *float64 `json:"daily_swing_ratio"`
	Slope    *Bounds  `json:"slope_per_K_outdoors"`
	Lag      int      `json:"lag_h"`
}

// Fitted is what a fit found.
type Fitted struct {
	Factors    []FittedFactor  `json:"factors"`
	Used       []string        `json:"used"`
	Cannot     []string        `json:"cannot"`
	Predicts   string          `json:"predicts"`
	Held       []HeldWeek      `json:"held_weeks"`
	HeldBefore float64         `json:"held_misfit_before"`
	HeldAfter  float64         `json:"held_misfit_after"`
	Covered    float64         `json:"held_covered"`
	Runs       int             `json:"runs"`
	Sensors    []MatchedSensor `json:"sensors_after"`
	Measured   hive.Measured   `json:"-"` // to be kept
}

// FittedFactor is one factor after the fit.
type FittedFactor struct {
	Name       string  `json:"name"`
	Value      float64 `json:"value"`
	Low        float64 `json:"low"`
	High       float64 `json:"high"`
	BeforeLow  float64 `json:"before_low"`
	BeforeHigh float64 `json:"before_high"`
	Learnt     float64 `json:"learnt"`
	Told       bool    `json:"told"`
}

// HeldWeek is a week the fit did not see.
type HeldWeek struct {
	From   ledger.Date `json:"from"`
	Before float64     `json:"misfit_before"`
	After  float64     `json:"misfit_after"`
}

func matchedOf(c *fit.Comparison) []MatchedSensor {
	out := []MatchedSensor{}
	for _, m := range c.Matches {
		s := m.Series
		out = append(out, MatchedSensor{s.Name, s.Quantity.String(), s.Quantity.Unit(), s.Place, s.Height * 1000, s.Column, m.Hours, m.Bias, m.RMSE, finite(m.Swing), boundsOf(m.Slope), m.Lag})
	}
	return out
}

// Measure compares the sensors of a hive with its run in the days of the setting.
// The run is that of the hive with its own measured numbers, where it carries some.
func (s Setting) Measure(ctx context.Context, file string, p Prepared, notes []string, progress func(done, total int)) (MeasuredHive, error) {
	doc := s.measuredDoc(file, p, notes)
	in := s.Input(0)
	tr, err := season.Run(ctx, in, progress)
	if err != nil {
		return doc, sorted(err)
	}
	c, err := fit.Compare(tr, p.Series)
	if err != nil {
		return doc, err
	}
	doc.Sensors, doc.Hints, doc.Compared = matchedOf(c), append([]string{}, c.Hints...), c
	doc.Notes = append(doc.Notes, c.Notes...)
	return doc, nil
}

func (s Setting) measuredDoc(file string, p Prepared, notes []string) MeasuredHive {
	doc := MeasuredHive{File: file, Hive: s.Plans[0].Hive.Name, Weather: Used(s.Weather), From: ledger.Date{Time: s.First}, To: ledger.Date{Time: s.Last},
		Sensors: []MatchedSensor{}, Hints: []string{}, Steps: append([]ScaleStep{}, p.Steps...), Notes: append(append(append([]string{}, notes...), s.Notes...), p.Notes...)}
	return doc
}

// FitHive fits the hive of the setting to its sensors. Progress is told the runs
// done; about thirty are made.
func (s Setting) FitHive(ctx context.Context, file string, p Prepared, o fit.HiveOptions, notes []string) (MeasuredHive, error) {
	doc := s.measuredDoc(file, p, notes)
	in := s.Input(0)
	in.Plan = s.Plans[0]
	in.Plan.Measured = hive.Measured{}
	_, in.Biology = fit.Own(in.Plan)
	f, err := fit.Hive(ctx, in, p.Series, o)
	if err != nil {
		if errors.Is(err, fit.ErrData) {
			return doc, err
		}
		return doc, sorted(err)
	}
	doc.Sensors, doc.Hints, doc.Compared = matchedOf(f.Before), append([]string{}, f.Before.Hints...), f.After
	doc.Notes = append(doc.Notes, f.Notes...)
	doc.Fit = &Fitted{Used: f.Used, Cannot: append([]string{}, f.Cannot...), Predicts: f.Predicts, Held: []HeldWeek{}, HeldBefore: f.HeldBefore, HeldAfter: f.HeldAfter,
		Covered: f.Covered, Runs: f.Posterior.Runs, Sensors: matchedOf(f.After), Measured: f.Measured(s.Last, "loggers "+s.First.Format("2 Jan 2006")+" to "+s.Last.Format("2 Jan 2006"))}
	for _, v := range f.Factors {
		doc.Fit.Factors = append(doc.Fit.Factors, FittedFactor{v.Name, v.Value, v.Interval.Lo, v.Interval.Hi, v.Before.Lo, v.Before.Hi, v.Learnt, v.Told})
	}
	for _, h := range f.Held {
		doc.Fit.Held = append(doc.Fit.Held, HeldWeek{ledger.Date{Time: h.From}, h.Before, h.After})
	}
	return doc, nil
}

// KeepMeasured puts measured numbers into the text of a hive file, in place of those
// that stand there, and leaves everything else as the keeper wrote it. What was not
// measured now stays as it was.
func KeepMeasured(name string, text []byte, m hive.Measured) ([]byte, error) {
	before, err := hive.Decode(name, bytes.NewReader(text))
	if err != nil {
		return nil, err
	}
	for _, v := range [][2]*float64{{&m.Shell, &before.Measured.Shell}, {&m.Leak, &before.Measured.Leak}, {&m.Bees, &before.Measured.Bees}} {
		if *v[0] == 0 {
			*v[0] = *v[1]
		}
	}
	if m.Shell == 0 && m.Leak == 0 && m.Bees == 0 {
		return nil, fmt.Errorf("%w: nothing was measured well enough to keep", fit.ErrData)
	}
	var b strings.Builder
	b.WriteString("measured:\n")
	for _, v := range []struct {
		key string
		v   float64
	}{{"shell", m.Shell}, {"leak", m.Leak}, {"bees", m.Bees}} {
		if v.v != 0 {
			fmt.Fprintf(&b, "  %s: %s\n", v.key, quantity.FormatExact(v.v, quantity.Fraction))
		}
	}
	if !m.On.IsZero() {
		fmt.Fprintf(&b, "  on: %s\n", m.On)
	}
	if m.From != "" {
		fmt.Fprintf(&b, "  from: %q\n", m.From)
	}
	// The section as it stands runs from its key to the next key at the margin.
	var out []byte
	in, put := false, false
	for line := range bytes.Lines(text) {
		margin := len(bytes.TrimSpace(line)) > 0 && line[0] != ' ' && line[0] != '\t' && line[0] != '#'
		if bytes.HasPrefix(line, []byte("measured:")) {
			in, put = true, true
			out = append(out, b.String()...)
			continue
		}
		if in && margin {
			in = false
		}
		if in {
			if len(bytes.TrimSpace(line)) == 0 || line[0] == '#' {
				out = append(out, line...)
			}
			continue
		}
		out = append(out, line...)
	}
	if !put {
		if n := len(out); n > 0 && out[n-1] != '\n' {
			out = append(out, '\n')
		}
		out = append(append(out, '\n'), b.String()...)
	}
	after, err := hive.Decode(name, bytes.NewReader(out))
	if err != nil {
		return nil, fmt.Errorf("%s: its measured section cannot be put in by itself; write it in by hand:\n%s", name, b.String())
	}
	if after.Hive.Name != before.Hive.Name || after.Measured.Shell == 0 && m.Shell != 0 {
		return nil, fmt.Errorf("%s: its measured section cannot be put in by itself; write it in by hand:\n%s", name, b.String())
	}
	return out, nil
}
