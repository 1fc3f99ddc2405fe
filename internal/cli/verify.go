package cli

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"hackle/internal/verify"
	"hackle/ledger"
)

// figure is a number that may be unbounded; JSON has no such number, so it is
// then a word.
type figure float64

func (f figure) MarshalJSON() ([]byte, error) {
	v := float64(f)
	switch {
	case math.IsNaN(v):
		return []byte(`"nan"`), nil
	case math.IsInf(v, 1):
		return []byte(`"inf"`), nil
	case math.IsInf(v, -1):
		return []byte(`"-inf"`), nil
	}
	return json.Marshal(v)
}

// verified is the JSON of all checks.
type verified struct {
	Checks       []verifiedCheck `json:"checks"`
	Compared     int             `json:"compared"`      // numbers compared
	Misses       int             `json:"misses"`        // outside their tolerance, measured hives left out
	ReportMisses int             `json:"report_misses"` // comparisons with measured hives that differ
}

type verifiedCheck struct {
	ID         string        `json:"id"`
	Topic      string        `json:"topic"`
	What       string        `json:"what"`
	Source     string        `json:"source"`
	FromMemory bool          `json:"from_memory"`
	Report     bool          `json:"report"` // measured hives: a miss is no failure
	Left       string        `json:"left"`
	Rows       []verifiedRow `json:"rows"`
}

type verifiedRow struct {
	Quantity  string  `json:"quantity"`
	Unit      string  `json:"unit"`
	Computed  figure  `json:"computed"`
	Expected  figure  `json:"expected"`
	Tolerance figure  `json:"tolerance"`
	Published *figure `json:"published"` // as printed, where it differs from expected
	Note      string  `json:"note"`
	Miss      bool    `json:"miss"`
}

func (p *program) verifyCommand() *cobra.Command {
	var markdown, failOn string
	c := p.command(&cobra.Command{
		Use:   "verify [TOPIC...]",
		Short: "Recompute published cases and lay the numbers side by side",
		Long: `Recompute cases from standards, handbooks, analytic solutions and independent
programs with the code that runs the hives, and print computed against published
for every number. A number outside its tolerance is marked "MISS". Comparisons with
measured hives are printed as they are; a miss there is marked "differs" and is no
failure.

TOPIC keeps only checks whose topic or identifier begins with it. Figures keep
the units of their sources, whatever --units says. The exit code is 1 on a miss,
unless --fail-on none.

--markdown writes the tables to a file. Where the file has a line "<!-- tables -->"
and after it "<!-- end of tables -->", only what lies between them is replaced.`,
		Example: `  hackle verify
  hackle verify "air flow" films
  hackle verify PSY-01 --json
  hackle verify --markdown docs/verification.md`,
		RunE: func(cmd *cobra.Command, topics []string) error {
			if failOn != "miss" && failOn != "none" {
				return fmt.Errorf("--fail-on %q: miss or none", failOn)
			}
			g := p.newProgress("", 0)
			checks, err := verify.Run(cmd.Context(), func(topic string) { g.tell("verifying " + topic) })
			g.end()
			if err != nil {
				return internal(err)
			}
			return p.report(checks, topics, markdown, failOn == "miss")
		},
	})
	c.Flags().StringVar(&markdown, "markdown", "", "write the tables to this Markdown `file`")
	c.Flags().StringVar(&failOn, "fail-on", "miss", "exit with 1 on a miss; none: never (`miss|none`)")
	return c
}

// report prints checks and writes their tables.
func (p *program) report(checks []verify.Check, topics []string, markdown string, failOnMiss bool) error {
	checks, err := choose(checks, topics)
	if err != nil {
		return err
	}
	v := gather(checks)
	if markdown != "" {
		if err := writeTables(markdown, v); err != nil {
			return err
		}
	}
	err = p.write(v, func(b *bytes.Buffer) error { v.text(b); return nil })
	if err == nil && v.Misses > 0 && failOnMiss {
		err = badNews("%d of %d numbers lie outside their tolerance", v.Misses, v.Compared)
	}
	return err
}

// choose keeps the checks whose topic or identifier begins with one of the words.
func choose(checks []verify.Check, words []string) ([]verify.Check, error) {
	if len(words) == 0 {
		return checks, nil
	}
	begins := func(text, word string) bool {
		return strings.HasPrefix(strings.ToLower(text), strings.ToLower(word))
	}
	var topics []string
	for _, c := range checks {
		if !slices.Contains(topics, c.Topic) {
			topics = append(topics, c.Topic)
		}
	}
	for _, w := range words {
		if !slices.ContainsFunc(checks, func(c verify.Check) bool { return begins(c.Topic, w) || begins(c.ID, w) }) {
			return nil, fmt.Errorf("no check begins with %q; there are the topics %s", w, list(topics))
		}
	}
	var kept []verify.Check
	for _, c := range checks {
		if slices.ContainsFunc(words, func(w string) bool { return begins(c.Topic, w) || begins(c.ID, w) }) {
			kept = append(kept, c)
		}
	}
	return kept, nil
}

func gather(checks []verify.Check) verified {
	v := verified{Checks: []verifiedCheck{}}
	for _, c := range checks {
		k := verifiedCheck{ID: c.ID, Topic: c.Topic, What: c.What, Source: c.Source, FromMemory: c.FromMemory, Report: c.Report, Left: c.Left, Rows: []verifiedRow{}}
		for _, r := range c.Rows {
			row := verifiedRow{Quantity: r.Quantity, Unit: r.Unit, Computed: figure(r.Computed), Expected: figure(r.Expected), Tolerance: figure(r.Tolerance), Note: r.Note, Miss: r.Miss()}
			if r.Published != nil {
				f := figure(*r.Published)
				row.Published = &f
			}
			v.Compared++
			switch {
			case row.Miss && c.Report:
				v.ReportMisses++
			case row.Miss:
				v.Misses++
			}
			k.Rows = append(k.Rows, row)
		}
		v.Checks = append(v.Checks, k)
	}
	return v
}

// mark of a row.
func (c *verifiedCheck) mark(r *verifiedRow) string {
	switch {
	case r.Miss && c.Report:
		return "differs"
	case r.Miss:
		return "MISS"
	}
	return ""
}

// source with how sure it is.
func (c *verifiedCheck) source() string {
	if c.FromMemory {
		return c.Source + " (a figure was recalled, not read)"
	}
	return c.Source
}

// digits writes a number with n significant digits.
func (f figure) digits(n int) string { return strconv.FormatFloat(float64(f), 'g', n, 64) }

func (v verified) summary() string {
	text := fmt.Sprintf("%d numbers of %d checks compared, %d outside their tolerance", v.Compared, len(v.Checks), v.Misses)
	if v.ReportMisses > 0 {
		text += fmt.Sprintf("; of the comparisons with measured hives %d differ", v.ReportMisses)
	}
	return text + "."
}

func (v verified) text(b *bytes.Buffer) {
	b.WriteString(ledger.Wrap(v.summary(), "", ledger.Width))
	topic := ""
	for i := range v.Checks {
		c := &v.Checks[i]
		if c.Topic != topic {
			topic = c.Topic
			fmt.Fprintf(b, "\n%s\n%s\n", topic, strings.Repeat("=", utf8.RuneCountInString(topic)))
		}
		b.WriteString("\n" + ledger.Wrap(c.ID+"  "+c.What, "", ledger.Width))
		b.WriteString(ledger.Wrap("Source: "+c.source(), "  ", ledger.Width))
		if c.Left != "" {
			b.WriteString(ledger.Wrap("Not computed here: "+c.Left, "  ", ledger.Width))
		}
		const named, cell = 30, 12
		fmt.Fprintf(b, "  %-*s%*s%*s%*s\n", named, "", cell, "computed", cell, "published", cell, "allowed ±")
		for j := range c.Rows {
			r := &c.Rows[j]
			name := r.Quantity
			if r.Unit != "" && r.Unit != "-" {
				name += " [" + r.Unit + "]"
			}
			if utf8.RuneCountInString(name) > named {
				b.WriteString(ledger.Wrap(name, "  ", ledger.Width))
				name = ""
			}
			fmt.Fprintf(b, "  %s%*s%*s%*s", name+strings.Repeat(" ", named-utf8.RuneCountInString(name)), cell, r.Computed.digits(6), cell, r.Expected.digits(6), cell, r.Tolerance.digits(2))
			if m := c.mark(r); m != "" {
				b.WriteString(" " + m)
			}
			b.WriteString("\n")
			if r.Published != nil {
				fmt.Fprintf(b, "      printed in the source: %s\n", r.Published.digits(6))
			}
			if r.Note != "" {
				b.WriteString(ledger.Wrap(r.Note, "      ", ledger.Width))
			}
		}
	}
}

// cellText makes text fit a cell of a Markdown table.
func cellText(s string) string {
	return strings.NewReplacer("|", `\|`, "\n", " ", "<", "&lt;", ">", "&gt;").Replace(s)
}

// tables writes the checks as Markdown. Computed numbers have five digits, so
// that the text is the same on processors that round the last ones otherwise.
func (v verified) tables(w io.Writer) error {
	var b bytes.Buffer
	b.WriteString(v.summary() + "\n")
	topic := ""
	for i := range v.Checks {
		c := &v.Checks[i]
		if c.Topic != topic {
			topic = c.Topic
			fmt.Fprintf(&b, "\n## %s\n", topic)
		}
		fmt.Fprintf(&b, "\n### %s\n\n%s\n\nSource: %s\n", c.ID, cellText(c.What), cellText(c.source()))
		if c.Report {
			b.WriteString("\nMeasured hives: printed as they are, a difference is no failure of the code.\n")
		}
		if c.Left != "" {
			fmt.Fprintf(&b, "\nNot computed here: %s\n", cellText(c.Left))
		}
		b.WriteString("\n| Quantity | Unit | Computed | Published | Allowed ± | As printed | |\n|---|---|---:|---:|---:|---:|---|\n")
		for j := range c.Rows {
			r := &c.Rows[j]
			printed := ""
			if r.Published != nil {
				printed = r.Published.digits(6)
			}
			remark := strings.TrimSpace(strings.Join([]string{c.mark(r), r.Note}, " "))
			fmt.Fprintf(&b, "| %s | %s | %s | %s | %s | %s | %s |\n", cellText(r.Quantity), cellText(r.Unit), r.Computed.digits(5), r.Expected.digits(6), r.Tolerance.digits(2), printed, cellText(remark))
		}
	}
	_, err := w.Write(b.Bytes())
	return err
}

// Marks of the part of a document that writeTables replaces.
const (
	tablesBegin = "<!-- tables -->"
	tablesEnd   = "<!-- end of tables -->"
)

func writeTables(path string, v verified) error {
	head, tail := "# Verification\n\nWritten by `hackle verify --markdown`.\n\n", ""
	old, err := os.ReadFile(path)
	if err == nil {
		before, rest, okBegin := strings.Cut(string(old), tablesBegin)
		_, after, okEnd := strings.Cut(rest, tablesEnd)
		if okBegin && okEnd {
			head, tail = before+tablesBegin+"\n", tablesEnd+after
		}
	} else if !os.IsNotExist(err) {
		return fmt.Errorf("cannot write %s: %w", path, err)
	}
	return writeFile(path, func(w io.Writer) error {
		if _, err := io.WriteString(w, head); err != nil {
			return err
		}
		if err := v.tables(w); err != nil {
			return err
		}
		_, err := io.WriteString(w, tail)
		return err
	})
}
