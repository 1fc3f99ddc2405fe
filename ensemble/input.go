package ensemble

import (
	"fmt"
	"math"
	"slices"
	"time"

	"hackle/climate"
	"hackle/colony"
	"hackle/comb"
	"hackle/hive"
	"hackle/season"
)

// Shape of the distribution of an input between its ends.
type Shape string

// Shapes.
const (
	// Triangular rises straight from Low to Usual and falls straight to High: no
	// more is claimed than a range and a most likely value.
	Triangular Shape = "triangular"
	// LogTriangular is the same in the logarithm, for factors.
	LogTriangular Shape = "triangular in the logarithm"
	// Uniform is as likely anywhere between the ends.
	Uniform Shape = "uniform"
	// Steps takes whole numbers: Low and High with a fifth each, Usual else.
	Steps Shape = "one step either way"
)

// Input is one thing that is not known exactly, with the range it is drawn from.
type Input struct {
	Name    string
	Unit    string // "-" for factors and shares
	Meaning string
	Low     float64
	Usual   float64
	High    float64
	Shape   Shape
	Source  string
	Measure Measure // what a keeper could do to know it better

	apply func(*Case, float64)
}

// Value of the input where its distribution has reached u, 0 < u < 1.
func (in Input) Value(u float64) float64 {
	switch in.Shape {
	case Uniform:
		return in.Low + u*(in.High-in.Low)
	case Steps:
		switch {
		case u < 0.2:
			return in.Low
		case u >= 0.8:
			return in.High
		}
		return in.Usual
	case LogTriangular:
		return math.Exp(triangular(u, math.Log(in.Low), math.Log(in.Usual), math.Log(in.High)))
	}
	return triangular(u, in.Low, in.Usual, in.High)
}

// triangular inverts the distribution function of the triangular distribution.
func triangular(u, low, mode, high float64) float64 {
	if !(high > low) {
		return mode
	}
	if rise := (mode - low) / (high - low); u < rise {
		return low + math.Sqrt(u*(high-low)*(mode-low))
	}
	return high - math.Sqrt((1-u)*(high-low)*(high-mode))
}

// Case is one possible world: a hive, its bees and its weather as they may be, and
// what the engine does not take.
type Case struct {
	season.Input
	// Wax is where the strength of the comb's wax lies in the range of package comb:
	// 0 the strong end, 0.5 the middle, 1 the weak end. [-]
	Wax   float64
	Creep comb.Creep // how that wax stretches with time
}

// Keeper says how well the keeper knows what was written into the hive file. Zero
// values take the defaults.
type Keeper struct {
	HoneyWithin float64 // half the range of the honey as a share of it; 0: 0.2, as judged by lifting [-]
	BeesWithin  float64 // the same of the bees; 0: 0.25, as counted in frames [-]
}

// Defaults of Keeper.
const (
	honeyWithin = 0.20
	beesWithin  = 0.25
)

// Check refuses what is no share.
func (k Keeper) Check() error {
	for _, v := range []struct {
		what string
		v    float64
	}{{"honey", k.HoneyWithin}, {"bees", k.BeesWithin}} {
		if !(v.v >= 0 && v.v <= 0.9) {
			return fmt.Errorf("ensemble: %s known within %g of it, accepted: 0.001 to 0.9", v.what, v.v)
		}
	}
	return nil
}

const judged = "common practice, no source"

// Inputs lists everything that is drawn for a hive: every ranged number of the bees
// and the uncertain numbers of hive, site and keeper. What was measured at this
// hive has a narrower range.
//
// All of them but those of the bees are factors or steps from what a plan says, so
// that one draw means the same for every variant of a hive.
func Inputs(plan hive.Plan, k Keeper) []Input {
	if k.HoneyWithin == 0 {
		k.HoneyWithin = honeyWithin
	}
	if k.BeesWithin == 0 {
		k.BeesWithin = beesWithin
	}
	shellSource, leakSource := "softwood of 350 to 550 kg/m³ at 8 to 20 % moisture: Wood Handbook, FPL-GTR-190, chapter 4 (from memory)", "estimate: gaps of boxes vary with warp and propolis"
	wood := [2]float64{0.8, 1.25}
	soft := [2]float64{0.95, 1.3}
	leak := [2]float64{0.3, 3}
	if plan.Measured.Shell != 0 {
		wood, soft, shellSource = [2]float64{0.9, 1.11}, [2]float64{0.95, 1.1}, "measured at this hive; what is left, estimate"
	}
	if plan.Measured.Leak != 0 {
		leak, leakSource = [2]float64{0.7, 1.43}, "measured at this hive; what is left, estimate"
	}
	list := []Input{
		{"honey", "-", "honey at the start over what the file says", 1 - k.HoneyWithin, 1, 1 + k.HoneyWithin, Triangular, judged, WeighHive,
			func(c *Case, v float64) { c.Plan.Colony.Honey *= v }},
		{"bees", "-", "bees at the start over what the file says", 1 - k.BeesWithin, 1, 1 + k.BeesWithin, Triangular, "frames of bees judged by eye: " + judged, CountBees,
			func(c *Case, v float64) { c.Plan.Colony.Bees *= v }},
		{"brood_start", "d", "first eggs of the new year, later than said or usual", -14, 0, 14, Triangular, judged, SeeBrood, shiftBrood},
		{"brood_peak", "-", "brood at the height of the season over what is said or usual", 0.7, 1, 1.3, Triangular, judged, SeeBrood,
			func(c *Case, v float64) {
				if c.Plan.Colony.BroodPeak == 0 {
					c.Plan.Colony.BroodPeak = usualPeak()
				}
				c.Plan.Colony.BroodPeak *= v
			}},
		{"nectar", "-", "nectar of every flow over what the file says", 0.4, 1, 1.5, Triangular, judged, WeighFlow,
			func(c *Case, v float64) {
				for i := range c.Plan.Colony.Flows {
					c.Plan.Colony.Flows[i].Nectar *= v
				}
			}},
		{"wood_conductivity", "-", "conductivity of boards and panels over the table's", wood[0], 1, wood[1], LogTriangular, shellSource, TestShell,
			func(c *Case, v float64) { c.layers(func(l *hive.Layer) { conduct(l, v, false) }) }},
		{"insulation_conductivity", "-", "conductivity of insulation over the table's", soft[0], 1, soft[1], LogTriangular, "estimate: damp, settling and gaps", MeasureLid,
			func(c *Case, v float64) { c.layers(func(l *hive.Layer) { conduct(l, v, true) }) }},
		{"leakage", "-", "leakage of joints over what the file says", leak[0], 1, leak[1], LogTriangular, leakSource, TestShell,
			func(c *Case, v float64) { c.Plan.Hive.LeakArea *= v }},
		{"discharge", "-", "discharge coefficient of openings over the file's or the usual 0.62", 0.9, 1, 1.2, Triangular, "0.60 to 0.65 for sharp edges, up to 0.75 for worn ones: textbooks (from memory)", MeasureOpenings,
			func(c *Case, v float64) {
				for i := range c.Plan.Hive.Openings {
					o := &c.Plan.Hive.Openings[i]
					if o.Discharge == 0 {
						o.Discharge = usualDischarge
					}
					o.Discharge = math.Min(1, o.Discharge*v)
				}
			}},
		{"absorptance", "-", "solar absorptance of outer faces, above the table's", -0.1, 0, 0.1, Triangular, "estimate: dirt and weathering", SunRoof, absorb},
		{"exposure", "-", "exposure to wind, steps more sheltered than the file says", -1, 0, 1, Steps, judged, FeelWind, expose},
		{"shade", "-", "share of the sun kept off, above what the file says", -0.15, 0, 0.15, Triangular, judged, WatchShade,
			func(c *Case, v float64) { c.Plan.Site.Shade = math.Max(0, math.Min(1, c.Plan.Site.Shade+v)) }},
		{"wax_strength", "-", "place in the range of wax strength, 0 strong, 1 weak", 0, 0.5, 1, Triangular, "package comb, see docs/comb.md", LoadComb,
			func(c *Case, v float64) { c.Wax = v }},
		{"wax_creep_exponent", "-", "exponent of creep with load", 2, 3, 4, Triangular, "package comb, see docs/comb.md", LoadComb,
			func(c *Case, v float64) { c.Creep.StressExponent = v }},
		{"wax_test_time", "s", "time after which a fully loaded comb tears", 60, 600, 3600, LogTriangular, "package comb, see docs/comb.md", LoadComb,
			func(c *Case, v float64) { c.Creep.TestTime = v }},
	}
	for _, p := range colony.Parameters() {
		low, high := p.Low, p.High
		if plan.Measured.Bees != 0 && bodyHeat[p.Name] {
			// The measured factor holds for these together: what is left is a third of it.
			low, high = p.Default+(low-p.Default)/3, p.Default+(high-p.Default)/3
		}
		list = append(list, Input{p.Name, p.Unit, p.Meaning, low, p.Default, high, Triangular, p.Source, measureOf(p.Name),
			func(c *Case, v float64) { scaleTo(p.Value(&c.Biology), p.Default, v) }})
	}
	return list
}

// bodyHeat are the numbers that a measured factor of the bees' heat multiplies.
var bodyHeat = map[string]bool{"cluster_conductance": true, "mantle_film": true, "resting_power": true, "brood_heat": true}

// scaleTo sets a number of the bees. Where it is not the default but a multiple of
// it, as a measured factor makes it, the multiple stays.
func scaleTo(at *float64, usual, v float64) {
	if *at == usual || usual == 0 {
		*at = v
		return
	}
	*at *= v / usual
}

// usualDischarge is the discharge coefficient that the engine takes where none is
// said. [-]
const usualDischarge = 0.62

// usualPeak is the brood at the height of the season where none is said. [-]
func usualPeak() float64 {
	return colony.CourseFor(hive.Colony{}, time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC), 45, 0).Cells
}

func shiftBrood(c *Case, days float64) {
	at := &c.Plan.Colony
	if c.Weather == nil || len(c.Weather.Hours) == 0 {
		return
	}
	if at.BroodStart.IsZero() {
		latitude := c.Weather.Latitude
		if c.Plan.Site.HasPlace {
			latitude = c.Plan.Site.Latitude
		}
		start := colony.CourseFor(*at, c.Weather.Start, latitude, coldestMonth(c.Weather)).Start
		at.BroodStart = hive.Day{Month: start.Month(), Day: start.Day()}
	}
	year := at.BroodStart.Year
	when := time.Date(2025, at.BroodStart.Month, at.BroodStart.Day, 0, 0, 0, 0, time.UTC).AddDate(0, 0, int(math.Round(days)))
	at.BroodStart = hive.Day{Year: year, Month: when.Month(), Day: when.Day()}
}

// coldestMonth is the mean of the coldest month with two weeks or more. [°C]
func coldestMonth(w *climate.Series) float64 {
	var sum, n [13]float64
	for i := range w.Hours {
		m := w.Start.Add(time.Duration(i) * time.Hour).Month()
		sum[m] += w.Hours[i].TempAir
		n[m]++
	}
	cold := math.Inf(1)
	for m := range sum {
		if n[m] >= 24*14 {
			cold = math.Min(cold, sum[m]/n[m])
		}
	}
	if math.IsInf(cold, 1) {
		return 0
	}
	return cold
}

// layers visits every layer of the shell.
func (c *Case) layers(visit func(*hive.Layer)) {
	h := &c.Plan.Hive
	each := func(list []hive.Layer) {
		for i := range list {
			visit(&list[i])
		}
	}
	for i := range h.Bodies {
		for side := range h.Bodies[i].Walls {
			each(h.Bodies[i].Walls[side])
		}
	}
	each(h.Floor.Layers)
	each(h.Lid.Layers)
	if h.TopBoard != nil {
		each(h.TopBoard.Layers)
	}
	for i := range h.Followers {
		each(h.Followers[i].Layers)
	}
	for i := range h.Wraps {
		each(h.Wraps[i].Layers)
	}
}

// insulating is the conductivity below which a layer counts as insulation: timber of
// hives lies above it, straw, cork and wool below. [W/(m·K)]
const insulating = 0.075

// conductStep is the step of factors of conductivity in the logarithm: draws that
// agree within it share the solved corners and edges of their shells, so that the
// memory of these stays bounded. [-]
const conductStep = 0.025

// conduct multiplies the conductivity of a layer that is insulation, or is not.
func conduct(l *hive.Layer, by float64, insulation bool) {
	soft := l.Resistance > 0 || l.Material.Conductivity < insulating
	if soft != insulation {
		return
	}
	by = math.Exp(math.Round(math.Log(by)/conductStep) * conductStep)
	if l.Resistance > 0 {
		l.Resistance /= by
		return
	}
	l.Material.Conductivity *= by
}

func absorb(c *Case, more float64) {
	set := func(f *hive.Finish) { f.SolarAbsorptance = math.Max(0.03, math.Min(0.98, f.SolarAbsorptance+more)) }
	h := &c.Plan.Hive
	set(&h.Finish)
	if h.Lid.Finish != nil {
		f := *h.Lid.Finish
		set(&f)
		h.Lid.Finish = &f
	}
	for i := range h.Wraps {
		if h.Wraps[i].Finish != nil {
			f := *h.Wraps[i].Finish
			set(&f)
			h.Wraps[i].Finish = &f
		}
	}
}

// expose moves the site along the exposures.
func expose(c *Case, steps float64) {
	order := []hive.Exposure{hive.Open, hive.Hedged, hive.WoodEdge, hive.Sheltered}
	i := slices.Index(order, c.Plan.Site.Exposure)
	if i < 0 {
		return
	}
	c.Plan.Site.Exposure = order[max(0, min(len(order)-1, i+int(math.Round(steps))))]
}

// mend keeps the numbers of the bees in an order that bees could live by: none of
// them cools a nest that it heats at the same time.
func mend(b *colony.Biology) {
	b.FanWarm = math.Max(b.FanWarm, b.CoreBroodless)
	b.FanBrood = math.Max(b.FanBrood, b.CoreBrood)
	b.SprayAbove = math.Max(b.SprayAbove, b.CoreBrood)
	b.HangOut = math.Max(b.HangOut, b.CoreBrood)
	b.DensityLoose = math.Min(b.DensityLoose, b.DensityTight)
	b.ContractedAt = math.Min(b.ContractedAt, b.LooseKnee)
}
