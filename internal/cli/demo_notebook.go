package cli

import (
	"context"
	"errors"
	"time"

	"hackle/internal/store"
	"hackle/yard"
)

// demoRecord is an invented entry: days after 1 April 2025, and the hour.
type demoRecord struct {
	hive   int
	day    int
	hour   int
	kind   yard.Kind
	values map[string]any
	note   string
}

// demoRecords is an invented year in a notebook, so that its pages have something on
// them. It is nobody's experience and evidence of nothing.
func demoRecords() []demoRecord {
	v := func(pairs ...any) map[string]any {
		m := map[string]any{}
		for i := 0; i+1 < len(pairs); i += 2 {
			name, _ := pairs[i].(string) // written below as one
			m[name] = pairs[i+1]
		}
		return m
	}
	return []demoRecord{
		{0, 12, 14, yard.Inspection, v("frames_of_bees", 6.0, "frames_of_brood", 3.0, "queen", "eggs seen", "opened", true), ""},
		{1, 12, 15, yard.Inspection, v("frames_of_bees", 5.5, "frames_of_brood", 3.0, "queen", "seen", "opened", true), ""},
		{0, 100, 17, yard.Bearding, v("extent", "many", "air_temperature_c", 33.0), "first hot week"},
		{2, 100, 17, yard.Bearding, v("extent", "some", "air_temperature_c", 33.0), ""},
		{0, 150, 9, yard.Weight, v("reading_kg", 22.4, "side", "back"), ""},
		{1, 150, 9, yard.Weight, v("reading_kg", 25.1, "side", "back"), ""},
		{2, 150, 9, yard.Weight, v("reading_kg", 26.0, "side", "back"), ""},
		{0, 158, 18, yard.Feeding, v("food", "syrup", "amount_kg", 6.0, "sugar_share", 0.6), "in the evening, nothing spilt"},
		{0, 200, 11, yard.VentChange, v("state", "narrowed", "opening", "entrance"), "mice about"},
		{1, 214, 11, yard.WrapChange, v("state", "on", "part", "wrap"), ""},
		{0, 258, 10, yard.Drip, v("place", "over the bees", "amount", "beads"), "under the lid, in the frost"},
		{2, 258, 10, yard.Drip, v("place", "over the bees", "amount", "none"), ""},
		{0, 290, 10, yard.Weight, v("feel", "light"), ""},
		{1, 290, 10, yard.Weight, v("feel", "fair"), ""},
		{2, 290, 10, yard.Weight, v("feel", "heavy"), ""},
		{0, 345, 13, yard.Mould, v("place", "frames", "frames", 2.0, "amount", "specks"), "outermost frames"},
		{0, 352, 14, yard.WinterOutcome, v("outcome", "weak", "winter_of", 2025.0, "stores_left_kg", 3.0), ""},
		{1, 352, 14, yard.WinterOutcome, v("outcome", "strong", "winter_of", 2025.0, "stores_left_kg", 8.0), ""},
		{2, 352, 14, yard.WinterOutcome, v("outcome", "strong", "winter_of", 2025.0, "stores_left_kg", 11.0), ""},
	}
}

// demoColonies are the invented names of the colonies, hive by hive.
var demoColonies = []string{"Alder", "Birch", "Cherry", "Damson", "Elder", "Fir", "Gorse", "Hazel"}

// demoNotebook writes an invented notebook for the invented hives. What would lie in
// the future of this machine is left out.
func demoNotebook(ctx context.Context, s *store.Store, hives []yard.Hive) (err error) {
	id := func() (made yard.ID) {
		made, e := yard.NewID()
		err = errors.Join(err, e)
		return made
	}
	at := func(day, hour int) time.Time {
		return time.Date(2025, 4, 1+day, hour, 0, 0, 0, time.FixedZone("", -4*3600))
	}
	n := new(yard.Notebook)
	for i, h := range hives {
		if i == len(demoColonies) {
			break
		}
		c := yard.Colony{Meta: yard.Meta{ID: id()}, Name: demoColonies[i], Origin: "overwintered", Note: "Invented."}
		n.Colonies = append(n.Colonies, c)
		n.Records = append(n.Records, yard.Record{Meta: yard.Meta{ID: id()}, Kind: yard.Moved, At: at(0, 12), Hive: h.ID, Colony: c.ID, Note: "Invented."})
	}
	for _, d := range demoRecords() {
		if d.hive < len(hives) {
			note := "Invented."
			if d.note != "" {
				note = "Invented: " + d.note
			}
			n.Records = append(n.Records, yard.Record{Meta: yard.Meta{ID: id()}, Kind: d.kind, At: at(d.day, d.hour), Hive: hives[d.hive].ID, Values: d.values, Note: note})
		}
	}
	if err != nil {
		return err
	}
	now := time.Now()
	past := n.Records[:0]
	for _, r := range n.Records {
		if r.At.Before(now) {
			past = append(past, r)
		}
	}
	n.Records = past
	_, err = s.Merge(ctx, n, false)
	return err
}
