package change

import (
	"bytes"
	"encoding/json"
	"errors"
	"io/fs"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"hackle/climate"
	"hackle/examples"
	"hackle/hive"
	"hackle/internal/keyed"
	"hackle/price"
	"hackle/quantity"
)

func plan(t *testing.T, name string) hive.Plan {
	t.Helper()
	data, err := fs.ReadFile(examples.Files(), name)
	if err != nil {
		t.Fatal(err)
	}
	p, err := hive.Decode(name, bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func weather(t *testing.T, name string) *climate.Series {
	t.Helper()
	w, err := climate.Builtin(name)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func set(t *testing.T, texts ...string) Set {
	t.Helper()
	s, err := ParseSet(texts...)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.8g, want %.8g within %.2g", what, got, want, tol)
	}
}

// TestCatalogueIsWhole: every kind says what it does, every choice reads back as it
// was written, and every parameter has a meaning and sound defaults.
func TestCatalogueIsWhole(t *testing.T) {
	seen := make(map[string]bool)
	for _, k := range Catalogue() {
		if seen[k.Key] || k.Name == "" || k.Does == "" || len(k.Choices) == 0 || len(k.Sets) == 0 || k.apply == nil {
			t.Errorf("kind %q is not whole, or there twice", k.Key)
		}
		seen[k.Key] = true
		for _, p := range k.Params {
			if p.Meaning == "" {
				t.Errorf("%s: %s has no meaning", k.Key, p.Key)
			}
			if p.Default != "" {
				if _, err := p.parse(p.Default); err != nil {
					t.Errorf("%s: default: %v", k.Key, err)
				}
			}
		}
		for _, text := range k.Choices {
			c, err := Parse(text)
			if err != nil {
				t.Errorf("choice %q: %v", text, err)
				continue
			}
			again, err := Parse(c.String())
			if err != nil || !reflect.DeepEqual(again, c) {
				t.Errorf("%q reads as %q, which reads as %v, %v", text, c, again, err)
			}
		}
	}
}

// TestEveryChoiceAppliesSomewhere: no choice of the catalogue is dead, all leave
// their hive as it was, give a plan that can be written, and can be priced.
func TestEveryChoiceAppliesSomewhere(t *testing.T) {
	prices, err := price.Standard()
	if err != nil {
		t.Fatal(err)
	}
	names, err := fs.ReadDir(examples.Files(), ".")
	if err != nil {
		t.Fatal(err)
	}
	applied := make(map[string]bool)
	site := Site{Weather: weather(t, "burlington-vt"), Yards: map[string]Yard{"burlington-vt": {Site: hive.Site{Name: "Far Bank", Exposure: hive.Sheltered}, Weather: "burlington-vt"}}}
	for _, e := range names {
		if !strings.HasSuffix(e.Name(), ".yaml") {
			continue
		}
		p := plan(t, e.Name())
		if e.Name() == "summer-flow.yaml" { // one with fresh comb
			for i := range p.Hive.Bodies {
				p.Hive.Bodies[i].Frames.CombAge = hive.CombFresh
			}
		}
		before := p.Clone()
		offers, err := Offers(p, site)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(p, before) {
			t.Fatalf("%s was changed in place", e.Name())
		}
		for _, o := range offers {
			if o.Not != nil {
				if len(o.Not.Error()) < 20 {
					t.Errorf("%s says too little: %v", o.Change, o.Not)
				}
				continue
			}
			applied[o.Change.String()] = true
			var text bytes.Buffer
			if err := hive.Encode(&text, o.Result.Plan, quantity.Metric); err != nil {
				t.Errorf("%s on %s: %v", o.Change, e.Name(), err)
			}
			if reflect.DeepEqual(o.Result.Plan, before) && o.Result.Weather == "" && len(o.Result.Shades) == 0 {
				t.Errorf("%s on %s changes nothing and does not say so", o.Change, e.Name())
			}
			cost := o.Result.Cost(prices, 1)
			if len(cost.Once.Missing)+len(cost.Yearly.Missing) > 0 {
				t.Errorf("%s on %s: %v %v", o.Change, e.Name(), cost.Once.Missing, cost.Yearly.Missing)
			}
			if once, yearly := o.Result.Hours(); once+yearly <= 0 || o.Result.Steps[0].Effect.Did == "" {
				t.Errorf("%s on %s: no work or no word of what was done", o.Change, e.Name())
			}
		}
	}
	for _, k := range Catalogue() {
		for _, text := range k.Choices {
			c, _ := Parse(text)
			if !applied[c.String()] {
				t.Errorf("%s applies to no example", text)
			}
		}
	}
}

func TestParseFaults(t *testing.T) {
	for text, want := range map[string]string{
		"lidd=straw 5 cm":                                `did you mean "lid"?`,
		"lid":                                            "no insulation: write for example lid=mineral wool 38 mm",
		"lid=mineral wool":                               "a material and its thickness",
		"lid=mineral wool 2 m":                           "a thickness of 5 mm to 300 mm",
		"lid=straw 5 cm, place roof":                     "found \"roof\", wanted lid or board",
		"lid=straw 5 cm, straw 6 cm":                     "place: found",
		"wrap=wool felt 10 mm, on 1 Nov":                 "only one of on and off",
		"wrap=wool felt 10 mm, on 1 Nov, off 1 Nov":      "the same day",
		"wrap=wool felt 10 mm, on 1 Nov 2025, off 1 Apr": "a day of every year",
		"tilt=30°":                                       "wanted 0° to 15°",
		"stand=45":                                       "found \"45\", wanted a length",
		"follower=0 frames":                              "a whole number",
		"windbreak=to sheltered, hedged":                 "one thing too many",
		"windbreak=a,,b":                                 "nothing between two commas",
		"tray=tilt 5":                                    "tray",
		strings.Repeat("x", 600):                         "more than 500 letters",
	} {
		if _, err := Parse(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

func TestTextForms(t *testing.T) {
	for text, want := range map[string]string{
		"LID = mineral  wool 3 in":                        "lid=mineral wool 76.2 mm",
		"lid=layer straw 5 cm":                            "lid=straw 50 mm",
		"wrap=off 1 Apr, building paper 0.8 mm, on 1 Nov": "wrap=building paper 0.8 mm, on 1 Nov, off 1 Apr",
		"walls=XPS 1-1/2 in, back and left":               "walls=XPS 38.1 mm, faces back left",
		"follower=8":                                      "follower=8",
		"feed=10 lb, fondant, day 1 Feb":                  "feed=4.5359237 kg, kind fondant, day 1 Feb",
		"windbreak":                                       "windbreak",
	} {
		c, err := Parse(text)
		if err != nil || c.String() != want {
			t.Errorf("%q reads as %q, %v; want %q", text, c, err, want)
		}
	}
}

// TestWhatChangesDo looks at the altered plans themselves.
func TestWhatChangesDo(t *testing.T) {
	low := plan(t, "two-deep-low-entrance.yaml")
	apply := func(p hive.Plan, texts ...string) hive.Plan {
		t.Helper()
		r, err := set(t, texts...).Apply(p, Site{Weather: weather(t, "burlington-vt")})
		if err != nil {
			t.Fatal(err)
		}
		return r.Plan
	}

	// The catalogue's wool lid and the closed hole are the example's own, all but
	// its name and notes.
	wool := plan(t, "two-deep-wool-lid.yaml")
	got := apply(low, "lid=mineral wool 3 in", "board hole=closed")
	got.Hive.Name, got.Notes = wool.Hive.Name, wool.Notes
	if !reflect.DeepEqual(got, wool) {
		t.Error("lid=mineral wool 3 in with the hole closed is not the hive of two-deep-wool-lid.yaml")
	}

	walls := apply(low, "walls=XPS 38 mm, faces back left")
	for f := hive.Front; f <= hive.Right; f++ {
		want := 1
		if f == hive.Back || f == hive.Left {
			want = 3
		}
		if n := len(walls.Hive.Bodies[1].Walls[f]); n != want {
			t.Errorf("the %s wall has %d layers, want %d", f, n, want)
		}
	}

	if w := walls.Hive.Bodies[0].Walls[hive.Back]; w[0].Material.Name != "plywood" || w[1].Material.Name != "XPS" || w[2].Material.Name != "softwood" {
		t.Errorf("from outside the wall is %v", w)
	}

	vent := apply(low, "top vent=20 mm, on 15 Apr, off 1 Nov")
	o := vent.Hive.Openings[len(vent.Hive.Openings)-1]
	if w := o.WidthOn(time.Date(2026, 1, 10, 0, 0, 0, 0, time.UTC)); w != 0 {
		t.Errorf("the vent is %v m open in January", w)
	}
	if w := o.WidthOn(time.Date(2026, 6, 10, 0, 0, 0, 0, time.UTC)); w != 0.020 {
		t.Errorf("the vent is %v m open in June, want 20 mm", w)
	}
	near(t, "upper edge of the vent below the lid's rim", vent.Hive.StackTop()-o.Sill-o.Height, low.Hive.Lid.Rim+0.02, 1e-4)
	shut := apply(vent, "close vents")
	if len(shut.Hive.Openings) != len(low.Hive.Openings) || shut.Hive.TopBoard.Hole != 0 {
		t.Error("close vents leaves an upper opening or the hole of the board")
	}

	dark := apply(low, "roof colour=dark paint")
	if dark.Hive.Lid.Finish.SolarAbsorptance <= low.Hive.Lid.Finish.SolarAbsorptance {
		t.Error("a dark roof takes up no more sun")
	}
	if e := apply(low, "windbreak").Site.Exposure; e != hive.WoodEdge {
		t.Errorf("one step stiller than hedged is %q", e)
	}

	three := apply(low, "add box=medium, at bottom")
	near(t, "height added", three.Hive.Height()-low.Hive.Height(), three.Hive.Bodies[0].Height, 1e-9)
	back := apply(three, "take box=bottom")
	if !reflect.DeepEqual(back, low) {
		t.Error("a box put under and taken off again does not give the first hive")
	}

	mesh := plan(t, "national-mesh-floor.yaml")
	tray := apply(mesh, "tray=on 1 Oct, off 1 May")
	if !tray.Hive.Floor.TrayOn(time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)) || tray.Hive.Floor.TrayOn(time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC)) {
		t.Error("the tray is not in from October to May alone")
	}
}

// TestReasons: a change that has nothing to change says why, and one that makes no
// hive is refused with the reason.
func TestReasons(t *testing.T) {
	low, mesh, long, warre := plan(t, "two-deep-low-entrance.yaml"), plan(t, "national-mesh-floor.yaml"), plan(t, "long-hive.yaml"), plan(t, "warre.yaml")
	site := Site{Weather: weather(t, "burlington-vt")}
	for _, tt := range []struct {
		p       hive.Plan
		text    string
		refused bool
		want    string
	}{
		{low, "tray", false, "the floor is a board"},
		{low, "take box", false, "there are 30 kg of honey"},
		{long, "take box", false, "one box"},
		{long, "add box=20 frames", false, "a long hive has one box"},
		{long, "follower=10 frames", false, "stands there already"},
		{warre, "quilt=wood shavings 100 mm", false, "a quilt already"},
		{warre, "board hole=closed", false, "no hole"},
		{low, "add box=jambo", true, "not one of type"},
		{low, "wiring=crossed wires", false, `say "comb fresh"`},
		{low, "entrance=900 mm", false, "wide when full"},
		{low, "lid=galvanised steel 5 mm", true, "insulates nothing"},
		{low, "lid=moonstone 5 cm", true, "moonstone"},
		{low, "lid=honey 5 cm", true, "what a hive holds"},
		{low, "feed=30 kg", true, "the combs hold"},
		{low, "feed=5 kg, day 15 Jan", true, "syrup asks for 10 °C; in autumn 5 kg must be given by"},
		{low, "feed=5 kg, fondant", true, "needs the day"},
		{low, "move=nowhere", true, "no yard of yours"},
		{mesh, "close vents", false, "nothing in the upper half is open"},
		{low, "water=300 m", false, "water within 150 m already"},
	} {
		_, err := set(t, tt.text).Apply(tt.p, site)
		var not *NotHere
		var refused *Refused
		if tt.refused && !errors.As(err, &refused) || !tt.refused && !errors.As(err, &not) || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", tt.text, err, tt.want)
		}
	}
}

// TestSouth: on the southern half of the globe winter is half a year later, in the
// catalogue and in what is left out.
func TestSouth(t *testing.T) {
	p := plan(t, "two-deep-low-entrance.yaml")
	p.Site.Latitude = -43.5
	r, err := set(t, "wrap=building paper 0.8 mm").Apply(p, Site{})
	if err != nil {
		t.Fatal(err)
	}
	w := r.Plan.Hive.Wraps[0]
	if w.On != (hive.Day{Month: time.May, Day: 1}) || w.Off != (hive.Day{Month: time.October, Day: 1}) {
		t.Errorf("a winter wrap is on from %s to %s", w.On, w.Off)
	}
	offers, err := Offers(p, Site{})
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range offers {
		if o.Change.Kind == "shade" && o.Change.String() != "shade=50 %, on 1 Dec, off 1 Mar" {
			t.Errorf("shade is offered as %s", o.Change)
		}
	}
	for d, want := range map[hive.Day]hive.Day{{Month: 8, Day: 31}: {Month: 2, Day: 28}, {Month: 1, Day: 31}: {Month: 7, Day: 31}, {Month: 10, Day: 15}: {Month: 4, Day: 15}} {
		if got := halfYearOn(d); got != want {
			t.Errorf("half a year on from %s is %s, want %s", d, got, want)
		}
	}
}

// TestOffersFitTheType: boxes that are offered are those of the hive's own type, and
// the follower board of a long hive is moved.
func TestOffersFitTheType(t *testing.T) {
	offers, err := Offers(plan(t, "national-mesh-floor.yaml"), Site{})
	if err != nil {
		t.Fatal(err)
	}
	boxes := 0
	for _, o := range offers {
		if o.Change.Kind == "add box" && o.Not == nil {
			boxes++
		}
	}
	if boxes != 3 {
		t.Errorf("%d boxes of a British National are offered, want brood, super and 14x12", boxes)
	}
	r, err := set(t, "follower=6 frames").Apply(plan(t, "long-hive.yaml"), Site{})
	if err != nil || len(r.Plan.Hive.Followers) != 1 || r.Plan.Hive.Followers[0].Frames != 6 {
		t.Errorf("the board of the long hive: %+v, %v", r.Plan.Hive.Followers, err)
	}
}

func TestTitles(t *testing.T) {
	for text, want := range map[string]string{
		"":                       "As it is",
		"windbreak":              "Windbreak",
		"lid=mineral wool 76 mm": "Insulated lid (mineral wool 76 mm)",
		"top vent=20 mm + lid=straw 5 cm + windbreak": "Windbreak, insulated lid (straw 50 mm) and top vent (20 mm)",
	} {
		if got := set(t, text).Title(); got != want {
			t.Errorf("%q is titled %q, want %q", text, got, want)
		}
	}
}

func TestContradictions(t *testing.T) {
	for _, texts := range [][]string{
		{"lid=straw 5 cm", "lid=XPS 50 mm"},
		{"quilt=wood shavings 100 mm", "board hole=closed"},
		{"quilt=wood shavings 100 mm", "lid=XPS 50 mm, place board"},
		{"take box", "add box=medium"},
		{"top vent=20 mm", "close vents"},
		{"board hole=closed", "close vents"},
		{"entrance=25 mm", "entrance=50 mm"},
	} {
		for range 2 {
			_, err := ParseSet(texts...)
			var c *Contradiction
			if !errors.As(err, &c) || c.Reason == "" {
				t.Errorf("%v: %v, want a contradiction", texts, err)
			}
			slices.Reverse(texts)
		}
	}
	if _, err := ParseSet("quilt=wood shavings 100 mm + lid=XPS 50 mm"); err != nil {
		t.Errorf("a quilt below an insulated roof is no contradiction: %v", err)
	}
}

// TestOrderDoesNotMatter: sets are applied in the order of the catalogue.
func TestOrderDoesNotMatter(t *testing.T) {
	p := plan(t, "two-deep-low-entrance.yaml")
	texts := []string{"top vent=20 mm", "lid=mineral wool 76 mm", "walls=XPS 25 mm", "add box=medium", "wrap=building paper 0.8 mm"}
	a, err := set(t, texts...).Apply(p, Site{})
	if err != nil {
		t.Fatal(err)
	}
	slices.Reverse(texts)
	b, err := set(t, texts...).Apply(p, Site{})
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(a, b) {
		t.Error("the order in which changes are named shows")
	}
	// The vent sits in the wall of the box that was put on, insulation and all.
	if o := a.Plan.Hive.Openings[len(a.Plan.Hive.Openings)-1]; a.Plan.Hive.BodyAt(o.Sill) != 2 || o.Depth < 0.04 {
		t.Errorf("the vent sits in body %d with a passage of %v m", a.Plan.Hive.BodyAt(o.Sill)+1, o.Depth)
	}
}

// TestCostByHand prices 76 mm of wool in the lid of a hive of 1 m by 1 m outside.
func TestCostByHand(t *testing.T) {
	p := plan(t, "two-deep-low-entrance.yaml")
	for i := range p.Hive.Bodies {
		b := &p.Hive.Bodies[i]
		b.Length, b.Width = 1-b.WallThickness(hive.Front)-b.WallThickness(hive.Back), 1-b.WallThickness(hive.Left)-b.WallThickness(hive.Right)
		b.Frames = hive.Frames{}
		b.Box = ""
	}
	p.Hive.Type, p.Colony.Honey = hive.Custom, 0
	prices, err := price.Decode("", strings.NewReader(`version: 1
currency: EUR
values: {work: 20 EUR/h}
stock:
  - {material: mineral wool, form: sheet, thickness: 76 mm, width: 600 mm, length: 1000 mm, price: 10 EUR/m²}
  - {material: softwood, form: board, thickness: 19 mm, width: 100 mm, length: 2 m, price: 3 EUR/m}
fasteners:
  - {name: staple, pack: 1000, price: 5 EUR/pack}
`))
	if err != nil {
		t.Fatal(err)
	}
	r, err := set(t, "lid=mineral wool 76 mm").Apply(p, Site{})
	if err != nil {
		t.Fatal(err)
	}
	// Wool: 1 m² at 10; two sheets of 0.6 m², 12. Rim: 4 m × 76 mm = 0.304 m² of a
	// board of 0.1 m at 3 a metre, 9.12; boards of 0.2 m²: two, 12. Staples: 20 of
	// 1000 at 5, 0.10; a pack, 5. Work: 0.75 h at 20, 15.
	c := r.Cost(prices, 1)
	near(t, "used", c.Once.Used, 10+9.12+0.10, 1e-9)
	near(t, "bought", c.Once.Bought, 12+12+5, 1e-9)
	near(t, "work", c.Work, 15, 1e-9)
	near(t, "first", c.First(), 44, 1e-9)
	near(t, "each year", c.EachYear(), 0, 0)
	// Ten hives share sheets and the pack: 10 m² are 17 sheets, 3.04 m² 16 boards.
	ten := r.Cost(prices, 10)
	near(t, "bought for ten", ten.Once.Bought, 17*6+16*6+5, 1e-9)
}

// TestLastSyrupDay against a made year whose temperature falls in a straight line:
// 20 °C at the start of July, a tenth of a degree less each day.
func TestLastSyrupDay(t *testing.T) {
	zone := time.UTC
	w := &climate.Series{Start: time.Date(2025, 1, 1, 0, 0, 0, 0, zone), Latitude: 45, Typical: true}
	july := time.Date(2025, 7, 1, 0, 0, 0, 0, zone)
	for i := range 8760 {
		at := w.Start.Add(hours(i))
		w.Hours = append(w.Hours, climate.Hour{TempAir: 20 - 0.1*math.Floor(at.Sub(july).Hours()/24)})
	}
	// The mean of seven days is that of its fourth: 10 °C falls on day 100, so the
	// last warm week ends on day 103, 12 October. Three kilograms take two days.
	day, ok := LastSyrupDay(w, 3)
	if want := (hive.Day{Month: time.October, Day: 10}); !ok || day != want {
		t.Errorf("last day %v, %v, want %v", day, ok, want)
	}
	for i := range w.Hours {
		w.Hours[i].TempAir = 25
	}
	if day, ok := LastSyrupDay(w, 3); ok {
		t.Errorf("in the tropics syrup is taken until %v", day)
	}
}

// TestFeedBeforeTheDayOfTheHoney only raises what there is on that day.
func TestFeedBeforeTheDayOfTheHoney(t *testing.T) {
	p := plan(t, "two-deep-low-entrance.yaml")
	r, err := set(t, "feed=5 kg").Apply(p, Site{Weather: weather(t, "burlington-vt")})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "honey", r.Plan.Colony.Honey, p.Colony.Honey+5, 1e-9)
	r, err = set(t, "feed=2 kg, fondant, day 1 Feb").Apply(p, Site{})
	if err != nil || len(r.Plan.Colony.Feeds) != 1 || r.Plan.Colony.Honey != p.Colony.Honey {
		t.Errorf("fondant in February: %+v, %v", r.Plan.Colony.Feeds, err)
	}
}

// TestShadeByDate takes beam off between its days alone, and none of the diffuse.
func TestShadeByDate(t *testing.T) {
	w := weather(t, "burlington-vt")
	r, err := set(t, "shade=50 %, on 1 Jun, off 1 Sep").Apply(plan(t, "two-deep-low-entrance.yaml"), Site{})
	if err != nil {
		t.Fatal(err)
	}
	shaded := r.WeatherOf(w)
	for i, h := range w.Hours {
		got := shaded.Hours[i]
		month := w.MidHour(i).In(w.Location()).Month()
		want := h.DirectNormal
		if month >= time.June && month <= time.August {
			want /= 2
		}
		if math.Abs(got.DirectNormal-want) > 1e-9 || got.DiffuseHorizontal != h.DiffuseHorizontal || got.GlobalHorizontal > h.GlobalHorizontal {
			t.Fatalf("hour %d: beam %v of %v", i, got.DirectNormal, h.DirectNormal)
		}
	}
}

func TestFileRoundTrip(t *testing.T) {
	k := Kept{Name: "Warm: and dry", Notes: "two\nlines", Changes: set(t, "wrap=building paper 0.8 mm, colour dark paint, on 1 Nov, off 1 Apr", "lid=mineral wool 3 in")}
	var text bytes.Buffer
	if err := Encode(&text, k); err != nil {
		t.Fatal(err)
	}
	back, err := Decode("", &text)
	if err != nil || back.Name != k.Name || back.Notes != k.Notes || !back.Changes.Equal(k.Changes) {
		t.Errorf("%+v, %v", back, err)
	}
	// A map says the same, in YAML and in JSON.
	for _, file := range []string{
		"version: 1\nchanges:\n  - change: lid\n    layer: mineral wool 76 mm\n",
		`{"version": 1, "changes": [{"change": "lid", "layer": "mineral wool 76 mm"}]}`,
		`{"version": 1, "changes": ["lid=mineral wool 76 mm"]}`,
	} {
		k, err := Decode("", strings.NewReader(file))
		if err != nil || k.Changes.String() != "lid=mineral wool 76 mm" {
			t.Errorf("%s: %v, %v", file, k, err)
		}
	}
	for file, want := range map[string]string{
		"version: 1\nchanges: [lid]\n":                       `f:2:11: changes[1]: found "lid"`,
		"version: 1\nchanges:\n  - {change: lid, layr: x}\n": "no parameter \"layr\"",
		"version: 1\nchanges: [take box, add box=medium]\n":  "changes that go together",
		"version: 1\nchanges:\n  - {layer: x}\n":             "a map without change",
	} {
		_, err := Decode("f", strings.NewReader(file))
		var faults *keyed.Faults
		if !errors.As(err, &faults) || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", file, err, want)
		}
	}
	data, err := json.Marshal(k.Changes)
	if err != nil {
		t.Fatal(err)
	}
	var s Set
	if err := json.Unmarshal(data, &s); err != nil || !s.Equal(k.Changes) {
		t.Errorf("%s reads as %v, %v", data, s, err)
	}
}

func FuzzParse(f *testing.F) {
	for _, k := range Catalogue() {
		for _, c := range k.Choices {
			f.Add(c)
		}
	}
	f.Add("wrap=on 1 Nov, off 1 Apr, straw mat 5 cm, front and back")
	f.Add("lid=layer layer 5 mm 5 mm, place lid")
	f.Fuzz(func(t *testing.T, text string) {
		c, err := Parse(text)
		if err != nil {
			return
		}
		again, err := Parse(c.String())
		if err != nil || !reflect.DeepEqual(again, c) {
			t.Fatalf("%q reads as %q, which reads as %q, %v", text, c, again, err)
		}
	})
}

func FuzzDecode(f *testing.F) {
	f.Add("version: 1\nname: x\nchanges:\n  - lid=mineral wool 76 mm\n  - {change: wrap, layer: straw 5 cm, on: 1 Nov, off: 1 Apr}\n")
	f.Fuzz(func(t *testing.T, text string) {
		k, err := Decode("f", strings.NewReader(text))
		if err != nil {
			return
		}
		var out bytes.Buffer
		if err := Encode(&out, k); err != nil {
			t.Fatalf("read but not written: %v", err)
		}
	})
}
