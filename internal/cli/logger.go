package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"hackle/fit"
	"hackle/internal/store"
	"hackle/ledger"
	"hackle/logger"
	"hackle/quantity"
)

// loggerCommand leads to the readings of loggers and scales.
func (p *program) loggerCommand() *cobra.Command {
	y := &yardFile{p: p}
	c := &cobra.Command{
		Use:   "logger",
		Short: "Take in the readings of loggers and scales, and say where they hang",
		Long: `Take in what loggers and scales wrote, of any length, with a column map that is made
once; say where each sensor hangs; look at the readings and at the steps of a scale.

Readings stand in the yard file, packed. What overlaps is merged by instant. hackle
measured and hackle fit hold them against the computed hive.`,
		Example: `  hackle logger map oak oak-map.yaml
  hackle logger import oak-2024.csv oak-2025.csv --map oak
  hackle logger place "oak top" "inside 420 mm core" --hive "By the hedge" --since 2024-10-01
  hackle logger list`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	c.AddCommand(y.loggerImport(), y.loggerMap(), y.loggerList(), y.loggerPlace(), y.loggerView(), y.loggerSteps(), y.loggerExport(), y.loggerRename(), y.loggerRemove(), y.loggerListen())
	return c
}

// takenIn is the result of an import.
type takenIn struct {
	File       string     `json:"file"` // the yard file
	Logs       []takenLog `json:"logs"`
	NewSensors []string   `json:"new_sensors"`
	Seconds    float64    `json:"seconds"`
}

type takenLog struct {
	File      string        `json:"file"`
	Rows      int           `json:"rows"`
	Readings  int           `json:"readings"`
	Added     int           `json:"added"`
	Same      int           `json:"same"`
	Differing int           `json:"differing"`
	BadRows   int           `json:"bad_rows"`
	BadValues int           `json:"bad_values"`
	Faults    []loggerFault `json:"examples"`
	Sensors   []takenSensor `json:"sensors"`
	Notes     []string      `json:"notes"`
}

type loggerFault struct {
	Line  int    `json:"line"`
	Field string `json:"field"`
	Found string `json:"found"`
	Done  string `json:"done"`
}

type takenSensor struct {
	Name     string    `json:"name"`
	Quantity string    `json:"quantity"`
	Readings int       `json:"readings"`
	Missing  int       `json:"missing"`
	Faults   int       `json:"faults"`
	First    time.Time `json:"first"`
	Last     time.Time `json:"last"`
}

func (y *yardFile) loggerImport() *cobra.Command {
	var columns string
	var replace bool
	c := y.command(&cobra.Command{
		Use:   "import LOG...",
		Short: "Take in files of loggers and scales",
		Long: `Take in files of loggers and scales with a column map: one saved under a name (see
hackle logger map) or a YAML file. Each file is taken in whole or not at all. What
overlaps with what is there is merged by instant; where the two differ, what is there
stays, or with --replace goes. A yard file that is not there yet is made. The file - is
standard input.

The map is described in docs/measure.md: columns, units, fault codes, the clock's zone
with its summer time, and where the clock was wrong.`,
		Example: "  hackle logger import oak-2024.csv oak-2025.csv --map oak\n  hackle logger import scale.csv --map scale-map.yaml --replace",
		Args:    cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			if columns == "" {
				return errors.New("--map is wanted: a map saved with hackle logger map, or a YAML file")
			}
			return y.with(ctx, true, func(s *store.Store) error {
				m, err := mapNamed(ctx, s, columns)
				if err != nil {
					return err
				}
				out := takenIn{File: s.Path(), Logs: []takenLog{}, NewSensors: []string{}}
				begun := time.Now()
				g := y.p.newProgress("taking in", len(args))
				defer g.end()
				for i, path := range args {
					log, fresh, err := y.takeIn(ctx, s, path, m, replace, func(done, total int) { g.tick(i, done, total) })
					if err != nil {
						if i > 0 {
							return fmt.Errorf("%w\n(%d files before it were taken in)", err, i)
						}
						return err
					}
					out.Logs = append(out.Logs, log)
					out.NewSensors = append(out.NewSensors, fresh...)
				}
				g.end()
				out.Seconds = time.Since(begun).Seconds()
				return y.p.write(out, func(b *bytes.Buffer) error { out.text(b); return nil })
			})
		},
	})
	c.Flags().StringVar(&columns, "map", "", "column map: a saved name, or a YAML `file`")
	c.Flags().BoolVar(&replace, "replace", false, "let the files win where an instant is there with another value")
	return c
}

// mapNamed finds a saved map, else reads a file.
func mapNamed(ctx context.Context, s *store.Store, name string) (*logger.Map, error) {
	text, err := s.LoggerMap(ctx, name)
	if err != nil {
		if !errors.Is(err, store.NotFound) {
			return nil, err
		}
		b, fileErr := os.ReadFile(name)
		if fileErr != nil {
			names, err := s.LoggerMaps(ctx)
			if err != nil {
				return nil, err
			}
			have := "none is saved"
			if len(names) > 0 {
				have = "saved are " + list(names)
			}
			return nil, fmt.Errorf("--map %s: no such map (%s), and no such file", name, have)
		}
		text = string(b)
	}
	m, err := logger.ParseMap([]byte(text))
	if err != nil {
		return nil, fmt.Errorf("column map %s: %w", name, err)
	}
	return m, nil
}

// counting counts what is read of a file, for the progress.
type counting struct {
	io.Reader
	n int64
}

func (c *counting) Read(b []byte) (int, error) {
	n, err := c.Reader.Read(b)
	c.n += int64(n)
	return n, err
}

func (y *yardFile) takeIn(ctx context.Context, s *store.Store, path string, m *logger.Map, replace bool, tick func(done, total int)) (takenLog, []string, error) {
	in, total := y.p.stdin, int64(0)
	if path != "-" {
		f, err := os.Open(path)
		if err != nil {
			return takenLog{}, nil, fmt.Errorf("log: %w", err)
		}
		defer f.Close()
		if info, err := f.Stat(); err == nil {
			total = info.Size()
		}
		in = f
	}
	counted := &counting{Reader: in}
	o := store.ImportOptions{Replace: replace}
	if total > 0 {
		o.Progress = func(int) { tick(int(counted.n/1024), int(total/1024)+1) }
	}
	name := filepath.Base(path)
	if path == "-" {
		name = "standard input"
	}
	r, err := s.ImportReadings(ctx, name, counted, m, o)
	if err != nil {
		return takenLog{}, nil, err
	}
	out := takenLog{File: path, Rows: r.Rows, Readings: r.Readings, Added: r.Added, Same: r.Same, Differing: r.Differing, BadRows: r.BadRows, BadValues: r.BadValues,
		Faults: []loggerFault{}, Sensors: []takenSensor{}, Notes: append([]string{}, r.Notes...)}
	for _, e := range r.Examples {
		out.Faults = append(out.Faults, loggerFault{e.Line, e.Field, e.Found, e.Done})
	}
	for _, v := range r.Sensors {
		if v.Readings+v.Faults > 0 {
			out.Sensors = append(out.Sensors, takenSensor{v.Name, v.Quantity.String(), v.Readings, v.Missing, v.Faults, time.Unix(v.First, 0).UTC(), time.Unix(v.Last, 0).UTC()})
		}
	}
	return out, r.NewSensors, nil
}

func (t takenIn) text(b *bytes.Buffer) {
	rows := 0
	for _, l := range t.Logs {
		rows += l.Rows
		fmt.Fprintf(b, "%s: %d rows, %d readings; %d new, %d there already", l.File, l.Rows, l.Readings, l.Added, l.Same)
		if l.Differing > 0 {
			fmt.Fprintf(b, ", %d there with another value", l.Differing)
		}
		b.WriteString("\n")
		w := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
		for _, s := range l.Sensors {
			extra := ""
			if s.Missing > 0 {
				extra += fmt.Sprintf(", %d missing", s.Missing)
			}
			if s.Faults > 0 {
				extra += fmt.Sprintf(", %d faults left out", s.Faults)
			}
			fmt.Fprintf(w, "  %s\t%s\t%s to %s\t%d%s\n", s.Name, s.Quantity, s.First.Format(time.DateOnly), s.Last.Format(time.DateOnly), s.Readings, extra)
		}
		w.Flush()
		for _, f := range l.Faults {
			b.WriteString(ledger.Wrap(fmt.Sprintf("line %d: %s: found %s, %s", f.Line, f.Field, f.Found, f.Done), "  ", ledger.Width))
		}
		if n := l.BadRows + l.BadValues - len(l.Faults); n > 0 {
			fmt.Fprintf(b, "  and %d more\n", n)
		}
		writeNotes(b, l.Notes)
	}
	if len(t.NewSensors) > 0 {
		b.WriteString(ledger.Wrap("New sensors: "+list(t.NewSensors)+". Say where they hang: hackle logger place.", "", ledger.Width))
	}
	fmt.Fprintf(b, "%d rows in %.1f s\n", rows, t.Seconds)
}

func (y *yardFile) loggerMap() *cobra.Command {
	c := y.command(&cobra.Command{
		Use:     "map [NAME [FILE]]",
		Short:   "Save a column map under a name, print one, or list them",
		Long:    "Save a column map, so that it is made once for all files of a kind of logger. Without a file the map is printed, without a name all are listed.",
		Example: "  hackle logger map oak oak-map.yaml\n  hackle logger map oak\n  hackle logger map",
		Args:    cobra.MaximumNArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return y.with(ctx, len(args) == 2, func(s *store.Store) error {
				switch len(args) {
				case 2:
					text, err := y.p.readInput(args[1])
					if err != nil {
						return err
					}
					if err := s.SetLoggerMap(ctx, args[0], string(text)); err != nil {
						return err
					}
					return y.tell(kept{s.Path(), "column map", args[0], "saved the map " + args[0]})
				case 1:
					text, err := s.LoggerMap(ctx, args[0])
					if err != nil {
						return err
					}
					return y.p.write(struct {
						Name string `json:"name"`
						Text string `json:"text"`
					}{args[0], text}, func(b *bytes.Buffer) error { b.WriteString(text); return nil })
				}
				names, err := s.LoggerMaps(ctx)
				if err != nil {
					return err
				}
				return y.p.write(names, func(b *bytes.Buffer) error {
					if len(names) == 0 {
						b.WriteString("no column map is saved\n")
					}
					for _, n := range names {
						fmt.Fprintln(b, n)
					}
					return nil
				})
			})
		},
	})
	return c
}

// sensorNamed finds a sensor by its name, with its quantity where two share a name.
func sensorNamed(ctx context.Context, s *store.Store, name string) (store.Sensor, error) {
	all, err := s.Sensors(ctx)
	if err != nil {
		return store.Sensor{}, err
	}
	var found []store.Sensor
	var names []string
	for _, v := range all {
		if strings.EqualFold(v.Name, name) || strings.EqualFold(v.Name+" "+v.Measures, name) {
			found = append(found, v)
		}
		names = append(names, strconv.Quote(v.Name))
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		if len(names) == 0 {
			return store.Sensor{}, errors.New("there are no sensors yet: hackle logger import")
		}
		if len(names) > 12 {
			names = append(names[:12], "others")
		}
		return store.Sensor{}, fmt.Errorf("there is no sensor %q, but %s", name, list(names))
	}
	return store.Sensor{}, fmt.Errorf("%q measures several things: name it %q", name, found[0].Name+" "+found[0].Measures)
}

func (y *yardFile) loggerList() *cobra.Command {
	c := y.command(&cobra.Command{
		Use:     "list",
		Short:   "List the sensors, their readings and where they hang",
		Long:    "List the sensors, their readings and where they hang now.",
		Example: "  hackle logger list\n  hackle logger list --json",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			ctx := cmd.Context()
			return y.with(ctx, false, func(s *store.Store) error {
				all, err := s.Sensors(ctx)
				if err != nil {
					return err
				}
				n, err := s.Notebook(ctx, true)
				if err != nil {
					return err
				}
				hives := map[string]string{}
				for _, h := range n.Hives {
					hives[string(h.ID)] = h.Name
				}
				return y.p.write(all, func(b *bytes.Buffer) error {
					if len(all) == 0 {
						b.WriteString("no sensors yet: hackle logger import\n")
					}
					w := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
					for _, v := range all {
						where := "no place yet"
						if len(v.Places) > 0 {
							p := v.Places[len(v.Places)-1]
							where = p.Place
							if p.Place == store.Inside {
								where += " " + quantity.Format(p.Height, quantity.Length, y.p.system()) + " " + p.Column
							}
							if p.Hive != "" {
								where += ", " + hives[string(p.Hive)]
							}
						}
						days := ""
						if v.Readings > 0 {
							days = time.Unix(v.First, 0).UTC().Format(time.DateOnly) + " to " + time.Unix(v.Last, 0).UTC().Format(time.DateOnly)
						}
						fmt.Fprintf(w, "%s\t%s\t%d\t%s\t%s\n", v.Name, v.Measures, v.Readings, days, where)
					}
					return w.Flush()
				})
			})
		},
	})
	return c
}

func (y *yardFile) loggerPlace() *cobra.Command {
	var hive, in, since, note string
	c := y.command(&cobra.Command{
		Use:   "place SENSOR PLACE",
		Short: "Say where a sensor hangs from a time on",
		Long: `Say where a sensor hangs from a time on: "inside HEIGHT COLUMN" with the height above
the floor and core (among the combs with the cluster or brood), flank (the outer combs
and the gaps round them) or beyond (past a follower board); scale, under a hive;
outdoors; or away, not in use. Earlier places stay, so that a sensor may be moved.`,
		Example: "  hackle logger place \"oak top\" \"inside 420 mm core\" --hive \"By the hedge\" --since 2024-10-01\n  hackle logger place \"oak kg\" scale --hive \"By the hedge\"\n  hackle logger place shed outdoors",
		Args:    cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			where, err := parsePlace(args[1])
			if err != nil {
				return err
			}
			at := int64(0) // from the first reading on
			if since != "" {
				t, err := timeOf(since)
				if err != nil {
					return err
				}
				at = t.Unix()
			}
			return y.with(ctx, false, func(s *store.Store) error {
				v, err := sensorNamed(ctx, s, args[0])
				if err != nil {
					return err
				}
				if since == "" {
					if len(v.Places) > 0 {
						return fmt.Errorf("%s has a place already: give --since, the time from which it hangs elsewhere", v.Name)
					}
					at = v.First
				}
				p := store.Placement{Since: at, Place: where.place, Height: where.height, Column: where.column, Note: note}
				if hive != "" {
					n, err := s.Notebook(ctx, false)
					if err != nil {
						return err
					}
					if p.Hive, err = n.FindHive(hive, in); err != nil {
						return err
					}
				}
				if err := s.PlaceSensor(ctx, v.ID, p); err != nil {
					return err
				}
				return y.tell(kept{s.Path(), "placement", p, fmt.Sprintf("%s: %s from %s", v.Name, args[1], time.Unix(at, 0).UTC().Format("2006-01-02 15:04 UTC"))})
			})
		},
	})
	c.Flags().StringVar(&hive, "hive", "", "the hive it hangs in or stands under")
	c.Flags().StringVar(&in, "in", "", "yard of that hive, where two hives have one name")
	c.Flags().StringVar(&since, "since", "", "from when on, as 2024-10-01 or \"2024-10-01 14:30\" (default: its first reading)")
	c.Flags().StringVar(&note, "note", "", "anything else")
	return c
}

// loggerDay is one day of a sensor.
type loggerDay struct {
	Day   string  `json:"day"`
	Hours int     `json:"hours"`
	Least float64 `json:"least"`
	Mean  float64 `json:"mean"`
	Most  float64 `json:"most"`
}

type loggerView struct {
	Sensor store.Sensor `json:"sensor"`
	From   time.Time    `json:"from"`
	To     time.Time    `json:"to"`
	Days   []loggerDay  `json:"days"`
	Notes  []string     `json:"notes"`
}

// readingSpan are flags for days of readings.
type readingSpan struct{ from, to dayFlag }

func (r *readingSpan) add(c *cobra.Command) {
	c.Flags().Var(&r.from, "from", "first `day`, with its year (default: the first reading)")
	c.Flags().Var(&r.to, "to", "last `day`, with its year, which counts (default: the last reading)")
}

func (r *readingSpan) of(v store.Sensor) (from, to time.Time, err error) {
	day := func(f dayFlag, fallback int64) (time.Time, error) {
		if !f.given {
			return time.Unix(fallback, 0).UTC().Truncate(24 * time.Hour), nil
		}
		if f.day.Year == 0 {
			return time.Time{}, fmt.Errorf("%s: give the year too, such as 2025-%02d-%02d", f.day, int(f.day.Month), f.day.Day)
		}
		return time.Date(f.day.Year, f.day.Month, f.day.Day, 0, 0, 0, 0, time.UTC), nil
	}
	if from, err = day(r.from, v.First); err != nil {
		return from, to, err
	}
	if to, err = day(r.to, v.Last); err != nil {
		return from, to, err
	}
	return from, to.AddDate(0, 0, 1), nil
}

func (y *yardFile) loggerView() *cobra.Command {
	var span readingSpan
	var picture string
	c := y.command(&cobra.Command{
		Use:     "view SENSOR",
		Short:   "Print the readings of a sensor day by day",
		Long:    "Print the least, mean and most of each day in UTC, from the hours that were summed when readings came in. See hackle logger export for every reading.",
		Example: "  hackle logger view \"oak top\" --from 2025-01-01 --to 2025-12-31",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return y.with(ctx, false, func(s *store.Store) error {
				v, err := sensorNamed(ctx, s, args[0])
				if err != nil {
					return err
				}
				from, to, err := span.of(v)
				if err != nil {
					return err
				}
				hours, err := s.HoursOf(ctx, []int64{v.ID}, from.Unix(), to.Unix())
				if err != nil {
					return err
				}
				out := loggerView{Sensor: v, From: from, To: to, Days: []loggerDay{}, Notes: []string{}}
				for _, h := range hours[0] {
					day := time.Unix(h.At, 0).UTC().Format(time.DateOnly)
					if n := len(out.Days); n == 0 || out.Days[n-1].Day != day {
						out.Days = append(out.Days, loggerDay{Day: day, Least: math.Inf(1), Most: math.Inf(-1)})
					}
					d := &out.Days[len(out.Days)-1]
					d.Hours++
					d.Mean += h.Mean
					d.Least, d.Most = math.Min(d.Least, h.Least), math.Max(d.Most, h.Most)
				}
				for i := range out.Days {
					out.Days[i].Mean /= float64(out.Days[i].Hours)
				}
				if picture != "" {
					if err := writeFile(picture, func(w io.Writer) error {
						return fit.ReadingsPicture(w, v.Name, from, to, []fit.Sensed{{Name: v.Name, Quantity: v.Quantity, Hours: hours[0]}}, y.p.system(), "")
					}); err != nil {
						return err
					}
				}
				return y.p.write(out, func(b *bytes.Buffer) error {
					fmt.Fprintf(b, "%s, %s\n", v.Name, v.Measures)
					columns(b, "Day", "least", "mean", "most", "hours")
					show := func(x float64) string { return quantity.Format(x, v.Quantity.Kind(), y.p.system()) }
					for _, d := range out.Days {
						columns(b, d.Day, show(d.Least), show(d.Mean), show(d.Most), fmt.Sprint(d.Hours))
					}
					if len(out.Days) == 0 {
						b.WriteString("  no readings in these days\n")
					}
					return nil
				})
			})
		},
	})
	c.Flags().StringVar(&picture, "picture", "", "draw the days into this SVG `file`")
	span.add(c)
	return c
}

func (y *yardFile) loggerSteps() *cobra.Command {
	var span readingSpan
	least := amount{kind: quantity.Mass, bare: "kg"}
	c := y.command(&cobra.Command{
		Use:   "steps SCALE",
		Short: "Find the steps of a scale that are not the bees' doing",
		Long: `Find sudden lasting changes of a scale: supers, boxes or feed put on, harvest, a swarm.
hackle measured and hackle fit split them off by themselves. The faulty readings that
are left out first are told too.`,
		Example: "  hackle logger steps \"oak kg\" --from 2025-04-01 --to 2025-09-30",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return y.with(ctx, false, func(s *store.Store) error {
				v, err := sensorNamed(ctx, s, args[0])
				if err != nil {
					return err
				}
				if v.Quantity != logger.Weight {
					return fmt.Errorf("%s measures %s: steps are those of a scale", v.Name, v.Measures)
				}
				if least.given && !(least.value > 0) {
					return fmt.Errorf("--least %s, accepted: more than 0 kg", least.text)
				}
				from, to, err := span.of(v)
				if err != nil {
					return err
				}
				readings, err := s.Readings(ctx, v.ID, from.Unix(), to.Unix())
				if err != nil {
					return err
				}
				clean, doubts := logger.Clean(v.Quantity, readings)
				steps, net := logger.Steps(clean, logger.StepOptions{Least: least.value})
				type step struct {
					From   time.Time `json:"from"`
					To     time.Time `json:"to"`
					Change float64   `json:"change_kg"`
					Guess  string    `json:"guess"`
				}
				out := struct {
					Sensor string   `json:"sensor"`
					Steps  []step   `json:"steps"`
					Net    *float64 `json:"net_change_kg"`
					Notes  []string `json:"notes"`
				}{Sensor: v.Name, Steps: []step{}, Notes: []string{}}
				for _, st := range steps {
					out.Steps = append(out.Steps, step{time.Unix(st.From, 0).UTC(), time.Unix(st.To, 0).UTC(), st.Delta, st.Guess()})
				}
				if n := len(net); n > 0 {
					d := net[n-1].Value - net[0].Value
					out.Net = &d
				}
				for _, d := range doubts {
					out.Notes = append(out.Notes, fmt.Sprintf("%d readings from %s: %s", d.Readings, time.Unix(d.From, 0).UTC().Format(time.DateOnly), d.What))
				}
				return y.p.write(out, func(b *bytes.Buffer) error {
					if len(out.Steps) == 0 {
						b.WriteString("no steps found\n")
					}
					for _, st := range out.Steps {
						fmt.Fprintf(b, "%s  %+.1f kg  %s\n", st.To.Format("2006-01-02 15:04 UTC"), st.Change, st.Guess)
					}
					if out.Net != nil {
						fmt.Fprintf(b, "without them the hive changed by %+.1f kg\n", *out.Net)
					}
					writeNotes(b, out.Notes)
					return nil
				})
			})
		},
	})
	span.add(c)
	c.Flags().Var(&least, "least", "smallest step that counts (default 1.5 kg)")
	return c
}

func (y *yardFile) loggerExport() *cobra.Command {
	var span readingSpan
	c := &cobra.Command{
		Use:     "export SENSOR",
		Short:   "Write every reading of a sensor as CSV",
		Long:    "Write every reading of a sensor as CSV to standard output, times in UTC, values in the unit named in the header.",
		Example: "  hackle logger export \"oak top\" --from 2025-01-01 > oak-top.csv",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return y.with(ctx, false, func(s *store.Store) error {
				v, err := sensorNamed(ctx, s, args[0])
				if err != nil {
					return err
				}
				from, to, err := span.of(v)
				if err != nil {
					return err
				}
				return s.WriteReadings(ctx, y.p.stdout, v, from.Unix(), to.Unix())
			})
		},
	}
	c.Flags().StringVar(&y.path, "yard", "", "the yard file (default: hackle/yard.sqlite in your data folder)")
	span.add(c)
	return c
}

func (y *yardFile) loggerRename() *cobra.Command {
	return y.command(&cobra.Command{
		Use:     "rename SENSOR NAME",
		Short:   "Give a sensor another name",
		Long:    "Give a sensor another name. Files taken in later must call it by the new one.",
		Example: "  hackle logger rename \"T1\" \"oak top\"",
		Args:    cobra.ExactArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return y.with(ctx, false, func(s *store.Store) error {
				v, err := sensorNamed(ctx, s, args[0])
				if err != nil {
					return err
				}
				if err := s.RenameSensor(ctx, v.ID, args[1]); err != nil {
					return err
				}
				return y.tell(kept{s.Path(), "sensor", args[1], fmt.Sprintf("%s is now called %s", v.Name, args[1])})
			})
		},
	})
}

func (y *yardFile) loggerRemove() *cobra.Command {
	var sure bool
	c := y.command(&cobra.Command{
		Use:     "remove SENSOR --sure",
		Short:   "Remove a sensor with all its readings for good",
		Long:    "Remove a sensor with all its readings. Unlike records, readings removed so are gone.",
		Example: "  hackle logger remove \"T9\" --sure",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return y.with(ctx, false, func(s *store.Store) error {
				v, err := sensorNamed(ctx, s, args[0])
				if err != nil {
					return err
				}
				if !sure {
					return fmt.Errorf("%s has %d readings, which would be gone for good: give --sure", v.Name, v.Readings)
				}
				if err := s.RemoveSensor(ctx, v.ID); err != nil {
					return err
				}
				return y.tell(kept{s.Path(), "sensor", v.Name, fmt.Sprintf("removed %s with %d readings", v.Name, v.Readings)})
			})
		},
	})
	c.Flags().BoolVar(&sure, "sure", false, "yes, its readings may go")
	return c
}
