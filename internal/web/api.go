package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"hackle/change"
	"hackle/climate"
	"hackle/internal/answer"
	"hackle/internal/store"
	"hackle/ledger"
	"hackle/yard"
)

// apiRoot begins the address of everything for programs.
const apiRoot = "/api/v1"

// An endpoint is an entry of the interface for programs. The description of the
// interface is made from the same table.
type endpoint struct {
	route   string // method and path below apiRoot, as of [http.ServeMux]
	name    string // operation, in one word
	summary string
	params  []param
	takes   any    // an example of the type of the body, nil for none
	text    string // kind of a body that is text
	gives   any    // an example of the type of the answer
	later   bool   // may answer with 202 and work that is under way
	made    bool   // answers with 201
	serve   func(*visit) (any, error)
}

// param is a part of a query.
type param struct{ name, meaning string }

// endpoints is the table of the interface.
func endpoints() []endpoint {
	return append([]endpoint{
		{route: "GET /yards", name: "listYards", summary: "Every yard", gives: yardsDoc{}, serve: apiYards},
		{route: "GET /yards/{yard}/hives", name: "listHives", summary: "The hives of a yard", gives: hivesDoc{}, serve: apiHives},
		{route: "POST /yards/{yard}/hives", name: "addHive", summary: "Add a hive that stands as its hive file says from today on", takes: newHiveDoc{}, gives: hiveDoc{}, made: true, serve: apiAddHive},
		{route: "GET /hives/{hive}", name: "getHive", summary: "A hive, how it is built and its hive file", gives: hiveDoc{}, serve: apiHive},
		{route: "PUT /hives/{hive}/file", name: "putFile", summary: "Replace the hive file from today on", text: "application/yaml", gives: hiveDoc{}, serve: apiPutFile},
		{route: "GET /hives/{hive}/year", name: "getYear", summary: "The ledger of a hive's year, as hackle year --json prints it", params: []param{unitsParam}, gives: answer.Year{}, later: true, serve: apiYear},
		{route: "GET /hives/{hive}/days", name: "getDays", summary: "What the pages draw of a hive's year: values by day, in SI", gives: daysDoc{}, later: true, serve: apiDays},
		{route: "GET /hives/{hive}/range", name: "getRange", summary: "Between which numbers the answer lies over many years, as hackle range --json prints it", params: rangeParams(), gives: answer.Ranged{}, later: true, serve: apiRange},
		{route: "POST /hives/{hive}/compare", name: "compareChanges", summary: "A hive as it is beside the same with changes made, in the shape of hackle compare --json", params: []param{unitsParam}, takes: pickedDoc{}, gives: answer.Comparison{}, later: true, serve: apiCompare},
		{route: "POST /check", name: "check", summary: "Check a hive file and say what it describes, as hackle check --json does", text: "application/yaml", gives: answer.Checked{}, serve: apiCheck},
		{route: "GET /weather", name: "listWeather", summary: "Weather to choose from: built in and kept in the yard's file", gives: weathersDoc{}, serve: apiWeathers},
		{route: "GET /weather/{name}", name: "getWeather", summary: "Weather in a summary, as hackle weather show --json prints it", gives: answer.Weather{}, serve: apiWeather},
		{route: "GET /work", name: "listWork", summary: "What is being computed", gives: worksDoc{}, serve: apiWorks},
		{route: "DELETE /work/{key}", name: "stopWork", summary: "Stop something that is being computed", gives: workDoc{}, serve: apiStopWork},
	}, append(rankEndpoints(), notebookEndpoints()...)...)
}

var unitsParam = param{"units", "metric or us: of the sentences; numbers are SI whatever it says"}

// Documents of the interface beside those of package answer.
type (
	yardsDoc struct {
		Yards []yard.Yard `json:"yards"`
	}
	hivesDoc struct {
		Hives []yard.Hive `json:"hives"`
	}
	newHiveDoc struct {
		Name string `json:"name"`
		File string `json:"file"` // a hive file, YAML
	}
	hiveDoc struct {
		yard.Hive
		Build yard.Build  `json:"build"`
		Built answer.Hive `json:"built"`
	}
	pickedDoc struct {
		Changes []string `json:"changes"` // in their text form, such as "lid=mineral wool 76 mm"
	}
	weathersDoc struct {
		Sites  []answer.Site   `json:"sites"`
		Kept   []store.Weather `json:"kept"` // chosen by "series:" and the id
		Notice string          `json:"notice"`
	}
	daysDoc struct {
		From ledger.Date         `json:"from"`
		Days map[string]dayLines `json:"days"` // by channel, "name [unit]" as in the CSV of hours
	}
	dayLines struct {
		Low  []float64 `json:"low"`
		Mean []float64 `json:"mean"`
		High []float64 `json:"high"`
		Last []float64 `json:"last"` // of the day's last hour
	}
	workDoc struct {
		Key    string    `json:"key"`
		Title  string    `json:"title"`
		State  string    `json:"state"` // waiting, running, done, failed or stopped
		Share  float64   `json:"share"` // done, 0 to 1
		Error  string    `json:"error,omitempty"`
		Begun  time.Time `json:"begun"`
		Events string    `json:"events"` // address of the stream of its progress
	}
	worksDoc struct {
		Work []workDoc `json:"work"`
	}
	problemDoc struct { // after RFC 9457
		Type   string `json:"type"`
		Title  string `json:"title"`
		Status int    `json:"status"`
		Detail string `json:"detail"`
	}
)

// apiPages turns the table into pages.
func apiPages() (all []page) {
	for _, e := range endpoints() {
		method, path, _ := strings.Cut(e.route, " ")
		all = append(all, page{route: method + " " + apiRoot + path, serve: func(v *visit) (view, error) {
			doc, err := e.serve(v)
			status := http.StatusOK
			var busy *underway
			switch {
			case errors.As(err, &busy):
				s, share, _, problem := busy.work.look()
				if s == failed {
					return view{}, problem
				}
				doc, status = workOf(busy.work, s, share, problem), http.StatusAccepted
				v.w.Header().Set("Retry-After", "1")
			case err != nil:
				return view{}, err
			case e.made:
				status = http.StatusCreated
			}
			return view{written: true}, writeJSON(v.w, status, "application/json", doc)
		}})
	}
	return append(all,
		page{route: "GET " + apiRoot + "/openapi.json", serve: func(v *visit) (view, error) {
			return view{written: true}, writeJSON(v.w, http.StatusOK, "application/json", openAPI())
		}},
		page{route: apiRoot + "/", serve: func(v *visit) (view, error) {
			return view{}, &missing{what: "such address; " + apiRoot + "/openapi.json lists all"}
		}})
}

// writeJSON writes a document whole, as the command line does.
func writeJSON(w http.ResponseWriter, status int, kind string, doc any) error {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(doc); err != nil {
		return err
	}
	w.Header().Set("Content-Type", kind)
	w.WriteHeader(status)
	_, _ = w.Write(b.Bytes()) // the reader is gone when this fails
	return nil
}

func writeProblem(w http.ResponseWriter, status int, title, text string) {
	_ = writeJSON(w, status, "application/problem+json", problemDoc{"about:blank", title, status, text}) // strings alone cannot fail
}

// body is the whole of what was sent.
func (v *visit) body() ([]byte, error) { return io.ReadAll(v.request.Body) }

// json reads the body into a document, and refuses what the document has not.
func (v *visit) json(into any) error {
	d := json.NewDecoder(v.request.Body)
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			return err
		}
		return &refused{status: http.StatusBadRequest, text: "The body is not the JSON that is accepted here: " + err.Error() + "."}
	}
	if d.More() {
		return &refused{status: http.StatusBadRequest, text: "The body goes on after its JSON."}
	}
	return nil
}

func apiYards(v *visit) (any, error) {
	all, err := v.config.Store.Yards.All(v.context(), false)
	return yardsDoc{all}, err
}

func (v *visit) yard() (yard.Yard, error) {
	id, err := yard.ParseID(v.request.PathValue("yard"))
	if err != nil {
		return yard.Yard{}, &missing{what: "yard " + v.request.PathValue("yard")}
	}
	return v.config.Store.Yards.Get(v.context(), id)
}

func apiHives(v *visit) (any, error) {
	y, err := v.yard()
	if err != nil {
		return nil, err
	}
	all, err := v.config.Store.HivesOf(v.context(), y.ID)
	return hivesDoc{all}, err
}

func apiAddHive(v *visit) (any, error) {
	y, err := v.yard()
	if err != nil {
		return nil, err
	}
	var in newHiveDoc
	if err := v.json(&in); err != nil {
		return nil, err
	}
	h, err := v.addHive(v.context(), y.ID, in.Name, in.File)
	if err != nil {
		return nil, err
	}
	return v.hiveDoc(string(h.ID))
}

func (v *visit) hiveDoc(id string) (any, error) {
	a, err := v.ask(v.context(), id, v.system)
	if err != nil {
		return nil, err
	}
	return hiveDoc{a.Hive, a.Build, answer.Describe(a.Plan)}, nil
}

func apiHive(v *visit) (any, error) { return v.hiveDoc(v.request.PathValue("hive")) }

func apiPutFile(v *visit) (any, error) {
	a, err := v.ask(v.context(), v.request.PathValue("hive"), v.system)
	if err != nil {
		return nil, err
	}
	text, err := v.body()
	if err != nil {
		return nil, err
	}
	if err := v.rebuild(a, string(text), ""); err != nil {
		return nil, err
	}
	return v.hiveDoc(string(a.Hive.ID))
}

// rebuild keeps that a hive is built in another way from today on. What was built
// today is replaced, what was built before stays in the hive's history.
func (v *visit) rebuild(a *asked, file, note string) error {
	b := a.Build
	if b.From < v.today() {
		b = yard.Build{Hive: a.Hive.ID, From: v.today()}
		var err error
		if b.ID, err = yard.NewID(); err != nil {
			return err
		}
	}
	b.File, b.Note = strings.ReplaceAll(file, "\r\n", "\n"), note
	_, err := v.config.Store.Builds.Put(v.context(), b)
	return err
}

// unitsAsked lets a query choose the units of sentences.
func (v *visit) unitsAsked() error {
	switch u := v.request.URL.Query().Get("units"); u {
	case "":
	case "metric":
		v.system = 0
	case "us":
		v.system = 1
	default:
		return &refused{status: http.StatusBadRequest, text: "units=" + u + ", accepted: metric or us."}
	}
	return nil
}

func apiYear(v *visit) (any, error) {
	if err := v.unitsAsked(); err != nil {
		return nil, err
	}
	a, r, err := v.answered()
	if err != nil {
		return nil, err
	}
	doc := answer.NewYear(a.Hive.Name, a.Set.Weather, r.Ledger, append(slices.Clone(a.Notes), a.Set.Notes...), v.system)
	doc.WaterMonths = r.Water
	return doc, nil
}

func apiDays(v *visit) (any, error) {
	_, r, err := v.answered()
	if err != nil {
		return nil, err
	}
	doc := daysDoc{From: ledger.Date{Time: r.First}, Days: map[string]dayLines{}}
	for name, d := range r.Daily {
		doc.Days[name+" ["+r.Units[name]+"]"] = dayLines(d)
	}
	return doc, nil
}

func apiCompare(v *visit) (any, error) {
	if err := v.unitsAsked(); err != nil {
		return nil, err
	}
	var in pickedDoc
	if err := v.json(&in); err != nil {
		return nil, err
	}
	a, _, err := v.hive()
	if err != nil {
		return nil, err
	}
	set, err := pickedIn(url.Values{"change": in.Changes})
	if err != nil {
		return nil, refuse("%s.", err)
	}
	whole, err := v.weatherOf(v.context(), a.Yard.Weather)
	if err != nil {
		return nil, err
	}
	yards, err := v.yardsOf(v.context(), a)
	if err != nil {
		return nil, err
	}
	b, _, err := v.changed(v.context(), a, set, change.Site{Weather: whole, Yards: yards, Units: v.system})
	if err != nil {
		return nil, err
	}
	doc := answer.Comparison{Weather: answer.Used(a.Set.Weather), From: ledger.Date{Time: a.Set.First}, To: ledger.Date{Time: a.Set.Last}, Differences: []ledger.Comparison{},
		Notes: append(slices.Clone(a.Notes), b.Set.Notes...), Uncertainty: ledger.OneRun}
	var ledgers []ledger.Ledger
	for i, x := range []*asked{a, b} {
		r, w, err := v.result(v.context(), x)
		if err != nil {
			return nil, err
		}
		if r == nil {
			return nil, &underway{work: w}
		}
		l := r.Ledger
		l.Hive = []string{x.Hive.Name, set.String()}[i]
		ledgers = append(ledgers, l)
		doc.Hives = append(doc.Hives, answer.NewYear(x.Hive.Name, x.Set.Weather, l, nil, v.system))
	}
	doc.Differences = append(doc.Differences, ledger.DifferenceIn(ledgers[0], ledgers[1], v.system))
	if doc.Notes == nil {
		doc.Notes = []string{}
	}
	return doc, nil
}

func apiCheck(v *visit) (any, error) {
	text, err := v.body()
	if err != nil {
		return nil, err
	}
	return answer.Check("hive file", bytes.NewReader(text)), nil
}

func apiWeathers(v *visit) (any, error) {
	sites, err := climate.Sites()
	if err != nil {
		return nil, err
	}
	doc := weathersDoc{Sites: []answer.Site{}, Notice: climate.BuiltinNotice()}
	for _, s := range sites {
		doc.Sites = append(doc.Sites, answer.SiteOf(s))
	}
	doc.Kept, err = v.config.Store.Weathers(v.context())
	return doc, err
}

func apiWeather(v *visit) (any, error) {
	w, err := v.weatherOf(v.context(), v.request.PathValue("name"))
	if err != nil {
		return nil, err
	}
	return answer.Show(w, climate.FlightTemp), nil
}

func workOf(w *work, s state, share float64, err error) workDoc {
	doc := workDoc{Key: w.key, Title: w.title, State: string(s), Share: share, Begun: w.begun, Events: "/work/" + w.key + "/events"}
	if err != nil && s == failed {
		_, _, doc.Error = statusOf(err)
	}
	return doc
}

func apiWorks(v *visit) (any, error) {
	doc := worksDoc{Work: []workDoc{}}
	for _, w := range v.bench.list() {
		s, share, _, err := w.look()
		doc.Work = append(doc.Work, workOf(w, s, share, err))
	}
	return doc, nil
}

func apiStopWork(v *visit) (any, error) {
	w := v.bench.find(v.request.PathValue("key"))
	if w == nil {
		return nil, &missing{what: "work " + v.request.PathValue("key")}
	}
	w.stop()
	s, share, _, err := w.look()
	return workOf(w, s, share, err), nil
}
