package cutaway

import (
	"fmt"
	"math"
	"strconv"

	"hackle/hive"
)

// rules derives what the hours of a year move.
func (s *scene) rules(y *Year) {
	m := &s.moves
	m.Fields, m.Tones, m.Combs, m.Marks, m.Crowds, m.Flows, m.Gates, m.Widths = []fieldMove{}, []toneMove{}, []combMove{}, []markMove{}, []crowdMove{}, []flowMove{}, []gateMove{}, []widthMove{}
	s.spans(y)
	s.fields(y)
	if s.attic != nil && y.has("air.in_lid") {
		m.Tones = append(m.Tones, toneMove{"attic", "air.in_lid"})
	}
	s.ball(y)
	s.honey(y)
	s.water(y)
	s.streams(y)
	for i := range s.hive.Wraps {
		m.Gates = append(m.Gates, gateMove{fmt.Sprintf("wrap%d", i), fmt.Sprintf("wrap.%d.on", i+1), 1})
	}
	if s.hive.Floor.Mesh {
		m.Gates = append(m.Gates, gateMove{"tray", "tray.in", 1})
	}
	if y.has("board.open") {
		m.Gates = append(m.Gates, gateMove{"plug", "board.open", 0})
	}
	seen := map[string]bool{}
	for _, d := range s.doors {
		var i, n int
		if _, err := fmt.Sscanf(d.gate, "shut%d-%d", &i, &n); err == nil && !seen[d.gate] {
			seen[d.gate] = true
			m.Gates = append(m.Gates, gateMove{d.gate, fmt.Sprintf("opening.%d.share", i+1), 0})
		}
	}
	for _, h := range s.holes {
		var i, k int
		if _, err := fmt.Sscanf(h.id, "open%d-%d", &i, &k); err == nil && !h.round {
			m.Widths = append(m.Widths, widthMove{h.id, fmt.Sprintf("opening.%d.share", i+1), tenth(h.x0), tenth(h.w())})
		}
	}
	x0, w := s.scalePlace()
	m.Needle = needleMove{"needle", x0, w / tones, tenth(s.ground + legendDrop*s.letter())}
}

// fields lays out the gradients of the air and of the combs: from flank to core in
// steps, and past a follower board.
func (s *scene) fields(y *Year) {
	m := &s.moves
	steps := ramp
	if len(y.columns) < 2 {
		steps = 0
	}
	for _, of := range []string{"air", "comb"} {
		first := of[:1] // "a0", "c0" and so on
		inner := y.slabsOf(of+".core.", of+".flank.")
		if inner == nil {
			continue
		}
		for i := 0; i <= steps; i++ {
			share := 1.0
			if steps > 0 {
				share = float64(i) / float64(steps)
			}
			m.Fields = append(m.Fields, fieldMove{ID: first + strconv.Itoa(i), Of: of, Core: share, Slabs: inner})
		}
		if past := y.slabsOf(of + ".beyond."); past != nil {
			m.Fields = append(m.Fields, fieldMove{ID: first + "-beyond", Of: of, Column: "beyond", Slabs: past})
		}
	}
}

// slabsOf gives for each slab the nearest one that has a channel of these kinds, nil
// when none has.
func (y *Year) slabsOf(kinds ...string) []int {
	var have []int
	for k := range y.slabs {
		for _, kind := range kinds {
			if _, ok := y.index[kind+strconv.Itoa(k+1)]; ok {
				have = append(have, k)
				break
			}
		}
	}
	if have == nil {
		return nil
	}
	out := make([]int, len(y.slabs))
	for k := range out {
		out[k] = have[0]
		for _, h := range have {
			if abs(h-k) < abs(out[k]-k) {
				out[k] = h
			}
		}
	}
	return out
}

func abs(n int) int { return max(n, -n) }

// Legend: how far below the ground its bar lies. [mm]
const (
	legendDrop = 52.0
	legendTall = 9.0
)

// scalePlace is where the scale of temperature lies: x of its low end, and width.
func (s *scene) scalePlace() (x0, w float64) {
	w = min(390*s.letter(), max(286, 0.7*(s.outer.x1-s.outer.x0)))
	return tenth(-w/2 - 44*s.letter()), w
}

// letter is the size of the lettering: a broad hive is shown smaller, and its letters
// must not be.
func (s *scene) letter() float64 {
	if s.reach[1]-s.reach[0] > 700 {
		return 1.4
	}
	return 1
}

// tenth rounds to what is written.
func tenth(x float64) float64 { return math.Floor(x*10+0.5) / 10 }

// spans finds the room of the bees' air across the section, and that of the core.
func (s *scene) spans(y *Year) {
	i := s.nest()
	b := &s.hive.Bodies[max(i, 0)]
	half := s.across(b) / 2
	for _, r := range s.inside {
		half = max(half, r.x1)
	}
	s.span = [2]float64{-half, half}
	middle, most := 0.0, s.across(b)
	if i >= 0 && s.onEdge(b) {
		if f := followerOf(s.hive, i); f != nil {
			x, right := s.followerAt(b, f)
			if right {
				s.span[1] = x
				middle, most = (x-b.Width*mm/2)/2, x+b.Width*mm/2
			} else {
				s.span[0] = x
				middle, most = (x+b.Width*mm/2)/2, b.Width*mm/2-x
			}
		}
	}
	w := y.breadth * mm
	if i >= 0 && s.onEdge(b) {
		bees := float64(b.Frames.Count)
		if f := followerOf(s.hive, i); f != nil {
			bees = float64(f.Frames)
		}
		w = coreCombs(b.Frames, bees, y.breadth) * b.Frames.Pitch * mm
	}
	w = min(w, 0.8*most)
	s.core = [2]float64{middle - w/2, middle + w/2}
}

// nest is the uppermost body with frames, whose combs the cluster's column has; -1
// in an empty hive.
func (s *scene) nest() int {
	for i := len(s.hive.Bodies) - 1; i >= 0; i-- {
		if s.hive.Bodies[i].Frames.Count > 0 {
			return i
		}
	}
	return -1
}

// rampWidth is how broad the passage from flank to core is drawn. [mm]
func (s *scene) rampWidth() float64 {
	return min(60, (s.core[1]-s.core[0])/2, 1.6*max(1, min(s.core[0]-s.span[0], s.span[1]-s.core[1])))
}

// coreShare is how much of the air at x is the core's.
func (s *scene) coreShare(x float64) float64 {
	w := s.rampWidth()
	d := min(x-s.core[0], s.core[1]-x) // inside the core
	return min(max(d/w+0.5, 0), 1)
}

// columnAt is the column of a comb on edge whose middle is at x.
func (s *scene) columnAt(x float64) int {
	switch {
	case x < s.span[0] || x > s.span[1]:
		return beyond
	case x > s.core[0] && x < s.core[1]:
		return core
	}
	return flank
}

// halton is the i-th number of the van der Corput sequence of a base, between 0 and
// 1: spread evenly however many are taken.
func halton(i, base int) float64 {
	f, x := 1.0, 0.0
	for i++; i > 0; i /= base {
		f /= float64(base)
		x += f * float64(i%base)
	}
	return x
}

// beeStrokes are bees of the length of a worker, 12 mm, in twelve directions; kind
// 0 and 1 stand upright.
func beeStrokes() []string {
	out := []string{"m0-4.5v9", "m.8-4.4l-1.6 8.8"}
	for i := range 10 {
		a := math.Pi * (float64(i) + 0.4) / 10
		x, y := 4.5*math.Cos(a), 4.5*math.Sin(a)
		out = append(out, "m"+num(-x)+" "+num(-y)+"l"+num(2*x)+" "+num(2*y))
	}
	return out
}

// perBee is the mass that one drawn bee stands for: forty winter bees. [kg]
const perBee = 40 * 0.11e-3

func (s *scene) ball(y *Year) {
	i := s.nest()
	if !y.has("bees.radius") {
		return
	}
	b := &ballMove{X: tenth((s.core[0] + s.core[1]) / 2), Mass: perBee, Bees: beeStrokes()}
	onEdge := i >= 0 && s.onEdge(&s.hive.Bodies[i])
	for n := 0; len(b.Points) < mostBees; n++ {
		u, v := 2*halton(n, 2)-1, 2*halton(n, 3)-1
		if u*u+v*v > 0.94 {
			continue
		}
		kind := 2 + n%10
		if onEdge {
			kind = n % 2
		}
		b.Points = append(b.Points, [3]float64{milli(u), milli(v), float64(kind)})
	}
	if onEdge {
		f := s.hive.Bodies[i].Frames
		b.Pitch = tenth(f.Pitch * mm)
		b.From = tenth(s.place(i, &s.hive.Bodies[i], 0) + f.Pitch*mm/2)
		b.Lane = tenth(max(0, (f.Pitch-f.CombThickness)*mm/4))
	}
	s.moves.Ball = b
}

// honey lays out the bars of comb that the slabs fill.
func (s *scene) honey(y *Year) {
	bars := make([][][5]float64, len(y.columns))
	for k, slab := range y.slabs {
		if !slab.Comb {
			continue
		}
		for _, c := range s.combs {
			if !c.built {
				continue
			}
			// The part of the comb that lies in the slab.
			y0, y1 := max(c.y0, -slab.Top*mm), min(c.y1, -slab.Bottom*mm)
			if y1-y0 < 0.5*(slab.Top-slab.Bottom)*mm {
				continue
			}
			add := func(column int, x0, x1 float64) {
				if x1 > x0 && column < len(bars) {
					bars[column] = append(bars[column], [5]float64{tenth(x0), tenth(x1 - x0), float64(k), tenth(y0), tenth(y1 - y0)})
				}
			}
			middle := (c.x0 + c.x1) / 2
			switch {
			case len(bars) < 2:
				add(core, c.x0, c.x1)
			case c.edge:
				add(s.columnAt(middle), c.x0, c.x1)
			default:
				add(flank, c.x0, min(c.x1, s.core[0]))
				add(core, max(c.x0, s.core[0]), min(c.x1, s.core[1]))
				add(flank, max(c.x0, s.core[1]), c.x1)
			}
		}
	}
	for c, name := range y.columns {
		s.moves.Combs = append(s.moves.Combs, combMove{"honey-" + name, name, orEmpty(bars[c])})
	}
}

func orEmpty[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

// Marks of water: from half a gram for the first to 200 g for the last.
func waterSteps(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		g := 0.5 * math.Pow(400, float64(i)/float64(max(n-1, 1)))
		out[i] = math.Floor(g*10+0.5) / 10000
	}
	return out
}

const (
	hangingDrop = "c-2.6 3.6-3.6 4.6-3.6 6.6a3.6 3.6 0 0 0 7.2 0c0-2-1-3-3.6-6.6z"
	puddle      = "m-10 0q10-7 20 0z"
	ice         = "m-4.6 0h9.2m-2.3-4l-4.6 8m0-8l4.6 8"
)

func (s *scene) water(y *Year) {
	top := -s.hive.Height() * mm
	last := &s.hive.Bodies[len(s.hive.Bodies)-1]
	half := s.across(last)/2 - 8
	var over, aside, wall, floor, combs [][2]float64
	for i := range 18 {
		x := s.core[0] + (s.core[1]-s.core[0])*halton(i, 2)
		over = append(over, [2]float64{tenth(x), tenth(top + 1)})
	}
	for i := 0; len(aside) < 18 && i < 400; i++ {
		x := -half + 2*half*halton(i, 2)
		if x < s.core[0]-6 || x > s.core[1]+6 {
			aside = append(aside, [2]float64{tenth(x), tenth(top + 1)})
		}
	}
	rooms := s.inside
	for i := 0; len(wall) < 44 && i < 400; i++ {
		z := -top * (1 - halton(i/2, 2)*0.97)
		for _, r := range rooms {
			if -z >= r.y0 && -z < r.y1 {
				x := r.x0 + 4
				if i%2 == 1 {
					x = r.x1 - 4
				}
				wall = append(wall, [2]float64{tenth(x), tenth(-z)})
				break
			}
		}
	}
	base := s.inside[0]
	for i := range 16 {
		floor = append(floor, [2]float64{tenth(base.x0 + 12 + (base.w()-24)*halton(i, 2)), -0.5})
	}
	var outerCombs []comb
	for _, c := range s.combs {
		m := (c.x0 + c.x1) / 2
		if !c.edge || m < s.core[0] || m > s.core[1] {
			outerCombs = append(outerCombs, c)
		}
	}
	for i := 0; len(combs) < 40 && i < 400 && len(outerCombs) > 0; i++ {
		c := outerCombs[(i*7)%len(outerCombs)]
		x, v := c.x0+2.5, c.y0+c.h()*halton(i, 3)
		if i%2 == 1 {
			x = c.x1 - 2.5
		}
		if !c.edge {
			x = c.x0 + c.w()*halton(i, 2)
			if x > s.core[0] && x < s.core[1] {
				continue
			}
		}
		combs = append(combs, [2]float64{tenth(x), tenth(v)})
	}
	add := func(id, plus, minus, cold string, places [][2]float64, mark string) {
		if len(places) > 0 {
			s.moves.Marks = append(s.moves.Marks, markMove{id, plus, minus, cold, waterSteps(len(places)), places, mark, ice})
		}
	}
	add("wet-over", "water.overhead", "", "face.lid", over, hangingDrop)
	add("wet-lid", "water.lid", "water.overhead", "face.lid", aside, hangingDrop)
	add("wet-walls", "water.walls", "", "face.wall_coldest", wall, hangingDrop)
	add("wet-combs", "water.combs", "", "air.at_floor", combs, hangingDrop)
	add("wet-floor", "water.floor", "", "air.at_floor", floor, puddle)
}

// streams lays out arrows at the openings, and the bees that fan and hang there.
func (s *scene) streams(y *Year) {
	low, high := s.section.faces()
	m := &s.moves
	for i := range s.hive.Openings {
		o := &s.hive.Openings[i]
		in, out := fmt.Sprintf("opening.%d.in", i+1), fmt.Sprintf("opening.%d.out", i+1)
		if !o.Face.Upright() || !y.has(in) {
			continue
		}
		mid := -(o.Sill + o.Height/2) * mm
		// Out at the head and in at the sill, as warm air goes.
		apart := max(15, o.Height*mm/4)
		up, down := mid-apart, mid+apart
		switch o.Face {
		case low, high:
			x, flip := s.reach[1]+4, 1.0
			if o.Face == low {
				x, flip = s.reach[0]-4, -1
			}
			m.Flows = append(m.Flows, flowMove{fmt.Sprintf("out%d", i), out, tenth(x), tenth(up), flip}, flowMove{fmt.Sprintf("in%d", i), in, tenth(x), tenth(down), flip})
		default:
			x, _ := s.seenAt(o)
			side := o.GroupWidth()*mm/2 + 30
			m.Flows = append(m.Flows, flowMove{fmt.Sprintf("out%d", i), out, tenth(x + side), tenth(mid), 1}, flowMove{fmt.Sprintf("in%d", i), in, tenth(x - side), tenth(mid), 1})
		}
	}
	i := s.entrance()
	if i < 0 || !y.has("bees.outside") {
		return
	}
	o := &s.hive.Openings[i]
	var fan, beard [][2]float64
	sill := -o.Sill * mm
	switch o.Face {
	case low, high:
		x, dir := s.reach[1], 1.0
		if o.Face == low {
			x, dir = s.reach[0], -1
		}
		for n := range 12 {
			fan = append(fan, [2]float64{tenth(x + dir*(12+17*float64(n%6))), tenth(sill - 3 - 11*float64(n/6))})
		}
		for n := range 80 {
			// Deepest round the entrance, thinning out up the wall.
			up := halton(n, 3)
			beard = append(beard, [2]float64{tenth(x + dir*(5+30*(1-up)*halton(n, 2))), tenth(sill - o.Height*mm - 6 - 190*up)})
		}
	default:
		x, _ := s.seenAt(o)
		w := o.GroupWidth() * mm
		for n := range 12 {
			fan = append(fan, [2]float64{tenth(x + w*(halton(n, 2)-0.5)), tenth(sill + 6)})
		}
		for n := range 80 {
			up := halton(n, 3)
			beard = append(beard, [2]float64{tenth(x + max(w, 160)*(1-0.6*up)*(halton(n, 2)-0.5)), tenth(sill - o.Height*mm - 6 - 190*up)})
		}
	}
	strokes := beeStrokes()
	m.Crowds = append(m.Crowds,
		crowdMove{"fanning", "bees.fanned", 2.5e-4, fan, []string{"m-5 1h10m-7-3q-2-6 3-7m1 7q4-5 8-3"}},
		crowdMove{"beard", "bees.outside", 1.0 / 80, beard, strokes})
}

// entrance is the opening through which bees fan and outside which they hang: the
// lowest one.
func (s *scene) entrance() int {
	best := -1
	for i := range s.hive.Openings {
		o := &s.hive.Openings[i]
		if o.Face.Upright() && o.Width > 0 && (best < 0 || o.Sill < s.hive.Openings[best].Sill) {
			best = i
		}
	}
	return best
}

// projected reports whether an opening is seen face on, and on which side.
func (s *scene) projected(o *hive.Opening) (is, far bool) {
	low, high := s.section.faces()
	if o.Face == low || o.Face == high || !o.Face.Upright() {
		return false, false
	}
	_, far = s.seenAt(o)
	return true, far
}
