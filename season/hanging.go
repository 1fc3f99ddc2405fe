package season

import (
	"fmt"
	"time"

	"hackle/comb"
)

// CombPeak is the worst hour of the combs of one body and column.
type CombPeak struct {
	Body   int    // index into Hive.Bodies
	Column string // "core", "flank" or "beyond"
	At     time.Time
	Worst  comb.Result // at that hour
	Class  comb.Class  // at the end of the run: what has fallen stays fallen
	Honey  float64     // in one comb at that hour [kg]
	Nectar float64     // in one comb at that hour, still to ripen [kg]

	// Frames is how many of the body's frames these combs are, side by side: the
	// middle ones for the core, which the cluster sits in, the outer ones for the
	// flank. One temperature and one load stand for all of them.
	Frames, FramesInBody float64
	Warmest              float64 // at the warmest of their heights [°C]
	WarmestAt            time.Time
	HoneyThen            float64 // in one comb at that hour [kg]
}

// hanging is one comb that stands for all of its body and column.
type hanging struct {
	body, column int
	cells        []int // combs of the slabs it runs through
	panel        *comb.Panel
	loaded       comb.Loaded
	honey        float64 // [kg]
	nectar       float64 // [kg]
	state        comb.State
	peak         CombPeak
	low, mid     int // channels
	high         int
	held, full   int
	holds        float64 // in one comb that is filled completely [kg]
}

// Wood that a frame takes from its outer size: side bars, and top and bottom bar.
// Usual figures of the trade, common practice, no source. [m]
const (
	sideBars = 0.018
	endBars  = 0.030
)

// beeLoad is what bees weigh on a comb when they cover it: 2,430 on a deep comb.
// [kg/m²]
const beeLoad = 2.8

// hangCombs makes a panel of the combs of each body and column.
func (r *run) hangCombs() error {
	e := r.e
	table, err := comb.StandardTable()
	if err != nil {
		return err
	}
	h := &r.in.Plan.Hive
	for body := range h.Bodies {
		f := h.Bodies[body].Frames
		for col := range e.columns {
			var cells []int
			for k, s := range e.slabs {
				if s.body == body && s.comb {
					if j := e.cells[e.at(k, col)].comb; j >= 0 {
						cells = append(cells, j)
					}
				}
			}
			if len(cells) == 0 {
				continue
			}
			frame := comb.Frame{Width: f.Length - sideBars, Height: f.Depth - endBars, Bars: f.Bars, Foundation: !f.Bars,
				Age: comb.Age(f.CombAge), Support: comb.Support(f.Support)}
			if f.Bars {
				// Nothing holds wires or sticks under a bar without side bars.
				frame.Width, frame.Height, frame.Support = f.Length, f.Depth, comb.None
			}
			if frame.Age == "" {
				frame.Age = comb.Brood
			}
			if frame.Support == "" {
				frame.Support = comb.None
			}
			p, err := comb.New(frame, table, comb.StandardCreep())
			if err != nil {
				return fmt.Errorf("combs of body %d: %w", body+1, err)
			}
			name := columnNames[col]
			at := fmt.Sprintf(" of a comb in body %d, %s: weight over what it can carry for minutes", body+1, name)
			g := hanging{body: body, column: col, cells: cells, panel: p}
			g.mid = r.trace.add(fmt.Sprintf("comb.utilisation.%d.%s", body+1, name), "-", "utilisation"+at+", middle strength")
			g.low = r.trace.add(fmt.Sprintf("comb.utilisation.%d.%s.low", body+1, name), "-", "utilisation"+at+", wax at the strong end")
			g.high = r.trace.add(fmt.Sprintf("comb.utilisation.%d.%s.high", body+1, name), "-", "utilisation"+at+", wax at the weak end")
			g.held = r.trace.add(fmt.Sprintf("comb.stores.%d.%s", body+1, name), "kg", fmt.Sprintf("honey and nectar in one comb in body %d, %s, weighed at midnight", body+1, name))
			g.full = r.trace.add(fmt.Sprintf("comb.fill.%d.%s", body+1, name), "-", fmt.Sprintf("these stores over what one comb in body %d, %s, holds full of honey", body+1, name))
			g.holds = f.HoneyPerFrame
			g.peak = CombPeak{Body: body, Column: name, Class: comb.Holds, Frames: e.combs[cells[0]].abreast, FramesInBody: float64(f.Count)}
			r.combs = append(r.combs, g)
		}
	}
	r.acc = make([]float64, len(r.trace.Channels))
	return nil
}

var columnNames = [...]string{"core", "flank", "beyond"}

// weigh puts the day's stores on the combs. Unripe nectar lies where the newest
// stores lie; its mass is shared by how much each comb holds.
func (r *run) weigh() error {
	e := r.e
	total := r.honey()
	sugar := 0.4
	for _, f := range r.in.Plan.Colony.Flows {
		if during(r.today, f.From, f.To) {
			sugar = f.Sugar
		}
	}
	nectar := 0.0
	if surplus := 1 - sugar/ripeSugar; r.hot.unripe > 0 && surplus > 0 {
		nectar = min(total, r.hot.unripe/surplus)
	}
	covered := 0.0
	for i := range e.combs {
		covered += e.combs[i].faceArea
	}
	for i := range r.combs {
		g := &r.combs[i]
		honey, count, height, full := 0.0, 0.0, 0.0, 0.0
		for _, j := range g.cells {
			s := e.slabs[e.cells[e.combs[j].cell].slab]
			honey += e.honey[j]
			count += e.combs[j].count * s.height()
			height += s.height()
			full += e.combs[j].faceArea
		}
		count /= height
		wet := 0.0
		if total > 0 {
			wet = nectar * honey / total
		}
		bees := min(beeLoad*full/2, r.strength.Adults*full/covered)
		g.honey, g.nectar = max(0, honey-wet*sugar/ripeSugar)/count, wet/count
		var err error
		g.loaded, err = g.panel.Under(comb.Load{Honey: g.honey, Nectar: g.nectar, Bees: bees / count})
		if err != nil {
			return err
		}
	}
	return nil
}

// strain moves every comb on by an hour at the warmest of its own heights: it
// hangs from its top, which is as a rule the warmest.
func (r *run) strain() {
	e := r.e
	for i := range r.combs {
		g := &r.combs[i]
		t := e.comb[g.cells[0]]
		for _, j := range g.cells {
			t = max(t, e.comb[j])
		}
		if g.peak.WarmestAt.IsZero() || t > g.peak.Warmest {
			g.peak.Warmest, g.peak.WarmestAt, g.peak.HoneyThen = t, r.now(), g.honey
		}
		r.acc[g.held] = g.honey + g.nectar
		if g.holds > 0 {
			r.acc[g.full] = r.acc[g.held] / g.holds
		}
		res := g.state.Advance(&g.loaded, 3600, t)
		r.acc[g.mid], r.acc[g.low], r.acc[g.high] = res.Utilisation.Mid, res.Utilisation.Low, res.Utilisation.High
		if res.Utilisation.Mid > g.peak.Worst.Utilisation.Mid {
			g.peak.At, g.peak.Worst, g.peak.Honey, g.peak.Nectar = r.now(), res, g.honey, g.nectar
		}
		if res.Class != g.peak.Class && g.peak.Class != comb.Falls && (res.Class == comb.Falls || g.peak.Class == comb.Holds) {
			g.peak.Class = res.Class
			if res.Class == comb.Falls {
				r.event(r.now(), fmt.Sprintf("combs of body %d, %s, give way: %s", g.body+1, columnNames[g.column], res.Place))
			}
		}
	}
}
