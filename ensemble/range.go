package ensemble

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"hackle/hive"
	"hackle/ledger"
	"hackle/season"
	"hackle/wall"
)

// Question asks for the range of one hive.
type Question struct {
	// Base has the plan as the engine runs it and the usual biology; its weather is
	// not read.
	Base   season.Input
	Design Design
	// Overhead is the water over the cluster that is too much: the most that stood above
	// it and all that dripped on it; 0: OverheadUsual. [kg]
	Overhead float64
	// Enough is how narrow the interval of the stores must be, as a share of them, for
	// the draws to stop; the chance of starving must then be known to as many points
	// of a hundred. 0: all draws are run.
	Enough  float64
	Workers int
	// Journal is the file that keeps the draws; empty: none.
	Journal string
	// Book keeps the draws as well, where no file is at hand; nil: none.
	Book Book
	// Course keeps the honey left at the end of every week in each row, for
	// Range.HoneyLeft.
	Course bool
	// Program names the program whose engine ran the draws, so that a journal of
	// another one is refused.
	Program string
}

// OverheadUsual is the water over the cluster from which on it is too much, if nothing
// else is said: two teaspoons. Common practice, no source. [kg]
const OverheadUsual = 0.01

// Rows of a question: what outcomes come to, then the lines of the ledger.
const (
	rowFault = iota
	rowStarved
	rowUse
	rowReserve
	rowHoney // factor of the honey that was drawn
	rowCombShare
	rowCombFell
	rowOverhead
	rowLines // first of the lines
)

// numbered are the lines of a ledger that hold a number.
func numbered() []ledger.Line {
	var out []ledger.Line
	for _, n := range ledger.Lines() {
		if n.Section != "" {
			out = append(out, n)
		}
	}
	return out
}

// rowVersion changes when a number of a row comes to mean something else.
const rowVersion = 2

// Columns is how many numbers the row of a draw has.
func (q *Question) Columns() int { return rowLines + len(numbered()) + q.weeks() }

// weeks of the course that are kept.
func (q *Question) weeks() int {
	if !q.Course || len(q.Design.Years) == 0 {
		return 0
	}
	return (len(q.Design.Years[0].Hours) + week - 1) / week
}

const week = 7 * 24 // [h]

// Row evaluates a draw.
func (q *Question) Row(ctx context.Context, draw Draw, joints *wall.Cache) ([]float64, error) {
	c := q.Design.Case(draw, q.Base)
	forage, _ := FirstForage(q.Base.Plan, c.Weather.Start, q.latitude())
	o, err := Evaluate(ctx, c, forage, joints)
	if err != nil {
		return nil, fmt.Errorf("draw %d: %w", draw.Index+1, err)
	}
	lines := numbered()
	row := make([]float64, q.Columns())
	for i := range row {
		row[i] = math.NaN()
	}
	row[rowFault] = 0
	if o.Fault != "" {
		row[rowFault] = 1
		return row, nil
	}
	row[rowStarved], row[rowUse], row[rowReserve], row[rowCombShare], row[rowCombFell] = o.Starved, o.Use, o.Reserve, o.CombShare, o.CombFell
	row[rowOverhead] = o.Ledger.Water.OverheadMost + o.Ledger.Water.DrippedBees
	row[rowHoney] = 1
	for j, in := range q.Design.Inputs {
		if in.Name == "honey" {
			row[rowHoney] = draw.Values[j]
		}
	}
	for k, n := range lines {
		if v, ok := n.Value(&o.Ledger); ok {
			row[rowLines+k] = v
		}
	}
	for k := range q.weeks() {
		row[rowLines+len(lines)+k] = o.honeyAfter((k + 1) * week)
	}
	return row, nil
}

func (q *Question) latitude() float64 {
	if q.Base.Plan.Site.HasPlace {
		return q.Base.Plan.Site.Latitude
	}
	return q.Design.Years[0].Latitude
}

func (q *Question) overhead() float64 {
	if q.Overhead > 0 {
		return q.Overhead
	}
	return OverheadUsual
}

// Check refuses a question that has no answer.
func (q *Question) Check() error {
	if !(q.Overhead >= 0 && q.Overhead < 100) {
		return fmt.Errorf("ensemble: limit of overhead water %g kg, accepted: 0 to 100 kg", q.Overhead)
	}
	if !(q.Enough >= 0 && q.Enough < 1) {
		return fmt.Errorf("ensemble: enough at %g of the stores, accepted: 0 to 0.99", q.Enough)
	}
	if q.Design.Count < 1 || q.Design.Count > mostPoints {
		return fmt.Errorf("ensemble: %d draws, accepted: 1 to %d", q.Design.Count, mostPoints)
	}
	return q.Design.Check()
}

// checkEvery is after how many draws in order it is asked whether they are enough,
// and leastDraws how many there must be.
const (
	checkEvery = 16
	leastDraws = 64
)

// Ask runs the draws and sums them up. Progress may be nil. On a cancelled context
// it returns the context's error; what was run is in the journal.
func (q *Question) Ask(ctx context.Context, progress func(done, total int)) (*Range, error) {
	if err := q.Check(); err != nil {
		return nil, err
	}
	b := Batch{Count: q.Design.Count, Columns: q.Columns(), Workers: q.Workers, Progress: progress}
	joints := &wall.Cache{}
	b.Evaluate = func(ctx context.Context, i int) ([]float64, error) { return q.Row(ctx, q.Design.Draw(i), joints) }
	if q.Enough > 0 {
		b.Every, b.Enough = checkEvery, func(rows [][]float64) bool {
			if len(rows) < leastDraws {
				return false
			}
			s := q.step(rows)
			return s.Stores.Width() <= q.Enough*s.Stores.Value && s.Starve.Width() <= q.Enough
		}
	}
	if q.Journal != "" {
		key, err := q.key()
		if err != nil {
			return nil, err
		}
		j, err := OpenJournal(q.Journal, key, b.Columns)
		if err != nil {
			return nil, err
		}
		defer j.Close()
		b.Journal = j
	}
	if q.Book != nil {
		key, err := q.key()
		if err != nil {
			return nil, err
		}
		s := &shelf{q.Book, key, b.Columns}
		evaluate := b.Evaluate
		b.Evaluate = func(ctx context.Context, i int) ([]float64, error) {
			if row, ok := s.get(i); ok {
				return row, nil
			}
			row, err := evaluate(ctx, i)
			if err == nil {
				err = s.put(i, row)
			}
			return row, err
		}
	}
	rows, err := b.Run(ctx)
	if err != nil {
		return nil, err
	}
	return q.sum(rows)
}

func (q *Question) key() (string, error) {
	var keys []string
	for _, n := range numbered() {
		keys = append(keys, n.Key)
	}
	d := q.Design
	d.Count = 0 // more draws go on with the same
	if d.Method == LatinHypercube {
		d.Count = q.Design.Count
	}
	return d.Key(rowVersion, q.Program, q.Course, q.Base.Plan, q.Base.Biology, q.Base.StepsPerHour, keys)
}

// Range is the answer: what the lines of a ledger come to over many possible years.
type Range struct {
	Hive         string        `json:"hive"`
	First        string        `json:"first_day"` // "10-15"; the years differ
	Last         string        `json:"last_day"`
	Years        int           `json:"weather_years"`
	Draws        int           `json:"draws"`
	Asked        int           `json:"draws_asked"`
	Stopped      string        `json:"stopped"` // why no more were run
	Seed         uint64        `json:"seed"`
	Method       Method        `json:"method"`
	Faults       int           `json:"draws_not_computed"`
	Faulty       []FaultyDraw  `json:"not_computed,omitempty"`
	Correlations []Correlation `json:"rank_correlations,omitempty"`
	Stores       Stores        `json:"stores"`
	Starve       Estimate      `json:"starve_probability"`
	StarveBy     []DateOdds    `json:"starve_by"`
	HoneyLeft    []DateLeft    `json:"honey_left_by,omitempty"` // when the question asked for the course
	Overhead     Limit         `json:"overhead_water"`
	CombFalls    Estimate      `json:"comb_falls_probability"`
	CombShare    Spread        `json:"comb_share_of_strength"` // load over strength with wax as drawn
	Lines        []LineRange   `json:"lines"`
	Convergence  []Step        `json:"convergence"`
	Inputs       []InputDoc    `json:"inputs"`
	Matters      *Matters      `json:"what_matters,omitempty"`
	Notes        []string      `json:"notes"`
	Level        float64       `json:"interval_level"`
}

// FaultyDraw is a draw that the engine found no way through, with all that it takes
// to run it again.
type FaultyDraw struct {
	Draw   int                `json:"draw"`         // from 1
	Year   int                `json:"weather_year"` // of those drawn from, from 1
	From   string             `json:"weather_from"` // its first day
	Inputs map[string]float64 `json:"inputs"`
}

// faulty describes the draws that were not computed.
func (q *Question) faulty(rows [][]float64) (all []FaultyDraw) {
	for i, r := range rows {
		if r[rowFault] == 0 {
			continue
		}
		d := q.Design.Draw(i)
		f := FaultyDraw{i + 1, d.Year + 1, q.Design.Years[d.Year].Start.Format(time.DateOnly), map[string]float64{}}
		for j, in := range q.Design.Inputs {
			f.Inputs[in.Name] = d.Values[j]
		}
		all = append(all, f)
	}
	return all
}

// Stores is the honey that must be on the hive on the first day.
type Stores struct {
	Forage      string   `json:"first_forage"`           // day of the year, "05-10"
	ForageNamed bool     `json:"first_forage_named"`     // by the hive file
	Cut         bool     `json:"run_ends_before_forage"` // then the stores are those to the last day
	Nine        Estimate `json:"nine_in_ten_kg"`         // truly on the hive
	Judged      Estimate `json:"nine_in_ten_as_judged_kg"`
	Need        Spread   `json:"need_kg"`
	Use         Spread   `json:"use_kg"`
	Reserve     Spread   `json:"reserve_kg"`
	Now         float64  `json:"in_file_kg"`
	Unknown     int      `json:"draws_without_need"`
}

// Spread is three quantiles of one number over all draws.
type Spread struct {
	P10 Estimate `json:"p10"`
	P50 Estimate `json:"p50"`
	P90 Estimate `json:"p90"`
}

// Limit is the chance to pass a limit.
type Limit struct {
	Limit  float64  `json:"limit_kg"`
	Beyond Estimate `json:"probability_beyond"`
	Water  Spread   `json:"water_kg"`
}

// DateOdds is the chance that something has happened by a day after the first.
type DateOdds struct {
	Day  int      `json:"day"`  // after the first day
	Date string   `json:"date"` // "01-14", whose end is meant
	Odds Estimate `json:"probability"`
}

// DateLeft is the honey left at the end of a day.
type DateLeft struct {
	Day  int    `json:"day"`  // after the first day
	Date string `json:"date"` // "01-14", whose end is meant
	Spread
}

// LineRange is the range of one line of the ledger.
type LineRange struct {
	Key   string `json:"key"`
	Unit  string `json:"unit"`
	Label string `json:"label"`
	Spread
	Draws int `json:"draws"` // in which the line has a number

	line ledger.Line
}

// Step is what the first draws tell: how the answer settles.
type Step struct {
	Draws  int      `json:"draws"`
	Stores Estimate `json:"stores_nine_in_ten_kg"`
	Starve Estimate `json:"starve_probability"`
}

// InputDoc describes an input in the answer.
type InputDoc struct {
	Name    string  `json:"name"`
	Unit    string  `json:"unit"`
	Meaning string  `json:"meaning"`
	Low     float64 `json:"low"`
	Usual   float64 `json:"usual"`
	High    float64 `json:"high"`
	Shape   Shape   `json:"shape"`
	Source  string  `json:"source"`
	Measure Measure `json:"measure"`
}

// column takes one number of all rows that were computed.
func column(rows [][]float64, k int) []float64 {
	var out []float64
	for _, r := range rows {
		if r[rowFault] == 0 {
			out = append(out, r[k])
		}
	}
	return out
}

// SpreadOf values; those that are no number do not count.
func SpreadOf(values []float64) Spread {
	s := known(values)
	return Spread{Quantile(s, 0.1, Level), Quantile(s, 0.5, Level), Quantile(s, 0.9, Level)}
}

func needs(rows [][]float64, judged bool) []float64 {
	use, reserve, honey := column(rows, rowUse), column(rows, rowReserve), column(rows, rowHoney)
	for i := range use {
		use[i] += reserve[i]
		if judged {
			use[i] /= honey[i]
		}
	}
	return use
}

// unbounded makes of what could not be found the largest value, so that a quantile
// never falls for want of the worst draws.
func unbounded(values []float64) []float64 {
	out := make([]float64, len(values))
	for i, v := range values {
		out[i] = v
		if math.IsNaN(v) {
			out[i] = math.Inf(1)
		}
	}
	return out
}

func count(values []float64, bad func(float64) bool) int {
	n := 0
	for _, v := range values {
		if bad(v) {
			n++
		}
	}
	return n
}

func happened(v float64) bool { return !math.IsNaN(v) }

func (q *Question) step(rows [][]float64) Step {
	starved := column(rows, rowStarved)
	return Step{len(rows), Quantile(known(unbounded(needs(rows, false))), 0.9, Level), Chance(count(starved, happened), len(starved))}
}

// mostFaults is the share of draws that may be left uncomputed.
const mostFaults = 0.1

// sum draws the range from the rows.
func (q *Question) sum(rows [][]float64) (*Range, error) {
	n := len(column(rows, rowFault))
	faults := len(rows) - n
	if n == 0 || float64(faults) > mostFaults*float64(len(rows)) {
		return nil, fmt.Errorf("%w: %d of %d, %s", ErrNotComputed, faults, len(rows), numbersOf(q.faulty(rows), q.Design.Seed))
	}
	y := q.Design.Years[0]
	r := &Range{Hive: q.Base.Plan.Hive.Name, First: monthDay(y.Start), Last: monthDay(y.End().Add(-time.Hour)), Years: len(q.Design.Years), Draws: len(rows), Asked: q.Design.Count,
		Stopped: "all draws were run", Seed: q.Design.Seed, Method: q.Design.points().Method, Faults: faults, Level: Level, Notes: []string{}, StarveBy: []DateOdds{}, Convergence: []Step{}}
	if r.Draws < r.Asked {
		r.Stopped = fmt.Sprintf("the stores are known to %.0f %% and the chance of starving to %.0f in 100", 100*q.Enough, 100*q.Enough)
	}
	r.Faulty, r.Correlations = q.faulty(rows), q.Design.Correlations
	forage, named := FirstForage(q.Base.Plan, y.Start, q.latitude())
	need, asJudged := unbounded(needs(rows, false)), unbounded(needs(rows, true))
	r.Stores = Stores{Forage: monthDay(forage), ForageNamed: named, Cut: forage.After(y.End()), Nine: Quantile(known(need), 0.9, Level), Judged: Quantile(known(asJudged), 0.9, Level),
		Need: SpreadOf(need), Use: SpreadOf(column(rows, rowUse)), Reserve: SpreadOf(column(rows, rowReserve)), Now: q.Base.Plan.Colony.Honey,
		Unknown: count(need, func(v float64) bool { return math.IsInf(v, 1) })}
	starved := column(rows, rowStarved)
	r.Starve = Chance(count(starved, happened), n)
	hours := len(y.Hours)
	for day := 7; ; day += 7 {
		day = min(day, hours/24)
		by := count(starved, func(v float64) bool { return v < float64(24*day) })
		r.StarveBy = append(r.StarveBy, DateOdds{day, monthDay(y.Start.AddDate(0, 0, day-1)), Chance(by, n)})
		if day >= hours/24 {
			break
		}
	}
	for k := range q.weeks() {
		day := min((k+1)*7, hours/24)
		r.HoneyLeft = append(r.HoneyLeft, DateLeft{day, monthDay(y.Start.AddDate(0, 0, day-1)), SpreadOf(column(rows, rowLines+len(numbered())+k))})
	}
	over := column(rows, rowOverhead)
	limit := q.overhead()
	r.Overhead = Limit{limit, Chance(count(over, func(v float64) bool { return v > limit }), n), SpreadOf(over)}
	r.CombFalls = Chance(count(column(rows, rowCombFell), happened), n)
	r.CombShare = SpreadOf(column(rows, rowCombShare))
	for k, line := range numbered() {
		values := known(column(rows, rowLines+k))
		if len(values) == 0 {
			continue
		}
		label := line.Name
		if label == "" {
			label = string(line.Section) + ": " + line.Label
		}
		r.Lines = append(r.Lines, LineRange{Key: line.Key, Unit: line.Unit, Label: label, Spread: SpreadOf(values), Draws: len(values), line: line})
	}
	for k := checkEvery; k < len(rows); k *= 2 {
		r.Convergence = append(r.Convergence, q.step(rows[:k]))
	}
	r.Convergence = append(r.Convergence, q.step(rows))
	for _, in := range q.Design.Inputs {
		r.Inputs = append(r.Inputs, InputDoc{in.Name, in.Unit, in.Meaning, in.Low, in.Usual, in.High, in.Shape, in.Source, in.Measure})
	}
	r.notes(q)
	return r, nil
}

// ErrNotComputed tells that the engine failed on too many draws.
var ErrNotComputed = errors.New("ensemble: too many draws could not be computed")

func (r *Range) notes(q *Question) {
	if r.Faults > 0 {
		r.Notes = append(r.Notes, fmt.Sprintf("%d of %d draws could not be computed and do not count: %s; --json holds all their inputs", r.Faults, r.Draws, numbersOf(r.Faulty, r.Seed)))
	}
	for _, c := range r.Correlations {
		r.Notes = append(r.Notes, fmt.Sprintf("%s and %s are drawn together, with a rank correlation of %g; what matters is found with each by itself", c.A, c.B, c.Rank))
	}
	if r.Years < 10 {
		r.Notes = append(r.Notes, fmt.Sprintf("the weather is that of %d years: how winters differ is hardly in the ranges", r.Years))
	}
	if !r.Stores.ForageNamed {
		r.Notes = append(r.Notes, "the hive file names no nectar flow: the first dependable forage is taken to be the end of winter")
	}
	if r.Stores.Unknown > 0 {
		r.Notes = append(r.Notes, fmt.Sprintf("%d draws starved with %.0f kg more honey, or could not be computed with it: their need counts as beyond all others", r.Stores.Unknown, plenty*plentyTries))
	}
	if r.Stores.Cut {
		r.Notes = append(r.Notes, "the run ends before the first dependable forage: the stores are those to its last day only")
	}
}

// numbersOf names draws so that they can be found again.
func numbersOf(list []FaultyDraw, seed uint64) string {
	var names []string
	for k, f := range list {
		if k == 10 {
			names = append(names, "and others")
			break
		}
		names = append(names, fmt.Sprintf("draw %d in the weather from %s", f.Draw, f.From))
	}
	return fmt.Sprintf("seed %d, %s", seed, strings.Join(names, ", "))
}

func monthDay(t time.Time) string { return t.Format("01-02") }

// dayOf reads what monthDay wrote.
func dayOf(s string) hive.Day {
	t, err := time.Parse("01-02", s)
	if err != nil {
		return hive.Day{}
	}
	return hive.Day{Month: t.Month(), Day: t.Day()}
}

// Column names one number of a row.
type Column struct {
	Name    string
	Unit    string
	Meaning string
}

// ColumnList names the numbers of a row in order: what the outcome came to, then every
// line of the ledger by its key.
func ColumnList() []Column {
	out := []Column{
		{"fault", "-", "1 when the engine could not compute the draw; then nothing else counts"},
		{"starved_after_h", "h", "hours from the first to the last honey eaten, absent when there was some to the end"},
		{"stores.use_kg", "kg", "honey drawn from the stores until the first dependable forage"},
		{"stores.reserve_kg", "kg", "honey eaten in the longest cold spell before that in which bees could not move"},
		{"honey_factor", "-", "honey at the start over what the file says, as drawn"},
		{"comb_drawn.share_of_strength", "-", "highest load over strength of any comb with the wax as drawn"},
		{"comb_drawn.fell_after_h", "h", "hours to the first comb that gave way with that wax, absent when all held"},
		{"overhead_water_kg", "kg", "most water that stood above the cluster, and all that dripped on it"},
	}
	for _, n := range numbered() {
		out = append(out, Column{n.Key, n.Unit, n.Meaning})
	}
	return out
}
