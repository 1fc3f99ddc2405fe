package web

import (
	"bytes"
	"slices"
	"strings"

	"hackle/internal/report"
	"hackle/workshop"
	"hackle/yard"
)

// reportPage leads to the report and says what it will hold.
type reportPage struct {
	Sentence string
	Kinds    []benchKind
	Extra    []string // further things to make, as the address says
	Letter   bool
}

func showReport(v *visit) (view, error) {
	a, r, err := v.answered()
	if err != nil {
		return view{}, err
	}
	p := reportPage{Sentence: r.Ledger.Answer(v.system)}
	if first, _, ok := strings.Cut(p.Sentence, "; "); ok {
		p.Sentence = first + "."
	}
	p.Extra = slices.Clone(v.request.URL.Query()["make"])
	for _, k := range workshop.Kinds() {
		at := slices.Index(p.Extra, k.Name)
		p.Kinds = append(p.Kinds, benchKind{k.Name, k.Title, at >= 0})
		if at >= 0 {
			p.Extra = slices.Delete(p.Extra, at, at+1)
		}
	}
	paper, err := v.paperOf()
	if err != nil {
		return view{Hive: headOf(a)}, err
	}
	p.Letter = paper.Name == workshop.Letter.Name
	return view{Title: "Report", Place: "yard", Hive: headOf(a), Body: p}, nil
}

// sendReport sends the report of a hive as PDF or HTML.
func sendReport(v *visit) (view, error) {
	a, r, year, err := v.yearOf()
	if err != nil {
		return view{}, err
	}
	paper, err := v.paperOf()
	if err != nil {
		return view{}, err
	}
	_, cal, err := v.calendarOf()
	if err != nil {
		return view{}, err
	}
	m, err := v.made(a)
	if err != nil {
		return view{}, err
	}
	if m.problem != "" {
		return view{}, refuse("%s", m.problem)
	}
	plan := a.Plan
	if plan.Site.Name == "" {
		plan.Site.Name = a.Yard.Name
	}
	doc := report.Report{
		Weather: a.Set.Weather.Name, Source: a.Set.Weather.Source, Made: v.config.Now(), From: a.Set.First, To: a.Set.Last, System: v.system,
		Hives: []report.Hive{{Plan: plan, Ledger: r.Ledger, Year: year, Months: r.Water, Work: m.work, Calendar: &cal, Notes: slices.Concat(a.Notes, a.Set.Notes)}},
	}
	return v.sendDocument(doc, a.Hive.Name, paper)
}

// sendYardReport sends the report of all hives of a yard whose runs are known. A
// hive is cut open in it when the hours of its run are still in memory.
func sendYardReport(v *visit) (view, error) {
	ctx := v.context()
	id, err := yard.ParseID(v.request.PathValue("yard"))
	if err != nil {
		return view{}, &missing{what: "yard " + v.request.PathValue("yard")}
	}
	y, err := v.config.Store.Yards.Get(ctx, id)
	if err != nil {
		return view{}, err
	}
	paper, err := v.paperOf()
	if err != nil {
		return view{}, err
	}
	hives, err := v.config.Store.HivesOf(ctx, id)
	if err != nil {
		return view{}, err
	}
	doc := report.Report{Title: y.Name, Made: v.config.Now(), System: v.system}
	for _, h := range hives {
		b, err := v.standing(ctx, h.ID)
		if err != nil {
			continue // its page says what is wrong with it
		}
		a, err := v.askOf(ctx, y, h, b, v.system)
		if err != nil {
			continue
		}
		r, err := v.found(ctx, a)
		if err != nil {
			return view{}, err
		}
		if r == nil {
			continue
		}
		plan := a.Plan
		plan.Hive.Name = h.Name
		one := report.Hive{Plan: plan, Ledger: r.Ledger, Months: r.Water, Notes: slices.Concat(a.Notes, a.Set.Notes)}
		if year, ok := v.shelves.years.get(a.Key); ok {
			one.Year = year
		}
		if len(doc.Hives) == 0 {
			cal, err := v.calendarFor(a, r)
			if err != nil {
				return view{}, err
			}
			one.Calendar = &cal
			doc.Weather, doc.Source, doc.From, doc.To = a.Set.Weather.Name, a.Set.Weather.Source, a.Set.First, a.Set.Last
		}
		doc.Hives = append(doc.Hives, one)
	}
	if len(doc.Hives) == 0 {
		return view{}, refuse("no hive of this yard has been computed yet: open the page of the yard first")
	}
	return v.sendDocument(doc, y.Name, paper)
}

// sendDocument writes a report in the form that the address ends in.
func (v *visit) sendDocument(doc report.Report, named string, paper workshop.Paper) (view, error) {
	var b bytes.Buffer
	name, kind, write := fileName(named, ".pdf"), "application/pdf", doc.PDF
	if strings.HasSuffix(v.request.URL.Path, ".html") {
		name, kind, write = fileName(named, ".html"), "text/html; charset=utf-8", doc.HTML
	}
	if err := write(&b, paper); err != nil {
		return view{}, err
	}
	attach(v.w, name, kind)
	_, _ = v.w.Write(b.Bytes()) // the reader is gone when this fails
	return view{written: true}, nil
}
