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
	"hackle/ledger"
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
	c := p.command(&cobra.Command{
		Use:   "demo",
		Short: "Set up an invented yard, run its winter and compare the hives",
		Long: `Write an invented yard of hive files into a new folder, run all hives through the
winter of a typical year in Burlington, Vermont, and one of them through the whole
year, and print how they compare and what to try next. It asks nothing and
overwrites nothing: the folder is demo-yard, or demo-yard-2 and so on when that is
taken.`,
		Example: `  hackle demo
  hackle demo --into ~/bees
  hackle demo --units us`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return p.demo(cmd.Context(), into) },
	})
	c.Flags().StringVar(&into, "into", ".", "existing `folder` to put the new folder into")
	return c
}

func (p *program) demo(ctx context.Context, into string) error {
	info, err := os.Stat(into)
	if err != nil {
		return fmt.Errorf("--into: %w", err)
	}
	if !info.IsDir() {
		return fmt.Errorf("--into %s is no folder", into)
	}
	// The yard is made under another name and gets its own only when all is done.
	making, err := os.MkdirTemp(into, "."+demoFolder+"-*")
	if err != nil {
		return fmt.Errorf("cannot write into %s: %w", into, err)
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
