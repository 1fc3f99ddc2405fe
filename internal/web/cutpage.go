package web

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"html/template"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"hackle/internal/cutaway"
	"hackle/internal/raster"
	"hackle/ledger"
)

// cutPage is the hive cut open at an hour of its year.
type cutPage struct {
	Drawing  template.HTML
	Sentence string
	When     string
	Text     string
	Readings []cutaway.Reading
	Sections []link
	Section  cutaway.Section
	Measured bool
	Measure  string // address that shows or hides the measures
	Hour     int
	Last     int
	Steps    []link
	Worst    []moment
	Strip    template.HTML
	Data     string // address of the hours
	Words    string // address of the words of an hour
	Here     string // address of this page without its hour
	SVG, PNG string
	Basis    basis
}

// moment is a time worth seeing.
type moment struct {
	Path, What, When string
	Hour             int
}

// yearOf finds the hive of a page and what can be drawn of its run.
func (v *visit) yearOf() (*asked, *result, *cutaway.Year, error) {
	a, head, err := v.hive()
	if err != nil {
		return nil, nil, nil, err
	}
	y, r, w, err := v.drawn(v.context(), a)
	if err != nil {
		return nil, nil, nil, err
	}
	if y == nil {
		return nil, nil, nil, &underway{w, head}
	}
	return a, r, y, nil
}

// moments are the worst hours of a ledger that lie in the year, in order of time.
func (v *visit) moments(l *ledger.Ledger, y *cutaway.Year) (all []moment) {
	s := say{v.system}
	add := func(at time.Time, what string) {
		if at.IsZero() || at.Before(y.Time(0)) || !at.Before(y.Time(y.Hours())) {
			return
		}
		h := y.Hour(at)
		all = append(all, moment{What: what, When: y.Time(h).Format("2 Jan 2006 15:04"), Hour: h})
	}
	if l.ColdestWeek != nil {
		add(l.ColdestWeek.From.In(y.Time(0).Location()).Add(84*time.Hour), "Middle of the coldest week")
	}
	add(l.Warmth.UnderLidAt, fmt.Sprintf("Coldest under the lid, %s", s.Temp(l.Warmth.UnderLidMin)))
	add(l.Bees.HardestAt, "Bees work hardest, "+s.Percent(l.Bees.HardestShare)+" of what they can")
	if l.Honey.Left > 0 {
		what := fmt.Sprintf("Least honey in contact, for %.1f days", l.ReachMin)
		if l.ReachMin < 0.05 {
			what = "No honey in contact"
		}
		add(l.ReachMinAt, what)
	}
	add(l.Honey.StarvedAt, "The last honey is eaten")
	add(l.Honey.LeastAt, "Stores lowest, "+s.Mass(l.Honey.Least))
	if l.Water.OverheadMost > 0 {
		add(l.Water.OverheadAt, "Most water above the bees, "+s.Mass(l.Water.OverheadMost))
	}
	add(l.CO2PeakAt, fmt.Sprintf("Most CO2, %.1f %%", l.CO2Peak))
	if l.Hot() {
		add(l.Summer.NestMaxAt, "Hottest brood nest, "+s.Temp(l.Summer.NestMax))
		add(l.Summer.CombMaxAt, "Warmest comb, "+s.Temp(l.Summer.CombMax))
		if l.Summer.OutsideMost > 0 {
			add(l.Summer.OutsideAt, "Most bees outside, "+s.Percent(l.Summer.OutsideMost))
		}
	}
	if l.Comb != nil {
		add(l.Comb.At, "Comb in most danger")
	}
	slices.SortStableFunc(all, func(a, b moment) int { return a.Hour - b.Hour })
	return all
}

// cutAsked is what an address asks to see.
type cutAsked struct {
	hour    int
	section cutaway.Section
	measure bool
}

// query reads the address; hour is the one shown when none is named.
func (v *visit) query(hour, hours int) (c cutAsked, err error) {
	q := v.request.URL.Query()
	c = cutAsked{hour: hour, section: cutaway.Along, measure: q.Get("measures") == "1"}
	if text := q.Get("section"); text != "" {
		if c.section, err = cutaway.ParseSection(text); err != nil {
			return c, refuse("%s", err)
		}
	}
	if text := q.Get("hour"); text != "" {
		if c.hour, err = strconv.Atoi(text); err != nil || c.hour < 0 || c.hour >= hours {
			return c, refuse("hour %q, accepted: a whole number from 0 to %d", text, hours-1)
		}
	}
	return c, nil
}

// address of a page of the hive that asks for the same.
func (c cutAsked) address(hive, page string) string {
	q := url.Values{"hour": {strconv.Itoa(c.hour)}, "section": {string(c.section)}}
	if c.measure {
		q.Set("measures", "1")
	}
	return "/hive/" + hive + "/" + page + "?" + q.Encode()
}

func showCutaway(v *visit) (view, error) {
	a, r, y, err := v.yearOf()
	if err != nil {
		return view{}, err
	}
	worst := v.moments(&r.Ledger, y)
	first := 0
	for _, m := range worst {
		if strings.HasPrefix(m.What, "Coldest under") {
			first = m.Hour
		}
	}
	c, err := v.query(first, y.Hours())
	if err != nil {
		return view{}, err
	}
	id := string(a.Hive.ID)
	svg, err := y.Draw(c.hour, cutaway.Options{Section: c.section, Units: v.system, Dimensions: c.measure, Names: c.measure})
	if err != nil {
		return view{}, err
	}
	p := cutPage{Drawing: template.HTML(svg), Sentence: y.Sentence(c.hour, v.system), When: say{v.system}.Hour(y.Time(c.hour)), Text: y.Describe(c.hour, v.system),
		Readings: y.Readings(c.hour, v.system), Section: c.section, Measured: c.measure, Hour: c.hour, Last: y.Hours() - 1, Strip: stripOf(y),
		Data: "/hive/" + id + "/cutaway.json", Words: "/hive/" + id + "/cutaway/words", SVG: c.address(id, "cutaway.svg"), PNG: c.address(id, "cutaway.png"), Basis: basisOf(a, r)}
	at := func(change func(*cutAsked)) string {
		d := c
		change(&d)
		return d.address(id, "cutaway")
	}
	for _, s := range []struct {
		name    string
		section cutaway.Section
	}{{"From the side", cutaway.Along}, {"From behind", cutaway.Across}} {
		p.Sections = append(p.Sections, link{at(func(c *cutAsked) { c.section = s.section }), s.name, s.section == c.section})
	}
	p.Measure = at(func(c *cutAsked) { c.measure = !c.measure })
	for _, s := range []struct {
		name string
		by   int
	}{{"−1 day", -24}, {"−1 hour", -1}, {"+1 hour", 1}, {"+1 day", 24}} {
		p.Steps = append(p.Steps, link{at(func(c *cutAsked) { c.hour = min(max(c.hour+s.by, 0), p.Last) }), s.name, false})
	}
	for _, m := range worst {
		m.Path = at(func(c *cutAsked) { c.hour = m.Hour })
		p.Worst = append(p.Worst, m)
	}
	return view{Title: "Cutaway", Place: "yard", Hive: headOf(a), Body: p}, nil
}

// stripOf draws the year that one drags through: a bar for each day in the colour
// of its outdoor mean, and the honey left as a line.
func stripOf(y *cutaway.Year) template.HTML {
	const high = 64
	temps, honey := y.Daily("outdoor.temp"), y.Daily("honey.left")
	n := len(temps)
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="cutaway strip" viewBox="0 0 %d %d" preserveAspectRatio="none" aria-hidden="true" focusable="false">`, n, high)
	for i, t := range temps {
		fmt.Fprintf(&b, `<rect class="t%d" x="%d" y="0" width="1.05" height="%d"/>`, cutaway.Tone(t), i, high)
	}
	most := 1.0
	for _, v := range honey {
		most = max(most, v)
	}
	if len(honey) == n {
		b.WriteString(`<path class="strip-line" vector-effect="non-scaling-stroke" d="`)
		for i, v := range honey {
			fmt.Fprintf(&b, "%c%.1f %.1f", "ML"[min(i, 1)], float64(i)+0.5, high-4-(high-12)*v/most)
		}
		b.WriteString(`"/>`)
	}
	b.WriteString(`</svg><div class="months" aria-hidden="true">`)
	// Months are read by their place: each as many parts wide as it has days.
	last := time.Month(0)
	for i := range n {
		if m := y.Time(i * 24).Month(); m != last {
			last = m
			fmt.Fprintf(&b, `<span class="d%d">%s</span>`, daysLeft(y, i, n), m.String()[:3])
		}
	}
	b.WriteString(`</div>`)
	return template.HTML(b.String())
}

// daysLeft counts the days of the strip from one on that lie in its month.
func daysLeft(y *cutaway.Year, from, n int) int {
	days := 0
	for i := from; i < n && y.Time(i*24).Month() == y.Time(from*24).Month(); i++ {
		days++
	}
	return days
}

// cutWords are what a script asks for when the reader comes to rest at an hour.
type cutWords struct {
	Hour     int               `json:"hour"`
	Time     time.Time         `json:"time"`
	When     string            `json:"when"`
	Sentence string            `json:"sentence"`
	Text     string            `json:"text"`
	Readings []cutaway.Reading `json:"readings"`
	Place    *cutaway.Place    `json:"place,omitempty"` // of the point that was asked about
	Said     string            `json:"said,omitempty"`  // the place in words
}

func sendCutawayWords(v *visit) (view, error) {
	_, _, y, err := v.yearOf()
	if err != nil {
		return view{}, err
	}
	c, err := v.query(0, y.Hours())
	if err != nil {
		return view{}, err
	}
	words := cutWords{Hour: c.hour, Time: y.Time(c.hour), When: say{v.system}.Hour(y.Time(c.hour)), Sentence: y.Sentence(c.hour, v.system), Text: y.Describe(c.hour, v.system), Readings: y.Readings(c.hour, v.system)}
	q := v.request.URL.Query()
	if q.Has("x") || q.Has("z") {
		var at [2]float64
		for i, name := range []string{"x", "z"} {
			if at[i], err = strconv.ParseFloat(q.Get(name), 64); err != nil || !(at[i] > -100 && at[i] < 100) {
				return view{}, refuse("%s %q, accepted: a length in metres", name, q.Get(name))
			}
		}
		place := y.At(c.section, at[0], at[1], c.hour)
		words.Place, words.Said = &place, place.Say(v.system)
	}
	return v.sendJSON(words)
}

func (v *visit) sendJSON(data any) (view, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(data); err != nil {
		return view{}, err
	}
	v.w.Header().Set("Content-Type", "application/json")
	_, _ = v.w.Write(b.Bytes()) // the reader is gone when this fails
	return view{written: true}, nil
}

// sendCutawayYear sends the hours that move the drawing.
func sendCutawayYear(v *visit) (view, error) {
	_, _, y, err := v.yearOf()
	if err != nil {
		return view{}, err
	}
	text, err := json.Marshal(y)
	if err != nil {
		return view{}, err
	}
	h := v.w.Header()
	h.Set("Content-Type", "application/json")
	h.Set("Vary", "Accept-Encoding")
	if strings.Contains(v.request.Header.Get("Accept-Encoding"), "gzip") {
		h.Set("Content-Encoding", "gzip")
		z, err := gzip.NewWriterLevel(v.w, gzip.BestSpeed)
		if err != nil {
			return view{}, err
		}
		_, _ = z.Write(text) // the reader is gone when this fails
		_ = z.Close()
		return view{written: true}, nil
	}
	_, _ = v.w.Write(text)
	return view{written: true}, nil
}

// pictureWidth is how many pixels wide a PNG may be asked for.
const (
	usualWidth = 1600
	mostWidth  = 4000
)

func sendCutawayPicture(v *visit) (view, error) {
	a, _, y, err := v.yearOf()
	if err != nil {
		return view{}, err
	}
	c, err := v.query(0, y.Hours())
	if err != nil {
		return view{}, err
	}
	svg, err := y.Draw(c.hour, cutaway.Options{Section: c.section, Units: v.system, Dimensions: c.measure, Names: c.measure, Alone: true})
	if err != nil {
		return view{}, err
	}
	name := fileName(a.Hive.Name, "-"+string(c.section)+"-"+y.Time(c.hour).Format("2006-01-02-15"))
	return v.sendPicture(svg, name, strings.HasSuffix(v.request.URL.Path, ".png"))
}

// sendPicture sends a drawing as a file to keep.
func (v *visit) sendPicture(svg []byte, name string, asPNG bool) (view, error) {
	if !asPNG {
		attach(v.w, name+".svg", "image/svg+xml")
		_, _ = v.w.Write(svg) // the reader is gone when this fails
		return view{written: true}, nil
	}
	width := usualWidth
	if text := v.request.URL.Query().Get("width"); text != "" {
		var err error
		if width, err = strconv.Atoi(text); err != nil || width < 100 || width > mostWidth {
			return view{}, refuse("width %q, accepted: 100 to %d pixels", text, mostWidth)
		}
	}
	var b bytes.Buffer
	if err := raster.PNG(&b, svg, width); err != nil {
		return view{}, err
	}
	attach(v.w, name+".png", "image/png")
	_, _ = v.w.Write(b.Bytes())
	return view{written: true}, nil
}
