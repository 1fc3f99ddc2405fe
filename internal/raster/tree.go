package raster

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
)

const (
	mostNodes = 400_000
	mostDeep  = 100
	mostDrawn = 500_000 // elements, each use counted
)

// node is an element, or a run of text when name is "".
type node struct {
	name     string
	attr     map[string]string
	text     string
	children []*node
	parent   *node
	classes  []string
}

const svgSpace = "http://www.w3.org/2000/svg"

// parse reads the elements of a picture and gathers its style sheets.
func parse(svg []byte) (*node, *sheet, error) {
	d := xml.NewDecoder(bytes.NewReader(svg))
	d.Entity = xml.HTMLEntity
	var root, at *node
	count, deep := 0, 0
	styles := &sheet{}
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, nil, err
		}
		switch t := token.(type) {
		case xml.StartElement:
			if count++; count > mostNodes {
				return nil, nil, fmt.Errorf("more than %d elements", mostNodes)
			}
			if deep++; deep > mostDeep {
				return nil, nil, fmt.Errorf("elements more than %d deep", mostDeep)
			}
			n := &node{name: t.Name.Local, attr: map[string]string{}, parent: at}
			if t.Name.Space != "" && t.Name.Space != svgSpace {
				n.name = t.Name.Space + ":" + n.name
			}
			for _, a := range t.Attr {
				switch a.Name.Space {
				case "", svgSpace:
					n.attr[a.Name.Local] = strings.TrimSpace(a.Value)
				case "http://www.w3.org/1999/xlink", "xlink":
					if _, ok := n.attr["href"]; !ok && a.Name.Local == "href" {
						n.attr["href"] = strings.TrimSpace(a.Value)
					}
				case "http://www.w3.org/XML/1998/namespace", "xml":
					n.attr["xml:"+a.Name.Local] = a.Value
				}
			}
			n.classes = strings.Fields(n.attr["class"])
			switch {
			case at != nil:
				at.children = append(at.children, n)
			case root != nil:
				return nil, nil, errors.New("more than one outermost element")
			default:
				root = n
			}
			at = n
		case xml.EndElement:
			deep--
			if at.name == "style" {
				var text strings.Builder
				for _, c := range at.children {
					text.WriteString(c.text)
				}
				if err := styles.read(text.String()); err != nil {
					return nil, nil, err
				}
			}
			at = at.parent
		case xml.CharData:
			if at != nil {
				at.children = append(at.children, &node{text: string(t), parent: at})
			}
		}
	}
	if root == nil || root.name != "svg" {
		return nil, nil, errors.New("not an SVG picture: its outermost element must be svg")
	}
	return root, styles, nil
}

// sheet is the style rules of a picture.
type sheet struct{ rules []rule }

type rule struct {
	steps    []step // outermost first
	weight   int    // specificity
	settings []setting
}

// step is one compound of a selector.
type step struct {
	kind      string // "" for any
	id        string
	classes   []string
	isRoot    bool
	isChild   bool // must be the parent's child, not any descendant
	isPassing bool // never matches: asks for a state that a still picture has not
}

type setting struct{ name, value string }

// read adds the rules of a style sheet. At-rules are passed over with their
// blocks, and so are selectors that a still picture cannot meet.
func (s *sheet) read(text string) error {
	text, err := withoutComments(text)
	if err != nil {
		return err
	}
	for {
		text = strings.TrimSpace(text)
		if text == "" {
			return nil
		}
		if text[0] == '@' {
			end := strings.IndexAny(text, ";{")
			if end < 0 {
				return fmt.Errorf("style: %.30q does not end", text)
			}
			if text[end] == ';' {
				text = text[end+1:]
				continue
			}
			close := blockEnd(text, end)
			if close < 0 {
				return fmt.Errorf("style: the block of %.30q does not end", text)
			}
			text = text[close+1:]
			continue
		}
		open := strings.IndexByte(text, '{')
		if open < 0 {
			return fmt.Errorf("style: %.30q has no block", text)
		}
		close := blockEnd(text, open)
		if close < 0 {
			return fmt.Errorf("style: the block of %.30q does not end", text)
		}
		settings, err := readSettings(text[open+1 : close])
		if err != nil {
			return fmt.Errorf("style of %q: %w", strings.TrimSpace(text[:open]), err)
		}
		for selector := range strings.SplitSeq(text[:open], ",") {
			r, err := readSelector(selector)
			if err != nil {
				return err
			}
			r.settings = settings
			s.rules = append(s.rules, r)
		}
		text = text[close+1:]
	}
}

func withoutComments(text string) (string, error) {
	for {
		from := strings.Index(text, "/*")
		if from < 0 {
			return text, nil
		}
		n := strings.Index(text[from+2:], "*/")
		if n < 0 {
			return "", errors.New("style: a comment does not end")
		}
		text = text[:from] + " " + text[from+2+n+2:]
	}
}

// blockEnd finds the brace that closes the one at open.
func blockEnd(text string, open int) int {
	depth := 0
	for i := open; i < len(text); i++ {
		switch text[i] {
		case '{':
			depth++
		case '}':
			if depth--; depth == 0 {
				return i
			}
		}
	}
	return -1
}

func readSettings(text string) ([]setting, error) {
	var out []setting
	for part := range strings.SplitSeq(text, ";") {
		part = strings.TrimSpace(part)
		if part == "" {
			continue
		}
		name, value, ok := strings.Cut(part, ":")
		if !ok {
			return nil, fmt.Errorf("%q has no colon", part)
		}
		value = strings.TrimSpace(value)
		value = strings.TrimSpace(strings.TrimSuffix(value, "!important"))
		name = strings.TrimSpace(name)
		if !strings.HasPrefix(name, "--") {
			name = strings.ToLower(name)
		}
		out = append(out, setting{name, value})
	}
	return out, nil
}

func readSelector(text string) (rule, error) {
	var r rule
	isChild := false
	for field := range strings.FieldsSeq(strings.ReplaceAll(text, ">", " > ")) {
		if field == ">" {
			isChild = true
			continue
		}
		st := step{isChild: isChild}
		isChild = false
		rest := field
		for rest != "" {
			lead := rest[0]
			if lead == '.' || lead == '#' || lead == ':' {
				rest = rest[1:]
			}
			end := strings.IndexAny(rest, ".#:[")
			if end < 0 {
				end = len(rest)
			}
			word := rest[:end]
			rest = rest[end:]
			switch {
			case lead == '[' || lead == '+' || lead == '~':
				return r, fmt.Errorf("style: the selector %q is not understood", strings.TrimSpace(text))
			case lead == ':' && word == "root":
				st.isRoot = true
				r.weight += 10
			case lead == ':':
				st.isPassing = true
			case lead == '.':
				st.classes = append(st.classes, word)
				r.weight += 10
			case lead == '#':
				st.id = word
				r.weight += 100
			case word != "*":
				st.kind = word
				r.weight++
			}
			if word == "" && lead != ':' {
				return r, fmt.Errorf("style: the selector %q is not understood", strings.TrimSpace(text))
			}
		}
		r.steps = append(r.steps, st)
	}
	if len(r.steps) == 0 {
		return r, errors.New("style: a block without a selector")
	}
	return r, nil
}

func (st *step) matches(n *node) bool {
	if n == nil || st.isPassing || st.kind != "" && st.kind != n.name || st.id != "" && st.id != n.attr["id"] || st.isRoot && n.parent != nil {
		return false
	}
	for _, want := range st.classes {
		found := false
		for _, c := range n.classes {
			found = found || c == want
		}
		if !found {
			return false
		}
	}
	return true
}

func (r *rule) matches(n *node) bool {
	last := len(r.steps) - 1
	if !r.steps[last].matches(n) {
		return false
	}
	return above(r.steps[:last], n.parent, r.steps[last].isChild)
}

// above reports whether the outer steps of a selector are met at n or, unless
// it must be the parent itself, further out.
func above(steps []step, n *node, isParent bool) bool {
	if len(steps) == 0 {
		return true
	}
	last := len(steps) - 1
	for ; n != nil; n = n.parent {
		if steps[last].matches(n) && above(steps[:last], n.parent, steps[last].isChild) {
			return true
		}
		if isParent {
			return false
		}
	}
	return false
}
