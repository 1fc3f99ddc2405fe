package web

import (
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"hackle/internal/store"
	"hackle/quantity"
	"hackle/yard"
)

// notebookPages are the pages of what was seen and done.
func notebookPages() []page {
	return []page{
		{route: "GET /hive/{hive}/notebook", tab: "Notebook", template: "notebook", serve: showNotebook},
		{route: "GET /hive/{hive}/notebook/{kind}", template: "entry", serve: showEntry},
		{route: "POST /hive/{hive}/notebook/{kind}", template: "entry", serve: keepEntry},
		{route: "GET /record/{record}", template: "entry", serve: showRecord},
		{route: "POST /record/{record}", template: "entry", serve: editRecord},
		{route: "POST /record/{record}/delete", serve: deleteRecord},
		{route: "POST /record/{record}/undo", serve: undoRecord},
		{route: "GET /notebook/quick", template: "quick", serve: showQuick},
		{route: "POST /notebook/quick", serve: keepQuick},
		{route: "GET " + workerPath, serve: sendWorker},
		{route: "GET /notebook/table", template: "table", serve: showTable},
		{route: "POST /notebook/table", template: "table", serve: takeTable},
		{route: "GET /notebook/all.json", serve: sendNotebook},
		{route: "GET /notebook/tables/{table}", serve: sendTable},
	}
}

// mostShown is how many entries a page of the notebook shows.
const mostShown = 100

// keptHive finds the hive of a notebook, which needs no build and no weather.
func (v *visit) keptHive(id string) (yard.Hive, *hiveHead, error) {
	parsed, err := yard.ParseID(id)
	if err != nil {
		return yard.Hive{}, nil, &missing{"hive " + id}
	}
	h, err := v.config.Store.Hives.Get(v.context(), parsed)
	if err != nil {
		return h, nil, err
	}
	if h.Deleted {
		return h, nil, &missing{"hive " + h.Name + " any more"}
	}
	y, err := v.config.Store.Yards.Get(v.context(), h.Yard)
	if err != nil {
		return h, nil, err
	}
	return h, &hiveHead{ID: string(h.ID), Name: h.Name, Yard: y.Name}, nil
}

// entryRow is a record on a page.
type entryRow struct {
	ID, Kind, Title, Say, Note string
	At                         time.Time
	Build                      bool // not a record: since then it is built otherwise
}

func (v *visit) row(n *yard.Notebook, r yard.Record) entryRow {
	info, _ := yard.KindOf(r.Kind) // an unknown kind shows its word
	return entryRow{ID: string(r.ID), Kind: string(r.Kind), Title: cmp.Or(info.Title, string(r.Kind)), Say: r.Say(n, v.system), Note: r.Note, At: r.At}
}

// kindChoice is a kind in a choice of kinds.
type kindChoice struct {
	Kind, Title, Meaning string
	Current              bool
}

func kindChoices(current string) (all []kindChoice) {
	for _, k := range yard.Kinds() {
		all = append(all, kindChoice{string(k.Kind), k.Title, k.Meaning, string(k.Kind) == current})
	}
	return all
}

type notebookPage struct {
	Hive     string
	Sentence string
	Lives    string // who lives here, and since when
	Kinds    []kindChoice
	Kind     string
	Rows     []entryRow
	Older    string // address of the page before, empty for none
}

func showNotebook(v *visit) (view, error) {
	ctx := v.context()
	h, head, err := v.keptHive(v.request.PathValue("hive"))
	if err != nil {
		return view{}, err
	}
	query := v.request.URL.Query()
	filter := store.RecordFilter{Hive: h.ID, Latest: true, Limit: mostShown + 1}
	kind := query.Get("kind")
	if kind != "" {
		if _, ok := yard.KindOf(yard.Kind(kind)); !ok {
			return view{Hive: head}, &missing{"kind of entry " + kind}
		}
		filter.Kinds = []yard.Kind{yard.Kind(kind)}
	}
	if before := query.Get("before"); before != "" {
		s, err := strconv.ParseInt(before, 10, 64)
		if err != nil || s < -1e11 || s > 1e11 {
			return view{Hive: head}, refuse("before %q, accepted: seconds since 1970", before)
		}
		filter.To = time.Unix(s, 0)
	}
	records, err := v.config.Store.FindRecords(ctx, filter)
	if err != nil {
		return view{Hive: head}, err
	}
	n, err := v.names()
	if err != nil {
		return view{Hive: head}, err
	}
	p := notebookPage{Hive: head.ID, Kinds: kindChoices(kind), Kind: kind}
	if len(records) > mostShown {
		records = records[:mostShown]
		// Entries of one second stay on one page as far as they fit.
		q := url.Values{"before": {strconv.FormatInt(records[mostShown-1].At.Unix(), 10)}}
		if kind != "" {
			q.Set("kind", kind)
		}
		p.Older = v.request.URL.Path + "?" + q.Encode()
	}
	for _, r := range records {
		p.Rows = append(p.Rows, v.row(n, r))
	}
	if kind == "" && filter.To.IsZero() {
		builds, err := v.config.Store.BuildsOf(ctx, h.ID)
		if err != nil {
			return view{Hive: head}, err
		}
		for _, b := range builds {
			at, _ := time.Parse(time.DateOnly, b.From) // it was checked before it was kept
			p.Rows = append(p.Rows, entryRow{Title: "Built", Say: cmp.Or(b.Note, "as its hive file says"), At: at, Build: true})
		}
		slices.SortStableFunc(p.Rows, func(a, b entryRow) int { return b.At.Compare(a.At) })
	}
	if err := v.sentences(&p, h, records, n, kind); err != nil {
		return view{Hive: head}, err
	}
	return view{Title: "Notebook", Place: "yard", Hive: head, Body: p}, nil
}

// sentences says what a keeper asks of the notebook first.
func (v *visit) sentences(p *notebookPage, h yard.Hive, records []yard.Record, n *yard.Notebook, kind string) error {
	now := v.config.Now()
	lives, err := v.config.Store.Lives(v.context())
	if err != nil {
		return err
	}
	for _, c := range n.Colonies {
		life := lives[c.ID]
		if in, ok := life.HiveAt(now); ok && in == h.ID && life.End.IsZero() {
			p.Lives = c.Name + " lives here since " + (say{v.system}).Day(life.Stays[len(life.Stays)-1].From) + "."
		}
	}
	what := "Nothing is written down of this hive yet."
	if kind != "" {
		what = "No such entry is here yet."
	}
	for _, r := range records {
		if kind == "" && r.Kind == yard.Moved {
			continue
		}
		row := v.row(n, r)
		what = fmt.Sprintf("On %s, %s", (say{v.system}).Day(r.At), strings.ToLower(row.Title))
		if row.Say != "" {
			what += ": " + row.Say
		} else if row.Note != "" {
			what += ": " + shortened(row.Note)
		}
		what += "."
		break
	}
	p.Sentence = what
	return nil
}

func shortened(text string) string {
	text = strings.Join(strings.Fields(text), " ")
	if r := []rune(text); len(r) > 120 {
		return string(r[:119]) + "…"
	}
	return text
}

// names is the notebook without its records, to find and write names.
func (v *visit) names() (*yard.Notebook, error) {
	ctx := v.context()
	n := new(yard.Notebook)
	var err error
	if n.Yards, err = v.config.Store.Yards.All(ctx, true); err != nil {
		return nil, err
	}
	if n.Hives, err = v.config.Store.Hives.All(ctx, true); err != nil {
		return nil, err
	}
	n.Colonies, err = v.config.Store.Colonies.All(ctx, true)
	return n, err
}

// entryField is a field of the form of an entry.
type entryField struct {
	Name, Label, Type, Unit, Value, Hint, Problem string
	Choices                                       []choice
	Need                                          bool
}

type choice struct {
	Value, Name string
	Current     bool
}

// entryPage is the form of an entry, a new one or one that is kept.
type entryPage struct {
	Action, ID, Revision string
	Kind, Title, Meaning string
	Kinds                []kindChoice
	At, Zone, Note       string
	Fields               []entryField
	Colonies             []choice // nil when the colony need not be said
	NewColony            string
	Problems             []string // of the whole entry
	Caution              string
	Kept                 bool // edits what is kept
	Deleted              bool
	History              []versionRow
	CanUndo              bool
	Back                 string
	Hive                 string
}

type versionRow struct {
	Revision int
	Changed  time.Time
	Say      string
	Note     string
	At       time.Time
	Deleted  bool
	Undone   bool
}

// formTime is how browsers write a time in a form.
const formTime = "2006-01-02T15:04"

// unitOf is the unit in which a reader writes a number of the field, empty for a
// plain number.
func unitOf(f yard.Field, system quantity.System) string {
	if f.Type != yard.Number {
		return ""
	}
	us := system == quantity.US
	pick := func(metric, american string) string {
		if us {
			return american
		}
		return metric
	}
	switch f.Quantity {
	case quantity.Mass:
		return pick("kg", "lb")
	case quantity.Temperature:
		return pick("°C", "°F")
	case quantity.Length:
		return pick("mm", "in")
	}
	return ""
}

// inUnit writes a number of the field in the reader's unit, without the unit.
func inUnit(f yard.Field, value float64, system quantity.System) string {
	unit := unitOf(f, system)
	if unit != "" {
		at := func(text string) float64 {
			x, err := quantity.Parse(text+" "+unit, f.Quantity)
			if err != nil {
				return 0 // the units are those of package quantity
			}
			return x
		}
		zero := at("0")
		value = (value - zero) / (at("1") - zero)
	}
	return strconv.FormatFloat(value, 'g', 7, 64)
}

// parseField reads what a form holds for a field: a number without a unit is in the
// reader's.
func parseField(f yard.Field, text string, n *yard.Notebook, system quantity.System) (any, error) {
	text = strings.TrimSpace(strings.ReplaceAll(text, "\r\n", "\n"))
	if f.Type == yard.Number {
		// A comma may stand for the point, as many keyboards have it.
		if strings.Count(text, ",") == 1 && !strings.Contains(text, ".") {
			text = strings.Replace(text, ",", ".", 1)
		}
		if _, err := strconv.ParseFloat(text, 64); err == nil {
			text += " " + unitOf(f, system)
		}
		text = strings.TrimSpace(text)
	}
	return f.ParseValue(text, n)
}

// formOf makes the form of a record.
func (v *visit) formOf(r yard.Record, info yard.KindInfo, n *yard.Notebook) entryPage {
	p := entryPage{ID: string(r.ID), Revision: strconv.Itoa(r.Revision), Kind: string(r.Kind), Title: info.Title, Meaning: info.Meaning,
		At: r.At.Format(formTime), Zone: r.At.Format("-07:00"), Note: r.Note, Hive: string(r.Hive)}
	for _, f := range info.Fields {
		e := entryField{Name: "f_" + f.Name, Label: f.Label, Type: string(f.Type), Hint: f.Meaning, Need: f.Required, Unit: unitOf(f, v.system)}
		value, has := r.Values[f.Name]
		switch f.Type {
		case yard.Number:
			if x, ok := value.(float64); ok {
				e.Value = inUnit(f, x, v.system)
			}
		case yard.Choice:
			for _, w := range f.Words {
				e.Choices = append(e.Choices, choice{w, w, value == w})
			}
		case yard.YesNo:
			e.Choices = []choice{{"yes", "yes", value == true}, {"no", "no", has && value == false}}
		case yard.AColony:
			for _, c := range n.Colonies {
				if !c.Deleted && c.ID != r.Colony {
					e.Choices = append(e.Choices, choice{string(c.ID), c.Name, value == string(c.ID)})
				}
			}
		default:
			e.Value, _ = value.(string)
		}
		p.Fields = append(p.Fields, e)
	}
	switch r.Kind {
	case yard.Weight:
		p.Caution = "A full hive weighs as much as a person. Lift one side a finger's width, with straight back and sure footing, or let two lift."
	case yard.Inspection:
		p.Caution = "Do not open a colony in the cold. Wear a veil; who is allergic to stings does not work alone."
	case yard.Feeding:
		p.Caution = "Feed in the evening and spill nothing, against robbing."
	}
	if r.Colony != "" || info.NeedsColony {
		p.Colonies = []choice{}
		for _, c := range n.Colonies {
			if !c.Deleted || c.ID == r.Colony {
				p.Colonies = append(p.Colonies, choice{string(c.ID), c.Name, c.ID == r.Colony})
			}
		}
	}
	return p
}

// showEntry shows the empty form of a kind.
func showEntry(v *visit) (view, error) {
	r, info, head, n, err := v.newEntry()
	if err != nil {
		return view{Hive: head}, err
	}
	p := v.formOf(r, info, n)
	p.Action, p.Kinds, p.Back = v.request.URL.Path, kindChoices(p.Kind), "/hive/"+head.ID+"/notebook"
	return view{Title: info.Title, Place: "yard", Hive: head, Body: p}, nil
}

// newEntry is an empty record for the hive and kind of the address, with a fresh ID
// that the form carries, so that sending it twice keeps it once.
func (v *visit) newEntry() (r yard.Record, info yard.KindInfo, head *hiveHead, n *yard.Notebook, err error) {
	h, head, err := v.keptHive(v.request.PathValue("hive"))
	if err != nil {
		return r, info, head, nil, err
	}
	info, ok := yard.KindOf(yard.Kind(v.request.PathValue("kind")))
	if !ok {
		return r, info, head, nil, &missing{"kind of entry " + v.request.PathValue("kind")}
	}
	if n, err = v.names(); err != nil {
		return r, info, head, nil, err
	}
	r = yard.Record{Kind: info.Kind, Hive: h.ID, At: v.config.Now().Truncate(time.Minute), Values: map[string]any{}}
	if info.NeedsColony && info.Kind != yard.Moved {
		in, err := v.config.Store.Occupants(v.context(), r.At)
		if err != nil {
			return r, info, head, nil, err
		}
		r.Colony = in[h.ID].ID
	}
	r.ID, err = yard.NewID()
	return r, info, head, n, err
}

// readForm reads the form of an entry into r, which holds what was there before. It
// returns the faults by field of the form.
func (v *visit) readForm(r *yard.Record, info yard.KindInfo, n *yard.Notebook) map[string]string {
	faults := map[string]string{}
	form := v.request.PostForm
	before := v.formOf(*r, info, n)
	values := map[string]any{}
	for i, f := range info.Fields {
		name := "f_" + f.Name
		text := strings.TrimSpace(form.Get(name))
		switch {
		case text == "":
		case f.Type == yard.Number && text == before.Fields[i].Value:
			values[f.Name] = r.Values[f.Name] // not changed, so not rounded either
		default:
			x, err := parseField(f, text, n, v.system)
			if err != nil {
				faults[name] = faultText(err)
				continue
			}
			values[f.Name] = x
		}
	}
	r.Values = values
	r.Note = strings.TrimSpace(strings.ReplaceAll(form.Get("note"), "\r\n", "\n"))
	if at := form.Get("at"); at != before.At { // a time that was not changed keeps its seconds and its offset
		zone := time.Local
		if z, err := time.Parse("-07:00", form.Get("zone")); err == nil && r.Revision > 0 {
			zone = z.Location()
		}
		t, err := yard.ParseTime(at, zone)
		if err != nil {
			faults["at"] = faultText(err)
		}
		r.At = t
	}
	if c := form.Get("colony"); c != "" && c != "new" {
		id, err := n.FindColony(c)
		if err != nil {
			faults["colony"] = faultText(err)
		}
		r.Colony = id
	}
	return faults
}

// faultText says what is wrong in the words of the fault alone.
func faultText(err error) string {
	if all := yard.FaultsIn(err); len(all) > 0 {
		texts := make([]string, len(all))
		for i, f := range all {
			texts[i] = fmt.Sprintf("Found %s, wanted %s.", cmp.Or(f.Found, "nothing"), f.Wanted)
			if f.Hint != "" {
				texts[i] += " " + upper(f.Hint) + "."
			}
		}
		return strings.Join(texts, " ")
	}
	return upper(err.Error()) + "."
}

// keepEntry keeps a new record from its form.
func keepEntry(v *visit) (view, error) {
	r, info, head, n, err := v.newEntry()
	if err != nil {
		return view{Hive: head}, err
	}
	if err := v.request.ParseForm(); err != nil {
		return view{Hive: head}, err
	}
	if r.ID, err = yard.ParseID(v.request.PostForm.Get("id")); err != nil {
		return view{Hive: head}, refuse("id: %v", err)
	}
	faults := v.readForm(&r, info, n)
	back := "/hive/" + head.ID + "/notebook"
	again := func(err error) (view, error) {
		p := v.formOf(r, info, n)
		p.Action, p.Kinds, p.Back, p.NewColony = v.request.URL.Path, nil, back, v.request.PostForm.Get("new_colony")
		return v.formAgain(p, head, faults, err)
	}
	if len(faults) > 0 {
		return again(nil)
	}
	add := &yard.Notebook{Records: []yard.Record{r}}
	if name := strings.TrimSpace(v.request.PostForm.Get("new_colony")); name != "" && r.Colony == "" {
		// The colony's ID comes from that of the entry: sent twice it is one colony.
		c := yard.Colony{Meta: yard.Meta{ID: yard.IDFrom(r.ID.Made(), string(r.ID), "colony")}, Name: name}
		add.Colonies = []yard.Colony{c}
		add.Records[0].Colony = c.ID
	}
	if _, err := v.config.Store.Merge(v.context(), add, false); err != nil {
		return again(err)
	}
	return view{to: back}, nil
}

// formAgain shows a form with what is wrong, each at its field.
func (v *visit) formAgain(p entryPage, head *hiveHead, faults map[string]string, err error) (view, error) {
	form := v.request.PostForm
	if err != nil {
		list := yard.FaultsIn(err)
		if list == nil {
			return view{Hive: head}, err
		}
		for _, f := range list {
			text := faultText(&yard.Faults{List: []yard.Fault{f}})
			switch {
			case slices.ContainsFunc(p.Fields, func(e entryField) bool { return e.Name == "f_"+f.Field }):
				faults["f_"+f.Field] = text
			case f.Field == "at" || f.Field == "note" || f.Field == "colony" && p.Colonies != nil:
				faults[f.Field] = text
			default:
				p.Problems = append(p.Problems, text)
			}
		}
	}
	for i := range p.Fields {
		e := &p.Fields[i]
		e.Problem = faults[e.Name]
		if e.Choices == nil {
			e.Value = form.Get(e.Name)
		}
	}
	for _, name := range []string{"at", "note", "colony"} {
		if t := faults[name]; t != "" {
			p.Problems = append(p.Problems, upper(name)+": "+t)
		}
	}
	p.At = form.Get("at")
	return view{Title: p.Title, Place: "yard", Hive: head, Body: p, status: http.StatusUnprocessableEntity}, nil
}

// keptRecord finds the record of the address.
func (v *visit) keptRecord() (r yard.Record, head *hiveHead, err error) {
	id, err := yard.ParseID(v.request.PathValue("record"))
	if err != nil {
		return r, nil, &missing{"entry " + v.request.PathValue("record")}
	}
	if r, err = v.config.Store.Records.Get(v.context(), id); err != nil {
		return r, nil, err
	}
	if r.Hive != "" {
		if _, h, err := v.keptHive(string(r.Hive)); err == nil {
			head = h // an entry outlives its hive
		}
	}
	return r, head, nil
}

func (r entryPage) path() string { return "/record/" + r.ID }

// recordForm is the form of a kept record with its history.
func (v *visit) recordForm(r yard.Record, head *hiveHead) (entryPage, yard.KindInfo, *yard.Notebook, error) {
	info, ok := yard.KindOf(r.Kind)
	if !ok {
		return entryPage{}, info, nil, &missing{"kind of entry " + string(r.Kind)}
	}
	n, err := v.names()
	if err != nil {
		return entryPage{}, info, nil, err
	}
	p := v.formOf(r, info, n)
	p.Action, p.Kept, p.Deleted, p.Back = p.path(), true, r.Deleted, "/"
	if head != nil {
		p.Back = "/hive/" + head.ID + "/notebook"
	}
	versions, err := v.config.Store.Records.History(v.context(), r.ID)
	if err != nil {
		return p, info, n, err
	}
	for _, x := range versions {
		p.History = append(p.History, versionRow{x.Thing.Revision, x.Thing.Changed, x.Thing.Say(n, v.system), x.Thing.Note, x.Thing.At, x.Thing.Deleted, x.Content != x.Thing.Revision})
	}
	p.CanUndo = versions[len(versions)-1].Content > 1
	return p, info, n, nil
}

func showRecord(v *visit) (view, error) {
	r, head, err := v.keptRecord()
	if err != nil {
		return view{}, err
	}
	p, info, _, err := v.recordForm(r, head)
	return view{Title: info.Title, Place: "yard", Hive: head, Body: p}, err
}

// revision is the one that a form was made from.
func (v *visit) revision() (int, error) {
	n, err := strconv.Atoi(v.request.PostFormValue("revision"))
	if err != nil || n < 1 {
		return 0, refuse("revision %q, accepted: that of the entry", v.request.PostFormValue("revision"))
	}
	return n, nil
}

func editRecord(v *visit) (view, error) {
	r, head, err := v.keptRecord()
	if err != nil {
		return view{}, err
	}
	p, info, n, err := v.recordForm(r, head)
	if err != nil {
		return view{Hive: head}, err
	}
	if r.Revision, err = v.revision(); err != nil {
		return view{Hive: head}, err
	}
	faults := v.readForm(&r, info, n)
	if len(faults) == 0 {
		if _, err = v.config.Store.Records.Put(v.context(), r); err == nil {
			return view{to: p.Back}, nil
		}
	}
	return v.formAgain(p, head, faults, err)
}

func deleteRecord(v *visit) (view, error) {
	r, _, err := v.keptRecord()
	if err != nil {
		return view{}, err
	}
	revision, err := v.revision()
	if err != nil {
		return view{}, err
	}
	if _, err := v.config.Store.Records.Delete(v.context(), r.ID, revision); err != nil {
		return view{}, err
	}
	to := "/record/" + string(r.ID)
	if back := v.request.PostFormValue("to"); back != "" {
		to = local(back)
	}
	return view{to: to}, nil
}

func undoRecord(v *visit) (view, error) {
	r, _, err := v.keptRecord()
	if err != nil {
		return view{}, err
	}
	revision, err := v.revision()
	if err != nil {
		return view{}, err
	}
	if _, err := v.config.Store.Records.Undo(v.context(), r.ID, revision); err != nil {
		return view{}, err
	}
	return view{to: "/record/" + string(r.ID)}, nil
}

// sendNotebook sends everything that was written down as JSON.
func sendNotebook(v *visit) (view, error) {
	var b strings.Builder
	if err := v.config.Store.Export(v.context(), &b); err != nil {
		return view{}, err
	}
	v.send("application/json", "notebook.json", b.String())
	return view{written: true}, nil
}

func (v *visit) send(kind, name, text string) {
	v.w.Header().Set("Content-Type", kind)
	v.w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	v.w.Write([]byte(text)) // the reader is gone when this fails
}

// sendTable sends one table of the notebook as CSV, of one hive when ?hive= names
// it.
func sendTable(v *visit) (view, error) {
	sheet, ok := strings.CutSuffix(v.request.PathValue("table"), ".csv")
	if !ok || !slices.Contains(yard.Sheets(), sheet) {
		return view{}, &missing{"table " + v.request.PathValue("table")}
	}
	n, err := v.config.Store.Notebook(v.context(), true)
	if err != nil {
		return view{}, err
	}
	name := sheet
	if hive := v.request.URL.Query().Get("hive"); hive != "" {
		h, _, err := v.keptHive(hive)
		if err != nil {
			return view{}, err
		}
		n.Records = slices.DeleteFunc(n.Records, func(r yard.Record) bool { return r.Hive != h.ID })
		n.Builds = slices.DeleteFunc(n.Builds, func(b yard.Build) bool { return b.Hive != h.ID })
	}
	var b strings.Builder
	if err := n.WriteCSV(&b, sheet); err != nil {
		return view{}, err
	}
	v.send("text/csv; charset=utf-8", name+".csv", b.String())
	return view{written: true}, nil
}

// Documents of the interface for programs.
type (
	// sentRecord is a record as a program sends it.
	sentRecord struct {
		ID       yard.ID           `json:"id"`       // made by who sends it: a UUID of version 7
		Revision int               `json:"revision"` // that was read, 0 for something new
		Deleted  bool              `json:"deleted"`
		Kind     yard.Kind         `json:"kind"`
		At       time.Time         `json:"at"`
		Hive     yard.ID           `json:"hive"`
		Colony   yard.ID           `json:"colony"` // empty: the one that lives in the hive then
		Values   map[string]any    `json:"values"` // SI
		Text     map[string]string `json:"text"`   // values as people write them, numbers with their unit
		Note     string            `json:"note"`
	}
	sentDoc struct {
		Records []sentRecord `json:"records"`
	}
	// sentResult says what became of one sent record.
	sentResult struct {
		ID       yard.ID      `json:"id"`
		State    string       `json:"state"`    // kept, refused, conflict, or again: nothing is wrong with it, send it later
		Revision int          `json:"revision"` // as it is kept
		Problem  string       `json:"problem,omitempty"`
		Faults   []yard.Fault `json:"faults,omitempty"`
	}
	sentResultsDoc struct {
		Results []sentResult `json:"results"`
	}
	recordsDoc struct {
		Records []yard.Record `json:"records"`
	}
	kindsDoc struct {
		Kinds []yard.KindInfo `json:"kinds"`
	}
)

// notebookEndpoints are the notebook's part of the interface for programs.
func notebookEndpoints() []endpoint {
	return []endpoint{
		{route: "GET /kinds", name: "listKinds", summary: "The kinds of records and the fields of each", gives: kindsDoc{}, serve: func(*visit) (any, error) { return kindsDoc{yard.Kinds()}, nil }},
		{route: "GET /records", name: "listRecords", summary: "Records by time", params: []param{
			{"yard", "ID of a yard: those at its hives"}, {"hive", "ID of a hive"}, {"colony", "ID of a colony"}, {"kind", "a kind of record"},
			{"from", "a time or a day: those not before it"}, {"to", "a time or a day: those before it"}}, gives: recordsDoc{}, serve: apiRecords},
		{route: "POST /records", name: "keepRecords", summary: "Keep records, each by itself: sent again it is no duplicate, and one that is refused is no obstacle to the others", takes: sentDoc{}, gives: sentResultsDoc{}, serve: apiKeepRecords},
	}
}

// mostSent is how many records one request may bring.
const mostSent = 200

func apiKeepRecords(v *visit) (any, error) {
	var sent sentDoc
	if err := v.json(&sent); err != nil {
		return nil, err
	}
	if len(sent.Records) > mostSent {
		return nil, refuse("%d records, accepted: %d at once.", len(sent.Records), mostSent)
	}
	n, err := v.names()
	if err != nil {
		return nil, err
	}
	doc := sentResultsDoc{Results: []sentResult{}}
	for _, r := range sent.Records {
		doc.Results = append(doc.Results, v.takeRecord(r, n))
	}
	return doc, v.context().Err()
}

func (v *visit) takeRecord(sent sentRecord, n *yard.Notebook) sentResult {
	result := sentResult{ID: sent.ID}
	r := yard.Record{Meta: yard.Meta{ID: sent.ID, Revision: sent.Revision, Deleted: sent.Deleted}, Kind: sent.Kind, At: sent.At.Truncate(time.Second),
		Hive: sent.Hive, Colony: sent.Colony, Values: sent.Values, Note: sent.Note}
	if r.Values == nil {
		r.Values = map[string]any{}
	}
	var err error
	if info, ok := yard.KindOf(r.Kind); ok {
		var faults []error
		for name, text := range sent.Text {
			f, ok := info.Field(name)
			if !ok {
				r.Values[name] = text // the check names it
				continue
			}
			x, err := parseField(f, text, n, quantity.Metric)
			faults = append(faults, err)
			r.Values[name] = x
		}
		err = errors.Join(faults...)
	}
	var kept yard.Record
	if err == nil {
		kept, err = v.config.Store.Records.Put(v.context(), r)
	}
	switch {
	case err == nil:
		result.State, result.Revision = "kept", kept.Revision
	case yard.FaultsIn(err) != nil || errors.Is(err, store.NotFound):
		result.State, result.Faults, result.Problem = "refused", yard.FaultsIn(err), err.Error()
		if result.Faults != nil {
			result.Problem = faultText(err)
		}
	case errors.Is(err, store.Conflict):
		result.State, result.Problem = "conflict", "It was changed elsewhere meanwhile."
	default:
		v.config.Log.Warn("a record could not be kept", "error", err)
		_, _, result.Problem = statusOf(err)
		result.State = "again"
	}
	return result
}

func apiRecords(v *visit) (any, error) {
	q := v.request.URL.Query()
	filter := store.RecordFilter{Hive: yard.ID(q.Get("hive")), Colony: yard.ID(q.Get("colony")), Yard: yard.ID(q.Get("yard"))}
	for _, name := range []string{"hive", "colony", "yard"} {
		if id := yard.ID(q.Get(name)); id != "" && !id.Valid() {
			return nil, refuse("%s=%s, accepted: an ID.", name, id)
		}
	}
	for _, k := range q["kind"] {
		if _, ok := yard.KindOf(yard.Kind(k)); !ok {
			return nil, refuse("kind=%s is no kind of record.", k)
		}
		filter.Kinds = append(filter.Kinds, yard.Kind(k))
	}
	for name, into := range map[string]*time.Time{"from": &filter.From, "to": &filter.To} {
		if text := q.Get(name); text != "" {
			t, err := yard.ParseTime(text, time.Local)
			if err != nil {
				return nil, refuse("%s: %v", name, err)
			}
			*into = t
		}
	}
	records, err := v.config.Store.FindRecords(v.context(), filter)
	return recordsDoc{records}, err
}
