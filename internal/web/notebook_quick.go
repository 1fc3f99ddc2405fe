package web

import (
	"encoding/json"
	"time"

	"hackle/yard"
)

// workerPath is where the browser finds the script that keeps the page of quick
// entries. It holds nothing of the yard and is sent to anybody, as other scripts are.
const workerPath = "/notebook/worker.js"

// quickPage is for a phone at the hives: which hive, and what is to be said, in two
// taps. It holds everything for all hives, so that it works on where there is no
// connection.
type quickPage struct {
	Yards    []quickYard
	Hive     string // chosen, empty for none
	HiveName string
	ID       string // for what is sent without a script
	Groups   []quickGroup
	Forms    []entryPage
	Kept     *entryRow // what was just kept without a script
	KeptRev  int
	Worker   string
}

type quickYard struct {
	Name  string
	Hives []quickHive
}

type quickHive struct {
	ID, Name, Colony string
	Current          bool
}

// quickGroup is a question with its usual answers.
type quickGroup struct {
	Title string
	Taps  []quickTap
}

// quickTap is one usual answer.
type quickTap struct {
	Name string
	Say  string // the record in short, JSON
}

// tapped is what a tap says.
type tapped struct {
	Kind   yard.Kind      `json:"kind"`
	Values map[string]any `json:"values"`
}

func tap(name string, kind yard.Kind, values map[string]any) quickTap {
	text, err := json.Marshal(tapped{kind, values})
	if err != nil {
		panic(err) // words and truth values always marshal
	}
	return quickTap{name, string(text)}
}

// quickGroups are the usual things, those of the season's eye first.
func quickGroups() []quickGroup {
	v := func(pairs ...string) map[string]any {
		m := map[string]any{}
		for i := 0; i+1 < len(pairs); i += 2 {
			m[pairs[i]] = pairs[i+1]
		}
		return m
	}
	return []quickGroup{
		{"Lifted, it felt", []quickTap{tap("Light", yard.Weight, v("feel", "light")), tap("Fair", yard.Weight, v("feel", "fair")), tap("Heavy", yard.Weight, v("feel", "heavy"))}},
		{"Bees hanging outside", []quickTap{tap("None", yard.Bearding, v("extent", "none")), tap("Some", yard.Bearding, v("extent", "some")), tap("Many", yard.Bearding, v("extent", "many"))}},
		{"Water over the bees", []quickTap{tap("Dry", yard.Drip, v("place", "over the bees", "amount", "none")), tap("Beads", yard.Drip, v("place", "over the bees", "amount", "beads")), tap("Dripping", yard.Drip, v("place", "over the bees", "amount", "running"))}},
		{"Water on the walls", []quickTap{tap("Dry", yard.Drip, v("place", "walls", "amount", "none")), tap("Beads", yard.Drip, v("place", "walls", "amount", "beads")), tap("Ice", yard.Drip, v("place", "walls", "amount", "ice"))}},
		{"Mould on frames", []quickTap{tap("None", yard.Mould, v("place", "frames", "amount", "none")), tap("Specks", yard.Mould, v("place", "frames", "amount", "specks")), tap("Patches", yard.Mould, v("place", "frames", "amount", "patches"))}},
		{"Queen", []quickTap{tap("Seen", yard.Inspection, v("queen", "seen")), tap("Eggs seen", yard.Inspection, v("queen", "eggs seen")), tap("No sign", yard.Inspection, v("queen", "no sign"))}},
		{"Fed", []quickTap{tap("Syrup", yard.Feeding, v("food", "syrup")), tap("Fondant", yard.Feeding, v("food", "fondant")), tap("Sugar", yard.Feeding, v("food", "dry sugar"))}},
		{"Wrap", []quickTap{tap("Put on", yard.WrapChange, v("state", "on")), tap("Taken off", yard.WrapChange, v("state", "off"))}},
		{"Vent or entrance", []quickTap{tap("Opened", yard.VentChange, v("state", "open")), tap("Narrowed", yard.VentChange, v("state", "narrowed")), tap("Closed", yard.VentChange, v("state", "closed"))}},
		{"After winter", []quickTap{tap("Strong", yard.WinterOutcome, v("outcome", "strong")), tap("Weak", yard.WinterOutcome, v("outcome", "weak")), tap("Dead", yard.WinterOutcome, v("outcome", "dead"))}},
	}
}

// quickForms are what needs numbers or words.
func (v *visit) quickForms(n *yard.Notebook) (all []entryPage) {
	wanted := map[yard.Kind][]string{
		yard.Weight:     {"reading_kg", "side", "tare_kg"},
		yard.Inspection: {"frames_of_bees", "frames_of_brood", "frames_of_stores"},
		yard.Feeding:    {"food", "amount_kg"},
		yard.Bearding:   {"bees", "air_temperature_c"},
		yard.CombFallen: {"frames", "comb", "air_temperature_c"},
		yard.Note:       nil,
	}
	for _, kind := range []yard.Kind{yard.Weight, yard.Inspection, yard.Feeding, yard.Bearding, yard.CombFallen, yard.Note} {
		info, ok := yard.KindOf(kind)
		if !ok {
			continue
		}
		fields := info.Fields
		info.Fields = nil
		for _, name := range wanted[kind] {
			for _, f := range fields {
				if f.Name == name {
					info.Fields = append(info.Fields, f)
				}
			}
		}
		all = append(all, v.formOf(yard.Record{Kind: kind, At: v.config.Now()}, info, n))
	}
	return all
}

func showQuick(v *visit) (view, error) {
	ctx := v.context()
	n, err := v.names()
	if err != nil {
		return view{}, err
	}
	in, err := v.config.Store.Occupants(ctx, v.config.Now())
	if err != nil {
		return view{}, err
	}
	id, err := yard.NewID()
	if err != nil {
		return view{}, err
	}
	p := quickPage{Hive: v.request.URL.Query().Get("hive"), ID: string(id), Groups: quickGroups(), Forms: v.quickForms(n), Worker: workerPath}
	found := false
	for _, y := range n.Yards {
		if y.Deleted {
			continue
		}
		box := quickYard{Name: y.Name}
		for _, h := range n.Hives {
			if h.Yard != y.ID || h.Deleted {
				continue
			}
			row := quickHive{string(h.ID), h.Name, in[h.ID].Name, string(h.ID) == p.Hive}
			if row.Current {
				found, p.HiveName = true, h.Name
			}
			box.Hives = append(box.Hives, row)
		}
		p.Yards = append(p.Yards, box)
	}
	if !found {
		p.Hive = ""
	}
	if kept := v.request.URL.Query().Get("kept"); kept != "" {
		if id, err := yard.ParseID(kept); err == nil {
			if r, err := v.config.Store.Records.Get(ctx, id); err == nil && !r.Deleted {
				row := v.row(n, r)
				p.Kept, p.KeptRev = &row, r.Revision
			}
		}
	}
	return view{Title: "At the hives", Place: "notebook", Body: p}, nil
}

// keepQuick keeps what was tapped where no script runs.
func keepQuick(v *visit) (view, error) {
	if err := v.request.ParseForm(); err != nil {
		return view{}, err
	}
	form := v.request.PostForm
	h, _, err := v.keptHive(form.Get("hive"))
	if err != nil {
		return view{}, err
	}
	r := yard.Record{Hive: h.ID, At: v.config.Now().Truncate(time.Second), Values: map[string]any{}}
	if r.ID, err = yard.ParseID(form.Get("id")); err != nil {
		return view{}, refuse("id: %v", err)
	}
	if text := form.Get("say"); text != "" {
		var t tapped
		if err := json.Unmarshal([]byte(text), &t); err != nil {
			return view{}, refuse("what was tapped cannot be read: %v", err)
		}
		r.Kind, r.Values = t.Kind, t.Values
	} else {
		info, ok := yard.KindOf(yard.Kind(form.Get("kind")))
		if !ok {
			return view{}, refuse("kind %q is no kind of entry", form.Get("kind"))
		}
		r.Kind = info.Kind
		n, err := v.names()
		if err != nil {
			return view{}, err
		}
		form.Set("at", r.At.Format(formTime))
		for name, text := range v.readForm(&r, info, n) {
			return view{}, refuse("%s: %s", name, text)
		}
	}
	// Sent twice it keeps the time of the first.
	if kept, err := v.config.Store.Records.Get(v.context(), r.ID); err == nil {
		r.At = kept.At
	}
	if _, err := v.config.Store.Records.Put(v.context(), r); err != nil {
		return view{}, err
	}
	return view{to: "/notebook/quick?hive=" + string(h.ID) + "&kept=" + string(r.ID)}, nil
}

// sendWorker sends the script that keeps the page of quick entries for where there
// is no connection. It must stand above that page in the tree of addresses.
func sendWorker(v *visit) (view, error) {
	a := v.sheets.assets["notebook-worker.js"]
	v.w.Header().Set("Content-Type", a.kind)
	v.w.Header().Set("Cache-Control", "no-cache")
	v.w.Write(a.text) // the reader is gone when this fails
	return view{written: true}, nil
}
