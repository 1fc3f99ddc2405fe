package yard

import (
	"cmp"
	"strings"
)

// Notebook is everything that was written down, or a part of it.
type Notebook struct {
	Yards    []Yard   `json:"yards"`
	Hives    []Hive   `json:"hives"`
	Builds   []Build  `json:"builds"`
	Colonies []Colony `json:"colonies"`
	Plans    []Plan   `json:"plans"`
	Records  []Record `json:"records"`
}

// Len returns the number of things in the notebook.
func (n *Notebook) Len() int {
	return len(n.Yards) + len(n.Hives) + len(n.Builds) + len(n.Colonies) + len(n.Plans) + len(n.Records)
}

// names looks up what stands under a name in tables, and the other way round.
type names struct{ n *Notebook }

// yardName is the name of a yard, or its ID where the name would not lead back.
func (l names) yardName(id ID) string {
	for _, y := range l.n.Yards {
		if y.ID == id && !y.Deleted && !ID(y.Name).Valid() {
			return y.Name
		}
	}
	return string(id)
}

func (l names) yardOf(name string) (ID, *Fault) {
	var found []ID
	for _, y := range l.n.Yards {
		if !y.Deleted && strings.EqualFold(y.Name, name) {
			found = append(found, y.ID)
		}
	}
	return l.one(found, name, "yard")
}

// hiveName is the name of a hive, or its ID where the name would not lead back.
func (l names) hiveName(id ID) string {
	for _, h := range l.n.Hives {
		if h.ID != id {
			continue
		}
		// A yard that is named by its ID is deleted: its hives are not looked up.
		if got, f := l.hiveOf(h.Name, l.yardName(h.Yard)); f == nil && got == id && !ID(h.Name).Valid() {
			return h.Name
		}
	}
	return string(id)
}

// yardOfHive is the name of the yard that a hive stands in, empty when unknown.
func (l names) yardOfHive(id ID) string {
	for _, h := range l.n.Hives {
		if h.ID == id {
			return l.yardName(h.Yard)
		}
	}
	return ""
}

// hiveOf finds a hive by name, in a yard when one is named.
func (l names) hiveOf(name, inYard string) (ID, *Fault) {
	var in ID
	if inYard != "" {
		var f *Fault
		if in, f = l.yardOf(inYard); f != nil {
			f.Field = "yard"
			return "", f
		}
	}
	var found []ID
	for _, h := range l.n.Hives {
		if !h.Deleted && strings.EqualFold(h.Name, name) && (in == "" || h.Yard == in) {
			found = append(found, h.ID)
		}
	}
	return l.one(found, name, "hive")
}

func (l names) colonyName(id ID) string {
	for _, c := range l.n.Colonies {
		if c.ID == id && !c.Deleted && !ID(c.Name).Valid() {
			return c.Name
		}
	}
	return string(id)
}

func (l names) colonyOf(name string) (ID, *Fault) {
	var found []ID
	for _, c := range l.n.Colonies {
		if !c.Deleted && strings.EqualFold(c.Name, name) {
			found = append(found, c.ID)
		}
	}
	return l.one(found, name, "colony")
}

// one is the only thing found under a name, or the ID that the name is.
func (l names) one(found []ID, name, what string) (ID, *Fault) {
	if id, err := ParseID(name); err == nil {
		return id, nil
	}
	switch len(found) {
	case 0:
		return "", &Fault{Found: quote(name), Wanted: "the name of a " + what + " that is kept", Hint: l.near(name, what)}
	case 1:
		return found[0], nil
	}
	return "", &Fault{Found: quote(name), Wanted: "a name that only one " + what + " has", Hint: "name the yard too, or use the ID"}
}

// near lists some names that there are.
func (l names) near(_ string, what string) string {
	var known []string
	switch what {
	case "yard":
		for _, y := range l.n.Yards {
			known = append(known, y.Name)
		}
	case "hive":
		for _, h := range l.n.Hives {
			known = append(known, h.Name)
		}
	case "colony":
		for _, c := range l.n.Colonies {
			known = append(known, c.Name)
		}
	}
	if len(known) == 0 {
		return "there is none yet"
	}
	if len(known) > 8 {
		known = append(known[:8:8], "…")
	}
	return "there are " + strings.Join(known, ", ")
}

// FindYard, FindHive and FindColony find by name, in any case of letters, or by ID.
func (n *Notebook) FindYard(name string) (ID, error) {
	id, f := names{n}.yardOf(name)
	return id, f.err("yard", "yard")
}

// FindHive finds a hive by its name, in the yard when one is named, or by its ID.
func (n *Notebook) FindHive(name, inYard string) (ID, error) {
	id, f := names{n}.hiveOf(name, inYard)
	return id, f.err("hive", "hive")
}

// FindColony finds a colony by its name or ID.
func (n *Notebook) FindColony(name string) (ID, error) {
	id, f := names{n}.colonyOf(name)
	return id, f.err("colony", "colony")
}

// err makes an error of one fault, nil of none.
func (f *Fault) err(of, field string) error {
	if f == nil {
		return nil
	}
	f.Field = cmp.Or(f.Field, field)
	return &Faults{Of: of, List: []Fault{*f}}
}

// Add takes the things of another notebook into n. A thing of an ID that is there
// already takes its place.
func (n *Notebook) Add(m *Notebook) {
	n.Yards = added(n.Yards, m.Yards, func(v *Yard) ID { return v.ID })
	n.Hives = added(n.Hives, m.Hives, func(v *Hive) ID { return v.ID })
	n.Builds = added(n.Builds, m.Builds, func(v *Build) ID { return v.ID })
	n.Colonies = added(n.Colonies, m.Colonies, func(v *Colony) ID { return v.ID })
	n.Plans = added(n.Plans, m.Plans, func(v *Plan) ID { return v.ID })
	n.Records = added(n.Records, m.Records, func(v *Record) ID { return v.ID })
}

func added[T any](all, more []T, id func(*T) ID) []T {
	at := make(map[ID]int, len(all))
	for i := range all {
		at[id(&all[i])] = i
	}
	for _, v := range more {
		if i, ok := at[id(&v)]; ok {
			all[i] = v
			continue
		}
		at[id(&v)] = len(all)
		all = append(all, v)
	}
	return all
}
