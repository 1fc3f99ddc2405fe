package web

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strings"
	"time"

	"hackle/fit"
	"hackle/hive"
	"hackle/internal/answer"
	"hackle/internal/store"
	"hackle/logger"
	"hackle/quantity"
	"hackle/yard"
)

// measurePages are the pages of loggers, of computed against measured, and of what
// the records tell of treatments.
func measurePages() []page {
	return []page{
		{route: "GET /hive/{hive}/measured", tab: "Measured", template: "measured", serve: showMeasured},
		{route: "POST /hive/{hive}/measured", serve: startMeasured},
		{route: "GET /hive/{hive}/measured.svg", serve: sendMeasuredPicture},
		{route: "GET /hive/{hive}/measured.json", serve: sendMeasured},
		{route: "POST /hive/{hive}/measured/keep", serve: keepMeasured},
		{route: "POST /hive/{hive}/measured/heater", template: "heatertest", serve: testHeater},
		{route: "GET /loggers", template: "loggers", serve: showLoggers},
		{route: "GET /loggers/year.svg", serve: sendReadingsPicture},
		{route: "POST " + loggerUpload, template: "loggers", serve: uploadLogger},
		{route: "POST /loggers/place", template: "loggers", serve: placeLogger},
		{route: "GET /evidence", template: "evidence", serve: showEvidence},
	}
}

// measuredVersion changes when what is kept of a comparison does.
const measuredVersion = "1"

// measuredAsked is what the form of a comparison says.
type measuredAsked struct {
	From, To    string // days, as 2006-01-02
	Bees, Honey string // on the first day, empty: those of the file
	Fit         bool
}

func (m measuredAsked) query() url.Values {
	q := url.Values{"from": {m.From}, "to": {m.To}}
	for k, v := range map[string]string{"bees": m.Bees, "honey": m.Honey} {
		if v != "" {
			q.Set(k, v)
		}
	}
	if m.Fit {
		q.Set("fit", "yes")
	}
	return q
}

// keptComparison is what is kept of a comparison.
type keptComparison struct {
	Doc     answer.MeasuredHive `json:"doc"`
	Picture string              `json:"picture"`
	Keep    hive.Measured       `json:"keep"`
}

// measuring is everything that a comparison needs.
type measuring struct {
	want    measuredAsked
	hive    yard.Hive
	head    *hiveHead
	build   yard.Build
	setting answer.Setting
	notes   []string
	sensed  []store.Sensed
	key     string
	system  quantity.System
}

// measuredPage shows what loggers and scales say of the computed hive.
type measuredPage struct {
	Asked    measuredAsked
	Hive     string
	Problem  string
	Sentence string
	Path     string
	Sensors  []string // of this hive, in words, when nothing was compared yet
	Weather  string   // why the weather will not do, empty when it will

	Done    bool
	Hints   []string
	Picture string
	JSON    string
	Table   gridBox
	Steps   []string
	Notes   []string

	Fitted   bool
	Factors  gridBox
	Cannot   []string
	Predicts string
	Held     gridBox
	After    gridBox
	Keeps    string // which factors can be kept, in words; empty: none
	Query    string
}

// measuring finds the hive, its days and its sensors. The page is filled in with what
// is known even when something is missing.
func (v *visit) measuring(want measuredAsked) (*measuring, *measuredPage, error) {
	h, head, err := v.keptHive(v.request.PathValue("hive"))
	if err != nil {
		return nil, nil, err
	}
	p := &measuredPage{Asked: want, Hive: h.Name, Path: "/hive/" + url.PathEscape(string(h.ID)) + "/measured"}
	m := &measuring{want: want, hive: h, head: head, system: v.system}
	ctx := v.context()
	all, err := v.config.Store.Sensors(ctx)
	if err != nil {
		return m, p, err
	}
	first, last := int64(math.MaxInt64), int64(0)
	for _, s := range all {
		for _, place := range s.Places {
			if place.Hive != h.ID || place.Place == store.Away {
				continue
			}
			where := place.Place
			if place.Place == store.Inside {
				where = fmt.Sprintf("inside, %s above the floor, %s", quantity.Format(place.Height, quantity.Length, v.system), place.Column)
			}
			p.Sensors = append(p.Sensors, fmt.Sprintf("%s: %s, %s, since %s", s.Name, s.Measures, where, dayIn(time.Unix(place.Since, 0).UTC().Format(time.DateOnly))))
			if s.Readings > 0 {
				first, last = min(first, max(s.First, place.Since)), max(last, s.Last)
			}
		}
	}
	if len(p.Sensors) == 0 {
		p.Sentence = "No sensor hangs in this hive yet."
		return m, p, nil
	}
	y, err := v.config.Store.Yards.Get(ctx, h.Yard)
	if err != nil {
		return m, p, err
	}
	if y.Weather == "" {
		return m, p, errNoWeather
	}
	whole, err := v.weatherOf(ctx, y.Weather)
	if err != nil {
		return m, p, err
	}
	if whole.Typical {
		p.Sentence = "What was measured needs the weather of those very days."
		p.Weather = fmt.Sprintf("The yard has chosen %s, a typical year. Take weather that was recorded near the yard, as a file of your own.", whole.Name)
		return m, p, nil
	}
	if want.From == "" { // the latest two months that both have
		end := min(last, whole.End().Unix()-3600)
		begin := max(first, whole.Start.Unix(), end-60*86400)
		if begin < end {
			zone := whole.Location()
			m.want.From, m.want.To = time.Unix(begin+86399, 0).In(zone).Format(time.DateOnly), time.Unix(end, 0).In(zone).AddDate(0, 0, -1).Format(time.DateOnly)
			p.Asked = m.want
		}
	}
	days := answer.Days{}
	for _, d := range []struct {
		text string
		into *hive.Day
		what string
	}{{m.want.From, &days.From, "first day"}, {m.want.To, &days.To, "last day"}} {
		day, err := hive.ParseDay(d.text)
		if err != nil || day.Year == 0 {
			p.Problem = fmt.Sprintf("The %s: found %q, accepted: such as 2025-11-20.", d.what, d.text)
			return m, p, nil
		}
		*d.into = day
	}
	if m.build, err = v.buildOn(ctx, h.ID, m.want.From); err != nil {
		return m, p, err
	}
	plan, notes, err := answer.ReadHive(h.Name, strings.NewReader(m.build.File))
	if err != nil {
		return m, p, err
	}
	if m.want.Bees != "" {
		if plan.Colony.Bees, err = answer.BeesIn(m.want.Bees, plan.Hive); err != nil || !(plan.Colony.Bees > 0) {
			p.Problem = fmt.Sprintf("Bees: found %q, accepted: such as 2 kg or 8 frames.", m.want.Bees)
			return m, p, nil
		}
	}
	if m.want.Honey != "" {
		if plan.Colony.Honey, err = quantity.Parse(m.want.Honey, quantity.Mass); err != nil || !(plan.Colony.Honey >= 0) {
			p.Problem = fmt.Sprintf("Honey: found %q, accepted: such as 20 kg.", m.want.Honey)
			return m, p, nil
		}
	}
	m.notes = notes
	if m.setting, err = answer.Place([]hive.Plan{plan}, whole, days, v.system); err != nil {
		p.Problem = upper(err.Error()) + "."
		return m, p, nil
	}
	var without []string
	from, to := m.setting.Weather.Start, m.setting.Weather.End()
	if m.sensed, without, err = v.config.Store.SensedIn(ctx, h.ID, from.Unix(), to.Unix()); err != nil {
		return m, p, err
	}
	if len(m.sensed) == 0 {
		p.Problem = "No sensor of this hive has readings in these days."
		return m, p, nil
	}
	if len(without) > 0 {
		m.notes = append(m.notes, "without a place yet, and so left aside: "+strings.Join(without, ", "))
	}
	sum := sha256.New()
	fmt.Fprintf(sum, "%s %s %s.%d %s %d %s\n", measuredVersion, v.config.Version, m.build.ID, m.build.Revision, y.Weather, v.system, m.want.query().Encode())
	for _, s := range m.sensed {
		fmt.Fprintf(sum, "%d %v %d", s.Sensor.ID, s.Place, len(s.Readings))
		for _, r := range s.Readings {
			fmt.Fprintf(sum, " %d %g", r.At, r.Value)
		}
	}
	m.key = "measured:" + hex.EncodeToString(sum.Sum(nil))
	return m, p, nil
}

// buildOn is the build of a hive on a day, else the first to come.
func (v *visit) buildOn(ctx context.Context, id yard.ID, day string) (yard.Build, error) {
	builds, err := v.config.Store.BuildsOf(ctx, id)
	if err != nil {
		return yard.Build{}, err
	}
	if b, ok := yard.BuildOn(builds, day); ok {
		return b, nil
	}
	if len(builds) > 0 {
		return builds[0], nil
	}
	return yard.Build{}, &missing{what: "build of this hive: nothing says how it is built"}
}

func askedIn(q url.Values) measuredAsked {
	text := func(name string) string { return strings.TrimSpace(q.Get(name)) }
	return measuredAsked{From: text("from"), To: text("to"), Bees: text("bees"), Honey: text("honey"), Fit: q.Get("fit") == "yes"}
}

func (v *visit) keptComparison(m *measuring) (*keptComparison, error) {
	if m.key == "" {
		return nil, nil
	}
	packed, ok, err := v.config.Store.Cached(v.context(), m.key)
	if err != nil || !ok {
		return nil, err
	}
	var k keptComparison
	if err := json.Unmarshal(packed, &k); err != nil {
		v.config.Log.Warn("a kept comparison cannot be read", "error", err)
		return nil, nil
	}
	return &k, nil
}

func showMeasured(v *visit) (view, error) {
	m, p, err := v.measuring(askedIn(v.request.URL.Query()))
	if p == nil {
		return view{}, err
	}
	shown := view{Title: "Measured", Place: "yard", Hive: m.head, Body: p}
	if err != nil {
		return shown, err
	}
	if p.Problem != "" {
		shown.status = http.StatusUnprocessableEntity
	}
	kept, err := v.keptComparison(m)
	if err != nil {
		return shown, err
	}
	if kept == nil {
		if m.key != "" {
			if w := v.bench.find(m.key); w != nil {
				return shown, &underway{w, m.head}
			}
		}
		p.Sentence = cmp.Or(p.Sentence, "How does the computed hive compare with the real one?")
		return shown, nil
	}
	p.fill(v, m, kept)
	return shown, nil
}

// startMeasured begins to compare, or to fit, and leads to the page.
func startMeasured(v *visit) (view, error) {
	if err := v.request.ParseForm(); err != nil {
		return view{}, refuse("the form cannot be read: %s", err)
	}
	m, p, err := v.measuring(askedIn(v.request.PostForm))
	if err != nil || p == nil {
		return view{}, err
	}
	at := p.Path + "?" + m.want.query().Encode()
	if m.key == "" {
		return view{to: at}, nil // which shows what is wrong
	}
	if kept, err := v.keptComparison(m); err != nil || kept != nil {
		return view{to: at}, err
	}
	v.bench.forget(m.key)
	_, err = v.beginMeasured(m)
	return view{to: at, Hive: m.head}, err
}

// beginMeasured puts a comparison, or a fit, on the bench.
func (v *visit) beginMeasured(m *measuring) (*work, error) {
	what := "Computed against measured: " + m.hive.Name
	if m.want.Fit {
		what = "The fit of " + m.hive.Name
	}
	s := v.Server
	e := errand{Kind: kindMeasured, Hive: string(m.hive.ID), Query: m.want.query().Encode(), Units: v.system}
	return s.bench.start(e, m.key, what, func(ctx context.Context, progress func(float64)) error { return s.measure(ctx, m, progress) })
}

// measure compares or fits, and keeps what came out.
func (s *Server) measure(ctx context.Context, m *measuring, progress func(float64)) error {
	var sensed []answer.Sensed
	for _, x := range m.sensed {
		sensed = append(sensed, answer.Sensed{Name: x.Sensor.Name, Quantity: x.Sensor.Quantity, Place: x.Place.Place, Height: x.Place.Height, Column: x.Place.Column, Readings: x.Readings})
	}
	prepared := answer.Prepare(sensed, m.setting.Weather.Start, len(m.setting.Weather.Hours))
	var k keptComparison
	var err error
	if m.want.Fit {
		const runs = 30
		k.Doc, err = m.setting.FitHive(ctx, m.hive.Name, prepared, fit.HiveOptions{Joints: s.shelves.joints, Progress: func(done int) { progress(math.Min(0.99, float64(done)/runs)) }}, m.notes)
	} else {
		k.Doc, err = m.setting.Measure(ctx, m.hive.Name, prepared, m.notes, func(done, total int) { progress(float64(done) / float64(max(1, total))) })
	}
	if err != nil {
		return refuseData(err)
	}
	if k.Doc.Fit != nil {
		k.Keep = k.Doc.Fit.Measured
	}
	var picture bytes.Buffer
	if err := fit.Picture(&picture, m.hive.Name+": measured and computed, "+answer.Period(m.setting.First, m.setting.Last), k.Doc.Compared, m.system, ""); err != nil {
		return err
	}
	k.Picture = picture.String()
	packed, err := json.Marshal(k)
	if err != nil {
		return err
	}
	return s.config.Store.Cache(ctx, m.key, packed)
}

// refuseData marks an error of what was measured as the reader's to mend.
func refuseData(err error) error {
	if text, ok := strings.CutPrefix(err.Error(), "fit: unusable measurements: "); ok {
		return refuse("%s.", upper(text))
	}
	return err
}

// fill shows a comparison.
func (p *measuredPage) fill(v *visit, m *measuring, k *keptComparison) {
	d := &k.Doc
	p.Done, p.Hints, p.Notes, p.Query = true, d.Hints, d.Notes, m.want.query().Encode()
	p.Picture, p.JSON = p.Path+".svg?"+p.Query, p.Path+".json?"+p.Query
	p.Table = v.matchBox("Measured less computed", d.Sensors)
	p.Table.Note = "Scatter is the root mean square of the difference, swing the daily swing as a share of the computed. A scale counts by its changes."
	for _, s := range d.Steps {
		p.Steps = append(p.Steps, fmt.Sprintf("%s, %s: %s%s, %s", s.At.Format("2 Jan 2006 15:04"), s.Sensor, plus(s.Change), quantity.Format(s.Change, quantity.Mass, v.system), s.Guess))
	}
	if len(p.Hints) > 0 {
		p.Sentence = p.Hints[len(p.Hints)-1]
		p.Hints = p.Hints[:len(p.Hints)-1]
	}
	if f := d.Fit; f != nil {
		p.Fitted, p.Cannot, p.Predicts, p.Sentence = true, f.Cannot, f.Predicts, f.Predicts
		p.Hints = d.Hints
		names := map[string]string{"shell": "Conductance of the shell", "leak": "Leakage of the joints", "bees": "Heat of the bees"}
		p.Factors = gridBox{Title: "Share of the computed", Head: []string{"", "Most probable", "95 % from", "to", "Known before", "Learnt"}}
		percent := func(x float64) string { return fmt.Sprintf("%.0f %%", 100*x) }
		var keeps []string
		for _, x := range f.Factors {
			p.Factors.Rows = append(p.Factors.Rows, []string{names[x.Name], percent(x.Value), percent(x.Low), percent(x.High), percent(x.BeforeLow) + " to " + percent(x.BeforeHigh), percent(x.Learnt)})
			if x.Told {
				keeps = append(keeps, strings.ToLower(names[x.Name])+" "+percent(x.Value))
			}
		}
		p.Keeps = strings.Join(keeps, ", ")
		p.After = v.matchBox("After the fit", f.Sensors)
		if len(f.Held) > 0 {
			p.Held = gridBox{Title: "Weeks the fit did not see", Head: []string{"Week from", "Misfit before", "after"}, Note: "Misfits are over the scatter that the fit leaves: 1 is as good as in the weeks it saw."}
			for _, h := range f.Held {
				p.Held.Rows = append(p.Held.Rows, []string{h.From.Format("2 Jan 2006"), fmt.Sprintf("%.2f", h.Before), fmt.Sprintf("%.2f", h.After)})
			}
		}
	}
}

func plus(v float64) string {
	if v > 0 {
		return "+"
	}
	return ""
}

func (v *visit) matchBox(title string, sensors []answer.MatchedSensor) gridBox {
	b := gridBox{Title: title, Head: []string{"Sensor", "Mean", "Scatter", "Swing", "Hours"}}
	for _, s := range sensors {
		amount := func(x float64, signed bool) string {
			sign := ""
			if signed {
				sign = plus(x)
			}
			switch s.Quantity {
			case logger.Temperature.String():
				return sign + quantity.Format(math.Round(x*100)/100, quantity.TemperatureDifference, v.system)
			case logger.Humidity.String():
				return fmt.Sprintf("%s%.0f points", sign, 100*x)
			case logger.CO2.String():
				return fmt.Sprintf("%s%.0f ppm", sign, 1e6*x)
			}
			return sign + quantity.Format(x, quantity.Mass, v.system)
		}
		mean, swing := amount(s.Bias, true), ""
		if s.Place == fit.Scale {
			mean = "free"
		} else if s.Swing != nil {
			swing = fmt.Sprintf("%.0f %%", 100**s.Swing)
		}
		b.Rows = append(b.Rows, []string{s.Name, mean, amount(s.RMSE, false), swing, fmt.Sprint(s.Hours)})
	}
	return b
}

func (v *visit) comparedAlready() (*measuring, *keptComparison, error) {
	m, p, err := v.measuring(askedIn(v.request.URL.Query()))
	if err != nil || p == nil {
		return nil, nil, err
	}
	kept, err := v.keptComparison(m)
	if err == nil && kept == nil {
		err = &missing{what: "comparison of this hive for these days yet: ask for it on its page"}
	}
	return m, kept, err
}

func sendMeasuredPicture(v *visit) (view, error) {
	_, kept, err := v.comparedAlready()
	if err != nil {
		return view{}, err
	}
	v.w.Header().Set("Content-Type", "image/svg+xml")
	_, err = v.w.Write([]byte(kept.Picture))
	return view{written: true}, err
}

func sendMeasured(v *visit) (view, error) {
	_, kept, err := v.comparedAlready()
	if err != nil {
		return view{}, err
	}
	return view{written: true}, writeJSON(v.w, http.StatusOK, "application/json", kept.Doc)
}

// keepMeasured makes a build of the hive that carries the fitted factors.
func keepMeasured(v *visit) (view, error) {
	if err := v.request.ParseForm(); err != nil {
		return view{}, refuse("the form cannot be read: %s", err)
	}
	m, p, err := v.measuring(askedIn(v.request.PostForm))
	if err != nil || p == nil {
		return view{}, err
	}
	kept, err := v.keptComparison(m)
	if err != nil {
		return view{Hive: m.head}, err
	}
	if kept == nil || kept.Doc.Fit == nil {
		return view{Hive: m.head}, &missing{what: "fit of this hive for these days yet"}
	}
	text, err := answer.KeepMeasured(m.hive.Name, []byte(m.build.File), kept.Keep)
	if err != nil {
		return view{Hive: m.head}, refuseData(err)
	}
	id, err := yard.NewID()
	if err != nil {
		return view{}, err
	}
	b := yard.Build{Meta: yard.Meta{ID: id}, Hive: m.hive.ID, From: v.today(), File: string(text), Note: "as measured: " + kept.Keep.From}
	if _, err := v.config.Store.Builds.Put(v.context(), b); err != nil {
		return view{Hive: m.head}, err
	}
	return view{to: "/hive/" + url.PathEscape(string(m.hive.ID)) + "/notebook"}, nil
}
