package climate

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"hackle/quantity"
)

// PictureOptions say how the picture of a year is drawn. The zero value is fine.
type PictureOptions struct {
	// Flight is the air temperature from which bees fly [°C], 0 for FlightTemp.
	Flight float64
	Units  quantity.System // of the labels
	// ID begins the identifiers inside the picture, so that several fit on one
	// page; "" for "weather".
	ID string
}

// Size of the picture in its own units, which are pixels at full size.
const (
	pictureWidth  = 960.0
	pictureLeft   = 64.0 // of the panels
	pictureRight  = 912.0
	temperatureOn = 110.0 // top of a panel
	temperatureTo = 322.0
	flightOn      = 332.0
	flightTo      = 344.0
	sunOn         = 372.0
	sunTo         = 440.0
	rainOn        = 470.0
	rainTo        = 538.0
	windOn        = 568.0
	windTo        = 618.0
	monthsAt      = 636.0
	notesAt       = 664.0
	noteStep      = 16.0
	mostNotes     = 4
)

// washStops is the wash of the temperature, cold to warm in even steps of
// lightness [sRGB]: blue to ochre, told apart by all common kinds of colour
// vision.
var washStops = [...][3]float64{{38, 62, 104}, {74, 103, 134}, {122, 140, 150}, {178, 170, 142}, {226, 194, 112}}

const (
	washLow, washHigh = -20.0, 32.0 // daily means at its ends [°C]
	washSteps         = 26          // 2 K each
)

func wash(step int) string {
	x := float64(step) / (washSteps - 1) * float64(len(washStops)-1)
	i := min(int(x), len(washStops)-2)
	var c [3]int
	for k := range c {
		c[k] = int(math.Round(washStops[i][k] + (washStops[i+1][k]-washStops[i][k])*(x-float64(i))))
	}
	return fmt.Sprintf("#%02x%02x%02x", c[0], c[1], c[2])
}

// pictureDay is one day of the year, over all its years.
type pictureDay struct {
	years           int
	mean, low, high float64 // means over the years [°C]
	lowest, highest float64 // extremes over the years [°C]
	energy          float64 // [kWh/m²]
	rain            float64 // [mm]
	snow            float64 // [m]
	wind            float64 // [m/s]
	flew            int     // years in which it reached the flight temperature
	isDefined       bool
}

// Picture draws a year of weather as SVG: the band of each day's temperatures
// over a wash that follows the mean, the days on which bees fly, sun, rain and
// snow where they are known, wind, and below it what is missing or doubtful.
// Several years are laid over each other: the mean band, and between thin lines
// the extremes. 29 February is not drawn. The result is the same for
// the same input; it needs no other file, has a title and a description for
// those who do not see it, and follows a reader's dark theme.
//
// A series without a whole day is an error, as is a fault of w.
func Picture(w io.Writer, s *Series, opts PictureOptions) error {
	o := s.Outlook(opts.Flight)
	if o.Days == 0 {
		return fmt.Errorf("picture of %s: no whole day of weather", s.Name)
	}
	p := &picture{series: s, outlook: o, units: opts.Units, id: opts.ID}
	if p.id == "" {
		p.id = "weather"
	}
	p.layDays()
	p.draw()
	if _, err := w.Write(p.out.Bytes()); err != nil {
		return fmt.Errorf("picture of %s: %w", s.Name, err)
	}
	return nil
}

type picture struct {
	series  *Series
	outlook Outlook
	units   quantity.System
	id      string
	days    [365]pictureDay
	years   int
	out     bytes.Buffer
}

// layDays sorts the days by their place in the year.
func (p *picture) layDays() {
	s := p.series
	local := s.Start.In(s.Location())
	first := 0
	if h := local.Hour(); h > 0 {
		first = 24 - h
	}
	for i := range p.days {
		p.days[i].lowest, p.days[i].highest = math.Inf(1), math.Inf(-1)
	}
	for i := first; i+24 <= len(s.Hours); i += 24 {
		at := local.Add(time.Duration(i) * time.Hour)
		month, dayOfMonth := int(at.Month()), at.Day()
		if month == 2 && dayOfMonth == 29 {
			continue
		}
		d := &p.days[hourOfYear(month, dayOfMonth, 0)/24]
		low, high := math.Inf(1), math.Inf(-1)
		deepest := 0.0
		for _, h := range s.Hours[i : i+24] {
			d.mean += h.TempAir / 24
			low, high = min(low, h.TempAir), max(high, h.TempAir)
			d.energy += h.GlobalHorizontal / 1000
			d.rain += h.Rain
			deepest = max(deepest, h.SnowDepth)
			d.wind += h.WindSpeed / 24
		}
		d.snow += deepest
		d.low += low
		d.high += high
		d.lowest, d.highest = min(d.lowest, low), max(d.highest, high)
		if high >= p.outlook.FlightTempC {
			d.flew++
		}
		d.years++
	}
	for i := range p.days {
		d := &p.days[i]
		p.years = max(p.years, d.years)
		if d.years == 0 {
			continue
		}
		d.isDefined = true
		n := float64(d.years)
		for _, v := range []*float64{&d.mean, &d.low, &d.high, &d.energy, &d.rain, &d.snow, &d.wind} {
			*v /= n
		}
	}
}

func xOf(dayOfYear float64) float64 {
	return pictureLeft + (pictureRight-pictureLeft)*dayOfYear/365
}

// number writes a coordinate with at most one decimal.
func number(v float64) string {
	t := strconv.FormatFloat(v, 'f', 1, 64)
	t = strings.TrimSuffix(t, ".0")
	if t == "-0" {
		t = "0"
	}
	return t
}

func (p *picture) write(format string, args ...any) { fmt.Fprintf(&p.out, format, args...) }

func escape(s string) string {
	var b bytes.Buffer
	if err := xml.EscapeText(&b, []byte(strings.ToValidUTF8(s, "?"))); err != nil {
		return "" // a bytes.Buffer does not fail
	}
	return b.String()
}

func (p *picture) text(x, y float64, class, anchor, text string) {
	if anchor != "" {
		anchor = ` text-anchor="` + anchor + `"`
	}
	p.write("<text class=\"%s\" x=\"%s\" y=\"%s\"%s>%s</text>\n", class, number(x), number(y), anchor, escape(text))
}

func (p *picture) line(class string, x1, y1, x2, y2 float64) {
	p.write("<path class=\"%s\" d=\"M%s %sL%s %s\"/>\n", class, number(x1), number(y1), number(x2), number(y2))
}

// temp shows a temperature in the units of the labels.
func (p *picture) temp(c float64) string {
	if p.units == quantity.US {
		return minus(fmt.Sprintf("%.0f °F", c*9/5+32))
	}
	return minus(fmt.Sprintf("%.0f °C", c))
}

// minus sets the sign that matches the width of figures.
func minus(s string) string {
	if s == "-0 °C" || s == "-0 °F" {
		s = s[1:]
	}
	return strings.ReplaceAll(s, "-", "−")
}

// cut shortens a text to so many characters.
func cut(s string, most int) string {
	r := []rune(s)
	if len(r) <= most {
		return s
	}
	return strings.TrimRight(string(r[:most-1]), " ,;:") + "…"
}

const pictureStyle = `
.%[1]s-ground{fill:#faf7ef}
.%[1]s-t{font:12px system-ui,"DejaVu Sans",sans-serif;fill:#2b2a27;font-variant-numeric:tabular-nums}
.%[1]s-s{font:11px system-ui,"DejaVu Sans",sans-serif;fill:#5c5950;font-variant-numeric:tabular-nums}
.%[1]s-h{font:600 17px system-ui,"DejaVu Sans",sans-serif;fill:#2b2a27}
.%[1]s-ink{fill:none;stroke:#2b2a27;stroke-width:1.2;stroke-linejoin:round}
.%[1]s-edge{fill:none;stroke:#2b2a27;stroke-width:.6;stroke-opacity:.6;stroke-linejoin:round}
.%[1]s-grid{fill:none;stroke:#2b2a27;stroke-width:.5;stroke-opacity:.22}
.%[1]s-rule{fill:none;stroke:#2b2a27;stroke-width:.8;stroke-dasharray:4 3;stroke-opacity:.75}
.%[1]s-week{fill:#2b2a27;fill-opacity:.09}
.%[1]s-fly{fill:#9a6a14}
.%[1]s-sun{fill:#d9b45a}
.%[1]s-rain{fill:#3f6186}
.%[1]s-snow{fill:#9fb3c4;fill-opacity:.7}
@media (prefers-color-scheme:dark){
.%[1]s-ground{fill:#1d1f22}
.%[1]s-t,.%[1]s-h{fill:#e9e4d8}
.%[1]s-s{fill:#b3ad9f}
.%[1]s-ink,.%[1]s-edge,.%[1]s-grid,.%[1]s-rule{stroke:#e9e4d8}
.%[1]s-week{fill:#e9e4d8}
.%[1]s-wash{fill-opacity:.62}
.%[1]s-fly{fill:#dca63f}
.%[1]s-sun{fill:#b8923a}
.%[1]s-rain{fill:#7fa6cf}
.%[1]s-snow{fill:#8398ab}
}
`

// sentences say in words what the picture shows.
func (p *picture) sentences() (air, flight string) {
	o := &p.outlook
	form := "2 January 2006"
	if p.series.Typical {
		form = "2 January"
	}
	air = fmt.Sprintf("Mean %s, lowest %s, highest %s.", p.temp(o.Whole.MeanC), p.temp(o.LowestC), p.temp(o.HighestC))
	if o.ColdestWeek.Days > 0 {
		air += fmt.Sprintf(" Coldest week from %s, mean %s; hottest from %s, mean %s.", o.ColdestWeek.First.Format(form), p.temp(o.ColdestWeek.MeanC),
			o.HottestWeek.First.Format(form), p.temp(o.HottestWeek.MeanC))
	}
	a := ""
	if p.years > 1 {
		a = " a year"
	}
	switch {
	case o.FlyingDays == 0:
		flight = "Bees fly on no day."
	case o.Confinement.Days > 0:
		flight = fmt.Sprintf("Bees fly on %.0f days%s (from %s); the longest time without flight is %d days from %s.", o.FlyingDays, a, p.temp(o.FlightTempC), o.Confinement.Days, o.Confinement.First.Format(form))
	default:
		flight = fmt.Sprintf("Bees fly every day (from %s).", p.temp(o.FlightTempC))
	}
	return air, flight
}

func (p *picture) draw() {
	notes := p.notes()
	height := notesAt + noteStep*float64(len(notes)) + 8
	p.write("<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 %s %s\" width=\"%s\" height=\"%s\" role=\"img\" aria-labelledby=\"%[5]s-title %[5]s-desc\">\n",
		number(pictureWidth), number(height), number(pictureWidth), number(height), escape(p.id))
	years := "one year"
	if p.outlook.Days < 360 {
		years = fmt.Sprintf("%d days", p.outlook.Days)
	}
	if p.years > 1 {
		years = fmt.Sprintf("%d years laid over each other", p.years)
	}
	if p.series.Typical {
		years = "a typical year"
	}
	air, flight := p.sentences()
	p.write("<title id=\"%s-title\">%s</title>\n", escape(p.id), escape("Weather of "+p.series.Name))
	p.write("<desc id=\"%s-desc\">%s</desc>\n", escape(p.id), escape(strings.ToUpper(years[:1])+years[1:]+" from January to December: temperature, days of flight, sun, rain and snow, wind. "+air+" "+flight))
	p.write("<style>"+pictureStyle+"</style>\n", p.class())
	p.write("<rect class=\"%s-ground\" width=\"%s\" height=\"%s\"/>\n", p.class(), number(pictureWidth), number(height))
	p.text(pictureLeft, 34, p.class()+"-h", "", cut(p.series.Name, 90))
	p.text(pictureLeft, 54, p.class()+"-t", "", air)
	p.text(pictureLeft, 71, p.class()+"-t", "", flight)
	p.text(pictureLeft, 89, p.class()+"-s", "", cut(fmt.Sprintf("%s, %s; %s", years, p.place(), p.series.Source), 140))
	p.drawMonths()
	p.drawTemperature()
	p.drawFlight()
	p.drawSun()
	p.drawRain()
	p.drawWind()
	for i, n := range notes {
		p.text(pictureLeft, notesAt+noteStep*float64(i), p.class()+"-s", "", n)
	}
	p.write("</svg>\n")
}

// class is the identifier, fit for the name of a class.
func (p *picture) class() string {
	var b strings.Builder
	for i, c := range p.id {
		if c == '-' || c == '_' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || i > 0 && c >= '0' && c <= '9' {
			b.WriteRune(c)
		}
	}
	if b.Len() == 0 {
		return "weather"
	}
	return b.String()
}

func (p *picture) place() string {
	s := p.series
	north, east := "N", "E"
	if s.Latitude < 0 {
		north = "S"
	}
	if s.Longitude < 0 {
		east = "W"
	}
	height := fmt.Sprintf("%.0f m", s.Height)
	if p.units == quantity.US {
		height = fmt.Sprintf("%.0f ft", s.Height/0.3048)
	}
	return fmt.Sprintf("%.2f° %s, %.2f° %s, %s", math.Abs(s.Latitude), north, math.Abs(s.Longitude), east, height)
}

// notes names what is missing or doubtful, in few lines.
func (p *picture) notes() []string {
	var notes []string
	doubts := p.outlook.Doubts
	for i, d := range doubts {
		if i == mostNotes-1 && len(doubts) > mostNotes {
			notes = append(notes, fmt.Sprintf("and %d more, in the list of doubts", len(doubts)-i))
			break
		}
		lead := ""
		if i == 0 {
			lead = "Missing or doubtful: "
		}
		notes = append(notes, cut(lead+d.What+" – "+d.Why, 150))
	}
	return notes
}

func (p *picture) drawMonths() {
	for month := 1; month <= 12; month++ {
		from := float64(daysBefore[month])
		to := 365.0
		if month < 12 {
			to = float64(daysBefore[month+1])
		}
		if month > 1 {
			p.line(p.class()+"-grid", xOf(from), temperatureOn, xOf(from), windTo)
		}
		p.text(xOf((from+to)/2), monthsAt, p.class()+"-s", "middle", time.Month(month).String()[:3])
	}
	for _, w := range []Spell{p.outlook.ColdestWeek, p.outlook.HottestWeek} {
		if w.Days == 0 {
			continue
		}
		from := float64(w.First.YearDay() - 1)
		for _, span := range [][2]float64{{from, min(from+float64(w.Days), 365)}, {0, from + float64(w.Days) - 365}} {
			if span[1] > span[0] {
				p.write("<rect class=\"%s-week\" x=\"%s\" y=\"%s\" width=\"%s\" height=\"%s\"/>\n", p.class(), number(xOf(span[0])), number(temperatureOn),
					number(xOf(span[1])-xOf(span[0])), number(temperatureTo-temperatureOn))
			}
		}
	}
}

// curve draws a value over the year, broken where no day is.
func (p *picture) curve(class string, y func(*pictureDay) float64) {
	var b strings.Builder
	pen := false
	for i := range p.days {
		d := &p.days[i]
		if !d.isDefined {
			pen = false
			continue
		}
		mark := byte('M')
		if pen {
			mark = 'L'
		}
		b.WriteByte(mark)
		b.WriteString(number(xOf(float64(i) + 0.5)))
		b.WriteByte(' ')
		b.WriteString(number(y(d)))
		pen = true
	}
	p.write("<path class=\"%s\" d=\"%s\"/>\n", class, b.String())
}

// bar adds a bar a day between two heights to a path.
func bar(b *strings.Builder, i int, from, to float64) {
	x, width := xOf(float64(i)), (pictureRight-pictureLeft)/365+0.15 // a hair over, against seams
	fmt.Fprintf(b, "M%s %sh%sV%sh-%sz", strconv.FormatFloat(x, 'f', 2, 64), number(from), strconv.FormatFloat(width, 'f', 2, 64), number(to), strconv.FormatFloat(width, 'f', 2, 64))
}

func (p *picture) drawTemperature() {
	low, high := math.Inf(1), math.Inf(-1)
	for i := range p.days {
		if d := &p.days[i]; d.isDefined {
			low, high = min(low, d.lowest), max(high, d.highest)
		}
	}
	step := 10.0
	unit := func(c float64) float64 { return c }
	if p.units == quantity.US {
		step = 20 / 1.8
		unit = func(c float64) float64 { return c - 32/1.8 } // whole twenties of °F
	}
	base := math.Floor((low+32/1.8*count(p.units == quantity.US))/step)*step + unit(0)
	top := math.Ceil((high-base)/step)*step + base
	y := func(c float64) float64 {
		return temperatureTo - (c-base)/(top-base)*(temperatureTo-temperatureOn)
	}
	for c := base; c <= top+1e-6; c += step {
		p.line(p.class()+"-grid", pictureLeft, y(c), pictureRight, y(c))
		p.text(pictureLeft-8, y(c)+4, p.class()+"-s", "end", p.temp(c))
	}
	var washes [washSteps]strings.Builder
	for i := range p.days {
		d := &p.days[i]
		if !d.isDefined {
			continue
		}
		k := int((d.mean - washLow) / (washHigh - washLow) * washSteps)
		bar(&washes[min(max(k, 0), washSteps-1)], i, y(d.high), y(d.low))
	}
	for k := range washes {
		if washes[k].Len() > 0 {
			p.write("<path class=\"%s-wash\" fill=\"%s\" d=\"%s\"/>\n", p.class(), wash(k), washes[k].String())
		}
	}
	if p.years > 1 {
		p.curve(p.class()+"-edge", func(d *pictureDay) float64 { return y(d.lowest) })
		p.curve(p.class()+"-edge", func(d *pictureDay) float64 { return y(d.highest) })
	}
	p.curve(p.class()+"-ink", func(d *pictureDay) float64 { return y(d.mean) })
	for _, r := range []struct {
		at   float64
		name string
	}{{0, "frost"}, {p.outlook.FlightTempC, "flight"}} {
		if r.at > base && r.at < top {
			p.line(p.class()+"-rule", pictureLeft, y(r.at), pictureRight, y(r.at))
			p.text(pictureRight+6, y(r.at)+4, p.class()+"-s", "", r.name)
		}
	}
	for _, w := range []struct {
		spell Spell
		name  string
	}{{p.outlook.ColdestWeek, "coldest week"}, {p.outlook.HottestWeek, "hottest week"}} {
		if w.spell.Days == 0 {
			continue
		}
		middle := math.Mod(float64(w.spell.First.YearDay()-1)+3.5, 365)
		x := min(max(xOf(middle), pictureLeft+66), pictureRight-66)
		at := temperatureOn + 12
		if w.name == "hottest week" { // where the band is far
			at = temperatureTo - 6
		}
		p.text(x, at, p.class()+"-s", "middle", w.name+" "+p.temp(w.spell.MeanC))
	}
}

func (p *picture) drawFlight() {
	var b strings.Builder
	for i := range p.days {
		if d := &p.days[i]; d.flew > 0 {
			// In several years the mark is as high as the share of years that flew.
			bar(&b, i, flightTo-(flightTo-flightOn)*float64(d.flew)/float64(d.years), flightTo)
		}
	}
	p.line(p.class()+"-grid", pictureLeft, flightTo, pictureRight, flightTo)
	if b.Len() > 0 {
		p.write("<path class=\"%s-fly\" d=\"%s\"/>\n", p.class(), b.String())
	}
	p.text(pictureLeft-8, flightTo, p.class()+"-s", "end", "bees fly")
}

// scale draws the frame of a lower panel: its name, and lines at 0 and a round
// top.
func (p *picture) scale(on, to, highest float64, name, unit string) (y func(float64) float64) {
	top := roundUp(highest)
	y = func(v float64) float64 { return to - min(v/top, 1)*(to-on) }
	p.line(p.class()+"-grid", pictureLeft, on, pictureRight, on)
	p.line(p.class()+"-grid", pictureLeft, to, pictureRight, to)
	p.text(pictureLeft-8, on+4, p.class()+"-s", "end", strconv.FormatFloat(top, 'g', 4, 64))
	p.text(pictureLeft-8, to+4, p.class()+"-s", "end", "0")
	p.text(pictureLeft, on-7, p.class()+"-t", "", name+", "+unit)
	return y
}

// roundUp gives a round number of at least v.
func roundUp(v float64) float64 {
	if !(v > 0) {
		return 1
	}
	power := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 1.5, 2, 3, 4, 5, 6, 8, 10} {
		if m*power >= v*(1-1e-9) {
			return m * power
		}
	}
	return 10 * power
}

func (p *picture) most(of func(*pictureDay) float64) float64 {
	most := 0.0
	for i := range p.days {
		if p.days[i].isDefined {
			most = max(most, of(&p.days[i]))
		}
	}
	return most
}

func (p *picture) drawBars(class string, y func(float64) float64, to float64, of func(*pictureDay) float64) {
	var b strings.Builder
	for i := range p.days {
		if d := &p.days[i]; d.isDefined && of(d) > 0 {
			bar(&b, i, y(of(d)), to)
		}
	}
	if b.Len() > 0 {
		p.write("<path class=\"%s\" d=\"%s\"/>\n", class, b.String())
	}
}

func (p *picture) drawSun() {
	of := func(d *pictureDay) float64 { return d.energy }
	y := p.scale(sunOn, sunTo, p.most(of), "Sun on the level", "kWh/m² a day")
	p.drawBars(p.class()+"-sun", y, sunTo, of)
}

func (p *picture) drawRain() {
	s := p.series
	unit, factor := "mm a day", 1.0
	snowUnit, snowFactor := "cm", 100.0
	if p.units == quantity.US {
		unit, factor, snowUnit, snowFactor = "in a day", 1/25.4, "in", 1/0.0254
	}
	if !s.HasRain && !s.HasSnow {
		p.text(pictureLeft, rainOn-7, p.class()+"-t", "", "Rain and snow")
		p.text((pictureLeft+pictureRight)/2, (rainOn+rainTo)/2+4, p.class()+"-s", "middle", "not known in this weather")
		p.line(p.class()+"-grid", pictureLeft, rainTo, pictureRight, rainTo)
		return
	}
	deepest := p.most(func(d *pictureDay) float64 { return d.snow })
	if s.HasSnow && deepest > 0 {
		top := roundUp(deepest * snowFactor)
		var b strings.Builder
		for i := range p.days {
			if d := &p.days[i]; d.isDefined && d.snow > 0 {
				bar(&b, i, rainTo-(rainTo-rainOn)*d.snow*snowFactor/top, rainTo)
			}
		}
		p.write("<path class=\"%s-snow\" d=\"%s\"/>\n", p.class(), b.String())
		p.text(pictureRight+6, rainOn+4, p.class()+"-s", "", strconv.FormatFloat(top, 'g', 4, 64))
		p.text(pictureRight, rainOn-7, p.class()+"-t", "end", "Snow lying, "+snowUnit)
	}
	if !s.HasRain {
		p.text(pictureLeft, rainOn-7, p.class()+"-t", "", "Rain not known")
		if deepest == 0 {
			p.text((pictureLeft+pictureRight)/2, (rainOn+rainTo)/2+4, p.class()+"-s", "middle", "no snow lies in this weather")
		}
		p.line(p.class()+"-grid", pictureLeft, rainTo, pictureRight, rainTo)
		return
	}
	of := func(d *pictureDay) float64 { return d.rain * factor }
	y := p.scale(rainOn, rainTo, p.most(of), "Rain", unit)
	p.drawBars(p.class()+"-rain", y, rainTo, of)
	if !s.HasSnow {
		p.text(pictureRight, rainOn-7, p.class()+"-s", "end", "snow depth not known")
	}
}

func (p *picture) drawWind() {
	unit, factor := "m/s", 1.0
	if p.units == quantity.US {
		unit, factor = "mph", 1/0.44704
	}
	of := func(d *pictureDay) float64 { return d.wind * factor }
	y := p.scale(windOn, windTo, p.most(of), "Wind at 10 m, mean of the day", unit)
	p.curve(p.class()+"-ink", func(d *pictureDay) float64 { return y(of(d)) })
}
