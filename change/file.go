package change

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"go.yaml.in/yaml/v3"

	"hackle/internal/keyed"
)

// fileVersion is the edition of the file of changes.
const fileVersion = 1

const mostChanges = 40

// Kept is a set of changes with a name, as it is kept in a file:
//
//	version: 1
//	name: Warm lid, dry bees
//	changes:
//	  - lid=mineral wool 76 mm
//	  - change: wrap
//	    layer: building paper 0.8 mm
//	    on: 1 Nov
//	    off: 1 Apr
type Kept struct {
	Name    string
	Notes   string
	Changes Set
}

// Decode reads a file of changes in YAML, or the same in JSON. The error is a
// *keyed.Faults with everything wrong at once.
func Decode(name string, src io.Reader) (Kept, error) {
	const what = "a file of changes"
	data, err := keyed.Read(src, what+" "+name)
	if err != nil {
		return Kept{}, err
	}
	root, fault := keyed.Parse(data, what)
	if fault != nil {
		return Kept{}, &keyed.Faults{Name: name, List: []keyed.Fault{*fault}}
	}
	var k Kept
	var r keyed.Reader
	line := func(v *string) func(string, *yaml.Node) {
		return func(path string, n *yaml.Node) {
			if s, ok := r.Text(path, n, "text"); ok {
				*v = s
			}
		}
	}
	if r.Version(root, fileVersion) {
		r.Object("", root,
			keyed.Key{Name: "version", Must: true, Read: func(string, *yaml.Node) {}},
			keyed.Key{Name: "name", Read: line(&k.Name)},
			keyed.Key{Name: "notes", Read: line(&k.Notes)},
			keyed.Key{Name: "changes", Must: true, Read: func(path string, n *yaml.Node) {
				r.List(path, n, mostChanges, func(path string, n *yaml.Node) {
					if c, ok := readChange(&r, path, n); ok {
						k.Changes = append(k.Changes, c)
					}
				})
				for i, a := range k.Changes {
					for _, b := range k.Changes[:i] {
						if reason := clash(b, a); reason != "" {
							r.Fail(path, n, fmt.Sprintf("%s beside %s", a, b), "changes that go together", reason)
						}
					}
				}
			}})
	}
	if err := r.Err(name); err != nil {
		return Kept{}, err
	}
	return k, nil
}

// readChange reads one change as text or as a map.
func readChange(r *keyed.Reader, path string, n *yaml.Node) (Change, bool) {
	if n.Kind != yaml.MappingNode {
		s, ok := r.Text(path, n, `a change such as "lid=mineral wool 76 mm"`)
		if !ok {
			return Change{}, false
		}
		c, err := Parse(s)
		if err != nil {
			r.Fail(path, n, keyed.Quote(s), `a change such as "lid=mineral wool 76 mm"`, err.Error())
			return Change{}, false
		}
		return c, true
	}
	said := make(map[string]string)
	at := make(map[string]*yaml.Node)
	key := ""
	for i := 0; i+1 < len(n.Content); i += 2 {
		k, v := n.Content[i], n.Content[i+1]
		s, ok := r.Text(path+"."+k.Value, v, "text")
		if !ok {
			return Change{}, false
		}
		if at[k.Value] != nil {
			r.Fail(path+"."+k.Value, k, "the key "+keyed.Quote(k.Value)+" a second time", "each key once", "")
			return Change{}, false
		}
		at[k.Value] = v
		if k.Value == "change" {
			key = s
		} else {
			said[k.Value] = s
		}
	}
	if at["change"] == nil {
		r.Fail(path, n, "a map without change", `the key "change" with the kind, such as change: lid`, "")
		return Change{}, false
	}
	kind, err := Find(key)
	if err == nil {
		var c Change
		if c, err = kind.New(said); err == nil {
			return c, true
		}
	}
	r.Fail(path, n, keyed.Quote(key), "a change of the catalogue with its parameters", err.Error())
	return Change{}, false
}

// Encode writes a file of changes that Decode reads back as the same.
func Encode(dst io.Writer, k Kept) error {
	root := &yaml.Node{Kind: yaml.MappingNode, Tag: "!!map"}
	add := func(key string, n *yaml.Node) {
		root.Content = append(root.Content, &yaml.Node{Kind: yaml.ScalarNode, Value: key}, n)
	}
	str := func(s string) *yaml.Node {
		n := &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Value: s}
		if strings.ContainsFunc(s, func(r rune) bool { return !unicode.IsPrint(r) }) {
			n.Style = yaml.DoubleQuotedStyle
		}
		return n
	}
	add("version", &yaml.Node{Kind: yaml.ScalarNode, Value: strconv.Itoa(fileVersion)})
	if k.Name != "" {
		add("name", str(k.Name))
	}
	if k.Notes != "" {
		add("notes", str(k.Notes))
	}
	list := &yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq"}
	if len(k.Changes) == 0 {
		list.Style = yaml.FlowStyle
	}
	for _, c := range k.Changes.Ordered() {
		list.Content = append(list.Content, str(c.String()))
	}
	add("changes", list)
	var out bytes.Buffer
	enc := yaml.NewEncoder(&out)
	enc.SetIndent(2)
	if err := errors.Join(enc.Encode(root), enc.Close()); err != nil {
		return fmt.Errorf("writing a file of changes: %w", err)
	}
	back, err := Decode("", bytes.NewReader(out.Bytes()))
	if err != nil {
		return fmt.Errorf("writing a file of changes: what was written cannot be read back: %w", err)
	}
	if back.Name != k.Name || back.Notes != k.Notes || !back.Changes.Equal(k.Changes) {
		return errors.New("writing a file of changes: what was written reads back as other changes")
	}
	if _, err := dst.Write(out.Bytes()); err != nil {
		return fmt.Errorf("writing a file of changes: %w", err)
	}
	return nil
}

// Equal reports whether two sets hold the same changes, in any order.
func (s Set) Equal(t Set) bool {
	return slices.EqualFunc(s.Ordered(), t.Ordered(), func(a, b Change) bool {
		return a.Kind == b.Kind && len(a.Values) == len(b.Values) && (len(a.Values) == 0 || reflect.DeepEqual(a.Values, b.Values))
	})
}

// MarshalText writes the change as text, so that it is a string in JSON.
func (c Change) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalText reads what MarshalText writes.
func (c *Change) UnmarshalText(text []byte) error {
	got, err := Parse(string(text))
	if err == nil {
		*c = got
	}
	return err
}
