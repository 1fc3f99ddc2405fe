package web

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"hackle/climate"
	"hackle/comb"
	"hackle/hive"
	"hackle/internal/answer"
	"hackle/ledger"
	"hackle/quantity"
	"hackle/yard"
)

// A need is something of a hive that asks for the keeper, most urgent first.
type need struct {
	weight int
	Text   string
	Tab    string // last part of the address of the page that tells more
	At     time.Time
}

// Below these a moment is worth a look. Common practice, no source.
const (
	lowStores  = 5.0 // honey at its least [kg]
	shortReach = 3.0 // honey in contact over use [d]
	hardWork   = 0.8 // share of what bees can keep up [-]
	staleAir   = 4.0 // CO2 beside the cluster [%]
)

// needsOf reads from a ledger what asks for the keeper.
func (v *visit) needsOf(l *ledger.Ledger) (all []need) {
	s := say{v.system}
	add := func(weight int, tab string, at time.Time, format string, args ...any) {
		all = append(all, need{weight, fmt.Sprintf(format, args...), tab, at})
	}
	switch {
	case l.Starved():
		what := "the last honey is eaten on " + s.Day(l.Honey.StarvedAt)
		if l.Honey.Gained == 0 && l.Summer.FlowsNamed == 0 && l.Winter != nil {
			add(60, "winter", l.Honey.StarvedAt, "It comes through winter, but %s: its file names no nectar flow for the summer.", what)
		} else {
			add(100, "winter", l.Honey.StarvedAt, "It starves: %s. Feed before then, or leave more in autumn.", what)
		}
	case l.Died():
		add(100, "winter", l.Bees.DiedAt, "The colony is dead from %s on.", s.Day(l.Bees.DiedAt))
	case l.Honey.Least < lowStores:
		add(50, "winter", l.Honey.LeastAt, "Stores fall to %s on %s. Heft it before then.", s.Mass(l.Honey.Least), s.Day(l.Honey.LeastAt))
	}
	if l.Cut() {
		add(cutWeight, "winter", l.Confinement.From, "For %s it is too cold to move and no honey is left in contact.", s.Hours(l.Confinement.Isolation))
	} else if !l.ReachMinAt.IsZero() && l.ReachMin < shortReach && l.Honey.Left > 0 {
		add(30, "winter", l.ReachMinAt, "Honey in contact lasts only %.1f days on %s.", l.ReachMin, s.Day(l.ReachMinAt))
	}
	if l.Water.DrippedBees > 0.001 {
		add(70, "water", l.Water.OverheadAt, "%s of water drip on the cluster. Put warmth over the bees, not under them.", s.Mass(l.Water.DrippedBees))
	} else if l.Wet() {
		add(20+min(20, int(l.Water.OverheadHours/100)), "water", l.Water.OverheadAt, "Water hangs above the bees for %s, at most %s on %s.", s.Hours(l.Water.OverheadHours), s.Mass(l.Water.OverheadMost), s.Day(l.Water.OverheadAt))
	}
	if c := l.Comb; c != nil {
		switch c.Class {
		case string(comb.Falls):
			add(90, "summer", c.At, "Combs of body %d give way on %s at %s. Shade it, or cross the wires.", c.Body, s.Day(c.At), s.Temp(c.Temperature))
		case string(comb.Near):
			add(40, "summer", c.At, "Combs of body %d may give way on %s at %s, should their wax be weak.", c.Body, s.Day(c.At), s.Temp(c.Temperature))
		}
	}
	if l.Overheated() {
		add(65, "summer", l.Summer.NestMaxAt, "The brood nest overheats: %s on %s.", s.Temp(l.Summer.NestMax), s.Day(l.Summer.NestMaxAt))
	}
	if l.Bees.HardestShare > hardWork {
		add(35, "winter", l.Bees.HardestAt, "The bees work at %s of what they can keep up, hardest on %s.", s.Percent(l.Bees.HardestShare), s.Day(l.Bees.HardestAt))
	}
	if l.CO2Peak > staleAir {
		add(15, "vents", l.CO2PeakAt, "The air beside the cluster holds %.1f %% of CO2 on %s.", l.CO2Peak, s.Day(l.CO2PeakAt))
	}
	slices.SortStableFunc(all, func(a, b need) int { return cmp.Compare(b.weight, a.weight) })
	return all
}

// hiveRow is a hive on the page of the yard.
type hiveRow struct {
	ID, Name, Built, Colony string
	Bees, Honey             string // it began with
	Verdict                 string // "yes", "unsure", "no", "winter", empty while it is not known
	Sentence                string
	Needs                   []need
	Problem                 string
	Work                    *workingPage
	weight                  int
}

// yardBox is a yard with its hives.
type yardBox struct {
	ID, Name, Weather, Place string
	Hives                    []hiveRow
	Plan                     *sketch
	Plans                    []planRow
	Asking                   int // hives that ask for the keeper
	Working                  int
}

// planRow is a plan that was kept.
type planRow struct{ ID, Name, Hive, HiveID, Note string }

type yardPage struct {
	Yards []yardBox
	Empty bool
}

func showYard(v *visit) (view, error) {
	ctx := v.context()
	yards, err := v.config.Store.Yards.All(ctx, false)
	if err != nil {
		return view{}, err
	}
	p := yardPage{Empty: true}
	occupants, err := v.config.Store.Occupants(ctx, v.config.Now())
	if err != nil {
		return view{}, err
	}
	for _, y := range yards {
		box := yardBox{ID: string(y.ID), Name: y.Name, Weather: y.Weather}
		if w, err := v.weatherOf(ctx, y.Weather); y.Weather != "" && err == nil {
			box.Weather = w.Name
		}
		if y.HasPlace {
			box.Place = say{v.system}.Place(y.Latitude, y.Longitude)
		}
		hives, err := v.config.Store.HivesOf(ctx, y.ID)
		if err != nil {
			return view{}, err
		}
		names := map[yard.ID]string{}
		for _, h := range hives {
			p.Empty = false
			names[h.ID] = h.Name
			row := v.rowOf(ctx, y, h)
			if c, ok := occupants[h.ID]; ok {
				row.Colony = c.Name
			}
			if row.weight >= asksFrom {
				box.Asking++
			}
			if row.Work != nil {
				box.Working++
			}
			box.Hives = append(box.Hives, row)
		}
		slices.SortStableFunc(box.Hives, func(a, b hiveRow) int { return cmp.Compare(b.weight, a.weight) })
		box.Plan = sketchOf(hives, box.Hives)
		plans, err := v.config.Store.PlansOf(ctx, y.ID)
		if err != nil {
			return view{}, err
		}
		for _, k := range plans {
			box.Plans = append(box.Plans, planRow{string(k.ID), k.Name, names[k.Hive], string(k.Hive), k.Note})
		}
		p.Yards = append(p.Yards, box)
	}
	if p.Empty && len(p.Yards) == 0 {
		return view{to: "/new"}, nil
	}
	return view{Title: "Yard", Place: "yard", Body: p}, nil
}

// cutWeight is the weight of a colony that is cut off from its honey.
const cutWeight = 80

// asksFrom is the weight from which a hive asks for the keeper.
const asksFrom = 30

func (v *visit) rowOf(ctx context.Context, y yard.Yard, h yard.Hive) hiveRow {
	row := hiveRow{ID: string(h.ID), Name: h.Name}
	b, err := v.standing(ctx, h.ID)
	var a *asked
	if err == nil {
		a, err = v.askOf(ctx, y, h, b, v.system)
	}
	var r *result
	var w *work
	if err == nil {
		row.Built = builtIn(a.Plan, v.system)
		row.Bees, row.Honey = say{v.system}.Mass(a.Plan.Colony.Bees), say{v.system}.Mass(a.Plan.Colony.Honey)
		r, w, err = v.result(ctx, a)
	}
	switch {
	case err != nil:
		_, _, row.Problem = statusOf(err)
		row.weight = 95
	case r == nil:
		p := workingView(&underway{work: w}).Body.(workingPage)
		row.Work, row.weight = &p, 1000
	default:
		l := &r.Ledger
		row.Verdict, row.Sentence = l.Verdict(), v.winterSentence(l)
		row.Needs = v.needsOf(l)
		if len(row.Needs) > 0 {
			row.weight = row.Needs[0].weight
		}
		if l.Cut() { // the sentence says so already
			row.Needs = slices.DeleteFunc(row.Needs, func(n need) bool { return n.weight == cutWeight })
		}
	}
	return row
}

// builtIn says in a few words how a hive is built.
func builtIn(p hive.Plan, system quantity.System) string {
	d := answer.Describe(p)
	s := say{system}
	text := fmt.Sprintf("%d bodies", len(d.Bodies))
	if len(d.Bodies) == 1 {
		text = "one body"
	}
	text += fmt.Sprintf(", %d frames", d.Frames)
	worst, best := 0.0, 0.0
	for _, x := range d.Shell {
		if x.Part == "lid" {
			best = x.Resistance
		}
		if strings.Contains(x.Part, "wall") && (worst == 0 || x.Resistance < worst) {
			worst = x.Resistance
		}
	}
	if worst > 0 {
		text += ", walls R " + s.R(worst)
	}
	if best > 0 {
		text += ", lid R " + s.R(best)
	}
	return text
}

// winterSentence says how a colony comes through, as one keeper to another.
func (v *visit) winterSentence(l *ledger.Ledger) string {
	s := say{v.system}
	burned, left, until := l.Honey.Burned, l.Honey.Left, l.To.Time
	if l.Winter != nil {
		burned, left, until = l.Winter.Burned, l.Winter.Left, l.Winter.To.Time
	}
	had := s.Mass(l.Honey.Start)
	switch {
	case l.Starved() && (l.Winter == nil || !l.Honey.StarvedAt.After(l.Winter.To.AddDate(0, 0, 1))):
		return fmt.Sprintf("It does not come through: the last of its %s of honey is eaten on %s.", had, s.Day(l.Honey.StarvedAt))
	case l.Died() && (l.Winter == nil || !l.Bees.DiedAt.After(l.Winter.To.AddDate(0, 0, 1))):
		return fmt.Sprintf("It does not come through: the colony is dead from %s on, with %s of honey left.", s.Day(l.Bees.DiedAt), s.Mass(l.Honey.Left))
	case l.Starved():
		return fmt.Sprintf("It comes through winter with %s of its %s of honey left, but the last of it is eaten on %s.", s.Mass(left), had, s.Day(l.Honey.StarvedAt))
	case l.Cut():
		return fmt.Sprintf("It may not come through: it would burn %s of its %s by %s, but for %s it is too cold to move and no honey is left in contact.", s.Mass(burned), had, s.Day(until), s.Hours(l.Confinement.Isolation))
	}
	return fmt.Sprintf("It comes through: it burns %s of its %s of honey by %s and has %s left.", s.Mass(burned), had, s.Day(until), s.Mass(left))
}

// sketch is the plan of a yard, north up.
type sketch struct {
	Width, Height float64 // of the drawing [px]
	Spots         []spot
	Bar           float64 // length of the scale bar [px]
	BarName       string
}

type spot struct {
	X, Y     float64 // [px]
	ID, Name string
	Number   int // in the list of hives
	Asks     bool
}

// sketchOf draws the hives whose position is known; nil when there are fewer than two.
func sketchOf(hives []yard.Hive, rows []hiveRow) *sketch {
	asks, number := map[string]bool{}, map[string]int{}
	for i, r := range rows {
		asks[r.ID], number[r.ID] = r.weight >= asksFrom && r.Work == nil, i+1
	}
	var placed []yard.Hive
	for _, h := range hives {
		if h.HasPosition {
			placed = append(placed, h)
		}
	}
	if len(placed) < 2 {
		return nil
	}
	lowX, highX, lowY, highY := placed[0].X, placed[0].X, placed[0].Y, placed[0].Y
	for _, h := range placed {
		lowX, highX, lowY, highY = min(lowX, h.X), max(highX, h.X), min(lowY, h.Y), max(highY, h.Y)
	}
	const wide, margin = 640.0, 40.0
	size := max(highX-lowX, (highY-lowY)*1.4, 2)
	scale := (wide - 2*margin) / size
	s := &sketch{Width: wide, Height: max(100, (highY-lowY)*scale+2*margin)}
	for _, h := range placed {
		s.Spots = append(s.Spots, spot{margin + (h.X-lowX)*scale, margin + (highY-h.Y)*scale, string(h.ID), h.Name, number[string(h.ID)], asks[string(h.ID)]})
	}
	bar := 1.0
	for _, b := range []float64{2, 5, 10, 20, 50, 100} {
		if b*scale < wide/3 {
			bar = b
		}
	}
	s.Bar, s.BarName = bar*scale, fmt.Sprintf("%.0f m", bar)
	return s
}

// newForm is what a first hive is made of.
type newForm struct {
	Name, Type, Boxes, Site, Bees, Honey, Yard string
}

type newPage struct {
	Form     newForm
	Types    []hive.TypeInfo
	Sites    []siteGroup
	Yards    []yard.Yard
	Problems map[string]string // by field
	First    bool
}

type siteGroup struct {
	Country string
	Sites   []answer.Site
}

// sitesByCountry groups the built-in years by the last part of their place.
func sitesByCountry() ([]siteGroup, error) {
	sites, err := climate.Sites()
	if err != nil {
		return nil, err
	}
	by := map[string]*siteGroup{}
	for _, s := range sites {
		parts := strings.Split(s.Place, ", ")
		country := parts[len(parts)-1]
		if by[country] == nil {
			by[country] = &siteGroup{Country: country}
		}
		by[country].Sites = append(by[country].Sites, answer.SiteOf(s))
	}
	var all []siteGroup
	for _, g := range by {
		all = append(all, *g)
	}
	slices.SortFunc(all, func(a, b siteGroup) int { return cmp.Compare(a.Country, b.Country) })
	return all, nil
}

func (v *visit) newPage(form newForm, problems map[string]string) (view, error) {
	types, err := hive.Types()
	if err != nil {
		return view{}, err
	}
	p := newPage{Form: form, Problems: problems}
	for _, t := range types {
		if t.Name != hive.Custom {
			p.Types = append(p.Types, t)
		}
	}
	if p.Sites, err = sitesByCountry(); err != nil {
		return view{}, err
	}
	if p.Yards, err = v.config.Store.Yards.All(v.context(), false); err != nil {
		return view{}, err
	}
	p.First = len(p.Yards) == 0
	shown := view{Title: "A new hive", Place: "yard", Body: p}
	if len(problems) > 0 {
		shown.status = 422
	}
	return shown, nil
}

func showNew(v *visit) (view, error) {
	return v.newPage(newForm{Type: "stacked-10", Bees: "8 frames", Honey: map[bool]string{false: "30 kg", true: "65 lb"}[v.system == quantity.US]}, nil)
}

// flowsAssumed are the nectar flows of a new hive, of no place in particular: a
// keeper puts in those of the yard. Common practice, no source.
func flowsAssumed(latitude float64) []hive.Flow {
	day := func(m time.Month, d int) hive.Day {
		if latitude < 0 {
			m = (m+5)%12 + 1
		}
		return hive.Day{Month: m, Day: d}
	}
	return []hive.Flow{
		{From: day(time.May, 10), To: day(time.June, 20), Nectar: 3, Sugar: 0.40},
		{From: day(time.July, 1), To: day(time.August, 10), Nectar: 2, Sugar: 0.35},
		{From: day(time.August, 20), To: day(time.September, 20), Nectar: 1.5, Sugar: 0.45},
	}
}

// makeNew makes a hive, and a yard for it when there is none of that name.
func makeNew(v *visit) (view, error) {
	ctx := v.context()
	if err := v.request.ParseForm(); err != nil {
		return view{}, err
	}
	field := func(name string) string { return strings.TrimSpace(v.request.PostForm.Get(name)) }
	f := newForm{field("name"), field("type"), field("boxes"), field("site"), field("bees"), field("honey"), field("yard")}
	problems := map[string]string{}
	if f.Name == "" {
		problems["name"] = "A name is wanted, such as By the hedge."
	}
	var y yard.Yard
	yards, err := v.config.Store.Yards.All(ctx, false)
	if err != nil {
		return view{}, err
	}
	if f.Yard == "" && len(yards) > 0 {
		f.Yard = yards[0].Name
	}
	for _, k := range yards {
		if strings.EqualFold(k.Name, f.Yard) {
			y = k
		}
	}
	var site climate.Site
	if y.ID == "" {
		sites, err := climate.Sites()
		if err != nil {
			return view{}, err
		}
		i := slices.IndexFunc(sites, func(s climate.Site) bool { return s.Name == f.Site })
		if i < 0 {
			problems["site"] = "Choose the place whose climate is most like yours."
		} else {
			site = sites[i]
		}
	}
	var boxes []string
	for b := range strings.SplitSeq(f.Boxes, ",") {
		if b = strings.TrimSpace(b); b != "" {
			boxes = append(boxes, b)
		}
	}
	if len(boxes) > 10 {
		problems["boxes"] = fmt.Sprintf("%d boxes; a hive has at most 10 here.", len(boxes))
		boxes = nil
	}
	h, err := hive.New(f.Type, boxes...)
	if err != nil {
		at := "boxes"
		if len(boxes) == 0 {
			at = "type"
		}
		problems[at] = upper(err.Error()) + "."
	}
	var colony hive.Colony
	if err == nil {
		if colony.Bees, err = answer.BeesIn(f.Bees, h); err != nil {
			problems["bees"] = upper(err.Error()) + "."
		}
	}
	if colony.Honey, err = quantity.Parse(f.Honey, quantity.Mass); err != nil {
		problems["honey"] = upper(err.Error()) + "."
	}
	if len(problems) > 0 {
		return v.newPage(f, problems)
	}
	latitude := site.Latitude
	if y.ID != "" {
		latitude = y.Latitude
	}
	colony.Date = hive.Day{Month: time.October, Day: 15}
	if latitude < 0 {
		colony.Date.Month = time.April
	}
	colony.WaterNear = 150
	colony.Flows = flowsAssumed(latitude)
	h.Name = f.Name
	plan := hive.Plan{Hive: h, Colony: colony, Notes: "The nectar flows and the water are assumed. Put in those of the yard."}
	for _, x := range plan.Check() {
		if x.Severity == hive.Wrong {
			problems[fieldOf(x.Field)] = upper(x.String()) + "."
		}
	}
	if len(problems) > 0 {
		return v.newPage(f, problems)
	}
	var text bytes.Buffer
	if err := hive.Encode(&text, plan, v.system); err != nil {
		return view{}, err
	}
	if y.ID == "" {
		if f.Yard == "" {
			f.Yard = "My yard"
		}
		if y.ID, err = yard.NewID(); err != nil {
			return view{}, err
		}
		y.Name, y.HasPlace, y.Latitude, y.Longitude, y.Height, y.Weather = f.Yard, true, site.Latitude, site.Longitude, site.Height, site.Name
		if y, err = v.config.Store.Yards.Put(ctx, y); err != nil {
			return view{}, err
		}
	}
	made, err := v.addHive(ctx, y.ID, f.Name, text.String())
	if faults := yard.FaultsIn(err); faults != nil {
		for _, x := range faults {
			problems[fieldOf(x.Field)] = upper(x.String()) + "."
		}
		return v.newPage(f, problems)
	}
	if err != nil {
		return view{}, err
	}
	return view{to: "/hive/" + string(made.ID) + "/winter"}, nil
}

// fieldOf puts a fault of a hive file beside a field of the form.
func fieldOf(field string) string {
	switch {
	case strings.Contains(field, "bees"):
		return "bees"
	case strings.Contains(field, "honey"):
		return "honey"
	case strings.Contains(field, "bodies"):
		return "boxes"
	}
	return "name"
}

// addHive keeps a hive that stands as its file says from today on.
func (s *Server) addHive(ctx context.Context, at yard.ID, name, file string) (yard.Hive, error) {
	h := yard.Hive{Yard: at, Name: name}
	var errs [2]error
	b := yard.Build{From: s.today(), File: file}
	h.ID, errs[0] = yard.NewID()
	b.ID, errs[1] = yard.NewID()
	if err := errors.Join(errs[:]...); err != nil {
		return h, err
	}
	b.Hive = h.ID
	if err := b.Check(); err != nil { // before the hive is kept without a build
		return h, err
	}
	h, err := s.config.Store.Hives.Put(ctx, h)
	if err != nil {
		return h, err
	}
	_, err = s.config.Store.Builds.Put(ctx, b)
	return h, err
}
