package web

import (
	"bytes"
	"errors"
	"fmt"
	"html/template"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"hackle/quantity"
	"hackle/workshop"
)

// mostMade are worked out together; mostCopies is for how many hives.
const (
	mostMade   = 8
	mostCopies = 100
)

// benchPages are the pages of the workshop, the calendar and the report.
func benchPages() []page {
	return []page{
		{route: "GET /hive/{hive}/workshop", tab: "Workshop", template: "workshop", serve: showWorkshop},
		{route: "GET /hive/{hive}/workshop.pdf", serve: sendWorkshop},
		{route: "GET /hive/{hive}/workshop/drawing", serve: sendDrawing},
		{route: "GET /hive/{hive}/calendar", tab: "Calendar", template: "calendar", serve: showCalendar},
		{route: "GET /hive/{hive}/calendar.ics", serve: sendCalendar},
		{route: "GET /hive/{hive}/calendar.svg", serve: sendStrip},
		{route: "GET /hive/{hive}/calendar.png", serve: sendStrip},
		{route: "GET /hive/{hive}/report", tab: "Report", template: "report", serve: showReport},
		{route: "GET /hive/{hive}/report.pdf", serve: sendReport},
		{route: "GET /hive/{hive}/report.html", serve: sendReport},
		{route: "GET /yard/{yard}/report.pdf", serve: sendYardReport},
		{route: "GET /yard/{yard}/report.html", serve: sendYardReport},
	}
}

// benchWork is what an address asks to make, worked out.
type benchWork struct {
	texts   []string
	copies  int
	work    *workshop.Work
	problem string
}

// made reads what the address asks to make ("make", or "change" as on the page of
// changes) and works it out. Nothing picked is no problem and no work.
func (v *visit) made(a *asked) (m benchWork, err error) {
	q := v.request.URL.Query()
	m.copies = 1
	if text := q.Get("copies"); text != "" {
		if m.copies, err = strconv.Atoi(text); err != nil || m.copies < 1 || m.copies > mostCopies {
			return m, refuse("copies %q, accepted: 1 to %d", text, mostCopies)
		}
	}
	for _, text := range slices.Concat(q["make"], q["change"]) {
		text = strings.TrimSpace(text)
		if text != "" && !slices.Contains(m.texts, text) {
			m.texts = append(m.texts, text)
		}
	}
	if len(m.texts) > mostMade {
		return m, refuse("%d things to make, accepted: at most %d at a time", len(m.texts), mostMade)
	}
	var specs []workshop.Spec
	for _, text := range m.texts {
		if len(text) > 200 {
			return m, refuse("a thing to make of %d characters, accepted: at most 200", len(text))
		}
		s, err := workshop.ParseSpec(text, workshop.Spec{})
		switch {
		case err != nil && slices.Contains(q["change"], text): // a change that needs nothing made
			continue
		case err != nil:
			m.problem = err.Error()
			return m, nil
		}
		specs = append(specs, s)
	}
	if len(specs) == 0 {
		return m, nil
	}
	prices, err := v.prices(v.context())
	if err != nil {
		return m, err
	}
	o := workshop.DefaultOptions()
	o.System = v.system
	w, err := workshop.MakeAll(a.Plan, specs, m.copies, prices, o)
	var part *workshop.PartError
	var nest *workshop.NestError
	switch {
	case errors.As(err, &part), errors.As(err, &nest):
		m.problem = upper(err.Error()) + "."
		return m, nil
	case err != nil:
		m.problem = err.Error()
		return m, nil
	}
	m.work = &w
	return m, nil
}

// query names what is made, for addresses of files.
func (m benchWork) query() string {
	q := url.Values{}
	for _, t := range m.texts {
		q.Add("make", t)
	}
	if m.copies > 1 {
		q.Set("copies", fmt.Sprint(m.copies))
	}
	return q.Encode()
}

// workshopPage is what is to be cut and bought.
type workshopPage struct {
	Sentence string
	Problem  string
	Kinds    []benchKind
	Typed    string
	Copies   int
	List     *workshop.CutList
	Jobs     []benchJob
	Sheets   []benchSheet
	Buy      []benchBuy
	Cost     string
	Used     string
	Loads    []string
	Cautions []string
	Query    template.URL // of what is made, encoded
}

type benchKind struct {
	Name, Title string
	On          bool
}

type benchJob struct {
	Title, Purpose string
	Picture        template.HTML
	Parts          []benchPart
	Steps          []string
	Checks         []workshop.ListCheck
	Notes          []string
}

type benchPart struct {
	Count                                  int
	Name, Length, Width, Thick, Note, Made string
	Drawing                                string // its number, for addresses
}

type benchSheet struct {
	Title   string
	Picture template.HTML
	Pieces  []string
	Notes   []string
}

type benchBuy struct{ What, Amount, Cost, Note string }

// inlineSVG is a drawing of ours in a page: every name in it was escaped.
func inlineSVG(d workshop.Drawing) (template.HTML, error) {
	var b bytes.Buffer
	if err := d.SVG(&b); err != nil {
		return "", err
	}
	return template.HTML(b.String()), nil
}

func showWorkshop(v *visit) (view, error) {
	a, head, err := v.hive()
	if err != nil {
		return view{}, err
	}
	m, err := v.made(a)
	if err != nil {
		return view{Hive: head}, err
	}
	p := workshopPage{Problem: m.problem, Copies: m.copies, Query: template.URL(m.query())}
	var typed []string
	picked := map[string]bool{}
	for _, t := range m.texts {
		picked[t] = true
	}
	for _, k := range workshop.Kinds() {
		p.Kinds = append(p.Kinds, benchKind{k.Name, k.Title, picked[k.Name]})
		delete(picked, k.Name)
	}
	for _, t := range m.texts {
		if picked[t] {
			typed = append(typed, t)
		}
	}
	if len(typed) == 1 {
		p.Typed = typed[0]
	}
	p.Sentence = "What shall be made?"
	if len(m.texts) > 0 {
		p.Sentence = "Nothing of this has to be made."
	}
	if m.problem != "" {
		p.Sentence = "This cannot be made as it is."
	}
	if m.work != nil {
		if err := p.fill(m, v.system); err != nil {
			return view{Hive: head}, err
		}
	}
	return view{Title: "Workshop", Place: "yard", Hive: head, Body: p}, nil
}

// fill tells of the work.
func (p *workshopPage) fill(m benchWork, system quantity.System) error {
	l := m.work.List()
	p.List = &l
	s := say{system}
	money := func(x float64) string { return fmt.Sprintf("%.2f %s", x, l.Currency) }
	measure := func(x float64) string { return workshop.Measure(x, system) }
	fit := "Everything fits."
	if !l.Fits {
		fit = "Something does not fit: look at the checks before you cut."
	}
	parts, names := 0, []string{}
	number := 0
	for i, j := range m.work.Jobs {
		names = append(names, j.Title)
		b := benchJob{Title: upper(j.Title), Purpose: j.Purpose, Steps: j.Steps, Checks: l.Jobs[i].Checks, Notes: j.Notes}
		if d := workshop.DrawSection(j, system); len(d.Paths) > 0 {
			var err error
			if b.Picture, err = inlineSVG(d); err != nil {
				return err
			}
			number++
		}
		for _, x := range l.Jobs[i].Parts {
			parts += x.Count
			row := benchPart{Count: x.Count, Name: x.Name, Length: measure(x.Length), Width: measure(x.Width), Thick: measure(x.Thickness), Made: x.Material, Note: x.Note, Drawing: fmt.Sprint(number)}
			if x.CutLength != x.Length {
				row.Note = strings.TrimPrefix(row.Note+fmt.Sprintf("; cut %s × %s", measure(x.CutLength), measure(x.CutWidth)), "; ")
			}
			if x.Drill {
				row.Note = strings.TrimPrefix(row.Note+"; there already, drill only", "; ")
			}
			number++
			b.Parts = append(b.Parts, row)
		}
		p.Jobs = append(p.Jobs, b)
	}
	p.Sentence = fmt.Sprintf("%d pieces for %s, about %s with whole sheets and packs. %s", parts*m.copies, joined(names), money(l.Cost), fit)
	for i, g := range m.work.Order.Groups {
		for k := range g.Nesting.Layouts {
			d := workshop.DrawLayout(g, k, system)
			svg, err := inlineSVG(d)
			if err != nil {
				return err
			}
			sheet := benchSheet{Title: d.Title, Picture: svg}
			for _, x := range l.Stock[i].Sheets[k].Pieces {
				sheet.Pieces = append(sheet.Pieces, fmt.Sprintf("%d: %s", x.Number, l.Stock[i].Pieces[x.Number-1]))
			}
			if k == 0 {
				sheet.Notes = g.Notes
			}
			p.Sheets = append(p.Sheets, sheet)
		}
		p.Buy = append(p.Buy, benchBuy{What: g.Title(system) + ", " + string(g.Form), Amount: fmt.Sprint(len(g.Nesting.Layouts)), Cost: money(g.Cost), Note: fmt.Sprintf("%.0f %% kerf and scrap", 100*g.Nesting.Waste())})
	}
	for _, i := range l.Buy {
		amount := fmt.Sprintf("%g", i.Amount)
		if i.Unit == "m³" {
			amount = s.Volume(i.Amount)
		}
		name, cost := i.Name, "no price"
		if i.Length > 0 {
			name += " " + measure(i.Length)
		}
		if i.Stock != "" {
			cost = money(i.Cost)
		}
		p.Buy = append(p.Buy, benchBuy{name, amount, cost, i.Note})
	}
	p.Cost, p.Used, p.Cautions = money(l.Cost), money(l.CostUsed), l.Cautions()
	for _, x := range l.Loads {
		text := fmt.Sprintf("%s: about %s", x.What, s.Mass(x.Mass))
		if x.Heavy {
			text += ", more than one should lift"
		}
		p.Loads = append(p.Loads, text)
	}
	return nil
}

// joined writes names as "a, b and c".
func joined(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// paperOf reads a size of paper: A4, or Letter for readers of inches.
func (v *visit) paperOf() (workshop.Paper, error) {
	text := v.request.URL.Query().Get("paper")
	switch {
	case strings.EqualFold(text, workshop.Letter.Name), text == "" && v.system == quantity.US:
		return workshop.Letter, nil
	case text == "", strings.EqualFold(text, workshop.A4.Name):
		return workshop.A4, nil
	}
	return workshop.Paper{}, refuse("paper %q, accepted: A4 or Letter", text)
}

// drawings finds what is to be made; nothing is a refusal here.
func (v *visit) drawings() (*asked, *workshop.Work, error) {
	a, _, err := v.hive()
	if err != nil {
		return nil, nil, err
	}
	m, err := v.made(a)
	switch {
	case err != nil:
		return nil, nil, err
	case m.problem != "":
		return nil, nil, refuse("%s", m.problem)
	case m.work == nil:
		return nil, nil, refuse("nothing to make was named")
	}
	return a, m.work, nil
}

func sendWorkshop(v *visit) (view, error) {
	a, w, err := v.drawings()
	if err != nil {
		return view{}, err
	}
	paper, err := v.paperOf()
	if err != nil {
		return view{}, err
	}
	var b bytes.Buffer
	if err := workshop.PDF(&b, a.Hive.Name, w.Drawings(v.system), paper); err != nil {
		return view{}, err
	}
	attach(v.w, fileName(a.Hive.Name, "-workshop.pdf"), "application/pdf")
	_, _ = v.w.Write(b.Bytes()) // the reader is gone when this fails
	return view{written: true}, nil
}

// sendDrawing sends one drawing, by its number, as SVG, DXF or PDF at full size.
func sendDrawing(v *visit) (view, error) {
	a, w, err := v.drawings()
	if err != nil {
		return view{}, err
	}
	list := w.Drawings(v.system)
	q := v.request.URL.Query()
	n, err := strconv.Atoi(q.Get("n"))
	if err != nil || n < 0 || n >= len(list) {
		return view{}, refuse("drawing %q, accepted: 0 to %d", q.Get("n"), len(list)-1)
	}
	var b bytes.Buffer
	name := fileName(a.Hive.Name+" "+list[n].Title, "")
	kind := "image/svg+xml"
	switch as := q.Get("as"); as {
	case "", "svg":
		name += ".svg"
		err = list[n].SVG(&b)
	case "dxf":
		name, kind = name+".dxf", "image/vnd.dxf"
		err = list[n].DXF(&b)
	case "pdf":
		paper, wrong := v.paperOf()
		if wrong != nil {
			return view{}, wrong
		}
		name, kind = name+"-full-size.pdf", "application/pdf"
		if err = workshop.TiledPDF(&b, list[n], paper); err != nil {
			return view{}, refuse("%s", err)
		}
	default:
		return view{}, refuse("form %q, accepted: svg, dxf or pdf", as)
	}
	if err != nil {
		return view{}, err
	}
	attach(v.w, name, kind)
	_, _ = v.w.Write(b.Bytes())
	return view{written: true}, nil
}
