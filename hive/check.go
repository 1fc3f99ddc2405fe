package hive

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"hackle/material"
	"hackle/quantity"
)

// Limits of what a hive may look like. They are wide: a plan outside them is
// taken for a slip of the pen, not for an unusual hive.
const (
	leastBody = 0.05 // inside measures of a body [m]
	mostBody  = 3.0  // [m]
	mostThick = 0.6  // of one layer [m]
	mostR     = 30.0 // of one layer [m²·K/W]

	// Bee space is 6 to 9 mm, in some countries up to 10: narrower gaps are
	// filled with propolis, wider ones with comb (trade texts of three
	// countries; 6.4 to 9.5 in a fourth). Half a millimetre is left for
	// rounded measures.
	leastBeeSpace = 0.0055 // [m]
	mostBeeSpace  = 0.0105 // [m]
	// Between the frames of two bodies and below the lowest ones bees tolerate
	// more; up to 20 mm is built. Common practice, no source.
	mostAboveFrames = 0.0205 // [m]
	leastSeam       = 0.0055 // [m]
	// mostSeam is the gap from which on bees widen their combs. Estimate.
	mostSeam = 0.016 // [m]

	// A comb holds 333 to 350 g of honey a dm², both sides together (La
	// conduite du rucher); half as much again is beyond any comb.
	mostHoneyPerArea = 52.0 // [kg/m²]
)

// Check looks for what contradicts itself or cannot be built (Wrong) and for
// what a keeper would hardly want (Warning), sorted by field; nil when all is
// well. The faults have no position; Inspect adds it.
func (p Plan) Check() []Fault {
	c := &checker{}
	c.hive(p.Hive)
	c.colony(p.Colony, p.Hive)
	c.site(p.Site)
	c.measured(p.Measured)
	for _, m := range p.Materials {
		c.material("materials."+m.Name, m)
	}
	c.text("name", p.Hive.Name)
	c.text("notes", p.Notes)
	if i := slices.IndexFunc(typeNames(), func(s string) bool { return s == p.Hive.Type }); i < 0 && p.Hive.Type != "" {
		c.wrong("hive.type", quote(p.Hive.Type), oneOf(typeNames()))
	}
	sortFaults(c.faults)
	return c.faults
}

type checker struct{ faults []Fault }

func (c *checker) add(s Severity, path, found, wanted, hint string) {
	c.faults = append(c.faults, Fault{Severity: s, Field: path, Found: found, Wanted: wanted, Hint: hint})
}

func (c *checker) wrong(path, found, wanted string) { c.add(Wrong, path, found, wanted, "") }

func (c *checker) warn(path, found, wanted, hint string) { c.add(Warning, path, found, wanted, hint) }

func (c *checker) text(path, s string) {
	if !validText(s) {
		c.wrong(path, quote(s), "text in UTF-8 without control characters")
	}
}

// show writes a value for a message.
func show(v float64, kind quantity.Kind) string { return quantity.Format(v, kind, quantity.Metric) }

// within notes a value outside a range, or that is not a number, and reports
// whether it lies inside.
func (c *checker) within(path string, v float64, kind quantity.Kind, least, most float64) bool {
	if v >= least && v <= most {
		return true
	}
	c.wrong(path, show(v, kind), fmt.Sprintf("%s to %s", show(least, kind), show(most, kind)))
	return false
}

// positive is within without the lower bound itself.
func (c *checker) positive(path string, v float64, kind quantity.Kind, most float64) bool {
	if v > 0 && v <= most {
		return true
	}
	c.wrong(path, show(v, kind), fmt.Sprintf("more than 0, up to %s", show(most, kind)))
	return false
}

func (c *checker) layers(path string, layers []Layer) bool {
	ok := true
	for i, l := range layers {
		at := fmt.Sprintf("%s[%d]", path, i+1)
		if onWall := strings.Contains(path, "wraps"); l.IsAirGap() && (i == 0 || i == len(layers)-1 && !onWall) {
			c.wrong(at, "an air gap at the edge", "a layer on both sides of an air gap; a wrap's inmost layer may be one")
			ok = false
		}
		c.text(at, l.Material.Name)
		ok = c.within(at, l.Thickness, quantity.Length, 0, mostThick) && ok
		ok = c.within(at, l.Resistance, quantity.Resistance, 0, mostR) && ok
		if l.Resistance == 0 {
			if l.Thickness == 0 {
				c.wrong(at, "a layer without thickness", "a thickness or a resistance")
				ok = false
			}
			if !(l.Material.Conductivity > 0) {
				c.wrong(at, fmt.Sprintf("the material %q without conductivity", l.Material.Name), "a material whose conductivity is known, or a resistance")
				ok = false
			}
		}
		if l.Material.Name == "" {
			c.wrong(at, "a layer without material", "a named material")
		}
	}
	return ok
}

func (c *checker) finish(path string, f Finish) {
	c.text(path, f.Name)
	c.within(path+".solar absorptance", f.SolarAbsorptance, quantity.Fraction, 0, 1)
	c.positive(path+".emissivity", f.Emissivity, quantity.Fraction, 1)
}

func (c *checker) hive(h Hive) {
	if len(h.Bodies) == 0 || len(h.Bodies) > mostBodies {
		c.wrong("hive.bodies", fmt.Sprintf("%d bodies", len(h.Bodies)), fmt.Sprintf("1 to %d", mostBodies))
		return
	}
	sound := true // the measures that others rest on
	for i, b := range h.Bodies {
		sound = c.body(bodyPath(i), b) && sound
	}
	sound = c.within("hive.floor.rim", h.Floor.Depth, quantity.Length, 0, 0.5) && sound
	if h.TopBoard != nil {
		sound = c.within("hive.top board.rim", h.TopBoard.Space, quantity.Length, 0, 0.5) && sound
	}
	c.floor(h)
	if h.TopBoard != nil {
		c.topBoard(*h.TopBoard, h)
	}
	c.lid(h)
	c.within("hive.leakage", h.LeakArea, quantity.AreaPerLength, 0, 0.01)
	if !(h.FrontAzimuth >= 0 && h.FrontAzimuth < 360) {
		c.wrong("hive.front looks to", show(h.FrontAzimuth, quantity.Angle), "0° up to, not including, 360°")
	}
	c.within("hive.tilt", h.Tilt, quantity.Angle, -15, 15)
	c.within("hive.stand", h.StandHeight, quantity.Length, 0, 100)
	c.finish("hive.finish", h.Finish)
	c.within("hive.inside coat", h.InsideCoat, quantity.Length, 0, 1000)
	if len(h.Openings) > mostOpenings+1 {
		c.wrong("hive.openings", fmt.Sprintf("%d openings", len(h.Openings)), fmt.Sprintf("at most %d", mostOpenings))
		return
	}
	if sound {
		c.stack(h)
		c.openings(h)
	}
	c.followers(h)
	c.wraps(h)
	c.air(h)
}

// body checks one body by itself and reports whether its measures are sound.
func (c *checker) body(path string, b Body) bool {
	c.text(path+".name", b.Name)
	c.text(path+".box", b.Box)
	ok := c.within(path+".length", b.Length, quantity.Length, leastBody, mostBody)
	ok = c.within(path+".width", b.Width, quantity.Length, leastBody, mostBody) && ok
	ok = c.within(path+".height", b.Height, quantity.Length, 0.01, mostBody) && ok
	for f := Front; f <= Right; f++ {
		at := path + ".walls." + f.String()
		if len(b.Walls[f]) == 0 {
			c.wrong(at, "no wall", "at least one layer")
			ok = false
		} else {
			ok = c.layers(at, b.Walls[f]) && ok
		}
	}
	f := b.Frames
	if f.Count == 0 {
		c.within(path+".space above frames", b.TopSpace, quantity.Length, 0, 0.2)
		return ok
	}
	at := path + ".frames"
	if f.Count < 0 || f.Count > mostFrameNo {
		c.wrong(at+".count", fmt.Sprint(f.Count), fmt.Sprintf("0 to %d", mostFrameNo))
		return false
	}
	fits := c.positive(at+".length", f.Length, quantity.Length, mostBody)
	fits = c.positive(at+".depth", f.Depth, quantity.Length, mostBody) && fits
	fits = c.positive(at+".spacing", f.Pitch, quantity.Length, 0.2) && fits
	fits = c.positive(at+".comb thickness", f.CombThickness, quantity.Length, 0.2) && fits
	fits = c.within(path+".space above frames", b.TopSpace, quantity.Length, 0, 0.2) && fits
	c.within(at+".top bar", f.TopBar, quantity.Length, 0, 2*mostBody)
	c.within(at+".drawn", f.DrawnShare, quantity.Fraction, 0, 1)
	checkWord(c, at+".support", f.Support, supports())
	checkWord(c, at+".comb", f.CombAge, []CombAge{CombFresh, CombBrood})
	most := 100.0
	if area := f.CombArea(); fits && area > 0 {
		most = area * mostHoneyPerArea
	}
	c.within(at+".honey when full", f.HoneyPerFrame, quantity.Mass, 0, most)
	if !ok || !fits {
		return false
	}
	if gap := b.FrameEndGap(); gap < 0 {
		c.add(Wrong, at+".length", fmt.Sprintf("frames of %s in a body %s long", show(f.Length, quantity.Length), show(b.Length, quantity.Length)),
			"frames that fit with a bee space at both ends", "length is measured without the lugs")
	} else if gap < leastBeeSpace || gap > mostBeeSpace {
		c.warn(at+".length", fmt.Sprintf("%s between frame end and wall", show(gap, quantity.Length)), "a bee space of 6 to 9 mm", gapHint(gap))
	}
	if gap := b.BottomSpace(); gap < -1e-9 {
		c.wrong(at+".depth", fmt.Sprintf("frames that stick out %s below the body", show(-gap, quantity.Length)), "frames that end inside it, with a bee space above or below")
	}
	if f.SeamGap() <= 0 {
		c.wrong(at+".spacing", fmt.Sprintf("combs %s thick at a spacing of %s", show(f.CombThickness, quantity.Length), show(f.Pitch, quantity.Length)), "a spacing wider than the comb")
	} else if gap := f.SeamGap(); gap < leastSeam || gap > mostSeam {
		c.warn(at+".spacing", fmt.Sprintf("%s between combs", show(gap, quantity.Length)), "6 to 16 mm, the way for one or two layers of bees", "")
	}
	switch gap := b.SideGap(); {
	case gap < 0:
		c.wrong(at+".count", fmt.Sprintf("%d combs that take %s in a body %s wide", f.Count, show(b.Width-2*gap, quantity.Length), show(b.Width, quantity.Length)), "combs that fit")
	case gap < 0.003:
		c.warn(at+".count", fmt.Sprintf("%s between outer comb and wall", show(gap, quantity.Length)), "at least 3 mm", "the outer combs get glued to the wall")
	case 2*gap > f.Pitch+f.CombThickness+2*mostBeeSpace:
		c.warn(at+".count", fmt.Sprintf("%s of empty width", show(2*gap, quantity.Length)), "less than one more comb would take", "bees build wild comb into the gap")
	}
	return ok
}

func gapHint(gap float64) string {
	if gap < leastBeeSpace {
		return "bees close it with propolis"
	}
	return "bees build comb into it"
}

// checkWord checks a word of a closed list.
func checkWord[S ~string](c *checker, path string, found S, words []S) {
	if !slices.Contains(words, found) {
		list := make([]string, len(words))
		for i, w := range words {
			list[i] = string(w)
		}
		c.wrong(path, quote(string(found)), oneOf(list))
	}
}

// stack checks how bodies follow one another.
func (c *checker) stack(h Hive) {
	for i, b := range h.Bodies {
		if b.Frames.Count > 0 && i > 0 && h.Bodies[i-1].Frames.Count > 0 {
			below := h.Bodies[i-1]
			if gap := below.TopSpace + b.BottomSpace(); gap < leastBeeSpace || gap > mostAboveFrames {
				c.warn(bodyPath(i)+".space above frames", fmt.Sprintf("%s between these frames and those below", show(gap, quantity.Length)), "6 to 20 mm", gapHint(gap))
			}
		}
		if i > 0 && (math.Abs(b.FrontToBack()-h.Bodies[i-1].FrontToBack()) > 0.025 || math.Abs(b.SideToSide()-h.Bodies[i-1].SideToSide()) > 0.025) {
			c.warn(bodyPath(i), fmt.Sprintf("an inside of %s by %s over one of %s by %s",
				show(b.FrontToBack(), quantity.Length), show(b.SideToSide(), quantity.Length),
				show(h.Bodies[i-1].FrontToBack(), quantity.Length), show(h.Bodies[i-1].SideToSide(), quantity.Length)), "bodies of one size", "the step is open or needs a board")
		}
	}
}

func (c *checker) floor(h Hive) {
	f := h.Floor
	c.layers("hive.floor.layers", f.Layers)
	switch {
	case f.Mesh:
		area := h.Bodies[0].FloorArea()
		if c.positive("hive.floor.mesh", f.MeshArea, quantity.Area, mostBody*mostBody) && f.MeshArea > area {
			c.wrong("hive.floor.mesh", show(f.MeshArea, quantity.Area), "at most the floor's "+show(area, quantity.Area))
		}
		if (f.Tray || slices.ContainsFunc(f.TrayEvents, func(s Switch) bool { return s.On })) && len(f.Layers) == 0 {
			c.wrong("hive.floor.layers", "a tray without layers", "the layers of the tray")
		}
	default:
		if len(f.Layers) == 0 {
			c.wrong("hive.floor.layers", "no floor", "layers of a board, or a mesh")
		}
		if f.MeshArea != 0 {
			c.wrong("hive.floor.mesh", "the area of a mesh on a floor without mesh", "none")
		}
		if f.Tray || len(f.TrayEvents) > 0 {
			c.warn("hive.floor.tray", "a tray below a floor without mesh", "a mesh", "it has no effect")
		}
	}
	c.switches("hive.floor.tray schedule", f.TrayEvents)
}

func (c *checker) switches(path string, events []Switch) {
	if len(events) > mostEvents {
		c.wrong(path, fmt.Sprintf("%d entries", len(events)), fmt.Sprintf("at most %d", mostEvents))
		return
	}
	days := make([]Day, len(events))
	for i, e := range events {
		days[i] = e.From
	}
	c.days(path, days)
}

// days checks the days of a schedule.
func (c *checker) days(path string, days []Day) {
	for i, d := range days {
		at := fmt.Sprintf("%s[%d].from", path, i+1)
		if !d.Valid() {
			c.wrong(at, fmt.Sprintf("the day %d of month %d, year %d", d.Day, d.Month, d.Year), "a day of the calendar")
		} else if j := slices.Index(days, d); j < i {
			c.wrong(at, d.String()+" a second time", "each day once")
		}
	}
}

func (c *checker) day(path string, d Day) {
	if !d.IsZero() && !d.Valid() {
		c.wrong(path, fmt.Sprintf("the day %d of month %d, year %d", d.Day, d.Month, d.Year), "a day of the calendar")
	}
}

func (c *checker) topBoard(t TopBoard, h Hive) {
	c.layers("hive.top board.layers", t.Layers)
	if len(t.Layers) == 0 {
		c.wrong("hive.top board.layers", "no layers", "the layers of the board, or top board: none")
	}
	area := h.Bodies[len(h.Bodies)-1].FloorArea()
	if c.within("hive.top board.hole", t.Hole, quantity.Area, 0, mostBody*mostBody) && t.Hole > area {
		c.wrong("hive.top board.hole", show(t.Hole, quantity.Area), "at most the board's "+show(area, quantity.Area))
	}
	c.within("hive.top board.air permeance", t.Permeance, quantity.Permeance, 0, 1)
	c.switches("hive.top board.hole schedule", t.HoleEvents)
}

func (c *checker) lid(h Hive) {
	l := h.Lid
	c.layers("hive.lid.layers", l.Layers)
	if len(l.Layers) == 0 {
		c.wrong("hive.lid.layers", "no layers", "the layers of the lid")
	}
	c.within("hive.lid.air space", l.Space, quantity.Length, 0, 1)
	c.within("hive.lid.rim", l.Rim, quantity.Length, 0, 1)
	if c.within("hive.lid.vents", l.Vents, quantity.Area, 0, 0.5) && l.Vents > 0 && l.Space == 0 {
		c.add(Wrong, "hive.lid.vents", "vents in a lid without air space", "an air space, or vents: none", "vents join the space below the lid with outdoors")
	}
	if l.Finish != nil {
		c.finish("hive.lid.finish", *l.Finish)
	}
}

// openings checks every opening by itself, then against bodies and the others.
func (c *checker) openings(h Hive) {
	sound := make([]bool, len(h.Openings))
	for i, o := range h.Openings {
		sound[i] = c.opening(h.openingPath(i), o, h)
		for j := range i {
			if h.Openings[j].Name == o.Name {
				c.wrong(h.openingPath(i)+".name", quote(o.Name)+" a second time", "each opening with a name of its own")
			}
			if sound[i] && sound[j] && overlap(o, h.Openings[j]) {
				c.wrong(h.openingPath(i), fmt.Sprintf("%s across %s", quote(o.Name), quote(h.Openings[j].Name)), "openings beside one another")
			}
		}
	}
}

// slack forgives the rounding of sums of measures. [m]
const slack = 1e-6

func overlap(a, b Opening) bool {
	return a.Face == b.Face &&
		a.Sill < b.Sill+b.Height-slack && b.Sill < a.Sill+a.Height-slack &&
		math.Abs(a.Offset-b.Offset) < (a.GroupWidth()+b.GroupWidth())/2-slack
}

func (c *checker) opening(path string, o Opening, h Hive) bool {
	c.text(path+".name", o.Name)
	if o.Name == "" {
		c.wrong(path+".name", "no name", "a name")
	}
	if !o.Face.Upright() {
		c.wrong(path+".face", quote(o.Face.String()), "front, back, left or right")
		return false
	}
	ok := true
	if o.Shape == Round {
		ok = c.positive(path+".hole", o.Width, quantity.Length, mostBody)
		if !same(o.Width, o.Height) {
			c.wrong(path+".hole", fmt.Sprintf("a round hole %s wide and %s high", show(o.Width, quantity.Length), show(o.Height, quantity.Length)), "one diameter")
			ok = false
		}
	} else {
		checkWord(c, path, o.Shape, []Shape{Slot, Round})
		ok = c.positive(path+".width", o.Width, quantity.Length, mostBody)
		ok = c.positive(path+".height", o.Height, quantity.Length, mostBody) && ok
	}
	if o.Count < 1 || o.Count > mostFrameNo {
		c.wrong(path+".count", fmt.Sprint(o.Count), fmt.Sprintf("1 to %d", mostFrameNo))
		ok = false
	}
	c.within(path+".passage", o.Depth, quantity.Length, 0, 1)
	c.within(path+".discharge", o.Discharge, quantity.Fraction, 0, 1)
	c.within(path+".mesh", o.MeshShare, quantity.Fraction, 0, 1)
	ok = c.within(path+".offset", o.Offset, quantity.Length, -mostBody, mostBody) && ok
	ok = c.within(path+".at", o.Sill, quantity.Length, 0, mostBodies*mostBody) && ok
	if len(o.Schedule) > mostEvents {
		c.wrong(path+".schedule", fmt.Sprintf("%d entries", len(o.Schedule)), fmt.Sprintf("at most %d", mostEvents))
		return false
	}
	days := make([]Day, len(o.Schedule))
	for i, s := range o.Schedule {
		days[i] = s.From
		if ok && !(s.Width >= 0 && s.Width <= o.Width+slack) {
			c.wrong(fmt.Sprintf("%s.schedule[%d].width", path, i+1), show(s.Width, quantity.Length), "closed up to the full "+show(o.Width, quantity.Length))
		}
	}
	c.days(path+".schedule", days)
	if !ok {
		return false
	}

	// The parts of the wall from below: rim of the floor, bodies, rim of the board.
	head := o.Sill + o.Height
	edges := []float64{0}
	for i := range len(h.Bodies) + 1 {
		edges = append(edges, h.BodyBase(i))
	}
	edges = append(edges, h.Height())
	inside := false
	for i, low := range edges[:len(edges)-1] {
		inside = inside || o.Sill >= low-slack && head <= edges[i+1]+slack
	}
	switch {
	case head > h.Height()+slack:
		c.wrong(path+".at", fmt.Sprintf("an upper edge at %s", show(head, quantity.Length)), "below the top board at "+show(h.Height(), quantity.Length))
		return false
	case !inside:
		c.add(Wrong, path+".at", fmt.Sprintf("an opening from %s to %s, across a joint", show(o.Sill, quantity.Length), show(head, quantity.Length)),
			"an opening within one part", "joints lie at "+list(edges[1:len(edges)-1], quantity.Length))
		return false
	}
	b := h.Bodies[h.BodyAt(o.Sill)]
	if half := b.FaceWidth(o.Face) / 2; math.Abs(o.Offset)+o.GroupWidth()/2 > half+slack {
		c.wrong(path, fmt.Sprintf("openings that take %s, %s from the middle", show(o.GroupWidth(), quantity.Length), show(o.Offset, quantity.Length)), "what fits a wall "+show(2*half, quantity.Length)+" wide inside")
		return false
	}
	if h.Lid.Rim > 0 && head > h.StackTop()-h.Lid.Rim+slack {
		c.warn(path+".at", "an opening behind the rim of the lid", "an upper edge at "+show(h.StackTop()-h.Lid.Rim, quantity.Length)+" or lower", "the rim covers it")
	}
	if o.Height < 0.0055 {
		c.warn(path, fmt.Sprintf("a passage %s high", show(o.Height, quantity.Length)), "at least 5.5 mm", "no bee passes it")
	}
	return true
}

func list(values []float64, kind quantity.Kind) string {
	parts := make([]string, len(values))
	for i, v := range values {
		parts[i] = show(v, kind)
	}
	return strings.Join(parts, ", ")
}

func (c *checker) followers(h Hive) {
	for i, f := range h.Followers {
		path := followerPath(i)
		if i == mostOpenings {
			c.wrong(path, fmt.Sprintf("%d followers", len(h.Followers)), fmt.Sprintf("at most %d", mostOpenings))
			return
		}
		ok := c.layers(path+".layers", f.Layers)
		if len(f.Layers) == 0 {
			c.wrong(path+".layers", "no layers", "the layers of the board")
		}
		c.within(path+".gap", f.Gap, quantity.Length, 0, 0.1)
		if f.Body < 0 || f.Body >= len(h.Bodies) {
			c.wrong(path+".body", fmt.Sprintf("body %d", f.Body+1), fmt.Sprintf("1 to %d", len(h.Bodies)))
			continue
		}
		b := h.Bodies[f.Body]
		sides := []Face{Left, Right}
		if b.Turned {
			sides = []Face{Front, Back}
		}
		if !slices.Contains(sides, f.Side) {
			c.add(Wrong, path+".side", quote(f.Side.String()), fmt.Sprintf("%s or %s", sides[0], sides[1]), "a follower stands parallel to the frames")
		}
		switch room := float64(f.Frames)*b.Frames.Pitch + thickness(f.Layers); {
		case f.Frames < 0 || f.Frames > b.Frames.Count:
			c.wrong(path+".frames", fmt.Sprintf("%d frames", f.Frames), fmt.Sprintf("0 to the %d of the body", b.Frames.Count))
		case ok && room > b.Width+slack:
			c.wrong(path, fmt.Sprintf("%d frames and a board that take %s", f.Frames, show(room, quantity.Length)), "what fits a body "+show(b.Width, quantity.Length)+" wide")
		}
		for j, g := range h.Followers[:i] {
			if g.Body == f.Body && g.Side == f.Side {
				c.wrong(path, "a second follower on one side", fmt.Sprintf("one a side, as follower %d", j+1))
			}
		}
	}
}

func (c *checker) wraps(h Hive) {
	for i, w := range h.Wraps {
		path := wrapPath(i)
		if i == mostOpenings {
			c.wrong(path, fmt.Sprintf("%d wraps", len(h.Wraps)), fmt.Sprintf("at most %d", mostOpenings))
			return
		}
		c.text(path+".name", w.Name)
		c.layers(path+".layers", w.Layers)
		if len(w.Layers) == 0 {
			c.wrong(path+".layers", "no layers", "the layers of the wrap")
		}
		if len(w.Faces) == 0 {
			c.wrong(path+".faces", "no faces", "the faces it covers")
		}
		for j, f := range w.Faces {
			if f < Front || f > Bottom {
				c.wrong(path+".faces", f.String(), "front, back, left, right, top or bottom")
			} else if slices.Index(w.Faces, f) < j {
				c.wrong(path+".faces", f.String()+" a second time", "each face once")
			}
		}
		c.day(path+".on", w.On)
		c.day(path+".off", w.Off)
		switch {
		case w.On.IsZero() != w.Off.IsZero():
			c.add(Wrong, path, "only one of on and off", "both days, or neither for a wrap that stays", "")
		case !w.On.IsZero() && w.On == w.Off:
			c.wrong(path+".off", "the day on which it is put on", "another day")
		case w.On.Year != 0 && w.Off.Year != 0 && w.Off.compare(w.On) < 0:
			c.wrong(path+".off", w.Off.String(), "a day after "+w.On.String())
		}
		if w.Finish != nil {
			c.finish(path+".finish", *w.Finish)
		}
		for j := range i {
			if h.Wraps[j].Name == w.Name {
				c.wrong(path+".name", quote(w.Name)+" a second time", "each wrap with a name of its own")
			}
		}
	}
}

// air looks for days on which nothing is open.
func (c *checker) air(h Hive) {
	var days []Day
	for _, o := range h.Openings {
		for _, s := range o.Schedule {
			days = append(days, s.From)
		}
	}
	for _, e := range h.Floor.TrayEvents {
		days = append(days, e.From)
	}
	slices.SortFunc(days, Day.compare)
	open := func(date time.Time) bool {
		if !h.Floor.TrayOn(date) && h.Floor.MeshArea > 0 {
			return true
		}
		return slices.ContainsFunc(h.Openings, func(o Opening) bool { return o.AreaAt(o.WidthOn(date)) > 0 })
	}
	const wanted, hint = "an opening at all times", "a living colony would suffocate"
	if len(days) == 0 {
		if !open(time.Date(2001, time.January, 1, 12, 0, 0, 0, time.UTC)) {
			c.warn("hive", "no opening", wanted, hint)
		}
		return
	}
	for _, d := range days {
		year := cmp.Or(d.Year, lastYear+1) // after every day that names a year
		if d.Valid() && !open(time.Date(year, d.Month, d.Day, 12, 0, 0, 0, time.UTC)) {
			c.warn("hive", "every opening closed from "+d.String()+" on", wanted, hint)
			return
		}
	}
}

func (c *checker) colony(k Colony, h Hive) {
	if c.within("colony.bees", k.Bees, quantity.Mass, 0, 15) && k.Bees > 0 && (k.Bees < 0.2 || k.Bees > 8) {
		c.warn("colony.bees", show(k.Bees, quantity.Mass), "0.2 to 8 kg", "a kilogram is about 9,000 winter bees")
	}
	var room float64
	for _, b := range h.Bodies {
		room += float64(b.Frames.Count) * b.Frames.HoneyPerFrame
	}
	if c.within("colony.honey", k.Honey, quantity.Mass, 0, 500) && room > 0 && k.Honey > 1.15*room {
		c.warn("colony.honey", show(k.Honey, quantity.Mass), "at most what the frames hold, "+show(room, quantity.Mass), "is this the weight of the whole hive?")
	}
	if !(k.BroodPeak >= 0 && k.BroodPeak <= 200000) {
		c.wrong("colony.brood peak", fmt.Sprintf("%g cells", k.BroodPeak), "0 to 200000 cells")
	} else if k.BroodPeak > 60000 {
		c.warn("colony.brood peak", fmt.Sprintf("%g cells", k.BroodPeak), "up to 60000 cells", "no queen lays that many")
	}
	if c.within("colony.cluster height", k.ClusterAt, quantity.Length, 0, mostBodies*mostBody) && len(h.Bodies) > 0 && k.ClusterAt > h.Height() {
		c.wrong("colony.cluster height", show(k.ClusterAt, quantity.Length), "inside the hive, up to "+show(h.Height(), quantity.Length))
	}
	c.flows(k.Flows)
	c.within("colony.water within", k.WaterNear, quantity.Length, 0, 20e3)
	c.day("colony.date", k.Date)
	c.day("colony.brood start", k.BroodStart)
	if len(k.Feeds) > mostEvents {
		c.wrong("colony.feeds", fmt.Sprintf("%d feeds", len(k.Feeds)), fmt.Sprintf("at most %d", mostEvents))
		return
	}
	for i, f := range k.Feeds {
		path := fmt.Sprintf("colony.feeds[%d]", i+1)
		if !f.Day.Valid() {
			c.wrong(path+".day", "no day of the calendar", "the day it is given")
		}
		checkWord(c, path+".kind", f.Kind, []string{feedSyrup, feedFondant, feedFrame})
		if c.positive(path+".stores", f.Honey, quantity.Mass, 100) && f.Honey > 25 {
			c.warn(path+".stores", show(f.Honey, quantity.Mass)+" at once", "up to 25 kg", "")
		}
	}
}

func (c *checker) flows(flows []Flow) {
	if len(flows) > mostEvents {
		c.wrong("colony.flows", fmt.Sprintf("%d flows", len(flows)), fmt.Sprintf("at most %d", mostEvents))
		return
	}
	for i, f := range flows {
		path := fmt.Sprintf("colony.flows[%d]", i+1)
		if !f.From.Valid() {
			c.wrong(path+".from", "no day of the calendar", "the first day of the flow")
		}
		if !f.To.Valid() {
			c.wrong(path+".to", "no day of the calendar", "the last day of the flow")
		}
		if c.positive(path+".nectar", f.Nectar, quantity.Mass, 50) && f.Nectar > 12 {
			c.warn(path+".nectar", show(f.Nectar, quantity.Mass)+" a day", "up to 12 kg a day", "scales seldom show more")
		}
		c.within(path+".sugar", f.Sugar, quantity.Fraction, 0.05, 0.8)
	}
}

func (c *checker) site(s Site) {
	c.text("site.name", s.Name)
	if s.HasPlace {
		c.within("site.latitude", s.Latitude, quantity.Angle, -90, 90)
		c.within("site.longitude", s.Longitude, quantity.Angle, -180, 180)
		c.within("site.height", s.Height, quantity.Length, -430, 6000)
	}
	if s.Exposure != "" {
		checkWord(c, "site.exposure", s.Exposure, exposures())
	}
	c.within("site.shade", s.Shade, quantity.Fraction, 0, 1)
	for f := Front; f <= Right; f++ {
		if s.Beside[f] != 0 {
			c.within("site.neighbours."+f.String(), s.Beside[f], quantity.Length, 0.005, 100)
		}
	}
}

func (c *checker) measured(m Measured) {
	c.text("measured.from", m.From)
	c.within("measured.shell", m.Shell, quantity.Fraction, 0, 10)
	c.within("measured.leak", m.Leak, quantity.Fraction, 0, 100)
	c.within("measured.bees", m.Bees, quantity.Fraction, 0, 10)
	if !m.On.IsZero() && !m.On.Valid() {
		c.wrong("measured.on", "no day of the calendar", "the day of the measurement")
	}
}

func (c *checker) material(path string, m material.Material) {
	c.text(path, m.Name)
	c.text(path+".source", m.Source)
	c.text(path+".note", m.Note)
	if err := m.Validate(); err != nil {
		c.wrong(path, err.Error(), "values of a known kind of material")
	}
}
