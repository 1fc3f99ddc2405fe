package evidence

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Prior is a named breadth of belief about the effect before the data.
type Prior struct {
	Name  string  // "stated", "sceptical" …
	Scale float64 // times the stated standard deviation [-]
}

// Method is how a comparison is made. DefaultMethod gives the usual one.
type Method struct {
	Level  float64 // of intervals [-]
	Power  float64 // chance asked of further hive-seasons [-]
	Priors []Prior // the first is the stated one, the narrowest is the sceptic
	// ICC is the likeness of seasons of one colony [-] intraclass correlation.
	ICC         float64
	Simulations int    // of further seasons
	Most        int    // further hive-seasons looked at
	Seed        uint64 // of the simulations
}

// DefaultMethod returns 95 % intervals, four times in five, three priors and an
// intraclass correlation of 0.2 between seasons of one colony (the Austrian
// winter-loss survey gives 0.16 to 0.28 between colonies of one operation in one
// winter; for seasons of one colony: judgement, no source).
func DefaultMethod() Method {
	return Method{
		Level: 0.95, Power: 0.8, ICC: 0.2, Simulations: 1000, Most: 2000, Seed: 1,
		Priors: []Prior{{"stated", 1}, {"sceptical", 0.5}, {"wide", 2.5}},
	}
}

func (m Method) check() error {
	switch {
	case !(m.Level > 0 && m.Level < 1):
		return fmt.Errorf("evidence: level %g is not between 0 and 1", m.Level)
	case !(m.Power > 0 && m.Power < 1):
		return fmt.Errorf("evidence: power %g is not between 0 and 1", m.Power)
	case !(m.ICC >= 0 && m.ICC <= 1):
		return fmt.Errorf("evidence: intraclass correlation %g is not between 0 and 1", m.ICC)
	case len(m.Priors) == 0:
		return errors.New("evidence: no prior is stated")
	case m.Simulations < 1 || m.Most < 1:
		return errors.New("evidence: simulations and most further seasons must be positive")
	}
	for _, p := range m.Priors {
		if !(p.Scale > 0) {
			return fmt.Errorf("evidence: prior %q has scale %g", p.Name, p.Scale)
		}
	}
	return nil
}

// Arm sums the hive-seasons of one kind.
type Arm struct {
	Seasons int     `json:"seasons"`
	Events  int     `json:"events"` // yes answers; 0 for amounts
	Mean    float64 `json:"mean"`   // share of yes answers [-], or mean amount; 0 without seasons
	Yards   int     `json:"yards"`
	Years   int     `json:"years"`
	// Strength is the mean of the frames of bees at the start, over the
	// hive-seasons where they were counted; 0 when never [-].
	Strength float64 `json:"strength"`
}

// Block is one yard in one year.
type Block struct {
	Yard    string `json:"yard"`
	Year    int    `json:"year"`
	With    Arm    `json:"with"`
	Without Arm    `json:"without"`
}

func (b Block) both() bool { return b.With.Seasons > 0 && b.Without.Seasons > 0 }

// LeftOut counts records that could not be used, by reason.
type LeftOut struct {
	Reason  string `json:"reason"`
	Seasons int    `json:"seasons"`
}

// Strength is how far the evidence goes.
type Strength uint8

// The strengths, in order. Thresholds: docs/evidence.md.
const (
	CannotTell Strength = iota
	Leaning
	Moderate
	Strong
	// NoDifference: whatever the treatment does is smaller than what is worth having.
	NoDifference
)

var strengthNames = [...]string{"cannot tell", "leaning", "moderate", "strong", "no difference worth having"}

// String returns the strength in words.
func (s Strength) String() string { return strengthNames[s] }

// MarshalText writes what String returns.
func (s Strength) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads what String returns.
func (s *Strength) UnmarshalText(text []byte) error {
	i := slices.Index(strengthNames[:], string(text))
	if i < 0 {
		return fmt.Errorf("evidence: %q is none of %s", text, strings.Join(strengthNames[:], ", "))
	}
	*s = Strength(i)
	return nil
}

// Thresholds of strength: probability of doing good (or harm) under the stated
// prior, under the most sceptical one, and blocked two-sided p. Judgement, no
// source; the moderate step keeps false alarms under one in twenty.
const (
	leaningBelief = 0.90

	moderateBelief  = 0.975
	moderateSceptic = 0.90
	moderateP       = 0.05

	strongBelief  = 0.995
	strongSceptic = 0.975
	strongP       = 0.005
)

// Caution is a reason to trust the comparison less.
type Caution struct {
	Code string `json:"code"` // stable name: "by choice", "one yard" …
	Text string `json:"text"`
}

// Within is the comparison inside blocks, where yard and year cannot confound.
type Within struct {
	Seasons int     `json:"seasons"` // hive-seasons in blocks with both kinds
	Blocks  int     `json:"blocks"`  // blocks with both kinds
	P       float64 `json:"p"`       // two-sided, exact for counts; by dealing treatments anew within blocks for amounts [-]
	// Effect is the common odds ratio (conditional) of counts, or the difference
	// of an amount in its unit. NaN in Go, null in JSON when the blocks cannot say.
	Effect   *float64 `json:"effect"`
	Interval Interval `json:"interval"` // exact for counts, t for amounts; not widened for repeated colonies
	// PAdjusted is P with its normal deviate divided by the root of the design
	// effect; the same as P without repeated colonies. Strength goes by it.
	PAdjusted float64 `json:"p_adjusted"`
	// FirstSeasonsP is P from the first season of each colony under each
	// treatment alone, when colonies are repeated [-].
	FirstSeasonsP *float64 `json:"first_seasons_p,omitempty"`
}

// Further is how many more hive-seasons would tell.
type Further struct {
	Seasons int     `json:"seasons"`  // with the exposure, half of them treated
	AtMost  bool    `json:"at_most"`  // Seasons is the limit of the search: more than these
	All     int     `json:"all"`      // hive-seasons to keep so that Seasons of them are exposed, at the share so far
	Chance  float64 `json:"chance"`   // that they would tell [-]
	With    float64 `json:"with"`     // share or amount supposed with the treatment
	Without float64 `json:"without"`  // share or amount supposed without it
	Scatter float64 `json:"scatter"`  // standard deviation supposed of an amount, in its unit; 0 for counts
	PerYear float64 `json:"per_year"` // hive-seasons a year so far
}

// Finding is the answer to "did it work?".
type Finding struct {
	Treatment string  `json:"treatment"`
	Outcome   Outcome `json:"outcome"`

	Records int       `json:"records"`  // hive-seasons given
	Exposed int       `json:"exposed"`  // with the outcome's exposure, or all when it needs none
	LeftOut []LeftOut `json:"left_out"` // records that say nothing, by reason
	With    Arm       `json:"with"`     // hive-seasons with the treatment
	Without Arm       `json:"without"`  // hive-seasons without it
	Blocks  []Block   `json:"blocks"`   // by yard and year

	Raw          float64  `json:"raw"`           // difference of the arms, blocks aside
	RawInterval  Interval `json:"raw_interval"`  // of Raw, counts reduced by the design effect
	Worst        Interval `json:"worst"`         // Raw if the missing outcomes all went one way or the other; counts only
	DesignEffect float64  `json:"design_effect"` // for repeated colonies; 1 without [-]

	Within      Within      `json:"within"`
	Posterior   Posterior   `json:"posterior"`   // under the stated prior
	Sensitivity []Posterior `json:"sensitivity"` // under the others
	Further     *Further    `json:"further,omitempty"`
	Cautions    []Caution   `json:"cautions"`

	Strength Strength `json:"strength"` // after the cautions
	Helps    bool     `json:"helps"`    // direction of the evidence, whatever its strength
	Verdict  string   `json:"verdict"`

	exposedShare float64 // of records whose treatment and exposure are known [-]
	perYear      float64 // records a year
}

// Compare compares hive-seasons with a treatment to those without by one outcome,
// with DefaultMethod.
func Compare(records []Season, treatment string, outcome Outcome) (Finding, error) {
	return DefaultMethod().Compare(records, treatment, outcome)
}

// used is a record that says something.
type used struct {
	season  Season
	treated bool
	value   float64
}

// Compare compares hive-seasons with a treatment to those without by one outcome
// of [Outcomes]. Records whose treatment, exposure or outcome is unknown, or
// that lacked the exposure, are counted and left out. The order of the records
// does not matter.
//
// Errors: a method out of range, an outcome not made by this package, a hive
// recorded twice in a year with the same colony, an amount that is not finite, a
// treatment that no record names.
func (m Method) Compare(records []Season, treatment string, outcome Outcome) (Finding, error) {
	if err := m.check(); err != nil {
		return Finding{}, err
	}
	if outcome.answer == nil && outcome.amount == nil {
		return Finding{}, fmt.Errorf("evidence: outcome %q is not one of Outcomes", outcome.Key)
	}
	if !(outcome.Worth > 0) {
		return Finding{}, fmt.Errorf("evidence: outcome %q: the difference worth having is %g, it must be positive", outcome.Key, outcome.Worth)
	}
	if !outcome.counted() && !(outcome.PriorSD > 0) {
		return Finding{}, fmt.Errorf("evidence: outcome %q: the prior's standard deviation is %g, it must be positive", outcome.Key, outcome.PriorSD)
	}
	if err := checkRecords(records, treatment, outcome); err != nil {
		return Finding{}, err
	}
	f := Finding{Treatment: treatment, Outcome: outcome, Records: len(records), LeftOut: []LeftOut{}, Cautions: []Caution{}, Blocks: []Block{}, Sensitivity: []Posterior{}}
	seasons, missing := f.sift(records)
	f.With, f.Without = armOf(seasons, true), armOf(seasons, false)
	f.Blocks = blocksOf(seasons)
	f.DesignEffect = designOf(seasons, m.ICC)

	var state learnt
	if outcome.counted() {
		state = f.compareCounts(seasons, missing, m)
	} else {
		state = f.compareAmounts(seasons, m)
	}
	f.Within.PAdjusted = adjustedP(f.Within.P, f.DesignEffect)
	f.Helps = f.Posterior.Better >= 0.5
	most := f.caution(seasons, missing)
	bare := f.judge(m)
	f.Strength = capped(bare, most)
	if bare == CannotTell || bare == Leaning {
		f.Further = f.further(state, m)
	}
	f.Verdict = f.words(m)
	return f, nil
}

// capped holds a strength to what the cautions allow. What confounds an effect
// may as well hide one.
func capped(bare, most Strength) Strength {
	if bare == NoDifference {
		if most < Moderate {
			return CannotTell
		}
		return bare
	}
	return min(bare, most)
}

func checkRecords(records []Season, treatment string, outcome Outcome) error {
	seen := map[string]bool{}
	named := false
	for _, s := range records {
		key := fmt.Sprintf("%s\x00%d\x00%s\x00%s", s.Yard, s.Year, s.Hive, s.Colony)
		if seen[key] {
			return fmt.Errorf("evidence: hive %q in yard %q is recorded twice in %d", s.Hive, s.Yard, s.Year)
		}
		seen[key] = true
		if v, ok := outcome.value(s); ok && (math.IsNaN(v) || math.IsInf(v, 0)) {
			return fmt.Errorf("evidence: hive %q in yard %q, %d: %s is %g", s.Hive, s.Yard, s.Year, outcome.Key, v)
		}
		named = named || s.Treatments[treatment] != Unknown
	}
	if !named && len(records) > 0 {
		return fmt.Errorf("evidence: no record says anything of %q", treatment)
	}
	return nil
}

// missingOutcomes counts, by arm, exposed seasons whose outcome nobody wrote down.
type missingOutcomes struct{ with, without int }

// sift sets aside what says nothing and returns the rest in a fixed order.
func (f *Finding) sift(records []Season) ([]used, missingOutcomes) {
	var kept []used
	var missing missingOutcomes
	var noTreatment, noExposure, unknownExposure, noOutcome int
	for _, s := range records {
		treated := s.Treatments[f.Treatment]
		if treated == Unknown {
			noTreatment++
			continue
		}
		if need := f.Outcome.Exposure; need != "" {
			switch s.Exposures[need] {
			case No:
				noExposure++
				continue
			case Unknown:
				unknownExposure++
				continue
			}
		}
		f.Exposed++
		v, ok := f.Outcome.value(s)
		if !ok {
			noOutcome++
			if treated == Yes {
				missing.with++
			} else {
				missing.without++
			}
			continue
		}
		kept = append(kept, used{s, treated == Yes, v})
	}
	if known := f.Exposed + noExposure; known > 0 {
		f.exposedShare = float64(f.Exposed) / float64(known)
	}
	years := map[int]bool{}
	for _, s := range records {
		years[s.Year] = true
	}
	if len(years) > 0 {
		f.perYear = float64(len(records)) / float64(len(years))
	}
	for _, l := range []LeftOut{
		{"treatment not recorded", noTreatment},
		{"no " + f.Outcome.Exposure, noExposure},
		{f.Outcome.Exposure + " not recorded", unknownExposure},
		{"outcome not recorded", noOutcome},
	} {
		if l.Seasons > 0 {
			f.LeftOut = append(f.LeftOut, l)
		}
	}
	slices.SortFunc(kept, func(a, b used) int {
		if c := strings.Compare(a.season.Yard, b.season.Yard); c != 0 {
			return c
		}
		if a.season.Year != b.season.Year {
			return a.season.Year - b.season.Year
		}
		if c := strings.Compare(a.season.Hive, b.season.Hive); c != 0 {
			return c
		}
		return strings.Compare(a.season.Colony, b.season.Colony)
	})
	return kept, missing
}

func armOf(seasons []used, treated bool) Arm {
	var a Arm
	yards, years := map[string]bool{}, map[int]bool{}
	sum, strength, counted := 0.0, 0.0, 0
	for _, u := range seasons {
		if u.treated != treated {
			continue
		}
		a.Seasons++
		sum += u.value
		if u.value == 1 {
			a.Events++
		}
		yards[u.season.Yard], years[u.season.Year] = true, true
		if u.season.FramesOfBees > 0 {
			strength += u.season.FramesOfBees
			counted++
		}
	}
	a.Yards, a.Years = len(yards), len(years)
	if a.Seasons > 0 {
		a.Mean = sum / float64(a.Seasons)
	}
	if counted > 0 {
		a.Strength = strength / float64(counted)
	}
	return a
}

// spans cuts sorted seasons into blocks of one yard and year.
func spans(seasons []used) [][]used {
	var cut [][]used
	for i := 0; i < len(seasons); {
		j := i
		for j < len(seasons) && seasons[j].season.Yard == seasons[i].season.Yard && seasons[j].season.Year == seasons[i].season.Year {
			j++
		}
		cut = append(cut, seasons[i:j])
		i = j
	}
	return cut
}

func blocksOf(seasons []used) []Block {
	blocks := []Block{}
	for _, s := range spans(seasons) {
		blocks = append(blocks, Block{s[0].season.Yard, s[0].season.Year, armOf(s, true), armOf(s, false)})
	}
	return blocks
}

// designOf returns the design effect of colonies that come several times under
// the same treatment.
func designOf(seasons []used, icc float64) float64 {
	counts := map[string]int{}
	for _, u := range seasons {
		counts[fmt.Sprint(u.treated, u.season.unit())]++
	}
	sum, squares := 0, 0
	for _, n := range counts {
		sum += n
		squares += n * n
	}
	if sum == 0 {
		return 1
	}
	return DesignEffect(float64(squares)/float64(sum), icc)
}

// firstSeasons keeps each colony's first season under each treatment.
func firstSeasons(seasons []used) []used {
	first := map[string]int{}
	for _, u := range seasons {
		key := fmt.Sprint(u.treated, u.season.unit())
		if y, ok := first[key]; !ok || u.season.Year < y {
			first[key] = u.season.Year
		}
	}
	var kept []used
	taken := map[string]bool{}
	for _, u := range seasons {
		key := fmt.Sprint(u.treated, u.season.unit())
		if u.season.Year == first[key] && !taken[key] {
			taken[key] = true
			kept = append(kept, u)
		}
	}
	return kept
}

// tablesOf returns one table a block, events in the first row.
func tablesOf(seasons []used) []Table {
	var tables []Table
	for _, s := range spans(seasons) {
		var t Table
		for _, u := range s {
			switch {
			case u.treated && u.value == 1:
				t.A++
			case u.value == 1:
				t.B++
			case u.treated:
				t.C++
			default:
				t.D++
			}
		}
		tables = append(tables, t)
	}
	return tables
}

// learnt is what the data hold so far of the effect, as a score and its
// information about zero, both reduced by the design effect.
type learnt struct {
	score, information float64
	// counts: the level and spread of blocks; amounts: the scatter within blocks
	baseline, spread, scatter float64
	counted                   bool
}

func (f *Finding) compareCounts(seasons []used, missing missingOutcomes, m Method) learnt {
	f.Raw = f.With.Mean - f.Without.Mean
	de := f.DesignEffect
	x1, n1 := float64(f.With.Events), float64(f.With.Seasons)
	x0, n0 := float64(f.Without.Events), float64(f.Without.Seasons)
	f.RawInterval = Newcombe(x1/de, n1/de, x0/de, n0/de, m.Level)
	f.Worst = f.RawInterval
	if a, b := n1+float64(missing.with), n0+float64(missing.without); a > 0 && b > 0 {
		f.Worst = Interval{
			Lo: x1/a - (x0+float64(missing.without))/b,
			Hi: (x1+float64(missing.with))/a - x0/b,
		}
	}
	tables := tablesOf(seasons)
	conditional := Condition(tables...)
	exact := conditional.Test(m.Level)
	f.Within = Within{P: exact.P, Effect: finite(exact.OddsRatio), Interval: exact.Interval}
	f.countWithin()
	if de > 1 {
		p := Condition(tablesOf(firstSeasons(seasons))...).Test(m.Level).P
		f.Within.FirstSeasonsP = &p
	}

	var blocks []blockCounts
	state := learnt{counted: true}
	for _, t := range tables {
		blocks = append(blocks, blockCounts{float64(t.A) / de, float64(t.A+t.C) / de, float64(t.B) / de, float64(t.B+t.D) / de})
		s, v := scoreOf(t)
		state.score += s / de
		state.information += v / de
	}
	model := fitCounts(blocks)
	for i, p := range m.Priors {
		sd := oddsSD * p.Scale
		post := model.posterior(sd, m.Level, f.Outcome.Worth, f.Outcome.LessGood)
		post.Prior = fmt.Sprintf("%s: log odds ratio normal about 0 with standard deviation %.3g", p.Name, sd)
		if i == 0 {
			f.Posterior = post
			state.baseline, state.spread = post.baseline, post.spread
		} else {
			f.Sensitivity = append(f.Sensitivity, post)
		}
	}
	return state
}

// countWithin counts the blocks that hold both kinds.
func (f *Finding) countWithin() {
	for _, b := range f.Blocks {
		if b.both() {
			f.Within.Blocks++
			f.Within.Seasons += b.With.Seasons + b.Without.Seasons
		}
	}
}

// scoreOf returns events above those expected among the treated of a table, and
// the hypergeometric variance.
func scoreOf(t Table) (score, variance float64) {
	n := float64(t.N())
	if !t.informative() || n < 2 {
		return 0, 0
	}
	events, treated := float64(t.A+t.B), float64(t.A+t.C)
	return float64(t.A) - events*treated/n, events * (n - events) * treated * (n - treated) / (n * n * (n - 1))
}

func (f *Finding) compareAmounts(seasons []used, m Method) learnt {
	f.Raw = f.With.Mean - f.Without.Mean
	if f.With.Seasons == 0 || f.Without.Seasons == 0 {
		f.Raw = 0
	}
	f.RawInterval = Interval{math.Inf(-1), math.Inf(1)}
	with, without := valuesOf(seasons, true), valuesOf(seasons, false)
	if t, err := Welch(with, without, m.Level); err == nil {
		half := t.Interval.Width() / 2 * math.Sqrt(f.DesignEffect)
		f.RawInterval = Interval{f.Raw - half, f.Raw + half}
	}
	f.Worst = Interval{math.Inf(-1), math.Inf(1)}
	b := withinBlocks(seasons)
	f.Within = Within{P: 1, Interval: Interval{math.Inf(-1), math.Inf(1)}}
	f.countWithin()
	if b.weight > 0 {
		f.Within.Effect = finite(b.difference)
		f.Within.P = dealtAnew(seasons, m.Seed)
		if b.df > 0 {
			f.Within.Interval = tTest(b.difference, b.stdError, b.df, m.Level).Interval
		}
		if f.DesignEffect > 1 {
			p := dealtAnew(firstSeasons(seasons), m.Seed)
			f.Within.FirstSeasonsP = &p
		}
	}
	stdError := b.stdError * math.Sqrt(f.DesignEffect)
	state := learnt{scatter: b.scatter}
	if b.df > 0 && stdError > 0 {
		state.information = 1 / (stdError * stdError)
		state.score = b.difference * state.information
	}
	for i, p := range m.Priors {
		sd := f.Outcome.PriorSD * p.Scale
		post := amountPosterior(b.difference, stdError, b.df, sd, m.Level, f.Outcome.Worth, f.Outcome.LessGood)
		post.Prior = fmt.Sprintf("%s: difference normal about 0 with standard deviation %.3g %s", p.Name, sd, f.Outcome.Unit)
		post.Without = f.Without.Mean
		post.With = post.Without + post.Estimate
		if i == 0 {
			f.Posterior = post
		} else {
			f.Sensitivity = append(f.Sensitivity, post)
		}
	}
	return state
}

func valuesOf(seasons []used, treated bool) []float64 {
	var v []float64
	for _, u := range seasons {
		if u.treated == treated {
			v = append(v, u.value)
		}
	}
	return v
}

// blockedMeans is the difference of amounts with each block's own level taken out.
type blockedMeans struct {
	difference, stdError, scatter, df float64 // in the outcome's unit; df [-]
	weight                            float64 // of blocks with both kinds: sum of n1 n0/n [-]
}

// withinBlocks fits value = block + treatment by least squares over blocks with
// both kinds.
func withinBlocks(seasons []used) blockedMeans {
	var r blockedMeans
	var score, squares float64
	n, blocks := 0, 0
	for _, s := range spans(seasons) {
		with, without := armOf(s, true), armOf(s, false)
		if with.Seasons == 0 || without.Seasons == 0 {
			continue
		}
		blocks++
		n += len(s)
		w := float64(with.Seasons*without.Seasons) / float64(len(s))
		r.weight += w
		score += w * (with.Mean - without.Mean)
		mean := (with.Mean*float64(with.Seasons) + without.Mean*float64(without.Seasons)) / float64(len(s))
		for _, u := range s {
			squares += (u.value - mean) * (u.value - mean)
		}
	}
	if r.weight == 0 {
		return r
	}
	r.difference = score / r.weight
	r.df = float64(n - blocks - 1)
	if r.df > 0 {
		r.scatter = math.Sqrt(math.Max(0, squares-score*score/r.weight) / r.df)
		r.stdError = r.scatter / math.Sqrt(r.weight)
	}
	return r
}

// dealtAnew returns the two-sided probability of a difference as large when the
// treatments within each block are dealt anew: all deals when there are at most
// 100,000, else 20,000 seeded draws.
func dealtAnew(seasons []used, seed uint64) float64 {
	const most, draws = 100_000, 20_000
	var deals []deal
	ways := 1.0
	seen := 0.0
	for _, s := range spans(seasons) {
		with := armOf(s, true).Seasons
		if with == 0 || with == len(s) {
			continue
		}
		mean := 0.0
		for _, u := range s {
			mean += u.value / float64(len(s))
		}
		d := deal{with: with}
		for _, u := range s {
			d.values = append(d.values, u.value-mean)
			if u.treated {
				seen += u.value - mean
			}
		}
		deals = append(deals, d)
		ways *= math.Exp(logChoose(len(s), with))
	}
	if len(deals) == 0 {
		return 1
	}
	limit := math.Abs(seen) - 1e-9*(1+math.Abs(seen))
	hits, total := 0, 0
	count := func(sum float64) {
		total++
		if math.Abs(sum) >= limit {
			hits++
		}
	}
	if ways <= most {
		allDeals(deals, 0, count)
		return float64(hits) / float64(total)
	}
	lot := newLot(seed)
	for range draws {
		sum := 0.0
		for _, d := range deals {
			lot.shuffle(len(d.values), func(i, j int) { d.values[i], d.values[j] = d.values[j], d.values[i] })
			for _, v := range d.values[:d.with] {
				sum += v
			}
		}
		count(sum)
	}
	// The deal that was made counts as one of them.
	return float64(hits+1) / float64(total+1)
}

type deal struct {
	values []float64
	with   int
}

// allDeals calls count with the treated sum of every way to deal.
func allDeals(deals []deal, sum float64, count func(float64)) {
	if len(deals) == 0 {
		count(sum)
		return
	}
	d := deals[0]
	var choose func(from, left int, sum float64)
	choose = func(from, left int, sum float64) {
		if left == 0 {
			allDeals(deals[1:], sum, count)
			return
		}
		for i := from; i+left <= len(d.values); i++ {
			choose(i+1, left-1, sum+d.values[i])
		}
	}
	choose(0, d.with, sum)
}
