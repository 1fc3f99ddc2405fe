// Package keyed reads small YAML files of keys and values that people write by
// hand, and tells everything that is wrong with one at once: by line, column and
// field, what was found and what may stand there.
//
// Parse gives the one node of a file; a Reader then takes it apart.
package keyed

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"hackle/internal/spelling"
)

// most is the size from which on a file is refused [byte].
const most = 1 << 20

// Fault is one thing wrong with a file.
type Fault struct {
	Line   int    // from 1, 0 when unknown
	Column int    // from 1 in characters
	Field  string // path, list entries counted from 1: "stock[2].price"
	Found  string
	Wanted string
	Hint   string // how to mend it, may be empty
}

// String gives the fault in one line without the name of the file.
func (f Fault) String() string {
	var b strings.Builder
	if f.Line > 0 {
		fmt.Fprintf(&b, "%d:%d: ", f.Line, f.Column)
	}
	if f.Field != "" {
		fmt.Fprintf(&b, "%s: ", f.Field)
	}
	fmt.Fprintf(&b, "found %s, wanted %s", f.Found, f.Wanted)
	if f.Hint != "" {
		fmt.Fprintf(&b, " (%s)", f.Hint)
	}
	return b.String()
}

// Faults is the error of a file: everything wrong with it, by line and column.
type Faults struct {
	Name string // of the file, may be empty
	List []Fault
}

// Error prints one fault a line, at most twenty and then how many more.
func (fs *Faults) Error() string {
	const printed = 20
	var lines []string
	for i, f := range fs.List {
		if i == printed {
			lines = append(lines, fmt.Sprintf("… and %d more", len(fs.List)-i))
			break
		}
		line := f.String()
		if fs.Name != "" && f.Line > 0 {
			line = fs.Name + ":" + line
		} else if fs.Name != "" {
			line = fs.Name + ": " + line
		}
		lines = append(lines, line)
	}
	return strings.Join(lines, "\n")
}

// Read returns all of src, refusing more than a mebibyte. What says what the file
// is, such as "a price file".
func Read(src io.Reader, what string) ([]byte, error) {
	data, err := io.ReadAll(io.LimitReader(src, most+1))
	if err != nil {
		return nil, fmt.Errorf("reading %s: %w", what, err)
	}
	return data, nil
}

// Parse turns the bytes of a file into its one mapping node, or tells the one
// thing that keeps it from being read at all.
func Parse(data []byte, what string) (*yaml.Node, *Fault) {
	fail := func(line, column int, found, hint string) *Fault {
		return &Fault{Line: line, Column: column, Found: found, Wanted: what + " in YAML, UTF-8", Hint: hint}
	}
	if len(data) > most {
		return nil, fail(1, 1, "more than 1 MiB", "is this the right file?")
	}
	data = bytes.TrimPrefix(data, []byte{0xef, 0xbb, 0xbf}) // some editors put this mark before UTF-8
	if len(bytes.TrimSpace(data)) == 0 {
		return nil, fail(1, 1, "an empty file", `it begins with the line "version: 1"`)
	}
	odd := slices.IndexFunc(data, func(c byte) bool { return c < ' ' && c != '\t' && c != '\n' && c != '\r' || c == 0x7f })
	if odd < 0 && !utf8.Valid(data) {
		for odd = 0; ; {
			r, size := utf8.DecodeRune(data[odd:])
			if r == utf8.RuneError && size == 1 {
				break
			}
			odd += size
		}
	}
	if odd >= 0 {
		head := data[:odd]
		line := 1 + bytes.Count(head, []byte{'\n'})
		column := 1 + utf8.RuneCount(head[bytes.LastIndexByte(head, '\n')+1:])
		return nil, fail(line, column, fmt.Sprintf("the byte %#02x, which is no text", data[odd]), "save it again with the encoding UTF-8")
	}
	dec := yaml.NewDecoder(bytes.NewReader(data))
	var doc, second yaml.Node
	if err := dec.Decode(&doc); err != nil {
		return nil, syntax(data, err, what)
	}
	if err := dec.Decode(&second); err == nil {
		return nil, fail(max(second.Line, 1), max(second.Column, 1), `a second document after "---"`, "keep one in each file")
	} else if !errors.Is(err, io.EOF) {
		return nil, syntax(data, err, what)
	}
	if doc.Kind != yaml.DocumentNode || len(doc.Content) != 1 {
		return nil, fail(1, 1, "no content", `it begins with the line "version: 1"`)
	}
	root := doc.Content[0]
	if n := forbidden(root); n != nil {
		return nil, fail(n.Line, n.Column, "an anchor, alias or tag", "write the value out, or put it into quotes")
	}
	if root.Kind != yaml.MappingNode {
		return nil, fail(root.Line, root.Column, Describe(root), `a map of keys and values is wanted; it begins with the line "version: 1"`)
	}
	return root, nil
}

// forbidden returns the first node with an anchor, alias or tag of its own.
// Without aliases a tree is as large as its file.
func forbidden(n *yaml.Node) *yaml.Node {
	if n.Kind == yaml.AliasNode || n.Anchor != "" || n.Style&yaml.TaggedStyle != 0 {
		return n
	}
	for _, c := range n.Content {
		if bad := forbidden(c); bad != nil {
			return bad
		}
	}
	return nil
}

var atLine = regexp.MustCompile(`line (\d+): `)

// syntax gives an error of the YAML parser a place and plain words.
func syntax(data []byte, err error, what string) *Fault {
	text := strings.TrimPrefix(err.Error(), "yaml: ")
	line := 1
	if m := atLine.FindStringSubmatchIndex(text); m != nil {
		line, _ = strconv.Atoi(text[m[2]:m[3]]) // digits by the pattern; bounded below
		text = text[:m[0]] + text[m[1]:]
	}
	lines := bytes.Split(data, []byte{'\n'})
	for i, l := range lines {
		indent := l[:len(l)-len(bytes.TrimLeft(l, " \t"))]
		if t := bytes.IndexByte(indent, '\t'); t >= 0 && len(indent) < len(l) {
			return &Fault{Line: i + 1, Column: t + 1, Found: "a tab in the indentation", Wanted: "spaces", Hint: "YAML is indented with spaces only"}
		}
	}
	line = min(max(line, 1), len(lines))
	for line > 1 && len(bytes.TrimSpace(lines[line-1])) == 0 { // a file cut off is noticed below its end
		line--
	}
	l := lines[line-1]
	return &Fault{Line: line, Column: 1 + len(l) - len(bytes.TrimLeft(l, " ")), Found: "what YAML cannot read: " + text,
		Wanted: what + " in YAML", Hint: "look for a missing colon, bracket, quote or indentation here or just above"}
}

// Describe names what a node holds, for "found …".
func Describe(n *yaml.Node) string {
	switch {
	case n.Kind == yaml.MappingNode:
		return "a map"
	case n.Kind == yaml.SequenceNode:
		return "a list"
	case n.ShortTag() == "!!null":
		return "nothing"
	}
	return Quote(n.Value)
}

// Quote shortens a value to what a message can show.
func Quote(s string) string {
	const shown = 48
	if r := []rune(s); len(r) > shown {
		s = string(r[:shown-1]) + "…"
	}
	return strconv.Quote(s)
}

// OneOf lists words as "a, b or c".
func OneOf(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
}

// Nearest returns the candidate that word is most likely meant to be, or "".
func Nearest(word string, candidates []string) string {
	plain := func(s string) string {
		return strings.NewReplacer("_", " ", "-", " ").Replace(strings.ToLower(strings.TrimSpace(s)))
	}
	w := plain(word)
	best, distance := "", 1+max(2, len([]rune(w))/3)
	for _, c := range candidates {
		if d := spelling.Corrections(w, plain(c)); d < distance {
			best, distance = c, d
		}
	}
	return best
}

// DidYouMean is the hint for a word that is not known, "" when none is near.
func DidYouMean(word string, candidates []string) string {
	if near := Nearest(word, candidates); near != "" {
		return fmt.Sprintf("did you mean %q?", near)
	}
	return ""
}

// Reader collects the faults of a file as it is taken apart. Its zero value is
// ready.
type Reader struct {
	faults []Fault
}

// Fail notes that the value at path could not be read.
func (r *Reader) Fail(path string, n *yaml.Node, found, wanted, hint string) {
	r.faults = append(r.faults, Fault{Line: n.Line, Column: n.Column, Field: path, Found: found, Wanted: wanted, Hint: hint})
}

// Err returns all faults as a *Faults by line and column, nil when there is none.
func (r *Reader) Err(name string) error {
	if len(r.faults) == 0 {
		return nil
	}
	list := slices.Clone(r.faults)
	slices.SortStableFunc(list, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column), cmp.Compare(a.Field, b.Field))
	})
	return &Faults{Name: name, List: list}
}

// Key is one key of a map.
type Key struct {
	Name string
	Must bool // it may not be left out
	Read func(path string, n *yaml.Node)
}

// Object reads the keys of a map, in the order of the table.
func (r *Reader) Object(path string, n *yaml.Node, keys ...Key) {
	names := make([]string, len(keys))
	for i, k := range keys {
		names[i] = k.Name
	}
	if n.Kind != yaml.MappingNode {
		r.Fail(path, n, Describe(n), "a map with keys such as "+strings.Join(names[:min(3, len(names))], ", "), "")
		return
	}
	join := func(key string) string {
		if path == "" {
			return key
		}
		return path + "." + key
	}
	given := make(map[string]*yaml.Node)
	for i := 0; i+1 < len(n.Content); i += 2 {
		k, value := n.Content[i], n.Content[i+1]
		switch {
		case k.Kind != yaml.ScalarNode:
			r.Fail(path, k, Describe(k)+" as a key", "a word", "")
		case !slices.Contains(names, k.Value):
			r.Fail(path, k, "the unknown key "+Quote(k.Value), OneOf(names), DidYouMean(k.Value, names))
		case given[k.Value] != nil:
			r.Fail(join(k.Value), k, "the key "+Quote(k.Value)+" a second time", "each key once", "")
		default:
			given[k.Value] = value
			if value.Line == 0 { // an empty value has no place of its own
				value.Line, value.Column = k.Line, k.Column
			}
		}
	}
	for _, k := range keys {
		switch value := given[k.Name]; {
		case value != nil:
			k.Read(join(k.Name), value)
		case k.Must:
			r.Fail(join(k.Name), n, "no "+k.Name, "the key "+k.Name, "")
		}
	}
}

// List reads every item of a list of at most so many.
func (r *Reader) List(path string, n *yaml.Node, atMost int, item func(path string, n *yaml.Node)) {
	if n.Kind != yaml.SequenceNode {
		r.Fail(path, n, Describe(n), "a list", `every entry begins with "- "`)
		return
	}
	if len(n.Content) > atMost {
		r.Fail(path, n, fmt.Sprintf("%d entries", len(n.Content)), fmt.Sprintf("at most %d", atMost), "")
		return
	}
	for i, c := range n.Content {
		item(fmt.Sprintf("%s[%d]", path, i+1), c)
	}
}

// Text returns the value of a scalar that is not null, trimmed.
func (r *Reader) Text(path string, n *yaml.Node, wanted string) (string, bool) {
	if n.Kind != yaml.ScalarNode || n.ShortTag() == "!!null" {
		r.Fail(path, n, Describe(n), wanted, "")
		return "", false
	}
	return strings.TrimSpace(n.Value), true
}

// Word reads one of several words.
func (r *Reader) Word(path string, n *yaml.Node, words []string) (string, bool) {
	s, ok := r.Text(path, n, OneOf(words))
	if ok && !slices.Contains(words, s) {
		r.Fail(path, n, Quote(s), OneOf(words), DidYouMean(s, words))
		ok = false
	}
	return s, ok
}

// Integer reads a count.
func (r *Reader) Integer(path string, n *yaml.Node, least, greatest int) (int, bool) {
	wanted := fmt.Sprintf("a whole number from %d to %d", least, greatest)
	s, ok := r.Text(path, n, wanted)
	if !ok {
		return 0, false
	}
	x, err := strconv.Atoi(s)
	if err != nil || x < least || x > greatest {
		r.Fail(path, n, Quote(s), wanted, "")
		return 0, false
	}
	return x, true
}

// Version reads the edition of a file's format. It reports whether the rest makes
// sense to be read.
func (r *Reader) Version(root *yaml.Node, want int) bool {
	for i := 0; i+1 < len(root.Content); i += 2 {
		if root.Content[i].Value != "version" {
			continue
		}
		v := root.Content[i+1]
		if v.Kind == yaml.ScalarNode && v.Value == strconv.Itoa(want) {
			return true
		}
		r.Fail("version", v, Describe(v), strconv.Itoa(want), "this program reads no other edition of the format")
		return false
	}
	r.Fail("version", root, "no version", fmt.Sprintf("the line \"version: %d\"", want), "it tells which edition of the format the file is written in")
	return false
}
