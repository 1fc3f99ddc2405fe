package evidence

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Limits of the cautions. Judgement, no source.
const (
	unevenStrength = 0.5 // difference of the means in standard deviations [-]
	manyMissing    = 0.2 // share of exposed hive-seasons without an outcome [-]
	goesAlong      = 0.3 // difference in the share of another treatment [-]
	inseparable    = 0.9 // the same, so that one cannot be told from the other [-]
)

// caution lists why to trust the comparison less and returns how strong it may
// at most be called.
func (f *Finding) caution(seasons []used, missing missingOutcomes) Strength {
	allowed := NoDifference
	add := func(most Strength, code, format string, args ...any) {
		f.Cautions = append(f.Cautions, Caution{code, fmt.Sprintf(format, args...)})
		allowed = min(allowed, most)
	}
	n := len(seasons)
	if f.With.Seasons == 0 || f.Without.Seasons == 0 {
		add(CannotTell, "nothing to compare", "there are %d hive-seasons with it and %d without", f.With.Seasons, f.Without.Seasons)
		return allowed
	}
	if f.Within.Blocks == 0 {
		add(CannotTell, "no common block", "no yard had both kinds in the same year, so that yard, year and treatment cannot be told apart")
	} else if f.Within.Seasons < n {
		add(NoDifference, "uneven blocks", "%d of %d hive-seasons stand in a yard and year with one kind only and say little", n-f.Within.Seasons, n)
	}
	if f.With.Yards == 1 && f.Without.Yards > 1 {
		add(NoDifference, "one yard", "all hives with it stood in one yard")
	}
	if f.With.Years == 1 && f.Without.Years > 1 {
		add(NoDifference, "one year", "all hive-seasons with it are of one year")
	}
	lots := 0
	for _, u := range seasons {
		if u.season.ByLot[f.Treatment] {
			lots++
		}
	}
	if lots < n {
		add(Moderate, "by choice", "in %d of %d hive-seasons the treatment was given or withheld by choice, not by lot: hives thought to need or to deserve it may differ anyway", n-lots, n)
	}
	if gap, sd, ok := strengthGap(seasons); ok && math.Abs(gap) > unevenStrength*sd {
		word := "more"
		if gap < 0 {
			word = "fewer"
		}
		add(Moderate, "uneven strength", "colonies with it started with %.1f frames of bees %s", math.Abs(gap), word)
	}
	for _, o := range otherTreatments(seasons, f.Treatment) {
		more, less := "had", "lacked"
		if o.gap < 0 {
			more, less = less, more
		}
		if math.Abs(o.gap) > inseparable {
			add(Leaning, "inseparable", "hives with it nearly always %s %s and the others %s it: the two cannot be told apart", more, o.name, less)
		} else {
			add(Moderate, "goes along", "hives with it more often %s %s than the others", more, o.name)
		}
	}
	if gone := missing.with + missing.without; gone > 0 {
		most := NoDifference
		share := float64(gone) / float64(n+gone)
		if share > manyMissing {
			most = Leaning
		}
		add(most, "missing outcomes", "of %d outcomes %d not written down (%d with it, %d without)", n+gone, gone, missing.with, missing.without)
	}
	for _, l := range f.LeftOut {
		if f.Outcome.Exposure != "" && l.Reason == f.Outcome.Exposure+" not recorded" {
			add(NoDifference, "unknown exposure", "whether there was a %s is not recorded for %d hive-seasons", f.Outcome.Exposure, l.Seasons)
		}
	}
	if f.DesignEffect > 1.0001 {
		add(NoDifference, "repeated colonies", "some colonies come several times under the same treatment: the hive-seasons count as %.0f, not %d", float64(n)/f.DesignEffect, n)
	}
	return allowed
}

// strengthGap returns the difference of mean frames of bees at the start and
// their standard deviation within the arms, if both arms counted two or more.
func strengthGap(seasons []used) (gap, sd float64, ok bool) {
	var frames [2][]float64
	for _, u := range seasons {
		if u.season.FramesOfBees > 0 {
			k := 0
			if u.treated {
				k = 1
			}
			frames[k] = append(frames[k], u.season.FramesOfBees)
		}
	}
	t, err := Pooled(frames[1], frames[0], 0.95)
	if err != nil {
		return 0, 0, false
	}
	scale := math.Sqrt(1/float64(len(frames[0])) + 1/float64(len(frames[1])))
	return t.Difference, t.StdError / scale, true
}

type otherTreatment struct {
	name string
	gap  float64 // share of it among the treated less that among the others [-]
}

func otherTreatments(seasons []used, treatment string) []otherTreatment {
	names := map[string]bool{}
	for _, u := range seasons {
		for name := range u.season.Treatments {
			names[name] = name != treatment
		}
	}
	var others []otherTreatment
	for name, other := range names {
		if !other {
			continue
		}
		var yes, all [2]float64
		for _, u := range seasons {
			k := 0
			if u.treated {
				k = 1
			}
			switch u.season.Treatments[name] {
			case Yes:
				yes[k]++
				all[k]++
			case No:
				all[k]++
			}
		}
		if all[0] == 0 || all[1] == 0 {
			continue
		}
		if gap := yes[1]/all[1] - yes[0]/all[0]; math.Abs(gap) > goesAlong {
			others = append(others, otherTreatment{name, gap})
		}
	}
	slices.SortFunc(others, func(a, b otherTreatment) int { return strings.Compare(a.name, b.name) })
	return others
}

// adjustedP widens a two-sided p by a design effect.
func adjustedP(p, effect float64) float64 {
	if effect <= 1 || p >= 1 {
		return p
	}
	z := -normalQuantile(p/2) / math.Sqrt(effect)
	return math.Min(1, 2*normalCDF(-z))
}

// beliefs returns the probabilities, under the stated prior and under the
// narrowest one, of the effect having the direction of the stated posterior.
func (f *Finding) beliefs(m Method) (stated, sceptic float64) {
	toward := func(better float64) float64 {
		if f.Helps {
			return better
		}
		return 1 - better
	}
	stated = toward(f.Posterior.Better)
	sceptic = stated
	narrowest := m.Priors[0].Scale
	for i, p := range m.Priors[1:] {
		if p.Scale < narrowest {
			narrowest, sceptic = p.Scale, toward(f.Sensitivity[i].Better)
		}
	}
	return stated, sceptic
}

// judge returns the strength before cautions.
func (f *Finding) judge(m Method) Strength {
	stated, sceptic := f.beliefs(m)
	switch p := f.Within.PAdjusted; {
	case stated >= strongBelief && sceptic >= strongSceptic && p <= strongP:
		return Strong
	case stated >= moderateBelief && sceptic >= moderateSceptic && p <= moderateP:
		return Moderate
	}
	small := func(v Interval) bool { return v.Lo > -f.Outcome.Worth && v.Hi < f.Outcome.Worth }
	none := small(f.Posterior.Interval)
	for _, p := range f.Sensitivity {
		none = none && small(p.Interval)
	}
	// The data alone must say so too, or a narrow prior would.
	if none && small(f.RawInterval) && f.Within.Blocks > 0 {
		return NoDifference
	}
	if stated >= leaningBelief {
		return Leaning
	}
	return CannotTell
}

// further finds by simulation how many more hive-seasons in balanced blocks like
// the present ones would give moderate evidence, together with those at hand, if
// the effect truly were as large as is worth having, in the direction that the
// evidence has now. It returns nil when there is nothing to start from.
func (f *Finding) further(state learnt, m Method) *Further {
	if f.With.Seasons+f.Without.Seasons == 0 {
		return nil
	}
	direction := 1.0
	if f.Helps == f.Outcome.LessGood {
		direction = -1
	}
	size := f.blockSize()
	out := &Further{Scatter: state.scatter, PerYear: f.perYear}
	lot := newLot(m.Seed)
	var more func() (score, information float64)
	priorSD, correction := f.Outcome.PriorSD, 0.0
	if state.counted {
		priorSD, correction = oddsSD, 0.5
		effect := effectOfWorth(state.baseline, state.spread, direction*f.Outcome.Worth)
		out.Without = blockShare(state.baseline, state.spread, 0)
		out.With = blockShare(state.baseline, state.spread, effect)
		more = func() (float64, float64) {
			level := state.baseline + state.spread*lot.normal()
			var t Table
			with, without := logistic(level+effect), logistic(level)
			for range size / 2 {
				if lot.share() < with {
					t.A++
				} else {
					t.C++
				}
				if lot.share() < without {
					t.B++
				} else {
					t.D++
				}
			}
			return scoreOf(t)
		}
	} else {
		if out.Scatter == 0 {
			out.Scatter = f.Outcome.PriorSD
		}
		out.Without = f.Without.Mean
		out.With = out.Without + direction*f.Outcome.Worth
		information := float64(size) / 4 / (out.Scatter * out.Scatter)
		more = func() (float64, float64) {
			return direction*f.Outcome.Worth*information + math.Sqrt(information)*lot.normal(), information
		}
	}
	sceptic := m.Priors[0].Scale
	for _, p := range m.Priors {
		sceptic = math.Min(sceptic, p.Scale)
	}
	z := -normalQuantile(moderateP / 2)
	belief := func(score, information, scale float64) float64 {
		return normalCDF(score / math.Sqrt(information+1/(priorSD*priorSD*scale*scale)))
	}
	tells := func(score, information float64) bool {
		s := score * direction
		return information > 0 && (s-correction)/math.Sqrt(information) >= z &&
			belief(s, information, m.Priors[0].Scale) >= moderateBelief && belief(s, information, sceptic) >= moderateSceptic
	}
	steps := max(1, m.Most/size)
	hits := make([]int, steps)
	for range m.Simulations {
		score, information := state.score, state.information
		for k := range steps {
			s, w := more()
			score, information = score+s, information+w
			if tells(score, information) {
				hits[k]++
			}
		}
	}
	need := m.Power * float64(m.Simulations)
	at := slices.IndexFunc(hits, func(h int) bool { return float64(h) >= need })
	if at < 0 {
		at, out.AtMost = steps-1, true
	}
	out.Chance = float64(hits[at]) / float64(m.Simulations)
	out.Seasons = evenUp(float64(size*(at+1)) * f.DesignEffect)
	out.All = out.Seasons
	if f.exposedShare > 0 {
		out.All = evenUp(float64(out.Seasons) / f.exposedShare)
	}
	return out
}

// evenUp rounds up to an even number.
func evenUp(x float64) int { return 2 * int(math.Ceil(x/2-1e-9)) }

// blockSize is the mean size of blocks with both kinds, or of all, made even.
func (f *Finding) blockSize() int {
	sum, n := 0, 0
	for _, b := range f.Blocks {
		if b.both() || f.Within.Blocks == 0 {
			sum += b.With.Seasons + b.Without.Seasons
			n++
		}
	}
	return int(clamp(float64(2*int(math.Round(float64(sum)/float64(n)/2))), 2, 40))
}

// blockShare returns the mean share of events over blocks whose log odds are
// normal about baseline with spread, once an effect is added.
func blockShare(baseline, spread, effect float64) float64 {
	const points = 200
	sum := 0.0
	for i := range points {
		z := normalQuantile((float64(i) + 0.5) / points)
		sum += logistic(baseline + spread*z + effect)
	}
	return sum / points
}

// effectOfWorth returns the log odds ratio that moves the mean share by change,
// held to a sixfold change of odds where the share has not that much room.
func effectOfWorth(baseline, spread, change float64) float64 {
	most := math.Log(6)
	from := blockShare(baseline, spread, 0)
	return bisect(-most, most, func(d float64) float64 { return blockShare(baseline, spread, d) - from - change })
}

// words writes the verdict: counts, strength, effect, what would tell, and the
// names of the cautions.
func (f *Finding) words(m Method) string {
	var b strings.Builder
	n := f.With.Seasons + f.Without.Seasons
	o := f.Outcome
	if n == 0 {
		fmt.Fprintf(&b, "None of %s says anything about this", plural(f.Records, "hive-season"))
		if o.Exposure != "" && f.Exposed == 0 {
			fmt.Fprintf(&b, ": only those with a %s count, and none is recorded", o.Exposure)
		}
		b.WriteString(".")
		return b.String()
	}
	if o.counted() {
		fmt.Fprintf(&b, "%s in %s with %s and in %s without.", o.Question, ofSeasons(f.With), f.Treatment, ofSeasons(f.Without))
	} else {
		fmt.Fprintf(&b, "%s: %s with %s, %s without.", o.Question, meanOf(f.With, o.Unit), f.Treatment, meanOf(f.Without, o.Unit))
	}
	if o.Exposure != "" {
		fmt.Fprintf(&b, " Only seasons with a %s count: %d of %d.", o.Exposure, f.Exposed, f.Records)
	}
	b.WriteString(" ")
	these := "These " + plural(n, "hive-season")
	if n == 1 {
		these = "This one hive-season"
	}
	good := "good"
	if !f.Helps {
		good = "harm"
	}
	stated, _ := f.beliefs(m)
	further := f.furtherWords(m)
	guess := fmt.Sprintf("best guess %s, between %s and %s", f.change(f.Posterior.Estimate), f.change(f.Posterior.Interval.Lo), f.change(f.Posterior.Interval.Hi))
	switch f.Strength {
	case CannotTell:
		b.WriteString(these + " cannot tell")
		switch {
		case f.With.Seasons == 0 || f.Without.Seasons == 0:
			b.WriteString(": there is nothing to compare with.")
		case f.Within.Blocks == 0:
			fmt.Fprintf(&b, ": no yard had both kinds in the same year.%s", capital(further))
		default:
			fmt.Fprintf(&b, " yet%s (%s).", strings.TrimSuffix(strings.Replace(further, " ", "; ", 1), "."), guess)
		}
	case Leaning:
		fmt.Fprintf(&b, "%s lean towards %s doing %s, no more than that: odds of %s, %s.%s", these, f.Treatment, good, odds(stated), guess, capital(further))
	case Moderate, Strong:
		word := "Moderate"
		if f.Strength == Strong {
			word = "Strong"
		}
		fmt.Fprintf(&b, "%s evidence that %s does %s: %s. If it did nothing, luck alone would give a difference as large about once in %s such comparisons.",
			word, f.Treatment, good, guess, once(f.Within.PAdjusted))
		if math.Abs(f.Posterior.Estimate) < o.Worth {
			fmt.Fprintf(&b, " The best guess is less than the %s that would be worth the work.", f.size(o.Worth))
		}
	case NoDifference:
		fmt.Fprintf(&b, "No difference worth having: %s, less either way than the %s that would be worth the work.", guess, f.size(o.Worth))
	}
	if len(f.Cautions) > 0 {
		names := make([]string, len(f.Cautions))
		for i, c := range f.Cautions {
			names[i] = c.Code
		}
		b.WriteString(" Read with care: " + strings.Join(names, ", ") + ".")
	}
	return b.String()
}

// furtherWords says how many more would tell, with a leading blank, or nothing.
func (f *Finding) furtherWords(m Method) string {
	r := f.Further
	if r == nil {
		return ""
	}
	supposed := fmt.Sprintf("if the truth were %s with it against %s without", f.level(r.With), f.level(r.Without))
	if r.AtMost {
		return fmt.Sprintf(" even %d more of this kind would not, %s, %s.", r.Seasons, often(m.Power), supposed)
	}
	text := fmt.Sprintf(" %d more of this kind would, %s, %s", r.Seasons, often(m.Power), supposed)
	if r.All > r.Seasons {
		text += fmt.Sprintf("; at the present share of seasons with a %s that takes about %d hive-seasons", f.Outcome.Exposure, r.All)
	}
	return text + "."
}

// capital raises the first letter after a leading blank.
func capital(s string) string {
	if len(s) < 2 {
		return s
	}
	return s[:1] + strings.ToUpper(s[1:2]) + s[2:]
}

func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return strconv.Itoa(n) + " " + noun + "s"
}

func ofSeasons(a Arm) string {
	return fmt.Sprintf("%d of %s", a.Events, plural(a.Seasons, "hive-season"))
}

func meanOf(a Arm, unit string) string {
	if a.Seasons == 0 {
		return "no hive-season"
	}
	return fmt.Sprintf("%.1f %s on average over %s", a.Mean, unit, plural(a.Seasons, "hive-season"))
}

// change writes a difference in words: "12 points fewer", "2.1 kg more".
func (f *Finding) change(x float64) string {
	less := "less"
	if f.Outcome.counted() {
		less = "fewer"
	}
	word := "more"
	if x < 0 {
		word = less
	}
	if size := f.size(math.Abs(x)); strings.Trim(strings.Fields(size)[0], "0.") != "" {
		return size + " " + word
	}
	return "no change"
}

// size writes the size of a difference.
func (f *Finding) size(x float64) string {
	if f.Outcome.counted() {
		if r := math.Round(100 * x); r == 1 {
			return "1 point"
		}
		return fmt.Sprintf("%.0f points", 100*x)
	}
	return fmt.Sprintf("%.1f %s", x, f.Outcome.Unit)
}

// level writes a share or an amount.
func (f *Finding) level(x float64) string {
	if f.Outcome.counted() {
		return fmt.Sprintf("%.0f %%", 100*x)
	}
	return fmt.Sprintf("%.1f %s", x, f.Outcome.Unit)
}

// often writes a probability as a habit.
func often(p float64) string {
	words := map[float64]string{0.5: "one time in two", 0.75: "three times in four", 0.8: "four times in five", 0.9: "nine times in ten", 0.95: "nineteen times in twenty"}
	if w, ok := words[p]; ok {
		return w
	}
	return fmt.Sprintf("%.0f times in a hundred", 100*p)
}

// odds writes a probability over a half as odds.
func odds(p float64) string {
	if p > 0.999 {
		return "over 999 to 1"
	}
	o := p / (1 - p)
	if o < 3 {
		return fmt.Sprintf("%.1f to 1", o)
	}
	return fmt.Sprintf("%.0f to 1", o)
}

// once writes the reciprocal of a probability, rounded as it deserves.
func once(p float64) string {
	if p < 1e-6 {
		return "a million or more"
	}
	x := 1 / p
	if scale := math.Pow(10, math.Floor(math.Log10(x))-1); scale >= 1 {
		x = math.Round(x/scale) * scale
	}
	if x < 10 {
		return fmt.Sprintf("%.2g", x)
	}
	return fmt.Sprintf("%.0f", x)
}
