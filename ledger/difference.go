package ledger

import (
	"fmt"
	"math"
	"strings"

	"hackle/comb"
	"hackle/quantity"
)

// Row is one line of two ledgers side by side.
type Row struct {
	Key        string  `json:"key"`
	Name       string  `json:"name"`
	Unit       string  `json:"unit"`
	A          float64 `json:"a"`
	B          float64 `json:"b"`
	Difference float64 `json:"difference"` // b less a
}

// Comparison lays two ledgers side by side.
type Comparison struct {
	A    string `json:"a"` // name of the first hive
	B    string `json:"b"`
	Rows []Row  `json:"rows"`
	// Honey and Overhead say in one sentence each where the main difference in
	// honey and in overhead water lies, from the rows alone.
	Honey    string `json:"honey"`
	Overhead string `json:"overhead_water"`
	// Summer says what the change does to warmest comb, bees outside and water
	// hauled; empty when neither run has a summer.
	Summer string `json:"summer,omitempty"`
}

// Difference compares b with a line by line. Lines that one of them lacks, such
// as the coldest week of a short run, are left out.
func Difference(a, b Ledger) Comparison { return difference(a, b, quantity.Metric) }

// DifferenceIn is Difference with its sentences in a system of units.
func DifferenceIn(a, b Ledger, system quantity.System) Comparison { return difference(a, b, system) }

func difference(a, b Ledger, system quantity.System) Comparison {
	c := Comparison{A: a.Hive, B: b.Hive, Rows: []Row{}}
	for _, n := range Lines() {
		if n.Section == Balance {
			continue
		}
		if !n.Shown(&a) && !n.Shown(&b) {
			continue
		}
		x, okA := n.Value(&a)
		y, okB := n.Value(&b)
		if okA && okB {
			c.Rows = append(c.Rows, Row{Key: n.Key, Name: n.name(), Unit: n.Unit, A: x, B: y, Difference: y - x})
		}
	}
	s := voice{system}
	c.Honey, c.Overhead, c.Summer = explainHoney(&a, &b, s), explainOverhead(&a, &b, s), explainSummer(&a, &b, s)
	if winter := explainWinter(&a, &b, s); winter != "" {
		c.Honey = winter + " " + c.Honey
	}
	return c
}

// name tells the line apart outside its section.
func (n Line) name() string {
	label := strings.TrimLeft(n.Label, " ")
	switch {
	case n.Name != "":
		return n.Name
	case n.Section == "":
		return "honey for heat lost: " + label
	}
	return strings.ToLower(string(n.Section)) + ": " + label
}

// lessMore words a difference: "1.2 kg less".
func lessMore(d float64, size string) string {
	if d < 0 {
		return size + " less"
	}
	return size + " more"
}

// explainWinter compares the winters of longer runs.
func explainWinter(a, b *Ledger, s voice) string {
	if a.Winter == nil || b.Winter == nil || a.Winter.From != b.Winter.From || a.Winter.To != b.Winter.To {
		return ""
	}
	for _, l := range []*Ledger{a, b} {
		if l.Died() && !l.outlivedWinter() {
			return ""
		}
	}
	x, y := a.Winter.Burned, b.Winter.Burned
	if d := y - x; math.Abs(d) >= same {
		return fmt.Sprintf("In winter, up to %s, %s burns %s than %s (%s against %s).", dateIn(a.Winter.To.Time), b.Hive, lessMore(d, s.kg(math.Abs(d))), a.Hive, s.kg(y), s.kg(x))
	}
	return fmt.Sprintf("In winter, up to %s, %s and %s burn the same honey to within %s: %s and %s.", dateIn(a.Winter.To.Time), b.Hive, a.Hive, s.kg(same), s.kg(y), s.kg(x))
}

// same is a difference of honey below what a hive scale shows. [kg]
const same = 0.05

// explainSummer says what the second hive changes in the heat.
func explainSummer(a, b *Ledger, s voice) string {
	if !a.Hot() && !b.Hot() {
		return ""
	}
	if a.Died() || b.Died() {
		return "Summers are not compared, as not both colonies live through it."
	}
	x, y := &a.Summer, &b.Summer
	var parts []string
	span := func(d float64) string { return s.difference(math.Abs(d)) }
	if d := y.CombMax - x.CombMax; !x.CombMaxAt.IsZero() && !y.CombMaxAt.IsZero() && math.Abs(d) >= 0.1 {
		word := "warmer"
		if d < 0 {
			word = "cooler"
		}
		parts = append(parts, fmt.Sprintf("its warmest comb is %s %s (%s against %s)", span(d), word, s.temp(y.CombMax), s.temp(x.CombMax)))
	}
	if d := y.Above36 - x.Above36; d != 0 {
		parts = append(parts, fmt.Sprintf("its brood nest is above %s for %s against %s", s.temp(36), hoursIn(y.Above36), hoursIn(x.Above36)))
	}
	if d := y.Outside - x.Outside; d != 0 {
		parts = append(parts, fmt.Sprintf("bees hang outside for %s against %s", hoursIn(y.Outside), hoursIn(x.Outside)))
	}
	if d := y.Hauled - x.Hauled; math.Abs(d) > WaterDayLeast {
		parts = append(parts, fmt.Sprintf("they haul %s of water against %s", s.litre(y.Hauled), s.litre(x.Hauled)))
	}
	if a.Comb != nil && b.Comb != nil && a.Comb.Class != b.Comb.Class {
		say := map[string]string{string(comb.Holds): "hold", string(comb.Near): "may give way", string(comb.Falls): "give way"}
		parts = append(parts, fmt.Sprintf("its combs %s, where those of %s %s", say[b.Comb.Class], a.Hive, say[a.Comb.Class]))
	}
	if len(parts) == 0 {
		return fmt.Sprintf("In summer %s and %s do the same.", b.Hive, a.Hive)
	}
	return fmt.Sprintf("In summer, %s beside %s: %s.", b.Hive, a.Hive, strings.Join(parts, "; "))
}

func explainHoney(a, b *Ledger, s voice) string {
	switch {
	case a.Starved() && b.Starved():
		return fmt.Sprintf("Both starve: %s on %s, %s on %s.", a.Hive, dateIn(a.Honey.StarvedAt), b.Hive, dateIn(b.Honey.StarvedAt))
	case a.Died() && !b.Died():
		return fmt.Sprintf("%s lives to the end and burns %s; %s is dead from %s on, so that its %s count only up to then.", b.Hive, s.kg(b.Honey.Burned), a.Hive, dateIn(a.Bees.DiedAt), s.kg(a.Honey.Burned))
	case b.Died() && !a.Died():
		return fmt.Sprintf("%s lives to the end and burns %s; %s is dead from %s on, so that its %s count only up to then.", a.Hive, s.kg(a.Honey.Burned), b.Hive, dateIn(b.Bees.DiedAt), s.kg(b.Honey.Burned))
	}
	over := ""
	if a.Winter != nil && b.Winter != nil {
		over = "Over the whole run "
	}
	d := b.Honey.Burned - a.Honey.Burned
	if math.Abs(d) < same {
		return over + fmt.Sprintf("%s and %s burn the same honey to within %s: %s and %s.", b.Hive, a.Hive, s.kg(same), s.kg(b.Honey.Burned), s.kg(a.Honey.Burned))
	}
	text := over + fmt.Sprintf("%s burns %s than %s (%s against %s)", b.Hive, lessMore(d, s.kg(math.Abs(d))), a.Hive, s.kg(b.Honey.Burned), s.kg(a.Honey.Burned))
	heat, other := b.Honey.ForHeat-a.Honey.ForHeat, b.Honey.ForOther-a.Honey.ForOther
	if math.Abs(other) > math.Abs(heat) {
		return text + fmt.Sprintf(": most of that is flight and rearing, %s.", lessMore(other, s.kg(math.Abs(other))))
	}
	heatMore := b.Heat.Bees - a.Heat.Bees
	text += fmt.Sprintf(": bees and brood give %s heat", lessMore(heatMore, kWhIn(heatMore)))
	all := b.LossHeat.Sum() - a.LossHeat.Sum()
	main, change := "", 0.0
	for _, w := range []struct {
		words string
		of    func(Losses) float64
	}{
		{"through the walls", Losses.Walls},
		{"through the lid", func(l Losses) float64 { return l.Lid }},
		{"through the floor", func(l Losses) float64 { return l.Floor }},
		{"through edges and corners", func(l Losses) float64 { return l.Edges }},
		{"with air out of the openings", func(l Losses) float64 { return l.Openings }},
		{"with air through the mesh", func(l Losses) float64 { return l.Mesh }},
		{"with air through cracks", func(l Losses) float64 { return l.Cracks }},
	} {
		if x := w.of(b.LossHeat) - w.of(a.LossHeat); math.Abs(x) > math.Abs(change) {
			main, change = w.words, x
		}
	}
	if main == "" {
		return text + "."
	}
	return text + fmt.Sprintf("; of the ways out of the hive, %s goes %s and %s by all others together.",
		lessMore(change, kWhIn(change)), main, lessMore(all-change, kWhIn(all-change)))
}

// kWhIn writes the size of a heat.
func kWhIn(v float64) string { return fixed(math.Abs(v), 1) + " kWh" }

func explainOverhead(a, b *Ledger, s voice) string {
	x, y := a.Water.OverheadHours, b.Water.OverheadHours
	if x == 0 && y == 0 {
		return fmt.Sprintf("Both %s and %s stay dry above the cluster.", b.Hive, a.Hive)
	}
	lid := fmt.Sprintf("%s settled overhead in all against %s", s.kg(b.Water.Condensed.Lid), s.kg(a.Water.Condensed.Lid))
	vent := fmt.Sprintf("the air carried out %s of water against %s", s.kg(b.Water.Vented), s.kg(a.Water.Vented))
	switch {
	case y == x:
		return fmt.Sprintf("Water hangs above the cluster equally long in both, for %s: %s, and %s.", hoursIn(x), lid, vent)
	case y == 0:
		return fmt.Sprintf("%s stays dry above the cluster, where %s has water for %s: %s, and %s.", b.Hive, a.Hive, hoursIn(x), lid, vent)
	case x == 0:
		return fmt.Sprintf("%s has water above the cluster for %s, where %s stays dry: %s, and %s.", b.Hive, hoursIn(y), a.Hive, lid, vent)
	}
	return fmt.Sprintf("Water hangs above the cluster for %s in %s and for %s in %s: %s, and %s.", hoursIn(y), b.Hive, hoursIn(x), a.Hive, lid, vent)
}
