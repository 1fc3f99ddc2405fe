package web

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"
	"time"

	"hackle/fit"
	"hackle/internal/answer"
	"hackle/internal/store"
	"hackle/logger"
	"hackle/quantity"
	"hackle/season"
	"hackle/yard"
)

// mostDrawn is how many sensors a picture holds.
const mostDrawn = 60

// loggerUpload takes files of loggers, of the size of weather files.
const loggerUpload = "/loggers/upload"

// loggersPage lists the sensors and takes in files.
type loggersPage struct {
	Problem, Sentence string
	Told              []string // of what was just taken in
	Sensors           gridBox
	Names             []rankOption
	Hives             []rankOption
	Maps              []string
	Taken             gridBox
	Years             []link // with readings, the latest first
	Picture           string // of the chosen year
}

func (v *visit) loggersPage(problem string, told ...string) (view, error) {
	p := loggersPage{Problem: problem, Told: told}
	ctx := v.context()
	all, err := v.config.Store.Sensors(ctx)
	if err != nil {
		return view{}, err
	}
	n, err := v.config.Store.Notebook(ctx, false)
	if err != nil {
		return view{}, err
	}
	hives := map[yard.ID]string{}
	for _, h := range n.Hives {
		hives[h.ID] = h.Name
		p.Hives = append(p.Hives, rankOption{string(h.ID), h.Name, false})
	}
	readings := int64(0)
	p.Sensors = gridBox{Title: "Sensors", Head: []string{"Sensor", "Measures", "Readings", "From", "To", "Where"}}
	for _, s := range all {
		readings += s.Readings
		where := "no place yet"
		if len(s.Places) > 0 {
			q := s.Places[len(s.Places)-1]
			where = q.Place
			if q.Place == store.Inside {
				where += " " + quantity.Format(q.Height, quantity.Length, v.system) + " " + q.Column
			}
			if name := hives[q.Hive]; name != "" {
				where += ", " + name
			}
		}
		first, last := "", ""
		if s.Readings > 0 {
			first, last = time.Unix(s.First, 0).UTC().Format("2 Jan 2006"), time.Unix(s.Last, 0).UTC().Format("2 Jan 2006")
		}
		p.Sensors.Rows = append(p.Sensors.Rows, []string{s.Name, s.Measures, fmt.Sprint(s.Readings), first, last, where})
		p.Names = append(p.Names, rankOption{fmt.Sprint(s.ID), s.Name + ", " + s.Measures, false})
	}
	first, last := 0, 0
	for _, s := range all {
		if s.Readings > 0 {
			a, z := time.Unix(s.First, 0).UTC().Year(), time.Unix(s.Last, 0).UTC().Year()
			if first == 0 {
				first, last = a, z
			}
			first, last = min(first, a), max(last, z)
		}
	}
	chosen := last
	if y, err := strconv.Atoi(v.request.URL.Query().Get("year")); err == nil && y >= first && y <= last {
		chosen = y
	}
	if first > 0 {
		p.Picture = fmt.Sprintf("/loggers/year.svg?year=%d", chosen)
		for y := last; y >= first && len(p.Years) < 40; y-- {
			p.Years = append(p.Years, link{fmt.Sprintf("/loggers?year=%d", y), fmt.Sprint(y), y == chosen})
		}
	}
	p.Sentence = fmt.Sprintf("%d sensors have %d readings.", len(all), readings)
	if len(all) == 0 {
		p.Sentence = "No logger or scale has been read yet."
	}
	if p.Maps, err = v.config.Store.LoggerMaps(ctx); err != nil {
		return view{}, err
	}
	files, err := v.config.Store.LoggerFiles(ctx)
	if err != nil {
		return view{}, err
	}
	if len(files) > 20 {
		files = files[:20]
	}
	p.Taken = gridBox{Title: "Files taken in, the latest first", Head: []string{"File", "When"}}
	for _, f := range files {
		p.Taken.Rows = append(p.Taken.Rows, []string{f.Name, f.Taken.Format("2 Jan 2006 15:04")})
	}
	shown := view{Title: "Loggers and scales", Place: "yard", Body: &p}
	if problem != "" {
		shown.status = http.StatusUnprocessableEntity
	}
	return shown, nil
}

func showLoggers(v *visit) (view, error) { return v.loggersPage("") }

// sendReadingsPicture draws a year of all sensors.
func sendReadingsPicture(v *visit) (view, error) {
	year, err := strconv.Atoi(v.request.URL.Query().Get("year"))
	if err != nil || year < 1900 || year > 2200 {
		return view{}, refuse("year: found %q, accepted: such as 2025", v.request.URL.Query().Get("year"))
	}
	all, err := v.config.Store.Sensors(v.context())
	if err != nil {
		return view{}, err
	}
	from := time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC)
	to := from.AddDate(1, 0, 0)
	var ids []int64
	var list []fit.Sensed
	for _, s := range all {
		if s.Readings > 0 && s.First < to.Unix() && s.Last >= from.Unix() && len(ids) < mostDrawn {
			ids = append(ids, s.ID)
			list = append(list, fit.Sensed{Name: s.Name, Quantity: s.Quantity})
		}
	}
	if len(ids) == 0 {
		return view{}, &missing{what: fmt.Sprintf("reading of %d", year)}
	}
	hours, err := v.config.Store.HoursOf(v.context(), ids, from.Unix(), to.Unix())
	if err != nil {
		return view{}, err
	}
	for i := range list {
		list[i].Hours = hours[i]
	}
	var b bytes.Buffer
	if err := fit.ReadingsPicture(&b, fmt.Sprintf("Readings of %d", year), from, to, list, v.system, ""); err != nil {
		return view{}, err
	}
	v.w.Header().Set("Content-Type", "image/svg+xml")
	_, _ = v.w.Write(b.Bytes()) // the reader is gone when this fails
	return view{written: true}, nil
}

// uploadLogger takes in one file. The map comes first in the form, so that the file
// can be read as it arrives.
func uploadLogger(v *visit) (view, error) {
	parts, err := v.request.MultipartReader()
	if err != nil {
		return view{}, refuse("A logger's file is wanted, sent by the form of this page.")
	}
	ctx := v.context()
	var columns, chosen, name string
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return v.loggersPage("Choose a logger's file first.")
		}
		if err != nil {
			return view{}, uploadError(err)
		}
		if part.FormName() == "file" {
			if part.FileName() == "" {
				return v.loggersPage("Choose a logger's file first.")
			}
			return v.takeIn(part, shortName(part.FileName()), columns, chosen, name)
		}
		text, err := io.ReadAll(io.LimitReader(part, mostForm))
		if err != nil {
			return view{}, uploadError(err)
		}
		switch part.FormName() {
		case "map":
			columns = string(text)
		case "saved":
			chosen = string(text)
		case "name":
			name = strings.TrimSpace(string(text))
		}
		if err := ctx.Err(); err != nil {
			return view{}, err
		}
	}
}

func (v *visit) takeIn(file io.Reader, called, columns, chosen, name string) (view, error) {
	ctx := v.context()
	if strings.TrimSpace(columns) == "" {
		if chosen == "" {
			return v.loggersPage("Say what the columns are: choose a saved map, or a map as a file.")
		}
		var err error
		if columns, err = v.config.Store.LoggerMap(ctx, chosen); err != nil {
			return view{}, err
		}
	}
	m, err := logger.ParseMap([]byte(columns))
	if err != nil {
		return v.loggersPage("The map of columns: " + err.Error() + ".")
	}
	r, err := v.config.Store.ImportReadings(ctx, called, file, m, store.ImportOptions{})
	if err != nil {
		var bad *logger.FileError
		if errors.As(err, &bad) {
			return v.loggersPage(bad.Error() + ".")
		}
		return view{}, err
	}
	if name != "" {
		if err := v.config.Store.SetLoggerMap(ctx, name, columns); err != nil {
			return view{}, err
		}
	}
	told := []string{fmt.Sprintf("%s: %d rows, %d readings; %d new, %d there already, %d there with another value and left as they were.", called, r.Rows, r.Readings, r.Added, r.Same, r.Differing)}
	for _, s := range r.Sensors {
		if s.Faults > 0 {
			told = append(told, fmt.Sprintf("%s: %d faults left out.", s.Name, s.Faults))
		}
	}
	for _, e := range r.Examples {
		told = append(told, fmt.Sprintf("Line %d: %s: found %s, %s.", e.Line, e.Field, e.Found, e.Done))
	}
	for _, n := range r.Notes {
		told = append(told, upper(n)+".")
	}
	if len(r.NewSensors) > 0 {
		told = append(told, "New: "+strings.Join(r.NewSensors, ", ")+". Say below where they hang.")
	}
	return v.loggersPage("", told...)
}

// placeLogger says where a sensor hangs.
func placeLogger(v *visit) (view, error) {
	if err := v.request.ParseForm(); err != nil {
		return view{}, refuse("the form cannot be read: %s", err)
	}
	q := v.request.PostForm
	ctx := v.context()
	all, err := v.config.Store.Sensors(ctx)
	if err != nil {
		return view{}, err
	}
	for _, s := range all {
		if fmt.Sprint(s.ID) != q.Get("sensor") {
			continue
		}
		p := store.Placement{Since: s.First, Place: q.Get("place"), Hive: yard.ID(q.Get("hive"))}
		if p.Place == store.Away || p.Place == store.Outdoors {
			p.Hive = ""
		}
		if p.Place == store.Inside {
			p.Column = q.Get("column")
			if p.Height, err = quantity.Parse(q.Get("height"), quantity.Length); err != nil {
				return v.loggersPage(fmt.Sprintf("Height above the floor: found %q, accepted: such as 420 mm.", q.Get("height")))
			}
		}
		if text := strings.TrimSpace(q.Get("since")); text != "" {
			t, err := time.Parse(time.DateOnly, text)
			if err != nil {
				return v.loggersPage(fmt.Sprintf("Since: found %q, accepted: a day such as 2025-11-20, or nothing for its first reading.", text))
			}
			p.Since = t.Unix()
		}
		if err := p.Check(); err != nil {
			return v.loggersPage(upper(err.Error()) + ".")
		}
		if err := v.config.Store.PlaceSensor(ctx, s.ID, p); err != nil {
			return view{}, err
		}
		return view{to: "/loggers"}, nil
	}
	return v.loggersPage("Choose a sensor first.")
}

// heaterTestPage shows what a heater test says.
type heaterTestPage struct {
	Sentence string
	Phases   []heaterPhaseBox
	Changes  []string
	Notes    []string
	Back     string
}

type heaterPhaseBox struct {
	Name, Text, Top, Methods, Shell string
	Sensors, Criteria               gridBox
	Notes                           []string
}

// testHeater reads the log of a heater test and holds it against the hive as built.
func testHeater(v *visit) (view, error) {
	h, head, err := v.keptHive(v.request.PathValue("hive"))
	if err != nil {
		return view{}, err
	}
	shown := view{Title: "Heater test", Place: "yard", Hive: head}
	file, header, err := v.request.FormFile("log")
	if err != nil {
		return shown, refuse("Choose the log of a heater test first: %s.", err)
	}
	defer file.Close()
	name := shortName(header.Filename)
	log, err := fit.ReadHeaterLog(name, file)
	if err != nil {
		return shown, refuse("%s.", err)
	}
	b, err := v.buildOn(v.context(), h.ID, log.Rows[0].At.Format(time.DateOnly))
	if err != nil {
		return shown, err
	}
	plan, notes, err := answer.ReadHive(h.Name, strings.NewReader(b.File))
	if err != nil {
		return shown, err
	}
	in := season.HeaterInput{Plan: plan, Date: log.Rows[0].At, Humidity: 0.8, Empty: v.request.FormValue("empty") == "yes"}
	doc, err := answer.TestHeater(v.context(), h.Name, log, name, in, fit.HeaterOptions{}, notes)
	if err != nil {
		if errors.Is(err, fit.ErrData) {
			return shown, refuse("%s.", err)
		}
		return shown, err
	}
	shown.Body = v.heaterTestBody(h, doc)
	return shown, nil
}

func (v *visit) heaterTestBody(h yard.Hive, doc answer.HeaterTest) *heaterTestPage {
	p := &heaterTestPage{Notes: doc.Notes, Back: "/hive/" + string(h.ID) + "/measured"}
	conductance := func(x float64) string { return quantity.Format(x, quantity.Conductance, v.system) }
	difference := func(x float64) string { return quantity.Format(x, quantity.TemperatureDifference, v.system) }
	between := func(b *answer.Bounds, format func(float64) string) string {
		if b == nil || b.Low == nil || b.High == nil {
			return "unknown"
		}
		return fmt.Sprintf("%s (%s to %s)", format(b.Value), format(*b.Low), format(*b.High))
	}
	for _, t := range doc.Phases {
		x := heaterPhaseBox{Name: t.Name, Text: t.Text, Notes: t.Notes,
			Methods: fmt.Sprintf("By the average method %s; by the dynamic method %s. The %s method is taken: %s.", between(t.Average, conductance), between(t.Dynamic, conductance), t.Method, t.Why)}
		x.Sensors = gridBox{Title: "Over outdoors, at each thermometer", Head: []string{"Height", "Measured", "Computed", "Alone it says"}}
		for i := len(t.Sensors) - 1; i >= 0; i-- {
			s := t.Sensors[i]
			x.Sensors.Rows = append(x.Sensors.Rows, []string{quantity.Format(s.Height/1000, quantity.Length, v.system), difference(s.Excess), difference(s.Computed), between(s.Alone, conductance)})
		}
		if top := t.Sensors[len(t.Sensors)-1]; len(t.Sensors) > 1 {
			x.Top = fmt.Sprintf("The topmost thermometer alone would have said %s; all together say %s.", between(top.Alone, conductance), between(t.Conductance, conductance))
		}
		x.Criteria = gridBox{Title: "What the average method asks for", Head: []string{"", "Found", "Asked for", ""}}
		for _, c := range t.Criteria {
			met, found := "met", "not reached"
			if !c.Met {
				met = "not met"
			}
			if c.Found != nil {
				found = fmt.Sprintf("%.2g", *c.Found)
			}
			x.Criteria.Rows = append(x.Criteria.Rows, []string{strings.TrimSuffix(c.Name, " [-]"), found, fmt.Sprintf("%g", c.Limit), met})
		}
		if t.Shell != nil {
			x.Shell = fmt.Sprintf("A shell that conducts %s of the computed would explain the test.", between(t.Shell, func(f float64) string { return fmt.Sprintf("%.0f %%", 100*f) }))
		}
		p.Phases = append(p.Phases, x)
	}
	for _, c := range doc.Changes {
		p.Changes = append(p.Changes, c.Text)
	}
	p.Sentence = p.Phases[0].Text
	if len(p.Changes) > 0 {
		p.Sentence = p.Changes[0]
	}
	return p
}
