package yard

import (
	"strconv"
	"strings"

	"hackle/quantity"
)

// Say writes a value of the field for people to read, without its label. Colonies
// and hives are given by the names of n.
func (f Field) Say(v any, n *Notebook, system quantity.System) string {
	switch v := v.(type) {
	case float64:
		switch f.Quantity {
		case quantity.Fraction:
			return strings.TrimSpace(strconv.FormatFloat(v, 'f', -1, 64))
		default:
			return quantity.Format(v, f.Quantity, system)
		}
	case bool:
		if v {
			return "yes"
		}
		return "no"
	case string:
		switch f.Type {
		case AColony:
			return names{n}.colonyName(ID(v))
		case AHive:
			return names{n}.hiveName(ID(v))
		}
		return v
	}
	return ""
}

// Say writes what the record tells for people to read, its note left out: "8 frames
// of bees, queen: seen".
func (r Record) Say(n *Notebook, system quantity.System) string {
	info, ok := KindOf(r.Kind)
	if !ok {
		return ""
	}
	var parts []string
	for _, f := range info.Fields {
		v, ok := r.Values[f.Name]
		if !ok {
			continue
		}
		text := f.Say(v, n, system)
		yes, no, _ := strings.Cut(f.say, "|")
		switch {
		case v == true:
			text = yes
		case v == false:
			text = no
		case strings.Contains(f.say, "%s"):
			text = strings.Replace(f.say, "%s", text, 1)
		}
		parts = append(parts, text)
	}
	if kg, fromSide, ok := WholeWeight(r); ok && fromSide {
		parts = append(parts, "about "+quantity.Format(kg, quantity.Mass, system)+" whole, if the weight lies in the middle")
	}
	return strings.Join(parts, ", ")
}

// HiveName is the name of a hive in the notebook, or its ID.
func (n *Notebook) HiveName(id ID) string { return names{n}.hiveName(id) }

// ColonyName is the name of a colony in the notebook, or its ID.
func (n *Notebook) ColonyName(id ID) string { return names{n}.colonyName(id) }
