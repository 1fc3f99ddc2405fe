package workshop

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"hackle/change"
	"hackle/hive"
	"hackle/price"
	"hackle/quantity"
)

// CutList is the document of some jobs for one hive: what --json prints and the
// pages show. Numbers are SI, the names say the unit.
type CutList struct {
	Hive     string     `json:"hive"`
	Copies   int        `json:"copies"`
	Jobs     []ListJob  `json:"jobs"`
	Stock    []ListRow  `json:"stock"`
	Buy      []ListItem `json:"buy"`
	Cost     float64    `json:"cost"`      // of what must be bought whole
	CostUsed float64    `json:"cost_used"` // of what is used of it
	Currency string     `json:"currency"`
	Invented bool       `json:"prices_are_invented"`
	Missing  []string   `json:"without_price"`
	Mass     float64    `json:"mass_kg"` // of the new parts
	Loads    []Load     `json:"loads"`   // the hive with the jobs done
	Fits     bool       `json:"fits"`    // every check of every job holds
}

// ListJob is one job of a cut list.
type ListJob struct {
	Kind     string      `json:"kind"`
	Title    string      `json:"title"`
	Purpose  string      `json:"purpose"`
	Parts    []ListPart  `json:"parts"`
	Checks   []ListCheck `json:"checks"`
	Steps    []string    `json:"steps"`
	Cautions []string    `json:"cautions"`
	Notes    []string    `json:"notes"`
	Mass     float64     `json:"mass_kg"`
}

// ListPart is one kind of piece.
type ListPart struct {
	Name      string        `json:"name"`
	Material  string        `json:"material"`
	Count     int           `json:"count"`
	Length    float64       `json:"length_m"`
	Width     float64       `json:"width_m"`
	Thickness float64       `json:"thickness_m"`
	CutLength float64       `json:"cut_length_m"`
	CutWidth  float64       `json:"cut_width_m"`
	Grain     bool          `json:"grain_along_length"`
	Drill     bool          `json:"already_there"` // only to be drilled or marked
	Mass      float64       `json:"mass_kg"`       // of one
	Features  []ListFeature `json:"features"`
	Note      string        `json:"note"`
}

// ListFeature is a hole, notch or rebate of a part.
type ListFeature struct {
	Kind     string  `json:"kind"`
	X        float64 `json:"x_m"`
	Y        float64 `json:"y_m"`
	Length   float64 `json:"length_m"`
	Width    float64 `json:"width_m"`
	Diameter float64 `json:"diameter_m"`
	Depth    float64 `json:"depth_m"`
	Note     string  `json:"note"`
}

// ListCheck is one check of a job.
type ListCheck struct {
	Name   string `json:"name"`
	Holds  bool   `json:"holds"`
	Found  string `json:"found"`
	Wanted string `json:"wanted"`
}

// ListRow is the parts of one material and thickness on their sheets.
type ListRow struct {
	Material  string      `json:"material"`
	Thickness float64     `json:"thickness_m"`
	Form      string      `json:"form"`
	Cost      float64     `json:"cost"`
	CostUsed  float64     `json:"cost_used"`
	Waste     float64     `json:"waste_share"` // neither piece nor off-cut worth keeping
	Notes     []string    `json:"notes"`
	Pieces    []string    `json:"pieces"` // their names; sheets refer to them by number from 1
	Sheets    []ListSheet `json:"sheets"`
}

// ListSheet is one blank as it is sawn.
type ListSheet struct {
	Name    string      `json:"name"`
	Length  float64     `json:"length_m"`
	Width   float64     `json:"width_m"`
	Pieces  []ListPlace `json:"pieces"`
	Cuts    []ListCut   `json:"cuts"` // in the order of sawing, each from edge to edge
	Offcuts []Rect      `json:"offcuts"`
}

// ListPlace is a piece on a blank.
type ListPlace struct {
	Number int  `json:"number"`
	Turned bool `json:"turned"`
	Rect
}

// ListCut is one pass of the saw.
type ListCut struct {
	FromX float64 `json:"from_x_m"`
	FromY float64 `json:"from_y_m"`
	ToX   float64 `json:"to_x_m"`
	ToY   float64 `json:"to_y_m"`
}

// ListItem is something to buy that is not cut.
type ListItem struct {
	Name   string  `json:"name"`
	Amount float64 `json:"amount"`
	Unit   string  `json:"unit"`
	Length float64 `json:"length_m,omitempty"`
	Stock  string  `json:"sold_as"`
	Cost   float64 `json:"cost"`
	Note   string  `json:"note"`
}

// Work is some jobs for one hive, one after another: each is worked out for the
// hive as the one before leaves it.
type Work struct {
	Jobs   []Job
	Order  Order
	Plan   hive.Plan // as all jobs leave it
	Copies int
}

// MakeAll works out several jobs for one hive, in their order but coats of the
// walls last, as what goes on the boxes is measured by the boxes, and the order
// for all of them together.
func MakeAll(plan hive.Plan, specs []Spec, copies int, prices *price.Table, o Options) (Work, error) {
	w := Work{Plan: plan, Copies: copies}
	coat := func(s Spec) int {
		switch s.Kind {
		case "wall-panels":
			return 1
		case "wrap":
			return 2
		}
		return 0
	}
	specs = slices.Clone(specs)
	slices.SortStableFunc(specs, func(a, b Spec) int { return coat(a) - coat(b) })
	for _, s := range specs {
		j, err := Make(w.Plan, s, o)
		if err != nil {
			return Work{}, err
		}
		w.Jobs = append(w.Jobs, j)
		w.Plan = j.Plan
	}
	var err error
	w.Order, err = NewOrder(w.Jobs, copies, prices, o)
	return w, err
}

// List is the document of the work.
func (w Work) List() CutList {
	l := CutList{
		Hive: w.Plan.Hive.Name, Copies: w.Copies, Jobs: []ListJob{}, Stock: []ListRow{}, Buy: []ListItem{}, Missing: append([]string{}, w.Order.Missing...),
		Cost: w.Order.Cost, CostUsed: w.Order.CostUsed, Currency: w.Order.Currency, Invented: w.Order.Invented, Mass: w.Order.Mass,
		Loads: Loads(w.Plan.Hive, w.Plan.Colony.Bees), Fits: true,
	}
	for _, j := range w.Jobs {
		job := ListJob{Kind: j.Kind, Title: j.Title, Purpose: j.Purpose, Parts: []ListPart{}, Checks: []ListCheck{}, Steps: j.Steps, Cautions: j.Cautions, Notes: append([]string{}, j.Notes...), Mass: j.Mass()}
		for _, p := range j.Parts {
			cl, cw := p.CutSize()
			part := ListPart{Name: p.Name, Material: p.Material.Name, Count: p.Count, Length: p.Length, Width: p.Width, Thickness: p.Thickness,
				CutLength: cl, CutWidth: cw, Grain: p.Grain, Drill: p.Existing, Mass: p.Mass(), Features: []ListFeature{}, Note: p.Note}
			for _, f := range p.Features {
				part.Features = append(part.Features, ListFeature{string(f.Kind), f.X, f.Y, f.Length, f.Width, f.Diameter, f.Depth, f.Note})
			}
			job.Parts = append(job.Parts, part)
		}
		for _, c := range j.Checks {
			job.Checks = append(job.Checks, ListCheck{c.Name, c.OK, c.Found, c.Wanted})
			l.Fits = l.Fits && c.OK
		}
		l.Jobs = append(l.Jobs, job)
	}
	for _, g := range w.Order.Groups {
		row := ListRow{Material: g.Material, Thickness: g.Thickness, Form: string(g.Form), Cost: g.Cost, CostUsed: g.CostUsed, Waste: g.Nesting.Waste(), Notes: append([]string{}, g.Notes...), Pieces: []string{}, Sheets: []ListSheet{}}
		for _, p := range g.Pieces {
			row.Pieces = append(row.Pieces, p.Name)
		}
		for _, x := range g.Nesting.Layouts {
			b := g.Blanks[x.Blank]
			sheet := ListSheet{Name: b.Name, Length: b.Length, Width: b.Width, Pieces: []ListPlace{}, Cuts: []ListCut{}, Offcuts: append([]Rect{}, x.Offcuts...)}
			for _, p := range x.Placed {
				sheet.Pieces = append(sheet.Pieces, ListPlace{p.Piece + 1, p.Turned, p.Rect})
			}
			for _, c := range x.Cuts {
				sheet.Cuts = append(sheet.Cuts, ListCut(c))
			}
			row.Sheets = append(row.Sheets, sheet)
		}
		l.Stock = append(l.Stock, row)
	}
	for _, i := range w.Order.Items {
		l.Buy = append(l.Buy, ListItem{i.Name, i.Amount, i.Unit, i.Length, i.Stock, i.Cost, i.Note})
	}
	return l
}

// Drawings are all drawings of the work: of the jobs, then of the sheets.
func (w Work) Drawings(system quantity.System) []Drawing {
	var list []Drawing
	for _, j := range w.Jobs {
		list = append(list, Drawings(j, system)...)
	}
	for _, g := range w.Order.Groups {
		for i := range g.Nesting.Layouts {
			list = append(list, DrawLayout(g, i, system))
		}
	}
	return list
}

// Cautions are those of all jobs, each once.
func (l CutList) Cautions() []string {
	var all []string
	for _, j := range l.Jobs {
		for _, c := range j.Cautions {
			if !slices.Contains(all, c) {
				all = append(all, c)
			}
		}
	}
	return all
}

// spot says where the lower left corner of something lies on a part.
func spot(x, y float64, measure func(float64) string) string {
	const here = 1e-6
	switch {
	case x < here && y < here:
		return "in the lower left corner"
	case y < here:
		return measure(x) + " from the left, at the lower edge"
	case x < here:
		return "at the left edge, " + measure(y) + " from below"
	}
	return measure(x) + " from the left, " + measure(y) + " from below"
}

// WriteText writes the cut list for people.
func (l CutList) WriteText(out io.Writer, system quantity.System, wrap func(text, indent string) string) error {
	var b strings.Builder
	m := func(v float64) string { return Measure(v, system) }
	mass := func(v float64) string { return quantity.Format(v, quantity.Mass, system) }
	money := func(v float64) string { return fmt.Sprintf("%.2f %s", v, l.Currency) }
	for i, j := range l.Jobs {
		if i > 0 {
			b.WriteString("\n")
		}
		fmt.Fprintf(&b, "%s for %s\n", strings.ToUpper(j.Title[:1])+j.Title[1:], l.Hive)
		b.WriteString(wrap(j.Purpose, "  "))
		b.WriteString("\n")
		for _, p := range j.Parts {
			line := fmt.Sprintf("%3d  %-26s %s × %s × %s  %s", p.Count, p.Name, m(p.Length), m(p.Width), m(p.Thickness), p.Material)
			if p.CutLength != p.Length {
				line += fmt.Sprintf("; cut %s × %s", m(p.CutLength), m(p.CutWidth))
			}
			if p.Drill {
				line += "; there already, drill only"
			}
			b.WriteString(wrap(line, "  "))
			for _, f := range p.Features {
				var text string
				switch f.Kind {
				case string(Hole):
					text = fmt.Sprintf("hole %s, middle %s", m(f.Diameter), spot(f.X, f.Y, m))
				case string(Rebate):
					text = fmt.Sprintf("rebate %s × %s, %s deep, %s", m(f.Length), m(f.Width), m(f.Depth), spot(f.X, f.Y, m))
				default:
					text = fmt.Sprintf("cut-out %s × %s, %s", m(f.Length), m(f.Width), spot(f.X, f.Y, m))
				}
				if f.Note != "" {
					text += " (" + f.Note + ")"
				}
				b.WriteString(wrap(text, "         "))
			}
			if p.Note != "" {
				b.WriteString(wrap(p.Note, "         "))
			}
		}
		b.WriteString("\n  Steps\n")
		for n, s := range j.Steps {
			b.WriteString(wrap(fmt.Sprintf("%d. %s", n+1, s), "    "))
		}
		b.WriteString("\n  Does it fit\n")
		for _, c := range j.Checks {
			word := "yes"
			if !c.Holds {
				word = "NO "
			}
			b.WriteString(wrap(fmt.Sprintf("%s  %s: %s (wanted: %s)", word, c.Name, c.Found, c.Wanted), "    "))
		}
		if len(j.Notes) > 0 {
			b.WriteString("\n  Notes\n")
			for _, n := range j.Notes {
				b.WriteString(wrap(n, "    "))
			}
		}
	}
	b.WriteString("\nCautions\n")
	for _, c := range l.Cautions() {
		b.WriteString(wrap(c, "  "))
	}
	if len(l.Stock) > 0 {
		fmt.Fprintf(&b, "\nSheets and boards\n")
	}
	for _, r := range l.Stock {
		fmt.Fprintf(&b, "  %s %s: %s, %.0f %% kerf and scrap\n", r.Material, m(r.Thickness), money(r.Cost), 100*r.Waste)
		for i, s := range r.Sheets {
			var parts []string
			for _, p := range s.Pieces {
				parts = append(parts, fmt.Sprintf("%s (%s × %s)", r.Pieces[p.Number-1], bare(p.Length, system), bare(p.Width, system)))
			}
			b.WriteString(wrap(fmt.Sprintf("%d. %s × %s: %s", i+1, m(s.Length), m(s.Width), strings.Join(parts, "; ")), "    "))
			var left []string
			for _, o := range s.Offcuts {
				left = append(left, fmt.Sprintf("%s × %s", bare(o.Length, system), bare(o.Width, system)))
			}
			if len(left) > 0 {
				b.WriteString(wrap("left over: "+strings.Join(left, ", "), "       "))
			}
		}
		for _, n := range r.Notes {
			b.WriteString(wrap(n, "    "))
		}
	}
	if len(l.Buy) > 0 {
		b.WriteString("\nTo buy besides\n")
	}
	for _, i := range l.Buy {
		amount := fmt.Sprintf("%g", i.Amount)
		switch i.Unit {
		case "m³":
			amount = quantity.Format(i.Amount, quantity.Volume, system)
		case "pieces":
		default:
			amount += " " + i.Unit
		}
		text := fmt.Sprintf("%s %s", amount, i.Name)
		if i.Length > 0 {
			text += " " + m(i.Length)
		}
		if i.Stock != "" {
			text += fmt.Sprintf(": %s", money(i.Cost))
		}
		if i.Note != "" {
			text += " (" + i.Note + ")"
		}
		b.WriteString(wrap(text, "  "))
	}
	b.WriteString("\n")
	whole := fmt.Sprintf("Together %s for whole sheets and packs, of which %s is used.", money(l.Cost), money(l.CostUsed))
	if l.Copies > 1 {
		whole = fmt.Sprintf("For %d hives together %s for whole sheets and packs, of which %s is used.", l.Copies, money(l.Cost), money(l.CostUsed))
	}
	if l.Invented {
		whole += " The prices are invented examples: put your own in a price file."
	}
	b.WriteString(wrap(whole, ""))
	for _, x := range l.Missing {
		b.WriteString(wrap("Not priced: "+x, "  "))
	}
	b.WriteString(wrap(fmt.Sprintf("The new parts weigh %s.", mass(l.Mass)), ""))
	for _, x := range l.Loads {
		text := fmt.Sprintf("%s: about %s", x.What, mass(x.Mass))
		if x.Heavy {
			text += ", over the caution of " + mass(LiftCaution) + " for one"
		}
		b.WriteString(wrap(text, "  "))
	}
	if !l.Fits {
		b.WriteString(wrap("Something does not fit: see the checks marked NO before you cut.", ""))
	}
	_, err := io.WriteString(out, b.String())
	return err
}

// ParseSpec reads what is to be made: the name of a kind, with a material, a
// thickness or both after an equals sign ("wall-panels=cork 50 mm"), or a change
// of the catalogue that is made of material ("lid=mineral wool 76 mm"). Fields of
// usual that the text leaves open stay as they are.
func ParseSpec(text string, usual Spec) (Spec, error) {
	name, rest, _ := strings.Cut(text, "=")
	name = strings.TrimSpace(name)
	for _, k := range Kinds() {
		if k.Name != name {
			continue
		}
		s := usual
		s.Kind = name
		rest = strings.TrimSpace(rest)
		if strings.Contains(rest, ",") { // more is said than a material: a change
			break
		}
		if name == "lid" && rest != "" { // the change: insulation in the lid
			s.Kind = "lid-insulation"
		}
		if rest == "" {
			return s, nil
		}
		if name == "frame-wires" {
			s.Pattern = hive.Support(rest)
			return s, nil
		}
		s.layer(rest)
		return s, nil
	}
	c, err := change.Parse(text)
	if err != nil {
		var names []string
		for _, k := range Kinds() {
			names = append(names, k.Name)
		}
		return Spec{}, fmt.Errorf("%q is nothing that can be made: it may be %s, or a change such as \"lid=mineral wool 76 mm\" (as a change: %w)", text, strings.Join(names, ", "), err)
	}
	s, ok := ForChange(c)
	if !ok {
		return Spec{}, fmt.Errorf("the change %q needs nothing from the bench", text)
	}
	s.Own = usual.Own
	return s, nil
}

// layer reads a material, a thickness or both.
func (s *Spec) layer(text string) {
	words := strings.Fields(text)
	for i := range words { // the longest end that is a length
		if v, err := quantity.Parse(strings.Join(words[i:], " "), quantity.Length); err == nil {
			s.Thickness = v
			words = words[:i]
			break
		}
	}
	if len(words) > 0 {
		s.Material = strings.Join(words, " ")
	}
}

// ForChange returns what has to be made for a change of the catalogue; ok is false
// when it is bought, done or left undone without a saw.
func ForChange(c change.Change) (s Spec, ok bool) {
	kinds := map[string]string{
		"lid": "lid-insulation", "winter top": "lid-insulation", "walls": "wall-panels", "wrap": "wrap", "quilt": "quilt",
		"tray": "floor-tray", "entrance": "entrance-reducer", "follower": "follower-board", "windbreak": "windbreak", "wiring": "frame-wires",
	}
	if s.Kind, ok = kinds[c.Kind]; !ok {
		return Spec{}, false
	}
	if l, said := c.Values["layer"]; said {
		s.Material, s.Thickness = l.Word, l.Number
	} else if k, err := change.Find(c.Kind); err == nil {
		for _, p := range k.Params {
			if p.Key == "layer" {
				s.layer(p.Default)
			}
		}
	}
	if f, said := c.Values["faces"]; said {
		s.Faces = f.Faces
	}
	if f, said := c.Values["frames"]; said {
		s.Frames = int(f.Number)
	}
	s.On, s.Off = c.Values["on"].Day, c.Values["off"].Day
	if w, said := c.Values["support"]; said {
		s.Pattern = hive.Support(w.Word)
		switch s.Pattern {
		case hive.SupportCrossed, hive.SupportLevel, hive.SupportUpright:
		default:
			return Spec{}, false
		}
	}
	return s, true
}
