package ensemble

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"hackle/ledger"
	"hackle/wall"
)

// Matters tells which input moves the answer most, and so what is worth measuring.
type Matters struct {
	Runs     int             `json:"runs"`
	Walks    int             `json:"walks"`
	Rows     int             `json:"base_rows"` // 0: no shares of variance were asked for
	Targets  []TargetMatters `json:"targets"`
	Measures []MeasureValue  `json:"measures"` // what is worth measuring for the stores, the most telling first
	Faults   int             `json:"runs_not_computed"`
}

// TargetMatters is how one answer depends on the inputs.
type TargetMatters struct {
	Key    string       `json:"key"`
	Unit   string       `json:"unit"`
	Label  string       `json:"label"`
	Inputs []InputMoves `json:"inputs"` // the strongest first
	Shares []ShareDoc   `json:"variance_shares,omitempty"`
}

// InputMoves is what screening found of an input.
type InputMoves struct {
	Name string `json:"name"`
	// Swing is how far the answer moves, either way, when the input goes from its
	// lowest tenth to its highest.
	Swing  Estimate `json:"swing"`
	Rises  bool     `json:"rises"` // the answer rises with the input, on the whole
	Uneven float64  `json:"uneven"`
}

// ShareDoc is the part of an input in the variance.
type ShareDoc struct {
	Name  string   `json:"name"`
	First Estimate `json:"first_order"`
	Total Estimate `json:"total"`
}

// MeasureValue is how much of the stores' uncertainty a measurement stands against.
type MeasureValue struct {
	Measure Measure  `json:"measure"`
	Inputs  []string `json:"inputs"`
	Swing   float64  `json:"swing_kg"` // root of the sum of squares of its inputs
	Share   float64  `json:"share"`    // of that of all inputs
}

// Probe asks what matters.
type Probe struct {
	Walks int // of the screening; 0: 6
	// Rows is the base of the shares of variance of the Leaders strongest inputs, all
	// others as one group; 0: none are computed.
	Rows    int
	Leaders int // 0: 6
	Journal string
}

// target is an answer whose inputs are looked into.
type target struct {
	key, unit, label string
	of               func(row []float64) float64
}

// weatherName stands for the year of the weather among the inputs.
const weatherName = "weather"

func (q *Question) targets() []target {
	line := func(key, label string) target {
		k := slices.IndexFunc(numbered(), func(n ledger.Line) bool { return n.Key == key })
		return target{key, numbered()[k].Unit, label, func(row []float64) float64 { return row[rowLines+k] }}
	}
	return []target{
		{"stores.need_kg", "kg", "stores needed to the first forage", func(r []float64) float64 { return r[rowUse] + r[rowReserve] }},
		line("honey.burned_kg", "honey burned"),
		{"overhead_water_kg", "kg", "water over the cluster", func(r []float64) float64 { return r[rowOverhead] }},
		{"comb_share_of_strength", "-", "load of the comb over its strength", func(r []float64) float64 { return r[rowCombShare] }},
	}
}

// Matters finds what moves the answers: first by elementary effects over all inputs,
// then, when asked, by shares of variance over the strongest for the stores. Progress
// may be nil.
func (q *Question) Matters(ctx context.Context, p Probe, progress func(done, total int)) (*Matters, error) {
	if err := q.Check(); err != nil {
		return nil, err
	}
	if p.Walks == 0 {
		p.Walks = 6
	}
	if p.Leaders == 0 {
		p.Leaders = 6
	}
	n := len(q.Design.Inputs) + 1
	screen := Screening{Dimensions: n, Walks: p.Walks, Inside: true, Seed: q.Design.Seed}
	if err := screen.Check(); err != nil {
		return nil, err
	}
	total := screen.Count()
	if p.Rows > 0 {
		total += p.Rows * (min(p.Leaders, n-1) + 3)
	}
	joints := &wall.Cache{}
	m := &Matters{Walks: p.Walks, Rows: p.Rows}
	batch := func(count, before int, journal string, point func(int) []float64, about any) ([][]float64, error) {
		b := Batch{Count: count, Columns: q.Columns(), Workers: q.Workers,
			Evaluate: func(ctx context.Context, i int) ([]float64, error) {
				return q.Row(ctx, q.Design.at(i, point(i)), joints)
			}}
		if progress != nil {
			b.Progress = func(done, _ int) { progress(before+done, total) }
		}
		if journal != "" {
			own, err := q.key()
			if err != nil {
				return nil, err
			}
			key, err := Key(own, about)
			if err != nil {
				return nil, err
			}
			if b.Journal, err = OpenJournal(journal, key, b.Columns); err != nil {
				return nil, err
			}
			defer b.Journal.Close()
		}
		rows, err := b.Run(ctx)
		m.Runs += len(rows)
		m.Faults += len(rows) - len(column(rows, rowFault))
		return rows, err
	}
	rows, err := batch(screen.Count(), 0, p.Journal, screen.Point, screen)
	if err != nil {
		return nil, err
	}
	names := []string{weatherName}
	for _, in := range q.Design.Inputs {
		names = append(names, in.Name)
	}
	// The step from the lowest tenth to the highest: eight tenths of the whole.
	const step = 0.8
	for _, t := range q.targets() {
		answers := make([]float64, len(rows))
		for i, r := range rows {
			answers[i] = t.of(r)
		}
		tm := TargetMatters{Key: t.key, Unit: t.unit, Label: t.label}
		for j, e := range screen.Effects(answers) {
			size := Estimate{e.Size.Value * step, e.Size.Low * step, e.Size.High * step}
			if math.IsNaN(size.Value) {
				continue
			}
			uneven := 0.0
			if e.Size.Value > 0 {
				uneven = e.Spread / e.Size.Value
			}
			tm.Inputs = append(tm.Inputs, InputMoves{names[j], size, e.Mean > 0, uneven})
		}
		slices.SortStableFunc(tm.Inputs, func(a, b InputMoves) int {
			switch {
			case a.Swing.Value > b.Swing.Value:
				return -1
			case a.Swing.Value < b.Swing.Value:
				return 1
			}
			return strings.Compare(a.Name, b.Name)
		})
		m.Targets = append(m.Targets, tm)
	}
	m.measure(q)
	if p.Rows == 0 {
		return m, nil
	}
	shares, groups, labels := Shares{Dimensions: n, Rows: p.Rows, Seed: q.Design.Seed + 1}, [][]int{}, []string{}
	rest := []int{}
	var leaders []string
	for _, in := range m.Targets[0].Inputs[:min(p.Leaders, n-1)] {
		leaders = append(leaders, in.Name)
	}
	for j, name := range names {
		if slices.Contains(leaders, name) {
			groups, labels = append(groups, []int{j}), append(labels, name)
		} else {
			rest = append(rest, j)
		}
	}
	shares.Groups, labels = append(groups, rest), append(labels, "all others")
	if err := shares.Check(); err != nil {
		return nil, err
	}
	journal := p.Journal
	if journal != "" {
		journal += ".shares"
	}
	rows, err = batch(shares.Count(), screen.Count(), journal, shares.Point, shares)
	if err != nil {
		return nil, err
	}
	for k, t := range q.targets() {
		answers := make([]float64, len(rows))
		for i, r := range rows {
			answers[i] = t.of(r)
		}
		for g, s := range shares.Indices(answers) {
			m.Targets[k].Shares = append(m.Targets[k].Shares, ShareDoc{labels[g], s.First, s.Total})
		}
	}
	return m, nil
}

// measure weighs the measurements by what they stand against in the first target.
func (m *Matters) measure(q *Question) {
	of := map[string]Measure{weatherName: MoreYears}
	for _, in := range q.Design.Inputs {
		of[in.Name] = in.Measure
	}
	sum, all := map[Measure]*MeasureValue{}, 0.0
	for _, in := range m.Targets[0].Inputs {
		v := sum[of[in.Name]]
		if v == nil {
			v = &MeasureValue{Measure: of[in.Name]}
			sum[of[in.Name]] = v
		}
		square := in.Swing.Value * in.Swing.Value
		v.Swing += square
		all += square
		if len(v.Inputs) < 4 && square > 0 {
			v.Inputs = append(v.Inputs, in.Name)
		}
	}
	for _, v := range sum {
		if all > 0 {
			v.Share = v.Swing / all
		}
		v.Swing = math.Sqrt(v.Swing)
		m.Measures = append(m.Measures, *v)
	}
	slices.SortFunc(m.Measures, func(a, b MeasureValue) int {
		switch {
		case a.Share > b.Share:
			return -1
		case a.Share < b.Share:
			return 1
		}
		return strings.Compare(string(a.Measure), string(b.Measure))
	})
}

// Advice says in a sentence what would sharpen the answer most, empty when nothing
// could be found.
func (m *Matters) Advice() string {
	for _, v := range m.Measures {
		if v.Measure == Research || v.Measure == MoreYears {
			continue
		}
		return fmt.Sprintf("What would sharpen the stores most: %s.", v.Measure)
	}
	return ""
}
