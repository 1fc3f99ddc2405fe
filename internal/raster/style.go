package raster

import (
	"fmt"
	"image/color"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/image/colornames"
)

// style is what an element is drawn with. Those of the first group pass on to
// its children.
type style struct {
	fill, stroke          paint
	fillOpacity           float64
	strokeOpacity         float64
	pen                   pen
	isOdd, clipIsOdd      bool
	color                 color.NRGBA
	size                  float64 // of the type [user units]
	family, weight, slant string
	anchor, baseline      string
	spacing               float64
	isHidden              bool
	isStrokeFirst         bool
	isFixedWidth          bool // the stroke keeps its width through all scales
	markers               [3]string
	variables             map[string]string
	opacity               float64
	isAbsent              bool
	clip                  string
	transform             string
	stopColor             color.NRGBA
	stopOpacity           float64
	shift                 float64 // of the baseline [user units]
	keepsSpace            bool    // spaces in text stand as written
}

// paint is no colour, a colour, or what an identifier names.
type paint struct {
	isNone bool
	color  color.NRGBA
	id     string
}

var black = color.NRGBA{A: 255}

func initialStyle() style {
	return style{fill: paint{color: black}, stroke: paint{isNone: true}, fillOpacity: 1, strokeOpacity: 1,
		pen: pen{width: 1, miter: 4}, color: black, size: 16, opacity: 1, stopColor: black, stopOpacity: 1}
}

// ignored are settings that leave no trace in a picture of this kind.
var ignored = map[string]bool{"shape-rendering": true, "text-rendering": true, "font-variant-numeric": true, "font-feature-settings": true,
	"font-variant": true, "font-stretch": true, "line-height": true, "cursor": true, "pointer-events": true, "transition": true,
	"color-scheme": true, "max-width": true, "width": true, "height": true, "background": true, "background-color": true, "overflow": true,
	"user-select": true, "font-kerning": true, "font-optical-sizing": true, "image-rendering": true, "color-rendering": true,
	"color-interpolation": true, "vertical-align": true, "text-decoration": true, "margin": true, "padding": true, "border": true, "border-radius": true}

// known are the settings that are also attributes.
var known = []string{"fill", "stroke", "fill-opacity", "stroke-opacity", "stroke-width", "stroke-linecap", "stroke-linejoin",
	"stroke-miterlimit", "stroke-dasharray", "stroke-dashoffset", "fill-rule", "clip-rule", "color", "font", "font-size", "font-family",
	"font-weight", "font-style", "text-anchor", "dominant-baseline", "alignment-baseline", "letter-spacing", "visibility", "display", "opacity",
	"clip-path", "paint-order", "vector-effect", "marker-start", "marker-mid", "marker-end", "stop-color", "stop-opacity",
	"transform", "filter", "mask", "baseline-shift"}

// styleOf works out the style of an element whose parent has that one:
// attributes, then the sheets by weight and order, then its own style.
func (p *painter) styleOf(n *node, parent style) (style, error) {
	s := parent
	s.opacity, s.isAbsent, s.clip, s.transform, s.shift = 1, false, "", "", 0
	s.stopColor, s.stopOpacity, s.isFixedWidth = black, 1, false
	var settings []setting
	for _, name := range known {
		if v, ok := n.attr[name]; ok {
			settings = append(settings, setting{name, v})
		}
	}
	var rules []*rule
	for i := range p.sheet.rules {
		if r := &p.sheet.rules[i]; r.matches(n) {
			rules = append(rules, r)
		}
	}
	slices.SortStableFunc(rules, func(a, b *rule) int { return a.weight - b.weight })
	for _, r := range rules {
		settings = append(settings, r.settings...)
	}
	if text := n.attr["style"]; text != "" {
		own, err := readSettings(text)
		if err != nil {
			return s, fmt.Errorf("%s: style: %w", n.name, err)
		}
		settings = append(settings, own...)
	}
	if n.attr["xml:space"] == "preserve" {
		s.keepsSpace = true
	}
	hasOwn := false
	for _, x := range settings {
		if strings.HasPrefix(x.name, "--") {
			if !hasOwn {
				s.variables = maps.Clone(s.variables)
				if s.variables == nil {
					s.variables = map[string]string{}
				}
				hasOwn = true
			}
			s.variables[x.name] = x.value
		}
	}
	// The colour and the size of type come first: others are told in them.
	for pass := range 2 {
		for _, x := range settings {
			isFirst := x.name == "color" || x.name == "font" || x.name == "font-size"
			if strings.HasPrefix(x.name, "--") || isFirst != (pass == 0) {
				continue
			}
			value, err := s.resolve(x.value, 0)
			if err == nil {
				err = s.set(x.name, value, &parent)
			}
			if err != nil {
				return s, fmt.Errorf("%s: %s: %w", n.name, x.name, err)
			}
		}
	}
	return s, nil
}

// resolve puts variables in the place of their names.
func (s *style) resolve(value string, deep int) (string, error) {
	for {
		from := strings.Index(value, "var(")
		if from < 0 {
			return value, nil
		}
		if deep > 20 {
			return "", fmt.Errorf("%q turns in a circle", value)
		}
		depth, to := 0, -1
		for i := from + 3; i < len(value) && to < 0; i++ {
			switch value[i] {
			case '(':
				depth++
			case ')':
				if depth--; depth == 0 {
					to = i
				}
			}
		}
		if to < 0 {
			return "", fmt.Errorf("%q does not end", value)
		}
		name, otherwise, _ := strings.Cut(value[from+4:to], ",")
		is, ok := s.variables[strings.TrimSpace(name)]
		if !ok {
			is = strings.TrimSpace(otherwise)
		}
		is, err := s.resolve(is, deep+1)
		if err != nil {
			return "", err
		}
		value = value[:from] + is + value[to+1:]
		if len(value) > 10_000 {
			return "", fmt.Errorf("a value of more than 10 000 characters")
		}
		deep++
	}
}

func share(text string) (float64, error) {
	v, err := length(text, 1)
	if err != nil {
		return 0, err
	}
	return min(max(v, 0), 1), nil
}

// size reads a length that may be told in the size of the type.
func (s *style) length(text string, whole float64) (float64, error) {
	for unit, per := range map[string]float64{"rem": 16, "em": s.size, "ex": s.size / 2} {
		if number, ok := strings.CutSuffix(text, unit); ok {
			if v, err := strconv.ParseFloat(number, 64); err == nil {
				return v * per, nil
			}
		}
	}
	return length(text, whole)
}

func reference(text string) string {
	id, ok := strings.CutPrefix(text, "url(")
	if !ok {
		return ""
	}
	id, _, _ = strings.Cut(id, ")")
	return strings.TrimPrefix(strings.Trim(id, `"' `), "#")
}

func (s *style) set(name, value string, parent *style) error {
	if ignored[name] {
		return nil
	}
	if value == "inherit" {
		value = ""
	}
	var err error
	switch name {
	case "fill", "stroke":
		if value == "" {
			return nil
		}
		var p paint
		if p, err = s.paint(value); err != nil {
			return err
		}
		if name == "fill" {
			s.fill = p
		} else {
			s.stroke = p
		}
	case "fill-opacity":
		s.fillOpacity, err = share(value)
	case "stroke-opacity":
		s.strokeOpacity, err = share(value)
	case "opacity":
		s.opacity, err = share(value)
	case "stop-opacity":
		s.stopOpacity, err = share(value)
	case "stop-color":
		s.stopColor, err = s.readColor(value)
	case "color":
		if value != "" && value != "currentColor" {
			s.color, err = s.readColor(value)
		}
	case "stroke-width":
		s.pen.width, err = s.length(value, 1)
	case "stroke-miterlimit":
		s.pen.miter, err = length(value, 1)
	case "stroke-linecap":
		s.pen.cap = value
	case "stroke-linejoin":
		s.pen.join = value
	case "stroke-dashoffset":
		s.pen.offset, err = s.length(value, 1)
	case "stroke-dasharray":
		s.pen.dashes = nil
		if value == "none" || value == "" {
			return nil
		}
		sum := 0.0
		for part := range strings.FieldsFuncSeq(value, func(r rune) bool { return r == ',' || r == ' ' || r == '\t' || r == '\n' }) {
			v, err := s.length(part, 1)
			if err != nil {
				return err
			}
			if v < 0 {
				return fmt.Errorf("%q has a length below 0", value)
			}
			sum += v
			s.pen.dashes = append(s.pen.dashes, v)
		}
		if !(sum > 0) {
			s.pen.dashes = nil
		} else if len(s.pen.dashes)%2 == 1 {
			s.pen.dashes = append(s.pen.dashes, s.pen.dashes...)
		}
	case "fill-rule":
		s.isOdd = value == "evenodd"
	case "clip-rule":
		s.clipIsOdd = value == "evenodd"
	case "font":
		return s.setFont(value, parent)
	case "font-size":
		named := map[string]float64{"xx-small": 9, "x-small": 10, "small": 13, "medium": 16, "large": 18, "x-large": 24, "xx-large": 32,
			"smaller": parent.size / 1.2, "larger": parent.size * 1.2}
		if v, ok := named[value]; ok {
			s.size = v
			return nil
		}
		in := *s
		in.size = parent.size
		s.size, err = in.length(value, parent.size)
		if err == nil && !(s.size >= 0 && s.size < 1e5) {
			err = fmt.Errorf("%q is no size of type", value)
		}
	case "font-family":
		s.family = value
	case "font-weight":
		s.weight = value
	case "font-style":
		s.slant = value
	case "text-anchor":
		s.anchor = value
	case "dominant-baseline", "alignment-baseline":
		s.baseline = value
	case "baseline-shift":
		switch value {
		case "super":
			s.shift = -0.4 * s.size
		case "sub":
			s.shift = 0.2 * s.size
		case "baseline", "0":
		default:
			s.shift, err = s.length(value, s.size)
			s.shift = -s.shift
		}
	case "letter-spacing":
		s.spacing = 0
		if value != "normal" {
			s.spacing, err = s.length(value, s.size)
		}
	case "visibility":
		s.isHidden = value == "hidden" || value == "collapse"
	case "display":
		s.isAbsent = value == "none"
	case "clip-path":
		s.clip = reference(value)
		if s.clip == "" && value != "none" {
			return fmt.Errorf("%q: only url(#identifier) or none", value)
		}
	case "filter", "mask":
		if value != "none" && value != "" {
			return fmt.Errorf("%q cannot be drawn", value)
		}
	case "paint-order":
		s.isStrokeFirst = strings.HasPrefix(value, "stroke")
	case "vector-effect":
		s.isFixedWidth = value == "non-scaling-stroke"
	case "marker-start", "marker-mid", "marker-end":
		i := map[string]int{"marker-start": 0, "marker-mid": 1, "marker-end": 2}[name]
		s.markers[i] = reference(value)
	case "marker":
		id := reference(value)
		s.markers = [3]string{id, id, id}
	case "transform":
		s.transform = value
	case "white-space":
		s.keepsSpace = strings.HasPrefix(value, "pre")
	default:
		if strings.HasPrefix(name, "-") || strings.HasPrefix(name, "animation") {
			return nil
		}
		return fmt.Errorf("is not understood (its value is %q)", value)
	}
	return err
}

// setFont reads the short form: any of slant and weight, the size, the family.
func (s *style) setFont(value string, parent *style) error {
	s.slant, s.weight = "", ""
	rest := value
	for {
		word, after, _ := strings.Cut(strings.TrimSpace(rest), " ")
		if word == "" {
			return fmt.Errorf("%q has no size", value)
		}
		number, errWeight := strconv.Atoi(word)
		switch {
		case word == "italic" || word == "oblique":
			s.slant = word
		case word == "bold" || word == "bolder" || word == "lighter" || errWeight == nil && number >= 1:
			s.weight = word
		case word == "normal" || word == "small-caps":
		default:
			size, _, _ := strings.Cut(word, "/")
			if err := s.set("font-size", size, parent); err != nil {
				return fmt.Errorf("%q: %w", value, err)
			}
			s.family = strings.TrimSpace(after)
			return nil
		}
		rest = after
	}
}

func (s *style) paint(value string) (paint, error) {
	if value == "none" {
		return paint{isNone: true}, nil
	}
	if id := reference(value); id != "" {
		return paint{id: id}, nil
	}
	c, err := s.readColor(value)
	return paint{color: c}, err
}

func (s *style) readColor(value string) (color.NRGBA, error) {
	text := strings.ToLower(strings.TrimSpace(value))
	fault := fmt.Errorf("%q is not a colour that can be drawn", value)
	switch {
	case text == "currentcolor":
		return s.color, nil
	case text == "transparent":
		return color.NRGBA{}, nil
	case strings.HasPrefix(text, "#"):
		h := text[1:]
		if len(h) == 3 || len(h) == 4 {
			long := make([]byte, 0, 8)
			for i := range len(h) {
				long = append(long, h[i], h[i])
			}
			h = string(long)
		}
		if len(h) == 6 {
			h += "ff"
		}
		v, err := strconv.ParseUint(h, 16, 32)
		if err != nil || len(h) != 8 {
			return color.NRGBA{}, fault
		}
		return color.NRGBA{uint8(v >> 24), uint8(v >> 16), uint8(v >> 8), uint8(v)}, nil
	}
	if c, ok := colornames.Map[text]; ok {
		return color.NRGBA(c), nil
	}
	name, rest, ok := strings.Cut(text, "(")
	if !ok || !strings.HasSuffix(rest, ")") {
		return color.NRGBA{}, fault
	}
	parts := strings.FieldsFunc(rest[:len(rest)-1], func(r rune) bool { return r == ',' || r == ' ' || r == '/' })
	if len(parts) != 3 && len(parts) != 4 {
		return color.NRGBA{}, fault
	}
	var v [4]float64
	v[3] = 1
	for i, part := range parts {
		whole := 255.0
		if i == 3 || name == "hsl" || name == "hsla" {
			whole = 1
		}
		var err error
		if v[i], err = length(strings.TrimSuffix(part, "deg"), whole); err != nil {
			return color.NRGBA{}, fault
		}
	}
	byteOf := func(x float64) uint8 { return uint8(math.Round(min(max(x, 0), 255))) }
	switch name {
	case "rgb", "rgba":
	case "hsl", "hsla":
		h, sat, light := math.Mod(math.Mod(v[0], 360)+360, 360)/30, v[1], v[2]
		a := sat * min(light, 1-light)
		for i, n := range [3]float64{0, 8, 4} {
			k := math.Mod(n+h, 12)
			v[i] = 255 * (light - a*max(-1, min(k-3, 9-k, 1)))
		}
	default:
		return color.NRGBA{}, fault
	}
	return color.NRGBA{byteOf(v[0]), byteOf(v[1]), byteOf(v[2]), byteOf(v[3] * 255)}, nil
}
