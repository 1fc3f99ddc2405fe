package cutaway

import (
	"fmt"
	"strings"
)

// look is a set of colours of a picture.
type look struct {
	ink, faint, paper, cut, comb, honey, honeyInk, bee, water, flow, ground string
	path, apart                                                             []knot
}

func paperLook() look {
	return look{ink: "#2b2a27", faint: "#8b857a", paper: "#fbf9f4", cut: "#f4efe4", comb: "#e9dcb8", honey: "#6b4a12", honeyInk: "#6b4a12", bee: "#3a2b17", water: "#1f6f9f", flow: "#2b5876", ground: "#a79f90", path: paperPath(), apart: paperApart()}
}

func nightLook() look {
	return look{ink: "#e6e1d6", faint: "#8d887d", paper: "#191817", cut: "#2a2825", comb: "#5d5237", honey: "#e9cf9a", honeyInk: "#e9cf9a", bee: "#1d140a", water: "#7fc4ec", flow: "#a9cbe2", ground: "#6f6a60", path: nightPath(), apart: nightApart()}
}

// rules of the style; each $name is a colour.
const styleRules = `
.cutaway text{fill:$ink;font-family:$sans;font-size:13px}
.cutaway .title{font-family:$serif;font-size:22px}
.cutaway .small{font-size:12px;fill:$soft}
.cutaway.broad text{font-size:18px}
.cutaway.broad .small{font-size:17px}
.cutaway.broad .title{font-size:30px}
.cutaway .ground-line{stroke:$ground;stroke-width:1.4;fill:none}
.cutaway .soil{stroke:$ground;stroke-width:.9;fill:none}
.cutaway .paper{fill:$paper;stroke:none}
.cutaway .air{fill:$paper;stroke:none}
.cutaway .attic{fill:$paper;stroke:$ink;stroke-width:.7}
.cutaway .cut{fill:$cut;stroke:$ink;stroke-width:.8}
.cutaway .metal{fill:$ink;stroke:$ink;stroke-width:1.4}
.cutaway .hatch{stroke:none}
.cutaway .hatch-line{fill:none;stroke:$faint;stroke-width:.75}
.cutaway .batt{fill:none;stroke:$faint;stroke-width:.95;stroke-linejoin:round}
.cutaway .edge{fill:none;stroke:$ink;stroke-width:1.5;stroke-linejoin:round}
.cutaway .wood{fill:$cut;stroke:$ink;stroke-width:.8}
.cutaway .wood-cut{fill:$cut;stroke:$ink;stroke-width:1}
.cutaway .comb{fill:$comb;fill-opacity:.2;stroke:$ink;stroke-width:.55}
.cutaway .comb-line{fill:none;stroke:$ink;stroke-width:.55}
.cutaway .bare{fill:none;stroke:$faint;stroke-width:.8;stroke-dasharray:5 4}
.cutaway .cells{fill:none;stroke:$faint;stroke-width:.45}
.cutaway .midrib{fill:none;stroke:$faint;stroke-width:.6}
.cutaway .wire{fill:none;stroke:$faint;stroke-width:.6}
.cutaway .honey{fill:$honey;fill-opacity:.1;stroke:none}
.cutaway .honey-line{fill:none;stroke:$honeyink;stroke-width:1.15}
.cutaway .bees{fill:none;stroke:$bee;stroke-opacity:.66;stroke-width:3.6;stroke-linecap:round}
.cutaway .outside{fill:none;stroke:$ink;stroke-opacity:.85;stroke-width:3.6;stroke-linecap:round}
.cutaway .fan{fill:none;stroke:$ink;stroke-width:1.5;stroke-linecap:round}
.cutaway .ball{stroke:none}
.cutaway .water{fill:$water;fill-opacity:.9;stroke:$paper;stroke-width:.5}
.cutaway .frost{fill:none;stroke:$water;stroke-width:1.2;stroke-linecap:round}
.cutaway .flow{fill:$flow;stroke:$paper;stroke-width:1.2}
.cutaway .hole{fill:$paper;fill-opacity:.8;stroke:none}
.cutaway .hole-line{fill:none;stroke:$ink;stroke-width:1}
.cutaway .hidden-line{fill:none;stroke:$ink;stroke-width:.9;stroke-dasharray:4 3}
.cutaway .mesh{fill:none;stroke:$ink;stroke-width:1.6;stroke-dasharray:2.4 1.8}
.cutaway .measure{fill:none;stroke:$soft;stroke-width:.7}
.cutaway .tick{fill:none;stroke:$soft;stroke-width:1.1}
.cutaway .leader{fill:none;stroke:$soft;stroke-width:.6}
.cutaway .dot{fill:$ink;stroke:none}
.cutaway .needle{fill:$ink;stroke:none}
.cutaway .frame{fill:none;stroke:$ink;stroke-width:.7}
.cutaway .plate{fill:$paper;fill-opacity:.82;stroke:none}
.cutaway .none{stop-opacity:0}
.cutaway .middle{text-anchor:middle}
.cutaway .end{text-anchor:end}
`

func (l look) names() []string {
	return []string{
		"$honeyink", l.honeyInk, "$honey", l.honey, "$ink", l.ink, "$faint", l.faint, "$soft", l.soft(), "$paper", l.paper, "$cut", l.cut,
		"$comb", l.comb, "$bee", l.bee, "$water", l.water, "$flow", l.flow, "$ground", l.ground,
		"$sans", "Helvetica,Arial,sans-serif", "$serif", "Georgia,'Times New Roman',serif",
	}
}

// soft ink is for lettering that stands back.
func (l look) soft() string {
	if l.ink == nightLook().ink {
		return "#b3aea3"
	}
	return "#5f5a51"
}

// aloneStyle is the style of a picture that stands alone, all colours written out.
func aloneStyle() string {
	l := paperLook()
	var b strings.Builder
	b.WriteString(strings.NewReplacer(l.names()...).Replace(styleRules))
	for i, c := range palette(l.path, tones) {
		fmt.Fprintf(&b, ".cutaway .t%d{stop-color:%s;fill:%s}\n", i, c, c)
	}
	for i, c := range palette(l.apart, shifts) {
		fmt.Fprintf(&b, ".cutaway .d%d{stop-color:%s;fill:%s}\n", i, c, c)
	}
	return b.String()
}

// Style is the style sheet for pages that show pictures: by custom properties that
// begin with --cut-, each with its colour by day and by night. Which of them holds
// follows color-scheme, as for the rest of the page; the script's switch and the
// reader's machine set that, and on paper it is day. Pages may set --cut-sans and
// --cut-serif to their typefaces.
func Style() string {
	var b strings.Builder
	b.WriteString("/* Made by package cutaway. */\n:root{\n")
	day, night := paperLook(), nightLook()
	property := func(name, by, at string) {
		fmt.Fprintf(&b, "  --cut-%s:light-dark(%s,%s);\n", name, by, at)
	}
	for i, names := 0, day.names(); i < len(names); i += 2 {
		if name := strings.TrimPrefix(names[i], "$"); name != "sans" && name != "serif" {
			property(name, names[i+1], night.names()[i+1])
		}
	}
	warm := palette(night.path, tones)
	for i, c := range palette(day.path, tones) {
		property(fmt.Sprintf("t%d", i), c, warm[i])
	}
	apart := palette(night.apart, shifts)
	for i, c := range palette(day.apart, shifts) {
		property(fmt.Sprintf("d%d", i), c, apart[i])
	}
	b.WriteString("}\n@media print{:root{color-scheme:light}}\n")
	n := paperLook().names()
	for i := 0; i < len(n); i += 2 {
		name := strings.TrimPrefix(n[i], "$")
		if name == "sans" || name == "serif" {
			n[i+1] = "var(--cut-" + name + "," + n[i+1] + ")"
			continue
		}
		n[i+1] = "var(--cut-" + name + ")"
	}
	b.WriteString(strings.TrimPrefix(strings.NewReplacer(n...).Replace(styleRules), "\n"))
	for i := range tones {
		fmt.Fprintf(&b, ".cutaway .t%d{stop-color:var(--cut-t%d);fill:var(--cut-t%d)}\n", i, i, i)
	}
	for i := range shifts {
		fmt.Fprintf(&b, ".cutaway .d%d{stop-color:var(--cut-d%d);fill:var(--cut-d%d)}\n", i, i, i)
	}
	b.WriteString("@media (max-width:40em){.cutaway text{font-size:22px}.cutaway .small{font-size:21px}.cutaway.broad text{font-size:32px}.cutaway.broad .small{font-size:31px}}\n")
	return b.String()
}
