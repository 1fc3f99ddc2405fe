package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"

	"github.com/spf13/cobra"

	"hackle/internal/sweep"
	"hackle/ledger"
)

func (p *program) sweepCommand() *cobra.Command {
	c := p.command(&cobra.Command{
		Use:   "sweep",
		Short: "Run hives over a whole region, on as many machines as there are",
		Long: `Run hives on many sites through many years, spread over as many machines as there are.
lay cuts the work into units, one file each, that hold all they need. work computes one
of them and writes one result file. gather puts the results together as Parquet and
CSV.

A unit gives the same bytes wherever and whenever it is worked. Working it twice does
nothing the second time, and killing it leaves no half result, so that any engine that
runs a program with a number can run a sweep: an array job of a cluster, indexed jobs
of a container platform, or a loop in a shell. docs/sweep.md has job files.`,
		Example: `  hackle sweep lay --sites sites.csv --hive a.yaml --hive b.yaml --into region --winter
  hackle sweep work region --unit 17
  hackle sweep gather region --parquet region.parquet --csv region.csv`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	})
	c.AddCommand(p.sweepLay(), p.sweepWork(), p.sweepGather())
	return c
}

// laid is the JSON of a sweep laid out.
type laid struct {
	Folder string `json:"folder"`
	Units  int    `json:"units"`
}

func (p *program) sweepLay() *cobra.Command {
	var l sweep.Layout
	var sites, into string
	var from, to dayFlag
	c := p.command(&cobra.Command{
		Use:   "lay --sites CSV --hive FILE --into DIR",
		Short: "Cut a sweep into units",
		Long: `Cut a sweep into units, each one hive on one site through some of its years, and write
them into DIR/units. Nothing is run, but every hive, site and weather is read, so that
faults are told now. A unit holds its hive file and weather: DIR is all that machines
need.

The list of sites is CSV with a row of headings: site and weather, and where the place
is not that of the weather latitude_deg, longitude_deg and height_m. Weather is a file,
taken from the folder of the list, or a built-in year. A record gives each span of the
days that it covers; of a typical year, years are made from its normals, --years of
them.

--draws runs each year as often with bees and rough guesses as they may be, the same
draws in every year, for every hive and on every site; 0 runs it once with everything
at its usual value.`,
		Example: `  hackle sweep lay --sites sites.csv --hive a.yaml --hive b.yaml --into region --winter
  hackle sweep lay --sites sites.csv --hive a.yaml --into region --draws 20 --years-per-unit 5`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if sites == "" || into == "" || len(l.Hives) == 0 {
				return errors.New("what is swept? Give --sites, --hive and --into")
			}
			l.Days.From, l.Days.To = from.String(), to.String()
			file, err := os.Open(sites)
			if err != nil {
				return fmt.Errorf("--sites: %w", err)
			}
			defer file.Close()
			if l.Sites, err = sweep.ReadSites(sites, file); err != nil {
				return err
			}
			n, err := sweep.Folder(into).Lay(l, filepath.Dir(sites))
			if err != nil {
				return err
			}
			return p.write(laid{into, n}, func(b *bytes.Buffer) error {
				fmt.Fprintf(b, "%s in %s.\n", plural(n, "unit", "units"), filepath.Join(into, "units"))
				b.WriteString(ledger.Wrap(fmt.Sprintf("Work each: hackle sweep work %s --unit 1 to %d, or --all on this machine.", into, n), "", ledger.Width))
				return nil
			})
		},
	})
	c.Flags().StringVar(&sites, "sites", "", "list of sites and their weather, a CSV `file`")
	c.Flags().StringArrayVar(&l.Hives, "hive", nil, "hive `file`; may be given often")
	c.Flags().StringVar(&into, "into", "", "new `folder` of the sweep")
	c.Flags().Var(&from, "from", "first `day` of every run, as for hackle year")
	c.Flags().Var(&to, "to", "last `day`")
	c.Flags().BoolVar(&l.Days.Winter, "winter", false, "run winters alone, to the first flow that the hive file names after it")
	c.Flags().IntVar(&l.Years, "years", 0, "years of each site; 0: all real ones when there are five, else 20 made ones")
	c.Flags().IntVar(&l.PerUnit, "years-per-unit", 0, "years in one unit; 0: all of a site")
	c.Flags().IntVar(&l.Draws, "draws", 0, "draws of bees and rough guesses a year; 0: one run with usual values")
	c.Flags().Uint64Var(&l.Seed, "seed", 1, "where chance begins")
	return c
}

// workedUnit is the JSON of a unit worked.
type workedUnit struct {
	Unit   int  `json:"unit"`
	Worked bool `json:"worked"` // false: its result was there
}

func (p *program) sweepWork() *cobra.Command {
	var unit string
	var all, first bool
	var workers int
	c := p.command(&cobra.Command{
		Use:   "work DIR --unit N",
		Short: "Compute one unit of a sweep",
		Long: `Compute one unit of a sweep and write its result into DIR/results. A unit whose result
is there already is left alone. The result gets its name only once it is whole.

Array jobs count from 1, indexed jobs often from 0: --from-zero takes such numbers.
--all computes whatever has no result yet, one unit after another on all cores.`,
		Example: `  hackle sweep work region --unit 17
  hackle sweep work region --unit "$ARRAY_INDEX" --workers 1
  hackle sweep work region --all`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := exactly(args, 1, "one folder of a sweep"); err != nil {
				return err
			}
			folder := sweep.Folder(args[0])
			numbers, err := p.unitsAsked(folder, unit, all, first)
			if err != nil {
				return err
			}
			return p.work(cmd.Context(), folder, numbers, workers)
		},
	})
	c.Flags().StringVar(&unit, "unit", "", "number of the unit, from 1")
	c.Flags().BoolVar(&first, "from-zero", false, "units are numbered from 0")
	c.Flags().BoolVar(&all, "all", false, "compute every unit that has no result")
	c.Flags().IntVar(&workers, "workers", 0, "runs side by side; 0: one for each core")
	return c
}

func (p *program) unitsAsked(folder sweep.Folder, unit string, all, fromZero bool) ([]int, error) {
	if all == (unit != "") {
		return nil, errors.New("which unit? Give --unit with its number, or --all")
	}
	if all {
		return folder.Missing()
	}
	n, err := strconv.Atoi(unit)
	if fromZero {
		n++
	}
	count, fault := folder.Count()
	if fault != nil {
		return nil, fault
	}
	if err != nil || n < 1 || n > count {
		low, high := 1, count
		if fromZero {
			low, high = 0, count-1
		}
		return nil, fmt.Errorf("--unit %q, accepted: %d to %d", unit, low, high)
	}
	return []int{n}, nil
}

func (p *program) work(ctx context.Context, folder sweep.Folder, numbers []int, workers int) error {
	b := build()
	g := p.newProgress("computing units", max(1, len(numbers)))
	defer g.end()
	out := []workedUnit{}
	for i, n := range numbers {
		worked, err := folder.Work(ctx, n, b.Version+" "+b.Revision, workers, func(done, total int) { g.tick(i, done, total) })
		if err != nil {
			return err
		}
		g.tick(i, 1, 1)
		out = append(out, workedUnit{n, worked})
	}
	g.end()
	return p.write(out, func(b *bytes.Buffer) error {
		for _, u := range out {
			if u.Worked {
				fmt.Fprintf(b, "unit %d computed\n", u.Unit)
			} else {
				fmt.Fprintf(b, "unit %d: its result is there already\n", u.Unit)
			}
		}
		if len(out) == 0 {
			b.WriteString("Every unit has its result.\n")
		}
		return nil
	})
}

func (p *program) sweepGather() *cobra.Command {
	var parquetPath, csvPath string
	var partial, missing bool
	c := p.command(&cobra.Command{
		Use:   "gather DIR",
		Short: "Put the results of a sweep together as Parquet and CSV",
		Long: `Put the results of all units together, in their order, as a Parquet file, a CSV file or
both: a row a run, with unit, site, hive, year and draw, then every line of the ledger.
The names of columns are the keys of hackle year --keys with _ for the dots, and their
ends say the unit. The same results give the same bytes.

Units without a result are an error, unless --partial takes what there is. --missing
only lists them, as array jobs take them: 3-5,9.`,
		Example: `  hackle sweep gather region --parquet region.parquet --csv region.csv
  hackle sweep gather region --missing`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := exactly(args, 1, "one folder of a sweep"); err != nil {
				return err
			}
			folder := sweep.Folder(args[0])
			if missing {
				units, err := folder.Missing()
				if err != nil {
					return err
				}
				return p.write(append([]int{}, units...), func(b *bytes.Buffer) error {
					fmt.Fprintln(b, sweep.Ranges(units))
					return nil
				})
			}
			return p.gather(folder, parquetPath, csvPath, partial)
		},
	})
	c.Flags().StringVar(&parquetPath, "parquet", "", "write a Parquet `file`")
	c.Flags().StringVar(&csvPath, "csv", "", "write a CSV `file`")
	c.Flags().BoolVar(&partial, "partial", false, "leave out units that have no result")
	c.Flags().BoolVar(&missing, "missing", false, "list the units that have no result, and stop")
	return c
}

// gatheredDoc is the JSON of gathered results.
type gatheredDoc struct {
	sweep.Gathered
	Files []string `json:"files"`
}

func (p *program) gather(folder sweep.Folder, parquetPath, csvPath string, partial bool) error {
	if parquetPath == "" && csvPath == "" {
		return errors.New("into what? Give --parquet, --csv or both")
	}
	if parquetPath == csvPath {
		return fmt.Errorf("--parquet and --csv both name %s", csvPath)
	}
	var made []*newFile
	begin := func(path string) (io.Writer, error) {
		if path == "" {
			return nil, nil
		}
		f, err := create(path)
		if err != nil {
			return nil, err
		}
		made = append(made, f)
		return f, nil
	}
	defer func() {
		for _, f := range made {
			f.discard()
		}
	}()
	table, err := begin(parquetPath)
	if err != nil {
		return err
	}
	sheet, err := begin(csvPath)
	if err != nil {
		return err
	}
	g, err := folder.Gather(table, sheet, partial)
	if err != nil {
		return err
	}
	doc := gatheredDoc{g, []string{}}
	for _, f := range made {
		if err := f.commit(); err != nil {
			return err
		}
		doc.Files = append(doc.Files, f.path)
	}
	return p.write(doc, func(b *bytes.Buffer) error {
		fmt.Fprintf(b, "%s of %s", plural(g.Rows, "run", "runs"), plural(g.Units, "unit", "units"))
		if g.Faults > 0 {
			fmt.Fprintf(b, "; %d could not be computed", g.Faults)
		}
		b.WriteString(".\n")
		if len(g.Missing) > 0 {
			fmt.Fprintf(b, "Left out, for want of a result: units %s.\n", sweep.Ranges(g.Missing))
		}
		tellWritten(b, doc.Files)
		return nil
	})
}
