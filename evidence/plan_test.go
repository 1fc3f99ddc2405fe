package evidence

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
)

func trialHives() []Candidate {
	return []Candidate{
		{"1", "orchard", 9}, {"2", "orchard", 4.5}, {"3", "orchard", 8}, {"4", "orchard", 5},
		{"1", "hill", 7}, {"2", "hill", 0}, {"3", "hill", 6},
	}
}

func TestDraw(t *testing.T) {
	p, err := Draw(trialHives(), []string{"insulated lid", "as before"}, 12)
	if err != nil {
		t.Fatal(err)
	}
	// Blocks pair hives of one yard and near strength; what is left of a yard is a
	// block of one.
	want := `Dealt by lot, seed 12.

block  yard     hive  frames of bees  treatment
    1  hill     1                7.0  as before
    1  hill     3                6.0  insulated lid
    2  hill     2                  -  as before
    3  orchard  1                9.0  insulated lid
    3  orchard  3                8.0  as before
    4  orchard  4                5.0  insulated lid
    4  orchard  2                4.5  as before

insulated lid: 3 hives, 6.7 frames of bees on average
as before: 4 hives, 6.5 frames of bees on average
Note: the bees of 1 hive were not counted: blocks are alike in yard only there.
`
	if p.String() != want {
		t.Errorf("printed\n%s\nwant\n%s", p, want)
	}
	reversed := trialHives()
	slices.Reverse(reversed)
	q, err := Draw(reversed, []string{"insulated lid", "as before"}, 12)
	if err != nil || q.String() != p.String() {
		t.Errorf("listed the other way round, %v:\n%s", err, q)
	}
}

// TestDrawIsStable pins the stream: a plan printed years ago must come out the
// same from its seed.
func TestDrawIsStable(t *testing.T) {
	lot := newLot(12)
	var got [12]int
	for i := range got {
		got[i] = lot.below(100)
	}
	want := [12]int{94, 12, 35, 51, 47, 14, 16, 76, 84, 55, 79, 18}
	if got != want {
		t.Errorf("%v, want %v", got, want)
	}
}

// TestDrawIsFair: in every plan each full block holds each arm once and no hive
// gets an arm more often than another over many seeds.
func TestDrawIsFair(t *testing.T) {
	arms := []string{"lid", "wrap", "as before"}
	var hives []Candidate
	for i := range 7 {
		hives = append(hives, Candidate{fmt.Sprint(i), "yard", float64(10 - i)})
	}
	const seeds = 3000
	counts := map[string]int{}
	for seed := range uint64(seeds) {
		p, err := Draw(hives, arms, seed)
		if err != nil {
			t.Fatal(err)
		}
		inBlock := map[string]bool{}
		for _, a := range p.Assignments {
			key := fmt.Sprint(a.Block, a.Arm)
			if inBlock[key] {
				t.Fatalf("seed %d: %s twice in a block\n%s", seed, a.Arm, p)
			}
			inBlock[key] = true
			counts[a.Hive+a.Arm]++
		}
		for _, b := range p.Balance {
			if b.Hives < 2 || b.Hives > 3 || math.Abs(b.Strength-7) > 2 {
				t.Fatalf("seed %d: %+v", seed, p.Balance)
			}
		}
	}
	for _, h := range hives {
		for _, arm := range arms {
			// Four standard errors.
			near(t, h.Hive+" "+arm, float64(counts[h.Hive+arm])/seeds, 1.0/3, 4*math.Sqrt(2.0/9/seeds))
		}
	}
}

func TestDrawErrors(t *testing.T) {
	hives := trialHives()
	nan := append(slices.Clone(hives), Candidate{"9", "hill", math.NaN()})
	for name, c := range map[string]struct {
		hives []Candidate
		arms  []string
	}{
		"one arm":      {hives, []string{"lid"}},
		"same arm":     {hives, []string{"lid", "lid"}},
		"empty arm":    {hives, []string{"lid", " "}},
		"too few":      {hives[:1], []string{"lid", "none"}},
		"listed twice": {append(slices.Clone(hives), hives[0]), []string{"lid", "none"}},
		"no name":      {append(slices.Clone(hives), Candidate{Yard: "hill"}), []string{"lid", "none"}},
		"NaN frames":   {nan, []string{"lid", "none"}},
	} {
		if _, err := Draw(c.hives, c.arms, 1); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	p, err := Draw(append(hives, Candidate{"1", "lone", 5}), []string{"lid", "none"}, 1)
	if err != nil || !strings.Contains(p.String(), `yard "lone" has fewer hives than there are arms`) {
		t.Errorf("%v\n%s", err, p)
	}
}

func TestTrialPower(t *testing.T) {
	trial := Trial{Outcome: outcomeOf(t, "survived"), Without: 0.6, With: 0.85}
	curve, err := trial.PowerCurve([]int{20, 60, 120, 240}, 3)
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range curve {
		if p.Years > 1 && p.Power < curve[i-1].Power {
			t.Errorf("a year more finds less: %+v, %+v", curve[i-1], p)
		}
		if i >= 3 && p.Power < curve[i-3].Power {
			t.Errorf("more hives find less: %+v, %+v", curve[i-3], p)
		}
	}
	near(t, "20 hives, one year", curve[0].Power, FisherPower(10, 10, 0.85, 0.6, 0.05), 1e-12)
	n, err := trial.HivesFor(0.8, 1)
	if err != nil {
		t.Fatal(err)
	}
	if p := FisherPower(n/2, n/2, 0.85, 0.6, 0.05); p < 0.8 {
		t.Errorf("%d hives have power %.3f", n, p)
	}
	if p := FisherPower(n/2-2, n/2-2, 0.85, 0.6, 0.05); p > 0.8 {
		t.Errorf("%d hives do already: %.3f", n-4, p)
	}
	// Half the seasons exposed: twice the hives.
	rare := trial
	rare.Exposed = 0.5
	if m, err := rare.HivesFor(0.8, 1); err != nil || m < 2*n-2 || m > 2*n+2 {
		t.Errorf("%d hives for rare seasons, %d for all, %v", m, n, err)
	}
	// The same colonies for three years are worth less than dealing anew.
	kept, anew := trial, trial
	kept.ICC, anew.ICC, anew.Redrawn = 0.3, 0.3, true
	a, errA := kept.HivesFor(0.8, 3)
	b, errB := anew.HivesFor(0.8, 3)
	if errA != nil || errB != nil || float64(a) < 1.4*float64(b) {
		t.Errorf("kept %d, dealt anew %d, %v %v", a, b, errA, errB)
	}
	amount := Trial{Outcome: outcomeOf(t, "stores used"), Without: 14, With: 12, Scatter: 3}
	m, err := amount.HivesFor(0.8, 1)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "hives by the t test", float64(m), 2*math.Ceil(TTestSize(0.8, 2, 3, 0.05)), 2)
}

func TestTrialErrors(t *testing.T) {
	survived, stores := outcomeOf(t, "survived"), outcomeOf(t, "stores used")
	for name, trial := range map[string]Trial{
		"no outcome": {Without: 0.5, With: 0.6},
		"share":      {Outcome: survived, Without: 0.5, With: 1.2},
		"alike":      {Outcome: survived, Without: 0.5, With: 0.5},
		"scatter":    {Outcome: stores, Without: 12, With: 10},
		"alpha":      {Outcome: survived, Without: 0.5, With: 0.6, Alpha: 1},
		"exposed":    {Outcome: survived, Without: 0.5, With: 0.6, Exposed: -1},
	} {
		if _, err := trial.PowerCurve([]int{10}, 1); err == nil {
			t.Errorf("%s: no error", name)
		}
		if _, err := trial.HivesFor(0.8, 1); err == nil {
			t.Errorf("%s: hives without error", name)
		}
	}
	trial := Trial{Outcome: survived, Without: 0.8, With: 0.801}
	if _, err := trial.HivesFor(0.8, 1); err == nil || !strings.Contains(err.Error(), "20000") {
		t.Errorf("so small a difference: %v", err)
	}
	if _, err := trial.PowerCurve([]int{4}, 0); err == nil {
		t.Error("no years, no error")
	}
	if _, err := trial.HivesFor(1, 1); err == nil {
		t.Error("certainty, no error")
	}
}

func TestToRecord(t *testing.T) {
	for _, o := range Outcomes() {
		list := ToRecord(o)
		if len(list) < 6 {
			t.Errorf("%s: nothing of its own to record: %q", o.Key, list)
		}
		if o.Exposure != "" && !strings.Contains(strings.Join(list, "\n"), o.Exposure) {
			t.Errorf("%s: exposure is not recorded: %q", o.Key, list)
		}
	}
}
