package web

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"net/http"
	"strconv"
	"strings"

	"hackle/climate"
	"hackle/internal/answer"
	"hackle/internal/store"
	"hackle/quantity"
	"hackle/yard"
)

type weatherPage struct {
	Yards    []weatherYard
	Groups   []siteGroup
	Kept     []store.Weather
	Looking  string // at which weather
	Shown    *answer.Weather
	Sentence string
	Grid     gridBox
	Lines    []line
	Doubts   []string
	Near     string // what lies nearest to a place that was asked for
	NearName string
	Problem  string
	Lat, Lon string // as typed
	High     string
}

type weatherYard struct{ ID, Name, Choice, Called string }

// lookingAt is the weather that a page shows: the one asked for, else the first
// yard's, else a built-in one.
func (v *visit) weatherPage(problem string) (view, error) {
	ctx := v.context()
	q := v.request.URL.Query()
	p := weatherPage{Problem: problem, Looking: q.Get("w"), Lat: q.Get("latitude"), Lon: q.Get("longitude"), High: q.Get("height")}
	yards, err := v.config.Store.Yards.All(ctx, false)
	if err != nil {
		return view{}, err
	}
	if p.Groups, err = sitesByCountry(); err != nil {
		return view{}, err
	}
	if p.Kept, err = v.config.Store.Weathers(ctx); err != nil {
		return view{}, err
	}
	for _, y := range yards {
		if p.Looking == "" {
			p.Looking = y.Weather
		}
		p.Yards = append(p.Yards, weatherYard{string(y.ID), y.Name, y.Weather, v.called(y.Weather, p.Groups, p.Kept)})
	}
	if p.Lat != "" || p.Lon != "" {
		v.nearest(&p)
	}
	if p.Looking != "" {
		w, err := v.weatherOf(ctx, p.Looking)
		if err != nil {
			return view{}, err
		}
		v.describe(&p, w)
	}
	shown := view{Title: "Weather", Place: "weather", Body: p}
	if problem != "" {
		shown.status = 422
	}
	return shown, nil
}

func showWeather(v *visit) (view, error) { return v.weatherPage("") }

// called is what people call a choice of weather.
func (v *visit) called(choice string, groups []siteGroup, kept []store.Weather) string {
	for _, g := range groups {
		for _, s := range g.Sites {
			if s.Name == choice {
				return s.Place
			}
		}
	}
	for _, k := range kept {
		if "series:"+string(k.ID) == choice {
			return k.Name
		}
	}
	return "none yet"
}

// nearest finds the built-in weather nearest to the place that was typed in.
func (v *visit) nearest(p *weatherPage) {
	lat, errLat := strconv.ParseFloat(strings.TrimSpace(p.Lat), 64)
	lon, errLon := strconv.ParseFloat(strings.TrimSpace(p.Lon), 64)
	if errLat != nil || errLon != nil || !(math.Abs(lat) <= 90) || !(math.Abs(lon) <= 180) {
		p.Problem = "Latitude and longitude are wanted in degrees, north and east positive, such as 44.47 and -73.15."
		return
	}
	high := 0.0
	if strings.TrimSpace(p.High) != "" {
		var err error
		if high, err = quantity.Parse(p.High, quantity.Length); err != nil {
			p.Problem = upper(err.Error()) + "."
			return
		}
	}
	m, err := climate.Nearest(lat, lon, high)
	if err != nil {
		p.Problem = upper(err.Error()) + "."
		return
	}
	p.NearName = m.Site.Name
	p.Near = fmt.Sprintf("%s lies nearest, %s away.", m.Site.Place, say{v.system}.Far(m.Kilometres*1000))
	if m.Unlike() {
		p.Near += " That is an example of a climate rather than the yard's weather."
	}
	if v.request.URL.Query().Get("w") == "" {
		p.Looking = m.Site.Name
	}
}

// describe fills in what there is to say of weather.
func (v *visit) describe(p *weatherPage, w *climate.Series) {
	s := say{v.system}
	doc, ok := v.shelves.shown.get(p.Looking)
	if !ok {
		doc = answer.Show(w, climate.FlightTemp)
		v.shelves.shown.put(p.Looking, doc)
	}
	p.Shown = &doc
	o := doc.Summary
	typical := "a record"
	if w.Typical {
		typical = "a typical year"
	}
	p.Sentence = fmt.Sprintf("%s: %s", w.Name, typical)
	if o.ColdestWeek.Days > 0 {
		p.Sentence += fmt.Sprintf(", whose coldest week is %s on the mean and whose hottest is %s", s.Temp(o.ColdestWeek.MeanC), s.Temp(o.HottestWeek.MeanC))
	}
	p.Sentence += "."
	p.Grid = gridBox{Title: "Month by month", Head: []string{"Month", "Mean", "Daily high", "Daily low", "Dew point", "Wind", "Sun a day", "Flying days"}}
	for _, m := range append(append([]climate.MonthMeans{}, o.Months...), o.Whole) {
		name := "All"
		if m.Month != 0 {
			name = m.Month.String()
		}
		p.Grid.Rows = append(p.Grid.Rows, []string{name, s.Temp(m.MeanC), s.Temp(m.DailyHighC), s.Temp(m.DailyLowC), s.Temp(m.DewPointC), s.Speed(m.WindMS), fmt.Sprintf("%.1f kWh/m²", m.SunKWhM2Day), fmt.Sprint(m.FlyingDays)})
	}
	p.Lines = []line{
		{Label: "Place", Value: s.Place(w.Latitude, w.Longitude) + ", " + s.Length(w.Height)},
		{Label: "Lowest and highest", Value: s.Temp(o.LowestC) + " and " + s.Temp(o.HighestC)},
		{Label: "Days with frost", Value: fmt.Sprintf("%.0f a year", o.FrostDays)},
		{Label: "Days above " + s.Temp(30), Value: fmt.Sprintf("%.0f a year", o.HotDays)},
		{Label: "Days on which bees can fly, from " + s.Temp(o.FlightTempC), Value: fmt.Sprintf("%.0f a year", o.FlyingDays)},
	}
	if o.Confinement.Days > 0 {
		p.Lines = append(p.Lines, line{Label: "Longest time without flight", Value: fmt.Sprintf("%d days", o.Confinement.Days), When: o.Confinement.First.Format("2 Jan") + " to " + o.Confinement.Last.Format("2 Jan")})
	}
	for _, x := range o.Doubts {
		p.Doubts = append(p.Doubts, upper(x.What)+": "+x.Why)
	}
}

// sendWeatherPicture draws the year of some weather.
func sendWeatherPicture(v *visit) (view, error) {
	w, err := v.weatherOf(v.context(), v.request.URL.Query().Get("w"))
	if err != nil {
		return view{}, err
	}
	var b bytes.Buffer
	if err := climate.Picture(&b, w, climate.PictureOptions{Units: v.system}); err != nil {
		return view{}, refuse("%s", err)
	}
	v.w.Header().Set("Content-Type", "image/svg+xml")
	_, _ = v.w.Write(b.Bytes()) // the reader is gone when this fails
	return view{written: true}, nil
}

// chooseWeather gives a yard its weather.
func chooseWeather(v *visit) (view, error) {
	choice := v.request.PostFormValue("w")
	if _, err := v.weatherOf(v.context(), choice); err != nil {
		return view{}, err
	}
	if err := v.setWeather(v.request.PostFormValue("yard"), choice); err != nil {
		return view{}, err
	}
	return view{to: "/weather?w=" + urlEscape(choice)}, nil
}

func (v *visit) setWeather(id, choice string) error {
	at, err := yard.ParseID(id)
	if err != nil {
		return &missing{what: "yard " + id}
	}
	y, err := v.config.Store.Yards.Get(v.context(), at)
	if err != nil {
		return err
	}
	y.Weather = choice
	_, err = v.config.Store.Yards.Put(v.context(), y)
	return err
}

// mostYears of hours are taken from one upload.
const mostYears = 30

// uploadWeather reads a weather file and keeps what it says, not the file.
func uploadWeather(v *visit) (view, error) {
	parts, err := v.request.MultipartReader()
	if err != nil {
		return view{}, refuse("A weather file is wanted, sent by the form of this page.")
	}
	var text, columns []byte
	name, id := "", ""
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return view{}, uploadError(err)
		}
		limit := int64(mostForm)
		if part.FormName() == "file" {
			limit = mostWeather
		}
		got, err := io.ReadAll(io.LimitReader(part, limit+1))
		if err != nil {
			return view{}, uploadError(err)
		}
		if int64(len(got)) > limit {
			return view{}, &refused{status: http.StatusRequestEntityTooLarge, text: fmt.Sprintf("The %s is larger than the %d bytes that are accepted here.", part.FormName(), limit)}
		}
		switch part.FormName() {
		case "file":
			text, name = got, part.FileName()
		case "map":
			columns = got
		case "yard":
			id = string(got)
		}
	}
	if len(text) == 0 {
		return v.weatherPage("Choose a weather file first.")
	}
	w, err := readWeather(shortName(name), text, columns)
	if err != nil {
		return v.weatherPage(upper(err.Error()) + ".")
	}
	if len(w.Hours) > mostYears*8784 {
		return v.weatherPage(fmt.Sprintf("The file holds %d years of hours; at most %d are taken. Cut it.", len(w.Hours)/8760, mostYears))
	}
	kept, err := v.config.Store.AddWeather(v.context(), w)
	if err != nil {
		return view{}, err
	}
	choice := "series:" + string(kept.ID)
	if id != "" {
		if err := v.setWeather(id, choice); err != nil {
			return view{}, err
		}
	}
	return view{to: "/weather?w=" + urlEscape(choice)}, nil
}

func uploadError(err error) error {
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return err
	}
	return refuse("The upload broke off or is damaged: %s.", err)
}

// readWeather reads the EPW layout, or CSV with a map of its columns.
func readWeather(name string, text, columns []byte) (*climate.Series, error) {
	if len(bytes.TrimSpace(columns)) > 0 {
		m, err := climate.ParseColumnMap(columns)
		if err != nil {
			return nil, fmt.Errorf("the map of columns: %w", err)
		}
		return climate.ReadCSV(name, bytes.NewReader(text), m)
	}
	return climate.ReadEPW(name, bytes.NewReader(text))
}

// shortName keeps of the name of an uploaded file what may be shown: it names the
// weather and never a place on the disk.
func shortName(name string) string {
	if i := strings.LastIndexAny(name, `/\`); i >= 0 {
		name = name[i+1:]
	}
	name = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return -1
		}
		return r
	}, name)
	if len(name) > 100 {
		name = strings.ToValidUTF8(name[:100], "")
	}
	if name == "" {
		return "uploaded weather"
	}
	return name
}
