package cutaway

import (
	"fmt"
	"strings"

	"hackle/hive"
)

// hatch is how a cut material is drawn, by the convention of section drawings:
// grain for wood, loops for soft insulation, crossed lines for rigid foam, solid for
// metal.
type hatch string

const (
	grain  hatch = "grain"  // solid wood
	plies  hatch = "plies"  // plywood and other boards
	foam   hatch = "foam"   // rigid insulation
	loops  hatch = "loops"  // batts and quilts
	litter hatch = "litter" // loose fill: shavings, straw
	weave  hatch = "weave"  // cloth and felt
	sheet  hatch = "sheet"  // plastics, papers, films
	metal  hatch = "metal"
	glass  hatch = "glass"
)

// hatches by the words that a material's name holds, the first that fits.
func hatches() []struct {
	words string
	hatch hatch
} {
	return []struct {
		words string
		hatch hatch
	}{
		{"steel|aluminium|aluminum|copper|zinc|metal|tin", metal},
		{"mineral wool board", foam},
		{"wool felt|burlap|cloth|canvas|felt mat", weave},
		{"wool|cellulose|cotton|batt|insulation|wadding", loops},
		{"shaving|straw|thatch|chips|sawdust|hay|leaves", litter},
		{"eps|xps|pir|pur|foam|cork|polystyrene|polyurethane", foam},
		{"plywood|osb|particleboard|mdf|softboard|wood fibre|board", plies},
		{"wood|pine|spruce|cedar|oak|fir|larch|poplar|timber", grain},
		{"glass", glass},
	}
}

// hatchOf a layer. An unknown material is told by its weight.
func hatchOf(l hive.Layer) hatch {
	name := strings.ToLower(l.Material.Name)
	for _, h := range hatches() {
		for _, w := range strings.Split(h.words, "|") {
			if strings.Contains(name, w) {
				if h.hatch == loops && strings.Contains(name, "glass") || !strings.Contains(name, "paper") {
					return h.hatch
				}
			}
		}
	}
	switch d := l.Material.Density; {
	case d > 2500:
		return metal
	case l.Resistance > 0 || d > 0 && d < 60:
		return loops
	case d > 0 && d < 250:
		return litter
	}
	return sheet
}

// pattern is the tile of a hatch whose layer runs level, in millimetres.
func (h hatch) pattern() (width, height float64, path string) {
	switch h {
	case grain:
		return 96, 20, "M0 3.5C28 1.5 62 6 96 3.5M0 8.6C34 11.5 58 5.8 96 8.6M0 13C24 12 70 15.5 96 13M0 17.4C40 18.4 60 15.6 96 17.4"
	case plies:
		return 40, 4, "M0 2H40"
	case foam:
		return 17, 17, "M0 0L17 17M17 0L0 17"
	case litter:
		return 34, 26, "M3 5l9 -3M17 4l8 4M29 3l3 7M6 13l4 7M14 16l10 -3M27 15l5 6M1 23l6 -2M15 22l7 3"
	case weave:
		return 5, 4, "M0 1H3M2.5 3H5"
	case sheet:
		return 5, 5, "M0 5L5 0"
	case glass:
		return 22, 22, "M2 20L20 2M8 20L14 14"
	}
	return 0, 0, ""
}

// batt draws the loops of soft insulation through a rectangle.
func batt(x, y, w, h float64, upright bool) string {
	long, thick := w, h
	if upright {
		long, thick = h, w
	}
	n := max(2, 2*int(long/(thick*0.5+14)))
	step := long / float64(n)
	at := func(a, b float64) string {
		if upright {
			return num(x+b) + " " + num(y+a)
		}
		return num(x+a) + " " + num(y+b)
	}
	var b strings.Builder
	edge := thick * 0.06
	level := [2]float64{thick - edge, edge}
	b.WriteString("M" + at(0, level[0]))
	for i := range n {
		a := float64(i) * step
		fmt.Fprintf(&b, "C%s %s %s", at(a+1.25*step, level[i%2]), at(a-0.25*step, level[(i+1)%2]), at(a+step, level[(i+1)%2]))
	}
	return b.String()
}
