package change

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"hackle/hive"
	"hackle/internal/keyed"
	"hackle/quantity"
)

// mostText keeps hostile input small [byte].
const mostText = 500

// Parse reads a change in its text form: the kind, and after an equals sign its
// parameters between commas. A parameter is written with its key, "on 1 Nov", or
// without; then it goes to the first that is free and accepts it.
//
//	lid=mineral wool 3 in
//	wrap=building paper 0.8 mm, on 1 Nov, off 1 Apr
//	windbreak
func Parse(text string) (Change, error) {
	if len(text) > mostText {
		return Change{}, fmt.Errorf("a change of more than %d letters", mostText)
	}
	key, rest, _ := strings.Cut(text, "=")
	kind, err := Find(strings.ToLower(strings.Join(strings.Fields(key), " ")))
	if err != nil {
		return Change{}, err
	}
	said := make(map[string]string)
	var loose []string
	if strings.TrimSpace(rest) != "" {
		for item := range strings.SplitSeq(rest, ",") {
			item = strings.Join(strings.Fields(item), " ")
			if item == "" {
				return Change{}, fmt.Errorf("change %s: nothing between two commas", keyed.Quote(text))
			}
			if p, value, ok := kind.named(item); ok {
				if _, twice := said[p.Key]; twice {
					return Change{}, fmt.Errorf("change %s: %s is said twice", keyed.Quote(text), p.Key)
				}
				said[p.Key] = value
			} else {
				loose = append(loose, item)
			}
		}
	}
	for _, item := range loose {
		taken := false
		var first error
		for _, p := range kind.Params {
			if _, ok := said[p.Key]; ok {
				continue
			}
			_, err := p.parse(item)
			if err == nil {
				said[p.Key], taken = item, true
				break
			}
			if first == nil {
				first = err
			}
		}
		switch {
		case taken:
		case first != nil:
			return Change{}, fmt.Errorf("change %s: %w", kind.Key, first)
		default:
			return Change{}, fmt.Errorf("change %s: %s is one thing too many; it takes %s", kind.Key, keyed.Quote(item), kind.takes())
		}
	}
	return kind.New(said)
}

// named splits an item that begins with the key of a parameter, the longest first.
func (k Kind) named(item string) (Param, string, bool) {
	var best Param
	for _, p := range k.Params {
		if strings.HasPrefix(item, p.Key+" ") && len(p.Key) > len(best.Key) {
			best = p
		}
	}
	if best.Key == "" {
		return Param{}, "", false
	}
	value := strings.TrimSpace(item[len(best.Key):])
	if _, err := best.parse(value); err != nil {
		// "lid=straw mat 5 cm" begins with no key though it looks like one.
		for _, p := range k.Params {
			if _, other := p.parse(item); p.Type == Layer && other == nil {
				return Param{}, "", false
			}
		}
	}
	return best, value, true
}

func (k Kind) takes() string {
	if len(k.Params) == 0 {
		return "no parameters"
	}
	var keys []string
	for _, p := range k.Params {
		keys = append(keys, p.Key)
	}
	return strings.Join(keys, ", ")
}

// New makes a change of the kind from the texts of its parameters, by key.
func (k Kind) New(said map[string]string) (Change, error) {
	c := Change{Kind: k.Key, Values: make(map[string]Value)}
	keys := make([]string, 0, len(said))
	for key := range said {
		keys = append(keys, key)
	}
	slices.Sort(keys)
	for _, key := range keys {
		i := slices.IndexFunc(k.Params, func(p Param) bool { return p.Key == key })
		if i < 0 {
			return Change{}, fmt.Errorf("change %s: it has no parameter %s; it takes %s", k.Key, keyed.Quote(key), k.takes())
		}
		v, err := k.Params[i].parse(said[key])
		if err != nil {
			return Change{}, fmt.Errorf("change %s: %w", k.Key, err)
		}
		c.Values[key] = v
	}
	return c, k.check(c)
}

// check holds a change against its kind, so that one made by hand is as sound as
// one that was read.
func (k Kind) check(c Change) error {
	for key := range c.Values {
		if !slices.ContainsFunc(k.Params, func(p Param) bool { return p.Key == key }) {
			return fmt.Errorf("change %s: it has no parameter %s; it takes %s", k.Key, keyed.Quote(key), k.takes())
		}
	}
	for _, p := range k.Params {
		v, ok := c.Values[p.Key]
		if !ok && p.Must {
			return fmt.Errorf("change %s: no %s: write for example %s", k.Key, p.Meaning, k.Choices[0])
		}
		if ok {
			if _, err := p.parse(p.text(v)); err != nil {
				return fmt.Errorf("change %s: %w", k.Key, err)
			}
		}
	}
	on, hasOn := c.Values["on"]
	off, hasOff := c.Values["off"]
	switch {
	case hasOn != hasOff:
		return fmt.Errorf("change %s: only one of on and off: give both days, or neither", k.Key)
	case hasOn && on.Day == off.Day:
		return fmt.Errorf("change %s: on and off are the same day", k.Key)
	}
	return nil
}

// parse reads the value of a parameter.
func (p Param) parse(text string) (Value, error) {
	text = strings.TrimSpace(text)
	fail := func(wanted, hint string) (Value, error) {
		s := fmt.Sprintf("%s: found %s, wanted %s", p.Key, keyed.Quote(text), wanted)
		if hint != "" {
			s += " (" + hint + ")"
		}
		return Value{}, errors.New(s)
	}
	span := func() string {
		if p.Type == Count {
			return fmt.Sprintf("%.0f to %.0f", p.Low, p.High)
		}
		kind := p.Quantity
		if p.Type == Layer {
			kind = quantity.Length
		}
		return quantity.Format(p.Low, kind, quantity.Metric) + " to " + quantity.Format(p.High, kind, quantity.Metric)
	}
	inside := func(v float64) bool {
		const slack = 1e-9 // the ends may have been rounded
		return v >= p.Low*(1-slack)-slack*1e-3 && v <= p.High*(1+slack)
	}
	switch p.Type {
	case Quantity:
		v, err := quantity.Parse(text, p.Quantity)
		if err != nil {
			return fail("a "+p.Quantity.String()+" such as "+p.Quantity.Examples(), "")
		}
		if !inside(v) {
			return fail(span(), "")
		}
		return Value{Number: v}, nil
	case Count:
		digits, _, _ := strings.Cut(text, " ")
		n, err := strconv.Atoi(digits)
		word := strings.TrimSpace(strings.TrimPrefix(text, digits))
		if err != nil || word != "" && word != p.Key || !inside(float64(n)) {
			return fail("a whole number of "+span(), "")
		}
		return Value{Number: float64(n)}, nil
	case Word:
		if !slices.Contains(p.Words, text) {
			return fail(keyed.OneOf(p.Words), keyed.DidYouMean(text, p.Words))
		}
		return Value{Word: text}, nil
	case Name:
		if text == "" || strings.ContainsAny(text, ",=+\"\\") || strings.ContainsFunc(text, func(r rune) bool { return r < ' ' || r == 0xfffd }) {
			return fail("a name without comma, equals or plus sign", "")
		}
		return Value{Word: text}, nil
	case Day:
		d, err := hive.ParseDay(text)
		if err != nil || d.Year != 0 {
			return fail("a day of every year such as 15 Oct", "")
		}
		return Value{Day: d}, nil
	case Sides:
		return p.faces(text, fail)
	case Layer:
		name, thick, ok := splitLayer(text)
		if !ok || name == "" || strings.ContainsAny(name, ",=+\"\\") || strings.ContainsFunc(name, func(r rune) bool { return r < ' ' || r == 0xfffd }) {
			return fail("a material and its thickness such as mineral wool 76 mm", "")
		}
		if !inside(thick) {
			return fail("a thickness of "+span(), "")
		}
		return Value{Word: name, Number: thick}, nil
	}
	return fail("nothing", "")
}

// splitLayer takes the thickness off the end of a layer: its last one to three
// words.
func splitLayer(text string) (name string, thickness float64, ok bool) {
	words := strings.Fields(text)
	for n := min(3, len(words)-1); n >= 1; n-- {
		v, err := quantity.Parse(strings.Join(words[len(words)-n:], " "), quantity.Length)
		if err == nil && v > 0 && !math.IsInf(v, 0) {
			return strings.Join(words[:len(words)-n], " "), v, true
		}
	}
	return "", 0, false
}

var faceWords = [...]hive.Face{hive.Front, hive.Back, hive.Left, hive.Right}

func (p Param) faces(text string, fail func(string, string) (Value, error)) (Value, error) {
	if text == "sides" {
		return Value{Faces: slices.Clone(faceWords[:])}, nil
	}
	var out []hive.Face
	for _, w := range strings.Fields(text) {
		if w == "and" {
			continue
		}
		i := slices.IndexFunc(faceWords[:], func(f hive.Face) bool { return f.String() == w })
		if i < 0 || slices.Contains(out, faceWords[i]) {
			return fail("sides, or some of front, back, left and right", "")
		}
		out = append(out, faceWords[i])
	}
	if len(out) == 0 {
		return fail("sides, or some of front, back, left and right", "")
	}
	slices.Sort(out)
	return Value{Faces: out}, nil
}

// text writes a value so that parse gives it back.
func (p Param) text(v Value) string {
	switch p.Type {
	case Quantity:
		return exact(v.Number, p.Quantity)
	case Count:
		return strconv.Itoa(int(v.Number))
	case Day:
		return v.Day.String()
	case Sides:
		if len(v.Faces) == len(faceWords) {
			return "sides"
		}
		var words []string
		for _, f := range v.Faces {
			words = append(words, f.String())
		}
		return strings.Join(words, " ")
	case Layer:
		return v.Word + " " + exact(v.Number, quantity.Length)
	}
	return v.Word
}

// exact writes a quantity as people do where that says it exactly.
func exact(v float64, kind quantity.Kind) string {
	s := quantity.Format(v, kind, quantity.Metric)
	if x, err := quantity.Parse(s, kind); err == nil && x == v && !strings.Contains(s, ",") {
		return s
	}
	return quantity.FormatExact(v, kind)
}

// String writes the change in the text form that Parse reads, its first parameter
// bare and the others with their keys.
func (c Change) String() string {
	kind, err := Find(c.Kind)
	if err != nil {
		return c.Kind
	}
	var items []string
	for i, p := range kind.Params {
		v, ok := c.Values[p.Key]
		if !ok {
			continue
		}
		s := p.text(v)
		// Bare only where it reads back as the same.
		if _, _, looksNamed := kind.named(s); i > 0 || looksNamed || p.Type == Day {
			s = p.Key + " " + s
		}
		items = append(items, s)
	}
	if len(items) == 0 {
		return c.Kind
	}
	return c.Kind + "=" + strings.Join(items, ", ")
}

// Texts returns the values said, by key, as text; Kind.New reads them back.
func (c Change) Texts() map[string]string {
	out := make(map[string]string)
	kind, err := Find(c.Kind)
	if err != nil {
		return out
	}
	for _, p := range kind.Params {
		if v, ok := c.Values[p.Key]; ok {
			out[p.Key] = p.text(v)
		}
	}
	return out
}

// ParseSet reads several changes, joined by plus signs or each by itself. "as it
// is" and empty texts are no change.
func ParseSet(texts ...string) (Set, error) {
	var s Set
	for _, text := range texts {
		for part := range strings.SplitSeq(text, "+") {
			part = strings.TrimSpace(part)
			if part == "" || part == "as it is" {
				continue
			}
			c, err := Parse(part)
			if err != nil {
				return nil, err
			}
			s = append(s, c)
		}
	}
	return s, s.Check()
}
