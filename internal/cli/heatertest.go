package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"hackle/fit"
	"hackle/hive"
	"hackle/internal/answer"
	"hackle/ledger"
	"hackle/quantity"
	"hackle/season"
	"hackle/wall"
)

// heaterTest holds the flags of a heater test's log.
type heaterTest struct {
	log         string
	sensorError amount
	powerError  amount
	keep        bool
	phase       string
}

func (t *heaterTest) add(c *cobra.Command) {
	t.sensorError = amount{kind: quantity.TemperatureDifference, bare: "K"}
	t.powerError = amount{kind: quantity.Fraction}
	c.Flags().StringVar(&t.log, "log", "", "analyse the log of a heater test in this CSV `file`")
	c.Flags().Var(&t.sensorError, "sensor-error", "standard uncertainty of the difference of two thermometers; default 0.2 K")
	c.Flags().Var(&t.powerError, "power-error", "standard uncertainty of the power, such as \"2 %\", which is the default")
	c.Flags().BoolVar(&t.keep, "keep", false, "write the factor of the shell that explains the test into the hive file")
	c.Flags().StringVar(&t.phase, "phase", "", "phase that --keep takes; default: the only one")
}

func (t *heaterTest) check(watts, outside, protocol bool) error {
	switch {
	case t.log != "" && protocol:
		return errors.New("--log and --protocol, accepted: one of them")
	case t.log != "" && (watts || outside):
		return errors.New("--watts and --outside come from the log: give --log alone")
	case t.log == "" && (t.keep || t.phase != "" || t.sensorError.given || t.powerError.given):
		return errors.New("--keep, --phase, --sensor-error and --power-error belong to a test: give --log too")
	case t.log == "" && !protocol && !(watts && outside):
		return fmt.Errorf("--watts and --outside are wanted, such as --watts 12 --outside -5C; or --log with the log of a test, or --protocol")
	case t.sensorError.given && !(t.sensorError.value > 0 && t.sensorError.value < 10):
		return fmt.Errorf("--sensor-error %s: 0 to 10 K can be reckoned with", t.sensorError.text)
	case t.powerError.given && !(t.powerError.value > 0 && t.powerError.value < 0.5):
		return fmt.Errorf("--power-error %s: 0 to 50 %% can be reckoned with", t.powerError.text)
	}
	return nil
}

func (p *program) testHeater(ctx context.Context, file string, in season.HeaterInput, t *heaterTest, notes []string) error {
	f, err := os.Open(t.log)
	if err != nil {
		return fmt.Errorf("heater log: %w", err)
	}
	defer f.Close()
	log, err := fit.ReadHeaterLog(t.log, f)
	if err != nil {
		return err
	}
	if in.Date.IsZero() {
		in.Date = log.Rows[0].At
	}
	doc, err := answer.TestHeater(ctx, file, log, t.log, in, fit.HeaterOptions{SensorError: t.sensorError.value, PowerError: t.powerError.value}, notes)
	if err != nil {
		return err
	}
	if t.keep {
		note, err := keepShell(file, doc, t.phase)
		if err != nil {
			return err
		}
		doc.Notes = append(doc.Notes, note)
	}
	return p.write(doc, func(b *bytes.Buffer) error { heaterTestText(b, doc, p.system()); return nil })
}

// keepShell writes what a test says of the shell into the hive file.
func keepShell(file string, doc answer.HeaterTest, phase string) (string, error) {
	var chosen *answer.TestPhase
	var names []string
	for i := range doc.Phases {
		names = append(names, fmt.Sprintf("%q", doc.Phases[i].Name))
		if doc.Phases[i].Name == phase || len(doc.Phases) == 1 && phase == "" {
			chosen = &doc.Phases[i]
		}
	}
	if chosen == nil {
		return "", fmt.Errorf("--phase %q: the log has %s", phase, list(names))
	}
	if chosen.Shell == nil {
		return "", errors.New("no factor of the shell between 1/4 and 4 explains this test; look for a gap, or for what else differs from the file, and nothing is kept")
	}
	last := chosen.To
	m := hive.Measured{Shell: float64(int(chosen.Shell.Value*1000+0.5)) / 1000, On: hive.Day{Year: last.Year(), Month: last.Month(), Day: last.Day()}, From: strings.TrimSpace("heater test " + chosen.Name)}
	if err := keepIn(file, m); err != nil {
		return "", err
	}
	return fmt.Sprintf("%s now says that its shell lets through %.0f %% of the computed; every run of it uses that", file, 100*m.Shell), nil
}

// keepIn writes measured numbers into a hive file.
func keepIn(file string, m hive.Measured) error {
	text, err := os.ReadFile(file)
	if err != nil {
		return fmt.Errorf("hive file: %w", err)
	}
	text, err = answer.KeepMeasured(file, text, m)
	if err != nil {
		return err
	}
	f, err := create(file)
	if err != nil {
		return err
	}
	defer f.discard()
	if _, err := f.Write(text); err != nil {
		return fmt.Errorf("cannot write %s: %w", file, err)
	}
	return f.commit()
}

// between writes a number with its interval.
func between(v *answer.Bounds, format func(float64) string) string {
	switch {
	case v == nil:
		return "unknown"
	case v.Low == nil || v.High == nil:
		return format(v.Value)
	}
	return fmt.Sprintf("%s (%s to %s)", format(v.Value), format(*v.Low), format(*v.High))
}

func heaterTestText(b *bytes.Buffer, doc answer.HeaterTest, system quantity.System) {
	conductance := func(v float64) string { return quantity.Format(v, quantity.Conductance, system) }
	difference := func(v float64) string { return quantity.Format(v, quantity.TemperatureDifference, system) }
	for i, t := range doc.Phases {
		if i > 0 {
			b.WriteString("\n")
		}
		name := ""
		if t.Name != "" {
			name = t.Name + ": "
		}
		b.WriteString(ledger.Wrap(name+t.Text, "", ledger.Width))
		fmt.Fprintf(b, "\n%s", ledger.Wrap(fmt.Sprintf("%s, %s to %s, settled from %s: %.1f W, %s outdoors, the mean of the air %s above it.", doc.Hive, t.From.Format("2 Jan 2006 15:04"), t.To.Format("2 Jan 2006 15:04"), t.Settled.Format("2 Jan 15:04"),
			t.Watts, quantity.Format(t.Outside, quantity.Temperature, system), difference(t.Excess)), "", ledger.Width))
		columns(b, "Thermometer", "measured", "computed", "alone it says")
		for j := len(t.Sensors) - 1; j >= 0; j-- {
			s := t.Sensors[j]
			alone := "unknown"
			if s.Alone != nil {
				alone = conductance(s.Alone.Value)
			}
			columns(b, quantity.Format(s.Height/1000, quantity.Length, system), difference(s.Excess), difference(s.Computed), alone)
		}
		if top := t.Sensors[len(t.Sensors)-1]; len(t.Sensors) > 1 && top.Alone != nil {
			b.WriteString(ledger.Wrap(fmt.Sprintf("The topmost thermometer alone would have said %s; all together say %s.", between(top.Alone, conductance), between(t.Conductance, conductance)), "", ledger.Width))
		}
		fmt.Fprintf(b, "\n%s", ledger.Wrap(fmt.Sprintf("By the average method %s; by the dynamic method %s. The %s method is taken: %s.", between(t.Average, conductance), between(t.Dynamic, conductance), t.Method, t.Why), "", ledger.Width))
		for _, c := range t.Criteria {
			met, found := "met", "not reached"
			if !c.Met {
				met = "not met"
			}
			if c.Found != nil {
				found = fmt.Sprintf("%.2g", *c.Found)
			}
			fmt.Fprintf(b, "  %s: %s, asked for %g: %s\n", strings.TrimSuffix(c.Name, " [-]"), found, c.Limit, met)
		}
		if t.Shell != nil {
			b.WriteString(ledger.Wrap(fmt.Sprintf("A shell that conducts %s of the computed would explain the test.", between(t.Shell, func(v float64) string { return fmt.Sprintf("%.0f %%", 100*v) })), "", ledger.Width))
		}
		writeNotes(b, t.Notes)
	}
	for _, c := range doc.Changes {
		fmt.Fprintf(b, "\n%s", ledger.Wrap(c.Text, "", ledger.Width))
	}
	writeNotes(b, doc.Notes)
}

func (p *program) heaterProtocol(file string, in season.HeaterInput, outside bool) error {
	if !outside {
		in.Outside = 2
	}
	pr, err := fit.Protocol(in, p.system(), &wall.Cache{})
	if err != nil {
		return err
	}
	type step struct {
		Title string `json:"title"`
		Text  string `json:"text"`
	}
	doc := struct {
		File    string    `json:"file"`
		Hive    string    `json:"hive"`
		Watts   float64   `json:"watts_W"`
		Excess  float64   `json:"excess_K"`
		Hours   float64   `json:"hours"`
		Settle  float64   `json:"settle_h"`
		Heights []float64 `json:"heights_mm"`
		Steps   []step    `json:"steps"`
	}{file, in.Plan.Hive.Name, pr.Watts, pr.Excess, pr.Hours, pr.Settle, nil, nil}
	for _, z := range pr.Heights {
		doc.Heights = append(doc.Heights, z*1000)
	}
	for _, s := range pr.Steps {
		doc.Steps = append(doc.Steps, step{s.Title, s.Text})
	}
	return p.write(doc, func(b *bytes.Buffer) error {
		fmt.Fprintf(b, "Heater test of %s\n", doc.Hive)
		for _, s := range doc.Steps {
			fmt.Fprintf(b, "\n%s\n%s", s.Title, ledger.Wrap(s.Text, "  ", ledger.Width))
		}
		return nil
	})
}
