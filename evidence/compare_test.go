package evidence

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
)

const lidTreatment = "insulated lid"

func outcomeOf(t testing.TB, key string) Outcome {
	t.Helper()
	o, err := OutcomeOf(key)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// trialYard makes seasons of yards with the same number of hives of each kind in
// each, dealt by lot and all exposed; fill sets the outcome.
func trialYard(yards, perArm int, fill func(s *Season, treated bool, yard int)) []Season {
	var records []Season
	for y := range yards {
		for i := range 2 * perArm {
			treated := i%2 == 0
			s := Season{
				Hive: fmt.Sprint(i), Yard: fmt.Sprint("yard ", y), Year: 2020,
				Colony:       fmt.Sprintf("%d-%d", y, i),
				Treatments:   map[string]Answer{lidTreatment: No},
				ByLot:        map[string]bool{lidTreatment: true},
				Exposures:    map[string]Answer{HotSpell: Yes},
				FramesOfBees: 8,
			}
			if treated {
				s.Treatments[lidTreatment] = Yes
			}
			fill(&s, treated, y)
			records = append(records, s)
		}
	}
	return records
}

func answerOf(yes bool) Answer {
	if yes {
		return Yes
	}
	return No
}

// quick is the usual method with little simulation of further seasons.
func quick() Method {
	m := DefaultMethod()
	m.Simulations, m.Most = 20, 100
	return m
}

func compare(t testing.TB, m Method, records []Season, o Outcome) Finding {
	t.Helper()
	f, err := m.Compare(records, lidTreatment, o)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func codes(f Finding) []string {
	list := []string{}
	for _, c := range f.Cautions {
		list = append(list, c.Code)
	}
	return list
}

// TestNineSeasonsCannotTell is the smallest honest answer: few hives, no verdict,
// and the number that would give one.
func TestNineSeasonsCannotTell(t *testing.T) {
	fell := map[string]bool{"yard 0/0": true, "yard 0/1": true, "yard 1/1": true}
	records := trialYard(2, 2, func(s *Season, _ bool, _ int) { s.CombFell = answerOf(fell[s.Yard+"/"+s.Hive]) })
	records = append(records, Season{Hive: "9", Yard: "yard 0", Year: 2020, CombFell: No,
		Treatments: map[string]Answer{lidTreatment: Yes}, ByLot: map[string]bool{lidTreatment: true},
		Exposures: map[string]Answer{HotSpell: Yes}, FramesOfBees: 8})
	// As many cool seasons again, which say nothing of comb.
	for i := range 9 {
		records = append(records, Season{Hive: fmt.Sprint(i), Yard: "yard 2", Year: 2020, CombFell: No,
			Treatments: map[string]Answer{lidTreatment: answerOf(i%2 == 0)}, Exposures: map[string]Answer{HotSpell: No}})
	}
	f := compare(t, DefaultMethod(), records, outcomeOf(t, "comb fell"))
	if f.Strength != CannotTell || f.With.Seasons+f.Without.Seasons != 9 || f.Exposed != 9 || f.Records != 18 {
		t.Fatalf("%v: %+v", f.Strength, f)
	}
	want := []LeftOut{{"no hot spell", 9}}
	if !slices.Equal(f.LeftOut, want) {
		t.Errorf("left out %v, want %v", f.LeftOut, want)
	}
	if f.Further == nil || f.Further.AtMost || f.Further.Seasons < 20 || f.Further.All != 2*f.Further.Seasons {
		t.Errorf("further %+v", f.Further)
	}
	for _, part := range []string{"Comb fell in 1 of 5 hive-seasons with insulated lid and in 2 of 4 hive-seasons without.",
		"Only seasons with a hot spell count: 9 of 18.", "These 9 hive-seasons cannot tell yet;",
		fmt.Sprintf("%d more of this kind would, four times in five", f.Further.Seasons)} {
		if !strings.Contains(f.Verdict, part) {
			t.Errorf("the verdict lacks %q: %s", part, f.Verdict)
		}
	}
}

// TestFurtherSeasonsTell keeps so many more seasons, of the kind supposed, and
// counts how often the whole gives moderate evidence.
func TestFurtherSeasonsTell(t *testing.T) {
	t.Parallel()
	o := outcomeOf(t, "survived")
	lot := newLot(14)
	base := trialYard(2, 3, func(s *Season, treated bool, _ int) {
		s.Survived = answerOf(s.Hive != "0" && s.Hive != "1" && s.Hive != "3")
	})
	f := compare(t, DefaultMethod(), base, o)
	if f.Further == nil || f.Further.AtMost {
		t.Fatalf("%v, %+v", f.Strength, f.Further)
	}
	spread, baseline := f.Posterior.spread, f.Posterior.baseline
	direction := 1.0
	if !f.Helps {
		direction = -1
	}
	effect := effectOfWorth(baseline, spread, direction*o.Worth)
	const repeats = 40
	told := 0
	for range repeats {
		extra := trialYard(f.Further.Seasons/6, 3, func(s *Season, _ bool, _ int) {})
		level := 0.0
		for i := range extra {
			if i%6 == 0 {
				level = baseline + spread*lot.normal()
			}
			s := &extra[i]
			s.Yard, s.Colony = "more "+s.Yard, "more "+s.Colony
			d := 0.0
			if s.Treatments[lidTreatment] == Yes {
				d = effect
			}
			s.Survived = answerOf(lot.share() < logistic(level+d))
		}
		g := compare(t, quick(), append(slices.Clone(base), extra...), o)
		if g.Strength == Moderate || g.Strength == Strong {
			told++
		}
	}
	// The forecast goes by a score test, the verdict by the exact test and the full
	// model: they differ by some points, and 40 repeats by 19 (three errors).
	t.Logf("%d more: %d of %d repeats tell", f.Further.Seasons, told, repeats)
	near(t, "share of repeats that tell", float64(told)/repeats, 0.8, 0.21)
}

// TestFurtherCountsWhatIsThere: data that lean already need fewer further seasons
// than data that do not, and repeated colonies need more.
func TestFurtherCountsWhatIsThere(t *testing.T) {
	o := outcomeOf(t, "stores used")
	m := DefaultMethod()
	seasons := func(gain float64, colony string) []Season {
		i := 0
		return trialYard(3, 4, func(s *Season, treated bool, y int) {
			i++
			kg := 14 + 3*math.Cos(float64(7*i/2))
			if treated {
				kg -= gain
			}
			s.StoresUsed = &kg
			if colony != "" {
				s.Colony = fmt.Sprint(colony, i%8)
				s.Year += y
			}
		})
	}
	flat, lean := compare(t, m, seasons(0.2, ""), o), compare(t, m, seasons(1.1, ""), o)
	if flat.Further == nil || lean.Further == nil || flat.Further.Seasons < lean.Further.Seasons*5/4 {
		t.Fatalf("flat %+v, leaning %+v", flat.Further, lean.Further)
	}
	again := compare(t, m, seasons(0.2, "c"), o)
	if again.DesignEffect < 1.3 || again.Further == nil || again.Further.Seasons < flat.Further.Seasons*5/4 {
		t.Errorf("repeated colonies: design effect %v, %+v; apart %+v", again.DesignEffect, again.Further, flat.Further)
	}
	alive := func(with, without int) Finding {
		var n [2]int
		return compare(t, m, trialYard(1, 12, func(s *Season, treated bool, _ int) {
			k, most := 0, without
			if treated {
				k, most = 1, with
			}
			n[k]++
			s.Survived = answerOf(n[k] <= most)
		}), outcomeOf(t, "survived"))
	}
	level, ahead := alive(8, 8), alive(10, 7)
	if ahead.Further == nil || level.Further == nil || level.Further.Seasons < ahead.Further.Seasons*5/4 {
		t.Errorf("level %+v, ahead %+v", level.Further, ahead.Further)
	}
	// With nothing but a pair the number is near that of a trial from the start.
	counts := outcomeOf(t, "survived")
	pair := trialYard(1, 1, func(s *Season, treated bool, _ int) { s.Survived = Yes })
	f := compare(t, m, pair, counts)
	fresh := ProportionSize(0.8, f.Further.With, f.Further.Without, 0.05)
	if n := float64(f.Further.Seasons); n < 1.5*fresh || n > 5*fresh {
		t.Errorf("%v more, a trial without blocks %v", n, 2*fresh)
	}
}

// TestNothingSeenIsNotNothing: ten hives each without a fallen comb may still
// differ by more than is worth having.
func TestNothingSeenIsNotNothing(t *testing.T) {
	none := func(perArm int) Finding {
		return compare(t, quick(), trialYard(2, perArm, func(s *Season, _ bool, _ int) { s.CombFell = No }), outcomeOf(t, "comb fell"))
	}
	if f := none(5); f.Strength != CannotTell {
		t.Errorf("%v: %s", f.Strength, f.Verdict)
	}
	// Nor does a prior that knows beforehand make it so.
	dogged := quick()
	dogged.Priors = []Prior{{"dogged", 0.05}}
	if f := compare(t, dogged, trialYard(2, 5, func(s *Season, _ bool, _ int) { s.CombFell = No }), outcomeOf(t, "comb fell")); f.Strength != CannotTell {
		t.Errorf("%v: %s", f.Strength, f.Verdict)
	}
	if f := none(50); f.Strength != NoDifference {
		t.Errorf("%v: %s", f.Strength, f.Verdict)
	}
}

// TestNoEffectSeldomLooksLikeOne: with yards that differ widely and a treatment
// that does nothing, moderate evidence comes up in less than one in twenty.
func TestNoEffectSeldomLooksLikeOne(t *testing.T) {
	t.Parallel()
	const repeats = 150
	lot := newLot(77)
	for _, key := range []string{"survived", "stores used"} {
		o := outcomeOf(t, key)
		alarms, leaning := 0, 0
		for range repeats {
			var levels [5]float64
			for y := range levels {
				levels[y] = 0.8 + 1.2*lot.normal()
			}
			records := trialYard(5, 3, func(s *Season, _ bool, y int) {
				s.Survived = answerOf(lot.share() < logistic(levels[y]))
				kg := 12 + 2*levels[y] + 3*lot.normal()
				s.StoresUsed = &kg
			})
			switch f := compare(t, quick(), records, o); f.Strength {
			case Moderate, Strong:
				alarms++
			case Leaning:
				leaning++
			}
		}
		t.Logf("%s: %d alarms, %d leaning of %d", key, alarms, leaning, repeats)
		// Three standard errors over the repeats.
		if share := float64(alarms) / repeats; share > 0.05+3*math.Sqrt(0.05*0.95/repeats) {
			t.Errorf("%s: moderate evidence of nothing in %.3f", key, share)
		}
		if share := float64(leaning) / repeats; share > 0.3 {
			t.Errorf("%s: leaning to nothing in %.3f", key, share)
		}
	}
}

// TestPosteriorIsCalibrated draws truths from the prior: the posterior interval
// holds them at its level and its belief comes true as often as it says.
func TestPosteriorIsCalibrated(t *testing.T) {
	t.Parallel()
	const repeats = 200
	lot := newLot(4)
	held, belief, truth := 0, 0.0, 0.0
	for range repeats {
		mu, tau, d := baselineSD*lot.normal(), math.Abs(spreadScale*lot.normal()), oddsSD*lot.normal()
		var blocks []blockCounts
		for range 4 {
			level := mu + tau*lot.normal()
			b := blockCounts{nWith: float64(1 + lot.below(5)), nWithout: float64(1 + lot.below(5))}
			for range int(b.nWith) {
				if lot.share() < logistic(level+d) {
					b.xWith++
				}
			}
			for range int(b.nWithout) {
				if lot.share() < logistic(level) {
					b.xWithout++
				}
			}
			blocks = append(blocks, b)
		}
		p := fitCounts(blocks).posterior(oddsSD, 0.8, 0.1, false)
		if p.Interval.Contains(blockShare(mu, tau, d) - blockShare(mu, tau, 0)) {
			held++
		}
		belief += p.Better
		if d > 0 {
			truth++
		}
	}
	t.Logf("coverage %d of %d, belief %.3f, truth %.3f", held, repeats, belief/repeats, truth/repeats)
	// Three standard errors, and a point for the grid.
	near(t, "coverage of the 80 % interval", float64(held)/repeats, 0.8, 3*math.Sqrt(0.8*0.2/repeats)+0.01)
	near(t, "belief in good", belief/repeats, truth/repeats, 3*0.5/math.Sqrt(repeats))
}

// TestModelMeetsSampling compares the integrals with plain sampling: truths drawn
// from the prior, weighted by how likely they make the data.
func TestModelMeetsSampling(t *testing.T) {
	blocks := []blockCounts{
		{xWith: 3, nWith: 4, xWithout: 1, nWithout: 3}, {xWith: 1, nWith: 1, xWithout: 0, nWithout: 2},
		{xWith: 2, nWith: 3, xWithout: 3, nWithout: 3}, {nWith: 0, xWithout: 1, nWithout: 2},
	}
	p := fitCounts(blocks).posterior(oddsSD, 0.9, 0.2, false)
	lot := newLot(40)
	const draws = 200_000
	var total, squares, better, worth, mean, below, spread float64
	for range draws {
		mu, tau, d := baselineSD*lot.normal(), spreadScale*math.Abs(lot.normal()), oddsSD*lot.normal()
		w := 1.0
		for _, b := range blocks {
			level := mu + tau*lot.normal()
			w *= math.Exp(b.xWith*(level+d) - b.nWith*logOnePlusExp(level+d) + b.xWithout*level - b.nWithout*logOnePlusExp(level))
		}
		// Closed approximation of the mean of a logistic-normal share, good to 0.01.
		k := math.Sqrt(1 + 0.3457*tau*tau)
		delta := logistic((mu+d)/k) - logistic(mu/k)
		total += w
		squares += w * w
		mean += w * delta
		spread += w * tau
		if d > 0 {
			better += w
		}
		if delta >= 0.2 {
			worth += w
		}
		if delta <= p.Interval.Lo {
			below += w
		}
	}
	// Four standard errors of the weighted sample, and the approximation.
	slack := 4 * math.Sqrt(squares) / total / 2
	if slack > 0.03 {
		t.Fatalf("the sample is too thin: %v", slack)
	}
	near(t, "belief", p.Better, better/total, slack)
	near(t, "belief in 20 points", p.WorthIt, worth/total, slack+0.02)
	near(t, "mean", p.Estimate, mean/total, slack+0.01)
	near(t, "spread between blocks", p.spread, spread/total, 2*slack)
	near(t, "share below the interval", below/total, 0.05, slack+0.015)
}

// TestModelMeetsConjugate: with one block whose level is known to lie anywhere,
// and plenty of data, the difference is that of two beta posteriors.
func TestModelMeetsConjugate(t *testing.T) {
	p := fitCounts([]blockCounts{{xWith: 150, nWith: 200, xWithout: 110, nWithout: 200}}).posterior(50, 0.95, 0.1, false)
	v := DifferenceInterval(BetaPosterior(JeffreysPrior(), 150, 200), BetaPosterior(JeffreysPrior(), 110, 200), 0.95)
	// The model speaks of blocks like this one, whose level may differ: the
	// difference of shares then shrinks a little and spreads.
	if p.Interval.Lo > v.Lo+0.02 || p.Estimate < v.Lo || p.Estimate > v.Hi || p.Better < 0.999 {
		t.Errorf("%+v, two beta posteriors %v", p, v)
	}
	near(t, "odds ratio", p.OddsRatio, 150.0/50*90/110, 0.06)
}

func TestAmountPosteriorMeetsConjugate(t *testing.T) {
	p := amountPosterior(-3, 1.2, 1e6, 4, 0.95, 2, true)
	variance := 1 / (1/1.44 + 1.0/16)
	mean, sd := -3/1.44*variance, math.Sqrt(variance)
	near(t, "mean", p.Estimate, mean, 1e-3)
	near(t, "lower end", p.Interval.Lo, mean-1.959964*sd, 5e-3)
	near(t, "belief", p.Better, normalCDF(-mean/sd), 1e-3)
	near(t, "belief in 2 kg", p.WorthIt, normalCDF((-2-mean)/sd), 2e-3)
}

// TestRelabelling: names of yards and hives and the order of records do not
// matter, and calling the other kind treated turns the effect round.
func TestRelabelling(t *testing.T) {
	lot := newLot(9)
	for _, key := range []string{"comb fell", "stores used"} {
		o := outcomeOf(t, key)
		records := trialYard(4, 3, func(s *Season, treated bool, y int) {
			s.CombFell = answerOf(lot.share() < 0.5)
			kg := 10 + float64(y) + 3*lot.normal()
			s.StoresUsed = &kg
		})
		a := compare(t, quick(), records, o)
		other := make([]Season, len(records))
		for i, s := range records {
			s.Yard, s.Hive, s.Colony = "Z"+s.Yard+"-", "no. "+s.Hive, "c"+s.Colony
			s.Year += 7
			other[len(records)-1-i] = s
		}
		b := compare(t, quick(), other, o)
		if a.Verdict != b.Verdict || a.Within.P != b.Within.P {
			t.Errorf("%s: renamed and reversed:\n%s\n%s", key, a.Verdict, b.Verdict)
		}
		for i, s := range records {
			s.Treatments = map[string]Answer{lidTreatment: answerOf(s.Treatments[lidTreatment] == No)}
			other[i] = s
		}
		c := compare(t, quick(), other, o)
		near(t, key+": p", c.Within.P, a.Within.P, 1e-9)
		near(t, key+": raw difference", c.Raw, -a.Raw, 1e-12)
		if c.Strength != a.Strength || c.Helps == a.Helps {
			t.Errorf("%s: %v %v, kinds swapped %v %v", key, a.Strength, a.Helps, c.Strength, c.Helps)
		}
		if !o.counted() {
			near(t, key+": estimate", c.Posterior.Estimate, -a.Posterior.Estimate, 1e-9)
			near(t, key+": lower end", c.Within.Interval.Lo, -a.Within.Interval.Hi, 1e-9)
			continue
		}
		// The baseline is the untreated level, so the prior is not quite symmetric.
		near(t, key+": estimate", c.Posterior.Estimate, -a.Posterior.Estimate, 0.02)
		near(t, key+": odds ratio", *c.Within.Effect**a.Within.Effect, 1, 1e-6)
	}
}

// TestYardsDoNotConfound: when the lid stands mostly in the better yard and does
// nothing, the arms differ and the blocks do not.
func TestYardsDoNotConfound(t *testing.T) {
	var records []Season
	for i := range 60 {
		good := i < 30
		treated := (good && i%6 != 0) || (!good && i%6 == 0)
		dead := i%10 == 3
		if !good {
			dead = i%10 < 7
		}
		s := Season{Hive: fmt.Sprint(i), Yard: "poor", Year: 2021, Survived: answerOf(!dead),
			Treatments: map[string]Answer{lidTreatment: answerOf(treated)}, ByLot: map[string]bool{lidTreatment: true}}
		if good {
			s.Yard = "good"
		}
		records = append(records, s)
	}
	f := compare(t, quick(), records, outcomeOf(t, "survived"))
	if f.Raw < 0.3 || f.RawInterval.Lo < 0 {
		t.Fatalf("raw difference %v %v: the case does not confound", f.Raw, f.RawInterval)
	}
	if f.Strength == Moderate || f.Strength == Strong || f.Within.P < 0.1 || math.Abs(f.Posterior.Estimate) > 0.12 {
		t.Errorf("%v, p %v, %+v", f.Strength, f.Within.P, f.Posterior)
	}
}

func TestStrongEvidence(t *testing.T) {
	lot := newLot(31)
	records := trialYard(10, 6, func(s *Season, treated bool, y int) {
		p := 0.4
		if treated {
			p = 0.9
		}
		s.Survived = answerOf(lot.share() < p)
		kg := 15 + float64(y%3) + 2*lot.normal()
		if treated {
			kg -= 4
		}
		s.StoresUsed = &kg
	})
	for _, key := range []string{"survived", "stores used"} {
		f := compare(t, DefaultMethod(), records, outcomeOf(t, key))
		if f.Strength != Strong || !f.Helps || f.Further != nil || len(f.Cautions) != 0 {
			t.Errorf("%s: %v %v %v %v", key, f.Strength, f.Helps, f.Further, codes(f))
		}
		for _, part := range []string{"Strong evidence that insulated lid does good", "best guess", "between", "luck alone", "about once in"} {
			if !strings.Contains(f.Verdict, part) {
				t.Errorf("the verdict lacks %q: %s", part, f.Verdict)
			}
		}
		if strings.Contains(f.Verdict, "significan") {
			t.Error(f.Verdict)
		}
		// The same hives, treated by choice, tell less.
		chosen := make([]Season, len(records))
		for i, s := range records {
			s.ByLot = nil
			chosen[i] = s
		}
		if g := compare(t, quick(), chosen, outcomeOf(t, key)); g.Strength != Moderate || !slices.Contains(codes(g), "by choice") {
			t.Errorf("%s, by choice: %v %v", key, g.Strength, codes(g))
		}
	}
}

func TestNoDifferenceWorthHaving(t *testing.T) {
	records := trialYard(20, 20, func(s *Season, _ bool, _ int) {
		n := len(s.Hive) + int(s.Hive[len(s.Hive)-1])
		s.Survived = answerOf(n%10 != 1 && n%10 != 2)
	})
	f := compare(t, quick(), records, outcomeOf(t, "survived"))
	if f.Strength != NoDifference || !strings.Contains(f.Verdict, "No difference worth having") || !strings.Contains(f.Verdict, "15 points") {
		t.Errorf("%v, %v: %s", f.Strength, f.Posterior, f.Verdict)
	}
	// What confounds may hide an effect too.
	for i := range records {
		records[i].Treatments["slatted rack"] = records[i].Treatments[lidTreatment]
	}
	if f := compare(t, quick(), records, outcomeOf(t, "survived")); f.Strength != CannotTell || !slices.Contains(codes(f), "inseparable") {
		t.Errorf("with another treatment always along: %v %v", f.Strength, codes(f))
	}
}

// TestCautions breaks one thing at a time in a fair trial.
func TestCautions(t *testing.T) {
	for _, c := range []struct {
		code   string
		spoil  func(s *Season, i int)
		atMost Strength
		key    string
	}{
		{"", func(*Season, int) {}, Strong, "survived"},
		{"by choice", func(s *Season, i int) {
			if i == 0 {
				s.ByLot = nil
			}
		}, Moderate, "survived"},
		{"no common block", func(s *Season, _ int) { s.Yard = s.Treatments[lidTreatment].String() }, CannotTell, "survived"},
		{"uneven blocks", func(s *Season, i int) {
			if i < 2 {
				s.Yard = "apart"
			}
			if i == 1 {
				s.Yard = "elsewhere"
			}
		}, Strong, "survived"},
		{"one yard", func(s *Season, i int) {
			if s.Treatments[lidTreatment] == Yes {
				s.Yard = "yard 0"
			}
		}, Strong, "survived"},
		{"one year", func(s *Season, i int) {
			if s.Treatments[lidTreatment] == No && i > 20 {
				s.Year = 2021
			}
		}, Strong, "survived"},
		{"uneven strength", func(s *Season, i int) {
			s.FramesOfBees = 7 + float64(i/2%3)
			if s.Treatments[lidTreatment] == Yes {
				s.FramesOfBees++
			}
		}, Moderate, "survived"},
		{"goes along", func(s *Season, i int) {
			s.Treatments["top vent"] = answerOf(s.Treatments[lidTreatment] == Yes && i%4 == 0)
		}, Moderate, "survived"},
		{"inseparable", func(s *Season, _ int) { s.Treatments["top vent"] = s.Treatments[lidTreatment] }, Leaning, "survived"},
		{"missing outcomes", func(s *Season, i int) {
			if i%3 == 0 {
				s.Survived = Unknown
			}
		}, Leaning, "survived"},
		{"unknown exposure", func(s *Season, i int) {
			if i%5 == 0 {
				s.Exposures = nil
			}
		}, Strong, "comb fell"},
		{"repeated colonies", func(s *Season, i int) {
			if i >= 20 {
				s.Year = 2021
			}
			s.Colony = fmt.Sprint(i % 20)
		}, Strong, "survived"},
	} {
		i := -1
		records := trialYard(10, 4, func(s *Season, treated bool, _ int) {
			i++
			s.Survived = answerOf(treated || i%4 == 1)
			s.CombFell = answerOf(!treated && i%4 == 1)
			c.spoil(s, i)
		})
		for i := range records {
			records[i].Hive = fmt.Sprint(i)
		}
		f := compare(t, quick(), records, outcomeOf(t, c.key))
		got := codes(f)
		if c.code == "" {
			if len(got) > 0 || f.Strength != Strong {
				t.Errorf("a fair trial: %v %v", f.Strength, got)
			}
			continue
		}
		if !slices.Contains(got, c.code) || f.Strength > c.atMost {
			t.Errorf("%s: %v, at most %v, %v", c.code, f.Strength, c.atMost, got)
		}
		if c.code != "repeated colonies" && f.DesignEffect != 1 {
			t.Errorf("%s: design effect %v", c.code, f.DesignEffect)
		}
		if c.code == "repeated colonies" && (f.DesignEffect < 1.5 || f.Within.FirstSeasonsP == nil || *f.Within.FirstSeasonsP < f.Within.P || f.Within.PAdjusted <= f.Within.P) {
			t.Errorf("repeated colonies: design effect %v, %+v", f.DesignEffect, f.Within)
		}
	}
}

// TestRepeatsAreNotNews: the same colonies written down four times must not make
// the evidence much stronger.
func TestRepeatsAreNotNews(t *testing.T) {
	m := quick()
	m.ICC = 1
	once := trialYard(3, 4, func(s *Season, treated bool, _ int) {
		s.Survived = answerOf(treated || s.Hive == "1" || s.Hive == "3")
	})
	var often []Season
	for y := range 4 {
		for _, s := range once {
			s.Year += y
			often = append(often, s)
		}
	}
	a, b := compare(t, m, once, outcomeOf(t, "survived")), compare(t, m, often, outcomeOf(t, "survived"))
	near(t, "design effect", b.DesignEffect, 4, 1e-12)
	near(t, "p from first seasons", *b.Within.FirstSeasonsP, a.Within.P, 1e-12)
	near(t, "belief", b.Posterior.Better, a.Posterior.Better, 0.02)
	// The exact tail of twelve hives is coarse, so the two agree to a factor of five
	// where the unadjusted one is off by more than ten thousand.
	near(t, "adjusted p", math.Log(b.Within.PAdjusted), math.Log(a.Within.P), math.Log(5))
	if b.Within.P > a.Within.P/1e4 {
		t.Errorf("unadjusted p %v, once %v: the case does not test the adjustment", b.Within.P, a.Within.P)
	}
	near(t, "raw interval", b.RawInterval.Width(), a.RawInterval.Width(), 1e-9)
}

// TestDealtAnew compares counting all deals with drawing them.
func TestDealtAnew(t *testing.T) {
	var seasons []used
	for i, v := range []float64{3, 5, 6, 9, 4, 4, 7, 8} {
		seasons = append(seasons, used{Season{Yard: fmt.Sprint(i / 4)}, i%2 == 1, v})
	}
	// Sums of the treated about the block means: 2.5 and 0.5; deals of 36.
	want := 0
	sums := func(v [4]float64) []float64 {
		mean := (v[0] + v[1] + v[2] + v[3]) / 4
		var s []float64
		for i := range 4 {
			for j := i + 1; j < 4; j++ {
				s = append(s, v[i]+v[j]-2*mean)
			}
		}
		return s
	}
	for _, a := range sums([4]float64{3, 5, 6, 9}) {
		for _, b := range sums([4]float64{4, 4, 7, 8}) {
			if math.Abs(a+b) >= 3-1e-9 {
				want++
			}
		}
	}
	near(t, "all deals", dealtAnew(seasons, 1), float64(want)/36, 1e-12)
	// Large enough for drawing: the t test of the same blocks is near.
	lot := newLot(2)
	seasons = nil
	for i := range 60 {
		v := 10 + lot.normal()
		if i%2 == 1 {
			v += 0.6
		}
		seasons = append(seasons, used{Season{Yard: fmt.Sprint(i / 10)}, i%2 == 1, v})
	}
	b := withinBlocks(seasons)
	near(t, "drawn deals", dealtAnew(seasons, 1), tTest(b.difference, b.stdError, b.df, 0.95).P, 0.01)
}

func TestWithinBlocksIsLeastSquares(t *testing.T) {
	// One block of each 2: the paired t test.
	x, y := []float64{3, 5, 9, 4}, []float64{2, 6, 5, 1}
	var seasons []used
	for i := range x {
		seasons = append(seasons, used{Season{Yard: fmt.Sprint(i)}, true, x[i]}, used{Season{Yard: fmt.Sprint(i)}, false, y[i]})
	}
	paired, err := Paired(x, y, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	b := withinBlocks(seasons)
	near(t, "difference", b.difference, paired.Difference, 1e-12)
	near(t, "standard error", b.stdError, paired.StdError, 1e-12)
	near(t, "degrees of freedom", b.df, paired.DF, 0)
}

func TestCompareErrors(t *testing.T) {
	o := outcomeOf(t, "survived")
	good := trialYard(1, 2, func(s *Season, _ bool, _ int) { s.Survived = Yes })
	infinite := math.Inf(1)
	heavy := trialYard(1, 1, func(s *Season, _ bool, _ int) { s.StoresUsed = &infinite })
	bad := func(change func(*Method)) Method {
		m := DefaultMethod()
		change(&m)
		return m
	}
	noWorth := o
	noWorth.Worth = 0
	for _, c := range []struct {
		name      string
		method    Method
		records   []Season
		treatment string
		outcome   Outcome
		want      string
	}{
		{"twice", DefaultMethod(), append(slices.Clone(good), good[0]), lidTreatment, o, "twice"},
		{"treatment", DefaultMethod(), good, "moat", o, `"moat"`},
		{"outcome", DefaultMethod(), good, lidTreatment, Outcome{Key: "mood"}, `"mood"`},
		{"amount", DefaultMethod(), heavy, lidTreatment, outcomeOf(t, "stores used"), "stores used"},
		{"worth", DefaultMethod(), good, lidTreatment, noWorth, "worth having"},
		{"level", bad(func(m *Method) { m.Level = 1 }), good, lidTreatment, o, "level"},
		{"power", bad(func(m *Method) { m.Power = 0 }), good, lidTreatment, o, "power"},
		{"icc", bad(func(m *Method) { m.ICC = math.NaN() }), good, lidTreatment, o, "intraclass"},
		{"priors", bad(func(m *Method) { m.Priors = nil }), good, lidTreatment, o, "prior"},
		{"prior scale", bad(func(m *Method) { m.Priors = []Prior{{"flat", 0}} }), good, lidTreatment, o, "flat"},
		{"simulations", bad(func(m *Method) { m.Simulations = 0 }), good, lidTreatment, o, "simulations"},
	} {
		_, err := c.method.Compare(c.records, c.treatment, c.outcome)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one that names %q", c.name, err, c.want)
		}
	}
	if _, err := OutcomeOf("mood"); err == nil || !strings.Contains(err.Error(), "stores used") {
		t.Errorf("an unknown outcome: %v", err)
	}
}

// TestLittleOrNothing gives an answer, not a failure, to records that say little.
func TestLittleOrNothing(t *testing.T) {
	o := outcomeOf(t, "survived")
	one := trialYard(1, 1, func(s *Season, _ bool, _ int) { s.Survived = Yes })
	for _, c := range []struct {
		name    string
		records []Season
		want    string
	}{
		{"nothing", nil, "None of 0 hive-seasons says anything"},
		{"one", one[:1], "This one hive-season cannot tell: there is nothing to compare with."},
		{"two", one, "These 2 hive-seasons cannot tell yet"},
	} {
		for _, key := range []string{"survived", "stores used"} {
			if key == "stores used" {
				kg := 12.0
				for i := range c.records {
					c.records[i].StoresUsed = &kg
				}
				o = outcomeOf(t, key)
			}
			f := compare(t, quick(), c.records, o)
			if f.Strength != CannotTell || !strings.Contains(f.Verdict, c.want) || strings.Contains(f.Verdict, "NaN") {
				t.Errorf("%s, %s: %v %s", c.name, key, f.Strength, f.Verdict)
			}
		}
		o = outcomeOf(t, "survived")
	}
	f, err := Compare([]Season{{Hive: "1", CombFell: Yes, Treatments: map[string]Answer{"x": Yes}}}, "x", outcomeOf(t, "comb fell"))
	if err != nil || !strings.Contains(f.Verdict, "only those with a hot spell count") {
		t.Errorf("%v %s", err, f.Verdict)
	}
}

func TestFindingJSON(t *testing.T) {
	lot := newLot(6)
	records := trialYard(2, 3, func(s *Season, treated bool, _ int) {
		s.Survived = answerOf(!treated)
		kg := 10 + lot.normal()
		s.StoresUsed = &kg
	})
	for _, o := range Outcomes() {
		f := compare(t, quick(), records, o)
		text, err := json.Marshal(f)
		if err != nil {
			t.Errorf("%s: %v", o.Key, err)
			continue
		}
		var back Finding
		if err := json.Unmarshal(text, &back); err != nil || back.Verdict != f.Verdict || back.Strength != f.Strength || back.Within.P != f.Within.P {
			t.Errorf("%s: came back as %+v, %v", o.Key, back, err)
		}
	}
	text, err := json.Marshal(records[0])
	var back Season
	if err == nil {
		err = json.Unmarshal(text, &back)
	}
	if err != nil || back.Treatments[lidTreatment] != Yes || back.Survived != No || *back.StoresUsed != *records[0].StoresUsed {
		t.Errorf("%s, %v", text, err)
	}
}

func FuzzAnswer(f *testing.F) {
	for _, s := range []string{"yes", "No", " unknown ", "", "maybe", "YES\n"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		var a Answer
		if err := a.UnmarshalText([]byte(s)); err != nil {
			if a != Unknown || !strings.Contains(err.Error(), "unknown, no, yes") {
				t.Errorf("%q: %v with %v", s, err, a)
			}
			return
		}
		text, err := a.MarshalText()
		var back Answer
		if err != nil || back.UnmarshalText(text) != nil || back != a {
			t.Errorf("%q became %v, then %v", s, a, back)
		}
	})
}

func BenchmarkCompare(b *testing.B) {
	lot := newLot(1)
	records := trialYard(6, 5, func(s *Season, _ bool, _ int) { s.Survived = answerOf(lot.share() < 0.8) })
	o := outcomeOf(b, "survived")
	for b.Loop() {
		compare(b, DefaultMethod(), records, o)
	}
}
