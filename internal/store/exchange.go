package store

import (
	"bufio"
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"hackle/logger"
	"hackle/yard"
)

// Notebook returns everything that was written down, deleted things too when asked,
// as of one moment.
func (s *Store) Notebook(ctx context.Context, deleted bool) (*yard.Notebook, error) {
	const doing = "reading the notebook"
	tx, err := s.read.BeginTx(ctx, nil)
	if err != nil {
		return nil, s.fail(doing, err)
	}
	defer tx.Rollback() // nothing was written
	n, err := s.notebookIn(ctx, tx, deleted)
	return n, s.fail(doing, err)
}

func (s *Store) notebookIn(ctx context.Context, db querier, deleted bool) (*yard.Notebook, error) {
	n := new(yard.Notebook)
	err := errors.Join(
		collect(ctx, db, s.Yards, deleted, &n.Yards),
		collect(ctx, db, s.Hives, deleted, &n.Hives),
		collect(ctx, db, s.Builds, deleted, &n.Builds),
		collect(ctx, db, s.Colonies, deleted, &n.Colonies),
		collect(ctx, db, s.Plans, deleted, &n.Plans),
		collect(ctx, db, s.Records, deleted, &n.Records),
	)
	return n, err
}

func collect[T thing](ctx context.Context, db querier, c *Collection[T], deleted bool, into *[]T) (err error) {
	where := "WHERE deleted = 0 "
	if deleted {
		where = ""
	}
	*into, err = c.table.list(ctx, db, where+c.table.order)
	return err
}

// Merged counts what became of things that were brought in.
type Merged struct {
	New     int `json:"new"`
	Changed int `json:"changed"`
	Same    int `json:"same"` // were there already
}

// ThingError tells which of many things could not be kept.
type ThingError struct {
	ID  yard.ID
	Err error
}

// Error is the error of the thing.
func (e *ThingError) Error() string { return e.Err.Error() }

// Unwrap gives the error of the thing.
func (e *ThingError) Unwrap() error { return e.Err }

// Merge keeps every thing of a notebook, all or none, each as Put does: what is
// kept already counts as the same, and an edit carries the revision it was made
// from. When try is set, all is tried and nothing kept. The error is a *ThingError
// where one thing is at fault.
func (s *Store) Merge(ctx context.Context, n *yard.Notebook, try bool) (Merged, error) {
	var m Merged
	tried := errors.New("tried")
	err := s.transact(ctx, "keeping the notebook", func(tx *sql.Tx) error {
		// What a record may be depends on those before it in the colony's life.
		records := slices.Clone(n.Records)
		slices.SortStableFunc(records, func(a, b yard.Record) int { return a.At.Compare(b.At) })
		for _, step := range []func() error{
			func() error { return merge(ctx, tx, s.Yards, n.Yards, &m) },
			func() error { return merge(ctx, tx, s.Hives, n.Hives, &m) },
			func() error { return merge(ctx, tx, s.Builds, n.Builds, &m) },
			func() error { return merge(ctx, tx, s.Colonies, colonyOrder(n.Colonies), &m) },
			func() error { return merge(ctx, tx, s.Plans, n.Plans, &m) },
			func() error { return merge(ctx, tx, s.Records, records, &m) },
		} {
			if err := step(); err != nil {
				return err
			}
		}
		if try {
			return tried
		}
		return nil
	})
	if errors.Is(err, tried) {
		return m, nil
	}
	if err != nil {
		return Merged{}, err
	}
	return m, nil
}

func merge[T thing](ctx context.Context, tx *sql.Tx, c *Collection[T], all []T, m *Merged) error {
	for _, v := range all {
		before := c.table.meta(&v).Revision
		id := c.table.meta(&v).ID
		var was int
		err := tx.QueryRowContext(ctx, "SELECT revision FROM "+c.table.name+" WHERE id = ?", string(id)).Scan(&was)
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		if was == 0 && before > 0 {
			c.table.meta(&v).Revision = 0 // from another file: here it is new
		}
		kept, err := c.putIn(ctx, tx, v)
		if err != nil {
			return &ThingError{ID: id, Err: c.wrap("keeping the "+c.table.name, id, err)}
		}
		switch now := c.table.meta(&kept).Revision; {
		case was == 0:
			m.New++
		case now > was:
			m.Changed++
		default:
			m.Same++
		}
	}
	return nil
}

// colonyOrder puts colonies after those they came from.
func colonyOrder(all []yard.Colony) []yard.Colony {
	in := map[yard.ID]yard.Colony{}
	for _, c := range all {
		in[c.ID] = c
	}
	done := map[yard.ID]bool{}
	var order []yard.Colony
	var visit func(c yard.Colony)
	visit = func(c yard.Colony) {
		if done[c.ID] {
			return
		}
		done[c.ID] = true
		if from, ok := in[c.From]; ok {
			visit(from)
		}
		order = append(order, c)
	}
	for _, c := range all {
		visit(c)
	}
	return order
}

// exportFormat and exportVersion mark a JSON export.
const (
	exportFormat  = "hackle notebook"
	exportVersion = 1
)

// Export is the notebook as JSON: everything that cannot be computed again, with
// every version of every thing. Secrets, sessions, jobs and cached results are not
// in it.
type Export struct {
	Format   string                     `json:"format"` // "hackle notebook"
	Version  int                        `json:"version"`
	Exported time.Time                  `json:"exported"`
	Settings map[string]json.RawMessage `json:"settings"`
	yard.Notebook
	History    []HistoryEntry    `json:"history"`
	Weather    []ExportWeather   `json:"weather"`
	LoggerMaps map[string]string `json:"logger_maps"` // column maps of loggers' files, by name
	Sensors    []ExportSensor    `json:"sensors,omitempty"`
}

// ExportSensor is a sensor with its readings in an export.
type ExportSensor struct {
	Name     string          `json:"name"`
	Quantity string          `json:"quantity"`
	Unit     string          `json:"unit"` // of the readings
	Note     string          `json:"note"`
	Places   []Placement     `json:"places"`
	Readings []ExportReading `json:"readings"`
}

// ExportReading is a reading: its Unix time [s] and its value.
type ExportReading [2]float64

// HistoryEntry is one version of one thing.
type HistoryEntry struct {
	Of       string          `json:"of"` // "yard", "hive", "build", "colony", "plan" or "record"
	ID       yard.ID         `json:"id"`
	Revision int             `json:"revision"`
	Changed  time.Time       `json:"changed"`
	Content  int             `json:"content"`  // revision whose content it carries
	Previous int             `json:"previous"` // revision of the content before, 0 for the first
	Body     json.RawMessage `json:"body"`     // the thing as it was
}

// ExportWeather is a series of weather in an export.
type ExportWeather struct {
	ID     yard.ID         `json:"id"`
	Added  time.Time       `json:"added"`
	Series json.RawMessage `json:"series"`
}

// Export writes the notebook as of one moment as JSON.
func (s *Store) Export(ctx context.Context, w io.Writer) error {
	const doing = "exporting the notebook"
	e := Export{Format: exportFormat, Version: exportVersion, Exported: s.stamp(), History: []HistoryEntry{}, Weather: []ExportWeather{}}
	tx, err := s.read.BeginTx(ctx, nil)
	if err != nil {
		return s.fail(doing, err)
	}
	defer tx.Rollback() // nothing was written
	n, err := s.notebookIn(ctx, tx, true)
	if err != nil {
		return s.fail(doing, err)
	}
	e.Notebook = *n
	if e.Settings, err = s.values(ctx, tx, "setting"); err != nil {
		return err
	}
	if e.History, err = history(ctx, tx); err != nil {
		return s.fail(doing, err)
	}
	weather, err := ids(ctx, tx, "SELECT id FROM weather ORDER BY id")
	if err != nil {
		return s.fail(doing, err)
	}
	for _, id := range weather {
		ew := ExportWeather{ID: id}
		var packed []byte
		if err := tx.QueryRowContext(ctx, "SELECT added, series FROM weather WHERE id = ?", string(id)).Scan(timeInto{&ew.Added}, &packed); err != nil {
			return s.fail(doing, err)
		}
		if ew.Series, err = unpack(packed); err != nil {
			return s.fail(doing, err)
		}
		e.Weather = append(e.Weather, ew)
	}
	if e.LoggerMaps, err = loggerMaps(ctx, tx); err != nil {
		return s.fail(doing, err)
	}
	sensors, err := s.Sensors(ctx)
	if err != nil {
		return err
	}
	if err := s.writeExport(ctx, w, &e, sensors); err != nil {
		return fmt.Errorf("%s: %s: %w", s.path, doing, err)
	}
	return nil
}

// writeExport writes the export with the readings of one sensor after the other, so
// that many years of them need not be held at once.
func (s *Store) writeExport(ctx context.Context, w io.Writer, e *Export, sensors []Sensor) error {
	var head bytes.Buffer
	enc := json.NewEncoder(&head)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(e); err != nil {
		return err
	}
	out := bufio.NewWriterSize(w, 1<<16)
	out.Write(bytes.TrimSuffix(head.Bytes(), []byte("}\n"))) // a fault of w comes with Flush
	out.WriteString(`,"sensors":[`)
	for i, v := range sensors {
		one, err := json.Marshal(ExportSensor{v.Name, v.Measures, v.Unit, v.Note, v.Places, []ExportReading{}})
		if err != nil {
			return err
		}
		if i > 0 {
			out.WriteByte(',')
		}
		out.Write(bytes.TrimSuffix(one, []byte("]}")))
		readings, err := s.Readings(ctx, v.ID, v.First, v.Last+1)
		if err != nil {
			return err
		}
		for j, r := range readings {
			if j > 0 {
				out.WriteByte(',')
			}
			out.WriteString("[" + strconv.FormatInt(r.At, 10) + "," + strconv.FormatFloat(r.Value, 'g', -1, 64) + "]")
		}
		out.WriteString("]}")
	}
	out.WriteString("]}\n")
	return out.Flush()
}

func loggerMaps(ctx context.Context, db querier) (map[string]string, error) {
	rows, err := db.QueryContext(ctx, "SELECT name, text FROM logger_map")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	all := map[string]string{}
	for rows.Next() {
		var name, text string
		if err := rows.Scan(&name, &text); err != nil {
			return nil, err
		}
		all[name] = text
	}
	return all, rows.Err()
}

// importSensors takes in sensors with their readings and places. What is here
// already stays: readings by instant, places by their time, maps by their name.
func (s *Store) importSensors(ctx context.Context, tx *sql.Tx, e *Export) error {
	packer, err := logger.NewPacker()
	if err != nil {
		return err
	}
	in := &intake{ctx: ctx, s: s, tx: tx, packer: packer, ids: map[string]int{}, result: &Imported{}}
	for _, v := range e.Sensors {
		bad := func(field, found, wanted string) error {
			return &yard.Faults{Of: "sensor " + v.Name, List: []yard.Fault{{Field: field, Found: found, Wanted: wanted}}}
		}
		q, err := logger.ParseQuantity(v.Quantity)
		if err != nil {
			return bad("quantity", v.Quantity, "a quantity that is measured")
		}
		if v.Unit != q.Unit() {
			return bad("unit", v.Unit, q.Unit())
		}
		n, err := in.Sensor(v.Name, q)
		if err != nil {
			return err
		}
		last := math.Inf(-1)
		for _, r := range v.Readings {
			if r[0] <= last || r[0] != math.Trunc(r[0]) || r[0] < earliest || r[0] > latest {
				return bad("readings", fmt.Sprint(r[0]), "whole seconds of the years 1900 to 2200, each after the one before")
			}
			last = r[0]
			if err := in.Add(n, logger.Reading{At: int64(r[0]), Value: r[1]}); err != nil {
				return err
			}
		}
		if err := in.flush(); err != nil {
			return err
		}
		for _, p := range v.Places {
			if err := p.Check(); err != nil {
				return bad("places", err.Error(), "a place that can be")
			}
			if _, err := tx.ExecContext(ctx, `INSERT INTO placement (sensor, since, hive, place, height_m, "column", note) VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT (sensor, since) DO NOTHING`,
				in.sensors[n].id, p.Since, ref(p.Hive), p.Place, p.Height, p.Column, p.Note); err != nil {
				return err
			}
		}
		if v.Note != "" {
			if _, err := tx.ExecContext(ctx, "UPDATE sensor SET note = ? WHERE id = ? AND note = ''", v.Note, in.sensors[n].id); err != nil {
				return err
			}
		}
	}
	for _, name := range slices.Sorted(maps.Keys(e.LoggerMaps)) {
		if _, err := logger.ParseMap([]byte(e.LoggerMaps[name])); err != nil || strings.TrimSpace(name) == "" || len(name) > 100 {
			return &yard.Faults{Of: "column map", List: []yard.Fault{{Field: "logger_maps", Found: name, Wanted: "a name and a map that reads", Hint: fmt.Sprint(err)}}}
		}
		if _, err := tx.ExecContext(ctx, "INSERT INTO logger_map (name, text, changed) VALUES (?, ?, ?) ON CONFLICT (name) DO NOTHING", name, e.LoggerMaps[name], timeText(s.stamp())); err != nil {
			return err
		}
	}
	return nil
}

func history(ctx context.Context, db querier) ([]HistoryEntry, error) {
	rows, err := db.QueryContext(ctx, "SELECT of, id, revision, changed, content, previous, body FROM version ORDER BY id, revision")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	all := []HistoryEntry{}
	for rows.Next() {
		var h HistoryEntry
		if err := rows.Scan(&h.Of, &h.ID, &h.Revision, timeInto{&h.Changed}, &h.Content, &h.Previous, jsonInto{&h.Body}); err != nil {
			return nil, err
		}
		all = append(all, h)
	}
	return all, rows.Err()
}

// Import brings in an export, all or nothing. A thing that is new comes with its
// whole history. One that is here already is left when the export says the same or
// an earlier version of it; when the export goes on from the version here, it is
// brought forward; when the two went different ways, the error is a Conflict.
// Settings that are set here stay. The file may hold anything: it is checked as if
// typed by a stranger.
func (s *Store) Import(ctx context.Context, name string, r io.Reader) (Merged, error) {
	doing := "importing " + name
	var e Export
	dec := json.NewDecoder(r)
	dec.DisallowUnknownFields()
	if err := dec.Decode(&e); err != nil {
		return Merged{}, &Error{Problem: Faulty, File: s.path, Doing: doing, Err: jsonTrouble(err), Todo: "give a file that hackle yard export wrote"}
	}
	if e.Format != exportFormat || e.Version < 1 {
		return Merged{}, &Error{Problem: Faulty, File: s.path, Doing: doing, Err: fmt.Errorf("format: found %q, wanted %q", e.Format, exportFormat), Todo: "give a file that hackle yard export wrote"}
	}
	if e.Version > exportVersion {
		return Merged{}, &Error{Problem: TooNew, File: s.path, Doing: doing, Err: fmt.Errorf("version: found %d, this hackle knows up to %d", e.Version, exportVersion), Todo: "use a newer hackle"}
	}
	var m Merged
	err := s.transact(ctx, doing, func(tx *sql.Tx) error { return s.importIn(ctx, tx, &e, &m) })
	if err != nil {
		if yard.FaultsIn(err) != nil {
			err = &Error{Problem: Refused, File: s.path, Doing: doing, Err: err}
		}
		return Merged{}, err
	}
	return m, nil
}

func jsonTrouble(err error) error {
	var se *json.SyntaxError
	var te *json.UnmarshalTypeError
	switch {
	case errors.As(err, &se):
		return fmt.Errorf("it is no JSON at byte %d: %w", se.Offset, err)
	case errors.As(err, &te):
		return fmt.Errorf("%s at byte %d: found a %s, wanted a %s", te.Field, te.Offset, te.Value, te.Type)
	}
	return err
}

func (s *Store) importIn(ctx context.Context, tx *sql.Tx, e *Export, m *Merged) error {
	if _, err := tx.ExecContext(ctx, "PRAGMA defer_foreign_keys = 1"); err != nil {
		return err
	}
	told := map[yard.ID][]HistoryEntry{}
	for _, h := range e.History {
		told[h.ID] = append(told[h.ID], h)
	}
	for _, step := range []func() error{
		func() error { return bring(ctx, tx, s.Yards, e.Yards, told, m) },
		func() error { return bring(ctx, tx, s.Hives, e.Hives, told, m) },
		func() error { return bring(ctx, tx, s.Builds, e.Builds, told, m) },
		func() error { return bring(ctx, tx, s.Colonies, e.Colonies, told, m) },
		func() error { return bring(ctx, tx, s.Plans, e.Plans, told, m) },
		func() error { return bring(ctx, tx, s.Records, e.Records, told, m) },
	} {
		if err := step(); err != nil {
			return err
		}
	}
	for _, w := range e.Weather {
		if err := s.importWeather(ctx, tx, w); err != nil {
			return err
		}
	}
	for _, name := range slices.Sorted(maps.Keys(e.Settings)) {
		if _, err := tx.ExecContext(ctx, "INSERT INTO setting (name, value) VALUES (?, ?) ON CONFLICT (name) DO NOTHING", name, string(e.Settings[name])); err != nil {
			return err
		}
	}
	if err := s.importSensors(ctx, tx, e); err != nil {
		return err
	}
	if err := danglers(ctx, tx); err != nil {
		return &Error{Problem: Refused, File: s.path, Doing: "importing", Err: err}
	}
	n, err := s.notebookIn(ctx, tx, true)
	if err != nil {
		return err
	}
	return orderly(n)
}

// bring takes the things of one type in.
func bring[T thing](ctx context.Context, tx *sql.Tx, c *Collection[T], all []T, told map[yard.ID][]HistoryEntry, m *Merged) error {
	t := &c.table
	for i := range all {
		v := all[i]
		if t.normal != nil {
			t.normal(&v)
		}
		meta := t.meta(&v)
		refuse := func(field, found, wanted string) error {
			return &yard.Faults{Of: fmt.Sprintf("%s %s", t.name, meta.ID), List: []yard.Fault{{Field: field, Found: found, Wanted: wanted}}}
		}
		if !meta.ID.Valid() {
			return refuse("id", string(meta.ID), "an ID")
		}
		versions, err := lineage(t, &v, told[meta.ID], refuse)
		if err != nil {
			return err
		}
		old, err := t.get(ctx, tx, meta.ID)
		from := 0
		switch {
		case errors.Is(err, sql.ErrNoRows):
			m.New++
		case err != nil:
			return err
		default:
			from = t.meta(&old).Revision
			agree := min(from, meta.Revision)
			for r := 1; r <= agree; r++ {
				here, _, _, err := t.version(ctx, tx, meta.ID, r)
				if err != nil {
					return err
				}
				if !t.same(&versions[r-1].Thing, &here) {
					return &Error{Problem: Conflict, File: c.store.path, Doing: "importing",
						Err:  fmt.Errorf("%s %s was changed both here and in the import, each in its own way, at revision %d", t.name, meta.ID, r),
						Todo: "import into a new file with --yard, look at both, and enter what is right"}
				}
			}
			if from >= meta.Revision {
				m.Same++
				continue
			}
			m.Changed++
		}
		entries := told[meta.ID]
		for r := from + 1; r <= meta.Revision; r++ {
			step := versions[r-1].Thing
			if err := t.write(ctx, tx, &step, entries[r-1].Content, entries[r-1].Previous); err != nil {
				return c.wrap("importing the "+t.name, meta.ID, err)
			}
		}
	}
	return nil
}

// lineage reads the versions of a thing from an export and holds them against each
// other: numbered from 1 without a gap, the last one the thing itself.
func lineage[T thing](t *table[T], v *T, entries []HistoryEntry, refuse func(field, found, wanted string) error) ([]Version[T], error) {
	meta := t.meta(v)
	if meta.Revision < 1 || len(entries) != meta.Revision {
		return nil, refuse("history", fmt.Sprintf("%d versions", len(entries)), fmt.Sprintf("as many as its revision, %d, and at least one", meta.Revision))
	}
	slices.SortStableFunc(entries, func(a, b HistoryEntry) int { return a.Revision - b.Revision })
	all := make([]Version[T], len(entries))
	for i, h := range entries {
		if h.Revision != i+1 || h.Of != t.name || h.Content < 1 || h.Content > h.Revision || h.Previous < 0 || h.Previous >= h.Content {
			return nil, refuse("history", fmt.Sprintf("revision %d of a %s with content %d after %d", h.Revision, h.Of, h.Content, h.Previous), fmt.Sprintf("revision %d of a %s", i+1, t.name))
		}
		if err := json.Unmarshal(h.Body, &all[i].Thing); err != nil {
			return nil, refuse("history", err.Error(), "a "+t.name)
		}
		m := t.meta(&all[i].Thing)
		if m.ID != meta.ID || m.Revision != h.Revision {
			return nil, refuse("history", fmt.Sprintf("%s, revision %d", m.ID, m.Revision), fmt.Sprintf("itself, revision %d", h.Revision))
		}
		m.Changed = h.Changed
		if t.normal != nil {
			t.normal(&all[i].Thing)
		}
		all[i].Content = h.Content
	}
	if last := all[len(all)-1].Thing; !t.same(v, &last) {
		return nil, refuse("history", "a last version that differs from the "+t.name, "the same")
	}
	return all, nil
}

// importWeather takes a series in under its own ID, which yards may name.
func (s *Store) importWeather(ctx context.Context, tx *sql.Tx, w ExportWeather) error {
	bad := func(err error) error {
		return &Error{Problem: Faulty, File: s.path, Doing: "importing", Err: fmt.Errorf("weather %s: %w", w.ID, err)}
	}
	if !w.ID.Valid() {
		return bad(errors.New("it has no ID"))
	}
	parsed, err := decodeSeries(w.Series)
	if err != nil {
		return bad(err)
	}
	text, err := encodeSeries(parsed)
	if err != nil {
		return bad(err)
	}
	var compact bytes.Buffer
	if err := json.Compact(&compact, w.Series); err != nil || !bytes.Equal(text, compact.Bytes()) {
		return bad(errors.New("the series does not read back as it is written"))
	}
	kept := Weather{ID: w.ID, Name: parsed.Name, Source: parsed.Source, Added: w.Added, Hash: seriesHash(text), Latitude: parsed.Latitude,
		Longitude: parsed.Longitude, Height: parsed.Height, Start: parsed.Start, Hours: len(parsed.Hours), Typical: parsed.Typical}
	var here string
	err = tx.QueryRowContext(ctx, "SELECT hash FROM weather WHERE id = ?", string(w.ID)).Scan(&here)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return insertWeather(ctx, tx, kept, text)
	case err != nil:
		return err
	case here != kept.Hash:
		return &Error{Problem: Conflict, File: s.path, Doing: "importing", Err: fmt.Errorf("weather %s is another series here", w.ID)}
	}
	return nil
}
