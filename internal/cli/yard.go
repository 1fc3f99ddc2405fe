package cli

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"hackle/internal/store"
	"hackle/quantity"
	"hackle/yard"
)

// yardCommand leads to the notebook on the command line.
func (p *program) yardCommand() *cobra.Command {
	y := &yardFile{p: p}
	c := &cobra.Command{
		Use:   "yard",
		Short: "Keep the notebook of yards, hives, colonies and what was seen and done",
		Long: `Keep the notebook: yards, hives and how they were built over time, colonies and where
they live, and the records of what was seen and done.

Everything stands in one file, the yard file, which the web pages use too. Nothing that was once kept is rubbed out: edits keep every version, what is deleted is marked. Yards, hives and colonies are named by their names, or by their ID.`,
		Example: `  hackle yard add yard "Home" --latitude 44.5 --longitude 73.2W --height 110m
  hackle yard add hive "By the hedge" --build by-the-hedge.yaml
  hackle yard add colony "Ada" --hive "By the hedge"
  hackle yard record weight "By the hedge" reading="70 lb" side=back
  hackle yard show "By the hedge"
  hackle yard backup /media/stick/yard.sqlite`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	c.AddCommand(y.addCommand(), y.listCommand(), y.showCommand(), y.kindsCommand(), y.recordCommand(), y.buildCommand(), y.changeCommand(), y.editCommand(),
		y.deleteCommand(), y.undoCommand(), y.historyCommand(), y.exportCommand(), y.importCommand(), y.backupCommand(), y.restoreCommand(), y.checkCommand())
	return c
}

// yardFile is what the commands of the notebook share.
type yardFile struct {
	p    *program
	path string
}

// command gives c the flags that every command of the notebook has.
func (y *yardFile) command(c *cobra.Command) *cobra.Command {
	y.p.command(c)
	c.Flags().StringVar(&y.path, "yard", "", "the yard file (default: hackle/yard.sqlite in your data folder)")
	return c
}

// where is the path of the yard file.
func (y *yardFile) where() (string, error) {
	if y.path != "" {
		return y.path, nil
	}
	return store.DefaultPath()
}

// with opens the yard file, a new one only when making is true, for the time of f.
func (y *yardFile) with(ctx context.Context, making bool, f func(*store.Store) error) (err error) {
	path, err := y.where()
	if err != nil {
		return err
	}
	s, err := store.Open(ctx, path, store.Options{Existing: !making})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	return f(s)
}

// kept is the result of a command that keeps one thing.
type kept struct {
	File  string `json:"file"`
	Kind  string `json:"kind"` // "yard", "hive", "build", "colony" or "record"
	Thing any    `json:"thing"`
	say   string
}

func (y *yardFile) tell(k kept) error {
	return y.p.write(k, func(b *bytes.Buffer) error {
		fmt.Fprintln(b, k.say)
		return nil
	})
}

func (y *yardFile) addCommand() *cobra.Command {
	c := &cobra.Command{
		Use:     "add",
		Short:   "Add a yard, a hive or a colony",
		Long:    "Add a yard, a hive or a colony. A yard file that is not there yet is made.",
		Example: "  hackle yard add yard \"Home\" --latitude 44.5 --longitude 73.2W --height 110m\n  hackle yard add hive \"By the hedge\" --build by-the-hedge.yaml\n  hackle yard add colony \"Ada\" --hive \"By the hedge\"",
		Args:    cobra.NoArgs,
		RunE:    func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	c.AddCommand(y.addYard(), y.addHive(), y.addColony())
	return c
}

func (y *yardFile) addYard() *cobra.Command {
	var (
		latitude  = coordinate{positive: "N", negative: "S", most: 90}
		longitude = coordinate{positive: "E", negative: "W", most: 180}
		height    = amount{kind: quantity.Length, bare: "m"}
		weather   string
		note      string
	)
	c := y.command(&cobra.Command{
		Use:     "yard NAME",
		Short:   "Add a yard",
		Long:    "Add a yard: a place where hives stand.",
		Example: "  hackle yard add yard \"Home\" --latitude 44.5 --longitude 73.2W --height 110m --weather burlington-vt",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			v := yard.Yard{Name: args[0], Weather: weather, Note: note}
			if given := latitude.given || longitude.given || height.given; given {
				if !latitude.given || !longitude.given || !height.given {
					return errors.New("--latitude, --longitude and --height belong together")
				}
				v.HasPlace, v.Latitude, v.Longitude, v.Height = true, latitude.value, longitude.value, height.value
			}
			return y.with(cmd.Context(), true, func(s *store.Store) (err error) {
				if v.ID, err = yard.NewID(); err != nil {
					return internal(err)
				}
				v, err := s.Yards.Put(cmd.Context(), v)
				if err != nil {
					return err
				}
				return y.tell(kept{s.Path(), "yard", v, fmt.Sprintf("added the yard %s to %s", v.Name, s.Path())})
			})
		},
	})
	c.Flags().Var(&latitude, "latitude", "north positive, in degrees, or with N or S")
	c.Flags().Var(&longitude, "longitude", "east positive, in degrees, or with E or W")
	c.Flags().Var(&height, "height", "above the sea")
	c.Flags().StringVar(&weather, "weather", "", "built-in weather to compute its hives with")
	c.Flags().StringVar(&note, "note", "", "anything else")
	return c
}

func (y *yardFile) addHive() *cobra.Command {
	var (
		in, build, note string
		from            string
		east            = amount{kind: quantity.Length, bare: "m"}
		north           = amount{kind: quantity.Length, bare: "m"}
	)
	c := y.command(&cobra.Command{
		Use:     "hive NAME",
		Short:   "Add a hive to a yard",
		Long:    "Add a hive to a yard. A hive file tells how it is built; see also hackle yard build.",
		Example: "  hackle yard add hive \"By the hedge\" --in Home --build by-the-hedge.yaml --from 2025-10-01",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			v := yard.Hive{Name: args[0], Note: note}
			if east.given != north.given {
				return errors.New("--east and --north belong together")
			}
			v.HasPosition, v.X, v.Y = east.given, east.value, north.value
			var text []byte
			if build != "" {
				var err error
				if text, err = os.ReadFile(build); err != nil {
					return err
				}
			}
			return y.with(ctx, true, func(s *store.Store) error {
				n, err := s.Notebook(ctx, false)
				if err != nil {
					return err
				}
				if v.Yard, err = onlyYard(n, in); err != nil {
					return err
				}
				if v.ID, err = yard.NewID(); err != nil {
					return internal(err)
				}
				add := &yard.Notebook{Hives: []yard.Hive{v}}
				if build != "" {
					b, err := newBuild(v.ID, from, text, "")
					if err != nil {
						return err
					}
					add.Builds = []yard.Build{b}
				}
				if _, err := s.Merge(ctx, add, false); err != nil { // both or neither
					return err
				}
				if v, err = s.Hives.Get(ctx, v.ID); err != nil {
					return err
				}
				return y.tell(kept{s.Path(), "hive", v, fmt.Sprintf("added the hive %s", v.Name)})
			})
		},
	})
	c.Flags().StringVar(&in, "in", "", "its yard (default: the only one)")
	c.Flags().StringVar(&build, "build", "", "hive file that tells how it is built")
	c.Flags().StringVar(&from, "from", "", "first day it is built so, as 2025-10-01 (default: today)")
	c.Flags().Var(&east, "east", "how far east of a corner of the yard it stands")
	c.Flags().Var(&north, "north", "how far north of that corner")
	c.Flags().StringVar(&note, "note", "", "anything else")
	return c
}

func newBuild(hive yard.ID, from string, text []byte, note string) (yard.Build, error) {
	id, err := yard.NewID()
	if err != nil {
		return yard.Build{}, internal(err)
	}
	if from == "" {
		from = time.Now().Format(time.DateOnly)
	}
	return yard.Build{Meta: yard.Meta{ID: id}, Hive: hive, From: from, File: strings.ReplaceAll(string(text), "\r\n", "\n"), Note: note}, nil
}

// onlyYard finds the yard that is named, or the only one when none is.
func onlyYard(n *yard.Notebook, name string) (yard.ID, error) {
	if name != "" {
		return n.FindYard(name)
	}
	switch len(n.Yards) {
	case 0:
		return "", errors.New("there is no yard yet; add one first: hackle yard add yard NAME")
	case 1:
		return n.Yards[0].ID, nil
	}
	return "", errors.New("there are several yards; name one with --in")
}

func (y *yardFile) addColony() *cobra.Command {
	var in, hive, origin, from, on, note string
	c := y.command(&cobra.Command{
		Use:     "colony NAME",
		Short:   "Add a colony and say where it lives",
		Long:    "Add a colony and, with --hive, say where it lives from a day on.",
		Example: "  hackle yard add colony \"Ada\" --hive \"By the hedge\" --on 2025-05-20 --origin swarm",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return y.with(ctx, true, func(s *store.Store) error {
				n, err := s.Notebook(ctx, false)
				if err != nil {
					return err
				}
				v := yard.Colony{Name: args[0], Origin: origin, Note: note}
				if v.ID, err = yard.NewID(); err != nil {
					return internal(err)
				}
				if from != "" {
					if v.From, err = n.FindColony(from); err != nil {
						return err
					}
				}
				add := &yard.Notebook{Colonies: []yard.Colony{v}}
				if hive != "" {
					r := yard.Record{Kind: yard.Moved, Colony: v.ID}
					if r.Hive, err = n.FindHive(hive, in); err != nil {
						return err
					}
					if r.ID, err = yard.NewID(); err != nil {
						return internal(err)
					}
					if r.At, err = timeOf(on); err != nil {
						return err
					}
					add.Records = []yard.Record{r}
				}
				if _, err := s.Merge(ctx, add, false); err != nil {
					return err
				}
				if v, err = s.Colonies.Get(ctx, v.ID); err != nil {
					return err
				}
				return y.tell(kept{s.Path(), "colony", v, fmt.Sprintf("added the colony %s", v.Name)})
			})
		},
	})
	c.Flags().StringVar(&hive, "hive", "", "hive that it lives in")
	c.Flags().StringVar(&in, "in", "", "yard of that hive, where two hives have one name")
	c.Flags().StringVar(&on, "on", "", "since when, as 2025-05-20 or 2025-05-20 14:30 (default: now)")
	c.Flags().StringVar(&origin, "origin", "", "how it began: "+list(yard.Origins()))
	c.Flags().StringVar(&from, "from", "", "colony that it came from")
	c.Flags().StringVar(&note, "note", "", "anything else")
	return c
}

// timeOf reads a time in the zone of this machine, now when there is none.
func timeOf(text string) (time.Time, error) {
	if text == "" {
		text = time.Now().Format(time.RFC3339)
	}
	return yard.ParseTime(text, time.Local)
}

func (y *yardFile) buildCommand() *cobra.Command {
	var in, from, note string
	c := y.command(&cobra.Command{
		Use:     "build HIVE FILE",
		Short:   "Say how a hive is built from a day on",
		Long:    "Keep a hive file as the build of a hive from a day on. Earlier builds stay. The file - is standard input.",
		Example: "  hackle yard build \"By the hedge\" by-the-hedge.yaml --from 2025-10-01 --note \"3 in of wool in the lid\"",
		Args:    cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			text, err := y.p.readInput(args[1])
			if err != nil {
				return err
			}
			return y.with(ctx, false, func(s *store.Store) error {
				n, err := s.Notebook(ctx, false)
				if err != nil {
					return err
				}
				hive, err := n.FindHive(args[0], in)
				if err != nil {
					return err
				}
				b, err := newBuild(hive, from, text, note)
				if err != nil {
					return err
				}
				if b, err = s.Builds.Put(ctx, b); err != nil {
					return err
				}
				return y.tell(kept{s.Path(), "build", b, fmt.Sprintf("%s is built so from %s on", n.HiveName(hive), b.From)})
			})
		},
	})
	c.Flags().StringVar(&in, "in", "", "yard of the hive, where two hives have one name")
	c.Flags().StringVar(&from, "from", "", "first day it is built so, as 2025-10-01 (default: today)")
	c.Flags().StringVar(&note, "note", "", "what was changed and why")
	return c
}

// readInput reads a file, standard input for -.
func (p *program) readInput(path string) ([]byte, error) {
	if path == "-" {
		return io.ReadAll(p.stdin)
	}
	return os.ReadFile(path)
}

func (y *yardFile) kindsCommand() *cobra.Command {
	return y.p.command(&cobra.Command{
		Use:     "kinds [KIND]",
		Short:   "List the kinds of records and their fields",
		Long:    "List the kinds of records, or the fields of one kind with what they take.",
		Example: "  hackle yard kinds\n  hackle yard kinds weight",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			kinds := yard.Kinds()
			if len(args) == 1 {
				k, err := kindOf(args[0])
				if err != nil {
					return err
				}
				kinds = []yard.KindInfo{k}
			}
			return y.p.write(kinds, func(b *bytes.Buffer) error {
				w := tabwriter.NewWriter(b, 0, 4, 2, ' ', 0)
				for _, k := range kinds {
					fmt.Fprintf(w, "%s\t%s\n", k.Kind, k.Meaning)
					if len(args) == 0 {
						continue
					}
					for _, f := range k.Fields {
						need := ""
						if f.Required {
							need = " (needed)"
						}
						fmt.Fprintf(w, "  %s\t%s; %s%s\n", f.Name, f.Meaning, f.Takes(), need)
					}
				}
				return w.Flush()
			})
		},
	})
}

// kindOf finds a kind of record by name.
func kindOf(name string) (yard.KindInfo, error) {
	k, ok := yard.KindOf(yard.Kind(strings.ToLower(name)))
	if !ok {
		var known []string
		for _, k := range yard.Kinds() {
			known = append(known, string(k.Kind))
		}
		return k, fmt.Errorf("%q is no kind of record; there are %s", name, list(known))
	}
	return k, nil
}

func (y *yardFile) recordCommand() *cobra.Command {
	var in, colony, at, note string
	c := y.command(&cobra.Command{
		Use:   "record KIND HIVE [FIELD=VALUE]...",
		Short: "Write down what was seen or done at a hive",
		Long: `Write down what was seen or done at a hive. hackle yard kinds lists the kinds and their fields. A field may be named without the unit at its end; a number is in that unit, or carries its own.

The colony is the one that lives in the hive then, unless --colony names another. For a record of a colony alone, HIVE is -.`,
		Example: `  hackle yard record weight "By the hedge" reading="70 lb" side=back
  hackle yard record inspection "By the hedge" frames_of_bees=8 queen=seen --at "2026-04-12 14:30"
  hackle yard record died - cause=starved --colony Ada
  hackle yard record note "By the hedge" --note "woodpecker at the lid"`,
		Args: cobra.MinimumNArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			k, err := kindOf(args[0])
			if err != nil {
				return err
			}
			return y.with(ctx, false, func(s *store.Store) error {
				n, err := s.Notebook(ctx, false)
				if err != nil {
					return err
				}
				r := yard.Record{Kind: k.Kind, Note: note}
				if args[1] != "-" {
					if r.Hive, err = n.FindHive(args[1], in); err != nil {
						return err
					}
				}
				if colony != "" {
					if r.Colony, err = n.FindColony(colony); err != nil {
						return err
					}
				}
				if r.ID, err = yard.NewID(); err != nil {
					return internal(err)
				}
				if r.At, err = timeOf(at); err != nil {
					return err
				}
				if r.Values, err = valuesOf(k, n, args[2:]); err != nil {
					return err
				}
				maps.DeleteFunc(r.Values, func(_ string, v any) bool { return v == nil })
				if r, err = s.Records.Put(ctx, r); err != nil {
					return err
				}
				return y.tell(kept{s.Path(), "record", r, "kept: " + y.line(n, r)})
			})
		},
	})
	c.Flags().StringVar(&in, "in", "", "yard of the hive, where two hives have one name")
	c.Flags().StringVar(&colony, "colony", "", "colony that it concerns (default: the one in the hive)")
	c.Flags().StringVar(&at, "at", "", "when, as 2026-04-12 14:30, or a day, which is its noon (default: now)")
	c.Flags().StringVar(&note, "note", "", "anything else")
	return c
}

// valuesOf reads fields given as name=value.
func valuesOf(k yard.KindInfo, n *yard.Notebook, args []string) (map[string]any, error) {
	values := map[string]any{}
	var faults []error
	for _, a := range args {
		name, text, ok := strings.Cut(a, "=")
		f, known := fieldOf(k, strings.TrimSpace(name))
		switch {
		case !ok || !known:
			var names []string
			for _, f := range k.Fields {
				names = append(names, f.Name)
			}
			faults = append(faults, fmt.Errorf("%q: wanted FIELD=VALUE with a field of a %s: %s", a, k.Kind, cmp.Or(list(names), "it has none, write it into --note")))
			continue
		case strings.TrimSpace(text) == "":
			values[f.Name] = nil // to be taken out, where that is asked for
			continue
		}
		v, err := f.ParseValue(text, n)
		faults = append(faults, err)
		values[f.Name] = v
	}
	return values, errors.Join(faults...)
}

// fieldOf finds a field by its name, with or without the unit at its end.
func fieldOf(k yard.KindInfo, name string) (yard.Field, bool) {
	name = strings.ReplaceAll(strings.ToLower(name), "-", "_")
	for _, f := range k.Fields {
		short := f.Name
		if f.Unit != "" {
			if i := strings.LastIndexByte(short, '_'); i > 0 {
				short = short[:i]
			}
		}
		if name == f.Name || name == short {
			return f, true
		}
	}
	return yard.Field{}, false
}

// line writes a record in one line.
func (y *yardFile) line(n *yard.Notebook, r yard.Record) string {
	k, _ := yard.KindOf(r.Kind)
	parts := []string{r.At.Format("2006-01-02 15:04"), k.Title}
	text := strings.Join(parts, "  ")
	if say := r.Say(n, y.p.system()); say != "" {
		text += ": " + say
	}
	if r.Note != "" {
		text += "; " + strings.ReplaceAll(r.Note, "\n", " / ")
	}
	if r.Deleted {
		text += " (deleted)"
	}
	return text
}

// listed is the result of the command list.
type listed struct {
	File  string       `json:"file"`
	Yards []listedYard `json:"yards"`
	// Homeless are living colonies that no record puts into a hive.
	Homeless []string `json:"colonies_without_hive"`
}

type listedYard struct {
	Yard  yard.Yard    `json:"yard"`
	Hives []listedHive `json:"hives"`
}

type listedHive struct {
	Hive    yard.Hive    `json:"hive"`
	Colony  string       `json:"colony"`     // that lives in it, empty for none
	Build   string       `json:"build_from"` // day since which its present build holds, empty for none
	Records int          `json:"records"`
	Last    *yard.Record `json:"last_record"`
	n       *yard.Notebook
}

func (y *yardFile) listCommand() *cobra.Command {
	return y.command(&cobra.Command{
		Use:     "list",
		Short:   "List yards and hives with their colonies",
		Long:    "List yards and hives with the colonies that live in them now and the latest record of each.",
		Example: "  hackle yard list\n  hackle yard list --json",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			ctx := cmd.Context()
			return y.with(ctx, false, func(s *store.Store) error {
				n, err := s.Notebook(ctx, false)
				if err != nil {
					return err
				}
				in, err := s.Occupants(ctx, time.Now())
				if err != nil {
					return err
				}
				lives, err := s.Lives(ctx)
				if err != nil {
					return err
				}
				result := listing(n, in, lives, s.Path())
				return y.p.write(result, func(b *bytes.Buffer) error { return y.writeList(b, result) })
			})
		},
	})
}

func listing(n *yard.Notebook, in map[yard.ID]yard.Colony, lives map[yard.ID]yard.Life, path string) listed {
	result := listed{File: path, Yards: []listedYard{}, Homeless: []string{}}
	today := time.Now().Format(time.DateOnly)
	for _, v := range n.Yards {
		ly := listedYard{Yard: v, Hives: []listedHive{}}
		for _, h := range n.Hives {
			if h.Yard != v.ID {
				continue
			}
			lh := listedHive{Hive: h, Colony: in[h.ID].Name, n: n}
			var builds []yard.Build
			for _, b := range n.Builds {
				if b.Hive == h.ID {
					builds = append(builds, b)
				}
			}
			if b, ok := yard.BuildOn(builds, today); ok {
				lh.Build = b.From
			}
			for i, r := range n.Records { // by time
				if r.Hive == h.ID {
					lh.Records++
					lh.Last = &n.Records[i]
				}
			}
			ly.Hives = append(ly.Hives, lh)
		}
		result.Yards = append(result.Yards, ly)
	}
	housed := map[yard.ID]bool{}
	for _, c := range in {
		housed[c.ID] = true
	}
	for _, c := range n.Colonies {
		if life := lives[c.ID]; life.End.IsZero() && !housed[c.ID] {
			result.Homeless = append(result.Homeless, c.Name)
		}
	}
	return result
}

func (y *yardFile) writeList(b *bytes.Buffer, result listed) error {
	if len(result.Yards) == 0 {
		fmt.Fprintln(b, "no yard yet; add one: hackle yard add yard NAME")
	}
	for i, v := range result.Yards {
		if i > 0 {
			fmt.Fprintln(b)
		}
		fmt.Fprintf(b, "%s", v.Yard.Name)
		if v.Yard.HasPlace {
			fmt.Fprintf(b, "  %.4g°, %.4g°, %s above the sea", v.Yard.Latitude, v.Yard.Longitude, quantity.Format(v.Yard.Height, quantity.Length, y.p.system()))
		}
		fmt.Fprintln(b)
		w := tabwriter.NewWriter(b, 0, 4, 2, ' ', 0)
		for _, h := range v.Hives {
			colony := cmp.Or(h.Colony, "empty")
			last := "no records"
			if h.Last != nil {
				last = y.line(h.n, *h.Last)
			}
			fmt.Fprintf(w, "  %s\t%s\t%s\n", h.Hive.Name, colony, last)
		}
		if err := w.Flush(); err != nil {
			return err
		}
	}
	if len(result.Homeless) > 0 {
		fmt.Fprintf(b, "\nwithout a hive: %s\n", list(result.Homeless))
	}
	return nil
}

// hiveNotebook is the result of the command show.
type hiveNotebook struct {
	File    string        `json:"file"`
	Hive    yard.Hive     `json:"hive"`
	Builds  []yard.Build  `json:"builds"`
	Records []yard.Record `json:"records"`
}

func (y *yardFile) showCommand() *cobra.Command {
	var in, from, to string
	var kinds []string
	var ids bool
	c := y.command(&cobra.Command{
		Use:     "show HIVE",
		Short:   "Show the notebook of a hive",
		Long:    "Show how a hive was built over time and what was seen and done at it.",
		Example: "  hackle yard show \"By the hedge\"\n  hackle yard show \"By the hedge\" --kind weight --from 2025-08-01 --json",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			filter := store.RecordFilter{}
			for _, name := range kinds {
				k, err := kindOf(name)
				if err != nil {
					return err
				}
				filter.Kinds = append(filter.Kinds, k.Kind)
			}
			var err error
			if filter.From, err = dayBegins(from); err != nil {
				return err
			}
			if filter.To, err = dayBegins(to); err != nil {
				return err
			}
			return y.with(ctx, false, func(s *store.Store) error {
				n, err := s.Notebook(ctx, false)
				if err != nil {
					return err
				}
				if filter.Hive, err = n.FindHive(args[0], in); err != nil {
					return err
				}
				result := hiveNotebook{File: s.Path()}
				if result.Hive, err = s.Hives.Get(ctx, filter.Hive); err != nil {
					return err
				}
				if result.Builds, err = s.BuildsOf(ctx, filter.Hive); err != nil {
					return err
				}
				if result.Records, err = s.FindRecords(ctx, filter); err != nil {
					return err
				}
				return y.p.write(result, func(b *bytes.Buffer) error {
					fmt.Fprintln(b, result.Hive.Name)
					for _, v := range result.Builds {
						fmt.Fprintf(b, "%s        built so", v.From)
						if v.Note != "" {
							fmt.Fprintf(b, ": %s", v.Note)
						}
						fmt.Fprintln(b)
					}
					for _, r := range result.Records {
						fmt.Fprint(b, y.line(n, r))
						if ids {
							fmt.Fprintf(b, "  [%s]", r.ID)
						}
						fmt.Fprintln(b)
					}
					return nil
				})
			})
		},
	})
	c.Flags().StringVar(&in, "in", "", "yard of the hive, where two hives have one name")
	c.Flags().StringSliceVar(&kinds, "kind", nil, "only records of these kinds")
	c.Flags().StringVar(&from, "from", "", "from this day on, as 2025-08-01")
	c.Flags().StringVar(&to, "to", "", "up to, not including, this day")
	c.Flags().BoolVar(&ids, "ids", false, "show the ID of each record, for edit, delete, undo and history")
	return c
}

// dayBegins reads a day, zero when there is none.
func dayBegins(text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	at, err := time.ParseInLocation(time.DateOnly, text, time.Local)
	if err != nil {
		return at, fmt.Errorf("%q is no day such as 2025-08-01", text)
	}
	return at, nil
}

// changeCommand alters what is no record.
func (y *yardFile) changeCommand() *cobra.Command {
	c := &cobra.Command{
		Use:     "change",
		Short:   "Rename, move, delete or bring back a yard, a hive or a colony",
		Long:    "Rename, move, delete or bring back a yard, a hive or a colony. Only what is named by a flag changes, and the earlier versions stay. What was deleted is found by its ID, which hackle yard export tells.",
		Example: "  hackle yard change hive \"By the hedge\" --name \"By the wall\"\n  hackle yard change yard Home --weather burlington-vt\n  hackle yard change colony Ada --delete",
		Args:    cobra.NoArgs,
		RunE:    func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	var in string
	hive := changeOf(y, "hive", func(s *store.Store) *store.Collection[yard.Hive] { return s.Hives },
		func(n *yard.Notebook, name string) (yard.ID, error) { return n.FindHive(name, in) },
		func(h *yard.Hive) (*yard.Meta, *string, *string) { return &h.Meta, &h.Name, &h.Note })
	var to string
	var east, north amount
	east, north = amount{kind: quantity.Length, bare: "m"}, amount{kind: quantity.Length, bare: "m"}
	hive.more = func(n *yard.Notebook, h *yard.Hive) (err error) {
		if east.given != north.given {
			return errors.New("--east and --north belong together")
		}
		if east.given {
			h.HasPosition, h.X, h.Y = true, east.value, north.value
		}
		if to != "" {
			h.Yard, err = n.FindYard(to)
		}
		return err
	}
	hiveCommand := hive.command()
	hiveCommand.Flags().StringVar(&in, "in", "", "its yard, where two hives have one name")
	hiveCommand.Flags().StringVar(&to, "to-yard", "", "yard that it stands in from now on")
	hiveCommand.Flags().Var(&east, "east", "how far east of a corner of the yard it stands")
	hiveCommand.Flags().Var(&north, "north", "how far north of that corner")

	place := changeOf(y, "yard", func(s *store.Store) *store.Collection[yard.Yard] { return s.Yards },
		func(n *yard.Notebook, name string) (yard.ID, error) { return n.FindYard(name) },
		func(v *yard.Yard) (*yard.Meta, *string, *string) { return &v.Meta, &v.Name, &v.Note })
	where := newPlaceFlags()
	var weather string
	yardCommand := place.command()
	place.more = func(_ *yard.Notebook, v *yard.Yard) error {
		if yardCommand.Flags().Changed("weather") {
			v.Weather = weather
		}
		given := []bool{where.latitude.given, where.longitude.given, where.height.given}
		if !slices.Contains(given, true) {
			return nil
		}
		if !v.HasPlace && slices.Contains(given, false) {
			return errors.New("--latitude, --longitude and --height belong together")
		}
		v.HasPlace = true
		for i, into := range []*float64{&v.Latitude, &v.Longitude, &v.Height} {
			if given[i] {
				*into = []float64{where.latitude.value, where.longitude.value, where.height.value}[i]
			}
		}
		return nil
	}
	where.flags(yardCommand)
	yardCommand.Flags().StringVar(&weather, "weather", "", "built-in weather to compute its hives with")

	colony := changeOf(y, "colony", func(s *store.Store) *store.Collection[yard.Colony] { return s.Colonies },
		func(n *yard.Notebook, name string) (yard.ID, error) { return n.FindColony(name) },
		func(v *yard.Colony) (*yard.Meta, *string, *string) { return &v.Meta, &v.Name, &v.Note })
	var origin string
	colonyCommand := colony.command()
	colony.more = func(_ *yard.Notebook, v *yard.Colony) error {
		if colonyCommand.Flags().Changed("origin") {
			v.Origin = origin
		}
		return nil
	}
	colonyCommand.Flags().StringVar(&origin, "origin", "", "how it began: "+list(yard.Origins()))
	c.AddCommand(yardCommand, hiveCommand, colonyCommand)
	return c
}

// changer is the command that changes a thing of one type.
type changer[T interface{ Check() error }] struct {
	y     *yardFile
	what  string
	in    func(*store.Store) *store.Collection[T]
	find  func(*yard.Notebook, string) (yard.ID, error)
	parts func(*T) (meta *yard.Meta, name, note *string)
	more  func(*yard.Notebook, *T) error // sets what its own flags say
}

func changeOf[T interface{ Check() error }](y *yardFile, what string, in func(*store.Store) *store.Collection[T], find func(*yard.Notebook, string) (yard.ID, error), parts func(*T) (*yard.Meta, *string, *string)) *changer[T] {
	return &changer[T]{y: y, what: what, in: in, find: find, parts: parts}
}

func (c *changer[T]) command() *cobra.Command {
	var name, note string
	var remove, restore bool
	cmd := c.y.command(&cobra.Command{
		Use:     c.what + " NAME",
		Short:   "Rename, change, delete or bring back a " + c.what,
		Long:    "Change a " + c.what + ". Only what is named by a flag changes, and the earlier versions stay.",
		Example: "  hackle yard change " + c.what + " \"One\" --name \"Another\"",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return c.y.with(ctx, false, func(s *store.Store) error {
				n, err := s.Notebook(ctx, false)
				if err != nil {
					return err
				}
				id, err := c.find(n, args[0])
				if err != nil {
					return err
				}
				v, err := c.in(s).Get(ctx, id)
				if err != nil {
					return err
				}
				m, itsName, itsNote := c.parts(&v)
				if cmd.Flags().Changed("name") {
					*itsName = name
				}
				if cmd.Flags().Changed("note") {
					*itsNote = note
				}
				if remove || restore {
					m.Deleted = remove
				}
				if err := c.more(n, &v); err != nil {
					return err
				}
				before := m.Revision
				if v, err = c.in(s).Put(ctx, v); err != nil {
					return err
				}
				m, itsName, _ = c.parts(&v)
				say := fmt.Sprintf("changed the %s %s", c.what, *itsName)
				switch {
				case m.Revision == before:
					say = fmt.Sprintf("the %s %s was so already", c.what, *itsName)
				case m.Deleted:
					say = fmt.Sprintf("deleted the %s %s; --restore with its ID %s brings it back", c.what, *itsName, m.ID)
				}
				return c.y.tell(kept{s.Path(), c.what, v, say})
			})
		},
	})
	cmd.Flags().StringVar(&name, "name", "", "its new name")
	cmd.Flags().StringVar(&note, "note", "", "the note")
	cmd.Flags().BoolVar(&remove, "delete", false, "mark it as deleted")
	cmd.Flags().BoolVar(&restore, "restore", false, "bring it back after it was deleted")
	cmd.MarkFlagsMutuallyExclusive("delete", "restore")
	return cmd
}

// recordNamed finds a record by its ID.
func recordNamed(ctx context.Context, s *store.Store, text string) (yard.Record, error) {
	id, err := yard.ParseID(text)
	if err != nil {
		return yard.Record{}, fmt.Errorf("%w; hackle yard show HIVE --ids tells them", err)
	}
	return s.Records.Get(ctx, id)
}

func (y *yardFile) editCommand() *cobra.Command {
	var at, note string
	c := y.command(&cobra.Command{
		Use:     "edit ID [FIELD=VALUE]...",
		Short:   "Correct a record",
		Long:    "Correct a record: the fields that are named, and no other. FIELD= takes a field out. The earlier version stays in the history.",
		Example: "  hackle yard edit 01890a5d-ac96-774b-bcce-b302099a8057 reading=31.5 --at \"2026-01-31 14:30\"",
		Args:    cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return y.with(ctx, false, func(s *store.Store) error {
				r, err := recordNamed(ctx, s, args[0])
				if err != nil {
					return err
				}
				n, err := s.Notebook(ctx, false)
				if err != nil {
					return err
				}
				k, err := kindOf(string(r.Kind))
				if err != nil {
					return internal(err)
				}
				values, err := valuesOf(k, n, args[1:])
				if err != nil {
					return err
				}
				for name, v := range values {
					if v == nil {
						delete(r.Values, name)
					} else {
						r.Values[name] = v
					}
				}
				if cmd.Flags().Changed("note") {
					r.Note = note
				}
				if at != "" {
					if r.At, err = timeOf(at); err != nil {
						return err
					}
				}
				if r, err = s.Records.Put(ctx, r); err != nil {
					return err
				}
				return y.tell(kept{s.Path(), "record", r, "kept: " + y.line(n, r)})
			})
		},
	})
	c.Flags().StringVar(&at, "at", "", "when it was, as 2026-04-12 14:30")
	c.Flags().StringVar(&note, "note", "", "the note")
	return c
}

// change makes a command that turns one record into another version of itself.
func (y *yardFile) change(use, short, long, example, done string, f func(context.Context, *store.Store, yard.Record) (yard.Record, error)) *cobra.Command {
	return y.command(&cobra.Command{
		Use: use, Short: short, Long: long, Example: example, Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return y.with(ctx, false, func(s *store.Store) error {
				r, err := recordNamed(ctx, s, args[0])
				if err != nil {
					return err
				}
				if r, err = f(ctx, s, r); err != nil {
					return err
				}
				n, err := s.Notebook(ctx, false)
				if err != nil {
					return err
				}
				return y.tell(kept{s.Path(), "record", r, done + ": " + y.line(n, r)})
			})
		},
	})
}

func (y *yardFile) deleteCommand() *cobra.Command {
	return y.change("delete ID", "Mark a record as deleted", "Mark a record as deleted. It stays in the file with its history, and undo brings it back.",
		"  hackle yard delete 01890a5d-ac96-774b-bcce-b302099a8057", "deleted",
		func(ctx context.Context, s *store.Store, r yard.Record) (yard.Record, error) {
			return s.Records.Delete(ctx, r.ID, r.Revision)
		})
}

func (y *yardFile) undoCommand() *cobra.Command {
	return y.change("undo ID", "Take back the last edit of a record", "Take back the last edit of a record, or its deletion; again takes back the one before.",
		"  hackle yard undo 01890a5d-ac96-774b-bcce-b302099a8057", "now",
		func(ctx context.Context, s *store.Store, r yard.Record) (yard.Record, error) {
			return s.Records.Undo(ctx, r.ID, r.Revision)
		})
}

func (y *yardFile) historyCommand() *cobra.Command {
	return y.command(&cobra.Command{
		Use:     "history ID",
		Short:   "Show every version of a record",
		Long:    "Show every version of a record, the first one first.",
		Example: "  hackle yard history 01890a5d-ac96-774b-bcce-b302099a8057",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return y.with(ctx, false, func(s *store.Store) error {
				r, err := recordNamed(ctx, s, args[0])
				if err != nil {
					return err
				}
				versions, err := s.Records.History(ctx, r.ID)
				if err != nil {
					return err
				}
				n, err := s.Notebook(ctx, false)
				if err != nil {
					return err
				}
				all := make([]yard.Record, len(versions))
				for i, v := range versions {
					all[i] = v.Thing
				}
				return y.p.write(all, func(b *bytes.Buffer) error {
					for _, v := range all {
						fmt.Fprintf(b, "%d  kept %s  %s\n", v.Revision, v.Changed.Local().Format("2006-01-02 15:04:05"), y.line(n, v))
					}
					return nil
				})
			})
		},
	})
}

// written is the result of a command that writes files.
type written struct {
	Yard  string   `json:"yard"`
	Files []string `json:"files"`
}

func (y *yardFile) exportCommand() *cobra.Command {
	var folder, sheet string
	c := y.command(&cobra.Command{
		Use:   "export [FILE]",
		Short: "Write the notebook as JSON or CSV",
		Long: `Write the whole notebook as JSON, with every version of every thing, to FILE or standard output; or with --csv a CSV file for each kind of thing into a folder; or with --table one such table.

Readings of loggers and scales are in the JSON, and in every backup, but in none of these tables.`,
		Example: "  hackle yard export notebook.json\n  hackle yard export --csv notebook\n  hackle yard export --table weight weights.csv",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			if folder != "" && (sheet != "" || len(args) > 0) {
				return errors.New("--csv writes all tables into its folder; leave out FILE and --table")
			}
			return y.with(ctx, false, func(s *store.Store) error {
				n, err := s.Notebook(ctx, true)
				if err != nil {
					return err
				}
				if folder == "" {
					write := func(w io.Writer) error { return s.Export(ctx, w) }
					if sheet != "" {
						write = func(w io.Writer) error { return n.WriteCSV(w, sheet) }
					}
					if len(args) == 0 {
						return write(y.p.stdout)
					}
					if err := writeFile(args[0], write); err != nil {
						return err
					}
					return y.tellWritten(written{s.Path(), args[:1]})
				}
				result := written{Yard: s.Path(), Files: []string{}}
				if err := os.MkdirAll(folder, 0o755); err != nil {
					return err
				}
				for _, name := range yard.Sheets() {
					path := filepath.Join(folder, name+".csv")
					if err := writeFile(path, func(w io.Writer) error { return n.WriteCSV(w, name) }); err != nil {
						return err
					}
					result.Files = append(result.Files, path)
				}
				return y.tellWritten(result)
			})
		},
	})
	c.Flags().StringVar(&folder, "csv", "", "write a CSV file for each kind of thing into this folder")
	c.Flags().StringVar(&sheet, "table", "", "write one table as CSV: "+list(yard.Sheets()))
	return c
}

func (y *yardFile) tellWritten(w written) error {
	return y.p.write(w, func(b *bytes.Buffer) error {
		for _, f := range w.Files {
			fmt.Fprintln(b, "wrote", f)
		}
		return nil
	})
}

// imported is the result of the command import.
type imported struct {
	Yard  string `json:"yard"`
	Tried bool   `json:"tried"` // nothing was kept
	store.Merged
}

func (y *yardFile) importCommand() *cobra.Command {
	var sheet string
	var try bool
	c := y.command(&cobra.Command{
		Use:   "import FILE...",
		Short: "Take in a notebook from JSON or CSV",
		Long: `Take in a JSON export, or CSV tables. All of it is taken in or nothing. What is there already is not taken in twice: a table may be read again after rows were added. A table is named by its file, such as weight.csv, or by --table. Of a folder, every table in it is read.

In a table that was exported, edit a row but leave its id and revision as they are; leave both empty in new rows.`,
		Example: "  hackle yard import notebook.json\n  hackle yard import notebook\n  hackle yard import --table weight scale-2025.csv --try",
		Args:    cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return y.with(ctx, true, func(s *store.Store) error {
				result := imported{Yard: s.Path(), Tried: try}
				var err error
				if strings.EqualFold(filepath.Ext(args[0]), ".json") && sheet == "" {
					if len(args) > 1 || try {
						return errors.New("a JSON export is taken in alone, and without --try")
					}
					f, err := os.Open(args[0])
					if err != nil {
						return err
					}
					defer f.Close()
					result.Merged, err = s.Import(ctx, args[0], f)
					if err != nil {
						return err
					}
				} else if result.Merged, err = importTables(ctx, s, args, sheet, try); err != nil {
					return err
				}
				return y.p.write(result, func(b *bytes.Buffer) error {
					done := "kept"
					if try {
						done = "all is well; nothing was kept. It would be"
					}
					fmt.Fprintf(b, "%s: %d new, %d changed, %d the same as before\n", done, result.New, result.Changed, result.Same)
					return nil
				})
			})
		},
	})
	c.Flags().StringVar(&sheet, "table", "", "what the CSV holds, where its name does not say it: "+list(yard.Sheets()))
	c.Flags().BoolVar(&try, "try", false, "look whether all is well, and keep nothing")
	return c
}

// importTables reads tables in an order in which each finds what it names, and keeps
// them together.
func importTables(ctx context.Context, s *store.Store, paths []string, sheet string, try bool) (store.Merged, error) {
	var files []string
	for _, p := range paths {
		info, err := os.Stat(p)
		if err != nil {
			return store.Merged{}, err
		}
		if !info.IsDir() {
			files = append(files, p)
			continue
		}
		found, err := filepath.Glob(filepath.Join(p, "*.csv"))
		if err != nil || len(found) == 0 {
			return store.Merged{}, fmt.Errorf("%s: no table such as weight.csv is in this folder", p)
		}
		files = append(files, found...)
	}
	order := map[string]int{}
	for i, name := range yard.Sheets() {
		order[name] = i + 1
	}
	sheetOf := func(path string) string {
		return cmp.Or(sheet, strings.ToLower(strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))))
	}
	for _, f := range files {
		if order[sheetOf(f)] == 0 {
			return store.Merged{}, fmt.Errorf("%s: its name is that of no table; name the file so, or say with --table which it is: %s", f, list(yard.Sheets()))
		}
	}
	slices.SortStableFunc(files, func(a, b string) int { return order[sheetOf(a)] - order[sheetOf(b)] })
	// Names are looked up among what is kept and what the tables before brought.
	n, err := s.Notebook(ctx, true)
	if err != nil {
		return store.Merged{}, err
	}
	all := new(yard.Notebook)
	type place struct {
		file string
		line int
	}
	places := map[yard.ID]place{}
	for _, f := range files {
		text, err := os.Open(f)
		if err != nil {
			return store.Merged{}, err
		}
		t, err := n.ReadCSV(f, text, sheetOf(f), time.Local)
		text.Close() // it was only read
		if err != nil {
			return store.Merged{}, err
		}
		for id, line := range t.Lines {
			places[id] = place{f, line}
		}
		all.Add(&t.Notebook)
		n.Add(&t.Notebook)
	}
	merged, err := s.Merge(ctx, all, try)
	var te *store.ThingError
	if errors.As(err, &te) {
		if p, ok := places[te.ID]; ok {
			return merged, fmt.Errorf("%s:%d: %w", p.file, p.line, err)
		}
	}
	return merged, err
}

// writeReport writes the result of a command that proves a file.
func (y *yardFile) writeReport(result any, r store.Report, say string) error {
	return y.p.write(result, func(b *bytes.Buffer) error {
		fmt.Fprintln(b, say)
		var parts []string
		singular := map[string]string{"yards": "yard", "hives": "hive", "builds": "build", "colonies": "colony", "plans": "plan", "records": "record"}
		for _, t := range []string{"yards", "hives", "builds", "colonies", "plans", "records"} {
			switch k, ok := r.Things[t]; {
			case ok && k == 1:
				parts = append(parts, "1 "+singular[t])
			case ok:
				parts = append(parts, fmt.Sprintf("%d %s", k, t))
			}
		}
		if len(parts) > 0 {
			fmt.Fprintf(b, "it holds %s, deleted ones too; %.1f MB, schema version %d\n", list(parts), float64(r.Bytes)/1e6, r.Schema)
		}
		return nil
	})
}

func (y *yardFile) backupCommand() *cobra.Command {
	return y.command(&cobra.Command{
		Use:     "backup FILE",
		Short:   "Copy the yard file while it is in use",
		Long:    "Copy the yard file to a new file while it may be in use, and check the copy from end to end before it gets its name. A file that is there is never written over.",
		Example: "  hackle yard backup /media/stick/yard-2026-02-01.sqlite",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return y.with(cmd.Context(), false, func(s *store.Store) error {
				report, err := s.Backup(cmd.Context(), args[0])
				if err != nil {
					return err
				}
				return y.writeReport(report, report, "wrote and checked "+report.File)
			})
		},
	})
}

func (y *yardFile) restoreCommand() *cobra.Command {
	return y.command(&cobra.Command{
		Use:   "restore BACKUP",
		Short: "Put a backup in the place of the yard file",
		Long: `Put a backup in the place of the yard file. The backup is copied, brought up to date and checked from end to end first. The file that stood there is kept beside it under another name, and nothing changes when anything fails.

Close the web pages (hackle serve) first.`,
		Example: "  hackle yard restore /media/stick/yard-2026-02-01.sqlite",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			path, err := y.where()
			if err != nil {
				return err
			}
			done, err := store.Restore(cmd.Context(), args[0], path)
			if err != nil {
				return err
			}
			say := fmt.Sprintf("checked %s and put a copy of it to %s", args[0], done.File)
			if done.Kept != "" {
				say += "\nthe file that stood there is kept as " + done.Kept
			}
			return y.writeReport(done, done.Report, say)
		},
	})
}

func (y *yardFile) checkCommand() *cobra.Command {
	return y.command(&cobra.Command{
		Use:     "check [FILE]",
		Short:   "Check the yard file, or a backup, from end to end",
		Long:    "Check the yard file, or a backup, from end to end: its pages, what refers to what, the rules, and the history of every thing.",
		Example: "  hackle yard check\n  hackle yard check /media/stick/yard-2026-02-01.sqlite",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			path, err := y.where()
			if err != nil {
				return err
			}
			if len(args) == 1 {
				path = args[0]
			}
			report, err := store.Check(cmd.Context(), path)
			if err != nil {
				return err
			}
			return y.writeReport(report, report, report.File+" is sound")
		},
	})
}
