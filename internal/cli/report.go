package cli

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hackle/almanac"
	"hackle/change"
	"hackle/climate"
	"hackle/hive"
	"hackle/internal/answer"
	"hackle/internal/cutaway"
	"hackle/internal/report"
	"hackle/ledger"
	"hackle/price"
	"hackle/quantity"
	"hackle/workshop"
)

// reportFlags say what a report tells.
type reportFlags struct {
	season  seasonFlags
	out     string
	title   string
	changes []string
	cut     []string
	prices  string
	draws   int
	today   dayFlag
	paper   paperFlag
}

func (p *program) reportCommand() *cobra.Command {
	var f reportFlags
	c := p.command(&cobra.Command{
		Use:   "report FILE... --weather W --to OUT",
		Short: "Make the page to pin up in the shed: PDF or HTML of one hive or a yard",
		Long: `Run the hives of hive files through a year and write a report of one hive or of the
yard: the answer in a sentence, each hive cut open in its worst hours of winter and
summer, the numbers, the year in charts, where the water went, the calendar, what it
rests on, how it is known, and cautions. The ending of OUT says which: .pdf or .html.

--change plans changes: the report then has the hive as it is beside the hive as
planned, cost and work, and the cut list of what is made of material. --cut adds
further things to make. --draws adds ranges from so many draws of weather and bees,
each a run of its own.

In a PDF text can be selected and fonts are embedded, for A4 or Letter paper. The
HTML needs nothing else, prints, and says in words what its pictures show.`,
		Example: `  hackle report my-hive.yaml --weather burlington-vt --to my-hive.pdf
  hackle report my-hive.yaml --weather burlington-vt --to plan.pdf --change "lid=mineral wool 76 mm" --paper Letter --units us
  hackle report hives/*.yaml --weather yard.epw --title "Orchard yard" --to yard.html
  hackle report my-hive.yaml --weather burlington-vt --draws 50 --to my-hive.html --json`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return fmt.Errorf("one hive file or more wanted, none given")
			}
			return p.writeReport(cmd.Context(), args, &f)
		},
	})
	f.season.honey.kind = quantity.Mass
	c.Flags().StringVarP(&f.season.weather, "weather", "w", "", "weather: a file in the EPW layout, a CSV file with a column map, or a built-in year")
	c.Flags().Var(&f.season.from, "from", "first `day` of the runs; default as for hackle year")
	c.Flags().StringVar(&f.season.bees, "bees", "", "adult bees on the first day, such as 2kg or \"8 frames\", in place of the files'")
	c.Flags().Var(&f.season.honey, "honey", "honey on the first day, such as 25kg, in place of the files'")
	c.Flags().StringVar(&f.out, "to", "", "the report's `file`, ending in .pdf or .html")
	c.Flags().StringVar(&f.title, "title", "", "title of a yard's report")
	c.Flags().StringArrayVar(&f.changes, "change", nil, "a planned `change`, such as \"lid=mineral wool 76 mm\"; may be given often")
	c.Flags().StringArrayVar(&f.cut, "cut", nil, "what else to make, as for hackle cut; may be given often")
	c.Flags().StringVar(&f.prices, "prices", "", "price and stock `file`; without it invented example prices")
	c.Flags().IntVar(&f.draws, "draws", 0, "draws for ranges, 0 for none")
	c.Flags().Var(&f.today, "today", "`day` from which the calendar counts, with its year; default: today")
	c.Flags().Var(&f.paper, "paper", "size of paper")
	return c
}

// told is the JSON of a report.
type told struct {
	Title   string   `json:"title"`
	Written string   `json:"written"`
	Form    string   `json:"form"` // "pdf" or "html"
	Bytes   int      `json:"bytes"`
	Hives   []string `json:"hives"`
	Answers []string `json:"answers"`
	Notes   []string `json:"notes"`
}

func (p *program) writeReport(ctx context.Context, files []string, f *reportFlags) error {
	form := strings.ToLower(strings.TrimPrefix(filepath.Ext(f.out), "."))
	if form == "htm" {
		form = "html"
	}
	if form != "pdf" && form != "html" {
		return fmt.Errorf("--to %q: a file that ends in .pdf or .html is wanted", f.out)
	}
	if f.draws < 0 || f.draws > 10_000 {
		return fmt.Errorf("--draws %d, accepted: 0 to 10000", f.draws)
	}
	set, err := change.ParseSet(f.changes...)
	if err != nil {
		return fmt.Errorf("--change: %w", err)
	}
	prices, err := loadPrices(f.prices)
	if err != nil {
		return err
	}
	today, err := todayOf(f.today)
	if err != nil {
		return err
	}
	var notes []string
	var plans []hive.Plan
	for _, file := range files {
		plan, warnings, err := loadHive(file)
		if err != nil {
			return err
		}
		if sameFile(f.out, file) || sameFile(f.out, f.season.weather) {
			return fmt.Errorf("--to %s would overwrite what the report is made from", f.out)
		}
		if err := f.season.apply(&plan); err != nil {
			return fmt.Errorf("%s: %w", file, err)
		}
		plans, notes = append(plans, plan), append(notes, warnings...)
	}
	whole, err := loadWeather(f.season.weather, plans[0].Site)
	if err != nil {
		return err
	}
	// Begun before the runs, so that a path that cannot be written is told at once.
	out, err := create(f.out)
	if err != nil {
		return err
	}
	defer out.discard()

	r := report.Report{Title: f.title, Made: today, System: p.system()}
	if r.Title == "" && len(plans) > 1 {
		r.Title = "The yard"
	}
	for i, plan := range plans {
		h, setting, err := p.told(ctx, plan, i == 0, whole, set, prices, today, f)
		if err != nil {
			return fmt.Errorf("%s: %w", files[i], err)
		}
		r.Weather, r.Source, r.From, r.To = setting.Weather.Name, setting.Weather.Source, setting.First, setting.Last
		r.Hives = append(r.Hives, h)
	}
	var b bytes.Buffer
	write := r.PDF
	if form == "html" {
		write = r.HTML
	}
	if err := write(&b, f.paper.size()); err != nil {
		return internal(err)
	}
	if _, err := io.Copy(out, bytes.NewReader(b.Bytes())); err != nil {
		return fmt.Errorf("cannot write %s: %w", f.out, err)
	}
	if err := out.commit(); err != nil {
		return err
	}
	doc := told{Title: r.Title, Written: f.out, Form: form, Bytes: b.Len(), Hives: []string{}, Answers: []string{}, Notes: append([]string{}, notes...)}
	for _, h := range r.Hives {
		doc.Hives = append(doc.Hives, h.Plan.Hive.Name)
		doc.Answers = append(doc.Answers, h.Ledger.Answer(p.system()))
	}
	return p.write(doc, func(b *bytes.Buffer) error {
		for i, name := range doc.Hives {
			b.WriteString(ledger.Wrap(name+": "+doc.Answers[i], "", ledger.Width))
		}
		b.WriteString(ledger.Wrap(fmt.Sprintf("Written: %s, %.0f kB.", f.out, float64(doc.Bytes)/1000), "", ledger.Width))
		writeNotes(b, doc.Notes)
		return nil
	})
}

// told runs one hive, and as it is planned, and gathers what the report tells of it.
func (p *program) told(ctx context.Context, plan hive.Plan, dated bool, whole *climate.Series, changes change.Set, prices *price.Table, today time.Time, f *reportFlags) (report.Hive, answer.Setting, error) {
	var none report.Hive
	plans := []hive.Plan{plan}
	var result change.Result
	if len(changes) > 0 {
		var err error
		if result, err = changes.Apply(plan, change.Site{Weather: whole, Units: p.system()}); err != nil {
			return none, answer.Setting{}, err
		}
		if result.Weather != "" || len(result.Shades) > 0 {
			return none, answer.Setting{}, fmt.Errorf("a change of place or of shade by date asks for weather of its own: hackle change apply makes the hive file, and a report of that one tells of it")
		}
		plans = append(plans, result.Plan)
	}
	set, err := answer.Place(plans, whole, f.season.days(), p.system())
	if err != nil {
		return none, set, byFlags(err)
	}
	traces, err := p.run(ctx, set, "computing")
	if err != nil {
		return none, set, err
	}
	h := report.Hive{Plan: set.Plans[0], Ledger: set.Ledger(0, traces[0]), Months: ledger.WaterMonths(traces[0]), Notes: set.Notes}
	if h.Year, err = cutaway.Compact(traces[0]); err != nil {
		return none, set, internal(err)
	}
	o := workshop.DefaultOptions()
	o.System = p.system()
	var specs []workshop.Spec
	if len(changes) > 0 {
		h.Change = &report.Change{Set: changes, Result: result, After: set.Ledger(1, traces[1]), Cost: result.Cost(prices, 1), Prices: prices}
		for _, x := range changes.Ordered() {
			if s, ok := workshop.ForChange(x); ok {
				specs = append(specs, s)
			}
		}
	}
	for _, text := range f.cut {
		s, err := workshop.ParseSpec(text, workshop.Spec{})
		if err != nil {
			return none, set, fmt.Errorf("--cut: %w", err)
		}
		specs = append(specs, s)
	}
	if len(specs) > 0 {
		work, err := workshop.MakeAll(plan, specs, 1, prices, o)
		if err != nil {
			if len(f.cut) > 0 {
				return none, set, err
			}
			h.Notes = append(h.Notes, "No cut list: "+err.Error())
		} else {
			h.Work = &work
		}
	}
	if dated { // a yard has one calendar
		cal, err := almanac.Make(almanac.Input{Plan: h.Plan, Weather: whole, Ledger: &h.Ledger, Today: today, System: p.system()})
		if err != nil {
			h.Notes = append(h.Notes, "No calendar: "+err.Error())
		} else {
			h.Calendar = &cal
		}
	}
	err = p.drawn(ctx, &h, plan, whole, f)
	return h, set, err
}

// drawn adds ranges when draws are asked for.
func (p *program) drawn(ctx context.Context, h *report.Hive, plan hive.Plan, whole *climate.Series, f *reportFlags) error {
	if f.draws == 0 {
		return nil
	}
	rf := rangeFlags{draws: f.draws, seed: 1, method: "sobol"}
	q, _, err := rf.ranging("").Range(plan, []*climate.Series{whole}, f.season.days(), p.system())
	if err != nil {
		return byFlags(err)
	}
	h.Range, err = p.ask(ctx, &q, &rf)
	return err
}
