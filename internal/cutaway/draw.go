package cutaway

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"hackle/hive"
	"hackle/quantity"
)

// Draw draws a hive cut open, without bees or air: as it is built.
func Draw(h hive.Hive, o Options) ([]byte, error) {
	if len(h.Bodies) == 0 {
		return nil, fmt.Errorf("cutaway: the hive %q has no body", h.Name)
	}
	d := drawing{scene: newScene(&h, nil, o.Section), options: o, hour: -1, date: o.Date}
	if d.date.IsZero() {
		d.date = time.Date(2001, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	return d.draw(), nil
}

// Draw draws an hour of the year.
func (y *Year) Draw(hour int, o Options) ([]byte, error) {
	if hour < 0 || hour >= y.hours {
		return nil, fmt.Errorf("cutaway: hour %d, accepted: 0 to %d", hour, y.hours-1)
	}
	d := drawing{scene: newScene(&y.hive, y, o.Section), options: o, year: y, hour: hour, date: y.Time(hour)}
	return d.draw(), nil
}

// drawing is a picture in the making.
type drawing struct {
	*scene
	options Options
	year    *Year
	hour    int // -1: no hour
	date    time.Time
	set     map[string][]change
	out     bytes.Buffer
	box     rect

	apartFrom *scene // what a picture of differences is held against
	apartYear *Year
	apartHour int
}

func (d *drawing) printf(format string, args ...any) { fmt.Fprintf(&d.out, format, args...) }

// escape text for XML, with what XML cannot hold left out.
func escape(text string) string {
	var b bytes.Buffer
	_ = xml.EscapeText(&b, []byte(text)) // a buffer takes all
	return b.String()
}

// moved writes identifier and attributes that the hour sets.
func (d *drawing) moved(id string) string {
	var b strings.Builder
	fmt.Fprintf(&b, ` id="%s"`, escape(d.options.id(id)))
	for _, c := range d.set[id] {
		fmt.Fprintf(&b, ` %s="%s"`, c.name, c.value)
	}
	return b.String()
}

func (r rect) attributes() string {
	return fmt.Sprintf(`x="%s" y="%s" width="%s" height="%s"`, num(r.x0), num(r.y0), num(r.w()), num(r.h()))
}

func (d *drawing) draw() []byte {
	d.set = map[string][]change{}
	if d.year != nil {
		for _, c := range d.moves.at(d.year, d.hour) {
			d.set[c.id] = append(d.set[c.id], c)
		}
		if d.apartFrom != nil {
			for _, f := range d.moves.Fields {
				for k := range d.year.slabs {
					id, class := f.ID+"-"+strconv.Itoa(k), "air"
					if dt, ok := d.apart(f, k); ok {
						class = "d" + strconv.Itoa(shift(dt))
					}
					d.set[id] = []change{{id, "class", class}}
				}
			}
		}
	} else {
		for _, g := range d.gates {
			v := "hidden"
			if g.on(d.date) {
				v = "visible"
			}
			d.set[g.id] = []change{{g.id, "visibility", v}}
		}
	}
	d.frame()
	o := d.options
	title := d.hive.Name
	if title == "" {
		title = "Hive"
	}
	class := "cutaway"
	if d.letter() > 1 {
		class += " broad"
	}
	d.printf(`<svg xmlns="http://www.w3.org/2000/svg" class="%s" viewBox="%s %s %s %s" width="%s" height="%s" role="img" aria-labelledby="%s"`,
		class, num(d.box.x0), num(d.box.y0), num(d.box.w()), num(d.box.h()), num(d.box.w()), num(d.box.h()), escape(o.id("title")+" "+o.id("desc")))
	d.printf(">\n<title id=\"%s\">%s, %s</title>\n<desc id=\"%s\">%s</desc>\n", escape(o.id("title")), escape(title), d.section.Seen(), escape(o.id("desc")), escape(d.description()))
	if o.Alone {
		d.printf("<style>%s</style>\n", aloneStyle())
	}
	d.defs()
	if o.Alone {
		d.printf("<rect class=\"paper\" %s/>\n", d.box.attributes())
	}
	d.standAndGround()
	d.room()
	d.frames()
	d.colony()
	d.solid()
	d.seen()
	d.wet()
	d.streams()
	if d.apartFrom != nil {
		d.apartNumbers()
	}
	if o.Dimensions {
		d.measures()
	}
	if o.Names {
		d.names()
	}
	d.lettering()
	d.out.WriteString("</svg>\n")
	return d.out.Bytes()
}

// description of what is drawn, in words.
func (d *drawing) description() string {
	if d.apartFrom != nil {
		return "How much warmer the changed hive is at each height, in the inner and the outer combs and the air between them."
	}
	if d.year != nil {
		return d.year.Describe(d.hour, d.options.Units)
	}
	return describeHive(d.hive, d.options.Units)
}

// frame finds the extent of the picture.
func (d *drawing) frame() {
	left, right := 58.0, 58.0
	for _, f := range d.moves.Flows {
		if f.X < d.reach[0] {
			left = d.reach[0] - f.X + 100*arrowMost
		}
		if f.X > d.reach[1] {
			right = f.X - d.reach[1] + 100*arrowMost
		}
	}
	d.box = rect{d.reach[0] - left, d.outer.y0 - 22, d.reach[1] + right, d.ground + 34*d.letter()}
	if d.year != nil {
		x0, w := d.scalePlace()
		d.box.x0, d.box.x1 = min(d.box.x0, x0-34), max(d.box.x1, x0+w+26+116*d.letter())
		d.box.y1 = d.ground + (legendDrop+40)*d.letter()
	}
	if d.options.Dimensions {
		d.box.x0 -= 74 * d.letter()
		d.box.y0 -= 44 * d.letter()
	}
	if d.options.Names {
		d.box.x1 += 262 * d.letter()
		tall := 30.0
		for _, b := range d.nameBlocks() {
			tall += b.tall() * d.letter()
		}
		d.box.y1 = max(d.box.y1, d.outer.y0+tall)
	}
	if d.options.Alone {
		d.box.y0 -= 62
		d.box.x1 = max(d.box.x1, d.box.x0+460)
	}
}

// defs: gradients, hatches and the outline of the room.
func (d *drawing) defs() {
	d.out.WriteString("<defs>\n")
	used := map[hatch]bool{}
	for _, p := range slices.Concat(d.shell, d.doors, d.boards) {
		used[p.hatch] = true
	}
	for _, h := range []hatch{grain, plies, foam, litter, weave, sheet, glass} {
		w, t, path := h.pattern()
		if !used[h] {
			continue
		}
		for _, upright := range []bool{false, true} {
			name, turn := string(h), ""
			if upright {
				name, turn = name+"-up", ` patternTransform="rotate(90)"`
			}
			d.printf(`<pattern id="%s" patternUnits="userSpaceOnUse" width="%s" height="%s"%s><path class="hatch-line" d="%s"/></pattern>`+"\n", escape(d.options.id(name)), num(w), num(t), turn, path)
		}
	}
	d.printf(`<pattern id="%s" patternUnits="userSpaceOnUse" width="6" height="6"><path class="honey-line" d="M0 6L6 0M-1 1L1 -1M5 7L7 5"/></pattern>`+"\n", escape(d.options.id("honey-hatch")))
	d.printf(`<pattern id="%s" patternUnits="userSpaceOnUse" width="16.2" height="9.4"><path class="cells" d="M0 4.7L2.7 0H8.1L10.8 4.7L8.1 9.4H2.7ZM10.8 4.7H16.2"/></pattern>`+"\n", escape(d.options.id("cells")))
	d.printf(`<pattern id="%s" patternUnits="userSpaceOnUse" width="12" height="5.4"><path class="cells" d="M0 2.7H12"/></pattern>`+"\n", escape(d.options.id("cells-cut")))
	if d.year != nil {
		top := -d.hive.Height() * mm
		for _, f := range d.moves.Fields {
			d.printf(`<linearGradient id="%s" gradientUnits="userSpaceOnUse" x1="0" y1="0" x2="0" y2="%s">`, escape(d.options.id(f.ID)), num(top))
			for k, s := range d.year.slabs {
				d.printf(`<stop offset="%s"%s/>`, strconv.FormatFloat(milli((s.Bottom+s.Top)/2/d.hive.Height()), 'f', -1, 64), d.moved(f.ID+"-"+strconv.Itoa(k)))
			}
			d.out.WriteString("</linearGradient>\n")
		}
		if d.moves.Ball != nil {
			d.printf(`<radialGradient id="%s">`, escape(d.options.id("glow")))
			for k, at := range []string{"0", "0.55", "0.9", "1"} {
				d.printf(`<stop offset="%s"%s/>`, at, d.moved("glow-"+strconv.Itoa(k)))
			}
			d.out.WriteString("</radialGradient>\n")
		}
	}
	d.printf(`<clipPath id="%s">`, escape(d.options.id("room")))
	for _, r := range d.inside {
		d.printf("<rect %s/>", r.attributes())
	}
	d.out.WriteString("</clipPath>\n")
	if d.year != nil {
		// The bees keep to their side of a follower board.
		d.printf(`<clipPath id="%s">`, escape(d.options.id("nest")))
		for _, r := range d.inside {
			r.x0, r.x1 = max(r.x0, d.span[0]), min(r.x1, d.span[1])
			d.printf("<rect %s/>", r.attributes())
		}
		d.out.WriteString("</clipPath>\n")
	}
	d.out.WriteString("</defs>\n")
}

func (d *drawing) url(name string) string { return "url(#" + escape(d.options.id(name)) + ")" }

// room lays the wash of the air.
func (d *drawing) room() {
	for _, r := range d.inside {
		d.printf("<rect class=\"air\" %s/>\n", r.attributes())
	}
	if d.attic != nil {
		if d.year != nil && len(d.moves.Tones) > 0 {
			d.printf("<rect%s %s/>\n", d.moved("attic"), d.attic.attributes())
		}
		d.printf("<rect class=\"%s\" %s/>\n", map[bool]string{true: "frame", false: "attic"}[d.year != nil && len(d.moves.Tones) > 0], d.attic.attributes())
	}
	if d.year == nil {
		return
	}
	top := -d.hive.Height() * mm
	d.printf(`<g clip-path="%s">`+"\n", d.url("room"))
	d.strips(rect{d.span[0], top, d.span[1], 0}, "a")
	if d.year.has("air.beyond.") {
		half := d.inside[0].x1
		x0, x1 := -half, d.span[0]
		if d.span[1] < half {
			x0, x1 = d.span[1], half
		}
		if x1 > x0 {
			d.printf("<rect %s fill=\"%s\"/>\n", rect{x0, top, x1, 0}.attributes(), d.url("a-beyond"))
		}
	}
	d.out.WriteString("</g>\n")
	d.warmCombs()
	if d.moves.Ball != nil {
		d.printf(`<g clip-path="%s"><circle class="ball"%s fill="%s"/></g>`+"\n", d.url("nest"), d.moved("ball"), d.url("glow"))
	}
}

// strips lays the wash of air ("a") or combs ("c") over a place, from flank to core.
func (d *drawing) strips(r rect, of string) {
	if len(d.year.columns) < 2 {
		d.printf("<rect %s fill=\"%s\"/>\n", r.attributes(), d.url(of+"0"))
		return
	}
	w := d.rampWidth()
	// Each strip runs on under the next, so that no seam shows between them.
	d.printf("<rect %s fill=\"%s\"/>\n", r.attributes(), d.url(of+"0"))
	for i := 1; i <= ramp; i++ {
		grow := w * (float64(i) - 0.5 - ramp/2) / ramp
		x0, x1 := max(r.x0, d.core[0]+grow), min(r.x1, d.core[1]-grow)
		if x1 > x0 {
			d.printf("<rect %s fill=\"%s\"/>\n", rect{x0, r.y0, x1, r.y1}.attributes(), d.url(of+strconv.Itoa(i)))
		}
	}
}

// warmCombs lays the wash of the combs. What the ball of bees covers takes the
// ball's, which is laid over it.
func (d *drawing) warmCombs() {
	if !d.year.has("comb.core.") && !d.year.has("comb.flank.") {
		return
	}
	for _, c := range d.combs {
		if !c.built {
			continue
		}
		if !c.edge {
			d.strips(c.rect, "c")
			continue
		}
		field := "c0"
		switch d.columnAt((c.x0 + c.x1) / 2) {
		case beyond:
			field = "c-beyond"
		case core:
			field = "c" + strconv.Itoa(d.steps())
		}
		d.printf("<rect %s fill=\"%s\"/>\n", c.attributes(), d.url(field))
	}
}

// steps is how many there are from flank to core.
func (d *drawing) steps() int {
	if len(d.year.columns) < 2 {
		return 0
	}
	return ramp
}

// frames draws combs, honey and the wood of the frames.
func (d *drawing) frames() {
	for _, c := range d.combs {
		if !c.built {
			x := (c.x0 + c.x1) / 2
			if c.edge {
				d.printf("<path class=\"bare\" d=\"M%s %sV%s\"/>\n", num(x), num(c.y0), num(c.y1))
			} else {
				d.printf("<rect class=\"bare\" %s/>\n", c.attributes())
			}
			continue
		}
		cells := "cells"
		if c.edge {
			cells = "cells-cut"
		}
		outline := "comb"
		if d.year != nil {
			outline = "comb-line" // its colour tells its temperature
		}
		d.printf("<rect class=\"%s\" %s/><rect %s fill=\"%s\"/>\n", outline, c.attributes(), c.attributes(), d.url(cells))
	}
	for _, c := range d.moves.Combs {
		if len(c.Bars) > 0 {
			d.printf("<path class=\"honey\"%s/>\n", d.moved(c.ID))
			d.printf("<path%s fill=\"%s\"/>\n", strings.Replace(d.moved(c.ID), `"`+escape(d.options.id(c.ID))+`"`, `"`+escape(d.options.id(c.ID))+`-lines"`, 1), d.url("honey-hatch"))
		}
	}
	for _, c := range d.combs {
		if c.built && c.edge {
			d.printf("<path class=\"midrib\" d=\"M%s %sV%s\"/>\n", num((c.x0+c.x1)/2), num(c.y0), num(c.y1))
		}
		if !c.edge {
			d.wires(c)
		}
	}
	for _, s := range d.sticks {
		class := "wood"
		if s.cut {
			class = "wood-cut"
		}
		d.printf("<rect class=\"%s\" %s/>\n", class, s.attributes())
		if s.cut {
			d.printf("<path class=\"midrib\" d=\"M%s %sL%s %sM%s %sL%s %s\"/>\n", num(s.x0), num(s.y0), num(s.x1), num(s.y1), num(s.x1), num(s.y0), num(s.x0), num(s.y1))
		}
	}
}

// wires draws what carries a comb that is seen face on.
func (d *drawing) wires(c comb) {
	var b strings.Builder
	line := func(x0, y0, x1, y1 float64) { fmt.Fprintf(&b, "M%s %sL%s %s", num(x0), num(y0), num(x1), num(y1)) }
	const n = 4
	switch c.support {
	case hive.SupportUpright:
		for i := 1; i <= 2*n; i++ {
			x := c.x0 + c.w()*float64(i)/(2*n+1)
			line(x, c.y0, x, c.y1)
		}
	case hive.SupportLevel:
		for i := 1; i <= n; i++ {
			y := c.y0 + c.h()*float64(i)/(n+1)
			line(c.x0, y, c.x1, y)
		}
	case hive.SupportCrossed:
		for i := range n {
			x := c.x0 + c.w()*float64(i)/n
			line(x, c.y0, x+c.w()/n, c.y1)
			line(x+c.w()/n, c.y0, x, c.y1)
		}
	case hive.SupportSticks:
		for i := 1; i <= 2; i++ {
			x := c.x0 + c.w()*float64(i)/3
			line(x-2, c.y0, x-2, c.y1)
			line(x+2, c.y0, x+2, c.y1)
		}
	}
	if b.Len() > 0 {
		d.printf("<path class=\"wire\" d=\"%s\"/>\n", b.String())
	}
}

// colony draws the bees in the hive.
func (d *drawing) colony() {
	if d.moves.Ball != nil {
		d.printf("<g clip-path=\"%s\"><path class=\"bees\"%s/></g>\n", d.url("nest"), d.moved("bees"))
	}
}

// solid draws the shell.
func (d *drawing) solid() {
	for _, p := range slices.Concat(d.boards, d.shell, d.doors) {
		d.piece(p)
	}
	for _, v := range d.vents {
		d.printf("<rect class=\"air\" %s/><rect class=\"hidden-line\" %s/>\n", v.attributes(), v.attributes())
	}
	if d.mesh != nil {
		d.printf("<path class=\"mesh\" d=\"M%s 1H%s\"/>\n", num(d.mesh.x0), num(d.mesh.x1))
	}
}

func (d *drawing) piece(p piece) {
	if p.gate != "" {
		d.printf("<g class=\"gate-%s\"%s>", p.gate, visibility(d.set[p.gate]))
	}
	switch p.hatch {
	case metal:
		d.printf("<rect class=\"metal\" %s/>", p.attributes())
	case loops:
		d.printf("<rect class=\"cut\" %s/><path class=\"batt\" d=\"%s\"/>", p.attributes(), batt(p.x0, p.y0, p.w(), p.h(), p.upright))
	default:
		name := string(p.hatch)
		if p.upright {
			name += "-up"
		}
		d.printf("<rect class=\"cut\" %s/><rect class=\"hatch\" %s fill=\"%s\"/>", p.attributes(), p.attributes(), d.url(name))
	}
	if p.gate != "" {
		d.out.WriteString("</g>")
	}
	d.out.WriteString("\n")
}

func visibility(c []change) string {
	for _, x := range c {
		if x.name == "visibility" {
			return ` visibility="` + x.value + `"`
		}
	}
	return ""
}

// seen draws the openings that lie face on: dashed behind the cut, full before it.
func (d *drawing) seen() {
	for _, h := range d.holes {
		class := "hole-line"
		if h.far {
			class = "hidden-line"
		}
		if h.round {
			d.printf("<circle class=\"%s\" cx=\"%s\" cy=\"%s\" r=\"%s\"/>\n", class, num((h.x0+h.x1)/2), num((h.y0+h.y1)/2), num(h.w()/2))
			continue
		}
		inner := ""
		if d.year != nil {
			inner = d.moved(h.id)
		} else {
			var i, k int
			_, _ = fmt.Sscanf(h.id, "open%d-%d", &i, &k)
			w := h.w() * openShare(d.hive.Openings[i], d.date)
			inner = fmt.Sprintf(` x="%s" width="%s"`, num((h.x0+h.x1)/2-w/2), num(w))
		}
		d.printf("<rect class=\"hole\"%s y=\"%s\" height=\"%s\"/><rect class=\"%s\" %s/>\n", inner, num(h.y0), num(h.h()), class, h.attributes())
	}
}

// wet draws water and frost.
func (d *drawing) wet() {
	for _, m := range d.moves.Marks {
		d.printf("<path%s/>\n", d.moved(m.ID))
	}
}

// Arrows of 100 mm at scale 1, out from the wall and in to it; and the signs for
// flow away from the reader and towards him.
const (
	arrowOut  = "M0-6.5H58V-18L100 0L58 18V6.5H0Z"
	arrowIn   = "M100-6.5H42V-18L0 0L42 18V6.5H100Z"
	arrowOff  = "M0-40A40 40 0 0 1 0 40A40 40 0 0 1 0-40ZM0-33A33 33 0 0 0 0 33A33 33 0 0 0 0-33ZM-24-19L-19-24L24 19L19 24ZM19-24L24-19L-19 24L-24 19Z"
	arrowNear = "M0-40A40 40 0 0 1 0 40A40 40 0 0 1 0-40ZM0-33A33 33 0 0 0 0 33A33 33 0 0 0 0-33ZM0-11A11 11 0 0 1 0 11A11 11 0 0 1 0-11Z"
)

func (d *drawing) streams() {
	for _, f := range d.moves.Flows {
		var i int
		isOut := strings.HasPrefix(f.ID, "out")
		_, _ = fmt.Sscanf(strings.TrimLeft(f.ID, "outin"), "%d", &i)
		path := arrowIn
		if isOut {
			path = arrowOut
		}
		if is, far := d.projected(&d.hive.Openings[i]); is {
			path = arrowNear
			if far == isOut {
				path = arrowOff
			}
		}
		d.printf("<path class=\"flow\"%s d=\"%s\"/>\n", d.moved(f.ID), path)
	}
	for _, c := range d.moves.Crowds {
		class := "outside"
		if c.ID == "fanning" {
			class = "fan"
		}
		d.printf("<path class=\"%s\"%s/>\n", class, d.moved(c.ID))
	}
}

// standAndGround draws what the hive stands on.
func (d *drawing) standAndGround() {
	y, g := d.outer.y1, d.ground
	if d.mesh != nil {
		y = meshFrame // it carries the hive with and without its tray
	}
	a, z := d.outerOf(0)
	if g > y+1 {
		for _, x := range []float64{a + 24, z - 24 - 44} {
			r := rect{x, y, x + 44, g}
			if !d.broken {
				d.printf("<rect class=\"wood\" %s/>\n", r.attributes())
				continue
			}
			// Broken lines: the stand is taller than it is drawn.
			m := (y + g) / 2
			for _, half := range []rect{{x, y, x + 44, m - 5}, {x, m + 5, x + 44, g}} {
				d.printf("<rect class=\"wood\" %s/>\n", half.attributes())
			}
			d.printf("<path class=\"paper\" d=\"M%s %sl11 -5l11 10l11 -10l11 10v4h-44z\"/>\n", num(x), num(m-4))
			d.printf("<path class=\"hole-line\" d=\"M%s %sl14 0l5 -6l8 12l5 -6h14M%s %sl14 0l5 -6l8 12l5 -6h14\"/>\n", num(x-1), num(m-5), num(x-1), num(m+5))
		}
	}
	x0, x1 := d.reach[0]-46, d.reach[1]+46
	d.printf("<path class=\"ground-line\" d=\"M%s %sH%s\"/>\n", num(x0), num(g), num(x1))
	var b strings.Builder
	for x := x0 + 6; x < x1-8; x += 34 {
		fmt.Fprintf(&b, "M%s %sl-7 9M%s %sl-7 9M%s %sl-7 9", num(x), num(g+1), num(x+7), num(g+1), num(x+14), num(g+1))
	}
	d.printf("<path class=\"soil\" d=\"%s\"/>\n", b.String())
}

// measures writes dimension lines: heights on the left, widths above.
func (d *drawing) measures() {
	u := d.options.Units
	text := func(v float64) string { return escape(quantity.Format(v/mm, quantity.Length, u)) }
	upright := func(x, y0, y1 float64) {
		if y1-y0 < 4 {
			return
		}
		d.printf("<path class=\"measure\" d=\"M%s %sV%s\"/><path class=\"tick\" d=\"M%s %sl6 -6M%s %sl6 -6\"/>\n", num(x), num(y0), num(y1), num(x-3), num(y0+3), num(x-3), num(y1+3))
		d.printf("<text class=\"small end\" x=\"%s\" y=\"%s\">%s</text>\n", num(x-7), num((y0+y1)/2+4), text(y1-y0))
	}
	level := func(y, x0, x1 float64) {
		d.printf("<path class=\"measure\" d=\"M%s %sH%s\"/><path class=\"tick\" d=\"M%s %sl6 -6M%s %sl6 -6\"/>\n", num(x0), num(y), num(x1), num(x0-3), num(y+3), num(x1-3), num(y+3))
		d.printf("<text class=\"small middle\" x=\"%s\" y=\"%s\">%s</text>\n", num((x0+x1)/2), num(y-5), text(x1-x0))
	}
	x := d.reach[0] - 26
	at := 0.0
	for i := range d.hive.Bodies {
		to := -d.hive.BodyBase(i+1) * mm
		from := -d.hive.BodyBase(i) * mm
		if i == 0 && d.hive.Floor.Depth > 0 {
			at = from
		}
		upright(x, to, from)
		at = to
	}
	upright(x, d.outer.y0, at)
	b := &d.hive.Bodies[len(d.hive.Bodies)-1]
	half := d.across(b) / 2
	y := d.outer.y0 - 16
	level(y, -half, half)
	level(y-24*d.letter(), d.outer.x0, d.outer.x1)
}

// nameBlock is a part in the list of layers.
type nameBlock struct {
	head  string
	lines []string
	at    [2]float64
}

func (n nameBlock) tall() float64 { return 17*float64(1+len(n.lines)) + 11 }

// nameBlocks lists parts from the top of the hive downward, equal ones once: the one
// nearest to the list.
func (d *drawing) nameBlocks() []nameBlock {
	var out []nameBlock
	place := map[string]int{}
	for _, p := range d.parts {
		var layers []string
		for _, l := range p.layers {
			layers = append(layers, LayerText(l, d.options.Units))
		}
		if len(layers) == 0 {
			continue
		}
		name := p.name
		if slices.Contains([]string{"front wall", "back wall", "left wall", "right wall"}, name) {
			name = "wall"
		}
		key := name + "|" + strings.Join(layers, "|")
		b := nameBlock{clip(name, 36), layers, p.at}
		if i, ok := place[key]; ok {
			if p.at[0] > out[i].at[0]+1 {
				out[i] = b
			}
			continue
		}
		place[key] = len(out)
		out = append(out, b)
	}
	slices.SortStableFunc(out, func(a, b nameBlock) int {
		switch {
		case a.at[1] < b.at[1]:
			return -1
		case a.at[1] > b.at[1]:
			return 1
		}
		return 0
	})
	return out
}

// LayerText names a layer with its thickness.
func LayerText(l hive.Layer, u quantity.System) string {
	t := clip(l.Material.Name, 40)
	if l.Thickness > 0 {
		t += " " + quantity.Format(l.Thickness, quantity.Length, u)
	}
	if l.Resistance > 0 {
		t += ", " + quantity.Format(l.Resistance, quantity.Resistance, u)
	}
	return t
}

// clip shortens a long name.
func clip(text string, most int) string {
	r := []rune(text)
	if len(r) <= most {
		return text
	}
	return string(r[:most-1]) + "…"
}

func (d *drawing) names() {
	x := d.box.x1 - 256*d.letter()
	y := d.outer.y0 + 10
	blocks := d.nameBlocks()
	for i, b := range blocks {
		// Beside what it names, as far as those below leave room.
		below := 0.0
		for _, c := range blocks[i:] {
			below += c.tall() * d.letter()
		}
		y = max(y, min(b.at[1]+4, d.box.y1-below))
		d.printf("<path class=\"leader\" d=\"M%s %sL%s %sH%s\"/><circle class=\"dot\" cx=\"%s\" cy=\"%s\" r=\"2\"/>\n", num(b.at[0]), num(b.at[1]), num(max(x-24, b.at[0])), num(y-4), num(x-6), num(b.at[0]), num(b.at[1]))
		d.printf("<text x=\"%s\" y=\"%s\">%s</text>\n", num(x), num(y), escape(b.head))
		for j, l := range b.lines {
			d.printf("<text class=\"small\" x=\"%s\" y=\"%s\">%s</text>\n", num(x), num(y+17*d.letter()*float64(j+1)), escape(l))
		}
		y += b.tall() * d.letter()
	}
}

// lettering: the sides, the scale of temperature and of length, and in a picture
// that stands alone what it shows.
func (d *drawing) lettering() {
	low, high := d.section.faces()
	y := d.ground + 25*d.letter()
	d.printf("<text class=\"small middle\" x=\"%s\" y=\"%s\">%s</text><text class=\"small middle\" x=\"%s\" y=\"%s\">%s</text>\n", num(d.outer.x0+16), num(y), low, num(d.outer.x1-16), num(y), high)
	// A bar of length, between them.
	long, label := 100.0, "100 mm"
	if d.options.Units == quantity.US {
		long, label = 4*25.4, "4 in"
	}
	d.printf("<path class=\"measure\" d=\"M%s %sv-5v2.5h%sv-2.5v5\"/><text class=\"small middle\" x=\"0\" y=\"%s\">%s</text>\n", num(-long/2), num(d.ground+14), num(long), num(y+6*d.letter()), label)
	switch {
	case d.apartFrom != nil:
		d.apartLegend()
	case d.year != nil:
		d.legend()
	}
	if d.options.Alone {
		d.heading()
	}
}

func (d *drawing) legend() {
	x0, w := d.scalePlace()
	y := d.ground + legendDrop*d.letter()
	per := w / tones
	for i := range tones {
		d.printf("<rect class=\"t%d\" x=\"%s\" y=\"%s\" width=\"%s\" height=\"%s\"/>", i, num(x0+float64(i)*per), num(y), num(per+0.8), num(legendTall))
	}
	d.printf("\n<rect class=\"frame\" x=\"%s\" y=\"%s\" width=\"%s\" height=\"%s\"/>\n", num(x0), num(y), num(w), num(legendTall))
	at := func(t float64) float64 { return x0 + (t-scaleLow+0.5)*per }
	tick := func(t float64, label string) {
		d.printf("<path class=\"measure\" d=\"M%s %sv4\"/><text class=\"small middle\" x=\"%s\" y=\"%s\">%s</text>\n", num(at(t)), num(y+legendTall), num(at(t)), num(y+legendTall+19*d.letter()), label)
	}
	if d.options.Units == quantity.US {
		for f := 0; f <= 100; f += 20 {
			label := strconv.Itoa(f)
			if f == 100 {
				label += " °F"
			}
			tick((float64(f)-32)/1.8, label)
		}
	} else {
		for t := -20; t <= 40; t += 10 {
			label := strings.Replace(strconv.Itoa(t), "-", "−", 1)
			if t == 40 {
				label += " °C"
			}
			tick(float64(t), label)
		}
	}
	// Two arrows to measure the others by.
	for i, key := range []struct {
		flow float64
		text string
	}{{2e-5, "0.02"}, {1e-3, "1 L/s"}} {
		at := x0 + w + 26 + 46*d.letter()*float64(i)
		d.printf("<path class=\"flow\" transform=\"translate(%s %s) scale(%s)\" d=\"%s\"/><text class=\"small middle\" x=\"%s\" y=\"%s\">%s</text>\n", num(at), num(y+legendTall/2), fine(arrowScale(key.flow)), arrowOut, num(at+50*arrowScale(key.flow)), num(y+legendTall+19*d.letter()), key.text)
	}
	d.printf("<path class=\"needle\"%s d=\"M0 0l-4.5 -8h9z\"/>\n", d.moved(d.moves.Needle.ID))
}

func (d *drawing) heading() {
	x, y := d.box.x0+24, d.box.y0+34
	name := d.hive.Name
	if name == "" {
		name = "Hive"
	}
	d.printf("<text class=\"title\" x=\"%s\" y=\"%s\">%s</text>\n", num(x), num(y), escape(clip(name, max(20, int(d.box.w()/12)))))
	line := upper(d.section.Seen())
	if d.year != nil {
		line = d.date.Format("2 January 2006 15:04") + ", " + minus(quantity.Format(d.year.value("outdoor.temp", d.hour), quantity.Temperature, d.options.Units)) + " outdoors; " + d.section.Seen()
	}
	d.printf("<text class=\"small\" x=\"%s\" y=\"%s\">%s</text>\n", num(x), num(y+20), escape(line))
}

// minus sets a minus sign for a hyphen before a number.
func minus(text string) string {
	if strings.HasPrefix(text, "-") {
		return "−" + text[1:]
	}
	return text
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
