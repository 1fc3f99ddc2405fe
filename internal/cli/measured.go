package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hackle/fit"
	"hackle/hive"
	"hackle/internal/answer"
	"hackle/internal/store"
	"hackle/ledger"
	"hackle/logger"
	"hackle/quantity"
	"hackle/wall"
	"hackle/yard"
)

// sensedFlags say which hive and whose readings.
type sensedFlags struct {
	yardFile
	hive, in string
	logs     []string
	columns  string
	sensors  []string
	picture  string
}

func (f *sensedFlags) add(c *cobra.Command) {
	c.Flags().StringVar(&f.hive, "hive", "", "hive of the yard file whose sensors are read; its build is taken where no hive file is named")
	c.Flags().StringVar(&f.in, "in", "", "yard of that hive, where two hives have one name")
	c.Flags().StringArrayVar(&f.logs, "log", nil, "read this logger `file` in place of the yard file; may be given several times")
	c.Flags().StringVar(&f.columns, "map", "", "column map of the logs: a YAML `file`")
	c.Flags().StringArrayVar(&f.sensors, "sensor", nil, "where a sensor of the logs hangs: \"NAME = inside 420 mm core\", \"NAME = scale\" or \"NAME = outdoors\"; may be given several times")
	c.Flags().StringVar(&f.picture, "picture", "", "draw measured and computed into this SVG `file`")
}

// sensorPlace is where a sensor hangs.
type sensorPlace struct {
	place  string
	height float64 // [m]
	column string
}

// parsePlace reads "inside 420 mm core", "scale", "outdoors" or "away".
func parsePlace(text string) (sensorPlace, error) {
	const accepted = "accepted: inside with its height above the floor and core, flank or beyond, such as \"inside 420 mm core\"; scale; outdoors; away"
	words := strings.Fields(text)
	if len(words) == 0 {
		return sensorPlace{}, fmt.Errorf("no place, %s", accepted)
	}
	switch {
	case len(words) == 1 && slices.Contains([]string{store.OnScale, store.Outdoors, store.Away}, words[0]):
		return sensorPlace{place: words[0]}, nil
	case words[0] == store.Inside && len(words) >= 3 && slices.Contains([]string{"core", "flank", "beyond"}, words[len(words)-1]):
		z, err := quantity.Parse(strings.Join(words[1:len(words)-1], " "), quantity.Length)
		if err != nil {
			return sensorPlace{}, err
		}
		if !(z >= 0 && z < 3) {
			return sensorPlace{}, fmt.Errorf("height %s, accepted: 0 to 3 m above the floor", strings.Join(words[1:len(words)-1], " "))
		}
		return sensorPlace{store.Inside, z, words[len(words)-1]}, nil
	}
	return sensorPlace{}, fmt.Errorf("place %q, %s", text, accepted)
}

// collected is a sink that keeps the readings of logs in memory.
type collected struct {
	at   map[string]int
	list []answer.Sensed
}

func (k *collected) Sensor(name string, q logger.Quantity) (int, error) {
	key := name + "\x00" + q.String()
	if i, ok := k.at[key]; ok {
		return i, nil
	}
	k.at[key] = len(k.list)
	k.list = append(k.list, answer.Sensed{Name: name, Quantity: q})
	return len(k.list) - 1, nil
}

func (k *collected) Add(sensor int, r logger.Reading) error {
	k.list[sensor].Readings = append(k.list[sensor].Readings, r)
	return nil
}

// fromLogs reads the sensors of log files.
func (f *sensedFlags) fromLogs(ctx context.Context) ([]answer.Sensed, []string, error) {
	if f.columns == "" {
		return nil, nil, errors.New("--map is wanted beside --log: the column map of the logs")
	}
	text, err := os.ReadFile(f.columns)
	if err != nil {
		return nil, nil, fmt.Errorf("column map: %w", err)
	}
	m, err := logger.ParseMap(text)
	if err != nil {
		return nil, nil, fmt.Errorf("column map %s: %w", f.columns, err)
	}
	k := &collected{at: map[string]int{}}
	var notes []string
	for _, path := range f.logs {
		file, err := os.Open(path)
		if err != nil {
			return nil, nil, fmt.Errorf("log: %w", err)
		}
		report, err := logger.Read(ctx, path, file, m, k)
		if err := errors.Join(err, file.Close()); err != nil {
			return nil, nil, err
		}
		for _, n := range report.Notes {
			notes = append(notes, path+": "+n)
		}
	}
	places := map[string]sensorPlace{}
	for _, s := range f.sensors {
		name, where, ok := strings.Cut(s, "=")
		if !ok {
			return nil, nil, fmt.Errorf("--sensor %q, accepted: such as \"oak top = inside 420 mm core\"", s)
		}
		p, err := parsePlace(where)
		if err != nil {
			return nil, nil, fmt.Errorf("--sensor %q: %w", s, err)
		}
		places[strings.TrimSpace(name)] = p
	}
	var out []answer.Sensed
	var left []string
	for _, s := range k.list {
		p, ok := places[s.Name]
		if !ok {
			left = append(left, s.Name)
			continue
		}
		s.Place, s.Height, s.Column = p.place, p.height, p.column
		slices.SortStableFunc(s.Readings, func(a, b logger.Reading) int { return int(a.At - b.At) })
		s.Readings = slices.CompactFunc(s.Readings, func(a, b logger.Reading) bool { return a.At == b.At })
		out = append(out, s)
	}
	for name := range places {
		if !slices.ContainsFunc(k.list, func(s answer.Sensed) bool { return s.Name == name }) {
			return nil, nil, fmt.Errorf("--sensor %q: the logs have no such sensor, but %s", name, list(left))
		}
	}
	if len(out) == 0 {
		return nil, nil, fmt.Errorf("where do the sensors hang? Give --sensor for %s", list(left))
	}
	if len(left) > 0 {
		notes = append(notes, "without a place, and so left aside: "+list(left))
	}
	return out, notes, nil
}

// source is a hive to be held against its sensors.
type source struct {
	file   string // the hive file, or the name of the hive in the yard file
	plan   hive.Plan
	notes  []string
	sensed func(ctx context.Context, from, to time.Time) ([]answer.Sensed, []string, error)
}

// open finds the hive and its sensors and hands them on while the yard file is open.
func (f *sensedFlags) open(ctx context.Context, args []string, first func(hive.Colony) time.Time, use func(source) error) error {
	if len(args) > 1 {
		return fmt.Errorf("one hive file wanted, %d given", len(args))
	}
	var src source
	var err error
	if len(args) == 1 {
		src.file = args[0]
		if src.plan, src.notes, err = loadHive(args[0]); err != nil {
			return err
		}
	}
	if len(f.logs) > 0 {
		if len(args) == 0 {
			return errors.New("a hive file is wanted beside --log")
		}
		src.sensed = func(ctx context.Context, _, _ time.Time) ([]answer.Sensed, []string, error) { return f.fromLogs(ctx) }
		return use(src)
	}
	if len(f.sensors) > 0 || f.columns != "" {
		return errors.New("--map and --sensor belong to --log; in the yard file hackle logger place says where sensors hang")
	}
	if f.hive == "" {
		return errors.New("whose sensors? Give --hive with the name of a hive in the yard file, or --log with logger files")
	}
	return f.with(ctx, false, func(s *store.Store) error {
		n, err := s.Notebook(ctx, false)
		if err != nil {
			return err
		}
		id, err := n.FindHive(f.hive, f.in)
		if err != nil {
			return err
		}
		if len(args) == 0 {
			src.file = f.hive
			var builds []yard.Build
			for _, b := range n.Builds {
				if b.Hive == id {
					builds = append(builds, b)
				}
			}
			day := first(hive.Colony{}).Format(time.DateOnly)
			b, ok := yard.BuildOn(builds, day)
			if !ok && len(builds) > 0 {
				b, ok = builds[len(builds)-1], true
				src.notes = append(src.notes, "the yard file has no build of "+day+"; the latest is taken")
			}
			if !ok {
				return fmt.Errorf("the yard file does not say how %s is built: give its hive file, or hackle yard build", f.hive)
			}
			if src.plan, err = b.Plan(); err != nil {
				return err
			}
		}
		src.sensed = func(ctx context.Context, from, to time.Time) ([]answer.Sensed, []string, error) {
			return sensedIn(ctx, s, id, from, to)
		}
		return use(src)
	})
}

// sensedIn reads the sensors that hung in a hive or outdoors in some days.
func sensedIn(ctx context.Context, s *store.Store, id yard.ID, from, to time.Time) ([]answer.Sensed, []string, error) {
	all, without, err := s.SensedIn(ctx, id, from.Unix(), to.Unix())
	if err != nil {
		return nil, nil, err
	}
	var out []answer.Sensed
	for _, v := range all {
		out = append(out, answer.Sensed{Name: v.Sensor.Name, Quantity: v.Sensor.Quantity, Place: v.Place.Place, Height: v.Place.Height, Column: v.Place.Column, Readings: v.Readings})
	}
	var notes []string
	if len(without) > 0 {
		notes = append(notes, "without a place yet, and so left aside: "+list(without)+"; see hackle logger place")
	}
	if len(out) == 0 {
		return nil, nil, errors.New("no sensor hung in this hive in these days with readings; see hackle logger list, and hackle logger place")
	}
	return out, notes, nil
}

// placeSensed puts the hive into its weather and days and reads its sensors there.
func (p *program) placeSensed(ctx context.Context, src source, sf *seasonFlags) (answer.Setting, answer.Prepared, []string, error) {
	var none answer.Prepared
	if err := sf.apply(&src.plan); err != nil {
		return answer.Setting{}, none, nil, err
	}
	whole, err := loadWeather(sf.weather, src.plan.Site)
	if err != nil {
		return answer.Setting{}, none, nil, err
	}
	if whole.Typical {
		return answer.Setting{}, none, nil, fmt.Errorf("%s is a typical year: measured days want the weather of those very days; see hackle weather fetch, or a CSV file of a weather station with a column map", whole.Name)
	}
	setting, err := answer.Place([]hive.Plan{src.plan}, whole, sf.days(), p.system())
	if err != nil {
		return setting, none, nil, byFlags(err)
	}
	from := setting.Weather.Start
	sensed, notes, err := src.sensed(ctx, from, setting.Weather.End())
	if err != nil {
		return setting, none, nil, err
	}
	for i := range sensed { // a log holds more than the days of the run
		r := sensed[i].Readings
		a, _ := slices.BinarySearchFunc(r, from.Unix(), func(x logger.Reading, t int64) int { return int(x.At - t) })
		b, _ := slices.BinarySearchFunc(r, setting.Weather.End().Unix(), func(x logger.Reading, t int64) int { return int(x.At - t) })
		sensed[i].Readings = r[a:b]
	}
	prepared := answer.Prepare(sensed, from, len(setting.Weather.Hours))
	return setting, prepared, append(src.notes, notes...), nil
}

func (p *program) measuredCommand() *cobra.Command {
	var sf seasonFlags
	f := &sensedFlags{yardFile: yardFile{p: p}}
	c := f.command(&cobra.Command{
		Use:   "measured [FILE] --hive NAME --weather W",
		Short: "Hold what loggers and scales measured against the computed hive",
		Long: `Run a hive in the weather of the days in which it was measured and read the run where
its sensors hang: air at their height and column, the weight on the scale. Print the
differences, what was left out or split off, and what a misfit suggests.

The sensors are those of the yard file that hang in the hive of --hive (see hackle
logger), and its build is run; a hive file outranks it. Or read logs directly with
--log, --map and a --sensor for each. The weather must be that of the measured days:
a typical year will not do. Give the bees and honey of the first day, with --bees and
--honey where the file tells of another.

Differences are measured less computed. A scale counts by its changes: its level is
brought to the mean of the computed after each step that was split off.`,
		Example: `  hackle measured --hive "By the hedge" --weather yard-2025.csv --from 2025-11-01 --to 2026-02-15
  hackle measured my-hive.yaml --log oak.csv --map oak-map.yaml --sensor "top = inside 420 mm core" --sensor "kg = scale" --weather yard.epw --picture oak.svg`,
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return f.open(ctx, args, sf.firstDay, func(src source) error {
				setting, prepared, notes, err := p.placeSensed(ctx, src, &sf)
				if err != nil {
					return err
				}
				g := p.newProgress("computing", 1)
				defer g.end()
				doc, err := setting.Measure(ctx, src.file, prepared, notes, func(done, total int) { g.tick(0, done, total) })
				if err != nil {
					return err
				}
				g.end()
				if err := f.draw(doc, p.system()); err != nil {
					return err
				}
				return p.write(doc, func(b *bytes.Buffer) error { measuredText(b, doc, p.system()); return nil })
			})
		},
	})
	sf.add(c)
	f.add(c)
	return c
}

// firstDay of a run as far as flags and colony say; the machine's today else.
func (f *seasonFlags) firstDay(c hive.Colony) time.Time {
	if f.from.given && f.from.day.Year != 0 {
		return time.Date(f.from.day.Year, f.from.day.Month, f.from.day.Day, 0, 0, 0, 0, time.UTC)
	}
	if c.Date.Year != 0 {
		return time.Date(c.Date.Year, c.Date.Month, c.Date.Day, 0, 0, 0, 0, time.UTC)
	}
	return time.Now()
}

func (f *sensedFlags) draw(doc answer.MeasuredHive, system quantity.System) error {
	if f.picture == "" {
		return nil
	}
	return writeFile(f.picture, func(w io.Writer) error {
		return fit.Picture(w, doc.Hive+": measured and computed, "+answer.Period(doc.From.Time, doc.To.Time), doc.Compared, system, "")
	})
}

func (p *program) fitCommand() *cobra.Command {
	var sf seasonFlags
	f := &sensedFlags{yardFile: yardFile{p: p}}
	var holdOut int
	var keep bool
	c := f.command(&cobra.Command{
		Use:   "fit [FILE] --hive NAME --weather W",
		Short: "Estimate a hive's shell, leakage and bees from its own loggers and scale",
		Long: `Estimate, from thermometers inside and a scale, by what factors the conductance of the
shell, the leakage of the joints and the heat of the bees differ from the computed:
the run is repeated with other factors until it meets the measured hive as well as it
can, beginning from ranges of the three. Each factor comes with its 95 % interval, and
what the data cannot tell is said.

Every third week is kept out of the fit (--hold-out) and then predicted, which shows
whether the fit is worth anything. --keep writes the factors that the data tell into
the hive file; every run of it uses them from then on, and says so.

Sensors, weather and days are those of hackle measured. Some thirty runs are made.`,
		Example: `  hackle fit --hive "By the hedge" --weather yard-2025.csv --from 2025-11-01 --to 2026-02-15
  hackle fit my-hive.yaml --log oak.csv --map oak-map.yaml --sensor "top = inside 420 mm core" --sensor "kg = scale" --weather yard.epw --keep`,
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			if keep && len(args) == 0 && f.hive == "" {
				return errors.New("--keep needs the hive file, or --hive")
			}
			if holdOut < 1 || holdOut > 52 {
				return fmt.Errorf("--hold-out %d, accepted: 1 (none) to 52", holdOut)
			}
			return f.open(ctx, args, sf.firstDay, func(src source) error {
				setting, prepared, notes, err := p.placeSensed(ctx, src, &sf)
				if err != nil {
					return err
				}
				const runs = 30
				g := p.newProgress("fitting", 1)
				defer g.end()
				doc, err := setting.FitHive(ctx, src.file, prepared, fit.HiveOptions{HoldOut: holdOut, Joints: &wall.Cache{}, Progress: func(done int) { g.tick(0, min(done, runs-1), runs) }}, notes)
				if err != nil {
					return err
				}
				g.end()
				if err := f.draw(doc, p.system()); err != nil {
					return err
				}
				if keep {
					note, err := f.keep(ctx, args, doc)
					if err != nil {
						return err
					}
					doc.Notes = append(doc.Notes, note)
				}
				return p.write(doc, func(b *bytes.Buffer) error { fittedText(b, doc, p.system()); return nil })
			})
		},
	})
	sf.add(c)
	f.add(c)
	c.Flags().IntVar(&holdOut, "hold-out", 3, "keep every so-manieth week out of the fit; 1: none")
	c.Flags().BoolVar(&keep, "keep", false, "write the factors that the data tell into the hive file, or as a new build of the hive in the yard file")
	return c
}

// keep stores what a fit found with the hive.
func (f *sensedFlags) keep(ctx context.Context, args []string, doc answer.MeasuredHive) (string, error) {
	m := doc.Fit.Measured
	if m.Shell == 0 && m.Leak == 0 && m.Bees == 0 {
		return "the data tell none of the factors well enough; nothing was kept", nil
	}
	if len(args) == 1 {
		if err := keepIn(args[0], m); err != nil {
			return "", err
		}
		return args[0] + " now carries the factors; every run of it uses them", nil
	}
	note := ""
	err := f.with(ctx, false, func(s *store.Store) error {
		n, err := s.Notebook(ctx, false)
		if err != nil {
			return err
		}
		id, err := n.FindHive(f.hive, f.in)
		if err != nil {
			return err
		}
		var builds []yard.Build
		for _, b := range n.Builds {
			if b.Hive == id {
				builds = append(builds, b)
			}
		}
		old, ok := yard.BuildOn(builds, doc.To.Format(time.DateOnly))
		if !ok {
			return fmt.Errorf("the yard file has no build of %s on %s", f.hive, doc.To.Format(time.DateOnly))
		}
		text, err := answer.KeepMeasured(f.hive, []byte(old.File), m)
		if err != nil {
			return err
		}
		b, err := newBuild(id, doc.To.AddDate(0, 0, 1).Format(time.DateOnly), text, "as measured: "+m.From)
		if err != nil {
			return err
		}
		if _, err := s.Builds.Put(ctx, b); err != nil {
			return err
		}
		note = fmt.Sprintf("the yard file has a new build of %s from %s on that carries the factors", f.hive, b.From)
		return nil
	})
	return note, err
}

func measuredText(b *bytes.Buffer, doc answer.MeasuredHive, system quantity.System) {
	for _, h := range doc.Hints {
		b.WriteString(ledger.Wrap(h, "", ledger.Width))
	}
	fmt.Fprintf(b, "\n%s, %s\n", doc.Hive, answer.Period(doc.From.Time, doc.To.Time))
	matchTable(b, doc.Sensors, system)
	if len(doc.Steps) > 0 {
		b.WriteString("\nSteps of the scale, split off\n")
		for _, s := range doc.Steps {
			fmt.Fprintf(b, "  %s  %s  %+.1f kg  %s\n", s.At.Format("2006-01-02 15:04"), s.Sensor, s.Change, s.Guess)
		}
	}
	fmt.Fprintf(b, "\n%s", ledger.Wrap("Weather: "+doc.Weather.Name+", "+doc.Weather.Source+".", "", ledger.Width))
	writeNotes(b, doc.Notes)
}

// matchTable prints the difference of every sensor.
func matchTable(b *bytes.Buffer, sensors []answer.MatchedSensor, system quantity.System) {
	columns(b, "Measured less computed", "mean", "scatter", "swing", "hours")
	for _, s := range sensors {
		amount := func(v float64, signed bool) string {
			sign := ""
			if signed && v > 0 {
				sign = "+"
			}
			switch s.Quantity {
			case logger.Temperature.String():
				return sign + quantity.Format(math.Round(v*100)/100, quantity.TemperatureDifference, system)
			case logger.Humidity.String():
				return fmt.Sprintf("%s%.0f points", sign, 100*v)
			case logger.CO2.String():
				return fmt.Sprintf("%s%.0f ppm", sign, 1e6*v)
			}
			return sign + quantity.Format(v, quantity.Mass, system)
		}
		swing := ""
		if s.Swing != nil && s.Place != fit.Scale {
			swing = fmt.Sprintf("%.0f %%", 100**s.Swing)
		}
		mean := amount(s.Bias, true)
		if s.Place == fit.Scale {
			mean = "" // its level is free
		}
		columns(b, s.Name, mean, amount(s.RMSE, false), swing, fmt.Sprint(s.Hours))
	}
}

func fittedText(b *bytes.Buffer, doc answer.MeasuredHive, system quantity.System) {
	f := doc.Fit
	b.WriteString(ledger.Wrap(f.Predicts, "", ledger.Width))
	fmt.Fprintf(b, "\n%s, %s\n", doc.Hive, answer.Period(doc.From.Time, doc.To.Time))
	columns(b, "Share of the computed", "value", "95 % from", "to", "learnt")
	names := map[string]string{"shell": "conductance of the shell", "leak": "leakage of the joints", "bees": "heat of the bees"}
	for _, v := range f.Factors {
		percent := func(x float64) string { return fmt.Sprintf("%.0f %%", 100*x) }
		columns(b, names[v.Name], percent(v.Value), percent(v.Low), percent(v.High), percent(v.Learnt))
	}
	for _, c := range f.Cannot {
		b.WriteString(ledger.Wrap(c, "", ledger.Width))
	}
	b.WriteString("\nBefore the fit\n")
	matchTable(b, doc.Sensors, system)
	b.WriteString("\nAfter the fit\n")
	matchTable(b, f.Sensors, system)
	if len(f.Held) > 0 {
		b.WriteString("\n")
		columns(b, "Weeks it did not see", "before", "after")
		for _, h := range f.Held {
			columns(b, "from "+h.From.Format("2 Jan 2006"), fmt.Sprintf("%.2f", h.Before), fmt.Sprintf("%.2f", h.After))
		}
		b.WriteString(ledger.Wrap("Misfits are over the scatter that the fit leaves: 1 is as good as in the weeks it saw.", "", ledger.Width))
	}
	if len(doc.Steps) > 0 {
		b.WriteString("\nSteps of the scale, split off\n")
		for _, s := range doc.Steps {
			fmt.Fprintf(b, "  %s  %s  %+.1f kg  %s\n", s.At.Format("2006-01-02 15:04"), s.Sensor, s.Change, s.Guess)
		}
	}
	fmt.Fprintf(b, "\n%s", ledger.Wrap("Weather: "+doc.Weather.Name+", "+doc.Weather.Source+".", "", ledger.Width))
	writeNotes(b, doc.Notes)
}
