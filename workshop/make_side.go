package workshop

import (
	"fmt"
	"math"

	"hackle/climate"
	"hackle/hive"
	"hackle/quantity"
)

// Film resistances on both sides of a wall: EN ISO 6946, 0.13 inside and 0.04
// outside. [m²·K/W]
const films = 0.17

func resistance(layers []hive.Layer) float64 {
	var sum float64
	for _, l := range layers {
		if l.Resistance > 0 {
			sum += l.Resistance
		} else if l.Material.Conductivity > 0 {
			sum += l.Thickness / l.Material.Conductivity
		}
	}
	return sum
}

// sameOutside fails when the bodies do not stand flush, so that nothing can be
// laid flat against the sides.
func (b *bench) sameOutside(part string) error {
	l0, w0 := outer(b.h.Bodies[0])
	for i, x := range b.h.Bodies {
		l, w := outer(x)
		if math.Abs(l-l0) > 0.003 || math.Abs(w-w0) > 0.003 {
			return b.fail(part, "body %d is %s × %s outside and the lowest %s × %s: the sides are not flush", i+1, b.l(l), b.l(w), b.l(l0), b.l(w0))
		}
	}
	return nil
}

// rimGap is left between the lid's rim and what hangs on the walls below it, so
// that the lid lifts freely. [m]
const rimGap = 0.004

// coats returns where a coat of the walls begins and ends.
func (b *bench) coat() (z0, z1 float64) {
	z0 = b.h.Floor.Depth
	z1 = b.h.StackTop()
	if b.h.Lid.Rim > 0 {
		z1 = min(z1, shellOf(b.h).rimBottom-rimGap)
	}
	return z0, z1
}

// cutouts are the openings of one face in the plane of a panel whose lower left
// corner, seen from outside, lies at x0 and z0.
func (b *bench) cutouts(f hive.Face, width, z0, z1 float64) ([]Feature, []string) {
	const room = 0.003 // round every opening
	var list []Feature
	var names []string
	for _, o := range b.h.Openings {
		if o.Face != f {
			continue
		}
		low, high := o.Sill, o.Sill+o.Height
		if high <= z0+1e-9 || low >= z1 {
			continue
		}
		group := o.GroupWidth()
		x := width/2 + o.Offset - group/2
		y0, y1 := max(0, low-z0-room), min(z1-z0, high-z0+room)
		list = append(list, Feature{Kind: Notch, X: x - room, Y: y0, Length: group + 2*room, Width: y1 - y0, Note: o.Name})
		names = append(names, o.Name)
	}
	return list, names
}

func wallPanels(b *bench) error {
	b.job.Purpose = "Cuts the heat lost through the walls; water then forms on walls and lid later or not at all."
	m, err := b.find("panel", b.spec.Material, "XPS")
	if err != nil {
		return err
	}
	ply, err := b.find("skin", "plywood", "plywood")
	if err != nil {
		return err
	}
	if compressible(m) {
		return b.fail("panel", "%s is soft and stands only in a case: take a rigid board such as XPS, cork or softboard", m.Name)
	}
	thick := b.spec.Thickness
	if thick == 0 {
		thick = 0.038
	}
	if err := b.sameOutside("panel"); err != nil {
		return err
	}
	s := shellOf(b.h)
	faces := b.spec.Faces
	if len(faces) == 0 {
		faces = []hive.Face{hive.Front, hive.Back, hive.Left, hive.Right}
	}
	on := map[hive.Face]bool{}
	for _, f := range faces {
		if !f.Upright() {
			return b.fail("panel", "%s is no wall", f)
		}
		on[f] = true
	}
	z0, z1 := b.coat()
	height := z1 - z0
	if height < 0.05 {
		return b.fail("panel", "the lid reaches down so far that only %s of wall is left", b.l(height))
	}
	total := thick + b.opt.Ply
	left, right := 0.0, 0.0
	if on[hive.Left] {
		left = total
	}
	if on[hive.Right] {
		right = total
	}
	for _, f := range []hive.Face{hive.Front, hive.Back, hive.Left, hive.Right} {
		if !on[f] {
			continue
		}
		var width float64
		var at, out Box
		switch f {
		case hive.Front, hive.Back: // over the edges of the side panels
			width = s.width + left + right
			y, yOut := -s.length/2-thick, -s.length/2-total
			if f == hive.Back {
				y, yOut = s.length/2, s.length/2+thick
			}
			at = blockAt(-s.width/2-left, y, z0, width, thick, height)
			out = blockAt(-s.width/2-left, yOut, z0, width, b.opt.Ply, height)
		default:
			width = s.length
			x, xOut := -s.width/2-thick, -s.width/2-total
			if f == hive.Right {
				x, xOut = s.width/2, s.width/2+thick
			}
			at = blockAt(x, -s.length/2, z0, thick, width, height)
			out = blockAt(xOut, -s.length/2, z0, b.opt.Ply, width, height)
		}
		features, names := b.cutouts(f, width, z0, z1)
		b.part(Part{Name: f.String() + " panel", Material: m, Count: 1, Length: width, Width: height, Thickness: thick, Features: features, At: []Solid{{at}}})
		b.part(Part{Name: f.String() + " skin", Material: ply, Count: 1, Length: width, Width: height, Thickness: b.opt.Ply, Features: features, At: []Solid{{out}}})
		for _, o := range b.h.Openings {
			if o.Face != f || o.Sill >= z1 {
				continue
			}
			clear := o.Sill+o.Height <= z0+1e-9
			for _, n := range names {
				clear = clear || n == o.Name
			}
			b.check(o.Name+" stays open", clear, map[bool]string{true: "cut out or below the panel", false: "covered"}[clear], "clear of the panel")
		}
	}
	b.job.Items = append(b.job.Items, Item{Name: "strap", Amount: 2, Unit: "pieces", Note: "round panels and hive"})
	b.job.Items = append(b.job.Items, Item{Name: "glue for foam", Amount: math.Ceil(float64(len(faces)) / 2), Unit: "pieces", Note: "cartridges, skin to foam"})
	b.step("Cut panels and skins %s high: from the lower edge of the lowest body to %s below the lid's rim.", b.l(height), b.l(rimGap))
	b.step("Cut the openings out of both, %s wider all round.", b.l(0.003))
	b.step("Glue each skin to its panel and press it flat until it holds. Paint skin and edges.")
	b.step("Hold the side panels against the hive first, then front and back over their edges, and strap them. Nothing is screwed into the bodies, so that boxes still come off one by one.")
	if b.h.Lid.Rim > 0 {
		b.check("the lid lifts off freely", z1 <= s.rimBottom-rimGap+1e-9, b.l(s.rimBottom-z1)+" below the rim", "at least "+b.l(rimGap))
	}

	// The belt under the lid's rim stays bare; the engine is told a layer so thin
	// that the whole wall of each body lets through as much heat as the covered
	// and the bare part together.
	h := &b.job.Plan.Hive
	for i := range h.Bodies {
		body := &h.Bodies[i]
		base := h.BodyBase(i)
		share := max(0, min(z1, base+body.Height)-max(z0, base)) / body.Height
		if share <= 0 {
			continue
		}
		for f := hive.Front; f <= hive.Right; f++ {
			if !on[f] {
				continue
			}
			bare := resistance(body.Walls[f]) + films
			add := thick/m.Conductivity + b.opt.Ply/ply.Conductivity
			eff := 1/(share/(bare+add)+(1-share)/bare) - bare
			scale := eff / add
			body.Walls[f] = append([]hive.Layer{{Material: ply, Thickness: b.opt.Ply * scale}, {Material: m, Thickness: thick * scale}}, body.Walls[f]...)
		}
		if share < 0.999 {
			b.note("Body %d is covered over %.0f %% of its height; the rest lies under the lid's rim or stays bare, and the hive is computed with a panel as thin as that makes it.", i+1, 100*share)
		}
	}
	return nil
}

func wrap(b *bench) error {
	b.job.Purpose = "Keeps wind out of the joints and takes in winter sun."
	m, err := b.find("wrap", b.spec.Material, "building paper")
	if err != nil {
		return err
	}
	thick := b.spec.Thickness
	if thick == 0 {
		thick = m.SheetThickness
	}
	if thick == 0 {
		return b.fail("wrap", "%s comes in no one thickness: give it", m.Name)
	}
	if err := b.sameOutside("wrap"); err != nil {
		return err
	}
	s := shellOf(b.h)
	z0, z1 := b.coat()
	const lap = 0.10
	round := 2*(s.length+s.width) + 8*thick
	p := Part{Name: "wrap", Material: m, Count: 1, Length: round + lap, Width: z1 - z0, Thickness: thick, Soft: true,
		Note: "begins and ends at the middle of the back, lapped " + b.l(lap)}
	// Unrolled from the middle of the back, its outside up: right side, front,
	// left side.
	front := s.width/2 + s.length + 4*thick
	features, names := b.cutouts(hive.Front, s.width, z0, z1)
	for _, f := range features {
		f.X += front
		p.Features = append(p.Features, f)
	}
	for _, side := range []struct {
		face hive.Face
		at   float64
	}{{hive.Right, s.width / 2}, {hive.Left, s.width*1.5 + s.length}} {
		more, n := b.cutouts(side.face, s.length, z0, z1)
		for _, f := range more {
			f.X += side.at
			p.Features = append(p.Features, f)
		}
		names = append(names, n...)
	}
	back, backNames := b.cutouts(hive.Back, s.width, z0, z1)
	for i, f := range back {
		if f.X -= s.width / 2; f.X < 0 {
			f.X += round
		}
		if f.X+f.Length <= p.Length { // one in the very middle would be cut in two by the lap
			p.Features, names = append(p.Features, f), append(names, backNames[i])
		}
	}
	b.part(p)
	b.job.Items = append(b.job.Items, Item{Name: "strap", Amount: 1, Unit: "pieces", Note: "over the wrap, or cord"})
	b.buy("staple", 16, 0.010, "edges, outside only")
	b.step("Cut a strip of %s × %s and mark the openings on it.", b.l(p.Length), b.l(p.Width))
	if len(names) > 0 {
		b.step("Cut out %s, %s wider all round.", quantityList(names), b.l(0.003))
	}
	b.step("Lay it round the hive from the middle of the back, lap the ends by %s downwind, staple and strap it. It ends under the lid's rim, so that rain runs over it.", b.l(lap))
	b.step("Take it off on the day the calendar gives, not because of one warm week.")
	for _, o := range b.h.Openings {
		clear := o.Sill+o.Height <= z0+1e-9 || o.Sill >= z1
		for _, n := range names {
			clear = clear || n == o.Name
		}
		b.check(o.Name+" stays open", clear, map[bool]string{true: "cut out or outside the wrap", false: "covered"}[clear], "clear of the wrap")
	}
	on, off := b.spec.On, b.spec.Off
	if on.IsZero() {
		on = hive.Day{Month: 11, Day: 1}
	}
	if off.IsZero() {
		off = hive.Day{Month: 4, Day: 10}
	}
	layer := hive.Layer{Material: m, Thickness: thick}
	h := &b.job.Plan.Hive
	h.Wraps = append(h.Wraps, hive.Wrap{
		Name: "wrap of " + m.Name, Faces: []hive.Face{hive.Front, hive.Back, hive.Left, hive.Right}, Layers: []hive.Layer{layer}, On: on, Off: off,
		Finish: &hive.Finish{Name: m.Name, SolarAbsorptance: max(0.02, m.SolarAbsorptance), Emissivity: m.Emissivity},
	})
	if m.MuDry > 1000 {
		b.note("%s lets hardly any vapour through: wood under it dries inward only.", m.Name)
	}
	return nil
}

func quantityList(words []string) string {
	out := ""
	for i, w := range words {
		switch {
		case i == 0:
		case i == len(words)-1:
			out += " and "
		default:
			out += ", "
		}
		out += w
	}
	return out
}

func windbreak(b *bench) error {
	b.job.Purpose = "Slows the wind at the hive; half open, so that it does not whirl over the top."
	wood, err := b.wood("slat")
	if err != nil {
		return err
	}
	height, width := b.spec.Height, b.spec.Width
	if height == 0 {
		height = 1.5
	}
	if width == 0 {
		width = 3
	}
	if height < 0.5 || width < 0.5 {
		return b.fail("slat", "a windbreak of %s × %s shelters nothing", b.l(height), b.l(width))
	}
	const slat, post, buried, porosity = 0.090, 0.038, 0.5, 0.5
	n := int(math.Floor((height + slat) / (2 * slat)))
	gap := (height - float64(n)*slat) / float64(max(1, n-1))
	posts := max(2, int(math.Ceil(width/1.2))+1)
	b.part(Part{Name: "slat", Material: wood, Count: n, Length: width, Width: slat, Thickness: b.opt.Board, Grain: true})
	b.part(Part{Name: "post", Material: wood, Count: posts, Length: height + buried, Width: post, Thickness: post, Grain: true, Note: b.l(buried) + " in the ground"})
	b.buy("wood screw", 2*n*posts, 0.045, "two to a crossing")
	open := 1 - float64(n)*slat/height
	b.step("Set %d posts %s apart on the side the cold wind comes from, %s deep, five heights (%s) or less from the hives.", posts, b.l(width/float64(posts-1)), b.l(buried), b.l(5*height))
	b.step("Screw on %d slats of %s with %s between.", n, b.l(slat), b.l(gap))
	b.step("Keep the flight path in front of the entrances free.")
	b.check("half of it is open", math.Abs(open-porosity) < 0.1, fmt.Sprintf("%.0f %% open", 100*open), "about 50 %, so that the wind is slowed and not whirled")
	for _, d := range []float64{2, 5, 10} {
		b.note("At %g heights behind it (%s) the wind has %.0f %% of its speed.", d, quantity.Format(d*height, quantity.Length, b.opt.System), 100*climate.ShelterFactor(d, open))
	}
	site := &b.job.Plan.Site
	if site.Exposure == hive.Open || site.Exposure == "" {
		site.Exposure = hive.Hedged
		b.note("The hive is computed as standing behind a hedge.")
	} else {
		b.note("The stand is sheltered already; the hive is computed as before.")
	}
	return nil
}
