package ensemble

import (
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"hackle/ledger"
	"hackle/quantity"
)

// Caution stands under every range: it covers what is drawn, not what the model gets
// wrong.
const Caution = "The range holds what is drawn, not what the model gets wrong: weighed hives have used from three tenths less to nine tenths more honey than computed. Feed by local practice, and weigh."

// Answer says the range in a few sentences, as one keeper would to another.
func (r *Range) Answer(system quantity.System) string {
	return strings.Join(r.Sentences(system), " ")
}

// Sentences are those of the answer, the first the one that matters most.
func (r *Range) Sentences(system quantity.System) []string {
	kg := func(v float64) string { return quantity.Format(v, quantity.Mass, system) }
	var all []string
	say := func(format string, args ...any) { all = append(all, fmt.Sprintf(format, args...)) }
	nine := r.Stores.Nine
	if math.IsInf(nine.Value, 0) || math.IsNaN(nine.Value) {
		say("How much honey nine winters in ten take cannot be told: too many colonies starve whatever they have.")
	} else {
		to := "the first forage of " + dayOf(r.Stores.Forage).String()
		if r.Stores.Cut {
			to = dayOf(r.Last).String()
		}
		say("To come to %s in nine winters of ten, %s must have %s of honey on %s.", to, r.Hive, kg(nine.Value), dayOf(r.First))
		file := fmt.Sprintf("The file says %s", kg(r.Stores.Now))
		if gap := nine.Value - r.Stores.Now; gap > 0.25 {
			file += fmt.Sprintf(", %s too little", kg(gap))
		}
		switch low, high := !math.IsInf(nine.Low, 0), !math.IsInf(nine.High, 0); {
		case low && high:
			file += fmt.Sprintf("; more draws would put the need between %s and %s", kg(nine.Low), kg(nine.High))
		case low:
			file += fmt.Sprintf("; more draws may put the need anywhere above %s", kg(nine.Low))
		}
		say("%s.", file)
	}
	say("The colony runs out of honey before the end of the run in %s.", hundred(r.Starve))
	if r.Overhead.Beyond.Value > 0 || r.Overhead.Water.P90.Value > r.Overhead.Limit/2 {
		say("More than %s of water stands above the cluster or drips on it in %s.", kg(r.Overhead.Limit), hundred(r.Overhead.Beyond))
	}
	if r.CombFalls.Value > 0 || r.CombShare.P90.Value > 0.5 {
		say("Comb falls in %s.", hundred(r.CombFalls))
	}
	return all
}

// hundred says a probability.
func hundred(e Estimate) string {
	return fmt.Sprintf("%.0f %% of the draws (%.0f to %.0f %%)", 100*e.Value, math.Floor(100*e.Low), math.Ceil(100*e.High))
}

// inUnits writes the temperatures of a label in the system of the text.
func inUnits(label string, system quantity.System) string {
	if system == quantity.Metric {
		return label
	}
	for _, limit := range []float64{36, 37, 38} {
		label = strings.ReplaceAll(label, quantity.Format(limit, quantity.Temperature, quantity.Metric), quantity.Format(limit, quantity.Temperature, system))
	}
	return label
}

// bounds says an interval.
func (r *Range) bounds(e Estimate, form func(float64) string) string {
	switch low, high := !math.IsInf(e.Low, 0), !math.IsInf(e.High, 0); {
	case low && high:
		return form(e.Low) + " to " + form(e.High)
	case low:
		return "at least " + form(e.Low)
	case high:
		return "at most " + form(e.High)
	}
	return ""
}

// WriteText writes the range for people.
func (r *Range) WriteText(w io.Writer, system quantity.System) error {
	var b strings.Builder
	wrap := func(text string) { b.WriteString(ledger.Wrap(text, "", ledger.Width)) }
	kg := func(v float64) string { return quantity.Format(v, quantity.Mass, system) }
	wrap(r.Answer(system))

	b.WriteString("\nHoney needed on the first day\n")
	row := func(label string, form func(float64) string, s Spread) {
		fmt.Fprintf(&b, "  %s%s%s%s\n", pad(label, 38), left(form(s.P10.Value), 13), left(form(s.P50.Value), 13), left(form(s.P90.Value), 13))
	}
	fmt.Fprintf(&b, "  %s%s%s%s\n", pad("", 38), left("1 in 10", 13), left("middle", 13), left("9 in 10", 13))
	before := "eaten before the first forage"
	if r.Stores.Cut {
		before = "eaten"
	}
	row(before, kg, r.Stores.Use)
	row("kept for the longest cold spell", kg, r.Stores.Reserve)
	row("needed", kg, r.Stores.Need)
	fmt.Fprintf(&b, "  %s%s\n", pad("as judged, not weighed, for 9 in 10", 64), left(kg(r.Stores.Judged.Value), 13))

	if r.Starve.Value > 0 {
		b.WriteString("\nOut of honey by the end of\n")
	}
	for i, d := range r.StarveBy {
		last := i == len(r.StarveBy)-1
		next := last || r.StarveBy[i+1].Odds.Value != d.Odds.Value
		if r.Starve.Value == 0 || !last && !next {
			continue // the odds stand still
		}
		fmt.Fprintf(&b, "  %s%s  %s\n", pad(dayOf(d.Date).String(), 10), left(fmt.Sprintf("%.0f in 100", 100*d.Odds.Value), 11), bar(d.Odds.Value))
	}

	section := ledger.Section("")
	for _, l := range r.Lines {
		if l.line.Section == ledger.Balance || l.Spread.P10.Value == 0 && l.Spread.P90.Value == 0 {
			continue
		}
		if section != l.line.Section {
			section = l.line.Section
			fmt.Fprintf(&b, "\n%s%s%s%s\n", pad(string(section), 40), left("1 in 10", 13), left("middle", 13), left("9 in 10", 13))
		}
		row(inUnits(l.line.Label, system), func(v float64) string { return l.line.Format(v, system) }, l.Spread)
	}
	if r.Matters != nil {
		b.WriteString("\n")
		r.Matters.text(&b, r, system)
	}
	b.WriteString("\nHow it settled\n")
	for _, c := range r.Convergence {
		fmt.Fprintf(&b, "  %s%s  %s%s\n", left(fmt.Sprintf("%d draws", c.Draws), 11), left(kg(c.Stores.Value), 12), pad("("+r.bounds(c.Stores, kg)+")", 26), hundred(c.Starve))
	}
	b.WriteString("\n")
	wrap(fmt.Sprintf("How we know: %d draws of %d asked for (%s) of weather years (%d), bees and what is known only roughly (%d inputs), seed %d. In brackets stands where %.0f of 100 such sets of draws would put the number; it tells of too few draws, not of faults of the model.",
		r.Draws, r.Asked, r.Stopped, r.Years, len(r.Inputs), r.Seed, 100*r.Level))
	wrap(Caution)
	for _, n := range r.Notes {
		wrap("Note: " + n + ".")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (m *Matters) text(b *strings.Builder, r *Range, system quantity.System) {
	meaning := map[string]string{weatherName: "which year's weather comes"}
	for _, in := range r.Inputs {
		meaning[in.Name] = in.Meaning
	}
	b.WriteString("What matters\n")
	if a := m.Advice(); a != "" {
		b.WriteString(ledger.Wrap(a, "  ", ledger.Width))
	}
	for k, v := range m.Measures {
		if k == 5 || v.Share < 0.01 {
			break
		}
		b.WriteString(ledger.Wrap(fmt.Sprintf("%.0f %% of what makes the stores uncertain: %s (%s).", 100*v.Share, v.Measure, strings.Join(v.Inputs, ", ")), "  ", ledger.Width))
	}
	for i, t := range m.Targets {
		form := t.form(system)
		if len(t.Inputs) == 0 || t.Inputs[0].Swing.Value < t.least() {
			continue
		}
		fmt.Fprintf(b, "\n  %s moves, either way, by\n", strings.ToUpper(t.Label[:1])+t.Label[1:])
		for k, in := range t.Inputs {
			if k == 6 || in.Swing.Value < t.Inputs[0].Swing.Value/20 {
				break
			}
			fmt.Fprintf(b, "%s  %s\n", left(form(in.Swing.Value), 13), strings.TrimRight(pad(meaning[in.Name], 64), " "))
		}
		if i > 0 || len(t.Shares) == 0 {
			continue // the shares are of the inputs that lead for the stores
		}
		b.WriteString("\n  Share of its variance, alone and with all interactions, of 1\n")
		for _, s := range t.Shares {
			fmt.Fprintf(b, "    %s%s %s %s %s\n", pad(s.Name, 24), left(share(s.First.Value), 6), pad("("+r.bounds(s.First, share)+")", 17), left(share(s.Total.Value), 6), "("+r.bounds(s.Total, share)+")")
		}
	}
	b.WriteString("\n")
	b.WriteString(ledger.Wrap(fmt.Sprintf("From %d runs. A move goes from the lowest tenth of an input's range to the highest.", m.Runs), "  ", ledger.Width))
}

// share writes a part of the variance; few rows estimate parts below 0 and above 1,
// which stand in the JSON as they are.
func share(v float64) string { return fmt.Sprintf("%.2f", math.Max(0, math.Min(1, v))) }

// least is the move of a target from which on it is worth telling.
func (t TargetMatters) least() float64 {
	if t.Unit == "kg" {
		return 0.001 // a few drops
	}
	return 0.02
}

// form writes values of a target.
func (t TargetMatters) form(system quantity.System) func(float64) string {
	return func(v float64) string {
		if t.Unit == "kg" {
			return quantity.Format(v, quantity.Mass, system)
		}
		return fmt.Sprintf("%.2g", v)
	}
}

// bar draws a probability.
func bar(p float64) string { return strings.Repeat("█", int(math.Round(40*p))) }

func pad(s string, width int) string {
	if n := utf8.RuneCountInString(s); n < width {
		return s + strings.Repeat(" ", width-n)
	}
	return string([]rune(s)[:max(0, width-2)]) + "… "
}

func left(s string, width int) string {
	return strings.Repeat(" ", max(0, width-utf8.RuneCountInString(s))) + s
}
