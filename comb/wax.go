package comb

import (
	_ "embed"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

//go:embed wax.csv
var standardFile string

// RoomStrength is the strength of beeswax at room temperature, to which the
// ratios of a [Table] refer. [Pa]
//
// Source: Global Journal of Researches in Engineering 18 (J5), 2018, compression
// of cylinders cast and cooled in air (read; the temperature of the room is not
// stated there). Wax is taken to be as strong in tension as in compression, and
// half as strong in shear (Tresca).
const RoomStrength = 0.578e6

// mostRatio is the largest ratio that a table may hold. [-]
const mostRatio = 4.0

// Range is a figure with its two ends, Low ≤ Mid ≤ High.
type Range struct {
	Low, Mid, High float64
}

// Table gives the strength of wax against temperature, for fresh comb and for
// comb that has held brood. It never changes, so that it may be used by several
// goroutines at once.
//
// The table that comes with the program is an estimate between two read ends:
// room temperature and melting. See docs/comb.md before relying on it, and
// [ParseTable] for putting measurements in its place.
type Table struct {
	temperature []float64  // ascending [°C]
	ratio       [2][]Range // indexed by ageIndex, strength over RoomStrength [-]
	most        [2]float64 // largest ratio by age [-]
	basis       []string   // where each row comes from
}

// StandardTable returns the table that comes with the program. It fails only
// when the embedded file is damaged.
func StandardTable() (*Table, error) {
	table, err := ParseTable(strings.NewReader(standardFile))
	if err != nil {
		return nil, fmt.Errorf("standard table of wax: %w", err)
	}
	return table, nil
}

// headings of a table's columns.
var headings = [...]string{"temperature [°C]", "fresh low [-]", "fresh mid [-]", "fresh high [-]", "brood low [-]", "brood mid [-]", "brood high [-]", "basis"}

// ParseTable reads a table of strength ratios in the layout of wax.csv: one row
// a temperature, ascending; for fresh and for brood comb the low, middle and high
// ratio of strength to [RoomStrength]; and in the last column where the row
// comes from, which must not be empty.
//
// Between rows the ratio is linear in temperature, below the first row it stays
// as it is there. The last row must hold zeros only: it says from which
// temperature on nothing is left. Ratios lie between 0 and 4, low ≤ mid ≤ high. A
// file that is otherwise gives an error that names line and column.
func ParseTable(from io.Reader) (*Table, error) {
	file := csv.NewReader(from)
	file.FieldsPerRecord = len(headings)
	first, err := file.Read()
	if err != nil {
		return nil, fmt.Errorf("headings: %w", err)
	}
	for i, h := range headings {
		if first[i] != h {
			return nil, fmt.Errorf("column %d is headed %q, not %q", i+1, first[i], h)
		}
	}
	table := &Table{}
	for {
		cells, err := file.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		line, _ := file.FieldPos(0)
		var value [len(headings) - 1]float64
		for i := range value {
			if value[i], err = strconv.ParseFloat(cells[i], 64); err != nil {
				return nil, fmt.Errorf("line %d, %s: %w", line, headings[i], err)
			}
			if i > 0 && !(value[i] >= 0 && value[i] <= mostRatio) {
				return nil, fmt.Errorf("line %d, %s: %s is not between 0 and %g", line, headings[i], cells[i], mostRatio)
			}
		}
		t := value[0]
		if !(t >= -50 && t <= 100) {
			return nil, fmt.Errorf("line %d, %s: %s is not between -50 and 100", line, headings[0], cells[0])
		}
		if n := len(table.temperature); n > 0 && !(t > table.temperature[n-1]) {
			return nil, fmt.Errorf("line %d, %s: %g does not lie above %g", line, headings[0], t, table.temperature[n-1])
		}
		if strings.TrimSpace(cells[len(headings)-1]) == "" {
			return nil, fmt.Errorf("line %d: no basis", line)
		}
		table.temperature = append(table.temperature, t)
		table.basis = append(table.basis, cells[len(headings)-1])
		for age := range table.ratio {
			v := value[1+3*age:]
			if !(v[0] <= v[1] && v[1] <= v[2]) {
				return nil, fmt.Errorf("line %d: %s, %s and %s do not rise", line, cells[1+3*age], cells[2+3*age], cells[3+3*age])
			}
			table.ratio[age] = append(table.ratio[age], Range{v[0], v[1], v[2]})
			table.most[age] = max(table.most[age], v[2])
		}
	}
	n := len(table.temperature)
	if n < 2 {
		return nil, fmt.Errorf("%d rows, at least 2 needed", n)
	}
	for age := range table.ratio {
		if table.ratio[age][n-1].High != 0 {
			return nil, fmt.Errorf("last row, %g °C: strength is not 0", table.temperature[n-1])
		}
		if table.most[age] == 0 {
			return nil, errors.New("no row with any strength")
		}
	}
	return table, nil
}

// Ratio returns the strength of wax over [RoomStrength] at a temperature in °C,
// low, middle and high. [-]
//
// Not-a-number temperatures give not-a-number ratios. An age that is neither
// Fresh nor Brood counts as Fresh, the weaker one.
func (t *Table) Ratio(age Age, temperature float64) Range {
	rows := t.ratio[age.index()]
	last := len(rows) - 1
	switch {
	case math.IsNaN(temperature):
		return Range{temperature, temperature, temperature}
	case temperature <= t.temperature[0]:
		return rows[0]
	case temperature >= t.temperature[last]:
		return rows[last]
	}
	i := 1
	for temperature > t.temperature[i] {
		i++
	}
	share := (temperature - t.temperature[i-1]) / (t.temperature[i] - t.temperature[i-1])
	a, b := rows[i-1], rows[i]
	return Range{a.Low + share*(b.Low-a.Low), a.Mid + share*(b.Mid-a.Mid), a.High + share*(b.High-a.High)}
}

// Rows calls each for every row of the table, with its basis.
func (t *Table) Rows(each func(temperature float64, fresh, brood Range, basis string)) {
	for i, temperature := range t.temperature {
		each(temperature, t.ratio[0][i], t.ratio[1][i], t.basis[i])
	}
}

// Creep is the law by which wax under load goes on stretching: the time law of
// transient creep (strain with the cube root of time) with a power law of
// stress,
//
//	ε = F·Uⁿ·(t/t₀)^m
//
// at constant utilisation U = stress over strength at that temperature; F is the
// strain at which wax tears, t₀ the duration of a strength test: a comb at U = 1
// tears after t₀. For loads and temperatures that change, the strain already
// there takes the place of time (strain hardening):
//
//	(ε/F)^(1/m) = ∫ U^(n/m) dt/t₀
//
// The right side is the life used. Sources: cube root of time, "On the viscous
// flow in metals, and allied phenomena", Proceedings of the Royal Society A 84
// (1910) (formula read in a textbook); strain hardening, textbooks of creep (from
// memory); exponents n of paraffin waxes 1.8 to 4.1 (read in a secondary
// figure). Nothing of this has been measured on comb: all four are estimates.
type Creep struct {
	StressExponent float64 // n [-], estimate 3, range 2 to 4
	TimeExponent   float64 // m [-], 1/3
	TestTime       float64 // t₀ [s], estimate 600, range 60 to 3600
	Ductility      float64 // F, strain at which wax tears [-], estimate 0.1, range 0.05 to 0.3
}

// StandardCreep returns the estimates that come with the program.
func StandardCreep() Creep {
	return Creep{StressExponent: 3, TimeExponent: 1.0 / 3, TestTime: 600, Ductility: 0.1}
}

// Validate reports what is wrong with the law, nil when nothing is.
func (c Creep) Validate() error {
	switch {
	case !(c.StressExponent >= 1 && c.StressExponent <= 10):
		return fmt.Errorf("creep: stress exponent %g is not between 1 and 10", c.StressExponent)
	case !(c.TimeExponent >= 0.1 && c.TimeExponent <= 1):
		return fmt.Errorf("creep: time exponent %g is not between 0.1 and 1", c.TimeExponent)
	case !(c.TestTime > 0 && c.TestTime <= 1e6):
		return fmt.Errorf("creep: test time %g s is not between 0 and 1e6 s", c.TestTime)
	case !(c.Ductility > 0 && c.Ductility <= 1):
		return fmt.Errorf("creep: ductility %g is not between 0 and 1", c.Ductility)
	}
	return nil
}

// lifeRate returns the life that a second at a utilisation uses up. [1/s]
func (c Creep) lifeRate(utilisation float64) float64 {
	return math.Pow(utilisation, c.StressExponent/c.TimeExponent) / c.TestTime
}

// strain returns the strain of a comb that has used up a share of its life. [-]
func (c Creep) strain(life float64) float64 {
	return c.Ductility * math.Pow(life, c.TimeExponent)
}
