package ledger

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"hackle/quantity"
)

// Width is the most characters a line of text has.
const Width = 80

// WriteText writes the ledger for people: the answer in one sentence, the
// numbers by section with what they mean, the closure, and how it is known.
func (l Ledger) WriteText(w io.Writer, system quantity.System) error {
	_, err := io.WriteString(w, l.text(system))
	return err
}

func (l Ledger) text(system quantity.System) string {
	var b strings.Builder
	s := voice{system}
	b.WriteString(Wrap(l.Answer(system), "", Width))
	fmt.Fprintf(&b, "\n%s", Wrap(fmt.Sprintf("%s, %s to %s", l.Hive, dateIn(l.From.Time), dateIn(l.To.Time)), "", Width))
	section := Section("")
	var told []string
	flush := func() {
		if len(told) > 0 {
			b.WriteString(Wrap(strings.Join(told, " "), "  ", Width))
		}
		told = nil
	}
	for _, n := range Lines() {
		if n.Section == "" || n.Section == Balance {
			continue
		}
		v, ok := n.Value(&l)
		if !ok || !n.Shown(&l) {
			continue
		}
		if n.Section != section {
			flush()
			section = n.Section
			fmt.Fprintf(&b, "\n%s\n", section)
		}
		label, value := s.words(n.Label), n.Format(v, system)
		if strings.HasPrefix(n.Key, "loss_kWh.") && v < 0 {
			label, value = label+", gained", n.Format(-v, system)
		}
		b.WriteString(row(label, value, l.aside(n, s)))
		if n.Key == "loss_kWh.openings" && len(l.Openings) > 1 {
			for _, o := range l.Openings {
				if o.LossHeat < 0 {
					b.WriteString(row("    "+o.Name+", gained", s.amount(-o.LossHeat, "kWh"), gainedAside))
					continue
				}
				b.WriteString(row("    "+o.Name, s.amount(o.LossHeat, "kWh"), s.kg(o.LossHoney)+" of honey"))
			}
		}
		if n.Key == "honey.left_kg" {
			b.WriteString(l.months(s))
		}
		if n.Key == "comb.nectar_kg" {
			b.WriteString(l.combGroups(s))
		}
		if n.told {
			if text := n.Reading(&l, system); text != "" {
				told = append(told, text)
			}
		}
	}
	flush()
	if len(l.Events) > 0 {
		b.WriteString("\nWhat happened\n")
		for _, e := range l.Events {
			b.WriteString(Wrap(e.At.Format("2 Jan 2006 15:04")+"  "+e.What, "  ", Width))
		}
	}
	for _, text := range l.Warnings {
		b.WriteString("\n" + Wrap("Warning: "+text, "", Width))
	}
	b.WriteString("\n" + l.howWeKnow())
	return b.String()
}

// aside is what stands to the right of a number: its moment, or its honey.
func (l Ledger) aside(n Line, s voice) string {
	if key, ok := strings.CutPrefix(n.Key, "loss_kWh."); ok {
		for _, w := range ways() {
			if w.key == key && w.of(l.LossHeat) < 0 {
				return gainedAside
			}
			if w.key == key {
				return s.kg(w.of(l.LossHoney)) + " of honey"
			}
		}
	}
	if key, ok := strings.CutPrefix(n.Key, "water.condensed_kg."); ok {
		if v := l.Water.LyingMost.part(key); !nothing(v) {
			return "at most " + s.kg(v) + " at once"
		}
		return ""
	}
	at := n.At(&l)
	switch {
	case at.IsZero():
		return ""
	case n.daily:
		return at.Format("2 Jan 2006")
	}
	return at.Format("2 Jan 2006 15:04")
}

// gainedAside stands beside heat that a side took in on the whole.
const gainedAside = "more came in than went"

// combGroups tells how warm the combs of each body and column got, what they bore at
// worst, and how many frames that is.
func (l Ledger) combGroups(s voice) string {
	var b strings.Builder
	for i := range l.Combs {
		c := &l.Combs[i]
		if c.WarmestAt.IsZero() {
			continue
		}
		b.WriteString(row("warmest, "+c.group(), s.temp(c.Warmest), c.WarmestAt.Format("2 Jan 2006 15:04")))
		if !c.At.IsZero() {
			b.WriteString(row("  load over strength", s.amount(c.Share, "-"), c.At.Format("2 Jan 2006 15:04")+", "+c.Class))
		}
	}
	return b.String()
}

func (l Ledger) months(s voice) string {
	var b strings.Builder
	for _, m := range l.Honey.ByMonth {
		name := m.Month
		if t, err := time.Parse("2006-01", m.Month); err == nil {
			name = t.Format("January 2006")
		}
		b.WriteString(row("burned in "+name, s.kg(m.Mass), ""))
	}
	return b.String()
}

func (l Ledger) howWeKnow() string {
	var c []string
	for _, n := range Lines() {
		if n.Section == Balance {
			v, _ := n.Value(&l)
			c = append(c, n.Label+" "+percent(max(v, -v)))
		}
	}
	return "Closure\n" + Wrap("What each balance leaves over, of all that passed through it: "+strings.Join(c, ", ")+".", "  ", Width) +
		"\nHow we know\n" + Wrap("Air flow, heat, vapour, CO2 and honey of this hive were computed together through every hour of the weather. "+OneRun+" `hackle verify` lays the methods beside published figures.", "  ", Width)
}

// row sets a label, a value with its right edge in one column, and an aside.
func row(label, value, aside string) string {
	const labelled, valued = 36, 14
	text := "  " + pad(label, labelled) + padLeft(value, valued)
	if aside != "" {
		text += "  " + aside
	}
	return strings.TrimRight(text, " ") + "\n"
}

// pad fills text with spaces to a width, cutting what is longer.
func pad(text string, width int) string {
	n := utf8.RuneCountInString(text)
	if n > width {
		return string([]rune(text)[:width-1]) + "…"
	}
	return text + strings.Repeat(" ", width-n)
}

func padLeft(text string, width int) string {
	return strings.Repeat(" ", max(0, width-utf8.RuneCountInString(text))) + text
}

// Wrap breaks text into lines of at most width characters, each begun with
// indent and ended with a newline. A number keeps the word after it, mostly its
// unit. What is longer than a line keeps one of its own.
func Wrap(text, indent string, width int) string {
	var b strings.Builder
	line := ""
	words := strings.Fields(text)
	for i := 0; i < len(words); i++ {
		word := words[i]
		if strings.Trim(word, "0123456789.,-") == "" && i+1 < len(words) {
			i++
			word += " " + words[i]
		}
		switch {
		case line == "":
			line = indent + word
		case utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) <= width:
			line += " " + word
		default:
			b.WriteString(line + "\n")
			line = indent + word
		}
	}
	if line != "" {
		b.WriteString(line + "\n")
	}
	return b.String()
}

// WriteText writes the comparison as a table and its two sentences.
func (c Comparison) WriteText(w io.Writer, system quantity.System) error {
	var b strings.Builder
	b.WriteString(Wrap("A: "+c.A, "", Width) + Wrap("B: "+c.B, "", Width) + "\n")
	const named, cell = 41, 13
	line := func(name, x, y, d string) {
		b.WriteString(strings.TrimRight(pad(name, named)+padLeft(x, cell)+padLeft(y, cell)+padLeft(d, cell), " ") + "\n")
	}
	line("", "A", "B", "B - A")
	lines := make(map[string]Line)
	for _, n := range Lines() {
		lines[n.Key] = n
	}
	for _, r := range c.Rows {
		n := lines[r.Key]
		if n.Section == "" || r.A == 0 && r.B == 0 {
			continue
		}
		difference := n.FormatDifference(r.Difference, system)
		if utf8.RuneCountInString(difference) >= cell {
			difference = n.narrow(r.Difference, system)
			if r.Difference > 0 {
				difference = "+" + difference
			}
		}
		line(voice{system}.words(r.Name), n.Format(r.A, system), n.Format(r.B, system), difference)
	}
	b.WriteString("\n" + Wrap(c.Honey, "", Width) + Wrap(c.Overhead, "", Width) + Wrap(c.Summer, "", Width))
	_, err := io.WriteString(w, b.String())
	return err
}

// narrow is Format without pounds and ounces side by side, and with whole fluid
// ounces.
func (n Line) narrow(v float64, system quantity.System) string {
	text := n.Format(v, system)
	if n.Unit == "kg" && strings.Count(text, " ") > 1 {
		const pound = 0.45359237 // international pound, exact [kg]
		return fixed(v/pound, 2) + " lb"
	}
	if number, ok := strings.CutSuffix(text, " fl oz"); ok {
		whole, _, _ := strings.Cut(number, ".")
		return whole + " fl oz"
	}
	return text
}

// head is a column of the overview.
type head struct{ key, top, low string }

// WriteOverview writes the answers and main numbers of several ledgers, a hive a
// row; those of summer in a second table when there is one.
func WriteOverview(w io.Writer, ledgers []Ledger, system quantity.System) error {
	var b strings.Builder
	heads := []head{
		{"honey.burned_kg", "honey", "burned"},
		{"honey.left_kg", "honey", "left"},
		{"coldest_week.heat_mean_W", "coldest", "week"},
		{"warmth.under_lid_mean_C", "under", "the lid"},
		{"water.overhead_hours", "wet over", "cluster"},
	}
	for _, l := range ledgers {
		if l.Winter != nil { // honey of a whole year tells little of the hive
			heads[0], heads[1] = head{"winter.honey_burned_kg", "winter", "burned"}, head{"winter.honey_left_kg", "winter", "left"}
		}
	}
	overview(&b, ledgers, system, head{"", "comes", "through"}, func(l *Ledger) string { return l.Verdict() }, heads)
	if slices.ContainsFunc(ledgers, Ledger.Hot) {
		b.WriteString("\n")
		overview(&b, ledgers, system, head{"", "combs", "in heat"}, combWord, []head{
			{"summer.nest_above_36_hours", "nest >", voice{system}.temp(36)},
			{"summer.comb_max_C", "warmest", "comb"},
			{"summer.outside_hours", "bees", "outside"},
			{"summer.water_hauled_L", "water", "hauled"},
			{"honey.gained_kg", "honey", "gained"},
		})
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// combWord says in a word whether combs hold.
func combWord(l *Ledger) string {
	if l.Comb == nil {
		return "-"
	}
	return l.Comb.Class
}

// overview writes one table: a name, a word and numbers a row.
func overview(b *strings.Builder, ledgers []Ledger, system quantity.System, word head, say func(*Ledger) string, heads []head) {
	const named, cell = 26, 9
	lines := make(map[string]Line)
	for _, n := range Lines() {
		lines[n.Key] = n
	}
	top, low := pad("", named)+padLeft(word.top, cell), pad("", named)+padLeft(word.low, cell)
	for _, h := range heads {
		top += padLeft(h.top, cell)
		low += padLeft(h.low, cell)
	}
	b.WriteString(strings.TrimRight(top, " ") + "\n" + strings.TrimRight(low, " ") + "\n")
	for _, l := range ledgers {
		text := pad(l.Hive, named) + padLeft(say(&l), cell)
		for _, h := range heads {
			n := lines[h.key]
			if v, ok := n.Value(&l); ok {
				text += padLeft(n.narrow(v, system), cell)
			} else {
				text += padLeft("-", cell)
			}
		}
		b.WriteString(strings.TrimRight(text, " ") + "\n")
	}
}
