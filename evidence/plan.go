package evidence

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Candidate is a hive that can take part in a trial.
type Candidate struct {
	Hive         string  `json:"hive"`
	Yard         string  `json:"yard"`
	FramesOfBees float64 `json:"frames_of_bees,omitempty"` // at the start; 0 when not counted [-]
}

// Assignment is what the lot gave to a hive.
type Assignment struct {
	Candidate
	Block int    `json:"block"` // numbered from 1; hives of a block are alike in yard and strength
	Arm   string `json:"arm"`
}

// ArmBalance sums what an arm got.
type ArmBalance struct {
	Arm      string  `json:"arm"`
	Hives    int     `json:"hives"`
	Strength float64 `json:"strength"` // mean frames of bees of those counted; 0 when none is [-]
}

// Plan is a trial dealt out by lot. The same hives, arms and seed give the same
// plan, in whatever order the hives are listed.
type Plan struct {
	Arms        []string     `json:"arms"`
	Seed        uint64       `json:"seed"`
	Assignments []Assignment `json:"assignments"`
	Balance     []ArmBalance `json:"balance"`
	Cautions    []string     `json:"cautions"`
}

// Draw deals arms (one of them may be "as before") to hives by lot. Hives are
// put into blocks of as many hives as there are arms, within a yard and alike in
// strength, and each block gets every arm once; a last block that is not full
// gets different arms by lot.
//
// Errors: under two arms, an arm or a hive of a yard named twice or without a
// name, fewer hives than arms.
func Draw(hives []Candidate, arms []string, seed uint64) (Plan, error) {
	if len(arms) < 2 {
		return Plan{}, errors.New("evidence: a trial needs at least two arms, one of them may be to leave the hive as it is")
	}
	for i, a := range arms {
		if strings.TrimSpace(a) == "" || slices.Contains(arms[:i], a) {
			return Plan{}, fmt.Errorf("evidence: arm %q is empty or named twice", a)
		}
	}
	if len(hives) < len(arms) {
		return Plan{}, fmt.Errorf("evidence: %d hives cannot be dealt %d arms", len(hives), len(arms))
	}
	order := slices.Clone(hives)
	slices.SortFunc(order, func(a, b Candidate) int {
		if c := strings.Compare(a.Yard, b.Yard); c != 0 {
			return c
		}
		if a.FramesOfBees != b.FramesOfBees {
			if a.FramesOfBees > b.FramesOfBees {
				return -1
			}
			return 1
		}
		return strings.Compare(a.Hive, b.Hive)
	})
	named := map[string]bool{}
	for _, h := range order {
		key := h.Yard + "\x00" + h.Hive
		if h.Hive == "" || named[key] {
			return Plan{}, fmt.Errorf("evidence: hive %q of yard %q has no name or is listed twice", h.Hive, h.Yard)
		}
		if !(h.FramesOfBees >= 0) || math.IsInf(h.FramesOfBees, 0) {
			return Plan{}, fmt.Errorf("evidence: hive %q of yard %q has %g frames of bees", h.Hive, h.Yard, h.FramesOfBees)
		}
		named[key] = true
	}
	p := Plan{Arms: slices.Clone(arms), Seed: seed, Cautions: []string{}}
	lot := newLot(seed)
	block, uncounted := 0, 0
	for i := 0; i < len(order); {
		yard := i
		for i < len(order) && order[i].Yard == order[yard].Yard {
			end := i
			for end < len(order) && end < i+len(arms) && order[end].Yard == order[yard].Yard {
				end++
			}
			block++
			deck := slices.Clone(arms)
			lot.shuffle(len(deck), func(a, b int) { deck[a], deck[b] = deck[b], deck[a] })
			for k, h := range order[i:end] {
				p.Assignments = append(p.Assignments, Assignment{h, block, deck[k]})
				if h.FramesOfBees == 0 {
					uncounted++
				}
			}
			i = end
		}
		if i-yard < len(arms) {
			p.Cautions = append(p.Cautions, fmt.Sprintf("yard %q has fewer hives than there are arms", order[yard].Yard))
		}
	}
	if uncounted > 0 {
		p.Cautions = append(p.Cautions, fmt.Sprintf("the bees of %s were not counted: blocks are alike in yard only there", plural(uncounted, "hive")))
	}
	for _, arm := range arms {
		b := ArmBalance{Arm: arm}
		sum, counted := 0.0, 0
		for _, a := range p.Assignments {
			if a.Arm != arm {
				continue
			}
			b.Hives++
			if a.FramesOfBees > 0 {
				sum += a.FramesOfBees
				counted++
			}
		}
		if counted > 0 {
			b.Strength = sum / float64(counted)
		}
		p.Balance = append(p.Balance, b)
	}
	return p, nil
}

// String prints the plan as a table to hang in the shed.
func (p Plan) String() string {
	width := [3]int{len("yard"), len("hive"), len("frames of bees")}
	frames := func(x float64) string {
		if x == 0 {
			return "-"
		}
		return fmt.Sprintf("%.1f", x)
	}
	runes := func(s string) int { return len([]rune(s)) }
	for _, a := range p.Assignments {
		width[0], width[1] = max(width[0], runes(a.Yard)), max(width[1], runes(a.Hive))
	}
	pad := func(s string, n int) string { return s + strings.Repeat(" ", max(0, n-runes(s))) }
	var b strings.Builder
	fmt.Fprintf(&b, "Dealt by lot, seed %d.\n\n", p.Seed)
	fmt.Fprintf(&b, "block  %s  %s  frames of bees  treatment\n", pad("yard", width[0]), pad("hive", width[1]))
	for _, a := range p.Assignments {
		fmt.Fprintf(&b, "%5d  %s  %s  %14s  %s\n", a.Block, pad(a.Yard, width[0]), pad(a.Hive, width[1]), frames(a.FramesOfBees), a.Arm)
	}
	b.WriteString("\n")
	for _, a := range p.Balance {
		fmt.Fprintf(&b, "%s: %s, %s frames of bees on average\n", a.Arm, plural(a.Hives, "hive"), frames(a.Strength))
	}
	for _, c := range p.Cautions {
		fmt.Fprintf(&b, "Note: %s.\n", c)
	}
	return b.String()
}

// Trial is what a trial of two arms supposes.
type Trial struct {
	Outcome Outcome
	Without float64 // share [-] or mean amount in the outcome's unit, as things are
	With    float64 // the same with the treatment, if it does what is hoped
	Scatter float64 // standard deviation of an amount within yard and year, in its unit; unused for counts
	Alpha   float64 // two-sided significance [-]; 0 means 0.05
	// ICC is the likeness of seasons of one colony [-]; it counts only while
	// colonies keep their treatment.
	ICC float64
	// Redrawn tells that treatments are dealt anew each year.
	Redrawn bool
	// Exposed is the share of seasons with the outcome's exposure [-]; 0 means 1.
	Exposed float64
}

func (t Trial) check() error {
	share := func(x float64) bool { return x >= 0 && x <= 1 }
	switch {
	case t.Outcome.answer == nil && t.Outcome.amount == nil:
		return fmt.Errorf("evidence: outcome %q is not one of Outcomes", t.Outcome.Key)
	case t.Outcome.counted() && !(share(t.Without) && share(t.With)):
		return fmt.Errorf("evidence: shares of %g and %g are not between 0 and 1", t.Without, t.With)
	case !t.Outcome.counted() && !(t.Scatter > 0):
		return fmt.Errorf("evidence: the scatter of %s is %g, it must be positive", t.Outcome.Key, t.Scatter)
	case !(t.With != t.Without): // NaN too
		return errors.New("evidence: with and without are supposed to be alike, so there is nothing to find")
	case !(t.Alpha >= 0 && t.Alpha < 1):
		return fmt.Errorf("evidence: significance %g is not between 0 and 1", t.Alpha)
	case !share(t.ICC) || !share(t.Exposed):
		return fmt.Errorf("evidence: intraclass correlation %g and share exposed %g must be between 0 and 1", t.ICC, t.Exposed)
	}
	return nil
}

// power is that of n effective, exposed hive-seasons in each arm.
func (t Trial) power(n float64) float64 {
	alpha := t.Alpha
	if alpha == 0 {
		alpha = 0.05
	}
	const enumerate = 100 // beyond it the normal approximation is good to a point or so
	switch {
	case n < 2:
		return 0
	case !t.Outcome.counted():
		return TTestPower(n, t.With-t.Without, t.Scatter, alpha)
	case n <= enumerate:
		return FisherPower(int(n), int(n), t.With, t.Without, alpha)
	default:
		return ProportionPower(n, t.With, t.Without, alpha)
	}
}

// effective returns the exposed hive-seasons of an arm of hives kept for years,
// reduced by the design effect.
func (t Trial) effective(hives float64, years int) float64 {
	exposed := t.Exposed
	if exposed == 0 {
		exposed = 1
	}
	n := hives * float64(years) * exposed
	if t.Redrawn {
		return n
	}
	return n / DesignEffect(math.Max(1, float64(years)*exposed), t.ICC)
}

// PowerPoint is the chance of finding the supposed effect with so many hives.
type PowerPoint struct {
	Hives int     `json:"hives"` // in both arms together
	Years int     `json:"years"`
	Power float64 `json:"power"` // [-]
}

// PowerCurve returns the chance of finding the supposed effect for each number
// of hives (both arms together) and each of years. Counts: Fisher's exact test
// enumerated up to 100 effective hive-seasons an arm, then the normal
// approximation; amounts: the t test by the noncentral t. Blocks make a trial
// somewhat better than this.
func (t Trial) PowerCurve(hives []int, years int) ([]PowerPoint, error) {
	if err := t.check(); err != nil {
		return nil, err
	}
	if years < 1 {
		return nil, fmt.Errorf("evidence: a trial of %d years", years)
	}
	var curve []PowerPoint
	for _, h := range hives {
		for y := 1; y <= years; y++ {
			curve = append(curve, PowerPoint{h, y, t.power(t.effective(float64(h)/2, y))})
		}
	}
	return curve, nil
}

// HivesFor returns the least even number of hives, both arms together, that finds
// the supposed effect with the power asked for within years; an error when
// 20,000 would not do.
func (t Trial) HivesFor(power float64, years int) (int, error) {
	if err := t.check(); err != nil {
		return 0, err
	}
	if !(power > 0 && power < 1) || years < 1 {
		return 0, fmt.Errorf("evidence: power %g in %d years cannot be asked for", power, years)
	}
	const most = 20_000
	enough := func(h int) bool { return t.power(t.effective(float64(h)/2, years)) >= power }
	hi := 4
	for !enough(hi) {
		if hi *= 2; hi > most {
			return 0, fmt.Errorf("evidence: even %d hives would not find so small a difference", most)
		}
	}
	// The exact power has small teeth, so the last step is a plain search.
	lo := max(4, hi/2)
	for h := lo; h < hi; h += 2 {
		if enough(h) {
			return h, nil
		}
	}
	return hi, nil
}

// ToRecord lists what a trial of an outcome must write down for each hive.
func ToRecord(o Outcome) []string {
	list := []string{
		"hive, yard, colony, and whatever moves, merges or swarms",
		"what the lot gave, what the hive really got, and from when to when",
		"frames of bees at the start, before the lot is drawn",
		"every other change to the hive, with its date",
	}
	if o.Exposure != "" {
		list = append(list, "for every hive, treated or not, whether the season had a "+o.Exposure)
	}
	switch o.Key {
	case "survived":
		list = append(list, "on one date in spring, for every hive: alive or dead; also for hives that were sold, merged or lost from sight, and why")
	case "comb fell":
		list = append(list, "after every hot spell, for every hive: comb fallen or none, fresh or old comb, heavy or light, hour and temperature")
	case "stores used":
		list = append(list, "weight in autumn after the last feeding and in spring before the first forage, same scale, same parts on the hive; all feed in between")
	case "bearding":
		list = append(list, "on the same days for every hive, at the same hour: bees hanging outside or none, with the temperature")
	case "dripping water":
		list = append(list, "on the same days for every hive: water seen dripping from above or none; looked and saw nothing is a record too")
	case "mould":
		list = append(list, "at the first inspection in spring, for every hive: mould on comb or walls or none")
	}
	return append(list, "the outcome by someone who does not know the treatment, where that can be done")
}
