package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"hackle/change"
	"hackle/climate"
	"hackle/hive"
	"hackle/internal/advice"
	"hackle/ledger"
	"hackle/price"
	"hackle/quantity"
)

func (p *program) changeCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "change",
		Short: "List what can be changed on a hive, and change a hive file",
		Long: `A change is one alteration of a hive, written as its kind and, after an equals
sign, its parameters between commas: "lid=mineral wool 76 mm", "wrap=building
paper 0.8 mm, on 1 Nov, off 1 Apr", "windbreak". Several are joined by plus signs.
They are made in the order of the catalogue, whatever the order in which they are
written; those that contradict each other are refused with the reason.`,
		Example: `  hackle change list my-hive.yaml
  hackle change show lid
  hackle change apply my-hive.yaml "lid=mineral wool 76 mm" "board hole=closed" --to warm.yaml`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	c.AddCommand(p.changeListCommand(), p.changeShowCommand(), p.changeApplyCommand(), p.changePricesCommand())
	return c
}

// loadPrices reads a price file, or the embedded one.
func loadPrices(path string) (*price.Table, error) {
	if path == "" {
		t, err := price.Standard()
		if err != nil {
			return nil, internal(err)
		}
		return t, nil
	}
	return price.DecodeFile(path)
}

// changeSite knows the weather when one is named, for what is fed.
func changeSite(weather string, units quantity.System) (change.Site, error) {
	site := change.Site{Units: units}
	if weather == "" {
		return site, nil
	}
	w, err := climate.Load(weather)
	site.Weather = w
	return site, err
}

// listedChange is the JSON of one choice of the catalogue.
type listedChange struct {
	Change string   `json:"change"`
	Kind   string   `json:"kind"`
	Name   string   `json:"name"`
	Does   string   `json:"does"`
	First  *float64 `json:"first_cost,omitempty"` // of one hive
	Yearly *float64 `json:"yearly_cost,omitempty"`
	Hours  *float64 `json:"work_h,omitempty"`
	Did    string   `json:"did,omitempty"`
	Not    string   `json:"does_not_apply,omitempty"`
}

func (p *program) changeListCommand() *cobra.Command {
	var prices, weather string
	c := p.command(&cobra.Command{
		Use:   "list [FILE]",
		Short: "List the catalogue of changes; with a hive file, what each would do and cost",
		Long: `List every kind of change with choices worth trying. With a hive file, say of each
choice what it would do to that hive, what it costs and how long it takes, or why
it does not apply. Weather tells how late syrup can be fed.`,
		Example: `  hackle change list
  hackle change list my-hive.yaml --weather burlington-vt
  hackle change list my-hive.yaml --prices my-prices.yaml --json`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return p.listCatalogue()
			}
			table, err := loadPrices(prices)
			if err != nil {
				return err
			}
			site, err := changeSite(weather, p.system())
			if err != nil {
				return err
			}
			return p.listOffers(args[0], site, table)
		},
	})
	c.Flags().StringVar(&prices, "prices", "", "price `file`; default: the embedded one, whose prices are invented")
	c.Flags().StringVarP(&weather, "weather", "w", "", "weather that says how late syrup can be fed")
	return c
}

func (p *program) listCatalogue() error {
	var all []listedChange
	for _, k := range change.Catalogue() {
		for _, text := range k.Choices {
			all = append(all, listedChange{Change: text, Kind: k.Key, Name: k.Name, Does: k.Does})
		}
	}
	return p.write(all, func(b *bytes.Buffer) error {
		for _, k := range change.Catalogue() {
			fmt.Fprintf(b, "%s: %s\n", k.Key, k.Name)
			b.WriteString(ledger.Wrap(k.Does, "    ", ledger.Width))
			for _, text := range k.Choices {
				fmt.Fprintf(b, "      %s\n", text)
			}
		}
		return nil
	})
}

func (p *program) listOffers(file string, site change.Site, table *price.Table) error {
	plan, notes, err := loadHive(file)
	if err != nil {
		return err
	}
	offers, err := change.Offers(plan, site)
	if err != nil {
		return err
	}
	all := []listedChange{}
	for _, o := range offers {
		kind, err := change.Find(o.Change.Kind)
		if err != nil {
			return internal(err)
		}
		l := listedChange{Change: o.Change.String(), Kind: kind.Key, Name: kind.Name, Does: kind.Does}
		if o.Not != nil {
			l.Not = reasonOf(o.Not)
		} else {
			cost := o.Result.Cost(table, 1)
			first, yearly, hours := cost.First(), cost.EachYear(), cost.Hours
			l.First, l.Yearly, l.Hours, l.Did = &first, &yearly, &hours, o.Result.Steps[0].Effect.Did
		}
		all = append(all, l)
	}
	return p.write(all, func(b *bytes.Buffer) error {
		kind := ""
		for _, l := range all {
			if l.Kind != kind {
				kind = l.Kind
				fmt.Fprintf(b, "%s\n", l.Name)
			}
			if l.Not != "" {
				b.WriteString(ledger.Wrap(fmt.Sprintf("- %s: %s", l.Change, l.Not), "    ", ledger.Width))
				continue
			}
			yearly := ""
			if *l.Yearly > 0 {
				yearly = fmt.Sprintf(" and %s a year", table.Money(*l.Yearly))
			}
			b.WriteString(ledger.Wrap(fmt.Sprintf("+ %s: %s %s%s, %.1f h.", l.Change, l.Did, table.Money(*l.First), yearly, *l.Hours), "    ", ledger.Width))
		}
		if table.Invented {
			b.WriteString("\n" + ledger.Wrap("The prices are invented. hackle change prices writes them to a file for you to put your own in; give it with --prices.", "", ledger.Width))
		}
		writeNotes(b, notes)
		return nil
	})
}

// reasonOf is why a change was not made, without its name.
func reasonOf(err error) string {
	var not *change.NotHere
	var refused *change.Refused
	switch {
	case errors.As(err, &not):
		return not.Reason
	case errors.As(err, &refused):
		return refused.Reason
	}
	return err.Error()
}

// shownKind is the JSON of one kind of change.
type shownKind struct {
	Kind     string       `json:"kind"`
	Name     string       `json:"name"`
	Does     string       `json:"does"`
	Params   []shownParam `json:"parameters"`
	Choices  []string     `json:"choices"`
	Cautions []string     `json:"cautions"`
	Sets     []string     `json:"sets"`
}

type shownParam struct {
	Key      string   `json:"key"`
	Meaning  string   `json:"meaning"`
	Type     string   `json:"type"`
	Quantity string   `json:"quantity,omitempty"`
	Range    string   `json:"range,omitempty"`
	Words    []string `json:"words,omitempty"`
	Default  string   `json:"default,omitempty"`
	Must     bool     `json:"must"`
}

func (p *program) changeShowCommand() *cobra.Command {
	return p.command(&cobra.Command{
		Use:     "show KIND",
		Short:   "Show one kind of change with its parameters and cautions",
		Long:    "Show one kind of change: what it does, its parameters with their ranges and defaults, choices worth trying, and cautions.",
		Example: "  hackle change show lid\n  hackle change show \"top vent\" --json",
		RunE: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return exactly(args, 1, "one kind of change")
			}
			k, err := change.Find(strings.Join(args, " "))
			if err != nil {
				return err
			}
			s := shownKind{Kind: k.Key, Name: k.Name, Does: k.Does, Params: []shownParam{}, Choices: k.Choices, Cautions: k.Cautions, Sets: k.Sets}
			for _, x := range k.Params {
				q := shownParam{Key: x.Key, Meaning: x.Meaning, Type: string(x.Type), Words: x.Words, Default: x.Default, Must: x.Must}
				kind := x.Quantity
				switch x.Type {
				case change.Quantity:
					q.Quantity = kind.String()
				case change.Layer:
					kind = quantity.Length
				}
				switch {
				case x.Type == change.Count:
					q.Range = fmt.Sprintf("%.0f to %.0f", x.Low, x.High)
				case x.High > 0:
					q.Range = quantity.Format(x.Low, kind, p.system()) + " to " + quantity.Format(x.High, kind, p.system())
				}
				s.Params = append(s.Params, q)
			}
			return p.write(s, func(b *bytes.Buffer) error {
				fmt.Fprintf(b, "%s: %s\n", s.Kind, s.Name)
				b.WriteString(ledger.Wrap(s.Does, "", ledger.Width))
				for _, x := range s.Params {
					text := fmt.Sprintf("%s: %s, %s", x.Key, x.Meaning, x.Type)
					for _, more := range []string{x.Range, strings.Join(x.Words, ", ")} {
						if more != "" {
							text += ", " + more
						}
					}
					if x.Default != "" {
						text += "; left out: " + x.Default
					}
					if x.Must {
						text += "; needed"
					}
					b.WriteString(ledger.Wrap(text, "  ", ledger.Width))
				}
				b.WriteString("For example:\n")
				for _, c := range s.Choices {
					fmt.Fprintf(b, "  %s\n", c)
				}
				for _, c := range s.Cautions {
					b.WriteString(ledger.Wrap("Mind: "+c, "", ledger.Width))
				}
				return nil
			})
		},
	})
}

// appliedChange is the JSON of hackle change apply.
type appliedChange struct {
	File     string        `json:"file"` // written, empty when none was asked for
	Changes  change.Set    `json:"changes"`
	Did      []string      `json:"did"`
	First    float64       `json:"first_cost"`
	Yearly   float64       `json:"yearly_cost"`
	Currency string        `json:"currency"`
	Invented bool          `json:"prices_are_invented"`
	Hours    float64       `json:"work_h"`
	YearlyH  float64       `json:"yearly_work_h"`
	Buy      []boughtThing `json:"buy"`
	Missing  []string      `json:"without_price"`
	Cautions []string      `json:"cautions"`
	Notes    []string      `json:"notes"`
}

type boughtThing struct {
	Need   string  `json:"need"`
	Stock  string  `json:"stock"`
	Pieces int     `json:"pieces"`
	Used   float64 `json:"used"`
	Bought float64 `json:"bought"`
	Yearly bool    `json:"every_year"`
}

func (p *program) changeApplyCommand() *cobra.Command {
	var prices, weather, to, plan, keep string
	var hives int
	c := p.command(&cobra.Command{
		Use:   "apply FILE CHANGE...",
		Short: "Change a hive file into a new one, and say what to buy and how long it takes",
		Long: `Make changes on the hive of a hive file and print what is done, what must be
bought and paid, how long it takes and what to mind. --to writes the changed hive
to a new file; a file that is there is never overwritten. --from takes changes
from a file, --keep writes these changes to one.`,
		Example: `  hackle change apply my-hive.yaml "lid=mineral wool 76 mm" --to warm.yaml
  hackle change apply my-hive.yaml "walls=XPS 38 mm" "wrap=building paper 0.8 mm" --hives 10
  hackle change apply my-hive.yaml --from winter.yaml --weather burlington-vt --to new.yaml`,
		RunE: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 || len(args) == 1 && plan == "" {
				return errors.New("one hive file and at least one change wanted, or --from")
			}
			set, err := change.ParseSet(args[1:]...)
			if err != nil {
				return err
			}
			if plan != "" {
				kept, err := loadChanges(plan)
				if err != nil {
					return err
				}
				set = append(set, kept.Changes...)
			}
			table, err := loadPrices(prices)
			if err != nil {
				return err
			}
			if hives < 1 || hives > 100000 {
				return fmt.Errorf("--hives %d, accepted: 1 to 100000", hives)
			}
			site, err := changeSite(weather, p.system())
			if err != nil {
				return err
			}
			return p.applyChanges(args[0], set, site, table, hives, to, keep)
		},
	})
	c.Flags().StringVar(&prices, "prices", "", "price `file`; default: the embedded one, whose prices are invented")
	c.Flags().StringVarP(&weather, "weather", "w", "", "weather that says how late syrup can be fed")
	c.Flags().StringVar(&to, "to", "", "write the changed hive to this new `file`")
	c.Flags().StringVar(&plan, "from", "", "take changes from this `file` too")
	c.Flags().StringVar(&keep, "keep", "", "write the changes to this new `file`")
	c.Flags().IntVar(&hives, "hives", 1, "how many hives are changed alike and bought for together")
	return c
}

func loadChanges(path string) (change.Kept, error) {
	f, err := os.Open(path)
	if err != nil {
		return change.Kept{}, fmt.Errorf("file of changes: %w", err)
	}
	defer f.Close()
	return change.Decode(path, f)
}

// writeNew writes a file that must not be there yet, whole or not at all.
func writeNew(path string, write func(io.Writer) error) error {
	if _, err := os.Lstat(path); err == nil {
		return fmt.Errorf("%s is there already and is not overwritten; give another name", path)
	}
	return writeFile(path, write)
}

func (p *program) applyChanges(file string, set change.Set, site change.Site, table *price.Table, hives int, to, keep string) error {
	plan, notes, err := loadHive(file)
	if err != nil {
		return err
	}
	r, err := set.Apply(plan, site)
	if err != nil {
		return err
	}
	if len(r.Shades) > 0 {
		notes = append(notes, "a hive file cannot hold shade by date: the new file has none; hackle rank reckons with it")
	}
	if r.Weather != "" {
		notes = append(notes, "the hive stands elsewhere: run it with --weather "+r.Weather)
	}
	r.Plan.Hive.Name = strings.TrimSpace(plan.Hive.Name + ", " + set.String())
	if to != "" {
		if err := writeNew(to, func(w io.Writer) error { return hive.Encode(w, r.Plan, p.system()) }); err != nil {
			return err
		}
	}
	if keep != "" {
		if err := writeNew(keep, func(w io.Writer) error {
			return change.Encode(w, change.Kept{Name: "Changes of " + plan.Hive.Name, Changes: set})
		}); err != nil {
			return err
		}
	}
	cost := r.Cost(table, hives)
	out := appliedChange{File: to, Changes: set.Ordered(), Did: []string{}, First: cost.First(), Yearly: cost.EachYear(), Currency: table.Currency, Invented: table.Invented,
		Hours: cost.Hours, YearlyH: cost.YearlyHours, Buy: []boughtThing{}, Missing: []string{}, Cautions: r.Cautions(), Notes: append(notes, r.Notes...)}
	for _, s := range r.Steps {
		out.Did = append(out.Did, s.Effect.Did)
	}
	for i, bill := range []price.Bill{cost.Once, cost.Yearly} {
		for _, l := range bill.Lines {
			out.Buy = append(out.Buy, boughtThing{l.Need.Text(p.system()), l.Stock, l.Pieces, l.Used, l.Bought, i == 1})
		}
		for _, err := range bill.Missing {
			out.Missing = append(out.Missing, err.Error())
		}
	}
	if out.Notes == nil {
		out.Notes = []string{}
	}
	return p.write(out, func(b *bytes.Buffer) error {
		advice.WriteResult(b, r, table, hives, p.system())
		if table.Invented {
			b.WriteString(ledger.Wrap("The prices are invented; put your own in with --prices.", "", ledger.Width))
		}
		if to != "" {
			fmt.Fprintf(b, "Written: %s\n", to)
		}
		if keep != "" {
			fmt.Fprintf(b, "Written: %s\n", keep)
		}
		writeNotes(b, notes)
		return nil
	})
}

func (p *program) changePricesCommand() *cobra.Command {
	var to string
	c := p.command(&cobra.Command{
		Use:   "prices [FILE]",
		Short: "Check a price file, or write the embedded one for you to change",
		Long: `Read a price file and say what it holds, or without one the embedded list, whose
every price is invented. --to writes that list to a new file for you to put your
own prices in; a file that is there is never overwritten.`,
		Example: "  hackle change prices --to my-prices.yaml\n  hackle change prices my-prices.yaml",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			path := ""
			if len(args) == 1 {
				path = args[0]
			}
			table, err := loadPrices(path)
			if err != nil {
				return err
			}
			if to != "" {
				err := writeNew(to, func(w io.Writer) error {
					if path == "" { // with its comments
						_, err := w.Write(price.StandardFile())
						return err
					}
					return price.Encode(w, table, p.system())
				})
				if err != nil {
					return err
				}
			}
			return p.writePrices(table, to)
		},
	})
	c.Flags().StringVar(&to, "to", "", "write the list to this new `file`")
	return c
}

// priceList is the JSON of a price file.
type priceList struct {
	Name     string       `json:"name"`
	Currency string       `json:"currency"`
	Invented bool         `json:"invented"`
	Waste    float64      `json:"waste_share"`
	Honey    float64      `json:"honey_per_kg"`
	Colony   float64      `json:"colony"`
	Work     float64      `json:"work_per_h"`
	Items    []pricedItem `json:"items"`
}

type pricedItem struct {
	What  string  `json:"what"`
	Price float64 `json:"price"`
	Unit  string  `json:"unit"` // the unit the price is for, as written
}

func (p *program) writePrices(t *price.Table, to string) error {
	out := priceList{t.Name, t.Currency, t.Invented, t.Waste, t.Values.Honey.One(), t.Values.Colony.One(), t.Values.Work.One(), []pricedItem{}}
	for _, s := range t.Stock {
		out.Items = append(out.Items, pricedItem{s.Title(p.system()), s.Price.Amount, s.Price.Unit.Name})
	}
	for _, x := range t.Parts {
		out.Items = append(out.Items, pricedItem{x.Name, x.Price.Amount, x.Price.Unit.Name})
	}
	for _, x := range t.Fasteners {
		name := x.Name
		if x.Length > 0 {
			name += " " + quantity.Format(x.Length, quantity.Length, p.system())
		}
		out.Items = append(out.Items, pricedItem{name, x.Price.Amount, x.Price.Unit.Name})
	}
	return p.write(out, func(b *bytes.Buffer) error {
		fmt.Fprintf(b, "%s, in %s\n", t.Name, t.Currency)
		if t.Invented {
			b.WriteString(ledger.Wrap("Every price is invented: put your own in.", "", ledger.Width))
		}
		fmt.Fprintf(b, "honey %s a kilogram, a colony %s, an hour of work %s, waste %.0f %%\n", t.Money(out.Honey), t.Money(out.Colony), t.Money(out.Work), 100*t.Waste)
		for _, i := range out.Items {
			fmt.Fprintf(b, "  %8.2f a %-6s  %s\n", i.Price, i.Unit, i.What)
		}
		if to != "" {
			fmt.Fprintf(b, "Written: %s\n", to)
		}
		return nil
	})
}
