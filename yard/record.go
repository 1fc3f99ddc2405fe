package yard

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"reflect"
	"slices"
	"strings"
	"time"

	"hackle/hive"
	"hackle/quantity"
)

// firstYear is the earliest year of a record; what lies before is a slip.
const firstYear = 1900

// Record is one thing that was seen or done at a hive or a colony.
type Record struct {
	Meta
	Kind Kind `json:"kind"`
	// At is when it was seen or done, to the second, with the offset from UTC that
	// held there and then, so that its hour is that of the keeper's day.
	At     time.Time `json:"at"`
	Hive   ID        `json:"hive"`   // empty when it concerns only a colony
	Colony ID        `json:"colony"` // empty when it concerns only a hive
	// Values are the fields of the kind by name, each a float64, string or bool;
	// what was not noted is absent.
	Values map[string]any `json:"values"`
	Note   string         `json:"note"`
}

// Kind says what a record tells of.
type Kind string

// Kinds of records.
const (
	Inspection    Kind = "inspection"
	Weight        Kind = "weight"
	Feeding       Kind = "feeding"
	WrapChange    Kind = "wrap"
	VentChange    Kind = "vent"
	Drip          Kind = "drip"
	Mould         Kind = "mould"
	Bearding      Kind = "bearding"
	CombFallen    Kind = "comb-fallen"
	WinterOutcome Kind = "winter-outcome"
	Note          Kind = "note"
	Moved         Kind = "moved"
	Swarmed       Kind = "swarmed"
	Merged        Kind = "merged"
	Died          Kind = "died"
)

// FieldType is what a field of a record holds.
type FieldType string

// Types of fields.
const (
	Number  FieldType = "number" // float64, SI
	Choice  FieldType = "choice" // one word of Field.Words
	Text    FieldType = "text"   // free text on one line
	YesNo   FieldType = "yes-no" // bool
	AHive   FieldType = "hive"   // ID of a hive
	AColony FieldType = "colony" // ID of a colony
)

// Field is one value that a record of a kind may hold.
type Field struct {
	Name     string    `json:"name"` // in JSON and CSV; ends in the unit
	Label    string    `json:"label"`
	Type     FieldType `json:"type"`
	Words    []string  `json:"words,omitempty"` // of a Choice
	Low      float64   `json:"low"`             // least Number that is taken
	High     float64   `json:"high"`            // greatest Number that is taken
	Unit     string    `json:"unit,omitempty"`  // of a Number, as people read it
	Required bool      `json:"required,omitempty"`
	Meaning  string    `json:"meaning"`
	// Quantity is the kind of a Number for reading and writing it in other units;
	// counts are a Fraction with the unit empty.
	Quantity quantity.Kind `json:"-"`

	// say puts the value into the words of a record, in place of %s; for a YesNo it
	// is what yes and no are said as, with | between. Empty: the value alone.
	say string
}

// KindInfo describes a kind of record.
type KindInfo struct {
	Kind        Kind    `json:"kind"`
	Title       string  `json:"title"`
	Meaning     string  `json:"meaning"`
	NeedsHive   bool    `json:"needs_hive"`
	NeedsColony bool    `json:"needs_colony"`
	Fields      []Field `json:"fields"`
}

// Field returns the field of a name.
func (k KindInfo) Field(name string) (Field, bool) {
	for _, f := range k.Fields {
		if f.Name == name {
			return f, true
		}
	}
	return Field{}, false
}

// Causes are the reasons for which a colony dies.
func Causes() []string {
	return []string{
		"starved", "cut off from stores", "cold", "wet", "queen lost", "mites and viruses", "other disease",
		"robbed", "wasps or hornets", "mice", "poison", "heat", "comb fell", "flood or storm", "theft", "unknown", "other",
	}
}

// Places are the parts of a hive where water or mould is seen.
func Places() []string {
	return []string{"over the bees", "walls", "frames", "floor", "lid", "entrance"}
}

func count(name, label string, high float64, meaning string) Field {
	return Field{Name: name, Label: label, Type: Number, High: high, Meaning: meaning, Quantity: quantity.Fraction}
}

func mass(name, label string, low, high float64, meaning string) Field {
	return Field{Name: name, Label: label, Type: Number, Low: low, High: high, Unit: "kg", Meaning: meaning, Quantity: quantity.Mass}
}

func words(name, label string, known []string, meaning string) Field {
	return Field{Name: name, Label: label, Type: Choice, Words: known, Meaning: meaning}
}

func said(f Field, say string) Field {
	f.say = say
	return f
}

func airTemperature() Field {
	return Field{Name: "air_temperature_c", Label: "Air in the shade", Type: Number, Low: -60, High: 60, Unit: "°C",
		Meaning: "air temperature outdoors, in the shade, at that hour", Quantity: quantity.Temperature, say: "air at %s"}
}

func supports() []string {
	return []string{
		string(hive.SupportNone), string(hive.SupportUpright), string(hive.SupportLevel),
		string(hive.SupportCrossed), string(hive.SupportSticks), string(hive.SupportStiffCore),
	}
}

// Sides are the ways a hive is lifted to weigh it.
const (
	Whole = "whole"
)

// Kinds returns every kind of record with its fields, in the order of a notebook.
// The ranges are wide: they catch a slip of the unit or the point, not a rare hive
// (common practice, no source).
func Kinds() []KindInfo {
	required := func(f Field) Field { f.Required = true; return f }
	return []KindInfo{
		{Kind: Inspection, Title: "Inspection", Meaning: "the hive was opened, or read from outside, and the colony judged", NeedsHive: true, Fields: []Field{
			said(count("frames_of_bees", "Frames of bees", 100, "frames covered with bees on both sides"), "%s frames of bees"),
			said(count("frames_of_brood", "Frames of brood", 60, "frames filled with brood on both sides"), "%s frames of brood"),
			said(count("frames_of_stores", "Frames of stores", 100, "frames filled with honey or syrup on both sides"), "%s frames of stores"),
			said(words("queen", "Queen", []string{"seen", "eggs seen", "no sign"}, "what was seen of the queen"), "queen: %s"),
			{Name: "opened", Label: "Opened", Type: YesNo, Meaning: "the hive was opened", say: "opened|not opened"},
		}},
		{Kind: Weight, Title: "Weight", Meaning: "the hive was lifted or stood on a scale", NeedsHive: true, Fields: []Field{
			said(mass("reading_kg", "Reading", 0.1, 400, "what the scale showed"), "%s on the scale"),
			said(words("side", "Lifted", []string{Whole, "front", "back", "left", "right"}, "the whole hive, or the side that was lifted while the other rested; nothing means whole"), "%s lifted"),
			said(mass("tare_kg", "Tare", 0, 200, "what the reading holds beside the hive: stand, strap, stones"), "tare %s"),
			said(words("feel", "Feel", []string{"light", "fair", "heavy"}, "what the hand said, with or without a scale"), "felt %s"),
			said(words("means", "Weighed with", []string{"hand", "hand scale", "hive scale"}, "what it was weighed with"), "by %s"),
		}},
		{Kind: Feeding, Title: "Feeding", Meaning: "food was given", NeedsHive: true, Fields: []Field{
			required(words("food", "Food", []string{"syrup", "fondant", "dry sugar", "honey frames", "pollen"}, "what was given")),
			mass("amount_kg", "Amount", 0.01, 60, "mass as given, water included"),
			{Name: "sugar_share", Label: "Sugar", Type: Number, Low: 0, High: 1, Unit: "of its mass", Meaning: "sugar in the food by mass, 0 to 1", Quantity: quantity.Fraction, say: "%s of it sugar"},
		}},
		{Kind: WrapChange, Title: "Wrap", Meaning: "a wrap, lid insulation or other cover was put on or taken off", NeedsHive: true, Fields: []Field{
			required(words("state", "Now", []string{"on", "off"}, "how it was left")),
			{Name: "part", Label: "What", Type: Text, Meaning: "which cover, as the hive file names it"},
		}},
		{Kind: VentChange, Title: "Vent", Meaning: "an opening was opened, narrowed or closed", NeedsHive: true, Fields: []Field{
			required(words("state", "Now", []string{"open", "narrowed", "closed"}, "how it was left")),
			{Name: "opening", Label: "Which", Type: Text, Meaning: "which opening, as the hive file names it"},
			{Name: "width_m", Label: "Open width", Type: Number, Low: 0, High: 2, Unit: "m", Meaning: "open width of one hole", Quantity: quantity.Length, say: "open %s wide"},
		}},
		{Kind: Drip, Title: "Water", Meaning: "water or ice was seen in the hive", NeedsHive: true, Fields: []Field{
			required(words("place", "Where", Places(), "where it was")),
			words("amount", "How much", []string{"none", "beads", "wet", "running", "ice"}, "how much; none says that one looked and it was dry"),
		}},
		{Kind: Mould, Title: "Mould", Meaning: "mould was seen", NeedsHive: true, Fields: []Field{
			required(words("place", "Where", Places(), "where it was")),
			said(count("frames", "Frames", 100, "frames with mould"), "%s frames"),
			words("amount", "How much", []string{"none", "specks", "patches", "covered"}, "how much; none says that one looked and it was clean"),
		}},
		{Kind: Bearding, Title: "Bearding", Meaning: "bees hung outside the hive; at is the hour", NeedsHive: true, Fields: []Field{
			said(count("bees", "Bees", 60_000, "bees counted or estimated outside"), "%s bees"),
			said(words("extent", "Extent", []string{"none", "some", "many"}, "how many at a glance; none says that one looked"), "%s outside"),
			airTemperature(),
		}},
		{Kind: CombFallen, Title: "Comb fallen", Meaning: "comb tore or fell", NeedsHive: true, Fields: []Field{
			required(said(count("frames", "Frames", 100, "frames whose comb fell; 0 says that one looked and all held"), "%s frames")),
			said(words("comb", "Comb", []string{string(hive.CombFresh), string(hive.CombBrood)}, "fresh wax, or comb that has held brood"), "%s comb"),
			words("support", "Support", supports(), "what carried the comb"),
			said(mass("honey_kg", "Honey in it", 0, 60, "honey and nectar in the comb that fell"), "%s of honey in it"),
			airTemperature(),
		}},
		{Kind: WinterOutcome, Title: "After winter", Meaning: "how the colony came through a winter", NeedsHive: true, Fields: []Field{
			required(said(words("outcome", "Came through", []string{"strong", "weak", "dead"}, "how it came through; dead ends the colony"), "came through: %s")),
			words("cause", "Cause of death", Causes(), "why it died, as far as one can tell"),
			{Name: "winter_of", Label: "Winter that began in", Type: Number, Low: firstYear, High: 2200, Unit: "year", Meaning: "year in which that winter began", Quantity: quantity.Fraction, say: "winter of %s"},
			said(mass("stores_left_kg", "Stores left", 0, 150, "honey and syrup left in the hive"), "%s of stores left"),
			said(count("frames_of_bees", "Frames of bees", 100, "frames covered with bees on both sides"), "%s frames of bees"),
		}},
		{Kind: Note, Title: "Note", Meaning: "anything else, in the note", Fields: []Field{}},
		{Kind: Moved, Title: "Moved in", Meaning: "the colony was put into a hive, its first or another", NeedsHive: true, NeedsColony: true, Fields: []Field{}},
		{Kind: Swarmed, Title: "Swarmed", Meaning: "a swarm left the colony", NeedsColony: true, Fields: []Field{
			{Name: "swarm", Label: "Swarm caught as", Type: AColony, Meaning: "the colony that the swarm became, if it was caught", say: "caught as %s"},
		}},
		{Kind: Merged, Title: "Merged", Meaning: "the colony was united with another and ends", NeedsColony: true, Fields: []Field{
			required(Field{Name: "into", Label: "Into", Type: AColony, Meaning: "the colony that took it in", say: "into %s"}),
		}},
		{Kind: Died, Title: "Died", Meaning: "the colony died", NeedsColony: true, Fields: []Field{
			required(words("cause", "Cause", Causes(), "why, as far as one can tell")),
		}},
	}
}

// KindOf describes a kind of record.
func KindOf(k Kind) (KindInfo, bool) {
	for _, info := range Kinds() {
		if info.Kind == k {
			return info, true
		}
	}
	return KindInfo{}, false
}

// Number returns a number of the record.
func (r Record) Number(field string) (value float64, ok bool) {
	value, ok = r.Values[field].(float64)
	return value, ok
}

// Text returns a word, text or ID of the record, empty when it was not noted.
func (r Record) Text(field string) string {
	s, _ := r.Values[field].(string)
	return s
}

// Flag returns a yes or no of the record.
func (r Record) Flag(field string) (value, ok bool) {
	value, ok = r.Values[field].(bool)
	return value, ok
}

// Same reports whether two records say the same, whatever their revisions. A hive
// or colony that is left out in r agrees with any: it is filled in when a record
// is kept.
func (r Record) Same(kept Record) bool {
	return r.ID == kept.ID && r.Kind == kept.Kind && r.At.Equal(kept.At) && offset(r.At) == offset(kept.At) &&
		(r.Hive == "" || r.Hive == kept.Hive) && (r.Colony == "" || r.Colony == kept.Colony) &&
		r.Note == kept.Note && r.Deleted == kept.Deleted && len(r.Values) == len(kept.Values) && (len(r.Values) == 0 || reflect.DeepEqual(r.Values, kept.Values))
}

func offset(t time.Time) int {
	_, s := t.Zone()
	return s
}

// Check returns what is wrong with the record by itself as *Faults, nil when all
// is well. What it may be beside other records, LifeOf says.
func (r Record) Check() error {
	fs := &Faults{Of: "record"}
	r.Meta.check(fs)
	info, ok := KindOf(r.Kind)
	if !ok {
		var known []string
		for _, k := range Kinds() {
			known = append(known, string(k.Kind))
		}
		fs.add("kind", quote(string(r.Kind)), "one of "+strings.Join(known, ", "), "")
		return fs.err()
	}
	fs.Of = "record of kind " + string(r.Kind)
	if y := r.At.Year(); r.At.IsZero() || y < firstYear || y > 9000 || r.At.Nanosecond() != 0 || offset(r.At)%60 != 0 {
		fs.add("at", r.At.Format(time.RFC3339Nano), "a time to the second with its offset, such as 2026-01-31T14:30:00+01:00", "")
	}
	checkRef(fs, "hive", r.Hive, info.NeedsHive)
	checkRef(fs, "colony", r.Colony, info.NeedsColony)
	if r.Hive == "" && r.Colony == "" {
		fs.add("hive", "", "a hive or a colony", "")
	}
	checkText(fs, "note", r.Note, longestNote)
	for _, f := range info.Fields {
		v, ok := r.Values[f.Name]
		if !ok {
			if f.Required {
				fs.add(f.Name, "", f.Takes(), "")
			}
			continue
		}
		f.check(fs, v)
	}
	for _, name := range slices.Sorted(maps.Keys(r.Values)) {
		if _, ok := info.Field(name); !ok {
			fs.add(name, "a value", "no such field", "a "+string(r.Kind)+" has "+info.fieldNames())
		}
	}
	r.checkTogether(fs)
	return fs.err()
}

// checkTogether looks at fields that belong together.
func (r Record) checkTogether(fs *Faults) {
	has := func(name string) bool { _, ok := r.Values[name]; return ok }
	switch r.Kind {
	case Inspection:
		if len(r.Values) == 0 && r.Note == "" {
			fs.add("frames_of_bees", "", "something that was seen, or a note", "")
		}
	case Weight:
		reading, weighed := r.Number("reading_kg")
		if !has("reading_kg") && !has("feel") {
			fs.add("reading_kg", "", "a reading, or how it felt", "")
		}
		if tare, ok := r.Number("tare_kg"); ok && weighed && tare >= reading {
			fs.add("tare_kg", fmt.Sprint(tare), fmt.Sprintf("less than the reading of %v kg", reading), "")
		}
	case Bearding:
		if !has("bees") && !has("extent") {
			fs.add("extent", "", "a count of bees, or the extent at a glance", "")
		}
		if n, ok := r.Number("bees"); ok && n > 0 && r.Text("extent") == "none" {
			fs.add("extent", quote("none"), fmt.Sprintf("some or many where %v bees were counted", n), "")
		}
	case WinterOutcome:
		if has("cause") && r.Text("outcome") != "dead" {
			fs.add("cause", quote(r.Text("cause")), "no cause of death for a colony that lives", "")
		}
	case Note:
		if strings.TrimSpace(r.Note) == "" {
			fs.add("note", quote(r.Note), "some words", "")
		}
	case Merged:
		if r.Text("into") == string(r.Colony) && r.Colony != "" {
			fs.add("into", quote(r.Text("into")), "another colony than itself", "")
		}
	case Swarmed:
		if r.Text("swarm") == string(r.Colony) && r.Colony != "" {
			fs.add("swarm", quote(r.Text("swarm")), "another colony than itself", "")
		}
	}
}

func (k KindInfo) fieldNames() string {
	if len(k.Fields) == 0 {
		return "only a note"
	}
	names := make([]string, len(k.Fields))
	for i, f := range k.Fields {
		names[i] = f.Name
	}
	return strings.Join(names, ", ")
}

// Takes says in words what the field takes.
func (f Field) Takes() string {
	switch f.Type {
	case Number:
		return strings.TrimSpace(fmt.Sprintf("a number from %v to %v %s", f.Low, f.High, f.Unit))
	case Choice:
		return "one of " + strings.Join(f.Words, ", ")
	case YesNo:
		return "true or false"
	case AHive, AColony:
		return "the ID of a " + string(f.Type)
	}
	return "a text on one line"
}

func (f Field) check(fs *Faults, v any) {
	bad := func() { fs.add(f.Name, quote(fmt.Sprint(v)), f.Takes(), "") }
	switch f.Type {
	case Number:
		x, ok := v.(float64)
		if !ok || math.IsNaN(x) || x < f.Low || x > f.High {
			bad()
		}
	case YesNo:
		if _, ok := v.(bool); !ok {
			bad()
		}
	default:
		s, ok := v.(string)
		switch {
		case !ok:
			bad()
		case f.Type == Choice:
			if !slices.Contains(f.Words, s) {
				bad()
			}
		case f.Type == Text:
			checkName(fs, f.Name, s)
		case !ID(s).Valid():
			bad()
		}
	}
}

// MarshalJSON writes the record with an empty object for no values.
func (r Record) MarshalJSON() ([]byte, error) {
	type plain Record
	if r.Values == nil {
		r.Values = map[string]any{}
	}
	return json.Marshal(plain(r))
}

// WholeWeight returns the weight of the hive that a record of kind weight tells
// of, its tare taken off, and whether it was worked out from one side. A side that
// is lifted while the other rests carries half the weight when the centre of mass
// lies half way between the two, which frames and stores often do not keep to:
// take both sides and add them for a true weight (lever law). ok is false when
// nothing was read. [kg]
func WholeWeight(r Record) (kg float64, fromSide, ok bool) {
	reading, weighed := r.Number("reading_kg")
	if r.Kind != Weight || !weighed {
		return 0, false, false
	}
	tare, _ := r.Number("tare_kg")
	side := r.Text("side")
	if side == "" || side == Whole {
		return reading - tare, false, true
	}
	return 2 * (reading - tare), true, true
}
