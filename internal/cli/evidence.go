package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hackle/climate"
	"hackle/evidence"
	"hackle/internal/answer"
	"hackle/internal/store"
	"hackle/ledger"
	"hackle/quantity"
	"hackle/yard"
)

// evidenceCommand leads to what the records tell of treatments.
func (p *program) evidenceCommand() *cobra.Command {
	y := &yardFile{p: p}
	c := &cobra.Command{
		Use:   "evidence",
		Short: "Judge from the yard's own records whether a treatment worked, and plan fair trials",
		Long: `Judge from the records of the yard file whether a treatment worked: hive-seasons with
and without it, compared inside yards and years, with a plain verdict and its strength.
Plan a trial that can tell: how many hives, and which gets what, by lot.

Nothing that was not written down counts as a no. How seasons are made of records is in
docs/measure.md, how they are weighed in docs/evidence.md.`,
		Example: `  hackle evidence list
  hackle evidence weigh "insulated lid" survived
  hackle evidence size survived --without 80% --with 95%
  hackle evidence deal "Wool in the lid" --treatment "insulated lid" --outcome "stores used" --from 2027 --years 2 --seed 7`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	c.AddCommand(y.evidenceList(), y.evidenceWeigh(), y.evidenceSize(), y.evidenceDeal(), y.evidenceTrials())
	return c
}

// trials reads the kept trials by name.
func trials(ctx context.Context, s *store.Store) ([]answer.Trial, error) {
	all, err := s.Settings(ctx)
	if err != nil {
		return nil, err
	}
	return answer.TrialsIn(all)
}

// seasonsOf makes the hive-seasons for an outcome.
func seasonsOf(ctx context.Context, s *store.Store, outcome evidence.Outcome, weather string, inYard string) ([]evidence.Season, []string, error) {
	n, err := s.Notebook(ctx, false)
	if err != nil {
		return nil, nil, err
	}
	ts, err := trials(ctx, s)
	if err != nil {
		return nil, nil, err
	}
	var recorded *climate.Series
	if weather != "" {
		if recorded, err = climate.Load(weather); err != nil {
			return nil, nil, err
		}
		if recorded.Typical {
			return nil, nil, fmt.Errorf("--weather %s is a typical year; a hot spell is told by the weather of the very years", weather)
		}
	}
	kept := map[yard.ID]*climate.Series{}
	for _, y := range n.Yards {
		if id, ok := strings.CutPrefix(y.Weather, "series:"); ok && recorded == nil {
			w, err := s.WeatherSeries(ctx, yard.ID(id))
			if err != nil && !errors.Is(err, store.NotFound) {
				return nil, nil, err
			}
			kept[y.ID] = w
		}
	}
	seasons, notes := answer.Seasons(n, answer.SeasonOptions{Outcome: outcome, Trials: ts, Hot: func(id yard.ID, year int) evidence.Answer {
		if recorded != nil {
			return answer.HotSpell(recorded, year)
		}
		return answer.HotSpell(kept[id], year)
	}})
	if inYard != "" {
		id, err := n.FindYard(inYard)
		if err != nil {
			return nil, nil, err
		}
		name := ""
		for _, y := range n.Yards {
			if y.ID == id {
				name = y.Name
			}
		}
		seasons = slices.DeleteFunc(seasons, func(v evidence.Season) bool { return v.Yard != name })
	}
	return seasons, notes, nil
}

func outcomeNamed(name string) (evidence.Outcome, error) {
	o, err := evidence.OutcomeOf(strings.ToLower(strings.TrimSpace(name)))
	if err != nil {
		var keys []string
		for _, o := range evidence.Outcomes() {
			keys = append(keys, o.Key)
		}
		return o, fmt.Errorf("outcome %q, accepted: %s", name, list(keys))
	}
	return o, nil
}

func (y *yardFile) evidenceList() *cobra.Command {
	var weather, in string
	c := y.command(&cobra.Command{
		Use:     "list",
		Short:   "List which treatments the records can say something of, by outcome",
		Long:    "List for every outcome how many hive-seasons there are, and how many of them with and without each treatment.",
		Example: "  hackle evidence list\n  hackle evidence list --weather yard-2022-2025.csv",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			ctx := cmd.Context()
			type row struct {
				Outcome    string                  `json:"outcome"`
				Seasons    int                     `json:"seasons"`
				Known      int                     `json:"with_outcome"`
				Exposed    *int                    `json:"exposed"` // nil when the outcome needs no exposure
				Treatments []answer.TreatmentCount `json:"treatments"`
			}
			return y.with(ctx, false, func(s *store.Store) error {
				out := struct {
					Outcomes []row    `json:"outcomes"`
					Notes    []string `json:"notes"`
				}{Outcomes: []row{}, Notes: []string{}}
				for _, o := range evidence.Outcomes() {
					seasons, notes, err := seasonsOf(ctx, s, o, weather, in)
					if err != nil {
						return err
					}
					r := row{Outcome: o.Key, Seasons: len(seasons)}
					exposed := 0
					for _, v := range seasons {
						if knows(v, o.Key) {
							r.Known++
						}
						if o.Exposure != "" && v.Exposures[o.Exposure] == evidence.Yes {
							exposed++
						}
					}
					if o.Exposure != "" {
						r.Exposed = &exposed
					}
					r.Treatments = answer.TreatmentsIn(seasons)
					out.Outcomes = append(out.Outcomes, r)
					for _, n := range notes {
						if !slices.Contains(out.Notes, n) {
							out.Notes = append(out.Notes, n)
						}
					}
				}
				return y.p.write(out, func(b *bytes.Buffer) error {
					for _, r := range out.Outcomes {
						fmt.Fprintf(b, "%s: %d hive-seasons, %d with the outcome written down", r.Outcome, r.Seasons, r.Known)
						if r.Exposed != nil {
							fmt.Fprintf(b, ", %d with a hot spell", *r.Exposed)
						}
						b.WriteString("\n")
						for _, t := range r.Treatments {
							if t.With > 0 {
								columns(b, t.Name, fmt.Sprintf("%d with", t.With), fmt.Sprintf("%d without", t.Without))
							}
						}
					}
					writeNotes(b, out.Notes)
					return nil
				})
			})
		},
	})
	addSeasons(c, &weather, &in)
	return c
}

func addSeasons(c *cobra.Command, weather, in *string) {
	c.Flags().StringVarP(weather, "weather", "w", "", "recorded weather of the years, which tells hot spells (default: the weather chosen for each yard)")
	c.Flags().StringVar(in, "in", "", "this yard alone")
}

// knows reports whether the outcome of a season was written down.
func knows(s evidence.Season, key string) bool {
	switch key {
	case "survived":
		return s.Survived != evidence.Unknown
	case "comb fell":
		return s.CombFell != evidence.Unknown
	case "stores used":
		return s.StoresUsed != nil
	case "bearding":
		return s.BeardingDays != nil
	case "dripping water":
		return s.DrippingWater != evidence.Unknown
	}
	return s.Mould != evidence.Unknown
}

// weighed is a finding with what it rests on.
type weighed struct {
	evidence.Finding
	Seasons []evidence.Season `json:"seasons"`
	Notes   []string          `json:"notes"`
}

func (y *yardFile) evidenceWeigh() *cobra.Command {
	var weather, in string
	worth := math.NaN()
	var worthText string
	c := y.command(&cobra.Command{
		Use:   "weigh TREATMENT OUTCOME",
		Short: "Judge whether a treatment worked",
		Long: `Judge from the records whether a treatment worked. Outcomes are survived, comb fell,
stores used, bearding, dripping water and mould; treatments those of hackle evidence
list. Fallen comb and bearding count in summers with a hot spell only, told by recorded
weather (--weather, or the yard's own) or by a record at 32 °C and more.

--worth is the smallest difference for which you would do the work: points of a
hundred for yes or no, else kg or days.`,
		Example: "  hackle evidence weigh \"insulated lid\" survived\n  hackle evidence weigh \"crossed wires\" \"comb fell\" --weather yard-2022-2025.csv\n  hackle evidence weigh wrap \"stores used\" --worth 1.5 --json",
		Args:    cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			o, err := outcomeNamed(args[1])
			if err != nil {
				return err
			}
			if worthText != "" {
				if worth, err = worthOf(worthText, o); err != nil {
					return err
				}
				o.Worth = worth
			}
			return y.with(ctx, false, func(s *store.Store) error {
				seasons, notes, err := seasonsOf(ctx, s, o, weather, in)
				if err != nil {
					return err
				}
				if len(seasons) == 0 {
					return fmt.Errorf("the records hold no season for %s yet", o.Key)
				}
				treatment := strings.ToLower(strings.TrimSpace(args[0]))
				for _, v := range seasons { // the arm of a trial keeps its own letters
					for name := range v.Treatments {
						if strings.EqualFold(name, treatment) {
							treatment = name
						}
					}
				}
				f, err := evidence.Compare(seasons, treatment, o)
				if err != nil {
					var known []string
					for _, t := range answer.TreatmentsIn(seasons) {
						known = append(known, t.Name)
					}
					return fmt.Errorf("%w; the records know %s", err, list(known))
				}
				out := weighed{f, seasons, append([]string{}, notes...)}
				return y.p.write(out, func(b *bytes.Buffer) error { out.text(b, y.p.system()); return nil })
			})
		},
	})
	addSeasons(c, &weather, &in)
	c.Flags().StringVar(&worthText, "worth", "", "smallest difference worth having: such as 10 (points), 2kg, 3 (days)")
	return c
}

// worthOf reads the difference worth having of an outcome.
func worthOf(text string, o evidence.Outcome) (float64, error) {
	kind, bare, scale := quantity.Fraction, "%", 1.0
	switch o.Unit {
	case "kg":
		kind, bare = quantity.Mass, "kg"
	case "d":
		kind, bare, scale = quantity.Duration, "d", 1.0/86400
	}
	a := amount{kind: kind, bare: bare}
	if err := a.Set(text); err != nil {
		return 0, fmt.Errorf("--worth: %w", err)
	}
	if v := a.value * scale; v > 0 {
		return v, nil
	}
	return 0, fmt.Errorf("--worth %s, accepted: more than nothing", text)
}

func (w weighed) text(b *bytes.Buffer, system quantity.System) {
	f := w.Finding
	b.WriteString(ledger.Wrap(f.Verdict, "", ledger.Width))
	amount := func(v float64) string {
		switch f.Outcome.Unit {
		case "kg":
			return quantity.Format(v, quantity.Mass, system)
		case "d":
			return fmt.Sprintf("%.1f days", v)
		}
		return fmt.Sprintf("%.0f %%", 100*v)
	}
	fmt.Fprintf(b, "\n%s: %s\n", f.Treatment, f.Outcome.Key)
	columns(b, "Hive-seasons", "with", "without")
	columns(b, "counted", fmt.Sprint(f.With.Seasons), fmt.Sprint(f.Without.Seasons))
	columns(b, "mean", amount(f.With.Mean), amount(f.Without.Mean))
	columns(b, "yards", fmt.Sprint(f.With.Yards), fmt.Sprint(f.Without.Yards))
	columns(b, "years", fmt.Sprint(f.With.Years), fmt.Sprint(f.Without.Years))
	for _, l := range f.LeftOut {
		b.WriteString(ledger.Wrap(fmt.Sprintf("left out: %d, %s", l.Seasons, l.Reason), "  ", ledger.Width))
	}
	if f.Further != nil {
		more := fmt.Sprint(f.Further.All)
		if f.Further.AtMost {
			more = "over " + more
		}
		b.WriteString(ledger.Wrap(fmt.Sprintf("%s more hive-seasons of this kind would tell, %.0f times in ten, if the truth were %s with and %s without.", more, 10*f.Further.Chance, amount(f.Further.With), amount(f.Further.Without)), "", ledger.Width))
	}
	for _, c := range f.Cautions {
		b.WriteString(ledger.Wrap("Caution: "+c.Text, "", ledger.Width))
	}
	writeNotes(b, w.Notes)
}

func (y *yardFile) evidenceSize() *cobra.Command {
	var without, with, scatter string
	var years int
	var redrawn bool
	exposed := amount{kind: quantity.Fraction}
	c := y.p.command(&cobra.Command{
		Use:   "size OUTCOME --without 80% --with 95%",
		Short: "Say how many hives and years a trial needs",
		Long: `Say with what chance a trial of so many hives (both arms together) finds a difference of
the size you suppose, and how many hives find it four times in five. --without and
--with are shares for yes or no, else amounts; amounts also need --scatter, the
standard deviation within a yard and year. --exposed is the share of seasons with a hot
spell, for outcomes that need one. --redrawn deals the treatments anew each year.`,
		Example: "  hackle evidence size survived --without 80% --with 95%\n  hackle evidence size \"stores used\" --without 14kg --with 12kg --scatter 3kg --years 2 --redrawn\n  hackle evidence size \"comb fell\" --without 40% --with 15% --exposed 30%",
		Args:    cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			o, err := outcomeNamed(args[0])
			if err != nil {
				return err
			}
			read := func(flag, text string) (float64, error) {
				if text == "" {
					return 0, fmt.Errorf("--%s is wanted", flag)
				}
				v, err := worthOf(text, o)
				if err != nil {
					return 0, fmt.Errorf("--%s: %w", flag, errors.Unwrap(err))
				}
				return v, nil
			}
			t := evidence.Trial{Outcome: o, Redrawn: redrawn, Exposed: exposed.value, ICC: evidence.DefaultMethod().ICC}
			if t.Without, err = read("without", without); err != nil {
				return err
			}
			if t.With, err = read("with", with); err != nil {
				return err
			}
			if o.Unit != "" {
				if t.Scatter, err = read("scatter", scatter); err != nil {
					return err
				}
			}
			if years < 1 || years > 20 {
				return fmt.Errorf("--years %d, accepted: 1 to 20", years)
			}
			curve, err := t.PowerCurve([]int{6, 10, 20, 40, 80, 160}, years)
			if err != nil {
				return err
			}
			const wanted = 0.8
			hives, sizeErr := t.HivesFor(wanted, years)
			out := struct {
				Outcome string                `json:"outcome"`
				Years   int                   `json:"years"`
				Hives   *int                  `json:"hives_for_four_in_five"` // nil when 20,000 would not do
				Curve   []evidence.PowerPoint `json:"curve"`
				Record  []string              `json:"to_record"`
			}{o.Key, years, nil, curve, evidence.ToRecord(o)}
			if sizeErr == nil {
				out.Hives = &hives
			}
			return y.p.write(out, func(b *bytes.Buffer) error {
				if out.Hives != nil {
					b.WriteString(ledger.Wrap(fmt.Sprintf("%d hives, half of them treated, over %s find such a difference four times in five.", hives, plural(years, "season", "seasons")), "", ledger.Width))
				} else {
					b.WriteString(ledger.Wrap("No number of hives under 20,000 finds such a difference four times in five.", "", ledger.Width))
				}
				b.WriteString("\n")
				columns(b, "Hives in both arms", "chance")
				for _, c := range out.Curve {
					columns(b, fmt.Sprint(c.Hives), fmt.Sprintf("%.0f %%", 100*c.Power))
				}
				b.WriteString("\nWrite down\n")
				for _, r := range out.Record {
					b.WriteString(ledger.Wrap("- "+r, "  ", ledger.Width))
				}
				return nil
			})
		},
	})
	c.Flags().StringVar(&without, "without", "", "share or amount as things are")
	c.Flags().StringVar(&with, "with", "", "share or amount with the treatment, if it does what is hoped")
	c.Flags().StringVar(&scatter, "scatter", "", "standard deviation of an amount within yard and year")
	c.Flags().IntVar(&years, "years", 1, "seasons the trial lasts")
	c.Flags().BoolVar(&redrawn, "redrawn", false, "deal the treatments anew each year")
	c.Flags().Var(&exposed, "exposed", "share of seasons with a hot spell, such as 30%")
	return c
}

func (y *yardFile) evidenceDeal() *cobra.Command {
	var treatment, other, outcome, in string
	var hives []string
	var from, years int
	var seed uint64
	c := y.command(&cobra.Command{
		Use:   "deal NAME --treatment T --outcome O --from YEAR",
		Short: "Deal a treatment to hives by lot, and keep the trial",
		Long: `Deal a treatment to hives by lot: hives of a yard that are alike in strength form
blocks, and in each block the lot decides. The trial is kept in the yard file, so that
hackle evidence weigh compares by what the lot gave; a trial of that name must not be
there yet. The same hives and seed give the same plan.

Count the bees first, and record it: the lot makes blocks of hives alike. A hive that
cannot be left without the treatment goes out before the lot, not after. Local rules
and licensed practice come first.`,
		Example: "  hackle evidence deal \"Wool in the lid\" --treatment \"insulated lid\" --outcome \"stores used\" --from 2027 --years 2 --seed 7",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			o, err := outcomeNamed(outcome)
			if err != nil {
				return fmt.Errorf("--outcome: %w", err)
			}
			if strings.TrimSpace(treatment) == "" {
				return errors.New("--treatment is wanted: what some hives get")
			}
			if years < 1 || years > 20 {
				return fmt.Errorf("--years %d, accepted: 1 to 20", years)
			}
			if from < 1950 || from > 2200 {
				return fmt.Errorf("--from is wanted: the year of the first season; a winter is named by the year in which it ends")
			}
			name := strings.TrimSpace(args[0])
			if name == "" || len(name) > 100 {
				return fmt.Errorf("name %q, accepted: 1 to 100 characters", args[0])
			}
			return y.with(ctx, false, func(s *store.Store) error {
				var there answer.Trial
				if ok, err := s.Setting(ctx, answer.TrialSetting+name, &there); err != nil {
					return err
				} else if ok {
					return fmt.Errorf("there is a trial %q already, dealt on %s: a lot is cast once; give another name", name, there.Dealt.Format(time.DateOnly))
				}
				candidates, err := candidatesOf(ctx, s, hives, in)
				if err != nil {
					return err
				}
				if !cmd.Flags().Changed("seed") {
					seed = uint64(time.Now().UnixNano()) % 1_000_000
				}
				plan, err := evidence.Draw(candidates, []string{treatment, other}, seed)
				if err != nil {
					return err
				}
				t := answer.Trial{Name: name, Treatment: treatment, Outcome: o.Key, From: from, To: from + years - 1, Dealt: time.Now().UTC().Truncate(time.Second), Plan: plan}
				if err := s.SetSetting(ctx, answer.TrialSetting+name, t); err != nil {
					return err
				}
				out := struct {
					answer.Trial
					Record []string `json:"to_record"`
				}{t, evidence.ToRecord(o)}
				return y.p.write(out, func(b *bytes.Buffer) error {
					fmt.Fprintf(b, "%s: %s, %d to %d\n\n%s\nWrite down\n", t.Name, o.Key, t.From, t.To, plan.String())
					for _, r := range out.Record {
						b.WriteString(ledger.Wrap("- "+r, "  ", ledger.Width))
					}
					return nil
				})
			})
		},
	})
	c.Flags().StringVar(&treatment, "treatment", "", "what some hives get, named as hackle evidence list names it where it does")
	c.Flags().StringVar(&other, "other", "as before", "what the other hives get")
	c.Flags().StringVar(&outcome, "outcome", "", "what is looked at, decided now")
	c.Flags().StringVar(&in, "in", "", "hives of this yard alone")
	c.Flags().StringArrayVar(&hives, "hive", nil, "this `hive` takes part; may be given several times (default: every hive with a colony)")
	c.Flags().IntVar(&from, "from", 0, "year of the first season")
	c.Flags().IntVar(&years, "years", 1, "seasons")
	c.Flags().Uint64Var(&seed, "seed", 0, "seed of the lot (default: a new one)")
	return c
}

// candidatesOf lists the hives that may take part in a trial, with their last count
// of bees.
func candidatesOf(ctx context.Context, s *store.Store, wanted []string, in string) ([]evidence.Candidate, error) {
	n, err := s.Notebook(ctx, false)
	if err != nil {
		return nil, err
	}
	only := map[yard.ID]bool{}
	for _, name := range wanted {
		id, err := n.FindHive(name, in)
		if err != nil {
			return nil, err
		}
		only[id] = true
	}
	var inID yard.ID
	if in != "" {
		if inID, err = n.FindYard(in); err != nil {
			return nil, err
		}
	}
	yards := map[yard.ID]string{}
	for _, v := range n.Yards {
		yards[v.ID] = v.Name
	}
	now := time.Now()
	settled := map[yard.ID]bool{}
	for _, c := range n.Colonies {
		if l, err := yard.LifeOf(c.ID, n.Records); err == nil && l.Alive(now) {
			if h, ok := l.HiveAt(now); ok {
				settled[h] = true
			}
		}
	}
	var out []evidence.Candidate
	for _, h := range n.Hives {
		if len(only) > 0 && !only[h.ID] || len(only) == 0 && !settled[h.ID] || inID != "" && h.Yard != inID {
			continue
		}
		c := evidence.Candidate{Hive: h.Name, Yard: yards[h.Yard]}
		latest := now.AddDate(0, -3, 0) // an older count says nothing of now
		for _, r := range n.Records {
			if v, ok := r.Number("frames_of_bees"); ok && r.Hive == h.ID && r.Kind == yard.Inspection && r.At.After(latest) {
				c.FramesOfBees, latest = v, r.At
			}
		}
		out = append(out, c)
	}
	if len(out) < 2 {
		return nil, fmt.Errorf("%d hives can take part, wanted at least two: every hive with a living colony, or name them with --hive", len(out))
	}
	return out, nil
}

func (y *yardFile) evidenceTrials() *cobra.Command {
	return y.command(&cobra.Command{
		Use:     "trials [NAME]",
		Short:   "List the kept trials, or print what the lot gave in one",
		Long:    "List the kept trials, or print what the lot gave in one.",
		Example: "  hackle evidence trials\n  hackle evidence trials \"Wool in the lid\"",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return y.with(ctx, false, func(s *store.Store) error {
				all, err := trials(ctx, s)
				if err != nil {
					return err
				}
				if len(args) == 1 {
					for _, t := range all {
						if strings.EqualFold(t.Name, args[0]) {
							return y.p.write(t, func(b *bytes.Buffer) error {
								fmt.Fprintf(b, "%s: %s by %s, %d to %d\n\n%s", t.Name, t.Treatment, t.Outcome, t.From, t.To, t.Plan.String())
								return nil
							})
						}
					}
					return fmt.Errorf("there is no trial %q", args[0])
				}
				return y.p.write(append([]answer.Trial{}, all...), func(b *bytes.Buffer) error {
					if len(all) == 0 {
						b.WriteString("no trial is kept\n")
					}
					for _, t := range all {
						fmt.Fprintf(b, "%s: %s by %s, %d to %d, %s\n", t.Name, t.Treatment, t.Outcome, t.From, t.To, plural(len(t.Plan.Assignments), "hive", "hives"))
					}
					return nil
				})
			})
		},
	})
}
