package web

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"slices"
	"strings"
	"time"

	"hackle/climate"
	"hackle/hive"
	"hackle/internal/answer"
	"hackle/internal/cutaway"
	"hackle/ledger"
	"hackle/quantity"
	"hackle/season"
	"hackle/yard"
)

// draft is a hive on the way to being built in another way. It is kept in the
// yard's file until it is built or thrown away, with its steps, so that a reload
// or a second tab loses nothing.
type draft struct {
	Build    yard.ID  `json:"build"` // that it began from
	Revision int      `json:"revision"`
	Files    []string `json:"files"` // steps, the first one the build's own file
	At       int      `json:"at"`    // the one that is shown
}

// mostSteps is how far back a draft can be undone.
const mostSteps = 60

func draftName(hive yard.ID) string { return "draft:" + string(hive) }

// draftOf returns the draft of a hive, a fresh one when there is none.
func (v *visit) draftOf(a *asked) (draft, error) {
	var d draft
	found, err := v.config.Store.Setting(v.context(), draftName(a.Hive.ID), &d)
	if err != nil {
		return d, err
	}
	if !found || len(d.Files) == 0 || d.At < 0 || d.At >= len(d.Files) {
		return draft{Build: a.Build.ID, Revision: a.Build.Revision, Files: []string{a.Build.File}}, nil
	}
	return d, nil
}

func (d draft) file() string { return d.Files[d.At] }

// step adds a state after the present one; what was undone is forgotten.
func (d draft) step(file string) draft {
	if file == d.file() {
		return d
	}
	d.Files = append(slices.Clone(d.Files[:d.At+1]), file)
	if len(d.Files) > mostSteps {
		d.Files = slices.Delete(d.Files, 1, 1+len(d.Files)-mostSteps)
	}
	d.At = len(d.Files) - 1
	return d
}

func (v *visit) keepDraft(a *asked, d draft) error {
	return v.config.Store.SetSetting(v.context(), draftName(a.Hive.ID), d)
}

// editPage is the form beside its drawing.
type editPage struct {
	Form      *editForm
	Materials []string
	Types     []hive.TypeInfo
	Type      string
	Drawing   template.HTML
	Sections  []link
	Section   string
	Quick     quick
	Problem   string
	File      string
	CanUndo   bool
	CanRedo   bool
	Changed   bool // differs from how it stands
	Elsewhere bool // the hive was built in another way meanwhile
	Full      fullAnswer
	Try, Here string
	Steps     int
}

// quick is what a few days tell at once.
type quick struct {
	Sentence string `json:"sentence"`
	Basis    string `json:"basis"`
	Problem  string `json:"problem,omitempty"`
}

// fullAnswer is what the whole year tells, when it is known.
type fullAnswer struct {
	State    string `json:"state"` // "done", "running" or "failed"
	Sentence string `json:"sentence"`
	Events   string `json:"events,omitempty"` // address of the stream of progress
}

// editing finds the hive and its draft.
func (v *visit) editing() (*asked, *hiveHead, draft, error) {
	a, head, err := v.hive()
	if err != nil {
		return nil, head, draft{}, err
	}
	d, err := v.draftOf(a)
	return a, head, d, err
}

func (v *visit) section() (cutaway.Section, error) {
	text := v.request.FormValue("section")
	if text == "" {
		return cutaway.Along, nil
	}
	s, err := cutaway.ParseSection(text)
	if err != nil {
		return s, refuse("%s", err)
	}
	return s, nil
}

func showEdit(v *visit) (view, error) {
	a, _, d, err := v.editing()
	if err != nil {
		return view{}, err
	}
	plan, _, err := answer.ReadHive(a.Hive.Name, strings.NewReader(d.file()))
	if err != nil {
		// A draft of another version of the program: show the hive as it stands and
		// the draft's text to mend.
		text := d.file()
		d.Files, d.At, plan = []string{a.Build.File}, 0, a.Plan.Clone()
		form, formErr := newEditForm(&plan, v.system)
		if formErr != nil {
			return view{}, formErr
		}
		return v.editView(a, d, form, text, "The draft cannot be read any more and is left below as text: "+err.Error())
	}
	form, err := newEditForm(&plan, v.system)
	if err != nil {
		return view{}, err
	}
	return v.editView(a, d, form, d.file(), "")
}

// editView shows a form, as it was filled in.
func (v *visit) editView(a *asked, d draft, form *editForm, file, problem string) (view, error) {
	section, err := v.section()
	if err != nil {
		return view{}, err
	}
	id := string(a.Hive.ID)
	p := editPage{Form: form, Problem: problem, File: file, CanUndo: d.At > 0, CanRedo: d.At < len(d.Files)-1, Section: string(section),
		Changed: d.file() != a.Build.File, Elsewhere: d.Build != a.Build.ID || d.Revision != a.Build.Revision, Try: "/hive/" + id + "/edit/try", Here: "/hive/" + id + "/edit", Steps: d.At}
	types, err := hive.Types()
	if err != nil {
		return view{}, err
	}
	p.Type = form.plan.Hive.Type
	for _, t := range types {
		if t.Name != hive.Custom {
			p.Types = append(p.Types, t)
		}
	}
	for _, m := range form.table.All() {
		if m.Kind != "content" {
			p.Materials = append(p.Materials, m.Name)
		}
	}
	for _, s := range []struct {
		name    string
		section cutaway.Section
	}{{"From the side", cutaway.Along}, {"From behind", cutaway.Across}} {
		p.Sections = append(p.Sections, link{"/hive/" + id + "/edit?section=" + string(s.section), s.name, s.section == section})
	}
	plan, _, readErr := answer.ReadHive(a.Hive.Name, strings.NewReader(d.file()))
	if readErr != nil {
		return view{}, readErr
	}
	t := v.try(a, plan, section)
	p.Drawing, p.Quick = template.HTML(t.Drawing), t.Quick
	if p.Changed {
		if p.Full, err = v.fullOf(a, plan, false); err != nil {
			p.Full = fullAnswer{State: "failed", Sentence: upper(err.Error()) + "."}
		}
	}
	shown := view{Title: "Build", Place: "yard", Hive: headOf(a), Body: p}
	bad := problem != "" || len(form.Loose) > 0
	for _, x := range form.fields() {
		bad = bad || x.Problem != ""
	}
	if bad {
		shown.status = 422
	}
	return shown, nil
}

// tried is the answer to a change that is not kept yet.
type tried struct {
	Drawing string            `json:"drawing,omitempty"` // SVG
	Quick   quick             `json:"quick"`
	Faults  map[string]string `json:"faults"` // by field
	Loose   []string          `json:"loose"`
	Kept    bool              `json:"kept"`
	Steps   int               `json:"steps"`
}

// try draws a hive and runs it through the coldest days alone.
func (v *visit) try(a *asked, plan hive.Plan, section cutaway.Section) tried {
	t := tried{Faults: map[string]string{}, Loose: []string{}}
	options := cutaway.Options{Section: section, Units: v.system, Dimensions: true}
	y, q, err := v.quick(a, plan)
	t.Quick = q
	if err == nil {
		coldest := 0
		for h := range y.Hours() {
			now, _ := y.Value("outdoor.temp", h)
			if low, _ := y.Value("outdoor.temp", coldest); now < low {
				coldest = h
			}
		}
		if svg, err := y.Draw(coldest, options); err == nil {
			t.Drawing = string(svg)
			return t
		}
	}
	options.Date = a.Set.First.AddDate(0, 3, 0)
	svg, err := cutaway.Draw(plan.Hive, options)
	if err != nil {
		t.Loose = append(t.Loose, upper(err.Error())+".")
		return t
	}
	t.Drawing = string(svg)
	return t
}

// The coldest week is run by itself, with some days before it in which the walls
// take up the weather.
const (
	leadDays = 3
	weekDays = 7
)

// quickRun is what a run of the coldest days gave.
type quickRun struct {
	year  *cutaway.Year
	honey float64 // eaten in the week [kg]
	heat  float64 // of bees and brood, mean [W]
	lid   float64 // air under the lid, mean [°C]
	over  float64 // most water above the cluster [kg]
}

// quick runs the coldest week of the weather and holds it against the hive as it
// stands.
func (v *visit) quick(a *asked, plan hive.Plan) (*cutaway.Year, quick, error) {
	from := coldestWeek(a.Set.Weather)
	q := quick{Basis: fmt.Sprintf("A quick look: the week from %s, the coldest of this weather, run by itself with %d days before it, with the bees and honey of that week.", from.Format("2 January"), leadDays)}
	now, err := v.quickRun(a, plan, from)
	if err != nil {
		q.Problem = "The coldest week could not be run: " + err.Error() + "."
		return nil, q, err
	}
	s := say{v.system}
	q.Sentence = fmt.Sprintf("In the coldest week the bees burn %s of honey and it is %s under the lid on the mean", s.Mass(now.honey), s.Temp(now.lid))
	if base, err := v.quickRun(a, a.Plan, from); err == nil && base != now {
		q.Sentence += fmt.Sprintf("; as it stands %s and %s", s.Mass(base.honey), s.Temp(base.lid))
	}
	switch {
	case now.over >= ledger.OverheadLeast:
		q.Sentence += ". Up to " + s.Mass(now.over) + " of water hang above them."
	default:
		q.Sentence += ". No water hangs above them."
	}
	return now.year, q, nil
}

// coldestWeek finds the seven days of lowest mean in a series that begins at
// midnight.
func coldestWeek(w *climate.Series) time.Time {
	best, at := 1e9, 0
	sum := 0.0
	const span = weekDays * 24
	for i, h := range w.Hours {
		sum += h.TempAir
		if i >= span {
			sum -= w.Hours[i-span].TempAir
		}
		if from := i - span + 1; from >= 0 && from%24 == 0 && sum < best {
			best, at = sum, from
		}
	}
	return w.Start.Add(time.Duration(at) * time.Hour)
}

func (v *visit) quickRun(a *asked, plan hive.Plan, from time.Time) (*quickRun, error) {
	var text bytes.Buffer
	if err := hive.Encode(&text, plan, quantity.Metric); err != nil {
		return nil, err
	}
	key := a.Key + "|" + from.Format(time.DateOnly) + "|" + text.String()
	if r, ok := v.shelves.quick.get(key); ok {
		return r, nil
	}
	start := from.AddDate(0, 0, -leadDays)
	if start.Before(a.Set.Weather.Start) {
		start = a.Set.Weather.Start
	}
	end := from.AddDate(0, 0, weekDays)
	if last := a.Set.Weather.Start.Add(time.Duration(len(a.Set.Weather.Hours)) * time.Hour); end.After(last) {
		end = last
	}
	w, err := a.Set.Weather.Window(start, end)
	if err != nil {
		return nil, err
	}
	// Bees and honey of that week, as the whole run of the hive as it stands has
	// them; else those of the file.
	plan = plan.Clone()
	plan.Site.HasPlace = a.Set.Plans[0].Site.HasPlace
	if y := v.foundYear(v.context(), a.Key); y != nil {
		h := int(start.Sub(y.Time(0)).Hours())
		mass, _ := y.Value("bees.mass", h)
		honey, _ := y.Value("honey.left", h)
		if mass > 0 && honey > 0 {
			plan.Colony.Bees, plan.Colony.Honey = mass, honey
			plan.Colony.ClusterAt, _ = y.Value("bees.height", h)
		}
	}
	plan.Colony.Date = hive.Day{Month: start.Month(), Day: start.Day()}
	set := a.Set
	set.Plans, set.Weather = []hive.Plan{plan}, w
	in := set.Input(0)
	in.Joints = v.shelves.joints
	tr, err := v.runGuarded(in)
	if err != nil {
		return nil, err
	}
	r := &quickRun{}
	if r.year, err = cutaway.Compact(tr); err != nil {
		return nil, err
	}
	first := min(max(int(from.Sub(tr.Start).Hours()), 0), tr.Hours-1)
	n := float64(tr.Hours - first)
	for h := first; h < tr.Hours; h++ {
		r.honey += tr.Get("honey.eaten")[h]
		r.heat += tr.Get("bees.heat")[h] / n
		r.lid += tr.Get("air.under_lid")[h] / n
		r.over = max(r.over, tr.Get("water.overhead")[h])
	}
	v.shelves.quick.put(key, r)
	return r, nil
}

// runGuarded runs a draft, which may be a hive that nobody has thought of: a fault
// of the engine becomes an error, and the form stays in use.
func (v *visit) runGuarded(in season.Input) (tr *season.Trace, err error) {
	defer func() {
		if fault := recover(); fault != nil {
			v.config.Log.Error("a draft cannot be run", "error", fault)
			err = fmt.Errorf("a fault of the program: %v", fault)
		}
	}()
	return season.Run(v.context(), in, nil)
}

// fullOf tells what the whole year of a plan gives; when it is not known yet and
// begin is true, it is begun.
func (v *visit) fullOf(a *asked, plan hive.Plan, begin bool) (fullAnswer, error) {
	b, err := v.askDraft(v.context(), a, plan, v.system)
	if err != nil {
		return fullAnswer{}, err
	}
	r, err := v.found(v.context(), b)
	if err != nil {
		return fullAnswer{}, err
	}
	if r == nil {
		w := v.bench.find(b.Key)
		if w == nil && begin {
			if w, err = v.start(b); err != nil {
				return fullAnswer{}, err
			}
		}
		if w == nil {
			return fullAnswer{State: "running"}, nil
		}
		if s, _, _, failure := w.look(); s.over() && failure != nil {
			return fullAnswer{State: "failed", Sentence: "The whole year could not be run: " + failure.Error() + "."}, nil
		}
		return fullAnswer{State: "running", Events: "/work/" + b.Key + "/events"}, nil
	}
	s := say{v.system}
	f := fullAnswer{State: "done", Sentence: "The whole year: " + lower(v.winterSentence(&r.Ledger))}
	if base, err := v.found(v.context(), a); err == nil && base != nil && a.Key != b.Key {
		l, m := &r.Ledger, &base.Ledger
		if l.Winter != nil && m.Winter != nil {
			switch d := l.Winter.Burned - m.Winter.Burned; {
			case d <= -0.05:
				f.Sentence += fmt.Sprintf(" That is %s less in winter than as it stands.", s.Mass(-d))
			case d >= 0.05:
				f.Sentence += fmt.Sprintf(" That is %s more in winter than as it stands.", s.Mass(d))
			default:
				f.Sentence += " That is as much in winter as it stands."
			}
		}
		f.Sentence += fmt.Sprintf(" Water hangs above the bees for %.0f hours; as it stands for %.0f.", l.Water.OverheadHours, m.Water.OverheadHours)
	}
	return f, nil
}

func lower(text string) string {
	if text == "" {
		return ""
	}
	return strings.ToLower(text[:1]) + text[1:]
}

// filled reads the form of a request into the present step of the draft.
func (v *visit) filled(a *asked, d draft) (hive.Plan, *editForm, bool, error) {
	plan, _, err := answer.ReadHive(a.Hive.Name, strings.NewReader(d.file()))
	if err != nil {
		return plan, nil, false, err
	}
	changed := plan.Clone()
	form, err := newEditForm(&changed, v.system)
	if err != nil {
		return plan, nil, false, err
	}
	values := v.request.PostForm
	if steps := values.Get("steps"); steps != "" && steps != fmt.Sprint(d.At) {
		// The fields of another tab are about another state of the hive.
		return plan, nil, false, &refused{status: http.StatusConflict, text: "The hive was changed in another tab. Load this page again; nothing was overwritten."}
	}
	ok := form.read(values)
	if ok {
		ok = form.check()
	}
	return changed, form, ok, nil
}

// tryEdit answers a change at once and keeps it when asked to: a script sends the
// form while somebody drags.
func tryEdit(v *visit) (view, error) {
	a, _, d, err := v.editing()
	if err != nil {
		return view{}, err
	}
	if err := v.request.ParseForm(); err != nil {
		return view{}, err
	}
	section, err := v.section()
	if err != nil {
		return view{}, err
	}
	plan, form, ok, err := v.filled(a, d)
	if err != nil {
		return view{}, err
	}
	t := tried{Faults: map[string]string{}, Loose: orNone(form.Loose), Steps: d.At}
	if ok {
		t = v.try(a, plan, section)
		t.Steps = d.At
		if v.request.PostForm.Get("keep") == "1" {
			file, err := written(plan, v.system)
			if err != nil {
				return view{}, err
			}
			d = d.step(file)
			if err := v.keepDraft(a, d); err != nil {
				return view{}, err
			}
			t.Kept, t.Steps = true, d.At
		}
	}
	for _, x := range form.fields() {
		if x.Problem != "" {
			t.Faults[x.Name] = x.Problem
		}
	}
	return v.sendJSON(t)
}

func orNone(list []string) []string {
	if list == nil {
		return []string{}
	}
	return list
}

func written(plan hive.Plan, system quantity.System) (string, error) {
	var b bytes.Buffer
	err := hive.Encode(&b, plan, system)
	return b.String(), err
}

// changeEdit keeps what was typed in, and does what a button says.
func changeEdit(v *visit) (view, error) {
	a, _, d, err := v.editing()
	if err != nil {
		return view{}, err
	}
	if err := v.request.ParseForm(); err != nil {
		return view{}, err
	}
	back := "/hive/" + string(a.Hive.ID) + "/edit"
	section, err := v.section()
	if err != nil {
		return view{}, err
	}
	if section != cutaway.Along {
		back += "?section=" + string(section)
	}
	do := v.request.PostForm.Get("do")
	switch do {
	case "undo", "redo":
		by := 1
		if do == "undo" {
			by = -1
		}
		if at := d.At + by; at >= 0 && at < len(d.Files) {
			d.At = at
			if err := v.keepDraft(a, d); err != nil {
				return view{}, err
			}
		}
		return view{to: back}, nil
	case "discard":
		if err := v.keepDraft(a, draft{}); err != nil {
			return view{}, err
		}
		return view{to: back}, nil
	}
	plan, form, ok, err := v.filled(a, d)
	if err != nil {
		return view{}, err
	}
	if !ok {
		return v.editView(a, d, form, d.file(), "Something below cannot be used as it is; nothing was changed.")
	}
	if do == "type" {
		do += ":" + v.request.PostForm.Get("type")
	}
	if do != "" && do != "build" && do != "keep" {
		again, err := newEditForm(&plan, v.system)
		if err != nil {
			return view{}, err
		}
		if err := again.do(do); err != nil {
			return view{}, err
		}
		if again, err = newEditForm(&plan, v.system); err != nil {
			return view{}, err
		}
		if !again.check() {
			return v.editView(a, d, again, d.file(), "That would leave a hive that cannot be: nothing was changed.")
		}
	}
	file, err := written(plan, v.system)
	if err != nil {
		return view{}, err
	}
	d = d.step(file)
	if do == "build" {
		return v.build(a, d)
	}
	if err := v.keepDraft(a, d); err != nil {
		return view{}, err
	}
	return view{to: back}, nil
}

// build makes the draft how the hive stands from today on. One that began today is
// changed; an older one stays as the history of the hive.
func (v *visit) build(a *asked, d draft) (view, error) {
	b := yard.Build{Hive: a.Hive.ID, From: v.today(), File: d.file(), Note: v.request.PostForm.Get("note")}
	if len(b.Note) > 500 {
		return view{}, refuse("the note has %d letters; at most 500 are kept", len(b.Note))
	}
	if a.Build.From == b.From {
		b.Meta = a.Build.Meta
	} else {
		var err error
		if b.ID, err = yard.NewID(); err != nil {
			return view{}, err
		}
	}
	if _, err := v.config.Store.Builds.Put(v.context(), b); err != nil {
		return view{}, err
	}
	if err := v.keepDraft(a, draft{}); err != nil {
		return view{}, err
	}
	return view{to: "/hive/" + string(a.Hive.ID)}, nil
}

// replaceEdit takes a whole hive file, typed in or uploaded.
func replaceEdit(v *visit) (view, error) {
	a, _, d, err := v.editing()
	if err != nil {
		return view{}, err
	}
	text, err := v.fileSent()
	if err != nil {
		return view{}, err
	}
	_, faults, err := hive.Inspect("hive file", strings.NewReader(text))
	if err != nil {
		return view{}, err
	}
	if wrong := faults.Wrong(); len(wrong) > 0 {
		old, _, err := answer.ReadHive(a.Hive.Name, strings.NewReader(d.file()))
		if err != nil {
			return view{}, err
		}
		form, err := newEditForm(&old, v.system)
		if err != nil {
			return view{}, err
		}
		shown, err := v.editView(a, d, form, text, "The hive file cannot be used: "+(&hive.Faults{List: wrong}).Error())
		shown.status = 422
		return shown, err
	}
	if err := v.keepDraft(a, d.step(text)); err != nil {
		return view{}, err
	}
	return view{to: "/hive/" + string(a.Hive.ID) + "/edit"}, nil
}

// mostFile is the size of the largest hive file that is taken. [byte]
const mostFile = 256 << 10

// fileSent is the text of the file of a request.
func (v *visit) fileSent() (string, error) {
	parts, err := v.request.MultipartReader()
	if err != nil {
		return "", refuse("A hive file is wanted, sent by the form of this page.")
	}
	typed, sent := "", ""
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return "", uploadError(err)
		}
		got, err := io.ReadAll(io.LimitReader(part, mostFile+1))
		if err != nil {
			return "", uploadError(err)
		}
		if len(got) > mostFile {
			return "", &refused{status: http.StatusRequestEntityTooLarge, text: fmt.Sprintf("The file is larger than the %d bytes of a hive file that are accepted here.", mostFile)}
		}
		switch part.FormName() {
		case "file":
			sent = string(got)
		case "text":
			typed = strings.ReplaceAll(string(got), "\r\n", "\n")
		}
	}
	if strings.TrimSpace(sent) != "" {
		return sent, nil
	}
	return typed, nil
}

// sendDraft sends the file of the draft.
func sendDraft(v *visit) (view, error) {
	a, _, d, err := v.editing()
	if err != nil {
		return view{}, err
	}
	attach(v.w, fileName(a.Hive.Name, "-draft.yaml"), "application/yaml")
	_, _ = v.w.Write([]byte(d.file())) // the reader is gone when this fails
	return view{written: true}, nil
}

// fullEdit tells what the whole year of the draft gives, and begins it.
func fullEdit(v *visit) (view, error) {
	a, _, d, err := v.editing()
	if err != nil {
		return view{}, err
	}
	plan, _, err := answer.ReadHive(a.Hive.Name, strings.NewReader(d.file()))
	if err != nil {
		return view{}, err
	}
	f, err := v.fullOf(a, plan, true)
	if err != nil && !errors.Is(err, context.Canceled) {
		f = fullAnswer{State: "failed", Sentence: upper(err.Error()) + "."}
	}
	return v.sendJSON(f)
}
