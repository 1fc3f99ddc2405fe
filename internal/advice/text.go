package advice

import (
	"bytes"
	"fmt"
	"strings"
	"text/tabwriter"

	"hackle/change"
	"hackle/ledger"
	"hackle/price"
	"hackle/quantity"
	"hackle/rank"
)

// para writes a paragraph broken to the width of a page.
func para(b *bytes.Buffer, indent, format string, args ...any) {
	b.WriteString(ledger.Wrap(fmt.Sprintf(format, args...), indent, ledger.Width))
}

// WriteRanking writes the answer of one hive for people.
func WriteRanking(b *bytes.Buffer, a *rank.Answer, prices *price.Table, units quantity.System) {
	if a.Recommended == "" {
		para(b, "", "%s: leave it as it is.", a.Name)
	} else {
		title := a.Recommended
		for _, v := range a.Variants {
			if v.Name == a.Recommended {
				title = v.Title
			}
		}
		para(b, "", "%s: %s.", a.Name, title)
	}
	for _, why := range a.Why {
		para(b, "  ", "%s", why)
	}
	base := a.AsItIs
	kg := func(x float64) string { return quantity.Format(x, quantity.Mass, units) }
	b.WriteString("\n")
	para(b, "", "As it is: %s of honey left on the mean (%s to %s in eight draws of ten), %.0f %% of the draws starve, %.0f hours with water above the cluster, comb falls in %.0f %%.",
		kg(base.Left.Mean), kg(base.Left.Low), kg(base.Left.High), 100*base.Starve, base.Overhead.Mean, 100*base.Falls)

	b.WriteString("\nThe efficient set: none of these is beaten in cost, honey, starvation, water\noverhead, falling comb and water hauled at once.\n")
	table(b, a, units, func(v rank.Variant) bool { return v.Efficient })
	rest := false
	for _, v := range a.Variants {
		rest = rest || !v.Efficient
	}
	if rest {
		b.WriteString("\nRun in full and beaten by one of them:\n")
		table(b, a, units, func(v rank.Variant) bool { return !v.Efficient })
	}
	var harms []string
	for _, v := range a.Variants {
		if len(v.Harm) > 0 {
			harms = append(harms, fmt.Sprintf("%s: %s.", v.Name, strings.Join(v.Harm, "; ")))
		}
	}
	if len(harms) > 0 {
		b.WriteString("\nThese do harm:\n")
		for _, h := range harms {
			para(b, "  ", "%s", h)
		}
	}
	for _, v := range a.Variants {
		if v.Name == a.Recommended {
			b.WriteString("\n")
			WriteResult(b, v.Result(), prices, 1, units)
		}
	}
	b.WriteString("\n")
	para(b, "", "%d of %d possible variants were screened in %d short runs, %d run in full in %d runs of %d draws; %d changes do not apply or cost too much (--json names them).",
		a.Runs.Screened, a.Runs.Possible, a.Runs.Coarse, a.Runs.InFull, a.Runs.Full, base.Draws, len(a.Dropped))
	if base.Failed > 0 {
		para(b, "", "%d draws were left out, for which the engine found no way.", base.Failed)
	}
	para(b, "", "%s", a.Unsure)
	if a.Invented {
		para(b, "", "The prices are invented. hackle change prices writes them to a file for you to put your own in; give it with --prices.")
	}
}

// table writes figures of variants by number, and below what the numbers stand for
// in the form that commands take.
func table(b *bytes.Buffer, a *rank.Answer, units quantity.System, which func(rank.Variant) bool) {
	var shown []rank.Variant
	if which(a.AsItIs) {
		shown = append(shown, a.AsItIs)
	}
	for _, v := range a.Variants {
		if which(v) {
			shown = append(shown, v)
		}
	}
	t := tabwriter.NewWriter(b, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintf(t, "\tcost, %s\thoney saved\tstarve\toverhead\tcomb falls\twater\tpays in\t\n", a.Currency)
	for i, v := range shown {
		saved, pays := "-", "-"
		if len(v.Changes) > 0 {
			saved = sign(v.Saved.Mean) + quantity.Format(abs(v.Saved.Mean), quantity.Mass, units)
			pays = "never"
			if v.PayBack != nil {
				pays = years(*v.PayBack)
			}
		}
		fmt.Fprintf(t, "%d\t%.0f\t%s\t%.0f %%\t%.0f h\t%.0f %%\t%s\t%s\t\n", i+1, v.First, saved, 100*v.Starve, v.Overhead.Mean, 100*v.Falls,
			quantity.Format(v.Hauled.Mean*1e-3, quantity.Volume, units), pays)
	}
	t.Flush() // into memory, which does not fail
	for i, v := range shown {
		mark := ""
		if v.Name == a.Recommended {
			mark = " (recommended)"
		}
		para(b, "  ", "%d: %s%s", i+1, v.Name, mark)
	}
}

func years(y float64) string {
	if y < 10 {
		return fmt.Sprintf("%.1f a", y)
	}
	return fmt.Sprintf("%.0f a", y)
}

func abs(x float64) float64 { return max(x, -x) }

func sign(x float64) string {
	switch {
	case x < 0:
		return "−"
	case x > 0:
		return "+"
	}
	return ""
}

// WriteResult writes what a set of changes takes: what is done, material, cost,
// work, cautions.
func WriteResult(b *bytes.Buffer, r change.Result, prices *price.Table, hives int, units quantity.System) {
	for _, s := range r.Steps {
		para(b, "", "%s", s.Effect.Did)
	}
	c := r.Cost(prices, hives)
	bill := func(title string, x price.Bill) {
		if len(x.Lines)+len(x.Missing) == 0 {
			return
		}
		fmt.Fprintf(b, "\n%s\n", title)
		t := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
		for _, l := range x.Lines {
			pieces := ""
			if l.Pieces > 0 {
				pieces = fmt.Sprintf("%d × ", l.Pieces)
			}
			fmt.Fprintf(t, "  %s\t%s%s\t%s\n", l.Need.Text(units), pieces, l.Stock, prices.Money(l.Bought))
		}
		t.Flush() // into memory, which does not fail
		for _, err := range x.Missing {
			para(b, "  ", "%v", err)
		}
	}
	forAll := ""
	if hives > 1 {
		forAll = fmt.Sprintf(" for %d hives", hives)
	}
	bill("To buy"+forAll+":", c.Once)
	bill("To buy every year"+forAll+":", c.Yearly)
	b.WriteString("\n")
	para(b, "", "It costs %s at first: %s of material bought whole (%s of it used up), %.1f h of work%s.", prices.Money(c.First()), prices.Money(c.Once.Bought), prices.Money(c.Once.Used), c.Hours, way(c, prices))
	if c.EachYear() > 0 {
		para(b, "", "And %s every year, with %.1f h of work.", prices.Money(c.EachYear()), c.YearlyHours)
	}
	if list := r.Cautions(); len(list) > 0 {
		b.WriteString("\nMind (local rules and licensed practice come first; docs/cautions.md):\n")
		for _, s := range list {
			para(b, "  ", "%s", s)
		}
	}
	for _, n := range r.Notes {
		para(b, "", "Note: %s", n)
	}
}

func way(c change.Cost, prices *price.Table) string {
	if c.Drive == 0 {
		return ""
	}
	return ", " + prices.Money(c.Drive) + " for the way"
}

// WriteYard writes what to do with many hives.
func WriteYard(b *bytes.Buffer, y *rank.Yard, prices *price.Table) {
	made := 0
	for _, c := range y.Plan {
		if c.Make != "" {
			made++
		}
	}
	limit := ""
	if y.Budget > 0 {
		limit = fmt.Sprintf(" of %s", prices.Money(y.Budget))
	}
	para(b, "", "Of %d hives %d are worth changing, for %s%s at first; over the years that leaves %s.", len(y.Plan), made, prices.Money(y.Cost), limit, prices.Money(y.Net))
	if made > 0 {
		fmt.Fprintf(b, "\nCosts, and what is left over the years, in %s:\n", y.Currency)
		t := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
		fmt.Fprintf(t, "hive\tcost\tleaves\tchange\n")
		for _, c := range y.Plan {
			if c.Make != "" {
				fmt.Fprintf(t, "%s\t%.0f\t%.0f\t%s\n", c.Hive, c.First, c.Net, c.Make)
			}
		}
		t.Flush() // into memory, which does not fail
	}
	if rest := len(y.Plan) - made; rest > 0 {
		para(b, "", "Leave the other %d as they are.", rest)
	}
	if prices.Invented {
		para(b, "", "The prices are invented; put your own in with --prices.")
	}
}
