package ensemble

import (
	"fmt"

	"hackle/climate"
	"hackle/comb"
	"hackle/season"
)

// Design says what is drawn and how.
type Design struct {
	Method Method // empty: Sobol
	Seed   uint64
	Count  int // draws; needed by LatinHypercube
	Inputs []Input
	// Years are the possible weathers, each exactly the hours of a run and all of one
	// length or nearly so; each is as likely as the others.
	Years []*climate.Series
	// Correlations let inputs go together; none: they are drawn independently.
	Correlations []Correlation
}

// Draw is one possible world as numbers: it belongs to a Design and means the same
// for every variant of a hive.
type Draw struct {
	Index  int
	Year   int       // index into Design.Years
	Values []float64 // one an input, in its unit
}

// points of the design; the first number chooses the year.
func (d *Design) points() Points {
	m := d.Method
	if m == "" {
		m = Sobol
	}
	return Points{Method: m, Seed: d.Seed, Dimensions: len(d.Inputs) + 1, Count: d.Count}
}

// Check refuses a design that cannot be drawn.
func (d *Design) Check() error {
	if len(d.Years) == 0 {
		return fmt.Errorf("ensemble: no weather to draw from")
	}
	for i, y := range d.Years {
		if y == nil || len(y.Hours) == 0 {
			return fmt.Errorf("ensemble: year %d of the weather is empty", i+1)
		}
	}
	for _, in := range d.Inputs {
		if !(in.Low <= in.Usual && in.Usual <= in.High) {
			return fmt.Errorf("ensemble: range of %s, %g to %g, does not hold its usual value %g", in.Name, in.Low, in.High, in.Usual)
		}
	}
	if _, err := d.link(); err != nil {
		return err
	}
	return d.points().Check()
}

// Draw returns draw i, 0 for the first. The design must have passed Check.
func (d *Design) Draw(i int) Draw {
	u := d.points().Point(i)
	if l, err := d.link(); err == nil {
		l.together(u)
	}
	return d.at(i, u)
}

// at turns a point of the cube into a draw.
func (d *Design) at(i int, u []float64) Draw {
	draw := Draw{Index: i, Year: min(len(d.Years)-1, int(u[0]*float64(len(d.Years)))), Values: make([]float64, len(d.Inputs))}
	for j, in := range d.Inputs {
		draw.Values[j] = in.Value(u[j+1])
	}
	return draw
}

// Usual is the draw in which every input has its usual value, in the weather of a
// year of the design.
func (d *Design) Usual(year int) Draw {
	draw := Draw{Index: -1, Year: year, Values: make([]float64, len(d.Inputs))}
	for j, in := range d.Inputs {
		draw.Values[j] = in.Usual
	}
	return draw
}

// Case puts a draw into a hive: base has the plan of a variant as the engine runs
// it (measured factors put in) and the biology; the weather becomes the draw's. Base
// is not altered.
func (d *Design) Case(draw Draw, base season.Input) Case {
	c := Case{Input: base, Wax: 0.5, Creep: comb.StandardCreep()}
	c.Plan = base.Plan.Clone()
	c.Weather = d.Years[draw.Year]
	for j, in := range d.Inputs {
		in.apply(&c, draw.Values[j])
	}
	mend(&c.Biology)
	return c
}
