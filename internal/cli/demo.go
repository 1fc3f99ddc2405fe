package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"hackle/climate"
	"hackle/examples"
	"hackle/hive"
	"hackle/internal/answer"
	"hackle/internal/store"
	"hackle/ledger"
	"hackle/yard"
)

// Of the demo.
const (
	demoWeather = "burlington-vt"
	demoFolder  = "demo-yard"
	demoSummer  = "summer-flow.yaml" // the example for summer: a strong flow and supers
	demoAlike   = 3                  // the first examples, which differ in one thing each from the first
)

// demonstrated is the JSON of the demo.
type demonstrated struct {
	Folder string   `json:"folder"`
	Files  []string `json:"files"`
	answer.Comparison
	Summer string   `json:"summer"` // the answer of a whole year of the example for summer
	Next   []string `json:"next"`
}

func (p *program) demoCommand() *cobra.Command {
	var into string
	var once bool
	var f serveFlags
	c := p.command(&cobra.Command{
		Use:   "demo",
		Short: "Set up an invented yard and open it in the browser",
		Long: `Write an invented yard into a new folder, hive files and the yard's file, and serve
its pages until it is interrupted, as hackle serve does. It asks nothing and
overwrites nothing: the folder is demo-yard, or demo-yard-2 and so on when that is
taken.

With --once nothing is served: all hives are run through the winter of a typical
year in Burlington, Vermont, and one of them through the whole year, and it prints
how they compare and what to try next.`,
		Example: `  hackle demo
  hackle demo --into ~/bees
  hackle demo --once --units us`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if once {
				return p.demo(cmd.Context(), into)
			}
			return p.demoServe(cmd.Context(), into, &f, cmd.Flags().Changed("listen"))
		},
	})
	c.Flags().StringVar(&into, "into", ".", "existing `folder` to put the new folder into")
	c.Flags().BoolVar(&once, "once", false, "print how the hives compare, and stop")
	f.add(c)
	return c
}

// demoMaking begins the folder of a yard. It is made under another name and gets
// its own, by settle, only when all is done.
func demoMaking(into string) (making string, err error) {
	info, err := os.Stat(into)
	if err != nil {
		return "", fmt.Errorf("--into: %w", err)
	}
	if !info.IsDir() {
		return "", fmt.Errorf("--into %s is no folder", into)
	}
	if making, err = os.MkdirTemp(into, "."+demoFolder+"-*"); err != nil {
		return "", fmt.Errorf("cannot write into %s: %w", into, err)
	}
	return making, nil
}

// demoServe makes the yard and opens it.
func (p *program) demoServe(ctx context.Context, into string, f *serveFlags, listenGiven bool) error {
	making, err := demoMaking(into)
	if err != nil {
		return err
	}
	defer os.RemoveAll(making) // nothing is there once it was renamed
	files, plans, err := demoYard(making)
	if err != nil {
		return err
	}
	const name = "yard.sqlite"
	if err := demoKeep(ctx, filepath.Join(making, name), making, files, plans); err != nil {
		return err
	}
	folder, err := settle(making, filepath.Join(into, demoFolder))
	if err != nil {
		return err
	}
	return p.serve(ctx, filepath.Join(folder, name), f, listenGiven)
}

// demoPlaces is where the invented hives stand, in metres east and north of the
// corner of an invented field: two rows and one by itself.
var demoPlaces = [][2]float64{{0, 0}, {3, 0}, {6, 0}, {9, 0}, {0, 6}, {4.5, 6.5}, {9, 6}, {14, 3}}

// demoKeep writes the invented yard into a yard file.
func demoKeep(ctx context.Context, path, folder string, files []string, plans []hive.Plan) (err error) {
	kept, err := store.Open(ctx, path, store.Options{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, kept.Close()) }()
	id := func() (made yard.ID) {
		made, e := yard.NewID()
		err = errors.Join(err, e)
		return made
	}
	y := yard.Yard{Meta: yard.Meta{ID: id()}, Name: "Alder Yard (invented)", Weather: demoWeather, Note: "An invented yard, to look around in."}
	if s := plans[0].Site; s.HasPlace {
		y.HasPlace, y.Latitude, y.Longitude, y.Height = true, s.Latitude, s.Longitude, s.Height
	}
	var hives []yard.Hive
	var builds []yard.Build
	for i, plan := range plans {
		text, e := os.ReadFile(filepath.Join(folder, files[i]))
		if e != nil {
			return e
		}
		h := yard.Hive{Meta: yard.Meta{ID: id()}, Yard: y.ID, Name: plan.Hive.Name}
		if i < len(demoPlaces) {
			h.HasPosition, h.X, h.Y = true, demoPlaces[i][0], demoPlaces[i][1]
		}
		hives = append(hives, h)
		builds = append(builds, yard.Build{Meta: yard.Meta{ID: id()}, Hive: h.ID, From: "2025-04-01", File: string(text), Note: "Invented."})
	}
	if err != nil {
		return err
	}
	if _, err := kept.Yards.Put(ctx, y); err != nil {
		return err
	}
	if _, err := kept.Hives.PutAll(ctx, hives); err != nil {
		return err
	}
	if _, err := kept.Builds.PutAll(ctx, builds); err != nil {
		return err
	}
	return demoNotebook(ctx, kept, hives)
}

func (p *program) demo(ctx context.Context, into string) error {
	making, err := demoMaking(into)
	if err != nil {
		return err
	}
	defer os.RemoveAll(making) // nothing is there once it was renamed
	files, plans, err := demoYard(making)
	if err != nil {
		return err
	}
	whole, err := climate.Builtin(demoWeather)
	if err != nil {
		return internal(err)
	}
	out, ledgers, err := p.sideBySide(ctx, files, plans, whole, &seasonFlags{winter: true}, nil)
	if err != nil {
		return err
	}
	summer, err := p.demoSummer(ctx, files, plans, whole)
	if err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	folder, err := settle(making, filepath.Join(into, demoFolder))
	if err != nil {
		return err
	}
	for i, name := range files {
		out.Hives[i].File = filepath.Join(folder, name)
	}
	at := func(name string) string { return filepath.Join(folder, name) }
	next := []string{
		"hackle check " + at(files[0]),
		fmt.Sprintf("hackle year %s --weather %s", at(demoSummer), demoWeather),
		fmt.Sprintf("hackle compare %s %s --weather minneapolis-mn --winter", at(files[0]), at(files[2])),
		fmt.Sprintf("hackle heater %s --watts 12 --outside -5C", at(files[1])),
		"hackle weather list",
	}
	return p.write(demonstrated{folder, files, out, summer, next}, func(b *bytes.Buffer) error {
		b.WriteString(ledger.Wrap(fmt.Sprintf("%d invented hives lie in %s. This is their winter, %s, in a typical year of Burlington, Vermont:", len(files), folder, answer.Period(out.From.Time, out.To.Time)), "", ledger.Width) + "\n")
		if err := ledger.WriteOverview(b, ledgers, p.system()); err != nil {
			return err
		}
		b.WriteString("\n" + ledger.Wrap(fmt.Sprintf("The first %d differ in one thing each from the first:", demoAlike), "", ledger.Width))
		for _, d := range out.Differences[:demoAlike-1] {
			b.WriteString(ledger.Wrap("- "+d.Honey+" "+d.Overhead, "", ledger.Width))
		}
		b.WriteString(ledger.Wrap("The others have other colonies as well, so that their honey is not to be compared as it stands.", "", ledger.Width))
		b.WriteString("\n" + ledger.Wrap(fmt.Sprintf("A whole year of %s, with nectar and water: %s", at(demoSummer), summer), "", ledger.Width))
		p.writeClose(b, ledgers, out.Notes)
		b.WriteString("\nWhat to try next:\n")
		for _, n := range next {
			b.WriteString("  " + n + "\n")
		}
		b.WriteString("\nThen copy the file nearest to your own hive and change it.\n")
		return nil
	})
}

// demoSummer runs the example for summer through its whole year and returns
// the answer.
func (p *program) demoSummer(ctx context.Context, files []string, plans []hive.Plan, whole *climate.Series) (string, error) {
	i := slices.Index(files, demoSummer)
	if i < 0 {
		return "", internal(fmt.Errorf("no example %s", demoSummer))
	}
	plan := plans[i]
	set, err := answer.Place([]hive.Plan{plan}, whole, answer.Days{}, p.system())
	if err != nil {
		return "", internal(err)
	}
	tr, err := p.run(ctx, set, "computing a whole year")
	if err != nil {
		return "", err
	}
	return set.Ledger(0, tr[0]).Answer(p.system()), nil
}

// demoYard writes the example hives into a folder and reads them back.
func demoYard(folder string) (files []string, plans []hive.Plan, err error) {
	for _, name := range examples.Order() {
		text, err := fs.ReadFile(examples.Files(), name)
		if err != nil {
			return nil, nil, internal(err)
		}
		path := filepath.Join(folder, name)
		if err := os.WriteFile(path, text, 0o644); err != nil {
			return nil, nil, err
		}
		plan, _, err := loadHive(path)
		if err != nil {
			return nil, nil, internal(err)
		}
		files, plans = append(files, name), append(plans, plan)
	}
	return files, plans, nil
}

// settle gives a folder the first free name of wanted, wanted-2, wanted-3 ...
func settle(folder, wanted string) (string, error) {
	if err := os.Chmod(folder, 0o755); err != nil {
		return "", err
	}
	const most = 1000
	for i := 1; i <= most; i++ {
		name := wanted
		if i > 1 {
			name = fmt.Sprintf("%s-%d", wanted, i)
		}
		if _, err := os.Lstat(name); err == nil {
			continue
		} else if !errors.Is(err, fs.ErrNotExist) {
			return "", err
		}
		// An empty folder that came up meanwhile is replaced, a filled one refuses.
		if err := os.Rename(folder, name); err != nil {
			return "", err
		}
		return name, nil
	}
	return "", fmt.Errorf("%s and %d more names are taken", wanted, most-1)
}
