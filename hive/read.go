package hive

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"hackle/material"
	"hackle/quantity"
)

// maxFile is the size from which on a file is refused: no hive needs a
// thousandth of it. [byte]
const maxFile = 1 << 20

// fileVersion is the version of the hive file this program reads and writes.
const fileVersion = 1

// Decode reads one hive file and checks it. Name stands before every fault. The
// error is a *Faults with everything wrong at once, warnings included, sorted by
// position; when there are only warnings the error is nil, and Inspect gives
// them. A failure to read from src is returned as it is, wrapped.
func Decode(name string, src io.Reader) (Plan, error) {
	p, faults, err := Inspect(name, src)
	if err != nil {
		return Plan{}, err
	}
	if len(faults.Wrong()) > 0 {
		return Plan{}, faults
	}
	return p, nil
}

// DecodeFile reads the hive file at path.
func DecodeFile(path string) (Plan, error) {
	f, err := os.Open(path)
	if err != nil {
		return Plan{}, fmt.Errorf("hive file: %w", err)
	}
	defer f.Close()
	return Decode(path, f)
}

// Inspect is Decode for those who also want the warnings: it returns the plan
// together with everything found, never nil. The plan may be used when
// Faults.Wrong is empty. The error tells only of a failure to read.
func Inspect(name string, src io.Reader) (Plan, *Faults, error) {
	faults := &Faults{Name: name}
	data, err := io.ReadAll(io.LimitReader(src, maxFile+1))
	if err != nil {
		return Plan{}, faults, fmt.Errorf("hive file %s: %w", name, err)
	}
	table, err := material.Standard()
	if err != nil {
		return Plan{}, faults, fmt.Errorf("hive file %s: %w", name, err)
	}
	root, fault := parse(data)
	if fault != nil {
		faults.List = []Fault{*fault}
		return Plan{}, faults, nil
	}
	r := &reader{table: table, at: make(map[string]place), split: make(map[string]layerFile)}
	p := r.plan(root)
	p.Hive.SettleAirGaps()
	faults.List = r.faults
	if r.whole {
		faults.List = append(faults.List, r.checked(p)...)
	}
	sortFaults(faults.List)
	return p, faults, nil
}

// parse turns the bytes of a file into its one YAML node, or tells the one thing
// that keeps it from being read at all.
func parse(data []byte) (*yaml.Node, *Fault) {
	fail := func(line, column int, found, wanted, hint string) *Fault {
		return &Fault{Line: line, Column: column, Found: found, Wanted: wanted, Hint: hint}
	}
	const wanted = "a hive file in YAML"
	switch {
	case len(data) > maxFile:
		return nil, fail(1, 1, "more than 1 MiB", wanted, "is this the right file?")
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}), bytes.HasPrefix(data, []byte{0xfe, 0xff}):
		return nil, fail(1, 1, "text in UTF-16", wanted+" in UTF-8", "save it again with the encoding UTF-8")
	}
	data = bytes.TrimPrefix(data, []byte{0xef, 0xbb, 0xbf}) // some editors put this mark before UTF-8
	if len(bytes.TrimSpace(data)) == 0 {
		return nil, fail(1, 1, "an empty file", wanted, `it begins with the line "version: 1"`)
	}
	if i := slices.IndexFunc(data, func(c byte) bool { return c < ' ' && c != '\t' && c != '\n' && c != '\r' || c == 0x7f }); i >= 0 {
		line, column := position(data, i)
		return nil, fail(line, column, fmt.Sprintf("the byte %#02x, so no text", data[i]), wanted, "is this the right file?")
	}
	if !utf8.Valid(data) {
		i := 0
		for i < len(data) {
			c, size := utf8.DecodeRune(data[i:])
			if c == utf8.RuneError && size == 1 {
				break
			}
			i += size
		}
		line, column := position(data, i)
		return nil, fail(line, column, fmt.Sprintf("the byte %#02x, which is no UTF-8", data[i]), wanted+" in UTF-8", "save it again with the encoding UTF-8")
	}
	dec := yaml.NewDecoder(bytes.NewReader(data))
	var doc yaml.Node
	if err := dec.Decode(&doc); err != nil {
		return nil, syntaxFault(data, err)
	}
	var second yaml.Node
	if err := dec.Decode(&second); err == nil {
		return nil, fail(max(second.Line, 1), max(second.Column, 1), "a second document after \"---\"", "one hive a file", "move it to a file of its own")
	} else if !errors.Is(err, io.EOF) {
		return nil, syntaxFault(data, err)
	}
	if doc.Kind != yaml.DocumentNode || len(doc.Content) != 1 {
		return nil, fail(1, 1, "no content", wanted, `it begins with the line "version: 1"`)
	}
	if n := forbidden(doc.Content[0]); n != nil {
		found := fmt.Sprintf("the tag %q", n.Tag)
		if n.Kind == yaml.AliasNode {
			found = fmt.Sprintf("the alias \"*%s\"", n.Value)
		} else if n.Anchor != "" {
			found = fmt.Sprintf("the anchor \"&%s\"", n.Anchor)
		}
		return nil, fail(n.Line, n.Column, found, "plain values", "hive files use neither anchors nor tags: write the value out, or put it into quotes")
	}
	if doc.Content[0].Kind != yaml.MappingNode {
		n := doc.Content[0]
		return nil, fail(n.Line, n.Column, describe(n), "a map of keys and values", `it begins with the line "version: 1"`)
	}
	return doc.Content[0], nil
}

// position turns a byte offset into line and column, both from 1.
func position(data []byte, offset int) (line, column int) {
	head := data[:offset]
	line = 1 + bytes.Count(head, []byte{'\n'})
	return line, 1 + utf8.RuneCount(head[bytes.LastIndexByte(head, '\n')+1:])
}

// forbidden returns the first node with an anchor, alias or tag of its own, nil
// if there is none. Without aliases a node tree is as large as its file.
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

// syntaxFault gives an error of the YAML parser a place and plain words.
func syntaxFault(data []byte, err error) *Fault {
	text := strings.TrimPrefix(err.Error(), "yaml: ")
	line := 0
	if m := regexp.MustCompile(`line (\d+): `).FindStringSubmatchIndex(text); m != nil {
		line, _ = strconv.Atoi(text[m[2]:m[3]]) // digits by the pattern; an absurd number is bounded below
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
	column := 1 + len(l) - len(bytes.TrimLeft(l, " "))
	return &Fault{Line: line, Column: column, Found: "what YAML cannot read: " + text, Wanted: "a hive file in YAML",
		Hint: "look for a missing colon, bracket, quote or indentation here or just above"}
}

// place is where a value stands in its file, both from 1.
type place struct{ line, column int }

// reader turns a tree of nodes into a plan and collects the faults.
type reader struct {
	table  *material.Table
	preset preset
	hive   *Hive                // the hive being read, for fields that depend on others
	common []func(*Body)        // changes stated once for all bodies
	split  map[string]layerFile // layers in their short form, which come again and again
	faults []Fault
	at     map[string]place // of every path read
	bad    []string         // paths that could not be read
	whole  bool             // type and bodies were read, so that a check makes sense
}

// fail notes that the value at path could not be read.
func (r *reader) fail(path string, n *yaml.Node, found, wanted, hint string) {
	r.faults = append(r.faults, Fault{Line: n.Line, Column: n.Column, Field: path, Found: found, Wanted: wanted, Hint: hint})
	r.bad = append(r.bad, path)
}

// describe names what a node holds, for "found …".
func describe(n *yaml.Node) string {
	switch n.Kind {
	case yaml.MappingNode:
		return "a map"
	case yaml.SequenceNode:
		return "a list"
	}
	if n.ShortTag() == "!!null" {
		return "nothing"
	}
	return quote(n.Value)
}

// quote shortens a value to what a message can show.
func quote(s string) string {
	const most = 48
	if r := []rune(s); len(r) > most {
		s = string(r[:most-1]) + "…"
	}
	return strconv.Quote(s)
}

// text returns the value of a scalar that is not null; otherwise it notes a
// fault.
func (r *reader) text(path string, n *yaml.Node, wanted string) (string, bool) {
	if n.Kind != yaml.ScalarNode || n.ShortTag() == "!!null" {
		r.fail(path, n, describe(n), wanted, "")
		return "", false
	}
	return strings.TrimSpace(n.Value), true
}

// bare reports whether a scalar is a number without a unit.
func bare(s string) bool {
	_, err := strconv.ParseFloat(s, 64)
	return err == nil
}

// quantity reads a value with its unit.
func (r *reader) quantity(path string, n *yaml.Node, kind quantity.Kind, v *float64) {
	wanted := "a " + kind.String() + " such as " + kind.Examples()
	if strings.ContainsAny(kind.String()[:1], "aeiou") {
		wanted = "an" + wanted[1:]
	}
	s, ok := r.text(path, n, wanted)
	if !ok {
		return
	}
	if bare(s) {
		r.fail(path, n, "the bare number "+quote(s), wanted, "write the unit behind the number")
		return
	}
	x, err := quantity.Parse(s, kind)
	if err != nil {
		r.fail(path, n, quote(s), wanted, reason(err, kind))
		return
	}
	*v = x
}

// reason returns what an error of quantity.Parse says beyond what was wanted.
func reason(err error, kind quantity.Kind) string {
	var e *quantity.Error
	if !errors.As(err, &e) {
		return err.Error()
	}
	text := e.Reason
	if i := strings.Index(strings.ToLower(text), " "+kind.String()+" is wanted"); i >= 0 {
		text = text[:i]
		text = text[:max(strings.LastIndexByte(text, ' '), 0)] // its article
	}
	text = strings.TrimRight(text, " :;,")
	if text == "" {
		return ""
	}
	return "it " + text
}

// integer reads a count.
func (r *reader) integer(path string, n *yaml.Node, least, most int, v *int) {
	wanted := fmt.Sprintf("a whole number from %d to %d", least, most)
	s, ok := r.text(path, n, wanted)
	if !ok {
		return
	}
	x, err := strconv.Atoi(s)
	if err != nil || x < least || x > most {
		r.fail(path, n, quote(s), wanted, "")
		return
	}
	*v = x
}

// number reads a pure number, for the few values that have no unit.
func (r *reader) number(path string, n *yaml.Node, v *float64) {
	const wanted = "a number without unit"
	s, ok := r.text(path, n, wanted)
	if !ok {
		return
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || x != x || x-x != 0 {
		r.fail(path, n, quote(s), wanted, "")
		return
	}
	*v = x
}

// word reads one of several words.
func (r *reader) word(path string, n *yaml.Node, words []string) (string, bool) {
	wanted := oneOf(words)
	s, ok := r.text(path, n, wanted)
	if !ok {
		return "", false
	}
	if !slices.Contains(words, s) {
		hint := ""
		if near := nearest(s, words); near != "" {
			hint = fmt.Sprintf("did you mean %q?", near)
		}
		r.fail(path, n, quote(s), wanted, hint)
		return "", false
	}
	return s, true
}

// oneOf lists words as "a, b or c".
func oneOf(words []string) string {
	if len(words) == 1 {
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
}

// day reads a date.
func (r *reader) day(path string, n *yaml.Node, v *Day) {
	const wanted = "a day such as 15 Oct, 15 Oct 2026 or 2026-10-15"
	s, ok := r.text(path, n, wanted)
	if !ok {
		return
	}
	d, err := ParseDay(s)
	if err != nil {
		r.fail(path, n, quote(s), wanted, err.Error())
		return
	}
	*v = d
}

// none reports whether a node says "none".
func none(n *yaml.Node) bool { return n.Kind == yaml.ScalarNode && n.Value == noneWord }

// entries returns the items of a list; one item may stand without its list.
func (r *reader) entries(path string, n *yaml.Node, most int) []*yaml.Node {
	if n.Kind != yaml.SequenceNode {
		if none(n) {
			return nil
		}
		return []*yaml.Node{n}
	}
	if len(n.Content) > most {
		r.fail(path, n, fmt.Sprintf("%d entries", len(n.Content)), fmt.Sprintf("at most %d", most), "")
		return n.Content[:most]
	}
	return n.Content
}

// object reads the keys of a map into v by the table of fields. Fields are read
// in the order of the table, so that later ones may rest on earlier ones.
func object[T any](r *reader, path string, n *yaml.Node, fields []field[T], v *T) bool {
	if n.Kind != yaml.MappingNode {
		r.fail(path, n, describe(n), "a map with keys such as "+someKeys(fields), "")
		return false
	}
	join := func(key string) string {
		if path == "" {
			return key
		}
		return path + "." + key
	}
	keys := make([]string, len(fields))
	for i, f := range fields {
		keys[i] = f.key
	}
	given := make(map[string]*yaml.Node)
	for i := 0; i+1 < len(n.Content); i += 2 {
		k, value := n.Content[i], n.Content[i+1]
		switch {
		case k.Kind != yaml.ScalarNode:
			r.fail(path, k, describe(k)+" as a key", "a word", "")
		case !slices.Contains(keys, k.Value):
			hint := ""
			if near := nearest(k.Value, keys); near != "" {
				hint = fmt.Sprintf("did you mean %q?", near)
			}
			r.fail(path, k, "the unknown key "+quote(k.Value), oneOf(keys), hint)
		case given[k.Value] != nil:
			r.fail(join(k.Value), k, "the key "+quote(k.Value)+" a second time", "each key once",
				fmt.Sprintf("the first is in line %d", r.at[join(k.Value)].line))
		default:
			given[k.Value] = value
			if value.Line == 0 { // an empty value has no place of its own
				value.Line, value.Column = k.Line, k.Column
			}
			where := place{value.Line, value.Column}
			if value.Kind != yaml.ScalarNode && value.Line > k.Line { // a block below its key
				where = place{k.Line, k.Column}
			}
			r.at[join(k.Value)] = where
		}
	}
	for pass := range 2 {
		for _, f := range fields {
			if value := given[f.key]; value != nil && f.first == (pass == 0) {
				f.read(r, join(f.key), value, v)
			}
		}
	}
	return true
}

func someKeys[T any](fields []field[T]) string {
	keys := make([]string, 0, 3)
	for _, f := range fields[:min(3, len(fields))] {
		keys = append(keys, f.key)
	}
	return strings.Join(keys, ", ")
}

// given reports whether the file holds a value at path.
func (r *reader) given(path string) bool {
	_, ok := r.at[path]
	return ok
}

// plan reads the whole file.
func (r *reader) plan(root *yaml.Node) Plan {
	r.at[""] = place{root.Line, root.Column}
	p := planFile{root: root}
	object(r, "", root, planFields(), &p)
	if !r.given("version") {
		r.fail("version", root, "no version", fmt.Sprintf("the line \"version: %d\"", fileVersion), "it tells which edition of the format the file is written in")
	} else if p.version != fileVersion {
		// A file of another edition would only give faults that mislead.
		r.faults = slices.DeleteFunc(r.faults, func(f Fault) bool { return f.Field != "version" })
		r.whole = false
		return p.Plan
	}
	if !r.given("hive") {
		r.fail("hive", root, "no hive", "the section hive with at least its type", `for example "hive: {type: stacked-10}"`)
		r.whole = false
	}
	return p.Plan
}

// checked runs the check of the plan and gives its faults their places. Faults
// that only follow from values that could not be read are left out.
func (r *reader) checked(p Plan) []Fault {
	shape := false // a part that others rest on could not be read
	for _, bad := range r.bad {
		for _, part := range []string{"hive.type", "hive.bodies", "hive.walls", "hive.frames", "hive.floor", "hive.top board", "materials"} {
			shape = shape || under(bad, part)
		}
	}
	var out []Fault
	for _, f := range p.Check() {
		if shape && under(f.Field, "hive") {
			continue
		}
		if slices.ContainsFunc(r.bad, func(bad string) bool { return under(f.Field, bad) || under(bad, f.Field) }) {
			continue
		}
		at := r.locate(f.Field)
		f.Line, f.Column = at.line, at.column
		out = append(out, f)
	}
	return out
}

// under reports whether path is parent or lies below it.
func under(path, parent string) bool {
	rest, ok := strings.CutPrefix(path, parent)
	return ok && (rest == "" || rest[0] == '.' || rest[0] == '[')
}

// locate returns the place of path, or else of what the file says for all bodies
// at once, or else of the nearest part above it.
func (r *reader) locate(path string) place {
	common := regexp.MustCompile(`^hive\.bodies\[\d+\]\.(frames|walls)\b`)
	for path != "" {
		if at, ok := r.at[path]; ok {
			return at
		}
		if at, ok := r.at[common.ReplaceAllString(path, "hive.$1")]; ok {
			return at
		}
		path = path[:max(strings.LastIndexByte(path, '.'), strings.LastIndexByte(path, '['), 0)]
	}
	return r.at[""]
}

// WriteFile writes the plan to a hive file as Encode does, in whole or not at
// all: to a new file beside it that then takes its name. A file that existed
// keeps its permissions.
func WriteFile(path string, p Plan, system quantity.System) (err error) {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real // a link stays a link
	}
	var text bytes.Buffer
	if err := Encode(&text, p, system); err != nil {
		return err
	}
	mode := os.FileMode(0o644)
	if info, err := os.Stat(path); err == nil {
		mode = info.Mode().Perm()
	}
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+"-*")
	if err != nil {
		return fmt.Errorf("writing hive file %s: %w", path, err)
	}
	defer func() {
		if err != nil {
			f.Close()           // a second Close after a good one only reports that
			os.Remove(f.Name()) // nothing is there when it was renamed
			err = fmt.Errorf("writing hive file %s: %w", path, err)
		}
	}()
	if _, err = f.Write(text.Bytes()); err != nil {
		return err
	}
	if err = f.Chmod(mode); err != nil {
		return err
	}
	if err = f.Sync(); err != nil {
		return err
	}
	if err = f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}
